"""The grammar of each kind of quantity, one function a kind, named after it.

Each takes a text that ``number.normalised`` has tidied and gives its value in stored units, as
an exact fraction where it can; it raises FormMismatch if the text has another form. The examples
in the docstrings are texts that it takes.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal, NamedTuple

from journal.quantities.kinds import Amount, DayOrMonth, Dose, Moment, Price, Spoon
from journal.quantities.number import (
    MINUS,
    MOST_DIGITS,
    NUMBER,
    NUMBER_START,
    FormMismatch,
    excerpt,
    parse_fraction,
)
from journal.quantities.units import ABSOLUTE_ZERO_C, UNIT_BY_SPELLING, Unit

FractionRange = tuple[Fraction, Fraction]

_NUMBER = re.compile(NUMBER)
# A number, and what stands behind it up to the next number.
_PART = re.compile(rf"({NUMBER}) ?((?:(?!{NUMBER_START}).)*)")
_SIGNED = re.compile(rf"([{MINUS}]?)({NUMBER}) ?(.*)")
# The dashes that keyboards and word processors make, and the word.
RANGE_SIGN: Final = " ?(?:[-‐‑‒–—−]| to ) ?"
_TO = re.compile(rf"{RANGE_SIGN}(?=[{MINUS}]?{NUMBER_START})")
_DASHED = re.compile(r"[0-9]-[0-9]+/[0-9]")
BY: Final = " ?[x×] ?"
_BY = re.compile(BY)
CLOCK: Final = r"([0-9]{1,3}):([0-9]{2})(?: ?([AaPp])\.?[Mm]\.?)?"
_CLOCK = re.compile(CLOCK)
DATE: Final = "([0-9]{4})-([0-9]{2})-([0-9]{2})"
_DATE = re.compile(DATE)
_MONTH = re.compile("[0-9]{4}-(?:0[1-9]|1[0-2])")
MONEY: Final = r"[0-9]+(?:\.[0-9]+)?"
_MONEY = re.compile(MONEY)


class ScalarQuantity(NamedTuple):
    """One quantity: its value in the stored unit, and the units that it was written in."""

    value: Fraction
    units: tuple[Unit, ...]

    @property
    def rough(self) -> bool:
        """Whether one of the units is off by up to a factor of two."""
        return any(unit.rough for unit in self.units)


def number(text: str) -> Fraction:
    """A number without a sign or unit: ``2 1/2``"""
    if not _NUMBER.fullmatch(text):
        raise FormMismatch
    return parse_fraction(text)


def signed_number(text: str) -> Fraction:
    """A number without a unit, which may be below 0: ``-2 1/2``"""
    if text[:1] in tuple(MINUS):
        return -number(text[1:])
    return number(text)


def count(text: str) -> int:
    """A whole number, 0 or more: ``12``"""
    if not (text.isascii() and text.isdigit()) or len(text) > MOST_DIGITS:
        raise FormMismatch
    return int(text)


def scalar(text: str, dimension: str) -> ScalarQuantity:
    """A sum of parts in units of one ``dimension``: ``85 g``, ``4 lb 5.2 oz``, ``1 h 20 min``"""
    total = Fraction(0)
    units: list[Unit] = []
    size: Fraction | None = None
    at = 0
    while at < len(text):
        part = _PART.match(text, at)
        if part is None:
            raise FormMismatch
        written, spelling = part[1], part[2].strip(" ")
        unit = UNIT_BY_SPELLING.get(spelling)
        if unit is None or unit.dimension != dimension:
            raise FormMismatch(unit=spelling)
        size = parse_fraction(written)
        if units:
            _check_order(units[-1], unit, size, written, text)
        units.append(unit)
        total += size * unit.factor
        at = part.end()
        if at < len(text) and size.denominator != 1:
            raise FormMismatch(
                f"{excerpt(text)} has a fraction before its last part",
                'Only the last part may have one, such as "4 lb 5.2 oz".',
            )
    if not units:
        raise FormMismatch
    return ScalarQuantity(total, tuple(units))


def _check_order(larger: Unit, unit: Unit, size: Fraction, written: str, text: str) -> None:
    """Raise FormMismatch unless a part, in a smaller unit of the family, is under 1 ``larger``."""
    if larger.family != unit.family or larger.factor <= unit.factor or unit.family == "F":
        raise FormMismatch(
            f"{excerpt(text)} joins units that do not go together",
            'Put the larger unit first, such as "4 lb 5.2 oz" or "1 h 20 min".',
        )
    if size * unit.factor >= larger.factor:
        raise FormMismatch(
            f"in {excerpt(text)}, {written} {unit.symbol} is a whole {larger.symbol} or more",
            'Carry it over into the larger unit, as in "1 h 20 min".',
        )


def temperature(text: str) -> ScalarQuantity:
    """A temperature in degC, not below absolute zero: ``165 F``, ``-5 °C``"""
    match = _SIGNED.fullmatch(text)
    if match is None:
        raise FormMismatch
    unit = UNIT_BY_SPELLING.get(match[3])
    if unit is None or unit.dimension != "temperature":
        raise FormMismatch(unit=match[3])
    degrees = parse_fraction(match[2]) * (-1 if match[1] else 1)
    celsius = (degrees - 32) * unit.factor if unit.symbol == "F" else degrees
    if celsius < ABSOLUTE_ZERO_C:
        hint = "Check the number, its sign and the unit."
        raise FormMismatch(f"{excerpt(text)} is below absolute zero", hint)
    return ScalarQuantity(celsius, (unit,))


def parse_range(text: str, single: Callable[[str], ScalarQuantity]) -> FractionRange:
    """Low and high end of a range: ``3.6-3.8 oz``, ``165 to 176 F``

    ``single`` is the grammar of one end. One quantity alone gives itself as both ends.
    """
    split = _TO.search(text, 1)
    if split is None:
        value = single(text).value
        return value, value
    left, right = text[: split.start()], text[split.end() :]
    high = single(right)
    if _NUMBER.fullmatch(left.lstrip(MINUS)):
        if len(high.units) != 1:
            raise FormMismatch
        # The symbol is a spelling of the unit, whichever one stands on the right.
        left = f"{left} {high.units[0].symbol}"
    low = single(left)
    if low.value > high.value:
        hint = "Write the smaller figure first."
        if _DASHED.search(text):
            hint = f"{hint} A number and its fraction take a blank, not a dash."
        raise FormMismatch(f"the range {excerpt(text)} is upside down", hint)
    return low.value, high.value


def parse_property_range(text: str, units: Mapping[str, Fraction]) -> FractionRange:
    """Low and high end of a material's property: ``1.02-1.05 g/mL``; ``units`` has its units."""

    def single(part: str) -> ScalarQuantity:
        """One value above 0 with one of ``units``."""
        match = _NUMBER.match(part)
        if match is None:
            raise FormMismatch
        spelling = part[match.end() :].strip(" ")
        factor = units.get(spelling)
        if factor is None:
            raise FormMismatch(unit=spelling)
        value = parse_fraction(match[0]) * factor
        if value == 0:
            raise FormMismatch(f"{excerpt(text)} is nothing at all", "Write a figure above 0.")
        return ScalarQuantity(value, (Unit(spelling, "property", factor, "property"),))

    return parse_range(text, single)


