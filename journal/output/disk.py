"""The operations on the disk that this package is built on.

Each is one step that can fail or be cut short, so that a test can do that at each of them.
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from typing import BinaryIO

from journal.errors import UsageError

#: Above this many files one call for the whole disk is cheaper than a call a file.
FILES_SYNCED_ONE_BY_ONE = 64

_COPY_BYTES = 1 << 20


class OutputError(UsageError):
    """The files cannot be written; what stood there before stands there still."""


class Disk:
    """The real disk. No parent of a path that it is given may be a link."""

    def make_folder(self, path: str, mode: int = 0o777) -> None:
        """Make one folder, unless it is there already."""
        with open_parent(path) as (name, above):
            try:
                os.mkdir(name, mode, dir_fd=above)
            except FileExistsError:
                if not is_folder(path):
                    raise

    def write(self, path: str, data: bytes) -> None:
        """Write a new file; a path that is taken is an error."""
        with open_parent(path) as (name, above):
            handle = os.open(name, _NEW_FILE, 0o666, dir_fd=above)
            try:
                rest = memoryview(data)
                while rest:
                    rest = rest[os.write(handle, rest) :]
            finally:
                os.close(handle)

    def append(self, path: str, data: bytes) -> None:
        """Write at the end of a file, which is made if need be and is its owner's alone.

        It waits until the bytes are safe from a power cut.
        """
        with open_parent(path) as (name, above):
            handle = os.open(name, _AT_END, 0o600, dir_fd=above)
            try:
                _require_file(os.fstat(handle), path)
                rest = memoryview(data)
                while rest:
                    rest = rest[os.write(handle, rest) :]
                os.fsync(handle)
            finally:
                os.close(handle)

    def set_mode(self, path: str, mode: int) -> None:
        """Allow reading and writing a file to those whom ``mode`` allows it."""
        with open_parent(path) as (name, above):
            os.chmod(name, mode, dir_fd=above)

    def copy(self, source: str, target: str) -> None:
        """Copy a file's bytes (or a symbolic link as it is) to a path that is free."""
        with open_parent(source) as (name, above), open_parent(target) as (copied, folder):
            if stat.S_ISLNK(os.stat(name, dir_fd=above, follow_symlinks=False).st_mode):
                os.symlink(os.readlink(name, dir_fd=above), copied, dir_fd=folder)
                return
            with open_file(source) as reader:
                handle = os.open(copied, _NEW_FILE, 0o666, dir_fd=folder)
                with open(handle, "wb") as writer:
                    while block := reader.read(_COPY_BYTES):
                        writer.write(block)

    def link(self, source: str, target: str) -> None:
        """Give a file a second name."""
        with open_parent(source) as (name, above), open_parent(target) as (second, folder):
            os.link(name, second, src_dir_fd=above, dst_dir_fd=folder, follow_symlinks=False)

    def rename(self, source: str, target: str) -> None:
        """Give a file or folder another name; a file at ``target`` is replaced."""
        with open_parent(source) as (name, above), open_parent(target) as (other, folder):
            os.replace(name, other, src_dir_fd=above, dst_dir_fd=folder)

    def remove(self, path: str) -> None:
        """Remove a file."""
        with open_parent(path) as (name, above):
            os.unlink(name, dir_fd=above)

    def remove_folder(self, path: str) -> None:
        """Remove an empty folder."""
        with open_parent(path) as (name, above):
            os.rmdir(name, dir_fd=above)

    def sync(self, path: str) -> None:
        """Wait until a file, or the names in a folder, are safe from a power cut.

        Not every disk can do it for a folder; where it cannot, the names come when
        the disk sees fit.
        """
        if is_folder(path):
            if BY_DESCRIPTOR:  # elsewhere a folder cannot be opened
                with suppress(OSError):
                    _sync_and_close(_open_folder(path, os.O_RDONLY))
        else:
            with open_parent(path) as (name, above):
                _sync_and_close(os.open(name, os.O_RDWR | _SOUND, dir_fd=above))

    def sync_all(self, paths: Iterable[str]) -> None:
        """Sync many files and folders, one by one or by one call for the whole disk."""
        paths = tuple(paths)
        if len(paths) > FILES_SYNCED_ONE_BY_ONE and hasattr(os, "sync"):
            os.sync()
            return
        for path in paths:
            self.sync(path)


#: Whether a file can be named by its folder's descriptor (not on Windows).
BY_DESCRIPTOR = os.open in os.supports_dir_fd and hasattr(os, "O_NOFOLLOW")

