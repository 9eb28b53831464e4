"""What a question across designs may compare by, and on what conditions."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from journal.errors import Problem
from journal.quantities.number import excerpt
from journal.records.models.fields import one_of, spelling_hint
from journal.records.models.questions import (
    CONDITION_KEYS,
    CONTRAST_KEYS,
    LAYER_CONDITIONS,
    STATES,
    TRIMS,
    ComparisonFile,
)
from journal.records.models.settings import Measure
from journal.records.models.shelf import Shelf, may_be_on_shelf, missing_thing_problem
from journal.records.yaml.tree import WrittenTable, position_of

# Where on the shelf does the value of a condition stand?
_ON_SHELF = {
    "mat": "mats",
    "mould": "moulds",
    "piece": "pieces",
    "base": "bases",
    "colourant": "colourants",
    "colours": "colourants",
    "additive": "additives",
    "additives": "additives",
    "fragrance": "fragrances",
}


def comparison_problems(
    comparison: ComparisonFile,
    measures: Mapping[str, Measure] | None,
    shelf: Shelf,
    layers: Collection[str] | None,
) -> Iterator[Problem]:
    """What a comparison names that is nowhere.

    ``measures`` and ``layers`` are None if they are not all known.
    """
    asked, written = comparison.asked, comparison.written
    for number, name in enumerate(asked.by):
        if measures is not None and name not in measures:
            yield Problem(
                position_of(written, "by", number),
                f"unknown measure {excerpt(name)}",
                spelling_hint(name, measures),
            )
    for what, hint in _unknown(asked.between, CONTRAST_KEYS, layers):
        yield Problem(position_of(written, "between"), what, hint)
    conditions: WrittenTable = written["where"] if asked.where else WrittenTable(written.at)
    for key, value in asked.where:
        wrong = list(_unknown(key, CONDITION_KEYS, layers))
        for what, hint in wrong:
            yield Problem(conditions.key_at(key), what, hint)
        if not wrong:
            yield from _value_problems(key, value, conditions, shelf)


def _unknown(
    thing: str, known: Collection[str], layers: Collection[str] | None
) -> Iterator[tuple[str, str]]:
    """What is unknown about one thing that designs can be told apart by, and the hint."""
    if thing in known:
        return
    first, _, rest = thing.partition(".")
    if first not in ("layer", "layers") or not rest:
        yield f"designs are not told apart by {excerpt(thing)}", spelling_hint(thing, known)
        return
    name, _, key = rest.partition(".")
    if not key:
        yield (
            f"{excerpt(thing)} does not say which key of the layer is meant",
            f"Write {excerpt(f'layer.{name}.base')[1:-1]}, say.",
        )
    elif key not in LAYER_CONDITIONS:
        yield (
            f"layers are not told apart by {excerpt(key)}",
            spelling_hint(key, LAYER_CONDITIONS, "layer"),
        )
    elif layers is not None and name not in layers:
        yield f"no design has a layer called {excerpt(name)}", spelling_hint(name, layers)


def _value_problems(
    key: str, value: str, conditions: WrittenTable, shelf: Shelf
) -> Iterator[Problem]:
    at = conditions[key].at
    plain = key.rpartition(".")[2]
    words = {"state": STATES, "trim": TRIMS}.get(plain)
    if words is not None:
        if value not in words:
            yield Problem(at, f"{excerpt(value)} is no {plain}", f"Write {one_of(words)}.")
        return
    kind = _ON_SHELF.get(plain)
    if kind is None:
        return
    # Several oils, colours or bases of one recipe are joined by "and".
    for name in value.split(" and "):
        leftover = kind == "bases" and may_be_on_shelf(shelf, "leftovers", name)
        if not leftover and not may_be_on_shelf(shelf, kind, name):
            yield missing_thing_problem(shelf, kind, name, at)
