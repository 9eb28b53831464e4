"""Pours by week, with the room that they were poured in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import partial

from journal.charts.year import WEEKS, Quarter, YearPour, year_line
from journal.html import blocks
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import PourOverview
from journal.views.shared.book import Book
from journal.views.shared.moulds import fit_cell, fit_to_sell, pour_mark
from journal.views.shared.pagination import pagination_links
from journal.views.shared.places import Address, Sheet, pour_anchor, span, year_place
from journal.views.shared.words import NO_BREAK, count_text, long_date, short_date, variants_text

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
    """The page of one year: its pours on a line, then folded a table, by week, latest first.

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
        passages = (
            blocks.Passage((_year_row(book, year, weeks),)),
            blocks.Passage((table,), fold="Every pour, week by week"),
        )
        parts.append(blocks.Section(f"y{year}", str(year), passages))
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


def _year_row(book: Book, year: int, weeks: Weeks) -> blocks.DrawingRow:
    """The pours of a year on its line: each mould at its week, the room's temperature above."""
    first = monday_of(date(year, 1, 7))
    mondays = [first + timedelta(weeks=week) for week in range(53)]
    mondays = [monday for monday in mondays if monday.year == year]
    in_order = sorted(_pours_of(weeks), key=lambda pair: (pair[0].date, pair[1].id, pair[0].label))
    on_line = [_on_line(book, first, *pair) for pair in in_order]
    quarters: list[Quarter] = []
    says: list[str] = []
    for start in range(0, 4 * WEEKS, WEEKS):
        of_quarter = mondays[start:] if start == 3 * WEEKS else mondays[start : start + WEEKS]
        months = [
            (start + n, f"{day:%b}")
            for n, day in enumerate(of_quarter)
            if n == 0 or day.month != of_quarter[n - 1].month
        ]
        inside = [pour for pour, _ in in_order if monday_of(pour.date) in of_quarter]
        _, fit = fit_to_sell(*inside)
        text = count_text(len(inside), "pour") if inside else "Nothing poured"
        says.append(f"{text}{f', {fit}' if fit else ''}")
        title = f"{of_quarter[0]:%B} to {of_quarter[-1]:%B} {year}"
        quarters.append(Quarter(start, title, f"{says[-1]}.", months))
    drawings = zip(year_line(quarters, on_line), says, strict=True)
    return blocks.DrawingRow(
        tuple(blocks.CaptionedDrawing(drawing, says=(f"{text}.",)) for drawing, text in drawings),
        (
            "A mould for each pour, in its week; the number over it is its design's page."
            " Filled: fit to sell. Struck: not."
            f" On top: the room, in {book.units.degree}.",
        ),
        joined=True,
    )


def _on_line(book: Book, first: date, pour: PourOverview, design: DesignSummary) -> YearPour:
    """A pour at its place on the line that begins on the Monday ``first``."""
    days = (pour.date - first).days
    room, _, _ = (
        book.units.temperature(pour.room_c).first.partition(NO_BREAK)
        if pour.room_c is not None
        else ("", "", "")
    )
    number = book.places.designs[design.id].folio
    return YearPour(days // 7, days / 7, number, pour.cells, pour.room_c, room)


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
    variants = variants_text(pour.variants) if design.overview.variants > 1 else ""
    to_pour = span(here, book.places.designs[design.id], fragment=pour_anchor(pour.label))
    return (
        blocks.PageCell((short_date(pour.date),), head=True),
        blocks.PageCell((to_pour,), variants),
        blocks.number_cell(*room) if room is not None else blocks.number_cell("–"),
        blocks.number_cell(str(pour.bars)),
        fit_cell(pour, mark=pour_mark(book, design, pour)),
    )
