"""What a question across designs may compare by, and on what conditions."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from journal.errors import Problem
from journal.quantities.number import excerpt
from journal.records.models import questions
from journal.records.models.fields import one_of, spelling_hint
from journal.records.models.questions import CONDITION_KEYS, LAYER_CONDITIONS, ComparisonFile
from journal.records.models.settings import Measure
from journal.records.models.shelf import Shelf, may_be_on_shelf, missing_thing_problem
from journal.records.yaml.tree import WrittenTable, position_of

# Where on the shelf does the value of a condition stand?
_ON_SHELF = {
    "mat": "mats", "mould": "moulds", "piece": "pieces", "base": "bases",
    "colourant": "colourants", "colours": "colourants", "additive": "additives",
    "additives": "additives", "fragrance": "fragrances",
}  # fmt: skip


def comparison_problems(
    comparison: ComparisonFile,
    measures: Mapping[str, Measure] | None,
    shelf: Shelf,
    layers: Collection[str] | None,
) -> Iterator[Problem]:
    """What a comparison names that is nowhere.

    ``measures`` and ``layers`` are None if they are not all known.
    """
    question, written = comparison.record, comparison.written
    for number, name in enumerate(question.by):
        if measures is not None and name not in measures:
            at = position_of(written, "by", number)
            yield Problem(at, f"unknown measure {excerpt(name)}", spelling_hint(name, measures))
    for what, hint in _unknown(question.between, questions.CONTRAST_KEYS, layers):
        yield Problem(position_of(written, "between"), what, hint)
    conditions: WrittenTable = written["where"] if question.where else WrittenTable(written.at)
    for key, value in question.where:
        faults = list(_unknown(key, CONDITION_KEYS, layers))
        for what, hint in faults:
            yield Problem(conditions.key_at(key), what, hint)
        if not faults:
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
        what = f"{excerpt(thing)} does not say which key of the layer is meant"
        yield what, f"Write {excerpt(f'layer.{name}.base')[1:-1]}, say."
    elif key not in LAYER_CONDITIONS:
        hint = spelling_hint(key, LAYER_CONDITIONS, "layer")
        yield f"layers are not told apart by {excerpt(key)}", hint
    elif layers is not None and name not in layers:
        yield f"no design has a layer called {excerpt(name)}", spelling_hint(name, layers)


def _value_problems(
    key: str, value: str, conditions: WrittenTable, shelf: Shelf
) -> Iterator[Problem]:
    """What is wrong with the value of a condition: a word that is none, a thing that is nowhere."""
    at = conditions[key].at
    plain = key.rpartition(".")[2]
    words = {"state": questions.STATES, "trim": questions.TRIMS}.get(plain)
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
