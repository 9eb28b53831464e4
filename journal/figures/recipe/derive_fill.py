"""Derive how full the cavity will be from recipe, mould and mat.

A value that cannot be worked out is None; ``builder`` then notes the missing inputs.
"""

from __future__ import annotations

from typing import Any

from msgspec import Struct

from journal.figures.common.as_json_numbers import number_fields, numbers, numbers_or_none, percent
from journal.figures.common.derive_context import RecipeContext, midpoint
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableSpec
from journal.figures.pieces.derive_pieces import piece_as_cut
from journal.figures.recipe import fill as fills
from journal.figures.recipe.base_properties import SILICONE
from journal.figures.recipe.derive_layers import base_density, layer_bases, recipe_masses
from journal.quantities.show import show_length
from journal.records.models.shelf import Mat, Mould, Piece

FillRange = tuple[float, float]


class FillFigures(Struct, frozen=True):
    """The volumes in one cavity, and how they fill it; ranges are (low, high).

    ``fill`` is the share of the capacity, as fractions. ``proud_mm`` is how far the bar stands out
    of the cavity; None where the mould's face is not known.
    """

    capacity_ml: FillRange
    poured_ml: float
    piece_ml: float
    fill: FillRange
    proud_mm: FillRange | None


def derive_fill(context: RecipeContext, builder: FigureBuilder) -> FillFigures | None:
    """Derive the fill of one cavity, with a warning if the bar stands too proud."""
    mould = context.shelf.moulds.get(context.recipe.mould or "")
    if mould is None:
        builder.lacks("mould")
        return None
    capacity_ml = _capacity_ml(context, mould, builder)
    piece_ml = _piece_ml(context, mould, builder)
    if capacity_ml is None or piece_ml is None:
        return None
    layers = recipe_masses(context).layers
    poured_ml = sum(layer.volume_ml_per_bar for layer in layers) * (mould.bars_each or 1)
    in_cavity_ml = poured_ml + piece_ml
    face_mm2 = face_area(mould)
    proud_mm = None if face_mm2 is None else fills.proud(in_cavity_ml, capacity_ml, face_mm2)
    if face_mm2 is None:
        builder.lacks(f"moulds/{context.recipe.mould}: face", "proud")
    # A mould whose content is cut into bars is filled to taste: proud means nothing there.
    if proud_mm is not None and proud_mm[0] > fills.PROUD_LIMIT_MM and (mould.bars_each or 1) == 1:
        context.warning(
            context.at("layers", len(context.recipe.layers) - 1, "amount"),
            f"the bar stands at least {show_length(proud_mm[0])} proud of its cavity",
            f"Pour less: up to {show_length(fills.PROUD_LIMIT_MM)} is planed off.",
        )
    return FillFigures(
        capacity_ml, poured_ml, piece_ml, fills.fill_share(in_cavity_ml, capacity_ml), proud_mm
    )


def face_area(mould: Mould) -> float | None:
    """Area of a cavity's open face in mm2; None where the shelf does not give the face."""
    if mould.face is None:
        return None
    return fills.rounded_rectangle_area(*mould.face, mould.corner_radius or 0.0)


def _capacity_ml(context: RecipeContext, mould: Mould, builder: FigureBuilder) -> FillRange | None:
    """Capacity of the cavity in mL, by the mass that it holds, else by face and depth."""
    name = context.recipe.mould or ""
    if mould.holds is not None:
        bases = layer_bases(context, context.recipe.layers[0])
        low, high, assumed = base_density(context, bases[0][0] if bases else "")
        written = context.shelf.written["moulds"][name]["holds"]
        builder.used("the cavity holds", str(written), written.at)
        if assumed:
            builder.used("density of the first base", f"not on the shelf: {low:.2f} to {high:.2f}")
        return fills.capacity_by_mass(mould.holds, (low, high))
    area = face_area(mould)
    if area is not None and mould.depth is not None:
        builder.used("face and depth of the cavity", "")
        return fills.capacity_by_size(area, mould.depth)
    builder.lacks(f"moulds/{name}: holds, or face and depth")
    return None


def _piece_ml(context: RecipeContext, mould: Mould, builder: FigureBuilder) -> float | None:
    """Volume of the mat piece in mL, by its weight, else by its outline; 0 without a mat."""
    mat = context.shelf.mats.get(context.recipe.mat or "")
    if mat is None:
        return 0.0
    piece = context.shelf.pieces.get(context.recipe.piece or "")
    weight_g = piece.weight if piece is not None and piece.weight is not None else mat.piece_weight
    if weight_g is not None:
        if mat.density is not None:
            density = midpoint(mat.density)
        else:
            density = SILICONE.density_kg_m3 / 1000
            builder.used(
                "density of the silicone", f"not on the shelf: {density:.2f} g/mL is usual"
            )
        builder.used("weight of the piece", f"{weight_g:g} g")
        return weight_g / density
    outline = piece_outline(context, mat, mould, piece)
    if outline is None:
        builder.lacks(f"mats/{context.recipe.mat}: piece_weight, or the piece's size")
        return None
    if mat.thickness is None:
        builder.lacks(f"mats/{context.recipe.mat}: piece_weight, or thickness")
        return None
    builder.used("outline and thickness of the piece", "")
    return fills.silicone_volume(*outline, mat.thickness, mat.relief_volume or 0.0)


def piece_outline(
    context: RecipeContext, mat: Mat, mould: Mould | None, piece: Piece | None
) -> tuple[float, float] | None:
    """Width and height of the piece in mm: as measured, else as it is cut for the mould.

    None if the face of the mould or the margin of the trim is not known.
    """
    if piece is not None and piece.size is not None:
        return piece.size
    if mould is None or mould.face is None:
        return None
    cut = piece_as_cut(mat, mould.face, context.recipe.trim)
    return None if cut is None else cut.size_mm


def _fill_json(fill: FillFigures) -> dict[str, Any]:
    """The JSON block of the fill."""
    return {
        "capacity_ml": numbers(fill.capacity_ml),
        **number_fields(fill, "poured_ml piece_ml"),
        "fill_percent": [percent(share) for share in fill.fill],
        "proud_mm": numbers_or_none(fill.proud_mm),
    }


FILL = FigureSpec(
    name="fill", kind="computed", derive=derive_fill,
    blocks={"fill": _fill_json},
    tables=(
        TableSpec(
            "fill",
            "capacity_low_ml capacity_high_ml poured_ml piece_ml fill_low_percent "
            "fill_high_percent proud_low_mm proud_high_mm",
            lambda fill: [
                (*fill.capacity_ml, fill.poured_ml, fill.piece_ml,
                 *(100 * share for share in fill.fill), *(fill.proud_mm or (None, None)))
            ],
        ),
    ),
)  # fmt: skip
