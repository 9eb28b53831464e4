"""Comparisons in words."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from poured_bars import BUBBLES, FIRST_DAY, KEEP, LIP, RELIEF, TIDY, TINTS, TRIMS, WEIGHT, bars_of

from journal.comparison import permutation
from journal.comparison.comparing import VariantComparison, compare_variants
from journal.comparison.observed import (
    ComparedMeasure,
    ComparedVariant,
    ComparisonQuestion,
    ObservedBar,
)
from journal.comparison.sentences import (
    beside_sentences,
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
        (0.3, KEEP, "30 bars in 100"),
        (-2.0, BUBBLES, "2 bubbles"),
        (1.0, BUBBLES, "1 bubble"),
        (0.5, RELIEF, "0.5 points"),
        (-1.0, RELIEF, "1 point"),
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
    assert verdict_sentence(lips(CLOSE, STRAIGHT)) == VERDICT


def test_no_difference() -> None:
    near = (0.1, 0.2, 0.1, 0.3, 0.2)
    assert verdict_sentence(lips(near, near[::-1])) == (
        "No difference that matters in the lip: at most 0.1 mm. 0.5 mm would matter."
        " In numbers: straight has 0.1 mm less to 0.1 mm more, 90 % interval."
    )


def test_what_is_below_by_less_than_is_shown_is_not_told_as_if_it_mattered() -> None:
    near = (0.1, 0.2, 0.1, 0.3, 0.2)
    found = lips(near, near[::-1])
    assert plain_verdict(replace(found, measure=replace(found.measure, matters=0.14))) == (
        "No difference that matters in the lip: less than the 0.1 mm that would matter."
    )


def test_too_few() -> None:
    said = sentences(lips((1.0, 2.0), (0.5, 2.0)))
    assert said[0] == (
        "Too soon to say which leaves less lip: so far it looks like straight, by about 0.3 mm."
        " It could easily be chance."
        " Look again at 2 pours: it will hardly tell then either."
        " In numbers: straight has 0.3 mm less, p\u00a0=\u00a01."
    )
    assert said[4].startswith("2 against 2 bars are too few for a 95 % interval")


def test_level() -> None:
    assert "the two are level" in verdict_sentence(lips((1.0, 2.0), (1.0, 2.0)))
    # 0.02 mm less would be said as 0 mm less.
    assert "the two are level" in verdict_sentence(lips((1.0, 2.0), (0.98, 1.98)))


def test_the_page_may_say_it_in_its_own_way() -> None:
    said = verdict_sentence(lips(CLOSE, STRAIGHT), lambda amount, _: f"<{abs(amount):.2f}>")
    assert ", by about <1.40> and at least <0.90>." in said
    assert "straight has <1.40> less" in said


def test_sides_and_what_was_not_measured() -> None:
    bars = bars_of("A", "close", (1.5, None, 1.0), lifted=(2,)) + bars_of("A", "straight", (0.5,))
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
    assert "close: 3 bars in 1 pour, 1 measured, median 1.5 mm." in said
    assert "1 close bar lifted, so the lip could not be measured." in said
    assert "1 close bar was not measured." in said
    assert "straight: 1 bar in 1 pour, 1 measured, median 0.5 mm." in said
    assert any("Only bars whose detail stayed are compared" in text for text in said)


def test_fewer_and_yes() -> None:
    bars = bars_of("A", "close", (6.0, 7.0, 8.0, 9.0), "bubbles")
    bars += bars_of("A", "straight", (0.0, 1.0, 2.0, 3.0), "bubbles")
    said = sentences(compare_variants(bars, [BUBBLES], TRIMS)[0])
    assert said[0].startswith(
        "Straight is better: it leaves fewer bubbles, by about 6 bubbles and at least 3 bubbles."
    )
    assert "straight has 6 bubbles fewer" in said[0]
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
    assert "Each pot counts once." in said
    assert any(text.startswith("On some days only one of the two was poured") for text in said)
    assert any(text.startswith("1 more pot of such a day counts") for text in said)


def test_dealt_at_random(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(permutation, "MOST_PAIRS_EXACT", 1)
    assert any("labels dealt at random" in text for text in sentences(lips(CLOSE, STRAIGHT)))


def test_beyond_what_was_set() -> None:
    bars = bars_of("A", "close", CLOSE) + bars_of("A", "straight", STRAIGHT)
    bars += bars_of("B", "close", CLOSE) + bars_of("B", "straight", STRAIGHT)
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
    assert "The answer is from the first pour: the pour since does not count." in said
    assert any("bars of one pot differ by 0.2 mm" in text for text in said)


BY_TWO = replace(BY_LIP, until=2)

# Whole, sentence by sentence -----------------------------------------------------------

FOUR = bars_of("A", "close", CLOSE) + bars_of("A", "straight", STRAIGHT)
# 4 against 4 wholly apart: 2 of the 70 ways. 1.55 less 0.25 is the middle of both, not of
# the sixteen differences: that is 1.4.
VERDICT = (
    "Cut straight: it leaves less lip, by about 1.4 mm and at least 0.9 mm."
    " It is unlikely to be chance."
    " In numbers: straight has 1.4 mm less, 95 % interval 0.9 to 2 mm less, p\u00a0=\u00a00.029."
)
SIDES = (
    "close: 4 bars in 1 pour, 4 measured, median 1.6 mm.",
    "straight: 4 bars in 1 pour, 4 measured, median 0.3 mm.",
    "Bars are compared with bars of the same pot, in 1 pot.",
)
# Squares about the means 1.625 and 0.25 sum to 0.2075 and 0.17, over 6.
SPREAD = "Whatever the variant, bars of one pot differ by 0.3 mm (standard deviations)."


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
        (FOUR, ComparisonQuestion("lip", FIRST_DAY, 2, "bars"), ()),
        (
            FOUR,
            None,
            (
                "You did not set out to test this."
                " To decide by it, ask the question and pour again.",
            ),
        ),
        (
            before((3.0, 4.0), (1.0, 1.0)) + FOUR,
            BY_LIP,
            (
                "Poured before you asked, and not counted: 2 close bars and 2 straight bars."
                " There straight has 2.5 mm less.",
            ),
        ),
        (
            before((3.0,), (3.0,)) + FOUR,
            BY_LIP,
            (
                "Poured before you asked, and not counted: 1 close bar and 1 straight bar."
                " There the two are level.",
            ),
        ),
        (
            before((3.0,), ()) + FOUR,
            BY_LIP,
            ("Poured before you asked, and not counted: 1 close bar and 0 straight bars.",),
        ),
        (
            seasons(("winter",) * 4, ("summer",) * 4),
            BY_LIP,
            ("close had season winter, straight had summer: the difference may be that instead.",),
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
    verdict = VERDICT if question else VERDICT.replace("Cut straight", "Straight is better")
    other = tuple(text for text in between if "the difference may be" in text)
    rest = tuple(text for text in between if text not in other)
    assert sentences(found) == (verdict, *other, *SIDES, *rest, SPREAD)


def test_before_what_was_set() -> None:
    said = sentences(
        compare_variants(FOUR, [LIP], TRIMS, ComparisonQuestion("lip", FIRST_DAY, 3))[0]
    )
    assert said == (
        VERDICT.replace("Cut straight", "So far, perhaps straight").replace(
            "chance. ", "chance. Look again at 3 pours: it is nearly sure to tell. "
        ),
        *SIDES,
        "You set out to make 3 pours before the verdict. So far there is 1.",
        SPREAD,
    )
    twice = FOUR + bars_of("B", "close", CLOSE) + bars_of("B", "straight", STRAIGHT)
    said = sentences(
        compare_variants(twice, [LIP], TRIMS, ComparisonQuestion("lip", FIRST_DAY, 3))[0]
    )
    assert "You set out to make 3 pours before the verdict. So far there are 2." in said
    said = sentences(
        compare_variants(FOUR, [LIP], TRIMS, ComparisonQuestion("lip", FIRST_DAY, 9, "bars"))[0]
    )
    assert "You set out to make 9 bars before the verdict. So far there are 8." in said


def test_what_is_as_set_is_not_remarked_on() -> None:
    said = sentences(
        compare_variants(FOUR, [LIP], TRIMS, ComparisonQuestion("lip", FIRST_DAY, 8, "bars"))[0]
    )
    assert not any("set" in text for text in said)


def test_all_the_same() -> None:
    assert sentences(lips((1.0,) * 3, (1.0,) * 3)) == (
        "Too soon to say which leaves less lip: so far the two are level."
        " Look again at 2 pours. In numbers: the two are level, p\u00a0=\u00a01.",
        "close: 3 bars in 1 pour, 3 measured, median 1 mm.",
        "straight: 3 bars in 1 pour, 3 measured, median 1 mm.",
        "Bars are compared with bars of the same pot, in 1 pot.",
        "All measure the same, so there is no interval.",
        "Whatever the variant, bars of one pot differ by 0 mm (standard deviations).",
    )


def test_three_pairs_share_a_question() -> None:
    variants = (*TRIMS, ComparedVariant("pared", changes={"trim": "pared"}))
    bars = FOUR + bars_of("A", "pared", (0.2, 0.3, 0.9, 0.7))
    first, _, last = (sentences(one) for one in compare_variants(bars, [LIP], variants, BY_LIP))
    assert first[0] == (
        # At p 0.086 it may be nothing at all: what it is at least is in the numbers alone.
        "So far, perhaps straight: it leaves less lip, by about 1.4 mm."
        " It could easily be chance. Look again at 2 pours: it is nearly sure to tell."
        " In numbers: straight has 1.4 mm less, 95 % interval 0.9 to 2 mm less,"
        " p\u00a0=\u00a00.086."
    )
    assert first[4] == (
        "It is one of 3 pairs of the question, so it was made harder to pass."
        " Alone it has p\u00a0=\u00a00.029."
    )
    # An interval on both sides of zero.
    assert last[0] == (
        "Too soon to say which leaves less lip: so far it looks like straight, by about 0.3 mm."
        " It could easily be chance."
        " Look again at 2 pours: about 1 chance in 10 that it tells."
        " In numbers: pared has 0.3 mm more, 95 % interval 0.3 mm less to 0.9 mm more,"
        " p\u00a0=\u00a00.343."
    )
    looks = [sentences(one) for one in compare_variants(bars, [LIP], variants)]
    assert looks[0][4].startswith("It is one of 3 hints on this page")


def test_what_changed_together() -> None:
    variants = (
        ComparedVariant("close", changes={"trim": "close", "mat": "moth", "piece": "a"}),
        ComparedVariant("straight", changes={"trim": "straight", "mat": "leaf", "piece": "b"}),
    )
    said = sentences(compare_variants(FOUR, [LIP], variants, BY_LIP)[0])
    assert said == (
        VERDICT.replace("Cut straight", "Choose straight"),
        "mat, piece and trim changed together: the difference may come from any of them.",
        *SIDES,
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
        "Too soon to say which leaves less lip: so far it looks like blue, by about 1 mm."
        " It could easily be chance. In numbers: blue has 1 mm less, p\u00a0=\u00a00.667.",
        "violet: 4 bars in 3 pours, 4 measured, median 1.5 mm.",
        "blue: 2 bars in 2 pours, 2 measured, median 0.5 mm.",
        "Each pot counts once.",
        "2 more pots of such a day count with the first: a day counts once.",
        "1 against 2 pots are too few for a 95 % interval: even the clearest outcome has"
        " p\u00a0=\u00a00.667.",
        "You did not set out to test this. To decide by it, ask the question and pour again.",
        "On some days only one of the two was poured:"
        " some of the difference may come from the day.",
    )


def test_never_of_one_pot() -> None:
    bars = [*bars_of("A", "close", (1.5, 2.0)), *bars_of("B", "straight", (1.5,))]
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
    assert said[:5] == (
        "Can't tell yet which leaves less lip: only one pot of each.",
        "close: 2 bars in 1 pour, 2 measured, median 1.8 mm.",
        "straight: 1 bar in 1 pour, 1 measured, median 1.5 mm.",
        "No pot had both close and straight, so pots are compared and not bars.",
        "Each pot counts once.",
    )


def test_bars_with_nothing_beside_them() -> None:
    said = sentences(
        compare_variants(FOUR + bars_of("B", "close", (1.0, 2.0)), [LIP], TRIMS, BY_TWO)[0]
    )
    assert "2 close bars had nothing to be compared with, and were left out." in said
    assert "Bars are compared with bars of the same pot, in 1 pot." in said
    assert not any("straight bars had nothing" in text for text in said)


def test_a_value_of_another_kind() -> None:
    bars = bars_of("A", "close", (1.5, True, None, -1.0), lifted=(3,))
    bars += bars_of("A", "straight", (0.5, 0.2))
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_LIP)[0])
    assert "1 close bar lifted, so the lip could not be measured." in said
    assert "1 close bar was not measured." in said
    assert "1 close bar was left out: what is written is no lip." in said
    assert (
        "More details lifted with one than with the other."
        " Only bars whose detail stayed are compared here."
    ) in said
    assert not any("straight bar" in text for text in said)


def test_one_that_was_never_poured() -> None:
    said = sentences(compare_variants(bars_of("A", "close", CLOSE), [LIP], TRIMS, BY_LIP)[0])
    assert said == (
        "Can't tell yet which leaves less lip: straight was never poured.",
        "close: 4 bars in 1 pour, 4 measured, median 1.6 mm.",
        "straight: 0 bars in 0 pours, none measured.",
        SPREAD,
    )


def test_yes_and_no() -> None:
    bars = bars_of("A", "close", (True,) * 4, "keep")
    bars += bars_of("A", "straight", (False,) * 4, "keep")
    # Newcombe's interval of 0 of 4 less 4 of 4; the deviation of yes and no is not told.
    assert sentences(
        compare_variants(bars, [KEEP], TRIMS, ComparisonQuestion("keep", FIRST_DAY, 1))[0]
    ) == (
        "Cut close: it gives more bars fit to sell, by about 100 bars in 100"
        " and at least 31 bars in 100. It is unlikely to be chance. In numbers: straight has"
        " 100 bars in 100 fewer, 95 % interval 31 to 100 bars in 100 fewer, p\u00a0=\u00a00.029.",
        "With it 4 of 4 bars are fit to sell, against 0 of 4.",
        "close: 4 bars in 1 pour, 4 of 4 yes.",
        "straight: 4 bars in 1 pour, 0 of 4 yes.",
        "Bars are compared with bars of the same pot, in 1 pot.",
    )


def test_neither_direction_is_better() -> None:
    bars = bars_of("A", "close", (90.0, 91.0, 92.0, 93.0), "weight")
    bars += bars_of("A", "straight", (99.0, 98.0, 97.0, 96.0), "weight")
    said = sentences(
        compare_variants(bars, [WEIGHT], TRIMS, ComparisonQuestion("weight", FIRST_DAY, 1))[0]
    )
    assert said[0] == (
        "Straight is heavier, by about 6 g and at least"
        " 3 g. It is unlikely to be chance. In numbers: straight has 6 g more, 95 % interval 3 to"
        " 9 g more, p\u00a0=\u00a00.029."
    )
    assert "bars of one pot differ by 1.3 g (standard deviations)" in said[-1]


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
        "Whatever the variant, bars of one pot differ by 0.1 mm, pots of a day by"
        " 0.7 mm and days by 3 mm (standard deviations)."
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
    assert said.startswith("Cut straight: it leaves less lip, by about 1.4 mm")
    assert said.endswith(" It is unlikely to be chance.")
    assert "p <" not in said
    assert "%" not in said


def test_a_measure_of_the_studios_own_is_said_by_its_name() -> None:
    own = ComparedMeasure("gloss", "rating", "higher", 1.0)
    bars = bars_of("A", "close", (2.0, 3.0), "gloss") + bars_of(
        "A", "straight", (4.0, 4.0), "gloss"
    )
    said = plain_verdict(compare_variants(bars, [own], TRIMS)[0])
    assert said.startswith(
        "Too soon to say which has more gloss: so far it looks like straight, by"
    )


def test_what_could_be_chance_has_no_least() -> None:
    variants = (*TRIMS, ComparedVariant("pared", changes={"trim": "pared"}))
    bars = FOUR + bars_of("A", "pared", (0.2, 0.3, 0.9, 0.7))
    first = compare_variants(bars, [LIP], variants, BY_LIP)[0]
    assert first.high is not None
    assert first.high < 0
    assert "at least" not in plain_verdict(first)


# What is worth a word beside a verdict ---------------------------------------------------


def three_pots(straight: tuple[float, ...] = (0.1, 0.2, 0.3)) -> list[ObservedBar]:
    """Three pots with three bars of each trim; in every pot the close ones were poured first."""
    return [
        bar
        for on, pour in enumerate("ABC")
        for bar in (
            *bars_of(pour, "close", (1.5, 1.6, 1.7), on=on),
            *bars_of(pour, "straight", straight, on=on),
        )
    ]


def test_what_was_always_first_is_said_beside_the_verdict() -> None:
    bars = [replace(bar, row=row) for row, bar in enumerate(three_pots())]
    found = compare_variants(bars, [LIP], TRIMS, replace(BY_LIP, until=3))[0]
    assert found.verdict.code == "leaning"
    assert sentences(found)[1] == "It may be something else: close was poured first each time."


def test_what_the_choice_gains_is_said_of_the_question_alone() -> None:
    bars: list[ObservedBar] = []
    for bar in three_pots():
        good = bar.variant == "straight"
        values = {**bar.values, "keep": good or bar.pour == "A", "tidy": 1.0 if good else 4.0}
        bars.append(replace(bar, values=values))
    found = compare_variants(bars, [LIP, KEEP, TIDY], TRIMS, replace(BY_LIP, until=3))
    assert beside_sentences(found[0], found) == (
        "With it 9 of 9 bars are fit to sell, against 3 of 9, and a bar takes about 3 min less"
        " to tidy.",
    )
    assert all(beside_sentences(hint, found) == () for hint in found[1:])
    # 5 of 6 against 4 of 6 could be chance, and says so.
    some = [replace(bar, values={**bar.values, "keep": bar.bar != "A1"}) for bar in bars]
    found = compare_variants(some, [LIP, KEEP], TRIMS, replace(BY_LIP, until=3))
    assert "(that could easily be chance)" in beside_sentences(found[0], found)[0]


def test_unequal_bars_a_pot_are_counted_side_by_side() -> None:
    bars = bars_of("A", "close", (1.5, 1.4, 2.0, 1.6, 1.7)) + bars_of("A", "straight", (0.0,))
    bars += bars_of("B", "close", (1.5,), on=1) + bars_of("B", "straight", (0.5, 0.1, 0.4), on=1)
    said = sentences(compare_variants(bars, [LIP], TRIMS, BY_TWO)[0])
    assert "close: 6 bars in 2 pours, 6 measured, median 1.6 mm." in said
    assert "straight: 4 bars in 2 pours, 4 measured, median 0.3 mm." in said
    # 1 in 6 of the one pot and 1 in 4 of the other: 2 / 24.
    assert said[0].endswith("p\u00a0=\u00a00.083.")


def test_ties_are_level() -> None:
    said = verdict_sentence(lips((1.0, 1.0, 1.0, 2.0), (1.0, 1.0, 2.0, 1.0)))
    assert said.startswith("Too soon to say which leaves less lip: so far the two are level.")
    assert said.endswith("p\u00a0=\u00a01.")
