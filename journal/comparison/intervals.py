"""Confidence intervals for shares, for differences of shares, and for shifts.

Every difference is "second less first".
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import cache, partial
from statistics import NormalDist

from msgspec import Struct

from journal.comparison import laws
from journal.comparison.permutation import MOST_PAIRS_EXACT, MOST_SIGNS_EXACT
from journal.errors import FigureError

# Beyond so many pairs a null distribution for every candidate would take seconds. The
# one without ties serves: breaking the ties at random by next to nothing leaves the ends
# of its interval where they are, and it covers as often.
MOST_PAIRS_INVERTED = 256
# With ties the tail does not rise evenly, and a bisection may stop a little too far in:
# so many candidates further out are tried as well.
FURTHER_OUT = 8
# Up to so many candidates every one is tried, from the outside in.
TRY_EVERY = 64


class Interval(Struct, frozen=True):
    """Low and high end of an interval, both belonging to it."""

    low: float
    high: float


class ShiftEstimate(Struct, frozen=True):
    """The shift of the second label's values; an interval is None with too few trials for one."""

    estimate: float
    intervals: tuple[Interval | None, ...]


def _normal_quantile(confidence: float) -> float:
    """The normal quantile of a two-sided interval: 1.96 for 0.95."""
    if not 0 < confidence < 1:
        raise FigureError(f"a confidence of {confidence} is not between 0 and 1")
    return NormalDist().inv_cdf((1 + confidence) / 2)


def _wilson_ends(share: float, trials: float, z: float) -> tuple[float, float]:
    """Ends of Wilson's interval for a share; ``trials`` need not be whole."""
    middle = share + z * z / (2 * trials)
    reach = z * math.sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials))
    scale = 1 + z * z / trials
    # At 0 and 1 the ends are exact; the formula misses them by rounding.
    low = 0.0 if share <= 0 else max(0.0, (middle - reach) / scale)
    high = 1.0 if share >= 1 else min(1.0, (middle + reach) / scale)
    return low, high


def wilson_interval(yes: int, trials: int, confidence: float = 0.95) -> Interval:
    """Wilson's score interval for a share.

    Takes:  yes         0 <= yes <= trials
            trials      >= 1
            confidence  0 < c < 1
    Gives:  Interval within 0 to 1
    Fails:  FigureError outside these ranges
    Source: Wilson, J. Am. Stat. Assoc. 22 (1927) 209; method 3 of Newcombe,
            Stat. Med. 17 (1998) 857
    Checked: 81 of 263 gives 0.2553 to 0.3662; 0 of 20 gives 0 to 0.1611
    """
    if trials < 1 or not 0 <= yes <= trials:
        raise FigureError(f"{yes} of {trials} is no share")
    return Interval(*_wilson_ends(yes / trials, trials, _normal_quantile(confidence)))


def newcombe_interval(
    yes_a: int, of_a: int, yes_b: int, of_b: int, confidence: float = 0.95
) -> Interval:
    """Newcombe's square-and-add interval for the difference of two shares.

    With p the shares and l, u their Wilson limits, the difference d = p_b - p_a
    reaches down to d - sqrt((p_b - l_b)^2 + (u_a - p_a)^2) and up to
    d + sqrt((u_b - p_b)^2 + (p_a - l_a)^2).

    Takes:  yes_a, of_a  yes and trials of the first; 0 <= yes <= trials, trials >= 1
            yes_b, of_b  the same of the second
            confidence   0 < c < 1
    Gives:  Interval within -1 to 1, second less first
    Fails:  FigureError outside these ranges
    Source: Newcombe, Stat. Med. 17 (1998) 873, method 10, no continuity correction
    Checked: 3 of 10 against 9 of 10 gives 0.1705 to 0.8090
    """
    interval = shares_difference([(yes_a, of_a, yes_b, of_b)], (confidence,)).intervals[0]
    assert interval is not None
    return interval


