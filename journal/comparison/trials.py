"""What one trial is, and which trials may be compared.

What changes bar by bar is compared within pots, bar against bar. What goes with
the pot has one value a pot, the median of its bars (for yes/no the share of
them: the median of a few yes and no is a bare majority), and pots are compared
with pots of the same day; pots of days that saw one variant alone are compared
with each other, one value a day, for what the day does to all of its pots
cannot be told from what the variant does. A bar-by-bar change that was never
made within a pot went with the pot, whatever it is by nature.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import lru_cache
from statistics import median

from msgspec import Struct

from journal.comparison.observed import ComparedMeasure, ObservedBar, VariantTrialKind

# The choices of the other groups of variants that a bar was made with.
Cell = tuple[tuple[str, str], ...]


class VariantSample(Struct, frozen=True):
    """One variant's bars and trials in a comparison.

    ``lifted`` bars have nothing to measure, the detail came away; ``not_noted``
    have no value; ``left_out`` have a value of another kind or out of range.
    ``middle`` is the median of the measured bars, for yes/no the share of yes.
    ``alone`` counts trials with nothing of the other variant to hold them against.
    """

    variant: str
    poured: int
    pours: int
    measured: int
    lifted: int
    not_noted: int
    left_out: int
    middle: float | None
    yes: int | None
    trials: int
    alone: int

    @property
    def not_measured(self) -> int:
        """Bars poured without a value that could be used."""
        return self.poured - self.measured


class Stratum(Struct, frozen=True):
    """Trials that could each have had either label, with the bars behind them."""

    values: tuple[tuple[float, ...], tuple[float, ...]]
    bars: tuple[tuple[ObservedBar, ...], tuple[ObservedBar, ...]]


class Trials(Struct, frozen=True):
    """How the bars of two variants make trials.

    ``fit`` are the bars of each side that could be used, compared or not.
    ``whole`` is True where every trial is a plain yes or no. ``went_with_pot``:
    changed bar by bar by nature, but never within a pot. ``days_apart``: some
    trials are of days that saw one variant alone. ``merged``: pots that share such
    a day and count as one. ``why`` says why there is no stratum.
    """

    by: VariantTrialKind
    strata: tuple[Stratum, ...]
    sides: tuple[VariantSample, VariantSample]
    fit: tuple[tuple[ObservedBar, ...], tuple[ObservedBar, ...]]
    whole: bool
    went_with_pot: bool = False
    days_apart: bool = False
    merged: int = 0
    why: str = ""


class _Trial(Struct, frozen=True):
    side: int
    value: float
    bars: tuple[ObservedBar, ...]


def level_of(bar: ObservedBar, group: str) -> str:
    """The variant of a bar, or its choice from a group; "" if it names none."""
    return bar.levels.get(group, "") if group else bar.variant


def _cell(bar: ObservedBar, group: str) -> Cell:
    return _cell_of(tuple(bar.levels.items()), group) if group else ()


# A design's bars have a few mixes of the groups, asked for by every measure.
@lru_cache(maxsize=1024)
def _cell_of(levels: Cell, group: str) -> Cell:
    return tuple(sorted((name, level) for name, level in levels if name != group))


def usable(bar: ObservedBar, measure: ComparedMeasure) -> bool:
    """Whether a bar has a fit value, and a detail where the measure needs one."""
    measurable = not (measure.needs_the_detail and bar.lifted)
    return measurable and measure.is_fit(bar.values.get(measure.name))


def number_of(bar: ObservedBar, measure: ComparedMeasure) -> float:
    """A usable bar's value as a number; yes is 1 and no is 0."""
    value = bar.values[measure.name]
    assert value is not None
    return float(value)


