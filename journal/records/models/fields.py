"""Make records of trees of written text: the field types, and errors with their place.

Each field type reads its text. Pydantic collects the failures; ``validated`` turns
each into a problem at the position of the faulty value.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Annotated, Any, TypeVar

from msgspec import Struct
from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from journal.errors import Position, Problem, QuantityError
from journal.quantities import kinds, read
from journal.quantities.number import excerpt
from journal.quantities.written_forms import FORMS, WrittenForm, either, some_of
from journal.records.yaml.tree import WrittenTable, WrittenText, position_of, value_at


class Record(BaseModel):
    """Parent of all records: frozen, and an unknown key is an error."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        arbitrary_types_allowed=True,
        populate_by_name=False,
        # Most are read as parts of another, whose validator holds theirs.
        defer_build=True,
    )


RecordType = TypeVar("RecordType", bound=Record)
# Words are cut off here before they are compared with known ones.
LONGEST_WORD = 80
# Longer values are no quantity; twenty forms would be tried on them before that is reported.
LONGEST_VALUE = 200


def validation_error(what: str, hint: str, written: Any = None) -> PydanticCustomError:
    """An error that ``validated`` turns into one problem, at the position of ``written``."""
    at = getattr(written, "at", None)
    return PydanticCustomError("journal", "{what}. {hint}", {"what": what, "hint": hint, "at": at})


def validation_errors(problems: Iterable[Problem]) -> PydanticCustomError:
    """An error that ``validated`` turns into these problems."""
    return PydanticCustomError("journal problems", "", {"problems": tuple(problems)})


def one_of(words: Iterable[str]) -> str:
    """Join words as in ``a, b or c``."""
    listed = list(words)
    if len(listed) < 2:
        return "".join(listed)
    return f"{', '.join(listed[:-1])} or {listed[-1]}"


# Which words were renamed? (what the word belongs to, old word) -> new word
RENAMED: Mapping[tuple[str, str], str] = {
    ("base", "latent"): "latent_heat",
    ("base", "conductivity"): "thermal_conductivity",
    ("fragrance", "flash"): "flash_point",
    ("mould", "corner"): "corner_radius",
    ("mould", "pours"): "life",
    ("mat", "casts"): "life",
    ("layer", "over"): "overpour",
    ("symptom", "parted"): "separated",
    ("symptom", "specks"): "speckling",
    ("symptom", "scent weak"): "faint scent",
    ("symptom", "darkened"): "discoloured",
}


def spelling_hint(word: str, known: Iterable[str], of: str = "") -> str:
    """A hint for an unknown word: its new name, else the nearest spelling, else the known words.

    ``of`` is what the word belongs to, such as "layer", to look up in ``RENAMED``.
    """
    names = sorted(set(map(str, known)))
    meant = _word_meant(word, names, of)
    if meant and meant == RENAMED.get((of, word)):
        return f"It is called {excerpt(meant)}."
    if meant:
        return f"Did you mean {excerpt(meant)}?"
    if not names:
        return "None is known here."
    return _known_here(tuple(names[:12]), len(names) > 12)


def _word_meant(word: str, names: Iterable[str], of: str) -> str:
    """The one of ``names`` that is the word's new name or else nearest to it; "" for none."""
    renamed = RENAMED.get((of, word))
    if renamed is not None and renamed in names:
        return renamed
    # A word of a megabyte is no slip of the pen, and would take minutes to compare.
    return _nearest(word[:LONGEST_WORD], names)


@lru_cache(maxsize=256)
def _known_here(names: tuple[str, ...], more: bool) -> str:
    """The hint that lists what is known; ``more`` than these."""
    shown = ", ".join(excerpt(name)[1:-1] for name in names)
    return f"Known here: {shown}{' …' if more else ''}."


def _nearest(word: str, names: Iterable[str]) -> str:
    """The name that is spelt most like ``word``; "" if none comes near."""
    own, size = _letters(word), len(word)
    # To compare takes long, and a program may write a hundred thousand unknown words. Two words
    # have no more letters in common than either has but for those that the other lacks.
    near = [
        name
        for name in names
        if 2 * min(size - (own & ~(its := _letters(name))).bit_count(),
                   len(name) - (its & ~own).bit_count()) >= _CLOSE * (size + len(name))
    ]  # fmt: skip
    return next(iter(difflib.get_close_matches(word, near, n=1, cutoff=_CLOSE)), "")


