"""The schemas of a notebook's files: the demo's and the cases' fit, broken ones do not."""

from __future__ import annotations

import copy
import fnmatch
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import strategies
import yaml
from demo import BARLEY
from hypothesis import Phase, given, settings
from long_run import examples
from paths import PROJECT

from journal.records.models.fields import Record, keys_of
from journal.records.models.settings import read_settings
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
    assert schema["title"]


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


LAYER = WRITE_UP["layers"][0]


def poured(**values: Any) -> dict[str, Any]:
    return broken(pours=[{"date": "2026-04-18", **values}])


def layered(**values: Any) -> dict[str, Any]:
    return broken(layers=[{**LAYER, **values}])


#: Values that the reader refuses, as an editor reads them: a bare number is a number.
WRONG_VALUES = (
    ("write-up", broken(date="18.4.2026")),
    ("write-up", broken(date="2026-02-30")),
    ("write-up", broken(date=20260418)),
    ("write-up", broken(bars=0)),
    ("write-up", broken(bars=2.5)),
    ("write-up", broken(bars="six")),
    ("write-up", broken(title="")),
    ("write-up", broken(trim="straight 3")),
    ("write-up", broken(trim="close 3 mm")),
    ("write-up", broken(minutes={"pour": "25 minutes"})),
    ("write-up", layered(amount=3)),
    ("write-up", layered(amount="3 mL")),
    ("write-up", layered(amount="3,4 oz")),
    ("write-up", layered(amount="0 g")),
    ("write-up", layered(overpour="8")),
    ("write-up", layered(pour="122-132")),
    ("write-up", layered(pour="122 - 132 K")),
    ("write-up", layered(base={"white-shea": 70})),
    ("write-up", layered(fragrance={"oil": "fig", "dose": 5})),
    ("write-up", layered(fragrance={"oil": "fig", "dose": "5 mL/cup"})),
    ("write-up", layered(colours=[{"colourant": "slate", "dose": "1,5 %"}])),
    ("write-up", broken(question={"compare": ["a", "b"], "by": "lip", "asked": "2026-04-18",
                                  "until": "three"})),
    ("write-up", poured(room="69")),
    ("write-up", poured(room="69 degrees")),
    ("write-up", poured(humidity="155 %")),
    ("write-up", poured(melted={"body": "22 fl oz"})),
    ("write-up", poured(poured={"body": 131})),
    ("write-up", poured(wrapped="26")),
    ("write-up", poured(readings={"body": [["0.08", "140 F"]]})),
    ("write-up", poured(readings={"body": [["0:08", 140]]})),
    ("write-up", poured(readings={"body": [["1:75", "140 F"]]})),
    ("write-up", poured(bars=[{"bar": "A1", "lip": 1.5}])),
    ("write-up", poured(bars=[{"bar": "A1", "tidy": "1:30"}])),
    ("write-up", poured(bars=[{"bar": "A1", "keep": "perhaps"}])),
    ("write-up", poured(bars=[{"bar": "A1", "weight": "98"}])),
    ("write-up", poured(bars=[{"bar": "A1", "at": "3rd"}])),
    ("write-up", poured(bars=[{"bar": ""}])),
    ("write-up", poured(later=[{"bar": "A1", "day": "a month"}])),
    ("write-up", broken(photos=[{"file": "a.jpg", "alt": "x", "scale": "0.08"}])),
    ("journal", {"studio": "A", "margin": "1,5 %"}),
    ("journal", {"studio": "A", "scales": ["0 g"]}),
    ("journal", {"studio": "A", "waste": 3}),
    ("journal", {"studio": "A", "address": "example.org"}),
    ("shelf-fragrances", {"a": {"name": "x", "limit": "1,5 %"}}),
    ("shelf-fragrances", {"a": {"name": "x", "limit": 1.5}}),
    ("shelf-fragrances", {"a": {"name": "x", "price": "$4/lb"}}),
    ("shelf-fragrances", {"a": {"name": "x", "allergens": {"Linalool": 3}}}),
    ("shelf-bases", {"a": {"name": "x", "density": "1.03"}}),
    ("shelf-bases", {"a": {"name": "x", "melts": "50-60"}}),
    ("shelf-bases", {"a": {"name": "x", "looks": "grey"}}),
    ("shelf-moulds", {"a": {"name": "x", "face": "80 mm"}}),
    ("shelf-moulds", {"a": {"name": "x", "rows": "2 by 3"}}),
    ("order", {"title": "a", "due": "soon", "designs": [{"design": "x", "bars": 1}]}),
)  # fmt: skip


@pytest.mark.parametrize(("name", "tree"), WRONG_VALUES, ids=str)
def test_a_wrong_value_does_not_fit(
    made: dict[Path, dict[str, Any]], name: str, tree: dict[str, Any]
) -> None:
    assert faults(made[NOTEBOOKS[0]][name], tree)


def test_an_empty_cell_is_no_fault(made: dict[Path, dict[str, Any]]) -> None:
    """What the reader takes for nothing: a cell that is not filled, a variant without changes."""
    text = """\
variants: {plain: , close: {trim: close}}
pours:
  - date: 2026-04-18
    readings: {body: [[0:00, 150 F, ], [0:08, 140 F, -]]}
    bars:
      - {bar: A1, variant: plain, lip: , bleed: -, keep: –, note: , piece: , at: , tint: }
    later: [{bar: A1, day: 30, bleed: , weight: — }]
"""
    tree = broken(**yaml.load(text, Loader=Core))
    assert faults(made[NOTEBOOKS[0]]["write-up"], tree) == []


# To make a whole notebook smaller takes minutes.
@examples(4, like=settings(phases=(Phase.explicit, Phase.reuse, Phase.generate)))
@given(strategies.notebooks())
def test_any_sound_notebook_fits(files: Mapping[str, str]) -> None:
    studio, _ = read_settings(parse_yaml(files["journal.yaml"], "journal.yaml"), [])
    of_kind = schemas(KnownNames(measures=studio.all_measures()))
    for path, text in files.items():
        (name,) = (name for name, pattern in PATTERNS.items() if fnmatch.fnmatch(path, pattern))
        assert faults(of_kind[name], as_an_editor(text, path)) == [], path


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