def size(text: str) -> FractionRange:
    """Width and height in mm: ``80 x 55 mm``"""
    sides = _BY.split(text)
    if len(sides) != 2:
        raise FormMismatch
    height = scalar(sides[1], "length")
    left = sides[0]
    if _NUMBER.fullmatch(left):
        left = f"{left} {height.units[0].symbol}"
    width = scalar(left, "length")
    if not (width.value and height.value):
        raise FormMismatch(f"{excerpt(text)} has a side of 0", "Write both sides, above 0.")
    return width.value, height.value


def share(text: str) -> ScalarQuantity:
    """A share as a fraction from 0 to 1: ``3 %``"""
    part = scalar(text, "share")
    if part.value > 1:
        what = f"{excerpt(text)} is more than the whole"
        raise FormMismatch(what, 'Write a share up to "100 %".')
    return part


def _mass_or_volume(text: str) -> tuple[ScalarQuantity, Literal["mass", "volume"]]:
    """A mass in g or a volume in mL, and which of the two it is."""
    try:
        return scalar(text, "mass"), "mass"
    except FormMismatch as mismatch:
        if mismatch.what:
            raise
    return scalar(text, "volume"), "volume"


def amount(text: str) -> Amount:
    """An amount: ``6 g``, ``2.5 mL``, ``12 drops``; ``40`` or ``40 each`` is pieces"""
    pieces = text.removesuffix("each").rstrip(" ")
    if pieces.isdigit():
        return Amount("count", float(count(pieces)))
    quantity, kind = _mass_or_volume(text)
    return Amount(kind, float(quantity.value), quantity.rough)


def spoon(text: str) -> Spoon:
    """A measuring spoon: ``1/8 tsp``, ``1 tbsp``, ``2.5 mL``"""
    quantity = scalar(text, "volume")
    if len(quantity.units) != 1 or quantity.rough or not quantity.value:
        raise FormMismatch(f"{excerpt(text)} is no spoon", 'Write one volume, such as "1/8 tsp".')
    unit = quantity.units[0]
    return Spoon(quantity.value / unit.factor, unit.symbol)


def _priced_quantity(text: str) -> tuple[ScalarQuantity, Literal["mass", "volume"]]:
    """The quantity that a price or dose is for: ``100 g``, or a unit alone, ``lb`` for 1 lb.

    Gives the quantity and its kind; FormMismatch for zero and for a quantity of several units.
    """
    quantity, kind = _mass_or_volume(text if _NUMBER.match(text) else f"1 {text}")
    if len(quantity.units) != 1 or not quantity.value:
        raise FormMismatch
    return quantity, kind