def build_trials(
    bars: Sequence[ObservedBar],
    measure: ComparedMeasure,
    between: tuple[str, str],
    group: str,
    by: VariantTrialKind,
) -> Trials:
    """The trials of two variants by one measure, in the strata where they may be compared.

    Bars of other variants are passed over. ``by`` is what a trial is by the nature of what is
    changed; how it turned out is in the result, and why there are no strata, if there are none.
    """
    sides: list[list[ObservedBar]] = [[], []]
    for bar in bars:
        level = level_of(bar, group)
        if level in between:
            sides[between.index(level)].append(bar)
    fit = [[bar for bar in side if usable(bar, measure)] for side in sides]
    first_in, second_in = ({_pot_and_cell(bar, group) for bar in side} for side in sides)
    apart = bool(first_in and second_in and first_in.isdisjoint(second_in))
    went_with_pot = by == "bars" and apart
    days_apart, merged = False, 0
    if by == "bars" and not went_with_pot:
        strata, alone = _split(
            (_pot_and_cell(bar, group), _Trial(side, number_of(bar, measure), (bar,)))
            for side in (0, 1)
            for bar in fit[side]
        )
    else:
        by = "pots"
        strata, alone, days_apart, merged = _pots(fit, measure, group)
    counts = [sum(len(stratum.values[index]) for stratum in strata) for index in (0, 1)]
    first, second = map(_sample, between, sides, fit, (measure, measure), counts, alone)
    whole = measure.kind == "yes-no" and all(
        value in (0.0, 1.0) for stratum in strata for side in stratum.values for value in side
    )
    return Trials(
        by=by,
        strata=strata,
        sides=(first, second),
        fit=(tuple(fit[0]), tuple(fit[1])),
        whole=whole,
        went_with_pot=went_with_pot,
        days_apart=days_apart,
        merged=merged,
        why=_why(strata, sides, fit, measure, between, group, by, merged),
    )


def _pot_and_cell(bar: ObservedBar, group: str) -> tuple[object, ...]:
    return (bar.design, bar.pour, bar.pot, _cell(bar, group))


def _sample(
    name: str,
    poured: Sequence[ObservedBar],
    fit: Sequence[ObservedBar],
    measure: ComparedMeasure,
    trials: int,
    alone: int,
) -> VariantSample:
    """The bars of one variant, counted by why they could not be measured."""
    lifted = left_out = 0
    for bar in poured:
        if measure.needs_the_detail and bar.lifted:
            lifted += 1
        elif (value := bar.values.get(measure.name)) is not None and not measure.is_fit(value):
            left_out += 1
    numbers = [number_of(bar, measure) for bar in fit]
    yes = sum(map(bool, numbers)) if measure.kind == "yes-no" else None
    middle = None
    if numbers:
        middle = median(numbers) if yes is None else yes / len(numbers)
    return VariantSample(
        variant=name,
        poured=len(poured),
        pours=len({(bar.design, bar.pour) for bar in poured}),
        measured=len(fit),
        lifted=lifted,
        not_noted=len(poured) - len(fit) - lifted - left_out,
        left_out=left_out,
        middle=middle,
        yes=yes,
        trials=trials,
        alone=alone,
    )


def _split(keyed: Iterable[tuple[object, _Trial]]) -> tuple[tuple[Stratum, ...], tuple[int, int]]:
    """Strata with both sides, and how many trials of each side stand alone."""
    by_key: dict[object, tuple[list[_Trial], list[_Trial]]] = {}
    for key, trial in keyed:
        by_key.setdefault(key, ([], []))[trial.side].append(trial)
    strata: list[Stratum] = []
    alone = [0, 0]
    for a, b in by_key.values():
        if a and b:
            strata.append(
                Stratum(
                    (tuple(t.value for t in a), tuple(t.value for t in b)),
                    (tuple(x for t in a for x in t.bars), tuple(x for t in b for x in t.bars)),
                )
            )
        else:
            alone[0] += len(a)
            alone[1] += len(b)
    return tuple(strata), (alone[0], alone[1])


class _Pot(Struct):
    side: int
    day: tuple[object, ...]
    cells: dict[Cell, list[ObservedBar]]

    def trial(self, measure: ComparedMeasure, cells: Iterable[Cell]) -> _Trial:
        """The pot's one value: over several cells the mean of each one's own."""
        bars = [self.cells[cell] for cell in cells]
        values = [_of_bars([number_of(bar, measure) for bar in own], measure) for own in bars]
        return _Trial(
            self.side, sum(values) / len(values), tuple(bar for own in bars for bar in own)
        )


