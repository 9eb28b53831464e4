"""Files of the notebook as trees of written text.

Every scalar stays the text that was written: ``no`` is "no", ``1:30`` is "1:30".
The record that holds it decides what it means.
"""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path, PurePosixPath
from sys import intern
from typing import Any

import yaml
from msgspec import Struct

from journal.errors import ContentError, Position, Problem
from journal.quantities.number import excerpt
from journal.records.yaml.faults import yaml_problem
from journal.records.yaml.tree import (
    LineIndex,
    WrittenBlock,
    WrittenList,
    WrittenTable,
    WrittenText,
    content_error,
)

NO_FILE = "there is no such file"
NO_FILE_BUT_FOLDER = "a folder stands where a file belongs"
# Deeper nesting than this is no write-up; the bound guards the recursion below.
DEEPEST = 40
# The largest text file that is read; a write-up of ten years has a few hundred kB.
LARGEST_BYTES = 16 * 1024 * 1024
# More slips of one kind in one file are one slip made by a program.
MOST_SLIPS = 20


class FrontMatterDocument(Struct, frozen=True):
    """The parts of a Markdown file: its front matter as a tree, and its body."""

    front: WrittenTable
    body: str
    body_line: int  # line of the file that the body's first line stands on


def read_text(root: Path, path: str) -> str:
    """Read a file of the notebook as UTF-8 with line feeds; ContentError if that fails."""
    file = root / path
    at = Position(path)
    try:
        if os.path.islink(file) and not stays_in_notebook(root, path):
            what = "the file is a link out of the notebook, or in a circle"
            raise content_error(at, what, "Copy it in.")
        status = os.stat(file)
        if stat.S_ISDIR(status.st_mode):
            raise content_error(at, NO_FILE_BUT_FOLDER, "Move it.")
        if not stat.S_ISREG(status.st_mode):
            # A pipe would be waited for, a device never ends.
            raise content_error(at, "this is no ordinary file", "Put a text file in its place.")
        if status.st_size > LARGEST_BYTES:
            what = f"the file has {status.st_size // 1024 // 1024} MB, which is no write-up"
            hint = f"Keep text files below {LARGEST_BYTES // 1024 // 1024} MB."
            raise content_error(at, what, hint)
        with open(file, "rb") as opened:
            raw = opened.read()
    except ContentError:
        raise
    except FileNotFoundError:
        raise content_error(at, NO_FILE, "Write it, or mend its name.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name cannot be"
        what = f"the file cannot be read ({reason})"
        raise content_error(at, what, "Allow reading it.") from None
    return decode_text(raw, path)


def why_no_file(path: Path) -> str:
    """Why there is no file at a path: a folder stands there, or nothing does."""
    return NO_FILE_BUT_FOLDER if path.is_dir() else NO_FILE


def stays_in_notebook(root: Path, path: str) -> bool:
    """Whether ``path``, with links followed, leads to a place inside the notebook."""
    try:
        real_root = os.path.realpath(root)
        real = os.path.realpath(root / path)
    except (OSError, ValueError):
        return False
    return real == real_root or real.startswith(real_root.rstrip(os.sep) + os.sep)


def is_file(root: Path, path: str) -> bool:
    """Whether there is an ordinary file at ``path``; False for an impossible path."""
    return os.path.isfile(root / path)


def may_exist(root: Path, path: str) -> bool:
    """Whether there is anything at ``path``; True also where that cannot be found out."""
    try:
        os.lstat(root / path)
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return False
    except OSError:
        pass  # reading it says why
    return True


def printable_name(name: str) -> str:
    """The name of a file with a question mark for each character that cannot be printed."""
    return "".join(c if c.isprintable() and not "\ud800" <= c <= "\udfff" else "?" for c in name)


# Characters that no editor shows: controls, separators of lines, marks of byte order, halves of
# characters. Tabs and line ends are judged elsewhere.
_CONTROL = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]"
)


