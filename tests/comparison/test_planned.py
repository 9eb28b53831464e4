"""Tests planned before pouring: the layout, the layouts that could have been, chances to tell."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence

import pytest
from msgspec.structs import replace
from planned_grid import LEVEL, Bench, promised, promised_of_pots, told, told_of_pots
from poured_bars import FIRST_DAY, LIP, TRIMS, day
from scipy import stats
from statsmodels.stats.power import TTestIndPower, TTestPower

from journal.comparison.comparing import compare_variants
from journal.comparison.contrast import contrast
from journal.comparison.moderated import PotScatter
from journal.comparison.observed import ComparedMeasure, ComparisonQuestion, ObservedBar
from journal.comparison.permutation import signed_rank_test
from journal.comparison.planned.chances import (
    PlanChance,
    attained_level,
    chance_to_tell,
    plan_chances,
)
from journal.comparison.planned.held import held_against, pots_poured
from journal.comparison.planned.layout import PlannedTest, laid_out, planned_test, pouring_order
from journal.comparison.planned.sentences import (
    NOT_KNOWN,
    chance_sentences,
    deviation_sentence,
    layout_sentence,
)
from journal.comparison.power import chance_of_plan
from journal.comparison.scatter import MeasureScatter
from journal.comparison.sentences import sentences
from journal.errors import FigureError

SIDES = ("close", "straight")
ASKED = ComparisonQuestion(by="lip", asked=FIRST_DAY, until=4, compare=SIDES)


def bars_plan(pots: int = 4, bars: int = 6, seed: str = "kelp-1") -> PlannedTest:
    return planned_test(SIDES, "", "bars", seed, pots, bars, LEVEL, 2)


def poured(test: PlannedTest, lips: Sequence[float], pots: int | None = None) -> list[ObservedBar]:
    """Bars as the plan has them: those of a pot in the order of cavities, a pour a week.

    ``lips`` go round: what the first variant has, and then what the second has.
    """
    bars: list[ObservedBar] = []
    taken = {name: itertools.cycle(lips[at::2]) for at, name in enumerate(test.compared)}
    for pot in laid_out(test, pots):
        for one in pot.cavities:
            label = chr(ord("A") + pot.number - 1)
            values = {"lip": next(taken[one.variant or "close"])}
            bars.append(
                ObservedBar(
                    f"{label}{one.cavity}", label, day(pot.number), one.variant or "close", values,
                    row=len(bars), at=one.cavity,
                )
            )  # fmt: skip
    return bars


# Layouts ---------------------------------------------------------------------------


def test_a_seed_draws_the_same_layout_everywhere() -> None:
    """Written down once: a sheet that is printed again must not differ from the one poured by."""
    first = laid_out(bars_plan())[0].cavities
    assert [one.variant[0] for one in first] == list("cscssc")
    assert [one.poured for one in first] == [1, 2, 4, 3, 5, 6]
    assert [one.peeled for one in first] == [4, 3, 2, 1, 6, 5]
    assert [one.code for one in first] == ["DN5", "MJ4", "PV7", "RX5", "NC6", "NW3"]


def test_pairs_lie_next_to_each_other_and_hold_both() -> None:
    for pot in laid_out(bars_plan(pots=8)):
        by_block: dict[int | None, list[tuple[int, int, str]]] = {}
        for one in pot.cavities:
            by_block.setdefault(one.block, []).append((one.poured, one.peeled, one.variant))
        for pair in by_block.values():
            (poured_a, peeled_a, a), (poured_b, peeled_b, b) = pair
            assert (abs(poured_a - poured_b), abs(peeled_a - peeled_b)) == (1, 1)
            assert {a, b} == set(SIDES)


def test_pouring_goes_to_and_fro() -> None:
    assert pouring_order(6, 2) == (1, 2, 4, 3, 5, 6)
    assert pouring_order(5, 3) == (1, 2, 3, 5, 4)
    assert pouring_order(4) == (1, 2, 3, 4)


def test_every_layout_is_as_likely() -> None:
    """Two pots of two pairs from 800 seeds: sixteen layouts, by the chi-square test."""
    seen: Counter[tuple[str, ...]] = Counter()
    for seed in range(800):
        test = PlannedTest("bars", SIDES, "", f"{seed}", 2, 4, 2)
        seen[tuple(one.variant for pot in laid_out(test) for one in pot.cavities)] += 1
    assert len(seen) == PlannedTest("bars", SIDES, "", "", 2, 4, 2).layouts == 16
    assert stats.chisquare(list(seen.values())).pvalue > 0.01


def test_few_coins_make_way_for_whole_pots() -> None:
    """Six coins have 2 / 64 at the clearest, which does not tell at 0.03; 400 ways do."""
    assert (bars_plan(2).blocked, bars_plan(2).layouts) == (6, 400)
    assert (bars_plan(3).blocked, bars_plan(3).layouts) == (2, 512)
    # Seven coins would tell by their clearest outcome alone.
    assert bars_plan(1, 14).blocked == 14
    three = planned_test(("a", "b", "c"), "", "bars", "s", 6, 7, 0.01)
    assert (three.blocked, three.trials) == (3, 12)
    spare = [one for pot in laid_out(three) for one in pot.cavities if one.block is None]
    assert {(one.cavity, one.variant) for one in spare} == {(7, "")}


def test_pots_come_in_blocks_of_a_day() -> None:
    test = planned_test(SIDES, "", "pots", "s", 7, 6, LEVEL)
    pots = laid_out(test)
    assert [pot.day for pot in pots] == [1, 1, 2, 2, 3, 3, 4, 4]
    assert all(
        {a.variant, b.variant} == set(SIDES) for a, b in zip(pots[::2], pots[1::2], strict=True)
    )
    assert len({pot.variant for pot in pots[::2]}) == 2, "by a coin, not always the same first"
    assert {one.peeled for pot in pots for one in pot.cavities} == {None}


def test_codes_tell_nothing_and_are_told_apart() -> None:
    bars = [one for pot in laid_out(bars_plan(pots=40, bars=48)) for one in pot.cavities]
    assert len({one.code for one in bars}) == 1920
    others = [one for pot in laid_out(replace(bars_plan(pots=40, bars=48), compared=("x", "y")))
              for one in pot.cavities]  # fmt: skip
    assert [one.code for one in bars] == [one.code for one in others]


def test_what_cannot_be_planned() -> None:
    with pytest.raises(FigureError, match="no test"):
        planned_test(("close",), "", "bars", "s", 4, 6, LEVEL)
    with pytest.raises(FigureError, match="cannot hold"):
        bars_plan(bars=1)


# The test over the layouts ---------------------------------------------------------

# Darwin's maize, crossed less self-fertilised, in eighths of an inch: The Effects of Cross and
# Self Fertilisation (1876), table 97; 15 pairs side by side in four pots.
MAIZE = (49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48)


def test_fishers_maize() -> None:
    """Of the 32,768 layouts of 15 coins 1,726 differ as much: The Design of Experiments, 21."""
    plan = PlannedTest("bars", SIDES, "", "s", 1, 30, 2)
    assert plan.layouts == 32768
    signs = itertools.product((1, -1), repeat=15)
    sums = [sum(map(int.__mul__, sign, MAIZE)) for sign in signs]
    assert sum(abs(one) >= sum(MAIZE) for one in sums) == 1726
    # The ranks of the same over the same layouts: scipy's exact test.
    assert signed_rank_test(MAIZE).p == pytest.approx(
        stats.wilcoxon(MAIZE, method="exact").pvalue, rel=1e-12
    )


def enumerated_p(test: PlannedTest, values: Sequence[float], labels: Sequence[str]) -> float:
    """Twice the smaller tail of the sum of ranks, or of won pairs, over all layouts, by hand."""
    size, each = test.blocked, test.blocked // 2
    blocks = [values[at : at + size] for at in range(0, len(values), size)]
    arranged = [s for s in itertools.product((0, 1), repeat=size) if sum(s) == each]
    gaps = [abs(a - b) for a, b in blocks] if size == 2 else []
    ranks = stats.rankdata([gap for gap in gaps if gap])

    def statistic(layout: Sequence[Sequence[int]]) -> float:
        if size == 2:
            ups = [(b - a) * (1 if order == (0, 1) else -1)
                   for (a, b), order in zip(blocks, layout, strict=True) if a != b]  # fmt: skip
            return sum(rank for rank, up in zip(ranks, ups, strict=True) if up > 0)
        return sum(
            (y > x) + (y == x) / 2
            for block, order in zip(blocks, layout, strict=True)
            for x, s in zip(block, order, strict=True)
            for y, t in zip(block, order, strict=True)
            if s == 0 and t == 1
        )

    drawn = [tuple(int(one == SIDES[1]) for one in labels[at : at + size])
             for at in range(0, len(labels), size)]  # fmt: skip
    observed = statistic(drawn)
    all_sums = [statistic(layout) for layout in itertools.product(arranged, repeat=len(blocks))]
    assert len(all_sums) == test.layouts
    low = sum(one <= observed for one in all_sums)
    high = sum(one >= observed for one in all_sums)
    return min(1.0, 2 * min(low, high) / len(all_sums))


@pytest.mark.parametrize(("pots", "bars"), [(4, 4), (2, 6)], ids=["pairs", "whole pots"])
def test_p_is_over_the_layouts_of_the_plan_alone(pots: int, bars: int) -> None:
    plan = bars_plan(pots, bars)
    lips = (1.5, 0.2, 1.1, 0.7, 2.0, 0.3, 0.9, 1.2, 1.4, 0.1, 0.6)
    held = held_against(plan, poured(plan, lips))
    assert not held.deviations
    found = contrast(held.bars, LIP, SIDES, "", "bars")
    in_order = [
        next(bar for bar in held.bars if bar.pour == "ABCDEFGH"[pot.number - 1]
             and bar.at == one.cavity)
        for pot in laid_out(plan)
        for one in sorted(pot.cavities, key=lambda one: one.poured)
    ]  # fmt: skip
    values = [float(bar.values["lip"] or 0) for bar in in_order]
    assert found.p == pytest.approx(
        enumerated_p(plan, values, [bar.variant for bar in in_order]), rel=1e-12
    )
    assert found.method == ("signed rank" if plan.blocked == 2 else "permutation")
    unplanned = contrast(poured(plan, lips), LIP, SIDES, "", "bars")
    assert unplanned.method == "permutation"


# What was done ---------------------------------------------------------------------


def with_variant(bars: Sequence[ObservedBar], **variants: str) -> list[ObservedBar]:
    return [replace(bar, variant=variants.get(bar.bar, bar.variant)) for bar in bars]


def test_a_plan_that_was_kept() -> None:
    plan = bars_plan()
    bars = poured(plan, (1.6, 0.2, 1.2, 0.4, 1.4, 0.3))
    assert held_against(plan, bars).deviations == ()
    assert pots_poured(plan, bars) == 4
    assert {bar.block for bar in held_against(plan, bars).bars} == {f"{n}" for n in range(12)}
    without = [replace(bar, at=None) for bar in bars]
    assert held_against(plan, without).deviations == (), "bars lie in the order of their rows"
    told_by = compare_variants(bars, [LIP], TRIMS, ASKED, plan=plan)[0]
    assert (told_by.verdict.code, told_by.contrast.method) == ("better", "signed rank")
    assert told_by.p == 2 / 4096


def test_a_plan_that_was_not_kept_is_at_most_leaning() -> None:
    plan = bars_plan()
    bars = poured(plan, (1.6, 0.2, 1.2, 0.4, 1.4, 0.3))
    assert [bar.variant for bar in bars[6:8]] == ["close", "straight"]
    swapped = with_variant(bars, B1="straight", B2="close")
    found = compare_variants(swapped, [LIP], TRIMS, ASKED, plan=plan)[0]
    assert found.verdict.code == "leaning"
    assert found.verdict.doubt == ("the plan was not kept: pour B: cavities 1 and 2 were swapped")
    assert found.contrast.method == "permutation"
    one = held_against(plan, with_variant(bars, C1="close")).deviations
    assert one == ("pour C: cavity 1 had close, not straight",)
    several = held_against(plan, with_variant(bars, A1="straight", A2="close", A3="straight"))
    assert several.deviations == ("pour A: 3 cavities had another variant",)
    assert not any(bar.block for bar in several.bars)


def test_peeling_is_held_against_the_plan_where_it_was_noted() -> None:
    """The places as they were drawn keep it, however few were noted; two of them turned do not."""
    plan = bars_plan()
    bars = poured(plan, (1.6, 0.2, 1.2, 0.4, 1.4, 0.3))
    planned = {
        ("ABCDEFGH"[pot.number - 1], one.cavity): one.peeled
        for pot in laid_out(plan)
        for one in pot.cavities
    }
    noted = [replace(bar, peeled=planned[bar.pour, bar.at or 0]) for bar in bars]
    assert held_against(plan, noted).deviations == ()
    some = [replace(bar, peeled=None) if bar.at in (1, 4) else bar for bar in noted]
    assert held_against(plan, some).deviations == ()
    by_place = {bar.peeled: bar for bar in noted if bar.pour == "B"}
    turned = [
        replace(bar, peeled={1: 3, 3: 1}.get(bar.peeled or 0, bar.peeled)) if bar.pour == "B"
        else bar
        for bar in noted
    ]  # fmt: skip
    before, after = by_place[3].at, by_place[1].at
    words = f"pour B: cavity {before} was peeled before cavity {after}"
    assert held_against(plan, turned).deviations == (words,)
    found = compare_variants(turned, [LIP], TRIMS, ASKED, plan=plan)[0]
    assert (found.verdict.code, found.verdict.doubt) == (
        "leaning", f"the plan was not kept: {words}",
    )  # fmt: skip
    both = with_variant(turned, B1="straight", B2="close")
    assert held_against(plan, both).deviations == (
        f"pour B: cavities 1 and 2 were swapped, and cavity {before} was peeled before cavity"
        f" {after}",
    )


def test_a_pour_after_the_answer_takes_nothing_back() -> None:
    plan = bars_plan()
    bars = poured(plan, (1.6, 0.2, 1.2, 0.4, 1.4, 0.3), pots=5)
    fifth = with_variant(bars, **{f"E{n}": "close" for n in range(1, 7)})
    assert held_against(plan, fifth).deviations == ("pour E: 3 cavities had another variant",)
    assert compare_variants(fifth, [LIP], TRIMS, ASKED, plan=plan)[0].verdict.code == "better"


def test_what_the_plan_leaves_free_counts_for_nothing() -> None:
    plan = bars_plan(bars=7)
    bars = poured(plan, (1.6, 0.2, 1.2, 0.4, 1.4, 0.3))
    found = compare_variants(bars, [LIP], TRIMS, ASKED, plan=plan)[0]
    assert [(side.trials, side.alone) for side in found.sides] == [(12, 4), (12, 0)]
    three = planned_test(("close", "straight", "none"), "", "bars", "s", 8, 5, LEVEL)
    held = held_against(three, poured(three, (1.0, 2.0, 3.0), pots=1))
    assert len({bar.block for bar in held.bars}) == 3, "two free bars are not compared either"


def pots_of_days(test: PlannedTest, days: Sequence[int]) -> list[ObservedBar]:
    """Two bars of each pot, in the order of the plan, on these days."""
    pots = zip(laid_out(test, len(days)), days, strict=True)
    return [
        ObservedBar(f"{pot.number}-{n}", f"{pot.number}", day(on), pot.variant, {"lip": 1.0},
                    row=2 * pot.number + n)
        for pot, on in pots for n in (0, 1)
    ]  # fmt: skip


def test_pots_are_held_against_their_days() -> None:
    test = planned_test(SIDES, "", "pots", "s", 4, 6, LEVEL)
    kept = held_against(test, pots_of_days(test, [1, 1, 2, 2]))
    assert [pots_poured(test, pots_of_days(test, [1, 1, 2][:n])) for n in range(4)] == [0, 1, 2, 3]
    assert kept.deviations == ()
    assert [bar.block for bar in kept.bars] == ["1"] * 4 + ["2"] * 4
    assert held_against(test, pots_of_days(test, [1, 1, 2])).deviations == (), "half a day so far"
    apart = held_against(test, pots_of_days(test, [1, 2, 3, 3]))
    assert [text.partition(" (")[0] for text in apart.deviations] == [
        f"{laid_out(test)[0].variant} and {laid_out(test)[1].variant} were not poured on one day"
    ]
    first, second = (pot.variant for pot in laid_out(test)[:2])
    turned = [replace(bar, variant=second if bar.variant == first else first)
              for bar in pots_of_days(test, [1, 1])]  # fmt: skip
    assert held_against(test, turned).deviations == (
        f"on {day(1)} {second} came first, not {first}",
    )


# Chances ---------------------------------------------------------------------------


def test_the_power_of_students_test_alone() -> None:
    """statsmodels' power of both t tests, with a scatter that is as good as known."""
    known = [PotScatter(4.0, 1000)] * 30
    got = chance_of_plan(2.0, known, 2 / 6, 10, 0.05, alone=True)
    assert got == pytest.approx(TTestIndPower().power(1.0, 6, 0.05), abs=0.02)
    pairs = chance_of_plan(2.0, known, 2 / 6, 5, 0.05, alone=True)
    assert pairs == pytest.approx(TTestPower().power(1 / math.sqrt(2), 6, 0.05), abs=0.02)


