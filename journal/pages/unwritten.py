"""Pages that are linked and have no words of their own yet: a title within the frame."""

from __future__ import annotations

from collections.abc import Iterable

from journal.pages.book import Book
from journal.pages.parts import Page
from journal.pages.places import fixed_places
from journal.pages.sheet import Sheet


def unwritten_sheets(book: Book, written: Iterable[Sheet]) -> tuple[Sheet, ...]:
    """A bare page for each place that no other page stands at, so that no link is dead."""
    taken = {sheet.path for sheet in written}
    places = book.places
    every = (
        *fixed_places(public=book.edition == "public"),
        *places.things.values(),
        *places.compared.values(),
        *places.cards.values(),
    )
    return tuple(
        book.shown_sheet(
            place, "page.html", Page(book.frame(place), place.title, (), folio=place.folio)
        )
        for place in every
        if place.path not in taken
    )
