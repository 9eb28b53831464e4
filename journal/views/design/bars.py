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
from journal.records.models.write_up import AS_WRITTEN, Bar, FollowUp, Pour, variant_words
from journal.views.design.cavities import drawing_row, mould_drawings, spoilt_counts
from journal.views.design.differs import deviations_text
from journal.views.shared import words
from journal.views.shared.on_design import DesignContext
from journal.views.shared.places import pour_anchor
from journal.views.shared.words import count_text

# More pours than this are four screens of a phone: those before are folded.
MOST_DRAWN = 4
# Of more bars than this, what is the same on every one is said once, and has no column.
MOST_SHOWN_ALIKE = 12
# More curves than this cannot be told apart.
MOST_CURVES = 4
CURVE_POINTS = 8
# The day that follow-ups are carried on to in their table: half a year.
AHEAD_DAY = 180.0


def bars_section(context: DesignContext) -> Section | None:
    """Each pour in its mould, then the table of all bars folded; None if nothing was poured."""
    if not context.design.pours:
        return None
    # The columns: what is noted of a bar, and what was measured on it.
    columns: list[tuple[html.Heading, Callable[[Bar], PageCell]]] = [
        (html.Heading("Bar"), lambda bar: PageCell((bar.bar,), head=True))
    ]
    if any(bar.variant != AS_WRITTEN for bar in context.design.bars):
        alike_in = {pour.label: _of_all_bars(pour) for pour in context.design.pours}
        columns.append(
            (
                html.Heading("Variant"),
                lambda bar: PageCell((_own_variant(alike_in[bar.pour], bar),)),
            )
        )
    alike: list[str] = []
    bars = context.design.bars
    for measure in _measures_in(context, [bar.measures for bar in bars]):
        values = {_bar_cell(measure, bar) for bar in bars}
        if len(values) == 1 and len(bars) > MOST_SHOWN_ALIKE:
            title, unit = words.measure_title(measure.name).lower(), f" {measure.unit or ''}"
            alike.append(f"{title} {values.pop().words[0]}{unit.rstrip()}")
        else:
            head = html.Heading(_measure_head(measure), number=True)
            columns.append((head, partial(_bar_cell, measure)))
    if any(_bar_note(context, bar) for bar in context.design.bars):
        head = html.Heading("Note", wide=True)
        columns.append((head, lambda bar: PageCell((_bar_note(context, bar),))))
    pictured = mould_drawings(context)
    groups, anchors = [], {one.anchor for one in pictured}
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
    passages = []
    before, latest = pictured[:-MOST_DRAWN], pictured[-MOST_DRAWN:]
    if latest:
        row = drawing_row(context, latest)
        passages.append(Passage((*_fit_paragraph(context), row)))
    if before:
        fold = f"The {count_text(len(before), 'pour')} before"
        passages.append(Passage((html.DrawingRow(before),), fold=fold))
    said: tuple[html.Block, ...] = ()
    if alike:
        said = (html.Paragraph((f"On every bar: {', '.join(alike)}.",)),)
    measured = (table, *said, *_interval_blocks(context))
    every = f"{count_text(len(bars), 'bar')}, each as it was measured"
    passages.append(Passage(measured, fold=words.capitalised(every) if latest else ""))
    return Section("bars", "Bar by bar", tuple(passages))


def _fit_paragraph(context: DesignContext) -> tuple[html.Block, ...]:
    """How many of the bars that were judged are fit to sell, and of which variant how many."""
    results = context.results.variants if context.results is not None else ()
    kept = [(one, one.kept) for one in results if one.kept is not None and one.bars]
    if not kept:
        return ()
    bars = context.design.bars
    fit, judged = sum(share.yes for _, share in kept), sum(share.n for _, share in kept)
    parts = [
        f"{title} {share.yes} of {share.n}"
        for one, share in kept
        if (title := context.variant_title(one.variant))
    ]
    of_variants = f": {('; ' if ',' in parts[0] else ', ').join(parts)}." if parts else "."
    beside = f" {words.list_text(said)}." if (said := spoilt_counts(bars)) else ""
    return (
        html.Paragraph((TextRun(f"{fit} of {judged} fit to sell", "strong"), of_variants, beside)),
    )


