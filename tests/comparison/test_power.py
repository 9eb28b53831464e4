"""The chance that a test tells, against a reference library and by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower

from journal.comparison.moderated import PotScatter, block_shift, moderated_t_test
from journal.comparison.power import chance_of_next_look, chance_of_plan, effect_variance
from journal.errors import FigureError

# A scatter that is as good as known: that of thirty designs, all alike.
KNOWN = [PotScatter(4.0, 1000)] * 30


@pytest.mark.parametrize(("effect", "pots"), [(1.0, 17), (0.5, 40), (2.0, 6)])
def test_a_plan_has_the_power_of_students_test(effect: float, pots: int) -> None:
    """statsmodels' power of the two-sample t test; a typical scatter is worth 60 df here."""
    expected = TTestIndPower().power(
        effect_size=effect, nobs1=pots, alpha=0.05, df=60 + 2 * pots - 2
    )
    got = chance_of_plan(2 * effect, KNOWN, 2 / pots, 2 * pots - 2, 0.05)
    assert got == pytest.approx(expected, abs=0.03)


def test_more_pots_tell_more() -> None:
    others = [PotScatter(v, 3) for v in (0.5, 1.0, 2.0, 1.2)]
    chances = [chance_of_plan(1.5, others, 2 / n, 2 * n - 2, 0.03) or 0.0 for n in (2, 3, 4, 8)]
    assert chances == sorted(chances)
    assert 0.0 < chances[0] < chances[-1] < 1.0


def test_no_scatter_no_chance() -> None:
    assert chance_of_plan(1.0, [], 1.0, 2, 0.05) is None
    alone = block_shift([([1.0], [2.0])])
    assert chance_of_next_look(alone, [], 1.0, 2.0, 0.03) is None
    with pytest.raises(FigureError, match="cannot be"):
        chance_of_next_look(alone, KNOWN, 1.0, 1.0, 0.03)


def test_effects_of_the_notebook() -> None:
    """Two effects of 2 and of 1 deviations, each with a variance of half a trial's."""
    assert effect_variance([]) == 1.0
    assert effect_variance([(2.0, 0.5), (1.0, 0.5)]) == pytest.approx((1 + 3.5 + 0.5) / 3)
    assert effect_variance([(0.0, 0.5)] * 9) == 0.25


def test_the_next_look_tells_as_often_as_it_is_said() -> None:
    """Chances said after three pots of each, held against what six told: 300 questions.

    Within 12 points in each third; drawn are effect, scatter, and other designs.
    """
    chance = np.random.default_rng(2023)
    said, told = [], []
    for _ in range(300):
        scatters = np.exp(chance.standard_normal(7) * 0.35)
        effect = chance.standard_normal() * scatters[0]
        others = [
            PotScatter(float(chance.standard_normal(4).var(ddof=1)) * float(s) ** 2, 3)
            for s in scatters[1:]
        ]
        a, b = (chance.standard_normal(6) * scatters[0] + side * effect for side in (0, 1))
        now = block_shift([(a[:3].tolist(), b[:3].tolist())])
        got = chance_of_next_look(now, others, 1.0, 2.0, 0.028)
        assert got is not None
        said.append(got)
        last = moderated_t_test(block_shift([(a.tolist(), b.tolist())]), others)
        told.append(last.p <= 0.028)
    order = np.argsort(said)
    for third in np.array_split(order, 3):
        expected, found = np.mean([said[n] for n in third]), np.mean([told[n] for n in third])
        # Of a hundred such answers the error of the share itself is five points.
        assert abs(expected - found) < 0.12, (expected, found)
    assert math.isclose(np.mean(said), np.mean(told), abs_tol=0.06)
