"""The words of the index: how a text is taken apart, which words tell nothing, which are one word.

The script that narrows the index takes apart what is typed in the same way.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from typing import Final

# Letters and figures in a row are a word: "sea-grey" is two words, "2025" is one.
_WORD = re.compile(r"[^\W_]+")
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f]")

# Which words stand on nearly every page, and so tell no page from another? Our own list of
# small words of English.
COMMON: Final = frozenset(
    [
        "a",
        "about",
        "after",
        "all",
        "also",
        "an",
        "and",
        "any",
        "are",
        "as",
        "at",
        "be",
        "been",
        "but",
        "by",
        "can",
        "could",
        "did",
        "do",
        "does",
        "each",
        "for",
        "from",
        "had",
        "has",
        "have",
        "he",
        "her",
        "his",
        "how",
        "if",
        "in",
        "into",
        "is",
        "it",
        "its",
        "just",
        "may",
        "more",
        "most",
        "no",
        "not",
        "of",
        "off",
        "on",
        "only",
        "or",
        "other",
        "our",
        "out",
        "over",
        "own",
        "per",
        "said",
        "same",
        "she",
        "should",
        "so",
        "some",
        "such",
        "than",
        "that",
        "the",
        "their",
        "them",
        "then",
        "there",
        "these",
        "they",
        "this",
        "those",
        "to",
        "too",
        "under",
        "up",
        "upon",
        "very",
        "was",
        "we",
        "were",
        "what",
        "when",
        "where",
        "which",
        "while",
        "who",
        "will",
        "with",
        "would",
        "you",
        "your",
    ]
)

# How are the trade's words spelt in America, and how here? Stems, with the endings below.
SPELT: Final[tuple[tuple[str, str], ...]] = (
    ("aluminum", "aluminium"),
    ("analyz", "analys"),
    ("behavior", "behaviour"),
    ("bevele", "bevelle"),
    ("beveli", "bevelli"),
    ("caliper", "calliper"),
    ("catalog", "catalogue"),
    ("center", "centre"),
    ("centered", "centred"),
    ("centering", "centring"),
    ("centimeter", "centimetre"),
    ("channele", "channelle"),
    ("channeli", "channelli"),
    ("chisele", "chiselle"),
    ("chiseli", "chiselli"),
    ("color", "colour"),
    ("cozy", "cosy"),
    ("crystalliz", "crystallis"),
    ("deodoriz", "deodoris"),
    ("discolor", "discolour"),
    ("favorite", "favourite"),
    ("fiber", "fibre"),
    ("flavor", "flavour"),
    ("glycerin", "glycerine"),
    ("gray", "grey"),
    ("hematite", "haematite"),
    ("honor", "honour"),
    ("jewelry", "jewellery"),
    ("labele", "labelle"),
    ("labeli", "labelli"),
    ("labor", "labour"),
    ("levele", "levelle"),
    ("leveli", "levelli"),
    ("liter", "litre"),
    ("luster", "lustre"),
    ("marvele", "marvelle"),
    ("marveli", "marvelli"),
    ("meter", "metre"),
    ("milliliter", "millilitre"),
    ("millimeter", "millimetre"),
    ("modele", "modelle"),
    ("modeli", "modelli"),
    ("mold", "mould"),
    ("neutraliz", "neutralis"),
    ("ocher", "ochre"),
    ("odor", "odour"),
    ("organiz", "organis"),
    ("oxidiz", "oxidis"),
    ("pearliz", "pearlis"),
    ("polymeriz", "polymeris"),
    ("pulveriz", "pulveris"),
    ("recogniz", "recognis"),
    ("stabiliz", "stabilis"),
    ("sulfat", "sulphat"),
    ("sulfit", "sulphit"),
    ("sulfosuccinat", "sulphosuccinat"),
    ("sulfur", "sulphur"),
    ("summariz", "summaris"),
    ("theater", "theatre"),
    ("unmold", "unmould"),
    ("vapor", "vapour"),
)
_ENDINGS: Final = frozenset(
    (
        *("", "s", "e", "es", "ed", "er", "ers", "ing", "ings", "ish", "ant", "ants", "less"),
        *("ful", "d", "r", "rs", "ng", "ngs"),
    )
)


def folded(text: str) -> str:
    """``text`` in small letters without accents; every character keeps its number."""
    if _BEYOND_ASCII.search(text):
        text = _BEYOND_ASCII.sub(lambda found: unicodedata.normalize("NFD", found[0])[0], text)
    return text.lower()


def words_of(text: str) -> set[str]:
    """The words of a text that may be looked for, folded."""
    found = set(_WORD.findall(folded(text))) - COMMON
    return {word for word in found if len(word) > 1}


@lru_cache(maxsize=16384)
def spellings(word: str) -> tuple[str, ...]:
    """A folded word in its American and its British spelling; mostly the word alone."""
    found = {word}
    for here, there in _BOTH_WAYS.get(word[:_BEGUN], ()):
        ending = word[len(here) :]
        if not word.startswith(here) or ending not in _ENDINGS:
            continue
        # "glycerine" begins with "glycerin", and is spelt in the other way already.
        if not (there.startswith(here) and word.startswith(there)):
            found.add(there + ending)
    return tuple(sorted(found))


def _both_ways(pairs: Iterable[tuple[str, str]]) -> dict[str, list[tuple[str, str]]]:
    """Each stem with its other spelling, by its first letters."""
    found: dict[str, list[tuple[str, str]]] = {}
    for american, british in pairs:
        for here, there in ((american, british), (british, american)):
            found.setdefault(here[:_BEGUN], []).append((here, there))
    return found


# No stem is shorter.
_BEGUN: Final = 4
_BOTH_WAYS: Final = _both_ways(SPELT)
