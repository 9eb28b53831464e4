"""Only amounts that can be measured: multiples of what a scale, a spoon, a dropper gives."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import product
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.errors import FigureError, QuantityError
from journal.quantities import measuring, read
from journal.quantities.kinds import Spoon
from journal.quantities.measuring import (
    AskedAmount,
    Measured,
    MeasuredAmount,
    Stuff,
    Tools,
    measure,
    measuring_unit,
    show_measured,
    sum_asked,
    sum_measured,
    times_measured,
)
from journal.quantities.rounding import decimal_of_twelve_digits, nice_step
from journal.quantities.units import G_PER_OZ, ML_PER_TBSP, ML_PER_TSP

USUAL = tuple(map(read.read_spoon, ("1/8 tsp", "1/4 tsp", "1/2 tsp", "1 tsp", "1 tbsp")))
US = Tools((1.0, 0.1), USUAL, True)
METRIC = Tools((1.0, 0.1), USUAL, False)

amounts = st.floats(0.001, 20_000)
densities = st.sampled_from((None, 0.3, 0.45, 1.0, 1.3))
steps = st.sampled_from((0.01, 0.1, 0.5, 1.0, 2.0, 5.0, float(G_PER_OZ) / 10))
spoons = st.sampled_from(tuple(map(read.read_spoon, (
    "1/32 tsp", "1/16 tsp", "1/8 tsp", "1/4 tsp", "1/3 tsp", "1/2 tsp", "3/4 tsp", "1 tsp",
    "1 tbsp", "1/2 tbsp", "1 mL", "2.5 mL", "5 mL",
))))  # fmt: skip
tools = st.builds(
    Tools,
    st.lists(steps, min_size=1, max_size=3).map(tuple),
    st.lists(spoons, max_size=5, unique=True).map(tuple) | st.just(USUAL),
    st.booleans(),
)


@st.composite
def asked_amounts(draw: st.DrawFn) -> AskedAmount:
    stuff: Stuff = draw(st.sampled_from(get_args(Stuff)))
    amount, density = draw(amounts), draw(densities)
    if stuff == "base" or (density is None and draw(st.booleans())):
        return AskedAmount(stuff, amount)
    in_drops = stuff in ("liquid", "oil") and draw(st.booleans())
    return AskedAmount(stuff, density and density * amount, amount, in_drops)


def exact(amount: float | None) -> Fraction:
    assert amount is not None
    return Fraction(decimal_of_twelve_digits(amount))


def check(measured: Measured, asked: AskedAmount, tools: Tools) -> None:
    """That a tool of the studio gives just that, and near enough to what is asked."""
    by_mass = measured.unit in ("g", "oz")
    due = exact(asked.mass_g if by_mass else asked.volume_ml)
    if measured.unit == "oz":
        due = exact(float(due) / float(G_PER_OZ))
    if measured.unit == "spoons":
        assert asked.stuff in ("powder", "liquid")
        assert measured.scoops
        assert {spoon for spoon, _ in measured.scoops} <= set(tools.spoons)
        assert all(times >= 1 for _, times in measured.scoops)
        assert sum(times * spoon.volume_ml for spoon, times in measured.scoops) == measured.value
        assert abs(measured.value - due) <= due / 5
        return
    assert not measured.scoops
    if measured.unit == "drops":
        assert asked.stuff in ("liquid", "oil")
        assert measured.value.denominator == 1
        assert measured.value >= 1
        due *= 20
        assert measured.value <= due if asked.stuff == "oil" else abs(measured.value - due) <= 0.5
        return
    if by_mass:
        per = 1 if measured.unit == "g" else float(G_PER_OZ)
        of_scales = {nice_step(step / per) for step in tools.steps_g}
        if measured.unit == "oz":
            of_scales = {max(step, Decimal("0.05")) for step in of_scales}
    else:
        assert asked.stuff in ("liquid", "oil")
        of_scales = {Decimal("0.01"), Decimal("0.1"), Decimal(1)}
    fits = [Fraction(step) for step in of_scales if 10 * Fraction(step) <= due]
    used = [step for step in fits if measured.value % step == 0]
    assert used
    off = due - measured.value
    assert 0 <= off < max(used) if asked.stuff == "oil" else abs(off) <= due / 20


@given(asked_amounts(), tools)
def test_whatever_is_shown_can_be_measured(asked: AskedAmount, tools: Tools) -> None:
    amount = measure(asked, tools)
    if amount.first is None:
        assert amount.second is None
        assert amount.why is not None
        if amount.why.rounds is not None:
            assert amount.why.together is not None
            check(amount.why.together, asked.times(amount.why.rounds), tools)
        return
    assert amount.why is None
    check(amount.first, asked, tools)
    if amount.second is not None:
        assert amount.second.unit != amount.first.unit
        check(amount.second, asked, tools)
        if amount.second.unit == "spoons":
            due = exact(asked.volume_ml)
            assert abs(amount.second.value - due) <= due / 10


@given(asked_amounts(), tools, st.floats(1, 500))
def test_a_unit_that_is_chosen_for_the_least_does_for_more(
    asked: AskedAmount, tools: Tools, factor: float
) -> None:
    unit = measuring_unit(asked, tools)
    first = measure(asked, tools, unit).first
    more = measure(asked.times(factor), tools, unit)
    if more.first is not None:
        assert more.first.unit == unit
    elif first is not None:
        # Between the spoons alone there are gaps.
        assert unit == "spoons"
        assert more.why is not None
        assert more.why.why == "between spoons"


@given(st.floats(0.05, 200))
def test_no_usual_spoons_come_nearer(volume_ml: float) -> None:
    volume = exact(volume_ml)
    # All sums of the usual spoons are the whole numbers of eighths.
    for within, off in ((Fraction(0), Fraction(0)), (Fraction(1, 20), volume / 20)):
        scoops = measuring.fewest_spoons(volume, USUAL, within)
        total = sum((times * spoon.volume_ml for spoon, times in scoops), Fraction(0))
        assert abs(total - volume) <= max(off, ML_PER_TSP / 16)


@given(
    st.lists(st.sampled_from(USUAL), min_size=1, max_size=3, unique=True),
    st.integers(1, 900),
    st.sampled_from((Fraction(0), Fraction(1, 20))),
)
@examples(60)
def test_the_fewest_usual_spoons_of_all_there_are(
    kit: list[Spoon], hundredths: int, within: Fraction
) -> None:
    """Every sum of these spoons is tried: none is nearer, and none as near is of fewer."""
    volume = Fraction(hundredths, 100)

    def rank(counts: Sequence[int]) -> tuple[Fraction, int, Fraction]:
        total = sum(
            (times * spoon.volume_ml for times, spoon in zip(counts, kit, strict=True)), Fraction(0)
        )
        off = abs(total - volume)
        return max(off, within * volume), sum(counts), off

    over = volume + max(spoon.volume_ml for spoon in kit)
    every = product(*(range(int(over // spoon.volume_ml) + 1) for spoon in kit))
    scoops = dict(measuring.fewest_spoons(volume, kit, within))
    assert set(scoops) <= set(kit)
    assert rank([scoops.get(spoon, 0) for spoon in kit]) == min(map(rank, every))


@given(st.lists(spoons, min_size=1, max_size=3, unique=True), st.floats(0.2, 12))
def test_a_few_spoons_of_any_kind_against_all_their_sums(
    kit: list[Spoon], volume_ml: float
) -> None:
    """One spoonful of any spoon alone is never nearer, nor several of one."""
    volume = exact(volume_ml)
    scoops = measuring.fewest_spoons(volume, kit)
    off = abs(sum((times * spoon.volume_ml for spoon, times in scoops), Fraction(0)) - volume)
    for spoon, times in product(kit, range(8)):
        assert off <= abs(times * spoon.volume_ml - volume)


@given(asked_amounts(), tools, st.lists(st.integers(1, 9), min_size=1, max_size=5))
def test_sums_are_sums_of_what_is_measured(
    asked: AskedAmount, tools: Tools, factors: list[int]
) -> None:
    unit = measuring_unit(asked, tools)
    rounds = [measure(asked.times(factor), tools, unit) for factor in factors]
    whole = sum_measured(rounds, tools)
    if whole.first is None:
        assert any(one.first is None for one in rounds)
        return
    firsts = [one.first for one in rounds if one.first is not None]
    assert whole.first.unit == unit
    assert whole.first.value == sum(one.value for one in firsts)
    if unit == "spoons":
        scoops = whole.first.scoops
        assert {spoon for spoon, _ in scoops} <= set(tools.spoons)
        assert sum(times * spoon.volume_ml for spoon, times in scoops) == whole.first.value
        assert sum(times for _, times in scoops) <= sum(
            times for one in firsts for _, times in one.scoops
        )


@given(asked_amounts(), tools)
def test_what_is_shown_is_read_again_as_what_is_measured(asked: AskedAmount, tools: Tools) -> None:
    for measured in (measure(asked, tools).first, measure(asked, tools).second):
        if measured is None:
            continue
        text = show_measured(measured)
        if measured.unit in ("g", "oz"):
            per = G_PER_OZ if measured.unit == "oz" else 1
            assert read.read_mass(text) == pytest.approx(float(measured.value * per), rel=1e-12)
        elif measured.unit == "spoons":
            total = 0.0
            for part in text.removesuffix(" spoon").replace(" spoon +", " +").split(" + "):
                times, _, spoon = part.rpartition(" × ")
                total += int(times or 1) * read.read_volume(spoon)
            assert total == pytest.approx(float(measured.value), rel=1e-12)
        else:
            per = Fraction(1, 20) if measured.unit == "drops" else 1
            assert read.read_volume(text) == pytest.approx(float(measured.value * per), rel=1e-12)


def texts(amount: MeasuredAmount) -> tuple[str, ...]:
    return tuple(show_measured(one) for one in (amount.first, amount.second) if one is not None)


# Worked by hand, with the factors of NIST SP 811, App. B: an ounce of 28.349523125 g, a
# teaspoon of 4.92892159375 mL.
@pytest.mark.parametrize(
    ("asked", "tools", "shown"),
    [
        # 3.009 oz; 24.27 oz
        (AskedAmount("base", 85.3), US, ("3 oz", "85.3 g")),
        (AskedAmount("base", 688.0), US, ("1 lb 8.25 oz", "688 g")),
        (AskedAmount("base", 85.3), METRIC, ("85.3 g", "3 oz")),
        # A twentieth of an ounce is more than a tenth of 8 g.
        (AskedAmount("base", 8.0), US, ("8 g",)),
        (AskedAmount("base", 1.0), METRIC, ("1 g",)),
        # 0.45 g/mL: 2.25 g is 1.014 tsp, 2.5 g is 1.127; 0.5 g too little for the scale, 0.225 tsp
        (AskedAmount("powder", 2.25, 5.0), US, ("2.3 g", "1 tsp")),
        (AskedAmount("powder", 2.5, 2.5 / 0.45), METRIC, ("2.5 g", "1 tsp + 1/8 tsp")),
        (AskedAmount("powder", 0.5, 0.5 / 0.45), US, ("1/4 tsp",)),
        # 1.4 g of 0.6 g/mL is 0.473 tsp: half a teaspoon is within a tenth
        (AskedAmount("powder", 1.4, 1.4 / 0.6), US, ("1.4 g", "1/2 tsp")),
        # 1.2 g of 0.5 g/mL is 0.487 tsp; 1 g is 0.406 tsp, too far from 3/8 and 1/2
        (AskedAmount("powder", 1.1, 2.2), US, ("1.1 g",)),
        # No density: 0.62 tsp
        (AskedAmount("powder", None, 3.06), US, ("1/2 tsp + 1/8 tsp",)),
        (AskedAmount("powder", None, 30.0), US, ("2 × 1 tbsp",)),
        (AskedAmount("powder", 12.0, None), US, ("12 g",)),
        # Down, by the cylinder and by the scale
        (AskedAmount("oil", 4.49, 4.58), US, ("4.5 mL", "4.4 g")),
        (AskedAmount("oil", None, 0.999), US, ("0.99 mL",)),
        (AskedAmount("oil", 4.49, None), US, ("4.4 g",)),
        (AskedAmount("oil", 0.0784, 0.08), US, ("1 drop",)),
        (AskedAmount("oil", 0.64, 0.68, in_drops=True), US, ("13 drops", "0.68 mL")),
        (AskedAmount("liquid", None, 0.3, in_drops=True), METRIC, ("6 drops", "0.3 mL")),
        (AskedAmount("liquid", 3.0, 2.46), US, ("2.5 mL", "1/2 tsp")),
        (AskedAmount("liquid", 1.5, 1.5), US, ("1.5 mL", "1.5 g")),
        (AskedAmount("liquid", 7.0, None), US, ("7 g",)),
        (AskedAmount("powder", 0.0, 0.0), US, ("0 g", "0 tsp")),
    ],
)
def test_worked_by_hand(asked: AskedAmount, tools: Tools, shown: tuple[str, ...]) -> None:
    assert texts(measure(asked, tools)) == shown


@pytest.mark.parametrize(
    ("asked", "tools", "why", "rounds", "together"),
    [
        (AskedAmount("base", 0.4), US, "scale", 3, "1.2 g"),
        # 0.2 mL: three are 0.6 mL, and an eighth of a teaspoon is 0.616 mL
        (AskedAmount("powder", 0.09, 0.2), US, "spoon", 3, "1/8 tsp"),
        # 0.187 tsp: half-way between 1/8 and 1/4
        (AskedAmount("powder", 0.41, 0.92), US, "between spoons", 2, "1/4 tsp + 1/8 tsp"),
        (AskedAmount("oil", 0.01, 0.01), US, "drop", 5, "1 drop"),
        (AskedAmount("oil", 0.3, None), US, "scale", 4, "1.2 g"),
        (AskedAmount("powder", None, 5.0), Tools((1.0,), (), True), "tool", None, None),
        (AskedAmount("base", 0.01), Tools((1.0,), (), True), "scale", None, None),
    ],
)
def test_what_cannot_be_measured_is_not_made_up(
    asked: AskedAmount, tools: Tools, why: str, rounds: int | None, together: str | None
) -> None:
    amount = measure(asked, tools)
    assert amount.first is None
    assert amount.why is not None
    assert (amount.why.why, amount.why.rounds) == (why, rounds)
    assert (amount.why.together and show_measured(amount.why.together)) == together


def test_the_unit_is_that_of_the_smallest_amount() -> None:
    a_round = AskedAmount("powder", 0.5, 0.5 / 0.45)
    unit = measuring_unit(a_round, US)
    assert unit == "spoons"
    assert texts(measure(a_round.times(6), US, unit)) == ("1 tsp + 1/4 tsp + 1/8 tsp", "3 g")
    # What is measured in all is six quarters, not what is due for all at once.
    assert texts(sum_measured([measure(a_round, US, unit)] * 6, US)) == ("1 tsp + 1/2 tsp",)
    small = measuring_unit(AskedAmount("base", 9.0), US)
    assert texts(measure(AskedAmount("base", 90.0), US, small)) == ("90 g", "3.15 oz")


def test_a_unit_is_that_in_which_several_rounds_are_measured() -> None:
    assert measuring_unit(AskedAmount("powder", 0.09, 0.2), US) == "spoons"
    assert measuring_unit(AskedAmount("powder", 0.3, None), US) == "g"
    assert measuring_unit(AskedAmount("liquid", None, 0.01, in_drops=True), US) == "drops"


def test_spoons_change_into_larger_ones_in_a_sum() -> None:
    half = measure(AskedAmount("powder", None, 2.4644), US)
    assert texts(half) == ("1/2 tsp",)
    assert texts(sum_measured([half] * 6, US)) == ("1 tbsp",)
    thirds = Tools((1.0,), (Spoon(Fraction(1, 3), "tsp"), Spoon(Fraction(1, 2), "tsp")), True)
    one = measure(AskedAmount("powder", None, float(ML_PER_TSP) * 5 / 6), thirds)
    assert texts(one) == ("1/2 tsp + 1/3 tsp",)
    assert texts(sum_measured([one] * 2, thirds)) == ("2 × 1/2 tsp + 2 × 1/3 tsp",)


def test_rounds_that_are_alike_on_paper() -> None:
    """Three rounds of 1.3 mL, which are 1/4 tsp (1.232 mL) and not 3.9 mL rounded anew."""
    powder = AskedAmount("powder", None, 1.3)
    thrice = times_measured(measure(powder, METRIC), 3)
    assert thrice.first is not None
    assert thrice.first.value == 3 * ML_PER_TSP / 4
    assert [times for _, times in thrice.first.scoops] == [3]
    oil = times_measured(measure(AskedAmount("oil", 1.7, 1.68), METRIC), 7)
    assert oil.first is not None
    assert oil.second is not None
    assert (oil.first.value, oil.second.value) == (Fraction("11.2"), Fraction("11.9"))


@given(asked_amounts(), tools, st.integers(1, 12))
def test_so_many_times_is_the_sum_of_as_many(asked: AskedAmount, tools: Tools, times: int) -> None:
    one = measure(asked, tools)
    many, added = times_measured(one, times), sum_measured([one] * times, tools)
    if one.first is None:
        assert many == one
        return
    for part, whole, each in (
        (many.first, added.first, one.first), (many.second, added.second, one.second),
    ):  # fmt: skip
        assert (part is None) == (whole is None) == (each is None)
        if part is not None and whole is not None and each is not None:
            assert part.unit == whole.unit == each.unit
            assert part.value == whole.value == times * each.value
            assert part.scoops == tuple((spoon, times * n) for spoon, n in each.scoops)


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("1/8 tsp", "1/8 tsp"),
        ("½ tsp", "1/2 tsp"),
        ("1½ tbsp", "1 1/2 tbsp"),
        ("0.25 tsp", "1/4 tsp"),
        ("2.5 ml", "2.5 mL spoon"),
        ("1/32 tsp", "1/32 tsp"),
    ],
)
def test_spoons_are_shown_by_what_stands_on_them(written: str, shown: str) -> None:
    spoon = read.read_spoon(written)
    assert float(spoon.volume_ml) == read.read_volume(written)
    assert show_measured(Measured("spoons", spoon.volume_ml, ((spoon, 1),))) == shown


def test_a_tablespoon_is_three_teaspoons() -> None:
    # NIST SP 811, App. B: tablespoon 14.78676 mL, teaspoon 4.928922 mL
    assert read.read_spoon("1 tbsp").volume_ml == ML_PER_TBSP == 3 * ML_PER_TSP
    assert float(ML_PER_TBSP) == pytest.approx(14.78676, abs=5e-6)
    assert float(ML_PER_TSP) == pytest.approx(4.928922, abs=5e-7)


@pytest.mark.parametrize("written", ["0 tsp", "2 drops", "1 tbsp 1 tsp", "5 g", "a pinch"])
def test_what_is_no_spoon(written: str) -> None:
    with pytest.raises(QuantityError):
        read.read_spoon(written)


def test_amounts_that_nobody_can_ask_for() -> None:
    with pytest.raises(FigureError, match="below 0"):
        measure(AskedAmount("base", -1.0), US)
    with pytest.raises(FigureError, match="without mass or volume"):
        measure(AskedAmount("powder", None), US)
    with pytest.raises(FigureError, match="not measured in mL"):
        measure(AskedAmount("powder", 5.0, 10.0), US, "mL")
    with pytest.raises(FigureError, match="no amount"):
        sum_measured([], US)
    with pytest.raises(FigureError, match="different units"):
        sum_measured([measure(AskedAmount("base", 85.0), tools) for tools in (US, METRIC)], US)


def test_which_spoons_of_those_that_are_near() -> None:
    def filled(eighths: Fraction | float, within: Fraction = Fraction(0)) -> str:
        scoops = measuring.fewest_spoons(Fraction(eighths) * ML_PER_TSP / 8, USUAL, within)
        return show_measured(Measured("spoons", Fraction(0), scoops))

    assert filled(0.4) == "0 tsp"
    assert filled(0.6) == "1/8 tsp"
    # Half-way the one spoonful, not the two; of as many spoonfuls the larger.
    assert filled(2.5) == "1/4 tsp"
    assert filled(1.5) == "1/4 tsp"
    assert filled(47.5) == "2 × 1 tbsp"
    assert filled(46.9) == "1 tbsp + 2 × 1 tsp + 1/2 tsp + 1/4 tsp + 1/8 tsp"
    # 2.3 % over, so two spoonfuls do for six; of two within a twentieth the nearer.
    assert filled(46.9, Fraction(1, 20)) == "2 × 1 tbsp"
    assert filled(25, Fraction(1, 20)) == "1 tbsp"


def test_what_is_asked_in_all_lacks_what_one_lacks() -> None:
    weighed = AskedAmount("liquid", 2.0, 2.5, in_drops=True)
    asked = (weighed, AskedAmount("liquid", None, 2.5))
    together = sum_asked(asked)
    assert (together.mass_g, together.volume_ml, together.in_drops) == (None, 5.0, False)
    both = sum_asked((weighed, weighed))
    assert (both.mass_g, both.volume_ml, both.in_drops) == (4.0, 5.0, True)
