"""Derive the weight that a fresh bar of a recipe should have."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.as_json_numbers import number_fields
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableRow, TableSpec
from journal.figures.recipe.derive_layers import DosedFigures, LayerFigures, recipe_masses
from journal.figures.recipe.fragrance import HEAVIEST_OIL_G_ML


class LayerInBar(Struct, frozen=True):
    """What one bar holds of a layer: ``known_g`` in all, and the things whose mass is not known."""

    known_g: float
    without: tuple[str, ...] = ()


class BarWeight(Struct, frozen=True):
    """The weight of a fresh bar, in grams.

    ``known_g_per_bar`` is the sum without the things in ``without``, whose mass is not known;
    ``mass_g_per_bar`` is None if there are any.
    """

    mass_g_per_bar: float | None
    known_g_per_bar: float
    without: tuple[str, ...]


def bar_weight(layers: Sequence[LayerInBar]) -> BarWeight:
    """Weight of a bar: the sum of what it holds of each layer.

    Takes:  layers  at least one; grams of each in one bar; > 0
    Gives:  grams; not rounded
    Fails:  FigureError for no layer, or a mass that is not above 0
    Source: definition (mass balance)
    """
    if not layers or not all(layer.known_g > 0 for layer in layers):
        raise FigureError(f"a bar of {[layer.known_g for layer in layers]} g")
    known_g = sum(layer.known_g for layer in layers)
    without = tuple(dict.fromkeys(thing for layer in layers for thing in layer.without))
    return BarWeight(None if without else known_g, known_g, without)


def derive_bar_weight(context: RecipeContext, builder: FigureBuilder) -> BarWeight:
    """Derive the weight of one bar, of which a cavity may hold several: amounts are a bar's."""
    layers = recipe_masses(context).layers
    for place, layer in enumerate(layers):
        builder.used(
            f"amount of {layer.name}",
            str(context.variant.written["layers"][place]["amount"]),
            context.at("layers", place, "amount"),
        )
        for oil in layer.fragrances:
            if oil.density_assumed:
                builder.used(
                    f"density of {oil.oil}",
                    f"not on the shelf: {HEAVIEST_OIL_G_ML:.2f} g/mL, the heavy end of its kind",
                )
        for one in _without_mass(layer):
            key = "colours" if one.kind == "colourants" else one.kind
            builder.lacks(
                f"{key}/{one.name}: dose (it is done by eye)"
                if one.by_eye
                else f"{one.kind}/{one.name}: density"
            )
    return bar_weight(
        [
            LayerInBar(
                layer.stays_g_per_bar,
                tuple(f"{one.kind}/{one.name}" for one in _without_mass(layer)),
            )
            for layer in layers
        ]
    )


def _without_mass(layer: LayerFigures) -> Iterator[DosedFigures]:
    """Yield the colourants and additives of a layer whose mass is not known."""
    return (one for one in layer.dosed if one.mass_g is None)


def _bar_weight_rows(weight: BarWeight) -> Iterator[TableRow]:
    """Yield one row; the things left out are separated by blanks."""
    yield (weight.mass_g_per_bar, weight.known_g_per_bar, " ".join(weight.without) or None)


BAR_WEIGHT = FigureSpec(
    name="bar_weight", kind="computed", derive=derive_bar_weight,
    blocks={
        "bar_weight": lambda weight: {
            **number_fields(weight, "mass_g_per_bar known_g_per_bar"),
            "without": list(weight.without),
        },
    },
    tables=(
        TableSpec("bar_weight", "mass_g_per_bar known_g_per_bar without", _bar_weight_rows),
    ),
)  # fmt: skip
