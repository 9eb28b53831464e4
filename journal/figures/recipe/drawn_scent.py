"""The amount of scented leftover that a pot can take before an oil passes its limit."""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from journal.errors import FigureError


class ScentedLayer(Struct, frozen=True):
    """A layer of a pot: ``whole_g`` base, oil and colour of its share of the melt.

    ``limit_used`` is the sum of concentration / limit of the oils that the recipe puts in;
    ``share`` its part of the pot's melt, 0 to 1.
    """

    whole_g: float
    limit_used: float
    share: float


def room_for_scent(
    layers: Sequence[ScentedLayer], concentration: float, limit: float | None
) -> float:
    """The most of a scented leftover that may go into a pot beside the recipe's own dose, in grams.

    What is drawn takes the place of fresh base, so the layer's mass stays and its
    oil rises by drawn x concentration x share. The dose is left as on the card.
    For each layer (drawn x concentration x share / whole) / limit + used <= 1; the
    tightest layer decides.

    Takes:  layers         of the pot; at least one; whole_g > 0, used >= 0, share 0 to 1
            concentration  the oil's share of the leftover's mass; 0 to 1
            limit          the oil's; a fraction > 0; None if the shelf gives none
    Gives:  grams, 0 or more; infinite where nothing bounds it
    Fails:  FigureError if any lies outside its range
    Source: definition (mass balance)
    Checked: 500 g at half its limit of 2 %, leftover of 1 %: 500 g
    """
    if not layers or not 0 <= concentration <= 1 or (limit is not None and not limit > 0):
        raise FigureError(
            f"{len(layers)} layers, a concentration of {concentration} and a limit of {limit}"
        )
    room_g = math.inf
    for layer in layers:
        if not layer.whole_g > 0 or not layer.limit_used >= 0 or not 0 <= layer.share <= 1:
            raise FigureError(f"a layer cannot be {layer}")
        brought = concentration * layer.share
        if limit is None or brought == 0:
            continue
        room_g = min(room_g, max(0.0, 1 - layer.limit_used) * limit * layer.whole_g / brought)
    return room_g


def used_by_draw(layer: ScentedLayer, oil_g: float, limit: float) -> float:
    """The share of an oil's limit that a draw into the layer's pot uses up in the layer.

    oil x share / whole / limit: what is drawn mixes with all of the pot.

    Takes:  layer  one of the pot's
            oil_g  oil that the draw brings; grams; >= 0
            limit  the oil's; a fraction > 0
    Gives:  1 for all of the limit
    Fails:  FigureError if any lies outside its range
    Source: definition (mass balance)
    Checked: 5 g of oil into 500 g at a limit of 2 % is half of it
    """
    if not oil_g >= 0 or not limit > 0 or not layer.whole_g > 0:
        raise FigureError(f"{oil_g} g of oil, limit {limit}, in {layer.whole_g} g")
    return oil_g * layer.share / layer.whole_g / limit
