"""The photo card on a sheet of paper, to be printed once and set up beside a bar."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import date
from typing import Final

from markupsafe import Markup

from journal.html.bench_page import PhotoCardPage
from journal.html.blocks import PageFrame
from journal.photos.card import MOST_TINTS, CardTint, card_svg
from journal.quantities.show import show_length
from journal.records.models.shelf import Shelf
from journal.records.models.summary import DesignSummary
from journal.views.shared.book import Book
from journal.views.shared.measured_colours import colourant_swatches
from journal.views.shared.paper_places import PHOTO_CARD, has_sheets
from journal.views.shared.places import Sheet

# A bar's face over the table where no mould has a depth: common practice, no source.
USUAL_STAND_MM: Final = 25.0
_MOST_STAND_MM: Final = 60.0


def photo_card_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page of the photo card; none in editions without printed sheets."""
    if not has_sheets(book):
        return ()

    def make() -> PhotoCardPage:
        stand_mm, tints = usual_stand(book.notebook.summaries, book.bench), measured_tints(book)
        return photo_card_page(book.frame(PHOTO_CARD), book.settings.paper, stand_mm, tints)

    return (book.sheet(PHOTO_CARD, "photo-card.html", make),)


def measured_tints(book: Book) -> tuple[CardTint, ...]:
    """Colours of colourants as measured in their first photos, at most ``MOST_TINTS``.

    Only photos whose colours were corrected count.
    """
    tints: list[CardTint] = []
    for name, colourant in book.bench.colourants.items():
        corrected = [
            swatch
            for _, swatches in colourant_swatches(book, name)
            for swatch in swatches
            if swatch.corrected != "none"
        ]
        if corrected and len(tints) < MOST_TINTS:
            first = min(corrected, key=lambda swatch: (swatch.taken_on or date.max, swatch.day))
            red, green, blue = (max(0, min(255, round(code))) for code in first.region.srgb)
            tints.append(CardTint(colourant.name, (red, green, blue)))
    return tuple(tints)


def usual_stand(designs: Mapping[str, DesignSummary], shelf: Shelf) -> float:
    """The height in mm at which the card stands.

    It is the depth of the mould that most designs use, of those with a depth of 60 mm or
    less; 25 mm if there is none.
    """
    moulds = Counter(design.overview.mould for design in designs.values())
    for name, _ in sorted(moulds.items(), key=lambda entry: (-entry[1], str(entry[0]))):
        mould = shelf.moulds.get(name or "")
        if mould is not None and mould.depth is not None and mould.depth <= _MOST_STAND_MM:
            return mould.depth
    return USUAL_STAND_MM


def photo_card_page(
    frame: PageFrame, paper: str, stand_mm: float, tints: tuple[CardTint, ...] = ()
) -> PhotoCardPage:
    """The photo card on a sheet of paper, with at most four tints after the greys.

    ``stand_mm`` is the height of its legs: that of a bar's face over the table.
    """
    # The drawing consists of numbers, and escapes the names of tints.
    card = Markup(card_svg(tints, stand_mm=stand_mm))
    return PhotoCardPage(frame, paper, card, show_length(stand_mm))
