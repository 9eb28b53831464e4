"""Check the names in a question across designs: its measures, its contrast, its conditions."""

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

# Of which kind of the shelf are the values of a condition?
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
    """Yield a problem for each name in a comparison that does not exist.

    ``layers`` are the names of all designs' layers. ``measures`` or ``layers`` is None if some
    could not be read; then their names are not checked.
    """
    question, written = comparison.record, comparison.written
    for number, name in enumerate(question.by):
        if measures is not None and name not in measures:
            at = position_of(written, "by", number)
            yield Problem(at, f"unknown measure {excerpt(name)}", spelling_hint(name, measures))
    for what, hint in _unknown_key(question.between, questions.CONTRAST_KEYS, layers):
        yield Problem(position_of(written, "between"), what, hint)
    conditions: WrittenTable = written["where"] if question.where else WrittenTable(written.at)
    for key, value in question.where:
        faults = list(_unknown_key(key, CONDITION_KEYS, layers))
        for what, hint in faults:
            yield Problem(conditions.key_at(key), what, hint)
        if not faults:
            yield from _value_problems(key, value, conditions, shelf)


def _unknown_key(
    key: str, known: Collection[str], layers: Collection[str] | None
) -> Iterator[tuple[str, str]]:
    """Yield (what, hint) if ``key`` is neither in ``known`` nor a valid layer.NAME.KEY."""
    if key in known:
        return
    first, _, rest = key.partition(".")
    if first not in ("layer", "layers") or not rest:
        yield f"designs are not told apart by {excerpt(key)}", spelling_hint(key, known)
        return
    name, _, layer_key = rest.partition(".")
    if not layer_key:
        what = f"{excerpt(key)} does not say which key of the layer is meant"
        yield what, f"Write {excerpt(f'layer.{name}.base')[1:-1]}, say."
    elif layer_key not in LAYER_CONDITIONS:
        hint = spelling_hint(layer_key, LAYER_CONDITIONS, "layer")
        yield f"layers are not told apart by {excerpt(layer_key)}", hint
    elif layers is not None and name not in layers:
        yield f"no design has a layer called {excerpt(name)}", spelling_hint(name, layers)


def _value_problems(
    key: str, value: str, conditions: WrittenTable, shelf: Shelf
) -> Iterator[Problem]:
    """Yield problems of a condition's value: no such word, or no such thing on the shelf."""
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
