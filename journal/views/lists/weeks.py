"""Pours by week, with the room that they were poured in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import partial

from journal.html import blocks
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import PourOverview
from journal.views.shared.book import Book
from journal.views.shared.pagination import pagination_links
from journal.views.shared.places import Address, Sheet, pour_anchor, span, year_place
from journal.views.shared.words import count_text, list_text, long_date, short_date

DesignPour = tuple[PourOverview, DesignSummary]
Weeks = dict[date, list[DesignPour]]


def weeks_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "By week" with the latest year, and a page for each earlier year."""
    years = _pours_by_year(book) or {0: {}}
    latest = max(years)
    places = tuple(year_place(year, latest) for year in years)
    return tuple(
        book.sheet(here, "weeks.html", partial(weeks_page, book, here, year, years, places))
        for year, here in zip(years, places, strict=True)
    )


def monday_of(day: date) -> date:
    """The Monday of the week (ISO 8601) that a day lies in."""
    return day - timedelta(days=day.weekday())


def _pours_by_year(book: Book) -> dict[int, Weeks]:
    """The pours of each week of each year, latest first; a week belongs to its Monday's year."""
    designs = book.notebook.summaries.values()
    pours = sorted(
        ((pour, design) for design in designs for pour in design.overview.pours),
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
) -> blocks.Page:
    """The page of one year: a table of its pours, a group of rows a week, latest first.

    ``places`` are the addresses of the pages of ``years``, in the same order.
    """
    weeks, first = years[year], here == places[0]
    parts: list[blocks.Section] = []
    if weeks:
        numbers = (blocks.Heading(text, number=True) for text in ("Room", "Bars", "Fit to sell"))
        heads = (blocks.Heading("Day"), blocks.Heading("Design", wide=True), *numbers)
        groups = []
        for monday, pours in weeks.items():
            rows = tuple(_pour_row(book, here, *pour) for pour in pours)
            groups.append(blocks.RowGroup(rows, (f"Week of {long_date(monday)}",)))
        table = blocks.PageTable(f"Pours of {year}, by week", heads, tuple(groups))
        parts.append(blocks.simple_section(f"y{year}", str(year), table))
    if first and len(years) > 1:
        points = tuple(
            (span(here, place, str(other)), f": {count_text(len(_pours_of(years[other])), 'pour')}")
            for other, place in zip(years, places, strict=True)
            if other != year
        )
        parts.append(blocks.simple_section("years", "Years before", blocks.BulletList(points)))
    of_year = "" if first else f" of {year}"
    counted = years.values() if first else (weeks,)
    return book.page(
        here,
        parts,
        standfirst=_standfirst([pour for one in counted for pour in _pours_of(one)]),
        line=pagination_links(here, places),
        on_page=tuple(blocks.Link(part.head, f"#{part.anchor}") for part in parts) if first else (),
        about=f"Every pour{of_year} by week, with the room it was poured in.",
    )


def _pours_of(weeks: Weeks) -> list[DesignPour]:
    return [pour for pours in weeks.values() for pour in pours]


def _standfirst(pours: Sequence[DesignPour]) -> blocks.Words:
    """A sentence with the numbers of pours and designs, and the date of the first pour."""
    if not pours:
        return ("Nothing has been poured yet.",)
    designs = {design.id for _, design in pours}
    return (
        f"{count_text(len(pours), 'pour')} of {count_text(len(designs), 'design')},"
        f" the first on {long_date(pours[-1][0].date)}.",
    )


def _pour_row(
    book: Book, here: Address, pour: PourOverview, design: DesignSummary
) -> tuple[blocks.PageCell, ...]:
    """The cells of one pour: day, design, room temperature, bars, and bars kept of judged."""
    room = book.units.temperature(pour.room_c) if pour.room_c is not None else None
    variants = list_text(pour.variants) if design.overview.variants > 1 else ""
    to_pour = span(here, book.places.designs[design.id], fragment=pour_anchor(pour.label))
    return (
        blocks.PageCell((short_date(pour.date),), head=True),
        blocks.PageCell((to_pour,), variants),
        blocks.number_cell(*room) if room is not None else blocks.number_cell("–"),
        blocks.number_cell(str(pour.bars)),
        blocks.number_cell(f"{pour.kept} of {pour.judged}" if pour.judged else "–"),
    )
