"""The first page: what was poured last, what is kept, what is still open."""

from __future__ import annotations

from journal.pages.book import Book
from journal.pages.parts import Page
from journal.pages.sheet import Sheet


def front_sheets(book: Book) -> tuple[Sheet, ...]:
    """The first page of the notebook."""
    here = book.places.fixed("front")
    return (
        book.shown_sheet(
            here, "front.html", Page(book.frame(here), book.settings.studio, (), folio=here.folio)
        ),
    )
