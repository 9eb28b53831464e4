"""Comparisons in words."""

from __future__ import annotations

import pytest
from poured_bars import BUBBLES, FIRST_DAY, KEEP, LIP, RELIEF, TINTS, TRIMS, WEIGHT, bars_of

from journal.comparison import permutation
from journal.comparison.comparing import Comparison, compare
from journal.comparison.observed import Measure, Question
from journal.comparison.sentences import plain_amount, plain_p, sentences, verdict_sentence

BY_LIP = Question("lip", FIRST_DAY, 1)
CLOSE = (1.5, 1.4, 2.0, 1.6)
STRAIGHT = (0.0, 0.5, 0.1, 0.4)


def lips(close: tuple[float, ...], straight: tuple[float, ...]) -> Comparison:
    bars = bars_of("A", "close", close) + bars_of("A", "straight", straight)
    return compare(bars, [LIP], TRIMS, BY_LIP)[0]


@pytest.mark.parametrize(
    ("amount", "measure", "text"),
    [
        (-1.25, LIP, "1.3 mm"),
        (2.0, LIP, "2 mm"),
        (0.04, LIP, "0 mm"),
        (0.3, KEEP, "30 percentage points"),
        (-2.0, BUBBLES, "2"),
        (0.5, RELIEF, "0.5"),
        (1.5, WEIGHT, "1.5 g"),
    ],
)
def test_amounts(amount: float, measure: Measure, text: str) -> None:
    assert plain_amount(amount, measure) == text


@pytest.mark.parametrize(
    ("p", "text"),
    [(1.0, "p = 1"), (0.1, "p = 0.1"), (0.0286, "p = 0.029"), (0.00099, "p < 0.001")],
)
def test_ps(p: float, text: str) -> None:
    assert plain_p(p) == text


def test_better() -> None:
    assert verdict_sentence(lips(CLOSE, STRAIGHT)) == (
        "Straight is better by lip: straight has 1.4 mm less, and at least 0.9 mm"
        " (95 % interval 0.9 mm to 2 mm less; p = 0.029)."
    )


def test_no_difference() -> None:
    near = (0.1, 0.2, 0.1, 0.3, 0.2)
    assert verdict_sentence(lips(near, near[::-1])) == (
        "No difference worth the name by lip: straight has 0.1 mm less to 0.1 mm more"
        " (90 % interval); 0.5 mm would matter."
    )


def test_too_few() -> None:
    said = sentences(lips((1.0, 2.0), (0.5, 2.0)))
    assert said[0] == (
        "Too few by lip: about 54 more bars of each would tell: straight has 0.3 mm less (p = 1)."
    )
    assert "There is no 95 % interval from 2 against 2 bars" in said[4]


def test_level() -> None:
    assert "the two are level" in verdict_sentence(lips((1.0, 2.0), (1.0, 2.0)))
    # 0.02 mm less would be said as 0 mm less.
    assert "the two are level" in verdict_sentence(lips((1.0, 2.0), (0.98, 1.98)))


def test_the_page_may_say_it_in_its_own_way() -> None:
    said = verdict_sentence(lips(CLOSE, STRAIGHT), lambda amount, _: f"<{abs(amount):.2f}>")
    assert "straight has <1.40> less, and at least <0.90>" in said


def test_sides_and_what_was_not_measured() -> None:
    bars = bars_of("A", "close", (1.5, None, 1.0), lifted=(2,)) + bars_of("A", "straight", (0.5,))
    said = sentences(compare(bars, [LIP], TRIMS, BY_LIP)[0])
    assert "close: 3 bars in 1 pour, 1 measured, median 1.5 mm." in said
    assert (
        "Not measured: 2 of 3 bars of close: 1 with the detail lifted (no lip to measure)"
        " and 1 not noted."
    ) in said
    assert "straight: 1 bar in 1 pour, 1 measured, median 0.5 mm." in said
    assert any("compared for the bars whose detail stayed" in text for text in said)


def test_fewer_and_yes() -> None:
    bars = bars_of("A", "close", (6.0, 7.0, 8.0, 9.0), "bubbles")
    bars += bars_of("A", "straight", (0.0, 1.0, 2.0, 3.0), "bubbles")
    said = sentences(compare(bars, [BUBBLES], TRIMS)[0])
    assert said[0].startswith("Straight is better by bubbles: straight has 6 fewer, and at least 3")
    kept = bars_of("A", "close", (True, False), "keep") + bars_of("A", "straight", (None,), "keep")
    said = sentences(compare(kept, [KEEP], TRIMS)[0])
    assert "close: 2 bars in 1 pour, 1 of 2 yes." in said
    assert "straight: 1 bar in 1 pour, none measured." in said


def test_pots() -> None:
    bars = [
        *bars_of("A", "violet", (1.5, 2.0), on=0),
        *bars_of("B", "violet", (1.5,), on=0),
        *bars_of("C", "blue", (0.5,), on=1),
        *bars_of("D", "blue", (0.5,), on=2),
    ]
    said = sentences(compare(bars, [LIP], TINTS)[0])
    assert "One value a pot; pots were compared." in said
    assert any(text.startswith("Some pots are of days that saw one") for text in said)
    assert any(text.startswith("1 pot more of such a day counts") for text in said)


def test_dealt_at_random(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(permutation, "MOST_PAIRS_EXACT", 1)
    assert any("labels dealt at random" in text for text in sentences(lips(CLOSE, STRAIGHT)))


def test_beyond_what_was_set() -> None:
    bars = bars_of("A", "close", CLOSE) + bars_of("A", "straight", STRAIGHT)
    bars += bars_of("B", "close", CLOSE) + bars_of("B", "straight", STRAIGHT)
    said = sentences(compare(bars, [LIP], TRIMS, BY_LIP)[0])
    assert any(text.startswith("1 more than the 1 pour that was set") for text in said)
    assert any("bars of one pot by 0.2 mm" in text for text in said)
