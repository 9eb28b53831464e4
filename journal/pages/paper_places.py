"""Where the pages stand that are made to be printed and used: templates, labels, sheets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from journal.pages.book import Book
from journal.pages.places import FIXED, Place
from journal.records.notebook import Notebook
from journal.records.trim import Trim
from journal.records.write_up import Design

_UNDER = FIXED["cards"].path
PHOTO_CARD = Place("sheets/photo-card.html", "Photo card", under=_UNDER)

Pair = tuple[str, str]
# The page of each pair of mat and mould.
Templates = Mapping[Pair, Place]


def has_sheets(book: Book) -> bool:
    """Whether the edition holds what is used at the bench: not the public's."""
    return book.edition != "public"


def trims_used(notebook: Notebook) -> Mapping[Pair, tuple[Trim, ...]]:
    """The trims that designs use, by mat and mould, in order; a trim without margin is none."""
    found: dict[Pair, dict[Trim, None]] = {}
    for mat, mould, trim in _uses(notebook):
        trims = found.setdefault((mat, mould), {})
        if trim is not None and trim.margin_mm is not None:
            trims[trim] = None
    return {
        pair: tuple(sorted(found[pair], key=lambda trim: (trim.kind, trim.margin_mm)))
        for pair in sorted(found)
    }


def _uses(notebook: Notebook) -> Iterator[tuple[str, str, Trim | None]]:
    shelf = notebook.shelf
    for design in notebook.designs.values():
        for mat, mould, trim in design.brief.trims:
            if mat in shelf.mats and mould in shelf.moulds:
                yield str(mat), str(mould), trim


def template_places(notebook: Notebook) -> Templates:
    """The page of each pair of mat and mould that a design uses."""
    places: dict[Pair, Place] = {}
    taken: set[str] = set()
    for mat, mould in trims_used(notebook):
        path, number = f"templates/{mat}-{mould}.html", 1
        # Two pairs of names may read alike when they are joined.
        while path in taken:
            number += 1
            path = f"templates/{mat}-{mould}-{number}.html"
        taken.add(path)
        title = f"{notebook.shelf.mats[mat].name}, for {notebook.shelf.moulds[mould].name}"
        places[mat, mould] = Place(path, title, under=_UNDER)
    return places


def pour_sheet_place(design: Design) -> Place:
    """The page of a design's pour-day sheet."""
    return Place(f"sheets/pour-{design.id}.html", f"Pour day: {design.title}", under=_UNDER)


def label_place(design: Design) -> Place:
    """The page of a design's label drafts."""
    return Place(f"labels/{design.id}.html", f"Label draft: {design.title}", under=_UNDER)
