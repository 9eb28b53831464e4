"""Two variants compared by one measure: which test speaks, its p, the difference, intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from msgspec import Struct

from journal.comparison import intervals
from journal.comparison.moderated import (
    ModeratedTest,
    PotScatter,
    Shift,
    block_shift,
    borrows,
    moderated_t_test,
)
from journal.comparison.observed import ComparedMeasure, ObservedBar, VariantTrialKind
from journal.comparison.permutation import (
    PermutationTest,
    conditional_exact_test,
    rank_sum_test,
    signed_rank_test,
)
from journal.comparison.power import chance_of_next_look
from journal.comparison.scales import least_variance, natural_shift
from journal.comparison.scatter import MeasureScatter, borrowed
from journal.comparison.spread import VarianceComponents, variance_components
from journal.comparison.trials import Stratum, Trials, build_trials, level_of, number_of, usable

# Where every trial measures the same there is no spread to make an interval from.
# The interval is then of how often a trial may differ: at most this share of them.
EQUIVALENCE_SHARE = 0.2
# Without other designs, Student's t needs so many pots of each: fewer would lean on the normal law.
LEAST_POTS_FOR_T = 4

NoIntervalReason = Literal["", "nothing to compare", "too few", "all the same"]
Method = Literal["permutation", "signed rank", "moderated t", "t"]


class Contrast(Struct, frozen=True):
    """Test, difference and intervals of two variants by one measure.

    ``difference`` is second less first: a difference of shares for yes/no, else a
    shift. ``interval`` is at 95 %, ``within`` at 90 %; ``no_interval`` says why the
    first is None. Of ``test`` and ``pots`` one is set, by ``method``; both are None where the
    trials allow none (``trials.why``); ``difference`` may then still describe the bars.
    """

    measure: ComparedMeasure
    trials: Trials
    test: PermutationTest | None
    difference: float | None
    interval: intervals.Interval | None
    within: intervals.Interval | None
    no_interval: NoIntervalReason
    method: Method = "permutation"
    pots: ModeratedTest | None = None

    @property
    def p(self) -> float | None:
        """Two-sided p, before it is adjusted; None without a test."""
        tested = self.test or self.pots
        return tested.p if tested else None

    @property
    def excess(self) -> float:
        """Above 0 if the second has the larger values; 0 without a test."""
        tested = self.test or self.pots
        return tested.excess if tested else 0.0


def contrast(
    bars: Sequence[ObservedBar],
    measure: ComparedMeasure,
    between: tuple[str, str],
    group: str,
    by: VariantTrialKind,
    others: Sequence[MeasureScatter] | None = None,
) -> Contrast:
    """Compare two variants by one measure, with test and intervals.

    Which test speaks is decided by the kind of trial and by counts, before a value is looked at:
    bars are compared by permutation within pots, or within the blocks of a plan that was kept
    (pairs by signed ranks, which tell more of pairs than their signs alone); pots by a t test that
    borrows the scatter of ``others`` if these are enough, else by Student's from LEAST_POTS_FOR_T
    of each on, else by permutation.

    Takes:  bars     those of other variants are left out
            group    of variants that ``between`` belongs to, "" without groups
            by       what a trial is, by the nature of what the variants change
            others   scatter of other designs by this measure; None: only permutation
    """
    trials = build_trials(bars, measure, between, group, by)
    if not trials.strata:
        return Contrast(measure, trials, None, None, None, None, "nothing to compare")
    strata = [stratum.values for stratum in trials.strata]
    values = {value for sides in strata for side in sides for value in side}
    all_the_same = len(values) == 1 and not trials.whole
    if trials.by == "pots" and others is not None and not (trials.why or all_the_same):
        pots = _pots_contrast(trials, measure, others)
        if pots is not None:
            return pots
    method: Method = "permutation"
    if trials.whole:
        tables = [(round(sum(a)), len(a), round(sum(b)), len(b)) for a, b in strata]
        shift = intervals.shares_difference(tables, (0.95, 0.90))
        test = conditional_exact_test(tables)
    elif trials.planned and all(len(a) == len(b) == 1 for a, b in strata):
        method, differences = "signed rank", [b - a for (a,), (b,) in strata]
        shift = intervals.paired_difference(differences, (0.95, 0.90))
        test = signed_rank_test(differences)
    else:
        shift, test = intervals.shift_difference(strata, (0.95, 0.90)), rank_sum_test(strata)
    if trials.why:
        return Contrast(measure, trials, None, shift.estimate, None, None, "too few")
    if all_the_same:
        alike = _few_can_differ(*(side.trials for side in trials.sides))
        within = intervals.Interval(0.0, 0.0) if alike else None
        return Contrast(measure, trials, test, 0.0, None, within, "all the same")
    interval, within = shift.intervals
    no_interval: NoIntervalReason = "" if interval else "too few"
    return Contrast(measure, trials, test, shift.estimate, interval, within, no_interval, method)


def _pots_contrast(
    trials: Trials, measure: ComparedMeasure, others: Sequence[MeasureScatter]
) -> Contrast | None:
    """The t test of pots, moderated or Student's; None where neither may speak."""
    moved, middle, bars = pots_shift(trials)
    if moved.scatter.df < 1:
        return None
    rest = borrowed(others, measure, trials.days_apart, bars, middle)
    method: Method = "moderated t"
    if not borrows(rest):
        rest, method = [], "t"
        if min(side.trials for side in trials.sides) < LEAST_POTS_FOR_T:
            return None
    test = moderated_t_test(moved, rest, least_variance(middle, bars, measure))

    def reaching(reach: float) -> intervals.Interval:
        ends = (moved.estimate - reach, moved.estimate + reach)
        return intervals.Interval(*(natural_shift(end, middle, measure) for end in ends))

    return Contrast(
        measure=measure,
        trials=trials,
        test=None,
        difference=natural_shift(moved.estimate, middle, measure),
        interval=reaching(test.reach[0]),
        within=reaching(test.reach[1]),
        no_interval="",
        method=method,
        pots=test,
    )


