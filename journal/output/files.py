"""Single files: new ones that overwrite nothing, and one that replaces a file."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from journal.output.disk import (
    Disk,
    OutputError,
    bytes_of,
    explain_os_errors,
    is_folder,
    lstat_or_none,
    make_folders,
    remove_tree,
)
from journal.output.lock import folder_lock
from journal.output.notebook import real_folder
from journal.output.part import check_path, folders_of


def write_new_files(
    files: Mapping[str, bytes | Path], into: Path, below: str = "", *, disk: Disk | None = None
) -> tuple[str, ...]:
    """Write new files, all of them or none, over nothing that is there.

    A new folder ``into`` appears whole, in one step. In an old one the entries of the first
    level appear one after the other, and are removed again if one cannot be placed.

    Takes:  files  path relative to ``into`` -> bytes, or a file to copy
            below  a folder in ``into`` that they are written into instead; a link that
                   stands for it is refused, where one that ``into`` itself names is followed
    Gives:  the paths, sorted
    Fails:  OutputError if anything is there already, or the disk fails; nothing is
            changed then
    """
    disk = disk or Disk()
    for path in files:
        check_path(path)
    root = real_folder(into)
    if below:
        root, into = os.path.join(root, below), into / below
    shown = str(into)
    present = lstat_or_none(root) is not None
    if present and not is_folder(root):
        raise OutputError(f'"{shown}" is not a folder', "Name another folder.")
    tops = sorted({path.partition("/")[0] for path in files})
    taken = [name for name in tops if lstat_or_none(os.path.join(root, name)) is not None]
    if taken:
        names = ", ".join(f'"{name}"' for name in taken)
        raise OutputError(
            f'{names} in "{shown}" would be overwritten', "Name another folder, or move it first."
        )
    beside = root if present else os.path.dirname(root)
    with explain_os_errors(shown), _draft_path(disk, beside, shown) as draft:
        _fill(disk, draft, files)
        if present:
            _move_in(disk, draft, root, tops)
        else:
            disk.rename(draft, root)
        with suppress(OSError):  # it is all there
            disk.sync(beside)
    return tuple(sorted(files))


@contextmanager
def _draft_path(disk: Disk, folder: str, shown: str) -> Iterator[str]:
    """A free path in ``folder`` for a draft; what is left there afterwards is removed."""
    work = os.path.join(folder, ".journal-new")
    with folder_lock(work, shown):
        draft = os.path.join(work, "draft")
        remove_tree(disk, draft)  # of a command that died
        try:
            yield draft
        finally:
            with suppress(OSError):
                remove_tree(disk, draft)


def _fill(disk: Disk, draft: str, files: Mapping[str, bytes | Path]) -> None:
    """Write the files into the new folder ``draft``."""
    disk.make_folder(draft)
    made = {""}  # the draft itself
    for path, content in sorted(files.items()):
        for above in folders_of(path):
            if above not in made:
                make_folders(disk, draft, above)
                made.add(above)
        target = os.path.join(draft, path)
        if isinstance(content, bytes):
            disk.write(target, content)
        else:
            disk.copy(os.path.realpath(content), target)
    disk.sync_all(os.path.join(draft, path) for path in (*files, *made))


def _move_in(disk: Disk, draft: str, root: str, tops: Iterable[str]) -> None:
    """Move entries of ``draft`` into ``root``, all of them or none."""
    placed: list[str] = []
    try:
        for name in tops:
            source, target = os.path.join(draft, name), os.path.join(root, name)
            if lstat_or_none(target) is not None:  # since we looked
                raise FileExistsError(errno.EEXIST, "It is there already", target)
            disk.rename(source, target)
            placed.append(target)
    except OSError:
        for target in reversed(placed):
            with suppress(OSError):
                disk.rename(target, os.path.join(draft, os.path.basename(target)))
        raise


def check_file(path: Path, away_from: Iterable[Path] = (), *, follow: bool = True) -> str:
    """Where ``write_file`` writes, before anything is made for it.

    Takes:  as ``write_file``
    Gives:  the path of the file itself, in a folder that is there
    Fails:  OutputError if it may not be written there, or something other than a file is there
    """
    target = os.path.realpath(path if follow else path.parent)
    if not follow:
        target = os.path.join(target, path.name)
    real_folder(path)
    for other in away_from:
        inside = os.path.join(os.path.normcase(os.path.realpath(other)), "")
        if os.path.normcase(target).startswith(inside):
            raise OutputError(
                f'"{path}" lies in "{other}", which is only read', "Name a file elsewhere."
            )
    status = lstat_or_none(target)
    if status is not None and not stat.S_ISREG(status.st_mode):
        raise OutputError(f'"{path}" is not a file', "Name another.")
    return target


def write_file(
    path: Path,
    data: bytes,
    *,
    away_from: Iterable[Path] = (),
    follow: bool = True,
    was: bytes | None = None,
    disk: Disk | None = None,
) -> None:
    """Write one file whole; one of that name is replaced.

    Takes:  path       the file; a link is followed to what it leads to
            away_from  folders that it may not lie in
            follow     False where the maker named no more than the folder: a link that
                       stands for the file is refused then
            was        the bytes that the new ones are made from: a file that no longer has
                       them is refused; whom the old one could be read by stays
    Fails:  OutputError if something other than a file is there, or the disk fails;
            what was there is there still
    """
    disk = disk or Disk()
    target = check_file(path, away_from, follow=follow)
    folder, status = os.path.dirname(target), lstat_or_none(target)
    with explain_os_errors(str(path)), _draft_path(disk, folder, str(path)) as draft:
        disk.write(draft, data)
        if was is not None and status is not None:
            disk.set_mode(draft, stat.S_IMODE(status.st_mode))
        disk.sync(draft)
        if was is not None and bytes_of(target) != was:
            raise OutputError(
                f'"{path}" was changed meanwhile', "Begin again, from what stands there now."
            )
        disk.rename(draft, target)
        with suppress(OSError):  # it is there
            disk.sync(folder)
