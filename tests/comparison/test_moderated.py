"""The t test of pots, against a reference library, by hand, and by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy
from verdict_grid import MEASURES, Cell, told, told_at_looks

from journal.comparison.moderated import PotScatter, block_shift, borrows, mixture, moderated_t_test
from journal.comparison.verdict import LOOK_LEVELS
from journal.errors import FigureError

A, B = (1.0, 2.0, 2.5, 4.0), (3.0, 4.0, 5.0, 4.2)


def test_without_others_it_is_students() -> None:
    """scipy's two-sample test, its interval, and its test of pairs."""
    found = moderated_t_test(block_shift([(A, B)]))
    assert found.p == pytest.approx(scipy.stats.ttest_ind(A, B).pvalue, rel=1e-9)
    ends = scipy.stats.ttest_ind(B, A).confidence_interval(0.90)
    assert (found.excess - found.reach[1], found.excess + found.reach[1]) == pytest.approx(
        (ends.low, ends.high), rel=1e-9
    )
    pairs = moderated_t_test(block_shift([((a,), (b,)) for a, b in zip(A, B, strict=True)]))
    assert pairs.p == pytest.approx(scipy.stats.ttest_rel(A, B).pvalue, rel=1e-9)
    assert (pairs.ratio, pairs.designs) == (None, 0)


def test_days_of_unequal_pots() -> None:
    """Least squares of place = day + side, by hand: gaps of 2 and 3 that weigh 2/3 and 1/2."""
    found = block_shift([((0.0, 2.0), (3.0,)), ((1.0,), (4.0,)), ((9.0,), ())])
    assert found.estimate == pytest.approx((2 * 2 / 3 + 3 / 2) / (7 / 6))
    assert found.factor == pytest.approx(6 / 7)
    # Within the first day 1 + 1; gaps about their mean (2/3)(1/2)/(7/6) times 1. 5 - 2 - 1 left.
    assert found.scatter == PotScatter(pytest.approx((2 + 2 / 7) / 2), 2)


def test_the_posterior_variance_is_smyths() -> None:
    """(d0 s0^2 + d s^2) / (d0 + d), for each law of the grid."""
    law = mixture([[2.0, 1.0, 1.0]], [4, 3, 3])
    typical = (law.variance * law.df - 4 * 2.0) / (law.df - 4)
    middle = math.exp(4 * math.log(2.0) / 10)
    assert typical.min() == pytest.approx(middle * math.exp(-3))
    assert typical.max() == pytest.approx(middle * math.exp(3))
    assert set(np.unique(law.df - 4)) == {2, 3, 4, 6, 10, 20, 60}
    assert law.weight.sum() == pytest.approx(1)


def test_the_weights_are_the_scaled_f_law() -> None:
    """scipy's F density of each variance over the typical one."""
    variances, df = [2.0, 1.0, 0.7], [4, 3, 5]
    law = mixture([variances], df)
    one, other = 10, 150
    logs = []
    for place in (one, other):
        prior = law.df[place] - 4
        typical = (law.variance[0, place] * law.df[place] - 4 * 2.0) / prior
        logs.append(
            sum(
                scipy.stats.f.logpdf(v / typical, d, prior) - math.log(typical)
                for v, d in zip(variances, df, strict=True)
            )
        )
    got = math.log(law.weight[0, one] / law.weight[0, other])
    assert got == pytest.approx(logs[0] - logs[1], rel=1e-6)


def test_the_scatter_of_others_counts() -> None:
    """Two pots of each lie 2 apart, among designs whose pots lie close, or far."""
    shift = block_shift([((1.0, 2.0), (3.0, 4.0))])
    close, far = (
        moderated_t_test(shift, [PotScatter(v * s, 3) for v in (0.8, 1.0, 1.2, 1.0)])
        for s in (0.1, 3.0)
    )
    alone = moderated_t_test(shift)
    assert close.p < alone.p
    assert far.p > close.p
    assert close.ratio == pytest.approx(math.sqrt(0.5 / (0.1 * (0.8 * 1.2) ** 0.25)))
    assert close.is_unlike
    assert not far.is_unlike


def test_enough_to_borrow_from() -> None:
    assert borrows([PotScatter(1.0, 2)] * 4)
    assert not borrows([PotScatter(1.0, 9)] * 3)
    assert not borrows([PotScatter(1.0, 1)] * 7)


def test_nothing_to_test_by() -> None:
    with pytest.raises(FigureError, match="degree of freedom"):
        moderated_t_test(block_shift([((1.0,), (2.0,))]))
    with pytest.raises(FigureError, match="alike"):
        moderated_t_test(block_shift([((1.0, 1.0), (2.0, 2.0))]))
    assert moderated_t_test(block_shift([((1.0, 1.0), (2.0, 2.0))]), least=0.01).p < 0.02
    with pytest.raises(FigureError, match="no block"):
        block_shift([((1.0,), ())])


@pytest.mark.parametrize("paired", [False, True])
@pytest.mark.parametrize("measure", MEASURES, ids=lambda one: one.name)
def test_falsely_told_in_one_of_twenty(measure: object, paired: bool) -> None:
    """A short form of the table of DEVELOPERS.md: 600 notebooks, four other designs."""
    cell = Cell(measure, 4, 0.35, 0.35, 3, 3, paired)  # type: ignore[arg-type]
    wrong = told(np.random.default_rng(29), cell, 600)["moderated"]
    # The upper 99 % point of the binomial law, if 5 % is the truth.
    assert wrong <= scipy.stats.binom.ppf(0.99, 600, 0.05) / 600


@pytest.mark.parametrize("until", [2, 4])
def test_looking_twice_is_wrong_no_more_often(until: int) -> None:
    """Looks at ``until`` pots of each and at twice that, against all looks at 0.05."""
    cell = Cell(MEASURES[0], 6, 0.35, 0.35, until, 3)
    first, second = LOOK_LEVELS
    looks = [(until, first), (2 * until, second)]
    wrong = told_at_looks(np.random.default_rng(37), cell, 600, looks)
    assert wrong <= scipy.stats.binom.ppf(0.99, 600, 0.055) / 600
    every = [(pots, 0.05) for pots in range(until, 2 * until + 1)]
    assert told_at_looks(np.random.default_rng(37), cell, 600, every) > wrong


def test_the_levels_are_pococks() -> None:
    """Two equal looks: 2.178 in Pocock, Biometrika 64 (1977) 191, table 1, from memory.

    Of two sums of normal values, one half of the other, by their joint law.
    """
    joint = scipy.stats.multivariate_normal(cov=[[1, math.sqrt(0.5)], [math.sqrt(0.5), 1]])
    within = joint.cdf([2.178, 2.178], lower_limit=[-2.178, -2.178])
    assert 1 - within == pytest.approx(0.05, abs=2e-4)
    level = 2 * scipy.stats.norm.sf(2.178)
    assert pytest.approx((level, level), abs=0.0015) == LOOK_LEVELS


def test_told_as_often_as_claimed() -> None:
    """Two deviations of a bar, two pots of each, six other designs alike: in 60 % or more."""
    cell = Cell(MEASURES[0], 6, 0.0, 0.2, 2, 3, effect=2.0)
    assert told(np.random.default_rng(31), cell, 600)["moderated"] >= 0.60
