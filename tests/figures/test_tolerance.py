"""Tolerance limits: printed factors, drawn pivotal quantities, groups that tell nothing apart."""

from __future__ import annotations

import math
from statistics import NormalDist, fmean, stdev

import numpy as np
import pytest

from journal.errors import FigureError
from journal.figures.common import tolerance
from journal.figures.common.tolerance import tolerance_limit

# One value a group: the factors of the normal one-sided limit. NIST/SEMATECH e-Handbook 7.2.6.3
# works one out, 43 wafers, 90 % and 99 %, as 1.8752, where it calls the exact one 1.8740; the
# others are those of any table (Natrella, Handbook 91, Table A-7; from memory).
FACTORS = [
    (43, 0.90, 0.99, 1.8740),
    (10, 0.90, 0.95, 2.355),
    (10, 0.95, 0.95, 2.911),
    (3, 0.95, 0.95, 7.656),
]
POURS = (
    [98.0, 99, 97.5, 98.2, 99, 98.8],
    [97.0, 98, 98.4, 97.7, 98.1, 99.1],
    [98.0, 98.5, 99.5, 97.2],
)


@pytest.mark.parametrize(("count", "share", "confidence", "factor"), FACTORS)
def test_factors_as_printed(count: int, share: float, confidence: float, factor: float) -> None:
    values = np.random.default_rng(1).normal(98, 2, count).tolist()
    found = tolerance_limit([[value] for value in values], share, confidence)
    assert (fmean(values) - found.limit) / stdev(values) == pytest.approx(factor, abs=6e-4)
    z = NormalDist().inv_cdf(share)
    assert found.estimate == pytest.approx(fmean(values) - z * stdev(values))


@pytest.mark.parametrize(
    "pours", [POURS, ([98.0, 99], [97.0, 98.4, 97]), ([98.0, 90, 102], [98.0, 99, 92], [97.0, 91])]
)
def test_the_limit_is_that_of_the_pivotal_quantity_drawn(pours: tuple[list[float], ...]) -> None:
    """400,000 draws, whose quantile is good to some 0.5 % of the distance from the mean."""
    means = [fmean(pour) for pour in pours]
    mean, groups, count = fmean(means), len(pours), sum(map(len, pours))
    between = sum((one - mean) ** 2 for one in means)
    within = sum((x - own) ** 2 for pour, own in zip(pours, means, strict=True) for x in pour)
    part = 1 - fmean(1 / len(pour) for pour in pours)
    random = np.random.default_rng(7)
    of_groups = between / random.chisquare(groups - 1, 400_000)
    of_values = part * within / random.chisquare(count - groups, 400_000)
    drawn = mean - random.normal(size=400_000) * np.sqrt(of_groups / groups)
    drawn -= NormalDist().inv_cdf(0.975) * np.sqrt(of_groups + of_values)
    limit = tolerance_limit(pours, 0.975, 0.95).limit
    assert mean - limit == pytest.approx(mean - float(np.quantile(drawn, 0.05)), rel=0.01)


def test_twice_the_points_say_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    coarse = tolerance_limit(POURS, 0.975, 0.95)
    monkeypatch.setattr(tolerance, "POINTS_BETWEEN", 128)
    monkeypatch.setattr(tolerance, "POINTS_WITHIN", 64)
    fine = tolerance_limit(POURS, 0.975, 0.95)
    mean = fmean(map(fmean, POURS))
    assert mean - coarse.limit == pytest.approx(mean - fine.limit, rel=1e-3)


def test_groups_and_values_that_do_not_differ() -> None:
    assert tolerance_limit([[96.4] * 5] * 2, 0.975, 0.95).limit == pytest.approx(96.4)
    # A deviation of 2 g beside them: 1.96 of it below.
    added = tolerance_limit([[96.4] * 5] * 2, 0.975, 0.95, 4.0)
    assert added.estimate == pytest.approx(96.4 - 1.959964 * 2)
    assert added.limit == pytest.approx(added.estimate, abs=1e-6)


def test_one_group_has_no_limit() -> None:
    with pytest.raises(FigureError, match="needs two"):
        tolerance_limit([[96.0, 97.0]], 0.975, 0.95)
    assert math.isfinite(tolerance_limit([[96.0], [97.0]], 0.975, 0.95).limit)
