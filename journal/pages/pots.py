"""All pots of the studio that were read: how fast each cooled, by what it held."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from statistics import median_low

from journal.figures.cooling import half_time
from journal.figures.derive_heat import FORECAST, PotRun
from journal.figures.pot_rates import RateLine, forecast_rate, rate_line
from journal.pages.book import Book
from journal.pages.charts import Growth, growth_chart
from journal.pages.leaves import newer_and_older, over_pages, page_places
from journal.pages.on_design import KIND_SAID
from journal.pages.parts import (
    Cell,
    Figure,
    Head,
    Note,
    Page,
    Part,
    Passage,
    Rows,
    Table,
    Words,
)
from journal.pages.places import POTS, Place, href, pour_anchor, span
from journal.pages.sheet import Sheet
from journal.pages.words import counted, minutes, ranged, sentence, short_date
from journal.records.summary import DesignSummary
from journal.records.write_up import Poured

# A pot that was read, its design and its pour.
Pot = tuple[PotRun, DesignSummary, Poured]
# Steps of the line that is drawn.
_STEPS = 24


def pots_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page of the pots that were read last, and those of the pots before."""
    pages = over_pages(sorted(_pots(book), key=lambda pot: pot[2].date, reverse=True))
    places = page_places(POTS, len(pages))
    return tuple(
        book.sheet(here, "page.html", partial(pots_page, book, here, pots, places))
        for here, pots in zip(places, pages, strict=True)
    )


def _pots(book: Book) -> Iterator[Pot]:
    for name, summary in book.figures.summaries.items():
        design = book.notebook.summaries[name]
        pours = {pour.label: pour for pour in design.brief.pours}
        yield from ((run, design, pours[run.pour]) for run in summary.rates)


def pots_page(book: Book, here: Place, pots: Sequence[Pot], places: Sequence[Place]) -> Page:
    """How fast some pots cooled, drawn and in a table, the lightest first."""
    by_mass = sorted(pots, key=lambda pot: (pot[0].mass_g, -pot[0].rate_per_min))
    parts: tuple[Part, ...] = ()
    lead: Words = ("No pot has been read yet as it cooled. Three readings of one are a start.",)
    if by_mass:
        lightest, heaviest = (book.units.mass(by_mass[at][0].mass_g).first for at in (0, -1))
        lead = (
            f"{counted(len(pots), 'pot')} read as they cooled, from {lightest} to {heaviest}."
            " The more a pot holds, the longer it stays hot.",
        )
        parts = (Part("pots", "By what they held", (_passage(book, here, by_mass),)),)
    return Page(
        book.frame(here),
        here.title,
        parts,
        lead=lead,
        line=newer_and_older(here, places),
        folio=here.folio,
        about="How fast the studio's pots cooled, by what they held.",
    )


def _passage(book: Book, here: Place, pots: Sequence[Pot]) -> Passage:
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
    heads = (Head("Held"), Head("Half-way", number=True), Head("Room", number=True),
             Head("Pot"), Head("Design", wide=True))  # fmt: skip
    rows = tuple(_row(book, here, *pot) for pot in pots)
    table = Table("How fast pots cooled, the lightest first", heads, (Rows(rows),), wide=True)
    middle_g = median_low([run.mass_g for run, _, _ in pots])
    return Passage((Figure(chart, (words,)), table), (_note(book, here, line, middle_g),))


def _drawn(book: Book, runs: Sequence[PotRun], line: RateLine) -> Growth:
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
    return Growth(
        "",
        tuple((scale(run.mass_g), half_time(run.rate_per_min)) for run in runs),
        tuple(curve),
        low=tuple((mass, low) for mass, low, _ in shade),
        high=tuple((mass, high) for mass, _, high in shade),
    )


def _note(book: Book, here: Place, line: RateLine, mass_g: float) -> Note:
    found = forecast_rate(line, mass_g)
    assert found is not None
    sure = ""
    if found.interval_per_min is not None:
        slow, fast = found.interval_per_min
        sure = f" 19 pots of 20 take {ranged(minutes(half_time(fast)), minutes(half_time(slow)))}."
    held = book.units.mass(mass_g).first
    says = f"to expect of a pot of {held} until it is half-way to the room.{sure}"
    how = href(here, book.places.fixed("how"), FORECAST.anchor)
    big = minutes(half_time(found.rate_per_min))
    return Note(big, ((says,),), KIND_SAID["estimate"], how=how)


def _row(
    book: Book, here: Place, run: PotRun, design: DesignSummary, pour: Poured
) -> tuple[Cell, ...]:
    held, room = book.units.mass(run.mass_g), book.units.temperature(run.room_c)
    place = book.places.designs[design.id]
    return (
        Cell((held.first,), held.second, head=True),
        Cell((minutes(half_time(run.rate_per_min)),), number=True),
        Cell((room.first,), room.second, number=True),
        Cell((sentence(run.pot),)),
        Cell((span(here, place, fragment=pour_anchor(pour.label)),), short_date(pour.date)),
    )
