"""The number of further trials that a verdict needs, from the power of the tests."""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import accumulate
from statistics import NormalDist
from typing import Literal

from msgspec import Struct

from journal.comparison.laws import cumulative_counts, signed_rank_counts
from journal.errors import FigureError

# Chance that a difference which matters is found: the customary four in five.
POWER = 0.8
# More than this many of each is no advice that a studio could follow.
MOST_TRIALS = 10_000
# Up to so many of each the critical value is the exact test's.
COUNTED_EACH = 20
# Up to so many of each the power for shares is counted out: a tenth of a second.
COUNTED_SHARES = 130

TrialsNeededReason = Literal["power", "attainable", "interval"]
# Where more trials would go: a stratum of their own (bars of a new pot), the last
# stratum (pots of further days), or a stratum a pair (a day with a pot of each).
NewTrialsPlace = Literal["own", "last", "pairs"]


class TrialsNeeded(Struct, frozen=True):
    """The number of further trials of each variant that a verdict needs.

    ``bound`` is the reason: "power", to find a difference that matters in four of five
    cases; "attainable", since fewer cannot reach the level of significance, while the
    spread is not known yet; "interval", since there are enough for the power, but the
    interval has to shrink.
    """

    each: int
    bound: TrialsNeededReason


def _check_levels(alpha: float, power: float = POWER) -> None:
    """Raise FigureError unless both lie between 0 and 1."""
    if not (0 < alpha < 1 and 0 < power < 1):
        raise FigureError(f"alpha {alpha} and power {power} must lie between 0 and 1")


