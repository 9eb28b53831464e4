"""What was worked out from which parts of a record, so that it is worked out again only if one
of them changed.

Each piece of work is given a traced record, and the parts that it asked for are kept with
their digests. In the next run its outcome is known while all these parts are what they
were; whatever was asked for counts, so that no dependency can be forgotten.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Hashable, Iterator, Mapping
from typing import Any, Final, Generic, TypeVar

from msgspec import Struct

from journal.command_line.kept import digest_of_part, digest_of_value, key_of, unpacked
from journal.command_line.packed import packed
from journal.output import Store
from journal.pages.traced import Way, part_at, traced
from journal.records.later import Later

#: Names the form of what is kept; another form is nothing.
_FORM: Final = "ledger 3"

# Parts that no piece of work asks for any more are let go of when there are so many times as many
# as were needed: to number all of them anew takes longer than to look at those few.
_MOST_UNUSED: Final = 1.25

Root = TypeVar("Root", bound=Later)
Outcome = TypeVar("Outcome")


class _Entry(Struct, frozen=True):
    """One piece of work: the numbers of the parts that it asked for, its outcome."""

    parts: array[int]
    outcome: Any


class _Asked(Struct):
    """What was asked of one record, or mapping: numbers and digests of its parts by their names.

    ``key`` is that of a record that is kept; while it is the same, so are all parts.
    """

    key: str | None
    numbers: dict[Hashable, int]
    digests: dict[Hashable, str]


class Worked(Struct, Generic[Outcome], frozen=True):
    """What came of a piece of work, and the ways to all that it asked for."""

    outcome: Outcome
    ways: tuple[Way, ...]


class Ledger(Generic[Root]):
    """Work on one record: done where something may have changed, known where nothing did.

    ``ground`` tells what else all of it depends on: of another ground nothing is known.
    """

    def __init__(self, store: Store, name: str, root: Root, ground: str) -> None:
        self._store, self._name, self._root, self._ground = store, name, root, ground
        self._asked: dict[Way, _Asked] = {}  # by the way to the record
        self._before: dict[str, _Entry] = {}
        self._next = 0  # number of the next part that is asked for first
        self._needed = 0  # parts, when they were looked through last
        found = unpacked(store.read(name))
        if isinstance(found, tuple) and found[:2] == (_FORM, ground):
            self._next, self._needed, self._asked, self._before = found[2:]
        self._changed: frozenset[int] | None = None
        self._now: dict[str, _Entry] = {}

    def known(self, name: str) -> Any:
        """The outcome of a piece of work, if nothing that it asked for has changed; else None."""
        entry = self._before.get(name)
        if entry is None or not self._changes().isdisjoint(entry.parts):
            return None
        self._now[name] = entry
        return entry.outcome

    def before(self, name: str) -> Any:
        """The outcome that a piece of work had in the last run, whatever has changed; or None."""
        entry = self._before.get(name)
        return None if entry is None else entry.outcome

    def recall(self, name: str, work: Callable[[Root], Outcome]) -> Outcome:
        """The outcome of a piece of work, known or done; it is not None."""
        found: Outcome | None = self.known(name)
        return self.done(name, work) if found is None else found

    def done(self, name: str, work: Callable[[Root], Outcome]) -> Outcome:
        """Do a piece of work, and note what it asks for; its outcome is not None."""
        return self.note(name, self.worked(work))

    def worked(self, work: Callable[[Root], Outcome]) -> Worked[Outcome]:
        """What comes of a piece of work, and the ways to what it asked for; for ``note``."""
        asked: set[Way] = set()
        outcome = work(traced(self._root, asked.add))
        return Worked(outcome, tuple(asked))

    def note(self, name: str, worked: Worked[Outcome]) -> Outcome:
        """Note what came of a piece of work, here or in another process."""
        parts = array("I", sorted(map(self._number, worked.ways)))
        self._now[name] = _Entry(parts, worked.outcome)
        return worked.outcome

    def keep(self) -> None:
        """Keep what was known and done in this run for the next."""
        changed = self._changes()
        if self._now == self._before and not changed:
            return
        for way, asked in self._asked.items():
            fresh = asked.numbers.keys() - asked.digests.keys()
            if fresh:
                record = part_at(self._root, way)
                asked.key = key_of(record)
                asked.digests.update((name, digest_at(record, name)) for name in fresh)
        entries = self._now
        if not self._before or self._next > _MOST_UNUSED * self._needed:
            entries = self._numbered_anew(entries)
        told = (_FORM, self._ground, self._next, self._needed, self._asked, entries)
        self._store.write(self._name, packed(told))

    def _numbered_anew(self, entries: Mapping[str, _Entry]) -> dict[str, _Entry]:
        """The same, without parts that nobody asks for any more."""
        used = sorted({number for entry in entries.values() for number in entry.parts})
        anew = {number: place for place, number in enumerate(used)}
        for way, asked in list(self._asked.items()):
            asked.numbers = {
                name: anew[number] for name, number in asked.numbers.items() if number in anew
            }
            asked.digests = {name: asked.digests[name] for name in asked.numbers}
            if not asked.numbers:
                del self._asked[way]
        self._next = self._needed = len(used)
        return {
            name: _Entry(array("I", (anew[number] for number in one.parts)), one.outcome)
            for name, one in entries.items()
        }

    def _number(self, way: Way) -> int:
        asked = self._asked.get(way[:-1])
        if asked is None:
            asked = self._asked[way[:-1]] = _Asked(None, {}, {})
        number = asked.numbers.get(way[-1])
        if number is None:
            number = asked.numbers[way[-1]] = self._next
            self._next += 1
        return number

    def _changes(self) -> frozenset[int]:
        """The numbers of the parts that are something else than in the last run."""
        if self._changed is None:
            self._changed = frozenset(self._looked_through())
        return self._changed

    def _looked_through(self) -> Iterator[int]:
        for way, asked in self._asked.items():
            record = part_at(self._root, way)
            key = key_of(record)
            if key is not None and key == asked.key:
                continue
            asked.key = key
            for name, then in asked.digests.items():
                now = digest_at(record, name)
                if now != then:
                    asked.digests[name] = now
                    yield asked.numbers[name]


def digest_at(record: Any, name: Hashable) -> str:
    """A digest of a part of a record or of a mapping; of nothing, where there is none."""
    digest = digest_of_part(record, name) if isinstance(record, Later) else None
    if digest is None:
        part = part_at(record, (name,)) if record is not None else None
        digest = "there" if isinstance(part, Later) else digest_of_value(part)
    return digest
