"""Exact fractions of numbers and rounding by steps, for money and legal thresholds."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from journal.errors import FigureError

ExactNumber = int | float | Decimal | Fraction

SIGNIFICANT_DIGITS = 12


def exact_fraction(value: ExactNumber, what: str = "the number") -> Fraction:
    """The fraction that a number represents.

    A float that came through a few products is wrong in its 15th or 16th digit. It
    is read to 12 significant digits, which is far finer than any scale or coin: so
    4 oz written in grams and 4 oz written in ounces cost the same and fall on the
    same side of a step. int, Decimal and Fraction are exact as they are.

    Takes:  value  any finite number; scalar
            what   its name in a message
    Gives:  the fraction
    Fails:  FigureError if value is not finite
    Source: definition
    Checked: 0.1 gives 1/10
    """
    if isinstance(value, Fraction):
        return value
    if not math.isfinite(value):
        raise FigureError(f"{what} is {value}; it must be a finite number")
    return _fraction_of_float(value) if isinstance(value, float) else Fraction(value)


# The same weights and minutes occur in every recipe of a design.
@lru_cache(maxsize=1024)
def _fraction_of_float(value: float) -> Fraction:
    """The fraction of a finite float, read to 12 significant digits."""
    return Fraction(f"{value:.{SIGNIFICANT_DIGITS}g}")


def exact_at_least(value: ExactNumber, least: int, what: str) -> Fraction:
    """The fraction that a number represents, if it is not below a bound.

    Takes:  value  any finite number, >= least; scalar
            least  the bound
            what   its name in a message
    Gives:  the fraction
    Fails:  FigureError if value is not finite or below the bound
    Source: definition
    """
    fraction = exact_fraction(value, what)
    if fraction.numerator < least * fraction.denominator:
        raise FigureError(f"{what} is {value}; it cannot be below {least}")
    return fraction


def exact_above(value: ExactNumber, bound: int, what: str) -> Fraction:
    """The fraction that a number represents, if it is above a bound.

    Takes:  value  any finite number, > bound; scalar
            bound  the bound
            what   its name in a message
    Gives:  the fraction
    Fails:  FigureError if value is not finite or not above the bound
    Source: definition
    """
    fraction = exact_fraction(value, what)
    if fraction.numerator <= bound * fraction.denominator:
        raise FigureError(f"{what} is {value}; it must be above {bound}")
    return fraction


def floor_to_step(value: Fraction, step: Fraction) -> Fraction:
    """The largest whole number of steps that is not above a value.

    Takes:  value  any; scalar
            step   > 0; scalar
    Gives:  a multiple of step
    Fails:  FigureError if step is not above 0
    Source: definition
    Checked: 96.388 in steps of 0.1 gives 96.3
    """
    if step <= 0:
        raise FigureError(f"the step is {step}; it must be above 0")
    return (value // step) * step


def round_half_up(value: Fraction, step: Fraction) -> Fraction:
    """The nearest whole number of steps; a half goes up.

    Takes:  value  any; scalar
            step   > 0; scalar
    Gives:  a multiple of step
    Fails:  FigureError if step is not above 0
    Source: common practice of bookkeeping, no source
    Checked: 0.125 in steps of 0.01 gives 0.13
    """
    return floor_to_step(value + step / 2, step)