def pots_shift(trials: Trials) -> tuple[Shift, float, float]:
    """The shift of pots on their scale, the middle about which it lies, and bars a pot."""
    moved = trials_shift(trials)
    sides = [[place for s in trials.strata for place in s.places[index]] for index in (0, 1)]
    middle = math.fsum(math.fsum(side) / len(side) for side in sides) / 2
    bars = sum(len(side) for stratum in trials.strata for side in stratum.bars)
    return moved, middle, bars / sum(map(len, sides))


def trials_shift(trials: Trials) -> Shift:
    """The shift of trials within their strata: of pots on their scale, of bars as measured."""
    by_place = trials.by == "pots"
    return block_shift([s.places if by_place else s.values for s in trials.strata])


def _few_can_differ(first: int, second: int) -> bool:
    """Whether these numbers of trials, all of one value, are enough to show that few can differ."""
    differing = intervals.newcombe_interval(0, first, 0, second, 0.90)
    return -EQUIVALENCE_SHARE < differing.low <= differing.high < EQUIVALENCE_SHARE


def next_look_chance(
    result: Contrast, others: Sequence[MeasureScatter], effects: float, growth: float, level: float
) -> float | None:
    """The chance that a look at ``growth`` times the trials tells; None if nothing says so yet.

    Of a permutation it is 0 where even the clearest outcome of so many trials does not tell.
    """
    trials = result.trials
    if not trials.strata or result.no_interval == "all the same":
        return None
    rest: list[PotScatter] = []
    if trials.by == "pots":
        moved, middle, bars = pots_shift(trials)
        rest = borrowed(others, result.measure, trials.days_apart, bars, middle)
        if not borrows(rest):
            rest = []
            if min(side.trials for side in trials.sides) * growth < LEAST_POTS_FOR_T:
                return 0.0
    else:
        if _least_p(trials.strata, growth) > level:
            return 0.0
        moved = trials_shift(trials)
    return chance_of_next_look(moved, rest, effects, growth, level)


def _least_p(strata: Sequence[Stratum], growth: float) -> float:
    """The smallest p that as many strata more could give, each with as many of both."""
    ways = math.prod(math.comb(len(a) + len(b), len(b)) for a, b in (s.values for s in strata))
    return min(1.0, 2 * math.exp(-growth * math.log(ways)))


def variant_variance_components(
    bars: Sequence[ObservedBar],
    measure: ComparedMeasure,
    between: tuple[str, str],
    group: str,
    by: VariantTrialKind,
) -> VarianceComponents | None:
    """The variation between bars of a pot, pots, and days, apart from the effect of two variants.

    ``by`` is what a trial turned out to be (``Contrast.trials.by``). None if no bar was measured.
    """
    measured = [bar for bar in bars if level_of(bar, group) in between and usable(bar, measure)]
    if not measured:
        return None
    per_pot = by == "pots"
    return variance_components(
        [number_of(bar, measure) for bar in measured],
        [(bar.design, bar.pour, bar.pot, per_pot and level_of(bar, group)) for bar in measured],
        [(bar.design, bar.poured_on) for bar in measured],
        [level_of(bar, group) for bar in measured],
        per_pot,
    )
