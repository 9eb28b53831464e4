"""The schemas of a notebook's files: the demo's and the cases' fit, broken ones do not."""

from __future__ import annotations

import copy
import fnmatch
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from demo import BARLEY
from paths import PROJECT

from journal.records.models.fields import Record, keys_of
from journal.records.notebook import read_notebook
from journal.records.schema import PATTERNS, KnownNames, key_meanings, names_of, schemas
from journal.records.yaml.source import parse_yaml, split_write_up

NOTEBOOKS = (PROJECT / "content", PROJECT / "journal" / "starter", PROJECT / "tests/cases/notebook")


class Core(yaml.SafeLoader):
    """YAML as an editor reads it (1.2 core schema): yes and no, dates and 1:30 are text."""


Core.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in found if not tag.endswith((":timestamp", ":bool"))]
    for first, found in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def plain(tree: Any) -> Any:
    """The journal's own tree as plain data: every scalar a text."""
    if isinstance(tree, dict):
        return {str(key): plain(value) for key, value in tree.items()}
    if isinstance(tree, list):
        return [plain(value) for value in tree]
    return str(tree)


def as_the_journal(text: str, path: str) -> Any:
    if path.endswith(".md"):
        return plain(split_write_up(text, path).front)
    return plain(parse_yaml(text, path))


def as_an_editor(text: str, path: str) -> Any:
    if path.endswith(".md"):
        text = text.split("\n---\n")[0]
    return yaml.load(text, Loader=Core)


def files() -> list[tuple[Path, str]]:
    """Every file of the sound notebooks that a schema is for, and which."""
    found = []
    for root in NOTEBOOKS:
        for path in sorted(root.rglob("*")):
            for name, pattern in PATTERNS.items():
                if fnmatch.fnmatch(path.relative_to(root).as_posix(), pattern) and path.is_file():
                    found.append((path, name))
    return found


@pytest.fixture(scope="module")
def made() -> dict[Path, dict[str, Any]]:
    """The schemas of each notebook."""
    return {root: schemas(names_of(read_notebook(root))) for root in NOTEBOOKS}


def faults(schema: Any, tree: Any) -> list[str]:
    return [
        f"{fault.json_path}: {fault.message[:200]}"
        for fault in jsonschema.Draft202012Validator(schema).iter_errors(tree)
    ]


def test_each_kind_of_file_is_tried() -> None:
    assert {name for _, name in files()} == set(PATTERNS)


@pytest.mark.parametrize("read", [as_the_journal, as_an_editor])
@pytest.mark.parametrize(("path", "name"), files(), ids=str)
def test_a_sound_file_fits(
    made: dict[Path, dict[str, Any]], path: Path, name: str, read: Callable[[str, str], Any]
) -> None:
    root = next(root for root in NOTEBOOKS if path.is_relative_to(root))
    text = path.read_text("utf-8")
    assert faults(made[root][name], read(text, path.name)) == []


@pytest.mark.parametrize("path", sorted((PROJECT / "tests/cases/valid").glob("*.md")),
                         ids=lambda path: path.stem)  # fmt: skip
def test_every_form_that_is_allowed_fits(path: Path) -> None:
    schema = schemas(names_of(read_notebook(PROJECT / "tests/cases/notebook")))["write-up"]
    assert faults(schema, as_the_journal(path.read_text("utf-8"), path.name)) == []


@pytest.mark.parametrize("name", sorted(PATTERNS))
def test_each_is_a_schema_and_says_what_every_key_means(name: str) -> None:
    schema = schemas(KnownNames())[name]
    jsonschema.Draft202012Validator.check_schema(schema)
    silent = list(_silent(schema))
    assert not silent, silent
    assert "title" not in schema


def _silent(schema: Any, at: str = "") -> Iterator[str]:
    """Keys without a sentence for the editor to show."""
    if not isinstance(schema, dict):
        return
    for key, found in schema.get("properties", {}).items():
        if not str(found.get("description", "")).strip().endswith((".", "?")):
            yield f"{at}/{key}"
    for key, found in schema.items():
        inner = found.items() if key in ("properties", "$defs") else ((key, found),)
        for step, value in inner:
            yield from _silent(value, f"{at}/{step}")


def test_no_sentence_is_for_a_key_that_there_is_not() -> None:
    keys = {record.__name__: keys_of(record) for record in kinds_of(Record)}
    for name, meanings in key_meanings().items():
        assert name == "row" or meanings.keys() <= set(keys[name]), name


