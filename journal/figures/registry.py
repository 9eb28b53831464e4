"""The lists of all figures: of a recipe, of a design, of a piece on the shelf.

The order is that of the JSON. A figure that depends on another derives it by
``RecipeContext.figure``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, TypedDict

from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import Figure
from journal.figures.common.spec import FigureSpec
from journal.figures.heat import derive_heat
from journal.figures.pieces import derive_pieces
from journal.figures.recipe import derive_fill, derive_layers, derive_leftovers
from journal.figures.shop import derive_shop
from journal.records.codec import return_type

OF_RECIPE: tuple[FigureSpec[RecipeContext, Any], ...] = (
    derive_layers.LAYERS,
    derive_fill.FILL,
    derive_shop.COST,
    derive_shop.NET_WEIGHT,
    derive_shop.LABEL,
    derive_shop.CUT,
    derive_heat.BOND,
    derive_leftovers.LEFTOVERS,
    derive_heat.MELTING,
)
OF_DESIGN: tuple[FigureSpec[RecipeContext, Any], ...] = (
    derive_heat.COOLING,
    derive_heat.BLEED,
    derive_leftovers.LEFT_OF_POURS,
)

FIGURES: tuple[FigureSpec[Any, Any], ...] = (*OF_RECIPE, *OF_DESIGN, derive_pieces.PIECES)


def _figures_type(name: str, specs: Iterable[FigureSpec[Any, Any]]) -> Any:
    """A ``TypedDict`` from figure names to ``Figure[...]`` of what each ``derive`` returns."""
    return TypedDict(name, {spec.name: Figure[return_type(spec.derive)] for spec in specs})  # type: ignore[operator, misc]


# Figures by name. The cache decodes them by these types.
if TYPE_CHECKING:
    MadeOfRecipe = Mapping[str, Figure[Any]]
    MadeOfDesign = Mapping[str, Figure[Any]]
else:
    MadeOfRecipe = _figures_type("MadeOfRecipe", OF_RECIPE)
    MadeOfDesign = _figures_type("MadeOfDesign", OF_DESIGN)
