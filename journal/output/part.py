"""Files to be written, each with a path, a key and a function that makes its bytes."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable

from msgspec import Struct

from journal.output.disk import OutputError

#: Names that begin so belong to this package.
OWN_NAMES = ".journal"

#: Longest name of a file or folder, in bytes of UTF-8: common file systems take
#: 255, and a file in the making has a few more at its end.
LONGEST_NAME = 240

# Refused by Windows (Microsoft, "Naming Files, Paths, and Namespaces"), by FAT
# and exFAT sticks, or by a web address.
_ODD = re.compile(r'[\x00-\x1f\x7f<>:"|?*\\]')
_RESERVED = re.compile(
    r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³]) *(\..*)?", re.IGNORECASE
)
# Thousands of paths are looked at in every build, and nearly all are of these names, which are
# sound everywhere.
_PLAIN_NAME = r"(?!(?:con|prn|aux|nul|(?:com|lpt)[0-9])(?:[./]|$))[a-z0-9][a-z0-9_-]{0,200}"
_PLAIN = re.compile(rf"(?:{_PLAIN_NAME}/)*{_PLAIN_NAME}\.[a-z0-9]{{1,8}}")


class OutputFile(Struct, frozen=True):
    """One file of a folder that is written whole.

    ``path`` is relative, with forward slashes. ``key`` is a digest of everything
    that the bytes depend on: a part whose key was written before is not made
    again. ``make_bytes`` gives the bytes. A ``lasting`` part's own name holds such a
    digest, so a file of that path is never made twice; the first folder of
    its path holds lasting parts only.
    """

    path: str
    key: str
    make_bytes: Callable[[], bytes]
    lasting: bool = False

    def __post_init__(self) -> None:
        check_path(self.path)
        if not self.key:
            raise ValueError(f"{self.path} has no key")
        if self.lasting and "/" not in self.path:
            raise ValueError(f"{self.path} is lasting and lies in no folder")


class ReadyFile(Struct, frozen=True):
    """One file whose bytes are at hand."""

    path: str
    key: str
    data: bytes

    def __post_init__(self) -> None:
        check_path(self.path)


def check_path(path: str) -> None:
    """Refuse a path that is unsafe, or that some computer could not hold.

    Fails:  OutputError for an absolute path, a step out of the folder, and a name
            that Windows, macOS or a FAT stick would refuse or read as another
    """
    reason = "" if _PLAIN.fullmatch(path) else _reason_to_refuse(path)
    if reason:
        shown = path.encode("utf-8", "backslashreplace").decode()
        raise OutputError(f'no file can be called "{shown}": {reason}', _RENAME)


_RENAME = "Rename what it is called after; small letters, digits and hyphens are safe everywhere."


def _reason_to_refuse(path: str) -> str:
    """The reason that a path cannot be used everywhere; "" if it can."""
    try:
        path.encode()
    except UnicodeEncodeError:
        return "it is not text"
    if not unicodedata.is_normalized("NFC", path):
        return "its accents are written in two pieces, which some disks join"
    if path.startswith("/"):
        return "it is not relative"
    for name in path.split("/"):
        if name in ("", ".", ".."):
            return "it steps out of its folder or has an empty name in it"
        if found := _ODD.search(name):
            return f"{found[0]!r} is not allowed in a name"
        if name[-1] in ". ":
            return "a name may not end in a dot or a space"
        if _RESERVED.fullmatch(name):
            return f'"{name}" is the name of a device on Windows'
        if len(name.encode()) > LONGEST_NAME:
            return f"a name may be {LONGEST_NAME} bytes long"
    if path.startswith(OWN_NAMES):
        return f'names that begin with "{OWN_NAMES}" are kept for the record of what was made'
    return ""


def check_together(parts: Iterable[OutputFile]) -> dict[str, OutputFile]:
    """Parts by path, sorted; refuses two that cannot both be written.

    Fails:  OutputError for two files that are one where capitals do not count, and
            for a file that is also a folder; ValueError for a folder at the top
            that mixes lasting parts with others
    """
    ordered: dict[str, OutputFile] = {}
    for part in sorted(parts, key=lambda part: part.path):
        if part.path in ordered:
            raise ValueError(f"{part.path} is to be written twice")
        ordered[part.path] = part
    lasting: dict[str, bool] = {}
    for path, part in ordered.items():
        top = path.partition("/")[0]
        if lasting.setdefault(top, part.lasting) != part.lasting:
            raise ValueError(f"{top} holds lasting parts and others")
    folders = all_folders(ordered)
    for path in sorted(folders & ordered.keys()):
        raise OutputError(f'"{path}" would be both a file and a folder', _RENAME)
    by_small_letters: dict[str, str] = {}
    for name in sorted((*folders, *ordered)):
        first = by_small_letters.setdefault(name.casefold(), name)
        if first != name:
            what = f'"{first}" and "{name}" are one name where capitals do not count'
            raise OutputError(what, _RENAME)
    return ordered


def all_folders(paths: Iterable[str]) -> set[str]:
    """The folders that any of the POSIX paths leads through."""
    folders: set[str] = set()
    for folder in {path.rpartition("/")[0] for path in paths}:
        folders.add(folder)
        folders.update(folders_of(folder))
    folders.discard("")
    return folders


def folders_of(path: str) -> tuple[str, ...]:
    """The folders that a POSIX path leads through, the outermost first."""
    steps = path.split("/")[:-1]
    return tuple("/".join(steps[: at + 1]) for at in range(len(steps)))
