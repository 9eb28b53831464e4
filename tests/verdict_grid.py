"""How often pots are told apart, falsely and rightly, by simulation over a grid of notebooks.

The table of DEVELOPERS.md, some twenty minutes on one core::

    PYTHONPATH=. python tests/verdict_grid.py 10000

Each run is a notebook: the pots of one question, and those of other designs whose scatter is
borrowed. A bar is its pot's effect and its own; ``alike`` is the share of the pot in the
variance, ``spread`` the deviation of the logarithm of a design's scatter about the typical one.
Measures are noted as a maker notes them: a lip to a tenth of a millimetre and never below nothing,
a rating from 1 to 5, a time to half a minute, yes or no. Seeds are fixed.

With three other designs nothing is borrowed: then Student's t speaks from four pots of each on, and
before that the exact permutation, which cannot tell. Last come cells in which pots could not as
well have had the other label, which no method that goes by labels can mend: pots that scatter more
than those of other designs (held at "leaning" by the rule on scatter), variants that scatter
unlike, and a drift from pour to pour where one variant always came first (held at "leaning" by the
rule on order, which is not played here).

    PYTHONPATH=. python tests/verdict_grid.py 500 few     these alone, and those of three designs
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy import stats

from journal.comparison.contrast import LEAST_POTS_FOR_T
from journal.comparison.moderated import LEAST_DESIGNS, UNLIKE_RATIO, mixture

Array = NDArray[np.float64]

OTHER_POTS = 4
POTS = (2, 3, 4, 6, 8)
DESIGNS = (4, 6, 10)
TOO_FEW_DESIGNS = 3
SPREADS = (0.0, 0.35, 0.7)
ALIKE = (0.0, 0.35, 0.7)
BARS = (3, 6)


@dataclass(frozen=True)
class Noted:
    """A measure: from what is true of bars (…, bars), in deviations, to the places of pots.

    ``least`` is the least variance of a place that can be believed, of so many bars.
    """

    name: str
    place: Callable[[Array], Array]
    least: Callable[[int], float]


def _lip(z: Array) -> Array:
    return np.sqrt(np.maximum(0, np.round((1.0 + 0.6 * z) * 10) / 10) + 0.1).mean(-1)


def _time(z: Array) -> Array:
    return np.log(np.maximum(0.5, np.round(3 * np.exp(0.5 * z) * 2) / 2)).mean(-1)


def _yes(z: Array) -> Array:
    bars = z.shape[-1]
    return np.arcsin(np.sqrt(((z > -0.5).sum(-1) + 3 / 8) / (bars + 3 / 4)))


MEASURES = (
    Noted("weight", lambda z: np.round(100 + 4 * z, 1).mean(-1), lambda n: 0.01 / 12 / n),
    Noted("lip", _lip, lambda n: (0.05 / np.sqrt(1.1)) ** 2 / 12 / n),
    Noted(
        "relief", lambda z: np.clip(np.round(3.5 + 0.9 * z), 1, 5).mean(-1), lambda n: 1 / 12 / n
    ),
    Noted("tidy", _time, lambda n: (0.5 / 3) ** 2 / 12 / n),
    Noted("keep", _yes, lambda n: 0.5 / (4 * n + 2)),
)


@dataclass(frozen=True)
class Cell:
    """A cell of the grid; ``effect`` is in deviations of a bar in all.

    ``own`` is the scatter of the pots over that of other designs, ``unlike`` that of the second
    variant over that of the first, ``drift`` what each pour adds where the first came first.
    """

    measure: Noted
    designs: int
    spread: float
    alike: float
    pots: int
    bars: int
    paired: bool = False
    effect: float = 0.0
    own: float = 1.0
    unlike: float = 1.0
    drift: float = 0.0


def _places(
    chance: Generator, cell: Cell, shape: tuple[int, ...], scatter: Array, at: Array
) -> Array:
    """Places of pots whose bars scatter by ``scatter`` about ``at``; both go with ``shape``."""
    pot = chance.standard_normal(shape) * np.sqrt(cell.alike)
    bar = chance.standard_normal((*shape, cell.bars)) * np.sqrt(1 - cell.alike)
    return cell.measure.place((pot[..., None] + bar) * scatter[..., None] + at[..., None])


def told(
    chance: Generator, cell: Cell, runs: int, level: float = 0.05, beside: bool = False
) -> dict[str, float]:
    """The share of runs in which a method tells a difference; ``beside``: the plain ones, too."""
    scatter = np.exp(chance.standard_normal((runs, cell.designs + 1)) * cell.spread)
    own = scatter[:, :1] * cell.own
    day = chance.standard_normal((runs, cell.pots)) * 0.5 if cell.paired else np.zeros((1, 1))
    sides = []
    for side in (0, 1):
        at = day + side * cell.effect
        if cell.drift:
            at = at + cell.drift * (side * cell.pots + np.arange(cell.pots))
        scattered = own * (cell.unlike if side else 1.0)
        sides.append(_places(chance, cell, (runs, cell.pots), scattered, at))
    a, b = sides
    if cell.paired:
        gap, variance, df = (b - a).mean(1), (b - a).var(1, ddof=1) / 2, cell.pots - 1
    else:
        gap = b.mean(1) - a.mean(1)
        variance, df = (a.var(1, ddof=1) + b.var(1, ddof=1)) / 2, 2 * cell.pots - 2
    levels = chance.standard_normal((runs, cell.designs, 1)) * 0.3
    shape = (runs, cell.designs, OTHER_POTS)
    others = _places(chance, cell, shape, scatter[:, 1:, None], levels).var(2, ddof=1)
    variances = np.maximum(
        np.concatenate([variance[:, None], others], 1), cell.measure.least(cell.bars)
    )
    law = mixture(variances, [df, *[OTHER_POTS - 1] * cell.designs])
    scaled = np.abs(gap) / np.sqrt(2 / cell.pots)
    ratio = np.sqrt(variances[:, 0]) / np.exp(np.log(variances[:, 1:]).mean(1) / 2)
    shares = {"moderated": float(((law.p(scaled) <= level) & (ratio < UNLIKE_RATIO)).mean())}
    if beside:
        with np.errstate(divide="ignore", invalid="ignore"):
            test = stats.ttest_rel if cell.paired else stats.ttest_ind
            plain = np.nan_to_num(test(a, b, axis=1).pvalue, nan=1.0)
        shares["t"] = float((plain <= level).mean())
        borrows, enough = cell.designs >= LEAST_DESIGNS, cell.pots >= LEAST_POTS_FOR_T
        if borrows or not enough:
            shares["permutation"] = float((_permutation_p(a, b, cell.paired) <= level).mean())
        shares["ruled"] = shares["moderated" if borrows else "t" if enough else "permutation"]
    return shares


def told_at_looks(
    chance: Generator, cell: Cell, runs: int, looks: Sequence[tuple[int, float]]
) -> float:
    """The share of runs in which one of several looks tells: at so many pots of each, at p."""
    scatter = np.exp(chance.standard_normal((runs, cell.designs + 1)) * cell.spread)
    most = max(pots for pots, _ in looks)
    a, b = (
        _places(chance, cell, (runs, most), scatter[:, :1], np.full((1, 1), side * cell.effect))
        for side in (0, 1)
    )
    levels = chance.standard_normal((runs, cell.designs, 1)) * 0.3
    shape = (runs, cell.designs, OTHER_POTS)
    others = _places(chance, cell, shape, scatter[:, 1:, None], levels).var(2, ddof=1)
    any_told = np.zeros(runs, dtype=bool)
    for pots, level in looks:
        first, second = a[:, :pots], b[:, :pots]
        variance = (first.var(1, ddof=1) + second.var(1, ddof=1)) / 2
        least = cell.measure.least(cell.bars)
        variances = np.maximum(np.concatenate([variance[:, None], others], 1), least)
        law = mixture(variances, [2 * pots - 2, *[OTHER_POTS - 1] * cell.designs])
        gap = np.abs(second.mean(1) - first.mean(1)) / np.sqrt(2 / pots)
        any_told |= law.p(gap) <= level
    return float(any_told.mean())


def _permutation_p(a: Array, b: Array, paired: bool) -> Array:
    """Two-sided p of the exact test; 1 where even the clearest outcome has more than 0.05."""
    n = a.shape[1]
    if (paired and n < 6) or (not paired and n < 4):
        return np.ones(len(a))
    if paired:
        return np.array(
            [stats.wilcoxon(x, y, method="exact").pvalue for x, y in zip(a, b, strict=True)]
        )
    return np.asarray(stats.mannwhitneyu(a, b, axis=1, method="exact").pvalue)


def false_cells() -> Iterator[Cell]:
    """The cells without a difference."""
    for measure, designs, spread, alike, pots, bars in product(
        MEASURES, DESIGNS, SPREADS, ALIKE, POTS, BARS
    ):
        yield Cell(measure, designs, spread, alike, pots, bars)
        yield Cell(measure, designs, spread, alike, pots, bars, paired=True)


def odd_cells() -> Iterator[tuple[str, Cell]]:
    """The cells without a difference in which labels are not exchangeable, each with its name."""
    for measure, pots in product(MEASURES, (2, 4, 8)):
        plain = Cell(measure, 6, 0.35, 0.35, pots, 3)
        for own in (2.0, 3.0):
            yield f"pots scatter {own:g} times as much", replace(plain, own=own)
        yield "the second scatters twice as much", replace(plain, unlike=2.0)
        yield "a drift of 0.3 a pour, one always first", replace(plain, drift=0.3)


def few_cells() -> Iterator[Cell]:
    """The cells without a difference with too few other designs, and six bars at the widest."""
    for measure, pots, paired in product(MEASURES, POTS, (False, True)):
        yield Cell(measure, TOO_FEW_DESIGNS, 0.35, 0.35, pots, 3, paired)
        yield Cell(measure, TOO_FEW_DESIGNS, 0.7, 0.35, pots, 6, paired)


def _print_few(runs: int) -> None:
    """False answers with three other designs, by what the rule lets speak, and of odd cells."""
    say("false with three other designs: mean and worst cell in %, as ruled / if borrowed")
    for measure in MEASURES:
        found = [
            (got["ruled"], got["moderated"])
            for number, cell in enumerate(few_cells())
            if cell.measure is measure
            for got in [told(np.random.default_rng([25, number]), cell, runs, beside=True)]
        ]
        ruled, borrowed = (np.array(one) * 100 for one in zip(*found, strict=True))
        say(f"{measure.name:8} {ruled.mean():5.2f} {ruled.max():5.2f}"
            f" / {borrowed.mean():5.2f} {borrowed.max():5.2f}")  # fmt: skip
    say("cells that break exchangeability, in %: 2, 4, 8 pots of each, over all measures")
    by_name: dict[str, dict[int, list[float]]] = {}
    for number, (name, cell) in enumerate(odd_cells()):
        share = told(np.random.default_rng([26, number]), cell, runs)["moderated"]
        by_name.setdefault(name, {}).setdefault(cell.pots, []).append(100 * share)
    for name, by_pots in by_name.items():
        say(f"{name:42} {' / '.join(f'{np.mean(own):.0f}' for own in by_pots.values())}")


def say(line: str) -> None:
    """Print one line of the table at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _print_table(runs: int) -> None:
    """False answers by measure and pots, then what is told of true differences."""
    say("false: mean and worst cell in %, by measure")
    for measure in MEASURES:
        found = []
        for number, cell in enumerate(false_cells()):
            if cell.measure is measure:
                chance = np.random.default_rng([23, number])
                found.append((told(chance, cell, runs)["moderated"], cell))
        worst = max(found, key=lambda one: one[0])
        mean = np.mean([one[0] for one in found])
        say(f"{measure.name:8} {100 * mean:5.2f} {100 * worst[0]:5.2f}  at {worst[1]}")
    say("told, six other designs, spread 0.35, in %: moderated / t / permutation")
    for effect, pots in ((2, 2), (1, 4), (1, 8)):
        for measure, alike in product(MEASURES, (0.0, 0.2, 0.5)):
            cell = Cell(measure, 6, 0.35, alike, pots, 3, effect=effect)
            got = told(np.random.default_rng([24, pots]), cell, runs, beside=True)
            line = " / ".join(f"{100 * got[key]:.0f}" for key in ("moderated", "t", "permutation"))
            say(f"{effect} sd, {pots} pots, alike {alike}, {measure.name:8} {line}")


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    if "few" not in sys.argv:
        _print_table(number)
    _print_few(number)
