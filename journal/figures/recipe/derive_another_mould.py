"""A recipe carried over to another mould, mat or base: a changed recipe, for the ordinary figures.

Nothing is worked out here that the figures of a recipe do not work out: capacity, volume of the
piece and volume of the layers are theirs, before and after. What changes is amounts.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.common.derive_context import RecipeContext, midpoint
from journal.figures.common.result import FigureBuilder
from journal.figures.pieces.derive_pieces import fitting_pieces, piece_as_cut
from journal.figures.recipe.derive_fill import cavity_ml, face_area, silicone_ml
from journal.figures.recipe.derive_layers import base_density, layer_bases, recipe_masses
from journal.records.models.settings import Settings
from journal.records.models.shelf import Mat, Shelf
from journal.records.models.write_up import (
    AdditiveDose,
    ColourDose,
    Design,
    FragranceDose,
    Layer,
    Recipe,
)

Dosed = TypeVar("Dosed", FragranceDose, ColourDose, AdditiveDose)
# Doses that go by the bar or the pot, and so by the size of the bar; others go by its base.
_OF_A_BAR = ("bar", "pot")


class AnotherThing(Struct, frozen=True):
    """What a recipe is carried over to: ids on the shelf, None for its own; bases old -> new."""

    mould: str | None = None
    mat: str | None = None
    bases: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True)
class CarriedOver:
    """The changed recipe, and in sentences what could not be carried over."""

    recipe: Recipe
    remarks: tuple[str, ...]


def carried_over(context: RecipeContext, other: AnotherThing) -> CarriedOver:
    """Carry a recipe over to another mould, mat or base.

    The bar fills its cavity to the same share, or stands proud of it by the same height where it
    does. On a mat the first layer is the detail: it fills the relief, and goes by that alone, as an
    embed goes by its own mould; all other layers take what is left of the cavity, each its part.
    A base gives way to another by volume. Doses by mass of base stay, those by the bar or the pot
    go with the layer. A piece that is not cut for the new mould is replaced by one that is, if
    there is one.

    Takes:  context  of the recipe; what ``other`` names is on the shelf
    Gives:  the recipe; carried back it is the first, but for the last digits
    Fails:  FigureError where the capacity or the piece is not known, or there is no room for
            anything beside piece and detail
    Source: definition: (volume + piece) / capacity, or (volume + piece - capacity) / face, as of
            the fill; common practice for the rest, no source
    """
    remarks: list[str] = []
    was = _in_cavity(context)
    trial = _with_things(context, other, remarks)
    now = _in_cavity(_context_of(context, trial))
    wanted_ml = _same_fill(was, now)
    # An embed is as large as its own mould makes it.
    detail = _detail_of(trial)
    kept = [layer.mould is not None or layer is detail for layer in trial.layers]
    kept_ml = math.fsum(itertools.compress(now.layers_ml, kept))
    rest_ml = math.fsum(now.layers_ml) - kept_ml
    times = (wanted_ml - kept_ml) / rest_ml if not all(kept) else 0.0
    if not times > 0:
        name = context.shelf.moulds[trial.mould or ""].name
        raise FigureError(f"{name} has no room for more than the piece and the detail")
    layers = tuple(
        layer if as_it_is else _scaled(layer, times)
        for layer, as_it_is in zip(trial.layers, kept, strict=True)
    )
    return CarriedOver(trial.model_copy(update={"layers": layers}), tuple(remarks))


def _detail_of(recipe: Recipe) -> Layer | None:
    """The layer that fills the relief of a recipe's mat: the first that is no embed; or None."""
    poured = [layer for layer in recipe.layers if layer.mould is None]
    return poured[0] if recipe.mat is not None and len(poured) > 1 else None


def design_in_another(
    settings: Settings, shelf: Shelf, design: Design, variant: str | None, other: AnotherThing
) -> tuple[Design, tuple[str, ...]]:
    """A design with its recipe, or that of a variant, carried over; and what was not.

    It is a trial from then on: nothing was poured of it. Variants that are alike go along.

    Fails:  as ``carried_over``; KeyError for a variant that it does not have
    """
    chosen = design.as_written if variant is None else design.variant(variant)
    context = RecipeContext(settings, shelf, design, chosen, chosen.recipe.bars)
    found = carried_over(context, other)
    carried = dataclasses.replace(
        design,
        recipe=found.recipe if design.recipe == chosen.recipe else design.recipe,
        variants=tuple(
            replace(one, recipe=found.recipe) if one.recipe == chosen.recipe else one
            for one in design.variants
        ),
        state="trial" if design.state == "keeper" else design.state,
    )
    return carried, found.remarks


class _InCavity(Struct, frozen=True):
    """What is in one cavity: volumes a bar by layer, and what the fill goes by."""

    layers_ml: tuple[float, ...]
    piece_ml: float
    capacity_ml: float
    face_mm2: float | None
    bars_each: int


def _in_cavity(context: RecipeContext) -> _InCavity:
    """The cavity of a recipe as its figures have it; FigureError where something is missing."""
    mould = context.shelf.moulds.get(context.recipe.mould or "")
    if mould is None:
        raise FigureError("the recipe has no mould")
    builder = FigureBuilder("fill")
    capacity, piece = cavity_ml(context, mould, builder), silicone_ml(context, mould, builder)
    if capacity is None or piece is None:
        needs = ", ".join(one.needs for one in builder.missing)
        raise FigureError(f"its fill is not known: {needs} is missing")
    return _InCavity(
        tuple(layer.volume_ml_per_bar for layer in recipe_masses(context).layers),
        piece,
        midpoint(capacity),
        face_area(mould),
        mould.bars_each or 1,
    )


