"""A limit that most single values of a grouped sample stay above."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist, fmean
from typing import NamedTuple

from journal.errors import FigureError
from journal.figures.common.find_zero import find_zero

# Points of the chi-squared distributions, between and within groups: with twice as many the limit
# moves by less than 0.1 % of its distance from the mean (test_tolerance.py).
POINTS_BETWEEN, POINTS_WITHIN = 64, 32
# Of the limit's distance from the mean.
PRECISION = 1e-12


class ToleranceLimit(NamedTuple):
    """The value that a share of all single values lies above: estimated, and at the least."""

    estimate: float
    limit: float


def tolerance_limit(
    groups: Sequence[Sequence[float]], share: float, confidence: float, added: float = 0.0
) -> ToleranceLimit:
    """The lower tolerance limit of single values that come in groups which differ.

    Groups and the values within them are taken as normal (one-way random effects). Of all
    values, of these groups and of others, at least ``share`` lie above the limit, in
    ``confidence`` of such samples. Groups may differ in size. The generalised pivotal quantity
    is integrated, not drawn.

    Takes:  groups      two or more, of one value or more each; finite
            share       0.5 < share < 1; scalar
            confidence  0.5 < confidence < 1; scalar
            added       variance that single values have beside what is seen in these; >= 0
    Gives:  in the unit of the values
    Fails:  FigureError below two groups
    Source: Krishnamoorthy & Mathew, Technometrics 46 (2004) 44-52, unbalanced one-way random
            model (from memory); with one value a group it is the normal tolerance limit
    Checked: the normal one's factors, NIST/SEMATECH e-Handbook 7.2.6.3; drawn pivotal quantities;
            coverage by tests/coverage_of_weights.py
    """
    if len(groups) < 2:
        raise FigureError(f"{len(groups)} groups of values; a limit over groups needs two")
    means = [fmean(group) for group in groups]
    mean = fmean(means)
    between = math.fsum((one - mean) ** 2 for one in means)
    freedom = sum(map(len, groups)) - len(groups)
    within = math.fsum(
        (value - own) ** 2 for group, own in zip(groups, means, strict=True) for value in group
    )
    # What the spread of the group means does not hold of the spread within groups.
    part = 1.0 - fmean(1.0 / len(group) for group in groups)
    # Spread of the sums of squares over a few parts in 1e12 would be that of rounding.
    least = (1e-12 * max(abs(mean), 1e-300)) ** 2
    quantile = NormalDist().inv_cdf(share)
    root = math.sqrt(len(groups))
    inner = [(1.0, 0.0)]
    if freedom:
        inner = [
            (weight, part * within / chi) for chi, weight in _chi_squared(freedom, POINTS_WITHIN)
        ]
    points = []
    for chi, weight in _chi_squared(len(groups) - 1, POINTS_BETWEEN):
        of_groups = max(between, least) / chi
        deviation = math.sqrt(of_groups)
        for inner_weight, of_values in inner:
            total = math.sqrt(of_groups + of_values + added)
            points.append((weight * inner_weight * 0.5, root / deviation, quantile * total))

    erfc, root_2 = math.erfc, math.sqrt(2.0)

    def excess_confidence(distance: float) -> float:
        """The chance that the true limit is less far below the mean, less ``confidence``."""
        # A list of names close by is made in two thirds of the time, a dozen times over all points.
        chance_below = math.fsum(
            [weight * erfc((distance - below) * scale / root_2) for weight, scale, below in points]
        )
        return 1.0 - confidence - chance_below

    seen = between / (len(groups) - 1) + (part * within / freedom if freedom else 0.0) + added
    near, far = 0.0, quantile * math.sqrt(max(seen, least))
    while excess_confidence(far) < 0:
        near, far = far, 2.0 * far
    distance = find_zero(excess_confidence, near, far, far * PRECISION)
    return ToleranceLimit(mean - quantile * math.sqrt(seen), mean - distance)


def _chi_squared(freedom: int, count: int) -> list[tuple[float, float]]:
    """Values and weights to integrate over a chi-squared distribution, even in its logarithm."""
    half = freedom / 2.0
    low = math.log(freedom) + math.log(1e-6) / half - 1.0
    high = math.log(freedom + 8.0 * math.sqrt(2.0 * freedom) + 24.0)
    logs = [low + (high - low) * index / (count - 1) for index in range(count)]
    weights = [
        math.exp(half * log - math.exp(log) / 2.0 - half * math.log(freedom)) for log in logs
    ]
    total = math.fsum(weights)
    return [(math.exp(log), weight / total) for log, weight in zip(logs, weights, strict=True)]
