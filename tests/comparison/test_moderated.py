"""The t test of pots, against a reference library, by hand, and by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy
from verdict_grid import MEASURES, Cell, students_law, told, told_at_looks

from journal.comparison.moderated import (
    PRIOR_DF,
    PotScatter,
    block_shift,
    borrows,
    mixture,
    moderated_t_test,
    scatter_ratio,
)
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
    """scipy's F density of each variance over the typical one, each prior df weighing itself."""
    variances, df = [2.0, 1.0, 0.7], [4, 3, 5]
    law = mixture([variances], df)
    one, other = 10, 150
    logs = []
    for place in (one, other):
        prior = law.df[place] - 4
        typical = (law.variance[0, place] * law.df[place] - 4 * 2.0) / prior
        logs.append(
            math.log(prior)
            + sum(
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
    # Smyth 2004, section 6.2: log s^2 lies digamma(d/2) - log(d/2) beside the true one on average.
    lower = scipy.special.digamma(1.5) - math.log(1.5)
    typical = 0.1 * (0.8 * 1.2) ** 0.25 / math.exp(lower)
    assert close.ratio == pytest.approx(math.sqrt(0.5 / typical))
    assert not close.is_unlike
    closer = moderated_t_test(shift, [PotScatter(v / 12, 3) for v in (0.8, 1.0, 1.2, 1.0)])
    assert closer.is_unlike


def test_pots_like_all_others_have_a_ratio_of_one() -> None:
    """Designs of one true scatter: in the middle of their logarithms, however few their pots."""
    chance = np.random.default_rng(41)
    df = (1, 2, 3, 9)
    others = np.stack([chance.chisquare(d, 4000) / d for d in df], axis=1)
    logs = np.log(scatter_ratio(np.hstack([np.ones((4000, 1)), others]), df))
    assert logs.mean() == pytest.approx(0.0, abs=4 * logs.std() / math.sqrt(4000))


def test_many_notebooks_and_many_designs_at_once() -> None:
    """Each row is the notebook alone; more designs of one df than are multiplied at once."""
    variances = np.random.default_rng(43).chisquare(3, (3, 41)) / 3
    df = [2, *[3] * 20, *[5] * 20]
    together = mixture(variances, df)
    for number, row in enumerate(variances):
        alone = mixture([row], df)
        assert together.weight[number] == pytest.approx(alone.weight[0], abs=1e-12)
    # The likelihood of one law, by scipy's F density.
    a, b = (4 * 31 + 15, 5 * 31 + 14)
    prior = together.df - 2
    typical = (together.variance[0] * together.df - 2 * variances[0, 0]) / prior
    heights = [
        math.log(prior[at])
        + sum(
            scipy.stats.f.logpdf(v / typical[at], d, prior[at]) - math.log(typical[at])
            for v, d in zip(variances[0], df, strict=True)
        )
        for at in (a, b)
    ]
    found = math.log(together.weight[0, a] / together.weight[0, b])
    assert found == pytest.approx(heights[0] - heights[1], rel=1e-6)


def test_the_table_of_students_law_is_scipys() -> None:
    df = np.repeat([prior + 2.0 for prior in PRIOR_DF], 5)
    t = -np.exp(np.random.default_rng(47).uniform(-6, 4, (50, len(df))))
    assert students_law(df, t) == pytest.approx(scipy.special.stdtr(df, t), rel=0, abs=2e-6)


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


# Looks after equal parts, and the bound of each: Pocock, Biometrika 64 (1977) 191, table 1, as
# other programs' tables repeat it.
POCOCK = {2: 2.178, 3: 2.289, 4: 2.361, 5: 2.413}


def test_the_bounds_of_equal_looks_are_pococks() -> None:
    """Sums of normal values, looked at after each part: the largest of them that 5 % exceed."""
    steps = np.random.default_rng(1977).standard_normal((200_000, 5))
    seen = np.abs(np.cumsum(steps, axis=1)) / np.sqrt(np.arange(1, 6))
    for looks, bound in POCOCK.items():
        found = np.quantile(seen[:, :looks].max(axis=1), 0.95)
        # Four errors of such a quantile of so many.
        assert found == pytest.approx(bound, abs=0.016)
    level = 2 * scipy.stats.norm.sf(POCOCK[2])
    assert pytest.approx((level, level), abs=0.0015) == LOOK_LEVELS


def test_told_as_often_as_claimed() -> None:
    """Two deviations of a bar, two pots of each, six other designs alike: in 60 % or more."""
    cell = Cell(MEASURES[0], 6, 0.0, 0.2, 2, 3, effect=2.0)
    assert told(np.random.default_rng(31), cell, 600)["moderated"] >= 0.60
