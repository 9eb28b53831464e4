"""What each reader takes, as a regular expression that an editor can hold a value against.

Built from the tables of units and the patterns that ``grammar`` reads by. A form takes all that
its reader takes. What no pattern can tell is left to the reader: a range upside down, a part of
60 min or more, a temperature below absolute zero.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final

from msgspec import Struct
from msgspec.structs import replace

from journal.quantities import grammar, read
from journal.quantities.number import FRACTION_SLASH, MINUS, MOST_DIGITS, NUMBER, SOME_DIGIT
from journal.quantities.units import (
    CONDUCTIVITIES,
    DENSITIES,
    HEAT_CAPACITIES,
    LATENT_HEATS,
    UNITS,
    Unit,
)


class WrittenForm(Struct, frozen=True):
    """The texts that a reader takes: those that match ``pattern`` as a whole, once tidied.

    ``number`` says which numbers, unquoted in YAML, it takes as well: "" for none, else "integer"
    or "number", not below ``least`` unless ``signed``.
    """

    pattern: str
    number: str = ""
    signed: bool = False
    least: int = 0

    @property
    def grouped(self) -> str:
        """The pattern as a part of another."""
        return f"(?:{self.pattern})"

    @property
    def expression(self) -> str:
        """A regular expression for the text as written: any blanks, either slash, anchored.

        It is one of ECMA-262 with the flag "u", as JSON Schema has it, and of Python alike.
        """
        text = self.pattern.replace(" ?", r"\s*").replace(" ", r"\s+")
        return rf"^\s*(?:{text.replace('/', f'[/{FRACTION_SLASH}]')})\s*$"


def _any_of(patterns: Iterable[str]) -> str:
    return f"(?:{'|'.join(patterns)})"


def _literal(text: str) -> str:
    """A text as a pattern; a blank or a slash in it stays what ``expression`` changes."""
    return re.sub(r"[\\^$.*+?()\[\]{}|]", r"\\\g<0>", text)


def _spelt(units: Iterable[Unit]) -> str:
    """Any spelling of these units."""
    return _any_of(_literal(word) for unit in units for word in (unit.symbol, *unit.spellings))


def _of(dimension: str) -> list[Unit]:
    return [unit for unit in UNITS if unit.dimension == dimension]


def _sum(dimension: str) -> str:
    """``grammar.scalar``: parts in units of one family, the larger before the smaller."""
    sums = []
    for family in dict.fromkeys(unit.family for unit in _of(dimension)):
        units = [unit for unit in _of(dimension) if unit.family == family]
        units.sort(key=lambda unit: unit.factor, reverse=True)
        for place, last in enumerate(units):
            larger = (f"(?:{NUMBER} ?{_spelt([unit])} ?)?" for unit in units[:place])
            sums.append(f"{''.join(larger)}{NUMBER} ?{_spelt([last])}")
    return _any_of(sums)


def _range(single: str, sign: str = "") -> str:
    """``grammar.parse_range``: one quantity, or two whose first may do without its unit."""
    return f"(?:(?:{single}|{sign}{NUMBER}){grammar.RANGE_SIGN})?{single}"


def _property(units: Mapping[str, object]) -> WrittenForm:
    return WrittenForm(_range(f"{NUMBER} ?{_any_of(map(_literal, units))}"))


_SIGN = f"[{MINUS}]?"
_MASS, _VOLUME, _LENGTH, _DURATION = map(_sum, ("mass", "volume", "length", "duration"))
# No three digits but 100: more than the whole.
_SHARE = rf"(?!0*(?!100(?:\.0+)?(?![0-9.]))[1-9][0-9]{{2}}){_sum('share')}"
_TEMPERATURE = f"{_SIGN}{NUMBER} ?{_spelt(_of('temperature'))}"
_SPOONS = _spelt(unit for unit in _of("volume") if not unit.rough)
_COUNT = f"[0-9]{{1,{MOST_DIGITS}}}"
_MASS_OR_VOLUME = _any_of((_MASS, _VOLUME))
# A dose is for a mass of base, a price for a mass or a volume; one of it where no number stands,
# and never 0 of it.
_SO_MUCH = rf"(?:(?!0+(?:\.0+)? ?[A-Za-z]){NUMBER} ?)?"
_BASE = f"{_SO_MUCH}{_spelt(_of('mass'))}"
_SOLD = f"{_SO_MUCH}{_any_of((_spelt(_of('mass')), _SPOONS))}"
# No minutes from 60; no day that its month has not, but for the leap year's.
_CLOCK = f"(?![0-9]+:[6-9]){grammar.CLOCK}"
_DAYS = "(?:0[1-9]|1[0-2])-(?:0[1-9]|[12][0-9]|3[01])"
_DATE = f"(?=(?:19|20|21)[0-9]{{2}}-{_DAYS})(?![0-9]+-(?:02-3[01]|0[469]-31|11-31)){grammar.DATE}"
_MONTH = "(?:19|20|21)[0-9]{2}-(?:0[1-9]|1[0-2])"

FORMS: Final[Mapping[Callable[[str], Any], WrittenForm]] = {
    read.read_mass: WrittenForm(_MASS),
    read.read_masses: WrittenForm(_range(_MASS)),
    read.read_volume: WrittenForm(_VOLUME),
    read.read_spoon: WrittenForm(f"(?=.*{SOME_DIGIT}){NUMBER} ?{_SPOONS}"),
    read.read_length: WrittenForm(_LENGTH),
    read.read_duration: WrittenForm(_DURATION),
    read.read_amount: WrittenForm(f"{_COUNT}(?: ?each)?|{_MASS_OR_VOLUME}", "integer"),
    read.read_size: WrittenForm(f"(?:{_LENGTH}|{NUMBER}){grammar.BY}{_LENGTH}"),
    read.read_temperature: WrittenForm(_TEMPERATURE),
    read.read_temperatures: WrittenForm(_range(_TEMPERATURE, _SIGN)),
    read.read_share: WrittenForm(_SHARE),
    read.read_count: WrittenForm(_COUNT, "integer"),
    read.read_number: WrittenForm(NUMBER, "number"),
    read.read_signed_number: WrittenForm(f"{_SIGN}{NUMBER}", "number", signed=True),
    read.read_density: _property(DENSITIES),
    read.read_thermal_conductivity: _property(CONDUCTIVITIES),
    read.read_heat_capacity: _property(HEAT_CAPACITIES),
    read.read_latent_heat: _property(LATENT_HEATS),
    read.read_money: WrittenForm(grammar.MONEY, "number"),
    read.read_price: WrittenForm(f"{grammar.MONEY}(?: ?/ ?(?:each|{_SOLD}))?", "number"),
    read.read_dose: WrittenForm(f"{_SHARE}|{_MASS_OR_VOLUME}(?: ?/ ?(?:bar|pot|{_BASE}))?"),
    read.read_mm_per_px: WrittenForm(f"{_LENGTH} ?/ ?px"),
    read.read_px: WrittenForm(f"{NUMBER} ?(?:px)?", "number"),
    read.read_moment: WrittenForm(f"{_CLOCK}|{_DURATION}"),
    read.read_date: WrittenForm(_DATE),
    read.read_day_or_month: WrittenForm(f"{_DATE}|{_MONTH}"),
    read.read_yes_no: WrittenForm("yes|no"),
}


def some_of(form: WrittenForm) -> WrittenForm:
    """The form without what holds no digit but 0, which is nothing at all."""
    least = 1 if form.number == "integer" else 0
    return replace(form, pattern=f"(?=.*{SOME_DIGIT}){form.grouped}", least=least)


def either(first: WrittenForm, second: WrittenForm) -> WrittenForm:
    """What one of two readers takes; numbers as the first has them."""
    return replace(first, pattern=f"{first.pattern}|{second.pattern}")
