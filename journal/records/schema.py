"""JSON Schema (draft 2020-12) of the files of a notebook, made from the records that read them.

The form of a field that is written in another form than it is stored in is stated here;
everything else comes from the records. A schema holds what an editor can check within one
file; what needs other files, or a figure, is checked by ``journal check``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

import yaml
from msgspec import Struct, field

from journal.quantities import read
from journal.quantities.written_forms import FORMS
from journal.records.models import write_up
from journal.records.models.design_reader import EMPTY_CELLS
from journal.records.models.fields import NOT_EMPTY, NamesThing, Record, form_schema
from journal.records.models.pours import READERS_OF_MEASURES
from journal.records.models.questions import WrittenComparison, WrittenOrder
from journal.records.models.settings import BUILT_IN_SYMPTOMS, Measure, PotResidue, Settings
from journal.records.models.shelf import (
    KINDS,
    CountedAmount,
    Fragrance,
    Leftover,
    Scent,
    ShelfRecord,
)
from journal.records.models.variants import CHANGEABLE
from journal.records.notebook import Notebook

Schema = dict[str, Any]

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
# A text; an editor may take an unquoted one for a number or for yes or no.
TEXT: Final[Schema] = form_schema(None)
# A cell that holds nothing.
_EMPTY_CELL: Final[Schema] = {"enum": [*EMPTY_CELLS, None]}
# An editor may read an unquoted "no" as false.
_NONE: Final[Schema] = {"enum": ["no", False]}
ID: Final = "^[a-z0-9][a-z0-9-]{0,79}$"
# An editor may read these words, unquoted, as true and false.
_YES_OR_NO: Final[Schema] = {"enum": ["yes", "no", True, False]}
# Which file is each schema for?
PATTERNS: Final[Mapping[str, str]] = {
    "journal": "journal.yaml",
    "write-up": "designs/*/design.md",
    **{f"shelf-{kind}": f"shelf/{kind}.yaml" for kind in KINDS},
    "comparison": "comparisons/*.md",
    "order": "orders/*.yaml",
}
# The example of every ``Text`` field, which says nothing.
_NO_EXAMPLE = ("examples", ["some words"])
# What an editor calls each kind of file.
TITLES: Final[Mapping[str, str]] = {
    "journal": "Settings of the studio",
    "write-up": "Write-up of a design",
    **{f"shelf-{kind}": f"{kind.capitalize()} on the shelf" for kind in KINDS},
    "comparison": "Question across designs",
    "order": "Order",
}


@cache
def key_meanings() -> Mapping[str, Mapping[str, str]]:
    """The meaning of each key, by record and key, for the maker."""
    text = Path(__file__).with_name("key_meanings.yaml").read_text("utf-8")
    meanings: Mapping[str, Mapping[str, str]] = yaml.load(text, yaml.BaseLoader)
    return meanings


class KnownNames(Struct, frozen=True):
    """The names that exist in a notebook: ids by kind, measures, symptoms."""

    ids: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    measures: Mapping[str, Measure] = field(default_factory=dict)
    symptoms: tuple[str, ...] = tuple(BUILT_IN_SYMPTOMS)


def names_of(notebook: Notebook) -> KnownNames:
    """The names that exist in a notebook, for an editor to offer."""
    ids = {kind: tuple(notebook.shelf.of_kind(kind)) for kind in KINDS}
    ids["designs"] = tuple(notebook.designs)
    settings = notebook.settings
    return KnownNames(ids, settings.all_measures(), tuple(settings.all_symptoms()))


def schemas(names: KnownNames) -> dict[str, Schema]:
    """Make a schema for each kind of file; the keys are those of ``PATTERNS``."""
    by_name = {
        "journal": _file_schema(Settings, names),
        "write-up": _write_up_schema(names),
        "comparison": _file_schema(WrittenComparison, names),
        "order": _file_schema(WrittenOrder, names),
    }
    for name, kind in KINDS.items():
        by_name[f"shelf-{name}"] = _shelf_schema(kind.record, names)
    return {name: {"title": TITLES[name], **by_name[name]} for name in PATTERNS}


def _value(reader: Callable[[str], Any], example: str = "") -> Schema:
    """The schema of a value that is read by this reader."""
    return form_schema(FORMS[reader], example)


def _file_schema(model: type[Record], names: KnownNames) -> Schema:
    """The complete schema of a file that holds one record, with the definitions that it uses."""
    schema = model.model_json_schema()
    defs: dict[str, Schema] = schema.pop("$defs", {})
    _rewrite_properties(model, schema, names)
    for record in _subclasses():
        if record.__name__ in defs:
            _rewrite_properties(record, defs[record.__name__], names)
    schema = {"$schema": DIALECT, **schema}
    reached = _used_definitions(schema, defs)
    if reached:
        schema["$defs"] = {name: defs[name] for name in sorted(reached)}
    return schema


def _shelf_schema(model: type[Record], names: KnownNames) -> Schema:
    """The schema of a file of the shelf: a mapping from id to record."""
    inner = _file_schema(model, names)
    defs = {model.__name__: inner, **inner.pop("$defs", {})}
    del inner["$schema"]
    return {
        "$schema": DIALECT,
        "description": "Each entry's key is its id, by which write-ups name it.",
        "type": "object",
        "propertyNames": {"pattern": ID},
        "additionalProperties": _ref(model),
        "$defs": defs,
    }


def _write_up_schema(names: KnownNames) -> Schema:
    """The schema of a write-up, with definitions for what variants and pours may change."""
    schema = _file_schema(write_up.WriteUp, names)
    pour = _file_schema(write_up.WrittenPour, names)
    defs = schema["$defs"]
    del pour["$schema"]
    defs.update(pour.pop("$defs", {}))
    defs["WrittenPour"] = pour
    layer = {key: value for key, value in defs["Layer"]["properties"].items() if key != "name"}
    for key, record, one in (
        ("fragrance", write_up.FragranceDose, "an oil"),
        ("colours", write_up.ColourDose, "a colour"),
        ("additives", write_up.AdditiveDose, "an additive"),
    ):
        name, change = record.__name__, f"{record.__name__}Change"
        defs[change] = _partial(defs[name]["properties"], f"What a variant changes of {one}.")
        forms = _one_of(_ref(change), _list(_ref(record)))
        layer[key] = {"description": layer[key]["description"], **forms}
    defs["LayerChange"] = _partial(layer, "What a variant changes of a layer.")
    recipe = {key: schema["properties"][key] for key in CHANGEABLE}
    recipe["layers"] = {
        "description": "Layers by name, with what changes of each; or a whole list of layers.",
        **_one_of(_by_name(_ref("LayerChange"), ""), _list(_ref(write_up.Layer))),
    }
    defs["Change"] = _partial(recipe, "What a variant changes of the recipe.")
    return schema


def _partial(properties: Mapping[str, Schema], description: str) -> Schema:
    """The schema of a mapping with some of the keys of a record, none of them required."""
    return {
        "description": description,
        "type": "object",
        "properties": dict(properties),
        "additionalProperties": False,
    }


def _rewrite_properties(model: type[Record], schema: Schema, names: KnownNames) -> None:
    """Rewrite the properties of a record's ``schema``: meanings, and the forms that are written."""
    schema.pop("title", None)
    for name, field_info in model.model_fields.items():
        key, marks = field_info.alias or name, field_info.metadata
        generated = schema["properties"][key]
        kind = next((mark.kind for mark in marks if isinstance(mark, NamesThing)), None)
        value = _written_form(model, key, names)
        if value is None:
            value = _simplified(generated) if kind is None else _id_schema(names, kind)
        if NOT_EMPTY in marks:
            value = {**value, "minItems": 1}
        means = _meaning(model, key)
        schema["properties"][key] = {"description": means, **value} if means else value


