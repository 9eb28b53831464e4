"""Bars enough: against scipy's beta-binomial, a published table, and studios made by chance."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import LONG, examples
from scipy import stats

from journal.errors import FigureError
from journal.figures.day.bars_enough import (
    LEAST_JUDGED,
    MOST_TIMES,
    POURS_ALIKE,
    BarsEnough,
    JudgedPour,
    ShareFit,
    _Rounds,
    bars_enough,
    fit_share,
)

ALIKE = (math.inf,)
GRID = (np.arange(100) + 0.5) / 100


def pours(*counts: tuple[int, int]) -> tuple[JudgedPour, ...]:
    return tuple(JudgedPour(*one) for one in counts)


@pytest.mark.parametrize(("alpha", "beta"), [(8.0, 2.0), (21.5, 3.5), (3.0, 3.0)])
@pytest.mark.parametrize("sure", [0.5, 0.9, 0.95])
def test_overage_as_of_scipys_beta_binomial(alpha: float, beta: float, sure: float) -> None:
    """A share that is beta, pours that do not differ: the sum is scipy.stats.betabinom."""
    weights = stats.beta(alpha, beta).pdf(GRID)[:, None]
    rounds = _Rounds(ShareFit(weights / weights.sum(), ALIKE, 0.0), 6)
    least = next(n for n in range(24, 200) if stats.betabinom(n, alpha, beta).sf(23) >= sure)
    for bars in (24, least - 1, least, 60):
        if bars >= 24:
            wanted = stats.betabinom(bars, alpha, beta).sf(23)
            assert rounds.chance(bars, 24) == pytest.approx(wanted, abs=2e-3)
    assert next(n for n in range(24, 200) if rounds.chance(n, 24) >= sure) == least


@pytest.mark.parametrize("alike", [2.0, 8.0])
def test_a_round_of_one_share_is_a_beta_binomial_of_its_own(alike: float) -> None:
    """Two rounds of 6 at a share of 0.805: the sum of two of scipy's."""
    weights = (np.abs(GRID - 0.805) < 1e-9).astype(float)[:, None]
    rounds = _Rounds(ShareFit(weights, (alike,), 0.0), 6)
    one = stats.betabinom(6, 0.805 * alike, 0.195 * alike).pmf(np.arange(7))
    both = np.convolve(one, one)
    for wanted in (6, 9, 12):
        assert rounds.chance(12, wanted) == pytest.approx(both[wanted:].sum())


# Tarone (1982), as Gelman et al., Bayesian Data Analysis, 3rd ed., table 5.1 has it: tumours of
# rats in 71 groups, the last the group in question.
TUMOURS = (
    "0/20 0/20 0/20 0/20 0/20 0/20 0/20 0/19 0/19 0/19 0/19 0/18 0/18 0/17 1/20 1/20 1/20 1/20 1/19"
    " 1/19 1/18 1/18 2/25 2/24 2/23 2/20 2/20 2/20 2/20 2/20 2/20 1/10 5/49 2/19 5/46 3/27 2/17"
    " 7/49 7/47 3/20 3/20 2/13 9/48 10/50 4/20 4/20 4/20 4/20 4/20 4/20 4/20 10/48 4/19 4/19 4/19"
    " 5/22 11/46 12/49 5/20 5/20 6/23 5/19 6/22 6/20 6/20 6/20 16/52 15/46 15/47 9/24 4/14"
)


def test_shrinkage_as_in_a_published_table() -> None:
    """The book has alpha 2.4 and beta 14.3 (sec. 5.3): a mean of 0.144, and 6.4 / 30.7 for the
    last group's 4 of 14, where it would be 0.286 by itself."""
    groups = [pours((int(one.split("/")[0]), int(one.split("/")[1]))) for one in TUMOURS.split()]
    assert len(groups) == 71
    fit = fit_share(groups[-1], groups[:-1], ALIKE)
    assert fit.studio_mean == pytest.approx(2.4 / 16.7, abs=0.005)
    assert float(fit.weights[:, 0] @ GRID) == pytest.approx(6.4 / 30.7, abs=0.01)


HERE = [pours((6, 6), (5, 6)), pours((4, 6)), pours((8, 10), (6, 6)), pours((5, 6))]