def shares_difference(
    tables: Sequence[laws.StratumCounts], confidences: Sequence[float] = (0.95,)
) -> ShiftEstimate:
    """Estimate the difference of two shares within strata, with square-and-add intervals.

    The difference is that of Mantel and Haenszel: each stratum's difference
    weighted by w = n_a n_b / (n_a + n_b). Each side's weighted share has the
    variance of a share among n* = 1 / sum(w^2 / n) trials, weights summing to 1
    (exactly so when its strata agree, and no less when they do not); Wilson limits
    at n* are joined by squaring and adding. One stratum gives Newcombe's interval.

    Takes:  tables       of each stratum: yes and trials of the first, yes and
                         trials of the second; strata with one side alone weigh nothing
            confidences  each 0 < c < 1
    Gives:  the shift within -1 to 1, second less first, an interval a confidence
    Fails:  FigureError if no stratum has both sides, or yes exceeds trials
    Source: Mantel and Haenszel 1959, weights as Greenland and Robins, Biometrics
            41 (1985) 55; square-and-add: Newcombe 1998 method 10, and as a
            general rule (MOVER) Zou and Donner, Stat. Med. 27 (2008) 1693; near
            kin of the stratified interval of Yan and Su, Stat. Biopharm. Res. 2
            (2010) 329, with n* in the place of each stratum's own Wilson limits,
            which do not exist for strata of all yes or all no
    Checked: one stratum against Newcombe's Table II
    """
    used = laws.comparable_tables(tables)
    raw = [Fraction(of_a * of_b, of_a + of_b) for _, of_a, _, of_b in used]
    whole = sum(raw)
    weights = [weight / whole for weight in raw]
    rows = list(zip(weights, used, strict=True))
    p_a = sum(w * Fraction(yes, of) for w, (yes, of, _, _) in rows)
    p_b = sum(w * Fraction(yes, of) for w, (_, _, yes, of) in rows)
    n_a = float(1 / sum(w * w / of for w, (_, of, _, _) in rows))
    n_b = float(1 / sum(w * w / of for w, (_, _, _, of) in rows))
    difference = float(p_b - p_a)
    intervals: list[Interval] = []
    for confidence in confidences:
        z = _normal_quantile(confidence)
        low_a, high_a = _wilson_ends(float(p_a), n_a, z)
        low_b, high_b = _wilson_ends(float(p_b), n_b, z)
        down = math.hypot(float(p_b) - low_b, high_a - float(p_a))
        up = math.hypot(high_b - float(p_b), float(p_a) - low_a)
        low, high = max(-1.0, difference - down), min(1.0, difference + up)
        intervals.append(Interval(low + 0.0, high + 0.0))
    return ShiftEstimate(difference + 0.0, tuple(intervals))


def _median(values: Sequence[int]) -> float:
    """Median of sorted whole numbers."""
    half = len(values) // 2
    return values[half] if len(values) % 2 else (values[half - 1] + values[half]) / 2


def _lowest_accepted(points: Sequence[int], tail: Callable[[int], bool]) -> int:
    """The lowest of sorted points that is not rejected as a shift.

    ``tail`` says whether a shift is not rejected. A point counts as not rejected if the shift
    at it, or the one just above it, is not. The last point always counts: above it the second
    label wins no pair, which no permutation can undercut.
    """

    def is_accepted(place: int) -> bool:
        here = points[place]
        # Grid values are multiples of 4, so the middle of two is off every point.
        above = (here + points[place + 1]) // 2 if place + 1 < len(points) else here + 2
        return tail(above) or tail(here)

    last = len(points) - 1
    if len(points) <= TRY_EVERY:
        return next(points[place] for place in range(last + 1) if is_accepted(place))
    rejected, accepted = -1, last
    while accepted - rejected > 1:
        half = (rejected + accepted) // 2
        if is_accepted(half):
            accepted = half
        else:
            rejected = half
    for place in range(max(0, accepted - FURTHER_OUT), accepted):
        if is_accepted(place):
            return points[place]
    return points[accepted]


