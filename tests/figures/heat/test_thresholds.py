"""Firth's logistic fit against published coefficients, closed forms and a direct search."""

from __future__ import annotations

import csv
import math
from typing import NamedTuple

import numpy as np
import pytest
from paths import REFERENCE
from scipy.optimize import minimize
from scipy.special import chdtri

from journal.errors import FigureError
from journal.figures.heat import thresholds
from journal.figures.heat.thresholds import PourOutcome, Threshold, pour_threshold

PUBLISHED = 5.1e-6  # five decimals
COMPUTED = 2e-6  # the reference file's own search stopped there


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found, name
    return found


class Fit(NamedTuple):
    estimates: list[float]
    std_errors: list[float]
    log_likelihood: float
    intervals: list[tuple[float, float]]


def firth_logistic(
    covariates: list[list[float]],
    outcomes: list[float],
    weights: list[float] | None = None,
    *,
    with_intervals: bool = True,
) -> Fit:
    """All coefficients at the likelihood that the thresholds climb, the intercept first."""
    table = np.column_stack([np.ones(len(outcomes)), np.array(covariates)])
    likelihood = thresholds._Likelihood(
        table, np.array(outcomes), np.ones(len(outcomes)) if weights is None else np.array(weights)
    )
    free = np.eye(table.shape[1])
    best = likelihood.maximise(np.zeros(len(free)), free)
    top = likelihood.at(best)
    errors = np.sqrt(np.diag(np.linalg.inv(top.information))).tolist()

    def interval(index: int) -> tuple[float, float]:
        others = np.delete(free, index, axis=1)
        last = best.copy()

        def fallen(value: float) -> float:
            last[index] = value
            last[:] = likelihood.maximise(last.copy(), others)
            return top.value - thresholds.FALL - likelihood.at(last).value

        centre = float(best[index])
        ends = [
            thresholds._interval_end(fallen, centre, step, centre + 500.0 * step)
            for step in (-errors[index], errors[index])
        ]
        assert ends[0] is not None
        assert ends[1] is not None
        return ends[0], ends[1]

    intervals = [interval(index) for index in range(len(free))] if with_intervals else []
    return Fit(best.tolist(), errors, top.value, intervals)


COVARIATES = ("age", "oc", "vic", "vicl", "vis", "dia")


def sex2() -> tuple[list[list[float]], list[float], list[float]]:
    """The urinary-tract data of Foxman et al. 1997, 239 women, by pattern."""
    table, outcomes, weights = [], [], []
    for row in rows("06-firth-data.csv"):
        for outcome, name in ((1.0, "cases"), (0.0, "non_cases")):
            if int(row[name]):
                table.append([float(row[covariate]) for covariate in COVARIATES])
                outcomes.append(outcome)
                weights.append(float(row[name]))
    assert sum(weights) == 239
    return table, outcomes, weights


# Heinze & Schemper, Stat. Med. 21 (2002) 2409; the R package logistf prints the same
def test_published_coefficients_are_met() -> None:
    fit = firth_logistic(*sex2(), with_intervals=False)
    wanted = {
        row["parameter"]: row for row in rows("06-firth.csv") if row["case"].startswith("sex2")
    }
    for index, name in enumerate(("intercept", *COVARIATES)):
        row = wanted[name]
        assert fit.estimates[index] == pytest.approx(
            float(row["published_or_closed_form"]), abs=PUBLISHED
        )
        assert fit.estimates[index] == pytest.approx(float(row["estimate"]), abs=COMPUTED)
        assert fit.std_errors[index] == pytest.approx(float(row["std_error"]), abs=COMPUTED)
    likelihood = float(wanted["penalised log-likelihood"]["estimate"])
    assert fit.log_likelihood == pytest.approx(likelihood, abs=COMPUTED)


# Profile penalised likelihood limits as R's logistf gives them for these data: two places were read
# (snapshot of the tests of R's package parameters), the others are from memory.
def test_published_intervals_are_met() -> None:
    published = (
        (-0.81856, 1.07315),
        (-1.97379, -0.30743),
        (-0.94144, 0.78920),
        (1.27302, 3.43543),
        (-3.26086, -1.11773),
        (-1.60809, 0.01518),
        (0.77457, 8.03029),
    )
    for found, wanted in zip(firth_logistic(*sex2()).intervals, published, strict=True):
        assert found == pytest.approx(wanted, abs=PUBLISHED)


