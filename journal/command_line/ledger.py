"""What was worked out from which parts of a record, so that it is worked out again only if one
of them changed.

Each piece of work is given a traced record, and the parts that it asked for are kept with
their digests. In the next run its outcome is known while all these parts are what they
were; whatever was asked for counts, so that no dependency can be forgotten.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final, Generic, TypeVar

from msgspec import Struct

from journal.command_line.kept import digest_of_part, digest_of_value, unpacked
from journal.command_line.packed import packed
from journal.output import Store
from journal.pages.traced import Way, part_at, traced
from journal.records.later import Later

#: Names the form of what is kept; another form is nothing.
_FORM: Final = "ledger 2"

# Ways that no piece of work asks for any more are let go of when there are so many times as many
# as were needed: to number all of them anew takes longer than to look at those few.
_MOST_UNUSED: Final = 1.25

Root = TypeVar("Root", bound=Later)
Outcome = TypeVar("Outcome")


class _Entry(Struct, frozen=True):
    """One piece of work: the numbers of the ways to all that it asked for, its outcome."""

    ways: tuple[int, ...]
    outcome: Any


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
        self._ways: list[Way] = []
        self._digests: list[str] = []
        self._before: dict[str, _Entry] = {}
        self._needed = 0  # of the ways, when they were looked through last
        found = unpacked(store.read(name))
        if isinstance(found, tuple) and found[:2] == (_FORM, ground):
            self._needed, self._ways, self._digests, self._before = found[2:]
        self._numbers = {way: number for number, way in enumerate(self._ways)}
        self._found: list[str] | None = None  # the digests of the last run's ways, in this one
        self._changed: frozenset[int] = frozenset()
        self._now: dict[str, _Entry] = {}

    def known(self, name: str) -> Any:
        """The outcome of a piece of work, if nothing that it asked for has changed; else None."""
        entry = self._before.get(name)
        if entry is None or not self._changes().isdisjoint(entry.ways):
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
        ways = tuple(sorted(map(self._number, worked.ways)))
        self._now[name] = _Entry(ways, worked.outcome)
        return worked.outcome

    def keep(self) -> None:
        """Keep what was known and done in this run for the next."""
        if self._now == self._before and not self._changed:
            return
        found = self._found or []
        digests = [*found, *digests_at(self._root, self._ways[len(found) :])]
        ways, entries = self._ways, self._now
        if not self._before or len(ways) > _MOST_UNUSED * self._needed:
            used = sorted({number for entry in entries.values() for number in entry.ways})
            anew = {number: place for place, number in enumerate(used)}
            entries = {
                name: _Entry(tuple(anew[number] for number in one.ways), one.outcome)
                for name, one in entries.items()
            }
            ways, digests = [ways[n] for n in used], [digests[n] for n in used]
            self._needed = len(ways)
        told = (_FORM, self._ground, self._needed, ways, digests, entries)
        self._store.write(self._name, packed(told))

    def _number(self, way: Way) -> int:
        number = self._numbers.get(way)
        if number is None:
            number = self._numbers[way] = len(self._ways)
            self._ways.append(way)
        return number

    def _changes(self) -> frozenset[int]:
        """The numbers of the ways that lead to something else than in the last run."""
        if self._found is None:
            self._found = list(digests_at(self._root, self._ways[: len(self._digests)]))
            pairs = zip(self._found, self._digests, strict=True)
            self._changed = frozenset(n for n, (now, then) in enumerate(pairs) if now != then)
        return self._changed


def digests_at(root: Later, ways: Iterable[Way]) -> Iterator[str]:
    """A digest of the part that each way leads to."""
    above: dict[Way, Any] = {}
    for way in ways:
        before, name = way[:-1], way[-1]
        if before not in above:
            above[before] = part_at(root, before)
        holder = above[before]
        digest = digest_of_part(holder, name) if isinstance(holder, Later) else None
        if digest is None:
            part = part_at(holder, (name,)) if holder is not None else None
            digest = "there" if isinstance(part, Later) else digest_of_value(part)
        yield digest
