"""Long lists over several pages: the latest rows first, and no older page changed by new rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, TypeVar

from journal.html.blocks import TextRun, Words
from journal.views.shared.places import Address, older_place, span

_Row = TypeVar("_Row")

#: Rows of a full page.
ROWS_PER_PAGE: Final = 60


def paginate(rows: Sequence[_Row], size: int = ROWS_PER_PAGE) -> list[tuple[_Row, ...]]:
    """Divide rows into pages, the page with the latest rows first.

    The pages after it are full and are filled from the oldest row on, so that a new row
    changes the first page alone, and once in ``size`` rows begins another.

    Takes:  rows  the latest first
            size  of a full page; >= 1
    Gives:  at least one page; the first has fewer than 2 * ``size`` rows, the others ``size``
    """
    older = max(0, len(rows) // size - 1)
    first = len(rows) - older * size
    starts = range(first, len(rows), size)
    return [tuple(rows[:first]), *(tuple(rows[start : start + size]) for start in starts)]


def pagination_places(first: Address, pages: int) -> tuple[Address, ...]:
    """The addresses of the ``pages`` pages of a list, the latest first; the oldest is number 1."""
    return (first, *(older_place(first, number) for number in range(pages - 1, 0, -1)))


def pagination_links(here: Address, places: Sequence[Address]) -> Words:
    """Links to the newer and the older page beside this one; empty if it is the only page."""
    at = places.index(here)
    words: list[TextRun | str] = []
    if at:
        words += ["Newer: ", span(here, places[at - 1])]
    if at + 1 < len(places):
        words += [". Older: " if words else "Older: ", span(here, places[at + 1])]
    return (*words, ".") if words else ()
