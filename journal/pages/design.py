"""The page of a design."""

from __future__ import annotations

from journal.pages.book import Book
from journal.pages.parts import Page
from journal.pages.sheet import Sheet


def design_sheets(book: Book) -> tuple[Sheet, ...]:
    """A page a design."""
    return tuple(
        book.shown_sheet(
            place,
            "design.html",
            Page(book.frame(place), place.title, (), folio=place.folio),
        )
        for place in book.places.designs.values()
    )
