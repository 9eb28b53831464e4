"""Answers kept from one run to the next, in a folder of their own.

Whatever is kept can be worked out anew: a file that is missing, cut short, flipped
in a bit, or somebody else's is no answer, and a disk that takes nothing costs time
and nothing else.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path

from journal.output.disk import Disk

_DIGEST_BYTES = 16
_UNFINISHED = ".part"


class Store:
    """A folder of kept answers; without a folder it keeps nothing."""

    def __init__(self, folder: Path | None, disk: Disk | None = None) -> None:
        self._folder = None if folder is None else str(folder)
        self._disk = disk or Disk()

    def read(self, name: str) -> bytes | None:
        """What was kept under a name; None where there is nothing that can be trusted.

        Takes:  name  of letters, digits, hyphens and dots
        Gives:  the bytes as they were written, or None
        """
        if self._folder is None or not _is_ours(self._folder):
            return None
        try:
            with open(os.path.join(self._folder, name), "rb") as file:
                found = file.read()
        except OSError:
            return None
        digest, data = found[:_DIGEST_BYTES], found[_DIGEST_BYTES:]
        return data if digest == _digest(name, data) else None

    def write(self, name: str, data: bytes) -> bool:
        """Keep bytes under a name; gives whether they were kept.

        Not waited for until they are safe from a power cut: half a file is seen by
        its digest.
        """
        if self._folder is None:
            return False
        place = os.path.join(self._folder, name)
        draft = place + _UNFINISHED
        try:
            os.makedirs(self._folder, mode=0o700, exist_ok=True)
            if not _is_ours(self._folder):
                return False
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
        """Throw away everything whose name begins so, and what runs that died left of it."""
        if self._folder is None or not _is_ours(self._folder):
            return
        with suppress(OSError):
            for name in sorted(os.listdir(self._folder)):
                if name.startswith(beginning) and name not in but:
                    with suppress(FileNotFoundError):
                        self._disk.remove(os.path.join(self._folder, name))


def _digest(name: str, data: bytes) -> bytes:
    found = hashlib.blake2b(name.encode() + b"\0", digest_size=_DIGEST_BYTES)
    found.update(data)
    return found.digest()


def _is_ours(folder: str) -> bool:
    """Whether nobody but the owner of this process can have put anything there."""
    if not hasattr(os, "geteuid"):
        return True
    try:
        found = os.stat(folder)
    except OSError:
        return False
    return found.st_uid == os.geteuid() and not found.st_mode & 0o022
