"""The specs of all figures, by the list in ``common/figures.toml``: of a recipe, of a design, all.

The order is that of the list, and so that of the JSON. A figure that depends on another derives it
by ``RecipeContext.figure``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, TypedDict

from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import Figure
from journal.figures.common.spec import FIGURE_ENTRIES, FigureSpec
from journal.records.codec import return_type


def _specs(*of: str) -> tuple[FigureSpec[Any, Any], ...]:
    """The specs of all figures that are derived from one of these."""
    places = (entry.spec.rpartition(".") for entry in FIGURE_ENTRIES.values() if entry.of in of)
    return tuple(
        getattr(import_module(f"journal.figures.{module}"), name) for module, _, name in places
    )


OF_RECIPE: tuple[FigureSpec[RecipeContext, Any], ...] = _specs("recipe")
OF_DESIGN: tuple[FigureSpec[RecipeContext, Any], ...] = _specs("design")
FIGURES: tuple[FigureSpec[Any, Any], ...] = _specs("recipe", "design", "piece")
# What only the studio sees takes prices, and nothing else does.
PRICED = tuple(spec for spec in OF_RECIPE if spec.studio_only)


def _figures_type(name: str, specs: Iterable[FigureSpec[Any, Any]]) -> Any:
    """A ``TypedDict`` from figure names to ``Figure[...]`` of what each ``derive`` returns."""
    return TypedDict(name, {spec.name: Figure[return_type(spec.derive)] for spec in specs})  # type: ignore[operator, misc]


# Figures by name. The cache decodes them by these types.
if TYPE_CHECKING:
    MadeOfRecipe = Mapping[str, Figure[Any]]
    MadeOfDesign = Mapping[str, Figure[Any]]
    MadeOfPrices = Mapping[str, Figure[Any]]
else:
    MadeOfRecipe = _figures_type("MadeOfRecipe", OF_RECIPE)
    MadeOfDesign = _figures_type("MadeOfDesign", OF_DESIGN)
    MadeOfPrices = _figures_type("MadeOfPrices", PRICED)