def _of_bars(values: Sequence[float], measure: ComparedMeasure) -> float:
    return sum(values) / len(values) if measure.kind == "yes-no" else median(values)


def _pots(
    fit: Sequence[Sequence[ObservedBar]], measure: ComparedMeasure, group: str
) -> tuple[tuple[Stratum, ...], tuple[int, int], bool, int]:
    """Pots as trials: strata, trials alone, whether days are apart, how many pots were merged."""
    pots: dict[tuple[object, ...], _Pot] = {}
    for side in (0, 1):
        for bar in fit[side]:
            key = (bar.design, bar.pour, bar.pot, side)
            pot = pots.setdefault(key, _Pot(side, (bar.design, bar.poured_on), {}))
            pot.cells.setdefault(_cell(bar, group), []).append(bar)
    everything = [(pot, tuple(sorted(pot.cells))) for pot in pots.values()]
    separate = _by_day(everything, measure)
    shared = set.intersection(*(set(cells) for _, cells in everything)) if everything else set()
    if shared and any(set(cells) != shared for _, cells in everything):
        # Pots with unlike mixes of the other group: compare either like mixes or only
        # what all pots share, whichever leaves more trials.
        common = _by_day([(pot, tuple(sorted(shared))) for pot in pots.values()], measure)
        if _compared(common[0]) > _compared(separate[0]):
            return common
    return separate


def _compared(strata: Sequence[Stratum]) -> int:
    return sum(len(side) for stratum in strata for side in stratum.values)


def _by_day(
    pots: Sequence[tuple[_Pot, tuple[Cell, ...]]], measure: ComparedMeasure
) -> tuple[tuple[Stratum, ...], tuple[int, int], bool, int]:
    """Pots in strata of a day; those of days that saw one variant alone as one value a day."""
    sides_on: defaultdict[object, set[int]] = defaultdict(set)
    for pot, cells in pots:
        sides_on[pot.day, cells].add(pot.side)
    keyed: list[tuple[object, _Trial]] = []
    apart: defaultdict[tuple[object, tuple[Cell, ...], object], list[_Trial]] = defaultdict(list)
    for pot, cells in pots:
        trial = pot.trial(measure, cells)
        if len(sides_on[pot.day, cells]) == 2:
            keyed.append(((pot.day, cells), trial))
        else:
            apart[pot.day[0], cells, pot.day].append(trial)
    merged = 0
    for (design, cells, _), trials in apart.items():
        merged += len(trials) - 1
        day = _Trial(
            trials[0].side,
            median(trial.value for trial in trials),
            tuple(bar for trial in trials for bar in trial.bars),
        )
        keyed.append((("apart", design, cells), day))
    strata, alone = _split(keyed)
    return strata, alone, bool(apart), merged


def _why(
    strata: Sequence[Stratum],
    sides: Sequence[Sequence[ObservedBar]],
    fit: Sequence[Sequence[ObservedBar]],
    measure: ComparedMeasure,
    between: tuple[str, str],
    group: str,
    by: VariantTrialKind,
    merged: int,
) -> str:
    """Why two variants cannot be compared; "" if they can."""
    for index in (0, 1):
        if not sides[index]:
            return f"{between[index]} was never poured"
        if not fit[index]:
            return f"no bar of {between[index]} has {measure.name} measured"
    if by == "pots" and len(strata) == 1 and all(len(v) == 1 for v in strata[0].values):
        # Several pots of one day that saw one variant alone were made one.
        return "one day of each" if merged else "one pot of each"
    if strata:
        return ""
    choices = [{cell for bar in side for cell in _cell(bar, group)} for side in fit]
    names = {name for side in choices for name, _ in side}
    along = sorted(
        name
        for name in names
        if not {c for c in choices[0] if c[0] == name} & {c for c in choices[1] if c[0] == name}
    )
    if along:
        return f"{group} and {' and '.join(along)} changed together"
    if by == "bars":
        return "no pot has measured bars of both"
    return "no pots of the two are alike in the rest"
