"""How likely a planned test is to tell a difference that matters, before anything is poured."""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from journal.comparison import laws
from journal.comparison.contrast import LEAST_POTS_FOR_T
from journal.comparison.moderated import PotScatter, borrows
from journal.comparison.observed import ComparedMeasure
from journal.comparison.planned.layout import PlannedTest, planned_test
from journal.comparison.power import chance_of_plan
from journal.comparison.scales import least_variance, place_shift
from journal.comparison.scatter import MeasureScatter, borrowed

# Pots of each variant, or pots that hold them all, that a table of chances has.
TABLED = (2, 3, 4, 6, 8)
# Ranks tell a little less than the values would: the efficiency of signed ranks and rank sums
# beside Student's t, of normal values (Hodges and Lehmann, Ann. Math. Stat. 27 (1956) 324).
RANK_EFFICIENCY = 3 / math.pi


class PlanChance(Struct, frozen=True):
    """So many pots, of so many bars each, and the chance to tell; None if no scatter is known."""

    pots: int
    bars: int
    chance: float | None


def plan_chances(
    test: PlannedTest, measure: ComparedMeasure, others: Sequence[MeasureScatter], level: float
) -> tuple[PlanChance, ...]:
    """The chances of a test with its own number of pots and with those of TABLED.

    Takes:  test     as it is planned
            measure  that decides, with the difference that matters
            others   its scatter in other designs
            level    p that tells, of one pair of variants
    Gives:  by number of pots, each once
    """
    sides = len(test.compared) if test.by == "pots" else 1
    chances = []
    for pots in sorted({test.pots, *(sides * of_each for of_each in TABLED)}):
        sized = planned_test(
            test.compared, test.group, test.by, test.seed, pots, test.bars, level, test.in_row
        )
        chances.append(PlanChance(pots, test.bars, chance_to_tell(sized, measure, others, level)))
    return tuple(chances)


def chance_to_tell(
    test: PlannedTest, measure: ComparedMeasure, others: Sequence[MeasureScatter], level: float
) -> float | None:
    """The chance that a test tells a difference that matters between two of its variants.

    Gives:  0 to 1; None if nothing says how much bars, or pots, differ
    Checked: by simulation, see DEVELOPERS.md
    """
    if not others:
        return None
    middle = math.fsum(other.middle for other in others) / len(others)
    effect = place_shift(measure.matters, middle, measure)
    if test.by == "pots":
        return _chance_of_pots(test, measure, others, middle, effect, level)
    if measure.kind == "yes-no":
        return _chance_of_yes(test, math.sin(middle) ** 2, measure.matters, level)
    least = least_variance(middle, 1, measure)
    scatters = [
        PotScatter(max(least, other.bar_variance), other.bar_df)
        for other in others
        if other.bar_variance is not None and other.bar_df
    ]
    attained = attained_level(test, level)
    if attained is None:
        return 0.0 if scatters else None
    in_pairs = test.blocked == len(test.compared)
    df = test.blocks - 1 if in_pairs else 2 * test.trials - test.blocks - 1
    factor = 2 / test.trials / RANK_EFFICIENCY
    return chance_of_plan(effect, scatters, factor, df, attained, alone=True)


def _chance_of_pots(
    test: PlannedTest,
    measure: ComparedMeasure,
    others: Sequence[MeasureScatter],
    middle: float,
    effect: float,
    level: float,
) -> float | None:
    """The chance of a test of whole pots, a block a day."""
    rest = borrowed(others, measure, False, test.bars, middle)
    days = test.blocks
    if not rest:
        return None
    if borrows(rest) and days > 1:
        return chance_of_plan(effect, rest, 2 / days, days - 1, level)
    if days >= LEAST_POTS_FOR_T:
        return chance_of_plan(effect, rest, 2 / days, days - 1, level, alone=True)
    # So few days have no test but of signs, and those are too few to tell.
    return 0.0


def attained_level(test: PlannedTest, level: float) -> float | None:
    """The largest p up to ``level`` that two variants of a test can come to, without ties.

    None if even the clearest outcome has more.

    Checked: seven pairs come to 2 / 128, twelve to 0.0269 where 0.03 tells
    """
    if test.blocked == len(test.compared):
        below = laws.signed_rank_counts(range(1, test.blocks + 1))[1]
    else:
        each = test.blocked // len(test.compared)
        below = laws.cumulative_counts([((1,) * (2 * each), each)] * test.blocks)
    attained = [2 * ways / below[-1] for ways in below if 2 * ways <= level * below[-1]]
    return max(attained, default=0.0) or None


def _chance_of_yes(test: PlannedTest, share: float, matters: float, level: float) -> float:
    """The chance to tell shares that lie half of ``matters`` above and below a share."""
    import numpy as np
    from scipy.stats import binom

    low, high = max(0.0, share - matters / 2), min(1.0, share + matters / 2)
    n = test.trials
    if test.blocked == len(test.compared):
        more, less = high * (1 - low), low * (1 - high)
        unlike = more + less
        chance = 0.0
        for count in range(1, n + 1):
            wins = np.arange(count + 1)
            p = 2 * binom.cdf(np.minimum(wins, count - wins), count, 0.5)
            told = binom.pmf(wins, count, more / unlike)[p <= level].sum()
            chance += float(binom.pmf(count, n, unlike) * told)
        return chance
    # Of several blocks the law is a little narrower than that of one table of them all.
    return _power_of_table(n, low, high, level)


def _power_of_table(n: int, low: float, high: float, level: float) -> float:
    """The power of Fisher's exact test of two shares among n each."""
    import numpy as np
    from scipy.stats import binom, hypergeom

    chance = 0.0
    for yes in range(2 * n + 1):
        second = np.arange(max(0, yes - n), min(n, yes) + 1)
        law = hypergeom.pmf(second, 2 * n, yes, n)
        p = np.array([law[law <= one * (1 + 1e-9)].sum() for one in law])
        seen = binom.pmf(second, n, high) * binom.pmf(yes - second, n, low)
        chance += float(seen[p <= level].sum())
    return chance