# A pipe is not waited for, nor a link followed, at the end of a path.
_SOUND = getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_NEW_FILE = os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0)
_AT_END = os.O_CREAT | os.O_APPEND | os.O_WRONLY | _SOUND
_FOLDER = getattr(os, "O_DIRECTORY", 0) | getattr(os, "O_NOFOLLOW", 0)
# Linux passes through a folder that may not be listed.
_PASSED = getattr(os, "O_PATH", os.O_RDONLY)

#: The reparse points of Windows that stand for another place: links, junctions
#: (Microsoft, "Reparse Point Tags": the name surrogate bit).
_NAME_SURROGATE = 0x20000000


@contextmanager
def open_parent(path: str) -> Iterator[tuple[str, int | None]]:
    """The name of a file and the descriptor of its folder, reached through no link.

    Where there are no such descriptors, every folder above is looked at, and the path
    itself is given: between the look and the act a link could still be put there.

    Takes:  path  absolute, or from the present folder
    Gives:  what to call the functions of ``os`` with: a name, and ``dir_fd``
    Fails:  NotADirectoryError where a link, or a file, stands for a folder
    """
    folder, name = os.path.split(path.rstrip("/"))
    if not BY_DESCRIPTOR:
        _refuse_links(folder)
        yield path, None
        return
    handle = _open_folder(folder, _PASSED)
    try:
        yield name, handle
    except OSError as error:
        if error.filename == name:
            error.filename = path  # whole, for the message
        raise
    finally:
        os.close(handle)


def _open_folder(path: str, last: int) -> int:
    """A descriptor of a folder, opened with the flags ``last``; refuses a path through a link."""
    steps = [step for step in path.split("/") if step]
    begin = "/" if path.startswith("/") else "."
    handle = os.open(begin, _FOLDER | (_PASSED if steps else last))
    try:
        for number, step in enumerate(steps, 1):
            if step == "..":
                raise _no_folder("/".join(steps[:number]))
            flags = _FOLDER | (last if number == len(steps) else _PASSED)
            try:
                below = os.open(step, flags, dir_fd=handle)
            except OSError as error:
                so_far = begin.strip(".") + "/".join(steps[:number])
                if error.errno in (errno.ELOOP, errno.ENOTDIR):
                    raise _no_folder(so_far) from None
                error.filename = so_far
                raise
            os.close(handle)
            handle = below
    except BaseException:
        os.close(handle)
        raise
    return handle


def _no_folder(path: str) -> OSError:
    return NotADirectoryError(errno.ENOTDIR, "A link, or a file, stands for a folder", path)


def _refuse_links(folder: str) -> None:
    """Raise NotADirectoryError if a link stands for a folder or for one above it."""
    while folder:
        if not stands_for_itself(os.lstat(folder)):
            raise _no_folder(folder)
        above = os.path.dirname(folder)
        folder = "" if above == folder else above


def stands_for_itself(status: os.stat_result) -> bool:
    """Whether this is the status of a folder, and neither of a link nor of a junction."""
    tag = getattr(status, "st_reparse_tag", 0)
    return stat.S_ISDIR(status.st_mode) and not tag & _NAME_SURROGATE


def _sync_and_close(handle: int) -> None:
    """Wait until an open file is safe from a power cut, and close it."""
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def lstat_or_none(path: str) -> os.stat_result | None:
    """The status of what is at a path, of a link itself; None for nothing, or behind a link."""
    try:
        with open_parent(path) as (name, above):
            return os.stat(name, dir_fd=above, follow_symlinks=False)
    except (FileNotFoundError, NotADirectoryError):
        return None


def is_folder(path: str) -> bool:
    """Whether a folder, not a link to one, stands at ``path``."""
    try:
        status = lstat_or_none(path)
    except OSError:
        return False
    return status is not None and stands_for_itself(status)


def open_file(path: str) -> BinaryIO:
    """A file to be read: no link, no pipe that would be waited for, no device.

    Fails:  FileNotFoundError; OSError for anything else that is no file
    """
    with open_parent(path) as (name, above):
        # A device may do something as soon as it is opened.
        _require_file(os.stat(name, dir_fd=above, follow_symlinks=False), path)
        handle = os.open(name, os.O_RDONLY | _SOUND, dir_fd=above)
    try:
        _require_file(os.fstat(handle), path)
    except OSError:
        os.close(handle)
        raise
    return os.fdopen(handle, "rb")