def _interval_blocks(context: DesignContext) -> tuple[html.Block, ...]:
    """How many more such bars would be fit to sell, as a 95 % interval for each variant."""
    parts: list[str] = []
    for variant in context.results.variants if context.results is not None else ():
        if variant.kept is not None and variant.bars:
            interval = variant.kept.interval
            ends = (words.percent(end, whole=True) for end in (interval.low, interval.high))
            text = f"{context.variant_title(variant.variant)} {words.range_text(*ends)}".strip()
            unjudged = variant.bars - variant.spoilt - variant.kept.n
            parts.append(f"{text}, {unjudged} not judged" if unjudged else text)
    if not parts:
        return ()
    method = TextRun("If you poured many more", href=context.how("kept"))
    return (
        html.Paragraph(
            (method, f", this share may be fit to sell (95 % interval): {'; '.join(parts)}.")
        ),
    )


def _measures_in(context: DesignContext, rows: Iterable[Mapping[str, object]]) -> list[Measure]:
    """The measures that occur in ``rows``, in the order of the settings, without colours."""
    names = set[str]().union(*rows)
    measures = context.book.settings.all_measures().values()
    return [measure for measure in measures if measure.name in names and measure.kind != "colour"]


def _measure_head(measure: Measure) -> str:
    """The heading of a measure's column: its name and unit."""
    unit = f", {measure.unit}" if measure.unit else ""
    return f"{words.measure_title(measure.name)}{unit}"


def _bar_cell(measure: Measure, bar: Bar) -> PageCell:
    """A cell with the value of a measure on a bar at the peel; a dash if it was not measured."""
    return _measure_cell(measure, bar.measures.get(measure.name))


def _measure_cell(measure: Measure, value: object) -> PageCell:
    """A cell with a value, without its unit (the heading has it); a dash for no value."""
    if isinstance(value, bool):
        # A detail that lifted or a piece that floated is marked.
        warning = value and measure.better == "lower"
        return number_cell("yes" if value else "no", tone="mind" if warning else "")
    if isinstance(value, float | int):
        return number_cell(show_number(float(value), words.TENTH))
    return number_cell("–")


def _bar_note(context: DesignContext, bar: Bar) -> str:
    """The remarks on a bar: what spoilt it, its note, its piece, its own layer temperatures."""
    notes = [text for text in (bar.spoilt, bar.note) if text]
    if bar.piece is not None:
        piece = context.book.bench.pieces.get(bar.piece)
        notes.append(f"piece {piece.name if piece is not None else bar.piece}")
    notes += [f"{layer} at {context.at(c)}" for layer, c in bar.poured_c.items()]
    return "; ".join(notes)


def _of_all_bars(pour: Pour) -> tuple[str, ...]:
    """What all bars of a pour chose alike of what they chose: "dye" of close/dye, straight/dye."""
    every = {bar.variant: bar.variant.split("/") for bar in pour.bars}
    first = next(iter(every.values()), [])
    alike = tuple(one for one in first if all(one in chosen for chosen in every.values()))
    return alike if len(alike) < len(first) else ()


def _own_variant(alike: tuple[str, ...], bar: Bar) -> str:
    """What a bar's variant is called beyond what all bars of its pour have."""
    return variant_words("/".join(one for one in bar.variant.split("/") if one not in alike))


def _pour_head(context: DesignContext, pour: Pour) -> Words:
    """The heading of a pour's rows: date, room, layer temperatures, deviations from the recipe."""
    facts = [words.long_date(pour.date), *map(variant_words, _of_all_bars(pour))]
    if pour.room_c is not None:
        facts.append(f"room {context.at(pour.room_c)}")
    if pour.humidity is not None:
        facts.append(f"{words.percent(pour.humidity, whole=True)} humidity")
    for layer in context.design.recipe.layers:
        every_c = (body_temperature(context.design, pour, bar, layer.name) for bar in pour.bars)
        known_c = [body_c for body_c in every_c if body_c is not None]
        if known_c:
            facts.append(f"{layer.name} at {context.at(min(known_c), max(known_c))}")
    if pour.wrapped_min is not None:
        facts.append(f"wrapped after {words.duration(pour.wrapped_min)}")
    text = f", {', '.join(facts)}"
    if pour.did is not None:
        text += f". Not as the recipe: {deviations_text(pour.did)}"
    if not pour.bars:
        text += ". No bars are written down"
    question = context.design.question
    if question is not None and pour.date < question.asked:
        text += ". Poured before you asked: a hint only"
    return (TextRun(f"Pour {pour.label}", "strong"), text)


