"""A folder of many files, written whole or not at all, only what changed made again."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from msgspec import Struct

from journal.output.disk import Disk, OutputError, make_folders, put_into_words
from journal.output.part import Part, check_together
from journal.output.plan import Plan, compare
from journal.output.record import (
    RECORD,
    Record,
    first_line,
    names_in,
    read_record,
    written_record,
)
from journal.output.swap import (
    EXCHANGED,
    UNFINISHED,
    WORK,
    Exchange,
    Workplace,
    is_under_way,
    workplace,
)

#: Makes the bytes of many parts, in their order; the place for several processes.
MakeAll = Callable[[Sequence[Part]], Iterable[bytes]]


class Written(Struct, frozen=True):
    """What a build did: paths, each tuple sorted."""

    made: tuple[str, ...]
    kept: tuple[str, ...]
    removed: tuple[str, ...]


def write_notebook(
    out: Path,
    parts: Iterable[Part],
    *,
    stamp: Mapping[str, str],
    away_from: Iterable[Path] = (),
    make_all: MakeAll | None = None,
    disk: Disk | None = None,
) -> Written:
    """Make ``out`` hold these parts and no others, all of them or none.

    A part whose key was recorded by the last build, and whose file is there in
    its recorded size, is not made again. Files at the first level that the journal did
    not make stay where they are; those further down are carried along.

    Takes:  out        the folder; new, empty, or made by an earlier call
            parts      any order
            stamp      what to know the whole by at the next call (``matches_last``)
            away_from  folders that may neither hold ``out`` nor lie in it
            make_all   makes the bytes of many parts, in their order; by default one part
                       after the other
            disk       where to write
    Gives:  the paths made, kept, removed
    Fails:  OutputError, with the folder as it was; whatever ``make`` raises, likewise;
            KeyboardInterrupt, which says so if the exchange had begun and was finished
    """
    ordered = check_together(parts)
    root = real_folder(out, away_from)
    shown = str(out)
    with workplace(disk or Disk(), root, shown) as place:
        with put_into_words(shown):
            last = read_record(root) or Record({}, {})
            plan = compare(place, ordered, last)
        record: bytes | None = None
        try:
            sizes = _stage(place, plan, make_all or _one_by_one)
            recorded = {path: (part.key, sizes[path]) for path, part in ordered.items()}
            record = written_record(stamp, recorded, plan.lasting)
            _put_in_place(place, plan, record)
        except KeyboardInterrupt:
            place.finish_exchange()
            place.clear(lasting=False)
            if record is not None and _bytes_of(os.path.join(root, RECORD)) == record:
                raise KeyboardInterrupt(f"by then {shown} had been made, whole") from None
            raise
        except OutputError:
            if not is_under_way(root):
                with suppress(OSError):
                    place.clear(lasting=True)  # a full disk needs the room
            raise
        except Exception:
            with suppress(OSError):
                place.clear(lasting=False)
            raise
    return Written(tuple(sorted(plan.make)), tuple(sorted(plan.keep)), plan.removed)


def _one_by_one(parts: Sequence[Part]) -> Iterator[bytes]:
    return (part.make() for part in parts)


def _stage(place: Workplace, plan: Plan, make_all: MakeAll) -> dict[str, int]:
    """Lay everything new ready in the work folder; gives the size of every part."""
    disk, folders = place.disk, _Folders(place)
    sizes = dict(plan.keep)
    fresh: list[str] = []
    with put_into_words(place.shown):
        disk.make_folder(place.new)
        if plan.add:
            disk.make_folder(place.lasting)
        for path in plan.carry:
            source, target = os.path.join(place.root, path), folders.ready(place.new, path)
            try:
                disk.link(source, target)
            except OSError:  # a disk without second names, or too many of them
                disk.copy(source, target)
                fresh.append(target)
    todo = tuple(plan.make.values())
    add = frozenset(plan.add)
    for part, data in zip(todo, make_all(todo), strict=True):
        sizes[part.path] = len(data)
        with put_into_words(place.shown):
            if part.path in add:
                _write_lasting(disk, folders.ready(place.lasting, part.path), data)
            else:
                target = folders.ready(place.new, part.path)
                disk.write(target, data)
                fresh.append(target)
    with put_into_words(place.shown):
        disk.sync_all((*fresh, *folders.below(place.new)))
    return sizes


def _write_lasting(disk: Disk, path: str, data: bytes) -> None:
    """Write a file that a later command may take over, should this one die."""
    draft = path + UNFINISHED
    disk.write(draft, data)
    disk.sync(draft)
    disk.rename(draft, path)


def _put_in_place(place: Workplace, plan: Plan, record: bytes) -> None:
    there = os.path.join(place.root, RECORD)
    with put_into_words(place.shown):
        old = _bytes_of(there)
        if plan.changes_nothing and old == record:
            place.clear(lasting=True)
            return
        new = os.path.join(place.new, RECORD)
        place.disk.write(new, record)
        place.disk.sync_all((new, place.new))
        taken = (*plan.old, RECORD) if old is not None else plan.old
        place.begin_exchange(Exchange(plan.add, taken, (*plan.new, RECORD), plan.drop))
    place.finish_exchange()
    with put_into_words(place.shown, kept=EXCHANGED):
        place.clear(lasting=True)


def _bytes_of(path: str) -> bytes | None:
    try:
        with open(path, "rb") as file:
            return file.read()
    except FileNotFoundError:
        return None


class _Folders:
    """Makes the folders of staged files, each once."""

    def __init__(self, place: Workplace) -> None:
        self._disk = place.disk
        self._made: dict[str, str] = {}

    def ready(self, root: str, path: str) -> str:
        """The place of ``path`` in ``root``, its folder made."""
        above = path.rpartition("/")[0]
        folder = os.path.join(root, above)
        if folder not in self._made:
            make_folders(self._disk, root, above)
            self._made[folder] = root
        return os.path.join(root, path)

    def below(self, root: str) -> tuple[str, ...]:
        """The folders made in ``root``."""
        return (root, *(folder for folder, under in self._made.items() if under == root))


def recover(out: Path, *, disk: Disk | None = None) -> None:
    """Finish, or throw away, what a command that died left in ``out``.

    Takes:  out  the folder; nothing there will do
    Fails:  OutputError if another command is at work there, or the disk fails
    """
    root = os.path.realpath(out)
    if os.path.lexists(os.path.join(root, WORK)):
        with workplace(disk or Disk(), root, str(out)):
            pass


def matches_last(out: Path, stamp: Mapping[str, str]) -> bool:
    """Whether ``out`` was written whole under this stamp and no file has gone since.

    Reads one line and lists the folders; looks into no file.

    Takes:  out    the folder; nothing there will do
            stamp  as given to ``write_notebook``
    """
    root = os.path.realpath(out)
    found = first_line(root)
    if found is None or found[0] != dict(stamp) or is_under_way(root):
        return False
    return all(names_in(os.path.join(root, folder)) == count for folder, count in found[1].items())


def real_folder(out: Path, away_from: Iterable[Path] = ()) -> str:
    """The folder that ``out`` leads to through any links; its parent is there.

    Takes:  out        a path
            away_from  folders that may neither hold it nor lie in it
    Fails:  OutputError
    """
    root = os.path.realpath(out)
    for other in away_from:
        kept = os.path.realpath(other)
        if _lies_in(root, kept) or _lies_in(kept, root):
            raise OutputError(
                f'"{out}" and "{other}" lie one in the other',
                "Name a folder outside: what is read and what is written are kept apart.",
            )
    if not os.path.isdir(os.path.dirname(root)):
        raise OutputError(
            f'there is no folder "{Path(out).parent}" to write "{Path(out).name}" in',
            "Make it first, or name another.",
        )
    return root


def _lies_in(inner: str, outer: str) -> bool:
    inner, outer = os.path.normcase(inner), os.path.normcase(outer)
    return inner == outer or inner.startswith(os.path.join(outer, ""))
