"""From a tree of written text to records: field types, and errors with their place.

A field type reads its own text. Pydantic gathers what fails; ``checked`` turns
each failure into a problem at the very value.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from journal.errors import Problem, QuantityError
from journal.quantities import read
from journal.records.source import Items, Table, Text, place


class Record(BaseModel):
    """Parent of all records: frozen, and an unknown key is an error."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, populate_by_name=False
    )


Model = TypeVar("Model", bound=Record)


def fault(what: str, mend: str, written: Any = None) -> PydanticCustomError:
    """An error that ``checked`` passes on as it is, at ``written`` if that knows its place."""
    at = getattr(written, "at", None)
    return PydanticCustomError("journal", "{what}. {mend}", {"what": what, "mend": mend, "at": at})


def one_of(words: Iterable[str]) -> str:
    """``a, b or c``."""
    listed = list(words)
    if len(listed) < 2:
        return "".join(listed)
    return f"{', '.join(listed[:-1])} or {listed[-1]}"


def nearest(word: str, known: Iterable[str]) -> str:
    """The advice for a word that is not known: the nearest spelling, else all of them."""
    names = sorted(set(known))
    close = difflib.get_close_matches(word, names, n=1, cutoff=0.6)
    if close:
        return f'Did you mean "{close[0]}"?'
    if not names:
        return "None is known here."
    shown = ", ".join(names[:12]) + (" …" if len(names) > 12 else "")
    return f"Known here: {shown}."


def scalar(value: Any) -> Text:
    """``value`` as one text, or a fault that says what stands there instead."""
    if isinstance(value, str):
        if value == "":
            raise fault("there is no value", "Write one, or take the key away")
        return value  # type: ignore[return-value]
    if isinstance(value, dict):
        raise fault("a mapping stands where one value belongs", "Write a single value")
    raise fault("a list stands where one value belongs", "Write a single value")


def by(reader: Callable[[str], Any]) -> Callable[[Any], Any]:
    """A validator that reads one text with ``reader``."""

    def validate(value: Any) -> Any:
        try:
            return reader(scalar(value))
        except QuantityError as error:
            raise fault(error.what, error.mend, value) from None

    return validate


@dataclass(frozen=True)
class Written:
    """The mark of a field that is one text, understood by ``reader``; with an example of it."""

    reader: Callable[[str], Any]
    example: str

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(by(self.reader))

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": ["string", "number", "boolean"], "examples": [self.example]}


class Choice:
    """The mark of a field that is one of a few words."""

    def __init__(self, *words: str) -> None:
        self.words = words

    def read(self, text: str) -> str:
        """``text`` if it is one of the words."""
        if text not in self.words:
            mend = f"Write {one_of(self.words)}."
            close = difflib.get_close_matches(text, self.words, n=1)
            raise QuantityError(
                f'"{text}" is not known here', f'Did you mean "{close[0]}"?' if close else mend
            )
        return str(text)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(by(self.read))

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "string", "enum": list(self.words)}


@dataclass(frozen=True)
class PixelPlaces:
    """The mark of a field that is a list of so many pixel coordinates."""

    count: int

    def read(self, value: Any) -> tuple[float, ...]:
        """The numbers of a list of the right length."""
        if not isinstance(value, list) or len(value) != self.count:
            example = ", ".join(["0"] * self.count)
            raise fault(f"{self.count} numbers belong here", f"Write [{example}] in pixels", value)
        return tuple(by(read.read_number)(entry) for entry in value)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "array", "minItems": self.count, "maxItems": self.count}


def _words(value: Any) -> Any:
    if isinstance(value, str):
        raise fault(
            f'"{value}" is one value, and a list belongs here', f"Write [{value or 'a, b'}]"
        )
    if not isinstance(value, list):
        raise fault("a mapping stands where a list belongs", "Write a list: [a, b]")
    return tuple(value)


def _text(text: str) -> str:
    return str(text)


# The mark of a field that is a list.
LISTED = BeforeValidator(_words)

