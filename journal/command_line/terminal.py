"""What is said at the terminal: problems with their lines, and wrong use."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from journal.errors import Problem, UsageError

RED, YELLOW, BOLD, PLAIN = "\x1b[31m", "\x1b[33m", "\x1b[1m", "\x1b[0m"


def in_colour(stream: TextIO) -> bool:
    """Whether ``stream`` is a terminal that colour is wanted on (no-color.org)."""
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def say(*lines: str) -> None:
    """Lines for the maker on standard output."""
    for line in lines:
        print(line)


def say_problems(problems: Sequence[Problem], content: Path | None) -> None:
    """Problems on standard error; at a terminal with the line quoted and the value underlined."""
    colour = in_colour(sys.stderr)
    for problem in problems:
        if not colour:
            print(problem, file=sys.stderr)
            continue
        shade = YELLOW if problem.warning else RED
        head, _, rest = str(problem).partition(": ")
        print(f"{BOLD}{head}:{PLAIN} {shade}{rest}{PLAIN}", file=sys.stderr)
        quoted = _quoted(problem, content)
        if quoted:
            print(quoted, file=sys.stderr)
    errors = sum(not problem.warning for problem in problems)
    if errors:
        print(counted(errors, "error") + ".", file=sys.stderr)


def say_wrong_use(error: UsageError) -> None:
    """What was wrong with the call, on standard error."""
    print(f"journal: {error}", file=sys.stderr)


def counted(number: int, word: str) -> str:
    """``1 bar``, ``2 bars``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _quoted(problem: Problem, content: Path | None) -> str:
    if content is None:
        return ""
    try:
        text = (content / problem.position.path).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
    lines = text.splitlines()
    if problem.position.line > len(lines):
        return ""
    line = lines[problem.position.line - 1][:200]
    start = problem.position.column - 1
    if start >= len(line):
        return ""
    length = next((n for n, c in enumerate(line[start:]) if c in ",]}#\n" and n), len(line) - start)
    return f"    {line}\n    {' ' * start}{'~' * max(1, length)}"
