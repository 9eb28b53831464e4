"""Cost and price: published break-even and markup answers, a bar on paper, cents that add up."""

from __future__ import annotations

import csv
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE

from journal.errors import FigureError
from journal.figures.shop.cost import (
    PARTS,
    BatchCost,
    CostGap,
    break_even,
    contribution,
    cost_sheet,
    hands_on_minutes,
    labour_cost,
    mat_wear,
    material_cost,
    median_or_none,
    mould_wear,
    price_at_margin,
    round_money,
    round_parts,
    unit_price,
    wholesale_price,
)

G_PER_LB = Fraction("453.59237")

PRINTED = 5e-7  # six places in the table

ACCOUNTING = "OpenStax Principles of Accounting 2: Managerial Accounting"
MATHEMATICS = "OpenStax Contemporary Mathematics sec. 6.2"

money = st.fractions(min_value=0, max_value=10_000, max_denominator=10_000)


@pytest.mark.parametrize(
    ("fixed", "price", "variable", "units"),
    [
        (18000, 100, 20, 225),
        (18000 + 16000, 100, 20, 425),  # a profit that is wanted is paid like a fixed cost
        (18000 + 40000, 100, 20, 725),
        (14000, 400, 150, 56),
        (14000 + 10000, 400, 150, 96),
        (3000, 35, 20, 200),
        (100000, 500, 300, 500),
        (100000 + 50000, 500, 300, 750),
    ],
)
def test_published_break_even(fixed: int, price: int, variable: int, units: int) -> None:
    assert break_even(fixed, price, variable) == units, f"{ACCOUNTING} sec. 3.2"
    assert break_even(fixed + 1, price, variable) == units + 1


@pytest.mark.parametrize(("price", "variable", "left"), [(100, 20, 80), (75, 15, 60)])
def test_published_contribution(price: int, variable: int, left: int) -> None:
    assert contribution(price, variable) == left, f"{ACCOUNTING} sec. 3.1"


@pytest.mark.parametrize(
    ("source", "cost", "markup", "price"),
    [
        (MATHEMATICS, "62.00", "0.15", "71.30"),
        (MATHEMATICS, "750", "0.45", "1087.50"),
        (MATHEMATICS, "90", "0.15", "103.50"),
        (MATHEMATICS, "8.85", "0.20", "10.62"),
        (MATHEMATICS, "11.80", "1.25", "26.55"),
        (MATHEMATICS, "480", "0.75", "840"),
        (MATHEMATICS, "25.00", "0.18", "29.50"),
    ],
)
def test_published_markups_as_margins(source: str, cost: str, markup: str, price: str) -> None:
    share = Fraction(markup)
    assert price_at_margin(Fraction(cost), share / (1 + share)) == Fraction(price), source


def test_the_reference_table_of_margins() -> None:
    with (REFERENCE / "13-pricing.csv").open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["quantity"] == "markup v margin"]
    assert rows
    for row in rows:
        words = row["answer"].replace("%", "").replace(",", "").split()
        markup, margin = float(words[1]), float(words[3])
        # Both are printed to four places of a per cent.
        found = float(price_at_margin(Fraction(1), margin / 100)) - 1
        assert found * 100 == pytest.approx(markup, abs=1e-3)


ON_PAPER = [
    ("base", "612 g at 4.10 for 453.59237 g", "5.531839", "0.92"),
    ("fragrance", "7 g at 90.00 for 1000 g", "0.630000", "0.11"),
    ("colour", "2.5 mL at 3.00 for 30 mL", "0.250000", "0.04"),
    ("additives", "none", "0.000000", "0.00"),
    ("packaging", "6 at 0.12", "0.720000", "0.12"),
    ("tools", "6 x (18.00 / (150 x 6) + 24.00 / (12 x 50))", "0.360000", "0.06"),
    ("labour", "25 min + 12 min at 18.00 an hour", "11.100000", "1.85"),
]
PRICED_ON_PAPER = [
    ("cost of the batch", "sum of the above", "18.59"),
    ("cost of a bar", "18.591839 / 6 = 3.098640", "3.10"),
    ("price", "3.098640 / (1 - 0.40) = 5.164400", "5.16"),
    ("price of the batch", "6 x 5.16", "30.96"),
    ("contribution", "5.16 - 3.10", "2.06"),
    ("break-even", "250.00 / 2.06 = 121.36", "122"),
]


