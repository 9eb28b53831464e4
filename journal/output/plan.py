"""The changes that make a folder hold the files that it is to hold."""

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
    """The changes to a folder, as paths of files and names of first-level entries.

    ``keep`` holds the sizes of the files that are not made again. ``carry`` are the present
    files that go along into entries that are exchanged: kept ones, and those that the journal
    did not make. ``add``, ``old``, ``new`` and ``drop`` are those of ``Exchange``.
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
    place: WorkFolder, wanted_files: Mapping[str, OutputFile], last: BuildRecord
) -> WritePlan:
    """Compare a folder with what it is to hold; nothing is changed yet.

    Each entry of the first level is planned in one of two ways. It is updated in place, file by
    file, if it holds lasting files, and did at the last build or is new. Otherwise, if anything
    in it differs, it is exchanged as a whole: its unchanged files, and those that the journal
    did not make, are carried into a new entry, for which the others are made.

    Takes:  wanted_files  the files that the folder is to hold, by path, sorted
            last          the record of the last build
    Gives:  the plan; ``removed`` is for the report alone
    Fails:  OutputError if something that the journal did not make stands in the way
    """
    wanted = _by_entry(wanted_files)
    sizes_on_disk = _sizes_on_disk(place.root, wanted.keys(), last)
    present_by_entry = _by_entry(sizes_on_disk)
    _refuse_in_the_way(place.shown, wanted_files, last, sizes_on_disk)

    plan = WritePlan()
    for name in sorted(wanted.keys() | present_by_entry.keys()):
        paths, present = wanted.get(name, ()), present_by_entry.get(name, ())
        stale = [path for path in present if path in last.parts and path not in wanted_files]
        is_lasting = any(wanted_files[path].lasting for path in paths)
        if is_lasting:
            plan.lasting.append(name)
        # An entry that only now becomes lasting is exchanged once.
        if is_lasting and (name in last.lasting or not present):
            _plan_in_place(plan, place, paths, last, sizes_on_disk)
            plan.drop += stale
            continue
        unchanged = [
            path
            for path in paths
            if path in sizes_on_disk
            and is_recorded(last, path, wanted_files[path].key, sizes_on_disk[path])
        ]
        plan.keep |= {path: sizes_on_disk[path] for path in unchanged}
        if len(unchanged) == len(paths) and not stale:
            continue
        foreign = [path for path in present if path not in last.parts and path not in wanted_files]
        plan.carry += unchanged + foreign
        if lstat_or_none(os.path.join(place.root, name)) is not None:
            plan.old.append(name)
        if paths or foreign:
            plan.new.append(name)
    plan.make = {path: part for path, part in wanted_files.items() if path not in plan.keep}
    plan.removed = sorted(sizes_on_disk.keys() & last.parts.keys() - wanted_files.keys())
    return plan


def _plan_in_place(
    plan: WritePlan,
    place: WorkFolder,
    paths: Iterable[str],
    last: BuildRecord,
    sizes_on_disk: Mapping[str, int],
) -> None:
    """Plan the lasting files of one entry, which are added one by one and never rewritten.

    A file that the last build recorded and that has its size stays. Any other is added to
    ``plan.add``; where a build that was cut short left it in the work folder, ``plan.keep`` has
    it too, so that it is not made again.
    """
    for path in paths:
        size = sizes_on_disk.get(path, _NO_FILE)
        # Its name holds the digest of what it is made from, so its key need not be compared.
        if size != _NO_FILE and path in last.parts and last.parts[path].size == size:
            plan.keep[path] = size
        else:
            plan.add.append(path)
            ready = size_of(os.path.join(place.lasting, path))
            if ready != _NO_FILE:
                plan.keep[path] = ready


def _by_entry(paths: Iterable[str]) -> dict[str, list[str]]:
    """Paths by their first step."""
    by_entry: dict[str, list[str]] = {}
    for path in paths:
        by_entry.setdefault(path.partition("/")[0], []).append(path)
    return by_entry


def _sizes_on_disk(root: str, wanted: Collection[str], last: BuildRecord) -> dict[str, int]:
    """Sizes, by path, of the files in entries that are wanted or were written before.

    Where the record is lost, any entry may have been written before.
    """
    before = {path.partition("/")[0] for path in last.parts}
    sizes: dict[str, int] = {}
    for name in folder_names(root):
        is_made_here = name in wanted or name in before
        may_be = last.lost and not name.startswith(".")
        if (is_made_here or may_be) and name not in (WORK, RECORD):
            for path, status in files_at(os.path.join(root, name), name).items():
                sizes[path] = _size(status)
    return sizes


def _size(status: os.stat_result | None) -> int:
    """The size of a plain file; -1 for anything else, or nothing."""
    return status.st_size if status is not None and stat.S_ISREG(status.st_mode) else _NO_FILE


def size_of(path: str) -> int:
    """A file's size; below 0 where there is none."""
    return _size(lstat_or_none(path))


def is_recorded(last: BuildRecord, path: str, key: str, size: int) -> bool:
    """Whether the last build wrote a file under this key, in this size."""
    made = last.parts.get(path)
    return made is not None and (made.key, made.size) == (key, size)


def _refuse_in_the_way(
    shown: str,
    wanted_files: Mapping[str, OutputFile],
    last: BuildRecord,
    sizes_on_disk: Mapping[str, int],
) -> None:
    """Raise OutputError if a file that the journal did not make stands in the way."""
    folders = all_folders(wanted_files)
    for path in sorted(sizes_on_disk.keys() - last.parts.keys()):
        in_the_way = (
            (path in wanted_files and not last.lost)
            or path in folders
            or any(above in wanted_files for above in folders_of(path))
        )
        if in_the_way:
            raise OutputError(
                f'"{path}" in "{shown}" was not made by the journal, and stands where a file'
                " of the notebook goes",
                "Move it elsewhere.",
            )
        if last.lost and path not in wanted_files and not path.rpartition("/")[2].startswith("."):
            raise lost_record_error(shown, path)
