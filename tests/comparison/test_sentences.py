"""Comparisons in words."""

from __future__ import annotations

import pytest
from poured_bars import BUBBLES, FIRST_DAY, KEEP, LIP, RELIEF, TINTS, TRIMS, WEIGHT, bars_of

from journal.comparison import permutation
from journal.comparison.comparing import VariantComparison, compare_variants
from journal.comparison.observed import (
    ComparedMeasure,
    ComparedVariant,
    ComparisonQuestion,
    ObservedBar,
)
from journal.comparison.sentences import (
    chance_words,
    plain_amount,
    plain_p,
    plain_verdict,
    sentences,
    verdict_sentence,
)

BY_LIP = ComparisonQuestion("lip", FIRST_DAY, 1)
CLOSE = (1.5, 1.4, 2.0, 1.6)
STRAIGHT = (0.0, 0.5, 0.1, 0.4)


def lips(close: tuple[float, ...], straight: tuple[float, ...]) -> VariantComparison:
    bars = bars_of("A", "close", close) + bars_of("A", "straight", straight)
    return compare_variants(bars, [LIP], TRIMS, BY_LIP)[0]


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
        (-12.0, ComparedMeasure("set", "time", None, 1.0), "12 min"),
    ],
)
def test_amounts(amount: float, measure: ComparedMeasure, text: str) -> None:
    assert plain_amount(amount, measure) == text


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (1.0, "p\u00a0=\u00a01"),
        (0.1, "p\u00a0=\u00a00.1"),
        (0.0286, "p\u00a0=\u00a00.029"),
        (0.00099, "p\u00a0<\u00a00.001"),
    ],
)
def test_ps(p: float, text: str) -> None:
    assert plain_p(p) == text


