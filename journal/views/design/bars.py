"""The bars of a design: measures at the peel, and follow-ups in the weeks after."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial

from journal.charts.charts import GrowthCurve, growth_chart
from journal.figures.colour.bleed import WidthForecast
from journal.figures.heat.derive_heat import BLEED, BarBleed, body_temperature
from journal.html import blocks as html
from journal.html.blocks import PageCell, Passage, Section, SideNote, TextRun, Words, number_cell
from journal.quantities.show import show_length, show_number
from journal.records.models.settings import Measure
from journal.records.models.write_up import AS_WRITTEN, Bar, FollowUp, Pour
from journal.views.design.differs import deviations_text
from journal.views.shared import words
from journal.views.shared.on_design import DesignContext
from journal.views.shared.places import pour_anchor

# More curves than this cannot be told apart.
MOST_CURVES = 4
CURVE_POINTS = 12
# The day that follow-ups are carried on to in their table: half a year.
AHEAD_DAY = 180.0


def bars_section(context: DesignContext) -> Section | None:
    """A row a bar under its pour; None where nothing has been poured."""
    if not context.design.pours:
        return None
    # The columns: what is noted of a bar, and what was measured on it.
    columns: list[tuple[html.Heading, Callable[[Bar], PageCell]]] = [
        (html.Heading("Bar"), lambda bar: PageCell((bar.bar,), head=True))
    ]
    if any(bar.variant != AS_WRITTEN for bar in context.design.bars):
        columns.append((html.Heading("Variant"), lambda bar: PageCell((bar.variant,))))
    for measure in _measures(context, [bar.measures for bar in context.design.bars]):
        head = html.Heading(_measure_head(measure), number=True)
        columns.append((head, partial(_bar_cell, measure)))
    if any(_bar_note(context, bar) for bar in context.design.bars):
        head = html.Heading("Note", wide=True)
        columns.append((head, lambda bar: PageCell((_bar_note(context, bar),))))
    groups, anchors = [], set[str]()
    for pour in context.design.pours:
        rows = tuple(tuple(cell(bar) for _, cell in columns) for bar in pour.bars)
        anchor = pour_anchor(pour.label)
        # Two labels may make one anchor: it is the first one's.
        groups.append(
            html.RowGroup(rows, _pour_head(context, pour), "" if anchor in anchors else anchor)
        )
        anchors.add(anchor)
    heads = tuple(head for head, _ in columns)
    table = html.PageTable(
        "Every bar", heads, tuple(groups), wide=True, figures=True, name="bars-table"
    )
    return html.simple_section("bars", "Bar by bar", *_kept_blocks(context), table)


def _kept_blocks(context: DesignContext) -> tuple[html.Block, ...]:
    """How many bars were kept, of those judged, with the interval; and those not judged."""
    lines: list[Words] = []
    for variant in context.results.variants if context.results is not None else ():
        kept = variant.kept
        if kept is None or not variant.bars:
            continue
        ends = (words.percent(end, whole=True) for end in (kept.interval.low, kept.interval.high))
        title = context.variant_title(variant.variant)
        before = f"{words.capitalised(title)}: " if title else ""
        unjudged = variant.bars - kept.n
        after = f", {unjudged} not judged." if unjudged else "."
        interval = f"(95 % interval {words.range_text(*ends)})"
        lines.append((f"{before}{kept.yes} of {kept.n} kept {interval}{after}",))
    if len(lines) == 1:
        return (html.Paragraph(lines[0]),)
    return (html.BulletList(tuple(lines)),) if lines else ()


def _measures(context: DesignContext, taken: Iterable[Mapping[str, object]]) -> list[Measure]:
    """The measures that were taken, in the order of the settings."""
    names = set[str]().union(*taken)
    every = context.book.settings.all_measures().values()
    return [measure for measure in every if measure.name in names and measure.kind != "colour"]


def _measure_head(measure: Measure) -> str:
    """The name of a measure with its unit, for the head of a column."""
    unit = f", {measure.unit}" if measure.unit else ""
    return f"{words.capitalised(measure.name)}{unit}"


def _bar_cell(measure: Measure, bar: Bar) -> PageCell:
    """What a measure came to on a bar, at the peel."""
    return _measure_cell(measure, bar.measures.get(measure.name))


def _measure_cell(measure: Measure, value: object) -> PageCell:
    """A measured value without its unit, which stands in the column's head."""
    if isinstance(value, bool):
        # A detail that lifted, a piece that floated: what the maker must mind.
        mind = value and measure.better == "lower"
        return number_cell("yes" if value else "no", tone="mind" if mind else "")
    if isinstance(value, float | int):
        return number_cell(show_number(float(value), words.TENTH))
    return number_cell("–")


def _bar_note(context: DesignContext, bar: Bar) -> str:
    """The note of a bar, the piece that it was cast on, the temperatures of its own."""
    notes = [bar.note] if bar.note else []
    if bar.piece is not None:
        piece = context.book.bench.pieces.get(bar.piece)
        notes.append(f"piece {piece.name if piece is not None else bar.piece}")
    notes += [f"{layer} at {context.at(c)}" for layer, c in bar.poured_c.items()]
    return "; ".join(notes)


