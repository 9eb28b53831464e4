"""The phrases of the recipe cards and of the cautions, in English or in Spanish.

They stand in ``phrases.yaml``. What the maker wrote, and the names of things, stand as they are
written in every language. Numbers and units are the same in all, with a point before decimals.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Final, Literal

from msgspec import Struct

from journal.pages.data import read_data
from journal.pages.leaf import Amount, CardWords, Word
from journal.pages.parts import Span

Language = Literal["en", "es"]
LANGUAGES: Final[tuple[Language, ...]] = ("en", "es")
#: How each is named on a page, and to a browser.
CODES: Final[Mapping[Language, str]] = {"en": "en-GB", "es": "es"}

_PLACE: Final = re.compile(r"\{(\w+)\}")


def phrases() -> Mapping[str, Mapping[Language, str]]:
    """Every phrase by its key, in each language."""
    found: Mapping[str, Mapping[Language, str]] = read_data("phrases.yaml")
    return found


class Catalogue(Struct, frozen=True):
    """The phrases in one language."""

    language: Language = "en"

    def text(self, phrase: str, **values: object) -> str:
        """A phrase of ``phrases.yaml`` as plain text, its places filled by name.

        Fails:  KeyError for a phrase that there is not, or a place that is left open
        """
        parts = _parts(phrase, self.language)
        if len(parts) == 1:
            return parts[0]
        return "".join(
            [str(values[part]) if number % 2 else part for number, part in enumerate(parts)]
        )

    def words(self, phrase: str, **values: Word | CardWords) -> CardWords:
        """As ``text``, but in words of which some have a weight or a figure of their own.

        Each place takes a word, or several. Texts that meet become one.
        """
        parts = _parts(phrase, self.language)
        found: list[Word] = []
        for number, part in enumerate(parts):
            value = values[part] if number % 2 else part
            for word in (value,) if isinstance(value, str | Span | Amount) else value:
                if isinstance(word, str) and found and isinstance(found[-1], str):
                    found[-1] += word
                elif word:
                    found.append(word)
        return tuple(found)

    def several(self, number: int, phrase: str, **values: object) -> str:
        """A phrase that is said otherwise of one: ``phrase.one`` or ``phrase.more``."""
        return self.text(f"{phrase}.{'one' if number == 1 else 'more'}", n=number, **values)

    def bars(self, number: int) -> str:
        """``6 bars``, on one line."""
        return self.several(number, "bars")

    def points(self, phrase: str) -> Iterator[str]:
        """The phrases ``phrase.1``, ``phrase.2`` and so on."""
        number = 1
        while f"{phrase}.{number}" in phrases():
            yield self.text(f"{phrase}.{number}")
            number += 1

    def symptom(self, what: str) -> str:
        """A symptom: a built-in one in this language, the studio's own as it is written."""
        return self.text(f"symptom.{what}") if f"symptom.{what}" in phrases() else what

    def units(self, shown: str) -> str:
        """A shown figure, its unit in this language; symbols are the same in all."""
        number, space, unit = shown.rpartition("\u00a0")
        if f"unit.{unit}" in phrases():
            return number + space + self.text(f"unit.{unit}")
        return shown

    def listed(self, names: tuple[str, ...]) -> str:
        """``a``, ``a and b``, ``a, b and c``."""
        if len(names) < 2:
            return "".join(names)
        return self.text("and", names=", ".join(names[:-1]), last=names[-1])


@lru_cache(maxsize=1024)
def _parts(phrase: str, language: Language) -> tuple[str, ...]:
    """A phrase taken apart: its text, and at every second place the name of what stands there."""
    return tuple(_PLACE.split(phrases()[phrase][language]))


ENGLISH: Final = Catalogue("en")


def catalogue_of(language: str) -> Catalogue:
    """The phrases in a language of ``LANGUAGES``; ValueError for another."""
    return Catalogue(LANGUAGES[LANGUAGES.index(language)])
