"""What a choice between two variants is worth a bar, worked by hand."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from msgspec.structs import replace
from poured_bars import FIRST_DAY, KEEP, TIDY, TRIMS, bars_of

from journal.comparison.comparing import compare_variants
from journal.comparison.observed import ComparedVariant, ComparisonQuestion
from journal.comparison.sentences import plain_amount, worth_sentence
from journal.comparison.worth import (
    MeasuredDifference,
    WorthOfChoice,
    worth_of_choice,
    worth_of_choices,
)
from journal.errors import FigureError
from journal.figures.shop.cost import BatchCost, CostSheet, cost_sheet

RATE = Decimal("18.00")  # 0.30 a minute
BAR = Fraction(4)


def cents(amount: Fraction) -> str:
    return f"${float(amount):.2f}"


def worth(
    tidy: MeasuredDifference | None,
    keep: MeasuredDifference | None,
    materials: Fraction | None = None,
) -> WorthOfChoice:
    found = worth_of_choice(
        ("close", "straight"), "", tidy, keep, labour=RATE, bar=BAR, materials=materials
    )
    assert found is not None
    return found


def test_tidying_and_bars_fit_to_sell_add_up() -> None:
    # 5 min less (4 to 6) at 0.30 a minute: 1.50 (1.20 to 1.80). 50 more bars in 100 fit to sell
    # (10 to 75) at 4.00 a bar: 2.00 (0.40 to 3.00). 0.25 more for materials, which is reckoned.
    found = worth(
        MeasuredDifference(-5.0, -6.0, -4.0), MeasuredDifference(0.5, 0.1, 0.75), Fraction(1, 4)
    )
    assert [(one.part, one.money) for one in found.parts] == [
        ("tidying", Fraction(3, 2)), ("bars fit to sell", 2), ("materials", Fraction(-1, 4)),
    ]  # fmt: skip
    assert found.money == Fraction("3.25")
    assert found.interval == (Fraction("1.35"), Fraction("4.55"))
    assert worth_sentence(found, cents) == (
        "Straight saves about $3.25 a bar over close, from $1.35 to $4.55. In it: $1.50 of tidying,"
        " $2.00 of bars not sold and $0.25 more for materials. A bar not sold counts what it cost."
    )


def test_what_may_be_nothing_says_so() -> None:
    # 2 min more (1 less to 5 more): -0.60, from -1.50 to 0.30.
    found = worth(MeasuredDifference(2.0, -1.0, 5.0), None)
    assert worth_sentence(found, cents) == (
        "Close saves about $0.60 a bar over straight; it may cost up to $0.30 more, or save up to"
        " $1.50. In it: $0.60 of tidying."
    )


def test_without_an_interval_there_is_none_of_the_sum() -> None:
    found = worth(MeasuredDifference(-5.0, None, None), MeasuredDifference(0.5, 0.1, 0.75))
    assert found.interval is None
    assert "; too few were compared to say how sure that is." in worth_sentence(found, cents)


def test_the_interval_of_a_sum_is_no_narrower_for_any_correlation() -> None:
    """Zou and Donner 2008: with a correlation r the lower reach is sqrt(a2 + b2 + 2 r a b)."""
    found = worth(MeasuredDifference(-5.0, -6.0, -4.0), MeasuredDifference(0.5, 0.1, 0.75))
    assert found.interval is not None
    reach = float(found.money - found.interval[0])
    a, b = 0.3, 1.6
    assert reach == pytest.approx((a * a + b * b + 2 * a * b) ** 0.5)
    assert all(reach >= (a * a + b * b + 2 * r * a * b) ** 0.5 for r in (-1, 0, 0.5, 0.99))


def test_what_is_not_known_is_not_counted() -> None:
    tidy, keep = MeasuredDifference(-5.0, -6.0, -4.0), MeasuredDifference(0.5, 0.1, 0.75)
    between = ("a", "b")
    assert worth_of_choice(between, "", tidy, keep, labour=None, bar=None) is None
    assert worth_of_choice(between, "", None, None, labour=RATE, bar=BAR) is None
    alone = worth_of_choice(between, "", tidy, keep, labour=None, bar=BAR, unknown=("colour",))
    assert alone is not None
    assert alone.money == 2
    assert worth_sentence(alone, cents).endswith("what it cost without colour.")
    with pytest.raises(FigureError, match="not worth anything"):
        worth_of_choice(between, "", None, MeasuredDifference(1.5, 1, 2), labour=RATE, bar=BAR)


def sheet(base: str, labour: str) -> CostSheet:
    parts = (("base", Fraction(base)), ("colour", None), ("labour", Fraction(labour)))
    return cost_sheet(BatchCost(6, parts), margin=None, fixed_costs=None)


def test_from_comparisons_and_costs() -> None:
    """Four bars of each in one pot: 3 min less each time, and 3 of 4 against 1 of 4 fit to sell."""
    bars = []
    for variant, tidy, fit in (("close", (4, 5, 4, 5), 1), ("straight", (1, 2, 1, 2), 3)):
        for number, bar in enumerate(bars_of("A", variant, tidy, "tidy")):
            bars.append(replace(bar, values={**bar.values, "keep": number < fit}))
    found = compare_variants(bars, [TIDY, KEEP], TRIMS, ComparisonQuestion("tidy", FIRST_DAY, 1))
    # 12 and 6 of base and labour for six bars: 3.00 a bar. Straight needs 1.20 more base a batch.
    costs = {"": sheet("12", "6"), "straight": sheet("13.20", "4")}
    (one,) = worth_of_choices(found, ("close", "straight"), costs, "", RATE)
    assert {part.part: part.money for part in one.parts} == {
        "tidying": Fraction("0.90"), "bars fit to sell": Fraction("1.50"),
        "materials": Fraction("-0.20"),
    }  # fmt: skip
    assert one.unknown == ("colour",)
    assert one.between == ("close", "straight")
    assert plain_amount(found[0].difference or 0.0, TIDY) == "3 min"


def test_of_a_group_what_differs_by_that_choice_alone_is_compared() -> None:
    variants = (
        ComparedVariant("close", "trim", {"trim": "close"}),
        ComparedVariant("straight", "trim", {"trim": "straight"}),
    )
    bars = bars_of("A", "close/dye", (4.0, 5.0), "tidy", levels={"trim": "close"})
    bars += bars_of("A", "straight/dye", (1.0, 2.0), "tidy", levels={"trim": "straight"})
    found = compare_variants(bars, [TIDY], variants)
    costs = {"": sheet("12", "6"), "straight/dye": sheet("18", "6")}
    names = ("close/ink", "close/dye", "straight/dye")
    (one,) = worth_of_choices(found, names, costs, "", RATE)
    assert one.parts[-1].money == -1
