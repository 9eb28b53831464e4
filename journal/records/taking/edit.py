"""Put keys and rows into the front matter of a write-up; all else stays byte for byte."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from msgspec import Struct

from journal.records.yaml.layout import LayoutNode, layout_of
from journal.records.yaml.source import split_write_up
from journal.records.yaml.tree import WrittenTable

#: Values as they are written: a text, a list, or a mapping.
Written = str | list[Any] | dict[str, Any]

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+\Z")
_LINE_END = re.compile(r"(?:\r\n|\r|\n)\Z")
# Texts that YAML reads as they stand, also in brackets and braces: a colon only within a time.
_PLAIN = re.compile(r"[^\W_](?:[\w.%°/+()'’½¼¾⅓⅔⅛-]| (?! )|(?<=\d):(?=\d))*(?<! )|½|¼|¾|⅓|⅔|⅛")
_FENCE_LINES: Final = 1  # the line of hyphens above the front matter
# How each key of a pour is laid out: its rows on lines of their own.
_IN_ROWS: Final = ("bars", "later", "photos")


class NoBlock(Exception):
    """Text cannot be put in: what stands there is no list or mapping on lines of its own.

    ``text`` is what belongs at ``place``, to be pasted by hand.
    """

    def __init__(self, place: str, text: str) -> None:
        super().__init__(place, text)
        self.place = place
        self.text = text


class EditFailed(Exception):
    """The text that came out does not read as it should; nothing may be written."""


class _Insertion(Struct, frozen=True):
    line: int  # of the front matter, from 0
    column: int  # 0: whole lines before that line
    text: str
    order: int


def flow_value(value: Written) -> str:
    """A value on one line, as YAML in brackets and braces reads it."""
    if isinstance(value, str):
        if _PLAIN.fullmatch(value):
            return value
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return '"' + escaped.replace("\n", "\\n").replace("\t", "\\t") + '"'
    if isinstance(value, list):
        return f"[{', '.join(map(flow_value, value))}]"
    return "{" + ", ".join(f"{flow_value(k)}: {flow_value(v)}" for k, v in value.items()) + "}"


def entry_lines(key: str, value: Written, indent: int) -> list[str]:
    """The lines of a key of a pour and its value, set in by so many blanks."""
    blanks = " " * indent
    if key in _IN_ROWS and isinstance(value, list) and value:
        return [f"{blanks}{key}:", *(f"{blanks}  - {flow_value(row)}" for row in value)]
    if key == "readings" and isinstance(value, dict) and value:
        lines = [f"{blanks}{key}:"]
        for pot, rows in value.items():
            lines.append(f"{blanks}  {flow_value(pot)}:")
            lines += (f"{blanks}    - {flow_value(row)}" for row in rows)
        return lines
    return [f"{blanks}{flow_value(key)}: {flow_value(value)}"]


def pour_lines(pour: Mapping[str, Written], indent: int) -> list[str]:
    """The lines of a pour as an entry of a list, set in by so many blanks."""
    lines = [line for key, value in pour.items() for line in entry_lines(key, value, indent + 2)]
    return [f"{' ' * indent}- {lines[0].lstrip()}", *lines[1:]]


def plain_values(tree: Any) -> Any:
    """A tree of written values as plain texts, lists and dicts."""
    if isinstance(tree, Mapping):
        return {str(key): plain_values(value) for key, value in tree.items()}
    return str(tree) if isinstance(tree, str) else [plain_values(value) for value in tree]


class WriteUpEdit:
    """Changes of one write-up, collected and then made at once.

    A path goes from the front matter's keys and list places down to a value.
    """

    def __init__(self, raw: bytes, front: WrittenTable, body_line: int) -> None:
        """Take the bytes of a file, its front matter as it was read, and its body's line."""
        self._text = raw.decode("utf-8")
        self._lines = _LINE.findall(self._text)
        self._fence = body_line - 2  # of the file, from 0
        front_lines = self._lines[_FENCE_LINES : self._fence]
        self._front = [_LINE_END.sub("", line) for line in front_lines]
        self._root = layout_of("\n".join(self._front) + "\n")
        self._insertions: list[_Insertion] = []
        #: The front matter as it is to be afterwards.
        self.expected: Any = copy.deepcopy(plain_values(front))

    def _at(self, path: Sequence[str | int]) -> tuple[LayoutNode, Any]:
        node, value = self._root, self.expected
        for step in path:
            node = node.items[step] if isinstance(step, int) else node.entries[step]
            value = value[step]
        return node, value

    def _insert(self, line: int, column: int, text: str) -> None:
        self._insertions.append(_Insertion(line, column, text, len(self._insertions)))

    def _line_behind(self, node: LayoutNode) -> int:
        """The line behind a block and the remarks that are set in as it is."""
        line = node.end_line + (node.end_column > 0)
        while line < len(self._front):
            bare = self._front[line].lstrip(" ")
            depth = len(self._front[line]) - len(bare)
            if not bare.startswith("#") or depth < max(node.column, 1):
                break
            line += 1
        return line

    def add_pour(self, pour: dict[str, Written]) -> None:
        """Add a pour behind the others; NoBlock if they are no list on lines of their own."""
        if "pours" not in self._root.entries:
            if self._root.flow:
                raise NoBlock("the front matter", "\n".join(["pours:", *pour_lines(pour, 2)]))
            # Further pours follow this one, in the same place.
            head = [] if "pours" in self.expected else ["pours:"]
            end = self._fence - _FENCE_LINES
            self._insert(end, 0, "\n".join([*head, *pour_lines(pour, 2)]) + "\n")
            self.expected.setdefault("pours", []).append(pour)
            return
        node, pours = self._at(["pours"])
        if node.flow or node.kind != "list":
            raise NoBlock("pours", "\n".join(pour_lines(pour, 2)))
        self._insert(self._line_behind(node), 0, "\n".join(pour_lines(pour, node.column)) + "\n")
        pours.append(pour)

    def add_photos(self, rows: Sequence[dict[str, Written]]) -> None:
        """Add rows to the photos; NoBlock if they are no list on lines of their own."""
        if "photos" in self._root.entries:
            self.add_rows(["photos"], rows)
            return
        lines = entry_lines("photos", list(rows), 0)
        if self._root.flow:
            raise NoBlock("the front matter", "\n".join(lines))
        self._insert(self._fence - _FENCE_LINES, 0, "\n".join(lines) + "\n")
        self.expected["photos"] = list(rows)

    def add_key(self, path: Sequence[str | int], key: str, value: Written) -> None:
        """Add a key to a mapping, on a line of its own or before the brace; NoBlock if neither."""
        node, table = self._at(path)
        if node.kind != "table":
            raise NoBlock(_place(path), "\n".join(entry_lines(key, value, 0)))
        if node.flow:
            before = ", " if table else ""
            line, column = self._before_bracket(node)
            text = f"{flow_value(key)}: {flow_value(value)}"
            if not column:
                raise NoBlock(_place(path), text)
            self._insert(line, column, f"{before}{text}")
        else:
            lines = entry_lines(key, value, node.column)
            self._insert(self._line_behind(node), 0, "\n".join(lines) + "\n")
        table[key] = value

    def _before_bracket(self, node: LayoutNode) -> tuple[int, int]:
        """The place before the brace that ends a node, and the blanks before it; column 0 if none.

        A brace on a line of its own, or behind a comma, is for her to put right.
        """
        line, column = node.end_line, node.end_column - 1
        before = self._front[line][:column].rstrip()
        return line, 0 if before.endswith(",") else len(before)

    def add_rows(self, path: Sequence[str | int], rows: Sequence[Written]) -> None:
        """Add rows to a list; NoBlock if it is no list on lines of its own."""
        node, items = self._at(path)
        if node.flow or node.kind != "list":
            raise NoBlock(_place(path), "\n".join(f"- {flow_value(row)}" for row in rows))
        lines = [f"{' ' * node.column}- {flow_value(row)}\n" for row in rows]
        self._insert(self._line_behind(node), 0, "".join(lines))
        items.extend(rows)

    def result(self, path: str) -> bytes:
        """The changed file; EditFailed if it does not read as it should."""
        made = list(self._lines)
        # From the last place to the first, so that places stay right; of one place the latest
        # goes in first, and the others before it.
        for one in sorted(
            self._insertions, key=lambda i: (i.line, i.column, i.order), reverse=True
        ):
            number = one.line + _FENCE_LINES
            if one.column:
                line = made[number]
                made[number] = line[: one.column] + one.text + line[one.column :]
                continue
            ends = _LINE_END.search(self._lines[number - 1])
            made[number:number] = [one.text.replace("\n", ends[0] if ends else "\n")]
        text = "".join(made)
        try:
            parts = split_write_up(re.sub("\r\n|\r", "\n", text.removeprefix("\ufeff")), path)
        except ValueError as error:
            raise EditFailed(str(error)) from error
        if plain_values(parts.front) != self.expected:
            raise EditFailed("the values are not as they should be")
        return text.encode("utf-8")


def _place(path: Sequence[str | int]) -> str:
    """A path in words, such as ``pours, entry 2, bars``."""
    return ", ".join(f"entry {step + 1}" if isinstance(step, int) else step for step in path)
