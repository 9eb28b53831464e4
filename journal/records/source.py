"""Files of the notebook as trees of text that know where they stand.

Every scalar is kept as it was written: ``no`` is the text "no", ``1:30`` the
text "1:30". What a text means is settled by the record that owns it. The trees
are plain ``str``, ``dict`` and ``list`` with a position, so that any later
check can say where.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

import yaml

from journal.errors import ContentError, Position, Problem

# Deeper nesting than this is no write-up; it guards the recursion below.
DEEPEST = 40
# The largest text file that is read; a write-up of ten years has a few hundred kB.
LARGEST_BYTES = 16 * 1024 * 1024


class Text(str):
    """A scalar as it was written, with its position."""

    at: Position
    block: bool

    def __new__(cls, text: str, at: Position, block: bool = False) -> Text:
        made = super().__new__(cls, text)
        made.at = at
        made.block = block
        return made

    def __reduce__(self) -> tuple[type[Text], tuple[str, Position, bool]]:
        return (Text, (str(self), self.at, self.block))


class Table(dict[str, Any]):
    """A mapping; ``at`` is its own position, ``keys_at`` that of each key."""

    def __init__(self, at: Position) -> None:
        super().__init__()
        self.at = at
        self.keys_at: dict[str, Position] = {}

    def put(self, key: str, value: Any, at: Position) -> None:
        """Set ``key`` to ``value``; ``at`` is where the key stands."""
        self[key] = value
        self.keys_at[key] = at

    def __reduce__(self) -> tuple[Any, ...]:
        return (_table_again, (self.at, dict(self), self.keys_at))


def _table_again(at: Position, entries: dict[str, Any], keys_at: dict[str, Position]) -> Table:
    table = Table(at)
    table.update(entries)
    table.keys_at = keys_at
    return table


class Items(list[Any]):
    """A list with its position."""

    def __init__(self, at: Position) -> None:
        super().__init__()
        self.at = at

    def __reduce__(self) -> tuple[Any, ...]:
        return (_items_again, (self.at, list(self)))


def _items_again(at: Position, entries: list[Any]) -> Items:
    items = Items(at)
    items.extend(entries)
    return items


def place(tree: Any, *path: str | int) -> Position:
    """Where the value at ``path`` stands; of its nearest parent if it is not there."""
    at: Position = tree.at
    for step in path:
        if isinstance(tree, Table) and step in tree:
            tree = tree[str(step)]
        elif isinstance(tree, Items) and isinstance(step, int) and step < len(tree):
            tree = tree[step]
        else:
            continue
        at = tree.at
    return at


def refused(at: Position, what: str, mend: str) -> ContentError:
    """A content error with one problem."""
    return ContentError((Problem(at, what, mend),))


@dataclass(frozen=True, slots=True)
class WriteUpText:
    """A Markdown file with front matter, taken apart."""

    front: Table
    body: str
    body_line: int  # line of the file that the body's first line stands on


def read_text(root: Path, path: str) -> str:
    """The text of a file of the notebook, as UTF-8 with its line ends made equal."""
    file = root / path
    try:
        size = file.stat().st_size
        if size > LARGEST_BYTES:
            raise refused(
                Position(path),
                f"the file has {size // 1024 // 1024} MB, which is no write-up",
                f"Keep text files below {LARGEST_BYTES // 1024 // 1024} MB.",
            )
        raw = file.read_bytes()
    except IsADirectoryError:
        raise refused(Position(path), "a folder stands where a file belongs", "Move it.") from None
    except FileNotFoundError:
        raise refused(
            Position(path), "there is no such file", "Write it, or mend its name."
        ) from None
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise refused(
            Position(path), f"the file cannot be read ({reason})", "Allow reading it."
        ) from None
    return text_of(raw, path)


def text_of(raw: bytes, path: str) -> str:
    """``raw`` decoded as UTF-8; refuses other encodings and control characters, with the place."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refused(Position(path), "the file is in UTF-16", "Save it as UTF-8.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        raise refused(
            Position(path, line, column),
            f"the byte 0x{raw[error.start]:02x} is not UTF-8 text",
            "Save the file as UTF-8.",
        ) from None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    control = re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x85\u2028\u2029\ufffe\uffff]", text)
    if control:
        raise refused(
            position_in(text, control.start(), path),
            f"a control character (U+{ord(control[0]):04X}) stands in the text",
            "Delete it.",
        )
    return text


def position_in(text: str, offset: int, path: str, first_line: int = 1) -> Position:
    """The position of the character at ``offset`` of ``text``."""
    start = text.rfind("\n", 0, offset) + 1
    return Position(path, text.count("\n", 0, offset) + first_line, offset - start + 1)


