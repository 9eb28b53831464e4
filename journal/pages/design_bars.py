"""What came of each bar: at the peel, and in the weeks after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from journal.figures.bleed import WidthForecast
from journal.figures.derive_heat import BLEED, BarBleed, body_temperature
from journal.pages.charts import Growth, growth_chart
from journal.pages.differs import done_otherwise
from journal.pages.on_design import OnDesign
from journal.pages.parts import (
    Block,
    Cell,
    Figure,
    Head,
    Note,
    Part,
    Passage,
    Points,
    Rows,
    Said,
    Span,
    Table,
    Words,
)
from journal.pages.places import pour_anchor
from journal.pages.words import (
    NO_BREAK,
    counted,
    keep,
    listed,
    measure_value,
    ranged,
    said_date,
    sentence,
)
from journal.quantities.show import show_length, show_number, show_percent
from journal.records.settings import Measure
from journal.records.write_up import AS_WRITTEN, Bar, FollowUp, Pour

# Bars whose growth is drawn: more curves than this cannot be told apart.
WHOLE = Decimal(1)
TENTH = Decimal("0.1")
MOST_CURVES = 4
CURVE_POINTS = 12
# The day that follow-ups are carried on to in their table: half a year.
AHEAD_DAY = 180.0


def bars_part(on: OnDesign) -> Part | None:
    """A row a bar under its pour; None where nothing has been poured."""
    if not on.design.pours:
        return None
    measures = _measures(on, [bar.measures for bar in on.design.bars])
    with_variant = any(bar.variant != AS_WRITTEN for bar in on.design.bars)
    with_note = any(_note_of(on, pour, bar) for pour in on.design.pours for bar in pour.bars)
    heads = [Head("Bar")]
    if with_variant:
        heads.append(Head("Variant"))
    heads += [Head(_head(measure), number=True) for measure in measures]
    if with_note:
        heads.append(Head("Note", wide=True))
    # Two labels may make one anchor: it is the first one's.
    anchors = {pour_anchor(p.label): p.label for p in reversed(on.design.pours)}
    anchors = {label: anchor for anchor, label in anchors.items()}
    groups = tuple(
        Rows(
            tuple(_bar_row(on, pour, bar, measures, with_variant, with_note) for bar in pour.bars),
            _pour_said(on, pour),
            anchors.get(pour.label, ""),
        )
        for pour in on.design.pours
    )
    table = Table("Every bar", tuple(heads), groups, wide=True, figures=True, name="bars-table")
    blocks: tuple[Block, ...] = (*_kept_said(on), table)
    return Part("bars", "Bar by bar", (Passage(blocks),))


def _kept_said(on: OnDesign) -> tuple[Block, ...]:
    """How many bars were kept, of those judged, with the interval; and those not judged."""
    if on.results is None:
        return ()
    parts: list[str] = []
    for variant in on.results.variants:
        if variant.kept is None or not variant.bars:
            continue
        kept = variant.kept
        low, high = (
            keep(show_percent(end, WHOLE)) for end in (kept.interval.low, kept.interval.high)
        )
        name = on.variant_title(variant.variant)
        said = f"{name}: " if name else ""
        said += f"{kept.yes} of {kept.n} kept (95 % interval {ranged(low, high)})"
        unjudged = variant.bars - kept.n
        parts.append(f"{said}, {unjudged} not judged" if unjudged else said)
    lines: tuple[Words, ...] = tuple((f"{sentence(part)}.",) for part in parts)
    if len(lines) == 1:
        return (Said(lines[0]),)
    return (Points(lines),) if lines else ()


def _measures(on: OnDesign, found: Sequence[object]) -> list[Measure]:
    named: set[str] = set()
    for measures in found:
        if isinstance(measures, dict):
            named.update(measures)
    every = on.book.settings.all_measures().values()
    return [measure for measure in every if measure.name in named and measure.kind != "colour"]


def _head(measure: Measure) -> str:
    unit = measure.unit
    return f"{sentence(measure.name)}, {unit}" if unit else sentence(measure.name)


def _bar_row(
    on: OnDesign,
    pour: Pour,
    bar: Bar,
    measures: Sequence[Measure],
    with_variant: bool,
    with_note: bool,
) -> tuple[Cell, ...]:
    cells = [Cell((bar.bar,), head=True)]
    if with_variant:
        cells.append(Cell((bar.variant,)))
    cells += [_measure_cell(measure, bar.measures.get(measure.name)) for measure in measures]
    if with_note:
        cells.append(Cell((_note_of(on, pour, bar),)))
    return tuple(cells)


def _measure_cell(measure: Measure, value: object) -> Cell:
    if isinstance(value, bool):
        # A detail that lifted, a piece that floated: what the maker must mind.
        mind = value and measure.better == "lower"
        return Cell(("yes" if value else "no",), number=True, tone="mind" if mind else "")
    if not isinstance(value, float | int):
        return Cell(("–",), number=True)
    # The unit stands in the column's head.
    return Cell((show_number(float(value), TENTH),), number=True)


def _note_of(on: OnDesign, pour: Pour, bar: Bar) -> str:
    said = []
    if bar.note:
        said.append(bar.note)
    if bar.piece is not None:
        piece = on.book.bench.pieces.get(bar.piece)
        said.append(f"piece {piece.name if piece is not None else bar.piece}")
    for layer, temperature_c in bar.poured_c.items():
        said.append(f"{layer} at {on.units.temperature(temperature_c).first}")
    return "; ".join(said)


def _pour_said(on: OnDesign, pour: Pour) -> Words:
    """When a pour was, in what room, how hot its layers went on, what was done otherwise."""
    said = [said_date(pour.date)]
    if pour.room_c is not None:
        said.append(f"room {on.units.temperature(pour.room_c).first}")
    for layer in on.design.recipe.layers:
        temperatures = {
            at
            for bar in pour.bars
            if (at := body_temperature(on.design, pour, bar, layer.name)) is not None
        }
        if temperatures:
            shown = on.units.temperatures(min(temperatures), max(temperatures)).first
            said.append(f"{layer.name} at {shown}")
    words: list[Span | str] = [Span(f"Pour {pour.label}", "strong"), f", {', '.join(said)}"]
    if pour.did is not None:
        words.append(f". Done otherwise: {done_otherwise(pour.did)}")
    if not pour.bars:
        words.append(". No bars are written down")
    question = on.design.question
    if question is not None and pour.date < question.asked:
        words.append(". Before the question was asked: a look only")
    return tuple(words)


def later_part(on: OnDesign) -> Part | None:
    """Follow-ups: how the colour crept, and everything that was looked at again."""
    looks = [(pour, look) for pour in on.design.pours for look in pour.later]
    bleeds = on.figures[BLEED].value if on.figures is not None else None
    by_photo = any(bar.growth.by == "photo" for bar in bleeds or ())
    if not looks and not by_photo:
        return None
    passages: list[Passage] = []
    if bleeds and any(width > 0 for bar in bleeds for width in _widths(on, bar)):
        passages.append(_growth_passage(on, bleeds))
    passages.append(Passage((_looks_table(on, looks),)))
    return Part("later", "Looked at again", tuple(passages))


def _widths(on: OnDesign, bar: BarBleed) -> list[float]:
    return [width for _, width in _measured(on, bar)]


def _measured(on: OnDesign, bar: BarBleed) -> list[tuple[float, float]]:
    """Day and width of each look at a bar, by ruler or by photo as its growth is."""
    if bar.growth.by == "photo":
        return sorted(_by_photo(on).get(bar.bar, {}).items())
    return [
        (float(look.day), width)
        for pour in on.design.pours
        for look in pour.later
        if look.bar == bar.bar and isinstance(width := look.measures.get("bleed"), float)
    ]


def _by_photo(on: OnDesign) -> dict[str, dict[float, float]]:
    """The width of the bleed that photos show, by bar and day."""
    found: dict[str, dict[float, float]] = {}
    for photo in on.book.measured.get(on.design.id, ()):
        bleed = photo.measurement.bleed
        if photo.bar is not None and bleed is not None:
            found.setdefault(photo.bar, {})[float(photo.day)] = bleed.width_mm
    return found


def _named(bar: BarBleed) -> str:
    """A bar with its variant, and how it was measured where that was not by ruler."""
    name = bar.bar if bar.variant == AS_WRITTEN else f"{bar.bar}, {bar.variant}"
    return f"{name}, by photo" if bar.growth.by == "photo" else name


def _growth_passage(on: OnDesign, bleeds: Sequence[BarBleed]) -> Passage:
    """The growth of a few bars drawn, one a variant where that is enough; all in a table."""
    assert on.figures is not None
    shown = _worth_drawing(on, bleeds)
    chart = growth_chart(
        "growth",
        "Width of the bleed by day",
        " ".join(_bar_described(bar) for bar in shown),
        tuple(_growth(on, bar) for bar in shown),
        "mm",
    )
    words = "Rings are what was measured; the curve grows with the root of the days."
    if any(bar.growth.by == "photo" for bar in shown):
        words += (
            " A photo sees an edge otherwise than a ruler does: widths by photo are 10 to 90 %"
            " of the way across it, and are in no curve with those by ruler."
        )
    if any(forecast.beyond for bar in shown for forecast in bar.growth.forecasts):
        words += " Broken, it is a forecast, and the shade is its 95 % interval."
    figure = Figure(chart, (words,))
    worst = max(bleeds, key=lambda bar: bar.growth.a_mm_per_sqrt_day or 0.0)
    notes = _worst_note(on, worst)
    return Passage((figure,), notes)


def _worth_drawing(on: OnDesign, bleeds: Sequence[BarBleed]) -> list[BarBleed]:
    """Of each variant the bar of middling growth among those looked at most often.

    By ruler and by photo apart: the two do not see one width.
    """
    found: list[BarBleed] = []
    for kind in dict.fromkeys((bar.variant, bar.growth.by) for bar in bleeds):
        own = [bar for bar in bleeds if (bar.variant, bar.growth.by) == kind]
        most = max(bar.growth.looks for bar in own)
        own = [bar for bar in own if bar.growth.looks == most]
        own.sort(key=lambda bar: bar.growth.a_mm_per_sqrt_day or 0.0)
        found.append(own[len(own) // 2])
    return found[:MOST_CURVES]


def _growth(on: OnDesign, bar: BarBleed) -> Growth:
    growth = bar.growth
    measured = tuple(_measured(on, bar))
    last = max((day for day, _ in measured), default=0.0)
    says = _named(bar)
    if growth.a_mm_per_sqrt_day is None:
        return Growth(says, measured)
    start, rate = growth.start_mm or 0.0, growth.a_mm_per_sqrt_day
    end = max((forecast.day for forecast in growth.forecasts), default=last)

    def curve(low: float, high: float) -> tuple[tuple[float, float], ...]:
        steps = range(CURVE_POINTS + 1)
        days = [low + (high - low) * step / CURVE_POINTS for step in steps]
        return tuple((day, (start**2 + rate**2 * day) ** 0.5) for day in days)

    with_interval = [f for f in growth.forecasts if f.interval_mm is not None and f.day >= last]
    return Growth(
        says,
        measured,
        curve(0.0, last) if last > 0 else (),
        curve(last, end) if end > last else (),
        tuple((f.day, max(0.0, f.interval_mm[0])) for f in with_interval if f.interval_mm),
        tuple((f.day, f.interval_mm[1]) for f in with_interval if f.interval_mm),
    )


def _bar_described(bar: BarBleed) -> str:
    growth = bar.growth
    shown = [f"{show_length(f.width_mm)} by day {f.day:.0f}" for f in growth.forecasts]
    name = _named(bar)
    return f"{name}: {listed(shown)}." if shown else f"{name}: {counted(growth.looks, 'look')}."


def _worst_note(on: OnDesign, bar: BarBleed) -> tuple[Note, ...]:
    assert on.figures is not None
    ahead = [f for f in bar.growth.forecasts if f.beyond] or list(bar.growth.forecasts[-1:])
    if not ahead:
        return ()
    forecast = ahead[0]
    interval = _interval(forecast)
    sure = f" ({interval})" if interval else ""
    how = "to expect on" if forecast.beyond else "by the curve on"
    says: Words = (f"{how} day {forecast.day:.0f}{sure} for bar {_named(bar)}, the worst.",)
    big = measure_value(forecast.width_mm, "length")
    return (on.note(on.figures[BLEED], says, big=big, mind=True),)


def _interval(forecast: WidthForecast) -> str:
    """The 95 % interval of a forecast, where it is wider than what is printed."""
    if forecast.interval_mm is None:
        return ""
    low, high = (show_length(max(0.0, end)) for end in forecast.interval_mm)
    return "" if low == high else ranged(low, high)


def _looks_table(on: OnDesign, looks: Sequence[tuple[Pour, FollowUp]]) -> Table:
    """A row a bar, a column a day; a group a measure."""
    photos = _by_photo(on)
    seen = {int(day) for widths in photos.values() for day in widths}
    days = sorted({look.day for _, look in looks} | seen)
    bleeds = on.figures[BLEED].value if on.figures is not None else None
    ways: dict[str, dict[str, WidthForecast]] = {"ruler": {}, "photo": {}}
    for bleed in bleeds or ():
        for forecast in bleed.growth.forecasts:
            if forecast.day == AHEAD_DAY and forecast.beyond:
                ways[bleed.growth.by][bleed.bar] = forecast
    forecasts = ways["ruler"]
    groups = []
    for measure in _measures(on, [look.measures for _, look in looks]):
        found = {
            (look.bar, look.day): look.measures[measure.name]
            for _, look in looks
            if measure.name in look.measures
        }
        bars = list(dict.fromkeys(bar.bar for bar in on.design.bars))
        rows = tuple(
            (
                Cell((bar,), head=True),
                *(_measure_cell(measure, found.get((bar, day))) for day in days),
                *_ahead(measure.name, forecasts, bar, column=any(ways.values())),
            )
            for bar in bars
            if any((bar, day) in found for day in days)
        )
        groups.append(Rows(rows, (Span(_head(measure), "strong"),)))
    if photos:
        rows = tuple(
            (
                Cell((bar,), head=True),
                *(_photo_cell(widths.get(float(day))) for day in days),
                *_ahead("bleed", ways["photo"], bar, column=any(ways.values())),
            )
            for bar, widths in sorted(photos.items())
        )
        groups.append(Rows(rows, (Span("Bleed, mm, by photo", "strong"),)))
    ahead = (Head(f"to expect, day {AHEAD_DAY:.0f}", number=True),) if any(ways.values()) else ()
    heads = (Head("Bar"), *(Head(f"day {day}", number=True) for day in days), *ahead)
    return Table("By day after the pour", heads, tuple(groups), wide=True, figures=True)


def _photo_cell(width_mm: float | None) -> Cell:
    if width_mm is None:
        return Cell(("–",), number=True)
    return Cell((show_length(width_mm).removesuffix(" mm"),), number=True)


def _ahead(
    measure: str, forecasts: Mapping[str, WidthForecast], bar: str, *, column: bool
) -> tuple[Cell, ...]:
    """The cell of the last column, where the table has one."""
    if not column:
        return ()
    if measure != "bleed" or bar not in forecasts:
        return (Cell((), number=True),)
    forecast = forecasts[bar]
    interval = _interval(forecast)
    shown = show_length(forecast.width_mm).removesuffix(" mm")
    beneath = interval.partition(NO_BREAK)[0]
    return (Cell((f"{shown} ({beneath})" if beneath else shown,), number=True),)