def dose(text: str) -> Dose:
    """A dose: ``5 mL/lb``, ``3 %``, ``2 drops/bar``, ``2.5 mL`` (per pot)"""
    if text.endswith("%"):
        return Dose("share", float(share(text).value), "base")
    try:
        whole, kind = _mass_or_volume(text)
        return Dose(kind, float(whole.value), "pot", None, whole.rough)
    except FormMismatch as mismatch:
        # A slash also makes fractions: only what is left after them divides.
        if mismatch.what or "/" not in text:
            raise
    top, _, bottom = (part.strip(" ") for part in text.rpartition("/"))
    dosed, kind = _mass_or_volume(top)
    if bottom == "bar":
        return Dose(kind, float(dosed.value), "bar", None, dosed.rough)
    if bottom == "pot":
        return Dose(kind, float(dosed.value), "pot", None, dosed.rough)
    base, base_kind = _priced_quantity(bottom)
    if base_kind == "volume":
        raise FormMismatch(
            f"{excerpt(text)} is a dose for a volume of base, and base is weighed",
            'Write it for a mass, such as "5 mL/lb" or "8 g/kg".',
        )
    return Dose(kind, float(dosed.value), "base", float(base.value), dosed.rough)


def money(text: str) -> Decimal:
    """Money in the studio's currency: ``4.10``"""
    if not _MONEY.fullmatch(text) or len(text) > MOST_DIGITS:
        raise FormMismatch
    return Decimal(text)


def price(text: str) -> Price:
    """A price: ``4.10/lb``, ``6.20/100 mL``, ``0.85`` or ``0.85/each``"""
    top, slash, bottom = text.partition("/")
    paid = money(top.rstrip(" "))
    bottom = bottom.strip(" ")
    if not slash or bottom == "each":
        return Price(paid, "each", Fraction(1))
    quantity, kind = _priced_quantity(bottom)
    if quantity.rough:
        raise FormMismatch(f"{excerpt(text)} is a price for drops", 'Write it for "mL" or "g".')
    return Price(paid, kind, quantity.value)


def mm_per_px(text: str) -> Fraction:
    """The scale of a picture in mm per pixel, above 0: ``0.08 mm/px``"""
    top, _, bottom = text.rpartition("/")
    if bottom.strip(" ") != "px":
        raise FormMismatch
    length = scalar(top.rstrip(" "), "length").value
    if not length:
        raise FormMismatch(f"{excerpt(text)} is a scale of 0", "Write how much one pixel shows.")
    return length


def pixels(text: str) -> Fraction:
    """A length in pixels: ``0.8 px``, or the bare number, as a picture has no other unit"""
    return number(text.removesuffix("px").rstrip(" "))


def moment(text: str) -> Moment:
    """A time in minutes, with its form: ``0:08``, ``14:05``, ``2:05 pm``, ``8 min``"""
    match = _CLOCK.fullmatch(text)
    if match is None:
        return Moment(float(scalar(text, "duration").value), "duration")
    hours, minutes = int(match[1]), int(match[2])
    if minutes > 59:
        raise FormMismatch(
            f"the time {excerpt(text)} has more than 59 minutes past the hour",
            'Write hours and minutes, such as "1:20".',
        )
    if not match[3]:
        return Moment(float(60 * hours + minutes), "clock")
    if not 1 <= hours <= 12:
        raise FormMismatch(
            f"the time {excerpt(text)} has an hour that no twelve-hour clock shows",
            'Write "2:05 pm" or "14:05".',
        )
    afternoon = 12 if match[3] in "Pp" else 0
    return Moment(float(60 * (hours % 12 + afternoon) + minutes), "twelve-hour")


def date(text: str) -> datetime.date:
    """A day from 1900 to 2199: ``2026-04-18``"""
    match = _DATE.fullmatch(text)
    if match is None:
        raise FormMismatch
    try:
        day = datetime.date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        what = f"{excerpt(text)} is no day of the calendar"
        raise FormMismatch(what, "Check the year, month and day.") from None
    # A slip such as 0206 for 2026 would age a bar by eighteen centuries.
    if not 1900 <= day.year <= 2199:
        raise FormMismatch(f"the year of {excerpt(text)} cannot be meant", "Check its four digits.")
    return day


def day_or_month(text: str) -> DayOrMonth:
    """A day, or a month of it: ``2026-04-18``, ``2026-04``"""
    is_month = _MONTH.fullmatch(text) is not None
    return DayOrMonth(date(f"{text}-01" if is_month else text), is_month)


def yes_no(text: str) -> bool:
    """True for ``yes``, False for ``no``"""
    if text not in ("yes", "no"):
        raise FormMismatch
    return text == "yes"
