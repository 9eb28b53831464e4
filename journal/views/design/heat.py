"""When to pour: the answer and its strip; folded, how the pots cooled, the bond, dew."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from msgspec.structs import replace

from journal.charts.charts import ChartWindow, CoolingChart, cooling_chart, cooling_limits
from journal.charts.drawing import ticks
from journal.figures.heat.cooling import TemperatureWindow, WindowTimes, cooling_curve
from journal.figures.heat.derive_heat import COOLING, CoolingRun, pot_windows
from journal.html import blocks as html
from journal.html.blocks import PageCell, Passage, Section, SideNote, Words, number_cell
from journal.quantities.show import show_number
from journal.records.models.readings import mark_of
from journal.records.models.write_up import Pour, Reading
from journal.views.card.day_chart import when_to_pour
from journal.views.card.steps import RoundSteps
from journal.views.design.bond import bond_passages, sticking_text
from journal.views.design.dew import dew_passages, sweating_text
from journal.views.shared import words
from journal.views.shared.on_design import KIND_NAMES, DesignContext

# What a window is called in a chart and in a sentence.
WINDOW_NAMES = {"fragrance": "scent in", "pour": "pour"}
# How far beyond the last reading a curve is carried on, as a share of the time read.
BEYOND = 1.5
CURVE_POINTS = 14

Points = tuple[tuple[float, float], ...]


def heat_part(context: DesignContext, one: RoundSteps | None) -> Section | None:
    """The section "When to pour": the answer and its strip; folded, what it rests on."""
    if context.figures is None or one is None:
        return None
    sentences = filter(None, (sticking_text(context), sweating_text(context)))
    answer = Passage((*when_to_pour(one), *(html.Paragraph((text,)) for text in sentences)))
    folded = (*_cooling_passages(context), *bond_passages(context), *dew_passages(context))
    return Section("heat", "When to pour", (answer, *folded))


def _main_pot(context: DesignContext) -> str:
    """The pot that the last layer is poured from, which is the one to wait for."""
    return context.design.recipe.layers[-1].pot_name


def _cooling_passages(context: DesignContext) -> list[Passage]:
    """Folded: the chart of the main pot and a table of all runs; empty without any of it."""
    runs = context.known_figures[COOLING].value or ()
    shown = _shown_pour(context, runs)
    forecast = context.book.forecasts.get(context.design.id)
    notes: list[SideNote] = []
    if forecast is not None:
        says: Words = (forecast.says,)
        kind, how = KIND_NAMES["estimate"], context.how("cooling")
        notes.append(SideNote(forecast.big, (says,), kind, how=how))
    if shown is None:
        nothing = html.Paragraph(("No readings of this design's pots have been written down yet.",))
        return [Passage((nothing,), tuple(notes), "How a pot like this cools")] if notes else []
    drawn = tuple(run for run in runs if run.pour == shown.label and run.pot == _main_pot(context))
    blocks: list[html.Block] = [
        _cooling_figure(context, shown, drawn),
        *_window_sentences(context, drawn),
        _runs_table(context, runs),
    ]
    fold = "How the pots cooled, and how sure that is"
    return [Passage(tuple(blocks), (*_half_time_notes(context, drawn), *notes), fold)]


def _shown_pour(context: DesignContext, runs: Sequence[CoolingRun]) -> Pour | None:
    """The pour to draw; None without runs of the main pot.

    It is the latest pour with a run of three readings or more, else the one with most readings.
    """
    counts: dict[str, int] = {}
    for run in runs:
        if run.pot == _main_pot(context):
            counts[run.pour] = max(counts.get(run.pour, 0), min(3, len(run.run.readings)))
    candidates = [pour for pour in context.design.pours if counts.get(pour.label)]
    return max(
        candidates, key=lambda pour: (counts[pour.label], pour.date, pour.label), default=None
    )


def _cooling_figure(
    context: DesignContext, pour: Pour, runs: Sequence[CoolingRun]
) -> html.ChartFigure:
    """A chart of the main pot in one pour: readings, the curves of its ``runs``, windows."""
    units, pot = context.units, _main_pot(context)
    readings = [reading for reading in pour.readings if reading.pot == pot]
    start = readings[0].minutes
    curves, beyond = _curves(context, runs, start)
    odd = tuple(
        (entry.reading.time_min - start, units.in_scale(entry.reading.temperature_c))
        for run in runs
        for entry in run.fit.outliers
    )
    points = [(r.minutes - start, units.in_scale(r.temperature_c)) for r in readings]
    marked = [
        point
        for point, reading in zip(points, readings, strict=True)
        if mark_of(reading) == "poured"
    ]
    spec = CoolingChart(
        name="cooling",
        title=f"The pot {pot} cooling, pour {pour.label}",
        desc=_chart_description(context, readings),
        readings=tuple(point for point in points if point not in odd),
        curves=curves,
        beyond=beyond,
        windows=tuple(
            ChartWindow(WINDOW_NAMES[name], units.in_scale(w.low_c), units.in_scale(w.high_c))
            for name, w in pot_windows(context.book.bench, context.design, pot)
        ),
        poured=marked[-1] if marked else None,
        poured_says=f"poured at {show_number(marked[-1][1], words.WHOLE)}" if marked else "",
        odd=odd,
    )
    low, high = cooling_limits(spec)
    spec = replace(spec, seconds=tuple((v, units.other_scale(v)) for v in ticks(low, high, 6)))
    caption: Words = (_chart_caption(context, pour, spec),)
    table = _readings_table(context, readings)
    return html.ChartFigure(cooling_chart(spec), caption, table, "Its readings")


def _curves(
    context: DesignContext, runs: Sequence[CoolingRun], start: float
) -> tuple[tuple[Points, ...], tuple[Points, ...]]:
    """The fitted curves up to their last readings, and the last one carried on from there."""
    curves: list[Points] = []
    beyond: list[Points] = []
    for run in runs:
        if run.fit.curve is None or len(run.run.readings) < 2:
            continue
        last_min, until_min = run.fit.curve.last_min, _curve_end(run)
        if last_min > 0:
            curves.append(_curve_points(context, run, start, last_min, CURVE_POINTS))
        if run is runs[-1] and until_min > last_min:
            tail = _curve_points(
                context, run, start, until_min, 2 * CURVE_POINTS, after_min=last_min
            )
            beyond.append((*curves[-1][-1:], *tail))
    return tuple(curves), tuple(beyond)


def _curve_points(
    context: DesignContext,
    run: CoolingRun,
    start: float,
    until_min: float,
    points: int,
    after_min: float = -math.inf,
) -> Points:
    """Points of a run's curve: minutes from ``start``, temperature in the studio's scale."""
    assert run.fit.curve is not None
    return tuple(
        (p.time_min + run.run.starts_min - start, context.units.in_scale(p.temperature_c))
        for p in cooling_curve(run.fit.curve, until_min, points)
        if p.time_min > after_min
    )


def _curve_end(run: CoolingRun) -> float:
    """The minute of the run up to which its curve is drawn.

    That is where the curve leaves the pour window, at most ``BEYOND`` times the time read; if
    the curve does not leave the window, the last reading.
    """
    assert run.fit.curve is not None
    furthest = BEYOND * run.fit.curve.last_min
    leaves = [
        times.leaves_min
        for name, _, times in run.windows
        if name == "pour" and times is not None and times.leaves_min is not None
    ]
    return min(furthest, leaves[0]) if leaves else run.fit.curve.last_min


def _chart_caption(context: DesignContext, pour: Pour, spec: CoolingChart) -> str:
    """The chart's caption: the pour, the scales, and the meaning of its signs."""
    caption = f"Pour {pour.label}, {words.long_date(pour.date)}"
    if pour.room_c is not None:
        caption += f", in a room of {context.at(pour.room_c)}"
    caption += f": {context.units.degree} on the left, {context.units.other_degree} on the right."
    if spec.beyond:
        caption += " The broken line goes beyond the last reading."
    if spec.odd:
        caption += " A cross is a reading that does not fit the others."
    return caption


