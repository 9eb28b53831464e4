"""Trees of written text that know where they stand.

The trees are plain ``str``, ``dict`` and ``list`` with a position, so that any later
check can report where. Few positions are needed: a tree keeps character offsets, and
turns one into a line and a column on demand.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from typing import Any

from msgspec import msgpack

from journal.errors import ContentError, Position, Problem


class LineIndex:
    """A text of the notebook; turns a character offset into a position."""

    __slots__ = ("_first_line", "_path", "_starts", "_text")

    def __init__(self, text: str, path: str, first_line: int) -> None:
        self._text = text
        self._path = path
        self._first_line = first_line
        self._starts: list[int] | None = None

    def position(self, offset: int) -> Position:
        """Where the character number ``offset``, from 0, stands."""
        starts = self._starts
        if starts is None:
            starts = [0]
            while (line_end := self._text.find("\n", starts[-1])) >= 0:
                starts.append(line_end + 1)
            self._starts = starts
        line = bisect_right(starts, offset) - 1
        return Position(self._path, line + self._first_line, offset - starts[line] + 1)

    def line(self, number: int) -> str:
        """The line of that number, from 0; empty behind the last."""
        lines = self._text.split("\n")
        return lines[number] if number < len(lines) else ""


_NO_LINES = LineIndex("", "", 1)


def _position(mark: int | Position, lines: LineIndex) -> Position:
    return mark if isinstance(mark, Position) else lines.position(mark)


class _Positioned:
    """A part of a tree; its place is an offset in a text until its position is called for."""

    __slots__ = ()

    _mark: int | Position
    _lines: LineIndex

    @property
    def at(self) -> Position:
        """Where it begins."""
        return _position(self._mark, self._lines)


class WrittenText(_Positioned, str):
    """A scalar as it was written, with its position."""

    __slots__ = ("_lines", "_mark")

    #: Whether it is a block of lines as they stand, begun with "|".
    block = False

    def __new__(cls, text: str, at: Position) -> WrittenText:
        scalar = super().__new__(cls, text)
        scalar._mark, scalar._lines = at, _NO_LINES
        return scalar


class WrittenBlock(WrittenText):
    """A block of lines as they stand; ``indent`` is how far they are set in, in the file."""

    __slots__ = ("indent",)

    indent: int
    block = True

    def __new__(cls, text: str, at: Position, indent: int) -> WrittenBlock:
        block = super().__new__(cls, text, at)
        assert isinstance(block, WrittenBlock)
        block.indent = indent
        return block


class WrittenTable(_Positioned, dict[str, Any]):
    """A mapping; ``at`` is its own position, ``keys_at`` that of each key."""

    __slots__ = ("_keys", "_lines", "_mark")

    _keys: dict[str, int | Position]

    def __init__(self, at: Position) -> None:
        super().__init__()
        self._mark, self._lines, self._keys = at, _NO_LINES, {}

    @property
    def keys_at(self) -> Mapping[str, Position]:
        """Where each key stands; a new mapping at every call."""
        return {name: _position(mark, self._lines) for name, mark in self._keys.items()}

    def key_at(self, key: str) -> Position:
        """Where ``key`` stands; the table's own place if it is not there."""
        return _position(self._keys.get(key, self._mark), self._lines)

    def put(self, key: str, value: Any, at: Position) -> None:
        """Set ``key`` to ``value``; ``at`` is where the key stands."""
        self[key] = value
        self._keys[key] = at

    def copy_key(self, key: str, other: WrittenTable) -> None:
        """Set ``key`` to what it is in ``other``."""
        self[key] = other[key]
        same = self._lines is other._lines
        self._keys[key] = other._keys[key] if same else other.key_at(key)

    def remove(self, key: str) -> None:
        """Remove ``key`` and its position."""
        del self[key], self._keys[key]

    def subset(self, keys: Iterable[str]) -> WrittenTable:
        """A table of some of the keys, with the same position."""
        table = WrittenTable.__new__(WrittenTable)
        table._mark, table._lines, table._keys = self._mark, self._lines, {}
        for key in keys:
            if key in self:
                table.copy_key(key, self)
        return table

    def copy(self) -> WrittenTable:
        """A copy; its values are the same."""
        copied = WrittenTable.__new__(WrittenTable)
        copied.update(self)
        copied._mark, copied._lines, copied._keys = self._mark, self._lines, dict(self._keys)
        return copied


