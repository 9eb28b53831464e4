"""Bounds on the prose of a write-up: more than these no hand writes, and no page could show.

Markdown is read by patterns that try every bracket against every other, and by functions that
call themselves at every level, so that a text made for it would hang a build, or end it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from typing import Final

from journal.errors import Position, Problem
from journal.records.yaml.tree import LineIndex

#: Opening brackets of one block, and of a whole write-up.
MOST_BRACKETS: Final = 500
MOST_BRACKETS_IN_ALL: Final = 2000
#: Headings and rules of one block: each is taken off what is behind it.
MOST_HEADINGS: Final = 200
#: The size of one block, in bytes of UTF-8.
LARGEST_BLOCK_BYTES: Final = 20_000
#: Lists and quotations within one another.
DEEPEST_LEVEL: Final = 20
#: Footnotes that are written, or referred to.
MOST_FOOTNOTES: Final = 500

# What stands between blank lines; no pattern is tried beyond one.
_BLOCK = re.compile(r"\S[^\n]*(?:\n[^\S\n]*\S[^\n]*)*")
_HEADING = re.compile(r"^ {0,3}(?:#|[-=*_][-=*_ ]*$)", re.MULTILINE)
# What sets a line in: blanks, and marks of lists and quotations.
_SET_IN = re.compile(r"(?:[ \t]|>|(?:[-*+]|\d{1,9}[.)])(?=[ \t]))+")
_MARK = re.compile(r">|[-*+]|\d{1,9}[.)]")
# So many columns further in begin a level (CommonMark takes two, Python-Markdown four).
_COLUMNS_A_LEVEL = 4
_BRACKET, _FOOTNOTE = re.compile(r"\["), re.compile(r"\[\^")
_SPLIT = "Part it with blank lines."


def level_of(line: str) -> int:
    """How many lists and quotations a line stands in, at the most, by how it is set in."""
    set_in = _SET_IN.match(line)
    if set_in is None:
        return 0
    begin = set_in[0]
    # Behind a mark stands one blank at least, which sets in no further.
    marks = len(_MARK.findall(begin))
    blanks = begin[: len(begin) - len(begin.lstrip(" \t"))].expandtabs(_COLUMNS_A_LEVEL)
    return marks + len(blanks) // _COLUMNS_A_LEVEL


def deepest_line(text: str) -> tuple[int, int]:
    """The line that stands in the most lists and quotations: its number, from 0, and its level."""
    levels = list(map(level_of, text.split("\n")))
    return levels.index(max(levels)), max(levels)


def prose_problems(body: str, path: str, first_line: int) -> Iterator[Problem]:
    """Yield a problem for each bound that a text is beyond, at the place where it is passed.

    ``first_line`` is the line of the file ``path`` that ``body`` begins on.
    """
    lines = LineIndex(body, path, first_line)
    yield from _too_many(body, lines)
    for block in _BLOCK.finditer(body):
        for sign, most, of in (
            (_BRACKET, MOST_BRACKETS, "brackets ["), (_HEADING, MOST_HEADINGS, "headings or rules")
        ):  # fmt: skip
            at = _nth(sign, block[0], most)
            if at is not None:
                what = f"more than {most} {of} stand in one block"
                yield Problem(lines.position(block.start() + at), what, _SPLIT)
        size = len(block[0].encode())
        if size > LARGEST_BLOCK_BYTES:
            what = f"the block has {size // 1000} kB without a blank line"
            yield Problem(lines.position(block.start()), what, _SPLIT)
    deepest, level = deepest_line(body)
    if level > DEEPEST_LEVEL:
        what = f"the line stands in {level} lists or quotations, one within the other"
        yield Problem(
            Position(path, first_line + deepest), what, f"Use {DEEPEST_LEVEL} at the most."
        )


def _too_many(body: str, lines: LineIndex) -> Iterator[Problem]:
    """Yield a problem for brackets, and for footnotes, of which a write-up has too many."""
    for sign, most, of in (
        (_BRACKET, MOST_BRACKETS_IN_ALL, "brackets ["), (_FOOTNOTE, MOST_FOOTNOTES, "footnotes")
    ):  # fmt: skip
        at = _nth(sign, body, most)
        if at is not None:
            hint = "Leave some out, or write a second page."
            yield Problem(lines.position(at), f"more than {most:,} {of} stand in the text", hint)


def _nth(sign: re.Pattern[str], text: str, most: int) -> int | None:
    """The offset of the first sign beyond so many; None if there are no more."""
    beyond = next(islice(sign.finditer(text), most, None), None)
    return None if beyond is None else beyond.start()
