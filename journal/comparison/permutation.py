"""Exact permutation tests of labels within strata, which give every p.

A label is the first or the second of two variants. A stratum is a set of trials
that could each have had either label, as far as chance goes: the bars of one pot,
the pots of one day. If the label made no difference, every permutation of the
labels within the strata would be equally likely. p is the share of permutations
whose sum lies at least as far from the middle as the observed one. The quantity
that is summed makes the test:

ranks   the pairs (a, b) within a stratum where b is the larger, a tie counting
        half, summed over the strata. In one stratum: the exact test of Mann and
        Whitney, with ties as they are.
counts  the "yes" of the second label, summed over the strata. In one stratum:
        Fisher's exact test; in several: the exact conditional test of Cochran,
        Mantel and Haenszel.
signs   the ranks of the differences that lie above zero, each difference a
        stratum of one pair: Wilcoxon's exact signed-rank test.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate
from typing import TYPE_CHECKING

from msgspec import Struct

from journal.comparison import laws
from journal.errors import FigureError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    IntArray = NDArray[np.int64]

# Beyond so many pairs within strata, 60 trials against 60, or so many differences,
# permutations are drawn at random: an exact distribution would take a tenth of a second.
MOST_PAIRS_EXACT = 3600
MOST_SIGNS_EXACT = 100
DRAWS = 19_999
SEED = 20_260_418


class PermutationTest(Struct, frozen=True):
    """The result of a test: its p, and the direction of the difference.

    ``at_most`` and ``at_least`` are the one-sided p for a second label that is
    smaller and larger; ``p`` is two-sided. ``error`` is the standard error of
    ``p`` where permutations were drawn at random, None where all were counted.
    ``excess`` is the observed sum less its mean over all permutations: above 0, the
    second label has the larger values. ``least_p`` is the smallest p that these
    numbers of trials can give at all.
    """

    p: float
    at_most: float
    at_least: float
    excess: float
    least_p: float
    error: float | None = None


def _two_sided(
    low: int, high: int, ways: int, excess: float, error: float | None = None
) -> PermutationTest:
    """A result whose two-sided p is twice the smaller tail, out of ``ways`` permutations."""
    return PermutationTest(
        p=min(1.0, 2 * min(low, high) / ways),
        at_most=low / ways,
        at_least=high / ways,
        excess=excess,
        least_p=min(1.0, 2 / ways),
        error=error,
    )


def rank_sum_test(strata: Sequence[laws.StratumValues]) -> PermutationTest:
    """Test whether the second label's values are larger or smaller, by pairs within strata.

    The sum counts the pairs within strata in which the second label's value is the larger,
    a tie as half. Two-sided p is twice the smaller tail. A stratum with one label
    alone is left out.

    Takes:  strata  values of the first and of the second label of each; finite;
            one or more strata with both
    Gives:  the result; exact up to MOST_PAIRS_EXACT pairs within strata, beyond that
            from DRAWS permutations by a generator with the fixed seed SEED
    Fails:  FigureError if no stratum has both labels, or a value is not finite
    Source: Mann and Whitney, Ann. Math. Stat. 18 (1947) 50; for strata, van
            Elteren, Bull. Int. Stat. Inst. 37 (1960) 351, pairs equally weighted
    Checked: 3 smaller against 3 larger gives 0.1; ages 19 22 16 29 24 against
            20 11 17 12 give 0.1111 (SciPy's manual)
    """
    grids = laws.comparable_grids(strata)
    pairs = sum(len(first) * len(second) for first, second in grids)
    if pairs > MOST_PAIRS_EXACT:
        return _sampled_ranks(grids, pairs)
    patterns, wins = laws.tie_patterns(grids)
    below = laws.cumulative_counts(patterns)
    high = below[-1] - (below[wins - 1] if wins else 0)
    return _two_sided(below[wins], high, below[-1], wins / 2 - pairs / 2)


def _sampled_ranks(grids: Sequence[laws.StratumGrid], pairs: int) -> PermutationTest:
    """The rank-sum test from random permutations; the observed one counts as one of them."""
    import numpy as np

    rng = np.random.default_rng(SEED)
    won = np.zeros(DRAWS, dtype=np.int64)
    observed = 0
    for first, second in grids:
        (sizes, chosen), wins = laws.tie_pattern(first, second)
        observed += wins
        starts = accumulate(sizes, initial=0)
        weights = np.repeat([2 * s + t + 1 for s, t in zip(starts, sizes, strict=False)], sizes)
        for begin in range(0, DRAWS, 1000):
            rows = min(1000, DRAWS - begin)
            dealt = rng.permuted(np.broadcast_to(weights, (rows, len(weights))), axis=1)
            won[begin : begin + rows] += dealt[:, :chosen].sum(axis=1) - chosen * (chosen + 1)
    return _monte_carlo(won, observed, observed / 2 - pairs / 2)


def _monte_carlo(sums: IntArray, observed: int, excess: float) -> PermutationTest:
    """The result from the sums of random permutations, with the standard error of p."""
    ways = DRAWS + 1
    low = 1 + int((sums <= observed).sum())
    high = 1 + int((sums >= observed).sum())
    tail = min(low, high) / ways
    # Two-sided p is twice a tail, and so is its error.
    error = 2 * math.sqrt(tail * (1 - tail) / DRAWS) if tail < 1 else 0.0
    return _two_sided(low, high, ways, excess, error)


def conditional_exact_test(tables: Sequence[laws.StratumCounts]) -> PermutationTest:
    """Test whether "yes" is more or less frequent with the second label, within strata.

    Two-sided p sums the chances of all outcomes that are no likelier than the
    observed one.

    Takes:  tables  of each stratum: yes and trials of the first label, yes and
            trials of the second; 0 <= yes <= trials; one or more with both labels
    Gives:  the test; always exact
    Fails:  FigureError if no stratum has both labels, or yes exceeds trials
    Source: Fisher, The Design of Experiments (1935) ch. 2; Mantel and Haenszel,
            J. Natl. Cancer Inst. 22 (1959) 719; exact form: Birch, J. R. Stat.
            Soc. B 26 (1964) 313
    Checked: 3 of 3 against 0 of 3 gives 0.1; 3 of 4 against 1 of 4 gives 0.4857
    """
    distributions: list[list[int]] = []
    observed = 0
    excess = Fraction(0)
    ways = 1
    for yes_a, of_a, yes_b, of_b in laws.comparable_tables(tables):
        yes, trials = yes_a + yes_b, of_a + of_b
        lowest, highest = max(0, yes - of_a), min(yes, of_b)
        distributions.append(
            [math.comb(yes, x) * math.comb(trials - yes, of_b - x)
             for x in range(lowest, highest + 1)]
        )  # fmt: skip
        observed += yes_b - lowest
        excess += yes_b - Fraction(yes * of_b, trials)
        ways *= math.comb(trials, of_b)
    law = laws.convolved_counts(distributions, ways)
    at = law[observed]
    least = min(law[0], law[-1])
    return PermutationTest(
        p=sum(count for count in law if count <= at) / ways,
        at_most=sum(law[: observed + 1]) / ways,
        at_least=sum(law[observed:]) / ways,
        excess=float(excess),
        least_p=sum(count for count in law if count <= least) / ways,
    )


def signed_rank_test(differences: Sequence[float]) -> PermutationTest:
    """Test whether paired differences lie above or below zero.

    A difference of zero is left out. Two-sided p is twice the smaller tail.

    Takes:  differences  one or more; finite
    Gives:  the test; exact up to MOST_SIGNS_EXACT differences, beyond that from DRAWS
            patterns of signs by a generator with the fixed seed SEED
    Fails:  FigureError if there is no difference, or one is not finite
    Source: Wilcoxon, Biometrics Bull. 1 (1945) 80; ties by mid-ranks
    Checked: five differences on one side give 0.0625
    """
    if not differences:
        raise FigureError("there is no difference to test")
    grid = [value for value in laws.to_grid(differences) if value]
    if not grid:
        return PermutationTest(1.0, 1.0, 1.0, 0.0, 1.0)
    if len(grid) > MOST_SIGNS_EXACT:
        return _sampled_signs(grid)
    ranks, below = laws.signed_rank_counts([abs(value) for value in grid])
    above = sum(rank for rank, value in zip(ranks, grid, strict=True) if value > 0)
    low = below[above]
    high = below[-1] - (below[above - 1] if above else 0)
    return _two_sided(low, high, below[-1], above / 2 - sum(ranks) / 4)


def _sampled_signs(grid: Sequence[int]) -> PermutationTest:
    """The signed-rank test from random signs; the observed ones count as one draw."""
    import numpy as np

    rng = np.random.default_rng(SEED)
    ranks = laws.doubled_ranks([abs(value) for value in grid])
    observed = sum(rank for rank, value in zip(ranks, grid, strict=True) if value > 0)
    sums = np.zeros(DRAWS, dtype=np.int64)
    for begin in range(0, DRAWS, 1000):
        rows = min(1000, DRAWS - begin)
        up = rng.integers(0, 2, (rows, len(ranks)), dtype=np.int64)
        sums[begin : begin + rows] = up @ np.array(ranks, dtype=np.int64)
    return _monte_carlo(sums, observed, observed / 2 - sum(ranks) / 4)
