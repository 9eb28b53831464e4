"""Colours and edges that were measured in photos: swatches, differences, changes over time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations

from msgspec import Struct

from journal.figures.colour import Triple, ciede2000, difference_words, shift_words
from journal.pages.book import Book
from journal.pages.charts import Growth, growth_chart
from journal.pages.on_design import OnDesign
from journal.pages.parts import (
    Block,
    Cell,
    Colours,
    Figure,
    Head,
    Note,
    Part,
    Passage,
    Span,
    Table,
    Words,
    number,
    table,
)
from journal.pages.words import NO_BREAK, TENTH, counted, said_date, sentence, short_date
from journal.photos.derive import MeasuredPhoto
from journal.photos.measurement import MeasuredRegion
from journal.quantities.show import show_length, show_number
from journal.records.write_up import Design

HUNDREDTH = Decimal("0.01")
# What the colours were set right by, as it is said.
CORRECTED = {
    "card": "set right by the photo card",
    "neutral": "set right by a grey in the picture",
    "none": "uncorrected: no card and no grey in the picture",
}


class Swatch(Struct, frozen=True):
    """The colour of one region of a photo, with its bar or variant and the day."""

    name: str
    day: int
    seen_on: date | None
    region: MeasuredRegion
    corrected: str
    design: str

    @property
    def says(self) -> str:
        """Its bar or variant, and the day."""
        return f"{self.name}, day {self.day}"


def hex_of(srgb: Triple) -> str:
    """A colour as pages write it."""
    return "#" + "".join(f"{max(0, min(255, round(code))):02x}" for code in srgb)


def lab_said(lab: Triple) -> str:
    """``L* 62.0, a* −3.1, b* −10.4``."""
    named = zip(("L*", "a*", "b*"), lab, strict=True)
    return ", ".join(f"{name}{NO_BREAK}{show_number(value, TENTH)}" for name, value in named)


def difference_said(one: Triple, other: Triple) -> str:
    """How far two colours are apart: ``hardly to be seen (0.9)``."""
    apart = ciede2000(one, other)
    return f"{difference_words(apart)} ({show_number(apart, TENTH)})"


def measured_part(on: OnDesign) -> Part | None:
    """What was measured in the design's photos: colours, their differences, edges."""
    photos = on.book.measured.get(on.design.id, ())
    if not photos:
        return None
    swatches = sorted(
        (swatch for photo in photos for swatch in _swatches(on.design, photo)),
        key=lambda swatch: (swatch.region.region, swatch.name, swatch.day),
    )
    passages: list[Passage] = []
    by_region = _grouped(swatches, lambda swatch: swatch.region.region)
    for order, (region, found) in enumerate(by_region.items(), start=1):
        blocks: list[Block] = [colours_of(f"Colours of {region}", found)]
        chart = _shift_chart(order, region, found)
        if chart is not None:
            blocks.append(chart)
        blocks.append(_swatch_table(region, found))
        says = tuple((line,) for line in _difference_lines(found))
        note = Note("", says, "Measured", how=on.how("colour"))
        passages.append(Passage(tuple(blocks), (note,)))
    edges = [photo for photo in photos if photo.measurement.bleed is not None]
    if edges:
        passages.append(
            Passage((_edge_table(edges),), (Note(kind="Measured", how=on.how("edge")),))
        )
    return Part("measured", "Measured in photos", tuple(passages)) if passages else None


def _grouped(
    swatches: Iterable[Swatch], key: Callable[[Swatch], str]
) -> Mapping[str, list[Swatch]]:
    groups: dict[str, list[Swatch]] = {}
    for swatch in swatches:
        groups.setdefault(key(swatch), []).append(swatch)
    return groups


def _swatches(design: Design, photo: MeasuredPhoto) -> Iterable[Swatch]:
    name = photo.bar or photo.variant or "the design"
    poured = next(
        (pour.date for pour in design.pours for bar in pour.bars if bar.bar == photo.bar), None
    )
    seen_on = poured + timedelta(days=photo.day) if poured is not None else None
    for region in photo.measurement.regions:
        yield Swatch(name, photo.day, seen_on, region, photo.measurement.corrected, design.id)


def colours_of(title: str, swatches: Sequence[Swatch]) -> Colours:
    """Patches in a row."""
    patches = tuple((hex_of(one.region.srgb), one.region.words, one.says) for one in swatches)
    return Colours(title, patches)


def _shift_chart(order: int, region: str, swatches: Sequence[Swatch]) -> Figure | None:
    """How far each bar's colour has moved from its first day, by day; None without a second."""
    by_name = _grouped(swatches, lambda swatch: swatch.name)
    bars = tuple(
        Growth(name, points, points)
        for name, found in by_name.items()
        if found[-1].day > found[0].day and (points := _shift_by_day(found))
    )
    if not bars:
        return None
    described = " ".join(
        f"{bar.says}: {show_number(bar.measured[-1][1], TENTH)} by day {bar.measured[-1][0]:.0f}."
        for bar in bars
    )
    title = f"{sentence(region)}: how far its colour has moved, by day"
    words = (
        Span(f"{sentence(region)} over time", "strong"),
        ": CIEDE2000 from the first day that was measured; the line only joins the days.",
    )
    return Figure(growth_chart(f"moved-{order}", title, described, bars, "CIEDE2000"), words)