def test_what_p_can_come_to() -> None:
    """Signed ranks: tables have 14 as the 5 % point of twelve, so 0.0269 of two tails at 0.03."""
    assert attained_level(bars_plan(7, 2), 0.03) == 2 / 128
    assert attained_level(bars_plan(4, 6), 0.03) == pytest.approx(0.0269, abs=1e-4)
    assert attained_level(PlannedTest("bars", SIDES, "", "s", 2, 6, 2), 0.03) is None


def test_chances_of_yes_by_hand() -> None:
    """Seven pairs tell at 2 / 128 if all are unlike and one way: (p (1 - q))^7, and back."""
    keep = ComparedMeasure("keep", "yes-no", "higher", 0.6)
    place = math.asin(math.sqrt(0.5))
    others = [MeasureScatter(None, None, 3.0, 0.25, None, (), 20, place)]
    got = chance_to_tell(bars_plan(7, 2), keep, others, 0.03)
    assert got == pytest.approx((0.8 * 0.8) ** 7 + (0.2 * 0.2) ** 7, rel=1e-6)
    whole = chance_to_tell(bars_plan(2, 6), replace(keep, matters=1.0), others, 0.03)
    assert whole == pytest.approx(1.0), "six of none against six of all"


def test_chances_grow_with_the_pots() -> None:
    others = [MeasureScatter(PotScatter(0.02, 3), None, 3.0, 0.04, None, (), 12, 1.0)] * 5
    by_bar = plan_chances(bars_plan(5), LIP, others, LEVEL)
    assert [one.pots for one in by_bar] == [2, 3, 4, 5, 6, 8]
    pots = planned_test(SIDES, "", "pots", "s", 4, 6, LEVEL)
    by_pot = plan_chances(pots, LIP, others, LEVEL)
    assert [one.pots for one in by_pot] == [4, 6, 8, 12, 16]
    for row in (by_bar, by_pot):
        chances = [one.chance or 0.0 for one in row]
        assert chances == sorted(chances)
        assert 0 < chances[0] < chances[-1] <= 1
    few = plan_chances(pots, LIP, others[:2], LEVEL)
    assert [one.chance for one in few][:2] == [0.0, 0.0], "nothing to borrow, no test of so few"
    assert (few[-1].chance or 0) > 0
    assert chance_to_tell(pots, LIP, [], LEVEL) is None
    blank = MeasureScatter(None, None, 1.0, None, middle=1.0)
    assert chance_to_tell(bars_plan(), LIP, [blank], LEVEL) is None


