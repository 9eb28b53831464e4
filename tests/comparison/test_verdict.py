"""Every verdict at and beside its borders."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from journal.comparison.intervals import Interval
from journal.comparison.power import NextLook
from journal.comparison.verdict import Evidence, VerdictCode, favoured, verdict, verdict_code

SURE = Evidence(difference=-1.2, excess=-9.0, p=0.01, within=Interval(-1.6, -0.7), matters=0.5)
BETWEEN = ("close", "straight")
NEXT = NextLook(6, 0.4)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({}, "better"),
        ({"p": 0.05}, "better"),
        # A p of 1/60 times 3 may come out above 0.05 in its last digit.
        ({"p": 0.05 + 1e-17}, "better"),
        ({"p": 0.0501}, "leaning"),
        # Whether it matters is said beside it.
        ({"difference": -0.1}, "better"),
        ({"level": 0.03, "p": 0.03}, "better"),
        ({"level": 0.03, "p": 0.031}, "leaning"),
        ({"doubt": "close was poured first each time"}, "leaning"),
        ({"due": False}, "leaning"),
        ({"p": 0.20}, "leaning"),
        ({"p": 0.2001}, "too few"),
        ({"p": 0.2001, "due": False}, "too few"),
        # The test and the estimate point apart: no side is named better.
        ({"excess": 9.0}, "leaning"),
        ({"excess": 0.0, "p": 0.1}, "too few"),
        ({"within": Interval(-0.499, 0.499), "p": 0.1}, "no difference"),
        ({"within": Interval(-0.5, 0.499), "p": 0.1}, "leaning"),
        ({"within": Interval(-0.499, 0.5), "p": 0.1}, "leaning"),
        ({"within": Interval(-0.5, 0.4), "difference": -0.1, "p": 0.6}, "too few"),
        # Sure, and sure to be small: a direction all the same.
        ({"within": Interval(-0.4, -0.1), "difference": -0.2}, "better"),
        ({"within": Interval(0.0, 0.0), "difference": 0.0, "p": 1.0}, "no difference"),
        ({"within": None, "p": 0.1, "difference": -0.2}, "leaning"),
        ({"within": None, "p": 0.3}, "too few"),
        ({"reason_untestable": "one pot of each"}, "cannot tell"),
        ({"difference": None}, "cannot tell"),
        ({"p": None}, "cannot tell"),
    ],
)
def test_borders(change: dict[str, object], code: VerdictCode) -> None:
    assert verdict_code(replace(SURE, **change), "lower") == code  # type: ignore[arg-type]


def test_a_verdict_does_not_hang_on_the_unit() -> None:
    """What is a fifth in one unit is ten in another, and comes out the same."""
    for times in (1e-3, 1.0, 1e3):
        scaled = replace(
            SURE, difference=-1.0 * times, excess=-0.5, matters=0.5 * times, p=0.04, within=None
        )
        assert verdict_code(scaled, "lower") == "better"


def test_never_by_an_average_alone() -> None:
    # Ten times what matters, and nothing else: no verdict.
    alone = replace(SURE, difference=-5.0, p=1.0, within=None)
    assert verdict_code(alone, "lower") == "too few"


@pytest.mark.parametrize(
    ("better", "excess", "name"),
    [
        ("lower", -1.0, "straight"),
        ("lower", 1.0, "close"),
        ("higher", -1.0, "close"),
        ("higher", 1.0, "straight"),
        (None, -1.0, "close"),
        (None, 1.0, "straight"),
        ("lower", 0.0, None),
    ],
)
def test_which_side(better: object, excess: float, name: str | None) -> None:
    assert favoured(excess, better, BETWEEN) == name  # type: ignore[arg-type]


def words(evidence: Evidence) -> str:
    return verdict(evidence, "lower", BETWEEN, "lip", NEXT).words


def test_words() -> None:
    assert words(SURE) == "straight is better by lip"
    assert words(replace(SURE, excess=9.0, difference=1.2)) == "close is better by lip"
    assert words(replace(SURE, p=0.1)) == "leaning to straight"
    assert words(replace(SURE, due=False)) == "so far: leaning to straight"
    level = replace(SURE, within=Interval(-0.1, 0.1), difference=0.0)
    assert words(level) == "no difference worth the name"
    assert words(replace(level, due=False)) == "so far: no difference worth the name"
    assert words(replace(SURE, p=0.5)) == "too few to tell"
    cannot = replace(SURE, reason_untestable="one pot of each", due=False)
    assert words(cannot) == "cannot tell: one pot of each"


def test_words_without_a_better_direction() -> None:
    found = verdict(SURE, None, BETWEEN, "weight")
    assert (found.code, found.words) == ("differs", "close has the greater weight")
    leaning = verdict(replace(SURE, p=0.1), None, BETWEEN, "weight")
    assert leaning.words == "leaning to close: greater weight"


def test_what_goes_with_it() -> None:
    better = verdict(SURE, "lower", BETWEEN, "lip", NEXT)
    assert (better.favours, better.next_look, better.so_far) == ("straight", None, False)
    few = verdict(replace(SURE, p=0.5, due=False), "lower", BETWEEN, "lip", NEXT)
    assert (few.favours, few.next_look, few.so_far) == (None, NEXT, True)
    doubted = replace(SURE, doubt="close was poured first each time")
    leaning = verdict(doubted, "lower", BETWEEN, "lip", NEXT)
    assert (leaning.doubt, leaning.next_look) == (doubted.doubt, NEXT)
