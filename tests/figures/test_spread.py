"""Mean, deviation and Student's t."""

from __future__ import annotations

import csv
import math

import pytest
from paths import REFERENCE
from scipy.special import stdtr, stdtrit

from journal.errors import FigureError
from journal.figures.common.statistics import mean_and_deviation, t_beyond, t_quantile

PRINTED = 5e-4  # three places in the table
FIVE_PLACES = 5e-6
FOUR_PLACES = 5e-5
SCIPYS = 1e-12  # rounding, larger by what the tail is smaller than 1


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found, name
    return found


@pytest.mark.parametrize(
    ("probability", "freedom", "value"),
    [
        # Student's t, upper points, as printed in any table (from memory).
        (0.975, 1, 12.706),
        (0.975, 11, 2.201),
        (0.95, 10, 1.812),
        (0.995, 19, 2.861),
        (0.5, 3, 0.0),
    ],
)
def test_students_t(probability: float, freedom: int, value: float) -> None:
    assert t_quantile(probability, freedom) == pytest.approx(value, abs=PRINTED)


@pytest.mark.parametrize("freedom", [*range(1, 31), 99, 400])
def test_students_t_is_that_of_scipy(freedom: int) -> None:
    for probability in (1e-3, 0.025, 0.3, 0.49, 0.6, 0.95, 0.975, 0.995, 1 - 0.05 / 60):
        assert t_quantile(probability, freedom) == pytest.approx(
            float(stdtrit(freedom, probability)), rel=SCIPYS
        )
    for value in (0.0, 0.3, 1.0, 2.5, 12.0):
        wanted = 2.0 * float(stdtr(freedom, -value))
        assert t_beyond(value, freedom) == pytest.approx(wanted, abs=SCIPYS)


# The sample correction factor of Handbook 133 is t(0.975, n - 1) / sqrt(n), that of Directive
# 76/211/EEC t(0.995, n - 1) / sqrt(n).
def test_students_t_gives_the_factors_of_both_laws() -> None:
    for row in rows("07-us-sampling-a.csv"):
        if row["factor_computed"]:
            number = int(row["sample_n"])
            factor = t_quantile(0.975, number - 1) / math.sqrt(number)
            assert factor == pytest.approx(float(row["factor_computed"]), abs=FIVE_PLACES)
    for row in rows("07-eu-mean.csv"):
        number = int(row["sample_n"])
        factor = t_quantile(0.995, number - 1) / math.sqrt(number)
        assert factor == pytest.approx(float(row["factor"]), abs=PRINTED)


def test_far_out_the_chance_is_never_below_none() -> None:
    assert 0.0 <= t_beyond(1e9, 7) < SCIPYS
    assert t_beyond(0.0, 4) == 1.0


def test_mean_and_deviation() -> None:
    mean, deviation = mean_and_deviation([2, 4, 4, 4, 5, 5, 7, 9])
    assert mean == 5
    assert deviation == pytest.approx(math.sqrt(32 / 7), rel=1e-15)
    assert mean_and_deviation([96.0]) == (96.0, None)


@pytest.mark.parametrize("row", rows("07-us-worked.csv"), ids=lambda row: row["case"])
def test_worked_lots(row: dict[str, str]) -> None:
    weights = [float(weight) for weight in row["net_weights_g"].split()]
    mean, deviation = mean_and_deviation(weights)
    assert len(weights) == int(row["n"])
    assert mean - int(row["label_g"]) == pytest.approx(float(row["mean_error_g"]), abs=FOUR_PLACES)
    assert deviation == pytest.approx(float(row["s_g"]), abs=FIVE_PLACES)


def test_what_has_no_mean() -> None:
    with pytest.raises(FigureError, match="nothing weighed"):
        mean_and_deviation([])
    for value in (0.0, -1.0, math.nan, math.inf):
        with pytest.raises(FigureError, match=f"a weight of {value} g; it must be above 0"):
            mean_and_deviation([value])
    with pytest.raises(FigureError, match="0 degrees of freedom"):
        t_quantile(0.5, 0)
    for probability, freedom in ((0.0, 3), (1.0, 3), (math.nan, 3)):
        with pytest.raises(FigureError, match=f"a probability of {probability} is not between"):
            t_quantile(probability, freedom)
