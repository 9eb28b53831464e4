"""Conditions that went with a failure, over the pots of a whole notebook: counts, no cause.

Bars of one pot fail together, so that a pot is one trial, however many bars it has: it had a
failure if one of its bars had it. Pots of one design and day share the day, so that its first pot
stands for the day. What changes from pour to pour (temperature, the room, how long
the pot stood, the season) is compared within designs: if it made no difference, each pot of a
design could as well have had what another had. What a design has once for all (its base, the load
of its scent) is compared between designs, by the first pot of each, since a design that was poured
more often has had more chances to fail.

Every p is of a permutation of which pots failed, within designs. Holm's adjustment is over all
that was looked at in the notebook; a test is looked at only if its counts allow it to tell
anything at all (Tarone, Biometrics 46 (1990) 515), which is known before it is known who failed.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from statistics import median
from typing import Literal, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from journal.comparison.intervals import Interval, wilson_interval
from journal.comparison.laws import StratumCounts, StratumValues
from journal.comparison.multiplicity import holm
from journal.comparison.permutation import conditional_exact_test, rank_sum_test
from journal.comparison.verdict import LAST_DIGIT, SIGNIFICANCE_LEVEL

ConditionKind = Literal["temperature", "share", "time", "of_kind"]

# Beyond so many pairs of pots the law of large numbers serves, and an exact one would take long.
MOST_PAIRS = 400


class Condition(NamedTuple):
    """A condition that is looked at: its name, its kind, and whether a design has one for all."""

    name: str
    kind: ConditionKind
    of_design: bool = False


# "pour" is how hot the last layer was poured, "first layer" how hot the first of several.
CONDITIONS = (
    Condition("pour", "temperature"),
    Condition("first layer", "temperature"),
    Condition("room", "temperature"),
    Condition("humidity", "share"),
    Condition("stood", "time"),
    Condition("season", "of_kind"),
    Condition("base", "of_kind", of_design=True),
    Condition("load", "share", of_design=True),
)


class FailurePot(Struct, frozen=True):
    """One pot as a trial: its design, its numbers and kinds by condition, and what failed.

    ``numbers`` are in degrees C, as shares, in minutes. ``failed`` goes by symptom; one that
    nobody looked for is not there. ``day`` is written so that days sort in their order; pots of a
    day come in the order of pouring.
    """

    design: str
    day: str
    numbers: tuple[tuple[str, float], ...]
    kinds: tuple[tuple[str, str], ...]
    failed: tuple[tuple[str, bool], ...]


class _TriedPot(NamedTuple):
    """A ``FailurePot`` with its values to be looked up."""

    design: str
    day: str
    numbers: Mapping[str, float]
    kinds: Mapping[str, str]
    failed: Mapping[str, bool]


class SideCount(Struct, frozen=True):
    """How many pots had a failure, of those on one side of a condition, with Wilson's interval."""

    failed: int
    pots: int

    @property
    def interval(self) -> Interval | None:
        """The 95 % interval of the share; None of no pots."""
        return wilson_interval(self.failed, self.pots) if self.pots else None


class ConditionOfFailure(Struct, frozen=True):
    """One symptom against one condition.

    ``value`` is the kind, such as a season, that is held against all others; of numbers "".
    ``cut`` is the middle number of all pots compared: ``above`` counts those beyond it (of that
    kind), ``below`` the rest. The cut serves to count by, the test uses the numbers themselves.
    """

    symptom: str
    condition: str
    kind: ConditionKind
    value: str
    of_design: bool
    cut: float | None
    above: SideCount
    below: SideCount
    p: float
    p_adjusted: float | None = None
    exact: bool = True

    @property
    def is_told(self) -> bool:
        """Whether it is unlikely to be chance, after all that was looked at, and counts agree."""
        if not self.above.pots or not self.below.pots:
            return False
        return self.sure_p <= SIGNIFICANCE_LEVEL + LAST_DIGIT

    @property
    def sure_p(self) -> float:
        """p adjusted over all that was looked at; 1 before it is."""
        return 1.0 if self.p_adjusted is None else self.p_adjusted

    @property
    def more_above(self) -> bool:
        """Whether the failure was the more frequent beyond the cut, or with that kind."""
        return self.above.failed * self.below.pots > self.below.failed * self.above.pots


