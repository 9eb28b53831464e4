"""Exact null distributions: permutations of the labels, counted by their sum.

A "way" is one permutation; a "law" is a list with the number of ways for each sum.
Ways are counted as whole numbers, never as floats. Sums of ranks are counted by
multiplying out polynomials whose coefficients lie side by side in one long
whole number, so that two laws are convolved by multiplying two numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import accumulate

from journal.errors import FigureError

# Trials of one stratum: values with the first label, values with the second.
StratumValues = tuple[Sequence[float], Sequence[float]]
# Counts of one stratum: yes and trials of the first label, yes and trials of the second.
StratumCounts = tuple[int, int, int, int]
# A stratum: whole-number values with the first label, and with the second.
StratumGrid = tuple[tuple[int, ...], tuple[int, ...]]
# What fixes the law of a stratum's sum: sizes of the groups of ties in order of
# value, and how many trials have the second label.
TiePattern = tuple[tuple[int, ...], int]

# Values are compared on a grid of a thousand-millionth of their unit, so that
# 1.5 - 1.2 and 0.3 are the same shift; four points a step leave room for
# the middle of two shifts and of two medians.
STEPS_PER_UNIT = 10**9
POINTS_PER_STEP = 4

# Distributions up to this length are cached; a page's measures share a few of them.
CACHED_LENGTH = 600

_NOT_BOTH = "no stratum holds both of what is compared"


def to_grid(values: Sequence[float]) -> tuple[int, ...]:
    """Turn values into whole numbers of grid points, each a multiple of POINTS_PER_STEP.

    Fails:  FigureError if a value is not finite
    """
    for value in values:
        if not math.isfinite(value):
            raise FigureError(f"a value of {value} cannot be compared")
    return tuple(round(value * STEPS_PER_UNIT) * POINTS_PER_STEP for value in values)


def from_grid(points: float) -> float:
    """Turn a number of grid points back into a value in its unit; never -0.0."""
    return points / (STEPS_PER_UNIT * POINTS_PER_STEP) + 0.0


def tie_pattern(first: Sequence[int], second: Sequence[int]) -> tuple[TiePattern, int]:
    """Count the ties of a stratum, and the pairs in which the second label's value is larger.

    Gives:  (sizes of the groups of ties in order of value, trials with the
            second label), and twice the number of pairs with second > first,
            a tie counting half
    Source: Mann and Whitney, Ann. Math. Stat. 18 (1947) 50
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


def tie_patterns(grids: Sequence[StratumGrid]) -> tuple[list[TiePattern], int]:
    """The tie pattern of each stratum, and twice the pairs that the second label wins in all."""
    patterns = [tie_pattern(first, second) for first, second in grids]
    return [pattern for pattern, _ in patterns], sum(wins for _, wins in patterns)


def comparable_tables(tables: Sequence[StratumCounts]) -> list[StratumCounts]:
    """The strata that have trials of both labels.

    Fails:  FigureError if there is none, or yes exceeds trials
    """
    for yes_a, of_a, yes_b, of_b in tables:
        if not (0 <= yes_a <= of_a and 0 <= yes_b <= of_b):
            raise FigureError(f"{yes_a} of {of_a} against {yes_b} of {of_b} cannot be")
    used = [table for table in tables if table[1] and table[3]]
    if not used:
        raise FigureError(_NOT_BOTH)
    return used


def comparable_grids(strata: Sequence[StratumValues]) -> list[StratumGrid]:
    """The values, on the grid, of the strata that have trials of both labels.

    Fails:  FigureError if there is none, or a value is not finite
    """
    grids = [(to_grid(first), to_grid(second)) for first, second in strata]
    used = [(first, second) for first, second in grids if first and second]
    if not used:
        raise FigureError(_NOT_BOTH)
    return used


