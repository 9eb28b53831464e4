"""Colours and edges that were measured in photos: swatches, differences, changes over time."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations

from msgspec import Struct
from msgspec.structs import replace

from journal.charts.charts import GrowthCurve, growth_chart
from journal.figures.colour.spaces import Triple, ciede2000, difference_words, shift_words
from journal.figures.recipe.doses import dose_strength
from journal.html import blocks as html
from journal.html.blocks import PageCell, Passage, Section, SideNote, TextRun, Words, number_cell
from journal.photos.derive import MeasuredPhoto
from journal.photos.measurement import MeasuredRegion
from journal.quantities.show import show_length, show_number
from journal.records.models.things import ThingRef
from journal.records.models.write_up import ColourDose, Design, variant_words
from journal.records.yaml.tree import value_at
from journal.views.shared import words
from journal.views.shared.bars_seen import hex_colour
from journal.views.shared.book import Book
from journal.views.shared.on_design import DesignContext, typeset_quantity

HUNDREDTH = Decimal("0.01")
# What the colours were corrected by, in words.
CORRECTED = {
    "card": "corrected by the photo card",
    "neutral": "corrected by a grey in the picture",
    "none": "uncorrected: no card and no grey in the picture",
}


class Swatch(Struct, frozen=True):
    """The colour of one region of a photo, with its bar or variant and the day.

    ``colour`` is how the colourant is dosed whose swatch it is, ``dose`` the same as text.
    """

    name: str
    day: int
    taken_on: date | None
    region: MeasuredRegion
    corrected: str
    design: str
    dose: str = ""
    colour: ColourDose | None = None

    @property
    def says(self) -> str:
        """The swatch's bar or variant and its day, as a caption."""
        return f"{self.name}, day {self.day}"


def lab_text(lab: Triple) -> str:
    """A CIE Lab colour as text: ``L* 62.0, a* −3.1, b* −10.4``."""
    values = (show_number(value, words.TENTH) for value in lab)
    named = zip(("L*", "a*", "b*"), values, strict=True)
    return ", ".join(words.NO_BREAK.join(pair) for pair in named)


def difference_text(one: Triple, other: Triple) -> str:
    """The difference of two Lab colours in words and in CIEDE2000: ``hardly to be seen (0.9)``."""
    apart = ciede2000(one, other)
    return f"{difference_words(apart)} ({show_number(apart, words.TENTH)})"


def measured_part(context: DesignContext) -> Section | None:
    """The section of colours and edges measured in a design's photos; None without any."""
    photos = context.book.measured.get(context.design.id, ())
    if not photos:
        return None
    swatches = sorted(
        (swatch for photo in photos for swatch in _swatches(context.design, photo)),
        key=lambda swatch: (swatch.region.region, swatch.name, swatch.day),
    )
    passages: list[Passage] = []
    by_region = _grouped(swatches, lambda swatch: swatch.region.region)
    for order, (region, group) in enumerate(by_region.items(), start=1):
        blocks: list[html.Block] = [swatch_row(f"Colours of {region}", group)]
        chart = _shift_chart(order, region, group)
        if chart is not None:
            blocks.append(chart)
        blocks.append(_swatch_table(region, group))
        says = tuple((line,) for line in _difference_lines(group))
        note = SideNote("", says, "Measured", how=context.how("colour"))
        passages.append(Passage(tuple(blocks), (note,)))
    edges = [photo for photo in photos if photo.measurement.bleed is not None]
    if edges:
        note = SideNote(kind="Measured", how=context.how("edge"))
        passages.append(Passage((_edge_table(edges),), (note,)))
    return Section("measured", "Measured in photos", tuple(passages)) if passages else None


def _grouped(
    swatches: Iterable[Swatch], key: Callable[[Swatch], str]
) -> Mapping[str, list[Swatch]]:
    """The swatches grouped by ``key``, in the order in which its values first occur."""
    groups: dict[str, list[Swatch]] = {}
    for swatch in swatches:
        groups.setdefault(key(swatch), []).append(swatch)
    return groups


def _swatches(design: Design, photo: MeasuredPhoto) -> Iterable[Swatch]:
    """Yield a swatch for each region of a photo; its date is known if its bar's pour is."""
    name = photo.bar or variant_words(photo.variant or "") or "the design"
    pours = (pour for pour in design.pours if any(bar.bar == photo.bar for bar in pour.bars))
    pour = next(pours, None)
    taken_on = pour.date + timedelta(days=photo.day) if pour is not None else None
    for region in photo.measurement.regions:
        yield Swatch(name, photo.day, taken_on, region, photo.measurement.corrected, design.id)


def swatch_row(title: str, swatches: Sequence[Swatch]) -> html.ColourRow:
    """The swatches as a row of colour patches."""
    patches = tuple((hex_colour(one.region.srgb), one.region.words, one.says) for one in swatches)
    return html.ColourRow(title, patches)


