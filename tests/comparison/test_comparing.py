"""A design's comparisons as a whole: the question, the looks, and what goes wrong."""

from __future__ import annotations

import math
from datetime import timedelta
from statistics import fmean

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from msgspec.structs import replace
from poured_bars import BUBBLES, FIRST_DAY, KEEP, LIP, RELIEF, TINTS, TRIMS, WEIGHT, bars_of, day

from journal.comparison.comparing import (
    EarlierPours,
    Look,
    PourProgress,
    VariantComparison,
    announced_looks,
    compare_variants,
)
from journal.comparison.intervals import Interval
from journal.comparison.moderated import PotScatter
from journal.comparison.observed import ComparedVariant, ComparisonQuestion, ObservedBar
from journal.comparison.scatter import MeasureScatter
from journal.comparison.sentences import method_text, plain_p, sentences
from journal.errors import FigureError

EXACT = 1e-12
SECOND = Look(4, 0.028)
BY_LIP = ComparisonQuestion("lip", FIRST_DAY, 2, compare=("close", "straight"))
WIDE = ((1.5, 1.0, 2.0, 1.5), (0.0, 0.5, 0.0, 0.5))


def pots(*lips: tuple[tuple[float | None, ...], tuple[float | None, ...]]) -> list[ObservedBar]:
    bars: list[ObservedBar] = []
    for letter, (close, straight) in zip("ABCDEFGH", lips, strict=False):
        bars += bars_of(letter, "close", close)
        bars += bars_of(letter, "straight", straight)
    return bars


def only(found: tuple[VariantComparison, ...]) -> VariantComparison:
    (one,) = found
    # Whatever comes out, it can be put into words.
    assert all(sentence.endswith(".") for sentence in sentences(one))
    return one


def test_the_question_decides() -> None:
    found = only(compare_variants(pots(WIDE, WIDE), [LIP], TRIMS, BY_LIP))
    assert found.deciding
    assert found.between == ("close", "straight")
    assert (found.by, found.unit, found.trials) == ("lip", "mm", "bars")
    assert found.difference == -1.25
    assert found.low is not None
    assert found.high is not None
    assert found.low <= -1.25 <= found.high < 0
    # All of straight below all of close, 4 against 4 twice: 2 / 70^2.
    assert found.p == pytest.approx(2 / 70**2, rel=EXACT)
    assert found.p_adjusted == found.p
    assert found.verdict.words == "straight is better by lip"
    assert found.verdict.favours == "straight"
    assert found.progress == PourProgress(2, 2, "pours", True, 2, SECOND)


def test_three_bars_of_one_pot_decide_nothing() -> None:
    bars = pots(((1.5, 1.0, 2.0), (0.0, 0.5, 0.0)))
    found = only(compare_variants(bars, [LIP], TRIMS, replace(BY_LIP, until=1)))
    assert found.p == pytest.approx(0.1, rel=EXACT)
    assert (found.low, found.high) == (None, None)
    assert found.contrast.no_interval == "too few"
    assert found.verdict.words == "so far: leaning to straight"
    assert any(
        "3 against 3 bars are too few for a 95 % interval" in text for text in sentences(found)
    )


def test_so_far() -> None:
    found = only(compare_variants(pots(WIDE), [LIP], TRIMS, BY_LIP))
    assert found.p is not None
    assert found.p < 0.05
    assert found.verdict.words == "so far: leaning to straight"
    assert found.progress == PourProgress(1, 2, "pours", False, 1, Look(2, 0.03))


@pytest.mark.parametrize(("of", "poured"), [("pours", 2), ("bars", 15)])
def test_until(of: str, poured: int) -> None:
    # A bar not looked at does not count; a lifted detail was looked at.
    bars = pots(WIDE, ((1.5, None, 1.0, 2.0), (0.0, 0.5, 0.0, 0.5)))
    bars[0] = replace(bars[0], lifted=True)
    for until, due in ((poured, True), (poured + 1, False)):
        asked = replace(BY_LIP, until=until, until_of=of)  # type: ignore[arg-type]
        found = only(compare_variants(bars, [LIP], TRIMS, asked))
        assert found.progress is not None
        assert (found.progress.poured, found.progress.of, found.progress.due) == (poured, of, due)
        assert found.verdict.so_far != due


