"""JSON Schema (draft 2020-12) of the files of a notebook, made from the records that read them.

Of a field that is written in another form than it is stored in, the form is stated
here; everything else comes from the records. A schema says what an editor can see at
once. What takes other files, or a figure, is for ``journal check``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

import yaml
from msgspec import Struct, field

from journal.records.models import write_up
from journal.records.models.fields import NOT_EMPTY, NamesThing, Record
from journal.records.models.questions import WrittenComparison, WrittenOrder
from journal.records.models.settings import BUILT_IN_SYMPTOMS, Measure, PotResidue, Settings
from journal.records.models.shelf import KINDS, Fragrance, Leftover, Scent
from journal.records.models.variants import CHANGEABLE
from journal.records.notebook import Notebook

Schema = dict[str, Any]

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
# What an editor may take an unquoted value for; the journal reads it as it is written.
SCALAR: Final[Schema] = {"type": ["string", "number", "boolean"]}
# An editor may take "no" for something else.
_NONE: Final[Schema] = {"enum": ["no", False]}
ID: Final = "^[a-z0-9][a-z0-9-]{0,79}$"
# Which file is each schema for?
PATTERNS: Final[Mapping[str, str]] = {
    "journal": "journal.yaml",
    "write-up": "designs/*/design.md",
    **{f"shelf-{kind}": f"shelf/{kind}.yaml" for kind in KINDS},
    "comparison": "comparisons/*.md",
    "order": "orders/*.yaml",
}
# What the mark of plain words has for an example.
_NO_EXAMPLE = ("examples", ["some words"])


@cache
def key_meanings() -> Mapping[str, Mapping[str, str]]:
    """What is written at each key, by record and key."""
    text = Path(__file__).with_name("key_meanings.yaml").read_text("utf-8")
    meanings: Mapping[str, Mapping[str, str]] = yaml.load(text, yaml.BaseLoader)
    return meanings


class KnownNames(Struct, frozen=True):
    """What a notebook knows by name: ids by kind, measures, symptoms."""

    ids: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    measures: Mapping[str, Measure] = field(default_factory=dict)
    symptoms: tuple[str, ...] = tuple(BUILT_IN_SYMPTOMS)


def names_of(notebook: Notebook) -> KnownNames:
    """What the names of a notebook are, for an editor to offer."""
    ids = {kind: tuple(notebook.shelf.of_kind(kind)) for kind in KINDS}
    ids["designs"] = tuple(notebook.designs)
    settings = notebook.settings
    return KnownNames(ids, settings.all_measures(), tuple(settings.all_symptoms()))


def schemas(names: KnownNames) -> dict[str, Schema]:
    """A schema for each kind of file, by the names of ``PATTERNS``."""
    by_name = {
        "journal": _whole(Settings, names),
        "write-up": _write_up(names),
        "comparison": _whole(WrittenComparison, names),
        "order": _whole(WrittenOrder, names),
    }
    for name, kind in KINDS.items():
        by_name[f"shelf-{name}"] = _shelf(kind.record, names)
    return {name: by_name[name] for name in PATTERNS}


def _whole(model: type[Record], names: KnownNames) -> Schema:
    """The schema of a record, with the definitions that it refers to."""
    schema = model.model_json_schema()
    defs: dict[str, Schema] = schema.pop("$defs", {})
    _describe(model, schema, names)
    for record in _records():
        if record.__name__ in defs:
            _describe(record, defs[record.__name__], names)
    schema = {"$schema": DIALECT, **schema}
    reached = _reached(schema, defs)
    if reached:
        schema["$defs"] = {name: defs[name] for name in sorted(reached)}
    return schema


def _shelf(model: type[Record], names: KnownNames) -> Schema:
    """The schema of a file of the shelf: records by their ids."""
    inner = _whole(model, names)
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


def _write_up(names: KnownNames) -> Schema:
    """The schema of a write-up, in which variants and pours may change parts of the recipe."""
    schema = _whole(write_up.WriteUp, names)
    pour = _whole(write_up.WrittenPour, names)
    defs = schema["$defs"]
    del pour["$schema"]
    defs["WrittenPour"] = pour
    layer = {key: value for key, value in defs["Layer"]["properties"].items() if key != "name"}
    for key, record, one in (
        ("fragrance", write_up.FragranceDose, "an oil"),
        ("colours", write_up.ColourDose, "a colour"),
        ("additives", write_up.AdditiveDose, "an additive"),
    ):
        name, change = record.__name__, f"{record.__name__}Change"
        defs[change] = _changes(defs[name]["properties"], f"What a variant changes of {one}.")
        forms = _one_of(_ref(change), _list(_ref(record)))
        layer[key] = {"description": layer[key]["description"], **forms}
    defs["LayerChange"] = _changes(layer, "What a variant changes of a layer.")
    recipe = {key: schema["properties"][key] for key in CHANGEABLE}
    recipe["layers"] = {
        "description": "Layers by name, with what changes of each; or a whole list of layers.",
        **_one_of(_by_name(_ref("LayerChange"), ""), _list(_ref(write_up.Layer))),
    }
    defs["Change"] = _changes(recipe, "What a variant changes of the recipe.")
    return schema


def _changes(properties: Mapping[str, Schema], description: str) -> Schema:
    """Some of the keys of a record."""
    return {
        "description": description,
        "type": "object",
        "properties": dict(properties),
        "additionalProperties": False,
    }


def _describe(model: type[Record], schema: Schema, names: KnownNames) -> None:
    """Add what each key of a record means and what may stand there; take out how it is stored."""
    schema.pop("title", None)
    for name, field_info in model.model_fields.items():
        key, marks = field_info.alias or name, field_info.metadata
        generated = schema["properties"][key]
        kind = next((mark.kind for mark in marks if isinstance(mark, NamesThing)), None)
        value = _written_as(model, key, names)
        if value is None:
            value = _plain(generated) if kind is None else _named(names, kind)
        if NOT_EMPTY in marks:
            value = {**value, "minItems": 1}
        means = _meaning(model, key)
        schema["properties"][key] = {"description": means, **value} if means else value


def _meaning(model: type[Record], key: str) -> str:
    """What a key means, by the record that it belongs to or one that this is a kind of."""
    named = (key_meanings().get(one.__name__, {}).get(key) for one in model.__mro__)
    return next(filter(None, named), "")


def _records(model: type[Record] = Record) -> Iterator[type[Record]]:
    """A record and all kinds of it."""
    yield model
    for kind in model.__subclasses__():
        yield from _records(kind)


def _plain(schema: Schema) -> Schema:
    """A value's schema without titles, defaults, and the absence that no file can write."""
    plain = {
        key: value
        for key, value in schema.items()
        if key not in ("title", "default", "description") and (key, value) != _NO_EXAMPLE
    }
    choices = [_plain(part) for part in plain.get("anyOf", ()) if part != {"type": "null"}]
    if choices:
        plain.pop("anyOf")
        return {**plain, **(choices[0] if len(choices) == 1 else {"anyOf": choices})}
    if isinstance(plain.get("items"), dict):
        plain["items"] = _plain(plain["items"])
    elif plain.get("type") == "array" and "items" not in plain:
        plain["items"] = SCALAR
    plain.pop("prefixItems", None)
    if {"yes", "no"} & set(plain.get("enum", ())):
        # An editor may take these words for something else.
        return {"enum": [*plain["enum"], True, False]}
    return plain