def follow_ups_part(context: DesignContext) -> Section | None:
    """The section of follow-ups: growth of the bleed, then a table by day; None without any."""
    looks = [(pour, look) for pour in context.design.pours for look in pour.later]
    bleeds = (context.figures[BLEED].value if context.figures is not None else None) or ()
    if not looks and not any(bar.growth.by == "photo" for bar in bleeds):
        return None
    passages = [Passage((_follow_up_table(context, looks, bleeds),))]
    if any(width > 0 for bar in bleeds for _, width in _widths_by_day(context, bar)):
        passages.insert(0, _growth_passage(context, bleeds))
    return Section("later", "Looked at again", tuple(passages))


def _widths_by_day(context: DesignContext, bar: BarBleed) -> list[tuple[float, float]]:
    """Day and bleed width (mm) at each follow-up of a bar, by the method its growth is from."""
    if bar.growth.by == "photo":
        return sorted(_photo_widths(context).get(bar.bar, {}).items())
    return [
        (float(look.day), width)
        for pour in context.design.pours
        for look in pour.later
        if look.bar == bar.bar and isinstance(width := look.measures.get("bleed"), float)
    ]


def _photo_widths(context: DesignContext) -> dict[str, dict[float, float]]:
    """The widths of the bleed (mm) measured in photos, by bar and then by day."""
    widths: dict[str, dict[float, float]] = {}
    for photo in context.book.measured.get(context.design.id, ()):
        bleed = photo.measurement.bleed
        if photo.bar is not None and bleed is not None:
            widths.setdefault(photo.bar, {})[float(photo.day)] = bleed.width_mm
    return widths


def _bar_name(bar: BarBleed) -> str:
    """The name of a bar with its variant, and "by photo" if it was measured so."""
    name = bar.bar if bar.variant == AS_WRITTEN else f"{bar.bar}, {variant_words(bar.variant)}"
    return f"{name}, by photo" if bar.growth.by == "photo" else name


def _growth_passage(context: DesignContext, bleeds: Sequence[BarBleed]) -> Passage:
    """A chart of how the bleed grew on a few typical bars, with a note on the fastest one."""
    shown = _typical_bars(context, bleeds)
    chart = growth_chart(
        "growth",
        "Width of the bleed by day",
        f"{words.list_text([_bar_name(bar) for bar in shown])}; the table has the widths",
        tuple(_growth_curve(context, bar) for bar in shown),
        "mm",
    )
    caption = "Each ring is a measurement, the curve the growth that fits them best."
    if any(bar.growth.by == "photo" for bar in shown):
        caption += (
            " A photo and a ruler see an edge differently, so each has its own curve. By photo, the"
            " width is 10 to 90 % of the way across."
        )
    if any(forecast.beyond for bar in shown for forecast in bar.growth.forecasts):
        caption += " The broken part is a forecast; the shade is its 95 % interval."
    worst = max(bleeds, key=lambda bar: bar.growth.a_mm_per_sqrt_day or 0.0)
    return Passage((html.ChartFigure(chart, (caption,)),), _worst_bar_note(context, worst))


