"""What one trial is, and which trials are held against each other."""

from __future__ import annotations

import pytest
from poured_bars import BUBBLES, KEEP, LIP, RELIEF, bars_of

from journal.comparison.observed import (
    ComparedMeasure,
    ComparedVariant,
    ObservedBar,
    changed_between,
    trials_of,
)
from journal.comparison.trials import Trials, build_trials
from journal.errors import FigureError

TRIM = ("close", "straight")
TINT = ("violet", "blue")
TEMPERATURE = ("warm", "cool")


def values(trials: Trials) -> list[tuple[tuple[float, ...], tuple[float, ...]]]:
    return [stratum.values for stratum in trials.strata]


def test_bars_within_pots() -> None:
    bars = [
        *bars_of("A", "close", (1.5, 1.0)),
        *bars_of("A", "straight", (0.0,)),
        *bars_of("B", "close", (2.0,)),
        *bars_of("B", "straight", (0.5, 0.0)),
    ]
    trials = build_trials(bars, LIP, TRIM, "", "bars")
    assert values(trials) == [((1.5, 1.0), (0.0,)), ((2.0,), (0.5, 0.0))]
    assert trials.by == "bars"
    assert not trials.went_with_pot
    assert [side.trials for side in trials.sides] == [3, 3]
    assert [side.pours for side in trials.sides] == [2, 2]
    assert trials.why == ""


def test_a_pot_with_one_variant_says_nothing_about_trim() -> None:
    bars = [
        *bars_of("A", "close", (1.5, 1.0)),
        *bars_of("A", "straight", (0.0,)),
        *bars_of("B", "close", (2.0, 2.5)),
    ]
    trials = build_trials(bars, LIP, TRIM, "", "bars")
    assert values(trials) == [((1.5, 1.0), (0.0,))]
    assert [side.alone for side in trials.sides] == [2, 0]
    assert [side.measured for side in trials.sides] == [4, 1]


def test_two_pots_of_one_pour_are_two_strata() -> None:
    bars = [
        *bars_of("A", "close", (1.0,), pot="slate"),
        *bars_of("A", "straight", (0.0,), pot="slate"),
        *bars_of("A", "close", (5.0,), pot="rose"),
        *bars_of("A", "straight", (4.0,), pot="rose"),
    ]
    assert len(build_trials(bars, LIP, TRIM, "", "bars").strata) == 2


def test_trim_that_lived_in_its_pot_goes_by_pots() -> None:
    bars = [*bars_of("A", "close", (1.5, 1.0, 1.5)), *bars_of("B", "straight", (0.0, 0.0, 0.5))]
    trials = build_trials(bars, LIP, TRIM, "", "bars")
    assert trials.by == "pots"
    assert trials.went_with_pot
    assert values(trials) == [((1.5,), (0.0,))]
    assert trials.why == "one pot of each"


def test_one_value_a_pot_the_median_of_its_bars() -> None:
    bars = [
        *bars_of("A", "warm", (1.0, 2.0, 9.0)),
        *bars_of("B", "warm", (1.0, 3.0)),
        *bars_of("C", "cool", (0.5,)),
        *bars_of("D", "cool", (0.0, 0.0, 1.0, 1.0)),
    ]
    trials = build_trials(bars, LIP, TEMPERATURE, "", "pots")
    assert values(trials) == [((2.0, 2.0), (0.5, 0.5))]
    assert trials.days_apart
    assert not trials.merged
    assert trials.why == ""


def test_yes_no_of_a_pot_is_the_share_of_its_bars() -> None:
    bars = [
        *bars_of("A", "warm", (True, True, False), "keep"),
        *bars_of("B", "cool", (False, False), "keep"),
    ]
    trials = build_trials(bars, KEEP, TEMPERATURE, "", "pots")
    assert values(trials) == [((2 / 3,), (0.0,))]
    assert not trials.whole
    whole = [*bars_of("A", "warm", (True,), "keep"), *bars_of("B", "cool", (False, False), "keep")]
    assert build_trials(whole, KEEP, TEMPERATURE, "", "pots").whole