def _shift_chart(order: int, region: str, swatches: Sequence[Swatch]) -> html.ChartFigure | None:
    """A chart of each bar's colour shift since its first day; None without a later day."""
    by_name = _grouped(swatches, lambda swatch: swatch.name)
    bars = tuple(
        GrowthCurve(name, points, points)
        for name, group in by_name.items()
        if group[-1].day > group[0].day and (points := _shift_by_day(group))
    )
    if not bars:
        return None
    shifts = []
    for bar in bars:
        day, shift = bar.measured[-1]
        shifts.append(f"{bar.says}: {show_number(shift, words.TENTH)} by day {day:.0f}.")
    name = words.capitalised(region)
    title = f"{name}: how far its colour has moved, by day"
    caption = (
        TextRun(f"{name} over time", "strong"),
        ": how far it has moved since the first day, in CIEDE2000. The line only joins the days.",
    )
    chart = growth_chart(f"moved-{order}", title, " ".join(shifts), bars, "CIEDE2000")
    return html.ChartFigure(chart, caption)


def _shift_by_day(swatches: Sequence[Swatch]) -> tuple[tuple[float, float], ...]:
    """The day of each swatch, and its difference from the first one in CIEDE2000."""
    first = swatches[0].region.lab
    return tuple((float(one.day), ciede2000(first, one.region.lab)) for one in swatches)


def _swatch_table(region: str, swatches: Sequence[Swatch]) -> html.PageTable:
    """The table of one region's colours, in words and in Lab, with their accuracy."""
    rows = []
    for swatch in swatches:
        within, accuracy = swatch.region.within, ""
        if within is not None:
            accuracy = f"true within {show_number(within, words.TENTH)} CIEDE2000"
        title = PageCell((swatch.name,), f"day {swatch.day}", head=True)
        colour = PageCell((swatch.region.words,), CORRECTED[swatch.corrected])
        rows.append((title, colour, PageCell((lab_text(swatch.region.lab),), accuracy)))
    heads = ("Bar", html.Heading("Colour", wide=True), "Lab")
    return html.simple_table(f"{words.capitalised(region)}: CIE Lab for D65", heads, rows)


def _difference_lines(swatches: Sequence[Swatch]) -> Iterable[str]:
    """Yield sentences: each bar's first day against its last, then the bars in pairs."""
    by_name = _grouped(swatches, lambda swatch: swatch.name)
    for name, group in by_name.items():
        first, last = group[0], group[-1]
        if last.day > first.day:
            apart = difference_text(first.region.lab, last.region.lab)
            moved = shift_words(first.region.lab, last.region.lab)
            yield f"{name}, day {first.day} to {last.day}: {moved}; {apart}."
    firsts = [group[0] for group in by_name.values()]
    for one, other in combinations(firsts, 2):
        apart = difference_text(one.region.lab, other.region.lab)
        yield f"{one.name} against {other.name}: {apart}."


def _edge_table(photos: Sequence[MeasuredPhoto]) -> html.PageTable:
    """The table of the edge's width in each photo, with its 95 % interval."""
    rows = []
    for photo in photos:
        bleed = photo.measurement.bleed
        assert bleed is not None
        head = PageCell(
            (photo.bar or variant_words(photo.variant or "") or "–",), f"day {photo.day}", head=True
        )
        widths = (bleed.width_mm, bleed.low_mm, bleed.high_mm)
        width, low, high = (show_length(mm, HUNDREDTH) for mm in widths)
        rows.append((head, number_cell(width), number_cell(f"{low.removesuffix(' mm')} to {high}")))
    caption = "Width of the edge between body and detail, 10 to 90 %"
    return html.simple_table(caption, ("Bar", "Width", "95 %"), rows)


def colourant_swatches(
    book: Book, colourant: str
) -> tuple[tuple[tuple[ThingRef, ...], list[Swatch]], ...]:
    """The measured swatches of a colourant by the base it is in, the oldest first.

    A region counts if a layer has its name, and the colourant is that layer's only one.
    """
    by_base: dict[tuple[ThingRef, ...], list[Swatch]] = {}
    designs = book.uses.by_thing.get(("colourants", colourant), ())
    measured = [photos for name, photos in book.measured.items() if name in designs]
    for photo in (photo for photos in measured for photo in photos):
        design = book.recipes[photo.design]
        variant = design.as_written if photo.variant is None else design.variant(photo.variant)
        places = {layer.name: n for n, layer in enumerate(variant.recipe.layers)}
        for swatch in _swatches(design, photo):
            place = places.get(swatch.region.region)
            if place is None:
                continue
            layer = variant.recipe.layers[place]
            if [colour.colourant for colour in layer.colours] != [colourant]:
                continue
            colour = layer.colours[0]
            written = value_at(variant.written, ("layers", place, "colours", 0, "dose"))
            by_eye = f"by eye: {colour.aim}" if colour.aim else "by eye"
            dose = by_eye if colour.dose is None else typeset_quantity(str(written))
            swatch = replace(swatch, dose=dose, colour=colour)
            cast_in: list[ThingRef] = [("bases", name) for name, _ in layer.base.shares]
            if layer.base.leftover is not None:
                cast_in.append(("leftovers", layer.base.leftover))
            by_base.setdefault(tuple(cast_in), []).append(swatch)
    for swatches in by_base.values():
        swatches.sort(key=lambda swatch: (swatch.taken_on or date.min, swatch.day, swatch.name))
    return tuple(sorted(by_base.items()))


