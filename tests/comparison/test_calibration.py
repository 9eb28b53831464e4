"""How often a verdict is wrong, by simulation, one question each.

The suite plays a hundred rounds of a few questions. For numbers worth printing
(4000 rounds of each take some ten minutes)::

    PYTHONPATH=. python tests/comparison/test_calibration.py 4000

prints each question with what was found and the most that is allowed; with
CALIBRATION_ROUNDS set the suite asks all of them, that many rounds each. All seeds
are fixed.

Found with 4000 rounds: false verdicts in at most 4.0 % of the questions, 1.6 % of
the pages' looks together and 5.3 % across ten designs (whose exact level is 4.9 %);
exact intervals missed in at most 5.1 %; Newcombe's interval covers 95.2 to 95.4 % on
average over shares, the stratified one 95.3 to 96.3 %.

"At most" is what so many rounds allow if the promise is just kept, that 5 % are wrong:
the upper 95 % point of the binomial law, 9 of 100 rounds, 223 of 4000.
"""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pytest
import scipy
from msgspec.structs import replace
from numpy.random import Generator

from journal.comparison.across import compare_across_designs
from journal.comparison.comparing import compare_variants
from journal.comparison.intervals import (
    newcombe_interval,
    paired_difference,
    shares_difference,
    shift_difference,
)
from journal.comparison.observed import (
    ComparedMeasure,
    ComparedVariant,
    ComparisonQuestion,
    ObservedBar,
)

LONG = "CALIBRATION_ROUNDS" in os.environ
ROUNDS = int(os.environ.get("CALIBRATION_ROUNDS", "100"))
FALSE = 0.05

LIP = ComparedMeasure("lip", "length", "lower", 0.1, "mm")
# Nothing is too small to matter here, so that no false verdict is held back by size.
LOOKS = (
    LIP,
    ComparedMeasure("keep", "yes-no", "higher", 0.01),
    ComparedMeasure("relief", "rating", "higher", 0.01),
    ComparedMeasure("bubbles", "count", "lower", 0.01),
    ComparedMeasure("tidy", "time", "lower", 0.01),
    ComparedMeasure("weight", "mass", None, 0.01),
)
TRIMS = (
    ComparedVariant("close", changes={"trim": "close"}),
    ComparedVariant("straight", changes={"trim": "straight 3 mm"}),
)
THREE = (*TRIMS, ComparedVariant("pared", changes={"trim": "straight 5 mm"}))
TINTS = (
    ComparedVariant("violet", changes={"layers.body.colours": "violet"}),
    ComparedVariant("blue", changes={"layers.body.colours": "blue"}),
)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question to the simulation: one round says whether the verdict was false.

    ``short`` questions are asked in every run of the suite.
    """

    name: str
    round: Callable[[Generator], bool]
    short: bool = False

    def wrong(self, rounds: int) -> int:
        """How many rounds went wrong; the seed is the question's own name."""
        chance = np.random.default_rng(list(self.name.encode()))
        return sum(self.round(chance) for _ in range(rounds))


def most(rounds: int) -> int:
    """So many rounds may go wrong: more would, in one run of twenty, if FALSE were the truth."""
    return int(scipy.stats.binom.ppf(0.95, rounds, FALSE))


def test_what_is_allowed_is_the_binomial_bound() -> None:
    """Summed up term by term: 9 of 100 are in, and would not be at 8."""
    at_most = [
        math.fsum(math.comb(100, k) * FALSE**k * (1 - FALSE) ** (100 - k) for k in range(top + 1))
        for top in range(11)
    ]
    assert at_most[8] < 0.95 <= at_most[9]
    assert most(100) == 9