class _Test(NamedTuple):
    """A p, the smallest that the counts allow, and whether all permutations were counted."""

    p: float
    least: float
    exact: bool


def conditions_of_failures(pots: Iterable[FailurePot]) -> tuple[ConditionOfFailure, ...]:
    """Hold every symptom against every condition, over the pots of a notebook.

    Takes:  pots  of all designs; each design's in the order of pouring
    Gives:  what was looked at, by symptom, the clearest first; p adjusted over all of it
    Source: the parts' own; Tarone 1990 for what is looked at
    Checked: against Fisher's and the Mann-Whitney test of scipy; false answers by simulation
    """
    every = [
        _TriedPot(pot.design, pot.day, dict(pot.numbers), dict(pot.kinds), dict(pot.failed))
        for pot in sorted(pots, key=lambda pot: (pot.design, pot.day))
    ]
    symptoms = sorted({name for pot in every for name in pot.failed})
    found = [entry for symptom in symptoms for entry in _of_symptom(every, symptom)]
    adjusted = holm([entry.p for entry in found])
    rows = (replace(entry, p_adjusted=p) for entry, p in zip(found, adjusted, strict=True))
    return tuple(sorted(rows, key=lambda entry: (entry.symptom, entry.sure_p, entry.p)))


def _of_symptom(pots: Sequence[_TriedPot], symptom: str) -> Iterator[ConditionOfFailure]:
    """Yield one symptom against every condition that its counts allow to tell anything of."""
    looked_for = [pot for pot in pots if symptom in pot.failed]
    outcomes: dict[str, set[bool]] = {}
    for pot in looked_for:
        outcomes.setdefault(pot.design, set()).add(pot.failed[symptom])
    # Pots that all failed, or none, say nothing within their design.
    both = [pot for pot in looked_for if len(outcomes[pot.design]) > 1]
    for condition in CONDITIONS:
        yield from _looked_at(looked_for if condition.of_design else both, symptom, condition)


def _looked_at(
    pots: Sequence[_TriedPot], symptom: str, condition: Condition
) -> Iterator[ConditionOfFailure]:
    """Yield the symptom against the condition; of kinds, against each that is worth a look."""
    if condition.kind != "of_kind":
        strata = _strata(pots, symptom, condition, lambda pot: pot.numbers.get(condition.name))
        test = _rank_test(strata)
        if test is not None and test.least <= SIGNIFICANCE_LEVEL:
            cut = median(value for pair in strata for side in pair for value in side)
            yield _row(symptom, condition, "", cut, [_table(pair, cut) for pair in strata], test)
        return
    own = sorted({kind for pot in pots if (kind := pot.kinds.get(condition.name)) is not None})
    numbers = {kind: float(number) for number, kind in enumerate(own)}
    strata = _strata(
        pots, symptom, condition, lambda pot: numbers.get(pot.kinds.get(condition.name, ""))
    )
    for kind, number in numbers.items():
        tables = [_table(pair, number, alike=True) for pair in strata]
        test = _share_test(tables)
        if test is not None and test.least <= SIGNIFICANCE_LEVEL:
            yield _row(symptom, condition, kind, None, tables, test)


def _strata(
    pots: Sequence[_TriedPot],
    symptom: str,
    condition: Condition,
    value_of: Callable[[_TriedPot], float | None],
) -> list[StratumValues]:
    """The values of the pots that did not fail, and of those that did, in each stratum with both.

    Within designs; of what a design has once for all, the first pots of all designs.
    """
    strata: dict[str, tuple[list[float], list[float]]] = {}
    seen: set[tuple[str, str]] = set()
    for pot in pots:
        value = value_of(pot)
        trial = (pot.design, "" if condition.of_design else pot.day)
        if value is None or trial in seen:
            continue
        seen.add(trial)
        sides = strata.setdefault("" if condition.of_design else pot.design, ([], []))
        sides[pot.failed[symptom]].append(value)
    return [(tuple(a), tuple(b)) for a, b in strata.values() if a and b]


