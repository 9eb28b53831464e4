"""Output at the terminal: problems with their lines, and errors of use."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import Final, TextIO

from journal.cli.quoting import column_width, underlined, value_length
from journal.errors import HintedError, Problem, errors_in

RED: Final = "\x1b[31m"
YELLOW: Final = "\x1b[33m"
BOLD: Final = "\x1b[1m"
PLAIN: Final = "\x1b[0m"
# Lines are wrapped at the terminal's width, and never wider than can be read.
WIDEST: Final = 100
# A plan or a verdict is read as a text, with lines no longer than a book's.
COMFORTABLE: Final = 88

Styled = tuple[str, str]  # a word, and the code of its style


def at_terminal(stream: TextIO) -> bool:
    """Whether ``stream`` is a terminal."""
    return stream.isatty()


def in_colour(stream: TextIO) -> bool:
    """Whether ``stream`` is a terminal that may be written to in colour (no-color.org)."""
    return (
        at_terminal(stream) and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    )


def columns() -> int:
    """The width of the terminal in columns."""
    return max(20, shutil.get_terminal_size().columns)


def print_lines(*lines: str) -> None:
    """Print lines for the maker on standard output."""
    for line in lines:
        # At once, also where it is read by a program: some commands go on for hours.
        print(line, flush=True)


def print_problems(problems: Sequence[Problem], content: Path | None) -> None:
    """Print problems on standard error; at a terminal with the line quoted, the value underlined.

    ``content`` is the folder that lines are quoted from; None quotes none.
    """
    stream = sys.stderr
    is_terminal, colour = at_terminal(stream), in_colour(stream)
    for problem in problems:
        if not is_terminal:
            print(problem, file=stream)
            continue
        shade = YELLOW if problem.warning else RED
        text = str(problem)
        head = f"{problem.position}:"
        rest = text[len(head) : len(text) - len(problem.hint)]
        styled = [(head, BOLD), *_words_of(rest, shade), *_words_of(problem.hint, "")]
        print("\n".join(filled_lines(styled, min(columns(), WIDEST), colour)), file=stream)
        for line, style in _quoted(problem, content, shade):
            print(f"{style}{line}{PLAIN}" if colour and style else line, file=stream)
    errors = errors_in(problems)
    if errors:
        print(counted(len(errors), "error") + ".", file=stream)


def print_usage_error(error: HintedError) -> None:
    """Print what was wrong with the call on standard error."""
    if not at_terminal(sys.stderr):
        print(f"journal: {error}", file=sys.stderr)
        return
    styled = [("journal:", BOLD), *_words_of(f"{error.what}.", RED), *_words_of(error.hint, "")]
    width = min(columns(), WIDEST)
    print("\n".join(filled_lines(styled, width, in_colour(sys.stderr))), file=sys.stderr)


def counted(number: int, word: str) -> str:
    """A number with its word, such as ``1 bar`` or ``2 bars``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def wrapped(*texts: str, indent: str = "  ") -> list[str]:
    """Wrap each text at a comfortable width; lines are indented, those after its first further."""
    return [
        line
        for text in texts
        for line in textwrap.wrap(
            text, COMFORTABLE, initial_indent=indent, subsequent_indent=indent + "  "
        )
    ]


def filled_lines(words: Iterable[Styled], width: int, colour: bool) -> list[str]:
    """Fill words into lines no wider than ``width``; those after the first are indented.

    Takes:  words   each with the code of its style, "" for none; a word that is wider
                    than a line is not broken, so that a path can be copied
            width   columns
            colour  whether the codes are written
    """
    lines: list[list[Styled]] = [[]]
    used = 0
    for word, style in words:
        word_width = column_width(word)
        if lines[-1] and used + 1 + word_width > width:
            lines.append([])
            used = 1  # set in by two, less the space before a word
        lines[-1].append((word, style))
        used += word_width + (1 if used else 0)
    return [
        "  " * bool(number) + " ".join(_styled(line) if colour else (word for word, _ in line))
        for number, line in enumerate(lines)
    ]


def _styled(line: Iterable[Styled]) -> Iterator[str]:
    """Runs of words of one style, each between the codes that begin and end it."""
    for style, words in groupby(line, key=lambda styled: styled[1]):
        text = " ".join(word for word, _ in words)
        yield f"{style}{text}{PLAIN}" if style else text


def _words_of(text: str, style: str) -> list[Styled]:
    return [(word, style) for word in text.split()]


def _quoted(problem: Problem, content: Path | None, shade: str) -> tuple[Styled, ...]:
    """The line that a problem is in, and the stroke under the value; empty if it cannot be read."""
    if content is None:
        return ()
    try:
        raw = (content / problem.position.path).read_bytes()
    except OSError:
        return ()
    text = raw.decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")[problem.position.line - 1 :]
    line, start = lines[0] if lines else "", problem.position.column - 1
    if not line.strip() or start >= len(line):
        return ()
    length = value_length(line, start, problem.what)
    quoted, stroke = underlined(line, start, length, columns())
    return (quoted, ""), (stroke, shade)