def _stratum_counts(sizes: tuple[int, ...], chosen: int) -> list[int]:
    """Ways to give ``chosen`` trials of a stratum the second label, by twice the pairs won.

    ``sizes`` are those of its groups of ties; entry s counts the ways with a doubled sum of s.
    """
    trials = sum(sizes)
    others = trials - chosen
    if others < chosen:
        # Fewer to choose, the same ways: what one side wins the other loses.
        return _stratum_counts(sizes, others)[::-1]
    width = 8 * (math.comb(trials, chosen).bit_length() // 8 + 1)
    # sums[j] holds the ways to choose j of the trials so far; the coefficient
    # at s is the number of ways whose doubled mid-ranks sum to s.
    sums = [1] + [0] * chosen
    below = counted = 0
    for size in sizes:
        shift = width * (2 * below + size + 1)
        for _ in range(size):
            counted += 1
            for number in range(min(counted, chosen), 0, -1):
                sums[number] += sums[number - 1] << shift
        below += size
    law = sums[chosen] >> (width * chosen * (chosen + 1))
    return _unpacked(law, width // 8, 2 * chosen * others + 1)


def _unpacked(packed: int, width: int, length: int) -> list[int]:
    """The coefficients, ``width`` bytes each, that lie side by side in a whole number."""
    data = packed.to_bytes(width * length, "little")
    return [int.from_bytes(data[i : i + width], "little") for i in range(0, len(data), width)]


def convolved_counts(laws: Sequence[Sequence[int]], ways: int) -> list[int]:
    """Convolve laws: the ways for each total of independent sums.

    Takes:  laws  one or more; each has the ways for each sum from 0 up
            ways  product of the laws' totals
    Gives:  ways for each sum from 0 up
    Checked: two fair coins, (1, 1) and (1, 1), give (1, 2, 1)
    """
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


def _cumulative(patterns: tuple[TiePattern, ...]) -> tuple[int, ...]:
    """``cumulative_counts`` without the cache."""
    laws = [_stratum_counts(sizes, chosen) for sizes, chosen in patterns]
    ways = math.prod(math.comb(sum(sizes), chosen) for sizes, chosen in patterns)
    return tuple(accumulate(convolved_counts(laws, ways)))


_cumulative_short = lru_cache(maxsize=4096)(_cumulative)
_cumulative_long = lru_cache(maxsize=8)(_cumulative)


def cumulative_counts(patterns: Sequence[TiePattern]) -> tuple[int, ...]:
    """Ways to permute the labels within strata, up to each sum of twice the pairs won.

    Gives:  entry s is the number of ways with a sum of at most s; the last
            entry is the number of all ways
    Source: definition; sums by convolution
    Checked: 3 against 3 without ties has 20 ways, 1 of them with no pair won
    """
    key = tuple(sorted(patterns))
    length = sum(2 * chosen * (sum(sizes) - chosen) for sizes, chosen in key)
    return _cumulative_short(key) if length <= CACHED_LENGTH else _cumulative_long(key)


@lru_cache(maxsize=64)
def _cumulative_signed(ranks: tuple[int, ...]) -> tuple[int, ...]:
    """Patterns of signs up to each sum of the ranks with a plus."""
    width = 8 * (len(ranks) // 8 + 1)
    law = 1
    for rank in ranks:
        law += law << (width * rank)
    return tuple(accumulate(_unpacked(law, width // 8, sum(ranks) + 1)))


def signed_rank_counts(magnitudes: Sequence[int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Doubled mid-ranks of magnitudes, and the patterns of signs up to each sum of ranks.

    Takes:  magnitudes  grid values above 0; one or more
    Gives:  doubled mid-ranks in the order given; entry s of the second is the
            number of sign patterns whose doubled ranks above zero sum to at most s
    Source: Wilcoxon, Biometrics Bull. 1 (1945) 80
    Checked: three magnitudes without ties have 8 patterns
    """
    ranks = doubled_ranks(magnitudes)
    return ranks, _cumulative_signed(tuple(sorted(ranks)))


def doubled_ranks(magnitudes: Sequence[int]) -> tuple[int, ...]:
    """Twice the mid-ranks of grid values in the order given, so that they are whole."""
    counts: dict[int, int] = {}
    for magnitude in magnitudes:
        counts[magnitude] = counts.get(magnitude, 0) + 1
    doubled: dict[int, int] = {}
    below = 0
    for magnitude in sorted(counts):
        doubled[magnitude] = 2 * below + counts[magnitude] + 1
        below += counts[magnitude]
    return tuple(doubled[magnitude] for magnitude in magnitudes)
