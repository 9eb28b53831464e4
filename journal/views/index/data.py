"""The JavaScript data that the index is searched by: words and the pages that contain them.

A page that is opened from a folder may fetch nothing, but may load scripts; so the
data are scripts that set one value each. One part holds at most ``PART_SIZE`` pages
and nothing of any other: what changes on one page changes one part.

    bookParts   in index/all.js     the names of the parts, the common words, the spellings
    bookIndex   in index/NAME.js    a part: its pages, its words, the pages of each word
    bookWords   in index/PAGE.js    a design's own words, to quote from; what is not a
                                    design has them in index/NAME-words.js

The words of a part are sorted; each is written as a capital for the number of letters
that it shares with the word before (A is none) and the letters that follow. The pages
of a word are written as one letter a page, or as ``MAP_SIZE`` letters of six pages
each where that is shorter.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Final

from journal.views.index.texts import IndexEntry
from journal.views.index.words import common, spellings, spelt, words_of

FOLDER: Final = "index"
PART_SIZE: Final = 64
LETTERS: Final = "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ-_"
MAP_SIZE: Final = -(-PART_SIZE // 6)
# At most so many shared letters are counted: there are 26 capitals.
MOST_SHARED: Final = 25
_CAPITALS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def data_path(name: str) -> str:
    """The path, from the notebook's root, of the data script with this name."""
    return f"{FOLDER}/{name}.js"


def words_name(part: str, entry: IndexEntry) -> str:
    """The name of the script that holds a page's own texts: its own, or one for the whole part."""
    return entry.href.removesuffix(".html") if entry.own_words else f"{part}-words"


def all_script(names: Sequence[str]) -> bytes:
    """The script that lists the ``names`` of all parts, the common words and the spellings."""
    parts = {
        "parts": " ".join(names),
        "common": " ".join(sorted(common())),
        "spelt": " ".join(f"{american}:{british}" for american, british in spelt()),
    }
    return f"window.bookParts={_compact_json(parts)};\n".encode()


def part_script(name: str, entries: Sequence[IndexEntry]) -> bytes:
    """The script of one part: its pages (at most ``PART_SIZE``), its words, each word's pages."""
    pages_of: dict[str, list[int]] = {}
    for number, entry in enumerate(entries):
        for word in words_in(entry):
            pages_of.setdefault(word, []).append(number)
    words = sorted(pages_of)
    kinds = sorted({entry.kind for entry in entries})
    pages = "\n".join(
        f"{entry.href}\t{entry.title}\t{entry.number}\t{kinds.index(entry.kind)}\t{entry.when}"
        for entry in entries
    )
    encoded = " ".join(encode_pages(pages_of[word]) for word in words)
    part = [kinds, pages, front_coded(words), encoded]
    return f'(window.bookIndex=window.bookIndex||{{}})["{name}"]={_compact_json(part)};\n'.encode()


def words_script(name: str, entries: Iterable[IndexEntry]) -> bytes:
    """The script with the texts of some pages, each text with its anchor, to quote from."""
    texts = {entry.href: [list(text) for text in entry.texts] for entry in entries}
    return f'(window.bookWords=window.bookWords||{{}})["{name}"]={_compact_json(texts)};\n'.encode()


def words_in(entry: IndexEntry) -> set[str]:
    """Every word that a page is found by, in each of its spellings."""
    texts = (entry.title, entry.kind, entry.when, *(text for _, text in entry.texts))
    return {spelling for word in words_of(" ".join(texts)) for spelling in spellings(word)}


def front_coded(words: Iterable[str]) -> str:
    """Sorted words, each without the letters that it shares with the word before.

    The number of shared letters is written as a capital before the rest: A is none, B is one.
    """
    coded: list[str] = []
    before = ""
    for word in words:
        shared = 0
        for letter, above in zip(word, before[:MOST_SHARED], strict=False):
            if letter != above:
                break
            shared += 1
        coded.append(_CAPITALS[shared] + word[shared:])
        before = word
    return "".join(coded)


def encode_pages(numbers: Sequence[int]) -> str:
    """Sorted page numbers, each below ``PART_SIZE``, as letters.

    Few numbers are written as one letter each, many as a bitmap of six pages to a letter.
    """
    if len(numbers) < MAP_SIZE:
        return "".join([LETTERS[number] for number in numbers])
    sixes = [0] * MAP_SIZE
    for number in numbers:
        sixes[number // 6] |= 1 << number % 6
    return "".join(LETTERS[six] for six in sixes)


def _compact_json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
