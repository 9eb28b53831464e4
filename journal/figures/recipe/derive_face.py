"""What of a bar is seen on its face: sizes in mm, and which layer shows where."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.derive_context import RecipeContext
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.pieces.piece_corner import piece_corner
from journal.figures.recipe.derive_fill import FillFigures, piece_outline
from journal.figures.recipe.derive_layers import DosedFigures, LayerFigures, RecipeMasses
from journal.records.models.shelf import Shelf

Size = tuple[float, float]


class FacePart(Struct, frozen=True):
    """A layer as it shows: its name, its colour as the shelf describes it, its share of the bar.

    ``looks`` is "" where the shelf does not say; ``share`` is of the volume.
    """

    layer: str
    looks: str
    share: float


class BarFace(Struct, frozen=True):
    """The face of a bar, in mm.

    Of a bar on a mat, ``parts`` are the motif and the ground; of a bar that is ``cut`` from a
    block, all layers, the lowest first, as they are written; of any other the lowest layer alone.
    """

    size_mm: Size
    corner_mm: float
    parts: tuple[FacePart, ...]
    mat: str = ""
    piece_mm: Size | None = None
    piece_corner_mm: float = 0.0
    motif_mm: Size | None = None
    cut: bool = False


def bar_face(
    context: RecipeContext, masses: RecipeMasses, fill: FillFigures | None
) -> BarFace | None:
    """The face of a bar, from its recipe and the shelf.

    Takes:  masses  of its layers; ``fill`` how high a block stands in its mould, if known
    Gives:  sizes and layers; None where the mould's face is not known, or the depth of a block
    Source: definition; that the lowest layer is the face: common practice, no source
    """
    mould = context.shelf.moulds.get(context.recipe.mould or "")
    if mould is None or mould.face is None:
        return None
    whole_ml = sum(layer.volume_ml_per_bar for layer in masses.layers)
    parts = tuple(
        FacePart(layer.name, described_colour(context.shelf, layer), share)
        for layer in masses.layers
        for share in [layer.volume_ml_per_bar / whole_ml if whole_ml else 0.0]
    )
    if places_of_recipe(context.shelf, context.recipe).bars_each > 1:
        if mould.depth is None:
            return None
        # A block is cut across its length.
        full = sum(fill.fill) / 2 if fill is not None else 1.0
        return BarFace((min(mould.face), mould.depth * min(1.0, full)), 0.0, parts, cut=True)
    mat = context.shelf.mats.get(context.recipe.mat or "")
    corner = mould.corner_radius or 0.0
    if mat is None:
        return BarFace(mould.face, corner, parts[:1])
    piece = context.shelf.pieces.get(context.recipe.piece or "")
    piece_mm = piece_outline(context, mat, mould, piece)
    return BarFace(
        mould.face,
        corner,
        # A bar of one layer is its own ground.
        (parts[0], parts[min(1, len(parts) - 1)]),
        context.recipe.mat or "",
        piece_mm,
        _corner(piece_mm, mould.face, corner),
        mat.motif.size if mat.motif is not None else None,
    )


def _corner(piece_mm: Size | None, face_mm: Size, corner_mm: float) -> float:
    """The radius of a piece's corners in its cavity; 0 for one that is too large for it."""
    try:
        return piece_corner(piece_mm, face_mm, corner_mm) if piece_mm is not None else 0.0
    except FigureError:
        return 0.0


def described_colour(shelf: Shelf, layer: LayerFigures) -> str:
    """The colour of a layer as the shelf describes it; "" where it does not.

    It is that of its colourant, of several the one of the largest share; without any, that of its
    base, of several likewise. What has a colourant of no known colour has none: its base's would
    be a guess.
    """
    leftover = shelf.leftovers.get(layer.leftover or "")
    tinted = leftover.colourant if leftover is not None else None
    colours = [one for one in layer.dosed if one.kind == "colourants"]
    if colours:
        return _looks(shelf.colourants[_largest(colours)].looks)
    if tinted is not None:
        return _looks(shelf.colourants[tinted].looks) if tinted in shelf.colourants else ""
    bases = sorted(layer.bases, key=lambda base: base[1], reverse=True)
    return _looks(shelf.bases[bases[0][0]].looks) if bases else ""


def _looks(looks: str | None) -> str:
    return looks or ""


def _largest(colours: Iterable[DosedFigures]) -> str:
    """The colourant of the largest share; the first of several alike, or of none weighed."""
    return max(colours, key=lambda one: one.mass_g or one.volume_ml or 0.0).name
