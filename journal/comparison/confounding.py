"""Confounders: conditions other than the variant that could explain a difference."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import chain

from msgspec import Struct

from journal.comparison.observed import ObservedBar

# Bars of two variants that share less than half of a condition's values within
# their strata are worth a word; those that share none cannot be told apart.
SHARED_LEAST = 0.5


class Confounder(Struct, frozen=True):
    """A condition, such as the base or the season, that changed along with the variant.

    ``shared`` is the overlap of its values between the two variants, 0 to 1. It is 0 where
    the condition changed with the variant every time: then nobody can tell which of the
    two made the difference. ``first`` and ``second`` are its values on each side, the
    most frequent first.
    """

    condition: str
    shared: float
    first: tuple[str, ...]
    second: tuple[str, ...]

    @property
    def together(self) -> bool:
        """Whether it changed with the variant every time."""
        return self.shared == 0


def confounders(
    strata: Iterable[tuple[Sequence[ObservedBar], Sequence[ObservedBar]]],
    passed_over: Iterable[str] = (),
) -> tuple[Confounder, ...]:
    """Find the conditions that changed along with the variant among the bars compared.

    ``shared`` is the overlap of a condition's two frequency distributions within
    each stratum, averaged over the strata with their pairs as weights.
    A condition that is the same for a whole stratum explains nothing there.

    Takes:  strata       of each the bars of the first and of the second variant
            passed_over  conditions to leave out, since they are the variant itself
    Gives:  those that share less than SHARED_LEAST, least shared first
    Source: definition (overlap of two distributions)
    """
    skip = set(passed_over)
    shared: dict[str, float] = {}
    weights: dict[str, int] = {}
    totals: dict[str, tuple[dict[str, int], dict[str, int]]] = {}
    for sides in strata:
        of_side = [_counts(side, skip) for side in sides]
        for name in of_side[0].keys() & of_side[1].keys():
            a, b = (counts[name] for counts in of_side)
            of_a, of_b = sum(a.values()), sum(b.values())
            # Whole numbers over one denominator: shared by none is 0 exactly.
            pairs = of_a * of_b
            common = sum(min(a[value] * of_b, b[value] * of_a) for value in a if value in b) / pairs
            shared[name] = shared.get(name, 0.0) + common * pairs
            weights[name] = weights.get(name, 0) + pairs
            for total, counts in zip(totals.setdefault(name, ({}, {})), (a, b), strict=True):
                for value, number in counts.items():
                    total[value] = total.get(value, 0) + number
    changed = [
        Confounder(name, shared[name] / weights[name], _by_frequency(a), _by_frequency(b))
        for name, (a, b) in totals.items()
        if shared[name] / weights[name] < SHARED_LEAST
    ]
    return tuple(sorted(changed, key=lambda entry: (entry.shared, entry.condition)))


def _counts(bars: Iterable[ObservedBar], skip: Collection[str]) -> dict[str, dict[str, int]]:
    """How often each condition of some bars has each of its values."""
    found: dict[str, dict[str, int]] = {}
    # Counted as pairs, by C: in a large notebook there are some hundred thousand.
    pairs = Counter(chain.from_iterable(bar.conditions.items() for bar in bars))
    for (name, value), number in pairs.items():
        if name not in skip:
            found.setdefault(name, {})[value] = number
    return found


def _by_frequency(counts: Mapping[str, int]) -> tuple[str, ...]:
    """The values, the most frequent first."""
    return tuple(sorted(counts, key=lambda value: (-counts[value], value)))
