"""A line of a file as it is quoted at the terminal, with the value underlined that is meant."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

INDENT: Final = "    "
# Where a tab leads to: the next of these columns.
TAB: Final = 4
# Of a line that is too long, so much stands before the value.
BEFORE: Final = 24
CUT: Final = "…"

_QUOTED = re.compile(r'"([^"]+)"')
_CLOSED_BY = {"[": "]", "{": "}", "(": ")", '"': '"', "'": "'"}


def column_width(text: str) -> int:
    """The number of columns of a terminal that a text takes."""
    return sum(map(_columns_of, text))


def _columns_of(sign: str) -> int:
    """The number of columns of one character: 0, 1 or 2."""
    if unicodedata.combining(sign) or unicodedata.category(sign) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(sign) in ("W", "F") else 1


def value_length(line: str, start: int, what: str) -> int:
    """The number of characters of the value that begins at ``start``; 1 at least.

    Takes:  line   a line of a file
            start  the number of a character of it, from 0
            what   the message about the value; most messages quote it
    """
    rest = line[start:]
    for quoted in _QUOTED.findall(what):
        if rest.startswith(quoted):
            return len(quoted)
    if rest[:1] in _CLOSED_BY:
        return _bracketed_length(rest)
    in_flow = _is_in_brackets(line[:start])
    for number, sign in enumerate(rest):
        if number and in_flow and sign in ",]}":
            return len(rest[:number].rstrip())
        if number and sign == "#" and rest[number - 1].isspace():
            return max(1, len(rest[:number].rstrip()))
    return max(1, len(rest.rstrip()))


def _bracketed_length(text: str) -> int:
    """The length up to the sign that closes the first one; that of the text if none does."""
    opens, closes = text[0], _CLOSED_BY[text[0]]
    depth = 0
    for number, sign in enumerate(text):
        if number and sign == closes:
            depth -= 1
            if depth <= 0:
                return number + 1
        elif sign == opens:
            depth += 1
    return len(text.rstrip())


def _is_in_brackets(text: str) -> bool:
    """Whether a list or mapping in brackets is still open at the end of ``text``."""
    return text.count("[") + text.count("{") > text.count("]") + text.count("}")


def underlined(line: str, start: int, length: int, width: int) -> tuple[str, str]:
    """A line to print, and a line with the stroke under one of its values.

    Takes:  line    a line of a file; tabs and signs that cannot be printed are replaced
            start   the number of the value's first character, from 0
            length  how many characters it has
            width   columns of the terminal
    Gives:  both indented, neither wider than ``width``
    """
    room = max(20, width - len(INDENT) - 1)
    shown = _printable(line)
    if sum(map(column_width, shown)) > room:
        shown, start = _cut_to_fit(shown, start, length, room)
    before = sum(map(column_width, shown[:start]))
    under = sum(map(column_width, shown[start : start + length]))
    under = max(1, min(under, room - before))
    return INDENT + "".join(shown).rstrip(), f"{INDENT}{' ' * before}{'~' * under}"


def _printable(line: str) -> list[str]:
    """Each character as it is printed."""
    shown: list[str] = []
    column = 0
    for sign in line:
        if sign == "\t":
            printed = " " * (TAB - column % TAB)
        else:
            printed = sign if sign.isprintable() or column_width(sign) == 0 else "?"
            # Marks that turn the direction of writing would turn the terminal's line too.
            printed = "?" if unicodedata.category(sign) == "Cf" else printed
        shown.append(printed)
        column += column_width(printed)
    return shown


def _cut_to_fit(shown: list[str], start: int, length: int, room: int) -> tuple[list[str], int]:
    """The part of a line that fits, with the value in it, and where the value begins there."""
    first = 0
    if sum(map(column_width, shown[: start + length])) > room - 1:
        first = start
        space = min(BEFORE, room // 3)
        while first and sum(map(column_width, shown[first - 1 : start])) <= space:
            first -= 1
    part = [CUT] if first else []
    width = column_width(CUT) if first else 0
    for number in range(first, len(shown)):
        width += column_width(shown[number])
        if width > room - (number < len(shown) - 1):
            part.append(CUT)
            break
        part.append(shown[number])
    return part, start - first + bool(first)