def _chart_description(context: DesignContext, readings: Sequence[Reading]) -> str:
    """What is drawn, for readers who cannot see it; the windows are told in the text."""
    first, last = readings[0], readings[-1]
    start, end = (context.units.temperature(reading.temperature_c) for reading in (first, last))
    time = words.duration(last.minutes - first.minutes)
    return f"{len(readings)} readings over {time}, from {start} to {end}."


def _window_sentences(
    context: DesignContext, runs: Sequence[CoolingRun]
) -> tuple[html.Paragraph, ...]:
    """A paragraph on the last run's windows and fit, and on outliers; empty without sentences.

    A run that ended in a pause is told with the one after it.
    """
    sentences: list[str] = []
    for run, following in zip(runs, [*runs[1:], None], strict=True):
        if following is not None and run.run.pause is None:
            continue
        if run.fit.curve is None:
            sentences.append(f"These readings give no cooling curve: {run.fit.why}. ")
            continue
        windows = [_window_text(context, *window) for window in run.windows]
        if any(windows):
            start = f"From {context.at(run.fit.curve.start_c)}"
            sentences.append(f"{start}: {', '.join(filter(None, windows))}. ")
        if run.fit.rms_c is not None and run.fit.readings > 2:
            off = context.units.degrees(run.fit.rms_c, step=words.TENTH).first
            sentences.append(f"Your readings fit this to within {off}. ")
        if run.fit.bends:
            sentences.append(
                "They bend away from it, as a pot does that pauses while it sets."
                " Go by the thermometer. "
            )
        if run.run.pause is not None:
            at, late = context.at(run.run.pause.from_c), words.minutes(run.run.pause.late_min)
            sentences.append(f"It paused near {at}, for about {late}, and then cooled on. ")
    for entry in (entry for run in runs for entry in run.fit.outliers):
        after = words.duration(entry.reading.time_min - runs[0].run.starts_min)
        reading = f"The reading of {context.at(entry.reading.temperature_c)} after {after}"
        off = context.units.degrees(abs(entry.residual_k), step=words.TENTH).first
        sentences.append(f"{reading} is {off} off the others. Was it noted wrongly? ")
    return (html.Paragraph(tuple(sentences)),) if sentences else ()