def _same_fill(was: _InCavity, now: _InCavity) -> float:
    """The volume in mL of one bar in the new cavity that fills it as the old one was filled."""
    filled_ml = math.fsum(was.layers_ml) * was.bars_each + was.piece_ml
    over_ml = filled_ml - was.capacity_ml
    if over_ml > 0 and was.bars_each == now.bars_each == 1 and was.face_mm2 and now.face_mm2:
        wanted_ml = now.capacity_ml + over_ml / was.face_mm2 * now.face_mm2
    else:
        wanted_ml = filled_ml / was.capacity_ml * now.capacity_ml
    return (wanted_ml - now.piece_ml) / now.bars_each


def _context_of(context: RecipeContext, recipe: Recipe) -> RecipeContext:
    """The context of a changed recipe, whose problems are not told yet."""
    variant = replace(context.variant, recipe=recipe)
    return RecipeContext(context.settings, context.shelf, context.design, variant, context.bars)


def _with_things(context: RecipeContext, other: AnotherThing, remarks: list[str]) -> Recipe:
    """The recipe with the other things: bases by volume, the detail by the relief."""
    recipe, shelf = context.recipe, context.shelf
    update: dict[str, object] = {
        "layers": tuple(_on_bases(context, layer, other.bases, remarks) for layer in recipe.layers)
    }
    if other.mould is not None:
        update["mould"] = other.mould
    if other.mat is not None and other.mat != recipe.mat:
        update["mat"] = other.mat
        before = shelf.mats.get(recipe.mat or "")
        times = None if before is None else relief_ratio(before, shelf.mats[other.mat])
        moved = recipe.model_copy(update=update)
        detail = _detail_of(moved)
        if detail is not None and times is None:
            remarks.append(
                f"The {detail.name} keeps its amount: the relief of both mats is not known."
            )
        elif detail is not None and times is not None:
            update["layers"] = tuple(
                _scaled(layer, times) if layer is detail else layer for layer in moved.layers
            )
    moved = recipe.model_copy(update=update)
    if (moved.mat, moved.mould) == (recipe.mat, recipe.mould) or moved.mat is None:
        return moved
    return moved.model_copy(update={"piece": _piece_for(context, moved, remarks)})


def relief_ratio(before: Mat, after: Mat) -> float | None:
    """How many times as much the relief of one mat holds as another's; None if not known.

    By the volumes of the reliefs, else by size and depth of the motifs.
    """
    if before.relief_volume and after.relief_volume:
        return after.relief_volume / before.relief_volume
    if before.motif is None or after.motif is None or not before.relief or not after.relief:
        return None
    holds = (math.prod(mat.motif.size) * (mat.relief or 0) for mat in (after, before) if mat.motif)
    return next(holds) / next(holds)


def _piece_for(context: RecipeContext, recipe: Recipe, remarks: list[str]) -> str | None:
    """The piece for the recipe: one that is cut for it; None, with what to cut, without one."""
    cut_for = fitting_pieces(context.shelf, recipe.model_copy(update={"piece": None}))
    mat, mould = context.shelf.mats[recipe.mat or ""], context.shelf.moulds[recipe.mould or ""]
    cut = None if mould.face is None else piece_as_cut(mat, mould.face, recipe.trim)
    if cut is not None and cut.crops_motif:
        remarks.append(
            f"The motif of {mat.name} is larger than a cavity of {mould.name}: its edge is cut off."
        )
    if cut_for:
        return cut_for[0]
    size = "" if cut is None else f": cut it to {cut.size_mm[0]:g} x {cut.size_mm[1]:g} mm"
    remarks.append(f"No piece of {mat.name} is cut for {mould.name} with this trim yet{size}.")
    return None


def _on_bases(
    context: RecipeContext, layer: Layer, bases: Mapping[str, str], remarks: list[str]
) -> Layer:
    """A layer with some of its bases replaced by as much of others, by volume."""
    if not any(base in bases for base, _ in layer.base.shares):
        return layer
    shares: dict[str, float] = {}
    for base, share in layer.base.shares:
        new = bases.get(base, base)
        shares[new] = shares.get(new, 0.0) + share
    changed = layer.model_copy(
        update={"base": layer.base.model_copy(update={"shares": tuple(shares.items())})}
    )
    times = _ml_of_a_gram(context, layer) / _ml_of_a_gram(context, changed)
    old = " and ".join(
        context.shelf.bases[base].name for base, _ in layer.base.shares if base in bases
    )
    if layer.pour is not None:
        remarks.append(
            f"The pour window of the {layer.name} was tried on {old}: try one bar first."
        )
    return _scaled(changed, times)


def _ml_of_a_gram(context: RecipeContext, layer: Layer) -> float:
    """The volume in mL of one gram of a layer's base, as the volume of a layer goes by."""
    return math.fsum(
        share / midpoint(base_density(context, name)[:2])
        for name, share in layer_bases(context, layer)
    )


def _scaled(layer: Layer, times: float) -> Layer:
    """A layer of so many times the amount; its doses by base, and its windows, are as they are."""
    return layer.model_copy(
        update={
            "amount": layer.amount * times,
            "overpour": None if layer.overpour is None else layer.overpour * times,
            "fragrance": tuple(_dosed_for(one, times) for one in layer.fragrance),
            "colours": tuple(_dosed_for(one, times) for one in layer.colours),
            "additives": tuple(_dosed_for(one, times) for one in layer.additives),
        }
    )


def _dosed_for(one: Dosed, times: float) -> Dosed:
    """A dose for so many times the layer: only one by the bar or the pot is another."""
    dose = one.dose
    if dose is None or dose.per not in _OF_A_BAR or dose.kind == "share":
        return one
    return one.model_copy(update={"dose": replace(dose, value=dose.value * times)})
