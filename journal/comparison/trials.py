"""The trials of a comparison, and the strata within which they may be compared.

A change that can differ from bar to bar is compared within pots, bar against bar.
For any other change a pot is one trial, with the median of its bars as its value
(for yes/no their share of yes, since a median of these is a bare majority). Pots
are compared with pots of the same day. Pots of days that had one variant alone are
compared with each other, with one value a day: the effect of such a day on all of
its pots cannot be told from that of the variant. A change that could differ from
bar to bar but never did so within a pot is compared by pots.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import lru_cache
from statistics import fmean, median

from msgspec import Struct

from journal.comparison.observed import ComparedMeasure, ObservedBar, VariantTrialKind
from journal.comparison.scales import pot_place

# The choices of the other groups of variants that a bar was made with.
Cell = tuple[tuple[str, str], ...]


class VariantSample(Struct, frozen=True):
    """Counts of one variant's bars and trials in a comparison.

    ``spoilt`` bars were dropped or lost, and are not judged; ``lifted`` bars cannot be measured
    since their detail came away; ``not_noted`` have no value; ``left_out`` have a value of
    another kind or out of range. ``middle`` is the median of the measured bars, for yes/no the
    share of yes, and ``yes`` their number. ``alone`` counts trials without one of the other
    variant in their stratum.
    """

    variant: str
    poured: int
    pours: int
    measured: int
    spoilt: int
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
    """Trials that could each have had either label, with the bars behind them.

    ``places`` are the pots' places on the scale of the measure (``journal.comparison.scales``),
    side by side with ``values``; of bars there are none.
    """

    values: tuple[tuple[float, ...], tuple[float, ...]]
    bars: tuple[tuple[ObservedBar, ...], tuple[ObservedBar, ...]]
    places: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())


class Trials(Struct, frozen=True):
    """The trials of two variants in their strata.

    ``fit`` are the measured bars of each side, compared or not. ``whole`` is True where
    every trial is a plain yes or no. ``went_with_pot``: the change could differ from bar
    to bar, but never did within a pot. ``days_apart``: some trials are of days that had
    one variant alone. ``merged`` counts pots that were joined to another of such a day.
    ``why`` says why the trials allow no test, "" if they do.
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

    @property
    def planned(self) -> bool:
        """Whether every stratum is a block of a plan that was kept; False once bars are gone."""
        bars = [bar for stratum in self.strata for side in stratum.bars for bar in side]
        return bool(bars) and all(bar.block for bar in bars)


class _Trial(Struct, frozen=True):
    """One trial: its side (0 or 1), its value, the bars behind it, and a pot's place."""

    side: int
    value: float
    bars: tuple[ObservedBar, ...]
    place: float | None = None


def level_of(bar: ObservedBar, group: str) -> str:
    """The variant of a bar, or its choice from a group; "" if it names none."""
    return bar.levels.get(group, "") if group else bar.variant


def _cell(bar: ObservedBar, group: str) -> Cell:
    """The bar's choices from the groups of variants other than this one."""
    return _cell_of(tuple(bar.levels.items()), group) if group else ()


# A design's bars have a few mixes of the groups, asked for by every measure.
@lru_cache(maxsize=1024)
def _cell_of(levels: Cell, group: str) -> Cell:
    return tuple(sorted((name, level) for name, level in levels if name != group))