class WrittenList(_Positioned, list[Any]):
    """A list with its position."""

    __slots__ = ("_lines", "_mark")

    def __init__(self, at: Position) -> None:
        super().__init__()
        self._mark, self._lines = at, _NO_LINES


class SourceTree:
    """A tree of written text as a record holds it; a cached one is decoded on first use.

    ``data`` is the tree as it is cached: plain lists, in MessagePack.
    """

    __slots__ = ("_data", "_table", "path")

    def __init__(self, table: WrittenTable | None, path: str = "", data: bytes = b"") -> None:
        self._table, self._data = table, data
        self.path = path or (table.at.path if table is not None else "")

    @property
    def table(self) -> WrittenTable:
        """The tree."""
        if self._table is None:
            self._table = _tree_of(self.path, msgpack.decode(self._data))
        return self._table

    @property
    def data(self) -> bytes:
        """The tree as it is cached."""
        return self._data or msgpack.encode(plain_tree(self.table))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SourceTree) and self.table == other.table

    def __hash__(self) -> int:
        return hash(self.path)

    def __repr__(self) -> str:
        return f"SourceTree({self.table!r})"


# What a node of a tree of plain lists is; after that come its line and its column.
TEXT, BLOCK, ITEMS, TABLE = range(4)


def plain_tree(tree: Any) -> list[Any]:
    """A tree as plain lists, without the path of its file."""
    at: Position = tree.at
    if isinstance(tree, WrittenTable):
        entries = [
            [key, where.line, where.column, plain_tree(tree[key])]
            for key, where in tree.keys_at.items()
        ]
        return [TABLE, at.line, at.column, entries]
    if isinstance(tree, WrittenList):
        return [ITEMS, at.line, at.column, [plain_tree(value) for value in tree]]
    if isinstance(tree, WrittenBlock):
        return [BLOCK, at.line, at.column, str(tree), tree.indent]
    return [TEXT, at.line, at.column, str(tree)]


def _tree_of(path: str, node: list[Any]) -> Any:
    """The tree that ``plain_tree`` made plain lists of."""
    kind, at = node[0], Position(path, node[1], node[2])
    if kind == TABLE:
        table = WrittenTable(at)
        for key, line, column, value in node[3]:
            table.put(key, _tree_of(path, value), Position(path, line, column))
        return table
    if kind == ITEMS:
        items = WrittenList(at)
        items.extend(_tree_of(path, value) for value in node[3])
        return items
    return WrittenBlock(node[3], at, node[4]) if kind == BLOCK else WrittenText(node[3], at)


def value_at(tree: Any, path: Iterable[str | int]) -> Any:
    """The value at ``path``; its nearest parent if it is not there.

    A list of one may be written without its brackets: index 0 of what is no list
    is the value itself.
    """
    for step in path:
        if isinstance(tree, WrittenList):
            if not isinstance(step, int) or step >= len(tree):
                break
            tree = tree[step]
        elif isinstance(tree, WrittenTable) and isinstance(step, str):
            if step not in tree:
                break
            tree = tree[step]
        elif step != 0:
            break
    return tree


def position_of(tree: Any, *path: str | int) -> Position:
    """Where the value at ``path`` stands; of its nearest parent if it is not there."""
    at: Position = value_at(tree, path).at
    return at


def content_error(at: Position, what: str, hint: str) -> ContentError:
    """A content error with one problem."""
    return ContentError((Problem(at, what, hint),))
