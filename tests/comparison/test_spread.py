"""Deviations within pots, between pots and between days against published data."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from journal.comparison.observed import ComparedMeasure, ObservedBar
from journal.comparison.scatter import measure_scatter
from journal.comparison.spread import deviation_within, variance_components
from journal.errors import FigureError

PRINTED = 5e-5

# Yield of dyestuff (g), six batches of five: Davies, Statistical Methods in Research
# and Production (1947), Table 6.3; the fit by REML, equal to that by moments for
# balanced data, is in the output of R's lme4: 42.00 and 49.51 (found in two public copies).
DYESTUFF = (
    (1545, 1440, 1440, 1520, 1580),
    (1540, 1555, 1490, 1560, 1495),
    (1595, 1550, 1605, 1510, 1560),
    (1445, 1440, 1595, 1465, 1545),
    (1595, 1630, 1515, 1635, 1625),
    (1520, 1455, 1450, 1480, 1445),
)

# Strength of chemical paste, ten batches, three casks of each, two analyses of each:
# Davies and Goldsmith, Statistical Methods (1972), Table 6.5; the fit by REML in the output of R's
# lme4: 2.9041 casks, 0.8234 analyses and 1.2874 batches (found in public copies).
PASTES = (
    (62.8, 62.6, 60.1, 62.3, 62.7, 63.1),
    (60.0, 61.4, 57.5, 56.9, 61.1, 58.9),
    (58.7, 57.5, 63.9, 63.1, 65.4, 63.7),
    (57.1, 56.4, 56.9, 58.6, 64.7, 64.5),
    (55.1, 55.1, 54.7, 54.2, 58.8, 57.5),
    (63.4, 64.9, 59.3, 58.1, 60.5, 60.0),
    (62.5, 62.6, 61.0, 58.7, 56.9, 57.7),
    (59.2, 59.4, 65.2, 66.0, 64.8, 64.1),
    (54.8, 54.8, 64.0, 64.0, 57.7, 56.8),
    (58.3, 59.3, 59.2, 59.2, 58.9, 56.6),
)

# Yield of oats (quarter pounds a plot) in six blocks of three whole plots, each of one variety and
# split into four with 0, 0.2, 0.4, 0.6 cwt of nitrogen: Yates, J. R. Stat. Soc. Suppl. 2 (1935)
# 181, the split-plot example. The analysis of variance is in the output of R's MASS (found in two
# public copies): mean squares of blocks 3175 (5 df) and of whole plots beside varieties 601.3 (10);
# sums of squares 1786 of varieties, 6013 of whole plots, 322 of nitrogen with variety, 7969 of what
# is left (6 and 45 df). By REML (nlme, two copies): 14.645 blocks, 10.299 whole plots, 13.307.
OATS = {
    "Victory": (
        (111, 130, 157, 174), (61, 91, 97, 100), (68, 64, 112, 86),
        (74, 89, 81, 122), (62, 90, 100, 116), (53, 74, 118, 113),
    ),
    "Golden Rain": (
        (117, 114, 161, 141), (70, 108, 126, 149), (60, 102, 89, 96),
        (64, 103, 132, 133), (80, 82, 94, 126), (89, 82, 86, 104),
    ),
    "Marvellous": (
        (105, 140, 118, 156), (96, 124, 121, 144), (89, 129, 132, 124),
        (70, 89, 104, 117), (63, 70, 109, 99), (97, 99, 119, 121),
    ),
}  # fmt: skip


def oats() -> list[tuple[str, int, int, float]]:
    """Variety, block, nitrogen and yield of each plot: a block is a day, a whole plot a pot."""
    return [
        (variety, block, nitrogen, float(y))
        for variety, blocks in OATS.items()
        for block, plots in enumerate(blocks)
        for nitrogen, y in enumerate(plots)
    ]


def test_a_split_plot_of_what_changes_within_the_whole_plots() -> None:
    varieties, blocks, nitrogen, values = zip(*oats(), strict=True)
    pots = list(zip(blocks, varieties, strict=True))
    found = variance_components(values, pots, blocks, nitrogen, per_pot=False)
    # Varieties and what goes with them are left in, so that they lie with the whole plots.
    plots, within = (1786 + 6013) / 12, (322 + 7969) / 51
    assert found.within_pots == pytest.approx(math.sqrt(within), rel=1e-4)
    assert found.between_pots == pytest.approx(math.sqrt((plots - within) / 4), rel=1e-3)
    assert found.between_days == pytest.approx(math.sqrt((3175 - plots) / 12), rel=1e-3)
    assert found.pots == 18


def test_a_split_plot_of_what_changes_with_the_whole_plot() -> None:
    """The whole plots' error is what pots are told apart by: F = 893.2 / 601.3 = 1.485."""
    weight = ComparedMeasure("weight", "mass", None, 2.0, "g")
    bars = [
        ObservedBar(f"{variety} {block} {n}", f"{block} {variety}", date(1935, 1, block + 1),
                    variety, {"weight": y})
        for variety, block, n, y in oats()
    ]  # fmt: skip
    found = measure_scatter(bars, weight)
    assert found is not None
    assert found.in_day is not None
    assert found.in_day.df == 10
    assert 4 * found.in_day.variance == pytest.approx(601.3, abs=0.05)
    # By REML a whole plot has 10.299^2 of its own and a quarter of 13.307^2.
    assert found.in_day.variance == pytest.approx(10.29863**2 + 13.30727**2 / 4, rel=1e-4)