LEVEL = ((1.0, 1.5, 1.0, 1.5), (1.5, 1.0, 1.5, 1.0))


def test_two_announced_looks() -> None:
    """What the first look does not tell waits for the second; what it told stands."""
    asked = replace(BY_LIP, until=1)
    drawn = only(compare_variants(pots(LEVEL), [LIP], TRIMS, asked))
    assert drawn.verdict.so_far
    assert drawn.verdict.next_look is not None
    assert drawn.verdict.next_look.at == 2
    # 4 against 4 twice can come to 2 / 70^2, but a level first pour leaves little to hope for.
    assert drawn.verdict.next_look.chance is not None
    assert 0 < drawn.verdict.next_look.chance < 0.5
    second = only(compare_variants(pots(LEVEL, WIDE), [LIP], TRIMS, asked))
    assert second.progress == PourProgress(2, 1, "pours", True, 2, None)
    assert [side.poured for side in second.sides] == [8, 8]
    told = only(compare_variants(pots(WIDE, LEVEL), [LIP], TRIMS, asked))
    assert told.progress == PourProgress(2, 1, "pours", True, 1, Look(2, 0.028))
    assert [side.poured for side in told.sides] == [4, 4]
    assert told.p == pytest.approx(2 / 70, rel=EXACT)
    assert told.verdict.code == "better"
    assert any("first pour: the pour since does not count" in text for text in sentences(told))
    past = only(compare_variants(pots(LEVEL, LEVEL, WIDE), [LIP], TRIMS, asked))
    assert past.progress == PourProgress(3, 1, "pours", True, 2, None)
    assert past.verdict.code != "better"
    assert any("That was the last look" in text for text in sentences(past))


def test_a_look_after_each_pour() -> None:
    asked = replace(BY_LIP, until=2, last_look=12)
    assert [look.at for look in announced_looks(asked)] == list(range(2, 13))
    assert {look.level for look in announced_looks(asked)[1:]} == {0.0068}
    assert announced_looks(replace(asked, until=5))[1].level == 0.0102
    found = only(compare_variants(pots(LEVEL, LEVEL, WIDE), [LIP], TRIMS, asked))
    assert found.progress == PourProgress(3, 2, "pours", False, 3, Look(4, 0.0068))


def test_always_first_is_no_answer() -> None:
    """The same bars, poured by turns or one variant after the other."""
    bars = pots(WIDE, WIDE)
    rows = {turns: [replace(bar, row=n if not turns else n % 4) for n, bar in enumerate(bars)]
            for turns in (True, False)}  # fmt: skip
    assert only(compare_variants(rows[True], [LIP], TRIMS, BY_LIP)).verdict.code == "better"
    first = only(compare_variants(rows[False], [LIP], TRIMS, BY_LIP))
    assert (first.verdict.code, first.verdict.doubt) == (
        "leaning",
        "close was poured first each time",
    )


def test_pours_before_the_question_are_looks() -> None:
    bars = pots(WIDE, ((1.0, 1.0, 1.5), (1.0, 0.5, 1.5)))
    asked = replace(BY_LIP, asked=day(1), until=1)
    found = only(compare_variants(bars, [LIP], TRIMS, asked))
    assert found.deciding
    assert [side.poured for side in found.sides] == [3, 3]
    assert found.earlier == EarlierPours((4, 4), -1.25)
    assert any("Poured before you asked, and not counted" in text for text in sentences(found))


def test_only_what_was_asked_counts_towards_what_was_set() -> None:
    """Bars of an earlier week, of another variant, and not measured stand before the rest."""
    bars = [
        *bars_of("A", "close", (1.0,), on=-1),
        *bars_of("B", "pared", (1.0,), on=0),
        *bars_of("C", "close", (None,), on=0),
        *bars_of("D", "close", (1.0, 1.5), on=0),
        *bars_of("D", "straight", (0.0, 0.5), on=0),
    ]
    variants = (*TRIMS, ComparedVariant("pared", changes={"trim": "straight 5 mm"}))
    asked = ComparisonQuestion("lip", FIRST_DAY, 2, "bars", compare=("close", "straight"))
    found = compare_variants(bars, [LIP], variants, asked)[0]
    assert found.progress is not None
    assert (found.progress.poured, found.progress.counted) == (4, 4)
    asked = replace(asked, until_of="pours")
    progress = compare_variants(bars, [LIP], variants, asked)[0].progress
    assert progress is not None
    assert progress.poured == 1