def kinds_of(record: type[Record]) -> Iterator[type[Record]]:
    yield record
    for kind in record.__subclasses__():
        yield from kinds_of(kind)


def test_names_are_offered(made: dict[Path, dict[str, Any]]) -> None:
    schema = made[PROJECT / "content"]["write-up"]
    assert "kelp-frond" in schema["properties"]["mat"]["anyOf"][0]["enum"]
    assert BARLEY in schema["properties"]["grew_from"]["anyOf"][0]["enum"]
    row = schema["$defs"]["WrittenPour"]["properties"]["bars"]["anyOf"][1]["items"]
    assert row["properties"]["gloss"]["description"].startswith("How evenly the face shines")
    assert "muddied" in schema["$defs"]["Failure"]["properties"]["what"]["enum"]
    assert schema["$defs"]["Layer"]["properties"]["spritz"]["enum"] == ["before", "after", "both"]


WRITE_UP: dict[str, Any] = {
    "title": "Kelp",
    "date": "2026-04-18",
    "state": "trial",
    "bars": 6,
    "layers": [{"name": "body", "base": "white-shea", "amount": "3 oz"}],
}


def broken(**changes: Any) -> dict[str, Any]:
    return {**copy.deepcopy(WRITE_UP), **changes}


def test_the_plainest_write_up_fits() -> None:
    assert faults(schemas(KnownNames())["write-up"], WRITE_UP) == []


@pytest.mark.parametrize(
    "tree",
    [
        {key: value for key, value in WRITE_UP.items() if key != "title"},
        broken(sate="trial"),
        broken(state="finished"),
        broken(layers=[]),
        broken(layers={"body": {}}),
        broken(layers=[{"name": "body", "base": "white-shea"}]),
        broken(layers=[{**WRITE_UP["layers"][0], "spritz": "often"}]),
        broken(layers=[{**WRITE_UP["layers"][0], "fragrance": {"dose": "5 mL/lb"}}]),
        broken(layers=[{**WRITE_UP["layers"][0], "base": ["a", "b"]}]),
        broken(mat="Kelp Frond"),
        broken(subjects="shoreline"),
        broken(variants={"close": {"trimm": "close"}}),
        broken(variants={"cooler": {"layers": {"body": {"name": "other"}}}}),
        broken(question={"compare": ["a", "b"], "by": "lip", "asked": "2026-04-18"}),
        broken(pours={"pour": "A"}),
        broken(pours=[{"pour": "A"}]),
        broken(pours=[{"date": "2026-04-18", "bars": [{"variant": "close"}]}]),
        broken(pours=[{"date": "2026-04-18", "readings": {"body": [["0:00"]]}}]),
        broken(failed=[{"what": "spots", "saw": "x"}]),
        broken(failed=[{"what": "lip", "saw": "x", "mended": "perhaps"}]),
        broken(photos=[{"file": "a.jpg"}]),
        broken(photos=[{"file": "a.jpg", "alt": "x", "measure": {"regions": {"body": [1, 2, 3]}}}]),
        broken(title=["a"]),
        broken(summary=None),
    ],
)
def test_a_broken_write_up_does_not_fit(tree: dict[str, Any]) -> None:
    assert faults(schemas(KnownNames())["write-up"], tree)


@pytest.mark.parametrize(
    ("name", "tree"),
    [
        ("journal", {}),
        ("journal", {"studio": "A", "units": "imperial"}),
        ("journal", {"studio": "A", "waste": {"most": "3 %"}}),
        ("journal", {"studio": "A", "measures": {"gloss": {"kind": "rating"}}}),
        ("shelf-bases", {"White Shea": {"name": "x"}}),
        ("shelf-bases", {"white": {}}),
        ("shelf-bases", {"white": {"name": "x", "melt": "50-60 C"}}),
        ("shelf-colourants", {"a": {"name": "x", "kind": "paint"}}),
        ("shelf-leftovers", {"a": {"name": "x", "scented": {"oil": "b"}}}),
        ("order", {"title": "a", "due": "2026-04-18", "designs": []}),
        ("order", {"title": "a", "due": "2026-04-18", "designs": [{"design": "x"}]}),
        ("comparison", {"title": "a", "by": [], "between": "trim"}),
    ],
)
def test_another_broken_file_does_not_fit(name: str, tree: dict[str, Any]) -> None:
    assert faults(schemas(KnownNames())[name], tree)
