"""Every file of a notebook, laid out in one go."""

from __future__ import annotations

from journal.views.notebook import groups_of, other_sheets
from journal.views.shared.book import Book
from journal.views.shared.inputs import restrict_to_inputs
from journal.views.shared.places import Sheet


def all_sheets(book: Book) -> tuple[Sheet, ...]:
    """Pages, photos, and what the theme needs beside them; each page from its inputs alone."""
    pages = tuple(
        sheet
        for group in groups_of(book)
        for sheet in group.lay_out(restrict_to_inputs(book, group.inputs))
    )
    return (*pages, *other_sheets(book, [sheet.path for sheet in pages]))