def split_write_up(text: str, path: str) -> WriteUpText:
    """Front matter and body of a write-up."""
    lines = text.split("\n")
    if lines[0].rstrip() != "---":
        raise refused(
            Position(path),
            "the file does not begin with front matter",
            'Put a line "---" first, then the keys, then another line "---".',
        )
    for number in range(1, len(lines)):
        if lines[number].rstrip() == "---":
            break
    else:
        raise refused(
            Position(path),
            'the front matter has no end: no second line "---"',
            'Put a line "---" between the keys and the prose.',
        )
    front = parse_yaml("\n".join(lines[1:number]) + "\n", path, first_line=2)
    if not isinstance(front, Table):
        raise refused(front.at, "the front matter is no list of keys", 'Write "key: value" lines.')
    return WriteUpText(front, "\n".join(lines[number + 1 :]), number + 2)


def parse_yaml(text: str, path: str, first_line: int = 1) -> Any:
    """The tree of a YAML text: ``Table``, ``Items``, ``Text``.

    Takes:  text, its path in the notebook, and the line that it begins on
    Gives:  a ``Table``, ``Items`` or ``Text``; an empty text gives an empty ``Table``
    Fails:  ContentError for bad YAML, and for what YAML allows and a write-up
            does not need: repeated keys, anchors and aliases, tags, several documents
    """
    loader = yaml.CBaseLoader if yaml.__with_libyaml__ else yaml.BaseLoader
    try:
        return _tree(loader(text), path, first_line - 1)
    except yaml.YAMLError as error:
        raise _yaml_problem(error, text, path, first_line) from None


def _tree(parser: Any, path: str, lines_before: int) -> Any:
    start = first_position = Position(path, lines_before + 1, 1)

    def build(event: Any, depth: int) -> Any:
        nonlocal start
        mark = event.start_mark
        at = Position(path, mark.line + 1 + lines_before, mark.column + 1)
        if isinstance(event, yaml.AliasEvent):
            raise refused(
                at, f'"*{event.anchor}" points to another place of the file', "Write the value out."
            )
        if event.anchor is not None:
            raise refused(at, f'"&{event.anchor}" marks a value to be used again', "Leave it away.")
        if event.tag is not None and event.tag != "!":
            raise refused(at, f'"{event.tag}" is a type mark of YAML', "Leave it away.")
        if depth > DEEPEST:
            raise refused(
                at, f"more than {DEEPEST} levels stand inside each other", "Flatten them."
            )
        if isinstance(event, yaml.ScalarEvent):
            return Text(event.value, at, event.style in ("|", ">"))
        if isinstance(event, yaml.SequenceStartEvent):
            items = Items(at)
            while not isinstance(event := parser.get_event(), yaml.SequenceEndEvent):
                items.append(build(event, depth + 1))
            return items
        table = Table(at)
        while not isinstance(event := parser.get_event(), yaml.MappingEndEvent):
            key = build(event, depth + 1)
            if not isinstance(key, Text):
                raise refused(key.at, "a key must be a plain word", "Write the key as a word.")
            if key == "<<":
                raise refused(key.at, '"<<" merges another mapping', "Write the keys out.")
            name = str(key)
            if name in table:
                raise refused(
                    key.at,
                    f'the key "{name}" stands here twice, first on line {table.keys_at[name].line}',
                    "Keep one of the two.",
                )
            table.put(name, build(parser.get_event(), depth + 1), key.at)
        return table

    tree: Any = None
    while not isinstance(event := parser.get_event(), yaml.StreamEndEvent):
        if isinstance(event, yaml.StreamStartEvent | yaml.DocumentEndEvent):
            continue
        if isinstance(event, yaml.DocumentStartEvent):
            if tree is not None:
                mark: Any = event.start_mark
                raise refused(
                    Position(path, mark.line + 1 + lines_before),
                    "a second document begins here",
                    "Keep one document in a file.",
                )
            continue
        tree = build(event, 0)
    if tree is None or (isinstance(tree, Text) and tree == ""):
        return Table(first_position)
    return tree


# What a message of the YAML library means to a maker: a part of the message, what is
# wrong, how to mend it, and whether the place where the thing began tells more.
_YAML_MEANINGS = (
    ("'\\t'", "a tab stands where only spaces may", "Put spaces in its place.", False),
    ("cannot start any token", "{quoted} cannot begin a value", "Put the value in quotes.", False),
    ("quoted scalar", "a quote is opened and never closed", "Close the quote.", True),
    ("mapping values are not allowed", "a second colon makes this line unclear",
     'Put the value in quotes: key: "a: b".', False),
    ("expected ',' or ']'", "a list in brackets is not closed", 'Close it with "]".', True),
    ("expected ',' or '}'", "a mapping in braces is not closed", 'Close it with "}".', True),
    ("could not find expected ':'", "a colon is missing after a key", 'Write "key: value".', True),
    ("did not find expected key", "the indentation does not fit the lines above",
     "Line it up with its neighbours.", False),
    ("did not find expected '-' indicator", "the indentation does not fit the list above",
     "Line it up with its neighbours.", False),
    ("undefined alias", "an alias points to nothing", "Write the value out.", False),
)  # fmt: skip


