"""A progress bar at the terminal; elsewhere nothing is written."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Iterator
from typing import Final, TextIO, TypeVar

from journal.cli.terminal import at_terminal, columns

Thing = TypeVar("Thing")

# Work that is done sooner is not worth a line; and no eye follows more lines a second.
PATIENCE_S: Final = 0.5
PAUSE_S: Final = 0.1
WIDEST_BAR: Final = 40
# Back to the line's first column, and the rest of the line cleared (ECMA-48).
CLEARED: Final = "\r\x1b[K"


def with_progress_bar(
    things: Iterable[Thing], total: int, what: str, stream: TextIO | None = None
) -> Iterator[Thing]:
    """Pass things through and show a bar of how many have come; it is cleared at their end.

    Takes:  total   how many there will be
            what    they are, such as "pages and photos"
            stream  standard error by default; nothing is written but to a terminal
    """
    stream = stream or sys.stderr
    if not at_terminal(stream) or os.environ.get("TERM") == "dumb":
        yield from things
        return
    began = last = time.monotonic()
    written = False
    try:
        for number, thing in enumerate(things, start=1):
            now = time.monotonic()
            if now - began >= PATIENCE_S and now - last >= PAUSE_S:
                stream.write(CLEARED + bar(number, total, what, columns(stream) - 1))
                stream.flush()
                last, written = now, True
            yield thing
    finally:
        if written:
            stream.write(CLEARED)
            stream.flush()


def bar(number: int, total: int, what: str, width: int) -> str:
    """A bar such as ``12 of 40 photos  ======··········``, no wider than ``width`` columns."""
    text = f"{number} of {total} {what}"
    room = min(WIDEST_BAR, width - len(text) - 2)
    if room < 4 or total < 1:
        return text[:width]
    full = room * min(number, total) // total
    return f"{text}  {'=' * full}{'·' * (room - full)}"
