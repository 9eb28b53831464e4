"""The context of a design's page; quantities and lists as text runs."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from journal.comparison.derive import DesignResults
from journal.figures.common.result import Figure, FigureKind
from journal.figures.derive import DesignFigures
from journal.html.blocks import SideNote, TextRun, Words
from journal.records.models.things import things_of
from journal.records.models.write_up import Design, Photo, variant_words
from journal.views.shared.book import Book
from journal.views.shared.on_page import PageContext
from journal.views.shared.photos import PagePhoto, ready_photo
from journal.views.shared.places import Address, span
from journal.views.shared.words import NO_BREAK, variants_text

# The words under a figure that say how it was obtained.
KIND_NAMES: Mapping[FigureKind, str] = {
    "counted": "Counted",
    "measured": "Measured",
    "computed": "Computed",
    "estimate": "A model's estimate",
}
# A range has a dash; a day such as 2026-04-18 keeps its hyphens.
_BETWEEN_DIGITS = re.compile(r"(\b\d{4}-\d\d-\d\d\b)|(?<=\d)-(?=\d)")
# Where an input's name has an id of the shelf: "limit of rose", "fragrance that milk takes".
_THING_IN_NAME = re.compile(r"\b((?:of|that) )([a-z0-9-]+)")
_FRACTIONS = tuple(
    (re.compile(rf"(?:(?<=\d) |(?<![\d/])){plain}(?![\d/])"), sign)
    for plain, sign in (("1/4", "¼"), ("1/2", "½"), ("3/4", "¾"))
)
_DEGREES_WITHOUT_SIGN = re.compile(r"(?<=\d )([FC])\b")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=[A-Za-z°%])")


class DesignContext(PageContext, frozen=True):
    """One design with its figures, for the sections of its page.

    ``figures`` is None for a design that names things which are not on the shelf:
    its page then shows the record alone.
    """

    design: Design
    figures: DesignFigures | None
    results: DesignResults | None

    @property
    def known_figures(self) -> DesignFigures:
        """The figures, for sections that are built only where there are figures."""
        assert self.figures is not None
        return self.figures

    def at(self, low_c: float, high_c: float | None = None) -> str:
        """A temperature or a window in the studio's own scale: ``131 °F``, ``122–132 °F``."""
        if high_c is None:
            return self.units.temperature(low_c).first
        return self.units.temperatures(low_c, high_c).first

    def photo(self, photo: Photo) -> PagePhoto | None:
        """The photo that an entry of the write-up names; None if it cannot be shown."""
        return ready_photo(self.book.photos, self.design.path, photo.file)

    def note(
        self,
        figure: Figure[Any],
        *says: Words,
        big: str = "",
        mind: bool = False,
        inputs: bool = True,
        forecast: bool = False,
    ) -> SideNote:
        """A side note: a value set large (``big``), sentences, and how ``figure`` was obtained.

        ``mind`` marks it as a warning; ``inputs`` adds what the figure was worked out from;
        a ``forecast`` is not called measured, whatever it was made from.
        """
        from_inputs = self.inputs_text(figure) if inputs else ""
        kind = "A forecast" if forecast else KIND_NAMES[figure.kind]
        how = self.how(figure.method)
        return SideNote(big, says, kind, from_inputs, how, mind=mind)

    def inputs_text(self, figure: Figure[Any]) -> str:
        """The inputs of a figure: "from the fill: 3.6–3.8 oz; …"; "" if it has none to show."""
        names = {name: kind for kind, name in things_of([self.design.recipe], ())}

        def title(found: re.Match[str]) -> str:
            """An id of the shelf by its name there."""
            kind = names.get(found[2])
            return found[0] if kind is None else found[1] + self.thing(kind, found[2]).text

        inputs = [
            f"{_THING_IN_NAME.sub(title, entry.name.replace('_', ' '))}:"
            f" {typeset_quantity(entry.text)}"
            for entry in figure.inputs
            if entry.text and not entry.name.startswith("amount of")
        ]
        return f"from {'; '.join(inputs)}" if inputs else ""

    def variant_title(self, name: str) -> str:
        """What a variant is called; "" for the recipe as it was written."""
        return variant_words(name)

    def variants_text(self, names: Sequence[str]) -> str:
        """What some variants of the design are called, as a list."""
        return variants_text(names, [variant.name for variant in self.design.variants])


# Amounts are written alike in many recipes.
@lru_cache(maxsize=4096)
def typeset_quantity(text: str) -> str:
    """A written quantity as it is printed: ``3.6-3.8 oz`` is ``3.6–3.8 oz``, on one line."""
    for plain, sign in _FRACTIONS:
        text = plain.sub(sign, text)
    text = _DEGREES_WITHOUT_SIGN.sub(r"°\1", _BETWEEN_DIGITS.sub(lambda m: m[1] or "–", text))
    return _BEFORE_UNIT.sub(NO_BREAK, text)


def uncounted_words(book: Book, here: Address) -> Words:
    """What a page that counts designs says of those that could not be read; or no words.

    It begins with a space, to follow another sentence.
    """
    faulty: list[Words] = [(span(here, at),) for at in book.places.faulty_designs]
    if not faulty:
        return ()
    verb, each = ("is", "it") if len(faulty) == 1 else ("are", "each")
    return (" ", *joined_runs(faulty), f" {verb} not counted: there is a mistake in {each}.")


def joined_runs(parts: list[Words], last: str = "and") -> Words:
    """Text runs joined as a list: ``a, b and c``."""
    joined: list[TextRun | str] = []
    for number, words in enumerate(parts):
        if number:
            joined.append(f" {last} " if number == len(parts) - 1 else ", ")
        joined.extend(words)
    return tuple(joined)