def test_pots_of_one_day_are_held_together() -> None:
    bars = [
        *bars_of("A", "warm", (2.0,)),
        *bars_of("A", "cool", (1.0,)),
        *bars_of("B", "warm", (4.0,)),
        *bars_of("B", "cool", (3.5,)),
        *bars_of("C", "warm", (9.0,)),
        *bars_of("D", "cool", (0.0,)),
    ]
    trials = build_trials(bars, LIP, TEMPERATURE, "", "pots")
    assert values(trials) == [((2.0,), (1.0,)), ((4.0,), (3.5,)), ((9.0,), (0.0,))]
    assert trials.days_apart


def test_pots_of_a_day_with_one_variant_are_one_trial() -> None:
    bars = [
        *bars_of("A", "warm", (2.0,), on=0),
        *bars_of("B", "warm", (4.0,), on=0),
        *bars_of("C", "cool", (1.0,), on=1),
        *bars_of("D", "cool", (1.5,), on=1),
    ]
    trials = build_trials(bars, LIP, TEMPERATURE, "", "pots")
    assert values(trials) == [((3.0,), (1.25,))]
    assert trials.merged == 2
    assert trials.why == "one day of each"
    same_day = [*bars_of("A", "warm", (2.0,), on=0), *bars_of("B", "warm", (4.0,), on=0)]
    same_day += [*bars_of("C", "cool", (1.0,), on=0), *bars_of("D", "cool", (1.5,), on=0)]
    assert values(build_trials(same_day, LIP, TEMPERATURE, "", "pots")) == [
        ((2.0, 4.0), (1.0, 1.5))
    ]


def grouped(pour: str, trim: str, tint: str, lips: tuple[float, ...]) -> list[ObservedBar]:
    return bars_of(pour, f"{trim}/{tint}", lips, levels={"trim": trim, "tint": tint})


def test_groups_each_on_their_own() -> None:
    bars = [
        *grouped("A", "close", "violet", (2.0, 3.0)),
        *grouped("A", "straight", "violet", (1.0,)),
        *grouped("B", "close", "blue", (1.5,)),
        *grouped("B", "straight", "blue", (0.5, 0.0)),
    ]
    trim = build_trials(bars, LIP, TRIM, "trim", "bars")
    assert values(trim) == [((2.0, 3.0), (1.0,)), ((1.5,), (0.5, 0.0))]
    tint = build_trials(bars, LIP, TINT, "tint", "pots")
    # A pot's value is the mean of what its two trims give: (2.5 + 1) / 2, (1.5 + 0.25) / 2.
    assert values(tint) == [((1.75,), (0.875,))]


def test_trims_are_compared_within_their_tint() -> None:
    # Both tints in one pot: a close violet bar is not held against a straight blue one.
    bars = [
        *grouped("A", "close", "violet", (2.0,)),
        *grouped("A", "straight", "violet", (1.0,)),
        *grouped("A", "close", "blue", (5.0,)),
        *grouped("A", "straight", "blue", (4.0,)),
    ]
    assert values(build_trials(bars, LIP, TRIM, "trim", "bars")) == [
        ((2.0,), (1.0,)),
        ((5.0,), (4.0,)),
    ]


@pytest.mark.parametrize("pours", ["AA", "AB"])
def test_two_groups_that_changed_together(pours: str) -> None:
    bars = [
        *grouped(pours[0], "close", "violet", (2.0, 2.0)),
        *grouped(pours[1], "straight", "blue", (1.0, 1.0)),
    ]
    for group, between, by in (("trim", TRIM, "bars"), ("tint", TINT, "pots")):
        trials = build_trials(bars, LIP, between, group, by)  # type: ignore[arg-type]
        assert trials.strata == ()
        other = "tint" if group == "trim" else "trim"
        assert trials.why == f"{group} and {other} changed together"


def test_pots_with_unlike_mixes() -> None:
    # One pot lost its straight bars; the others have both trims. Only the close bars
    # are common to all; holding like mixes together keeps four of five pots.
    bars = [
        *grouped("A", "close", "violet", (2.0,)),
        *grouped("A", "straight", "violet", (1.0,)),
        *grouped("B", "close", "blue", (3.0,)),
        *grouped("B", "straight", "blue", (2.0,)),
        *grouped("C", "close", "violet", (4.0,)),
        *grouped("C", "straight", "violet", (2.0,)),
        *grouped("D", "close", "blue", (5.0,)),
    ]
    trials = build_trials(bars, LIP, TINT, "tint", "pots")
    # All four by their close bars, against three by both trims.
    assert values(trials) == [((2.0, 4.0), (3.0, 5.0))]
    assert [side.alone for side in trials.sides] == [0, 0]


