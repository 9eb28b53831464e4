"""The shelf: what is on it, kind by kind."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from journal.html.blocks import Heading, Link, Page, PageCell, PageTable, Passage, RowGroup, Section
from journal.records.models.shelf import KINDS
from journal.views.shared.book import Book
from journal.views.shared.places import Address, span
from journal.views.shared.sheet import Sheet
from journal.views.shared.words import capitalised, count_text, list_text, short_date
from journal.views.shelf.facts import thing_amount_text


def shelf_sheets(book: Book) -> tuple[Sheet, ...]:
    """The list of the shelf."""
    here = book.places.fixed("shelf")
    return (book.sheet(here, "shelf.html", partial(shelf_page, book, here)),)


def shelf_page(book: Book, here: Address) -> Page:
    """A part a kind: each thing, how much there is, where it was used last."""
    kinds = [kind for kind in KINDS if book.notebook.shelf.of_kind(kind)]
    parts = tuple(
        Section(kind, capitalised(kind), (Passage((_table(book, here, kind),)),)) for kind in kinds
    )
    return Page(
        book.frame(here),
        here.title,
        parts,
        lead=("What there is to work with, and where each thing was used.",),
        on_page=tuple(Link(part.head, f"#{part.anchor}") for part in parts),
        folio=here.folio,
        about=f"{capitalised(list_text(list(KINDS)))}.",
    )


def _table(book: Book, here: Address, kind: str) -> PageTable:
    rows = []
    for name, record in book.notebook.shelf.of_kind(kind).items():
        place = book.places.thing(kind, name)
        assert place is not None
        used = book.uses.by_thing.get((kind, name), ())
        on_hand = (
            thing_amount_text(book.units, record.on_hand) if record.on_hand is not None else None
        )
        rows.append(
            (
                PageCell((span(here, place),), head=True),
                PageCell((on_hand.first if on_hand else "–",), on_hand.second if on_hand else "",
                     number=True),
                PageCell((count_text(len(used), "design") if used else "–",), _latest(book, used),
                     number=True),
            )
        )  # fmt: skip
    return PageTable(
        capitalised(kind),
        (Heading("Name", wide=True), Heading("On hand", True), Heading("Used in", True)),
        (RowGroup(tuple(rows)),),
    )


def _latest(book: Book, used: Sequence[str]) -> str:
    """When a thing was poured with last."""
    days = [book.notebook.summaries[name].brief.last_poured for name in used]
    last = max((day for day in days if day is not None), default=None)
    return "" if last is None else f"last {short_date(last)}"
