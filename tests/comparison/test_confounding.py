"""What changed along with a variant."""

from __future__ import annotations

from poured_bars import FIRST_DAY

from journal.comparison.confounding import Confounder, confounders
from journal.comparison.observed import ObservedBar


def bar(**conditions: str) -> ObservedBar:
    return ObservedBar("1", "A", FIRST_DAY, "close", {}, conditions=conditions)


def conditions(name: str, *values: str) -> list[ObservedBar]:
    return [bar(**{name: value}) for value in values]


def test_changed_every_time() -> None:
    strata = [(conditions("season", "spring", "spring"), conditions("season", "autumn"))]
    found = confounders(strata)
    assert found == (Confounder("season", 0.0, ("spring",), ("autumn",)),)
    assert found[0].together


def test_the_same_for_a_whole_stratum() -> None:
    strata = [
        (conditions("base", "clear"), conditions("base", "clear")),
        (conditions("base", "white"), conditions("base", "white")),
    ]
    assert confounders(strata) == ()


def test_less_than_half_shared() -> None:
    # One of three in common on the first side, one of two on the second: a third.
    strata = [(conditions("mould", "six", "six", "loaf"), conditions("mould", "loaf", "loaf"))]
    (found,) = confounders(strata)
    assert not found.together
    assert abs(found.shared - 1 / 3) < 1e-12
    assert found.first == ("six", "loaf")
    half = [(conditions("mould", "six", "loaf"), conditions("mould", "loaf", "loaf"))]
    assert confounders(half) == ()


def test_weighted_by_pairs() -> None:
    strata = [
        (conditions("mould", "six"), conditions("mould", "loaf")),
        (conditions("mould", "six", "six"), conditions("mould", "six", "six")),
    ]
    # 1 pair apart and 4 alike: 4 of 5 shared.
    assert confounders(strata) == ()


def test_passed_over_and_not_noted() -> None:
    strata = [([bar(trim="close", base="white")], [bar(trim="straight")])]
    assert confounders(strata, ("trim",)) == ()


def test_least_shared_first() -> None:
    first = [bar(b="1", a="1"), bar(b="1", a="2"), bar(b="1", a="3")]
    second = [bar(b="2", a="3"), bar(b="2", a="4"), bar(b="2", a="5")]
    assert [entry.condition for entry in confounders([(first, second)])] == ["b", "a"]
