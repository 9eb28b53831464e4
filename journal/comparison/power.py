"""How many more trials would tell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Literal

from journal.errors import FigureError

# Chance that a difference which matters is found: the customary four in five.
POWER = 0.8
# More than this many of each is no advice that a studio could follow.
MOST = 10_000

Bound = Literal["power", "attainable", "interval"]
# Where more trials would go: a stratum of their own (bars of a new pot), the last
# stratum (pots of further days), or a stratum a pair (a day with a pot of each).
Added = Literal["own", "last", "pairs"]


@dataclass(frozen=True, slots=True)
class More:
    """How many more trials of each variant would tell.

    ``bound`` says what asks for them: "power" to find a difference that matters in
    four of five cases; "attainable", fewer cannot reach the level at all, and the
    spread is not known yet; "interval", there are enough for the power, and the
    interval is to shrink.
    """

    each: int
    bound: Bound


def _normal(probability: float) -> float:
    return NormalDist().inv_cdf(probability)


def _needed(alpha: float, power: float) -> float:
    if not (0 < alpha < 1 and 0 < power < 1):
        raise FigureError(f"alpha {alpha} and power {power} must lie between 0 and 1")
    return (_normal(1 - alpha / 2) + _normal(power)) ** 2


def trials_for_shift(
    shift: float, deviation: float, alpha: float = 0.05, power: float = POWER
) -> int:
    """Trials of each variant for the test of ranks to find a shift.

    n = (z_(1-alpha/2) + z_power)^2 / (6 (P - 1/2)^2), where P is the chance that
    a shifted value is the larger of a pair: Phi(shift / (deviation sqrt 2)) for
    values that spread like the normal law.

    Takes:  shift      > 0
            deviation  of single trials with the same label and stratum; >= 0
            alpha      two-sided level; power; both between 0 and 1
    Gives:  a count, at least that with which the level can be reached
    Fails:  FigureError outside these ranges
    Source: Noether, J. Am. Stat. Assoc. 82 (1987) 645
    Checked: by simulation of the exact test; a shift of one deviation needs 17
    """
    if not (shift > 0 and deviation >= 0 and math.isfinite(shift) and math.isfinite(deviation)):
        raise FigureError(f"a shift of {shift} over a deviation of {deviation} has no power")
    least = least_trials(alpha)
    wins = 1.0 if deviation == 0 else NormalDist().cdf(shift / (deviation * math.sqrt(2)))
    if wins - 0.5 < 1e-6:
        return MOST
    return min(MOST, max(least, math.ceil(_needed(alpha, power) / (6 * (wins - 0.5) ** 2))))


def trials_for_pairs(
    shift: float, deviation: float, alpha: float = 0.05, power: float = POWER
) -> int:
    """Paired differences for the signed-rank test to find a shift.

    n = (z_(1-alpha/2) + z_power)^2 / (3 (P - 1/2)^2), P the chance that the sum
    of two differences lies above zero: Phi(sqrt 2 shift / deviation).

    Takes:  shift      > 0
            deviation  of the differences; >= 0
            alpha      two-sided level; power; both between 0 and 1
    Gives:  a count, at least that with which the level can be reached
    Fails:  FigureError outside these ranges
    Source: Noether 1987
    Checked: by simulation of the exact test
    """
    if not (shift > 0 and deviation >= 0 and math.isfinite(shift) and math.isfinite(deviation)):
        raise FigureError(f"a shift of {shift} over a deviation of {deviation} has no power")
    least = least_pairs(alpha)
    above = 1.0 if deviation == 0 else NormalDist().cdf(math.sqrt(2) * shift / deviation)
    if above - 0.5 < 1e-6:
        return MOST
    return min(MOST, max(least, math.ceil(_needed(alpha, power) / (3 * (above - 0.5) ** 2))))


@lru_cache(maxsize=1024)
def trials_for_shares(
    share: float, difference: float, alpha: float = 0.05, power: float = POWER
) -> int:
    """Trials of each variant for Fisher's test to find a difference of two shares.

    The two shares lie evenly about ``share``, moved inwards where they would leave
    0 to 1. n' = (z_a sqrt(2 p q) + z_b sqrt(p1 q1 + p2 q2))^2 / d^2 with p the mean
    share, and n = n' / 4 (1 + sqrt(1 + 4 / (n' d)))^2.

    Takes:  share       of yes among all trials; 0 to 1
            difference  0 < d <= 1
            alpha       two-sided level; power; both between 0 and 1
    Gives:  a count, at least that with which the level can be reached
    Fails:  FigureError outside these ranges
    Source: Casagrande, Pike and Smith, Biometrics 34 (1978) 483, as in Fleiss,
            Statistical Methods for Rates and Proportions, eq. 3.18 and 3.19
    Checked: shares 0.2 and 0.6 need 28; by the exact power of Fisher's test
    """
    if not (0 <= share <= 1 and 0 < difference <= 1):
        raise FigureError(f"a difference of {difference} about a share of {share} cannot be")
    _needed(alpha, power)
    low = min(max(0.0, share - difference / 2), 1 - difference)
    high = low + difference
    mean = (low + high) / 2
    even = _normal(1 - alpha / 2) * math.sqrt(2 * mean * (1 - mean))
    apart = _normal(power) * math.sqrt(low * (1 - low) + max(0.0, high * (1 - high)))
    rough = (even + apart) ** 2 / difference**2
    count = rough / 4 * (1 + math.sqrt(1 + 4 / (rough * difference))) ** 2
    return min(MOST, max(least_trials(alpha), math.ceil(count)))


def least_trials(alpha: float = 0.05) -> int:
    """Fewest of each, in one stratum, with which p can reach the level at all.

    Takes:  alpha  between 0 and 1
    Gives:  a count
    Fails:  FigureError outside that range
    Source: definition: 2 / C(2n, n) <= alpha
    Checked: 0.05 needs 4 of each
    """
    _needed(alpha, 0.5)
    return next(n for n in range(1, MOST) if alpha * math.comb(2 * n, n) >= 2)


def least_pairs(alpha: float = 0.05) -> int:
    """Fewest pairs with which p can reach the level at all.

    Takes:  alpha  between 0 and 1
    Gives:  a count
    Fails:  FigureError outside that range
    Source: definition: 2 / 2^n <= alpha
    Checked: 0.05 needs 6 pairs
    """
    _needed(alpha, 0.5)
    return next(n for n in range(1, MOST) if alpha * 2**n >= 2)


def least_more(sizes: Sequence[tuple[int, int]], alpha: float, added: Added) -> int:
    """Fewest more of each with which p can reach the level at all.

    Takes:  sizes  trials of both sides in each stratum so far
            alpha  between 0 and 1
            added  where more trials would go
    Gives:  a count; 0 if the level can be reached already
    Fails:  FigureError if alpha is out of range
    Source: definition: 2 / (ways to deal the labels) <= alpha
    Checked: 3 against 3 needs one more of each
    """
    _needed(alpha, 0.5)
    ways = math.prod(math.comb(a + b, b) for a, b in sizes)
    a, b = sizes[-1] if sizes else (0, 0)
    last = math.comb(a + b, b)

    def ways_with(n: int) -> int:
        if added == "pairs":
            return ways << n
        if added == "own":
            return ways * math.comb(2 * n, n)
        return ways // last * math.comb(a + b + 2 * n, b + n)

    return next(n for n in range(MOST) if alpha * ways_with(n) >= 2)


def more_needed(
    have: int,
    need: int | None,
    least: int,
    within: tuple[float, float] | None,
    difference: float | None,
    matters: float,
) -> More:
    """How many more of each would tell, from what is needed and what there is.

    With fewer than the power asks for, what is missing. With enough, and no verdict
    for all that, the 90 % interval is to shrink to the room that the difference
    leaves: up to ``matters`` if it lies below it, else down to zero; never less
    room than a quarter of ``matters``.

    Takes:  have        trials of the variant with fewer; >= 0
            need        trials of each for the power; None if the spread is not known
            least       fewest more with which the level can be reached
            within      the 90 % interval; None if there is none
            difference  as estimated; None if there is none
            matters     the smallest difference worth the name; > 0
    Gives:  More, at least 1
    Fails:  never
    Source: definition; the interval shrinks as one over the root of the trials
    Checked: 3 of 16 needed gives 13
    """
    if need is None:
        return More(max(1, least), "attainable")
    if need > have:
        return More(max(least, need - have), "power")
    shrunk = 0
    if within is not None and difference is not None:
        size = abs(difference)
        room = max(matters - size if size < matters else size, matters / 4)
        reach = (within[1] - within[0]) / 2
        shrunk = math.ceil(have * ((reach / room) ** 2 - 1))
    return More(min(MOST, max(1, least, shrunk)), "interval")
