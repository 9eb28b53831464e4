"""A question across designs: rows, foot, and what else could explain it."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from poured_bars import KEEP, LIP, bars_of

from journal.comparison.across import CrossDesignComparison, compare_across_designs
from journal.comparison.intervals import Interval
from journal.comparison.observed import ObservedBar
from journal.comparison.sentences import across_sentences, plain_p
from journal.errors import FigureError

EXACT = 1e-12
NAMES = ("kelp", "moth", "fan", "comb", "fern", "shell", "wave")


def design(
    name: str, close: tuple[float, ...], straight: tuple[float, ...], **more: str
) -> list[ObservedBar]:
    return [
        *bars_of("A", "close", close, design=name, conditions=more),
        *bars_of("A", "straight", straight, design=name, conditions=more),
    ]


def only(found: tuple[CrossDesignComparison, ...]) -> CrossDesignComparison:
    (one,) = found
    assert all(sentence.endswith(".") for sentence in across_sentences(one))
    return one


def by_trim(bars: list[ObservedBar]) -> CrossDesignComparison:
    return only(compare_across_designs(bars, [LIP], ("close", "straight"), "bars", "trim"))


def test_a_row_a_design_and_a_foot() -> None:
    lips = (1.0, 1.2, 1.4, 0.8, 1.1, 0.9)
    bars: list[ObservedBar] = []
    for name, lip in zip(NAMES, lips, strict=False):
        bars += design(name, (2.0, 2.0), (2.0 - lip, 2.0 - lip))
    found = by_trim(bars)
    assert [row.design for row in found.rows] == list(NAMES[:6])
    assert [row.difference for row in found.rows] == pytest.approx([-lip for lip in lips])
    assert (found.paired, found.below, found.level, found.above) == (6, 6, 0, 0)
    # Six designs on one side: 2 / 2^6.
    assert found.p == pytest.approx(0.03125, rel=EXACT)
    means = sorted((x + y) / 2 for i, x in enumerate(lips) for y in lips[i:])
    assert found.difference == pytest.approx(-means[len(means) // 2], abs=1e-9)
    assert (found.low, found.high) == pytest.approx((-1.4, -0.8))
    assert found.verdict.words == "straight is better by lip"


def test_a_design_counts_once() -> None:
    # A hundred bars of one design are one design.
    few = design("kelp", (2.0,) * 50, (0.0,) * 50)
    found = by_trim(few)
    assert found.paired == 1
    assert found.p == 1
    assert found.verdict.code == "too few"
    assert (found.rows[0].low, found.rows[0].high) == (-2.0, -2.0)


def test_designs_with_one_alone_are_no_evidence() -> None:
    bars = [
        *bars_of(
            "A", "close", (2.0,), design="kelp", conditions={"base": "white", "season": "spring"}
        ),
        *bars_of(
            "A", "straight", (0.0,), design="moth", conditions={"base": "clear", "season": "spring"}
        ),
    ]
    found = by_trim(bars)
    assert found.paired == 0
    assert found.difference is None
    assert found.p is None
    assert found.verdict.words == "cannot tell: no design has both"
    assert [row.why for row in found.rows] == [
        "straight was never poured",
        "close was never poured",
    ]
    assert [entry.condition for entry in found.unpaired_confounders] == ["base"]
    assert found.unpaired_confounders[0].together
    assert found.confounders == ()


def test_what_changed_along_within_designs() -> None:
    bars: list[ObservedBar] = []
    for number, name in enumerate(NAMES[:4]):
        for pour, variant, season in (("A", "close", "winter"), ("B", "straight", "summer")):
            bars += bars_of(
                pour,
                variant,
                (1.0 + number, 2.0),
                design=name,
                conditions={"season": season, "base": f"base {number}", "trim": variant},
            )
    found = by_trim(bars)
    # Poured apart: pots are compared, one of each, and still give a difference.
    assert found.paired == 4
    assert all(row.why == "one pot of each" for row in found.rows)
    assert [(entry.condition, entry.together) for entry in found.confounders] == [("season", True)]
    assert any("season winter" in text for text in across_sentences(found))


def test_the_other_variants_of_a_design_are_passed_over() -> None:
    bars = [*design("kelp", (2.0,), (1.0,)), *bars_of("A", "pared", (9.0,), design="kelp")]
    bars += bars_of("A", "pared", (9.0,), design="moth")
    assert len(by_trim(bars).rows) == 1


def test_shares_by_design() -> None:
    bars: list[ObservedBar] = []
    for name in NAMES:
        bars += bars_of("A", "close", (True, False, False), "keep", design=name)
        bars += bars_of("A", "straight", (True, True, True), "keep", design=name)
    found = only(compare_across_designs(bars, [KEEP], ("close", "straight"), "bars"))
    assert found.difference == pytest.approx(2 / 3, abs=1e-9)
    assert found.p == pytest.approx(2 / 2**7, rel=EXACT)
    assert found.verdict.words == "straight is better by keep"


@pytest.mark.parametrize(("designs", "code"), [(6, "too few"), (11, "no difference")])
def test_no_design_shows_a_difference(designs: int, code: str) -> None:
    bars: list[ObservedBar] = []
    for number in range(designs):
        bars += design(f"design {number}", (1.0, 1.0), (1.0, 1.0))
    found = by_trim(bars)
    assert (found.p, found.difference, found.low, found.high) == (1, 0, None, None)
    assert found.no_interval == "all the same"
    assert found.verdict.code == code
    assert found.within == (Interval(0.0, 0.0) if code == "no difference" else None)


def test_an_interval_by_counting() -> None:
    """Twelve differences 0.12 mm apart, their middle 0.28 mm.

    Of the 4096 sets of the ranks 1 to 12, 189 sum to at most 17 (4.6 %) and 225 to at most 18
    (5.5 %), so the 90 % interval ends at the 18th mean of two from either end. Counted out,
    that is 4.5 and 8.5 places along: 0.28 mm - 0.24 mm and 0.28 mm + 0.24 mm.
    """
    bars: list[ObservedBar] = []
    for number in range(12):
        bars += design(f"design {number}", (2.0, 2.0), (2.28 + 0.12 * (number - 5.5),) * 2)
    found = by_trim(bars)
    assert found.difference == pytest.approx(0.28, abs=1e-9)
    assert found.within is not None
    assert (found.within.low, found.within.high) == pytest.approx((0.04, 0.52), abs=1e-9)


def test_the_first_measure_decides_and_the_rest_are_looks() -> None:
    bars: list[ObservedBar] = []
    for name in NAMES:
        bars += design(name, (2.0,), (1.0,)) + bars_of("A", "pared", (1.0,), design=name)
        bars += bars_of("B", "close", (False,), "keep", design=name)
        bars += bars_of("B", "straight", (True,), "keep", design=name)
    variants = ("close", "straight", "pared")
    found = compare_across_designs(bars, [KEEP, LIP], variants, "bars", deciding="lip")
    assert [(one.by, one.deciding) for one in found] == [("lip", True)] * 3 + [("keep", False)] * 3
    p = 2 / 2**7
    assert [one.p_adjusted for one in found] == pytest.approx([3 * p, 3 * p, 1.0, p, None, None])
    assert found[0].family == 3
    assert found[3].family == 1
    alone = "It is one of 3 pairs, so it was made harder to pass. Alone it has p\u00a0=\u00a00.016"
    assert any(alone in one for one in across_sentences(found[0]))
    look = across_sentences(replace(found[0], deciding=False))
    assert any("It is one of 3 hints on this page" in sentence for sentence in look)
    assert not any("It is one of" in sentence for sentence in across_sentences(found[3]))


def test_signs_both_ways() -> None:
    bars: list[ObservedBar] = []
    for name, lip in zip(NAMES, (1.0, 0.0, -0.5, 0.0, 0.3), strict=False):
        bars += design(name, (2.0,), (2.0 - lip,))
    found = by_trim(bars)
    assert (found.paired, found.below, found.level, found.above) == (5, 2, 2, 1)
    # Ranks 3 and 1 lie below zero and 2 above: 3 of the 8 ways come to 2 or less, twice.
    assert found.p == pytest.approx(0.75, rel=EXACT)
    # The eighth of the fifteen means of two of -1, -0.3, 0, 0, 0.5.
    assert found.difference == pytest.approx(-0.15, abs=1e-9)
    assert found.no_interval == "too few"
    assert across_sentences(found) == (
        "Too soon to say which leaves less lip: so far it looks like straight, by about 0.2 mm."
        " It could easily be chance."
        " In numbers: straight has 0.2 mm less, p\u00a0=\u00a00.75.",
        "Of 5 designs with both, straight had less in 2, as much in 2 and more in 1."
        " Each design counts once, however many bars it has.",
        "5 designs are too few for a 95 % interval: it takes 6 with both.",
    )


def test_in_words() -> None:
    bars: list[ObservedBar] = []
    for name, lip in zip(NAMES, (1.0, 1.2, 1.4, 0.8, 1.1, 0.9), strict=False):
        bars += design(name, (2.0, 2.0), (2.0 - lip, 2.0 - lip))
    bars += bars_of("A", "close", (1.0,), design="wave")
    (found,) = compare_across_designs(bars, [LIP], ("straight", "close"), "bars", "trim")
    # The other way round, the other side of zero.
    assert (found.difference, found.low, found.high) == pytest.approx((1.05, 0.8, 1.4))
    assert across_sentences(found) == (
        "Straight is better: it leaves less lip, by about 1.1 mm and at least"
        " 0.8 mm. It is unlikely to be chance."
        " In numbers: close has 1.1 mm more, 95 % interval 0.8 to 1.4 mm more,"
        " p\u00a0=\u00a00.031.",
        "Of 6 designs with both, close had more in 6."
        " Each design counts once, however many bars it has.",
        "wave is not counted: straight was never poured.",
    )


def test_level_in_words() -> None:
    bars = [bar for name in NAMES[:3] for bar in design(name, (1.0,), (1.0,))]
    assert across_sentences(by_trim(bars)) == (
        "Too soon to say which leaves less lip: so far the two are level."
        " In numbers: the two are level, p\u00a0=\u00a01.",
        "Of 3 designs with both, straight had as much in 3."
        " Each design counts once, however many bars it has.",
        "No design shows a difference, so there is no interval.",
    )


def test_apart_in_words() -> None:
    bars = bars_of("A", "close", (2.0,), design="kelp", conditions={"base": "white"})
    bars += bars_of("A", "straight", (0.0,), design="moth", conditions={"base": "clear"})
    assert across_sentences(by_trim(bars)) == (
        "Can't tell yet which leaves less lip: no design has both.",
        "kelp is not counted: straight was never poured.",
        "moth is not counted: close was never poured.",
        "Designs with only one of the two do not count, since they differ in more:"
        " close had base white, straight had clear.",
    )


def test_pairs_and_looks_in_words() -> None:
    bars: list[ObservedBar] = []
    for name in NAMES:
        bars += design(name, (2.0,), (1.0,)) + bars_of("A", "pared", (1.0,), design=name)
        bars += bars_of("B", "close", (False,), "keep", design=name)
        bars += bars_of("B", "straight", (True,), "keep", design=name)
    found = compare_across_designs(
        bars, [LIP], ("close", "straight", "pared"), "bars", deciding="lip"
    )
    # 2 in 2^7 alone.
    assert (
        "It is one of 3 pairs, so it was made harder to pass. Alone it has p\u00a0=\u00a00.016."
        in across_sentences(found[0])
    )
    found = compare_across_designs(bars, [KEEP, LIP], ("close", "straight"), "bars")
    looks = (
        "It is one of 2 hints on this page, so it was made harder to pass."
        f" Alone it has {plain_p(2 / 2**7)}."
    )
    assert looks in across_sentences(found[0])
    assert not any("Alone" in said for said in across_sentences(by_trim(bars)))
    # Of the looks one alone was taken of "pared": no other p stands beside it.
    (_, none, _) = compare_across_designs(bars, [KEEP], ("close", "straight", "pared"), "bars")
    assert (none.p, none.family) == (None, 1)
    assert not any("Alone it has" in said for said in across_sentences(none))


def test_the_thing_itself_is_passed_over_among_designs_apart() -> None:
    kelp = {"base": "white", "trim": "close"}
    moth = {"base": "white", "trim": "straight"}
    bars = bars_of("A", "close", (2.0,), design="kelp", conditions=kelp)
    bars += bars_of("A", "straight", (0.0,), design="moth", conditions=moth)
    assert by_trim(bars).unpaired_confounders == ()
    (found,) = compare_across_designs(bars, [LIP], ("close", "straight"), "bars")
    assert [entry.condition for entry in found.unpaired_confounders] == ["trim"]


def test_a_thousand_designs() -> None:
    bars: list[ObservedBar] = []
    for number in range(1000):
        lip = 1.0 + (number % 7) / 10
        bars += design(f"design {number}", (2.0,), (2.0 - lip,))
    found = by_trim(bars)
    assert found.verdict.code == "better"
    assert found.difference == pytest.approx(-1.3, abs=0.05)
    assert found.low is not None
    assert found.high is not None
    assert found.low <= found.difference <= found.high


def test_nothing_poured() -> None:
    found = by_trim([])
    assert found.rows == ()
    assert found.verdict.code == "cannot tell"


@pytest.mark.parametrize("variants", [(), ("close",), ("close", "close")])
def test_refused(variants: tuple[str, ...]) -> None:
    with pytest.raises(FigureError, match="two or more different variants are compared, not"):
        compare_across_designs([], [LIP], variants, "bars")
