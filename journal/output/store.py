"""Cached values in a folder of their own.

Every value can be worked out anew: a file that is missing, cut short, flipped in a bit, or
somebody else's is a miss, and a disk that cannot be written costs time and nothing else.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path

from journal.output.disk import Disk, bytes_of, folder_names, stands_for_itself

_HAS_OWNERS = hasattr(os, "geteuid")
_BY_OTHERS = stat.S_IWGRP | stat.S_IWOTH
# As many as Linux follows on one way (man 7 path_resolution).
_MOST_LINKS = 40
_DIGEST_BYTES = 16
_UNFINISHED = ".part"


class CacheStore:
    """A folder of cached values; without a folder nothing is cached."""

    def __init__(self, folder: Path | None, disk: Disk | None = None) -> None:
        self._folder = None if folder is None else str(folder)
        self._disk = disk or Disk()

    @property
    def has_folder(self) -> bool:
        """Whether there is a folder to cache in."""
        return self._folder is not None

    def read(self, name: str) -> bytes | None:
        """The bytes that were written under a name; None where there are none that can be trusted.

        Names are of letters, digits, hyphens and dots.
        """
        folder = self._trusted()
        if folder is None:
            return None
        try:
            stored = bytes_of(os.path.join(folder, name)) or b""
        except OSError:
            return None
        digest, data = stored[:_DIGEST_BYTES], stored[_DIGEST_BYTES:]
        return data if digest == _digest(name, data) else None

    def write(self, name: str, data: bytes) -> bool:
        """Write bytes under a name; tells whether they were written.

        It does not wait until they are safe from a power cut: half a file fails its digest.
        """
        folder = self._trusted(make=self._disk)
        if folder is None:
            return False
        place = os.path.join(folder, name)
        draft = place + _UNFINISHED
        try:
            with suppress(FileNotFoundError):
                self._disk.remove(draft)  # of a run that died
            self._disk.write(draft, _digest(name, data) + data)
            self._disk.rename(draft, place)
        except OSError:
            with suppress(OSError):
                self._disk.remove(draft)
            return False
        return True

    def clear(self, beginning: str, but: Collection[str] = ()) -> None:
        """Delete every file whose name begins so, and what dead runs left of them."""
        folder = self._trusted()
        if folder is None:
            return
        with suppress(OSError):
            for name in folder_names(folder):
                if name.startswith(beginning) and name not in but:
                    with suppress(FileNotFoundError):
                        self._disk.remove(os.path.join(folder, name))

    def _trusted(self, make: Disk | None = None) -> str | None:
        """The folder's real path; None if anyone but this process's owner may have written there.

        With ``make`` the folder, and those that hold it, are made where they are missing.
        """
        try:
            return None if self._folder is None else trusted_path(self._folder, make)
        except OSError:
            return None


def _digest(name: str, data: bytes) -> bytes:
    digest = hashlib.blake2b(name.encode() + b"\0", digest_size=_DIGEST_BYTES)
    digest.update(data)
    return digest.digest()


def trusted_path(path: str, make: Disk | None) -> str | None:
    """A folder's path with its links resolved; None where others may have written in it.

    The folder must belong to whoever runs this, and nobody else may write in it. Each folder
    above it must belong to them or to root, and either nobody else may write in it or nobody
    may move in it what is not theirs (the sticky bit, as /tmp has). A link is passed only
    where root alone can have put it: one of root's, in a folder of root's that nobody else may
    write in, and for root, who may have unpacked it, only at the very top (as /var and /tmp
    of macOS are). Where files have no owners (Windows) no link is passed at all.

    Fails:  OSError, FileNotFoundError where there is no folder
    """
    beginning, rest = os.path.splitdrive(os.path.abspath(path))
    so_far = beginning + os.sep
    above = os.lstat(so_far)
    steps = [step for step in rest.split(os.sep) if step][::-1]
    if not _is_protected(above):
        return None
    links = 0
    while steps:
        here = os.path.join(so_far, steps.pop())
        try:
            status = os.lstat(here)
        except FileNotFoundError:
            if make is None:
                raise
            make.make_folder(here, 0o700)
            status = os.lstat(here)
        if stat.S_ISLNK(status.st_mode):
            links += 1
            if not _is_link_of_root(status, above, so_far) or links > _MOST_LINKS:
                return None
            target = os.path.normpath(os.path.join(so_far, os.readlink(here)))
            steps += [step for step in target.split(os.sep) if step][::-1]
            so_far, above = os.sep, os.lstat(os.sep)
            continue
        if not stands_for_itself(status) or not _is_protected(status):
            return None
        so_far, above = here, status
    ours = not _HAS_OWNERS or (above.st_uid == os.geteuid() and not above.st_mode & _BY_OTHERS)
    return so_far if ours else None


def _is_protected(folder: os.stat_result) -> bool:
    """Whether no stranger can exchange what lies in this folder."""
    if not _HAS_OWNERS:
        return True
    closed = not folder.st_mode & _BY_OTHERS or bool(folder.st_mode & stat.S_ISVTX)
    return closed and folder.st_uid in (0, os.geteuid())


def _is_link_of_root(link: os.stat_result, folder: os.stat_result, path: str) -> bool:
    """Whether a link in ``folder``, which is at ``path``, can only have been put there by root."""
    if not _HAS_OWNERS or link.st_uid or folder.st_uid or folder.st_mode & _BY_OTHERS:
        return False
    return path == os.sep or os.geteuid() != 0
