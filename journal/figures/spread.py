"""Mean, deviation and Student's t for a handful of weighings."""

from __future__ import annotations

import math
from collections.abc import Sequence

from journal.errors import FigureError


def t_quantile(probability: float, freedom: int) -> float:
    """The value that Student's t stays below with a stated probability.

    Takes:  probability  0 < p < 1; scalar
            freedom      degrees of freedom; >= 1
    Gives:  a number without unit
    Fails:  FigureError if either lies outside its range
    Source: Student 1908; computed by scipy.special.stdtrit
    Checked: p 0.975, 11 degrees gives 2.200985
    """
    if not 0 < probability < 1:
        raise FigureError(f"a probability of {probability} is not between 0 and 1")
    if freedom < 1:
        raise FigureError(f"{freedom} degrees of freedom; Student's t needs at least one")
    from scipy.special import stdtrit

    return float(stdtrit(freedom, probability))


def mean_and_deviation(values: Sequence[float]) -> tuple[float, float | None]:
    """Mean of some weights, and the deviation of the sample.

    s = sqrt(sum (x - mean)^2 / (n - 1))

    Takes:  values  one or more; finite, > 0
    Gives:  mean, and s or None for a single value
    Fails:  FigureError if there is no value, or one is not above 0
    Source: definition
    Checked: 2, 4, 4, 4, 5, 5, 7, 9 gives 5 and sqrt(32 / 7)
    """
    if not values:
        raise FigureError("there is nothing weighed")
    for value in values:
        if not (math.isfinite(value) and value > 0):
            raise FigureError(f"a weight of {value} g; it must be above 0")
    mean = math.fsum(values) / len(values)
    if len(values) == 1:
        return mean, None
    squares = math.fsum((value - mean) ** 2 for value in values)
    return mean, math.sqrt(squares / (len(values) - 1))