@pytest.mark.parametrize("bench", [Bench(drift=3.0), Bench(alike=0.7)], ids=["drift", "alike"])
def test_a_planned_test_is_seldom_wrong(bench: Bench) -> None:
    """At 0.05, over 300 layouts: at most what 5 % allow; an order that is kept is far beyond."""
    assert told(4, 6, bench, 300, 0.05) <= stats.binom.ppf(0.99, 300, 0.05) / 300
    always = Bench(bench.drift, bench.alike, keeps_order=True)
    assert told(4, 6, always, 100, 0.05, by_pot=True) > 0.07


def test_what_is_promised_is_told() -> None:
    """A chance of about 4 in 5 that is said, within 6 points of what 400 layouts tell."""
    said = promised(4, 6, 1.5)
    assert 0.75 < said < 0.87
    assert told(4, 6, Bench(effect=1.5), 400, LEVEL) == pytest.approx(said, abs=0.06)


def test_what_is_promised_of_whole_pots_is_told() -> None:
    """Eight days of one pot each, within 7 points of what 600 notebooks tell."""
    said = promised_of_pots(8, 1.5)
    assert 0.78 < said < 0.9
    assert told_of_pots(8, 1.5, 600) == pytest.approx(said, abs=0.07)


# Sentences -------------------------------------------------------------------------