# How much alike two words are that may be one (``difflib.SequenceMatcher.ratio``).
_CLOSE = 0.6
# Bars of a batch: many times what a studio pours at once, and few enough to plan in one round.
MOST_IN_BATCH = 1000


@lru_cache(maxsize=4096)
def _letters(word: str) -> int:
    """The different letters of a word as bits; some share one, so that there may seem fewer."""
    bits = 0
    for letter in word:
        bits |= 1 << ord(letter) % 61
    return bits


def plain_id(text: str) -> str:
    """The small letters, digits and hyphens of a text, as in ``crystal-clear``; may be empty."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def unknown_name(name: str, at: Position, names: Iterable[str], kind: str) -> Problem:
    """The problem that no ``kind`` is called ``name``; ``names`` are those that there are."""
    return Problem(at, f"no {kind} is called {excerpt(name)}", spelling_hint(name, names))


def unknown_key(table: WrittenTable, key: str, keys: Iterable[str], of: str = "") -> Problem:
    """The problem that a key is none of ``keys``; ``of`` as in ``spelling_hint``."""
    hint = spelling_hint(key, keys, of)
    return Problem(table.key_at(key), f"unknown key {excerpt(key)}", hint)


def scalar(value: Any) -> WrittenText:
    """Give ``value`` back if it is a text; else raise a validation error that says what it is."""
    if isinstance(value, str):
        if not value.strip():
            raise validation_error("there is no value", "Write one, or take the key away", value)
        return value  # type: ignore[return-value]
    what = "keys stand" if isinstance(value, dict) else "a list stands"
    raise validation_error(f"{what} where one value belongs", "Write a single value", value)


def too_long(text: str) -> QuantityError:
    """The error of a text that is longer than any quantity."""
    return QuantityError(f"{excerpt(text)} has {len(text)} characters", "Write a short value.")


def validator_of(reader: Callable[[str], Any]) -> Callable[[Any], Any]:
    """A validator that reads one text with ``reader``."""

    def validate(value: Any) -> Any:
        try:
            # Readers cache texts: without the text of the file that a WrittenText holds.
            text = str(scalar(value))
            if len(text) > LONGEST_VALUE and reader is not _any_text:
                raise too_long(text)
            return reader(text)
        except QuantityError as error:
            raise validation_error(error.what, error.hint, value) from None

    return validate


def validated_items(
    entries: Iterable[tuple[str, Any, Callable[[Any], Any]]],
) -> tuple[tuple[str, Any], ...]:
    """Validate entries of (name, value, validator); gives each name with its validated value.

    The faults of all values are raised together, as ``validation_errors``.
    """
    items: list[tuple[str, Any]] = []
    problems: list[Problem] = []
    for name, written, validate in entries:
        try:
            items.append((name, validate(written)))
        except PydanticCustomError as error:
            problems.extend(problems_of(error, written))
    if problems:
        raise validation_errors(problems)
    return tuple(items)


def problems_of(error: PydanticCustomError, written: Any) -> tuple[Problem, ...]:
    """The problems in an error of ``validation_error`` or ``validation_errors``."""
    context = error.context or {}
    if error.type == "journal problems":
        problems: tuple[Problem, ...] = context["problems"]
        return problems
    at = context["at"] or written.at
    return (Problem(at, str(context["what"]), _with_full_stop(str(context["hint"]))),)


class TextField(Struct, frozen=True):
    """Marks a field that is one text and is read by ``reader``; with an example for the schema.

    ``form`` is what the reader takes; where it is None, that of ``FORMS``, or any text.
    """

    reader: Callable[[str], Any]
    example: str
    form: WrittenForm | None = None

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(validator_of(self.reader))

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        form = self.form or FORMS.get(self.reader)
        return form_schema(form, self.example)


def form_schema(form: WrittenForm | None, example: str = "") -> dict[str, Any]:
    """The schema of a value of this form, with an example; of any text but none if it is None."""
    if form is None:
        return {"type": ["string", "number", "boolean"], "pattern": r"\S"}
    if form == FORMS[read.read_yes_no]:
        # An editor may read these words, unquoted, as true and false.
        return {"enum": ["yes", "no", True, False]}
    schema: dict[str, Any] = {"type": "string", "pattern": form.expression}
    if form.number:
        least = {} if form.signed else {"minimum": form.least}
        schema = {**schema, "type": ["string", form.number], **least}
    # What editors that know the word show in place of the pattern (YAML language server).
    shown = {"patternErrorMessage": f'Write it as in "{example}".', "examples": [example]}
    return {**schema, **shown} if example else schema


class WordChoice:
    """Marks a field that is one of a few words; ``counts_as`` has the right one for others."""

    def __init__(self, *words: str, counts_as: Mapping[str, str] | None = None) -> None:
        self.words, self._counts_as = words, counts_as or {}

    def read(self, text: str) -> str:
        """Give ``text`` back if it is one of the words; QuantityError if not."""
        if text not in self.words:
            close = difflib.get_close_matches(text[:LONGEST_WORD], self.words, n=1)
            hint = f'Did you mean "{close[0]}"?' if close else f"Write {one_of(self.words)}."
            folded = text[:LONGEST_WORD].casefold().strip()
            # "red iron oxide" is an oxide.
            meant = self._counts_as.get(folded) or self._counts_as.get(folded.split(" ")[-1])
            if meant:
                hint = f'That is a {meant}: write "{meant}".'
            raise QuantityError(f"{excerpt(text)} is not known here", hint)
        return text

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(validator_of(self.read))

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "string", "enum": list(self.words)}


class PixelPlaces(Struct, frozen=True):
    """Marks a field that is a list of ``count`` pixel coordinates."""

    count: int

    def read(self, value: Any) -> tuple[float, ...]:
        """The numbers of a list; a validation error if it has another length or other entries."""
        if not isinstance(value, list) or len(value) != self.count:
            hint = f"Write [{', '.join('xywh'[: self.count])}] in pixels"
            raise validation_error(f"{self.count} numbers belong here", hint, value)
        items = validated_items(("", entry, validator_of(read.read_number)) for entry in value)
        return tuple(number for _, number in items)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        items = form_schema(FORMS[read.read_number])
        return {"type": "array", "items": items, "minItems": self.count, "maxItems": self.count}


def _entries(value: Any) -> Any:
    """The entries of a list as a tuple; a validation error that says what stands there instead."""
    if isinstance(value, list):
        return tuple(value)
    if isinstance(value, dict):
        what, hint = "keys stand where a list belongs", 'Begin each entry with "- "'
    elif not value:
        what, hint = "there is no value", "Write a list: [a, b], or take the key away"
    else:
        what = f"{excerpt(value)} is one value, and a list belongs here"
        hint = f"Write [{excerpt(value)[1:-1]}]"
    raise validation_error(what, hint, value)


def _any_text(text: str) -> str:
    return text


def _refuse_empty(value: Any) -> Any:
    """Give ``value`` back; raise a validation error if it is an empty list."""
    if isinstance(value, list) and not value:
        raise validation_error("the list is empty", "Write at least one entry", value)
    return value


def by_name(
    what: str, example: str, read_value: Callable[[Any], Any] | None = None
) -> BeforeValidator:
    """A mark for a field that is a mapping.

    With ``read_value``, the field becomes a tuple of (name, value read by it). ``what`` and
    ``example`` are for the error of a field that is no mapping.
    """

    def validate(value: Any) -> Any:
        if not isinstance(value, dict):
            raise validation_error(f"{what} belong here", f"Write {example}", value)
        if read_value is None:
            return value
        return validated_items((name, entry, read_value) for name, entry in value.items())

    return BeforeValidator(validate)


# The mark of a field that is a list, and of one that holds something.
IS_LIST = BeforeValidator(_entries)
NOT_EMPTY = BeforeValidator(_refuse_empty)

Text = Annotated[str, TextField(_any_text, "some words")]
Mass = Annotated[float, TextField(read.read_mass, "6 g")]
Length = Annotated[float, TextField(read.read_length, "3 mm")]
Size = Annotated[tuple[float, float], TextField(read.read_size, "80 x 55 mm")]
Temperature = Annotated[float, TextField(read.read_temperature, "69 F")]
Temperatures = Annotated[tuple[float, float], TextField(read.read_temperatures, "122-132 F")]
Share = Annotated[float, TextField(read.read_share, "3 %")]
Count = Annotated[int, TextField(read.read_count, "6")]
Volume = Annotated[float, TextField(read.read_volume, "7.5 mL")]
AmountField = Annotated[kinds.Amount, TextField(read.read_amount, "22 oz")]
Density = Annotated[tuple[float, float], TextField(read.read_density, "1.03 g/mL")]
ThermalConductivity = Annotated[
    tuple[float, float], TextField(read.read_thermal_conductivity, "0.30 W/mK")
]
HeatCapacity = Annotated[tuple[float, float], TextField(read.read_heat_capacity, "2800 J/kgK")]
LatentHeat = Annotated[tuple[float, float], TextField(read.read_latent_heat, "45 kJ/kg")]
Money = Annotated[Decimal, TextField(read.read_money, "18.00")]
PriceField = Annotated[kinds.Price, TextField(read.read_price, "4.10/lb")]
DoseField = Annotated[kinds.Dose, TextField(read.read_dose, "5 mL/lb")]
Date = Annotated[date, TextField(read.read_date, "2026-04-18")]
DayOrMonth = Annotated[kinds.DayOrMonth, TextField(read.read_day_or_month, "2026-04-18 or 2026-04")]
YesNo = Annotated[bool, TextField(read.read_yes_no, "yes")]
Pixels = Annotated[float, TextField(read.read_px, "0.8 px")]


def read_minutes(text: str) -> float:
    """Read a duration in minutes; a number without a unit is minutes."""
    if text[-1:].isdigit() and ":" not in text:
        try:
            return read.read_number(text)
        except QuantityError:
            pass
    return read.read_duration(text)


def read_colour(text: str) -> str:
    """Read a colour as sRGB in hexadecimal, such as ``#8b9aa0``."""
    if re.fullmatch("#[0-9a-fA-F]{6}", text.strip()) is None:
        hint = 'Write it as a photo program gives it, in quotes: "#8b9aa0".'
        raise QuantityError(f"{excerpt(text)} is no colour", hint)
    return text.strip().lower()


