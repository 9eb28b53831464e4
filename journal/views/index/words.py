"""The words of the index: splitting a text, words too common to search by, spellings.

The script that searches the index splits what is typed in the same way.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import yaml

# Every stem has at least so many letters.
_STEM_LETTERS: Final = 4
# Letters and figures in a row are a word: "sea-grey" is two words, "2025" is one.
_WORD = re.compile(r"[^\W_]+")
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f]")


@lru_cache(maxsize=1)
def _data() -> Any:
    """The lists of ``words.yaml``, every scalar as text."""
    loader = yaml.CBaseLoader if yaml.__with_libyaml__ else yaml.BaseLoader
    return yaml.load(Path(__file__).with_suffix(".yaml").read_bytes(), loader)


@lru_cache(maxsize=1)
def common() -> frozenset[str]:
    """Words too common to search by, such as articles."""
    return frozenset(_data()["common"].split())


@lru_cache(maxsize=1)
def spelt() -> tuple[tuple[str, str], ...]:
    """Pairs of the American and the British spelling of a stem."""
    return tuple(_data()["spelt"].items())


@lru_cache(maxsize=1)
def _endings() -> frozenset[str]:
    """The endings that may follow a stem, among them the empty one."""
    return frozenset(("", *_data()["endings"].split()))


def folded(text: str) -> str:
    """The text in lower case without accents; it keeps its number of characters."""
    if _BEYOND_ASCII.search(text):
        text = _BEYOND_ASCII.sub(lambda sign: unicodedata.normalize("NFD", sign[0])[0], text)
    return text.lower()


def words_of(text: str) -> set[str]:
    """The folded words of a text that can be searched for: no single letters, no common words."""
    return {word for word in _WORD.findall(folded(text)) if len(word) > 1} - common()


@lru_cache(maxsize=16384)
def spellings(word: str) -> tuple[str, ...]:
    """A folded word in each of its spellings, American and British; mostly just the word."""
    both = {word}
    for stem, other in _stem_spellings().get(word[:_STEM_LETTERS], ()):
        ending = word[len(stem) :]
        if not word.startswith(stem) or ending not in _endings():
            continue
        # "glycerine" begins with "glycerin", and is spelt in the other way already.
        if not (other.startswith(stem) and word.startswith(other)):
            both.add(other + ending)
    return tuple(sorted(both))


@lru_cache(maxsize=1)
def _stem_spellings() -> dict[str, list[tuple[str, str]]]:
    """Pairs of a stem and its other spelling, by the stem's first ``_STEM_LETTERS`` letters."""
    stems: dict[str, list[tuple[str, str]]] = {}
    for pair in spelt():
        for stem, other in (pair, pair[::-1]):
            stems.setdefault(stem[:_STEM_LETTERS], []).append((stem, other))
    return stems
