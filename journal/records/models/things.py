"""The things of the shelf that records name, such as the bases and moulds of a design."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from typing import Any

from msgspec import Struct

from journal.records.models.fields import NamesThing, Record, record_in
from journal.records.models.shelf import KINDS, Shelf
from journal.records.models.shelf import ThingRef as ThingRef
from journal.records.models.write_up import Pour, Recipe


class NamedThing(Struct, frozen=True):
    """A thing of the shelf, or a design, that a record names; ``path`` leads to it as written."""

    kind: str
    name: str
    path: tuple[str | int, ...]


def references_of(record: Record, path: tuple[str | int, ...] = ()) -> Iterator[NamedThing]:
    """Yield every thing, once per mention, that a record at ``path`` names in marked fields."""
    for field, key, mark in _naming_fields(type(record)):
        yield from _things_in(getattr(record, field), (*path, key), mark)


def _things_in(
    value: Any, path: tuple[str | int, ...], mark: NamesThing | None
) -> Iterator[NamedThing]:
    """Yield what a field's value names, by the field's ``mark``, and what records in it name."""
    if isinstance(value, Record):
        yield from references_of(value, path)
    elif isinstance(value, str):
        if mark is not None and value != mark.none:
            yield NamedThing(mark.kind, value, path)
    elif isinstance(value, tuple):
        for number, entry in enumerate(value):
            # Names with their shares are written as a mapping.
            name = entry[0] if isinstance(entry, tuple) else entry
            yield from _things_in(name, (*path, number), mark)


@cache
def _naming_fields(model: type[Record]) -> tuple[tuple[str, str, NamesThing | None], ...]:
    """The fields that name something, or hold records that do: (field, key, mark or None)."""
    naming = []
    for name, field in model.model_fields.items():
        mark = next((mark for mark in field.metadata if isinstance(mark, NamesThing)), None)
        inner = record_in(field.annotation)
        if mark is not None or (inner is not None and _naming_fields(inner)):
            naming.append((name, field.alias or name, mark))
    return tuple(naming)


def things_of(recipes: Iterable[Recipe], pours: Sequence[Pour]) -> tuple[ThingRef, ...]:
    """All things of the shelf that recipes and poured bars name, or lay in, each once."""
    named = ((one.kind, one.name) for recipe in recipes for one in references_of(recipe))
    cast_on = (
        ("pieces", bar.piece) for pour in pours for bar in pour.bars if bar.piece is not None
    )
    cast_in = (("moulds", pour.mould) for pour in pours if pour.mould is not None)
    return tuple(dict.fromkeys((*named, *cast_on, *cast_in)))


def things_named_by(shelf: Shelf, thing: ThingRef) -> tuple[ThingRef, ...]:
    """The things of the shelf that the record of a thing names; none if it is not on the shelf."""
    kind, name = thing
    record = shelf.of_kind(kind).get(name)
    if record is None:
        return ()
    return tuple((one.kind, one.name) for one in references_of(record) if one.kind in KINDS)


def with_leftovers(shelf: Shelf, things: Iterable[ThingRef]) -> tuple[ThingRef, ...]:
    """The things given and what the leftovers among them are made of, each once."""
    things = tuple(things)
    leftovers = (thing for thing in things if thing[0] == "leftovers")
    of_leftovers = (named for thing in leftovers for named in things_named_by(shelf, thing))
    return tuple(dict.fromkeys((*things, *of_leftovers)))
