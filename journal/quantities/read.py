"""Text to number: one reader for each kind of quantity.

Each takes the text as it was written and gives the stored unit of its kind, or
raises QuantityError with what is wrong and how to mend it. Any text at all
gives one or the other. Readers remember what they have read: the same texts
come up again and again.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from decimal import Decimal
from functools import lru_cache
from typing import Final, TypeVar

from journal.quantities import grammar
from journal.quantities.kinds import Amount, Dose, Moment, Price
from journal.quantities.number import NotThis, tidied
from journal.quantities.refusal import refusal
from journal.quantities.units import CONDUCTIVITIES, DENSITIES, HEAT_CAPACITIES, LATENT_HEATS

__all__ = [
    "Amount",
    "Dose",
    "Moment",
    "Price",
    "read_amount",
    "read_thermal_conductivity",
    "read_count",
    "read_date",
    "read_density",
    "read_dose",
    "read_duration",
    "read_durations",
    "read_heat_capacity",
    "read_latent_heat",
    "read_length",
    "read_lengths",
    "read_mass",
    "read_masses",
    "read_mm_per_px",
    "read_moment",
    "read_money",
    "read_number",
    "read_price",
    "read_px",
    "read_share",
    "read_shares",
    "read_signed_number",
    "read_size",
    "read_temperature",
    "read_temperatures",
    "read_volume",
    "read_volumes",
    "read_yes_no",
]

T = TypeVar("T")
# A large notebook writes a few thousand different quantities.
_REMEMBERED: Final = 4096


def _remembered(reader: Callable[[str], T]) -> Callable[[str], T]:
    return lru_cache(maxsize=_REMEMBERED)(reader)


def _read(text: str, wanted: str, form: Callable[[str], T]) -> T:
    tidy = tidied(text)
    try:
        return form(tidy)
    except NotThis as not_this:
        raise refusal(text, tidy, wanted, form, not_this) from None


def _one(text: str, dimension: str) -> float:
    return float(_read(text, dimension, lambda tidy: grammar.scalar(tidy, dimension)).value)


def _low_high(text: str, dimension: str) -> tuple[float, float]:
    def form(tidy: str) -> grammar.Range:
        return grammar.ranged(tidy, lambda part: grammar.scalar(part, dimension))

    low, high = _read(text, dimension + " range", form)
    return float(low), float(high)


@_remembered
def read_mass(text: str) -> float:
    """Mass in g: ``85 g``, ``4 lb 5.2 oz``."""
    return _one(text, "mass")


@_remembered
def read_masses(text: str) -> tuple[float, float]:
    """Lowest and highest mass in g: ``3.6-3.8 oz``; the same twice for a single mass."""
    return _low_high(text, "mass")


@_remembered
def read_volume(text: str) -> float:
    """Volume in mL: ``2.5 mL``, ``2 1/2 tsp``."""
    return _one(text, "volume")


@_remembered
def read_volumes(text: str) -> tuple[float, float]:
    """Lowest and highest volume in mL: ``2-3 mL``; the same twice for a single volume."""
    return _low_high(text, "volume")


@_remembered
def read_length(text: str) -> float:
    """Length in mm: ``1.5 mm``, ``3/8 in``."""
    return _one(text, "length")


@_remembered
def read_lengths(text: str) -> tuple[float, float]:
    """Lowest and highest length in mm: ``3-5 mm``; the same twice for a single length."""
    return _low_high(text, "length")


@_remembered
def read_duration(text: str) -> float:
    """Duration in min: ``8 min``, ``1 h 20 min``."""
    return _one(text, "duration")


@_remembered
def read_durations(text: str) -> tuple[float, float]:
    """Lowest and highest duration in min: ``10-15 min``; the same twice for a single duration."""
    return _low_high(text, "duration")


@_remembered
def read_amount(text: str) -> Amount:
    """What there is of a thing: ``6 g``, ``2.5 mL``, ``12 drops``, ``40`` pieces."""
    return _read(text, "amount", grammar.amount)


@_remembered
def read_size(text: str) -> tuple[float, float]:
    """Width and height in mm: ``80 x 55 mm``."""
    width, height = _read(text, "size", grammar.size)
    return float(width), float(height)


@_remembered
def read_temperature(text: str) -> float:
    """Temperature in degC: ``165 F``, ``74 °C``; not below absolute zero."""
    return float(_read(text, "temperature", grammar.temperature).value)


@_remembered
def read_temperatures(text: str) -> tuple[float, float]:
    """Lowest and highest temperature in degC: ``165-176 F``."""
    low, high = _read(
        text, "temperature range", lambda tidy: grammar.ranged(tidy, grammar.temperature)
    )
    return float(low), float(high)


@_remembered
def read_share(text: str) -> float:
    """A share as a fraction from 0 to 1: ``3 %`` is 0.03."""
    return float(_read(text, "share", grammar.share).value)


@_remembered
def read_shares(text: str) -> tuple[float, float]:
    """Lowest and highest share as fractions: ``3-5 %``."""
    low, high = _read(text, "share range", lambda tidy: grammar.ranged(tidy, grammar.share))
    return float(low), float(high)


@_remembered
def read_count(text: str) -> int:
    """A whole number, 0 or more: ``6``."""
    return _read(text, "count", grammar.count)


@_remembered
def read_number(text: str) -> float:
    """A number without a unit, 0 or more: ``4``, ``2.5``, ``1/2``."""
    return float(_read(text, "number", grammar.number))


@_remembered
def read_signed_number(text: str) -> float:
    """A number without a unit that may lie below 0: ``-2.5``."""
    return float(_read(text, "signed number", grammar.signed_number))


@_remembered
def read_density(text: str) -> tuple[float, float]:
    """Lowest and highest density in g/mL: ``1.03 g/mL``, ``1020-1050 kg/m3``."""
    low, high = _read(text, "density", lambda tidy: grammar.rated(tidy, DENSITIES))
    return float(low), float(high)


@_remembered
def read_thermal_conductivity(text: str) -> tuple[float, float]:
    """Lowest and highest thermal conductivity in W/(m K): ``0.25-0.30 W/mK``."""
    low, high = _read(
        text, "thermal conductivity", lambda tidy: grammar.rated(tidy, CONDUCTIVITIES)
    )
    return float(low), float(high)


@_remembered
def read_heat_capacity(text: str) -> tuple[float, float]:
    """Lowest and highest specific heat in J/(kg K): ``2800 J/kgK``."""
    low, high = _read(text, "heat capacity", lambda tidy: grammar.rated(tidy, HEAT_CAPACITIES))
    return float(low), float(high)


@_remembered
def read_latent_heat(text: str) -> tuple[float, float]:
    """Lowest and highest latent heat of melting in kJ/kg: ``45 kJ/kg``."""
    low, high = _read(text, "latent heat", lambda tidy: grammar.rated(tidy, LATENT_HEATS))
    return float(low), float(high)


@_remembered
def read_money(text: str) -> Decimal:
    """Money in the studio's currency, exactly as written: ``4.10``."""
    return _read(text, "money", grammar.money)