def batch_on_paper(bars: int = 6) -> BatchCost:
    share = Fraction(bars, 6)
    minutes = hands_on_minutes(
        bars=bars,
        rounds=bars // 6,
        written_bars=6,
        written_rounds=1,
        written_pour_min=25,
        written_tidy_min=12,
        measured_tidy_min_a_bar=None,
    )
    wear = mould_wear(Decimal("18.00"), 150, 6) + mat_wear(Decimal("24.00"), 12, 50)
    parts = [
        material_cost(612 * share, unit_price(Decimal("4.10"), G_PER_LB)),
        material_cost(7 * share, unit_price(Decimal("90.00"), 1000)),
        material_cost(Fraction(5, 2) * share, unit_price(Decimal("3.00"), 30)),
        Fraction(0),
        material_cost(bars, unit_price(Decimal("0.12"), 1)),
        wear * bars,
        labour_cost(sum(minutes), Decimal("18.00")),
    ]
    return BatchCost(bars, tuple(zip(PARTS, parts, strict=True)))


@pytest.mark.parametrize(("part", "inputs", "batch", "bar"), ON_PAPER)
def test_a_batch_on_paper(part: str, inputs: str, batch: str, bar: str) -> None:
    """The parts cut to cents sum to 3.09; the cent to 3.10 goes to the fragrance, which has
    the largest remainder (0.1050)."""
    cost = batch_on_paper()
    known = dict(cost.parts)[part]
    assert known is not None
    assert float(known) == pytest.approx(float(batch), abs=PRINTED), inputs
    sheet = cost_sheet(cost, margin=None, fixed_costs=None)
    assert dict(sheet.a_bar.parts)[part] == Decimal(bar)


def test_the_price_on_paper() -> None:
    sheet = cost_sheet(batch_on_paper(), margin=Decimal("0.4"), fixed_costs=Decimal("250"))
    found = [
        sheet.batch.total,
        sheet.a_bar.total,
        sheet.price,
        sheet.batch_price,
        sheet.contribution,
        sheet.break_even_bars,
    ]
    assert found == [Decimal(expected) for _, _, expected in PRICED_ON_PAPER]
    assert sheet.why == ()


def test_a_measured_tidying_stands_before_a_written_one() -> None:
    minutes = hands_on_minutes(
        bars=12,
        rounds=2,
        written_bars=6,
        written_rounds=1,
        written_pour_min=25,
        written_tidy_min=12,
        measured_tidy_min_a_bar=median_or_none([4, 1, 1.5]),
    )
    assert minutes == (50, 18)


@pytest.mark.parametrize(
    ("values", "median"), [([], None), ([4, 1, 2], 2), ([1, 4], Fraction(5, 2)), ([7.5], 7.5)]
)
def test_median(values: list[float], median: float | None) -> None:
    assert median_or_none(values) == median


def test_a_missing_part_has_no_price_but_the_rest_is_shown() -> None:
    cost = BatchCost(2, (("base", Fraction(3)), ("fragrance", None)))
    sheet = cost_sheet(cost, margin=Decimal("0.4"), fixed_costs=Decimal(1))
    assert sheet.missing == ("fragrance",)
    assert sheet.a_bar.parts == (("base", Decimal("1.50")), ("fragrance", None))
    assert sheet.price is None
    assert sheet.why == ("no price: the cost of fragrance is not known",)


def test_what_is_known_of_a_part_counts_for_the_least_that_a_bar_costs() -> None:
    """3.00 and 0.019 for two bars are 1.5095 each: at least 1.50, never 1.51."""
    gap = CostGap("colour", "colourants/m: density", "M", Fraction(2, 100), Fraction(3, 100))
    parts = (("base", Fraction(3)), ("colour", None))
    cost = BatchCost(2, parts, (("colour", Fraction("0.019")),), (gap,))
    sheet = cost_sheet(cost, margin=Decimal("0.4"), fixed_costs=None, wholesale=0.5)
    assert sheet.a_bar.total == Decimal("1.50")
    assert (sheet.batch.total, sheet.known) == (Decimal("3.01"), Decimal("3.019"))
    assert (sheet.price, sheet.wholesale, sheet.sets) == (None, None, ())
    assert sheet.least_price == Decimal("2.52")  # 1.5095 / 0.6 = 2.5158
    assert sheet.gaps == (
        CostGap("colour", "colourants/m: density", "M", Fraction(1, 100), Fraction(3, 200)),
    )


@given(st.lists(money, min_size=1, max_size=6), st.integers(1, 60))
def test_the_least_is_never_more_than_what_is_known(known: list[Fraction], bars: int) -> None:
    so_far = tuple((f"part {place}", one) for place, one in enumerate(known))
    cost = BatchCost(bars, tuple((name, None) for name, _ in so_far), so_far)
    sheet = cost_sheet(cost, margin=None, fixed_costs=None)
    for printed, exact in ((sheet.a_bar, sum(known) / bars), (sheet.batch, sum(known))):
        assert exact - Fraction(1, 100) < printed.total <= exact
        assert sum(part for _, part in printed.parts if part is not None) == printed.total