def usable(bar: ObservedBar, measure: ComparedMeasure) -> bool:
    """Whether a bar has a valid value of a measure, and its detail where the measure needs it."""
    measurable = not bar.spoilt and not (measure.needs_the_detail and bar.lifted)
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
    """Sort the bars of two variants into trials, and these into strata.

    Bars of other variants are left out. ``by`` is the kind of trial by the nature of the
    change; the result has the kind that it came to, as bars may have to be compared by pots.
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
        strata, alone = _in_strata(
            (_stratum_key(bar, group), _Trial(side, number_of(bar, measure), (bar,)))
            for side in (0, 1)
            for bar in fit[side]
        )
    else:
        by = "pots"
        strata, alone, days_apart, merged = _pots_in_strata(fit, measure, group)
    counts = [sum(len(stratum.values[index]) for stratum in strata) for index in (0, 1)]
    first, second = map(_variant_sample, between, sides, fit, (measure, measure), counts, alone)
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
        why=_reason_untestable(strata, sides, fit, measure, between, group, by, merged),
    )


def _pot_and_cell(bar: ObservedBar, group: str) -> tuple[object, ...]:
    """The pot of a bar, and its choices from other groups."""
    return (bar.design, bar.pour, bar.pot, _cell(bar, group))


def _stratum_key(bar: ObservedBar, group: str) -> tuple[object, ...]:
    """The key of the stratum in which a bar is compared with other bars.

    Of a planned bar it is its block: what else it is made with stays where it is, whatever labels
    the plan draws.
    """
    return (bar.design, bar.pour, bar.pot, bar.block or _cell(bar, group))


def _variant_sample(
    name: str,
    poured: Sequence[ObservedBar],
    fit: Sequence[ObservedBar],
    measure: ComparedMeasure,
    trials: int,
    alone: int,
) -> VariantSample:
    """The bars of one variant, counted by why they could not be measured."""
    spoilt = lifted = left_out = 0
    for bar in poured:
        if bar.spoilt:
            spoilt += 1
        elif measure.needs_the_detail and bar.lifted:
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
        spoilt=spoilt,
        lifted=lifted,
        not_noted=len(poured) - len(fit) - spoilt - lifted - left_out,
        left_out=left_out,
        middle=middle,
        yes=yes,
        trials=trials,
        alone=alone,
    )


def _in_strata(
    keyed: Iterable[tuple[object, _Trial]],
) -> tuple[tuple[Stratum, ...], tuple[int, int]]:
    """Group trials by their key into strata.

    Gives the strata that have both sides, and how many trials of each side are in no such stratum.
    """
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
                    (
                        tuple(t.place for t in a if t.place is not None),
                        tuple(t.place for t in b if t.place is not None),
                    ),
                )
            )
        else:
            alone[0] += len(a)
            alone[1] += len(b)
    return tuple(strata), (alone[0], alone[1])


class _Pot(Struct):
    """The measured bars of one side of one pot, by their choices from other groups."""

    side: int
    day: tuple[object, ...]
    cells: dict[Cell, list[ObservedBar]]

    def trial(self, measure: ComparedMeasure, cells: Iterable[Cell]) -> _Trial:
        """The pot as one trial; its value is the mean over the cells given."""
        bars = [self.cells[cell] for cell in cells]
        numbers = [[number_of(bar, measure) for bar in own] for own in bars]
        return _Trial(
            self.side,
            fmean(_value_of_bars(own, measure) for own in numbers),
            tuple(bar for own in bars for bar in own),
            fmean(pot_place(own, measure) for own in numbers),
        )


def _value_of_bars(values: Sequence[float], measure: ComparedMeasure) -> float:
    """One value for several bars: the median, for yes/no the share of yes."""
    return sum(values) / len(values) if measure.kind == "yes-no" else median(values)


def _pots_in_strata(
    fit: Sequence[Sequence[ObservedBar]], measure: ComparedMeasure, group: str
) -> tuple[tuple[Stratum, ...], tuple[int, int], bool, int]:
    """Make pots the trials, and sort them into strata.

    Gives the strata, the trials of each side in no stratum, whether trials of days apart are
    compared, and how many pots were merged.
    """
    pots: dict[tuple[object, ...], _Pot] = {}
    for side in (0, 1):
        for bar in fit[side]:
            key = (bar.design, bar.pour, bar.pot, side)
            pot = pots.setdefault(key, _Pot(side, (bar.design, bar.poured_on, bar.block), {}))
            pot.cells.setdefault(_cell(bar, group), []).append(bar)
    everything = [(pot, tuple(sorted(pot.cells))) for pot in pots.values()]
    separate = _pots_by_day(everything, measure)
    shared = set.intersection(*(set(cells) for _, cells in everything)) if everything else set()
    if shared and any(set(cells) != shared for _, cells in everything):
        # Pots with unlike mixes of the other group: compare either like mixes or only
        # what all pots share, whichever leaves more trials.
        common = _pots_by_day([(pot, tuple(sorted(shared))) for pot in pots.values()], measure)
        if _trials_in(common[0]) > _trials_in(separate[0]):
            return common
    return separate


def _trials_in(strata: Sequence[Stratum]) -> int:
    """The number of trials in the strata."""
    return sum(len(side) for stratum in strata for side in stratum.values)


def _pots_by_day(
    pots: Sequence[tuple[_Pot, tuple[Cell, ...]]], measure: ComparedMeasure
) -> tuple[tuple[Stratum, ...], tuple[int, int], bool, int]:
    """Sort pots into strata by day; those of a day with one variant alone become one trial."""
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
            fmean(trial.place for trial in trials if trial.place is not None),
        )
        keyed.append((("apart", design, cells), day))
    strata, alone = _in_strata(keyed)
    return strata, alone, bool(apart), merged


def _reason_untestable(
    strata: Sequence[Stratum],
    sides: Sequence[Sequence[ObservedBar]],
    fit: Sequence[Sequence[ObservedBar]],
    measure: ComparedMeasure,
    between: tuple[str, str],
    group: str,
    by: VariantTrialKind,
    merged: int,
) -> str:
    """The reason that the trials of two variants allow no test; "" if they do."""
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