def test_pots_with_nothing_in_common_but_like_pairs() -> None:
    bars = [
        *grouped("A", "close", "violet", (2.0,)),
        *grouped("B", "close", "blue", (3.0,)),
        *grouped("C", "straight", "violet", (4.0,)),
        *grouped("D", "straight", "blue", (5.0,)),
    ]
    trials = build_trials(bars, LIP, TINT, "tint", "pots")
    assert values(trials) == [((2.0,), (3.0,)), ((4.0,), (5.0,))]


def test_not_measured_and_why() -> None:
    bars = bars_of("A", "close", (1.5, None, 1.0, True, -1.0), lifted=(2,))
    bars += bars_of("A", "straight", (0.5, 0.0))
    trials = build_trials(bars, LIP, TRIM, "", "bars")
    close = trials.sides[0]
    assert (close.poured, close.measured, close.not_measured) == (5, 1, 4)
    # A lifted detail has no lip, whatever is written; yes is no lip, nor is -1 mm.
    assert (close.lifted, close.not_noted, close.left_out) == (1, 1, 2)
    assert values(trials) == [((1.5,), (0.5, 0.0))]
    assert close.middle == 1.5


def test_a_lifted_detail_leaves_other_measures() -> None:
    bars = bars_of("A", "close", (3.0, 2.0), "bubbles", lifted=(0, 1))
    bars += bars_of("A", "straight", (1.0,), "bubbles")
    assert values(build_trials(bars, BUBBLES, TRIM, "", "bars")) == [((3.0, 2.0), (1.0,))]


@pytest.mark.parametrize("rating", [0.0, 5.5, 6.0, -1.0, True, float("nan")])
def test_ratings_out_of_range(rating: float | bool) -> None:
    bars = [
        *bars_of("A", "close", (4.0, rating), "relief"),
        *bars_of("A", "straight", (5.0,), "relief"),
    ]
    trials = build_trials(bars, RELIEF, TRIM, "", "bars")
    assert trials.sides[0].left_out == 1
    assert values(trials) == [((4.0,), (5.0,))]


def test_a_number_is_no_yes() -> None:
    bars = [
        *bars_of("A", "close", (1.0, True), "keep"),
        *bars_of("A", "straight", (False,), "keep"),
    ]
    trials = build_trials(bars, KEEP, TRIM, "", "bars")
    assert (trials.sides[0].left_out, trials.sides[0].yes, trials.sides[0].middle) == (1, 1, 1.0)


def test_never_poured_and_never_measured() -> None:
    bars = bars_of("A", "close", (1.5,))
    assert build_trials(bars, LIP, TRIM, "", "bars").why == "straight was never poured"
    bars += bars_of("A", "straight", (None,))
    assert build_trials(bars, LIP, TRIM, "", "bars").why == "no bar of straight has lip measured"
    apart = [
        *bars_of("A", "close", (1.0, None)),
        *bars_of("A", "straight", (None,)),
        *bars_of("B", "straight", (1.0,)),
    ]
    assert build_trials(apart, LIP, TRIM, "", "bars").why == "no pot has measured bars of both"


def test_what_is_changed_settles_what_a_trial_is() -> None:
    close = ComparedVariant("close", changes={"trim": "close"})
    cooler = ComparedVariant("cooler", changes={"trim": "close", "layers.body.pour": "115-122 F"})
    written = ComparedVariant("as written")
    assert changed_between(close, cooler) == ("layers.body.pour",)
    assert changed_between(written, cooler) == ("layers.body.pour", "trim")
    assert changed_between(close, close) == ()
    assert trials_of(()) == "bars"
    assert trials_of(("trim", "piece")) == "bars"
    assert trials_of(("layers.detail.spritz",)) == "bars"
    for thing in ("base", "fragrance", "colours", "pour"):
        assert trials_of((f"layers.body.{thing}",)) == "pots"
    assert trials_of(("trim", "layers.body.pour")) == "pots"


@pytest.mark.parametrize("matters", [0.0, -1.0, float("inf"), float("nan")])
def test_something_must_matter(matters: float) -> None:
    with pytest.raises(FigureError, match="lip"):
        ComparedMeasure("lip", "length", "lower", matters)
