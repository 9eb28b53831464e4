"""The error for a text that is no quantity of the expected kind: what is wrong, and a hint."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import cache, partial
from pathlib import Path
from typing import Any, Final, NamedTuple

from journal.errors import QuantityError
from journal.quantities import grammar
from journal.quantities.number import MINUS, NUMBER, NUMBER_START, FormMismatch, excerpt
from journal.quantities.units import (
    CONDUCTIVITIES,
    DENSITIES,
    HEAT_CAPACITIES,
    LATENT_HEATS,
    UNIT_BY_SPELLING,
    UNITS,
)

Grammar = Callable[[str], Any]


class _Kind(NamedTuple):
    """A kind of quantity: its name in messages, an example, and the units that it takes."""

    noun: str
    example: str
    units: tuple[str, ...] = ()


def _symbols(*dimensions: str) -> tuple[str, ...]:
    """The symbols of all units of these dimensions; ``drops`` in the plural."""
    return tuple(
        # One drop is seldom written.
        "drops" if unit.symbol == "drop" else unit.symbol
        for unit in UNITS
        if unit.dimension in dimensions
    )


# What is each kind called in a message, and what does one look like?
_KINDS: Final[dict[str, _Kind]] = {
    "mass": _Kind("a mass", "85 g", _symbols("mass")),
    "volume": _Kind("a volume", "2.5 mL", _symbols("volume")),
    "length": _Kind("a length", "1.5 mm", _symbols("length")),
    "duration": _Kind("a duration", "15 min", _symbols("duration")),
    "temperature": _Kind("a temperature", "131 F", _symbols("temperature")),
    "share": _Kind("a share", "3 %", ("%",)),
    "mass range": _Kind("a mass or a range", "3.6-3.8 oz", _symbols("mass")),
    "temperature range": _Kind("a temperature or a range", "165-176 F", ("F", "C")),
    "amount": _Kind("an amount", "6 g", (*_symbols("mass", "volume"), "each")),
    "size": _Kind("a size", "80 x 55 mm", _symbols("length")),
    "count": _Kind("a whole number", "6"),
    "number": _Kind("a number", "2.5"),
    "signed number": _Kind("a number", "-2.5"),
    "density": _Kind("a density", "1.03 g/mL", tuple(DENSITIES)),
    "thermal conductivity": _Kind("a thermal conductivity", "0.30 W/mK", tuple(CONDUCTIVITIES)),
    "heat capacity": _Kind("a heat capacity", "2800 J/kgK", tuple(HEAT_CAPACITIES)),
    "latent heat": _Kind("a latent heat", "45 kJ/kg", tuple(LATENT_HEATS)),
    "money": _Kind("a sum of money", "4.10"),
    "price": _Kind("a price", "4.10/lb", (*_symbols("mass", "volume"), "each")),
    "dose": _Kind("a dose", "5 mL/lb", (*_symbols("mass", "volume"), "bar", "pot")),
    "scale": _Kind("a scale", "0.08 mm/px", _symbols("length")),
    "pixels": _Kind("a length in pixels", "0.8 px", ("px",)),
    "moment": _Kind("a time", "0:08", _symbols("duration")),
    "date": _Kind("a date", "2026-04-18"),
    "day or month": _Kind("a date", "2026-04-18"),
    "yes or no": _Kind("yes or no", "yes"),
}


def _scalar_form(dimension: str) -> Grammar:
    return partial(grammar.scalar, dimension=dimension)


def _range_form(dimension: str) -> Grammar:
    return partial(grammar.parse_range, single=_scalar_form(dimension))


def _property_form(units: Mapping[str, Fraction]) -> Grammar:
    return partial(grammar.parse_property_range, units=units)


# What else may a text be? The first that fits names it.
_FORMS: Final[tuple[tuple[str, Grammar], ...]] = (
    ("a number without a unit", grammar.signed_number),
    ("a mass", _scalar_form("mass")),
    ("a volume", _scalar_form("volume")),
    ("a temperature", grammar.temperature),
    ("a duration", _scalar_form("duration")),
    ("a length", _scalar_form("length")),
    ("a share", grammar.share),
    ("a range of masses", _range_form("mass")),
    ("a range of volumes", _range_form("volume")),
    ("a range of temperatures", partial(grammar.parse_range, single=grammar.temperature)),
    ("a range of durations", _range_form("duration")),
    ("a range of lengths", _range_form("length")),
    ("a range of shares", partial(grammar.parse_range, single=grammar.share)),
    ("a time", grammar.moment),
    ("a date", grammar.date),
    ("a size", grammar.size),
    ("a dose", grammar.dose),
    ("a price", grammar.price),
    ("a scale", grammar.mm_per_px),
    ("a length in pixels", grammar.pixels),
    ("a density", _property_form(DENSITIES)),
    ("a thermal conductivity", _property_form(CONDUCTIVITIES)),
    ("a heat capacity", _property_form(HEAT_CAPACITIES)),
    ("a latent heat", _property_form(LATENT_HEATS)),
)


@cache
def _words_for_units() -> Mapping[str, str]:
    """Words that makers write for a unit and that are not accepted, each with its unit's symbol."""
    # Loaded here: most notebooks have no such word.
    import yaml

    text = Path(__file__).with_name("unit_words.yaml").read_text("utf-8")
    words: Mapping[str, list[str]] = yaml.load(text, yaml.BaseLoader)
    return {word: unit for unit, of_unit in words.items() for word in of_unit}


