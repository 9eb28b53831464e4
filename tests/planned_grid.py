"""How often a planned test is wrong, and how often it tells what it promised, by simulation.

The numbers of DEVELOPERS.md, some five minutes on one core::

    PYTHONPATH=.:tests python tests/planned_grid.py 4000

Each run draws a layout from a seed of its own, and bars that know nothing of it: the pot's effect,
a drift along the order of pouring, neighbours alike (first-order autoregression), and the bar's
own. Beside the planned test stands the usual one, which permutes labels within whole pots.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.random import Generator
from verdict_grid import MEASURES, Cell
from verdict_grid import told as verdict_told

from journal.comparison.moderated import PotScatter
from journal.comparison.observed import ComparedMeasure
from journal.comparison.permutation import rank_sum_test, signed_rank_test
from journal.comparison.planned.chances import chance_to_tell
from journal.comparison.planned.layout import PlannedTest, laid_out, planned_test
from journal.comparison.power import chance_of_plan
from journal.comparison.scatter import MeasureScatter
from journal.comparison.verdict import LOOK_LEVELS, SIGNIFICANCE_LEVEL

LEVEL = LOOK_LEVELS[0]
# Share of the pot in the variance of a bar, where whole pots are compared.
ALIKE = 0.35


@dataclass(frozen=True)
class Bench:
    """How bars come out: in deviations of a bar, a drift from the first of a pot to the last."""

    drift: float = 0.0
    alike: float = 0.0
    pot: float = 1.0
    effect: float = 0.0
    keeps_order: bool = False


def labelled(
    test: PlannedTest, bench: Bench, chance: Generator
) -> Iterator[tuple[str, int, float]]:
    """One run: variant, block and value of every bar that the plan does not leave free.

    With ``keeps_order`` the first variant is always poured first, as no plan would have it.
    """
    steps = np.linspace(-0.5, 0.5, test.bars)
    for pot in laid_out(test):
        noise = chance.standard_normal(test.bars)
        for at in range(1, test.bars):
            noise[at] = bench.alike * noise[at - 1] + np.sqrt(1 - bench.alike**2) * noise[at]
        values = noise + bench.drift * steps + bench.pot * chance.standard_normal()
        names = sorted(one.variant for one in pot.cavities)
        for one in pot.cavities:
            if one.block is not None:
                variant = names[one.poured - 1] if bench.keeps_order else one.variant
                shift = bench.effect * (variant == test.compared[1])
                yield variant, one.block, float(values[one.poured - 1]) + shift


def sides_of(
    rows: list[tuple[str, int, float]], test: PlannedTest, by_pot: bool
) -> list[tuple[list[float], list[float]]]:
    """Values of the first and second variant in each block, or in each pot."""
    per_pot = test.bars // test.blocked
    strata: dict[int, tuple[list[float], list[float]]] = {}
    for variant, block, value in rows:
        key = block // per_pot if by_pot else block
        strata.setdefault(key, ([], []))[variant == test.compared[1]].append(value)
    return list(strata.values())


def p_of(rows: list[tuple[str, int, float]], test: PlannedTest, by_pot: bool = False) -> float:
    """The p of the test that a contrast of these bars makes."""
    strata = sides_of(rows, test, by_pot)
    if all(len(a) == len(b) == 1 for a, b in strata):
        return signed_rank_test([b - a for (a,), (b,) in strata]).p
    return rank_sum_test(strata).p


def told(
    pots: int,
    bars: int,
    bench: Bench,
    runs: int,
    level: float,
    first: int = 0,
    by_pot: bool = False,
) -> float:
    """The share of runs in which the test of a planned layout tells."""
    count = 0
    for run in range(first, first + runs):
        test = planned_test(("close", "straight"), "", "bars", f"{run}", pots, bars, LEVEL)
        rows = list(labelled(test, bench, np.random.default_rng([31, run])))
        count += p_of(rows, test, by_pot) <= level
    return count / runs


def promised(pots: int, bars: int, matters: float, df: int = 40, designs: int = 6) -> float:
    """The chance that is said of a difference in deviations of a bar, of a notebook like it."""
    others = [MeasureScatter(None, None, 6, 16.0, None, (), df, 100.0)] * designs
    test = planned_test(("close", "straight"), "", "bars", "", pots, bars, LEVEL)
    measure = ComparedMeasure("weight", "mass", "lower", 4.0 * matters)
    return chance_to_tell(test, measure, others, LEVEL) or 0.0


def promised_of_pots(pots: int, effect: float, notebooks: int = 60) -> float:
    """The chance that is said of whole pots, over notebooks like those of ``told_of_pots``."""
    chance = np.random.default_rng([42, pots])
    of_place = (ALIKE + (1 - ALIKE) / 6) * 16.0
    said = []
    for _ in range(notebooks):
        scatter = np.exp(chance.standard_normal(6) * 0.35)
        variances = of_place * scatter**2 * chance.chisquare(3, 6) / 3
        others = [PotScatter(float(one), 3) for one in variances]
        said.append(chance_of_plan(4.0 * effect, others, 2 / pots, pots - 1, LEVEL) or 0.0)
    return float(np.mean(said))


def told_of_pots(pots: int, effect: float, runs: int) -> float:
    """The share of notebooks in which so many days of one pot each tell: six other designs."""
    cell = Cell(MEASURES[0], 6, 0.35, ALIKE, pots, 6, paired=True, effect=effect)
    return verdict_told(np.random.default_rng([41, pots]), cell, runs, LEVEL)["moderated"]


def say(line: str) -> None:
    """Print one line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _print_tables(runs: int) -> None:
    """False answers of planned tests and of an order that was kept, then said and told chances."""
    say("false at 0.05, in %: planned / whole pots permuted, order kept")
    sizes = ((2, 6), (3, 6), (4, 6), (4, 9), (8, 6))
    for (pots, bars), drift, alike in product(sizes, (0.0, 2.0, 4.0), (0.0, 0.6)):
        bench = Bench(drift, alike)
        planned = told(pots, bars, bench, runs, SIGNIFICANCE_LEVEL)
        always = replace(bench, keeps_order=True)
        kept = told(pots, bars, always, runs, SIGNIFICANCE_LEVEL, by_pot=True)
        shares = f"{100 * planned:.1f} / {100 * kept:.1f}"
        say(f"{pots} of {bars}, drift {drift}, alike {alike}: {shares}")
    say("said / told / told with a drift of 2, in %")
    for pots, bars, effect in product((2, 3, 4, 6, 8), (6, 9), (0.5, 1.0, 1.5)):
        chances = (
            promised(pots, bars, effect),
            told(pots, bars, Bench(effect=effect), runs, LEVEL, first=10**6),
            told(pots, bars, Bench(2.0, effect=effect), runs, LEVEL, first=10**6),
        )
        shares = " / ".join(f"{100 * one:.0f}" for one in chances)
        say(f"{pots} of {bars}, {effect} sd: {shares}")
    say("whole pots, a pair a day: said / told, in %")
    for pots, effect in product((2, 3, 4, 6, 8), (1.0, 1.5)):
        shares = 100 * promised_of_pots(pots, effect), 100 * told_of_pots(pots, effect, runs)
        say(f"{pots} days, {effect} sd: {shares[0]:.0f} / {shares[1]:.0f}")


if __name__ == "__main__":
    _print_tables(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
