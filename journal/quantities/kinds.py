"""Results of the readers of quantities that take more than one number."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from msgspec import Struct

from journal.quantities.units import UNIT_BY_SPELLING


class Amount(Struct, frozen=True):
    """An amount of something: its mass, its volume or its number of pieces."""

    kind: Literal["mass", "volume", "count"]
    value: float
    """g, mL or pieces"""
    rough: bool = False
    """written in drops, so off by up to a factor of two"""


class Spoon(Struct, frozen=True, cache_hash=True):
    """A measuring spoon, by the number and the unit that stand on it."""

    number: Fraction
    unit: str
    """the symbol of a unit of volume"""

    @property
    def volume_ml(self) -> Fraction:
        """What it holds when level, in mL; exact."""
        return self.number * UNIT_BY_SPELLING[self.unit].factor


class Dose(Struct, frozen=True):
    """The dose of an oil, colour or additive, and what it is a dose for."""

    kind: Literal["mass", "volume", "share"]
    value: float
    """g, mL, or mass of the oil as a fraction of the mass of base"""
    per: Literal["base", "bar", "pot"]
    per_g: float | None = None
    """grams of base that ``value`` goes into; None for a share and for a dose per bar or pot"""
    rough: bool = False
    """written in drops, so off by up to a factor of two"""


class Price(Struct, frozen=True):
    """A price: ``amount`` of money, in the studio's currency, buys ``quantity`` of something."""

    amount: Decimal
    per: Literal["mass", "volume", "each"]
    quantity: Fraction
    """g, mL or pieces that ``amount`` buys"""


class DayOrMonth(Struct, frozen=True):
    """A day, or a whole month as papers are dated by; ``first`` is its first day."""

    first: date
    is_month: bool

    def isoformat(self) -> str:
        """As it is written: ``2026-04-18`` or ``2026-04``."""
        return self.first.isoformat()[: 7 if self.is_month else 10]


class Moment(Struct, frozen=True):
    """A time at which something was done; only the differences between two are of use."""

    minutes: float
    """from midnight for a time of day, else from the start that the maker chose"""
    form: Literal["clock", "twelve-hour", "duration"]
    """``14:05`` or ``0:08``; ``2:05 pm``; ``8 min``. One form within a pot."""
