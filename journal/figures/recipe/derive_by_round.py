"""The masses of a recipe round by round: what is scraped back goes into the next round."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from msgspec.structs import replace

from journal.figures.common.derive_context import RecipeContext
from journal.figures.recipe.derive_layers import (
    DosedFigures,
    FragranceFigures,
    LayerFigures,
    RecipeMasses,
    recipe_masses,
)
from journal.figures.recipe.layers import fresh_share
from journal.records.models.write_up import Recipe

Dosed = TypeVar("Dosed", FragranceFigures, DosedFigures)


def masses_by_round(
    context: RecipeContext, bars_by_round: Sequence[int]
) -> tuple[RecipeMasses, ...]:
    """What is to be melted and stirred in for each round, one after the other.

    The first round melts all that is poured. What is poured over the relief and scraped back
    is melted again for the next one, which takes that much less of everything in the pot.

    Takes:  bars_by_round  bars of each round; one or more, each >= 1
    """
    found: list[RecipeMasses] = []
    known: dict[tuple[int, int], RecipeMasses] = {}
    before = 0
    for bars in bars_by_round:
        if (bars, before) not in known:
            full = recipe_masses(context.for_bars(bars))
            known[bars, before] = _topped_up(context.recipe, full, before) if before else full
        found.append(known[bars, before])
        before = bars
    return tuple(found)


def scrapings_g(recipe: Recipe, pot: str, bars: int) -> float:
    """Grams that are scraped back into a pot and can be melted for the next round.

    They are 0 in a pot of several layers: what is poured last gives its colour and scent to them.
    """
    layers = [layer for layer in recipe.layers if layer.pot_name == pot]
    return bars * (layers[0].overpour or 0.0) if len(layers) == 1 else 0.0


def _topped_up(recipe: Recipe, full: RecipeMasses, before: int) -> RecipeMasses:
    """The masses of a round that follows one of ``before`` bars."""
    fresh = {
        pot.name: fresh_share(pot.melt_g, scrapings_g(recipe, pot.name, before))
        for pot in full.pots
    }
    return replace(
        full,
        layers=tuple(_scaled_layer(layer, fresh[layer.pot]) for layer in full.layers),
        pots=tuple(
            replace(pot, melt_g=fresh[pot.name] * pot.melt_g,
                    left_g=pot.left_g - (1 - fresh[pot.name]) * pot.melt_g)
            for pot in full.pots
        ),
    )  # fmt: skip


def summed_masses(masses: Sequence[RecipeMasses]) -> RecipeMasses:
    """All rounds of one recipe together; shares are those of the first."""
    if len(masses) == 1:
        return masses[0]
    return replace(
        masses[0],
        bars=sum(one.bars for one in masses),
        layers=tuple(map(_summed_layer, zip(*(one.layers for one in masses), strict=True))),
        pots=tuple(
            replace(pots[0], melt_g=sum(one.melt_g for one in pots),
                    left_g=sum(one.left_g for one in pots))
            for pots in zip(*(one.pots for one in masses), strict=True)
        ),
    )  # fmt: skip


def _scaled_layer(layer: LayerFigures, share: float) -> LayerFigures:
    """A layer of whose melt only a share is fresh; what stays in a bar is as it was."""
    return replace(
        layer,
        melt_g=share * layer.melt_g,
        whole_g=share * layer.whole_g,
        bases=tuple((base, share * melt_g) for base, melt_g in layer.bases),
        fresh=tuple((base, share * melt_g) for base, melt_g in layer.fresh),
        leftover_g=share * layer.leftover_g,
        fragrances=tuple(
            replace(one, mass_g=_times(one.mass_g, share), volume_ml=_times(one.volume_ml, share))
            for one in layer.fragrances
        ),
        dosed=tuple(
            replace(one, mass_g=_times(one.mass_g, share), volume_ml=_times(one.volume_ml, share))
            for one in layer.dosed
        ),
    )


def _times(amount: float | None, share: float) -> float | None:
    return None if amount is None else share * amount


def _summed_layer(layers: Sequence[LayerFigures]) -> LayerFigures:
    first = layers[0]
    bases = zip(*(layer.bases for layer in layers), strict=True)
    fresh = zip(*(layer.fresh for layer in layers), strict=True)
    return replace(
        first,
        base_g=sum(layer.base_g for layer in layers),
        melt_g=sum(layer.melt_g for layer in layers),
        whole_g=sum(layer.whole_g for layer in layers),
        bases=tuple((one[0][0], sum(melt_g for _, melt_g in one)) for one in bases),
        fresh=tuple((one[0][0], sum(melt_g for _, melt_g in one)) for one in fresh),
        leftover_g=sum(layer.leftover_g for layer in layers),
        fragrances=tuple(
            map(_summed_oil, zip(*(layer.fragrances for layer in layers), strict=True))
        ),
        dosed=tuple(map(_summed, zip(*(layer.dosed for layer in layers), strict=True))),
    )


def _summed(entries: Sequence[Dosed]) -> Dosed:
    return replace(
        entries[0],
        mass_g=_sum_known([one.mass_g for one in entries]),
        volume_ml=_sum_known([one.volume_ml for one in entries]),
    )


def _summed_oil(entries: Sequence[FragranceFigures]) -> FragranceFigures:
    """An oil over all rounds; refused, if it is in one of them."""
    refused = [one for one in entries if one.refused]
    return refused[0] if refused else _summed(entries)


def _sum_known(amounts: Sequence[float | None]) -> float | None:
    known = [amount for amount in amounts if amount is not None]
    return sum(known) if len(known) == len(amounts) else None
