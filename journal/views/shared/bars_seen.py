"""How the bar of each design looks: in measured colours, else as the maker describes them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from msgspec import Struct

from journal.charts.drawing import InkDrawing
from journal.charts.things import DrawnMotif, DrawnPart, PlateBar, bar_from_above, motif_path
from journal.figures.colour.spaces import Triple
from journal.figures.recipe.derive_face import BarFace
from journal.photos.derive import MeasuredPhoto
from journal.quantities.show import show_size
from journal.records.models.shelf import Mat
from journal.views.shared.words import capitalised, list_text

ColourSource = Literal["photo", "described", "unknown"]
# Of one layer, and of several.
SOURCE_WORDS: Mapping[ColourSource, tuple[str, str]] = {
    "photo": ("in the colour of a photo", "in the colours of a photo"),
    "described": ("as the maker describes it", "as the maker describes them"),
    "unknown": ("of a colour not known", "of colours not known"),
}
# How wide a mm is set, in em of the drawing's letters: a bar of 80 mm in a list, on a plate, at
# the head of a page.
IN_LIST, ON_PLATE, AT_HEAD = 0.096, 0.12, 0.34


class SeenBar(Struct, frozen=True):
    """A bar to draw, and where the colour of each of its layers is from."""

    bar: PlateBar
    sources: tuple[tuple[str, ColourSource], ...]

    @property
    def says(self) -> str:
        """Its size, and where its colours are from, as ``Detail in the colour of a photo; …``."""
        layers: dict[ColourSource, list[str]] = {}
        for layer, source in self.sources:
            if layer not in layers.setdefault(source, []):
                layers[source].append(layer)
        texts = (
            f"{list_text(names)} {SOURCE_WORDS[source][len(names) > 1]}"
            for source, names in layers.items()
        )
        cut = " where it is cut, its layers as they are written" if self.bar.cut else ""
        return f"{show_size(*self.bar.size_mm)}{cut}. {capitalised('; '.join(texts))}."

    def drawing(self, name: str, title: str, em_per_mm: float) -> InkDrawing:
        """It from above; without a title it repeats what stands beside it, and is not read out."""
        return bar_from_above(self.bar, name, title, self.says if title else "", em_per_mm)


def seen_bar(
    face: BarFace,
    motif: DrawnMotif | None,
    measured: Iterable[MeasuredPhoto],
    differ: Sequence[str],
) -> SeenBar:
    """The bar of a design's recipe as it is to be drawn.

    Takes:  motif     of its mat (``drawn_motif``)
            measured  the design's photos in which colours were measured
            differ    its variants that are another recipe, whose photos do not count
    """
    photos = [photo for photo in measured if photo.variant not in differ]
    parts, sources = list[DrawnPart](), list[tuple[str, ColourSource]]()
    for part in face.parts:
        seen = _measured_colour(photos, part.layer)
        source: ColourSource = "photo" if seen else "described" if part.looks else "unknown"
        parts.append(DrawnPart(seen or part.looks, part.share))
        sources.append((part.layer, source))
    if face.mat and motif is None:
        del sources[0]
    piece = face.piece_mm, face.piece_corner_mm
    bar = PlateBar(face.size_mm, face.corner_mm, tuple(parts), *piece, motif, face.cut)
    return SeenBar(bar, tuple(sources))


def drawn_motif(mat: Mat | None, motif_mm: tuple[float, float] | None) -> DrawnMotif | None:
    """The motif of a mat, by its outline if it has one; None without its size."""
    if mat is None or motif_mm is None:
        return None
    if mat.outline is None or not mat.outline.paths:
        return DrawnMotif(motif_mm)
    return DrawnMotif(motif_mm, motif_path(mat.outline.paths, mat.outline.size, motif_mm))


def _measured_colour(photos: Iterable[MeasuredPhoto], layer: str) -> str:
    """The colour of a layer in the first photo of it, one set right before others; "" if none."""
    found = [
        (photo.measurement.corrected == "none", photo.day, hex_colour(region.srgb))
        for photo in photos
        for region in photo.measurement.regions
        if region.region == layer
    ]
    return min(found)[2] if found else ""


def hex_colour(srgb: Triple) -> str:
    """An sRGB colour (0 to 255) in hexadecimal, such as "#a0b1c2"."""
    return "#" + "".join(f"{max(0, min(255, round(code))):02x}" for code in srgb)
