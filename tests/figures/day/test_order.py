"""Orders: needs summed, what to buy, bars by the round."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.day.order import (
    EACH,
    GRAMS,
    MILLILITRES,
    OnHand,
    bars_by_round,
    exact_need,
    sum_needs,
    to_buy,
)
from journal.figures.recipe.layers import rounds

BUY_ON_PAPER = [
    ("base", "white-shea", GRAMS, [300.0, 200.0], 300, 500, 200, ""),
    ("base", "clear", GRAMS, [210.5], 1000, 210.5, 0, ""),
    ("fragrance", "cedar", MILLILITRES, [5.0, 2.5], 0, 7.5, 7.5, ""),
    ("packaging", "band", EACH, [6.0, 8.0], None, 14, 14, "the shelf does not say"),
]


@pytest.mark.parametrize(
    ("kind", "item", "unit", "amounts", "there", "wanted", "buy", "why"), BUY_ON_PAPER
)
def test_to_buy_on_paper(
    kind: str,
    item: str,
    unit: str,
    amounts: list[float],
    there: float | None,
    wanted: float,
    buy: float,
    why: str,
) -> None:
    needs = [exact_need(kind, item, unit, amount) for amount in amounts]
    on_hand = [OnHand(kind, item, unit, None if there is None else Fraction(there))]
    (line,) = to_buy(needs, on_hand)
    assert (line.need, line.buy) == (wanted, buy)
    assert line.why.startswith(why)
    if there is None:
        assert to_buy(needs, []) == (line,)


def test_units_that_do_not_compare_are_said() -> None:
    (line,) = to_buy(
        [exact_need("fragrance", "cedar", MILLILITRES, 5)],
        [OnHand("fragrance", "cedar", GRAMS, Fraction(100))],
    )
    assert line.buy is None
    assert "takes a density" in line.why


@pytest.mark.parametrize(
    ("bars", "cavities", "bars_each", "pieces", "by_round"),
    [
        (14, 6, 1, None, (6, 6, 2)),
        (14, 6, 1, 4, (4, 4, 4, 2)),
        (12, 6, 1, 8, (6, 6)),
        (25, 1, 10, 1, (10, 10, 5)),
        (1, 6, 1, None, (1,)),
    ],
)
def test_rounds_on_paper(
    bars: int, cavities: int, bars_each: int, pieces: int | None, by_round: tuple[int, ...]
) -> None:
    a_round = (cavities if pieces is None else min(cavities, pieces)) * bars_each
    assert bars_by_round(bars, a_round) == by_round
    assert len(by_round) == rounds(bars, cavities, bars_each, pieces)


@given(st.integers(1, 500), st.integers(1, 40))
def test_rounds_sum_to_the_bars(bars: int, a_round: int) -> None:
    found = bars_by_round(bars, a_round)
    assert sum(found) == bars
    assert all(1 <= count <= a_round for count in found)
    assert set(found[:-1]) <= {a_round}


needs_of_an_order = st.lists(
    st.builds(
        exact_need,
        st.sampled_from(["base", "fragrance"]),
        st.sampled_from(["one", "two"]),
        st.sampled_from([GRAMS, MILLILITRES]),
        st.floats(0, 1e4),
    ),
    max_size=10,
)


@given(needs_of_an_order, st.integers(2, 5))
def test_more_bars_need_more_in_step(needs: list[object], times: int) -> None:
    once = sum_needs(needs)  # type: ignore[arg-type]
    more = sum_needs([one for one in needs for _ in range(times)])  # type: ignore[misc]
    assert [line.amount * times for line in once] == [line.amount for line in more]
    assert [(line.kind, line.item) for line in once] == sorted(
        (line.kind, line.item) for line in once
    )


def test_what_makes_no_sense_is_refused() -> None:
    for call, said in (
        (lambda: exact_need("base", "white", "stone", 1), "white is needed in"),
        (
            lambda: exact_need("base", "white", GRAMS, -1),
            "the need of white is -1; it cannot be below 0",
        ),
        (
            lambda: to_buy([], [OnHand("base", "white", GRAMS, Fraction(-1))]),
            "-1 of white is on hand; it cannot be below 0",
        ),
        (lambda: to_buy([], [OnHand("base", "white", GRAMS, None)] * 2), "white is on hand twice"),
        (lambda: bars_by_round(0, 1), "0 bars in rounds of 1: both must be 1 or more"),
        (lambda: bars_by_round(1, 0), "1 bars in rounds of 0: both must be 1 or more"),
    ):
        with pytest.raises(FigureError, match=said):
            call()
