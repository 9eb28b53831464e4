"""What stands round every page: running head, contents, the edition's name, page numbers."""

from __future__ import annotations

from collections.abc import Mapping

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
    marked = here.under or here.path
    name, inside = EDITION_NAMES[edition]
    pages = tuple(
        Link(
            place.short,
            href(here, place),
            place.page_number,
            end=place.folio,
            here=place.path == marked,
        )
        for place in fixed_places(public=edition == "public")
    )
    return Frame(
        studio=settings.studio,
        root=root_of(here),
        pages=pages,
        edition=name,
        inside=inside,
        paper=settings.paper,
        scripts=scripts,
        feed=edition == "public" and settings.address is not None,
    )
