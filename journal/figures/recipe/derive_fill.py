"""Derive how full the cavity will be from recipe, mould and mat.

A value that cannot be worked out is None; ``builder`` then notes the missing inputs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from msgspec import Struct

from journal.figures.common.as_json_numbers import number_fields, numbers, numbers_or_none, percent
from journal.figures.common.derive_context import RecipeContext, midpoint
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableSpec
from journal.figures.pieces.derive_pieces import piece_as_cut, places_of_recipe
from journal.figures.recipe import fill as fills
from journal.figures.recipe.base_properties import SILICONE
from journal.figures.recipe.derive_layers import (
    LayerFigures,
    base_density,
    layer_bases,
    recipe_masses,
)
from journal.quantities.show import show_length, show_percent, show_volume
from journal.records.models.shelf import Mat, Mould, Piece

FillRange = tuple[float, float]


class FillFigures(Struct, frozen=True):
    """The volumes in one cavity, and how they fill it; ranges are (low, high).

    ``fill`` is the share of the capacity, as fractions. ``proud_mm`` is how far the bar stands out
    of the cavity; None where the mould's face is not known. ``cut_into`` is the number of bars
    that the content is cut into; of several blocks it is the fullest.
    """

    capacity_ml: FillRange
    poured_ml: float
    piece_ml: float
    fill: FillRange
    proud_mm: FillRange | None
    cut_into: int


def derive_fill(context: RecipeContext, builder: FigureBuilder) -> FillFigures | None:
    """Derive the fill of one cavity, with a warning if the bar stands too proud, or a block low."""
    mould = context.shelf.moulds.get(context.recipe.mould or "")
    if mould is None:
        builder.lacks("mould")
        return None
    capacity_ml = cavity_ml(context, mould, builder)
    piece_ml = silicone_ml(context, mould, builder)
    if capacity_ml is None or piece_ml is None:
        return None
    layers = recipe_masses(context).layers
    _check_embeds(context, layers)
    bar_ml = sum(layer.volume_ml_per_bar for layer in layers)
    places = places_of_recipe(context.shelf, context.recipe)
    a_round = places.first_round(context.bars)
    cut_into = places.blocks(a_round)[0]
    poured_ml = bar_ml * cut_into
    in_cavity_ml = poured_ml + piece_ml
    face_mm2 = face_area(mould)
    proud_mm = None if face_mm2 is None else fills.proud(in_cavity_ml, capacity_ml, face_mm2)
    if face_mm2 is None:
        builder.lacks(f"moulds/{context.recipe.mould}: face", "proud")
    # A mould whose content is cut into bars is filled to taste: proud means nothing there.
    if places.bars_each > 1:
        last = places.blocks(context.bars % a_round or a_round)[-1]
        least_ml = bar_ml * last + piece_ml
        _check_block(context, last, places.bars_each, fills.fill_share(least_ml, capacity_ml))
    elif proud_mm is not None and proud_mm[0] > fills.PROUD_LIMIT_MM:
        context.warning(
            context.at("layers", len(context.recipe.layers) - 1, "amount"),
            f"the bar stands at least {show_length(proud_mm[0])} proud of its cavity",
            f"Pour less: up to {show_length(fills.PROUD_LIMIT_MM)} is planed off.",
        )
    return FillFigures(
        capacity_ml,
        poured_ml,
        piece_ml,
        fills.fill_share(in_cavity_ml, capacity_ml),
        proud_mm,
        cut_into,
    )


def _check_embeds(context: RecipeContext, layers: Sequence[LayerFigures]) -> None:
    """Add a warning for each embed that is larger than a cavity of its own mould."""
    for place, (written, layer) in enumerate(zip(context.recipe.layers, layers, strict=True)):
        mould = context.shelf.moulds.get(written.mould or "")
        if mould is None or mould.face is None or mould.depth is None:
            continue
        area = face_area(mould)
        assert area is not None
        most_ml = fills.capacity_by_size(area, mould.depth)[1] / (mould.bars_each or 1)
        if layer.volume_ml_per_bar > most_ml:
            context.warning(
                context.at("layers", place, "amount"),
                f'the embed "{layer.name}" is {show_volume(layer.volume_ml_per_bar)}, and a cavity'
                f" of its mould holds {show_volume(most_ml)}",
                "Pour less of it, or name a larger mould.",
            )


def _check_block(context: RecipeContext, bars: int, most: int, fill: FillRange) -> None:
    """Add a warning if a block of so many bars fills far less than its cavity.

    ``most`` are the bars of a full block.
    """
    if fill[1] >= fills.LEAST_BLOCK_FILL:
        return
    full = min(most, math.floor(bars / fill[1]))
    # Where even a full block is low, it is the bars that are small.
    pour = (
        f"Pour {full} bars at once"
        if full * fill[1] >= bars * fills.LEAST_BLOCK_FILL
        else "Pour more a bar"
    )
    context.warning(
        context.at("bars"),
        f"the block fills only {show_percent(fill[1], Decimal(1))} of its cavity: it is poured for"
        f" {bars} of {most} bars",
        f"{pour}, or use a smaller mould.",
    )


def face_area(mould: Mould) -> float | None:
    """Area of a cavity's open face in mm2; None where the shelf does not give the face."""
    if mould.face is None:
        return None
    return fills.rounded_rectangle_area(*mould.face, mould.corner_radius or 0.0)


def cavity_ml(context: RecipeContext, mould: Mould, builder: FigureBuilder) -> FillRange | None:
    """Capacity of the cavity in mL, by the mass that it holds, else by face and depth."""
    name = context.recipe.mould or ""
    if mould.holds is not None:
        bases = layer_bases(context, context.recipe.layers[0])
        low, high, assumed = base_density(context, bases[0][0] if bases else "")
        at = context.on_shelf("moulds", name, "holds")
        if at is not None:  # on a page the shelf is not as it was written
            written = str(context.shelf.written["moulds"][name]["holds"])
            builder.used("the cavity holds", written, at)
        if assumed:
            builder.used("density of the first base", f"not on the shelf: {low:.2f} to {high:.2f}")
        return fills.capacity_by_mass(mould.holds, (low, high))
    area = face_area(mould)
    if area is not None and mould.depth is not None:
        builder.used("face and depth of the cavity", "")
        return fills.capacity_by_size(area, mould.depth)
    builder.lacks(f"moulds/{name}: holds, or face and depth")
    return None


def silicone_ml(context: RecipeContext, mould: Mould, builder: FigureBuilder) -> float | None:
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
        "cut_into": fill.cut_into,
    }


FILL = FigureSpec(
    name="fill", kind="computed", derive=derive_fill,
    blocks={"fill": _fill_json},
    tables=(
        TableSpec(
            "fill",
            "capacity_low_ml capacity_high_ml poured_ml piece_ml fill_low_percent "
            "fill_high_percent proud_low_mm proud_high_mm cut_into",
            lambda fill: [
                (*fill.capacity_ml, fill.poured_ml, fill.piece_ml,
                 *(100 * share for share in fill.fill), *(fill.proud_mm or (None, None)),
                 fill.cut_into)
            ],
        ),
    ),
)  # fmt: skip