_LAST_UNIT = re.compile(rf"(?:{NUMBER_START})((?:(?!{NUMBER_START}).)*)\Z")
_BARE_SIGN = re.compile(rf"[{MINUS}+] ?(?={NUMBER_START})")
_THOUSANDS = re.compile(r"(?<![0-9.,])[0-9]{1,3}(?:([ ,_'’])[0-9]{3})(?:\1[0-9]{3})*(?![0-9/])")
_BETWEEN_DIGITS = re.compile(r"(?<=[0-9])[_'’](?=[0-9])")
_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_EXPONENT = re.compile(r"[0-9]\.?[eE][+-]?[0-9]")
_OTHER_BASE = re.compile(r"(?<![0-9.])0[xXbBoO][0-9a-fA-F]")
_NO_NUMBER = re.compile(r"[+-]?\.?(?:nan|inf|infinity)\b", re.IGNORECASE)
_DASHED = re.compile(r"(?<=[0-9])-(?=[0-9]+/[0-9])")
_OPEN_POINT = re.compile(r"(?<=[0-9])\.(?![0-9])")
_LOOSE_DATE = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})")
_LOOSE_BY = re.compile(r" ?[xX*×] ?| by ")
_LOOSE_CLOCK = re.compile(r"([0-9]{1,2})(?:[:.]([0-9]{1,2}))?( ?[ap]m)?", re.IGNORECASE)
_FIRST_NUMBER = re.compile(NUMBER)


def quantity_error(
    text: str, tidy: str, kind_name: str, form: Grammar, mismatch: FormMismatch
) -> QuantityError:
    """The error for a text that is no quantity of a kind, with the most special fault found.

    ``tidy`` is the text normalised; ``form`` is the kind's grammar, which raised ``mismatch``.
    """
    if mismatch.what:
        return QuantityError(mismatch.what, mismatch.hint)
    kind = _KINDS[kind_name]
    if not tidy:
        return QuantityError(f"nothing is written where {kind.noun} belongs", _write_hint(kind))
    fault = (
        _special_form_fault(kind_name, text, tidy, form)
        or _number_fault(kind_name, text, tidy, form)
        or _other_kind_fault(kind_name, text, tidy, form)
        or _unknown_unit_fault(kind_name, text, tidy, form, mismatch)
        or (f"{excerpt(text)} is not {kind.noun}", _write_hint(kind))
    )
    return QuantityError(*fault)


_Fault = tuple[str, str] | None


def _write_hint(kind: _Kind) -> str:
    return f'Write {kind.noun}, such as "{kind.example}".'


def _has_form(form: Grammar, text: str) -> bool:
    """Whether ``form`` takes the text."""
    try:
        form(text)
    except FormMismatch:
        return False
    return True