def _titles(book: Book, things: Iterable[ThingRef]) -> str:
    return words.list_text([book.places.things[thing].title for thing in things])


def _strength(book: Book, swatch: Swatch) -> float | None:
    """How strong the dose of a swatch's colourant is; None by eye, or where it goes by bars."""
    dose = swatch.colour.dose if swatch.colour is not None else None
    if swatch.colour is None or dose is None:
        return None
    density = book.notebook.shelf.colourants[swatch.colour.colourant].density
    return dose_strength(dose.kind, dose.value, dose.per, dose.per_g, density)


def dose_ladder(book: Book, colourant: str, how: str) -> Section:
    """The section of what a colourant gives: its swatches by base, in rising dose, then by day.

    Where no photo was measured it says what to photograph.
    """
    passages = []
    looks = book.notebook.shelf.colourants[colourant].looks
    by_base = colourant_swatches(book, colourant)
    if looks and not by_base:
        row = html.ColourRow("Its colour", ((looks, "as the maker describes it", ""),))
        passages.append(Passage((row,)))
    for cast_in, swatches in by_base:
        base = _titles(book, cast_in)
        rising = sorted(
            swatches,
            # What has no dose comes last.
            key=lambda one: (_strength(book, one) or math.inf, one.design, one.name, one.day),
        )
        head = html.Subhead(f"In {base}")
        row = html.ColourRow(
            f"Doses in {base}",
            tuple((hex_colour(one.region.srgb), one.dose, one.says) for one in rising),
        )
        passages.append(Passage((head, row), (SideNote(kind="Measured", how=how),)))
    if not by_base:
        line = html.Paragraph((_TO_PHOTOGRAPH,))
        passages.append(Passage((line,)))
    return Section("ladder", "By dose", tuple(passages))


_TO_PHOTOGRAPH = (
    "Its colour has not been measured yet. Photograph a bar of each dose beside the photo card"
    " and measure it: then the doses stand here side by side."
)


def oil_swatches(book: Book, design: str, oil: str) -> tuple[tuple[Swatch, Swatch], ...]:
    """The first and the last swatch of each region of a bar that has an oil in it, over days.

    A region counts if a layer has its name, and the oil is in that layer.
    """
    by_region: dict[tuple[str, str], list[Swatch]] = {}
    measured = [photos for name, photos in book.measured.items() if name == design]
    for photo in (photo for photos in measured for photo in photos):
        written = book.recipes[design]
        recipe = written.recipe if photo.variant is None else written.variant(photo.variant).recipe
        scented = {
            layer.name for layer in recipe.layers if any(one.oil == oil for one in layer.fragrance)
        }
        for swatch in _swatches(written, photo):
            if swatch.region.region in scented:
                by_region.setdefault((swatch.name, swatch.region.region), []).append(swatch)
    in_order = [sorted(group, key=lambda one: one.day) for group in by_region.values()]
    return tuple((one[0], one[-1]) for one in in_order if one[-1].day > one[0].day)


def swatches_part(book: Book, colourant: str, how: str) -> Section | None:
    """The section of a colourant's swatches by base, against the first; None without any."""
    by_base = colourant_swatches(book, colourant)
    if not by_base:
        return None
    passages = []
    for cast_in, swatches in by_base:
        base = _titles(book, cast_in)
        first = swatches[0]
        rows = []
        for swatch in swatches:
            when = words.short_date(swatch.taken_on) if swatch.taken_on is not None else "–"
            apart: Words = ("the first recorded",)
            if swatch is not first:
                apart = (difference_text(first.region.lab, swatch.region.lab),)
            title = PageCell((book.places.designs[swatch.design].title,), swatch.says, head=True)
            colour = PageCell((swatch.region.words,), lab_text(swatch.region.lab))
            rows.append((title, PageCell((when,)), colour, PageCell(apart)))
        since = f", since {words.long_date(first.taken_on)}" if first.taken_on is not None else ""
        caption = f"In {base}: {words.count_text(len(swatches), 'swatch', 'swatches')}{since}"
        heads = (html.Heading("Design", wide=True), "Seen", "Colour", "Against the first")
        table = html.simple_table(caption, heads, rows, wide=True)
        passages.append(Passage((table,), (SideNote(kind="Measured", how=how),)))
    return Section("swatches", "Measured swatches", tuple(passages))
