"""Every verdict at and beside its borders."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from journal.comparison.intervals import Interval
from journal.comparison.power import MOST_TRIALS, TrialsNeeded
from journal.comparison.verdict import (
    Evidence,
    TrialKind,
    VerdictCode,
    favoured,
    verdict,
    verdict_code,
)

SURE = Evidence(
    difference=-1.2, excess=-9.0, p=0.01, within=Interval(-1.6, -0.7), matters=0.5, reached=True
)
BETWEEN = ("close", "straight")
MORE = TrialsNeeded(3, "power")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({}, "better"),
        ({"p": 0.05}, "better"),
        # A p of 1/60 times 3 may come out above 0.05 in its last digit.
        ({"p": 0.05 + 1e-17}, "better"),
        ({"p": 0.0501}, "leaning"),
        ({"difference": -0.5}, "better"),
        ({"difference": -0.499}, "leaning"),
        ({"reached": False}, "leaning"),
        ({"p": 0.20}, "leaning"),
        ({"p": 0.2001}, "too few"),
        ({"p": 0.2001, "reached": False}, "too few"),
        # The test and the estimate point apart: no side is named better.
        ({"excess": 9.0}, "leaning"),
        ({"excess": 0.0, "p": 0.1}, "too few"),
        ({"within": Interval(-0.499, 0.499), "difference": -0.1}, "no difference"),
        ({"within": Interval(-0.5, 0.499), "difference": -0.1}, "leaning"),
        ({"within": Interval(-0.499, 0.5), "difference": -0.1}, "leaning"),
        ({"within": Interval(-0.5, 0.4), "difference": -0.1, "p": 0.6}, "too few"),
        # Sure, and sure to be small: no difference worth the name.
        ({"within": Interval(-0.4, -0.1), "difference": -0.2}, "no difference"),
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


def test_never_by_a_p_alone() -> None:
    assert verdict_code(replace(SURE, p=1e-9, difference=-0.1), "lower") == "leaning"


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


def words(evidence: Evidence, trials: TrialKind = "bars", more: TrialsNeeded = MORE) -> str:
    return verdict(evidence, "lower", BETWEEN, "lip", trials, more).words


def test_words() -> None:
    assert words(SURE) == "straight is better by lip"
    assert words(replace(SURE, excess=9.0, difference=1.2)) == "close is better by lip"
    assert words(replace(SURE, p=0.1)) == "leaning to straight"
    assert words(replace(SURE, reached=False)) == "so far: leaning to straight"
    level = replace(SURE, within=Interval(-0.1, 0.1), difference=0.0)
    assert words(level) == "no difference worth the name"
    assert words(replace(level, reached=False)) == "so far: no difference worth the name"
    few = replace(SURE, p=0.5)
    assert words(few) == "too few: about 3 more bars of each would tell"
    assert (
        words(few, "pots", TrialsNeeded(1, "power"))
        == "too few: about 1 more pot of each would tell"
    )
    assert words(few, "designs") == "too few: about 3 more designs with both would tell"
    assert (
        words(few, more=TrialsNeeded(MOST_TRIALS, "power"))
        == "too few: thousands more bars of each would tell"
    )
    cannot = replace(SURE, reason_untestable="one pot of each", reached=False)
    assert words(cannot) == "cannot tell: one pot of each"


def test_words_without_a_better_direction() -> None:
    found = verdict(SURE, None, BETWEEN, "weight", "bars", MORE)
    assert (found.code, found.words) == ("differs", "close has the greater weight")
    leaning = verdict(replace(SURE, p=0.1), None, BETWEEN, "weight", "bars", MORE)
    assert leaning.words == "leaning to close: greater weight"


def test_what_goes_with_it() -> None:
    better = verdict(SURE, "lower", BETWEEN, "lip", "bars", MORE)
    assert (better.favours, better.more, better.so_far) == ("straight", None, False)
    few = verdict(replace(SURE, p=0.5, reached=False), "lower", BETWEEN, "lip", "bars", MORE)
    assert (few.favours, few.more, few.so_far) == (None, MORE, True)
