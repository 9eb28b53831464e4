"""Pours by week, with the room that they were poured in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import partial

from journal.pages.book import Book
from journal.pages.parts import Cell, Head, Link, Page, Part, Passage, Rows, Table, Words
from journal.pages.places import Place, pour_anchor, span
from journal.pages.sheet import Sheet
from journal.pages.words import counted, listed, said_date, short_date
from journal.records.write_up import Design, Poured


def weeks_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "By week"."""
    here = book.places.fixed("weeks")
    return (book.sheet(here, "weeks.html", partial(weeks_page, book, here)),)


def monday_of(day: date) -> date:
    """The Monday of a day's week, which is what a week is called by (ISO 8601)."""
    return day - timedelta(days=day.weekday())


def weeks_page(book: Book, here: Place) -> Page:
    """A part a year, a group of rows a week, the latest first."""
    designs = book.notebook.designs.values()
    pours = sorted(
        ((pour, design) for design in designs for pour in design.brief.pours),
        key=lambda pair: (pair[0].date, pair[1].id, pair[0].label),
        reverse=True,
    )
    years: dict[int, dict[date, list[tuple[Poured, Design]]]] = {}
    for pour, design in pours:
        monday = monday_of(pour.date)
        years.setdefault(monday.year, {}).setdefault(monday, []).append((pour, design))
    parts = tuple(
        Part(
            f"y{year}",
            str(year),
            (
                Passage(
                    (
                        Table(
                            f"Pours of {year}, by week",
                            (Head("Day"), Head("Design", wide=True), Head("Room", True),
                             Head("Bars", True), Head("Kept", True)),
                            tuple(_week(book, here, *week) for week in weeks.items()),
                        ),
                    )
                ),
            ),
        )
        for year, weeks in years.items()
    )  # fmt: skip
    lead: Words = ("Nothing has been poured yet.",)
    if pours:
        lead = (
            f"{counted(len(pours), 'pour')} of"
            f" {counted(len({design.id for _, design in pours}), 'design')},"
            f" the first on {said_date(pours[-1][0].date)}.",
        )
    return Page(
        book.frame(here),
        here.title,
        parts,
        lead=lead,
        on_page=tuple(Link(part.head, f"#{part.anchor}") for part in parts),
        folio=here.folio,
        about="Every pour by week, with the room it was poured in.",
    )


def _week(book: Book, here: Place, monday: date, rows: Sequence[tuple[Poured, Design]]) -> Rows:
    return Rows(
        tuple(_row(book, here, pour, design) for pour, design in rows),
        (f"Week of {said_date(monday)}",),
    )


def _row(book: Book, here: Place, pour: Poured, design: Design) -> tuple[Cell, ...]:
    room = book.units.temperature(pour.room_c) if pour.room_c is not None else None
    told = listed(pour.variants) if design.brief.variants > 1 else ""
    return (
        Cell((short_date(pour.date),), head=True),
        Cell((span(here, book.places.designs[design.id], fragment=pour_anchor(pour.label)),), told),
        Cell((room.first if room is not None else "–",), room.second if room else "", number=True),
        Cell((str(pour.bars),), number=True),
        Cell((f"{pour.kept} of {pour.judged}" if pour.judged else "–",),
             number=True),
    )  # fmt: skip