# Firth, Biometrika 80 (1993) 27: a saturated 2 x 2 table gains half a case in every cell
@pytest.mark.parametrize(
    "row", [r for r in rows("06-firth.csv") if "binary" in r["case"]], ids=lambda r: r["case"]
)
def test_two_by_two_tables_have_a_closed_form(row: dict[str, str]) -> None:
    counts = row["case"].split(",")[0].split(" v ")
    (a, n), (b, m) = (tuple(map(int, part.split("/"))) for part in counts)
    fit = firth_logistic([[1.0], [1.0], [0.0], [0.0]], [1.0, 0.0, 1.0, 0.0], [
        max(a, 1e-12), max(n - a, 1e-12), max(b, 1e-12), max(m - b, 1e-12)
    ], with_intervals=False)  # fmt: skip
    closed = math.log((a + 0.5) * (m - b + 0.5) / ((n - a + 0.5) * (b + 0.5)))
    assert fit.estimates[1] == pytest.approx(closed, abs=COMPUTED)
    assert fit.estimates[1] == pytest.approx(float(row["estimate"]), abs=COMPUTED)
    assert fit.std_errors[1] == pytest.approx(float(row["std_error"]), abs=COMPUTED)


def test_weights_stand_for_repeated_trials() -> None:
    once = firth_logistic([[1.0], [2.0], [3.0]], [0.0, 1.0, 1.0], [2.0, 1.0, 3.0])
    repeated = firth_logistic(
        [[1.0], [1.0], [2.0], [3.0], [3.0], [3.0]], [0.0, 0.0, 1.0, 1.0, 1.0, 1.0]
    )
    assert once.estimates == pytest.approx(repeated.estimates, abs=1e-7)
    for a, b in zip(once.intervals, repeated.intervals, strict=True):
        assert a == pytest.approx(b, abs=1e-4)


def test_the_fall_is_half_of_chi_squared() -> None:
    assert float(chdtri(1, 0.05)) / 2.0 == pytest.approx(thresholds.FALL, rel=1e-12)


# --- thresholds --------------------------------------------------------------------------------


def pours(*entries: tuple[float, float]) -> list[PourOutcome]:
    return [PourOutcome(*entry) for entry in entries]


LIFTED = pours((47, 1), (49, 1), (50, 1), (51, 0.5), (52, 0.5), (54, 0), (55, 0), (57, 0), (59, 0))


def penalised(at: tuple[float, float], seen: list[PourOutcome]) -> float:
    """Firth's penalised log-likelihood, written out for one covariate."""
    level, slope = at
    log_likelihood, information = 0.0, np.zeros((2, 2))
    for pour in seen:
        yes = 1.0 / (1.0 + math.exp(-(level + slope * pour.pour_c)))
        log_likelihood += pour.share * math.log(yes) + (1 - pour.share) * math.log(1 - yes)
        row = np.array([1.0, pour.pour_c])
        information += yes * (1 - yes) * np.outer(row, row)
    return log_likelihood + 0.5 * math.log(float(np.linalg.det(information)))


def test_the_threshold_is_where_a_direct_search_puts_it() -> None:
    found = pour_threshold(LIFTED)
    search = minimize(
        lambda at: -penalised((-at[1] * at[0], at[1]), LIFTED),
        (52.0, -0.5),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-12},
    )
    assert found.at_c == pytest.approx(float(search.x[0]), abs=1e-4)
    assert found.slope_per_k == pytest.approx(float(search.x[1]), abs=1e-4)
    assert found.rises is False
    assert found.why == ""
    assert found.range_c == (47, 59)


def test_the_ends_of_its_interval_lie_where_the_likelihood_has_fallen() -> None:
    found = pour_threshold(LIFTED)
    assert found.at_c is not None
    assert found.slope_per_k is not None
    assert found.interval_c is not None
    top = penalised((-found.slope_per_k * found.at_c, found.slope_per_k), LIFTED)
    for end_c in found.interval_c:
        assert end_c is not None
        best = max(
            penalised((-slope * end_c, slope), LIFTED) for slope in np.linspace(-3, -0.01, 3000)
        )
        assert top - best == pytest.approx(thresholds.FALL, abs=1e-4)
    assert 44.0 < found.interval_c[0] < found.at_c < found.interval_c[1] < 60.0


def test_the_chance_is_even_at_the_threshold_and_falls_with_heat() -> None:
    found = pour_threshold(LIFTED)
    assert found.at_c is not None
    assert found.intercept is not None
    assert found.slope_per_k is not None
    assert found.intercept + found.slope_per_k * found.at_c == pytest.approx(0.0, abs=1e-9)
    assert found.slope_per_k < 0


def test_the_other_scale_gives_the_same_threshold() -> None:
    turned = [PourOutcome(1.8 * pour.pour_c + 32.0, pour.share) for pour in LIFTED]
    celsius, fahrenheit = pour_threshold(LIFTED), pour_threshold(turned)
    assert celsius.at_c is not None
    assert celsius.interval_c is not None
    assert celsius.interval_c[0] is not None
    assert fahrenheit.interval_c is not None
    assert fahrenheit.at_c == pytest.approx(1.8 * celsius.at_c + 32.0, abs=1e-5)
    assert fahrenheit.interval_c[0] == pytest.approx(1.8 * celsius.interval_c[0] + 32.0, abs=1e-4)


