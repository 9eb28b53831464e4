"""When to pour: how the pots cooled, and whether the body bonds or melts the detail."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from msgspec.structs import replace

from journal.figures.cooling import Window as PotWindow
from journal.figures.cooling import WindowTimes, cooling_curve
from journal.figures.derive_heat import COOLING, CoolingRun, pot_windows
from journal.pages.charts import Cooling, Window, cooling_chart, cooling_limits
from journal.pages.design_bond import bond_passages
from journal.pages.drawing import ticks
from journal.pages.on_design import KIND_SAID, OnDesign
from journal.pages.parts import (
    Block,
    Cell,
    Figure,
    Head,
    Note,
    Part,
    Passage,
    Rows,
    Said,
    Span,
    Table,
    Words,
)
from journal.pages.words import (
    NO_BREAK,
    ShownForecast,
    duration,
    minutes,
    ranged,
    said_date,
    sentence,
    short_date,
)
from journal.quantities.show import show_number
from journal.records.write_up import Pour, Reading

# What a window is called in a chart and in a sentence.
WINDOW_SAID = {"fragrance": "scent in", "pour": "pour"}
# How far beyond the last reading a curve is carried on, as a share of the time read.
BEYOND = 1.5
CURVE_POINTS = 14
TENTH = Decimal("0.1")

Points = tuple[tuple[float, float], ...]


def heat_part(on: OnDesign) -> Part:
    """Readings, curves, windows, a forecast; the bond model beside what was seen."""
    assert on.figures is not None
    passages = [*_cooling_passages(on), *bond_passages(on)]
    return Part("heat", "When to pour", tuple(passages))


def main_pot(on: OnDesign) -> str:
    """The pot that the last layer is poured from: the one to wait for."""
    return on.design.recipe.layers[-1].pot_name


def _cooling_passages(on: OnDesign) -> list[Passage]:
    assert on.figures is not None
    runs = on.figures[COOLING].value or ()
    shown = _shown_pour(on, runs)
    forecast = on.book.forecasts.get(on.design.id)
    forecast_notes = () if forecast is None else (_forecast_note(on, forecast),)
    if shown is None:
        if not forecast_notes:
            return []
        said = Said(("No readings of this design's pots have been written down yet.",))
        return [Passage((said,), forecast_notes)]
    own = tuple(run for run in runs if run.pour == shown.label and run.pot == main_pot(on))
    blocks: list[Block] = [_cooling_figure(on, shown, own), *_window_sentences(on, own)]
    table = _runs_table(on, runs)
    notes = (*_half_time_notes(on, own), *forecast_notes)
    return [Passage(tuple(blocks), notes), Passage((table,))]


def _shown_pour(on: OnDesign, runs: Sequence[CoolingRun]) -> Pour | None:
    """The pour whose cooling is drawn: the latest with a curve through three readings or more."""
    pot = main_pot(on)
    latest = sorted(on.design.pours, key=lambda pour: (pour.date, pour.label), reverse=True)

    def fits(pour: Pour, least: int) -> bool:
        return any(
            run.pour == pour.label and run.pot == pot and len(run.run.readings) >= least
            for run in runs
        )

    for least in (3, 2, 1):
        for pour in latest:
            if fits(pour, least):
                return pour
    return None


def _cooling_figure(on: OnDesign, pour: Pour, runs: Sequence[CoolingRun]) -> Figure:
    units, pot = on.units, main_pot(on)
    readings = [reading for reading in pour.readings if reading.pot == pot]
    start = readings[0].minutes
    curves, beyond = _curves(on, runs, start)
    odd = tuple(
        (entry.reading.time_min - start, units.in_scale(entry.reading.temperature_c))
        for run in runs
        for entry in run.fit.out_of_line
    )
    points = tuple((r.minutes - start, units.in_scale(r.temperature_c)) for r in readings)
    marked = [
        point
        for point, reading in zip(points, readings, strict=True)
        if mark_of(reading) == "poured"
    ]
    spec = Cooling(
        name="cooling",
        title=f"The pot {pot} cooling, pour {pour.label}",
        desc=_described(on, pour, readings),
        readings=tuple(point for point in points if point not in odd),
        curves=curves,
        beyond=beyond,
        windows=tuple(
            Window(WINDOW_SAID[name], units.in_scale(w.low_c), units.in_scale(w.high_c))
            for name, w in pot_windows(on.design, pot)
        ),
        poured=marked[-1] if marked else None,
        poured_says=f"poured at {show_number(marked[-1][1], Decimal(1))}" if marked else "",
        odd=odd,
    )
    low, high = cooling_limits(spec)
    spec = replace(spec, seconds=tuple((v, units.other_scale(v)) for v in ticks(low, high, 6)))
    return Figure(
        cooling_chart(spec),
        (_caption(on, pour, spec),),
        readings_table(on),
        "All readings of this design",
    )


def mark_of(reading: Reading) -> str:
    """The mark of a reading, or the first word of its note."""
    return reading.did.partition(" ")[0]


def _curves(
    on: OnDesign, runs: Sequence[CoolingRun], start: float
) -> tuple[tuple[Points, ...], tuple[Points, ...]]:
    """The fitted curves as far as the readings reach, and the last one carried on."""
    curves: list[Points] = []
    beyond: list[Points] = []
    for run in runs:
        if run.fit.curve is None or len(run.run.readings) < 2:
            continue
        offset = run.run.starts_min - start
        last_min = run.fit.curve.last_min
        if last_min > 0:
            within = cooling_curve(run.fit.curve, last_min, CURVE_POINTS)
            curves.append(
                tuple((p.time_min + offset, on.units.in_scale(p.temperature_c)) for p in within)
            )
        until_min = _until(run)
        if run is runs[-1] and until_min > last_min:
            after = cooling_curve(run.fit.curve, until_min, 2 * CURVE_POINTS)
            tail = [p for p in after if p.time_min > last_min]
            points = [(p.time_min + offset, on.units.in_scale(p.temperature_c)) for p in tail]
            beyond.append((*curves[-1][-1:], *points))
    return tuple(curves), tuple(beyond)


def _until(run: CoolingRun) -> float:
    """How far a curve is carried on: until it leaves the pour window, or a half as far again."""
    assert run.fit.curve is not None
    furthest = BEYOND * run.fit.curve.last_min
    leaves = [
        times.leaves_min
        for name, _, times in run.windows
        if name == "pour" and times is not None and times.leaves_min is not None
    ]
    return min(furthest, leaves[0]) if leaves else run.fit.curve.last_min


def _caption(on: OnDesign, pour: Pour, spec: Cooling) -> str:
    room = (
        "" if pour.room_c is None else f", in a room of {on.units.temperature(pour.room_c).first}"
    )
    other = "°C" if on.units.us_first else "°F"
    said = [
        f"Pour {pour.label}, {said_date(pour.date)}{room}: {on.units.degree} on the left,"
        f" {other} on the right."
    ]
    if spec.beyond:
        said.append("The broken line goes beyond the last reading.")
    if spec.odd:
        said.append("A cross is a reading that lies out of line.")
    return " ".join(said)


def _described(on: OnDesign, pour: Pour, readings: Sequence[Reading]) -> str:
    first, last = readings[0], readings[-1]
    said = (
        f"{len(readings)} readings over {duration(last.minutes - first.minutes)},"
        f" from {on.units.temperature(first.temperature_c)}"
        f" to {on.units.temperature(last.temperature_c)}."
    )
    windows = [
        f"the window to {'pour' if name == 'pour' else 'stir the fragrance in'}"
        f" is {on.units.temperatures(w.low_c, w.high_c)}"
        for name, w in pot_windows(on.design, main_pot(on))
    ]
    return f"{said} {sentence('; '.join(windows))}." if windows else said


def _window_sentences(on: OnDesign, runs: Sequence[CoolingRun]) -> tuple[Said, ...]:
    """When the pot came into its windows and left them; what the readings say of the curve."""
    words: list[Span | str] = []
    for run in runs[-1:]:
        if run.fit.curve is None:
            words.append(f"No curve could be fitted: {run.fit.why}. ")
            continue
        start = on.units.temperature(run.fit.curve.start_c).first
        parts = [
            said
            for name, window, times in run.windows
            if times is not None and (said := _window_said(on, name, window, times))
        ]
        if parts:
            words.append(f"From {start} the pot {run.pot} {', and '.join(parts)}. ")
        if run.fit.rms_c is not None and run.fit.readings > 2:
            off = on.units.degrees(run.fit.rms_c, step=TENTH).first
            words.append(f"The readings lie within {off} of the curve. ")
        if run.fit.bends:
            words.append(
                "They bend away from it, as a pot does that pauses while it sets:"
                " trust the thermometer. "
            )
    for run in runs:
        for entry in run.fit.out_of_line:
            after = duration(entry.reading.time_min - runs[0].run.starts_min)
            reading = on.units.temperature(entry.reading.temperature_c).first
            off = on.units.degrees(abs(entry.residual_k), step=TENTH).first
            words.append(
                f"The reading of {reading} after {after} lies {off} off the line of the others. "
            )
    return (Said(tuple(words)),) if words else ()


def _window_said(on: OnDesign, name: str, window: PotWindow, times: WindowTimes) -> str:
    what = "may be poured" if name == "pour" else "may take the scent"
    at = on.units.temperatures(window.low_c, window.high_c).first
    if times.enters_min is None and times.leaves_min is None:
        return ""
    if times.leaves_min is None:
        return f"{what} ({at}) from {minutes(times.enters_min or 0.0)} on"
    if not times.enters_min:
        return f"{what} ({at}) at once, until {minutes(times.leaves_min)}"
    span = ranged(minutes(times.enters_min), minutes(times.leaves_min))
    return f"{what} ({at}) from {span}" if "to" in span else f"{what} ({at}) after {span}"


def _half_time_notes(on: OnDesign, runs: Sequence[CoolingRun]) -> tuple[Note, ...]:
    assert on.figures is not None
    curves = [run for run in runs if run.fit.curve is not None and len(run.run.readings) > 1]
    if not curves:
        return ()
    run = curves[-1]
    assert run.fit.curve is not None
    spread = run.fit.curve.half_time_interval_min
    sure = ""
    if spread is not None:
        sure = f" The 95 % interval is {ranged(minutes(spread[0]), minutes(spread[1]))}."
    held = ""
    if run.mass_g is not None:
        what = "" if run.mass_written else ", what the recipe melts"
        held = f" for {on.units.mass(run.mass_g).first} in the pot {run.pot}{what}"
    says: Words = (f"to lose half of its warmth above the room,{held}.{sure}".replace(",.", "."),)
    big = minutes(run.fit.curve.half_time_min)
    return (on.note(on.figures[COOLING], says, big=big),)


def _forecast_note(on: OnDesign, found: ShownForecast) -> Note:
    return Note(found.big, ((found.says,),), KIND_SAID["estimate"], how=on.how("cooling"))


def _runs_table(on: OnDesign, runs: Iterable[CoolingRun]) -> Table:
    """A row a run: room, half-time, when it was in the pour window, at what it was poured."""
    pours = {pour.label: pour for pour in on.design.pours}
    rows = tuple(_run_row(on, pours[run.pour], run) for run in runs)
    heads = (
        Head("Pour"),
        Head("Pot"),
        Head("Room", number=True),
        Head("Half-time", number=True),
        Head("In the pour window", number=True),
        Head("Poured at", number=True),
    )
    return Table("How the pots cooled", heads, (Rows(rows),), wide=True, quiet=True)


def _run_row(on: OnDesign, pour: Pour, run: CoolingRun) -> tuple[Cell, ...]:
    room = "" if pour.room_c is None else on.units.temperature(pour.room_c).first
    curve = run.fit.curve
    half = "" if curve is None else minutes(curve.half_time_min)
    times = next((found for name, _, found in run.windows if name == "pour"), None)
    inside, beyond = "", ""
    if times is not None and times.leaves_min is not None:
        enters, leaves = minutes(times.enters_min or 0.0), minutes(times.leaves_min)
        inside = ranged(enters, leaves)
        beyond = "beyond the readings" if times.enters_beyond else ""
    poured = [r for r in run.run.readings if r.mark == "poured"]
    at = on.units.temperature(poured[-1].temperature_c).first if poured else ""
    number = f", run {run.run.number}" if run.run.number > 1 else ""
    return (
        Cell((run.pour,), head=True, second=short_date(pour.date)),
        Cell((f"{run.pot}{number}",)),
        Cell((room,), number=True),
        Cell((half,), number=True),
        Cell((inside,), number=True, second=beyond),
        Cell((at,), number=True),
    )


def readings_table(on: OnDesign) -> Table:
    """Every reading of every pour, pot by pot."""
    groups = []
    for pour in on.design.pours:
        for pot in dict.fromkeys(reading.pot for reading in pour.readings):
            own = [reading for reading in pour.readings if reading.pot == pot]
            rows = tuple(_reading_row(on, reading, own[0].minutes) for reading in own)
            groups.append(Rows(rows, (f"Pour {pour.label}, {said_date(pour.date)}, {pot}",)))
    heads = (
        Head("Minutes", number=True),
        Head(on.units.degree, number=True),
        Head("°C" if on.units.us_first else "°F", number=True),
        Head("Done"),
    )
    return Table("Readings", heads, tuple(groups), figures=True)


def _reading_row(on: OnDesign, reading: Reading, start: float) -> tuple[Cell, ...]:
    shown = on.units.temperature(reading.temperature_c)
    cells = (
        Cell((show_number(reading.minutes - start, TENTH),), number=True),
        Cell((shown.first.partition(NO_BREAK)[0],), number=True),
        Cell((shown.second.partition(NO_BREAK)[0],), number=True),
    )
    return (*cells, Cell((reading.did,)))
