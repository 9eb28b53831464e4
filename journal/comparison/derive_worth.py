"""What the choices between the variants of a design are worth, from its figures and results."""

from __future__ import annotations

from journal.comparison.derive import DesignResults
from journal.comparison.worth import WorthOfChoice, worth_of_choices
from journal.figures.derive import DesignFigures
from journal.figures.shop.derive_shop import COST
from journal.records.models.settings import Settings
from journal.records.models.write_up import AS_WRITTEN


def design_worths(
    settings: Settings, figures: DesignFigures, results: DesignResults
) -> tuple[WorthOfChoice, ...]:
    """What each choice between two variants of a design is worth, pair by pair."""
    recipes = {AS_WRITTEN: figures.recipe, **figures.variants}
    costs = {name: cost for name, one in recipes.items() if (cost := one[COST].value) is not None}
    names = [one.variant for one in results.variants]
    return tuple(worth_of_choices(results.comparisons, names, costs, AS_WRITTEN, settings.labour))
