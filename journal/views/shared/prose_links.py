"""Resolve the links in a maker's prose to pages of the notebook."""

from __future__ import annotations

from journal.records.models.links import target_of
from journal.views.shared.book import Book
from journal.views.shared.places import Address, href


def resolve_link(book: Book, here: Address, folder: str, written: str) -> str | None:
    """The address of a link written in a file of ``folder``, on the page ``here``.

    None keeps the link's words only: what it leads to has no page in this edition.
    """
    places = book.places
    target = target_of(written, folder)
    if target.kind in ("outside", "here"):
        return written
    if target.kind == "design" and target.name in places.designs:
        return href(here, places.designs[target.name], target.fragment)
    if target.kind == "comparison" and target.name in places.compared:
        return href(here, places.compared[target.name])
    if (target.kind, target.name) in places.faulty:
        return href(here, places.faulty[target.kind, target.name])
    if target.kind == "shelf":
        kind, _, name = target.name.partition("/")
        place = places.thing(kind, name)
        if place is not None:
            return href(here, place)
        if not name:
            return href(here, places.fixed("shelf"), kind)
    return None
