"""The words of the index: how a text is split, which words are too common, which are one word.

The script that narrows the index splits what is typed in the same way.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import yaml

# So many first letters every stem has at least.
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
    """Small words that stand on nearly every page, and so tell no page from another."""
    return frozenset(_data()["common"].split())


@lru_cache(maxsize=1)
def spelt() -> tuple[tuple[str, str], ...]:
    """Stems of the trade's words in American and in British spelling."""
    return tuple(_data()["spelt"].items())


@lru_cache(maxsize=1)
def _endings() -> frozenset[str]:
    """What may follow a stem; nothing may as well."""
    return frozenset(("", *_data()["endings"].split()))


def folded(text: str) -> str:
    """``text`` in small letters without accents; every character keeps its number."""
    if _BEYOND_ASCII.search(text):
        text = _BEYOND_ASCII.sub(lambda sign: unicodedata.normalize("NFD", sign[0])[0], text)
    return text.lower()


def words_of(text: str) -> set[str]:
    """The words of a text that may be looked for, folded."""
    return {word for word in _WORD.findall(folded(text)) if len(word) > 1} - common()


@lru_cache(maxsize=16384)
def spellings(word: str) -> tuple[str, ...]:
    """A folded word in its American and its British spelling; mostly the word alone."""
    both = {word}
    for stem, other in _both_ways().get(word[:_STEM_LETTERS], ()):
        ending = word[len(stem) :]
        if not word.startswith(stem) or ending not in _endings():
            continue
        # "glycerine" begins with "glycerin", and is spelt in the other way already.
        if not (other.startswith(stem) and word.startswith(other)):
            both.add(other + ending)
    return tuple(sorted(both))


@lru_cache(maxsize=1)
def _both_ways() -> dict[str, list[tuple[str, str]]]:
    """Each stem with its other spelling, by its first letters."""
    stems: dict[str, list[tuple[str, str]]] = {}
    for pair in spelt():
        for stem, other in (pair, pair[::-1]):
            stems.setdefault(stem[:_STEM_LETTERS], []).append((stem, other))
    return stems
