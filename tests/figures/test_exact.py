"""Numbers without their binary tail: steps, halves, and what is no number."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.common.exact import (
    exact_above,
    exact_at_least,
    exact_fraction,
    floor_to_step,
    round_half_up,
)

TAIL = Fraction(1, 10**11)  # half a unit in the twelfth digit, doubled, as a share

G_PER_OZ = 28.349523125  # NIST SP 811


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.1, Fraction(1, 10)),
        (0.1 + 0.2, Fraction(3, 10)),
        (3, Fraction(3)),
        (Decimal("4.10"), Fraction(41, 10)),
        (Fraction(1, 3), Fraction(1, 3)),
        (-0.0, Fraction(0)),
    ],
)
def test_what_a_number_stands_for(value: float, expected: Fraction) -> None:
    assert exact_fraction(value) == expected


@pytest.mark.parametrize(
    "value", [float("nan"), float("inf"), Decimal("NaN"), Decimal("-Infinity")]
)
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(FigureError, match="the price"):
        exact_fraction(value, "the price")


@given(st.floats(min_value=-1e9, max_value=1e9, allow_subnormal=False))
def test_only_the_tail_is_lost(value: float) -> None:
    assert abs(exact_fraction(value) - Fraction(value)) <= TAIL * abs(Fraction(value))


@given(st.integers(1, 400))
def test_tenths_of_an_ounce_survive_the_way_through_grams(tenths: int) -> None:
    grams = tenths / 10 * G_PER_OZ
    ounces = exact_fraction(grams) / Fraction("28.349523125")
    assert round_half_up(ounces, Fraction(1, 10**6)) == Fraction(tenths, 10)


@pytest.mark.parametrize(
    ("value", "step", "down", "half_up"),
    [
        ("96.388", "0.1", "96.3", "96.4"),
        ("0.125", "0.01", "0.12", "0.13"),
        ("0.124999", "0.01", "0.12", "0.12"),
        ("5", "5", "5", "5"),
        ("-0.125", "0.01", "-0.13", "-0.12"),
    ],
)
def test_steps(value: str, step: str, down: str, half_up: str) -> None:
    assert floor_to_step(Fraction(value), Fraction(step)) == Fraction(down)
    assert round_half_up(Fraction(value), Fraction(step)) == Fraction(half_up)


def test_bounds() -> None:
    assert exact_at_least(0, 0, "it") == 0
    assert exact_above(0.5, 0, "it") == Fraction(1, 2)
    with pytest.raises(FigureError, match="it is -1"):
        exact_at_least(-1, 0, "it")
    with pytest.raises(FigureError, match="must be above 0"):
        exact_above(0, 0, "it")
    with pytest.raises(FigureError, match="step"):
        floor_to_step(Fraction(1), Fraction(0))
