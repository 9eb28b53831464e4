"""JSON Schema (draft 2020-12) of the files of a notebook, made from the records that read them.

Of a field that is written in another form than it is kept in, the form is stated
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

from journal.records.models.fields import NOT_EMPTY, NamesThing, Record
from journal.records.models.questions import WrittenComparison, WrittenOrder
from journal.records.models.settings import BUILT_IN_SYMPTOMS, Measure, Settings
from journal.records.models.shelf import KINDS
from journal.records.models.variants import CHANGEABLE
from journal.records.models.write_up import DOSED, WriteUp, WrittenPour
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
    """What is written at each key whose record does not say it itself, by record and key."""
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


def schemas(known: KnownNames) -> dict[str, Schema]:
    """A schema for each kind of file, by the names of ``PATTERNS``."""
    made = {
        "journal": _whole(Settings, known),
        "write-up": _write_up(known),
        "comparison": _whole(WrittenComparison, known),
        "order": _whole(WrittenOrder, known),
    }
    for name, kind in KINDS.items():
        made[f"shelf-{name}"] = _shelf(kind.record, known)
    return {name: made[name] for name in PATTERNS}


def _whole(model: type[Record], known: KnownNames) -> Schema:
    schema = model.model_json_schema()
    defs: dict[str, Schema] = {model.__name__: schema, **schema.pop("$defs", {})}
    for name, found in defs.items():
        _tell(name, found, known)
    defs.pop(model.__name__)
    told = {"$schema": DIALECT, **schema}
    reached = _reached(told, defs)
    if reached:
        told["$defs"] = {name: defs[name] for name in sorted(reached)}
    return told


def _shelf(model: type[Record], known: KnownNames) -> Schema:
    inner = _whole(model, known)
    defs = {model.__name__: inner, **inner.pop("$defs", {})}
    del inner["$schema"]
    return {
        "$schema": DIALECT,
        "description": "Each entry's key is its id, by which write-ups name it.",
        "type": "object",
        "propertyNames": {"pattern": ID},
        "additionalProperties": {"$ref": f"#/$defs/{model.__name__}"},
        "$defs": defs,
    }


def _write_up(known: KnownNames) -> Schema:
    schema = _whole(WriteUp, known)
    pour = _whole(WrittenPour, known)
    defs = schema["$defs"]
    del pour["$schema"]
    defs["WrittenPour"] = pour
    for record, says in (
        ("FragranceDose", "What a variant changes of an oil."),
        ("ColourDose", "What a variant changes of a colour."),
        ("AdditiveDose", "What a variant changes of an additive."),
    ):
        defs[f"{record}Change"] = _changes(defs[record]["properties"], says)
    layer = {key: value for key, value in defs["Layer"]["properties"].items() if key != "name"}
    listed = {"fragrance": "FragranceDose"} | {key: one.__name__ for key, one in DOSED.items()}
    for key, record in listed.items():
        parts = _one_of({"$ref": f"#/$defs/{record}Change"}, _list({"$ref": f"#/$defs/{record}"}))
        layer[key] = {"description": layer[key]["description"], **parts}
    defs["LayerChange"] = _changes(layer, "What a variant changes of a layer.")
    change = {key: schema["properties"][key] for key in CHANGEABLE}
    change["layers"] = {
        "description": "Layers by name, with what changes of each; or a whole list of layers.",
        **_one_of(_by_name({"$ref": "#/$defs/LayerChange"}, ""), _list({"$ref": "#/$defs/Layer"})),
    }
    defs["Change"] = _changes(change, "What a variant changes of the recipe.")
    return schema


def _changes(properties: Mapping[str, Schema], says: str) -> Schema:
    """Some of the keys of a record."""
    return {
        "description": says,
        "type": "object",
        "properties": dict(properties),
        "additionalProperties": False,
    }


# What a record's own schema does not tell ------------------------------------------


def _tell(name: str, schema: Schema, known: KnownNames) -> None:
    """Add what each key means and what may stand there; take out how it is kept."""
    schema.pop("title", None)
    fields = dict(_fields(name))
    for key, found in schema.get("properties", {}).items():
        marks = fields[key].metadata if key in fields else ()
        names = next((mark.kind for mark in marks if isinstance(mark, NamesThing)), None)
        other = _written_as(name, key, known)
        if other is None:
            value = _plain(found) if names is None else _named(known, names)
        else:
            value = other
        if NOT_EMPTY in marks:
            value = {**value, "minItems": 1}
        says = found.get("description") or key_meanings().get(name, {}).get(key)
        schema["properties"][key] = {"description": says, **value} if says else value


def _fields(name: str) -> Iterator[tuple[str, Any]]:
    """The fields of a record by their keys."""
    todo = list(Record.__subclasses__())
    while todo:
        model = todo.pop()
        if model.__name__ == name:
            yield from ((field.alias or key, field) for key, field in model.model_fields.items())
            return
        todo += model.__subclasses__()


def _plain(schema: Schema) -> Schema:
    """A value's schema without titles, defaults, and the absence that no file can write."""
    kept = {
        key: value
        for key, value in schema.items()
        if key not in ("title", "default", "description") and (key, value) != _NO_EXAMPLE
    }
    choices = [_plain(part) for part in kept.get("anyOf", ()) if part != {"type": "null"}]
    if choices:
        kept.pop("anyOf")
        return {**kept, **(choices[0] if len(choices) == 1 else {"anyOf": choices})}
    if isinstance(kept.get("items"), dict):
        kept["items"] = _plain(kept["items"])
    elif kept.get("type") == "array" and "items" not in kept:
        kept["items"] = SCALAR
    kept.pop("prefixItems", None)
    if {"yes", "no"} & set(kept.get("enum", ())):
        # An editor may take these words for something else.
        return {"enum": [*kept["enum"], True, False]}
    return kept