def _pour_head(context: DesignContext, pour: Pour) -> Words:
    """When a pour was, in what room, how hot its layers went on, what was done otherwise."""
    facts = [words.long_date(pour.date)]
    if pour.room_c is not None:
        facts.append(f"room {context.at(pour.room_c)}")
    for layer in context.design.recipe.layers:
        every = (body_temperature(context.design, pour, bar, layer.name) for bar in pour.bars)
        known = [temperature_c for temperature_c in every if temperature_c is not None]
        if known:
            facts.append(f"{layer.name} at {context.at(min(known), max(known))}")
    text = f", {', '.join(facts)}"
    if pour.did is not None:
        text += f". Done otherwise: {deviations_text(pour.did)}"
    if not pour.bars:
        text += ". No bars are written down"
    question = context.design.question
    if question is not None and pour.date < question.asked:
        text += ". Before the question was asked: a look only"
    return (TextRun(f"Pour {pour.label}", "strong"), text)


def later_part(context: DesignContext) -> Section | None:
    """Follow-ups: how the colour crept, and everything that was looked at again."""
    looks = [(pour, look) for pour in context.design.pours for look in pour.later]
    bleeds = (context.figures[BLEED].value if context.figures is not None else None) or ()
    if not looks and not any(bar.growth.by == "photo" for bar in bleeds):
        return None
    passages = [Passage((_looks_table(context, looks, bleeds),))]
    if any(width > 0 for bar in bleeds for _, width in _widths_by_day(context, bar)):
        passages.insert(0, _growth_passage(context, bleeds))
    return Section("later", "Looked at again", tuple(passages))


def _widths_by_day(context: DesignContext, bar: BarBleed) -> list[tuple[float, float]]:
    """Day and width of each look at a bar, by ruler or by photo as its growth is."""
    if bar.growth.by == "photo":
        return sorted(_photo_widths(context).get(bar.bar, {}).items())
    return [
        (float(look.day), width)
        for pour in context.design.pours
        for look in pour.later
        if look.bar == bar.bar and isinstance(width := look.measures.get("bleed"), float)
    ]


def _photo_widths(context: DesignContext) -> dict[str, dict[float, float]]:
    """The width of the bleed that photos show, by bar and day."""
    widths: dict[str, dict[float, float]] = {}
    for photo in context.book.measured.get(context.design.id, ()):
        bleed = photo.measurement.bleed
        if photo.bar is not None and bleed is not None:
            widths.setdefault(photo.bar, {})[float(photo.day)] = bleed.width_mm
    return widths


def _bar_name(bar: BarBleed) -> str:
    """A bar with its variant, and how it was measured where that was not by ruler."""
    name = bar.bar if bar.variant == AS_WRITTEN else f"{bar.bar}, {bar.variant}"
    return f"{name}, by photo" if bar.growth.by == "photo" else name


def _growth_passage(context: DesignContext, bleeds: Sequence[BarBleed]) -> Passage:
    """The growth of a few bars drawn, one a variant where that is enough; all in a table."""
    shown = _typical_bars(context, bleeds)
    chart = growth_chart(
        "growth",
        "Width of the bleed by day",
        " ".join(_growth_text(bar) for bar in shown),
        tuple(_growth_curve(context, bar) for bar in shown),
        "mm",
    )
    caption = "Rings are what was measured; the curve grows with the root of the days."
    if any(bar.growth.by == "photo" for bar in shown):
        caption += (
            " A photo sees an edge otherwise than a ruler does: widths by photo are 10 to 90 %"
            " of the way across it, and are in no curve with those by ruler."
        )
    if any(forecast.beyond for bar in shown for forecast in bar.growth.forecasts):
        caption += " Broken, it is a forecast, and the shade is its 95 % interval."
    worst = max(bleeds, key=lambda bar: bar.growth.a_mm_per_sqrt_day or 0.0)
    return Passage((html.ChartFigure(chart, (caption,)),), _worst_bar_note(context, worst))


