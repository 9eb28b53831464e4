"""Number to text for a write-up: all of its 12 significant digits, in stored units.

Reading what was written gives ``significant`` of the number back.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from journal.errors import FigureError
from journal.quantities.kinds import Amount, Dose
from journal.quantities.rounding import twelve_digits
from journal.quantities.show import per_what
from journal.quantities.units import ML_PER_DROP

# The readers take 15 digits before the point and 40 behind it.
_LARGEST: Final = Decimal("1e15")
_SMALLEST: Final = Decimal("1e-25")


def write_number(x: float) -> str:
    """A number: ``2.5``.

    Takes:  x  0 or 1e-25 to 1e15 in size; scalar
    Gives:  12 significant digits without exponent or idle zeros
    Fails:  FigureError outside that
    Source: definition
    """
    return _digits(twelve_digits(x))


def _digits(exact: Decimal) -> str:
    if exact and not _SMALLEST <= abs(exact) < _LARGEST:
        raise FigureError(f"{exact} cannot be written without an exponent")
    digits = f"{exact:f}"
    return digits.rstrip("0").rstrip(".") if "." in digits else digits


def write_mass(mass_g: float) -> str:
    """``85 g``"""
    return f"{write_number(mass_g)} g"


def write_volume(volume_ml: float) -> str:
    """``2.5 mL``"""
    return f"{write_number(volume_ml)} mL"


def write_length(length_mm: float) -> str:
    """``1.5 mm``"""
    return f"{write_number(length_mm)} mm"


def write_size(width_mm: float, height_mm: float) -> str:
    """``80 x 55 mm``"""
    return f"{write_number(width_mm)} x {write_number(height_mm)} mm"


def write_temperature(temperature_c: float) -> str:
    """``55 C``"""
    return f"{write_number(temperature_c)} C"


def write_temperatures(low_c: float, high_c: float) -> str:
    """``50 to 55 C``, or ``55 C`` where both are one"""
    if low_c == high_c:
        return write_temperature(low_c)
    return f"{write_number(low_c)} to {write_number(high_c)} C"


def write_duration(minutes: float) -> str:
    """``80 min``"""
    return f"{write_number(minutes)} min"


def write_share(share: float) -> str:
    """``3 %``"""
    return f"{_digits(twelve_digits(share).scaleb(2))} %"


def write_amount(amount: Amount) -> str:
    """``85 g``, ``2.5 mL``, ``12 drops``, ``40``"""
    if amount.kind == "count":
        return write_number(amount.value)
    return _weighed_or_measured(amount.kind, amount.value, amount.rough)


def write_dose(dose: Dose) -> str:
    """``5 mL/lb``, ``3 %``, ``2 drops/bar``, ``2.5 mL``"""
    if dose.kind == "share":
        return write_share(dose.value)
    return _weighed_or_measured(dose.kind, dose.value, dose.rough) + per_what(dose)


def _weighed_or_measured(kind: str, value: float, rough: bool) -> str:
    if kind == "mass":
        return write_mass(value)
    if not rough:
        return write_volume(value)
    # A drop is a whole part of 1 mL, so its digits stay exact.
    return f"{_digits(twelve_digits(value) * ML_PER_DROP.denominator)} drops"