def _written_as(model: type[Record], key: str, names: KnownNames) -> Schema | None:
    """The schema of a value that is written in another form than it is stored in."""
    forms: Mapping[tuple[type[Record], str], Schema] = {
        (write_up.WriteUp, "packaging"): _list(_named(names, "packaging")),
        (write_up.WriteUp, "variants"): _variants(),
        (write_up.WriteUp, "pours"): _list(_ref(write_up.WrittenPour)),
        (write_up.Layer, "base"): _base(names),
        (write_up.Layer, "fragrance"): _one_or_list(write_up.FragranceDose),
        (write_up.Layer, "colours"): _one_or_list(write_up.ColourDose),
        (write_up.Layer, "additives"): _one_or_list(write_up.AdditiveDose),
        (Leftover, "base"): _base(names),
        (Leftover, "tinted"): _one_of(_NONE, _named(names, "colourants")),
        (Leftover, "scented"): _one_of(_NONE, _ref(Scent)),
        (Fragrance, "allergens"): _by_name(SCALAR, "INCI name, and its share of the oil."),
        (write_up.Question, "compare"): _one_of(SCALAR, _list(SCALAR)),
        (write_up.Question, "by"): _named_measure(names),
        (write_up.Failure, "what"): {"enum": list(names.symptoms)},
        (write_up.Photo, "scale"): _one_of(
            SCALAR, _ref(write_up.TwoPoints), _with("card", _ref(write_up.CardPosition))
        ),
        (write_up.Measuring, "regions"): _by_name(
            {**_list(SCALAR), "minItems": 4, "maxItems": 4}, ""
        ),
        (write_up.WrittenPour, "melted"): _by_name(SCALAR, ""),
        (write_up.WrittenPour, "poured"): _by_name(SCALAR, ""),
        (write_up.WrittenPour, "did"): _ref("Change"),
        (write_up.WrittenPour, "readings"): _readings(),
        (write_up.WrittenPour, "bars"): _rows(names, ("bar",), ("day",)),
        (write_up.WrittenPour, "later"): _rows(
            names, ("bar", "day"), ("variant", "piece", "poured")
        ),
        (Settings, "waste"): _one_of(SCALAR, _ref(PotResidue)),
        (Settings, "symptoms"): _one_of(_list(SCALAR), _by_name(SCALAR, "")),
        (WrittenComparison, "by"): _one_of(
            _named_measure(names), {**_list(_named_measure(names)), "minItems": 1}
        ),
        (WrittenComparison, "where"): _by_name(SCALAR, ""),
    }
    return forms.get((model, key))


