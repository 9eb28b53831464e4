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
from typing import Final, Literal, NamedTuple

from journal.errors import FigureError

Way = Literal["half_up", "down"]

_TWELVE: Final = Context(prec=12, rounding=ROUND_HALF_UP)
# Enough for every product of a 12-digit number that is shown.
_WIDE: Final = Context(prec=400)
# Steps of 1, 2 and 5 times a power of ten: how often does each go into the next power, and
# what share of it is each?
_EVEN: Final[dict[tuple[int, ...], tuple[Decimal, Decimal]]] = {
    (1,): (Decimal(1), Decimal(1)),
    (2,): (Decimal(5), Decimal("0.2")),
    (5,): (Decimal(2), Decimal("0.5")),
}
_ZERO: Final = Decimal(0)
_WAYS: Final[dict[Way, str]] = {"half_up": ROUND_HALF_UP, "down": ROUND_DOWN}


def twelve_digits(x: float | Decimal) -> Decimal:
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


def significant(x: float) -> float:
    """``x`` to 12 significant digits, as every number of the JSON output has.

    Takes:  x  any finite number; scalar
    Gives:  the nearest float to the 12 digits; never -0.0
    Fails:  FigureError if ``x``, or the 12 digits, is not finite
    Source: definition
    Checked: 0.1 + 0.2 gives 0.3
    """
    kept = float(twelve_digits(x))
    if not math.isfinite(kept):
        raise FigureError(f"{x} cannot be written as a number")
    return kept


def rounded(x: float | Decimal, step: Decimal, way: Way = "half_up") -> Decimal:
    """``x`` as a whole number of steps; the rule is at the head of this module.

    Takes:  x     any finite number; scalar
            step  > 0, exact; scalar
            way   "half_up", ties away from zero; or "down", towards zero
    Gives:  exact decimal with as many places as ``step``; zero has no sign
    Fails:  FigureError if ``x`` is not finite or ``step`` is not above 0
    Source: definition
    Checked: 2.4999999999999996 in steps of 1 gives 3
    """
    known = _step(step, step.as_tuple().exponent)
    exact = twelve_digits(x)
    if known.often is not None:
        # Most steps: so many times the number, to a whole power of ten, comes to the same.
        often = _WIDE.multiply(exact, known.often)
        tens = often.quantize(known.power, _WAYS[way], _WIDE)
        even = _WIDE.multiply(tens, known.share).quantize(known.place, context=_WIDE)
        return even or even.copy_abs()
    power = min(int(exact.as_tuple().exponent), int(step.as_tuple().exponent))
    number, size = abs(_whole(exact, power)), _whole(step, power)
    steps = (2 * number + size) // (2 * size) if way == "half_up" else number // size
    result = _WIDE.create_decimal((0, _digits(steps * size), power))
    result = result.quantize(known.place, context=_WIDE)
    return result.copy_negate() if exact < 0 and result else result


class _Step(NamedTuple):
    """What is known of a step: how many places it has, and how it goes into a power of ten.

    ``often`` times the step is ``power``, of which it is a ``share``; None where that is
    no whole number.
    """

    place: Decimal
    power: Decimal
    often: Decimal | None
    share: Decimal


# The steps of a notebook are those of its scales and of this program. 0.1 and 0.10 are one
# number and two steps, so the exponent that a step is written with is asked for as well.
@lru_cache(maxsize=256)
def _step(step: Decimal, written: int | Literal["n", "N", "F"]) -> _Step:
    if not (step.is_finite() and step > 0):
        raise FigureError(f"a step must be above 0, not {step}")
    digits, exponent = step.as_tuple().digits, int(written)
    # As many places as the step is written with, however fine the number was.
    place = Decimal((0, (1,), min(exponent, 0)))
    often, share = _EVEN.get(digits, (None, _ZERO))
    power = Decimal((0, (1,), exponent if digits == (1,) else exponent + 1))
    return _Step(place, power, often, share)


def _whole(value: Decimal, power: int) -> int:
    sign, digits, exponent = value.as_tuple()
    whole = int("".join(map(str, digits)) + "0" * (int(exponent) - power))
    return -whole if sign else whole


def _digits(whole: int) -> tuple[int, ...]:
    return tuple(map(int, str(whole)))


# Asked with the steps of a studio's scales, again and again.
@lru_cache(maxsize=256)
def nice_step(step: float) -> Decimal:
    """The finest of 1, 2, 5 times a power of ten that is not finer than ``step``.

    Takes:  step  > 0; finite; scalar
    Gives:  exact decimal, at least ``step`` and less than 2.5 times it
    Fails:  FigureError if ``step`` is not finite and above 0
    Source: definition
    Checked: 0.0353 gives 0.05
    """
    exact = twelve_digits(step)
    if exact <= 0:
        raise FigureError(f"a step must be above 0, not {step}")
    for shift in (0, 1):
        for mantissa in (1, 2, 5):
            nice = Decimal((0, (mantissa,), exact.adjusted() + shift))
            if nice >= exact:
                return nice
    raise AssertionError(step)  # ten times the leading power is never below it


def plain(number: Decimal) -> str:
    """Digits of ``number`` without exponent or idle zeros.

    A final zero behind the point is dropped: "5.0 mL" is read as 50 mL by a
    hurried eye. A true minus sign stands before a number below zero.
    """
    digits = f"{number:f}"
    if "." in digits:
        digits = digits.rstrip("0").rstrip(".")
    return "0" if digits == "-0" else digits.replace("-", "−")
