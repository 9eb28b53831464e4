"""What a question across designs may compare by, and on what conditions."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from journal.errors import Problem
from journal.quantities.number import quoted
from journal.records.asked import BETWEEN, OF_LAYERS, STATES, TRIMS, WHERE, Comparison
from journal.records.settings import Measure
from journal.records.shelf import Shelf, not_on_shelf, on_shelf
from journal.records.source import Table, place
from journal.records.summary import DesignSummary
from journal.records.typed import nearest, one_of

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


class LayerNames(Collection[str]):
    """What the layers of a notebook's designs are called; no more designs are looked into than
    it takes to find a name.
    """

    def __init__(self, designs: Mapping[str, DesignSummary]) -> None:
        self._designs = designs

    def __contains__(self, name: object) -> bool:
        return any(name == known for known in self._every())

    def __iter__(self) -> Iterator[str]:
        return iter(dict.fromkeys(self._every()))

    def __len__(self) -> int:
        return len(dict.fromkeys(self._every()))

    def _every(self) -> Iterator[str]:
        return (name for one in self._designs.values() for name in one.layers)


def comparison_problems(
    comparison: Comparison,
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
                place(written, "by", number),
                f"unknown measure {quoted(name)}",
                nearest(name, measures),
            )
    yield from _thing_problems(asked.between, BETWEEN, written, layers)
    conditions: Table = written["where"] if asked.where else Table(written.at)
    for key, value in asked.where:
        wrong = list(_condition_key_problems(key, conditions, layers))
        yield from wrong
        if not wrong:
            yield from _value_problems(key, value, conditions, shelf)


def _thing_problems(
    thing: str, known: Collection[str], written: Table, layers: Collection[str] | None
) -> Iterator[Problem]:
    at = place(written, "between")
    for what, mend in _unknown(thing, known, layers):
        yield Problem(at, what, mend)


def _condition_key_problems(
    key: str, conditions: Table, layers: Collection[str] | None
) -> Iterator[Problem]:
    for what, mend in _unknown(key, WHERE, layers):
        yield Problem(conditions.key_at(key), what, mend)


def _unknown(
    thing: str, known: Collection[str], layers: Collection[str] | None
) -> Iterator[tuple[str, str]]:
    """What is unknown about one thing that designs can be told apart by, and the mend."""
    if thing in known:
        return
    first, _, rest = thing.partition(".")
    if first not in ("layer", "layers") or not rest:
        yield f"designs are not told apart by {quoted(thing)}", nearest(thing, known)
        return
    name, _, key = rest.partition(".")
    if not key:
        yield (
            f"{quoted(thing)} does not say which key of the layer is meant",
            f"Write {quoted(f'layer.{name}.base')[1:-1]}, say.",
        )
    elif key not in OF_LAYERS:
        yield f"layers are not told apart by {quoted(key)}", nearest(key, OF_LAYERS, "layer")
    elif layers is not None and name not in layers:
        yield f"no design has a layer called {quoted(name)}", nearest(name, layers)


def _value_problems(key: str, value: str, conditions: Table, shelf: Shelf) -> Iterator[Problem]:
    at = conditions[key].at
    plain = key.rpartition(".")[2]
    words = {"state": STATES, "trim": TRIMS}.get(plain)
    if words is not None:
        if value not in words:
            yield Problem(at, f"{quoted(value)} is no {plain}", f"Write {one_of(words)}.")
        return
    kind = _ON_SHELF.get(plain)
    if kind is None:
        return
    # Several oils, colours or bases of one recipe are joined by "and".
    for name in value.split(" and "):
        leftover = kind == "bases" and on_shelf(shelf, "leftovers", name)
        if not leftover and not on_shelf(shelf, kind, name):
            yield not_on_shelf(shelf, kind, name, at)
