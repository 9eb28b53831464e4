"""Output at the terminal: problems with their lines, and errors of use."""

from __future__ import annotations

import json
import os
import re
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
# Narrower no sentence can be read; so wide is a terminal that does not say.
NARROWEST: Final = 20
USUAL_COLUMNS: Final = 80

Styled = tuple[str, str]  # a word, and the code of its style


def at_terminal(stream: TextIO) -> bool:
    """Whether ``stream`` is a terminal."""
    return stream.isatty()


def in_colour(stream: TextIO) -> bool:
    """Whether ``stream`` is a terminal that may be written to in colour (no-color.org)."""
    return (
        at_terminal(stream) and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    )


class UnwritableStream(HintedError):
    """Standard output or standard error cannot be written to, such as for want of room."""


def columns(stream: TextIO) -> int:
    """The width in columns: that of COLUMNS, else of the terminal; without one there is no end."""
    width = os.environ.get("COLUMNS", "")
    if not (width.isascii() and width.isdigit() and int(width)):
        try:
            width = str(os.get_terminal_size(stream.fileno()).columns or USUAL_COLUMNS)
        except (AttributeError, OSError, ValueError):
            return USUAL_COLUMNS if at_terminal(stream) else sys.maxsize
    return max(NARROWEST, int(width))


def print_text(text: str, stream: TextIO | None = None) -> None:
    """Write a text as it is, on standard output or on ``stream``; UnwritableStream if it fails."""
    try:
        # At once, also where it is read by a program: some commands go on for hours.
        print(text, end="", file=stream or sys.stdout, flush=True)
    except BrokenPipeError:
        raise
    except OSError as error:
        what = f"the output cannot be written: {error.strerror}"
        raise UnwritableStream(what, "Make room, or write it elsewhere.") from None


def end_writing(stream: TextIO) -> None:
    """Have what a stream could not write go nowhere, so that the end of the program is no error.

    What is left is less than a pipe holds, though nobody reads it.
    """
    try:
        _, nowhere = os.pipe()
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
    except (OSError, ValueError):
        pass


def print_lines(*lines: str, stream: TextIO | None = None) -> None:
    """Print lines for the maker, on standard output or on ``stream``, in its width."""
    width = columns(stream or sys.stdout)
    for line in "\n".join(lines).split("\n"):
        print_text("\n".join(folded(line, width)) + "\n", stream)


def folded(line: str, width: int) -> list[str]:
    """A line as lines no wider than ``width`` columns, those after the first set in further.

    A word that is wider than a line is not broken, so that a path can be copied.
    """
    if column_width(line) <= width:
        return [line]
    indent = line[: len(line) - len(line.lstrip(" "))] + "  "
    lines = [""]
    for word in re.findall(" *[^ ]+", line):
        if lines[-1].strip() and column_width(lines[-1] + word) > width:
            lines.append(indent + word.lstrip(" "))
        else:
            lines[-1] += word
    return lines


def print_json(value: object) -> None:
    """Print a value as JSON on standard output, for other programs.

    Where the output has not every sign, the others are escaped: a near one would be another value.
    """
    escaped = not (sys.stdout.encoding or "").lower().startswith("utf")
    print_text(json.dumps(value, indent=2, ensure_ascii=escaped, allow_nan=False) + "\n")


def print_problems(problems: Sequence[Problem], content: Path | None) -> None:
    """Print problems on standard error; at a terminal with the line quoted, the value underlined.

    ``content`` is the folder that lines are quoted from; None quotes none.
    """
    stream = sys.stderr
    is_terminal, colour = at_terminal(stream), in_colour(stream)
    for problem in problems:
        if not is_terminal:
            # A program that reads them takes a line for a problem.
            print_text(f"{problem}\n", stream)
            continue
        shade = YELLOW if problem.warning else RED
        text = str(problem)
        head = f"{problem.position}:"
        rest = text[len(head) : len(text) - len(problem.hint)]
        styled = [(head, BOLD), *_words_of(rest, shade), *_words_of(problem.hint, "")]
        lines = filled_lines(styled, min(columns(stream), WIDEST), colour)
        lines += (
            f"{style}{line}{PLAIN}" if colour and style else line
            for line, style in _quoted(problem, content, shade)
        )
        print_text("".join(f"{line}\n" for line in lines), stream)
    errors = errors_in(problems)
    if errors:
        print_text(counted(len(errors), "error") + ".\n", stream)


def print_usage_error(error: HintedError) -> None:
    """Print what was wrong with the call on standard error."""
    if not at_terminal(sys.stderr):
        print_lines(f"journal: {error}", stream=sys.stderr)
        return
    styled = [("journal:", BOLD), *_words_of(f"{error.what}.", RED), *_words_of(error.hint, "")]
    width = min(columns(sys.stderr), WIDEST)
    lines = filled_lines(styled, width, in_colour(sys.stderr))
    print_text("".join(f"{line}\n" for line in lines), sys.stderr)


def counted(number: int, word: str) -> str:
    """A number with its word, such as ``1 bar`` or ``2 bars``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def wrapped(*texts: str, indent: str = "  ") -> list[str]:
    """Wrap each text at a comfortable width; lines are indented, those after its first further."""
    width = min(COMFORTABLE, columns(sys.stdout))
    return [
        line
        for text in texts
        for line in textwrap.wrap(
            text, width, initial_indent=indent, subsequent_indent=indent + "  "
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
    quoted, stroke = underlined(line, start, length, columns(sys.stderr))
    return (quoted, ""), (stroke, shade)