def _meaning(model: type[Record], key: str) -> str:
    """The meaning of a key of a record, looked up by its class and base classes; "" without one."""
    named = (key_meanings().get(one.__name__, {}).get(key) for one in model.__mro__)
    return next(filter(None, named), "")


def _subclasses(model: type[Record] = Record) -> Iterator[type[Record]]:
    """Yield a class of records and all of its subclasses."""
    yield model
    for kind in model.__subclasses__():
        yield from _subclasses(kind)


def _simplified(schema: Schema) -> Schema:
    """A value's schema without titles, defaults and null, which no file can hold."""
    plain = {
        key: value
        for key, value in schema.items()
        if key not in ("title", "default", "description") and (key, value) != _NO_EXAMPLE
    }
    choices = [_simplified(part) for part in plain.get("anyOf", ()) if part != {"type": "null"}]
    if choices:
        plain.pop("anyOf")
        return {**plain, **(choices[0] if len(choices) == 1 else {"anyOf": choices})}
    if isinstance(plain.get("items"), dict):
        plain["items"] = _simplified(plain["items"])
    elif plain.get("type") == "array" and "items" not in plain:
        plain["items"] = TEXT
    plain.pop("prefixItems", None)
    if {"yes", "no"} & set(plain.get("enum", ())) and True not in plain["enum"]:
        # An editor may read these words, unquoted, as true and false.
        return {"enum": [*plain["enum"], True, False]}
    return plain