def test_a_shop_pays_a_share_of_the_price_and_a_set_is_rounded_once() -> None:
    """A bar of 3.098640 sells at 5.1644; half of that is 2.5822, and three bars are 15.4932."""
    sheet = cost_sheet(
        batch_on_paper(), margin=Decimal("0.4"), fixed_costs=None, wholesale=0.5, sets=[("box", 3)]
    )
    assert (sheet.price, sheet.wholesale) == (Decimal("5.16"), Decimal("2.58"))
    assert sheet.wholesale_contribution == Decimal("-0.52")
    assert [(one.bars, one.price, one.wholesale) for one in sheet.sets] == [
        (3, Decimal("15.49"), Decimal("7.75"))  # not 3 x 5.16 = 15.48
    ]
    with pytest.raises(FigureError, match="a share of the price is 0 to 1"):
        wholesale_price(Fraction(5), Fraction(11, 10))


def test_without_settings_the_reasons_are_named() -> None:
    cost = batch_on_paper()
    assert cost_sheet(cost, margin=None, fixed_costs=None).why == (
        "no price: the studio's margin is not set",
    )
    assert cost_sheet(cost, margin=0, fixed_costs=None).why == (
        "no break-even: the fixed costs are not set",
    )
    at_cost = cost_sheet(cost, margin=0, fixed_costs=Decimal(10))
    assert at_cost.break_even_bars is None
    assert at_cost.why == ("no break-even: a bar brings in no more than it costs",)


@given(st.lists(money, min_size=1, max_size=12))
def test_printed_parts_sum_to_the_printed_total(parts: list[Fraction]) -> None:
    cent = Decimal("0.01")
    named = [(str(place), part) for place, part in enumerate(parts)]
    shown = round_parts(named)
    printed = [part for _, part in shown.parts if part is not None]
    assert len(printed) == len(parts)
    assert sum(printed) == shown.total
    assert shown.total == round_money(sum(parts, Fraction(0)))
    assert abs(Fraction(shown.total) - sum(parts)) <= Fraction(cent) / 2
    for exact_part, part in zip(parts, printed, strict=True):
        assert abs(Fraction(part) - exact_part) < Fraction(cent)
        if exact_part == 0:
            assert part == 0


@given(st.integers(1, 50), st.integers(2, 5))
def test_more_bars_cost_more_in_step_and_leave_the_bar_alone(rounds: int, times: int) -> None:
    once, more = batch_on_paper(6 * rounds), batch_on_paper(6 * rounds * times)
    for name in PARTS:
        small, large = dict(once.parts)[name], dict(more.parts)[name]
        assert small is not None
        assert large is not None
        assert large == small * times
        assert small / once.bars == large / more.bars


@given(st.floats(1, 5000), st.decimals(0, 100, places=2))
def test_the_unit_that_it_was_written_in_changes_no_cent(ounces: float, price: Decimal) -> None:
    # As 16 oz to the pound, and as grams through binary floats.
    by_ounce = material_cost(ounces, unit_price(price, 16))
    by_gram = material_cost(ounces * 28.349523125, unit_price(price, G_PER_LB))
    assert abs(by_ounce - by_gram) <= by_ounce * Fraction(1, 10**9)


@given(money, st.integers(0, 99))
def test_the_margin_is_left_over(cost: Fraction, percent: int) -> None:
    margin = Fraction(percent, 100)
    price = price_at_margin(cost, margin)
    assert price - cost == margin * price


def test_money_is_never_a_binary_float() -> None:
    sheet = cost_sheet(batch_on_paper(), margin=Decimal("0.4"), fixed_costs=Decimal("250"))
    shown = [part for _, part in (*sheet.a_bar.parts, *sheet.batch.parts)]
    shown += [sheet.a_bar.total, sheet.batch.total, sheet.price, sheet.batch_price]
    assert all(isinstance(part, Decimal) and part.as_tuple().exponent == -2 for part in shown)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: unit_price(Decimal(-1), 1), "the price is -1"),
        (lambda: unit_price(Decimal(1), 0), "must be above 0"),
        (lambda: material_cost(-1, Fraction(1)), "the amount used is -1"),
        (lambda: mould_wear(Decimal(1), 0, 6), "life in pours is 0"),
        (lambda: mat_wear(Decimal(1), 0, 5), "pieces a sheet is 0"),
        (lambda: labour_cost(-5, Decimal(1)), "minutes is -5"),
        (lambda: price_at_margin(Fraction(1), 1), "the margin is 1"),
        (lambda: price_at_margin(Fraction(1), -0.1), "the margin is -0.1"),
        (lambda: BatchCost(0, (("base", None),)), "bars is 0"),
        (lambda: BatchCost(1, ()), "needs parts"),
        (lambda: BatchCost(1, (("base", None), ("base", None))), "each named once"),
        (lambda: break_even(-1, 2, 1), "the fixed costs is -1"),
        (lambda: round_parts([("base", Fraction(-1))]), "base"),
    ],
)
def test_what_makes_no_sense_is_refused(call: object, message: str) -> None:
    assert callable(call)
    with pytest.raises(FigureError, match=message):
        call()


