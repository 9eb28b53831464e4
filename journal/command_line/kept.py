"""Records kept from one run to the next, part by part, and fetched when they are asked for.

A record is kept under the key of what it was made from. Its parts have digests, so that
a part can be told from another without being looked into.
"""

from __future__ import annotations

import hashlib
import pickle
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import fields
from typing import Any, Generic, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from journal.command_line.packed import packed
from journal.output import Store
from journal.records.later import Later, fetch_of, later, let_go

Record = TypeVar("Record", bound=Later)
Outcome = TypeVar("Outcome")

# The packed parts of a record, by the names of its fields.
Parts = Mapping[str, bytes]

#: So many bytes of packed parts of one kind are held at a time; as objects they take several times
#: as much. A notebook of ten years has more than a process should hold.
MOST_HELD_BYTES = 512 << 10
# Who asks for one part of a record mostly asks for others.
_MOST_READ = 8

#: Names the form of what is kept; another form is nothing.
_FORM = "kept 2"


class Lost(Exception):
    """A part that was kept cannot be read any more: everything must be worked out anew."""


def or_anew(
    store: Store, work: Callable[[], Outcome], forget: Callable[[], None] = lambda: None
) -> Outcome:
    """Do some work; once more, without anything that was kept, if that was spoilt.

    Takes:  store   where it was kept
            work    what may find it spoilt
            forget  forgets what this process still holds of it
    """
    try:
        return work()
    except Lost:
        store.clear("")
        forget()
        return work()


def parts_of(record: Later) -> Parts:
    """The parts of a record, as they are kept."""
    return {field.name: packed(getattr(record, field.name)) for field in fields(record)}  # type: ignore[arg-type]


def digest_of_part(record: Later, name: Hashable) -> str | None:
    """The digest of a part of a record that is kept; None of any other record."""
    fetch = fetch_of(record)
    return fetch.digests[str(name)] if isinstance(fetch, _Kept) else None


def key_of(record: object) -> str | None:
    """The key of a record that is kept, which tells all of it; None of anything else."""
    fetch = fetch_of(record) if isinstance(record, Later) else None
    return fetch.key if isinstance(fetch, _Kept) else None


class Row(Struct, frozen=True):
    """What is known of a kept record at once: its key, its parts' digests, its small parts.

    Those ``at_once`` are there as they are, the other ``small`` ones packed.
    """

    key: str
    digests: Mapping[str, str]
    at_once: Mapping[str, Any]
    small: Parts
    more: Any = None


class _Kept:
    """Fetches the parts of one record."""

    __slots__ = (
        "_held",
        "_name",
        "_parts",
        "_recent",
        "_small",
        "_store",
        "digests",
        "key",
        "record",
    )

    def __init__(
        self,
        store: Store,
        name: str,
        key: str,
        digests: Mapping[str, str],
        small: Parts,
        parts: Parts | None,
        recent: _Recent,
    ) -> None:
        self._store, self._name, self._parts, self._recent = store, name, parts, recent
        self._held: list[str] = []
        self._small = small
        self.key, self.digests = key, digests
        self.record: Later | None = None

    def __call__(self, part: str) -> Any:
        raw = self._small.get(part)
        if raw is None:
            raw = self._all()[part]
        self._held.append(part)
        self._recent.asked(self, len(raw))
        return pickle.loads(raw)

    def _all(self) -> Parts:
        if self._parts is not None:
            return self._parts
        found = self._recent.parts_of(self._name)
        if found is None:
            found = unpacked(self._store.read(self._name))
            if not isinstance(found, dict):
                raise Lost(self._name)
            self._recent.read(self._name, found)
        return found

    def let_go(self) -> None:
        """Let go of everything that was fetched."""
        if self.record is not None:
            let_go(self.record, self._held)
        self._held.clear()


