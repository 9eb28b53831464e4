"""Trees of the text that the maker wrote; each value knows its place in the file.

Values are subclasses of ``str``, ``dict`` and ``list`` with a position, so that any later
check can report where. Few positions are needed: a value stores its character offset, and
turns it into a line and a column on demand.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from msgspec import msgpack

from journal.errors import ContentError, Position, Problem


class LineIndex:
    """Turns character offsets in a text of the notebook into positions."""

    __slots__ = ("_first_line", "_path", "_starts", "_text")

    def __init__(self, text: str, path: str, first_line: int) -> None:
        self._text = text
        self._path = path
        self._first_line = first_line
        self._starts: list[int] | None = None

    def position(self, offset: int) -> Position:
        """The position of the character at ``offset``, counted from 0."""
        starts = self._starts
        if starts is None:
            starts = [0]
            while (line_end := self._text.find("\n", starts[-1])) >= 0:
                starts.append(line_end + 1)
            self._starts = starts
        line = bisect_right(starts, offset) - 1
        return Position(self._path, line + self._first_line, offset - starts[line] + 1)

    def line(self, number: int) -> str:
        """The text of line ``number``, counted from 0; empty behind the last line."""
        lines = self._text.split("\n")
        return lines[number] if number < len(lines) else ""


_NO_LINES = LineIndex("", "", 1)


def _position(mark: int | Position, lines: LineIndex) -> Position:
    return mark if isinstance(mark, Position) else lines.position(mark)


class _Positioned:
    """A value of a tree; its place is a character offset until ``at`` is used."""

    __slots__ = ()

    _mark: int | Position
    _lines: LineIndex

    @property
    def at(self) -> Position:
        """The position at which the value begins."""
        return _position(self._mark, self._lines)


class WrittenText(_Positioned, str):
    """A scalar as it was written, with its position."""

    __slots__ = ("_lines", "_mark")

    #: Whether it is a literal block, begun with "|".
    block = False

    def __new__(cls, text: str, at: Position) -> WrittenText:
        scalar = super().__new__(cls, text)
        scalar._mark, scalar._lines = at, _NO_LINES
        return scalar


class WrittenBlock(WrittenText):
    """A literal block of YAML; ``indent`` is how many characters its lines are indented by."""

    __slots__ = ("indent",)

    indent: int
    block = True

    def __new__(cls, text: str, at: Position, indent: int) -> WrittenBlock:
        block = super().__new__(cls, text, at)
        assert isinstance(block, WrittenBlock)
        block.indent = indent
        return block


class WrittenTable(_Positioned, dict[str, Any]):
    """A mapping; ``at`` is its position, ``keys_at`` has that of each key."""

    __slots__ = ("_keys", "_lines", "_mark")

    _keys: dict[str, int | Position]

    def __init__(self, at: Position) -> None:
        super().__init__()
        self._mark, self._lines, self._keys = at, _NO_LINES, {}

    @property
    def keys_at(self) -> Mapping[str, Position]:
        """The position of each key; a new mapping at every call."""
        return {name: _position(mark, self._lines) for name, mark in self._keys.items()}

    def key_at(self, key: str) -> Position:
        """The position of ``key``; that of the table if it has no such key."""
        return _position(self._keys.get(key, self._mark), self._lines)

    def put(self, key: str, value: Any, at: Position) -> None:
        """Set ``key`` to ``value``; ``at`` is the position of the key."""
        self[key] = value
        self._keys[key] = at

    def copy_key(self, key: str, other: WrittenTable) -> None:
        """Copy the value and the position of ``key`` from ``other``."""
        self[key] = other[key]
        same = self._lines is other._lines
        self._keys[key] = other._keys[key] if same else other.key_at(key)

    def remove(self, key: str) -> None:
        """Remove ``key`` and its position."""
        del self[key], self._keys[key]

    def subset(self, keys: Iterable[str]) -> WrittenTable:
        """A table of those of ``keys`` that are there, with the same position."""
        table = WrittenTable.__new__(WrittenTable)
        table._mark, table._lines, table._keys = self._mark, self._lines, {}
        for key in keys:
            if key in self:
                table.copy_key(key, self)
        return table

    def copy(self) -> WrittenTable:
        """A shallow copy."""
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
    """A mapping of written text, held by a record; one from the cache is decoded on first use.

    ``data`` is the cached form: the lists of ``plain_tree``, in MessagePack. ``make`` makes a
    mapping on first use.
    """

    __slots__ = ("_data", "_make", "_table", "path")

    def __init__(
        self, table: WrittenTable | None, path: str = "", data: bytes = b"",
        make: Callable[[], WrittenTable] | None = None,
    ) -> None:  # fmt: skip
        self._table, self._data, self._make = table, data, make
        self.path = path or (table.at.path if table is not None else "")

    @property
    def table(self) -> WrittenTable:
        """The mapping, decoded if need be."""
        if self._table is None:
            self._table = (
                _tree_of(self.path, msgpack.decode(self._data)) if self._make is None
                else self._make()
            )  # fmt: skip
        return self._table

    @property
    def data(self) -> bytes:
        """The mapping in its cached form."""
        return self._data or msgpack.encode(plain_tree(self.table))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SourceTree) and self.table == other.table

    def __hash__(self) -> int:
        return hash(self.path)

    def __repr__(self) -> str:
        return f"SourceTree({self.table!r})"


# The kind of a node, its first entry in a tree of plain lists; its line and column follow.
TEXT, BLOCK, ITEMS, TABLE = range(4)


def plain_tree(tree: Any) -> list[Any]:
    """A tree as nested plain lists (kind, line, column, content), without the path of its file."""
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
    """The tree of the file ``path`` whose plain lists are ``node``; reverses ``plain_tree``."""
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
    """The value at ``path`` in a tree, or its nearest parent if it is not there.

    A list of one may be written without its brackets, so that index 0 of what is no list
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
    """The position of the value at ``path``, or of its nearest parent if it is not there."""
    at: Position = value_at(tree, path).at
    return at


def content_error(at: Position, what: str, hint: str) -> ContentError:
    """A content error with one problem."""
    return ContentError((Problem(at, what, hint),))
