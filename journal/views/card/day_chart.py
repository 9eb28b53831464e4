"""Time as a chart: when a round's last pot may be poured, and the rounds of a day by the clock."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from msgspec.structs import replace

from journal.charts.day import (
    NARROW_EM,
    ROOMY_EM,
    BarTone,
    TimeBar,
    TimeGroup,
    TimeLabel,
    TimeMark,
    TimeRow,
    time_chart,
)
from journal.charts.drawing import Chart
from journal.figures.day.rounds import minutes_in_window
from journal.figures.day.sheet import TimedStep
from journal.figures.heat.derive_heat import PouredBars, poured_bars
from journal.html.blocks import Block, ChartFigure, ReadingLine, TextRun, VerdictLine
from journal.html.text_width import text_width
from journal.quantities.show import show_number
from journal.views.card.steps import RoundSteps, amounts_name, page_words, when_ready
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue
from journal.views.shared.words import TENTH, UnitFormatter, clock_text, duration, units_of

# Those whose times stand beside the name of a pot, and of pieces or a mould.
_TOLD_OF_POT = ("melt", "pour")
_TOLD_OF_MOULD = ("rest", "firm", "chill", "place", "unmould")

# So many letters at the end of a name are left as they are: ``, 1 of 4`` and a part of a variant.
_ENDS = 14
_IN_WINDOWS = ("stir", "scent", "pour")
# What stands in the bars of the strip; what is not here is told by its place alone.
_STRIP_NAMES = {
    "heat": "melting", "reheat": "reheat", "stir": "stir", "scent": "scent", "pour": "pour",
    "rest": "rest", "firm": "rest", "chill": "chill", "dry": "dry", "do": "work", "place": "lay",
    "set": "unmould after",
}  # fmt: skip
# What follows the last pour is drawn for this share of the time before it.
_AFTERWARDS = 0.2
# The script that looks up when to pour.
READING_SCRIPT = "reading.js"

_width_of = partial(text_width, face="bold", size=1.0)


def when_to_pour(one: RoundSteps) -> Iterator[Block]:
    """When the last layer of a round may be poured: the answer, the strip, what the pot reads."""
    mark, *rest = page_words(when_ready(one))
    yield VerdictLine(mark.text if isinstance(mark, TextRun) else mark, tuple(rest))
    yield chart_of_round("time", one)
    reading = pot_reading(one)
    if reading is not None:
        yield reading


def chart_of_round(name: str, one: RoundSteps) -> ChartFigure:
    """The strip of a round: its pots and pieces about the time in which its last pour can be made.

    Minutes count from the last time that the pot of that pour is heated. What the studio did
    itself is marked in the row of that pot.
    """
    zero, pour = one.last_heat.end_min, one.last_pour
    first = next(timed for timed in one.steps if timed.step.kind == "pour")
    when = one.pour_window or (pour.start_min, pour.end_min)
    begins = min(first.start_min, zero)
    span = begins, when[1] + round(_AFTERWARDS * (when[1] - begins))
    drawn = [timed for timed in one.steps if timed.start_min < span[1] > span[0] < timed.end_min]
    rows = [row for row in _strip_rows(one, drawn, span, when) if row.bars]
    units = units_of(one.amounts.context.settings)
    window_c = one.last_heat.step.window_c
    assert window_c is not None
    assert window_c[0] is not None
    heated = f"the {pour.step.pot} pot reads {units.temperature(window_c[0]).first}"
    told = "; ".join(row.label.roomy for row in rows if row.label is not None)
    chart = time_chart(
        name, f"When to pour the {amounts_name(one, pour)}",
        f"{told}.",
        [TimeGroup(None, tuple(rows))], span, lambda minute: _minutes_from(minute - zero),
        _width_of, zero,
    )  # fmt: skip
    begun, key = duration(zero - one.steps[0].start_min), ENGLISH.text("chart.key")
    return ChartFigure(chart, (f"At 0 {heated}, about {begun} after you begin. {key}",))


def _minutes_from(minutes: int) -> str:
    return f"{minutes}".replace("-", "\u2212")


def _strip_rows(
    one: RoundSteps, drawn: Sequence[TimedStep], span: tuple[int, int], when: tuple[int, int]
) -> Iterator[TimeRow]:
    """The rows of the strip: the pot of the last pour, the other pots, the pieces or the mould."""
    units, last = units_of(one.amounts.context.settings), one.last_pour
    for pot in sorted(one.amounts.masses.pots, key=lambda pot: pot.name != last.step.pot):
        of_pot = [timed for timed in drawn if pot.name in _pots_of(one, timed)]
        bars = [_strip_bar(one, units, timed, span) for timed in of_pot if timed is not last]
        if last in of_pot:
            # It may be poured until the pot is too cold, but only once all is ready.
            bars = [bar and replace(bar, to_min=min(bar.to_min, when[0])) for bar in bars]
            bars.append(_window_bar(one, last, span if one.misses else (span[0], when[0])))
            if not one.misses:
                says = (*_window_text(units, last), "pour")
                bars.append(TimeBar(*when, "pour", says, ruled=True))
        name, melted = f"{pot.name} pot", units.mass(pot.melt_g).first
        told = dict.fromkeys(text for timed in of_pot for text in _window_text(units, timed))
        yield TimeRow(
            TimeLabel(
                _that_fits([name, melted, *told], ROOMY_EM), _that_fits([name, *told], NARROW_EM)
            ),
            tuple(bar for bar in bars if bar is not None and bar.from_min < bar.to_min),
            tuple(_studio_marks(one, units, span)) if pot.name == last.step.pot else (),
        )
    alone = [timed for timed in drawn if not timed.step.pot or timed.step.kind == "pour"]
    waits = [
        f"{_STRIP_NAMES[timed.step.kind]} {duration(timed.step.minutes)}"
        for timed in alone
        if timed.step.kind in ("rest", "firm", "chill", "set")
    ]
    name = "mould" if one.pieces is None else "pieces"
    bars = [_strip_bar(one, units, timed, span, in_pot=False) for timed in alone]
    yield TimeRow(_label([name, *waits]), tuple(bar for bar in bars if bar is not None))


def _window_text(units: UnitFormatter, timed: TimedStep) -> tuple[str, ...]:
    """``scent at 135–145 °F``; nothing of a step without a window."""
    low, high = timed.step.window_c or (None, None)
    if low is None or high is None or timed.step.kind not in _IN_WINDOWS:
        return ()
    return (f"{timed.step.kind} at {units.temperatures(low, high).first}",)


def _strip_bar(
    one: RoundSteps, units: UnitFormatter, timed: TimedStep, span: tuple[int, int],
    in_pot: bool = True,
) -> TimeBar | None:  # fmt: skip
    """The bar of a step with what stands in it; of what goes into a pot, the time for it."""
    kind, minutes = timed.step.kind, duration(timed.step.minutes)
    name = _STRIP_NAMES.get(kind, "")
    if in_pot and kind in ("stir", "scent"):
        window = _window_bar(one, timed, span)
        if window is not None:
            return replace(window, says=(*_window_text(units, timed), name))
    says: tuple[str, ...] = (name,)
    if kind in ("rest", "firm", "chill"):
        says = (f"{name} {minutes}", name)
    elif kind == "set":
        says = (f"{name} {minutes}", f"{minutes} to set", minutes)
    elif kind == "pour" and in_pot:
        says = (*_window_text(units, timed), name)
    bar = _step_bar(timed, span)
    return replace(bar, says=() if bar.tone == "wait" else says) if timed.step.minutes else None


def _studio_marks(
    one: RoundSteps, units: UnitFormatter, span: tuple[int, int]
) -> Iterator[TimeMark]:
    """Where on the scale the studio poured the last layer itself, and what came of it."""
    hot, pour = one.last_heat, one.last_pour
    pot, heated_c = one.pots.get(pour.step.pot), (hot.step.window_c or (None, None))[0]
    if pot is None or pot.rate_per_min is None or heated_c is None:
        return
    layers = (one.amounts.layer(number) for number in pour.step.layers)
    layer = next(layer.name for layer in layers if layer.pot_name == pour.step.pot)
    design = one.amounts.context.design
    found: dict[bool, list[tuple[float, PouredBars]]] = {}
    for bars in sorted(poured_bars(design, layer), key=lambda bars: -bars.body_c):
        at_min = hot.end_min + pot.minutes_to(bars.body_c, heated_c)
        if bars.body_c <= heated_c and at_min < span[1]:
            found.setdefault(bars.lost > 0, []).append((at_min, bars))
    for lost, entries in found.items():
        ends = entries[-1][1].body_c, entries[0][1].body_c
        at = units.temperatures(*ends).first
        counted = sum(bars.held + bars.lost for _, bars in entries)
        came = ""
        if counted and one.pieces is not None:
            number = sum(bars.lost if lost else bars.held for _, bars in entries)
            came = f"{number} of {counted} {'lost detail' if lost else 'held'}"
        roomy = ", ".join(filter(None, (f"you poured at {at}", came)))
        narrow = ": ".join(filter(None, (at, came or "poured")))
        yield TimeMark(tuple(at_min for at_min, _ in entries), TimeLabel(roomy, narrow))


def pot_reading(one: RoundSteps) -> ReadingLine | None:
    """What the thermometer reads now, to be typed in; None where no pot of its kind was ever read.

    The table goes from the hottest that the studio has read in the pot, or what it is heated to.
    """
    pour, units = one.last_pour, units_of(one.amounts.context.settings)
    pot, (low_c, high_c) = one.pots[pour.step.pot], pour.step.window_c or (None, None)
    if pot.rate_per_min is None or low_c is None or high_c is None or low_c <= pot.room_c:
        return None
    read = [
        reading.temperature_c for of_pour in one.amounts.context.design.pours
        for reading in of_pour.readings if reading.pot == pot.pot
    ]  # fmt: skip
    table = pot.cooling_table(max(pot.melted_c, *read, high_c), high_c, low_c)
    rows = ",".join(
        f"[{show_number(units.in_scale(at_c), TENTH)},{minutes:.2f}]" for at_c, minutes in table
    )
    high, low = (show_number(units.in_scale(end), TENTH) for end in (high_c, low_c))
    again = units.temperature(pot.reheat_c((low_c, high_c))).first
    return ReadingLine(pot.pot, units.degree, f"[{rows}]", high, low, again)


def round_keys(steps: Iterable[TimedStep]) -> dict[int, str]:
    """The rounds of some steps, each with its letter; "" for a single one."""
    numbers = list(dict.fromkeys(timed.number for timed in steps))
    return {
        number: "" if len(numbers) == 1 else chr(ord("A") + place % 26)
        for place, number in enumerate(numbers)
    }


def chart_of_day(
    name: str, title: str, steps: Sequence[TimedStep], rounds: Sequence[tuple[str, RoundSteps]],
    say: PhraseCatalogue = ENGLISH,
) -> Chart:  # fmt: skip
    """The chart of the steps that begin on one day, with what runs on from the day before.

    Takes:  steps   the steps that begin on the day
            rounds  all rounds by the places that the steps have, each with its name
    """
    ends = [timed.end_min for timed in steps if timed.step.kind != "set"]
    begins = min(timed.start_min for timed in steps)
    # Where bars do nothing but set, an hour of it is drawn.
    span = begins, max(ends, default=begins + 60)
    groups, told = [], []
    for number, key in round_keys(steps).items():
        round_name, one = rounds[number]
        drawn = [
            timed for timed in one.steps if timed.start_min < span[1] >= span[0] < timed.end_min
        ]
        rows = [row for row in _rows(one, drawn, span) if row.bars]
        if rows:
            rows_say = [row.label.roomy for row in rows if row.label is not None]
            told.append(f"{round_name}: {'; '.join(rows_say)}")
            head = [f"{key} {round_name}".strip()]
            if len(rows) == 1:
                head.append(rows_say[0].partition(": ")[2] or rows_say[0])
                rows = [replace(rows[0], label=None)]
            groups.append(TimeGroup(_label(head), tuple(rows)))
    hours = say.text("chart.hours", begins=clock_text(span[0]), ends=clock_text(span[1]))
    desc = f"{hours} {'. '.join(told)}."
    return time_chart(name, title, desc, groups, span, clock_text, _width_of)


def _rows(one: RoundSteps, drawn: Sequence[TimedStep], span: tuple[int, int]) -> Iterator[TimeRow]:
    """A row for each pot of a round, then one for its pieces, or for the mould."""
    say = one.amounts.phrases
    for pot in one.amounts.masses.pots:
        of_pot = [timed for timed in drawn if pot.name in _pots_of(one, timed)]
        name = pot.layers[0] if len(pot.layers) == 1 else say.text("pot", pot=pot.name)
        yield TimeRow(_says(name, of_pot, _TOLD_OF_POT, say), _bars(one, of_pot, span, pot.name))
    alone = [timed for timed in drawn if not timed.step.pot or timed.step.kind == "pour"]
    name = say.text("chart.mould" if one.pieces is None else "chart.pieces")
    yield TimeRow(_says(name, alone, _TOLD_OF_MOULD, say), _bars(one, alone, span))


def _pots_of(one: RoundSteps, timed: TimedStep) -> set[str]:
    """The pots that a step is about; layers that are poured together have several."""
    pots = {timed.step.pot}
    if timed.step.kind == "pour":
        pots |= {one.amounts.layer(number).pot_name for number in timed.step.layers}
    return pots


def _bars(
    one: RoundSteps, steps: Iterable[TimedStep], span: tuple[int, int], pot: str = ""
) -> tuple[TimeBar, ...]:
    """The bars of a row; in that of a ``pot`` with the windows in which it may be used."""
    steps = list(steps)
    windows = [
        _window_bar(one, timed, span) for timed in steps
        if pot == timed.step.pot and timed.step.kind in _IN_WINDOWS
    ]  # fmt: skip
    bars = (_step_bar(timed, span) for timed in steps if timed.step.minutes)
    return (*dict.fromkeys(bar for bar in windows if bar is not None), *bars)


def _step_bar(timed: TimedStep, span: tuple[int, int]) -> TimeBar:
    kind: BarTone = "hands" if timed.step.hands else "alone"
    if timed.step.kind in ("pour", "cool"):
        kind = "pour" if timed.step.kind == "pour" else "wait"
    return TimeBar(*_clipped((timed.start_min, timed.end_min), span), kind)


def _window_bar(one: RoundSteps, timed: TimedStep, span: tuple[int, int]) -> TimeBar | None:
    """The time in which the pot of a step is in its window; None without any on the scale."""
    window = minutes_in_window(timed.step, one.ends)
    clipped = (0, 0) if window is None else _clipped(window, span)
    return TimeBar(*clipped, "window") if clipped[0] < clipped[1] else None


def _clipped(minutes: tuple[int, int], span: tuple[int, int]) -> tuple[int, int]:
    return max(minutes[0], span[0]), min(minutes[1], span[1])


def _says(
    name: str, steps: Iterable[TimedStep], told: Sequence[str], say: PhraseCatalogue
) -> TimeLabel:
    """A row's name with the times of its chief steps, as many as fit: ``detail: melt 8:06``."""
    times: dict[str, list[TimedStep]] = {}
    for timed in steps:
        if timed.step.kind in told:
            times.setdefault(timed.step.kind.replace("firm", "rest"), []).append(timed)
    parts = [name]
    for kind, of_kind in times.items():
        begins, ends = clock_text(of_kind[0].start_min), clock_text(of_kind[-1].end_min)
        when = begins if len(of_kind) == 1 else say.text("span", begins=begins, ends=ends)
        parts.append(f"{say.text(f'chart.{kind}')} {when}")
    return _label(parts)


def _label(parts: Sequence[str]) -> TimeLabel:
    return TimeLabel(_that_fits(parts, ROOMY_EM), _that_fits(parts, NARROW_EM))


def _that_fits(parts: Sequence[str], wide_em: float) -> str:
    """``name: one, two``: as many parts as there is room for."""
    # "A Moth and moon, straight trim, pigment, 1 of 4": what stands in the middle goes first.
    pieces = parts[0].split(", ")
    while len(pieces) > 2 and text_width(", ".join(pieces), "bold", 1.0) > wide_em:
        del pieces[1]
    text = ", ".join(pieces)
    # Its end tells rounds and variants apart.
    first, last = text[:-_ENDS], text[-_ENDS:]
    while text_width(text, "bold", 1.0) > wide_em:
        first = first[:-1].rstrip()
        text = f"{first}…{last}"
    for number, part in enumerate(parts[1:]):
        longer = f"{text}{', ' if number else ': '}{part}"
        if text_width(longer, "bold", 1.0) <= wide_em:
            text = longer
    return text
