"""Text to number: one reader for each kind of quantity.

A reader takes the text as it was written and gives the stored unit of its kind, or
raises QuantityError with what is wrong and a hint. It fails for no text in any other way.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial
from typing import Final, TypeVar

from journal.quantities import grammar
from journal.quantities.number import FormMismatch, normalised
from journal.quantities.refusal import quantity_error
from journal.quantities.units import CONDUCTIVITIES, DENSITIES, HEAT_CAPACITIES, LATENT_HEATS

Form = TypeVar("Form")
T = TypeVar("T")
# A large notebook writes a few thousand different quantities.
_CACHE_SIZE: Final = 4096


def _reader(
    kind_name: str, form: Callable[[str], Form], stored: Callable[[Form], T]
) -> Callable[[str], T]:
    """Make the reader of one kind of quantity; it caches its results.

    Takes:  kind_name  the kind's name in the table of ``quantity_error``
            form       function of ``grammar``: from the tidied text to an exact value
            stored     function from the exact value to what the reader gives
    """

    @lru_cache(maxsize=_CACHE_SIZE)
    def read(text: str) -> T:
        """The quantity in its stored unit; QuantityError if the text is none."""
        tidy = normalised(text)
        try:
            return stored(form(tidy))
        except FormMismatch as mismatch:
            raise quantity_error(text, tidy, kind_name, form, mismatch) from None

    return read


def _value(scalar: grammar.ScalarQuantity) -> float:
    return float(scalar.value)


def _low_high(ends: grammar.FractionRange) -> tuple[float, float]:
    return float(ends[0]), float(ends[1])


def _unchanged(value: T) -> T:
    return value


_mass = partial(grammar.scalar, dimension="mass")

read_mass = _reader("mass", _mass, _value)
"""Mass in g: ``85 g``, ``4 lb 5.2 oz``."""

read_masses = _reader("mass range", partial(grammar.parse_range, single=_mass), _low_high)
"""Lowest and highest mass in g: ``3.6-3.8 oz``; the same twice for a single mass."""

read_volume = _reader("volume", partial(grammar.scalar, dimension="volume"), _value)
"""Volume in mL: ``2.5 mL``, ``2 1/2 tsp``."""

read_spoon = _reader("volume", grammar.spoon, _unchanged)
"""A measuring spoon: ``1/8 tsp``, ``1 tbsp``, ``2.5 mL``."""

read_length = _reader("length", partial(grammar.scalar, dimension="length"), _value)
"""Length in mm: ``1.5 mm``, ``3/8 in``."""

read_duration = _reader("duration", partial(grammar.scalar, dimension="duration"), _value)
"""Duration in min: ``8 min``, ``1 h 20 min``."""

read_amount = _reader("amount", grammar.amount, _unchanged)
"""Amount of a thing: ``6 g``, ``2.5 mL``, ``12 drops``, ``40`` pieces."""

read_size = _reader("size", grammar.size, _low_high)
"""Width and height in mm: ``80 x 55 mm``."""

read_temperature = _reader("temperature", grammar.temperature, _value)
"""Temperature in degC: ``165 F``, ``74 °C``; not below absolute zero."""

read_temperatures = _reader(
    "temperature range", partial(grammar.parse_range, single=grammar.temperature), _low_high
)
"""Lowest and highest temperature in degC: ``165-176 F``."""

read_share = _reader("share", grammar.share, _value)
"""A share as a fraction from 0 to 1: ``3 %`` is 0.03."""

read_count = _reader("count", grammar.count, _unchanged)
"""A whole number, 0 or more: ``6``."""

read_number = _reader("number", grammar.number, float)
"""A number without a unit, 0 or more: ``4``, ``2.5``, ``1/2``."""

read_signed_number = _reader("signed number", grammar.signed_number, float)
"""A number without a unit that may lie below 0: ``-2.5``."""

read_density = _reader("density", partial(grammar.parse_property_range, units=DENSITIES), _low_high)
"""Lowest and highest density in g/mL: ``1.03 g/mL``, ``1020-1050 kg/m3``."""

read_thermal_conductivity = _reader(
    "thermal conductivity", partial(grammar.parse_property_range, units=CONDUCTIVITIES), _low_high
)
"""Lowest and highest thermal conductivity in W/(m K): ``0.25-0.30 W/mK``."""

read_heat_capacity = _reader(
    "heat capacity", partial(grammar.parse_property_range, units=HEAT_CAPACITIES), _low_high
)
"""Lowest and highest specific heat in J/(kg K): ``2800 J/kgK``."""

read_latent_heat = _reader(
    "latent heat", partial(grammar.parse_property_range, units=LATENT_HEATS), _low_high
)
"""Lowest and highest latent heat of melting in kJ/kg: ``45 kJ/kg``."""

read_money = _reader("money", grammar.money, _unchanged)
"""Money in the studio's currency, exactly as written: ``4.10``."""

read_price = _reader("price", grammar.price, _unchanged)
"""Price of a quantity: ``4.10/lb``, ``6.20/100 mL``, ``0.85`` or ``0.85/each``."""

read_dose = _reader("dose", grammar.dose, _unchanged)
"""Dose of an oil, colour or additive: ``5 mL/lb``, ``3 %``, ``2 drops/bar``, ``2.5 mL`` a pot."""

read_mm_per_px = _reader("scale", grammar.mm_per_px, float)
"""Scale of a picture in mm a pixel, above 0: ``0.08 mm/px``."""

read_px = _reader("pixels", grammar.pixels, float)
"""A length in a picture, in pixels: ``0.8 px``, or the bare number."""

read_moment = _reader("moment", grammar.moment, _unchanged)
"""Time at which something was done: ``0:08``, ``14:05``, ``2:05 pm``, ``8 min``."""

read_date = _reader("date", grammar.date, _unchanged)
"""A day of the calendar, as in ISO 8601: ``2026-04-18``."""

read_day_or_month = _reader("day or month", grammar.day_or_month, _unchanged)
"""A day, or a whole month: ``2026-04-18``, ``2026-04``."""

read_yes_no = _reader("yes or no", grammar.yes_no, _unchanged)
"""``yes`` or ``no``, exactly."""