def _hint_to_write(form: Grammar, better: str, otherwise: str) -> str:
    """The hint to write ``better`` if ``form`` takes it, else the hint ``otherwise``."""
    return f"Write {excerpt(better)}." if _has_form(form, better) else otherwise


def _special_form_fault(kind_name: str, text: str, tidy: str, form: Grammar) -> _Fault:
    """The fault (what, hint) of a text of a kind with a form of its own, such as dates; or None."""
    quoted, kind = excerpt(text), _KINDS[kind_name]
    if kind_name == "yes or no":
        advice = 'Write "yes" or "no", in small letters.'
        return f"{quoted} is neither yes nor no", _hint_to_write(form, tidy.lower(), advice)
    if kind_name in ("date", "day or month"):
        loose = _LOOSE_DATE.fullmatch(tidy)
        better = f"{loose[1]}-{loose[2]:0>2}-{loose[3]:0>2}" if loose else ""
        advice = 'Write year, month and day, such as "2026-04-18"'
        advice += ', or a month, "2026-04".' if kind_name == "day or month" else "."
        return f"{quoted} is not a date", _hint_to_write(form, better, advice)
    if kind_name == "moment":
        advice = 'Write "0:08" or "14:05", "2:05 pm", or a duration such as "8 min".'
        loose = _LOOSE_CLOCK.fullmatch(tidy)
        if loose and (loose[2] or loose[3]):
            better = f"{int(loose[1])}:{loose[2] or '':0>2}{(loose[3] or '').lower()}"
            return f"{quoted} is not a time", _hint_to_write(form, better, advice)
        if _has_form(grammar.number, tidy):
            return f"{quoted} has no unit", advice
        if ":" in tidy:
            return f"{quoted} is not a time", advice
    if kind_name == "count" and _has_form(grammar.number, tidy.partition(" ")[0]):
        return f"{quoted} is not a whole number", _hint_to_write(
            form, tidy.partition(" ")[0], _write_hint(kind)
        )
    if kind_name == "size":
        better = _LOOSE_BY.sub(" x ", tidy)
        if not any(map(str.isalpha, better.replace(" x ", ""))):
            better = f"{better} mm"
        if _has_form(form, better):
            lacks = "has no unit" if better[-2:] != tidy[-2:] else "is not a size"
            return f"{quoted} {lacks}", f"Write {excerpt(better)}."
    if kind_name in ("dose", "price", "scale") and " per " in tidy:
        better = tidy.replace(" per ", "/")
        if _has_form(form, better):
            return f"{quoted} is not {kind.noun}", f"Write {excerpt(better)}."
    if kind_name in ("money", "price"):
        better = re.sub(r" ?(?:[A-Z]{3}|[^ -~]|\$) ?", "", tidy)
        if better != tidy and _has_form(form, better):
            return f"{quoted} names a currency, which the settings do for all", f'Write "{better}".'
    return None


def _number_fault(kind_name: str, text: str, tidy: str, form: Grammar) -> _Fault:
    """The fault (what, hint) in how a number is written, whatever its unit; or None."""
    quoted = excerpt(text)
    otherwise = 'Write plain digits with a point for decimals, such as "2.5".'
    for c in tidy:
        # A raised 2 or 3 belongs to a unit; it counts as a digit, not a decimal one.
        if not c.isascii() and c.isdecimal():
            better = "".join(str(unicodedata.decimal(d, d)) for d in tidy)
            what = f"{quoted} has the character {excerpt(c)}, which is not one of the digits 0 to 9"
            return what, _hint_to_write(form, better, otherwise)
    separator = _THOUSANDS.search(tidy)
    if separator or _BETWEEN_DIGITS.search(tidy):
        better = _BETWEEN_DIGITS.sub("", tidy)
        better = _THOUSANDS.sub(lambda m: re.sub(r"[^0-9]", "", m[0]), better)
        why = "which can be taken for a decimal mark or for two numbers"
        return f"{quoted} has a thousands separator, {why}", _hint_to_write(form, better, otherwise)
    if _COMMA.search(tidy):
        why = "which can be taken for a thousands separator"
        better = _COMMA.sub(".", tidy)
        return f"{quoted} has a decimal comma, {why}", _hint_to_write(form, better, otherwise)
    if _EXPONENT.search(tidy):
        return f"{quoted} has a power of ten in its number", otherwise
    if _OTHER_BASE.search(tidy):
        return f"{quoted} is not a decimal number", otherwise
    if _NO_NUMBER.match(tidy):
        return f"{quoted} is not a number", _write_hint(_KINDS[kind_name])
    sign = _BARE_SIGN.match(tidy)
    if sign and _has_form(form, tidy[sign.end() :]):
        better = tidy[sign.end() :]
        if tidy[0] == "+":
            return f"{quoted} has a sign", _hint_to_write(form, better, otherwise)
        kind = _KINDS[kind_name]
        return f"{quoted} is below 0", f'Write {kind.noun} of 0 or more, such as "{kind.example}".'
    for pattern, replacement, flaw in (
        (_DASHED, " ", "a dash before its fraction"),
        (_OPEN_POINT, "", "a point with no digit behind it"),
    ):
        better = pattern.sub(replacement, tidy)
        if better != tidy and _has_form(form, better):
            return f"{quoted} has {flaw}", f"Write {excerpt(better)}."
    return None


