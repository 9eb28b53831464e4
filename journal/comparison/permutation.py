"""Exact permutation of the labels within strata: one engine for every p.

A stratum is a set of trials that could each have had either label, as far as
chance goes: the bars of one pot, the pots of one day. If the label made no
difference, every way of dealing the labels out again within the strata was
equally likely. p is the share of those ways that come out at least as far from
the middle as what was seen. What is added up decides which test it is:

ranks   the pairs (a, b) within a stratum where b is the larger, a tie counting
        half, summed over the strata. In one stratum: the exact test of Mann and
        Whitney, with ties as they are.
counts  the "yes" of the second label, summed over the strata. In one stratum:
        Fisher's exact test; in several: the exact conditional test of Cochran,
        Mantel and Haenszel.
signs   the ranks of the differences that lie above zero, each difference a
        stratum of one pair: Wilcoxon's exact signed-rank test.

Ways are counted as whole numbers, never as floats. Sums of ranks are counted by
multiplying out polynomials whose coefficients lie side by side in one long
whole number, so that a multiplication of two laws is one of two numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from typing import TYPE_CHECKING

from journal.errors import FigureError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    IntArray = NDArray[np.int64]

# Trials of one stratum: values with the first label, values with the second.
Values = tuple[Sequence[float], Sequence[float]]
# The same on the whole-number grid.
Grid = tuple[tuple[int, ...], tuple[int, ...]]
# What fixes the law of a stratum's sum: sizes of the groups of ties in order of
# value, and how many trials have the second label.
Pattern = tuple[tuple[int, ...], int]

# Values are compared on a grid of a thousand-millionth of their unit, so that
# 1.5 - 1.2 and 0.3 are the same shift; four points a step leave room for
# the middle of two shifts and of two medians.
STEPS_PER_UNIT = 10**9
POINTS_PER_STEP = 4

# Beyond as many pairs within strata, or as long a law, labels are dealt out at
# random: exact laws would take over a second. About 60 trials against 60.
MOST_PAIRS_EXACT = 3600
MOST_SIGNS_EXACT = 100
DRAWS = 19_999
SEED = 20_260_418
# Laws up to this length are kept; a page's measures share a few of them.
KEPT_LENGTH = 600


@dataclass(frozen=True, slots=True)
class Test:
    """One test: how far from the middle the sum lies, and how rare that is.

    ``at_most`` and ``at_least`` are the one-sided p for a second label that is
    smaller and larger; ``p`` is two-sided. ``error`` is the standard error of
    ``p`` where labels were dealt at random, None where all ways were counted.
    ``excess`` is the sum less its mean under chance: above 0, the second label
    runs larger. ``least_p`` is the smallest p that these numbers of trials can
    give at all.
    """

    p: float
    at_most: float
    at_least: float
    excess: float
    least_p: float
    error: float | None = None


def on_grid(values: Sequence[float]) -> tuple[int, ...]:
    """Values as whole numbers of grid points.

    Takes:  values  any length; finite
    Gives:  whole numbers, a multiple of POINTS_PER_STEP each
    Fails:  FigureError if a value is not finite
    Source: definition
    Checked: 1.5 - 1.2 and 0.3 are the same number of points
    """
    for value in values:
        if not math.isfinite(value):
            raise FigureError(f"a value of {value} cannot be compared")
    return tuple(round(value * STEPS_PER_UNIT) * POINTS_PER_STEP for value in values)


def off_grid(points: float) -> float:
    """A number of grid points as a value again; never -0.0.

    Takes:  points  grid points; scalar
    Gives:  a value in its unit
    Fails:  never
    Source: definition
    Checked: 4 000 000 000 points are 1 unit
    """
    return points / (STEPS_PER_UNIT * POINTS_PER_STEP) + 0.0


def pattern(first: Sequence[int], second: Sequence[int]) -> tuple[Pattern, int]:
    """Groups of ties of a stratum, and twice the pairs that the second label wins.

    Takes:  first, second  grid values of the two labels; any length
    Gives:  (sizes of the groups of ties in order of value, trials with the
            second label), and twice the number of pairs with second > first,
            a tie counting half
    Fails:  never
    Source: definition; Mann and Whitney, Ann. Math. Stat. 18 (1947) 50
    Checked: (1, 2) against (2, 3) has groups 1 2 1 and wins 3.5 of 4 pairs
    """
    counts: dict[int, list[int]] = {}
    for value in first:
        counts.setdefault(value, [0, 0])[0] += 1
    for value in second:
        counts.setdefault(value, [0, 0])[1] += 1
    sizes: list[int] = []
    below = wins = 0
    for value in sorted(counts):
        of_first, of_second = counts[value]
        sizes.append(of_first + of_second)
        wins += of_second * (2 * below + of_first)
        below += of_first
    return (tuple(sizes), len(second)), wins


def _stratum_law(sizes: tuple[int, ...], chosen: int) -> list[int]:
    """Ways to choose ``chosen`` trials, by twice the pairs that they win."""
    trials = sum(sizes)
    others = trials - chosen
    if others < chosen:
        # Fewer to choose, the same ways: what one side wins the other loses.
        return _stratum_law(sizes, others)[::-1]
    width = 8 * (math.comb(trials, chosen).bit_length() // 8 + 1)
    # sums[j] holds the ways to choose j of the trials so far; the coefficient
    # at s is the number of ways whose doubled mid-ranks sum to s.
    sums = [1] + [0] * chosen
    below = seen = 0
    for size in sizes:
        shift = width * (2 * below + size + 1)
        for _ in range(size):
            seen += 1
            for number in range(min(seen, chosen), 0, -1):
                sums[number] += sums[number - 1] << shift
        below += size
    law = sums[chosen] >> (width * chosen * (chosen + 1))
    return _unpacked(law, width // 8, 2 * chosen * others + 1)


def _unpacked(packed: int, width: int, length: int) -> list[int]:
    data = packed.to_bytes(width * length, "little")
    return [int.from_bytes(data[i : i + width], "little") for i in range(0, len(data), width)]


def _product(laws: Sequence[Sequence[int]], ways: int) -> list[int]:
    """Law of a sum of independent sums; ``ways`` is the product of their totals."""
    if len(laws) == 1:
        return list(laws[0])
    width = ways.bit_length() // 8 + 1
    packed = 1
    length = 1
    for law in laws:
        data = b"".join(count.to_bytes(width, "little") for count in law)
        packed *= int.from_bytes(data, "little")
        length += len(law) - 1
    return _unpacked(packed, width, length)


def _below(patterns: tuple[Pattern, ...]) -> tuple[int, ...]:
    laws = [_stratum_law(sizes, chosen) for sizes, chosen in patterns]
    ways = math.prod(math.comb(sum(sizes), chosen) for sizes, chosen in patterns)
    return tuple(accumulate(_product(laws, ways)))


_below_short = lru_cache(maxsize=4096)(_below)
_below_long = lru_cache(maxsize=8)(_below)


def ways_up_to(patterns: Sequence[Pattern]) -> tuple[int, ...]:
    """Ways to deal the labels within strata, up to each sum of twice the pairs won.

    Takes:  patterns  of one or more strata
    Gives:  entry s is the number of ways with a sum of at most s; the last
            entry is the number of all ways
    Fails:  never
    Source: definition; sums by convolution
    Checked: 3 against 3 without ties has 20 ways, 1 of them with no pair won
    """
    key = tuple(sorted(patterns))
    length = sum(2 * chosen * (sum(sizes) - chosen) for sizes, chosen in key)
    return _below_short(key) if length <= KEPT_LENGTH else _below_long(key)


def pairs_within(strata: Sequence[tuple[Sequence[object], Sequence[object]]]) -> int:
    """Pairs of a first and a second label within a stratum.

    Takes:  strata  values of the first and of the second label of each
    Gives:  a count
    Fails:  never
    Source: definition
    Checked: 3 against 4 and 2 against 2 are 16 pairs
    """
    return sum(len(first) * len(second) for first, second in strata)


def ways_to_deal(strata: Sequence[tuple[Sequence[object], Sequence[object]]]) -> int:
    """Ways to deal the labels out again within the strata.

    Takes:  strata  values of the first and of the second label of each
    Gives:  a count
    Fails:  never
    Source: definition
    Checked: 3 against 3 is 20 ways
    """
    return math.prod(math.comb(len(a) + len(b), len(b)) for a, b in strata)


def _test(low: int, high: int, ways: int, excess: float, least: int) -> Test:
    return Test(
        p=min(1.0, 2 * min(low, high) / ways),
        at_most=low / ways,
        at_least=high / ways,
        excess=excess,
        least_p=min(1.0, 2 * least / ways),
    )


def _comparable(strata: Sequence[Values]) -> list[Grid]:
    grids = [(on_grid(first), on_grid(second)) for first, second in strata]
    grids = [(first, second) for first, second in grids if first and second]
    if not grids:
        raise FigureError("no stratum holds both of what is compared")
    return grids


def ranks_test(strata: Sequence[Values]) -> Test:
    """Is the second label's value larger or smaller, pair against pair within strata?

    The sum is that of all pairs within strata that the second label wins, a tie
    counting half; two-sided p is twice the smaller tail. A stratum with one label
    alone says nothing and is left out.

    Takes:  strata  values of the first and of the second label of each; finite;
            one or more strata with both
    Gives:  Test; exact up to MOST_PAIRS_EXACT pairs within strata, beyond that
            from DRAWS deals by a generator with the fixed seed SEED
    Fails:  FigureError if no stratum has both labels, or a value is not finite
    Source: Mann and Whitney, Ann. Math. Stat. 18 (1947) 50; for strata, van
            Elteren, Bull. Int. Stat. Inst. 37 (1960) 351, pairs equally weighted
    Checked: 3 smaller against 3 larger gives 0.1; ages 19 22 16 29 24 against
            20 11 17 12 give 0.1111 (SciPy's manual)
    """
    grids = _comparable(strata)
    if pairs_within(grids) > MOST_PAIRS_EXACT:
        return _sampled(grids)
    patterns, wins = _patterns(grids)
    below = ways_up_to(patterns)
    low = below[wins]
    high = below[-1] - (below[wins - 1] if wins else 0)
    return _test(low, high, below[-1], wins / 2 - pairs_within(grids) / 2, 1)


def _patterns(grids: Sequence[Grid]) -> tuple[list[Pattern], int]:
    patterns: list[Pattern] = []
    wins = 0
    for first, second in grids:
        found, won = pattern(first, second)
        patterns.append(found)
        wins += won
    return patterns, wins


def _sampled(grids: Sequence[Grid]) -> Test:
    """The ranks test with labels dealt at random; the deal that was made counts as one."""
    import numpy as np

    chance = np.random.default_rng(SEED)
    won = np.zeros(DRAWS, dtype=np.int64)
    seen = 0
    for first, second in grids:
        (sizes, chosen), wins = pattern(first, second)
        seen += wins
        starts = accumulate(sizes, initial=0)
        weights = np.repeat([2 * s + t + 1 for s, t in zip(starts, sizes, strict=False)], sizes)
        for begin in range(0, DRAWS, 1000):
            rows = min(1000, DRAWS - begin)
            dealt = chance.permuted(np.broadcast_to(weights, (rows, len(weights))), axis=1)
            won[begin : begin + rows] += dealt[:, :chosen].sum(axis=1) - chosen * (chosen + 1)
    return _of_draws(won, seen, seen / 2 - pairs_within(grids) / 2)


def _of_draws(sums: IntArray, seen: int, excess: float) -> Test:
    """The test from sums of draws; what was seen counts as one of them."""
    ways = DRAWS + 1
    low = 1 + int((sums <= seen).sum())
    high = 1 + int((sums >= seen).sum())
    tail = min(low, high) / ways
    # Two-sided p is twice a tail, and so is its error.
    error = 2 * math.sqrt(tail * (1 - tail) / DRAWS) if tail < 1 else 0.0
    return Test(
        p=min(1.0, 2 * tail),
        at_most=low / ways,
        at_least=high / ways,
        excess=excess,
        least_p=2 / ways,
        error=error,
    )


def counts_test(tables: Sequence[tuple[int, int, int, int]]) -> Test:
    """Is "yes" more or less frequent with the second label, within strata?

    Two-sided p sums the chances of all outcomes that are no likelier than what
    was seen.

    Takes:  tables  of each stratum: yes and trials of the first label, yes and
            trials of the second; 0 <= yes <= trials; one or more with both labels
    Gives:  Test; always exact
    Fails:  FigureError if no stratum has both labels, or yes exceeds trials
    Source: Fisher, The Design of Experiments (1935) ch. 2; Mantel and Haenszel,
            J. Natl. Cancer Inst. 22 (1959) 719; exact form: Birch, J. R. Stat.
            Soc. B 26 (1964) 313
    Checked: 3 of 3 against 0 of 3 gives 0.1; 3 of 4 against 1 of 4 gives 0.4857
    """
    for yes_a, of_a, yes_b, of_b in tables:
        if not (0 <= yes_a <= of_a and 0 <= yes_b <= of_b):
            raise FigureError(f"{yes_a} of {of_a} against {yes_b} of {of_b} cannot be")
    used = [table for table in tables if table[1] and table[3]]
    if not used:
        raise FigureError("no stratum holds both of what is compared")
    laws: list[list[int]] = []
    seen = least = ways = 0
    excess = 0.0
    ways = 1
    for yes_a, of_a, yes_b, of_b in used:
        yes, trials = yes_a + yes_b, of_a + of_b
        lowest, highest = max(0, yes - of_a), min(yes, of_b)
        laws.append(
            [math.comb(yes, x) * math.comb(trials - yes, of_b - x)
             for x in range(lowest, highest + 1)]
        )  # fmt: skip
        seen += yes_b - lowest
        excess += yes_b - yes * of_b / trials
        ways *= math.comb(trials, of_b)
    law = _product(laws, ways)
    at = law[seen]
    least = min(law[0], law[-1])
    return Test(
        p=sum(count for count in law if count <= at) / ways,
        at_most=sum(law[: seen + 1]) / ways,
        at_least=sum(law[seen:]) / ways,
        # Differences that cancel but for the float's last digit are none.
        excess=excess if abs(excess) > 1e-9 else 0.0,
        least_p=sum(count for count in law if count <= least) / ways,
    )


@lru_cache(maxsize=64)
def _signed_below(ranks: tuple[int, ...]) -> tuple[int, ...]:
    width = 8 * (len(ranks) // 8 + 1)
    law = 1
    for rank in ranks:
        law += law << (width * rank)
    return tuple(accumulate(_unpacked(law, width // 8, sum(ranks) + 1)))


def signed_law(magnitudes: Sequence[int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Doubled mid-ranks of magnitudes, and ways up to each sum of signed ranks.

    Takes:  magnitudes  grid values above 0; one or more
    Gives:  doubled mid-ranks in the order given; entry s of the second is the
            number of sign patterns whose doubled ranks above zero sum to at most s
    Fails:  never
    Source: Wilcoxon, Biometrics Bull. 1 (1945) 80
    Checked: three magnitudes without ties have 8 patterns
    """
    ranks = _doubled_ranks(magnitudes)
    return ranks, _signed_below(tuple(sorted(ranks)))


def _doubled_ranks(magnitudes: Sequence[int]) -> tuple[int, ...]:
    counts: dict[int, int] = {}
    for magnitude in magnitudes:
        counts[magnitude] = counts.get(magnitude, 0) + 1
    doubled: dict[int, int] = {}
    below = 0
    for magnitude in sorted(counts):
        doubled[magnitude] = 2 * below + counts[magnitude] + 1
        below += counts[magnitude]
    return tuple(doubled[magnitude] for magnitude in magnitudes)


def signs_test(differences: Sequence[float]) -> Test:
    """Do paired differences lie above or below zero?

    A difference of zero says nothing and is left out; two-sided p is twice the
    smaller tail.

    Takes:  differences  one or more; finite
    Gives:  Test; exact up to MOST_SIGNS_EXACT differences, beyond that from DRAWS
            patterns of signs by a generator with the fixed seed SEED
    Fails:  FigureError if there is no difference, or one is not finite
    Source: Wilcoxon, Biometrics Bull. 1 (1945) 80; ties by mid-ranks
    Checked: five differences on one side give 0.0625
    """
    if not differences:
        raise FigureError("there is no difference to test")
    grid = [value for value in on_grid(differences) if value]
    if not grid:
        return Test(1.0, 1.0, 1.0, 0.0, 1.0)
    if len(grid) > MOST_SIGNS_EXACT:
        return _signs_sampled(grid)
    ranks, below = signed_law([abs(value) for value in grid])
    above = sum(rank for rank, value in zip(ranks, grid, strict=True) if value > 0)
    low = below[above]
    high = below[-1] - (below[above - 1] if above else 0)
    return _test(low, high, below[-1], above / 2 - sum(ranks) / 4, 1)


def _signs_sampled(grid: Sequence[int]) -> Test:
    """The signs test with signs dealt at random; those that were seen count as one."""
    import numpy as np

    chance = np.random.default_rng(SEED)
    ranks = _doubled_ranks([abs(value) for value in grid])
    seen = sum(rank for rank, value in zip(ranks, grid, strict=True) if value > 0)
    sums = np.zeros(DRAWS, dtype=np.int64)
    for begin in range(0, DRAWS, 1000):
        rows = min(1000, DRAWS - begin)
        up = chance.integers(0, 2, (rows, len(ranks)), dtype=np.int64)
        sums[begin : begin + rows] = up @ np.array(ranks, dtype=np.int64)
    return _of_draws(sums, seen, seen / 2 - sum(ranks) / 4)
