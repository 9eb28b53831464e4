"""What a design is made with: the things of the shelf that it names."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

from msgspec import Struct

from journal.records.shelf import KINDS, Shelf
from journal.records.typed import Names, Record, record_in
from journal.records.write_up import Pour, Recipe

# The kind of a thing on the shelf, and its id.
Thing = tuple[str, str]


class Named(Struct, frozen=True):
    """A thing of the shelf, or a design, that a record names; ``path`` leads to it as written."""

    kind: str
    name: str
    path: tuple[str | int, ...]


def named_in(record: Record, path: tuple[str | int, ...] = ()) -> Iterator[Named]:
    """Everything that a record names in fields marked with ``Names``; some more than once."""
    for field, key, mark in _naming(type(record)):
        yield from _named(getattr(record, field), (*path, key), mark)


def _named(value: Any, path: tuple[str | int, ...], mark: Names | None) -> Iterator[Named]:
    if isinstance(value, Record):
        yield from named_in(value, path)
    elif isinstance(value, str):
        if mark is not None and value != mark.none:
            yield Named(mark.kind, value, path)
    elif isinstance(value, tuple):
        for number, entry in enumerate(value):
            # Names with their shares are written as a mapping.
            own = entry[0] if isinstance(entry, tuple) else entry
            yield from _named(own, (*path, number), mark)


@cache
def _naming(model: type[Record]) -> tuple[tuple[str, str, Names | None], ...]:
    """The fields of a record that name something, or that hold records which do."""
    found = []
    for name, field in model.model_fields.items():
        mark = next((mark for mark in field.metadata if isinstance(mark, Names)), None)
        inner = record_in(field.annotation)
        if mark is not None or (inner is not None and _naming(inner)):
            found.append((name, field.alias or name, mark))
    return tuple(found)


def things_of(recipes: Iterable[Recipe], pours: Iterable[Pour]) -> tuple[Thing, ...]:
    """Everything of the shelf that recipes and poured bars name, each once."""
    named = ((one.kind, one.name) for recipe in recipes for one in named_in(recipe))
    cast = (("pieces", bar.piece) for pour in pours for bar in pour.bars if bar.piece is not None)
    return tuple(dict.fromkeys((*named, *cast)))


def named_by(shelf: Shelf, thing: Thing) -> tuple[Thing, ...]:
    """The things that the record of a thing names; none if it is not on the shelf."""
    kind, name = thing
    record = shelf.of_kind(kind).get(name)
    if record is None:
        return ()
    return tuple((one.kind, one.name) for one in named_in(record) if one.kind in KINDS)


def with_leftovers(shelf: Shelf, things: Iterable[Thing]) -> tuple[Thing, ...]:
    """Things, and what the leftovers among them are made of, each once."""
    found = dict.fromkeys(things)
    for thing in tuple(found):
        if thing[0] == "leftovers":
            found.update(dict.fromkeys(named_by(shelf, thing)))
    return tuple(found)