def _named(names: KnownNames, kind: str) -> Schema:
    """A name: those that there are, for the editor to offer, and any other.

    One that is not there is for ``journal check``: it may have been put on the shelf
    since the schema was made.
    """
    ids = names.ids.get(kind, ())
    other: Schema = {"type": "string", "pattern": ID}
    return _one_of({"enum": list(ids)}, other) if ids else other


def _named_measure(names: KnownNames) -> Schema:
    """A measure that can decide a question."""
    deciding = [name for name, measure in names.measures.items() if measure.better is not None]
    return {"enum": deciding} if deciding else SCALAR


def _base(names: KnownNames) -> Schema:
    """A base's id, a leftover, or shares of bases."""
    mapping: Schema = {
        "type": "object",
        "properties": {
            "leftover": {"description": "A leftover, by its id.", **_named(names, "leftovers")},
            **dict.fromkeys(names.ids.get("bases", ()), SCALAR),
        },
        "additionalProperties": SCALAR,
        "minProperties": 1,
    }
    return _one_of(_named(names, "bases"), mapping)


def _variants() -> Schema:
    """Variants by name, or groups of them."""
    empty: Schema = {"enum": ["", None]}
    one = _one_of(empty, _ref("Change"))
    return _by_name(_one_of(one, _by_name(one, "")), "A variant, or a group of variants.")


def _readings() -> Schema:
    """Readings by pot, or a table or CSV file as text."""
    reading: Schema = {**_list(SCALAR), "minItems": 2, "maxItems": 3}
    return _one_of({"type": "string"}, _by_name(_list(reading), "A pot's readings."))


def _rows(names: KnownNames, required: tuple[str, ...], without: tuple[str, ...]) -> Schema:
    """Rows with what was measured; a group of variants is a column of its own, of any name."""
    forms = {"poured": _one_of(SCALAR, _by_name(SCALAR, ""))}
    cells: dict[str, Schema] = {
        key: {"description": says, **forms.get(key, SCALAR)}
        for key, says in key_meanings()["row"].items()
        if key not in without
    }
    for name, measure in names.measures.items():
        # A group of variants may have the name of a colour's measure.
        value = _one_of(SCALAR, _list(SCALAR)) if measure.kind == "colour" else SCALAR
        cells[name] = {"description": _measure_text(measure), **value}
    row: Schema = {
        "type": "object",
        "properties": cells,
        "required": list(required),
        "additionalProperties": SCALAR,
    }
    return _one_of({"type": "string"}, _list(row))


def _measure_text(measure: Measure) -> str:
    """What a measure is, its unit and which way is better, as a sentence."""
    unit = {"yes-no": "yes or no", "rating": f"1 to {measure.of}"}.get(measure.kind, measure.unit)
    better = f"; {measure.better} is better" if measure.better else ""
    return (
        f"{measure.says[:1].upper()}{measure.says[1:].rstrip('.')} ({unit or 'a count'}{better})."
    )


def _with(key: str, value: Schema) -> Schema:
    """A mapping of one key."""
    return {
        "type": "object",
        "properties": {key: {"description": "How the photo card lies.", **value}},
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


def _reached(schema: Schema, defs: Mapping[str, Schema]) -> set[str]:
    """The definitions that a schema leads to, through one another."""
    reached: set[str] = set()
    todo = [schema]
    while todo:
        for name in _refs(todo.pop()):
            if name in defs and name not in reached:
                reached.add(name)
                todo.append(defs[name])
    return reached


def _refs(schema: object) -> Iterable[str]:
    """The names of all definitions that a schema refers to itself."""
    if isinstance(schema, dict):
        for key, value in schema.items():
            if key == "$ref" and isinstance(value, str):
                yield value.removeprefix("#/$defs/")
            else:
                yield from _refs(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from _refs(value)