def _written_form(model: type[Record], key: str, names: KnownNames) -> Schema | None:
    """The schema of a value that is written otherwise than it is stored; None for any other."""
    forms: Mapping[tuple[type[Record], str], Schema] = {
        (write_up.WriteUp, "packaging"): _list(_id_schema(names, "packaging")),
        (write_up.WriteUp, "variants"): _variants_schema(),
        (write_up.WriteUp, "pours"): _list(_ref(write_up.WrittenPour)),
        (write_up.Layer, "base"): _base_schema(names),
        (write_up.Layer, "fragrance"): _one_or_list(write_up.FragranceDose),
        (write_up.Layer, "colours"): _one_or_list(write_up.ColourDose),
        (write_up.Layer, "additives"): _one_or_list(write_up.AdditiveDose),
        (Leftover, "base"): _base_schema(names),
        (Leftover, "tinted"): _one_of(_NONE, _id_schema(names, "colourants")),
        (Leftover, "scented"): _one_of(_NONE, _ref(Scent)),
        (Fragrance, "allergens"): _by_name(
            _value(read.read_share, "3 %"), "INCI name, and its share of the oil."
        ),
        (write_up.Question, "compare"): _one_of(TEXT, _list(TEXT)),
        (write_up.Question, "by"): _named_measure(names, deciding=True),
        (write_up.Failure, "what"): {"enum": list(names.symptoms)},
        (write_up.Photo, "scale"): _one_of(
            {"enum": ["card"]},
            _value(read.read_mm_per_px, "0.08 mm/px"),
            _ref(write_up.TwoPoints),
            _closed_mapping(
                "card", {"description": "How the photo card lies.", **_ref(write_up.CardPosition)}
            ),
        ),
        (write_up.Measuring, "regions"): _by_name(
            {**_list(_value(read.read_number)), "minItems": 4, "maxItems": 4}, ""
        ),
        (write_up.WrittenPour, "melted"): _by_name(_value(read.read_mass, "21 oz"), ""),
        (write_up.WrittenPour, "poured"): _by_name(_value(read.read_temperature, "131 F"), ""),
        (write_up.WrittenPour, "did"): _ref("Change"),
        (write_up.WrittenPour, "readings"): _readings_schema(),
        (write_up.WrittenPour, "bars"): _rows_schema(names, ("bar",), ("day",)),
        (write_up.WrittenPour, "later"): _rows_schema(
            names, ("bar", "day"), ("variant", "piece", "at", "peeled", "poured", "spoilt")
        ),
        (write_up.WrittenPour, "lots"): _by_name(_one_of(TEXT, _list(TEXT)), "A material's lots."),
        (Settings, "waste"): _one_of(_value(read.read_share, "3 %"), _ref(PotResidue)),
        (Settings, "symptoms"): _one_of(_list(TEXT), _by_name(TEXT, "")),
        (WrittenComparison, "by"): _one_of(
            _named_measure(names), {**_list(_named_measure(names)), "minItems": 1}
        ),
        (WrittenComparison, "where"): _by_name(TEXT, ""),
    }
    if issubclass(model, ShelfRecord) and key == "on_hand":
        return _one_of(_value(read.read_amount, "22 oz"), _ref(CountedAmount))
    return forms.get((model, key))


def _id_schema(names: KnownNames, kind: str) -> Schema:
    """The schema of an id: those that exist, for the editor to offer, or any other.

    ``journal check`` reports unknown ones: a thing may have been put on the shelf since the
    schema was made.
    """
    ids = names.ids.get(kind, ())
    other: Schema = {"type": "string", "pattern": ID}
    return _one_of({"enum": list(ids)}, other) if ids else other


def _named_measure(names: KnownNames, deciding: bool = False) -> Schema:
    """The schema of a measure's name; of one that can decide a question, if ``deciding``."""
    known = [
        name
        for name, measure in names.measures.items()
        if measure.better is not None or not deciding
    ]
    return {"enum": known} if known else TEXT


def _base_schema(names: KnownNames) -> Schema:
    """The schema of a base: an id, a leftover, bases with shares, or a blend of both."""
    share = _value(read.read_share, "70 %")
    mapping: Schema = {
        "type": "object",
        "properties": {
            "leftover": {"description": "A leftover, by its id.", **_id_schema(names, "leftovers")},
            **dict.fromkeys(names.ids.get("bases", ()), share),
        },
        "additionalProperties": share,
        "minProperties": 1,
    }
    kinds = {"base": "bases", "leftover": "leftovers"}
    parts: list[Schema] = [
        {
            "type": "object",
            "properties": {key: _id_schema(names, kind), "share": share},
            "required": [key, "share"],
            "additionalProperties": False,
        }
        for key, kind in kinds.items()
    ]
    blend: Schema = {"type": "array", "items": _one_of(*parts), "minItems": 1}
    return _one_of(_id_schema(names, "bases"), mapping, blend)