def bars_by_chance(
    chance: Generator,
    variants: tuple[ComparedVariant, ...],
    pours: int,
    each: int,
    alike: float,
    apart: bool,
    step: float = 0.0,
    days_alike: float = 0.0,
    skewed: bool = False,
    design: str = "kelp",
) -> list[ObservedBar]:
    """Bars among which the variant makes no difference.

    ``alike`` is the correlation of bars of one pot, ``days_alike`` that of pots of
    one day; ``apart`` gives each pour one variant in turn, else every variant gets
    ``each`` bars of every pour. ``step`` rounds the readings to a ruler's marks.
    """
    from datetime import date, timedelta

    bars: list[ObservedBar] = []
    of_day: dict[int, float] = {}
    for pour in range(pours):
        on = pour // 2 if days_alike else pour
        of_day.setdefault(on, math.sqrt(days_alike) * chance.normal())
        shared = of_day[on] + math.sqrt(alike) * chance.normal()
        for place, variant in enumerate(variants):
            if apart and pour % len(variants) != place:
                continue
            for number in range(each):
                own = chance.exponential() if skewed else chance.normal()
                value = 5 + shared + math.sqrt(1 - alike - days_alike) * own
                if step:
                    value = step * round(value / step)
                bars.append(
                    ObservedBar(
                        bar=f"{pour}-{variant.name}-{number}",
                        pour=str(pour),
                        poured_on=date(2026, 4, 18) + timedelta(days=7 * on),
                        variant=variant.name,
                        values={"lip": max(0.0, value), **_beside(chance, value)},
                        design=design,
                    )
                )
    return bars


def _beside(chance: Generator, value: float) -> dict[str, float | bool]:
    """Other measures that hang together with the first, as those of one bar do."""
    near = value + chance.normal(0, 0.5)
    return {
        "keep": near > 5,
        "relief": float(min(5, max(1, round(near - 2)))),
        "bubbles": float(max(0, round(near - 3))),
        "tidy": max(0.0, near),
        "weight": 98 + near,
    }


def false_verdict(
    variants: tuple[ComparedVariant, ...], looks: bool = False, **poured: object
) -> Callable[[Generator], bool]:
    """Whether any comparison names a variant better: of the question, or of the looks."""

    def one_round(chance: Generator) -> bool:
        bars = bars_by_chance(chance, variants, **poured)  # type: ignore[arg-type]
        question = None if looks else ComparisonQuestion("lip", bars[0].poured_on, 1)
        found = compare_variants(bars, LOOKS if looks else (LIP,), variants, question)
        return any(one.verdict.code in ("better", "differs") for one in found)

    return one_round


def false_across(**poured: object) -> Callable[[Generator], bool]:
    """Ten designs, of one to three pours each, no variant better in any."""

    def one_round(chance: Generator) -> bool:
        bars: list[ObservedBar] = []
        for number in range(10):
            bars += bars_by_chance(
                chance,
                TRIMS,
                int(chance.integers(1, 4)),
                design=str(number),
                **poured,  # type: ignore[arg-type]
            )
        (found,) = compare_across_designs(
            bars, [LIP], ("close", "straight"), "bars", deciding="lip"
        )
        return found.verdict.code == "better"

    return one_round


def false_no_difference(chance: Generator) -> bool:
    """A difference of just what matters, called none worth the name."""
    bars = bars_by_chance(chance, TRIMS, 3, 4, 0.2, False)
    measure = replace(LIP, matters=1.0)
    shifted = [
        replace(bar, values={"lip": bar.values["lip"] + 1.0})  # type: ignore[operator]
        if bar.variant == "straight"
        else bar
        for bar in bars
    ]
    (found,) = compare_variants(shifted, (measure,), TRIMS)
    return found.verdict.code == "no difference"


def missed_shift(sizes: tuple[tuple[int, int], ...], step: float) -> Callable[[Generator], bool]:
    """Whether the 95 % interval misses the shift; no interval misses nothing."""

    def one_round(chance: Generator) -> bool:
        strata = []
        for n, m in sizes:
            level = chance.normal(0, 2)
            a, b = (level + chance.normal(0, 1, k) for k in (n, m))
            if step:
                a, b = step * np.round(a / step), step * np.round(b / step)
            strata.append((list(a), list(b + 1.5)))
        interval = shift_difference(strata).intervals[0]
        # A grid's point more or less is no miss.
        return interval is not None and not interval.low - 1e-8 <= 1.5 <= interval.high + 1e-8

    return one_round


