"""The few operations on files that everything in this package is made of.

Each is one step that can fail or be cut short by itself, so that a test can
put its finger on every one of them.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress

from journal.errors import UsageError

#: Above this many files one call for the whole disk is cheaper than a call a file.
FILES_SYNCED_ONE_BY_ONE = 64

_COPY_BYTES = 1 << 20


class OutputError(UsageError):
    """The files cannot be written; what stood there before stands there still."""


class Disk:
    """The real disk."""

    def make_folder(self, path: str) -> None:
        """Make one folder; one that is there already will do."""
        try:
            os.mkdir(path)
        except FileExistsError:
            if not is_folder(path):
                raise

    def write(self, path: str, data: bytes) -> None:
        """Write a new file; a path that is taken is an error."""
        handle = os.open(path, _NEW_FILE, 0o666)
        try:
            rest = memoryview(data)
            while rest:
                rest = rest[os.write(handle, rest) :]
        finally:
            os.close(handle)

    def copy(self, source: str, target: str) -> None:
        """Copy a file's bytes (or a symbolic link as it is) to a path that is free."""
        kind = os.lstat(source).st_mode
        if stat.S_ISLNK(kind):
            os.symlink(os.readlink(source), target)
            return
        if not stat.S_ISREG(kind):
            raise OSError(errno.EINVAL, "Neither a file nor a folder", source)
        with open(source, "rb") as reader:
            handle = os.open(target, _NEW_FILE, 0o666)
            with open(handle, "wb") as writer:
                while block := reader.read(_COPY_BYTES):
                    writer.write(block)

    def link(self, source: str, target: str) -> None:
        """Give a file a second name."""
        os.link(source, target, follow_symlinks=False)

    def rename(self, source: str, target: str) -> None:
        """Give a file or folder another name; a file at ``target`` is replaced."""
        os.replace(source, target)

    def remove(self, path: str) -> None:
        """Remove a file."""
        os.unlink(path)

    def remove_folder(self, path: str) -> None:
        """Remove an empty folder."""
        os.rmdir(path)

    def sync(self, path: str) -> None:
        """Wait until a file, or the names in a folder, are safe from a power cut.

        Not every disk can do it for a folder; where it cannot, the names come when
        the disk sees fit.
        """
        if is_folder(path):
            if os.name != "nt":  # a folder cannot be opened there
                with suppress(OSError):
                    _sync(os.open(path, os.O_RDONLY))
        else:
            _sync(os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0)))

    def sync_all(self, paths: Iterable[str]) -> None:
        """Do as ``sync`` for many files."""
        paths = tuple(paths)
        if len(paths) > FILES_SYNCED_ONE_BY_ONE and hasattr(os, "sync"):
            os.sync()
            return
        for path in paths:
            self.sync(path)


_NEW_FILE = os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0)


def _sync(handle: int) -> None:
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def is_folder(path: str) -> bool:
    """Whether a folder, not a link to one, stands at ``path``."""
    try:
        return stat.S_ISDIR(os.lstat(path).st_mode)
    except OSError:
        return False


def entries(path: str) -> tuple[str, ...]:
    """Names in a folder, sorted; none where there is no folder."""
    return tuple(sorted(os.listdir(path))) if is_folder(path) else ()


def remove_tree(disk: Disk, path: str) -> None:
    """Remove a file, or a folder with all that is in it; nothing there will do."""
    if is_folder(path):
        for name in entries(path):
            remove_tree(disk, os.path.join(path, name))
        disk.remove_folder(path)
    elif os.path.lexists(path):
        disk.remove(path)


def make_folders(disk: Disk, root: str, below: str) -> None:
    """Make the folders of the POSIX path ``below`` one under the other in ``root``."""
    for step in filter(None, below.split("/")):
        root = os.path.join(root, step)
        disk.make_folder(root)


@contextmanager
def put_into_words(folder: str, *, kept: str = "Nothing was changed") -> Iterator[None]:
    """Turn a failure of the disk into a message that says what to do.

    Takes:  folder  the folder that was to be written, as the maker named it
            kept    what the failure left
    Fails:  OutputError for any OSError
    """
    try:
        yield
    except OSError as error:
        place = str(error.filename) if error.filename else folder
        what = f'"{place}" cannot be written: {_reason(error)}'
        raise OutputError(what, _mend(error, kept)) from error


def _reason(error: OSError) -> str:
    if error.errno is None:
        return str(error)
    return os.strerror(error.errno).lower()


def _mend(error: OSError, kept: str) -> str:
    number = error.errno
    if number in (errno.ENOSPC, getattr(errno, "EDQUOT", None)):
        mend = "Free some space"
    elif number == errno.ENAMETOOLONG:
        mend = "Choose a shorter name"
    elif number == errno.EROFS:
        mend = "Choose a folder on a disk that can be written to"
    elif number in (errno.EACCES, errno.EPERM):
        mend = "Allow writing there, close the programs that have it open"
    else:
        mend = "Look at the disk"
    return f"{mend} and try again. {kept}."