def decode_text(raw: bytes, path: str) -> str:
    """``raw`` decoded as UTF-8; refuses other encodings and control characters, with the place."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise content_error(Position(path), "the file is in UTF-16", "Save it as UTF-8.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # The offset counts from behind a byte order mark.
        start = error.start + (3 if raw.startswith(b"\xef\xbb\xbf") else 0)
        before = raw[:start].decode("utf-8-sig", "replace")
        before = before.replace("\r\n", "\n").replace("\r", "\n")
        at, what = position_in(before, len(before), path), f"the byte 0x{raw[start]:02x}"
        raise content_error(at, f"{what} is not UTF-8 text", "Save the file as UTF-8.") from None
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    control = _CONTROL.search(text)
    if control:
        raise _control_error(text, control.start(), path, 1)
    return text


def _control_error(text: str, offset: int, path: str, first_line: int) -> ContentError:
    """The error that a control character stands at ``offset`` of the text."""
    at = position_in(text, offset, path, first_line)
    return content_error(at, _control_fault(text[offset]), "Delete it.")


def _control_fault(character: str) -> str:
    return f"a control character (U+{ord(character):04X}) stands in the text"


def control_fault(text: str) -> str | None:
    """What is wrong with a text that holds a character no editor shows; None where none does."""
    control = _CONTROL.search(text)
    return None if control is None else _control_fault(control[0])


def position_in(text: str, offset: int, path: str, first_line: int = 1) -> Position:
    """The position in the file of a character of ``text``, which begins on ``first_line``."""
    start = text.rfind("\n", 0, offset) + 1
    return Position(path, text.count("\n", 0, offset) + first_line, offset - start + 1)


def split_write_up(
    text: str, path: str, problems: list[Problem] | None = None
) -> FrontMatterDocument:
    """Split a Markdown file into its front matter, parsed by ``parse_yaml``, and its body."""
    lines = text.split("\n")
    if lines[0].rstrip() != "---":
        hint = 'Put a line "---" first, then the keys, then another line "---".'
        raise content_error(Position(path), "the file does not begin with its keys", hint)
    end = next((n for n in range(1, len(lines)) if lines[n].rstrip() == "---"), None)
    if end is None:
        what = 'the keys have no end: there is no second line "---"'
        hint = 'Put a line "---" between the keys and the prose.'
        raise content_error(Position(path), what, hint)
    front = parse_yaml("\n".join(lines[1:end]) + "\n", path, 2, problems)
    if not isinstance(front, WrittenTable):
        what = "no keys stand between the two lines of hyphens"
        raise content_error(front.at, what, 'Write "key: value" lines.')
    return FrontMatterDocument(front, "\n".join(lines[end + 1 :]), end + 2)


def _parser(text: str) -> Any:
    """The YAML library's parser of a text; the one in C if it is there."""
    return yaml.CBaseLoader(text) if yaml.__with_libyaml__ else yaml.BaseLoader(text)


def parse_yaml(
    text: str, path: str, first_line: int = 1, problems: list[Problem] | None = None
) -> Any:
    """Parse a YAML text to a tree of the text that was written.

    YAML allows what a write-up does not need: repeated keys, anchors, type marks,
    merges. With ``problems``, each such slip is added to it and left out of the
    tree, so that the rest of the file is checked too.

    Takes:  text, its path in the notebook, and the line that it begins on
    Gives:  a ``WrittenTable``, ``WrittenList`` or ``WrittenText``; of an empty text a table
    Fails:  ContentError for bad YAML; without ``problems``, for slips too
    """
    try:
        builder = _Builder(text, path, first_line)
        tree = builder.tree()
    except yaml.reader.ReaderError:
        control = _CONTROL.search(text)
        if control is None:  # pragma: no cover  # every such character is in _CONTROL
            raise
        raise _control_error(text, control.start(), path, first_line) from None
    except UnicodeEncodeError as error:
        raise _control_error(text, error.start, path, first_line) from None
    except yaml.YAMLError as error:
        raise yaml_problem(error, text, path, first_line, _parser) from None
    if builder.slips:
        if problems is None or builder.broken:
            raise ContentError(tuple(builder.slips))
        problems.extend(builder.slips)
    return tree


_new_text = str.__new__
_new_table = WrittenTable.__new__
_new_items = WrittenList.__new__
_Scalar: Any = yaml.ScalarEvent
_MappingStart, _MappingEnd = yaml.MappingStartEvent, yaml.MappingEndEvent
_SequenceEnd = yaml.SequenceEndEvent


