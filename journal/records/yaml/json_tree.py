"""JSON as a tree of written text, every value with its place.

Every value is a text, as the maker would type it; so a number or a word without quotes is a fault.
"""

from __future__ import annotations

import json
import re
from typing import Any

from journal.errors import ContentError
from journal.quantities.number import excerpt
from journal.records.yaml.source import DEEPEST, control_fault
from journal.records.yaml.tree import (
    LineIndex,
    WrittenList,
    WrittenTable,
    WrittenText,
    content_error,
)

# RFC 8259, section 2.
_BLANKS = re.compile(r"[ \t\n\r]*")
_BARE = re.compile(r"[^\s,:\"{}\[\]]{1,60}")
_DECODER = json.JSONDecoder()


def parse_json(text: str, path: str, first_line: int = 1) -> Any:
    """Parse a JSON text to a ``WrittenTable``, ``WrittenList`` or ``WrittenText``.

    A key whose value is null is left out. ContentError for bad JSON, and for values that are no
    texts, keys that stand twice, control characters, and more than ``DEEPEST`` levels.
    """
    return _JsonReader(text, path, first_line).tree()


class _JsonReader:
    """Reads one JSON text from its first character on; an offset counts from 0."""

    def __init__(self, text: str, path: str, first_line: int) -> None:
        self._text, self._lines = text, LineIndex(text, path, first_line)

    def tree(self) -> Any:
        """Read the whole text."""
        value, end = self._value(self._skip(0), 0)
        if value is None:
            raise self._fault(0, "null stands where a value belongs", "Hand it in once more.")
        end = self._skip(end)
        if end < len(self._text):
            raise self._fault(end, "the JSON is at its end, and text follows", "Delete it.")
        return value

    def _fault(self, offset: int, what: str, hint: str) -> ContentError:
        return content_error(self._lines.position(offset), what, hint)

    def _skip(self, offset: int) -> int:
        blanks = _BLANKS.match(self._text, offset)
        return blanks.end() if blanks else offset

    def _value(self, offset: int, depth: int) -> tuple[Any, int]:
        """The value that begins at ``offset``, None for null, and an offset behind it."""
        sign = self._text[offset : offset + 1]
        if sign == '"':
            text, end = self._string(offset)
            return WrittenText(text, self._lines.position(offset)), end
        if sign and sign in "{[":
            if depth == DEEPEST:
                what = f"more than {DEEPEST} levels stand inside each other"
                raise self._fault(offset, what, "Flatten them.")
            return self._table(offset, depth + 1) if sign == "{" else self._list(offset, depth + 1)
        bare = _BARE.match(self._text, offset)
        if bare is None:
            what = "the JSON breaks off" if not sign else f"{excerpt(sign)} stands for a value"
            raise self._fault(offset, what, "Hand it in once more.")
        if bare[0] == "null":
            return None, bare.end()
        what = f"{excerpt(bare[0])} stands without quotes"
        raise self._fault(offset, what, 'Every value is a text, such as "1.5 mm".')

    def _string(self, offset: int) -> tuple[str, int]:
        """The string whose first quote is at ``offset``, and where it ends."""
        try:
            text, end = _DECODER.raw_decode(self._text, offset)
        except json.JSONDecodeError as error:
            raise self._fault(error.pos, "a text is broken here", "Hand it in once more.") from None
        text = text.replace("\r\n", "\n").replace("\r", "\n")
        fault = control_fault(text)
        if fault is not None:
            raise self._fault(offset, fault, "Delete it.")
        return text, end

    def _after(self, offset: int, closing: str) -> tuple[int, bool]:
        """Where the next entry begins, and whether there is one: a comma, or the end."""
        offset = self._skip(offset)
        sign = self._text[offset : offset + 1]
        if sign not in (",", closing) or not sign:
            what = "the JSON breaks off" if not sign else f"{excerpt(sign)} stands for a comma"
            raise self._fault(offset, what, "Hand it in once more.")
        return self._skip(offset + 1), sign == ","

    def _list(self, offset: int, depth: int) -> tuple[WrittenList, int]:
        items = WrittenList(self._lines.position(offset))
        offset = self._skip(offset + 1)
        if self._text[offset : offset + 1] == "]":
            return items, offset + 1
        more = True
        while more:
            value, end = self._value(offset, depth)
            if value is None:
                raise self._fault(offset, "null stands in a list", "Leave it away.")
            items.append(value)
            offset, more = self._after(end, "]")
        return items, offset

    def _table(self, offset: int, depth: int) -> tuple[WrittenTable, int]:
        table = WrittenTable(self._lines.position(offset))
        offset = self._skip(offset + 1)
        if self._text[offset : offset + 1] == "}":
            return table, offset + 1
        more = True
        while more:
            if self._text[offset : offset + 1] != '"':
                raise self._fault(offset, "a key in quotes belongs here", "Hand it in once more.")
            key, end = self._string(offset)
            if key in table:
                what = f"the key {excerpt(key)} stands here twice"
                raise self._fault(offset, what, "Keep one of the two.")
            end = self._skip(end)
            if self._text[end : end + 1] != ":":
                raise self._fault(end, "a colon belongs here", "Hand it in once more.")
            value, end = self._value(self._skip(end + 1), depth)
            if value is not None:
                table.put(key, value, self._lines.position(offset))
            offset, more = self._after(end, "}")
        return table, offset
