"""The phrases of the recipe cards and of the page of cautions: one table a language.

``phrases/en.toml`` and ``phrases/es.toml`` have the same keys. A phrase has places in braces,
which are filled with texts, or with words that have a weight or a figure of their own: so
the order of a sentence is the language's. What stands between two ``**`` is set bold. What
the maker wrote, and the names of things, stand as they are written in every language, but for
the usual steps (``usual_steps.toml``) and what the maker gave in several languages.
Numbers and units are the same in all, with a point before decimals.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Final, NamedTuple

from msgspec import Struct

from journal.html.blocks import TextRun, Tone, Words
from journal.html.card_page import CardWord, CardWords
from journal.records.models.own_words import text_in
from journal.records.models.settings import LANGUAGES

FOLDER: Final = Path(__file__).resolve().parent / "phrases"
_MARKS: Final = re.compile(r"(\*\*|\{\w+\})")
# The places of phrases that hold a name or a text of the maker's.
_NAMES: Final = frozenset({"aim", "base", "colour", "layer", "name", "oil", "pot"})
_UNIT: Final = re.compile(r"[^\W\d_]+")


class _Piece(NamedTuple):
    """A piece of a phrase: text, or (if ``place``) the name of the value to fill in."""

    text: str
    place: bool
    strong: bool


@lru_cache(maxsize=len(LANGUAGES))
def phrases_of(language: str) -> Mapping[str, str]:
    """The phrases of a language by key, with their braces and asterisks."""
    return tomllib.loads((FOLDER / f"{language}.toml").read_text("utf-8"))


@lru_cache(maxsize=1)
def _usual_steps() -> Mapping[str, Mapping[str, str]]:
    return tomllib.loads((FOLDER.parent / "usual_steps.toml").read_text("utf-8"))


def _usual_step(text: str, language: str) -> str:
    """A step of usual words in another language; "" if a part between its commas is not usual."""
    known = _usual_steps().get(language, {})
    parts = [known.get(part.strip(), "") for part in text.strip().rstrip(".").lower().split(",")]
    return ", ".join(parts) if all(parts) else ""


@lru_cache(maxsize=1024)
def _pieces(phrase: str, language: str) -> tuple[_Piece, ...]:
    """Split a phrase of a language at its places and marks of bold."""
    strong, pieces = False, list[_Piece]()
    for part in _MARKS.split(phrases_of(language)[phrase]):
        if part == "**":
            strong = not strong
        elif part:
            pieces.append(_Piece(part.strip("{}"), part.startswith("{"), strong))
    return tuple(pieces)


class PhraseCatalogue(Struct, frozen=True):
    """The phrases in one language; ``own`` is that in which the maker writes names and texts."""

    language: str = "en"
    own: str = "en"

    @property
    def names_code(self) -> str:
        """The code of the language of names, where it is not that of the phrases; else ""."""
        return "" if self.own == self.language else phrases_of(self.own)["code"]

    def text(self, phrase: str, **values: object) -> str:
        """A phrase as plain text.

        Takes:  phrase  a key of the table
                values  what to fill into its places, by name
        Gives:  the text
        Fails:  KeyError for an unknown phrase or a missing value
        """
        pieces = _pieces(phrase, self.language)
        return "".join([str(values[one.text]) if one.place else one.text for one in pieces])

    def phrase(self, name: str) -> str:
        """A phrase with its places still in their braces."""
        return phrases_of(self.language)[name]

    def words(self, phrase: str, **values: CardWord | CardWords) -> CardWords:
        """A phrase as words, of which some have a weight or a figure of their own.

        Takes:  phrase  a key of the table
                values  a word, or several, for each of its places
        Gives:  the words in the language's order; texts that meet in one weight are one
        Fails:  as ``text``
        """
        joined: list[CardWord] = []
        for piece in _pieces(phrase, self.language):
            value = values[piece.text] if piece.place else piece.text
            if piece.place and piece.text in _NAMES and isinstance(value, str) and self.names_code:
                tone: Tone = "strong" if piece.strong else ""
                value = TextRun(value, tone, language=self.names_code)
            parts: CardWords = (value,) if isinstance(value, str | TextRun) else value  # type: ignore[assignment]
            for word in parts:
                last = joined[-1] if joined else None
                if isinstance(word, str) and piece.strong:
                    if isinstance(last, TextRun) and last.tone == "strong":
                        joined[-1] = TextRun(last.text + word, "strong")
                    else:
                        joined.append(TextRun(word, "strong"))
                elif isinstance(word, str) and isinstance(last, str):
                    joined[-1] = last + word
                elif word:
                    joined.append(word)
        return tuple(joined)

    def several(self, number: int, phrase: str, **values: object) -> str:
        """The form of a phrase for a number: ``phrase.one`` for 1, otherwise ``phrase.more``."""
        return self.text(f"{phrase}.{'one' if number == 1 else 'more'}", n=number, **values)

    def bars(self, number: int) -> str:
        """A number of bars, on one line: ``6 bars``."""
        return self.several(number, "bars")

    def beside(self, second: CardWords) -> CardWords:
        """An amount in the second system, in brackets; empty if ``second`` is empty."""
        return self.words("beside", second=second) if second else ()

    def points(self, phrase: str) -> Iterator[str]:
        """Yield the phrases ``phrase.1``, ``phrase.2`` and so on, as many as there are."""
        number = 1
        while f"{phrase}.{number}" in phrases_of(self.language):
            yield self.text(f"{phrase}.{number}")
            number += 1

    def own_words(self, text: str) -> CardWord:
        """A maker's text in this language: as it was given in it, else of the usual steps.

        What is in neither stands as it was written, marked with its language.
        """
        said, language = text_in(text, self.language)
        if language is None or language != self.language:
            usual = _usual_step(said, self.language)
            if usual:
                return usual
        language = language or self.own
        if language == self.language:
            return said.strip()
        return TextRun(said.strip(), language=phrases_of(language)["code"])

    def symptom(self, what: str) -> str:
        """A symptom: a built-in one in this language, the studio's own as it is written."""
        return phrases_of(self.language).get(f"symptom.{what}", what)

    def units(self, shown: str) -> str:
        """A figure such as ``3 oz`` with its units in this language; most symbols are the same."""
        known = phrases_of(self.language)
        return _UNIT.sub(lambda unit: known.get(f"unit.{unit[0]}", unit[0]), shown)

    def listed(self, names: tuple[str, ...]) -> str:
        """Names as a list: ``a``, ``a and b``, ``a, b and c``."""
        if len(names) < 2:
            return "".join(names)
        return self.text("and", names=", ".join(names[:-1]), last=names[-1])

    def listed_words(self, parts: Sequence[CardWords]) -> CardWords:
        """Words as a list, as ``listed`` has names."""
        if len(parts) < 2:
            return parts[0] if parts else ()
        names = [word for one in parts[:-1] for word in (*one, ", ")][:-1]
        return self.words("and", names=tuple(names), last=parts[-1])

    def named(self, name: str) -> Words:
        """A name as the maker wrote it, marked with its language where that is another."""
        return (TextRun(name, language=self.names_code) if self.names_code else name,)


ENGLISH: Final = PhraseCatalogue("en")


def catalogue_of(language: str, own: str = "en") -> PhraseCatalogue:
    """The phrases in one of ``LANGUAGES``; ValueError for any other language."""
    return PhraseCatalogue(LANGUAGES[LANGUAGES.index(language)], own)