def _refuse_remark(value: Any) -> Any:
    """Give ``value`` back; raise a validation error for a colour that YAML took for a remark."""
    if value in (None, ""):
        what, hint = (
            "there is no colour: what follows a # is a remark",
            'Put it in quotes: "#8b9aa0"',
        )
        raise validation_error(what, hint, value)
    return value


def read_at_least_one(text: str) -> int:
    """Read a whole number, 1 or more."""
    number = read.read_count(text)
    if number < 1:
        raise QuantityError(f"{excerpt(text)} is none at all", "Write 1 or more.")
    return number


def read_batch(text: str) -> int:
    """Read how many bars a recipe is written for, 1 to ``MOST_IN_BATCH``."""
    number = read_at_least_one(text)
    if number > MOST_IN_BATCH:
        hint = f"Write {MOST_IN_BATCH} at most; cards and orders are for any number."
        raise QuantityError(f"{excerpt(text)} is more bars than a batch has", hint)
    return number


def read_scale_step(text: str) -> float:
    """Read the step of a scale or label, a mass above 0, in g."""
    mass_g = read.read_mass(text)
    if mass_g <= 0:
        raise QuantityError(f"{excerpt(text)} is no step", "Write a mass above 0, such as 1 g.")
    return mass_g


def above_zero(reader: Callable[[str], Any]) -> Callable[[str], Any]:
    """Make a reader that takes what ``reader`` takes, but for 0 and ranges that begin at 0."""

    def read_some(text: str) -> Any:
        value = reader(text)
        ranged = isinstance(value, tuple)
        if (value[0] if ranged else value) <= 0:
            what = "begins at nothing" if ranged else "is nothing at all"
            raise QuantityError(f"{excerpt(text)} {what}", "Write a figure above 0.")
        return value

    return read_some


