"""One command at a time in a folder.

The lock is the operating system's, held on an open file: it ends with the
process that holds it, however that ends, so none is ever left behind.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from journal.output.disk import OutputError, lstat_or_none, open_parent

if sys.platform == "win32":
    import msvcrt

    def _lock_now(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock_now(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


_HELD_BY_ANOTHER = (errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK)

# A link is not followed, a pipe not waited for.
_LOCK = os.O_CREAT | os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)

#: How often a lock may vanish under our hands, let go by others one after the other.
_TRIES = 100


@contextmanager
def folder_lock(folder: str, shown: str) -> Iterator[None]:
    """Hold the lock of ``folder`` for the block; the folder is made for it, and removed when empty.

    Takes:  shown  the folder as messages call it

    Fails:  OutputError if another process holds it; OSError of the disk
    """
    path = os.path.join(folder, "lock")
    handle = _acquire(folder, path, shown)
    try:
        yield
    finally:
        # Removed while it is held: whoever opened it meanwhile sees that the name
        # is gone and begins again. Windows removes no open file, so there after.
        if os.name != "nt":
            _remove_lock_file(folder, path)
            os.close(handle)
        else:
            os.close(handle)
            _remove_lock_file(folder, path)


def _acquire(folder: str, path: str, shown: str) -> int:
    """Open and lock the lock file, again if it was removed meanwhile; gives its descriptor."""
    for _ in range(_TRIES):
        with suppress(FileExistsError), open_parent(folder) as (name, above):
            os.mkdir(name, dir_fd=above)
        try:
            with open_parent(path) as (name, above):
                handle = os.open(name, _LOCK, 0o666, dir_fd=above)
        except FileNotFoundError:
            continue
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            os.close(handle)
            raise OSError(errno.EINVAL, "It is no file", path)
        try:
            _lock_now(handle)
            if _is_still_at(handle, path):
                return handle
        except OSError as error:
            os.close(handle)
            if error.errno in _HELD_BY_ANOTHER:
                raise OutputError(
                    f'another command is at work in "{shown}"', "Wait until it is done."
                ) from None
            raise OutputError(
                f'the disk of "{shown}" cannot keep two commands apart ({error})',
                "Choose a folder on this computer and copy it there afterwards.",
            ) from error
        os.close(handle)
    raise OutputError(f'many commands are at work in "{shown}"', "Wait until they are done.")


def _is_still_at(handle: int, path: str) -> bool:
    """Whether the open file still stands at ``path``."""
    status = lstat_or_none(path)
    return status is not None and os.path.samestat(os.fstat(handle), status)


def _remove_lock_file(folder: str, path: str) -> None:
    """Remove the lock file, and its folder if that is empty; a failure does no harm."""
    with suppress(OSError), open_parent(path) as (name, above):
        os.unlink(name, dir_fd=above)
    with suppress(OSError), open_parent(folder) as (name, above):
        os.rmdir(name, dir_fd=above)
