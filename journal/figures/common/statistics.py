"""Mean, deviation and Student's t for a handful of weighings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from statistics import NormalDist, fmean, stdev

from journal.errors import FigureError


def t_quantile(probability: float, freedom: int) -> float:
    """The value that Student's t stays below with a stated probability.

    Takes:  probability  0 < p < 1; scalar
            freedom      degrees of freedom; >= 1
    Gives:  a number without unit
    Fails:  FigureError if either lies outside its range
    Source: Student 1908; inverted by Newton steps
    Checked: p 0.975, 11 degrees gives 2.200985; SciPy's, over the whole range (test_spread.py)
    """
    if not 0 < probability < 1:
        raise FigureError(f"a probability of {probability} is not between 0 and 1")
    if freedom < 1:
        raise FigureError(f"{freedom} degrees of freedom; Student's t needs at least one")
    if probability == 0.5:
        return 0.0
    above = _upper_quantile(min(probability, 1.0 - probability), freedom)
    return above if probability > 0.5 else -above


def t_quantile_95(freedom: int) -> float:
    """How many standard errors a 95 % interval reaches to either side (Student's t).

    Takes:  freedom  degrees of freedom; >= 1
    Source: definition; the level of NIST Handbook 133's sample correction factor
    """
    return t_quantile(0.975, freedom)


# The variants and designs of a notebook share a few degrees of freedom.
@lru_cache(maxsize=512)
def _upper_quantile(tail: float, freedom: int) -> float:
    """The value that Student's t exceeds with the probability ``tail``, which is below 0.5."""
    if freedom == 1:
        return 1.0 / math.tan(math.pi * tail)
    if freedom == 2:
        return (1.0 - 2.0 * tail) / math.sqrt(2.0 * tail * (1.0 - tail))
    half = freedom / 2.0
    scale = math.exp(math.lgamma(half + 0.5) - math.lgamma(half)) / math.sqrt(math.pi * freedom)
    # The tail is convex, so that Newton steps from the normal quantile, which lies below the
    # root, never overshoot. From the third on each doubles the digits.
    point = -NormalDist().inv_cdf(tail)
    for _ in range(200):
        density = scale * math.exp(-(half + 0.5) * math.log1p(point * point / freedom))
        step = (0.5 * t_beyond(point, freedom) - tail) / density
        point += step
        if abs(step) <= 1e-14 * point:
            break
    return point


def t_beyond(value: float, freedom: int) -> float:
    """The probability that Student's t lies further from 0 than a value, to either side.

    Takes:  value    >= 0; scalar
            freedom  degrees of freedom; >= 1
    Gives:  0 to 1
    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4, from
            memory
    Checked: 2.200985 with 11 degrees gives 0.05
    """
    angle = math.atan2(value, math.sqrt(freedom))
    square = freedom / (freedom + value * value)  # of the angle's cosine
    odd = freedom % 2
    term = math.sqrt(square) if odd else 1.0
    total = term if freedom > 1 else 0.0
    for number in range(2 + odd, freedom - 1, 2):
        term *= square * (number - 1.0) / number
        total += term
    within = math.sin(angle) * total
    if odd:
        within = (angle + within) * 2.0 / math.pi
    return max(0.0, 1.0 - within)


def mean_and_deviation(values: Sequence[float]) -> tuple[float, float | None]:
    """Mean of some weights, and the deviation of the sample.

    s = sqrt(sum (x - mean)^2 / (n - 1))

    Takes:  values  one or more; finite, > 0
    Gives:  mean, and s or None for a single value
    Fails:  FigureError if there is no value, or one is not above 0
    Checked: 2, 4, 4, 4, 5, 5, 7, 9 gives 5 and sqrt(32 / 7)
    """
    if not values:
        raise FigureError("there is nothing weighed")
    for value in values:
        if not (math.isfinite(value) and value > 0):
            raise FigureError(f"a weight of {value} g; it must be above 0")
    return fmean(values), stdev(values) if len(values) > 1 else None