def _other_kind_fault(kind_name: str, text: str, tidy: str, form: Grammar) -> _Fault:
    """The fault (what, hint) that a text is a valid quantity of another kind; or None."""
    kind = _KINDS[kind_name]
    actual_kind = next((name for name, other in _FORMS if _has_form(other, tidy)), None)
    if actual_kind is None or actual_kind == kind.noun:
        return None
    quoted = excerpt(text)
    if actual_kind == "a number without a unit":
        if kind_name in ("number", "signed number", "count", "money", "price"):
            return f"{quoted} is not {kind.noun}", _write_hint(kind)
        return (
            f"{quoted} has no unit",
            f'Write {kind.noun} with its unit, such as "{kind.example}".',
        )
    what, hint = f"{quoted} is {actual_kind}; {kind.noun} is wanted here", _write_hint(kind)
    if "volume" in kind_name and actual_kind in ("a mass", "a range of masses") and "oz" in tidy:
        advice = _hint_to_write(form, tidy.replace("oz", "fl oz"), hint)
        return what, f"A liquid takes fluid ounces. {advice}"
    return what, hint


def _unknown_unit_fault(
    kind_name: str, text: str, tidy: str, form: Grammar, mismatch: FormMismatch
) -> _Fault:
    """The fault (what, hint) that a unit is unknown, with the unit likely meant; or None."""
    kind = _KINDS[kind_name]
    if not kind.units or not _FIRST_NUMBER.match(tidy.lstrip(MINUS)):
        return None
    last = _LAST_UNIT.search(tidy)
    unit = mismatch.unit or (last[1].strip(" ") if last else "")
    if not unit or unit in UNIT_BY_SPELLING or unit in kind.units:
        return None
    what = f'unknown unit "{excerpt(unit)[1:-1]}" in {excerpt(text)}'
    for symbol in _likely_units(unit, kind):
        before, _, behind = tidy.rpartition(unit)
        blank = " " if before[-1:].isnumeric() else ""
        better = f"{before}{blank}{symbol}{behind}"
        if _has_form(form, better):
            return what, f'Did you mean "{symbol}", as in {excerpt(better)}?'
    listed = ", ".join(kind.units[:10])
    return what, f'Units here: {listed}; such as "{kind.example}".'


def _likely_units(unit: str, kind: _Kind) -> list[str]:
    """The kind's units that the unknown ``unit`` may stand for, the likeliest first; or none."""
    folded = unit.casefold().strip(" .")
    words = {spelling.casefold(): spelling for spelling in kind.units}
    words |= {word: symbol for word, symbol in _words_for_units().items() if symbol in kind.units}
    exact = [words[folded]] if folded in words else []
    # Short words are alike by chance; the long ones of properties are not.
    close = difflib.get_close_matches(folded, words, n=3, cutoff=0.6 if "/" in unit else 0.7)
    return exact + [words[word] for word in close]