def _some(reader: Callable[[str], Any], example: str) -> TextField:
    """Marks a field that is read by ``reader`` and is above 0."""
    return TextField(above_zero(reader), example, some_of(FORMS[reader]))


_MINUTES = either(FORMS[read.read_number], FORMS[read.read_duration])

Minutes = Annotated[float, TextField(read_minutes, "25 min", _MINUTES)]
Duration = Annotated[float, _some(read.read_duration, "26 h")]
Humidity = Annotated[float, _some(read.read_share, "55 %")]
SomeMass = Annotated[float, _some(read.read_mass, "6 g")]
SomeMasses = Annotated[tuple[float, float], _some(read.read_masses, "3.6-3.8 oz")]
SomeLength = Annotated[float, _some(read.read_length, "3 mm")]
Colour = Annotated[
    str,
    TextField(read_colour, "#8b9aa0", WrittenForm("#[0-9a-fA-F]{6}")),
    BeforeValidator(_refuse_remark),
]
AtLeastOne = Annotated[int, TextField(read_at_least_one, "6", some_of(FORMS[read.read_count]))]
BatchBars = Annotated[int, TextField(read_batch, "6", some_of(FORMS[read.read_count]))]
ScaleStep = Annotated[float, TextField(read_scale_step, "1 g", some_of(FORMS[read.read_mass]))]
SpoonField = Annotated[
    kinds.Spoon, TextField(read.read_spoon, "1/4 tsp", some_of(FORMS[read.read_spoon]))
]
SomeVolume = Annotated[float, _some(read.read_volume, "1 L")]


