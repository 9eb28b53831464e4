"""Small trees to write, and a disk that breaks where it is told to."""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from journal.output import OutputFile, ReadyFile
from journal.output.disk import Disk

WORK = ".journal-work"
RECORD = ".journal-made.json"


def part(path: str, content: str, *, lasting: bool = False) -> OutputFile:
    """A part whose bytes and key both come from ``content``."""
    data = content.encode()
    return OutputFile(
        path, hashlib.blake2b(data, digest_size=16).hexdigest(), lambda: data, lasting
    )


def parts(contents: Mapping[str, str]) -> list[OutputFile]:
    """Parts by path; those in ``photos/`` are lasting."""
    return [
        part(path, content, lasting=path.startswith("photos/"))
        for path, content in contents.items()
    ]


def files(contents: Mapping[str, str]) -> list[OutputFile | ReadyFile]:
    """The same; every second of those that do not last has its bytes at hand."""
    ready = sorted(path for path in contents if not path.startswith("photos/"))[::2]
    return [
        ReadyFile(one.path, one.key, one.make_bytes()) if one.path in ready else one
        for one in parts(contents)
    ]


def tree(root: Path, *, record: bool = False) -> dict[str, str]:
    """What a reader finds in a folder: path -> text, the work folder left out."""
    found = {}
    for path in sorted(root.rglob("*")):
        name = path.relative_to(root).as_posix()
        if name.split("/")[0] == WORK or not path.is_file() or (name == RECORD and not record):
            continue
        found[name] = path.read_text()
    return found


OLD = {
    "index.html": "front, old",
    "gone.html": "a page that goes",
    "look.css": "the same look",
    "designs/a.html": "a",
    "designs/b.html": "b, old",
    "designs/c/card.html": "c",
    "photos/11/11aa.jpg": "picture 11",
    "photos/22/22bb.jpg": "picture 22",
    "shelf/white.html": "white",
    "weeks/16.html": "a folder that goes",
}
NEW = {
    "index.html": "front, new and longer",
    "look.css": "the same look",
    "cards/a.html": "a folder that comes",
    "designs/a.html": "a",
    "designs/b.html": "b, new",
    "designs/d/card.html": "d",
    "photos/11/11aa.jpg": "picture 11",
    "photos/33/33cc.jpg": "picture 33",
    "shelf/white.html": "white",
}
#: Files that somebody put there by hand.
FOREIGN = {
    "CNAME": "soap.example",
    "designs/own.txt": "a note of mine",
    "photos/22/own.txt": "another",
}


class Died(BaseException):
    """The process is no more."""


class HastyDisk(Disk):
    """Does not wait for the disk, as no test cuts the power."""

    def sync(self, path: str) -> None:
        pass

    def sync_all(self, paths: Iterable[str]) -> None:
        for path in paths:
            self.sync(path)


class FaultyDisk(HastyDisk):
    """Fails, or dies, at its n-th step.

    ``fails(step, n)`` is asked before each step; an exception that it gives is
    raised in place of the step, which is then half done if it was a write.
    """

    def __init__(self, fails: Callable[[str, int], BaseException | None]) -> None:
        self._fails = fails
        self.steps: list[str] = []

    def _step(self, name: str, path: str) -> None:
        self.steps.append(f"{name} {path}")
        failure = self._fails(name, len(self.steps))
        if failure is not None:
            if isinstance(failure, OSError):
                failure.filename = path
            raise failure

    def make_folder(self, path: str, mode: int = 0o777) -> None:
        self._step("make_folder", path)
        super().make_folder(path, mode)

    def write(self, path: str, data: bytes) -> None:
        try:
            self._step("write", path)
        except BaseException:
            super().write(path, data[: len(data) // 2])
            raise
        super().write(path, data)

    def copy(self, source: str, target: str) -> None:
        self._step("copy", target)
        super().copy(source, target)

    def link(self, source: str, target: str) -> None:
        self._step("link", target)
        super().link(source, target)

    def rename(self, source: str, target: str) -> None:
        self._step("rename", target)
        super().rename(source, target)

    def remove(self, path: str) -> None:
        self._step("remove", path)
        super().remove(path)

    def remove_folder(self, path: str) -> None:
        self._step("remove_folder", path)
        super().remove_folder(path)

    def sync(self, path: str) -> None:
        self._step("sync", path)


def dies_at(step: int) -> FaultyDisk:
    """A disk of a process that is killed before its n-th step, and stays dead."""
    return FaultyDisk(lambda _, n: Died() if n >= step else None)


def fails_at(step: int, number: int = errno.EACCES) -> FaultyDisk:
    """A disk whose n-th step alone fails."""
    return FaultyDisk(lambda _, n: OSError(number, os.strerror(number)) if n == step else None)


def full_from(step: int) -> FaultyDisk:
    """A disk that is full from its n-th step on: names can go, nothing new can come."""
    needs_room = ("make_folder", "write", "copy", "link")
    return FaultyDisk(
        lambda name, n: (
            OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            if n >= step and name in needs_room
            else None
        )
    )


def without_links() -> FaultyDisk:
    """A disk that knows no second names, as a FAT stick."""
    return FaultyDisk(
        lambda name, _: OSError(errno.EPERM, "no links here") if name == "link" else None
    )