def _typical_bars(context: DesignContext, bleeds: Sequence[BarBleed]) -> list[BarBleed]:
    """The bar of median growth of each variant, among those observed most often.

    Bars by ruler and by photo are taken apart: the two do not measure the same width.
    """
    typical: list[BarBleed] = []
    for kind in dict.fromkeys((bar.variant, bar.growth.by) for bar in bleeds):
        group = [bar for bar in bleeds if (bar.variant, bar.growth.by) == kind]
        most = max(bar.growth.observations for bar in group)
        group = [bar for bar in group if bar.growth.observations == most]
        group.sort(key=lambda bar: bar.growth.a_mm_per_sqrt_day or 0.0)
        typical.append(group[len(group) // 2])
    return typical[:MOST_CURVES]


def _growth_curve(context: DesignContext, bar: BarBleed) -> GrowthCurve:
    """The measured points of a bar and, if a rate was fitted, its curve and forecast."""
    growth, title = bar.growth, _bar_name(bar)
    measured = tuple(_widths_by_day(context, bar))
    last = max((day for day, _ in measured), default=0.0)
    if growth.a_mm_per_sqrt_day is None:
        return GrowthCurve(title, measured)
    start, rate = growth.start_mm or 0.0, growth.a_mm_per_sqrt_day
    end = max((forecast.day for forecast in growth.forecasts), default=last)

    def curve(low: float, high: float) -> tuple[tuple[float, float], ...]:
        """Points (day, mm) of the fitted width between two days, closest where it bends most."""
        first, last = low**0.5, high**0.5
        steps = (step / CURVE_POINTS for step in range(CURVE_POINTS + 1))
        days = [(first + (last - first) * step) ** 2 for step in steps]
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


def _worst_bar_note(context: DesignContext, bar: BarBleed) -> tuple[SideNote, ...]:
    """A side note with the forecast of the bar that bleeds fastest; empty without a forecast."""
    forecasts = bar.growth.forecasts
    if not forecasts:
        return ()
    forecast = next((one for one in forecasts if one.beyond), forecasts[-1])
    interval = _interval_text(forecast)
    how = "to expect on" if forecast.beyond else "by the curve on"
    says = f"{how} day {forecast.day:.0f} for bar {_bar_name(bar)}, which bleeds most."
    says += f" It may be {interval} (95 % interval)." if interval else ""
    big = words.measure_value(forecast.width_mm, "length")
    figure = context.known_figures[BLEED]
    return (context.note(figure, (says,), big=big, mind=True, forecast=forecast.beyond),)


def _interval_text(forecast: WidthForecast) -> str:
    """The 95 % interval of a forecast as text; "" without one, or if its ends round alike."""
    if forecast.interval_mm is None:
        return ""
    low, high = (show_length(max(0.0, end)) for end in forecast.interval_mm)
    return "" if low == high else words.range_text(low, high)


def _follow_up_table(
    context: DesignContext, looks: Sequence[tuple[Pour, FollowUp]], bleeds: Sequence[BarBleed]
) -> html.PageTable:
    """The table of follow-ups: a group of rows a measure, a row a bar, a column a day."""
    photos = _photo_widths(context)
    days = sorted({look.day for _, look in looks} | {int(d) for by in photos.values() for d in by})
    forecasts: dict[tuple[str, str], WidthForecast] = {
        (bleed.growth.by, bleed.bar): forecast
        for bleed in bleeds
        for forecast in bleed.growth.forecasts
        if forecast.day == AHEAD_DAY and forecast.beyond
    }
    groups: list[html.RowGroup] = []

    def add_group(head: str, method: str, cells: Mapping[str, Mapping[int, PageCell]]) -> None:
        """Add the rows of a measure; ``cells`` are by bar and day, all taken by one ``method``."""
        rows = []
        for bar, daily in cells.items():
            row = [PageCell((bar,), head=True), *(daily.get(day, number_cell("–")) for day in days)]
            if forecasts:
                row.append(_forecast_cell(forecasts.get((method, bar))))
            rows.append(tuple(row))
        groups.append(html.RowGroup(tuple(rows), (TextRun(head, "strong"),)))

    for measure in _measures_in(context, [look.measures for _, look in looks]):
        cells: dict[str, dict[int, PageCell]] = {bar.bar: {} for bar in context.design.bars}
        for _, look in looks:
            if measure.name in look.measures:
                cell = _measure_cell(measure, look.measures[measure.name])
                cells.setdefault(look.bar, {})[look.day] = cell
        method = "ruler" if measure.name == "bleed" else ""
        add_group(
            _measure_head(measure), method, {bar: daily for bar, daily in cells.items() if daily}
        )
    if photos:
        widths = {
            bar: {int(day): number_cell(_without_unit(width)) for day, width in daily.items()}
            for bar, daily in sorted(photos.items())
        }
        add_group("Bleed, mm, by photo", "photo", widths)
    heads = [html.Heading("Bar"), *(html.Heading(f"day {day}", number=True) for day in days)]
    if forecasts:
        heads.append(html.Heading(f"to expect, day {AHEAD_DAY:.0f}", number=True))
    return html.PageTable(
        "By day after the pour", tuple(heads), tuple(groups), wide=True, figures=True
    )


def _without_unit(width_mm: float) -> str:
    """A width as text without its unit, which stands in the table's heading."""
    return show_length(width_mm).removesuffix(" mm")


def _forecast_cell(forecast: WidthForecast | None) -> PageCell:
    """A cell with a forecast width and its interval, without units; empty for None."""
    if forecast is None:
        return number_cell("")
    interval = _interval_text(forecast).partition(words.NO_BREAK)[0]
    return number_cell(f"{_without_unit(forecast.width_mm)}{f' ({interval})' if interval else ''}")