def test_all_kept_on_both_sides() -> None:
    bars = bars_of("A", "close", (True,) * 40, "keep")
    bars += bars_of("A", "straight", (True,) * 40, "keep")
    found = only(compare_variants(bars, [KEEP], TRIMS))
    assert found.verdict.code == "no difference"
    # Wilson's limit of 40 of 40 at 90 % lies z^2 / (40 + z^2) below 1, z = 1.644854.
    reach = 1.644854**2 / (40 + 1.644854**2)
    assert found.within is not None
    assert (found.within.low, found.within.high) == pytest.approx((-reach, reach), abs=1e-6)
    assert found.contrast.no_interval == ""


def test_the_spread_beside_pots() -> None:
    bars = [
        *bars_of("A", "violet", (1.0, 3.0)),
        *bars_of("B", "blue", (5.0, 9.0)),
        *bars_of("C", "violet", (2.0, 4.0)),
        *bars_of("D", "blue", (6.0, 10.0)),
        *bars_of("E", "green", (99.0, 0.0)),
    ]
    spread = compare_variants(bars, [LIP], TINTS)[0].spread
    assert spread is not None
    # Squares within pots 2, 8, 2, 8, over 4. Pots about their tint's mean by 0.5 each: 2 in
    # all, over 2, which is less than the bars of a pot already make of it.
    assert spread.within_pots == pytest.approx(math.sqrt(20 / 4), rel=EXACT)
    assert spread.between_pots == 0
    assert (spread.pots, spread.days_in_pots) == (4, True)


def test_the_day_of_asking_counts() -> None:
    assert only(compare_variants(pots(WIDE), [LIP], TRIMS, BY_LIP)).deciding
    later = replace(BY_LIP, asked=day(0).replace(day=19))
    look = only(compare_variants(pots(WIDE), [LIP], TRIMS, later))
    assert not look.deciding
    assert look.progress is None
    assert look.verdict.words == "straight is better by lip"
    assert any(text.startswith("You did not set out to test this") for text in sentences(look))


def test_what_matters_is_the_questions() -> None:
    bars = pots(WIDE, WIDE)
    assert only(compare_variants(bars, [LIP], TRIMS, BY_LIP)).measure.matters == 0.5
    strict = only(compare_variants(bars, [LIP], TRIMS, replace(BY_LIP, matters=1.5)))
    assert strict.verdict.code == "better"
    assert "may be less than matters (1.5 mm)" in sentences(strict)[0]
    sure = only(compare_variants(bars, [LIP], TRIMS, BY_LIP))
    assert "matters" not in sentences(sure)[0]
    small = only(compare_variants(bars, [LIP], TRIMS, replace(BY_LIP, matters=5.0)))
    assert "less than would matter (5 mm)" in sentences(small)[0]


def test_holm_over_the_questions_pairs_and_over_the_looks() -> None:
    variants = (*TRIMS, ComparedVariant("pared", changes={"trim": "straight 5 mm"}))
    bars = pots(WIDE, WIDE)
    for letter in "AB":
        bars += bars_of(letter, "pared", (0.0, 0.5, 0.5, 0.0))
    bars += [
        replace(bar, bar=f"{bar.bar}k", values={"keep": bar.variant != "close"}) for bar in bars
    ]
    question = ComparisonQuestion("lip", FIRST_DAY, 2)
    found = compare_variants(bars, [LIP, KEEP], variants, question)
    deciding = [one for one in found if one.deciding]
    looks = [one for one in found if not one.deciding]
    assert [one.between for one in deciding] == [
        ("close", "straight"),
        ("close", "pared"),
        ("straight", "pared"),
    ]
    assert {one.by for one in deciding} == {"lip"}
    assert {one.by for one in looks} == {"keep"}
    smallest = min(one.p for one in deciding if one.p is not None)
    assert deciding[0].p == smallest
    assert deciding[0].p_adjusted == pytest.approx(3 * smallest, rel=EXACT)
    assert deciding[0].family == 3
    # straight against pared: all kept on both sides, p 1, and still counted.
    assert [one.p_adjusted for one in looks] == pytest.approx(
        [3 * looks[0].p, 3 * looks[0].p, 1.0]  # type: ignore[operator]
    )


