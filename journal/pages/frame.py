"""What stands round every page: running head, contents, the edition's name, page numbers."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping
from functools import lru_cache

from journal.pages.editions import Edition
from journal.pages.parts import Frame, Link
from journal.pages.places import Place, fixed_places, href, root_of
from journal.records.settings import Settings

# What an edition is called on every page, and what of the studio's own is inside it.
EDITION_NAMES: Mapping[Edition, tuple[str, str]] = {
    "studio": ("studio edition", "costs and private notes inside"),
    "helpers": ("helpers' edition", ""),
    "public": ("public edition", ""),
}


def frame_for(
    settings: Settings, edition: Edition, here: Place, scripts: tuple[str, ...] = ()
) -> Frame:
    """The frame of one page.

    Takes:  settings  the studio's
            edition   who the notebook is for
            here      the page
            scripts   files that the page runs, by path from the notebook's root
    Gives:  running head and contents with this page marked
    """
    name, inside = EDITION_NAMES[edition]
    return Frame(
        studio=settings.studio,
        root=root_of(here),
        pages=_pages(edition == "public", here.path, here.under or here.path),
        edition=name,
        inside=inside,
        paper=settings.paper,
        scripts=scripts,
        feed=edition == "public" and settings.address is not None,
    )


def _pages(public: bool, path: str, marked: str) -> tuple[Link, ...]:
    """The pages that every notebook has, as they are led to from a page."""
    fixed = any(place.path == path for place in fixed_places(public=public))
    return _ways(public, path if fixed else posixpath.join(posixpath.dirname(path), ""), marked)


# They are the same on all pages of a folder that are none of them.
@lru_cache(maxsize=256)
def _ways(public: bool, path: str, marked: str) -> tuple[Link, ...]:
    here = Place(path, "")
    return tuple(
        Link(
            place.short,
            href(here, place),
            place.page_number,
            end=place.folio,
            here=place.path == marked,
        )
        for place in fixed_places(public=public)
    )
