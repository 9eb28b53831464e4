"""Read what the bench page hands in: a pour, later looks at bars, or both, as JSON.

A file of several has one a line. A bench page hands several pours over in one; the bench server
keeps a line a tap, each the hand-in as far as it had come: of those with one id the last counts.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Final

from msgspec import Struct

from journal.errors import ContentError, Position, Problem
from journal.quantities.number import excerpt
from journal.records.designs import ID
from journal.records.models.design_reader import EMPTY_CELLS
from journal.records.models.fields import spelling_hint
from journal.records.yaml.json_tree import parse_json
from journal.records.yaml.source import decode_text, why_no_file
from journal.records.yaml.tree import WrittenList, WrittenTable, WrittenText, content_error

FORMAT: Final = "soap-design-journal/hand-in/1"
#: Bars, later looks, or readings of a pot in one hand-in; a pour at the bench has some dozens.
MOST_ROWS: Final = 500
#: A pour of so many rows has some 100 kB.
LARGEST_HAND_IN_BYTES: Final = 256 * 1024
#: What the bench server keeps of one hand-in, a line a tap.
LARGEST_KEPT_BYTES: Final = 8 * 1024 * 1024

_KEYS: Final = ("format", "notebook", "design", "hand_in", "pour", "later")
_HAND_IN_ID: Final = re.compile(r"[a-z0-9]{16,64}")
_ELSEWHERE: Final = "It may come from another program, or be broken: hand it in once more."
_IS_LIST: Final = 'Write [{"bar": "1", …}].'


class HandIn(Struct, frozen=True):
    """A hand-in: the id of its notebook, its design's id, its own, and what it says.

    ``pour`` is as a write-up has it, its bars called by the numbers of their slips or as in the
    write-up; None without one. ``later`` are looks at bars of the write-up.
    """

    notebook: str
    design: WrittenText
    hand_in: str
    pour: WrittenTable | None
    later: tuple[WrittenTable, ...]
    at: Position


def is_hand_in(path: Path) -> bool:
    """Whether a file is to be read as hand-ins: by its ending, or since it begins with a brace."""
    if path.suffix.lower() in (".json", ".jsonl"):
        return True
    try:
        if not path.is_file():
            return False
        with path.open("rb") as file:
            return file.read(64).removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{")
    except (OSError, ValueError):
        return False  # reading it says why


def read_hand_ins(path: Path, problems: list[Problem]) -> list[HandIn]:
    """The hand-ins of a file, its notes in ``problems``; ContentError if any cannot be read."""
    shown = str(path)
    try:
        if not path.is_file():
            raise content_error(Position(shown), why_no_file(path), "Mend its name.")
        size = path.stat().st_size
        raw = path.read_bytes() if size <= LARGEST_KEPT_BYTES else b""
    except (OSError, ValueError) as error:
        what = f"the file cannot be read ({getattr(error, 'strerror', None) or 'its name'})"
        raise content_error(Position(shown), what, "Allow reading it.") from None
    if size > LARGEST_KEPT_BYTES:
        raise _too_large(shown, size)
    lines = decode_text(raw, shown).rstrip().split("\n")
    first = lines[0].strip()
    if len(lines) < 2 or not first.startswith("{") or not first.endswith("}"):
        return [hand_in_of(raw, shown)]
    kept: dict[str, tuple[int, str]] = {}
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        name = _id_in(line)
        if name is None:
            # The machine stopped while it was written; the line before has all but the last tap.
            what = "the line is cut off, and left out"
            hint = "Look whether the last tap is there."
            problems.append(Problem(Position(shown, number), what, hint, warning=True))
        else:
            kept[name] = number, line
    return [hand_in_of(line.encode(), shown, number) for number, line in sorted(kept.values())]


def _id_in(line: str) -> str | None:
    """The id of the hand-in on a line, the line itself if it has none; None if it is no JSON."""
    try:
        return str(json.loads(line)["hand_in"])
    except (TypeError, LookupError, RecursionError):
        return line  # reading it says what is wrong
    except ValueError:
        return None


def _too_large(path: str, size: int) -> ContentError:
    what = f"{size // 1024:,} kB are more than any pour has"
    return content_error(Position(path), what, "Hand in one pour at a time.")


def hand_in_of(raw: bytes, path: str, line: int = 1) -> HandIn:
    """The hand-in in the bytes of a file, or of its line; ContentError if it is none.

    Whether its notebook, its design and its values are known, and there are any, is not asked here.
    """
    if len(raw) > LARGEST_HAND_IN_BYTES:
        raise _too_large(path, len(raw))
    tree = parse_json(decode_text(raw, path), path, line)
    if not isinstance(tree, WrittenTable) or "format" not in tree:
        raise content_error(tree.at, "this is no hand-in of the bench page", _ELSEWHERE)
    if tree["format"] != FORMAT:
        what = "the hand-in has another format than this journal reads"
        raise content_error(tree["format"].at, what, "Hand it in to the journal it was made by.")
    for key in tree:
        if key not in _KEYS:
            what = f"unknown key {excerpt(key)}"
            raise content_error(tree.key_at(key), what, spelling_hint(key, _KEYS))
    texts = {key: _text(tree, key) for key in ("notebook", "design", "hand_in")}
    if ID.fullmatch(texts["design"]) is None:
        what = f"{excerpt(texts['design'])} is no design's id"
        raise content_error(texts["design"].at, what, _ELSEWHERE)
    if _HAND_IN_ID.fullmatch(texts["hand_in"]) is None:
        what = f"{excerpt(texts['hand_in'])} is no hand-in's id"
        raise content_error(texts["hand_in"].at, what, _ELSEWHERE)
    pour = tree.get("pour")
    if pour is not None:
        if not isinstance(pour, WrittenTable):
            raise content_error(pour.at, "a pour has keys of its own", 'Write {"date": …}.')
        pour = _own_rows(pour)
    later = _rows(tree, "later")
    return HandIn(str(texts["notebook"]), texts["design"], str(texts["hand_in"]), pour,
                  tuple(later), tree.at)  # fmt: skip


def _text(tree: WrittenTable, key: str) -> WrittenText:
    value = tree.get(key)
    if not isinstance(value, WrittenText):
        at = tree.at if value is None else value.at
        raise content_error(at, f'the hand-in has no "{key}"', _ELSEWHERE)
    return value


def _own_rows(pour: WrittenTable) -> WrittenTable:
    """A pour whose rows are all in it, without empty values; a file that it names is not read."""
    own = pour.subset(key for key in pour if pour[key] and pour[key] not in EMPTY_CELLS)
    for key in ("bars", "later"):
        if key in own:
            at = own[key].at
            listed = WrittenList(at)
            listed += _rows(own, key)
            own.put(key, listed, at)
    readings = own.get("readings")
    if readings is not None:
        if not isinstance(readings, WrittenTable):
            hint = 'Write {"body": [["0:00", "152 F"]]}.'
            raise content_error(readings.at, "readings go by pot", hint)
        for rows in readings.values():
            _refuse_too_many(rows, "readings")
    return own


def _rows(tree: WrittenTable, key: str) -> list[WrittenTable]:
    """The rows at a key, without empty cells; [] where there are none."""
    rows = tree.get(key)
    if rows is None:
        return []
    if not isinstance(rows, WrittenList):
        raise content_error(rows.at, f"{excerpt(key)} is a list", _IS_LIST)
    _refuse_too_many(rows, "bars" if key == "bars" else "later looks")
    for row in rows:
        if not isinstance(row, WrittenTable):
            raise content_error(row.at, f"each of {excerpt(key)} has keys of its own", _IS_LIST)
    return [row.subset(name for name in row if row[name] not in EMPTY_CELLS) for row in rows]


def _refuse_too_many(rows: Any, kind: str) -> None:
    if isinstance(rows, WrittenList) and len(rows) > MOST_ROWS:
        what = f"{len(rows):,} {kind} are more than a pour has"
        raise content_error(rows.at, what, f"Hand in {MOST_ROWS} at most.")
