"""The record of the last build: a small file inside the folder that it wrote.

Its first line alone answers whether anything has changed since; the rest, one
line a file, is read only when something has. The same files give the same
record, whatever was built before.
"""

from __future__ import annotations

import json
import os
from collections.abc import Collection, Iterable, Mapping

from msgspec import Struct

from journal.output.disk import OutputError, bytes_of, folder_names, is_folder, open_file
from journal.output.part import all_folders

RECORD = ".journal-made.json"
FORMAT = "soap-design-journal made/2"
#: An earlier format, without digests: it does not show which files are as they were made.
_WITHOUT_DIGESTS = "soap-design-journal made/1"


class RecordedFile(Struct, frozen=True):
    """A file as it was written: the key of its inputs, its size in bytes, its digest."""

    key: str
    size: int
    digest: str


class BuildRecord(Struct, frozen=True):
    """The files that the last build wrote, by path.

    A record of another version has empty keys, since keys of that version mean nothing here.
    ``lost`` is set where the record is there and cannot be read.
    """

    stamp: Mapping[str, str]
    parts: Mapping[str, RecordedFile]
    lasting: frozenset[str] = frozenset()
    lost: bool = False


def record_bytes(
    stamp: Mapping[str, str], parts: Mapping[str, RecordedFile], lasting: Iterable[str]
) -> bytes:
    """The bytes of a record, in JSON; the first line ends after the counts.

    ``lasting`` are the first folders of the lasting parts.
    """
    head = {
        "format": FORMAT,
        "stamp": dict(sorted(stamp.items())),
        "lasting": sorted(lasting),
        "folders": _names_by_folder(parts),
    }
    first = json.dumps(head, ensure_ascii=False)[:-1]
    lines = {path: f"{made.size} {made.digest} {made.key}" for path, made in sorted(parts.items())}
    rest = json.dumps(lines, ensure_ascii=False, separators=(",\n", ": "))
    return f'{first},\n"parts": {rest}}}\n'.encode()


def read_record(root: str) -> BuildRecord | None:
    """The record in a folder, ``lost`` where it cannot be read; None where there is none.

    Fails:  OSError if the disk cannot read it
    """
    text = bytes_of(os.path.join(root, RECORD))
    return None if text is None else parse_record(text)


def parse_record(text: bytes) -> BuildRecord:
    """The record in these bytes; ``lost`` is set when they are no record."""
    try:
        record = json.loads(text)
        same = record["format"] == FORMAT
        if record["format"] == _WITHOUT_DIGESTS:
            raise ValueError
        parts: dict[str, RecordedFile] = {}
        for path, line in record["parts"].items():
            size, digest, key = line.split(" ", 2)
            parts[path] = RecordedFile(key if same else "", int(size), digest)
        stamp = {str(name): str(value) for name, value in record["stamp"].items()} if same else {}
        lasting = frozenset(map(str, record.get("lasting", ())))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return BuildRecord({}, {}, lost=True)
    return BuildRecord(stamp, parts, lasting)


def read_first_line(root: str) -> tuple[dict[str, str], dict[str, int]] | None:
    """The stamp and the number of names by folder, from a record's first line; or None."""
    try:
        with open_file(os.path.join(root, RECORD)) as file:
            head = json.loads(file.readline().rstrip()[:-1] + b"}")
        if head["format"] != FORMAT:
            return None
        return dict(head["stamp"]), dict(head["folders"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def count_names(folder: str) -> int:
    """The number of names in a folder that do not begin with a dot; -1 if there is no folder.

    The dot names are left out since computers add such files by themselves.
    """
    if not is_folder(folder):
        return -1
    return sum(not name.startswith(".") for name in folder_names(folder))


def _names_by_folder(paths: Collection[str]) -> dict[str, int]:
    """Files and folders by the folder that they lie in, as ``count_names`` counts."""
    counted = {"": 0}
    for name in (*all_folders(paths), *paths):
        above, _, last = name.rpartition("/")
        if last[0] != ".":
            counted[above] = counted.get(above, 0) + 1
    return dict(sorted(counted.items()))


def lost_record_error(shown: str, path: str) -> OutputError:
    """The error about a file that may be the maker's, since the record is lost."""
    return OutputError(
        f'the record "{RECORD}" in "{shown}" cannot be read, so that nobody can tell who'
        f' made "{path}"',
        f'Move "{shown}" elsewhere, or delete it; it is made again at the next build.',
    )
