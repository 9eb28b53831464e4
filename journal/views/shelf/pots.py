"""The cooling of all pots of the studio: how fast each cooled, by the mass that it held."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from statistics import median_low

from journal.charts.charts import GrowthCurve, growth_chart
from journal.figures.heat.cooling import half_time
from journal.figures.heat.derive_heat import PotRun
from journal.figures.heat.pot_rates import RateLine, forecast_rate, rate_line
from journal.html import blocks as html
from journal.html.blocks import PageCell, Passage, Section, SideNote, Words, number_cell
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import PourOverview
from journal.views.shared.book import Book
from journal.views.shared.on_design import KIND_NAMES, uncounted_words
from journal.views.shared.on_page import PageContext
from journal.views.shared.pagination import paginate, pagination_links, pagination_places
from journal.views.shared.places import POTS, Address, Sheet, pour_anchor
from journal.views.shared.words import capitalised, count_text, minutes, range_text, short_date

# A pot that was read, its design and its pour.
Pot = tuple[PotRun, DesignSummary, PourOverview]
# Steps of the line that is drawn.
_STEPS = 24


def pots_sheets(book: Book) -> tuple[Sheet, ...]:
    """The pages of the pots that were read, the latest pots first."""
    pages = paginate(sorted(_pots(book), key=lambda pot: pot[2].date, reverse=True))
    places = pagination_places(POTS, len(pages))
    return tuple(
        book.sheet(here, "page.html", partial(pots_page, book, here, pots, places))
        for here, pots in zip(places, pages, strict=True)
    )


def _pots(book: Book) -> Iterator[Pot]:
    """Yield every pot whose rate of cooling is known, design by design."""
    for name, summary in book.figures.summaries.items():
        design = book.notebook.summaries[name]
        pours = {pour.label: pour for pour in design.overview.pours}
        yield from ((run, design, pours[run.pour]) for run in summary.rates)


def pots_page(
    book: Book, here: Address, pots: Sequence[Pot], places: Sequence[Address]
) -> html.Page:
    """A page of pots: how fast they cooled, as a chart and a table, the lightest first."""
    by_mass = sorted(pots, key=lambda pot: (pot[0].mass_g, -pot[0].rate_per_min))
    parts: tuple[Section, ...] = ()
    standfirst: Words = (
        "No pot has been read yet as it cooled. Three readings of one pot are a start.",
    )
    if by_mass:
        lightest, heaviest = (book.units.mass(by_mass[at][0].mass_g).first for at in (0, -1))
        standfirst = (
            f"{count_text(len(pots), 'pot')} read as they cooled, from {lightest} to {heaviest}."
            " The more a pot holds, the longer it stays hot.",
            *uncounted_words(book, here),
        )
        parts = (
            Section(
                "pots",
                "Minutes to cool half-way to the room",
                (_passage(PageContext(book, here), by_mass),),
            ),
        )
    about = "How fast the studio's pots cooled, by what they held."
    return book.page(here, parts, about, standfirst=standfirst, line=pagination_links(here, places))


def _passage(context: PageContext, pots: Sequence[Pot]) -> Passage:
    """The chart and the table of the pots, with a note on what to expect of a median one."""
    line = rate_line([run for run, _, _ in pots])
    chart = growth_chart(
        "pots",
        "Time to cool half-way to the room, by what the pot held",
        "; ".join(
            f"{context.units.mass(run.mass_g).first} in {minutes(half_time(run.rate_per_min))}"
            for run, _, _ in pots
        ),
        (_rate_curve(context, [run for run, _, _ in pots], line),),
        "min",
        context.units.mass_unit,
    )
    words = "Each ring is a pot. The line is what to expect of the next."
    if line.runs > 1:
        words += " The shade is where 19 pots of 20 should fall."
    heads = ("Held", "Half-way", "Room", "Pot", html.Heading("Design", wide=True))
    rows = [_row(context, *pot) for pot in pots]
    caption = "How fast pots cooled, the lightest first"
    table = html.simple_table(caption, heads, rows, wide=True)
    middle_g = median_low([run.mass_g for run, _, _ in pots])
    return Passage((html.ChartFigure(chart, (words,)), table), (_note(context, line, middle_g),))


def _rate_curve(context: PageContext, runs: Sequence[PotRun], line: RateLine) -> GrowthCurve:
    """Half-time in minutes by mass: the pots, the fitted line, the interval for one more pot."""
    scale = context.units.mass_in_scale
    low_g, high_g = runs[0].mass_g, runs[-1].mass_g
    masses = [low_g + (high_g - low_g) * step / _STEPS for step in range(_STEPS + 1)]
    curve, shade = [], []
    for mass_g in masses if high_g > low_g else ():
        forecast = forecast_rate(line, mass_g)
        assert forecast is not None
        curve.append((scale(mass_g), half_time(forecast.rate_per_min)))
        if forecast.interval_per_min is not None:
            slow, fast = forecast.interval_per_min
            shade.append((scale(mass_g), half_time(fast), half_time(slow)))
    return GrowthCurve(
        "",
        tuple((scale(run.mass_g), half_time(run.rate_per_min)) for run in runs),
        tuple(curve),
        low=tuple((mass, low) for mass, low, _ in shade),
        high=tuple((mass, high) for mass, _, high in shade),
    )


def _note(context: PageContext, line: RateLine, mass_g: float) -> SideNote:
    """A side note on the half-time to expect of a pot that holds ``mass_g``."""
    forecast = forecast_rate(line, mass_g)
    assert forecast is not None
    interval = ""
    if forecast.interval_per_min is not None:
        slow, fast = forecast.interval_per_min
        ends = (minutes(half_time(rate)) for rate in (fast, slow))
        interval = f" 19 pots of 20 take {range_text(*ends)}."
    held = context.units.mass(mass_g).first
    says = f"for a pot of {held} to cool half-way to the room.{interval}"
    big = minutes(half_time(forecast.rate_per_min))
    return SideNote(big, ((says,),), KIND_NAMES["estimate"], how=context.how("forecast"))


def _row(
    context: PageContext, run: PotRun, design: DesignSummary, pour: PourOverview
) -> tuple[PageCell, ...]:
    """A row: mass, half-time, room temperature, pot, and the design with its date."""
    held, room = context.units.mass(run.mass_g), context.units.temperature(run.room_c)
    pour_link = context.design_link(design.id, fragment=pour_anchor(pour.label))
    return (
        PageCell((held.first,), held.second, head=True),
        number_cell(minutes(half_time(run.rate_per_min))),
        number_cell(*room),
        PageCell((capitalised(run.pot),)),
        PageCell((pour_link,), short_date(pour.date)),
    )
