"""Rounding: one rule, followed digit by digit."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.quantities.rounding import (
    decimal_of_twelve_digits,
    nice_step,
    plain_digits,
    rounded_to_step,
    to_twelve_digits,
)

numbers = st.floats(-1e9, 1e9, allow_subnormal=False)
steps = st.sampled_from(
    [Decimal(s) for s in ("1", "0.1", "0.01", "0.5", "0.25", "5", "20", "0.05", "1E+2")]
)


@pytest.mark.parametrize(
    ("x", "step", "half_up", "down"),
    [
        (2.5, "1", "3", "2"),
        (2.4999999999999996, "1", "3", "2"),  # the float below 2.5, to 12 digits
        (2.49999999999, "1", "2", "2"),
        (2.9999999999999996, "1", "3", "3"),  # counts as 3 whichever way
        (0.15, "0.1", "0.2", "0.1"),  # below 0.15 as a float
        (1.005, "0.01", "1.01", "1.00"),
        (0.3, "0.25", "0.25", "0.25"),
        (0.375, "0.25", "0.50", "0.25"),
        (1234, "50", "1250", "1200"),
        (1962.4, "5", "1960", "1960"),
        (0.1 + 0.2, "0.1", "0.3", "0.3"),
        (-2.5, "1", "-3", "-2"),
        (-0.2, "1", "0", "0"),
        (-0.0, "0.1", "0.0", "0.0"),
        (86.5, "0.1", "86.5", "86.5"),
    ],
)
def test_rounded(x: float, step: str, half_up: str, down: str) -> None:
    assert str(rounded_to_step(x, Decimal(step))) == half_up
    assert str(rounded_to_step(x, Decimal(step), "down")) == down


@given(numbers, steps)
def test_rounded_lies_within_half_a_step(x: float, step: Decimal) -> None:
    # The 12 digits may move the number by 5e-12 of itself first.
    slack = Fraction(abs(x)) * Fraction(5, 10**12)
    near, below = rounded_to_step(x, step), rounded_to_step(x, step, "down")
    assert Fraction(near) % Fraction(step) == 0
    assert abs(Fraction(near) - Fraction(x)) <= Fraction(step) / 2 + slack
    assert abs(Fraction(below)) <= Fraction(abs(x)) + slack
    assert abs(Fraction(below) - Fraction(x)) < Fraction(step) + slack


@given(numbers, steps)
def test_rounded_again_stays(x: float, step: Decimal) -> None:
    once = rounded_to_step(x, step)
    assert rounded_to_step(once, step) == once == rounded_to_step(once, step, "down")


@given(numbers, steps)
def test_rounded_mirrors(x: float, step: Decimal) -> None:
    for way in ("half_up", "down"):
        assert rounded_to_step(-x, step, way) == -rounded_to_step(x, step, way)


def by_digit_strings(x: float, step: str) -> str:
    """The rule of the module, with nothing but digits, as a script on a page has them."""
    digits, _, power = f"{abs(x):.11e}".partition("e")
    number, number_power = int(digits.replace(".", "")), int(power) - 11
    whole, _, places = step.partition(".")
    size, size_power = int(whole + places), -len(places)
    common = min(number_power, size_power)
    number *= 10 ** (number_power - common)
    size *= 10 ** (size_power - common)
    total = (2 * number + size) // (2 * size) * size
    shown = str(total).rjust(1 - common, "0")
    head, tail = (shown[:common], shown[common:]) if common < 0 else (shown + "0" * common, "")
    tail = tail.rstrip("0")
    text = f"{head}.{tail}" if tail else head
    return f"−{text}" if x < 0 and text != "0" else text


@given(numbers, st.sampled_from(["1", "0.1", "0.01", "0.05", "5", "0.25"]))
def test_a_script_can_follow_the_rule(x: float, step: str) -> None:
    assert plain_digits(rounded_to_step(x, Decimal(step))) == by_digit_strings(x, step)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_significant_keeps_twelve_digits(x: float) -> None:
    try:
        kept = to_twelve_digits(x)
    except FigureError:
        assert abs(x) > 1.797e308  # the 12 digits lie beyond the largest float
        return
    assert kept == pytest.approx(x, rel=5.1e-12, abs=0) or abs(x) < 1e-300
    assert kept != 0 or math.copysign(1, kept) == 1
    assert to_twelve_digits(kept) == kept
    if abs(kept) > 1e-300:  # below that floats have fewer digits themselves
        assert Decimal(repr(kept)) == decimal_of_twelve_digits(x)


@pytest.mark.parametrize(
    ("x", "digits"),
    [
        (100000000000.5, "100000000001"),  # a tie goes away from zero, not to even
        (0.1 + 0.2, "0.300000000000"),
        (-1 / 3, "-0.333333333333"),
        (-0.0, "0"),
    ],
)
def test_twelve_digits(x: float, digits: str) -> None:
    assert str(decimal_of_twelve_digits(x)) == digits


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf")])
def test_no_digits_for_no_number(bad: float) -> None:
    for fails in (
        to_twelve_digits,
        decimal_of_twelve_digits,
        lambda x: rounded_to_step(x, Decimal(1)),
    ):
        with pytest.raises(FigureError, match=f"^{bad} cannot be written as a number$"):
            fails(bad)


@pytest.mark.parametrize("step", ["0", "-1", "NaN", "Infinity"])
def test_no_rounding_to_no_step(step: str) -> None:
    with pytest.raises(FigureError, match="a step must be above 0"):
        rounded_to_step(1.0, Decimal(step))


@pytest.mark.parametrize(
    ("step", "nice"),
    [
        (1.0, "1"),
        (0.1, "0.1"),
        (0.3, "0.5"),
        (1 / 28.349523125, "0.05"),
        (0.1 / 28.349523125, "0.005"),
        (2.8349523125, "5"),
        (0.7, "1"),
        (20, "20"),
    ],
)
def test_nice_steps(step: float, nice: str) -> None:
    assert nice_step(step) == Decimal(nice)


@given(st.floats(1e-9, 1e9))
def test_a_nice_step_is_no_finer_and_not_much_coarser(step: float) -> None:
    exact = decimal_of_twelve_digits(step)
    assert exact <= nice_step(step) < exact * Decimal("2.5")


def test_no_nice_step_below_zero() -> None:
    for bad in (0.0, -1.0):
        with pytest.raises(FigureError, match="a step must be above 0"):
            nice_step(bad)


@pytest.mark.parametrize(
    ("number", "text"),
    [
        ("5.0", "5"),
        ("0.50", "0.5"),
        ("1E+3", "1000"),
        ("-1.50", "−1.5"),
        ("0.00", "0"),
        ("10", "10"),
    ],
)
def test_plain(number: str, text: str) -> None:
    assert plain_digits(Decimal(number)) == text