def test_batches_of_dyestuff() -> None:
    values = [float(y) for batch in DYESTUFF for y in batch]
    pots = [number for number, batch in enumerate(DYESTUFF) for _ in batch]
    found = variance_components(values, pots, pots, [0] * 30, per_pot=True)
    assert found.within_pots == pytest.approx(49.51, abs=0.005)
    assert found.between_pots == pytest.approx(42.00, abs=0.005)
    assert found.between_days is None
    assert found.days_in_pots


def test_casks_of_paste() -> None:
    values = [y for batch in PASTES for y in batch]
    days = [number for number, batch in enumerate(PASTES) for _ in batch]
    pots = [(number, place // 2) for number, batch in enumerate(PASTES) for place in range(6)]
    found = variance_components(values, pots, days, [0] * 60, per_pot=True)
    assert found.within_pots == pytest.approx(0.8234, abs=PRINTED)
    assert found.between_pots == pytest.approx(2.9041, abs=PRINTED)
    assert found.between_days == pytest.approx(1.2874, abs=PRINTED)
    assert found.pots == 30


@pytest.mark.parametrize("per_pot", [True, False])
def test_known_deviations_come_back(per_pot: bool) -> None:
    # Unbalanced pots of several days, a variant's effect of 3 on top.
    chance = np.random.default_rng(5)
    values: list[float] = []
    pots: list[int] = []
    days: list[int] = []
    variants: list[str] = []
    pot = 0
    for day in range(400):
        of_day = chance.normal(0, 1.5)
        for _ in range(int(chance.integers(1, 4))):
            pot += 1
            of_pot = of_day + chance.normal(0, 0.8)
            for place in range(int(chance.integers(1, 5))):
                second = (pot if per_pot else place) % 2 == 1
                values.append(of_pot + 3 * second + chance.normal(0, 0.5))
                pots.append(pot)
                days.append(day)
                variants.append("b" if second else "a")
    found = variance_components(values, pots, days, variants, per_pot)
    # Some 400 days and 800 pots: a deviation is known to about 5 %.
    assert found.within_pots == pytest.approx(0.5, rel=0.1)
    assert found.between_pots == pytest.approx(0.8, rel=0.1)
    assert found.between_days == pytest.approx(1.5, rel=0.15)


def test_nothing_to_tell_it_from() -> None:
    one = variance_components([1.0], ["A"], ["d"], ["close"], per_pot=False)
    assert (one.within_pots, one.between_pots, one.between_days) == (None, None, None)
    # One pot of each variant: the pots' difference is the variants'.
    two = variance_components(
        [1, 2, 5, 6], ["A", "A", "B", "B"], ["d", "d", "e", "e"], "aabb", per_pot=True
    )
    assert two.within_pots == pytest.approx(math.sqrt(0.5))
    assert two.between_pots is None


def test_variants_within_a_pot_are_taken_out() -> None:
    # 1, 2 against 11, 12 in one pot: within it each variant differs by 1.
    found = variance_components([1, 2, 11, 12], ["A"] * 4, ["d"] * 4, "aabb", per_pot=False)
    # Two bars a side about their means: squares 4 x 0.25 over 4 - 1 - 1 degrees.
    assert found.within_pots == pytest.approx(math.sqrt(0.5))


def test_variants_that_no_pot_has_all_of() -> None:
    # Each pot's variants about the middle of the pot: -1 and 1 in the one, -2 and 2 in the
    # other; so a is -1, b the mean of 1 and -2, c 2. What is left lies 0.75 beside it.
    found = variance_components(
        [1, 1, 3, 3, 10, 10, 14, 14], list("AAAABBBB"), list("ddddeeee"), list("aabbbbcc"),
        per_pot=False,
    )  # fmt: skip
    assert found.within_pots == pytest.approx(math.sqrt(8 * 0.75**2 / (8 - 2 - 2)))


def test_a_negative_variance_is_none() -> None:
    found = variance_components(
        [1, 3, 1, 3], ["A", "A", "B", "B"], ["d", "d", "e", "e"], "aaaa", per_pot=True
    )
    assert found.between_pots == 0


def test_deviation_within() -> None:
    assert deviation_within([(1, 3), (5, 7)]) == pytest.approx(math.sqrt(2))
    assert deviation_within([(1,), (5,)]) is None
    assert deviation_within([]) is None


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: variance_components([], [], [], [], True),
            "each bar needs a value, a pot, a day and a variant",
        ),
        (
            lambda: variance_components([1.0], ["A"], [], ["a"], True),
            "each bar needs a value, a pot, a day and a variant",
        ),
        (
            lambda: variance_components([math.nan], ["A"], ["d"], ["a"], True),
            "a value is not finite",
        ),
        (
            lambda: variance_components([1.0, 2.0], ["A", "A"], ["d", "e"], ["a", "a"], True),
            "the pot A lies in two days",
        ),
    ],
)
def test_refused(call: object, said: str) -> None:
    assert callable(call)
    with pytest.raises(FigureError, match=said):
        call()
