"""The page "How we worked it out"."""

from __future__ import annotations

from functools import partial

from journal.figures.common.spec import MethodText
from journal.html.blocks import Definition, Formula, Link, Page, Passage, Section, Words
from journal.views.lists.how_needs import needs_part
from journal.views.lists.methods import CHAPTERS_OF_METHODS
from journal.views.shared.book import Book
from journal.views.shared.paper_places import PHOTO_CARD, has_sheets
from journal.views.shared.places import POTS, Address, Sheet, span


def how_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "How we worked it out"."""
    here = book.places.fixed("how")
    return (book.sheet(here, "how.html", partial(how_page, book, here)),)


def how_page(book: Book, here: Address) -> Page:
    """The page of all methods, chapter by chapter, then of the keys that figures need."""
    parts = []
    for name, methods in CHAPTERS_OF_METHODS:
        passages = tuple(Passage((_formula_block(method),)) for method in methods)
        parts.append(Section(f"g-{name.split()[0].lower()}", name, passages))
    parts.append(needs_part())
    return book.page(
        here,
        parts,
        standfirst=(
            "Every figure is counted, measured, computed, or a model's estimate, and says which."
            " Here is how each is made. How fast every pot cooled: ",
            span(here, POTS),
            ".",
            *_photo_card_sentence(book, here),
        ),
        on_page=tuple(Link(part.head, f"#{part.anchor}") for part in parts),
        about="The formula, source and assumptions of every figure.",
    )


def _photo_card_sentence(book: Book, here: Address) -> Words:
    """A sentence that links to the photo card; empty in editions without printed sheets."""
    if not has_sheets(book):
        return ()
    return (" To measure a photo well, have the ", span(here, PHOTO_CARD, "photo card"),
            " in it.")  # fmt: skip


def _formula_block(method: MethodText) -> Formula:
    facts = tuple(Definition(name, ((says,),)) for name, says in method.facts.items())
    return Formula(
        method.name, method.anchor, method.plain, method.formula, ((method.says,),), facts
    )
