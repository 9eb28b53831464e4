"""All pots of the studio that were read: how fast each cooled, by what it held."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from statistics import median_low

from journal.charts.charts import GrowthCurve, growth_chart
from journal.figures.heat.cooling import half_time
from journal.figures.heat.derive_heat import FORECAST, PotRun
from journal.figures.heat.pot_rates import RateLine, forecast_rate, rate_line
from journal.html.blocks import (
    ChartFigure,
    Heading,
    Page,
    PageCell,
    PageTable,
    Passage,
    RowGroup,
    Section,
    SideNote,
    Words,
)
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import PourOverview
from journal.views.shared.book import Book
from journal.views.shared.leaves import paginate, pagination_links, pagination_places
from journal.views.shared.on_design import KIND_NAMES
from journal.views.shared.places import POTS, Address, href, pour_anchor, span
from journal.views.shared.sheet import Sheet
from journal.views.shared.words import capitalised, count_text, minutes, range_text, short_date

# A pot that was read, its design and its pour.
Pot = tuple[PotRun, DesignSummary, PourOverview]
# Steps of the line that is drawn.
_STEPS = 24


def pots_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page of the pots that were read last, and those of the pots before."""
    pages = paginate(sorted(_pots(book), key=lambda pot: pot[2].date, reverse=True))
    places = pagination_places(POTS, len(pages))
    return tuple(
        book.sheet(here, "page.html", partial(pots_page, book, here, pots, places))
        for here, pots in zip(places, pages, strict=True)
    )


def _pots(book: Book) -> Iterator[Pot]:
    for name, summary in book.figures.summaries.items():
        design = book.notebook.summaries[name]
        pours = {pour.label: pour for pour in design.brief.pours}
        yield from ((run, design, pours[run.pour]) for run in summary.rates)


def pots_page(book: Book, here: Address, pots: Sequence[Pot], places: Sequence[Address]) -> Page:
    """How fast some pots cooled, drawn and in a table, the lightest first."""
    by_mass = sorted(pots, key=lambda pot: (pot[0].mass_g, -pot[0].rate_per_min))
    parts: tuple[Section, ...] = ()
    lead: Words = ("No pot has been read yet as it cooled. Three readings of one are a start.",)
    if by_mass:
        lightest, heaviest = (book.units.mass(by_mass[at][0].mass_g).first for at in (0, -1))
        lead = (
            f"{count_text(len(pots), 'pot')} read as they cooled, from {lightest} to {heaviest}."
            " The more a pot holds, the longer it stays hot.",
        )
        parts = (Section("pots", "By what they held", (_passage(book, here, by_mass),)),)
    return Page(
        book.frame(here),
        here.title,
        parts,
        lead=lead,
        line=pagination_links(here, places),
        folio=here.folio,
        about="How fast the studio's pots cooled, by what they held.",
    )


def _passage(book: Book, here: Address, pots: Sequence[Pot]) -> Passage:
    line = rate_line([run for run, _, _ in pots])
    chart = growth_chart(
        "pots",
        "Time to cool half-way to the room, by what the pot held",
        "; ".join(
            f"{book.units.mass(run.mass_g).first} in {minutes(half_time(run.rate_per_min))}"
            for run, _, _ in pots
        ),
        (_drawn(book, [run for run, _, _ in pots], line),),
        "min",
        book.units.mass_unit,
    )
    words = "Each ring is a pot, the line what to expect of a pot that holds as much."
    if line.runs > 1:
        words += " The shade should hold 19 pots of 20."
    heads = (Heading("Held"), Heading("Half-way", number=True), Heading("Room", number=True),
             Heading("Pot"), Heading("Design", wide=True))  # fmt: skip
    rows = tuple(_row(book, here, *pot) for pot in pots)
    table = PageTable(
        "How fast pots cooled, the lightest first", heads, (RowGroup(rows),), wide=True
    )
    middle_g = median_low([run.mass_g for run, _, _ in pots])
    return Passage((ChartFigure(chart, (words,)), table), (_note(book, here, line, middle_g),))


def _drawn(book: Book, runs: Sequence[PotRun], line: RateLine) -> GrowthCurve:
    """The pots, and the line through them with the interval for one more."""
    scale = book.units.mass_in_scale
    low_g, high_g = runs[0].mass_g, runs[-1].mass_g
    masses = [low_g + (high_g - low_g) * step / _STEPS for step in range(_STEPS + 1)]
    curve, shade = [], []
    for mass_g in masses if high_g > low_g else ():
        found = forecast_rate(line, mass_g)
        assert found is not None
        curve.append((scale(mass_g), half_time(found.rate_per_min)))
        if found.interval_per_min is not None:
            slow, fast = found.interval_per_min
            shade.append((scale(mass_g), half_time(fast), half_time(slow)))
    return GrowthCurve(
        "",
        tuple((scale(run.mass_g), half_time(run.rate_per_min)) for run in runs),
        tuple(curve),
        low=tuple((mass, low) for mass, low, _ in shade),
        high=tuple((mass, high) for mass, _, high in shade),
    )


def _note(book: Book, here: Address, line: RateLine, mass_g: float) -> SideNote:
    found = forecast_rate(line, mass_g)
    assert found is not None
    sure = ""
    if found.interval_per_min is not None:
        slow, fast = found.interval_per_min
        sure = (
            f" 19 pots of 20 take {range_text(minutes(half_time(fast)), minutes(half_time(slow)))}."
        )
    held = book.units.mass(mass_g).first
    says = f"to expect of a pot of {held} until it is half-way to the room.{sure}"
    how = href(here, book.places.fixed("how"), FORECAST.anchor)
    big = minutes(half_time(found.rate_per_min))
    return SideNote(big, ((says,),), KIND_NAMES["estimate"], how=how)


def _row(
    book: Book, here: Address, run: PotRun, design: DesignSummary, pour: PourOverview
) -> tuple[PageCell, ...]:
    held, room = book.units.mass(run.mass_g), book.units.temperature(run.room_c)
    place = book.places.designs[design.id]
    return (
        PageCell((held.first,), held.second, head=True),
        PageCell((minutes(half_time(run.rate_per_min)),), number=True),
        PageCell((room.first,), room.second, number=True),
        PageCell((capitalised(run.pot),)),
        PageCell((span(here, place, fragment=pour_anchor(pour.label)),), short_date(pour.date)),
    )