def _require_file(status: os.stat_result, path: str) -> None:
    """Raise OSError for anything but a plain file."""
    if not stat.S_ISREG(status.st_mode):
        raise OSError(errno.EINVAL, "Neither a file nor a folder", path)


def bytes_of(path: str) -> bytes | None:
    """A file's bytes; None where there is none."""
    try:
        with open_file(path) as file:
            return file.read()
    except FileNotFoundError:
        return None


def bytes_digest(data: bytes) -> str:
    """The digest by which a file is compared with what was written."""
    return hashlib.blake2b(data, digest_size=16).hexdigest()


def folder_names(path: str) -> tuple[str, ...]:
    """Names in a folder, sorted; none where there is no folder."""
    if not is_folder(path):
        return ()
    if not BY_DESCRIPTOR:
        return tuple(sorted(os.listdir(path)))
    handle = _open_folder(path, os.O_RDONLY)
    try:
        return tuple(sorted(os.listdir(handle)))
    finally:
        os.close(handle)


def files_at(path: str, name: str = "") -> dict[str, os.stat_result]:
    """All files at and below a path, by path: ``name`` and what follows; no link is followed.

    Anything that is no folder counts as a file; empty folders are left out, and so is what other
    programs take away meanwhile.
    """
    files: dict[str, os.stat_result] = {}
    status = lstat_or_none(path)
    if status is not None and not stands_for_itself(status):
        files[name] = status
    elif status is not None:
        with suppress(FileNotFoundError):
            if BY_DESCRIPTOR:
                _add_files_below(_open_folder(path, os.O_RDONLY), name, files)
                return files
            for below in sorted(os.listdir(path)):
                files |= files_at(os.path.join(path, below), f"{name}/{below}".lstrip("/"))
    return files


def _add_files_below(handle: int, name: str, files: dict[str, os.stat_result]) -> None:
    """Add all files of an open folder called ``name`` to ``files``, and close it."""
    try:
        for below in sorted(os.listdir(handle)):
            path = f"{name}/{below}" if name else below
            with suppress(FileNotFoundError):
                status = os.stat(below, dir_fd=handle, follow_symlinks=False)
                if stat.S_ISDIR(status.st_mode):
                    deeper = os.open(below, _FOLDER | os.O_RDONLY, dir_fd=handle)
                    _add_files_below(deeper, path, files)
                else:
                    files[path] = status
    finally:
        os.close(handle)


def remove_tree(disk: Disk, path: str) -> None:
    """Remove a file, or a folder with all that is in it, if it is there."""
    status = lstat_or_none(path)
    if status is None:
        return
    if not stands_for_itself(status):
        disk.remove(path)
        return
    for name in folder_names(path):
        remove_tree(disk, os.path.join(path, name))
    disk.remove_folder(path)


def make_folders(disk: Disk, root: str, below: str) -> None:
    """Make the folders of the POSIX path ``below`` one under the other in ``root``."""
    for step in filter(None, below.split("/")):
        root = os.path.join(root, step)
        disk.make_folder(root)


@contextmanager
def explain_os_errors(folder: str, *, kept: str = "Nothing was changed") -> Iterator[None]:
    """Turn a failure of the disk into an OutputError that says what to do and what was kept."""
    try:
        yield
    except OSError as error:
        place = str(error.filename) if error.filename else folder
        if error.errno in _STANDS_THERE:
            reason = "a link, or something else that should not be there, stands there"
        else:
            reason = str(error) if error.errno is None else os.strerror(error.errno).lower()
        hint = _HINTS.get(error.errno or 0, "Look at the disk")
        raise OutputError(
            f'"{place}" cannot be written: {reason}', f"{hint} and try again. {kept}."
        ) from error


# A link; a file for a folder; a folder, a pipe or a device for a file.
_STANDS_THERE = (errno.ELOOP, errno.ENOTDIR, errno.EISDIR, errno.EINVAL)
_HINTS = {
    errno.ENOSPC: "Free some space",
    getattr(errno, "EDQUOT", errno.ENOSPC): "Free some space",
    errno.ENAMETOOLONG: "Choose a shorter name",
    errno.EROFS: "Choose a folder on a disk that can be written to",
    **dict.fromkeys(_STANDS_THERE, "Move it elsewhere"),
    **dict.fromkeys(
        (errno.EACCES, errno.EPERM), "Allow writing there, close the programs that have it open"
    ),
}