def test_what_is_said_of_a_chance() -> None:
    """4 in 5 is promised only where so many pots have it."""
    some = [PlanChance(2, 6, 0.0), PlanChance(4, 6, 0.84), PlanChance(8, 6, 0.999)]

    def said(planned: PlanChance, chances: Sequence[PlanChance]) -> list[str]:
        return list(chance_sentences(planned, chances, LIP))

    assert said(some[1], some) == [
        "4 pots of 6 bars: 84 in 100 that a difference of 0.5 mm is told."
    ]
    assert said(some[0], some) == [
        "2 pots of 6 bars: too few to tell a difference of 0.5 mm at all.",
        "4 pots of 6 bars would tell it in 4 tests of 5.",
    ]
    weak = [PlanChance(1, 1, 0.001), PlanChance(4, 6, 0.79)]
    assert said(weak[0], weak) == [
        "1 pot of 1 bar: 1 in 100 that a difference of 0.5 mm is told.",
        "Even 4 pots of 6 bars would not tell it in 4 tests of 5.",
    ]
    assert said(some[2], some)[0].startswith("8 pots of 6 bars: 99 in 100")
    assert said(PlanChance(4, 6, None), []) == [NOT_KNOWN]


def test_what_is_said_of_a_layout() -> None:
    assert "make a pair." in layout_sentence(bars_plan())
    three = planned_test(("a", "b", "c"), "", "bars", "s", 8, 6, LEVEL)
    assert "make a set of 3." in layout_sentence(three)
    assert layout_sentence(bars_plan(2)).startswith("Each pot has 3 of each.")
    pots = planned_test(SIDES, "", "pots", "s", 4, 6, LEVEL)
    assert layout_sentence(pots).startswith("2 pots a day, one of each,")
    assert deviation_sentence(()) == ""
    assert deviation_sentence(["pour A: x", "pour B: y"]).startswith(
        "The plan was not kept: pour A: x; pour B: y."
    )


def test_a_doubt_is_said_with_the_verdict() -> None:
    plan = bars_plan()
    swapped = with_variant(poured(plan, (1.6, 0.2, 1.2, 0.4, 1.4, 0.3)), B1="straight", B2="close")
    found = compare_variants(swapped, [LIP], TRIMS, ASKED, plan=plan)[0]
    text = " ".join(sentences(found))
    assert "perhaps straight: it leaves less lip" in text
    assert (
        "It may be something else: the plan was not kept: pour B: cavities 1 and 2 were swapped."
        in text
    )
    kept = compare_variants(poured(plan, (1.6, 0.2)), [LIP], TRIMS, ASKED, plan=plan)[0]
    assert "Each of 12 pairs that the plan drew is compared within itself." in sentences(kept)
