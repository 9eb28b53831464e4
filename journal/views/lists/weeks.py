"""Pours by week, with the room that they were poured in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import partial

from journal.html.blocks import (
    BulletList,
    Heading,
    Link,
    Page,
    PageCell,
    PageTable,
    Passage,
    RowGroup,
    Section,
    Words,
    number_cell,
)
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import PourOverview
from journal.views.shared.book import Book
from journal.views.shared.pagination import pagination_links
from journal.views.shared.places import Address, pour_anchor, span, year_place
from journal.views.shared.sheet import Sheet
from journal.views.shared.words import count_text, list_text, long_date, short_date

Weeks = dict[date, list[tuple[PourOverview, DesignSummary]]]


def weeks_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "By week", which is that of the latest year, and a page for each year before."""
    years = _by_year(book) or {0: {}}
    latest = max(years)
    places = tuple(year_place(year, latest) for year in years)
    return tuple(
        book.sheet(here, "weeks.html", partial(weeks_page, book, here, year, years, places))
        for year, here in zip(years, places, strict=True)
    )


def monday_of(day: date) -> date:
    """The Monday of a day's week, which is what a week is called by (ISO 8601)."""
    return day - timedelta(days=day.weekday())


def _by_year(book: Book) -> dict[int, Weeks]:
    """Every pour by its year and week, the latest first."""
    designs = book.notebook.summaries.values()
    pours = sorted(
        ((pour, design) for design in designs for pour in design.brief.pours),
        key=lambda pair: (pair[0].date, pair[1].id, pair[0].label),
        reverse=True,
    )
    years: dict[int, Weeks] = {}
    for pour, design in pours:
        monday = monday_of(pour.date)
        years.setdefault(monday.year, {}).setdefault(monday, []).append((pour, design))
    return years


def weeks_page(
    book: Book, here: Address, year: int, years: dict[int, Weeks], places: tuple[Address, ...]
) -> Page:
    """The pours of one year, a group of rows a week, the latest first.

    ``places`` are the pages of ``years``, in the same order.
    """
    weeks, first = years[year], here == places[0]
    parts: list[Section] = []
    if weeks:
        table = PageTable(
            f"Pours of {year}, by week",
            (Heading("Day"), Heading("Design", wide=True), Heading("Room", True),
             Heading("Bars", True), Heading("Kept", True)),
            tuple(
                RowGroup(tuple(_row(book, here, *poured) for poured in rows),
                     (f"Week of {long_date(monday)}",))
                for monday, rows in weeks.items()
            ),
        )  # fmt: skip
        parts.append(Section(f"y{year}", str(year), (Passage((table,)),)))
    if first and len(years) > 1:
        points = tuple(
            (span(here, place, str(one)), f": {count_text(len(_pours(years[one])), 'pour')}")
            for one, place in zip(years, places, strict=True)
            if one != year
        )
        parts.append(Section("years", "Years before", (Passage((BulletList(points),)),)))
    return Page(
        book.frame(here),
        here.title,
        tuple(parts),
        lead=_lead(
            [pour for one in (years.values() if first else (weeks,)) for pour in _pours(one)]
        ),
        line=pagination_links(here, places),
        on_page=tuple(Link(part.head, f"#{part.anchor}") for part in parts) if first else (),
        folio=here.folio,
        about="Every pour by week, with the room it was poured in."
        if first
        else f"Every pour of {year} by week, with the room it was poured in.",
    )


def _pours(weeks: Weeks) -> list[tuple[PourOverview, DesignSummary]]:
    return [pour for rows in weeks.values() for pour in rows]


def _lead(pours: Sequence[tuple[PourOverview, DesignSummary]]) -> Words:
    """How many pours there were, and when the first was."""
    if not pours:
        return ("Nothing has been poured yet.",)
    designs = {design.id for _, design in pours}
    return (
        f"{count_text(len(pours), 'pour')} of {count_text(len(designs), 'design')},"
        f" the first on {long_date(pours[-1][0].date)}.",
    )


def _row(
    book: Book, here: Address, pour: PourOverview, design: DesignSummary
) -> tuple[PageCell, ...]:
    room = book.units.temperature(pour.room_c) if pour.room_c is not None else None
    told = list_text(pour.variants) if design.brief.variants > 1 else ""
    return (
        PageCell((short_date(pour.date),), head=True),
        PageCell((span(here, book.places.designs[design.id], fragment=pour_anchor(pour.label)),),
             told),
        number_cell(*room) if room is not None else number_cell("–"),
        number_cell(str(pour.bars)),
        number_cell(f"{pour.kept} of {pour.judged}" if pour.judged else "–"),
    )  # fmt: skip
