"""What stands between a folder as it is and as it is to be."""

from __future__ import annotations

import os
import stat
from collections.abc import Collection, Iterable, Mapping

from msgspec import Struct

from journal.output.disk import OutputError, files_at, folder_names, lstat_or_none
from journal.output.part import OutputFile, all_folders, folders_of
from journal.output.record import RECORD, BuildRecord, lost_record_error
from journal.output.swap import WORK, WorkFolder

#: Stands for the size of what is neither a file nor a folder.
_NO_FILE = -1


class WritePlan(Struct):
    """What to do, in paths and in entries of the first level.

    ``keep`` holds the sizes of the parts that are not made again, ``carry`` what of
    the present files goes along into entries that are exchanged: kept parts, and files
    that the journal did not make. ``add``, ``old``, ``new`` and ``drop`` are those of ``Exchange``.
    """

    keep: dict[str, int] = {}
    make: dict[str, OutputFile] = {}
    carry: list[str] = []
    add: list[str] = []
    old: list[str] = []
    new: list[str] = []
    drop: list[str] = []
    lasting: list[str] = []
    removed: list[str] = []

    @property
    def changes_nothing(self) -> bool:
        """Whether the folder stays as it is, but perhaps for the record."""
        return not (self.add or self.old or self.new or self.drop)


def plan_changes(
    place: WorkFolder, ordered: Mapping[str, OutputFile], last: BuildRecord
) -> WritePlan:
    """What to keep, make, carry along and remove; nothing is changed yet.

    ``ordered`` are the wanted parts by path, sorted; ``last`` is what the last build wrote.

    Fails:  OutputError if something that the journal did not make stands in the way
    """
    wanted = _by_entry(ordered)
    there = _sizes_there(place.root, wanted.keys(), last)
    present_by_entry = _by_entry(there)
    _refuse_in_the_way(place.shown, ordered, last, there)

    plan = WritePlan()
    for name in sorted(wanted.keys() | present_by_entry.keys()):
        paths, present = wanted.get(name, ()), present_by_entry.get(name, ())
        stale = [path for path in present if path in last.parts and path not in ordered]
        lasts = any(ordered[path].lasting for path in paths)
        if lasts:
            plan.lasting.append(name)
        if lasts and (name in last.lasting or not present):
            for path in paths:
                size = there.get(path, _NO_FILE)
                # Its name holds the digest of what it is made from: no key is asked.
                if size != _NO_FILE and path in last.parts and last.parts[path].size == size:
                    plan.keep[path] = size
                else:
                    plan.add.append(path)
                    ready = size_of(os.path.join(place.lasting, path))
                    if ready != _NO_FILE:
                        plan.keep[path] = ready
            plan.drop += stale
            continue
        same = [
            path
            for path in paths
            if path in there and is_recorded(last, path, ordered[path].key, there[path])
        ]
        plan.keep |= {path: there[path] for path in same}
        if len(same) == len(paths) and not stale:
            continue
        foreign = [path for path in present if path not in last.parts and path not in ordered]
        plan.carry += same + foreign
        if lstat_or_none(os.path.join(place.root, name)) is not None:
            plan.old.append(name)
        if paths or foreign:
            plan.new.append(name)
    plan.make = {path: part for path, part in ordered.items() if path not in plan.keep}
    plan.removed = sorted(there.keys() & last.parts.keys() - ordered.keys())
    return plan


def _by_entry(paths: Iterable[str]) -> dict[str, list[str]]:
    """Paths by their first step."""
    by_entry: dict[str, list[str]] = {}
    for path in paths:
        by_entry.setdefault(path.partition("/")[0], []).append(path)
    return by_entry


def _sizes_there(root: str, wanted: Collection[str], last: BuildRecord) -> dict[str, int]:
    """Sizes, by path, of the files in entries that are wanted or were written before.

    Where the record is lost, any entry may have been written before.
    """
    before = {path.partition("/")[0] for path in last.parts}
    sizes: dict[str, int] = {}
    for name in folder_names(root):
        own = name in wanted or name in before or (last.lost and not name.startswith("."))
        if own and name not in (WORK, RECORD):
            for path, status in files_at(os.path.join(root, name), name).items():
                sizes[path] = _size(status)
    return sizes


def _size(status: os.stat_result | None) -> int:
    return status.st_size if status is not None and stat.S_ISREG(status.st_mode) else _NO_FILE


def size_of(path: str) -> int:
    """A file's size; below 0 where there is none."""
    return _size(lstat_or_none(path))


def is_recorded(last: BuildRecord, path: str, key: str, size: int) -> bool:
    """Whether the last build wrote a file under this key, in this size."""
    made = last.parts.get(path)
    return made is not None and (made.key, made.size) == (key, size)


def _refuse_in_the_way(
    shown: str, ordered: Mapping[str, OutputFile], last: BuildRecord, there: Mapping[str, int]
) -> None:
    """Raise OutputError if a file that the journal did not make stands in the way."""
    folders = all_folders(ordered)
    for path in sorted(there.keys() - last.parts.keys()):
        in_the_way = (
            (path in ordered and not last.lost)
            or path in folders
            or any(above in ordered for above in folders_of(path))
        )
        if in_the_way:
            raise OutputError(
                f'"{path}" in "{shown}" was not made by the journal, and stands where a file'
                " of the notebook goes",
                "Move it elsewhere.",
            )
        if last.lost and path not in ordered and not path.rpartition("/")[2].startswith("."):
            raise lost_record_error(shown, path)