def test_the_opposite_outcome_turns_at_the_same_place() -> None:
    turned = [PourOutcome(pour.pour_c, 1.0 - pour.share) for pour in LIFTED]
    found = pour_threshold(turned)
    assert found.rises is True
    assert found.at_c == pytest.approx(pour_threshold(LIFTED).at_c, abs=1e-6)


def test_pours_that_fall_apart_cleanly_have_a_threshold_all_the_same() -> None:
    found = pour_threshold(pours((49, 1), (50, 1), (51, 1), (55, 0), (56, 0), (57, 0)))
    assert found.at_c == pytest.approx(53.0, abs=0.05)
    assert found.interval_c is not None
    low, high = found.interval_c
    assert low is not None
    assert high is not None
    assert low < 51.0
    assert high > 55.0


@pytest.mark.parametrize(
    ("seen", "why"),
    [
        ([], "0 pours are too few"),
        (pours((49, 1)), "1 pour is too few to say what temperature does; it takes 6"),
        (pours((49, 1), (50, 1), (51, 1), (55, 0), (56, 0)), "5 pours are too few"),
        (
            pours(*[(52, share) for share in (0, 1, 0, 1, 1, 0)]),
            "all pours were of one temperature",
        ),
        (pours(*[(50 + i, 0) for i in range(6)]), "it happened in no pour"),
        (pours(*[(50 + i, 1) for i in range(6)]), "it happened in every pour"),
    ],
)
def test_too_few_pours_say_so(seen: list[PourOutcome], why: str) -> None:
    found = pour_threshold(seen)
    assert (found.at_c, found.interval_c) == (None, None)
    assert (found.intercept, found.slope_per_k) == (None, None)
    assert why in found.why


def test_pours_that_show_nothing_say_so() -> None:
    found = pour_threshold(pours((50, 1), (51, 0), (52, 1), (54, 0), (56, 1), (57, 0)))
    assert (found.interval_c, found.rises) == (None, None)
    assert found.why == "the pours do not show yet whether the temperature matters"


def test_pours_alike_at_two_temperatures_have_no_slope_and_no_threshold() -> None:
    found = pour_threshold(pours(*(6 * [(50, 0.5), (58, 0.5)])))
    assert (found.slope_per_k, found.at_c, found.interval_c, found.rises) == (0, None, None, None)
    assert found.why == "the pours do not show yet whether the temperature matters"


def test_trouble_at_both_ends_has_no_one_threshold() -> None:
    both = pours(
        (46, 1), (47, 1), (48, 1), (50, 0), (52, 0), (54, 0), (55, 0), (58, 1), (60, 1), (61, 1)
    )
    found = pour_threshold(both)
    assert found.both_ends
    assert (found.at_c, found.interval_c, found.rises) == (None, None, None)
    assert "at cool and at hot pours" in found.why


# Why six pours are the least: four cannot be significant however they fall, and five only just
def test_fewer_pours_could_not_tell() -> None:
    four = firth_logistic([[-5.0], [-5.0], [5.0], [5.0]], [1.0, 1.0, 0.0, 0.0]).intervals[1]
    five = firth_logistic([[-5.0]] * 2 + [[5.0]] * 3, [1.0, 1.0, 0.0, 0.0, 0.0]).intervals[1]
    six = firth_logistic([[-5.0]] * 3 + [[5.0]] * 3, [1.0] * 3 + [0.0] * 3).intervals[1]
    assert four[1] > 0.0
    assert -0.001 < five[1] < 0.0
    assert six[1] < -0.04


def test_intervals_hold_the_threshold_19_times_in_20_or_more() -> None:
    generator = np.random.default_rng(9)
    trials, held, closed = 120, 0, 0
    for _ in range(trials):
        at_c = generator.uniform(50.0, 55.0)
        temperatures = generator.uniform(44.0, 62.0, 30)
        odds = 1.0 / (1.0 + np.exp((temperatures - at_c) / 1.5))
        happened = generator.uniform(size=30) < odds
        found: Threshold = pour_threshold(
            [PourOutcome(float(t), float(y)) for t, y in zip(temperatures, happened, strict=True)]
        )
        if found.interval_c is None:
            continue
        closed += 1
        low, high = found.interval_c
        held += (low is None or low <= at_c) and (high is None or at_c <= high)
    assert closed > 0.95 * trials
    # 95 % less 3 binomial errors at 120 trials; with 30 pours it stays a little wide.
    assert held / closed >= 0.89
    assert held < closed


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: PourOutcome(math.nan, 0.5), "a pour temperature must be finite, not nan"),
        (lambda: PourOutcome(50.0, 1.1), "a share of bars lies between 0 and 1, not 1.1"),
    ],
)
def test_what_cannot_be_is_refused(wrong: object, said: str) -> None:
    with pytest.raises(FigureError, match=said):
        wrong()  # type: ignore[operator]
