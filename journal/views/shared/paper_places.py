"""The addresses of pages for print: cutting templates, labels, sheets for the bench."""

from __future__ import annotations

from collections.abc import Mapping

from journal.figures.shop.derive_template import MatAndMould, trims_used
from journal.html.blocks import TextRun
from journal.records.models.questions import OrderFile
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Design
from journal.records.notebook import Notebook
from journal.views.shared.book import Book
from journal.views.shared.places import FIXED, Address

_UNDER = FIXED["cards"].path
PHOTO_CARD = Address("sheets/photo-card.html", "Photo card", under=_UNDER)

# The page of each pair of mat and mould.
Templates = Mapping[MatAndMould, Address]


def has_sheets(book: Book) -> bool:
    """Whether the edition holds sheets for the bench; the public one does not."""
    return book.edition != "public"


def has_pour_sheet(book: Book, design: Design | DesignSummary) -> bool:
    """Whether the edition has a pour-day sheet of a design; one set aside has none."""
    return has_sheets(book) and design.state != "set aside"


def command(words: str) -> TextRun:
    """The terminal command that makes a sheet of which the notebook holds no page."""
    return TextRun(f"journal {words}", "strong")


def template_places(notebook: Notebook) -> Templates:
    """The address of the template for each mat and mould that designs not set aside pair."""
    places: dict[MatAndMould, Address] = {}
    used: set[str] = set()
    for mat, mould in trims_used(notebook):
        path, number = f"templates/{mat}-{mould}.html", 1
        # Two pairs of names may read alike when they are joined.
        while path in used:
            number += 1
            path = f"templates/{mat}-{mould}-{number}.html"
        used.add(path)
        title = f"{notebook.shelf.mats[mat].name}, for {notebook.shelf.moulds[mould].name}"
        places[mat, mould] = Address(path, title, under=_UNDER)
    return places


def pour_sheet_place(design: Design | DesignSummary) -> Address:
    """The address of a design's pour-day sheet."""
    return Address(f"sheets/pour-{design.id}.html", f"Pour day: {design.title}", under=_UNDER)


def has_bench_page(book: Book, design: Design | DesignSummary) -> bool:
    """Whether the edition has a bench page of a design: as of its pour-day sheet."""
    return has_pour_sheet(book, design)


def bench_place(design: Design | DesignSummary) -> Address:
    """The address of a design's bench page, from which a phone hands in what was done."""
    return Address(f"bench/{design.id}.html", f"At the bench: {design.title}", under=_UNDER)


def has_order_bench(book: Book, order: OrderFile) -> bool:
    """Whether the edition has a bench page of an order: one that is planned and not handed over."""
    plan = book.derived.orders.get(order.id)
    is_open = has_sheets(book) and order.record.done is None
    return is_open and plan is not None and plan.day.sheet is not None


def order_bench_place(order: OrderFile) -> Address:
    """The address of an order's bench page, for the rounds of all its days."""
    title = f"At the bench: {order.record.title}"
    return Address(f"bench/orders/{order.id}.html", title, under=FIXED["orders"].path)


def label_place(design: Design | DesignSummary) -> Address:
    """The address of a design's label drafts."""
    return Address(f"labels/{design.id}.html", f"Label draft: {design.title}", under=_UNDER)
