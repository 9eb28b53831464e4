"""The mass of base for each layer and each pot."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from journal.errors import FigureError


class PouredLayer(Struct, frozen=True):
    """A layer and its pot; ``stays_g`` remains in a bar, ``overpour_g`` is scraped back from it."""

    name: str
    pot: str
    stays_g: float
    overpour_g: float = 0.0


class LayerMass(Struct, frozen=True):
    """Base of a layer: per bar, for the batch, and its share of what is melted."""

    name: str
    pot: str
    per_bar_g: float
    base_g: float
    melt_g: float


class PotMass(Struct, frozen=True):
    """A pot and its layers; ``melt_g`` is melted in it, ``left_g`` of that gets into no bar."""

    name: str
    layers: tuple[str, ...]
    melt_g: float
    left_g: float


def melt_mass(stays_g: float, overpour_g: float, waste_share: float, waste_least_g: float) -> float:
    """Base to melt in one pot, in grams.

    melt = (stays + overpour) * (1 + share), and at least (stays + overpour) + least:
    the jug keeps a film that does not shrink with a small batch.

    Takes:  stays_g        base that stays in the bars; grams; > 0; scalar
            overpour_g         base poured over the relief and scraped back; grams; >= 0
            waste_share    share left in the jug; 0 to 1
            waste_least_g  least that is left in the jug; grams; >= 0
    Gives:  grams; not rounded
    Fails:  FigureError if one lies outside its range
    Source: definition (mass balance); common practice, no source
    Checked: 36 g that stay and 48 g over, 3 % waste: 86.52 g
    """
    if not stays_g > 0:
        raise FigureError(f"a pot for {stays_g} g of base")
    if overpour_g < 0 or waste_least_g < 0 or not 0 <= waste_share <= 1:
        raise FigureError(
            f"over {overpour_g} g, waste {waste_share} and {waste_least_g} g do not make a melt"
        )
    poured = stays_g + overpour_g
    return max(poured * (1 + waste_share), poured + waste_least_g)


def most_poured_g(held_g: float, waste_share: float, waste_least_g: float) -> float:
    """The most that can be poured out of a melt, in grams: ``melt_mass`` turned round.

    Takes:  held_g         the melt; grams; >= 0
            waste_share    share left in the jug; 0 to 1
            waste_least_g  least that is left in the jug; grams; >= 0
    Gives:  grams; 0 if all of it sticks to the jug
    Source: definition (mass balance)
    Checked: 86.52 g, 3 % waste: 84 g; with 8 g at the least: 78.52 g
    """
    return max(0.0, min(held_g / (1 + waste_share), held_g - waste_least_g))


def layer_masses(
    layers: Sequence[PouredLayer], bars: int, waste_share: float, waste_least_g: float
) -> tuple[tuple[LayerMass, ...], tuple[PotMass, ...]]:
    """Masses of all layers and pots of a batch.

    A pot melts what stays in its layers and the largest overpour among them: what
    is scraped back goes into the same pot. A layer's share of the melt goes by what
    stays of it, so that doses reckoned on it give the same bar whatever the waste.

    Takes:  layers  in pouring order; at least one; names differ
            bars    of the batch; >= 1
            waste_share, waste_least_g  as in ``melt_mass``
    Gives:  layers in their order, pots in the order of their first layer; grams
    Fails:  FigureError for no layer, less than one bar, or a mass outside its range
    Source: definition (mass balance)
    """
    if not layers or bars < 1:
        raise FigureError(f"{len(layers)} layers for {bars} bars")
    pots: dict[str, list[PouredLayer]] = {}
    for layer in layers:
        pots.setdefault(layer.pot, []).append(layer)
    masses: dict[str, LayerMass] = {}
    melted: list[PotMass] = []
    for pot, inside in pots.items():
        stays_g = sum(layer.stays_g for layer in inside) * bars
        overpour_g = max(layer.overpour_g for layer in inside) * bars
        melt_g = melt_mass(stays_g, overpour_g, waste_share, waste_least_g)
        melted.append(PotMass(pot, tuple(layer.name for layer in inside), melt_g, melt_g - stays_g))
        for layer in inside:
            base_g = layer.stays_g * bars
            masses[layer.name] = LayerMass(
                layer.name, pot, layer.stays_g, base_g, melt_g * (base_g / stays_g)
            )
    return tuple(masses[layer.name] for layer in layers), tuple(melted)


def fresh_share(melt_g: float, scrapings_g: float) -> float:
    """The share of a pot's melt that is fresh, where scrapings of the round before go into it.

    Takes:  melt_g       all that the pot is to hold; grams; > 0; scalar
            scrapings_g  scraped back from the round before; grams; >= 0
    Gives:  0 to 1
    Fails:  FigureError if either lies outside its range
    Source: definition (mass balance)
    Checked: 86.52 g with 54 g of scrapings: 32.52 g of it are fresh
    """
    if not melt_g > 0 or scrapings_g < 0:
        raise FigureError(f"{scrapings_g} g of scrapings in a melt of {melt_g} g")
    return max(0.0, melt_g - scrapings_g) / melt_g


def rounds(bars: int, cavities: int, bars_each: int = 1, pieces: int | None = None) -> int:
    """The number of times that the mould is filled for a batch.

    Takes:  bars       wanted; >= 1
            cavities   of the mould; >= 1
            bars_each  bars cut from one cavity; >= 1
            pieces     mat pieces owned, if that is the fewer; >= 1, or None
    Gives:  rounds; a whole number
    Fails:  FigureError if one is below 1
    Source: definition (counting)
    """
    places = cavities if pieces is None else min(cavities, pieces)
    if min(bars, places, bars_each) < 1:
        raise FigureError(f"{bars} bars in {places} places of {bars_each} bars each")
    return -(-bars // (places * bars_each))