def _yaml_problem(error: yaml.YAMLError, text: str, path: str, first_line: int) -> ContentError:
    mark: Any = getattr(error, "problem_mark", None)
    context_mark: Any = getattr(error, "context_mark", None)
    chosen: Any = mark
    said = f"{getattr(error, 'context', '') or ''} {getattr(error, 'problem', '') or error}"
    lines = text.split("\n")
    quoted = ""
    if mark is not None and mark.line < len(lines) and mark.column < len(lines[mark.line]):
        character = lines[mark.line][mark.column]
        quoted = f'"{character}"'
        if character == "\t":
            said = "'\\t'"
    meant = next((meaning for meaning in _YAML_MEANINGS if meaning[0] in said), None)
    if meant is None:
        what, mend = f"this is no YAML ({said.strip()})", "Mend the line."
    else:
        _, what, mend, at_start = meant
        chosen = context_mark if at_start and context_mark is not None else mark
    line, column = (chosen.line, chosen.column) if chosen is not None else (0, 0)
    return refused(
        Position(path, line + first_line, column + 1),
        what.replace("{quoted}", quoted or "this character"),
        mend,
    )


def parse_csv(text: str, path: str) -> Items:
    """A CSV text with a header row as a list of tables; empty cells are left out."""
    rows = csv.reader(io.StringIO(text), strict=True)
    items = Items(Position(path))
    try:
        header = [name.strip() for name in next(rows, [])]
        if not header or not all(header):
            raise refused(Position(path), "the first row does not name every column", "Name them.")
        for name in header:
            if header.count(name) > 1:
                raise refused(Position(path), f'two columns are called "{name}"', "Rename one.")
        for row in rows:
            line = rows.line_num
            if not any(cell.strip() for cell in row):
                continue
            if len(row) > len(header):
                raise refused(
                    Position(path, line),
                    f"the row has {len(row)} cells, the first row only {len(header)}",
                    "Put a cell that holds a comma in quotes.",
                )
            table = Table(Position(path, line))
            column = 1
            for name, cell in zip(header, row, strict=False):
                at = Position(path, line, column + len(cell) - len(cell.lstrip()))
                if cell.strip():
                    table.put(name, Text(cell.strip(), at), at)
                column += len(cell) + 1
            items.append(table)
    except csv.Error as error:
        raise refused(
            Position(path, rows.line_num), f"the row is no CSV ({error})", "Mend it."
        ) from None
    return items


def parse_columns(text: Text) -> Items:
    """A table of words in columns, the first line naming them; "-" is an empty cell.

    The last column takes the rest of its line.
    """
    path, first_line, _ = text.at
    items = Items(text.at)
    header: list[str] = []
    for offset, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        if not header:
            header = line.split()
            continue
        table = Table(Position(path, first_line + offset))
        for name, cell, column in _cells(header, line):
            at = Position(path, first_line + offset, column)
            if cell != "-":
                table.put(name, Text(cell, at), at)
        items.append(table)
    return items


def _cells(header: list[str], line: str) -> Iterator[tuple[str, str, int]]:
    # Cells stand apart by two spaces, or by one where none holds a space.
    # "176 F" is one cell: a number takes the unit that follows it.
    pattern = re.compile(r"-(?=\s|$)|[\d:.½¼¾]+(?:\s?°?[FC]\b|\s(?:min|h|am|pm)\b)?|\S+")
    found = pattern.finditer(line)
    for name in header[:-1]:
        cell = next(found, None)
        if cell is None:
            return
        yield name, cell[0], cell.start() + 1
    cell = next(found, None)
    if cell is None:
        return
    if re.fullmatch(r"[\d:.]+(\s?°?[FC])?", cell[0]):
        yield header[-1], cell[0], cell.start() + 1
    else:
        yield header[-1], line[cell.start() :].strip(), cell.start() + 1


def inside(path: str, folder: str) -> str | None:
    """``path``, written relative to ``folder``, relative to the notebook; None if it leaves it."""
    if path.startswith(("/", "\\")) or re.match(r"^[A-Za-z]:", path) or "\\" in path:
        return None
    parts: list[str] = list(PurePosixPath(folder).parts)
    for part in PurePosixPath(path).parts:
        if part == "..":
            if not parts:
                return None
            parts.pop()
        elif part != ".":
            parts.append(part)
    return "/".join(parts)