HALF, HALF_COIN = Fraction(1, 2), Decimal("0.5")


@pytest.mark.parametrize(
    ("asked", "wanted"),
    [
        (lambda: unit_price(HALF_COIN, 0.25), 2),
        (lambda: unit_price(Decimal(0), 1), 0),
        (lambda: material_cost(0.5, HALF), Fraction(1, 4)),
        (lambda: material_cost(0, Fraction(0)), 0),
        (lambda: mould_wear(HALF_COIN, 1, 1), HALF),
        (lambda: mould_wear(Decimal(0), 1, 1), 0),
        (lambda: mat_wear(HALF_COIN, 1, 1, 1), HALF),
        (lambda: mat_wear(Decimal(0), 1, 1, 1), 0),
        (lambda: labour_cost(0.5, HALF_COIN), Fraction(1, 240)),
        (lambda: labour_cost(0, Decimal(0)), 0),
        (lambda: price_at_margin(HALF, 0.5), 1),
        (lambda: price_at_margin(Fraction(0), 0), 0),
        (lambda: contribution(0.75, 0.5), Fraction(1, 4)),
        (lambda: contribution(0, 0), 0),
        (lambda: break_even(0.5, 0.75, 0.25), 1),
        (lambda: break_even(0, 0.75, 0.25), 0),
        (
            lambda: sum(hands_on_minutes(
                bars=1, rounds=1, written_bars=1, written_rounds=1, written_pour_min=0.5,
                written_tidy_min=0.25, measured_tidy_min_a_bar=None,
            )),
            Fraction(3, 4),
        ),
        (
            lambda: sum(hands_on_minutes(
                bars=1, rounds=1, written_bars=1, written_rounds=1, written_pour_min=0,
                written_tidy_min=0, measured_tidy_min_a_bar=Fraction(0),
            )),
            0,
        ),
    ],
)  # fmt: skip
def test_less_than_one_and_none_at_all_are_let_through(
    asked: Callable[[], Fraction], wanted: Fraction
) -> None:
    """By hand, at the very ends of what may be asked."""
    assert asked() == wanted


@pytest.mark.parametrize(
    ("none", "name"),
    [("bars", "bars"), ("rounds", "rounds"), ("written_bars", "the recipe's bars"),
     ("written_rounds", "the recipe's rounds")],
)  # fmt: skip
def test_the_count_that_is_none_is_named(none: str, name: str) -> None:
    counts = {"bars": 1, "rounds": 1, "written_bars": 1, "written_rounds": 1, none: 0}
    with pytest.raises(FigureError, match=rf"^{name} "):
        hands_on_minutes(
            **counts, written_pour_min=1, written_tidy_min=1, measured_tidy_min_a_bar=None
        )


def test_money_is_rounded_once_to_the_places_of_its_currency() -> None:
    """ISO 4217: the yen has no decimals, the Kuwaiti dinar has three.

    A bar of 100.4949: to cents first it would be 100.49, and to yen 100 either way; 100.4951
    would be 100.50 in cents and 101 in yen, rounded twice.
    """
    cost = BatchCost(1, (("base", Fraction("100.4951")),))
    for currency, shown in (("JPY", "100"), ("KWD", "100.495"), ("USD", "100.50")):
        sheet = cost_sheet(cost, margin=0, fixed_costs=Decimal(1000), currency=currency)
        assert str(sheet.a_bar.total) == str(sheet.price) == str(sheet.batch.total) == shown
        assert str(sheet.batch_price) == shown


def test_the_break_even_goes_by_the_exact_cost() -> None:
    # 0.4 yen a bar is printed as none: rounded first, 10 bars would pay 10 yen at a price of 1.
    cost = BatchCost(1, (("base", Fraction(2, 5)),))
    sheet = cost_sheet(cost, margin=Fraction(1, 2), fixed_costs=Decimal(10), currency="JPY")
    assert (sheet.price, sheet.a_bar.total, sheet.break_even_bars) == (1, 0, 17)