Words = Annotated[str, Written(_text, "some words")]
Mass = Annotated[float, Written(read.read_mass, "6 g")]
Masses = Annotated[tuple[float, float], Written(read.read_masses, "3.6-3.8 oz")]
Length = Annotated[float, Written(read.read_length, "3 mm")]
Size = Annotated[tuple[float, float], Written(read.read_size, "80 x 55 mm")]
Temperature = Annotated[float, Written(read.read_temperature, "69 F")]
Temperatures = Annotated[tuple[float, float], Written(read.read_temperatures, "122-132 F")]
Share = Annotated[float, Written(read.read_share, "3 %")]
Count = Annotated[int, Written(read.read_count, "6")]
Number = Annotated[float, Written(read.read_number, "1.5")]
Volume = Annotated[float, Written(read.read_volume, "7.5 mL")]
Amount = Annotated[read.Amount, Written(read.read_amount, "22 oz")]
Density = Annotated[tuple[float, float], Written(read.read_density, "1.03 g/mL")]
Conductivity = Annotated[tuple[float, float], Written(read.read_conductivity, "0.30 W/mK")]
HeatCapacity = Annotated[tuple[float, float], Written(read.read_heat_capacity, "2800 J/kgK")]
Latent = Annotated[tuple[float, float], Written(read.read_latent, "45 kJ/kg")]
Money = Annotated[Decimal, Written(read.read_money, "18.00")]
Price = Annotated[read.Price, Written(read.read_price, "4.10/lb")]
Dose = Annotated[read.Dose, Written(read.read_dose, "5 mL/lb")]
Date = Annotated[date, Written(read.read_date, "2026-04-18")]
YesNo = Annotated[bool, Written(read.read_yes_no, "yes")]
MmPerPx = Annotated[float, Written(read.read_mm_per_px, "0.08 mm/px")]
Pixels = Annotated[float, Written(read.read_px, "0.8 px")]


def read_minutes(text: str) -> float:
    """Minutes: a bare number is minutes, anything else a duration with its unit."""
    try:
        return read.read_duration(text)
    except QuantityError:
        try:
            return read.read_number(text)
        except QuantityError:
            pass
        raise


Minutes = Annotated[float, Written(read_minutes, "25 min")]


def checked(
    model: type[Model],
    tree: Any,
    thing: str,
    problems: list[Problem],
    context: dict[str, Any] | None = None,
) -> Model | None:
    """``tree`` as a record, or None with every fault of it added to ``problems``.

    ``thing`` names the record in messages, such as "design" or "base white-shea".
    """
    try:
        return model.model_validate(tree, context=context)
    except ValidationError as error:
        for entry in error.errors(include_url=False):
            problems.append(_problem(entry, model, tree, thing))
        return None


def _problem(entry: Any, model: type[Record], tree: Any, thing: str) -> Problem:
    path = tuple(step for step in entry["loc"])
    owner, name = path[:-1], str(path[-1]) if path else ""
    kind, context = entry["type"], entry.get("ctx", {})
    if kind == "journal":
        at = context["at"] or place(tree, *path)
        return Problem(at, str(context["what"]), _sentence(str(context["mend"])))
    parent = _at(tree, owner)
    if kind == "missing":
        inner = f'{thing}\'s "{_step(owner)}"' if owner else thing
        return Problem(place(tree, *owner), f'the {inner} has no "{name}"', f'Add "{name}: …".')
    if kind == "extra_forbidden":
        at = parent.keys_at.get(name, parent.at) if isinstance(parent, Table) else place(tree)
        return Problem(at, f'unknown key "{name}"', nearest(name, keys_of(model, owner)))
    at = place(tree, *path)
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return Problem(at, f'"{_step(path)}" is no mapping', "Write its keys below it, indented.")
    if kind in ("tuple_type", "list_type"):
        return Problem(at, f'"{_step(path)}" is no list', "Write a list: [a, b].")
    return Problem(at, f"the value does not fit ({entry['msg']})", "Mend it.")


def _sentence(mend: str) -> str:
    return mend if mend.endswith((".", "?", "!", "…")) else mend + "."


def _step(path: tuple[str | int, ...]) -> str:
    names = [str(step) for step in path if isinstance(step, str)]
    return names[-1] if names else "entry"


def _at(tree: Any, path: tuple[str | int, ...]) -> Any:
    for step in path:
        if isinstance(tree, Table) and step in tree:
            tree = tree[str(step)]
        elif isinstance(tree, Items) and isinstance(step, int) and step < len(tree):
            tree = tree[step]
    return tree


def keys_of(model: type[Record], path: tuple[str | int, ...] = ()) -> list[str]:
    """The keys that a record, or a record inside it at ``path``, may have."""
    current: type[Record] | None = model
    for step in path:
        if isinstance(step, int) or current is None:
            continue
        field = next((f for n, f in current.model_fields.items() if (f.alias or n) == step), None)
        found = _record_in(field.annotation) if field is not None else None
        current = found or current
    assert current is not None
    return [field.alias or name for name, field in current.model_fields.items()]


def _record_in(annotation: Any) -> type[Record] | None:
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _record_in(part)
        if found is not None:
            return found
    return None