def test_better() -> None:
    assert verdict_sentence(lips(CLOSE, STRAIGHT)) == (
        "Straight is better by lip: straight has 1.4 mm less, and at least 0.9 mm"
        " (95 % interval 0.9 mm to 2 mm less; p\u00a0=\u00a00.029)."
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
        "Too few by lip: about 54 more bars of each would tell: straight has 0.3 mm less"
        " (p\u00a0=\u00a01)."
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
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
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
    said = sentences(compare_variants(bars, [BUBBLES], TRIMS)[0])
    assert said[0].startswith("Straight is better by bubbles: straight has 6 fewer, and at least 3")
    kept = bars_of("A", "close", (True, False), "keep") + bars_of("A", "straight", (None,), "keep")
    said = sentences(compare_variants(kept, [KEEP], TRIMS)[0])
    assert "close: 2 bars in 1 pour, 1 of 2 yes." in said
    assert "straight: 1 bar in 1 pour, none measured." in said


def test_pots() -> None:
    bars = [
        *bars_of("A", "violet", (1.5, 2.0), on=0),
        *bars_of("B", "violet", (1.5,), on=0),
        *bars_of("C", "blue", (0.5,), on=1),
        *bars_of("D", "blue", (0.5,), on=2),
    ]
    said = sentences(compare_variants(bars, [LIP], TINTS)[0])
    assert "One value a pot; pots were compared." in said
    assert any(text.startswith("Some pots are of days that saw one") for text in said)
    assert any(text.startswith("1 pot more of such a day counts") for text in said)


def test_dealt_at_random(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(permutation, "MOST_PAIRS_EXACT", 1)
    assert any("labels dealt at random" in text for text in sentences(lips(CLOSE, STRAIGHT)))


def test_beyond_what_was_set() -> None:
    bars = bars_of("A", "close", CLOSE) + bars_of("A", "straight", STRAIGHT)
    bars += bars_of("B", "close", CLOSE) + bars_of("B", "straight", STRAIGHT)
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
    assert any(text.startswith("1 more than the 1 pour that was set") for text in said)
    assert any("bars of one pot by 0.2 mm" in text for text in said)


# Whole, sentence by sentence -----------------------------------------------------------

FOUR = bars_of("A", "close", CLOSE) + bars_of("A", "straight", STRAIGHT)
# 4 against 4 wholly apart: 2 of the 70 ways. 1.55 less 0.25 is the middle of both, not of
# the sixteen differences: that is 1.4.
VERDICT = (
    "Straight is better by lip: straight has 1.4 mm less, and at least 0.9 mm"
    " (95 % interval 0.9 mm to 2 mm less; p\u00a0=\u00a00.029)."
)
SIDES = (
    "close: 4 bars in 1 pour, 4 measured, median 1.6 mm.",
    "straight: 4 bars in 1 pour, 4 measured, median 0.3 mm.",
    "Bars were compared within 1 pot.",
)
# Squares about the means 1.625 and 0.25 sum to 0.2075 and 0.17, over 6.
SPREAD = "Beside the variants, bars of one pot by 0.3 mm (standard deviations)."


def before(close: tuple[float, ...], straight: tuple[float, ...]) -> list[ObservedBar]:
    """Bars of a week before the question was asked."""
    return bars_of("Z", "close", close, on=-1) + bars_of("Z", "straight", straight, on=-1)


def seasons(close: tuple[str, ...], straight: tuple[str, ...]) -> list[ObservedBar]:
    """The same eight bars, with the season of each."""
    found: list[ObservedBar] = []
    for variant, lips, names in (("close", CLOSE, close), ("straight", STRAIGHT, straight)):
        for lip, name in zip(lips, names, strict=True):
            found += bars_of("A", variant, (lip,), conditions={"season": name, "mould": "six"})
    return found


@pytest.mark.parametrize(
    ("bars", "question", "between"),
    [
        (FOUR, BY_LIP, ()),
        (
            FOUR,
            ComparisonQuestion("lip", FIRST_DAY, 2, "bars"),
            (
                "6 more than the 2 bars that were set:"
                " a verdict that changed since is weaker than its numbers.",
            ),
        ),
        (FOUR, None, ("A look: to decide by it, ask the question and pour again.",)),
        (
            before((3.0, 4.0), (1.0, 1.0)) + FOUR,
            BY_LIP,
            ("Before the question was asked: 2 and 2 bars, straight 2.5 mm less. A look only.",),
        ),
        (
            before((3.0,), (3.0,)) + FOUR,
            BY_LIP,
            ("Before the question was asked: 1 and 1 bars, the two are level. A look only.",),
        ),
        (
            before((3.0,), ()) + FOUR,
            BY_LIP,
            ("Before the question was asked: 1 and 0 bars. A look only.",),
        ),
        (
            seasons(("winter",) * 4, ("summer",) * 4),
            BY_LIP,
            ("close had season winter, straight had summer: the two cannot be told apart.",),
        ),
        (
            seasons(("winter", "winter", "winter", "summer"), ("summer",) * 4),
            BY_LIP,
            (
                "close had season winter and summer, straight had summer:"
                " some of the difference may be that.",
            ),
        ),
        (seasons(("winter", "summer") * 2, ("summer", "winter") * 2), BY_LIP, ()),
    ],
)
def test_everything_beside_a_verdict(
    bars: list[ObservedBar], question: ComparisonQuestion | None, between: tuple[str, ...]
) -> None:
    found = compare_variants(bars, [LIP], TRIMS, question)[0]
    assert sentences(found) == (VERDICT, *SIDES, *between, SPREAD)


def test_before_what_was_set() -> None:
    said = sentences(
        compare_variants(FOUR, [LIP], TRIMS, ComparisonQuestion("lip", FIRST_DAY, 3))[0]
    )
    assert said == (
        VERDICT.replace("Straight is better", "So far: leaning to straight"),
        *SIDES,
        "The verdict was set for 3 pours; there is 1 so far.",
        "2 more bars of each would find a difference of 0.5 mm four times out of five,"
        " if the rest varies as it did so far.",
        SPREAD,
    )
    twice = FOUR + bars_of("B", "close", CLOSE) + bars_of("B", "straight", STRAIGHT)
    said = sentences(
        compare_variants(twice, [LIP], TRIMS, ComparisonQuestion("lip", FIRST_DAY, 3))[0]
    )
    assert "The verdict was set for 3 pours; there are 2 so far." in said
    said = sentences(
        compare_variants(FOUR, [LIP], TRIMS, ComparisonQuestion("lip", FIRST_DAY, 9, "bars"))[0]
    )
    assert "The verdict was set for 9 bars; there are 8 so far." in said


def test_what_is_as_set_is_not_remarked_on() -> None:
    said = sentences(
        compare_variants(FOUR, [LIP], TRIMS, ComparisonQuestion("lip", FIRST_DAY, 8, "bars"))[0]
    )
    assert not any("set" in text for text in said)


def test_all_the_same() -> None:
    assert sentences(lips((1.0,) * 3, (1.0,) * 3)) == (
        "Too few by lip: about 8 more bars of each would tell: the two are level"
        " (p\u00a0=\u00a01).",
        "close: 3 bars in 1 pour, 3 measured, median 1 mm.",
        "straight: 3 bars in 1 pour, 3 measured, median 1 mm.",
        "Bars were compared within 1 pot.",
        "All measure the same: there is no spread to make an interval from.",
        "8 more bars of each would find a difference of 0.5 mm four times out of five,"
        " if the rest varies as it did so far.",
        "Beside the variants, bars of one pot by 0 mm (standard deviations).",
    )


def test_three_pairs_share_a_question() -> None:
    variants = (*TRIMS, ComparedVariant("pared", changes={"trim": "pared"}))
    bars = FOUR + bars_of("A", "pared", (0.2, 0.3, 0.9, 0.7))
    first, _, last = (sentences(one) for one in compare_variants(bars, [LIP], variants, BY_LIP))
    assert first[0] == (
        "Leaning to straight by lip: straight has 1.4 mm less, and at least 0.9 mm"
        " (95 % interval 0.9 mm to 2 mm less; p\u00a0=\u00a00.086)."
    )
    assert first[4] == "One of 3 pairs of the question; alone it has p\u00a0=\u00a00.029."
    # An interval on both sides of zero.
    assert last[0] == (
        "Too few by lip: about 6 more bars of each would tell: pared has 0.3 mm more"
        " (95 % interval 0.3 mm less to 0.9 mm more; p\u00a0=\u00a00.343)."
    )
    looks = [sentences(one) for one in compare_variants(bars, [LIP], variants)]
    assert looks[0][4] == "One of 3 looks on this page; alone it has p\u00a0=\u00a00.029."


def test_what_changed_together() -> None:
    variants = (
        ComparedVariant("close", changes={"trim": "close", "mat": "moth", "piece": "a"}),
        ComparedVariant("straight", changes={"trim": "straight", "mat": "leaf", "piece": "b"}),
    )
    said = sentences(compare_variants(FOUR, [LIP], variants, BY_LIP)[0])
    assert said == (
        VERDICT,
        *SIDES,
        "mat, piece and trim changed together: which of them makes the difference cannot be told.",
        SPREAD,
    )


def test_two_days_of_pots() -> None:
    bars = [
        *bars_of("A", "violet", (1.5, 2.0), on=0),
        *bars_of("B", "violet", (1.5,), on=0),
        *bars_of("C", "violet", (1.0,), on=0),
        *bars_of("D", "blue", (0.5,), on=1),
        *bars_of("E", "blue", (0.5,), on=2),
    ]
    assert sentences(compare_variants(bars, [LIP], TINTS)[0])[:-1] == (
        # One day against two: 2 of 3 ways.
        "Too few by lip: about 3 more pots of each would tell: blue has 1 mm less"
        " (p\u00a0=\u00a00.667).",
        "violet: 4 bars in 3 pours, 4 measured, median 1.5 mm.",
        "blue: 2 bars in 2 pours, 2 measured, median 0.5 mm.",
        "One value a pot; pots were compared.",
        "Some pots are of days that saw one of the two alone:"
        " what those days do to a pot is in the difference.",
        "2 pots more of such a day count with the first: a day makes one trial.",
        "There is no 95 % interval from 1 against 2 pots: even the clearest outcome has"
        " p\u00a0=\u00a00.667.",
        "A look: to decide by it, ask the question and pour again.",
        "3 more pots of each would find a difference of 0.5 mm four times out of five,"
        " if the rest varies as it did so far.",
    )


def test_never_of_one_pot() -> None:
    bars = [*bars_of("A", "close", (1.5, 2.0)), *bars_of("B", "straight", (1.5,))]
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
    assert said[:5] == (
        "Cannot tell by lip: one pot of each.",
        "close: 2 bars in 1 pour, 2 measured, median 1.8 mm.",
        "straight: 1 bar in 1 pour, 1 measured, median 1.5 mm.",
        "close and straight were never poured from one pot, so pots are compared and not bars.",
        "One value a pot; pots were compared.",
    )
    assert "3 more pots of each is the least with which anything could be decided." in said


def test_bars_with_nothing_beside_them() -> None:
    said = sentences(
        compare_variants(FOUR + bars_of("B", "close", (1.0, 2.0)), [LIP], TRIMS, BY_LIP)[0]
    )
    assert "2 bars of close had nothing to be held against, and were left out." in said
    assert "Bars were compared within 1 pot." in said
    assert not any("bars of straight had nothing" in text for text in said)


def test_a_value_of_another_kind() -> None:
    bars = bars_of("A", "close", (1.5, True, None, -1.0), lifted=(3,))
    bars += bars_of("A", "straight", (0.5, 0.2))
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
    assert (
        "Not measured: 3 of 4 bars of close: 1 with the detail lifted (no lip to measure),"
        " 1 not noted and 1 with a value that is no lip, left out."
    ) in said
    assert (
        "The details lifted more often with one than with the other;"
        " lip is compared for the bars whose detail stayed."
    ) in said
    assert len([text for text in said if text.startswith("Not measured")]) == 1


def test_one_that_was_never_poured() -> None:
    said = sentences(compare_variants(bars_of("A", "close", CLOSE), [LIP], TRIMS, BY_LIP)[0])
    assert said == (
        "Cannot tell by lip: straight was never poured.",
        "close: 4 bars in 1 pour, 4 measured, median 1.6 mm.",
        "straight: 0 bars in 0 pours, none measured.",
        "4 more bars of each is the least with which anything could be decided.",
        SPREAD,
    )


def test_yes_and_no() -> None:
    bars = bars_of("A", "close", (True,) * 4, "keep")
    bars += bars_of("A", "straight", (False,) * 4, "keep")
    # Newcombe's interval of 0 of 4 less 4 of 4; the deviation of yes and no is not told.
    assert sentences(
        compare_variants(bars, [KEEP], TRIMS, ComparisonQuestion("keep", FIRST_DAY, 1))[0]
    ) == (
        "Close is better by keep: straight has 100 percentage points less, and at least"
        " 31 percentage points (95 % interval 31 percentage points to 100 percentage points"
        " less; p\u00a0=\u00a00.029).",
        "close: 4 bars in 1 pour, 4 of 4 yes.",
        "straight: 4 bars in 1 pour, 0 of 4 yes.",
        "Bars were compared within 1 pot.",
    )


def test_neither_direction_is_better() -> None:
    bars = bars_of("A", "close", (90.0, 91.0, 92.0, 93.0), "weight")
    bars += bars_of("A", "straight", (99.0, 98.0, 97.0, 96.0), "weight")
    said = sentences(
        compare_variants(bars, [WEIGHT], TRIMS, ComparisonQuestion("weight", FIRST_DAY, 1))[0]
    )
    assert said[0] == (
        "Straight has the greater weight: straight has 6 g more, and at least 3 g"
        " (95 % interval 3 g to 9 g more; p\u00a0=\u00a00.029)."
    )
    assert said[-1] == "Beside the variants, bars of one pot by 1.3 g (standard deviations)."


def test_what_pots_and_days_do() -> None:
    bars: list[ObservedBar] = []
    # Two pots a day, three days; the pots of a day differ by 1 mm, the days by 3.
    for number, (pour, lip) in enumerate(zip("ABCDEF", (1, 2, 4, 5, 7, 8), strict=True)):
        on = number // 2
        bars += bars_of(pour, "close", (lip, lip + 0.2), on=on)
        bars += bars_of(pour, "straight", (lip, lip + 0.2), on=on)
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
    # Within: 0.2 / sqrt 2, with a degree of freedom of the 18 gone to the variants.
    # Pots: (1 / sqrt 2)^2 less a quarter of that. Days: 3^2 less half of the pots' own.
    assert said[-1] == (
        "Beside the variants, bars of one pot by 0.1 mm, pots of a day by 0.7 mm"
        " and days by 3 mm (standard deviations)."
    )


# As a maker says it ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.05, "unlikely to be chance"),
        (0.0501, "could easily be chance"),
        (1.0, "could easily be chance"),
    ],
)
def test_chance_goes_by_p(p: float, words: str) -> None:
    assert chance_words(p) == words


def test_the_plain_verdict_has_its_answer_first_and_no_p() -> None:
    said = plain_verdict(lips(CLOSE, STRAIGHT))
    assert said.startswith("Straight is better by lip: ")
    assert said.endswith("; unlikely to be chance.")
    assert "p <" not in said
    assert "%" not in said