class NamesThing(Struct, frozen=True):
    """Marks a field that names things of a kind of the shelf, or designs (``kind`` "designs").

    ``none`` is the word for no such thing.
    """

    kind: str
    none: str = ""


def validated(
    model: type[RecordType],
    tree: Any,
    thing: str,
    problems: list[Problem],
    context: dict[str, Any] | None = None,
) -> RecordType | None:
    """Make a record of ``tree``; None, with every fault added to ``problems``, if it has any.

    ``thing`` names the record in messages, such as "design" or "base white-shea".
    """
    try:
        return model.model_validate(tree, context=context)
    except ValidationError as error:
        faults = error.errors(include_url=False, include_input=False)
        misspelt = _misspelt_keys(faults, model)
        for entry in faults:
            if entry["type"] == "journal problems":
                problems.extend(entry["ctx"]["problems"])
            elif entry["type"] != "missing" or entry["loc"] not in misspelt:
                problems.append(_problem(entry, model, tree, thing))
        return None


def _misspelt_keys(faults: Sequence[Any], model: type[Record]) -> set[tuple[str | int, ...]]:
    """Paths of missing keys that an unknown key beside them was meant to be: one slip, told once.

    ``faults`` are those of Pydantic.
    """
    missing = {entry["loc"] for entry in faults if entry["type"] == "missing"}
    lacking = {path[:-1] for path in missing}
    found = set()
    for *owner, name in (one["loc"] for one in faults if one["type"] == "extra_forbidden"):
        if tuple(owner) in lacking:
            record = _record_at(model, owner)
            meant = _word_meant(str(name), sorted(keys_of(record)), record.__name__.lower())
            found.add((*owner, meant))
    return found & missing


def _problem(entry: Any, model: type[Record], tree: Any, thing: str) -> Problem:
    """Turn one error of Pydantic into a problem in the maker's words."""
    path = entry["loc"]
    owner, name = path[:-1], str(path[-1]) if path else ""
    kind, context = entry["type"], entry.get("ctx", {})
    if kind == "journal":
        at = context["at"] or position_of(tree, *path)
        return Problem(at, str(context["what"]), _with_full_stop(str(context["hint"])))
    if kind == "missing":
        what = f"{_part_name(owner, thing)} has no {excerpt(name)}"
        return Problem(position_of(tree, *owner), what, f'Add "{excerpt(name)[1:-1]}: …".')
    if kind == "extra_forbidden":
        parent = value_at(tree, owner)
        record = _record_at(model, owner)
        return unknown_key(parent, name, keys_of(record), record.__name__.lower())
    at = position_of(tree, *path)
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return Problem(
            at, f"{_part_name(path, thing)} has no keys", 'Write it as "key: value" lines.'
        )
    return Problem(at, f"the value does not fit ({entry['msg']})", "Mend it.")


def _with_full_stop(hint: str) -> str:
    """The hint, with a full stop if it does not end like a sentence."""
    return hint if hint.endswith((".", "?", "!", "…")) else hint + "."


def _part_name(path: tuple[str | int, ...], thing: str) -> str:
    """Name the part of a record at ``path`` in words, such as ``entry 2 of "layers"``."""
    if not path:
        return f"the {thing}"
    if isinstance(path[-1], int):
        return f"entry {path[-1] + 1} of {excerpt(str(path[-2]))}" if len(path) > 1 else "the entry"
    return excerpt(str(path[-1]))


def keys_of(record: type[Record]) -> list[str]:
    """The keys that may be written in a record of this class."""
    return [field.alias or name for name, field in record.model_fields.items()]


def _record_at(model: type[Record], path: tuple[str | int, ...]) -> type[Record]:
    """The class of the record at ``path`` in a ``model``; the nearest one above if it is none."""
    current = model
    for step in path:
        fields = current.model_fields.items()
        field = next((field for name, field in fields if (field.alias or name) == step), None)
        inner = record_in(field.annotation) if field is not None else None
        current = inner or current
    return current


def record_in(annotation: Any) -> type[Record] | None:
    """The class of the records that a field of this type holds, alone or in a list; or None."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return annotation
    inner = map(record_in, getattr(annotation, "__args__", ()))
    return next((record for record in inner if record is not None), None)