@_remembered
def read_price(text: str) -> Price:
    """Money for so much: ``4.10/lb``, ``6.20/100 mL``, ``0.85`` or ``0.85/each``."""
    return _read(text, "price", grammar.price)


@_remembered
def read_dose(text: str) -> Dose:
    """How much goes into the base: ``5 mL/lb``, ``3 %``, ``2 drops/bar``, ``2.5 mL`` a pot."""
    return _read(text, "dose", grammar.dose)


@_remembered
def read_mm_per_px(text: str) -> float:
    """Scale of a picture in mm a pixel, above 0: ``0.08 mm/px``."""
    return float(_read(text, "scale", grammar.mm_per_px))


@_remembered
def read_px(text: str) -> float:
    """A length in a picture, in pixels: ``0.8 px``, or the bare number."""
    return float(_read(text, "pixels", grammar.pixels))


@_remembered
def read_moment(text: str) -> Moment:
    """When something was done: ``0:08``, ``14:05``, ``2:05 pm``, ``8 min``."""
    return _read(text, "moment", grammar.moment)


@_remembered
def read_date(text: str) -> datetime.date:
    """A day of the calendar, as in ISO 8601: ``2026-04-18``."""
    return _read(text, "date", grammar.date)


@_remembered
def read_yes_no(text: str) -> bool:
    """``yes`` or ``no``, exactly."""
    return _read(text, "yes or no", grammar.yes_no)
