"""Two variants compared by one measure: test, interval, and the number of trials needed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count
from typing import Literal

from msgspec import Struct

from journal.comparison import intervals, power
from journal.comparison.observed import ComparedMeasure, ObservedBar, VariantTrialKind
from journal.comparison.permutation import PermutationTest, conditional_exact_test, rank_sum_test
from journal.comparison.spread import VarianceComponents, deviation_within, variance_components
from journal.comparison.trials import Trials, build_trials, level_of, number_of, usable
from journal.comparison.verdict import SIGNIFICANCE_LEVEL

# Where every trial measures the same there is no spread to make an interval from.
# The interval is then of how often a trial may differ: at most this share of them.
EQUIVALENCE_SHARE = 0.2

NoIntervalReason = Literal["", "nothing to compare", "too few", "all the same"]


class Contrast(Struct, frozen=True):
    """Test, difference and intervals of two variants by one measure.

    ``difference`` is second less first: a difference of shares for yes/no, else a
    shift. ``interval`` is at 95 %, ``within`` at 90 %; ``no_interval`` says why the
    first is None. ``test`` is None where the trials allow none (``trials.why``);
    ``difference`` may then still describe the bars.
    """

    measure: ComparedMeasure
    trials: Trials
    test: PermutationTest | None
    difference: float | None
    interval: intervals.Interval | None
    within: intervals.Interval | None
    no_interval: NoIntervalReason


def contrast(
    bars: Sequence[ObservedBar],
    measure: ComparedMeasure,
    between: tuple[str, str],
    group: str,
    by: VariantTrialKind,
) -> Contrast:
    """Compare two variants by one measure, with test and intervals.

    Bars of other variants are left out. ``group`` is the group of variants that ``between``
    belongs to, "" without groups. ``by`` says what a trial is, bars or pots, by the nature of
    what the variants change.
    """
    trials = build_trials(bars, measure, between, group, by)
    if not trials.strata:
        return Contrast(measure, trials, None, None, None, None, "nothing to compare")
    strata = [stratum.values for stratum in trials.strata]
    if trials.whole:
        tables = [(round(sum(a)), len(a), round(sum(b)), len(b)) for a, b in strata]
        shift = intervals.shares_difference(tables, (0.95, 0.90))
        test = conditional_exact_test(tables)
    else:
        shift, test = intervals.shift_difference(strata, (0.95, 0.90)), rank_sum_test(strata)
    if trials.why:
        return Contrast(measure, trials, None, shift.estimate, None, None, "too few")
    values = {value for sides in strata for side in sides for value in side}
    if len(values) == 1 and not trials.whole:
        alike = _few_can_differ(*(side.trials for side in trials.sides))
        within = intervals.Interval(0.0, 0.0) if alike else None
        return Contrast(measure, trials, test, 0.0, None, within, "all the same")
    interval, within = shift.intervals
    no_interval: NoIntervalReason = "" if interval else "too few"
    return Contrast(measure, trials, test, shift.estimate, interval, within, no_interval)


def _few_can_differ(first: int, second: int) -> bool:
    """Whether these numbers of trials, all of one value, are enough to show that few can differ."""
    differing = intervals.newcombe_interval(0, first, 0, second, 0.90)
    return -EQUIVALENCE_SHARE < differing.low <= differing.high < EQUIVALENCE_SHARE


def contrast_trials_needed(result: Contrast, pairs: int = 1) -> power.TrialsNeeded:
    """The number of further trials of each variant that would find a difference that matters.

    The level of significance is divided by ``pairs``, those of the question, as Holm's first
    step does.
    """
    measure, trials = result.measure, result.trials
    alpha = SIGNIFICANCE_LEVEL / pairs
    sizes = [(len(a), len(b)) for a, b in (stratum.values for stratum in trials.strata)]
    added: power.NewTrialsPlace = "own"
    if trials.by == "pots":
        paired = sizes and all(size == (1, 1) for size in sizes[1:])
        added = "pairs" if paired and not (trials.days_apart or trials.why) else "last"
    least = power.least_more(sizes, alpha, added)
    have = min(side.trials for side in trials.sides)
    need: int | None = None
    if result.no_interval == "all the same":
        need = next(each for each in count(1) if _few_can_differ(each, each))
    elif trials.strata and trials.whole:
        values = [v for stratum in trials.strata for side in stratum.values for v in side]
        difference = min(1.0, measure.matters)
        need = power.trials_for_shares(sum(values) / len(values), difference, alpha)
    elif trials.strata:
        deviation = deviation_within([v for stratum in trials.strata for v in stratum.values])
        if deviation is not None:
            need = power.trials_for_shift(measure.matters, deviation, alpha)
    within = None if result.within is None else (result.within.low, result.within.high)
    return power.trials_needed(have, need, least, within, result.difference, measure.matters)


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