def missed_pairs(n: int) -> Callable[[Generator], bool]:
    """Whether the 95 % interval of paired differences misses their middle."""

    def one_round(chance: Generator) -> bool:
        interval = paired_difference(list(chance.standard_t(3, n) + 1.5)).intervals[0]
        return interval is not None and not interval.low <= 1.5 <= interval.high

    return one_round


def questions() -> Iterator[Asked]:
    """Every question that is asked of the verdicts and the exact intervals."""
    for alike in (0.0, 0.2, 0.5):
        within = {"pours": 3, "each": 4, "alike": alike, "apart": False}
        apart = {"pours": 8, "each": 4, "alike": alike, "apart": True}
        short = alike == 0.5
        named = f"alike {alike}"
        yield Asked(f"trim within pots, {named}", false_verdict(TRIMS, **within), short)
        yield Asked(f"trim that lives in its pot, {named}", false_verdict(TRIMS, **apart), True)
        yield Asked(f"tint, a pot each, {named}", false_verdict(TINTS, **apart), short)
        yield Asked(f"looks within pots, {named}", false_verdict(TRIMS, True, **within))
        yield Asked(f"looks, a pot each, {named}", false_verdict(TINTS, True, **apart), short)
        designs = false_across(each=3, alike=alike, apart=False)
        yield Asked(f"across designs, {named}", designs)
    one = {"pours": 1, "each": 6, "alike": 0.2, "apart": False}
    yield Asked("one pot, 6 bars each", false_verdict(TRIMS, **one), True)
    yield Asked("one pot, half-millimetre marks", false_verdict(TRIMS, step=0.5, **one), True)
    yield Asked("three variants, three pairs", false_verdict(THREE, **one), True)
    yield Asked("three variants, all looks", false_verdict(THREE, True, **one))
    days = {"pours": 16, "each": 3, "alike": 0.2, "days_alike": 0.4, "apart": True}
    yield Asked("tint, two pots a day, days alike", false_verdict(TINTS, **days))
    skew = {"each": 3, "alike": 0.2, "apart": False, "skewed": True}
    yield Asked("across designs, skewed", false_across(**skew))
    yield Asked("no difference, at the border of what matters", false_no_difference, True)
    for sizes in (((4, 4),), ((5, 6),), ((9, 8),), ((3, 3), (3, 3)), ((4, 2), (3, 5), (2, 2))):
        for step in (0.0, 0.5):
            yield Asked(f"shift missed, {sizes}, marks {step}", missed_shift(sizes, step), True)
    for n in (6, 10):
        yield Asked(f"middle of {n} pairs missed", missed_pairs(n), True)


@pytest.mark.parametrize(
    "asked", [one for one in questions() if one.short or LONG], ids=lambda asked: asked.name
)
def test_wrong_at_most_as_often_as_promised(asked: Asked) -> None:
    assert asked.wrong(ROUNDS) <= most(ROUNDS)


def test_bars_of_a_pot_are_no_trials() -> None:
    """What the rule guards against: the same bars, counted one by one, mislead."""
    chance = np.random.default_rng(3)
    wrong = 0
    for _ in range(ROUNDS):
        bars = bars_by_chance(chance, TRIMS, 2, 6, 0.5, True)
        a, b = (
            [float(bar.values["lip"] or 0) for bar in bars if bar.variant == variant.name]
            for variant in TRIMS
        )
        interval = shift_difference([(a, b)]).intervals[0]
        assert interval is not None
        wrong += not interval.low <= 0 <= interval.high
        assert compare_variants(bars, (LIP,), TRIMS)[0].verdict.code == "cannot tell"
    assert wrong / ROUNDS > 0.3


# A studio's numbers: 4 to 24 bars a side; shares over the whole of 0 to 1.
SIZES = ((4, 4), (6, 6), (6, 12), (10, 10), (12, 18), (24, 24))


