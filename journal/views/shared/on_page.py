"""One page of the notebook, and the links that lead from it to others."""

from __future__ import annotations

from msgspec import Struct

from journal.html.blocks import TextRun
from journal.views.shared.book import Book
from journal.views.shared.places import Address, href, span, thing_span
from journal.views.shared.words import UnitFormatter


class PageContext(Struct, frozen=True):
    """The page ``here`` of a book, for the functions that lay it out."""

    book: Book
    here: Address

    @property
    def units(self) -> UnitFormatter:
        """The formatter for figures in the studio's units."""
        return self.book.units

    def thing(self, kind: str, name: str, text: str = "") -> TextRun:
        """A thing on the shelf as text: its name or ``text``, linked to its page if it has one."""
        return thing_span(self.book.places, self.here, kind, name, text)

    def design_link(self, name: str, text: str = "", fragment: str = "") -> TextRun:
        """A link to a design's page, showing its title or ``text``."""
        return span(self.here, self.book.places.designs[name], text, fragment)

    def how(self, method: str) -> str:
        """The link to the explanation of a method, on the page of methods."""
        return href(self.here, self.book.places.fixed("how"), method)
