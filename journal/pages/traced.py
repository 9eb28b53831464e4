"""A book that tells what was asked of it, part by part.

What a group of pages is laid out from need not be declared: the group is given a traced
book, and everything that it asks for is noted. As long as each of these parts is what
it was, so is what came of them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping
from functools import partial
from typing import Any, Final, TypeVar

from journal.comparison.derive import Compared
from journal.figures.derive import Figures
from journal.pages.book import Book
from journal.pages.places import Places
from journal.pages.uses import Uses
from journal.records.later import Later, later
from journal.records.notebook import Notebook
from journal.records.shelf import KINDS, Shelf

# The way to a part: names of fields and keys of mappings, from the book.
Way = tuple[Hashable, ...]
Note = Callable[[Way], None]

# What a way ends in where it was asked which keys there are.
KEYS: Final = "the keys"

# Parts that are noted piece by piece: of records field by field, of mappings key by key, of
# mappings of mappings the keys of each, of mappings of records the fields of each.
_RECORDS: Mapping[type, frozenset[str]] = {
    Book: frozenset({"notebook", "figures", "compared", "places", "uses"}),
    Notebook: frozenset({"shelf"}),
}
_MAPPINGS: Mapping[type, frozenset[str]] = {
    Book: frozenset({"photos", "templates", "problems", "casts", "outcomes", "measured"}),
    Notebook: frozenset({"comparisons", "orders"}),
    Shelf: frozenset({*KINDS, "pieces_of_mat"}),
    Places: frozenset({"designs", "cards", "things", "compared", "orders"}),
    Uses: frozenset({"by_thing", "led_to"}),
}
_OF_MAPPINGS: Mapping[type, frozenset[str]] = {
    Shelf: frozenset({"written"}),
}
_OF_RECORDS: Mapping[type, frozenset[str]] = {
    Notebook: frozenset({"designs"}),
    Figures: frozenset({"designs"}),
    Compared: frozenset({"designs", "across"}),
}
# Nothing is told of these: they are in the ground.
_BY_GROUND: Final = frozenset({("theme",), ("edition",), ("ground",), ("units",),
                               ("notebook", "settings")})  # fmt: skip

Root = TypeVar("Root", bound=Later)


def traced(root: Root, note: Note) -> Root:
    """The same book, or notebook; ``note`` is told the way to each part that is asked for.

    Of what all depends on nothing is told: see ``Book.ground``.
    """
    found: Root = _record(root, (), note)
    return found


def part_at(root: Any, way: Way) -> Any:
    """The part that a way leads to now; None where it leads to nothing."""
    found: Any = root
    for step in way:
        if isinstance(found, Mapping):
            if step == KEYS:
                return tuple(found)
            if step not in found:
                return None
            found = found[step]
        else:
            found = getattr(found, str(step))
    return found


def _record(record: Any, way: Way, note: Note) -> Any:
    fetch = _Fetch(record, way, note)
    made = fetch.made = later(type(record), fetch, holds=False)
    return made


class _Fetch:
    """Fetches the parts of one record, and notes each."""

    __slots__ = ("_note", "_noted", "_record", "_way", "made")

    def __init__(self, record: Later, way: Way, note: Note) -> None:
        self._record, self._way, self._note = record, way, note
        self._noted: set[str] = set()
        self.made: Later | None = None

    def __call__(self, name: str) -> Any:
        found = getattr(self._record, name)
        opened = _OPENED.get((type(self._record), name))
        if opened is not None:
            traced = opened(found, (*self._way, name), self._note)
            # Held as long as the traced book is; of other parts only as much is held as of
            # records that are not traced.
            object.__setattr__(self.made, name, traced)
            return traced
        if name not in self._noted:
            self._noted.add(name)
            here = (*self._way, name)
            if here not in _BY_GROUND:
                self._note(here)
        return found


class _Traced(Mapping[Any, Any]):
    """A mapping that tells which of its keys were asked for."""

    __slots__ = ("_found", "_inner", "_note", "_open", "_way")

    def __init__(
        self,
        inner: Mapping[Any, Any],
        way: Way,
        note: Note,
        opened: Callable[[Any, Way, Note], Any] | None = None,
    ) -> None:
        self._inner, self._way, self._note, self._open = inner, way, note, opened
        self._found: dict[Any, Any] = {}

    def __getitem__(self, key: Any) -> Any:
        if key in self._found:
            return self._found[key]
        here = (*self._way, key)
        self._note(here)
        found = self._inner[key]
        if self._open is not None:
            found = self._found[key] = self._open(found, here, self._note)
        return found

    def __contains__(self, key: object) -> bool:
        self._note((*self._way, key))
        return key in self._inner

    def __iter__(self) -> Iterator[Any]:
        self._note((*self._way, KEYS))
        return iter(self._inner)

    def __len__(self) -> int:
        self._note((*self._way, KEYS))
        return len(self._inner)


_OPENED: Final[Mapping[tuple[type, str], Callable[[Any, Way, Note], Any]]] = {
    (kind, name): opened
    for table, opened in (
        (_RECORDS, _record),
        (_MAPPINGS, _Traced),
        (_OF_MAPPINGS, partial(_Traced, opened=_Traced)),
        (_OF_RECORDS, partial(_Traced, opened=_record)),
    )
    for kind, names in table.items()
    for name in names
}