def _written_as(name: str, key: str, known: KnownNames) -> Schema | None:
    forms: Mapping[tuple[str, str], Schema] = {
        ("WriteUp", "packaging"): _list(_named(known, "packaging")),
        ("WriteUp", "variants"): _variants(),
        ("WriteUp", "pours"): _list({"$ref": "#/$defs/WrittenPour"}),
        ("Layer", "base"): _base(known),
        ("Layer", "fragrance"): _one_or_list("FragranceDose"),
        ("Layer", "colours"): _one_or_list("ColourDose"),
        ("Layer", "additives"): _one_or_list("AdditiveDose"),
        ("Leftover", "base"): _base(known),
        ("Leftover", "tinted"): _one_of(_NONE, _named(known, "colourants")),
        ("Leftover", "scented"): _one_of(_NONE, {"$ref": "#/$defs/Scent"}),
        ("Fragrance", "allergens"): _by_name(SCALAR, "INCI name, and its share of the oil."),
        ("Question", "compare"): _one_of(SCALAR, _list(SCALAR)),
        ("Question", "by"): _named_measure(known),
        ("Failure", "what"): {"enum": list(known.symptoms)},
        ("Photo", "scale"): _one_of(
            SCALAR, {"$ref": "#/$defs/TwoPoints"}, _with("card", {"$ref": "#/$defs/CardLies"})
        ),
        ("Measuring", "regions"): _by_name({**_list(SCALAR), "minItems": 4, "maxItems": 4}, ""),
        ("WrittenPour", "melted"): _by_name(SCALAR, ""),
        ("WrittenPour", "poured"): _by_name(SCALAR, ""),
        ("WrittenPour", "did"): {"$ref": "#/$defs/Change"},
        ("WrittenPour", "readings"): _readings(),
        ("WrittenPour", "bars"): _rows(known, ("bar",), ("day",)),
        ("WrittenPour", "later"): _rows(known, ("bar", "day"), ("variant", "piece", "poured")),
        ("Settings", "waste"): _one_of(SCALAR, {"$ref": "#/$defs/Waste"}),
        ("Settings", "symptoms"): _one_of(_list(SCALAR), _by_name(SCALAR, "")),
        ("AcrossDesigns", "by"): _one_of(
            _named_measure(known), {**_list(_named_measure(known)), "minItems": 1}
        ),
        ("AcrossDesigns", "where"): _by_name(SCALAR, ""),
    }
    return forms.get((name, key))


def _named(known: KnownNames, kind: str) -> Schema:
    """A name: those that there are, for the editor to offer, and any other.

    One that is not there is for ``journal check``: it may have been put on the shelf
    since the schema was made.
    """
    ids = known.ids.get(kind, ())
    other: Schema = {"type": "string", "pattern": ID}
    return _one_of({"enum": list(ids)}, other) if ids else other


def _named_measure(known: KnownNames) -> Schema:
    names = [name for name, measure in known.measures.items() if measure.better is not None]
    return {"enum": names} if names else SCALAR


def _base(known: KnownNames) -> Schema:
    mapping: Schema = {
        "type": "object",
        "properties": {
            "leftover": {"description": "A leftover, by its id.", **_named(known, "leftovers")},
            **dict.fromkeys(known.ids.get("bases", ()), SCALAR),
        },
        "additionalProperties": SCALAR,
        "minProperties": 1,
    }
    return _one_of(_named(known, "bases"), mapping)


def _variants() -> Schema:
    empty: Schema = {"enum": ["", None]}
    one = _one_of(empty, {"$ref": "#/$defs/Change"})
    return _by_name(_one_of(one, _by_name(one, "")), "A variant, or a group of variants.")


def _readings() -> Schema:
    reading: Schema = {**_list(SCALAR), "minItems": 2, "maxItems": 3}
    return _one_of({"type": "string"}, _by_name(_list(reading), "A pot's readings."))


def _rows(known: KnownNames, required: tuple[str, ...], without: tuple[str, ...]) -> Schema:
    """Rows with what was measured; a group of variants is a column of its own, of any name."""
    forms = {"poured": _one_of(SCALAR, _by_name(SCALAR, ""))}
    cells: dict[str, Schema] = {
        key: {"description": says, **forms.get(key, SCALAR)}
        for key, says in key_meanings()["row"].items()
        if key not in without
    }
    for name, measure in known.measures.items():
        # A group of variants may have the name of a colour's measure.
        value = _one_of(SCALAR, _list(SCALAR)) if measure.kind == "colour" else SCALAR
        cells[name] = {"description": _said(measure), **value}
    row: Schema = {
        "type": "object",
        "properties": cells,
        "required": list(required),
        "additionalProperties": SCALAR,
    }
    return _one_of({"type": "string"}, _list(row))


def _said(measure: Measure) -> str:
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


def _by_name(value: Schema, says: str) -> Schema:
    made: Schema = {"type": "object", "additionalProperties": value}
    return {"description": says, **made} if says else made


def _one_or_list(record: str) -> Schema:
    one: Schema = {"$ref": f"#/$defs/{record}"}
    return _one_of(one, _list(one))


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
    if isinstance(schema, dict):
        for key, value in schema.items():
            if key == "$ref" and isinstance(value, str):
                yield value.removeprefix("#/$defs/")
            else:
                yield from _refs(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from _refs(value)