def newcombe_coverage(of_a: int, of_b: int) -> float:
    """Mean coverage over a grid of shares 0.025, 0.075 to 0.975 a side; exact, no chance."""
    shares = np.linspace(0.025, 0.975, 20)
    ends = np.array(
        [[newcombe_interval(x, of_a, y, of_b) for y in range(of_b + 1)] for x in range(of_a + 1)],
        dtype=object,
    )
    low = np.vectorize(lambda interval: interval.low)(ends)
    high = np.vectorize(lambda interval: interval.high)(ends)
    laws_a = _binomial(of_a, shares)
    laws_b = _binomial(of_b, shares)
    covered = 0.0
    for p, law_a in zip(shares, laws_a, strict=True):
        for q, law_b in zip(shares, laws_b, strict=True):
            covered += float(law_a @ ((low <= q - p) & (q - p <= high)) @ law_b)
    return covered / len(shares) ** 2


def _binomial(trials: int, shares: np.ndarray) -> np.ndarray:
    ways = np.array([math.comb(trials, x) for x in range(trials + 1)], dtype=float)
    x = np.arange(trials + 1)
    return ways * shares[:, None] ** x * (1 - shares[:, None]) ** (trials - x)


@pytest.mark.parametrize(("of_a", "of_b"), SIZES)
def test_newcombe_covers_on_average(of_a: int, of_b: int) -> None:
    # No chance in it, so no room below; above, an interval would tell needlessly little.
    assert 0.95 <= newcombe_coverage(of_a, of_b) <= 0.97


def missed_in_strata(sizes: tuple[tuple[int, int], ...], spread: float, rounds: int) -> int:
    """How often a common difference is missed, over shares that differ from pot to pot."""
    chance = np.random.default_rng(11)
    missed = 0
    for _ in range(rounds):
        difference = chance.uniform(-0.5, 0.5)
        middle = chance.uniform(abs(difference) / 2, 1 - abs(difference) / 2)
        tables = []
        for n, m in sizes:
            room = min(middle - abs(difference) / 2, 1 - abs(difference) / 2 - middle)
            here = middle + chance.uniform(-1, 1) * min(spread, room)
            yes_a = int(chance.binomial(n, here - difference / 2))
            yes_b = int(chance.binomial(m, here + difference / 2))
            tables.append((yes_a, n, yes_b, m))
        interval = shares_difference(tables).intervals[0]
        assert interval is not None
        missed += not interval.low <= difference <= interval.high
    return missed


STRATA = (((3, 3), (3, 3)), ((3, 3),) * 6, ((4, 2), (2, 5), (6, 3)), ((6, 6),) * 3)


@pytest.mark.parametrize("sizes", STRATA)
@pytest.mark.parametrize("spread", [0.0, 0.3])
def test_stratified_interval_covers_on_average(
    sizes: tuple[tuple[int, int], ...], spread: float
) -> None:
    rounds = 10 * ROUNDS
    # Hardly any missed: the interval would tell needlessly little.
    assert rounds / 100 <= missed_in_strata(sizes, spread, rounds) <= most(rounds)


def main(rounds: int) -> None:
    """Print every question with its answer."""
    lines = [f"{rounds} rounds", "", "wrong  at most  question"]
    for asked in questions():
        found = asked.wrong(rounds)
        lines.append(f"{found / rounds:6.4f}  {most(rounds) / rounds:6.4f}  {asked.name}")
    lines += ["", "covered  Newcombe's interval, mean over shares"]
    lines += [f"{newcombe_coverage(*sizes):7.4f}  {sizes}" for sizes in SIZES]
    lines += ["", "covered  stratified interval, strata, spread of shares"]
    for sizes in STRATA:
        for spread in (0.0, 0.3):
            covered = 1 - missed_in_strata(sizes, spread, 5 * rounds) / (5 * rounds)
            lines.append(f"{covered:7.4f}  {sizes} {spread}")
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4000)