def _typical_bars(context: DesignContext, bleeds: Sequence[BarBleed]) -> list[BarBleed]:
    """Of each variant the bar of middling growth among those looked at most often.

    By ruler and by photo apart: the two do not see one width.
    """
    typical: list[BarBleed] = []
    for kind in dict.fromkeys((bar.variant, bar.growth.by) for bar in bleeds):
        own = [bar for bar in bleeds if (bar.variant, bar.growth.by) == kind]
        most = max(bar.growth.observations for bar in own)
        own = [bar for bar in own if bar.growth.observations == most]
        own.sort(key=lambda bar: bar.growth.a_mm_per_sqrt_day or 0.0)
        typical.append(own[len(own) // 2])
    return typical[:MOST_CURVES]


def _growth_curve(context: DesignContext, bar: BarBleed) -> GrowthCurve:
    """What was measured on a bar, the fitted curve, and the forecast with its interval."""
    growth, title = bar.growth, _bar_name(bar)
    measured = tuple(_widths_by_day(context, bar))
    last = max((day for day, _ in measured), default=0.0)
    if growth.a_mm_per_sqrt_day is None:
        return GrowthCurve(title, measured)
    start, rate = growth.start_mm or 0.0, growth.a_mm_per_sqrt_day
    end = max((forecast.day for forecast in growth.forecasts), default=last)

    def curve(low: float, high: float) -> tuple[tuple[float, float], ...]:
        """The fitted width by day, between two days."""
        steps = range(CURVE_POINTS + 1)
        days = [low + (high - low) * step / CURVE_POINTS for step in steps]
        return tuple((day, (start**2 + rate**2 * day) ** 0.5) for day in days)

    ahead = [f for f in growth.forecasts if f.day >= last]
    return GrowthCurve(
        title,
        measured,
        curve(0.0, last) if last > 0 else (),
        curve(last, end) if end > last else (),
        tuple((f.day, max(0.0, f.interval_mm[0])) for f in ahead if f.interval_mm),
        tuple((f.day, f.interval_mm[1]) for f in ahead if f.interval_mm),
    )


def _growth_text(bar: BarBleed) -> str:
    """The forecasts of a bar as a sentence, or how often it was looked at."""
    growth = bar.growth
    widths = [f"{show_length(f.width_mm)} by day {f.day:.0f}" for f in growth.forecasts]
    text = words.list_text(widths) if widths else words.count_text(growth.observations, "look")
    return f"{_bar_name(bar)}: {text}."


def _worst_bar_note(context: DesignContext, bar: BarBleed) -> tuple[SideNote, ...]:
    """What is to expect of the bar that bleeds fastest."""
    forecasts = bar.growth.forecasts
    if not forecasts:
        return ()
    forecast = next((one for one in forecasts if one.beyond), forecasts[-1])
    interval = _interval(forecast)
    after = f" ({interval})" if interval else ""
    how = "to expect on" if forecast.beyond else "by the curve on"
    says = f"{how} day {forecast.day:.0f}{after} for bar {_bar_name(bar)}, the worst."
    big = words.measure_value(forecast.width_mm, "length")
    return (context.note(context.known_figures[BLEED], (says,), big=big, mind=True),)


def _interval(forecast: WidthForecast) -> str:
    """The 95 % interval of a forecast, where it is wider than what is printed."""
    if forecast.interval_mm is None:
        return ""
    low, high = (show_length(max(0.0, end)) for end in forecast.interval_mm)
    return "" if low == high else words.range_text(low, high)


def _looks_table(
    context: DesignContext, looks: Sequence[tuple[Pour, FollowUp]], bleeds: Sequence[BarBleed]
) -> html.PageTable:
    """A row a bar, a column a day; a group a measure, and one of the widths by photo."""
    photos = _photo_widths(context)
    days = sorted({look.day for _, look in looks} | {int(d) for by in photos.values() for d in by})
    ahead: dict[tuple[str, str], WidthForecast] = {
        (bleed.growth.by, bleed.bar): forecast
        for bleed in bleeds
        for forecast in bleed.growth.forecasts
        if forecast.day == AHEAD_DAY and forecast.beyond
    }
    groups: list[html.RowGroup] = []

    def add(head: str, way: str, cells: Mapping[str, Mapping[int, PageCell]]) -> None:
        """A group of the table: the ``cells`` of each bar by day, measured in one ``way``."""
        rows = []
        for bar, own in cells.items():
            row = [PageCell((bar,), head=True), *(own.get(day, number_cell("–")) for day in days)]
            if ahead:
                row.append(_forecast_cell(ahead.get((way, bar))))
            rows.append(tuple(row))
        groups.append(html.RowGroup(tuple(rows), (TextRun(head, "strong"),)))

    for measure in _measures(context, [look.measures for _, look in looks]):
        cells: dict[str, dict[int, PageCell]] = {bar.bar: {} for bar in context.design.bars}
        for _, look in looks:
            if measure.name in look.measures:
                cell = _measure_cell(measure, look.measures[measure.name])
                cells.setdefault(look.bar, {})[look.day] = cell
        way = "ruler" if measure.name == "bleed" else ""
        add(_measure_head(measure), way, {bar: own for bar, own in cells.items() if own})
    if photos:
        widths = {
            bar: {int(day): number_cell(_without_unit(width)) for day, width in own.items()}
            for bar, own in sorted(photos.items())
        }
        add("Bleed, mm, by photo", "photo", widths)
    heads = [html.Heading("Bar"), *(html.Heading(f"day {day}", number=True) for day in days)]
    if ahead:
        heads.append(html.Heading(f"to expect, day {AHEAD_DAY:.0f}", number=True))
    return html.PageTable(
        "By day after the pour", tuple(heads), tuple(groups), wide=True, figures=True
    )


def _without_unit(width_mm: float) -> str:
    """A width without its unit, which stands in the head of the table."""
    return show_length(width_mm).removesuffix(" mm")


def _forecast_cell(forecast: WidthForecast | None) -> PageCell:
    """A forecast width with its interval, without their unit."""
    if forecast is None:
        return number_cell("")
    interval = _interval(forecast).partition(words.NO_BREAK)[0]
    return number_cell(f"{_without_unit(forecast.width_mm)}{f' ({interval})' if interval else ''}")