def _tail_probability(confidence: float) -> Fraction:
    """The probability outside an interval on one side: 1/40 for 0.95."""
    if not 0 < confidence < 1:
        raise FigureError(f"a confidence of {confidence} is not between 0 and 1")
    # 0.95 means 95 in a hundred, not its nearest binary float.
    return (1 - Fraction(str(confidence))) / 2


# From a shift to the number of permutations with at least the observed sum, and of all.
Counted = Callable[[int], tuple[int, int]]


def _tail(below: Sequence[int], observed: int) -> tuple[int, int]:
    """Permutations with a sum of at least ``observed``, and all, from the counts up to each sum."""
    return below[-1] - (below[observed - 1] if observed else 0), below[-1]


def _ranks_tail(grids: Sequence[laws.StratumGrid]) -> Counted:
    """A function that gives the upper tail of the rank-sum test after a shift is taken off."""

    # Intervals of several confidences ask for the same shifts.
    @cache
    def counted(shift: int) -> tuple[int, int]:
        moved = [(first, tuple(value - shift for value in second)) for first, second in grids]
        patterns, wins = laws.tie_patterns(moved)
        return _tail(laws.cumulative_counts(patterns), wins)

    return counted


def _signs_tail(doubled: Sequence[int]) -> Counted:
    """A function that gives the upper tail of the signed-rank test after a shift is taken off."""

    @cache
    def counted(shift: int) -> tuple[int, int]:
        moved = [value - shift for value in doubled if value != shift]
        if not moved:
            return 1, 1
        ranks, below = laws.signed_rank_counts([abs(value) for value in moved])
        return _tail(below, sum(r for r, value in zip(ranks, moved, strict=True) if value > 0))

    return counted


def _ends_by_inversion(
    up: Counted, down: Counted, points: Sequence[int], ways: int, confidence: float
) -> tuple[int, int] | None:
    """Ends of the interval of all shifts that a test does not reject on either side.

    ``up`` is its upper tail, ``down`` that of the mirrored values, ``points`` the shifts that
    can be ends. None where one permutation out of ``ways`` already has more than the tail
    probability: then the test cannot reject any shift.
    """
    tail = _tail_probability(confidence)
    if tail.denominator > tail.numerator * ways:
        return None

    def not_rejected(counted: Counted, shift: int) -> bool:
        as_large, of = counted(shift)
        return as_large * tail.denominator > tail.numerator * of

    low = _lowest_accepted(points, partial(not_rejected, up))
    high = -_lowest_accepted([-point for point in reversed(points)], partial(not_rejected, down))
    return low, high


def _shift_estimate(
    ordered: Sequence[int],
    scale: int,
    ends_at: Callable[[float], tuple[int, int] | None],
    confidences: Sequence[float],
) -> ShiftEstimate:
    """The median of sorted differences, and for each confidence the interval of ``ends_at``.

    Differences and ends are grid points, ``scale`` times as large as they should be.
    """
    intervals = []
    for confidence in confidences:
        ends = ends_at(confidence)
        intervals.append(ends and Interval(*(laws.from_grid(end / scale) for end in ends)))
    return ShiftEstimate(laws.from_grid(_median(ordered) / scale), tuple(intervals))


def _ends_by_rank(
    ordered: Sequence[int], below: Sequence[int] | None, variance: float, confidence: float
) -> tuple[int, int] | None:
    """Ends of an interval by their place among the ordered differences, ties disregarded.

    ``below`` counts the permutations up to each sum; if it is None, the sum is taken as
    normal with this variance. None where the confidence cannot be reached.
    """
    if below is None:
        middle = len(ordered) / 2 - 0.5
        place = max(0, math.floor(middle - _normal_quantile(confidence) * math.sqrt(variance)))
    else:
        tail = _tail_probability(confidence)
        place = -1 + sum(ways * tail.denominator <= tail.numerator * below[-1] for ways in below)
        if place < 0:
            return None
    return ordered[place], ordered[-1 - place]


