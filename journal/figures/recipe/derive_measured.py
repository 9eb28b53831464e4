"""What is asked for of a recipe's things, to be measured with the studio's tools."""

from __future__ import annotations

from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_layers import DosedFigures, FragranceFigures
from journal.quantities.kinds import Dose
from journal.quantities.measuring import AskedAmount, Tools
from journal.records.models.settings import Settings
from journal.records.models.shelf import Colourant, DosedIngredient, Shelf
from journal.records.models.write_up import Recipe


def studio_tools(settings: Settings) -> Tools:
    """What a studio measures with."""
    return Tools(settings.scales, settings.spoons, settings.units == "us")


def share_of_a_round(shelf: Shelf, recipe: Recipe) -> float:
    """The share of the recipe's bars that one full round of its mould makes; at most 1."""
    a_round = places_of_recipe(shelf, recipe).bars_a_round
    return 1.0 if a_round is None else min(1.0, a_round / recipe.bars)


def asked_of_oil(oil: FragranceFigures, dose: Dose) -> AskedAmount | None:
    """The amount of an oil; without the one that only a guessed density gives.

    None where it is over its limit. ``dose`` is the dose that it is written with.
    """
    if oil.refused:
        return None
    mass_g, volume_ml = oil.mass_g, oil.volume_ml
    if oil.density_assumed:
        mass_g, volume_ml = (None, volume_ml) if dose.kind == "volume" else (mass_g, None)
    return AskedAmount("oil", mass_g, volume_ml, oil.rough)


def asked_of_dosed(shelf: Shelf, one: DosedFigures) -> AskedAmount | None:
    """The amount of a colourant or additive; None where it is dosed by eye."""
    if one.by_eye:
        return None
    liquid = one.rough or _is_liquid(shelf.dosed_ingredient(one.kind, one.name))
    return AskedAmount("liquid" if liquid else "powder", one.mass_g, one.volume_ml, one.rough)


def _is_liquid(record: DosedIngredient) -> bool:
    """Whether a thing is measured as a liquid: one that is there by volume, or else a dye.

    Micas, pigments and additives that are weighed are powders.
    """
    kind = record.kind if isinstance(record, Colourant) else None
    if kind == "mica":
        return False
    if record.on_hand is not None:
        return record.on_hand.amount.kind == "volume"
    return kind == "dye"
