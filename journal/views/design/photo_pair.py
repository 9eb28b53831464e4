"""Photos of variants side by side, at one scale where their scales are known."""

from __future__ import annotations

from collections.abc import Sequence

from journal.html.blocks import Block, PagePicture, Paragraph, Pictures, TextRun, Words
from journal.photos.derive import scale_of
from journal.photos.measure import GivenScale
from journal.quantities.show import show_length
from journal.records.models.write_up import Photo
from journal.views.shared.on_design import DesignContext
from journal.views.shared.photos import PagePhoto, picture
from journal.views.shared.words import WHOLE, capitalised, no_break


def photo_pair_blocks(
    context: DesignContext, sides: Sequence[tuple[str, Sequence[Photo]]]
) -> list[Block]:
    """One photo of each choice side by side, with a line on their scale.

    Takes:  sides  choices by name, each with its photos; the page's first photo is used only
                   where a choice has no other
    Gives:  the blocks; empty if a choice has no photo that can be shown
    """
    chosen: list[tuple[str, Photo, PagePhoto]] = []
    for name, photos in sides:
        photo = next(
            (p for p in photos if p is not context.design.photos[0]), photos[0] if photos else None
        )
        ready = None if photo is None else context.photo(photo)
        if photo is None or ready is None:
            return []
        chosen.append((name, photo, ready))
    fields = [_field_mm(context, photo, ready) for _, photo, ready in chosen]
    known_mm = [field for field in fields if field is not None]
    if len(known_mm) < len(chosen):
        shares = [""] * len(chosen)
        line = "These photos are not at one scale: do not compare sizes."
    else:
        shares = [width_classes(field / max(known_mm)) for field in known_mm]
        line = f"At one scale: a column is {no_break(show_length(max(known_mm), WHOLE))} wide."
    pair = [
        _captioned_picture(context, *one, share) for one, share in zip(chosen, shares, strict=True)
    ]
    return [Pictures(tuple(pair)), Paragraph((line,), "soft")]


def width_classes(share: float) -> str:
    """The stylesheet's classes for how much of its column a photo fills.

    Takes:  share  above 0, up to 1
    Gives:  tens, ones and tenths, such as "tens-8 ones-3 tenths-4" for 83.4 %; at least 0.1 %
    """
    thousandths = max(1, round(1000 * share))
    tens, rest = divmod(thousandths, 100)
    ones, tenths = divmod(rest, 10)
    return f"tens-{tens} ones-{ones} tenths-{tenths}"


def _field_mm(context: DesignContext, photo: Photo, ready: PagePhoto) -> float | None:
    """The width in mm of what a photo shows; None if its scale is not known."""
    scale = scale_of(photo.scale)
    if isinstance(scale, GivenScale):
        return scale.mm_per_px * ready.width
    if scale is None:
        return None
    for measured in context.book.measured.get(context.design.id, ()):
        mm_per_px = measured.measurement.scale_mm_per_px
        if measured.path == ready.path and mm_per_px:
            return mm_per_px * ready.width
    return None


def _captioned_picture(
    context: DesignContext, name: str, photo: Photo, ready: PagePhoto, share: str
) -> PagePicture:
    """The photo of one choice, with its name, bar and day as the caption."""
    day = "" if photo.day is None else f", day {photo.day}"
    bar = "" if photo.bar is None else f", bar {photo.bar}"
    caption: Words = (TextRun(capitalised(name), "strong"), f"{bar}{day}")
    return picture(context.here, ready, photo.alt, caption, share=share)
