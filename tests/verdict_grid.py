"""How often pots are told apart, falsely and rightly, by simulation over a grid of notebooks.

The table of DEVELOPERS.md, half an hour on one core; cells that the file has already as often are
not played again, so that the command can be stopped and begun anew::

    PYTHONPATH=. python tests/verdict_grid.py 10000 cells.jsonl

Each run is a notebook: the pots of one question, and those of other designs whose scatter is
borrowed, all of them (a notebook that may borrow from fewer is one of fewer designs). A bar is its
pot's effect and its own; ``alike`` is the share of the pot in the variance, ``spread`` the
deviation of the logarithm of a design's scatter about the typical one. Measures are noted as a
maker notes them: a lip to a tenth of a millimetre and never below nothing, a rating from 1 to 5, a
time to half a minute, yes or no. A cell's seed is its own name.

The p are those of the engine, which takes many notebooks at once; only Student's law is read off a
table here, to a millionth (``tests/comparison/test_moderated.py`` holds it against scipy's).

With three other designs nothing is borrowed: then Student's t speaks from four pots of each on, and
before that the exact permutation, which cannot tell. Last come cells in which pots could not as
well have had the other label, which no method that goes by labels can mend: pots that scatter more
than those of other designs (held at "leaning" by the rule on scatter), variants that scatter
unlike, and a drift from pour to pour where one variant always came first (held at "leaning" by the
rule on order, which is not played here).
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy import stats
from scipy.special import stdtr

from journal.comparison.contrast import LEAST_POTS_FOR_T
from journal.comparison.moderated import (
    UNLIKE_RATIO,
    PotScatter,
    VarianceMixture,
    borrows,
    mixture,
    scatter_ratio,
)
from journal.comparison.permutation import rank_sum_test, signed_rank_test

Array = NDArray[np.float64]

OTHER_POTS = 4
POTS = (2, 3, 4, 6, 8)
DESIGNS = (4, 6, 10)
TOO_FEW_DESIGNS = 3
SPREADS = (0.0, 0.35, 0.7)
# So many notebooks at once stay within a core's cache.
AT_ONCE = 250
# Student's law is tabled by the logarithm of t, in such steps over such a range.
LEAST_LOG, LARGEST_LOG, STEPS_OF_LOG = -7.0, 7.0, 256
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


@cache
def _tabled(df: float) -> Array:
    logs = np.arange(LEAST_LOG, LARGEST_LOG + 2 / STEPS_OF_LOG, 1 / STEPS_OF_LOG)
    return np.asarray(stdtr(df, -np.exp(logs)))


def students_law(df: Array, t: Array) -> Array:
    """Student's law as scipy's stdtr, off a table; t is (notebooks, laws) and at most 0."""
    place = (np.log(np.clip(-t, np.exp(LEAST_LOG), np.exp(LARGEST_LOG))) - LEAST_LOG) * STEPS_OF_LOG
    whole = place.astype(np.int32)
    part = place - whole
    below = np.empty_like(t)
    ends = [*np.flatnonzero(np.diff(df)) + 1, len(df)]
    for start, end in zip([0, *ends[:-1]], ends, strict=True):
        table, at = _tabled(float(df[start])), whole[:, start:end]
        lower = table[at]
        below[:, start:end] = lower + part[:, start:end] * (table[at + 1] - lower)
    return below


@dataclass(frozen=True)
class Played:
    """Pots of two variants in many notebooks: places (notebooks, pots) and other scatter."""

    a: Array
    b: Array
    others: Array
    least: float
    paired: bool

    def law(self, pots: int) -> tuple[VarianceMixture, VarianceMixture, Array, Array]:
        """Of the first pots of each: the law with and without others, gaps, and ratios."""
        a, b = self.a[:, :pots], self.b[:, :pots]
        gap = b.mean(1) - a.mean(1)
        if self.paired:
            variance, df = (b - a).var(1, ddof=1) / 2, pots - 1
        else:
            variance, df = (a.var(1, ddof=1) + b.var(1, ddof=1)) / 2, 2 * pots - 2
        variances = np.maximum(np.concatenate([variance[:, None], self.others], 1), self.least)
        other_df = [OTHER_POTS - 1] * self.others.shape[1]
        return (
            mixture(variances, [df, *other_df]),
            mixture(variances[:, :1], [df]),
            np.abs(gap) / np.sqrt(2 / pots),
            scatter_ratio(variances, other_df),
        )


def play(chance: Generator, cell: Cell, runs: int) -> Iterator[Played]:
    """So many notebooks of a cell, some at once."""
    for begin in range(0, runs, AT_ONCE):
        count = min(AT_ONCE, runs - begin)
        scatter = np.exp(chance.standard_normal((count, cell.designs + 1)) * cell.spread)
        own = scatter[:, :1] * cell.own
        days = chance.standard_normal((count, cell.pots)) * 0.5 if cell.paired else 0.0
        sides = []
        for side in (0, 1):
            at = np.zeros((1, cell.pots)) + days + side * cell.effect
            if cell.drift:
                at = at + cell.drift * (side * cell.pots + np.arange(cell.pots))
            scattered = own * (cell.unlike if side else 1.0)
            sides.append(_places(chance, cell, (count, cell.pots), scattered, at))
        levels = chance.standard_normal((count, cell.designs, 1)) * 0.3
        shape = (count, cell.designs, OTHER_POTS)
        others = _places(chance, cell, shape, scatter[:, 1:, None], levels).var(2, ddof=1)
        yield Played(sides[0], sides[1], others, cell.measure.least(cell.bars), cell.paired)


def told(
    chance: Generator, cell: Cell, runs: int, level: float = 0.05, beside: bool = False
) -> dict[str, float]:
    """The share of runs in which a method tells a difference; ``beside``: the plain ones, too.

    ``ruled`` is what the rule lets speak, by counts alone.
    """
    counts: defaultdict[str, int] = defaultdict(int)
    for some in play(chance, cell, runs):
        law, alone, scaled, ratio = some.law(cell.pots)
        counts["moderated"] += int(
            ((law.p(scaled, students_law) <= level) & (ratio < UNLIKE_RATIO)).sum()
        )
        counts["t"] += int((alone.p(scaled, students_law) <= level).sum())
        if beside:
            counts["permutation"] += int((_permutation_p(some) <= level).sum())
    shares = {name: count / runs for name, count in counts.items()}
    may_borrow = borrows([PotScatter(1.0, OTHER_POTS - 1)] * cell.designs)
    ruled = "moderated" if may_borrow else "t" if cell.pots >= LEAST_POTS_FOR_T else ""
    # So few pots leave the permutation, of which even the clearest outcome does not tell.
    return shares | {"ruled": shares.get(ruled, 0.0)}


def told_at_looks(
    chance: Generator, cell: Cell, runs: int, looks: Sequence[tuple[int, float]]
) -> float:
    """The share of runs in which one of several looks tells: at so many pots of each, at p."""
    most = replace(cell, pots=max(pots for pots, _ in looks))
    count = 0
    for some in play(chance, most, runs):
        any_told = np.zeros(len(some.a), dtype=bool)
        for pots, level in looks:
            law, _, scaled, ratio = some.law(pots)
            any_told |= (law.p(scaled, students_law) <= level) & (ratio < UNLIKE_RATIO)
        count += int(any_told.sum())
    return count / runs


def _permutation_p(some: Played) -> Array:
    """Two-sided p of the exact test; 1 where even the clearest outcome has more than 0.05."""
    n = some.a.shape[1]
    if n < (6 if some.paired else 4):
        return np.ones(len(some.a))
    if some.paired:
        return np.array([signed_rank_test(list(row)).p for row in some.b - some.a])
    return np.array(
        [
            rank_sum_test([(tuple(x), tuple(y))]).p
            for x, y in zip(some.a.tolist(), some.b.tolist(), strict=True)
        ]
    )


def true_cells() -> Iterator[Cell]:
    """The cells with a difference of which something is promised."""
    for (effect, pots), spread, bars, alike, measure in product(
        ((2, 2), (1, 4), (1, 8)), (0.0, 0.35), BARS, (0.0, 0.2, 0.5), MEASURES
    ):
        yield Cell(measure, 6, spread, alike, pots, bars, effect=effect)


def false_cells(designs: Sequence[int] = (6, 10, 4)) -> Iterator[Cell]:
    """The cells without a difference, those of few pots first: they lean most on other designs."""
    for pots, number, spread, paired, bars, alike, measure in product(
        POTS, designs, reversed(SPREADS), (True, False), BARS, ALIKE, MEASURES
    ):
        yield Cell(measure, number, spread, alike, pots, bars, paired)


def odd_cells() -> Iterator[tuple[str, Cell]]:
    """The cells without a difference in which labels are not exchangeable, each with its name."""
    for measure, pots in product(MEASURES, (2, 4, 8)):
        plain = Cell(measure, 6, 0.35, 0.35, pots, 3)
        for own in (2.0, 3.0):
            yield f"pots scatter {own:g} times as much", replace(plain, own=own)
        yield "the second scatters twice as much", replace(plain, unlike=2.0)
        yield "a drift of 0.3 a pour, one always first", replace(plain, drift=0.3)


def grid() -> Iterator[tuple[str, Cell]]:
    """Every cell with the name of its table, those that decide first."""
    yield from (("told", cell) for cell in true_cells())
    yield from odd_cells()
    for designs in ((6, 10, 4), (TOO_FEW_DESIGNS,)):
        yield from ((f"false {cell.designs}", cell) for cell in false_cells(designs))


def has_permutation(table: str, cell: Cell) -> bool:
    """Whether the permutation is played beside: it takes longer than all the rest."""
    middle = cell.designs == 6 and cell.spread == 0.35 and cell.bars == BARS[0]
    return table == "told" or (table.startswith("false") and middle)


def cell_name(table: str, cell: Cell) -> str:
    """A cell in words, which are its seed, too."""
    odd = [f"{name} {value:g}" for name, value, usual in (
        ("effect", cell.effect, 0), ("own", cell.own, 1), ("unlike", cell.unlike, 1),
        ("drift", cell.drift, 0)) if value != usual]  # fmt: skip
    return ", ".join(
        [
            table,
            cell.measure.name,
            f"{cell.designs} designs spread {cell.spread:g}",
            f"alike {cell.alike:g}",
            f"{cell.pots} pots of {cell.bars}{' in pairs' if cell.paired else ''}",
            *odd,
        ]
    )


@dataclass(frozen=True)
class Found:
    """What was told of a cell, in so many notebooks."""

    runs: int
    shares: dict[str, float]


def play_grid(runs: int, into: Path) -> dict[str, Found]:
    """Play the cells that a file has not got so often yet, a line each, and give all by name."""
    found: dict[str, Found] = {}
    if into.exists():
        for line in into.read_text(encoding="utf-8").splitlines():
            row = json.loads(line)
            if row["cell"] not in found or found[row["cell"]].runs < row["runs"]:
                found[row["cell"]] = Found(row["runs"], row["shares"])
    with into.open("a", encoding="utf-8") as file:
        for table, cell in grid():
            name = cell_name(table, cell)
            if name in found and found[name].runs >= runs:
                continue
            chance = np.random.default_rng(list(name.encode()))
            shares = told(chance, cell, runs, beside=has_permutation(table, cell))
            found[name] = Found(runs, shares)
            file.write(json.dumps({"cell": name, "runs": runs, "shares": shares}) + "\n")
            file.flush()
    return found


def interval(share: float, runs: int) -> str:
    """A share in % with its exact interval at 95 % (Clopper and Pearson 1934)."""
    count = round(share * runs)
    low = stats.beta.ppf(0.025, count, runs - count + 1) if count else 0.0
    high = stats.beta.ppf(0.975, count + 1, runs - count) if count < runs else 1.0
    return f"{100 * share:.2f} ({100 * low:.2f} to {100 * high:.2f})"


def say(line: str) -> None:
    """Print one line of the table at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _print_false(found: dict[str, Found]) -> None:
    """Mean and worst cell by number of designs and measure, and the plain methods beside."""
    for designs in (*DESIGNS, TOO_FEW_DESIGNS):
        for measure in MEASURES:
            cells = {
                name: found[name]
                for cell in false_cells((designs,))
                if cell.measure is measure
                and (name := cell_name(f"false {designs}", cell)) in found
            }
            if cells:
                _print_worst(f"false, {designs} other designs, {measure.name}", cells)
    say("false where all three were played, in %: moderated / t / permutation")
    for measure, pots in product(MEASURES, POTS):
        three = [
            found[name]
            for cell in false_cells((6,))
            if (cell.measure, cell.pots) == (measure, pots)
            and has_permutation("false 6", cell)
            and (name := cell_name("false 6", cell)) in found
        ]
        if three:
            say(f"{measure.name:8} {pots} pots {_three_methods(three)}")


