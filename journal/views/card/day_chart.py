"""Rounds by the clock as a chart: on the page of a card, and on the days of an order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from journal.charts.day import NARROW_EM, ROOMY_EM, DayBar, DayGroup, DayLabel, DayRow, day_chart
from journal.charts.drawing import Chart
from journal.figures.day.rounds import minutes_in_window
from journal.figures.day.sheet import TimedStep
from journal.html.blocks import ChartFigure
from journal.html.text_width import text_width
from journal.views.card.steps import RoundSteps
from journal.views.shared.words import clock_text

# Those whose times stand beside the name of a pot, and of pieces or a mould.
_TOLD_OF_POT = ("melt", "pour")
_TOLD_OF_MOULD = ("rest", "firm", "chill", "place", "unmould")

# So many letters at the end of a name are left as they are: ``, 1 of 4`` and a part of a variant.
_ENDS = 14
_IN_WINDOWS = ("stir", "scent", "pour")
# What the chart's marks mean.
CHART_KEY = (
    "Solid: by hand. Red: a pour. Open: it runs by itself. Bracket: the pot is in its window."
)


def chart_of_round(name: str, one: RoundSteps) -> ChartFigure:
    """The chart of a round from its begin to its last pour, in minutes from the begin."""
    poured = max(timed.end_min for timed in one.steps if timed.step.kind == "pour")
    steps = [timed for timed in one.steps if timed.end_min <= poured]
    bars = one.amounts.phrases.bars(one.bars)
    chart = chart_of_day(name, f"A round of {bars}, by the minute", steps, [(bars, one)])
    return ChartFigure(chart, (CHART_KEY,))


def round_keys(steps: Iterable[TimedStep]) -> dict[int, str]:
    """The rounds of some steps, each with its letter; "" for a single one."""
    numbers = list(dict.fromkeys(timed.number for timed in steps))
    return {
        number: "" if len(numbers) == 1 else chr(ord("A") + place % 26)
        for place, number in enumerate(numbers)
    }


def chart_of_day(
    name: str, title: str, steps: Sequence[TimedStep], rounds: Sequence[tuple[str, RoundSteps]]
) -> Chart:
    """The chart of the steps that begin on one day, with what runs on from the day before.

    Takes:  steps   the steps that begin on the day
            rounds  all rounds by the places that the steps have, each with its name
    """
    ends = [timed.end_min for timed in steps if timed.step.kind != "set"]
    span = min(timed.start_min for timed in steps), max(ends)
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
            groups.append(DayGroup(_label(head), tuple(rows)))
    desc = f"From {clock_text(span[0])} to {clock_text(span[1])}. {'. '.join(told)}."
    return day_chart(name, title, desc, groups, span, clock_text)


def _rows(one: RoundSteps, drawn: Sequence[TimedStep], span: tuple[int, int]) -> Iterator[DayRow]:
    """A row for each pot of a round, then one for its pieces, or for the mould."""
    by_place = sorted(one.steps, key=lambda timed: timed.place)
    steps, ends = [timed.step for timed in by_place], [timed.end_min for timed in by_place]
    for pot in one.amounts.masses.pots:
        of_pot = [timed for timed in drawn if pot.name in _pots_of(one, timed)]
        windows = (
            minutes_in_window(timed.step, steps, ends) for timed in of_pot
            if timed.step.pot == pot.name and timed.step.kind in _IN_WINDOWS
        )  # fmt: skip
        name = pot.layers[0] if len(pot.layers) == 1 else f"{pot.name} pot"
        clipped = (_clipped(one, span) for one in windows if one is not None)
        yield DayRow(
            _says(name, of_pot, _TOLD_OF_POT), _bars(of_pot, span),
            tuple(dict.fromkeys(one for one in clipped if one[0] < one[1])),
        )  # fmt: skip
    alone = [timed for timed in drawn if not timed.step.pot or timed.step.kind == "pour"]
    name = "mould" if one.pieces is None else "pieces"
    yield DayRow(_says(name, alone, _TOLD_OF_MOULD), _bars(alone, span))


def _pots_of(one: RoundSteps, timed: TimedStep) -> set[str]:
    """The pots that a step is about; layers that are poured together have several."""
    pots = {timed.step.pot}
    if timed.step.kind == "pour":
        pots |= {one.amounts.layer(number).pot_name for number in timed.step.layers}
    return pots


def _bars(steps: Iterable[TimedStep], span: tuple[int, int]) -> tuple[DayBar, ...]:
    return tuple(
        DayBar(
            *_clipped((timed.start_min, timed.end_min), span),
            "pour" if timed.step.kind == "pour" else "hands" if timed.step.hands else "alone",
        )
        for timed in steps
        if timed.step.minutes
    )


def _clipped(minutes: tuple[int, int], span: tuple[int, int]) -> tuple[int, int]:
    return max(minutes[0], span[0]), min(minutes[1], span[1])


def _says(name: str, steps: Iterable[TimedStep], told: Sequence[str]) -> DayLabel:
    """A row's name with the times of its chief steps, as many as fit: ``detail: melt 8:06``."""
    times: dict[str, list[TimedStep]] = {}
    for timed in steps:
        if timed.step.kind in told:
            times.setdefault(timed.step.kind.replace("firm", "rest"), []).append(timed)
    parts = [name]
    for kind, of_kind in times.items():
        begins, ends = clock_text(of_kind[0].start_min), clock_text(of_kind[-1].end_min)
        word = kind.replace("place", "lay")
        parts.append(f"{word} {begins}" if len(of_kind) == 1 else f"{word} {begins} to {ends}")
    return _label(parts)


def _label(parts: Sequence[str]) -> DayLabel:
    return DayLabel(_that_fits(parts, ROOMY_EM), _that_fits(parts, NARROW_EM))


def _that_fits(parts: Sequence[str], wide_em: float) -> str:
    """``name: one, two``: as many parts as there is room for."""
    text = parts[0]
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
