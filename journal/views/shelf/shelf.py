"""The shelf: what is on it, kind by kind."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from msgspec.structs import replace

from journal.html import blocks as html
from journal.html.blocks import PageCell, number_cell
from journal.records.models.shelf import KINDS
from journal.views.shared.book import Book
from journal.views.shared.on_design import uncounted_words
from journal.views.shared.places import Address, Sheet, span
from journal.views.shared.words import BothUnits, capitalised, count_text, list_text, short_date
from journal.views.shelf.facts import amount_left_text


def shelf_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page that lists the shelf, as a tuple of one sheet."""
    here = book.places.fixed("shelf")
    return (book.sheet(here, "shelf.html", partial(shelf_page, book, here)),)


def shelf_page(book: Book, here: Address) -> html.Page:
    """The list of the shelf: a section a kind, with the stock and use of each thing."""
    parts = [
        html.simple_section(kind, capitalised(kind), _kind_table(book, here, kind))
        for kind in KINDS
        if book.notebook.shelf.of_kind(kind)
    ]
    return book.page(
        here,
        parts,
        f"{capitalised(list_text(list(KINDS)))}.",
        standfirst=(
            "What there is to work with, and where each thing was used.",
            *uncounted_words(book, here),
        ),
        on_page=tuple(html.Link(part.head, f"#{part.anchor}") for part in parts),
    )


def _kind_table(book: Book, here: Address, kind: str) -> html.PageTable:
    """The table of the things of one kind, a row each."""
    rows = []
    for name in book.notebook.shelf.of_kind(kind):
        designs = book.uses.by_thing.get((kind, name), ())
        left = book.derived.left.get((kind, name))
        on_hand = BothUnits("–") if left is None else amount_left_text(book.units, left)
        about = "about " if left is not None and left.used else ""
        low: html.Tone = "mind" if left is not None and left.low else ""
        amount = f"low: {about}{on_hand.first}" if low else f"{about}{on_hand.first}"
        used_in = count_text(len(designs), "design") if designs else "–"
        title = PageCell((span(here, book.places.things[kind, name]),), head=True)
        rows.append(
            (
                title,
                number_cell(amount, on_hand.second, low),
                number_cell(used_in, _last_poured_text(book, designs)),
            )
        )
    heads = (html.Heading("Name", wide=True), "On hand", "Used in")
    return replace(html.simple_table(capitalised(kind), heads, rows), spoken=True)


def _last_poured_text(book: Book, designs: Sequence[str]) -> str:
    """The date on which any of these designs was last poured, as ``last 18 Apr 2026``; or ""."""
    days = [book.notebook.summaries[name].overview.last_poured for name in designs]
    last = max((day for day in days if day is not None), default=None)
    return "" if last is None else f"last {short_date(last)}"