class _Recent:
    """What was asked for last, of many records: the rest is let go of."""

    def __init__(self, most_held: int) -> None:
        self._most_held = most_held
        self._bytes: OrderedDict[_Kept, int] = OrderedDict()
        self._total = 0
        self._read: OrderedDict[str, Parts] = OrderedDict()

    def asked(self, kept: _Kept, number: int) -> None:
        """A part of so many bytes was fetched."""
        self._bytes[kept] = self._bytes.pop(kept, 0) + number
        self._total += number
        while self._total > self._most_held and len(self._bytes) > 1:
            oldest, held = self._bytes.popitem(last=False)
            self._total -= held
            oldest.let_go()

    def parts_of(self, name: str) -> Parts | None:
        """The packed parts of a record that was read a moment ago."""
        return self._read.get(name)

    def read(self, name: str, parts: Parts) -> None:
        """The packed parts of a record were read."""
        self._read[name] = parts
        while len(self._read) > _MOST_READ:
            self._read.popitem(last=False)


class KeptRecords(Generic[Record]):
    """The records of one kind: those of the last run, and those of this one."""

    def __init__(
        self,
        store: Store,
        name: str,
        kind: type[Record],
        at_once: tuple[str, ...] = (),
        small: tuple[str, ...] = (),
        most_held: int = MOST_HELD_BYTES,
    ) -> None:
        """Records of one kind.

        ``at_once`` are parts that are small, and asked for of every record whatever is done;
        ``small`` are others that a page about all records asks for, which should read no file
        of each. So many bytes of parts, packed, are ``most_held``.
        """
        self._store, self._name, self._kind = store, name, kind
        self._at_once, self._small = at_once, small
        found = unpacked(store.read(name))
        whole = isinstance(found, tuple) and found[:1] == (_FORM,)
        self._recent = _Recent(most_held)
        self._before: dict[str, Row] = found[1] if whole else {}
        self._now: dict[str, Row] = {}

    def rows(self) -> Mapping[str, Row]:
        """What the last run kept."""
        return self._before

    def known(self, name: str, key: str) -> Record | None:
        """The record under this name, if it was made from the same as this key tells of."""
        row = self._before.get(name)
        if row is None or row.key != key:
            return None
        self._now[name] = row
        return self._made(row, self._file(name, key))

    def rows_now(self) -> Mapping[str, Row]:
        """What is kept of this run's records."""
        return self._now

    def say_beside(self, name: str, more: Any) -> None:
        """Keep something else beside a record."""
        self._now[name] = replace(self._now[name], more=more)

    def add(self, name: str, key: str, parts: Parts, more: Any = None) -> Record:
        """Keep a record that was made in this run; gives one that fetches these parts."""
        file = self._file(name, key)
        digests = {part: _digest(raw) for part, raw in parts.items()}
        at_once = {part: pickle.loads(parts[part]) for part in self._at_once}
        small = {part: parts[part] for part in self._small}
        row = self._now[name] = Row(key, digests, at_once, small, more)
        there = self._store.write(file, packed(dict(parts)))
        return self._made(row, file, None if there else parts)

    def _made(self, row: Row, file: str, parts: Parts | None = None) -> Record:
        fetch = _Kept(self._store, file, row.key, row.digests, row.small, parts, self._recent)
        fetch.record = later(self._kind, fetch, row.at_once)
        return fetch.record

    def keep(self) -> None:
        """Keep the records of this run, and no others, for the next."""
        if self._now != self._before:
            self._store.write(self._name, packed((_FORM, self._now)))
            files = {self._file(name, row.key) for name, row in self._now.items()}
            self._store.clear(f"{self._name}.", but=files)

    def _file(self, name: str, key: str) -> str:
        return f"{self._name}.{name}.{key[:16]}"


def unpacked(raw: bytes | None) -> Any:
    """What was kept. The folder is the user's own and the bytes are whole: see ``Store``."""
    if raw is None:
        return None
    try:
        return pickle.loads(raw)
    except Exception:  # noqa: BLE001  # of another version: any failure at all
        return None


def _digest(raw: bytes) -> str:
    return hashlib.blake2b(raw, digest_size=12).hexdigest()


def digest_of_value(value: Hashable) -> str:
    """A digest of a value that is no record kept here; its ``repr`` must say everything."""
    return _digest(repr(value).encode("utf-8", "surrogatepass"))