def shift_difference(
    strata: Sequence[laws.StratumValues], confidences: Sequence[float] = (0.95,)
) -> ShiftEstimate:
    """Estimate the shift of the second label's values from pairs within strata.

    The estimate is the median of all differences second less first within strata
    (Hodges and Lehmann). The interval holds every shift that the rank-sum test,
    ties as they are, does not reject once it is subtracted from the second label's
    values; its ends are such differences. Beyond MOST_PAIRS_INVERTED pairs the ends'
    places among the ordered differences come from the null distribution without ties,
    beyond MOST_PAIRS_EXACT from its normal approximation.

    Takes:  strata       values of the first and of the second label of each;
                         finite; one or more strata with both
            confidences  each 0 < c < 1
    Gives:  the shift; an interval is None where even the most extreme deal of the
            labels is likelier than half of 1 - c
    Fails:  FigureError if no stratum has both labels, or a value is not finite
    Source: Hodges and Lehmann, Ann. Math. Stat. 34 (1963) 598; interval by
            inversion: Hollander and Wolfe, Nonparametric Statistical Methods
    Checked: 3 against 3 has no 95 % interval; without ties the ends are those of
            the order statistics of the differences
    """
    grids = laws.comparable_grids(strata)
    ordered = sorted(y - x for first, second in grids for x in first for y in second)
    if len(ordered) > MOST_PAIRS_INVERTED:
        below: tuple[int, ...] | None = None
        if len(ordered) <= MOST_PAIRS_EXACT:
            untied = [((1,) * (len(a) + len(b)), len(b)) for a, b in grids]
            # Without ties every sum is a whole number of pairs, twice of it even.
            below = laws.cumulative_counts(untied)[::2]
        variance = sum(len(a) * len(b) * (len(a) + len(b) + 1) / 12 for a, b in grids)
        return _shift_estimate(
            ordered, 1, partial(_ends_by_rank, ordered, below, variance), confidences
        )
    up, down = _ranks_tail(grids), _ranks_tail([(second, first) for first, second in grids])
    points = sorted(set(ordered))
    ways = math.prod(math.comb(len(a) + len(b), len(b)) for a, b in grids)
    return _shift_estimate(
        ordered, 1, partial(_ends_by_inversion, up, down, points, ways), confidences
    )


def paired_difference(
    differences: Sequence[float], confidences: Sequence[float] = (0.95,)
) -> ShiftEstimate:
    """Estimate the shift of paired differences from zero.

    The estimate is the median of the means of every two differences (each with
    itself too). The interval holds every shift that the signed-rank test, ties as
    they are, does not reject. Beyond MOST_PAIRS_INVERTED such means it is worked
    out as in ``shift_difference``.

    Takes:  differences  one or more; finite
            confidences  each 0 < c < 1
    Gives:  the shift; an interval is None with too few differences for one (95 %
            needs six)
    Fails:  FigureError if there is no difference, or one is not finite
    Source: Hodges and Lehmann 1963; Tukey's construction, as in Hollander and Wolfe
    Checked: five differences have no 95 % interval
    """
    if not differences:
        raise FigureError("there is no difference to estimate")
    grid = laws.to_grid(differences)
    # Twice the means, so that they stay whole; the differences are doubled alike.
    means = sorted(x + y for i, x in enumerate(grid) for y in grid[i:])
    count = len(grid)
    if len(means) > MOST_PAIRS_INVERTED:
        below: tuple[int, ...] | None = None
        if count <= MOST_SIGNS_EXACT:
            below = laws.signed_rank_counts(range(1, count + 1))[1][::2]
        variance = count * (count + 1) * (2 * count + 1) / 24
        return _shift_estimate(
            means, 2, partial(_ends_by_rank, means, below, variance), confidences
        )
    up, down = _signs_tail([2 * value for value in grid]), _signs_tail([-2 * x for x in grid])
    ends_at = partial(_ends_by_inversion, up, down, sorted(set(means)), 2**count)
    return _shift_estimate(means, 2, ends_at, confidences)