def test_other_pairs_than_the_questions_are_looks() -> None:
    variants = (ComparedVariant("pared", changes={"trim": "straight 5 mm"}), *TRIMS)
    bars = pots(WIDE, WIDE) + bars_of("A", "pared", (0.0, 0.5))
    found = compare_variants(bars, [LIP], variants, BY_LIP)
    # The question's order goes before the write-up's.
    assert [(one.between, one.deciding) for one in found] == [
        (("close", "straight"), True),
        (("close", "pared"), False),
        (("straight", "pared"), False),
    ]


def test_without_a_question_everything_is_a_look() -> None:
    found = only(compare_variants(pots(WIDE), [LIP, KEEP], TRIMS))
    assert not found.deciding
    assert found.verdict.code == "better"
    assert not found.verdict.so_far


def test_without_variants_the_bars_name_them() -> None:
    assert only(compare_variants(pots(WIDE), [LIP])).between == ("close", "straight")
    assert compare_variants([], [LIP]) == ()
    assert compare_variants(bars_of("A", "as written", (1.0,)), [LIP]) == ()


def test_groups_each_on_their_own() -> None:
    groups = [
        *(replace(one, group="trim") for one in TRIMS),
        *(replace(one, group="tint") for one in TINTS),
    ]
    bars: list[ObservedBar] = []
    for letter, tint in zip("ABCDEFGH", ("violet", "blue") * 4, strict=True):
        for trim, lip in (("close", 1.5), ("straight", 0.5)):
            lips = (lip, lip + 0.5)
            bars += bars_of(letter, f"{trim}/{tint}", lips, levels={"trim": trim, "tint": tint})
    question = ComparisonQuestion("lip", FIRST_DAY, 8, group="trim")
    trim, tint = compare_variants(bars, [LIP], groups, question)
    assert trim.deciding
    assert (trim.between, trim.trials, trim.group) == (("close", "straight"), "bars", "trim")
    assert trim.verdict.words == "straight is better by lip"
    assert not tint.deciding
    assert (tint.between, tint.trials, tint.group) == (("violet", "blue"), "pots", "tint")
    assert tint.difference == 0
    assert [side.trials for side in tint.sides] == [4, 4]


def test_a_bar_that_names_no_choice_from_a_group_is_none_of_its_bars() -> None:
    groups = [replace(one, group="trim") for one in TRIMS]
    bars: list[ObservedBar] = []
    for letter in "AB":
        for trim, lip in (("close", 1.5), ("straight", 0.5)):
            bars += bars_of(letter, trim, (lip, lip + 0.5), levels={"trim": trim})
    plain = [*bars_of("C", "close", (9.0,)), *bars_of("D", "as it comes", (9.0,))]
    found = only(
        compare_variants(
            bars + plain, [LIP], groups, ComparisonQuestion("lip", FIRST_DAY, 8, group="trim")
        )
    )
    assert [side.poured for side in found.sides] == [4, 4]
    assert found.progress is not None
    assert (found.progress.poured, found.progress.until) == (2, 8)


def test_the_spread_within_a_group_of_variants() -> None:
    groups = [
        *(replace(one, group="trim") for one in TRIMS),
        *(replace(one, group="tint") for one in TINTS),
    ]
    bars: list[ObservedBar] = []
    for trim, lips in (("close", (1.0, 3.0)), ("straight", (10.0, 12.0))):
        bars += bars_of("A", f"{trim}/violet", lips, levels={"trim": trim, "tint": "violet"})
    (found, *_) = compare_variants(bars, [LIP], groups)
    assert found.between == ("close", "straight")
    assert found.spread is not None
    # Each trim's two bars lie 1 beside their mean: 4 over 4 - 1 - 1.
    assert found.spread.within_pots == pytest.approx(math.sqrt(2), rel=EXACT)