def _shift_by_day(swatches: Sequence[Swatch]) -> tuple[tuple[float, float], ...]:
    first = swatches[0].region.lab
    return tuple((float(one.day), ciede2000(first, one.region.lab)) for one in swatches)


def _swatch_table(region: str, swatches: Sequence[Swatch]) -> Table:
    rows = []
    for swatch in swatches:
        within = swatch.region.within
        sure = "" if within is None else f"true within {show_number(within, TENTH)} CIEDE2000"
        rows.append(
            (
                Cell((swatch.name,), f"day {swatch.day}", head=True),
                Cell((swatch.region.words,), CORRECTED[swatch.corrected]),
                Cell((lab_said(swatch.region.lab),), sure),
            )
        )
    heads = ("Bar", Head("Colour", wide=True), "Lab")
    return table(f"{sentence(region)}: CIE Lab for D65", heads, rows)


def _difference_lines(swatches: Sequence[Swatch]) -> Iterable[str]:
    """Day 0 against later of a bar, and the first bars of the variants against each other."""
    by_name = _grouped(swatches, lambda swatch: swatch.name)
    for name, found in by_name.items():
        first, last = found[0], found[-1]
        if last.day > first.day:
            apart = difference_said(first.region.lab, last.region.lab)
            moved = shift_words(first.region.lab, last.region.lab)
            yield f"{name}, day {first.day} to {last.day}: {moved}; {apart}."
    firsts = [found[0] for found in by_name.values()]
    for one, other in combinations(firsts, 2):
        apart = difference_said(one.region.lab, other.region.lab)
        yield f"{one.name} against {other.name}: {apart}."


def _edge_table(photos: Sequence[MeasuredPhoto]) -> Table:
    rows = []
    for photo in photos:
        bleed = photo.measurement.bleed
        assert bleed is not None
        head = Cell((photo.bar or photo.variant or "–",), f"day {photo.day}", head=True)
        width, low, high = (
            show_length(mm, HUNDREDTH) for mm in (bleed.width_mm, bleed.low_mm, bleed.high_mm)
        )
        rows.append((head, number(width), number(f"{low.removesuffix(' mm')} to {high}")))
    caption = "Width of the edge between body and detail, 10 to 90 %"
    return table(caption, ("Bar", "Width", "95 %"), rows)


def colourant_swatches(book: Book, colourant: str) -> tuple[tuple[str, list[Swatch]], ...]:
    """Every measured swatch of a colourant by the base that it is in, the oldest first.

    A region counts for a layer that has its name; a layer of several colourants for
    none of them.
    """
    found: dict[str, list[Swatch]] = {}
    used = book.uses.by_thing.get(("colourants", colourant), ())
    for photo in (photo for name in book.measured if name in used for photo in book.measured[name]):
        design = book.notebook.designs[photo.design]
        recipe = design.recipe if photo.variant is None else design.variant(photo.variant).recipe
        layers = {layer.name: layer for layer in recipe.layers}
        for swatch in _swatches(design, photo):
            layer = layers.get(swatch.region.region)
            if layer is None or [c.colourant for c in layer.colours] != [colourant]:
                continue
            base = " and ".join(name for name, _ in layer.base.shares) or str(layer.base.leftover)
            found.setdefault(base, []).append(swatch)
    for swatches in found.values():
        swatches.sort(key=lambda swatch: (swatch.seen_on or date.min, swatch.day, swatch.name))
    return tuple(sorted(found.items()))


def swatches_part(book: Book, colourant: str, how: str) -> Part | None:
    """A colourant's measured swatches over bases and years, against the first recorded."""
    by_base = colourant_swatches(book, colourant)
    if not by_base:
        return None
    passages = []
    for base, swatches in by_base:
        first = swatches[0]
        rows = []
        for swatch in swatches:
            when = short_date(swatch.seen_on) if swatch.seen_on is not None else "–"
            apart: Words = ("the first recorded",)
            if swatch is not first:
                apart = (difference_said(first.region.lab, swatch.region.lab),)
            title = Cell((book.places.designs[swatch.design].title,), swatch.says, head=True)
            colour = Cell((swatch.region.words,), lab_said(swatch.region.lab))
            rows.append((title, Cell((when,)), colour, Cell(apart)))
        since = f", since {said_date(first.seen_on)}" if first.seen_on is not None else ""
        caption = f"In {base}: {counted(len(swatches), 'swatch', 'swatches')}{since}"
        heads = (Head("Design", wide=True), "Seen", "Colour", "Against the first")
        blocks = (
            colours_of(f"Swatches in {base}", swatches),
            table(caption, heads, rows, wide=True),
        )
        passages.append(Passage(blocks, (Note(kind="Measured", how=how),)))
    return Part("swatches", "Measured swatches", tuple(passages))
