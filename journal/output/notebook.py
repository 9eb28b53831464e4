"""Writes a folder of many files, whole or not at all; only what changed is made again."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from journal.output import disk as disk_access
from journal.output import swap
from journal.output.part import OutputFile, ReadyFile, check_together
from journal.output.plan import WritePlan, is_recorded, plan_changes, size_of
from journal.output.record import (
    RECORD,
    BuildRecord,
    RecordedFile,
    count_names,
    read_first_line,
    read_record,
    record_bytes,
)

#: Makes the bytes of many parts, in their order; the place for several processes.
MakeParts = Callable[[Sequence[OutputFile]], Iterable[bytes]]


class WriteResult(Struct, frozen=True):
    """The paths that a build made, kept and removed; each tuple is sorted."""

    made: tuple[str, ...]
    kept: tuple[str, ...]
    removed: tuple[str, ...]


def write_notebook(
    out: Path,
    files: Iterable[OutputFile | ReadyFile],
    *,
    stamp: Mapping[str, str],
    away_from: Iterable[Path] = (),
    make_all: MakeParts | None = None,
    disk: disk_access.Disk | None = None,
) -> WriteResult:
    """Make ``out`` hold these files and no others, all of them or none.

    A file whose key was recorded by the last build, and which is there in its recorded
    size, is not written again, nor made if it is a ``OutputFile``. Files at the first level that
    the journal did not make stay where they are; those further down are carried along.

    Takes:  out        the folder; new, empty, or made by an earlier call
            files      any order; a ``ReadyFile`` is written to the work folder at once, so
                       that none of them stays in memory
            stamp      identifies what the folder is made from; see ``matches_last``
            away_from  folders that may neither hold ``out`` nor lie in it
            make_all   makes the bytes of many parts; by default one after the other
    Fails:  OutputError, or whatever making the bytes or iterating over ``files`` raises; the
            folder is then as it was. KeyboardInterrupt, which says so if the exchange had begun
            and was finished.
    """
    root = real_folder(out, away_from)
    shown = str(out)
    with swap.open_work_folder(disk or disk_access.Disk(), root, shown) as place:
        with disk_access.explain_os_errors(shown):
            last = read_record(root) or BuildRecord({}, {})
        record: bytes | None = None
        try:
            stage = _Stage(place, last)
            wanted_files = check_together(map(stage.as_output_file, files))
            with disk_access.explain_os_errors(shown):
                plan = plan_changes(place, wanted_files, last)
            stage.prepare(plan, make_all or (lambda parts: (part.make_bytes() for part in parts)))
            with disk_access.explain_os_errors(shown):
                recorded = stage.record_entries(wanted_files)
            record = record_bytes(stamp, recorded, plan.lasting)
            _put_in_place(place, plan, record)
        except KeyboardInterrupt:
            place.finish_exchange()
            found: bytes | None = None
            with suppress(OSError):
                found = disk_access.bytes_of(os.path.join(root, RECORD))
                place.clear(lasting=False)
            if record is not None and found == record:
                raise KeyboardInterrupt(f"by then {shown} had been made, whole") from None
            raise
        except Exception as error:
            # What failed is told, and not that the clearing up fails too.
            with suppress(OSError):
                if not swap.is_under_way(root):
                    # A full disk needs the room.
                    place.clear(lasting=isinstance(error, disk_access.OutputError))
            raise
    return WriteResult(tuple(sorted(plan.make)), tuple(sorted(plan.keep)), tuple(plan.removed))


class _Stage:
    """Makes all new files ready in the work folder."""

    def __init__(self, place: swap.WorkFolder, last: BuildRecord) -> None:
        self._place, self._last = place, last
        self._folders: dict[tuple[str, str], str] = {}  # those that were made for staged files
        self._fresh: list[str] = []
        self._made: dict[str, tuple[int, str]] = {}  # size and digest
        with disk_access.explain_os_errors(place.shown):
            place.disk.make_folder(place.new)

    def as_output_file(self, file: OutputFile | ReadyFile) -> OutputFile:
        """The file as an ``OutputFile``; new bytes of a ``ReadyFile`` are written at once."""
        if isinstance(file, OutputFile):
            return file
        path, key, size = file.path, file.key, len(file.data)
        target = os.path.join(self._place.root, path)
        with disk_access.explain_os_errors(self._place.shown):
            if not is_recorded(self._last, path, key, size) or size_of(target) != size:
                self._write_new(path, file.data)
                self._made[path] = size, disk_access.bytes_digest(file.data)
        return OutputFile(path, key, partial(_refuse_to_remake, self._place.shown, path))

    def prepare(self, plan: WritePlan, make_all: MakeParts) -> None:
        """Link or copy the files that are carried along, and make those that are lacking."""
        place, disk = self._place, self._place.disk
        with disk_access.explain_os_errors(place.shown):
            if plan.add:
                disk.make_folder(place.lasting)
            for path in plan.carry:
                source = os.path.join(place.root, path)
                target = self._target_path(place.new, path)
                try:
                    disk.link(source, target)
                except OSError:  # a disk without second names, or too many of them
                    disk.copy(source, target)
                    self._fresh.append(target)
        todo = tuple(part for path, part in plan.make.items() if path not in self._made)
        add = frozenset(plan.add)
        for part, data in zip(todo, make_all(todo), strict=True):
            self._made[part.path] = len(data), disk_access.bytes_digest(data)
            with disk_access.explain_os_errors(place.shown):
                if part.path in add:
                    # Whole by itself: a later command may take it over, should this one die.
                    target = self._target_path(place.lasting, part.path)
                    disk.write(target + swap.UNFINISHED, data)
                    disk.sync(target + swap.UNFINISHED)
                    disk.rename(target + swap.UNFINISHED, target)
                else:
                    self._write_new(part.path, data)
        made = [folder for (root, _), folder in self._folders.items() if root == place.new]
        with disk_access.explain_os_errors(place.shown):
            disk.sync_all((*self._fresh, place.new, *made))

    def record_entries(self, wanted_files: Mapping[str, OutputFile]) -> dict[str, RecordedFile]:
        """The record of every file, whether made now, earlier, or by a command that died.

        Fails:  OutputError for a file that went away since the plan was made
        """
        recorded: dict[str, RecordedFile] = {}
        for path, part in wanted_files.items():
            if path in self._made:
                recorded[path] = RecordedFile(part.key, *self._made[path])
                continue
            data = (
                disk_access.bytes_of(os.path.join(self._place.lasting, path))
                if part.lasting
                else None
            )
            if data is not None:
                recorded[path] = RecordedFile(part.key, len(data), disk_access.bytes_digest(data))
            elif path in self._last.parts:
                recorded[path] = replace(self._last.parts[path], key=part.key)
            else:  # it lay in the work folder when the plan was made
                raise _went_away(self._place.shown, path)
        return recorded

    def _write_new(self, path: str, data: bytes) -> None:
        """Write a file that is not a lasting one to the work folder."""
        target = self._target_path(self._place.new, path)
        self._place.disk.write(target, data)
        self._fresh.append(target)

    def _target_path(self, root: str, path: str) -> str:
        """The full path of ``path`` in ``root``; its folder is made if it is missing."""
        above = path.rpartition("/")[0]
        if (root, above) not in self._folders:
            disk_access.make_folders(self._place.disk, root, above)
            self._folders[root, above] = os.path.join(root, above)
        return os.path.join(root, path)


def _refuse_to_remake(shown: str, path: str) -> bytes:
    """Stands for the function that makes a ``ReadyFile``: its bytes are no longer at hand."""
    raise _went_away(shown, path)


def _went_away(shown: str, path: str) -> disk_access.OutputError:
    return disk_access.OutputError(
        f'"{path}" went away while "{shown}" was written',
        "Leave the folder alone meanwhile, and build again.",
    )


def _put_in_place(place: swap.WorkFolder, plan: WritePlan, record: bytes) -> None:
    """Exchange the old entries for the new ones and clear up, unless nothing has changed."""
    record_path = os.path.join(place.root, RECORD)
    with disk_access.explain_os_errors(place.shown):
        old = disk_access.bytes_of(record_path)
        if plan.changes_nothing and old == record:
            place.clear(lasting=True)
            return
        new = os.path.join(place.new, RECORD)
        place.disk.write(new, record)
        place.disk.sync_all((new, place.new))
        exchange = swap.Exchange(
            add=tuple(plan.add),
            old=(*plan.old, RECORD) if old is not None else tuple(plan.old),
            new=(*plan.new, RECORD),
            drop=tuple(plan.drop),
            before="" if old is None else disk_access.bytes_digest(old),
            after=disk_access.bytes_digest(record),
        )
        place.refuse_to_lose_changes(exchange)
        place.begin_exchange(exchange)
    place.finish_exchange(begun=True)
    with disk_access.explain_os_errors(place.shown, kept=swap.EXCHANGED):
        place.clear(lasting=True)


def recover(out: Path, *, disk: disk_access.Disk | None = None) -> None:
    """Finish, or throw away, what a command that died left in ``out``.

    Fails:  OutputError if another command is at work there, or the disk fails
    """
    root = os.path.realpath(out)
    if os.path.lexists(os.path.join(root, swap.WORK)):
        with swap.open_work_folder(disk or disk_access.Disk(), root, str(out)):
            pass


def matches_last(out: Path, stamp: Mapping[str, str]) -> bool:
    """Whether ``out`` was written whole under this stamp and has as many names as then.

    Reads the record's first line and lists the folders; no other file is opened. It looks without
    the lock: a folder that another command takes away meanwhile does not match.
    """
    root = os.path.realpath(out)
    head = read_first_line(root)
    if head is None or head[0] != dict(stamp):
        return False
    try:
        return not swap.is_under_way(root) and all(
            count_names(os.path.join(root, folder)) == count for folder, count in head[1].items()
        )
    except OSError:
        return False


def real_folder(out: Path, away_from: Iterable[Path] = ()) -> str:
    """The path of ``out`` with its links resolved.

    Fails:  OutputError if it holds, or lies in, a folder of ``away_from``, or has no parent
    """
    root = os.path.realpath(out)
    for other in away_from:
        other_root = os.path.realpath(other)
        if _lies_in(root, other_root) or _lies_in(other_root, root):
            raise disk_access.OutputError(
                f'"{out}" would be made over the folder that is read, "{other}"',
                "Name another folder to make, outside of it.",
            )
    if not os.path.isdir(os.path.dirname(root)):
        raise disk_access.OutputError(
            f'there is no folder "{Path(out).parent}" to write "{Path(out).name}" in',
            "Make it first, or name another.",
        )
    return root


def _lies_in(inner: str, outer: str) -> bool:
    """Whether a folder is another one or lies in it; both are real paths."""
    inner, outer = os.path.normcase(inner), os.path.normcase(outer)
    return inner == outer or inner.startswith(os.path.join(outer, ""))