def _print_worst(title: str, cells: dict[str, Found]) -> None:
    """How often cells are false on average and at worst, and of how many notebooks that is."""
    mean = np.mean([one.shares["ruled"] for one in cells.values()])
    worst = max(cells, key=lambda name: cells[name].shares["ruled"])
    at = cells[worst]
    say(f"{title}: {100 * mean:.2f} of {len(cells)} cells, of each in"
        f" {min(one.runs for one in cells.values())} notebooks or more")  # fmt: skip
    say(f"    at worst {interval(at.shares['ruled'], at.runs)} of {at.runs}: {worst}")


def _three_methods(cells: Sequence[Found]) -> str:
    """The mean shares of the three methods."""
    methods = ("moderated", "t", "permutation")
    return " / ".join(f"{100 * np.mean([one.shares[name] for one in cells]):.1f}"
                      for name in methods)  # fmt: skip


def print_tables(found: dict[str, Found]) -> None:
    """What is falsely told, and what is told of true differences, of the cells that were played."""
    _print_false(found)
    say("told, six other designs, in %: moderated / t / permutation")
    for cell in true_cells():
        if (name := cell_name("told", cell)) in found:
            say(f"{name}: {_three_methods([found[name]])}, of {found[name].runs}")
    say("cells that break exchangeability, in %: 2, 4, 8 pots of each, over all measures")
    by_name: defaultdict[str, defaultdict[int, list[float]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for table, cell in odd_cells():
        if (name := cell_name(table, cell)) in found:
            by_name[table][cell.pots].append(100 * found[name].shares["ruled"])
    for table, by_pots in by_name.items():
        say(f"{table:42} {' / '.join(f'{np.mean(own):.1f}' for own in by_pots.values())}")


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    path = Path(sys.argv[2] if len(sys.argv) > 2 else "cells.jsonl")
    print_tables(play_grid(number, path))
