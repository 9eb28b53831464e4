"""One way of rounding, used once between a figure and what is shown.

The page's script rounds the same figures again when the number of bars is
changed, and must come to the same digits. So the rule is one that any language
with decimal digit strings can follow:

1. Take the number to 12 significant digits, a tie going away from zero. In
   JavaScript this is ``x.toPrecision(12)``. It drops the noise of binary
   arithmetic: 2.4999999999999996 counts as 2.5.
2. Write number and step as whole numbers N and S over one power of ten.
3. Without its sign, N is worth ``floor((2 N + S) / (2 S))`` steps ("half_up":
   a tie goes away from zero) or ``floor(N / S)`` steps ("down": towards zero).
4. Multiply by S and put the decimal point and the sign back; zero has no sign.
"""

from __future__ import annotations

import math
from decimal import ROUND_DOWN, ROUND_HALF_UP, Context, Decimal
from functools import lru_cache
from typing import Final, Literal

from journal.errors import FigureError

RoundingMode = Literal["half_up", "down"]

_TWELVE: Final = Context(prec=12, rounding=ROUND_HALF_UP)
# Enough for every quotient: of 12 digits and a step, one that is no tie and no whole number of
# steps differs from both long before the 400th digit.
_WIDE: Final = Context(prec=400)
_ONE: Final = Decimal(1)
_ZERO: Final = Decimal(0)
_WAYS: Final[dict[RoundingMode, str]] = {"half_up": ROUND_HALF_UP, "down": ROUND_DOWN}


def decimal_of_twelve_digits(x: float | Decimal) -> Decimal:
    """``x`` to 12 significant digits, a tie away from zero.

    Takes:  x  any finite number; scalar
    Gives:  exact decimal of at most 12 significant digits; zero has no sign
    Fails:  FigureError if ``x`` is not finite
    Source: definition
    Checked: 2.4999999999999996 gives 2.5
    """
    if not math.isfinite(x):
        raise FigureError(f"{x} cannot be written as a number")
    if isinstance(x, Decimal):
        return _TWELVE.plus(x) or _ZERO
    return _TWELVE.create_decimal_from_float(x) or _ZERO


def to_twelve_digits(x: float) -> float:
    """``x`` to 12 significant digits, as every number of the JSON output has.

    Takes:  x  any finite number; scalar
    Gives:  the nearest float to the 12 digits; never -0.0
    Fails:  FigureError if ``x``, or the 12 digits, is not finite
    Source: definition
    Checked: 0.1 + 0.2 gives 0.3
    """
    nearest = float(decimal_of_twelve_digits(x))
    if not math.isfinite(nearest):
        raise FigureError(f"{x} cannot be written as a number")
    return nearest


def rounded_to_step(x: float | Decimal, step: Decimal, way: RoundingMode = "half_up") -> Decimal:
    """``x`` as a whole number of steps; the rule is at the head of this module.

    Takes:  x     any finite number; scalar
            step  > 0, exact; scalar
            way   "half_up", ties away from zero; or "down", towards zero
    Gives:  exact decimal with as many places as ``step``; zero has no sign
    Fails:  FigureError if ``x`` is not finite or ``step`` is not above 0
    Source: definition
    Checked: 2.4999999999999996 in steps of 1 gives 3
    """
    if not (step.is_finite() and step > 0):
        raise FigureError(f"a step must be above 0, not {step}")
    steps = _WIDE.divide(decimal_of_twelve_digits(x), step).quantize(_ONE, _WAYS[way], _WIDE)
    # As many places as the step is written with, however fine the number was.
    places = step if int(step.as_tuple().exponent) < 0 else _ONE
    result = _WIDE.multiply(steps, step).quantize(places, context=_WIDE)
    return result or result.copy_abs()


# Called with the few steps of a studio's scales, again and again.
@lru_cache(maxsize=256)
def nice_step(step: float) -> Decimal:
    """The finest of 1, 2, 5 times a power of ten that is not finer than ``step``.

    Takes:  step  > 0; finite; scalar
    Gives:  exact decimal, at least ``step`` and less than 2.5 times it
    Fails:  FigureError if ``step`` is not finite and above 0
    Source: definition
    Checked: 0.0353 gives 0.05
    """
    exact = decimal_of_twelve_digits(step)
    if exact <= 0:
        raise FigureError(f"a step must be above 0, not {step}")
    for shift in (0, 1):
        for mantissa in (1, 2, 5):
            nice = Decimal((0, (mantissa,), exact.adjusted() + shift))
            if nice >= exact:
                return nice
    raise AssertionError(step)  # ten times the leading power is never below it


def plain_digits(number: Decimal) -> str:
    """Text of ``number`` without exponent and without zeros at the end of its decimals.

    "5.0 mL" would be read as 50 mL by a hurried eye. A true minus sign stands before a
    number below zero.
    """
    digits = f"{number:f}"
    if "." in digits:
        digits = digits.rstrip("0").rstrip(".")
    return "0" if digits == "-0" else digits.replace("-", "−")