def _row(
    symptom: str,
    condition: Condition,
    value: str,
    cut: float | None,
    tables: Sequence[StratumCounts],
    test: _Test,
) -> ConditionOfFailure:
    below, above = (
        SideCount(sum(table[at] for table in tables), sum(table[at + 1] for table in tables))
        for at in (0, 2)
    )
    return ConditionOfFailure(
        symptom, condition.name, condition.kind, value, condition.of_design, cut, above, below,
        test.p, exact=test.exact,
    )  # fmt: skip


def _table(pair: StratumValues, cut: float, alike: bool = False) -> StratumCounts:
    """Failed and all of one stratum: at the cut or below, then above it.

    With ``alike`` those of another value than the cut, then those of that value.
    """
    sound, failed = (sum(value == cut if alike else value > cut for value in side) for side in pair)
    all_sound, all_failed = map(len, pair)
    below_failed, below_sound = all_failed - failed, all_sound - sound
    return below_failed, below_failed + below_sound, failed, failed + sound


def _rank_test(strata: Sequence[StratumValues]) -> _Test | None:
    """Mann and Whitney's test within strata (van Elteren's sum of pairs); None without strata.

    Exact up to MOST_PAIRS, beyond by the normal law with the variance under permutation.
    """
    if not strata:
        return None
    if sum(len(a) * len(b) for a, b in strata) <= MOST_PAIRS:
        found = rank_sum_test(strata)
        return _Test(found.p, _least_rank_p(strata), True)
    excess, variance = 0.0, 0.0
    for a, b in strata:
        n, below = len(a) + len(b), sorted(a)
        ties = sum(count**3 - count for count in Counter((*a, *b)).values())
        wins = sum(bisect_left(below, y) + bisect_right(below, y) for y in b) / 2
        excess += wins - len(a) * len(b) / 2
        variance += len(a) * len(b) / 12 * (n + 1 - ties / (n * (n - 1)))
    return _normal(excess, variance)


def _least_rank_p(strata: Sequence[StratumValues]) -> float:
    """The smallest p that these values allow, whichever of them failed: twice the rarer end."""
    ends = []
    for largest in (False, True):
        chosen: list[StratumValues] = []
        for a, b in strata:
            ordered = sorted((*a, *b), reverse=largest)
            chosen.append((tuple(ordered[len(b) :]), tuple(ordered[: len(b)])))
        ends.append(rank_sum_test(chosen).p)
    return min(ends)


def _share_test(tables: Sequence[StratumCounts]) -> _Test | None:
    """Fisher's test of a kind within strata; None if no stratum has it and another.

    Exact up to MOST_PAIRS, beyond by the normal law with the variance under permutation.
    """
    used = [table for table in tables if table[1] and table[3]]
    if not used:
        return None
    failed = (a + b for a, _, b, _ in used)
    pots = (a + b for _, a, _, b in used)
    if sum(x * (n - x) for x, n in zip(failed, pots, strict=True)) <= MOST_PAIRS:
        found = conditional_exact_test(used)
        return _Test(found.p, found.least_p, True)
    excess, variance = 0.0, 0.0
    for failed_a, of_a, failed_b, of_b in used:
        n, had = of_a + of_b, failed_a + failed_b
        excess += failed_b - had * of_b / n
        variance += had * (n - had) * of_a * of_b / (n * n * (n - 1))
    return _normal(excess, variance)


def _normal(excess: float, variance: float) -> _Test | None:
    """Two-sided p of an excess by the normal law; None where nothing can vary."""
    if variance <= 0:
        return None
    return _Test(math.erfc(abs(excess) / math.sqrt(2 * variance)), 0.0, False)