def _normal_cdf(z: float) -> float:
    """The chance that a standard normal variable is below ``z``."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


@lru_cache(maxsize=512)
def _mean_square(shift: float) -> float:
    """Mean of Phi(shift + Z)^2 over a normal Z, by the trapezoid rule."""
    step = 0.1
    places = [step * k for k in range(-70, 71)]
    total = math.fsum(math.exp(-z * z / 2) * _normal_cdf(shift + z) ** 2 for z in places)
    return total * step / math.sqrt(2 * math.pi)


def _smallest_count(enough: Callable[[int], bool], least: int) -> int:
    """Smallest count from ``least`` up that is enough, at most MOST_TRIALS, by bisection."""
    high = least
    while not enough(high):
        if high >= MOST_TRIALS:
            return MOST_TRIALS
        high *= 2
    low = max(least - 1, high // 2)
    while high - low > 1:
        half = (low + high) // 2
        if enough(half):
            high = half
        else:
            low = half
    return min(MOST_TRIALS, high)


def _critical_sum(below: Sequence[int], alpha: float) -> int:
    """The largest sum whose lower tail, by the counts ``below``, is within alpha / 2; else -1."""
    return bisect.bisect_right(below, alpha / 2 * below[-1]) - 1


@lru_cache(maxsize=512)
def _shift_power(ratio: float, each: int, alpha: float) -> float:
    """Chance that the rank-sum test finds a shift of ``ratio`` deviations, its sum as normal."""
    pairs = each * each
    if each <= COUNTED_EACH:
        critical = _critical_sum(cumulative_counts([((1,) * (2 * each), each)]), alpha) / 2
    else:
        deviation = math.sqrt(pairs * (2 * each + 1) / 12)
        critical = pairs / 2 - 0.5 - NormalDist().inv_cdf(1 - alpha / 2) * deviation
    if critical < 0:
        return 0.0
    wins = _normal_cdf(ratio / math.sqrt(2))
    both = _mean_square(ratio)
    variance = pairs * (wins * (1 - wins) + 2 * (each - 1) * (both - wins * wins))
    above = pairs * wins - (pairs - critical - 0.5)
    return _normal_cdf(above / math.sqrt(variance)) if variance > 0 else float(above > 0)


@lru_cache(maxsize=512)
def _pairs_power(ratio: float, pairs: int, alpha: float) -> float:
    """Chance that the signed-rank test finds a shift of ``ratio`` deviations, its sum as normal."""
    n = pairs
    whole = n * (n + 1) / 2
    if n <= COUNTED_EACH:
        # Doubled ranks, and so doubled sums.
        critical = _critical_sum(signed_rank_counts(range(1, n + 1))[1], alpha) // 2
    else:
        deviation = math.sqrt(n * (n + 1) * (2 * n + 1) / 24)
        critical = math.floor(whole / 2 - NormalDist().inv_cdf(1 - alpha / 2) * deviation)
    if critical < 0:
        return 0.0
    one, two, three = _normal_cdf(ratio), _normal_cdf(math.sqrt(2) * ratio), _mean_square(2 * ratio)
    mean = n * one + n * (n - 1) / 2 * two
    variance = (
        n * one * (1 - one)
        + n * (n - 1) / 2 * (2 * (one - two) ** 2 + 3 * two * (1 - two))
        + n * (n - 1) * (n - 2) * (three - two * two)
    )
    above = mean - (whole - critical - 0.5)
    return _normal_cdf(above / math.sqrt(variance)) if variance > 0 else float(above > 0)


def _shift_over_deviation(shift: float, deviation: float) -> float:
    """The shift in units of the deviation, to two digits and at most 100."""
    if not (shift > 0 and deviation >= 0 and math.isfinite(shift) and math.isfinite(deviation)):
        raise FigureError(f"a shift of {shift} over a deviation of {deviation} has no power")
    # Two digits: a deviation from a few bars is known to one, and like questions are
    # answered once.
    return float(f"{min(100.0, shift / max(deviation, shift / 100)):.2g}")


def trials_for_shift(
    shift: float, deviation: float, alpha: float = 0.05, power: float = POWER
) -> int:
    """Trials of each variant that the rank-sum test needs to find a shift.

    The power is the chance that the sum of pairs won, taken as normal with its mean and
    variance under the shift, lies beyond the critical value. Up to COUNTED_EACH trials of
    each that is the exact test's, above it the normal one. Values are taken as normal.

    Takes:  shift      > 0
            deviation  of single trials with the same label and stratum; >= 0
            alpha      two-sided level; power; both between 0 and 1
    Gives:  a count, at least that with which the level can be reached, at most MOST_TRIALS
    Fails:  FigureError outside these ranges
    Source: Lehmann, Nonparametrics (1975) ch. 2.3
    Checked: by simulation of the exact test; a shift of one deviation needs 18
    """
    ratio = _shift_over_deviation(shift, deviation)
    _check_levels(alpha, power)
    return _smallest_count(lambda n: _shift_power(ratio, n, alpha) >= power, least_trials(alpha))


def trials_for_pairs(
    shift: float, deviation: float, alpha: float = 0.05, power: float = POWER
) -> int:
    """Paired differences that the signed-rank test needs to find a shift.

    Like ``trials_for_shift``, but ``deviation`` is that of the differences.

    Source: Lehmann 1975 ch. 4.2
    Checked: by simulation of the exact test
    """
    ratio = _shift_over_deviation(shift, deviation)
    _check_levels(alpha, power)
    return _smallest_count(lambda n: _pairs_power(ratio, n, alpha) >= power, least_pairs(alpha))


def _continuity_corrected(low: float, high: float, alpha: float, power: float) -> int:
    """Trials of each to tell two shares apart, by the continuity-corrected normal formula."""
    mean, d = (low + high) / 2, high - low
    even = NormalDist().inv_cdf(1 - alpha / 2) * math.sqrt(2 * mean * (1 - mean))
    apart = NormalDist().inv_cdf(power) * math.sqrt(low * (1 - low) + max(0.0, high * (1 - high)))
    rough = (even + apart) ** 2 / d**2
    return math.ceil(rough / 4 * (1 + math.sqrt(1 + 4 / (rough * d))) ** 2)


def shares_power(low: float, high: float, each: int, alpha: float = 0.05) -> float:
    """Chance that Fisher's test tells two shares apart.

    Takes:  low, high  the shares; 0 to 1
            each       trials of each; >= 1
            alpha      two-sided level; between 0 and 1
    Gives:  0 to 1; exact, every outcome counted
    Fails:  FigureError outside these ranges
    Source: definition
    Checked: all yes against all no with 4 of each gives 1
    """
    if not (0 <= low <= 1 and 0 <= high <= 1 and each >= 1):
        raise FigureError(f"shares of {low} and {high} among {each} cannot be")
    _check_levels(alpha)
    ways = [math.comb(each, x) for x in range(each + 1)]
    first = [w * low**x * (1 - low) ** (each - x) for x, w in enumerate(ways)]
    second = [w * high**x * (1 - high) ** (each - x) for x, w in enumerate(ways)]
    laws: list[tuple[list[int], int | None]] = []
    for yes in range(each + 1):
        law = [ways[x] * ways[yes - x] for x in range(yes + 1)]
        # From the rarest outcome on, as long as all no likelier ones fit the level.
        rare = sorted(law)
        sums = list(accumulate(rare))
        room = alpha * sums[-1]
        bound = next((count for count, s in zip(rare, sums, strict=True) if s > room), None)
        laws.append((law, bound))
    power = 0.0
    for yes in range(2 * each + 1):
        # As many no as there might have been yes: the same law, from its other end.
        law, bound = laws[min(yes, 2 * each - yes)]
        for x, count in enumerate(law, max(0, yes - each)):
            if bound is None or count < bound:
                power += first[yes - x] * second[x]
    return min(1.0, power)


@lru_cache(maxsize=1024)
def _trials_for_shares(low: float, high: float, alpha: float, power: float) -> int:
    """``trials_for_shares`` for the two shares themselves."""
    rough = _continuity_corrected(low, high, alpha, power)
    if rough > COUNTED_SHARES:
        return min(MOST_TRIALS, rough)
    return _smallest_count(
        lambda n: shares_power(low, high, n, alpha) >= power, least_trials(alpha)
    )


def trials_for_shares(
    share: float, difference: float, alpha: float = 0.05, power: float = POWER
) -> int:
    """Trials of each variant that Fisher's test needs to find a difference of two shares.

    The two shares lie evenly about ``share``, rounded to the nearest twentieth, and
    are moved inwards where they would leave 0 to 1. The power is the exact one; where
    the formula of Casagrande, Pike and Smith gives more than COUNTED_SHARES of each,
    the result is that of the formula.

    Takes:  share       of yes among all trials; 0 to 1
            difference  0 < d <= 1
            alpha       two-sided level; power; both between 0 and 1
    Gives:  a count, at least that with which the level can be reached, at most MOST_TRIALS
    Fails:  FigureError outside these ranges
    Source: definition; Casagrande, Pike and Smith, Biometrics 34 (1978) 483
    Checked: against SciPy's laws and test
    """
    if not (0 <= share <= 1 and 0 < difference <= 1):
        raise FigureError(f"a difference of {difference} about a share of {share} cannot be")
    _check_levels(alpha, power)
    low = min(max(0.0, round(20 * share) / 20 - difference / 2), 1 - difference)
    # Whole millionths, so that like questions are answered once.
    low = round(low, 6)
    return _trials_for_shares(low, min(1.0, round(low + difference, 6)), alpha, power)


def least_trials(alpha: float = 0.05) -> int:
    """Fewest trials of each, in one stratum, with which p can reach the level alpha at all.

    Source: definition: 2 / C(2n, n) <= alpha
    Checked: 0.05 needs 4 of each
    """
    _check_levels(alpha)
    return next(n for n in range(1, MOST_TRIALS) if alpha * math.comb(2 * n, n) >= 2)


def least_pairs(alpha: float = 0.05) -> int:
    """Fewest paired differences with which p can reach the level alpha at all.

    Source: definition: 2 / 2^n <= alpha
    Checked: 0.05 needs 6 pairs
    """
    _check_levels(alpha)
    return next(n for n in range(1, MOST_TRIALS) if alpha * 2**n >= 2)


# No level is so strict that it asks for more ways than this.
_ENOUGH_WAYS = 1 << 1000


def least_more(sizes: Sequence[tuple[int, int]], alpha: float, added: NewTrialsPlace) -> int:
    """Fewest further trials of each with which p can reach the level alpha; 0 if it can already.

    Takes:  sizes  trials of both sides in each stratum so far
            added  where more trials would go
    Source: definition: 2 / (ways to deal the labels) <= alpha
    Checked: 3 against 3 needs one more of each
    """
    _check_levels(alpha)
    ways = math.prod(math.comb(a + b, b) for a, b in sizes)
    a, b = sizes[-1] if sizes else (0, 0)
    last = math.comb(a + b, b)

    def ways_with(n: int) -> int:
        if added == "pairs":
            return ways << n
        if added == "own":
            return ways * math.comb(2 * n, n)
        return ways // last * math.comb(a + b + 2 * n, b + n)

    # Of a thousand bars the ways are more than a float holds.
    return next(n for n in range(MOST_TRIALS) if alpha * min(ways_with(n), _ENOUGH_WAYS) >= 2)


def trials_needed(
    have: int,
    need: int | None,
    least: int,
    within: tuple[float, float] | None,
    difference: float | None,
    matters: float,
) -> TrialsNeeded:
    """Work out how many further trials of each a verdict needs.

    With fewer trials than the power needs, it is the number still missing. With
    enough, but no verdict, the 90 % interval has to shrink so far that it no longer
    reaches ``matters`` from a smaller difference, or zero from a larger one; a
    quarter of ``matters`` is the least half-width that it has to shrink to.

    Takes:  have     trials of the variant with fewer; >= 0
            need     trials of each for the power; None if the spread is not known
            least    fewest more with which the level can be reached
            within   the 90 % interval; None if there is none
            matters  the smallest difference worth the name; > 0
    Gives:  at least 1
    Source: definition; the interval shrinks as one over the root of the trials
    Checked: 3 of 16 needed gives 13
    """
    if need is None:
        return TrialsNeeded(max(1, least), "attainable")
    if need > have:
        return TrialsNeeded(max(least, need - have), "power")
    shrunk = 0
    if within is not None and difference is not None:
        size = abs(difference)
        room = max(matters - size if size < matters else size, matters / 4)
        reach = (within[1] - within[0]) / 2
        shrunk = math.ceil(have * ((reach / room) ** 2 - 1))
    return TrialsNeeded(min(MOST_TRIALS, max(1, least, shrunk)), "interval")
