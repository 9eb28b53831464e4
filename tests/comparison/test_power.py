"""How many more: against simulation of the exact tests and exact power."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.power import TTestIndPower

from journal.comparison.permutation import rank_sum_test, signed_rank_test
from journal.comparison.power import (
    MOST_TRIALS,
    POWER,
    TrialsNeeded,
    least_more,
    least_pairs,
    least_trials,
    shares_power,
    trials_for_pairs,
    trials_for_shares,
    trials_for_shift,
    trials_needed,
)
from journal.errors import FigureError

ROUNDS = 600
# Three standard errors of a share of 0.8 in as many rounds, and what one trial more
# or less does at these numbers.
WITHIN = 3 * math.sqrt(0.8 * 0.2 / ROUNDS) + 0.03


@pytest.mark.parametrize("ratio", [0.7, 1.0, 1.5])
def test_power_for_a_shift(ratio: float) -> None:
    n = trials_for_shift(ratio, 1.0)
    chance = np.random.default_rng(1)
    found = sum(
        rank_sum_test([(list(chance.normal(0, 1, n)), list(chance.normal(ratio, 1, n)))]).p <= 0.05
        for _ in range(ROUNDS)
    )
    assert found / ROUNDS == pytest.approx(POWER, abs=WITHIN)


@pytest.mark.parametrize("ratio", [0.8, 1.2])
def test_power_for_pairs(ratio: float) -> None:
    n = trials_for_pairs(ratio, 1.0)
    chance = np.random.default_rng(2)
    found = sum(signed_rank_test(list(chance.normal(ratio, 1, n))).p <= 0.05 for _ in range(ROUNDS))
    assert found / ROUNDS == pytest.approx(POWER, abs=WITHIN)


def test_a_little_more_than_students_test_needs() -> None:
    # For normal values ranks keep 3 / pi = 95 % of the worth of the values.
    for ratio in (0.3, 0.5, 0.8):
        student = TTestIndPower().solve_power(ratio, alpha=0.05, power=POWER)
        assert trials_for_shift(ratio, 1.0) == pytest.approx(student * math.pi / 3, rel=0.06)


@pytest.mark.parametrize(("low", "high", "n"), [(0.2, 0.6, 9), (0.0, 0.4, 14), (0.5, 1.0, 7)])
def test_power_for_shares_agrees_with_scipy(low: float, high: float, n: int) -> None:
    a = stats.binom.pmf(range(n + 1), n, low)
    b = stats.binom.pmf(range(n + 1), n, high)
    expected = sum(
        a[x] * b[y]
        for x in range(n + 1)
        for y in range(n + 1)
        if stats.fisher_exact([[x, n - x], [y, n - y]])[1] <= 0.05
    )
    assert shares_power(low, high, n) == pytest.approx(expected, abs=1e-9)


def test_one_of_each_tells_nothing() -> None:
    assert shares_power(0.0, 1.0, 1) == 0


@pytest.mark.parametrize(("share", "difference"), [(0.4, 0.4), (0.1, 0.2), (0.9, 0.3)])
def test_fewest_trials_for_shares(share: float, difference: float) -> None:
    n = trials_for_shares(share, difference)
    low = min(max(0.0, share - difference / 2), 1 - difference)
    assert shares_power(low, low + difference, n) >= POWER
    # The power of a discrete test is a saw; one fewer is below, or just above.
    assert shares_power(low, low + difference, n - 1) < POWER + 0.02


def test_many_trials_for_shares_by_the_formula() -> None:
    # p 0.5: n' = (1.95996 sqrt(0.5) + 0.84162 sqrt(0.495))^2 / 0.01 = 391.4;
    # n = 391.4 / 4 (1 + sqrt(1 + 4 / (391.4 x 0.1)))^2 = 411.2.
    assert trials_for_shares(0.5, 0.1) == 412


def test_shares_at_the_edge_move_inwards() -> None:
    assert trials_for_shares(0.0, 0.2) == trials_for_shares(0.1, 0.2)
    assert trials_for_shares(1.0, 0.2) == trials_for_shares(0.9, 0.2)
    # All yes against all no: told apart as soon as anything can be.
    assert trials_for_shares(0.3, 1.0) == least_trials()


def test_least() -> None:
    # 2 / C(8, 4) = 0.029, 2 / C(6, 3) = 0.1; 2 / 2^6 = 0.031, 2 / 2^5 = 0.063.
    assert least_trials() == 4
    assert least_pairs() == 6
    assert trials_for_shift(1.0, 0.0) == 4
    assert trials_for_pairs(1.0, 0.0) == 6
    # Three pairs of variants share the level: 2 / C(10, 5) = 0.0079.
    assert least_trials(0.05 / 3) == 5
    # 2 / C(6, 3) is 0.1 and 2 / 2^5 is 0.0625: the level itself is enough.
    assert least_trials(0.1) == 3
    assert least_pairs(0.0625) == 5


def test_least_more() -> None:
    assert least_more([], 0.05, "own") == 4
    # A pot of 3 against 3 has 20 ways; one more against one more makes 40: 2/40.
    assert least_more([(3, 3)], 0.05, "own") == 1
    # One pot of each: 4 against 4 in all.
    assert least_more([(1, 1)], 0.05, "last") == 3
    # Two days with a pot of each: 2^6 needs four days more.
    assert least_more([(1, 1), (1, 1)], 0.05, "pairs") == 4
    assert least_more([(4, 4)], 0.05, "own") == 0
    # 6 ways so far. A pot of 3 against 3 makes 6 x 20; the same day with 4 against 4 has 70.
    assert least_more([(2, 2)], 0.05, "own") == 3
    assert least_more([(2, 2)], 0.05, "last") == 2
    # Of 2,000 bars there are more ways than a float holds.
    assert least_more([(1000, 1000)], 0.05, "own") == 0


def test_nothing_left_of_a_shift() -> None:
    assert trials_for_shift(1e-9, 1.0) == MOST_TRIALS
    assert trials_for_pairs(1e-9, 1.0) == MOST_TRIALS


def test_more_needed() -> None:
    assert trials_needed(3, 16, 1, None, None, 0.5) == TrialsNeeded(13, "power")
    assert trials_needed(3, 4, 2, None, None, 0.5) == TrialsNeeded(2, "power")
    assert trials_needed(1, None, 3, None, None, 0.5) == TrialsNeeded(3, "attainable")
    assert trials_needed(4, None, 0, None, None, 0.5) == TrialsNeeded(1, "attainable")
    # 20 trials, an interval of +-0.5 about 0.1, room 0.4: 20 (1.5625 - 1) = 11.25.
    assert trials_needed(20, 16, 0, (-0.4, 0.6), 0.1, 0.5) == TrialsNeeded(12, "interval")
    # The difference is larger than what matters: down to zero.
    assert trials_needed(20, 16, 0, (-0.1, 1.5), 0.7, 0.5) == TrialsNeeded(7, "interval")
    # Just below what matters there is no room at all; a quarter is kept.
    assert trials_needed(20, 16, 0, (0.0, 1.0), 0.5 - 1e-9, 0.5) == TrialsNeeded(300, "interval")
    assert trials_needed(20, 16, 0, (-0.1, 0.1), 0.0, 0.5) == TrialsNeeded(1, "interval")


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: trials_for_shift(0.0, 1.0), "a shift of 0.0 over a deviation of 1.0 has no power"),
        (
            lambda: trials_for_shift(1.0, -1.0),
            "a shift of 1.0 over a deviation of -1.0 has no power",
        ),
        (
            lambda: trials_for_shift(1.0, 1.0, alpha=0.0),
            "alpha 0.0 and power 0.8 must lie between 0 and 1",
        ),
        (
            lambda: trials_for_shift(1.0, 1.0, power=1.0),
            "alpha 0.05 and power 1.0 must lie between 0 and 1",
        ),
        (
            lambda: trials_for_shift(math.inf, 1.0),
            "a shift of inf over a deviation of 1.0 has no power",
        ),
        (
            lambda: trials_for_pairs(-1.0, 1.0),
            "a shift of -1.0 over a deviation of 1.0 has no power",
        ),
        (lambda: trials_for_shares(1.2, 0.2), "a difference of 0.2 about a share of 1.2 cannot be"),
        (
            lambda: trials_for_pairs(1.0, 1.0, alpha=1.0),
            "alpha 1.0 and power 0.8 must lie between 0 and 1",
        ),
        (
            lambda: trials_for_pairs(1.0, 1.0, power=0.0),
            "alpha 0.05 and power 0.0 must lie between 0 and 1",
        ),
        (lambda: trials_for_shares(0.5, 0.0), "a difference of 0.0 about a share of 0.5 cannot be"),
        (
            lambda: trials_for_shares(0.5, 0.2, alpha=0.0),
            "alpha 0.0 and power 0.8 must lie between 0 and 1",
        ),
        (
            lambda: trials_for_shares(0.5, 0.2, alpha=1.0),
            "alpha 1.0 and power 0.8 must lie between 0 and 1",
        ),
        (
            lambda: trials_for_shares(0.5, 0.2, power=1.0),
            "alpha 0.05 and power 1.0 must lie between 0 and 1",
        ),
        (
            lambda: shares_power(0.5, 0.6, 4, alpha=1.0),
            "alpha 1.0 and power 0.8 must lie between 0 and 1",
        ),
        (lambda: shares_power(0.5, 1.1, 4), "shares of 0.5 and 1.1 among 4 cannot be"),
        (lambda: shares_power(0.5, 0.6, 0), "shares of 0.5 and 0.6 among 0 cannot be"),
        (lambda: least_trials(1.0), "alpha 1.0 and power 0.8 must lie between 0 and 1"),
        (lambda: least_pairs(0.0), "alpha 0.0 and power 0.8 must lie between 0 and 1"),
        (lambda: least_more([], 2.0, "own"), "alpha 2.0 and power 0.8 must lie between 0 and 1"),
    ],
)
def test_refused(call: object, said: str) -> None:
    assert callable(call)
    with pytest.raises(FigureError, match=said):
        call()