def _window_text(
    context: DesignContext, name: str, window: TemperatureWindow, times: WindowTimes | None
) -> str:
    """``pour (122–132 °F) after 19 to 31 min``; "" where its curve does not cross the window."""
    what = f"{WINDOW_NAMES[name]} ({context.at(window.low_c, window.high_c)})"
    if times is None or (times.enters_min is None and times.leaves_min is None):
        return ""
    if times.leaves_min is None:
        return f"{what} after {words.minutes(times.enters_min or 0.0)} or later"
    if not times.enters_min:
        return f"{what} at once, within {words.minutes(times.leaves_min)}"
    span = words.range_text(*map(words.minutes, (times.enters_min, times.leaves_min)))
    return f"{what} after {span.replace('–', ' to ')}"


def _half_time_notes(context: DesignContext, runs: Sequence[CoolingRun]) -> tuple[SideNote, ...]:
    """A side note with the half-time of the last run that has a curve; empty without one."""
    fitted = [run for run in runs if run.fit.curve is not None and len(run.run.readings) > 1]
    if not fitted:
        return ()
    run, curve = fitted[-1], fitted[-1].fit.curve
    assert curve is not None
    text = f"is what the {run.pot} pot took to cool half-way to the room."
    if run.mass_g is not None:
        what = "was" if run.mass_written else "is, by the recipe,"
        text += f" There {what} {context.units.mass(run.mass_g).first} in it."
    if curve.half_time_interval_min is not None:
        ends = map(words.minutes, curve.half_time_interval_min)
        text += f" It may be {words.range_text(*ends)} (95 % interval)."
    big = words.minutes(curve.half_time_min)
    return (context.note(context.known_figures[COOLING], (text,), big=big),)


def _runs_table(context: DesignContext, runs: Iterable[CoolingRun]) -> html.PageTable:
    """The table of all cooling runs, a row each."""
    pours = {pour.label: pour for pour in context.design.pours}
    names = ("Room", "Half-way to the room", "In the pour window", "Poured at")
    heads = (html.Heading("Pour"), html.Heading("Pot"), *(html.Heading(n, True) for n in names))
    rows = tuple(_run_row(context, pours[run.pour], run) for run in runs)
    group = (html.RowGroup(rows),)
    return html.PageTable("How the pots cooled", heads, group, wide=True, figures=True)


def _run_row(context: DesignContext, pour: Pour, run: CoolingRun) -> tuple[PageCell, ...]:
    """A row: pour, pot, room, half-time, time in the pour window, temperature at the pour."""
    curve = run.fit.curve
    times = next((times for name, _, times in run.windows if name == "pour"), None)
    inside, beyond = "", ""
    if times is not None and times.leaves_min is not None:
        inside = words.range_text(*map(words.minutes, (times.enters_min or 0.0, times.leaves_min)))
        beyond = "beyond the readings" if times.enters_beyond else ""
    paused = () if run.run.pause is None else run.run.pause.within
    poured = [r for r in (*run.run.readings, *paused) if r.mark == "poured"]
    which = f", run {run.run.number}" if run.run.number > 1 else ""
    return (
        PageCell((run.pour,), words.short_date(pour.date), head=True),
        PageCell((f"{run.pot}{which}",)),
        number_cell("" if pour.room_c is None else context.at(pour.room_c)),
        number_cell("" if curve is None else words.minutes(curve.half_time_min)),
        number_cell(inside, beyond),
        number_cell(context.at(poured[-1].temperature_c) if poured else ""),
    )


def _readings_table(context: DesignContext, readings: Sequence[Reading]) -> html.PageTable:
    """The table of the readings that a chart shows; those of other pours stand in the write-up."""
    rows = tuple(_reading_row(context, reading, readings[0]) for reading in readings)
    scales = (context.units.degree, context.units.other_degree)
    heads = (*(html.Heading(name, True) for name in ("Minutes", *scales)), html.Heading("Done"))
    return html.PageTable("Readings", heads, (html.RowGroup(rows),), figures=True)


def _reading_row(context: DesignContext, reading: Reading, first: Reading) -> tuple[PageCell, ...]:
    """A row: minutes after the pot's ``first`` reading, both scales, what was done."""
    shown = context.units.temperature(reading.temperature_c)
    after = show_number(reading.minutes - first.minutes, words.TENTH)
    scales = (number_cell(text.partition(words.NO_BREAK)[0]) for text in shown)
    return (number_cell(after), *scales, PageCell((reading.did,)))
