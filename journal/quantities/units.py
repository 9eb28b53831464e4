"""The exact size of every unit that may be written.

Stored units: g, mL, degC, mm, min; a share is a fraction from 0 to 1.

Source: NIST Special Publication 811, Appendix B (and NIST Handbook 44,
Appendix C): the pound, the inch and the US gallon are defined exactly, and the
other customary units are exact parts of them.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from typing import Final

from msgspec import Struct

from journal.errors import FigureError

# How many grams, millilitres, millimetres is one …? (NIST SP 811, App. B; exact)
G_PER_KG: Final = Fraction(1000)
G_PER_LB: Final = Fraction("453.59237")
G_PER_OZ: Final = G_PER_LB / 16
ML_PER_L: Final = Fraction(1000)
MM_PER_IN: Final = Fraction("25.4")
MM_PER_CM: Final = Fraction(10)
# The US gallon is 231 cubic inches; a fluid ounce is 1/128 of it.
ML_PER_FL_OZ: Final = 231 * MM_PER_IN**3 / 1000 / 128
ML_PER_CUP: Final = 8 * ML_PER_FL_OZ
ML_PER_TBSP: Final = ML_PER_FL_OZ / 2
ML_PER_TSP: Final = ML_PER_FL_OZ / 6
# A convention, not a measure: 20 drops to the millilitre. The dropper of the
# pharmacopoeia (USP <1101>) gives 18 to 22 drops of water; other liquids and
# tips differ by a factor of two either way.
ML_PER_DROP: Final = Fraction(1, 20)
MIN_PER_S: Final = Fraction(1, 60)
MIN_PER_H: Final = Fraction(60)
MIN_PER_DAY: Final = Fraction(1440)

ABSOLUTE_ZERO_C: Final = Fraction("-273.15")  # NIST SP 811, App. B.9; exact


class Unit(Struct, frozen=True):
    """A unit that may be written, with its size in the stored unit of its dimension."""

    symbol: str
    dimension: str
    """mass, volume, temperature, duration, length or share"""
    factor: Fraction
    """stored units in one of this; for a temperature, degC in one degree"""
    family: str
    """only units of one family stand together, as in ``4 lb 5.2 oz``"""
    spellings: tuple[str, ...] = ()
    """accepted beside the symbol"""
    rough: bool = False
    """a convention that may be off by a factor of two"""


# Which units may be written, and how large is each? (factors: above)
UNITS: Final[tuple[Unit, ...]] = (
    Unit("g", "mass", Fraction(1), "metric"),
    Unit("kg", "mass", G_PER_KG, "metric"),
    Unit("oz", "mass", G_PER_OZ, "us"),
    Unit("lb", "mass", G_PER_LB, "us"),
    Unit("mL", "volume", Fraction(1), "metric", ("ml",)),
    Unit("L", "volume", ML_PER_L, "metric", ("l",)),
    Unit("fl oz", "volume", ML_PER_FL_OZ, "us"),
    Unit("tsp", "volume", ML_PER_TSP, "us"),
    Unit("tbsp", "volume", ML_PER_TBSP, "us"),
    Unit("cup", "volume", ML_PER_CUP, "us", ("cups",)),
    Unit("drop", "volume", ML_PER_DROP, "drop", ("drops",), rough=True),
    # The second and third spellings are one sign (U+2109) and the ordinal
    # indicator that some keyboards have in place of the degree sign.
    Unit("F", "temperature", Fraction(5, 9), "F", ("°F", "° F", "℉", "ºF", "º F")),
    Unit("C", "temperature", Fraction(1), "C", ("°C", "° C", "℃", "ºC", "º C")),
    Unit("s", "duration", MIN_PER_S, "time"),
    Unit("min", "duration", Fraction(1), "time"),
    Unit("h", "duration", MIN_PER_H, "time"),
    Unit("d", "duration", MIN_PER_DAY, "time", ("day", "days")),
    Unit("mm", "length", Fraction(1), "metric"),
    Unit("cm", "length", MM_PER_CM, "metric"),
    Unit("in", "length", MM_PER_IN, "us"),
    Unit("%", "share", Fraction(1, 100), "share"),
)

UNIT_BY_SPELLING: Final[dict[str, Unit]] = {
    spelling: unit for unit in UNITS for spelling in (unit.symbol, *unit.spellings)
}


def _superscripts(*spellings: str) -> tuple[str, ...]:
    """The spellings given, and again each that has a 3 with a superscript ³ in its place."""
    return spellings + tuple(s.replace("3", "³") for s in spellings if "3" in s)


def _products(top: str, first: str, second: str) -> tuple[str, ...]:
    """Every spelling of ``top``/(``first`` ``second``), such as W/mK, W/(m·K), W/m/K."""
    joined = [f"{first}{dot}{second}" for dot in ("", " ", "·", "⋅", "*", "-")]
    return (
        *(f"{top}/{pair}" for pair in joined),
        *(f"{top}/({pair})" for pair in joined if pair != first + second),
        f"{top}/({first}{second})",
        f"{top}/{first}/{second}",
    )


# How is each property of a material spelt, and what is one of it in g/mL,
# W/(m K), J/(kg K), kJ/kg? (definitions)
DENSITIES: Final[dict[str, Fraction]] = {
    **dict.fromkeys(("g/mL", "g/ml", *_superscripts("g/cm3"), "kg/L", "kg/l"), Fraction(1)),
    **dict.fromkeys((*_superscripts("kg/m3"), "g/L", "g/l"), Fraction(1, 1000)),
}
CONDUCTIVITIES: Final[dict[str, Fraction]] = dict.fromkeys(_products("W", "m", "K"), Fraction(1))
HEAT_CAPACITIES: Final[dict[str, Fraction]] = {
    **dict.fromkeys(_products("J", "kg", "K"), Fraction(1)),
    **dict.fromkeys(_products("kJ", "kg", "K"), Fraction(1000)),
    **dict.fromkeys(_products("J", "g", "K"), Fraction(1000)),
}
LATENT_HEATS: Final[dict[str, Fraction]] = {
    "kJ/kg": Fraction(1),
    "J/g": Fraction(1),
    "J/kg": Fraction(1, 1000),
}


def _finite(value: float, name: str) -> float:
    """Give ``value`` back; raise FigureError, which calls it ``name``, if it is not finite."""
    if not math.isfinite(value):
        raise FigureError(f"{name} must be a finite number, not {value}")
    return value


def f_to_c(fahrenheit: float) -> float:
    """Temperature in degrees Celsius of a temperature in degrees Fahrenheit.

    c = (f - 32) * 5 / 9

    Takes:  fahrenheit  degF; finite; scalar
    Gives:  degC; not rounded
    Fails:  FigureError if it is not finite
    Source: NIST SP 811, App. B.8 (definition)
    Checked: 140 degF is 60 degC, -40 degF is -40 degC
    """
    # The quotient of whole numbers is the nearest float to the exact result.
    number, of = _finite(fahrenheit, "a temperature").as_integer_ratio()
    return 5 * (number - 32 * of) / (9 * of)


def c_to_f(celsius: float) -> float:
    """Temperature in degrees Fahrenheit of a temperature in degrees Celsius.

    f = c * 9 / 5 + 32

    Takes:  celsius  degC; finite; scalar
    Gives:  degF; not rounded
    Fails:  FigureError if it is not finite
    Source: NIST SP 811, App. B.8 (definition)
    Checked: 60 degC is 140 degF
    """
    # The quotient of whole numbers is the nearest float to the exact result.
    number, of = _finite(celsius, "a temperature").as_integer_ratio()
    return (9 * number + 160 * of) / (5 * of)


# How many places do a currency's amounts have, where it is not two? ISO 4217: codes up to S as
# in test262's currency-digits.js (ECMA-402), all others as in a table made of the standard's own
# list of 29 August 2018; both were read.
_CURRENCY_PLACES: Final = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG"), 0),
    **dict.fromkeys(("RWF", "UGX", "UYI", "VND", "VUV", "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
    **dict.fromkeys(("CLF", "UYW"), 4),
}


def money_step(currency: str) -> Decimal:
    """The smallest amount of a currency: 0.01, 1 of yen, 0.001 of dinars (ISO 4217)."""
    return Decimal((0, (1,), -_CURRENCY_PLACES.get(currency, 2)))