def test_one_pot_of_each_cannot_tell() -> None:
    bars = [*bars_of("A", "violet", (1.5, 1.0, 2.0)), *bars_of("A", "blue", (0.0, 0.5, 0.0))]
    question = ComparisonQuestion("lip", FIRST_DAY, 1, compare=("violet", "blue"))
    found = only(compare_variants(bars, [LIP], TINTS, question))
    assert found.trials == "pots"
    assert found.p is None
    assert found.p_adjusted is None
    assert (found.low, found.high) == (None, None)
    assert found.difference == -1.5
    assert found.verdict.words == "cannot tell: one pot of each"
    assert found.verdict.next_look is not None
    assert found.verdict.next_look.chance is None


def test_pots_over_days() -> None:
    """Four pots of each, each with its day: Student's t on the places of the pots."""
    bars: list[ObservedBar] = []
    lips = {"violet": (2.0, 1.5, 2.5, 2.0), "blue": (0.5, 0.0, 0.5, 1.0)}
    for number, letter in enumerate("ABCDEFGH"):
        tint = ("violet", "blue")[number % 2]
        bars += bars_of(letter, tint, (lips[tint][number // 2],) * 3)
    found = only(compare_variants(bars, [LIP], TINTS, ComparisonQuestion("lip", FIRST_DAY, 8)))
    places = [[math.sqrt(lip + 0.1) for lip in lips[tint]] for tint in ("violet", "blue")]
    assert found.p == pytest.approx(scipy.stats.ttest_ind(*places).pvalue, rel=1e-9)
    assert found.contrast.method == "t"
    assert found.difference == pytest.approx(fmean(places[1]) ** 2 - fmean(places[0]) ** 2)
    assert found.verdict.words == "blue is better by lip"


def test_pots_borrow_from_other_designs() -> None:
    """Two pots of each say nothing alone; four designs with their scatter let them."""
    bars = [
        *bars_of("A", "violet", (2.0, 2.1)),
        *bars_of("B", "blue", (0.5, 0.4)),
        *bars_of("C", "violet", (1.8, 2.0)),
        *bars_of("D", "blue", (0.3, 0.4)),
    ]
    question = ComparisonQuestion("lip", FIRST_DAY, 4)
    other = MeasureScatter(PotScatter(0.01, 3), PotScatter(0.02, 2), 2.0, 0.01)
    alone = only(compare_variants(bars, [LIP], TINTS, question))
    assert (alone.contrast.method, alone.verdict.code) == ("permutation", "too few")
    three = only(compare_variants(bars, [LIP], TINTS, question, {"lip": ((other,),) * 3}))
    assert three.contrast.method == "permutation"
    found = only(compare_variants(bars, [LIP], TINTS, question, {"lip": ((other,),) * 4}))
    assert (found.contrast.method, found.verdict.code) == ("moderated t", "better")
    borrowed = "It borrows how much the pots of 4 other designs had differed by then"
    assert method_text(found) == f"by a t test, {plain_p(found.p_adjusted or 1)}. {borrowed}"
    assert found.contrast.pots is not None
    # Each pot has a day of its own, so that the days stay in what is borrowed.
    assert (found.contrast.pots.designs, found.contrast.pots.df) == (4, 8)
    assert found.low is not None
    assert found.high is not None
    assert found.low < (found.difference or 0.0) < found.high < 0
    # Day by day: the fourth is known on the day of D, and what it shows a day later counts then.
    last, wild = bars[-1].poured_on, PotScatter(9.0, 3)
    late = replace(other, in_day=wild, over_days=wild, last_pour=last + timedelta(1))
    for fourth, same in (((replace(other, last_pour=last), late), found), ((late,), three)):
        others = {"lip": ((other,), (other,), (other,), fourth)}
        assert only(compare_variants(bars, [LIP], TINTS, question, others)) == same


def test_two_things_changed_together() -> None:
    both = (
        ComparedVariant("close", changes={"trim": "close", "piece": "kelp-a"}),
        ComparedVariant("straight", changes={"trim": "straight 3 mm", "piece": "kelp-b"}),
    )
    found = only(compare_variants(pots(WIDE), [LIP], both))
    assert found.changed == ("piece", "trim")
    assert found.trials == "bars"
    assert any("piece and trim changed together" in text for text in sentences(found))


def test_what_else_changed_along() -> None:
    bars = [
        replace(
            bar, conditions={"mould": "six" if bar.variant == "close" else "loaf", "room": "69"}
        )
        for bar in pots(WIDE, WIDE)
    ]
    found = only(compare_variants(bars, [LIP], TRIMS))
    assert [(one.condition, one.together) for one in found.confounders] == [("mould", True)]
    assert any("the difference may be that instead" in text for text in sentences(found))


def test_three_of_three_kept_against_none() -> None:
    bars = bars_of("A", "close", (True,) * 3, "keep") + bars_of(
        "A", "straight", (False,) * 3, "keep"
    )
    found = only(compare_variants(bars, [KEEP], TRIMS))
    assert found.p == pytest.approx(0.1, rel=EXACT)
    assert found.difference == -1.0
    # Newcombe 1998, method 10, by hand: Wilson's limit of 0 of 3 is 0.561497
    # (reference/06-proportion-ci.csv), squared and added for either side.
    assert (found.low, found.high) == pytest.approx((-1.0, math.sqrt(2) * 0.561497 - 1), abs=1e-6)
    assert found.verdict.words == "leaning to close"


def test_four_of_four_kept_against_one_of_four() -> None:
    bars = bars_of("A", "close", (True, False, False, False), "keep")
    bars += bars_of("A", "straight", (True,) * 4, "keep")
    found = only(compare_variants(bars, [KEEP], TRIMS))
    assert found.p == pytest.approx(8 / 56, rel=EXACT)
    assert found.difference == 0.75
    assert found.verdict.favours == "straight"


def test_a_measure_without_a_better_direction() -> None:
    bars = [
        *bars_of("A", "close", (95.0, 95.5, 96.0, 95.0, 94.5), "weight"),
        *bars_of("A", "straight", (99.0, 98.5, 98.0, 99.5, 99.0), "weight"),
    ]
    found = only(compare_variants(bars, [WEIGHT], TRIMS))
    assert (found.verdict.code, found.verdict.words) == (
        "differs",
        "straight has the greater weight",
    )


def test_no_difference_worth_the_name() -> None:
    near = ((0.1, 0.2, 0.1, 0.3, 0.2), (0.2, 0.1, 0.2, 0.1, 0.3))
    found = only(compare_variants(pots(near, near), [LIP], TRIMS, BY_LIP))
    assert found.verdict.words == "no difference worth the name"
    assert found.within is not None
    assert found.within.low > -0.5
    assert found.within.high < 0.5


# Data that give a sentence, not a crash or a false verdict.


def test_one_bar() -> None:
    assert compare_variants(bars_of("A", "close", (1.0,)), [LIP], TRIMS)[0].verdict.words == (
        "cannot tell: straight was never poured"
    )
    one_each = only(compare_variants(pots(((3.0,), (0.0,))), [LIP], TRIMS))
    assert one_each.p == 1
    assert one_each.verdict.code == "too few"


@pytest.mark.parametrize(("bars", "code"), [(1, "too few"), (10, "too few"), (11, "no difference")])
def test_all_equal(bars: int, code: str) -> None:
    found = only(compare_variants(pots(((0.0,) * bars, (0.0,) * bars)), [LIP], TRIMS))
    assert (found.p, found.difference) == (1, 0)
    assert (found.low, found.high) == (None, None)
    assert found.contrast.no_interval == "all the same"
    assert found.verdict.code == code
    if code != "too few":
        assert found.within == Interval(0.0, 0.0)


def test_all_missing() -> None:
    question = replace(BY_LIP, until=1)
    found = only(compare_variants(pots(((None, None), (None, None))), [LIP], TRIMS, question))
    assert found.verdict.code == "cannot tell"
    assert found.p is None
    assert found.difference is None
    assert [side.not_noted for side in found.sides] == [2, 2]
    # A look at nothing is none.
    assert compare_variants(pots(((None,), (None,))), [LIP], TRIMS) == ()


def test_all_lifted() -> None:
    bars = bars_of("A", "close", (None, None), lifted=(0, 1)) + bars_of("A", "straight", (0.5, 0.0))
    found = only(compare_variants(bars, [LIP], TRIMS, BY_LIP))
    assert found.verdict.words == "cannot tell: no bar of close has lip measured"
    assert found.sides[0].lifted == 2
    assert any("lifted, so the lip could not be measured" in text for text in sentences(found))


def test_one_variant_never_poured() -> None:
    found = only(compare_variants(bars_of("A", "close", (1.0, 2.0)), [LIP], TRIMS, BY_LIP))
    assert found.deciding
    assert found.verdict.words == "cannot tell: straight was never poured"
    nothing = only(compare_variants([], [LIP], TRIMS, BY_LIP))
    assert nothing.verdict.words == "cannot tell: close was never poured"
    assert nothing.spread is None


def test_ratings_out_of_range_are_left_out() -> None:
    bars = bars_of("A", "close", (3.0, 9.0, 4.0), "relief")
    bars += bars_of("A", "straight", (5.0, 0.0, 4.0), "relief")
    found = only(compare_variants(bars, [RELIEF], TRIMS))
    assert [side.left_out for side in found.sides] == [1, 1]
    assert any("left out: what is written is no relief" in text for text in sentences(found))


def test_a_measure_with_mixed_kinds() -> None:
    bars = bars_of("A", "close", (True, 2.0, 1.0), "bubbles")
    bars += bars_of("A", "straight", (False, True), "bubbles")
    found = only(compare_variants(bars, [BUBBLES], TRIMS))
    assert found.verdict.words == "cannot tell: no bar of straight has bubbles measured"
    assert [side.left_out for side in found.sides] == [1, 2]


def test_spread_of_pots_and_days() -> None:
    bars = pots(((1.0, 1.2), (0.5, 0.7)), ((3.0, 3.2), (2.5, 2.7)))
    found = only(compare_variants(bars, [LIP], TRIMS))
    assert found.spread is not None
    assert (found.spread.pots, found.spread.days_in_pots) == (2, True)
    # Each side 0.2 apart within a pot; pots 2 apart.
    assert found.spread.within_pots == pytest.approx((8 * 0.01 / 5) ** 0.5)
    assert found.spread.between_pots == pytest.approx(2**0.5, rel=0.01)


@pytest.mark.parametrize(
    ("question", "wrong"),
    [
        (replace(BY_LIP, by="gloss"), "gloss"),
        (replace(BY_LIP, compare=("close", "pared")), "pared"),
        (replace(BY_LIP, group="tint"), "tint"),
    ],
)
def test_a_question_about_nothing(question: ComparisonQuestion, wrong: str) -> None:
    with pytest.raises(FigureError, match=wrong):
        compare_variants(pots(WIDE), [LIP], TRIMS, question)


lips = st.lists(st.integers(0, 8).map(lambda n: n / 4), min_size=1, max_size=4).map(tuple)


@given(st.lists(st.tuples(lips, lips), min_size=1, max_size=3))
@examples(40)
def test_a_against_b_mirrors_b_against_a(
    readings: list[tuple[tuple[float, ...], tuple[float, ...]]],
) -> None:
    one = only(compare_variants(pots(*readings), [LIP], TRIMS, BY_LIP))
    turned = replace(BY_LIP, compare=("straight", "close"))
    other = only(compare_variants(pots(*readings), [LIP], TRIMS, turned))
    assert other.between == one.between[::-1]
    assert (other.p, other.spread) == (one.p, one.spread)
    assert other.verdict == one.verdict
    assert one.difference is not None
    assert other.difference is not None
    assert other.difference == -one.difference
    if one.low is None or one.high is None:
        assert (other.low, other.high) == (None, None)
    else:
        assert (other.low, other.high) == (-one.high, -one.low)


def test_the_order_of_bars_is_nothing() -> None:
    bars = pots(WIDE, ((1.0, None), (0.5, 0.5)))
    one = only(compare_variants(bars, [LIP], TRIMS, BY_LIP))
    other = only(compare_variants(bars[::-1], [LIP], TRIMS, BY_LIP))
    assert sentences(one) == sentences(other)