class _Builder:
    """Builds a tree from the events of the YAML library.

    Reading a large notebook is mostly this loop, so it does little with each event:
    classes are compared by identity, and only the offset of a mark is stored.
    ``slips`` collects what YAML allows and a write-up may not have.
    """

    def __init__(self, text: str, path: str, first_line: int) -> None:
        self._lines = LineIndex(text, path, first_line)
        self._start = Position(path, first_line)
        self._parser = _parser(text)
        self._next: Any = self._parser.get_event
        self.slips: list[Problem] = []
        #: Whether a slip left a value out, so that the tree is of no use.
        self.broken = False

    def tree(self) -> Any:
        """Build the tree; an empty table for an empty text, ContentError for a second document."""
        root: Any = None
        try:
            while True:
                event = self._next()
                kind = event.__class__
                if kind is yaml.StreamEndEvent:
                    break
                if kind is yaml.StreamStartEvent or kind is yaml.DocumentEndEvent:
                    continue
                if kind is not yaml.DocumentStartEvent:
                    root = self._value(event, 0)
                elif root is not None:
                    at, what = self._at(event.start_mark), "a second document begins here"
                    raise content_error(at, what, "Keep one document in a file.")
        finally:
            # The bound method and the parser hold each other.
            del self._next
        if root is None or (isinstance(root, WrittenText) and root == "" and not root.block):
            return WrittenTable(self._start)
        return root

    def _at(self, mark: Any) -> Position:
        return self._lines.position(mark.index)

    def _add_slip(self, at: Position, what: str, hint: str) -> None:
        """Add a problem, up to MOST_SLIPS, in spite of which the rest of the text is read."""
        if len(self.slips) < MOST_SLIPS:
            self.slips.append(Problem(at, what, hint))

    def _value(self, event: Any, depth: int) -> Any:
        """Build the value that begins with ``event``, nested in ``depth`` others."""
        kind = event.__class__
        if kind is _Scalar:
            if event.anchor is not None or event.tag is not None:
                self._report_marks(event)
            style = event.style
            if style is not None and style in _LONG_STYLES:
                return self._long_text(event)
            text: Any = _new_text(WrittenText, event.value)
            text._mark = event.start_mark.index
            text._lines = self._lines
            return text
        if kind is yaml.AliasEvent:
            self.broken = True
            at = self._at(event.start_mark)
            what = f"{excerpt('*' + event.anchor)} points to another place of the file"
            self._add_slip(at, what, "Write the value out.")
            return WrittenText("", at)
        if event.anchor is not None or event.tag is not None:
            self._report_marks(event)
        if depth == DEEPEST:
            what = f"more than {DEEPEST} levels stand inside each other"
            raise content_error(self._at(event.start_mark), what, "Flatten them.")
        if kind is _MappingStart:
            return self._table(event, depth + 1)
        items: Any = _new_items(WrittenList)
        items._mark = event.start_mark.index
        items._lines = self._lines
        next_event = self._next
        while True:
            event = next_event()
            if event.__class__ is _SequenceEnd:
                return items
            items.append(self._value(event, depth + 1))

    def _table(self, event: Any, depth: int) -> WrittenTable:
        """Build the mapping that begins with ``event``."""
        table = _new_table(WrittenTable)
        table._mark = event.start_mark.index
        table._lines = self._lines
        keys: dict[str, int | Position] = {}
        last = ""
        table._keys = keys
        next_event = self._next
        while True:
            key = next_event()
            if key.__class__ is not _Scalar:
                if key.__class__ is _MappingEnd:
                    break
                at, what = self._at(key.start_mark), "a key must be a plain word"
                raise content_error(at, what, "Write the key as a word.")
            # A notebook has a hundred keys, some hundred thousand times.
            name = intern(key.value)
            if key.anchor is not None or key.tag is not None:
                self._report_marks(key)
            value = self._value(next_event(), depth)
            if (
                last and name[:1].isdigit() and value == ""
                and self._is_after_comma(table[last], key.start_mark.index)
            ):  # fmt: skip
                # In braces a comma ends a value: 1,5 is read as 1, and a key 5 without a value.
                table[last] = WrittenText(f"{table[last]},{name}", table[last].at)
                continue
            if name in keys:
                what = f"the key {excerpt(name)} stands here twice, first on line"
                what = f"{what} {table.key_at(name).line}"
                self._add_slip(self._at(key.start_mark), what, "Keep one of the two.")
            else:
                keys[name] = key.start_mark.index
                table[name] = value
                last = name
        if "<<" in keys:
            self._add_slip(
                table.key_at("<<"), '"<<" takes over keys from elsewhere', "Write the keys out."
            )
            del table["<<"], keys["<<"]
        return table

    def _is_after_comma(self, value: Any, index: int) -> bool:
        """Whether ``value`` ends in a digit and only a comma separates it from ``index``."""
        if not isinstance(value, WrittenText) or not value[-1:].isdigit():
            return False
        return value.at == self._lines.position(index - len(value) - 1)

    def _report_marks(self, event: Any) -> None:
        """Add a slip for the anchor and for the type mark of an event."""
        at = self._at(event.start_mark)
        if event.anchor is not None:
            what = f"{excerpt('&' + event.anchor)} marks a value to be used again"
            self._add_slip(at, what, "Leave it away.")
        if event.tag is not None and event.tag != "!":
            self._add_slip(at, f"{excerpt(event.tag)} is a type mark of YAML", "Leave it away.")

    def _long_text(self, event: Any) -> WrittenText:
        """Build a literal block, or a text in double quotes, in which control codes are a slip."""
        value, at = event.value, self._at(event.start_mark)
        if event.style == '"':
            control = _CONTROL.search(value)
            if control:
                self._add_slip(at, _control_fault(control[0]), "Delete it.")
        if event.style == "|":
            return WrittenBlock(value, at, self._indent(value, event.start_mark.line))
        return WrittenText(value, at)

    def _indent(self, value: str, line: int) -> int:
        """The indentation of the block that begins on ``line``, by its first line with text."""
        for number, inner in enumerate(value.split("\n"), line + 1):
            if inner.strip():
                return max(0, len(self._lines.line(number)) - len(inner))
        return 0


# Styles of scalars that ``_long_text`` builds: literal blocks, and double quotes.
_LONG_STYLES = ("|", '"')


def path_in_notebook(path: str, folder: str) -> str | None:
    """Turn a path relative to ``folder`` into one in the notebook; None if it leads out of it."""
    if path.startswith(("/", "\\")) or re.match(r"^[A-Za-z]:", path) or "\\" in path:
        return None
    parts = list(PurePosixPath(folder).parts)
    for part in PurePosixPath(path).parts:
        if part == "..":
            if not parts:
                return None
            parts.pop()
        elif part != ".":
            parts.append(part)
    return "/".join(parts)
