"""The index at the back of the book: printed terms, and the data that it is searched by."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import TypeVar

from journal.html.blocks import IndexPage
from journal.views.index import data, texts
from journal.views.index.terms import TermRow, index_letters, term_rows
from journal.views.shared.book import Book
from journal.views.shared.places import Address, Sheet

SCRIPT = "narrow.js"

Entry = TypeVar("Entry", str, texts.IndexEntry)


def index_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page of the printed index."""
    here = book.places.fixed("terms")
    rows = term_rows(book)
    return (book.sheet(here, "terms.html", lambda: index_page(book, here, rows)),)


def index_page(book: Book, here: Address, rows: Sequence[TermRow]) -> IndexPage:
    """The printed index: every term, and the pages that it stands on."""
    return IndexPage(
        book.frame(here, (SCRIPT,)),
        here.title,
        (),
        standfirst=(
            "What is on the shelf, what failed, subjects, years and titles, each with its pages."
            " A capital before a number, as in B2, is a page of the shelf.",
        ),
        folio=here.folio,
        about="Terms and the pages that they stand on.",
        head="A to Z",
        letters=index_letters(here, rows),
    )


def design_parts(book: Book) -> Mapping[str, tuple[str, ...]]:
    """The designs' ids in each part of the search data, by the part's name."""
    return dict(_split_in_parts("designs", tuple(book.places.designs)))


def design_data_sheets(book: Book, part: str, names: Sequence[str]) -> Iterator[Sheet]:
    """The JavaScript data files of one ``part``, which holds the designs ``names``."""
    return _data_sheets_of_part(part, tuple(texts.design_index_entries(book, names)))


def other_data_sheets(book: Book) -> Iterator[Sheet]:
    """The index's data files of everything but designs, then ``all``, which lists every part."""
    others = (
        *_split_in_parts("shelf", tuple(texts.thing_index_entries(book))),
        *_split_in_parts("others", tuple(texts.other_index_entries(book))),
    )
    for name, entries in others:
        yield from _data_sheets_of_part(name, entries)
    names = [*design_parts(book), *(name for name, _ in others)]
    yield Sheet(data.data_path("all"), partial(data.all_script, names))


def _split_in_parts(kind: str, every: tuple[Entry, ...]) -> Iterator[tuple[str, tuple[Entry, ...]]]:
    """Entries cut into parts of at most ``PART_SIZE``, each with a name such as "shelf-2"."""
    for number, start in enumerate(range(0, len(every), data.PART_SIZE), start=1):
        yield f"{kind}-{number}", every[start : start + data.PART_SIZE]


def _data_sheets_of_part(name: str, entries: Sequence[texts.IndexEntry]) -> Iterator[Sheet]:
    """The script of one part, then the scripts that hold the texts of its pages."""
    yield Sheet(data.data_path(name), partial(data.part_script, name, entries))
    by_script: dict[str, list[texts.IndexEntry]] = {}
    for entry in entries:
        by_script.setdefault(data.words_name(name, entry), []).append(entry)
    for words, own in by_script.items():
        yield Sheet(data.data_path(words), partial(data.words_script, words, own))