def _variants_schema() -> Schema:
    """The schema of variants by name, or of groups of them."""
    empty: Schema = {"enum": ["", None]}
    one = _one_of(empty, _ref("Change"))
    return _by_name(_one_of(one, _by_name(one, "")), "A variant, or a group of variants.")


def _readings_schema() -> Schema:
    """The schema of readings: by pot, or a text (in columns, or the name of a CSV file)."""
    time, degrees = _value(read.read_moment, "0:08"), _value(read.read_temperature, "140 F")
    sure = _closed_mapping("sure", {"description": key_meanings()["row"]["sure"], **_YES_OR_NO})
    mark = _one_of(TEXT, _EMPTY_CELL, sure)
    reading: Schema = {
        "type": "array", "prefixItems": [time, degrees, mark, sure], "minItems": 2, "maxItems": 4,
    }  # fmt: skip
    return _one_of(TEXT, _by_name(_list(reading), "A pot's readings."))


def _rows_schema(names: KnownNames, required: tuple[str, ...], without: tuple[str, ...]) -> Schema:
    """The schema of rows of measured values; any further cell may name a group of variants."""
    degrees = _value(read.read_temperature, "131 F")
    forms = {
        "poured": _one_of(degrees, _by_name(degrees, "")),
        "at": _value(read.read_count, "3"),
        "peeled": _value(read.read_count, "2"),
        "day": _value(read.read_count, "30"),
        "spoilt": {"enum": list(write_up.SPOILT)},
    }
    cells: dict[str, Schema] = {
        key: {"description": says, **_cell(forms.get(key, TEXT), key in required)}
        for key, says in key_meanings()["row"].items()
        if key not in without
    }
    for name, measure in names.measures.items():
        cells[name] = {"description": _measure_text(measure), **_cell(_measured(measure))}
    row: Schema = {
        "type": "object",
        "properties": cells,
        "required": list(required),
        "additionalProperties": _cell(TEXT),
    }
    return _one_of(TEXT, _list(row))


def _cell(value: Schema, filled: bool = False) -> Schema:
    """The schema of a cell of a row, which may be empty if it need not be ``filled``."""
    return value if filled else _one_of(value, _EMPTY_CELL)


def _measured(measure: Measure) -> Schema:
    """The schema of a measured value."""
    if measure.kind == "colour":
        # A group of variants may have the name of a colour's measure.
        return _one_of(TEXT, _list(_value(read.read_signed_number)))
    return _value(READERS_OF_MEASURES[measure.kind])


def _measure_text(measure: Measure) -> str:
    """Describe a measure in a sentence: what it is, its unit, which direction is better."""
    unit = {"yes-no": "yes or no", "rating": f"1 to {measure.of}"}.get(measure.kind, measure.unit)
    better = f"; {measure.better} is better" if measure.better else ""
    return (
        f"{measure.says[:1].upper()}{measure.says[1:].rstrip('.')} ({unit or 'a count'}{better})."
    )


def _closed_mapping(key: str, value: Schema) -> Schema:
    """The schema of a mapping with this one key."""
    return {
        "type": "object",
        "properties": {key: value},
        "required": [key],
        "additionalProperties": False,
    }


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _by_name(value: Schema, description: str) -> Schema:
    mapping: Schema = {"type": "object", "additionalProperties": value}
    return {"description": description, **mapping} if description else mapping


def _one_or_list(record: type[Record]) -> Schema:
    return _one_of(_ref(record), _list(_ref(record)))


def _ref(record: type[Record] | str) -> Schema:
    """A reference to the definition of a record, or to the one of that name."""
    return {"$ref": f"#/$defs/{record if isinstance(record, str) else record.__name__}"}


def _one_of(*forms: Schema) -> Schema:
    return {"anyOf": list(forms)}


def _used_definitions(schema: Schema, defs: Mapping[str, Schema]) -> set[str]:
    """The names of all definitions that a schema uses, directly or through others."""
    reached: set[str] = set()
    to_visit = [schema]
    while to_visit:
        for name in _direct_refs(to_visit.pop()):
            if name in defs and name not in reached:
                reached.add(name)
                to_visit.append(defs[name])
    return reached


def _direct_refs(schema: object) -> Iterable[str]:
    """Yield the names of the definitions that a schema refers to directly."""
    if isinstance(schema, dict):
        for key, value in schema.items():
            if key == "$ref" and isinstance(value, str):
                yield value.removeprefix("#/$defs/")
            else:
                yield from _direct_refs(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from _direct_refs(value)