def test_a_design_of_few_bars_is_drawn_towards_the_studio() -> None:
    few = bars_enough(pours((2, 2)), HERE, 24, 0.9, 6)
    many = bars_enough(pours((6, 6), (6, 6), (6, 6), (6, 6)), HERE, 24, 0.9, 6)
    none = bars_enough((), HERE, 24, 0.9, 6)
    assert none.share is not None
    assert few.share is not None
    assert many.share is not None
    assert none.share < few.share < many.share < 1
    assert none.bars is not None
    assert few.bars is not None
    assert many.bars is not None
    assert none.bars >= few.bars >= many.bars > 24
    assert (few.kept, few.judged, few.others) == (2, 2, JudgedPour(34, 40))


def test_where_nothing_can_be_said() -> None:
    too_few = bars_enough(pours((5, 6)), [pours((3, 3))], 12, 0.9, 6)
    assert (too_few.bars, too_few.why) == (None, f"{LEAST_JUDGED} bars looked at (keep: yes or no)")
    spoilt = bars_enough(pours((0, 6), (1, 6)), [pours((1, 10))], 12, 0.9, 6)
    assert spoilt.bars is None
    assert spoilt.why.startswith("more bars fit to sell")
    for wrong in ((0, 0.9, 6), (12, 1.0, 6), (12, 0.9, 0)):
        with pytest.raises(FigureError):
            bars_enough((), HERE, *wrong)
    with pytest.raises(FigureError, match="7 of 6 bars"):
        bars_enough(pours((7, 6)), HERE, 12, 0.9, 6)


@given(
    wanted=st.integers(1, 30),
    sure=st.sampled_from([0.5, 0.8, 0.95]),
    a_round=st.none() | st.integers(1, 12),
)
@examples(10)
def test_as_many_as_are_needed_and_no_more(wanted: int, sure: float, a_round: int | None) -> None:
    found = bars_enough(HERE[0], HERE[1:], wanted, sure, a_round)
    if found.bars is None:
        return
    assert wanted <= found.bars <= MOST_TIMES * wanted
    assert found.chance is not None
    assert found.chance >= sure
    rounds = _Rounds(fit_share(HERE[0], HERE[1:]), a_round)
    assert found.bars == wanted or rounds.chance(found.bars - 1, wanted) < sure
    surer = bars_enough(HERE[0], HERE[1:], wanted, 0.97, a_round)
    assert surer.bars is None or surer.bars >= found.bars


def _enough_of(
    rng: np.random.Generator, truth: tuple[float, float, float], alike: tuple[float, ...]
) -> float:
    """How often an order of 24 bars has enough, in one studio of ten designs made by chance."""
    mean, designs, of_pours = truth

    def share_of_pour(share: float) -> float:
        return float(rng.beta(max(share * of_pours, 1e-3), max((1 - share) * of_pours, 1e-3)))

    shares = rng.beta(mean * designs, (1 - mean) * designs, size=10)
    studio = [
        pours(*((int(rng.binomial(6, share_of_pour(share))), 6) for _ in range(rng.integers(1, 4))))
        for share in shares
    ]
    found: BarsEnough = bars_enough(studio[0], studio[1:], 24, 0.9, 6, alike)
    bars = 4 * 24 if found.bars is None else found.bars
    rounds = [6] * (bars // 6) + [bars % 6]
    kept = [
        sum(int(rng.binomial(one, share_of_pour(shares[0]))) for one in rounds) for _ in range(20)
    ]
    return sum(one >= 24 for one in kept) / len(kept)


@pytest.mark.parametrize("truth", [(0.8, 10.0, 8.0), (0.85, 20.0, 4.0)])
def test_so_sure_it_is_in_studios_made_by_chance(truth: tuple[float, float, float]) -> None:
    """90 % of the orders have enough; without the pots as clusters 82 to 88 % would."""
    rng = np.random.default_rng(11)
    studios = 400 if LONG else 30
    found = np.mean([_enough_of(rng, truth, POURS_ALIKE) for _ in range(studios)])
    assert found == pytest.approx(0.9, abs=0.03 if LONG else 0.09)
    if LONG:
        ignoring = np.mean([_enough_of(rng, truth, ALIKE) for _ in range(studios)])
        assert ignoring < found - 0.01
