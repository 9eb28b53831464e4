"""Derive what the pots of a batch leave behind, and which leftovers an order draws on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from journal.figures.common.as_json_numbers import number, number_fields, percent
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableRow, TableSpec
from journal.figures.recipe.derive_layers import LayerFigures, RecipeMasses, recipe_masses
from journal.figures.recipe.drawn_scent import ScentedLayer, room_for_scent, used_by_draw
from journal.figures.recipe.layers import PotMass
from journal.figures.recipe.leftovers import jug_loss_g, left_behind, mass_to_draw_g
from journal.quantities.show import show_mass, show_percent
from journal.records.models.settings import Settings
from journal.records.models.shelf import Leftover, Shelf
from journal.records.models.write_up import Design, Pour, Recipe


class PotLeft(Struct, frozen=True):
    """The base that stays behind when a pot has been poured.

    ``left_g`` is base that can be kept, ``lost_g`` what sticks to the jug; ``bases`` are
    shares; ``colours``, ``additives`` and ``scents`` (oil, share of the whole) those of the
    pot's last layer, which is what remains in it.
    """

    pot: str
    layers: tuple[str, ...]
    melt_g: float
    left_g: float
    lost_g: float
    bases: tuple[tuple[str, float], ...]
    colours: tuple[str, ...]
    additives: tuple[str, ...]
    scents: tuple[tuple[str, float], ...]


class PourLeft(Struct, frozen=True):
    """The base that a pour left of a pot whose melt was written down.

    ``left_g`` and ``lost_g`` as in ``PotLeft``; ``short_g`` is how much too little was melted.
    """

    pour: str
    pot: str
    melted_g: float
    left_g: float
    lost_g: float
    short_g: float


class LeftoverDraw(Struct, frozen=True):
    """The mass that one line of an order draws from one leftover into one pot.

    ``bases_g`` is the base that is drawn; ``oil`` the leftover's scent and ``oil_g`` how much
    of it comes along, which counts towards its limit. ``limit_used`` is how much of the oils'
    limits the tightest layer uses with what the leftover brings; None without a limit.
    ``held_back_g`` is how much more the pot could have taken but for the limit of the scent.
    """

    line: int
    leftover: str
    pot: str
    mass_g: float
    bases_g: tuple[tuple[str, float], ...]
    oil: str | None
    oil_g: float
    limit_used: float | None
    held_back_g: float


class OrderLineMasses(Struct, frozen=True):
    """A line of an order that takes leftovers: its place, its design, its masses."""

    line: int
    design: str
    masses: RecipeMasses


def derive_leftovers(context: RecipeContext, builder: FigureBuilder) -> tuple[PotLeft, ...]:
    """Derive what every pot of a batch leaves behind: base, colour and scent."""
    masses = recipe_masses(context)
    waste = context.settings.waste
    builder.used("stays in the jug", show_percent(waste.share))
    if waste.least:
        builder.used("stays in the jug, at least", show_mass(waste.least, context.settings.scales))
    return pots_left(context, (masses,))


def pots_left(context: RecipeContext, rounds: Sequence[RecipeMasses]) -> tuple[PotLeft, ...]:
    """What every pot leaves behind once all rounds are poured."""
    return tuple(_pot_left(context, rounds, place) for place in range(len(rounds[0].pots)))


def lost_in_jug_g(settings: Settings, recipe: Recipe, pot: PotMass, bars: int) -> float:
    """Grams that stick to the jug of a pot in one round: the waste that its melt allows for."""
    poured_g = _poured_g(recipe, pot, bars)
    return jug_loss_g(poured_g, settings.waste.share, settings.waste.least)


def held_g(settings: Settings, recipe: Recipe, pot: PotMass, bars: int) -> float:
    """Grams that a pot holds in one round: its fresh melt and what was scraped back before."""
    return _poured_g(recipe, pot, bars) + lost_in_jug_g(settings, recipe, pot, bars)


def _poured_g(recipe: Recipe, pot: PotMass, bars: int) -> float:
    return pot.melt_g - pot.left_g + overpour_g(recipe, pot.name, bars)


def overpour_g(recipe: Recipe, pot: str, bars: int) -> float:
    """Grams of a pot that are poured over the relief and scraped back, for so many bars."""
    return bars * max(
        (layer.overpour or 0.0 for layer in recipe.layers if layer.pot_name == pot), default=0.0
    )


def derive_left_of_pours(context: RecipeContext, builder: FigureBuilder) -> tuple[PourLeft, ...]:
    """Derive what each pour left of each pot whose melt was written down."""
    return tuple(
        left
        for pour in context.design.pours
        for pot, melted_g in pour.melted_g.items()
        if (left := _pour_left(context.settings, context.design, pour, pot, melted_g)) is not None
    )


def draw_leftovers(
    shelf: Shelf, lines: Sequence[OrderLineMasses], used_up_g: Mapping[str, float]
) -> tuple[LeftoverDraw, ...]:
    """Plan which leftovers the pots of an order use up, and how much of each.

    Plain base goes into any pot of its bases. Tinted base goes only where its own
    colourant is stirred in, scented base only where its own oil is: another colour
    or scent would make another bar. Scented base is drawn no further than the oil's
    limit allows beside the dose on the card, which stays as it is.

    Takes:  lines      those that may use leftovers, in the order's sequence
            used_up_g  leftover -> grams that recipes are cast from by its name
    Gives:  the draws; leftovers that are hardest to place come first
    """
    pots = [_pot_to_fill(shelf, line, pot) for line in lines for pot in line.masses.pots]
    draws: list[LeftoverDraw] = []
    for name, record, available_g in _leftovers_to_place(shelf, used_up_g):
        tint = None if record.colourant is None else _original_colourant(shelf, record.colourant)
        scent = record.scented
        limit = None if scent is None else _fragrance_limit(shelf, scent.oil)
        for pot in pots:
            suits = (tint is None or tint in pot.colourants) and (
                scent is None or scent.oil in pot.oils
            )
            # A limit of nothing: the oil belongs into no bar.
            if not suits or limit == 0:
                continue
            draw = _draw_into_pot(pot, name, record, limit, available_g)
            if draw is not None:
                available_g -= draw.mass_g
                draws.append(draw)
    return tuple(draws)


def _draw_into_pot(
    pot: _PotToFill, name: str, leftover: Leftover, limit: float | None, available_g: float
) -> LeftoverDraw | None:
    """Draw as much of a leftover into a pot as the pot can take, and update the pot.

    Takes:  limit    that of the leftover's oil; None without one
            available_g  grams of the leftover that are there
    Gives:  the draw; None if the pot takes nothing
    """
    assert leftover.base is not None
    shares, scent = leftover.base.shares, leftover.scented
    room_g = math.inf
    if scent is not None:
        room_g = room_for_scent(tuple(pot.layers.values()), scent.concentration, limit)
    unlimited_g = mass_to_draw_g(pot.needed_g, shares, available_g)
    mass_g = mass_to_draw_g(pot.needed_g, shares, min(available_g, room_g))
    if not mass_g:
        return None
    bases_g = tuple((base, mass_g * share) for base, share in shares if share > 0)
    for base, base_g in bases_g:
        pot.needed_g[base] = max(0.0, pot.needed_g[base] - base_g)
    oil, oil_g = (None, 0.0) if scent is None else (scent.oil, mass_g * scent.concentration)
    used = None
    if limit is not None:
        pot.layers = {
            layer: replace(one, limit_used=one.limit_used + used_by_draw(one, oil_g, limit))
            for layer, one in pot.layers.items()
        }
        used = max(one.limit_used for one in pot.layers.values())
    held_back_g = unlimited_g - mass_g if unlimited_g > room_g else 0.0
    return LeftoverDraw(pot.line, name, pot.pot, mass_g, bases_g, oil, oil_g, used, held_back_g)


class _PotToFill(Struct):
    """A pot of an order while leftovers are drawn into it.

    ``needed_g`` is the base that is still to be melted, ``layers`` its layers with the
    share of their limits that is used so far.
    """

    line: int
    pot: str
    needed_g: dict[str, float]
    colourants: set[str]
    oils: set[str]
    layers: dict[str, ScentedLayer]


def _pot_left(context: RecipeContext, rounds: Sequence[RecipeMasses], place: int) -> PotLeft:
    """Derive what one pot leaves behind after all rounds."""
    pots, masses = [masses.pots[place] for masses in rounds], rounds[0]
    pot = pots[0]
    lost_g = sum(
        lost_in_jug_g(context.settings, context.recipe, pot, masses.bars)
        for pot, masses in zip(pots, rounds, strict=True)
    )
    melt_g = sum(pot.melt_g for pot in pots)
    remainder = left_behind(melt_g, melt_g - sum(pot.left_g for pot in pots), lost_g)
    last = masses.layer(pot.layers[-1])
    colours = [one.name for one in last.of_kind("colourants")]
    leftover = context.shelf.leftovers.get(last.leftover or "")
    if leftover is not None and leftover.colourant is not None:
        colours.append(leftover.colourant)
    return PotLeft(
        pot=pot.name,
        layers=pot.layers,
        melt_g=melt_g,
        left_g=remainder.left_g,
        lost_g=remainder.lost_g,
        bases=_base_shares(last),
        colours=tuple(dict.fromkeys(colours)),
        additives=tuple(dict.fromkeys(one.name for one in last.of_kind("additives"))),
        scents=tuple((oil.oil, oil.layer_share) for oil in last.fragrances),
    )


def _base_shares(layer: LayerFigures) -> tuple[tuple[str, float], ...]:
    """The layer's bases with their shares of its melt."""
    return tuple((base, melt_g / layer.melt_g) for base, melt_g in layer.bases)


def _pour_left(
    settings: Settings, design: Design, pour: Pour, pot: str, melted_g: float
) -> PourLeft | None:
    """Derive what a pour left of a pot; None if no bar was poured from it."""
    recipes = {variant.name: variant.recipe for variant in design.variants}
    poured = [recipes.get(bar.variant, design.recipe) for bar in pour.bars]
    if not poured:
        return None
    stays_g = math.fsum(
        layer.amount for recipe in poured for layer in recipe.layers if layer.pot_name == pot
    )
    if not stays_g:
        return None
    scraped_g = math.fsum(overpour_g(recipe, pot, 1) for recipe in poured)
    lost_g = jug_loss_g(stays_g + scraped_g, settings.waste.share, settings.waste.least)
    left = left_behind(melted_g, stays_g, lost_g)
    return PourLeft(pour.label, pot, melted_g, left.left_g, left.lost_g, left.short_g)


def _pot_to_fill(shelf: Shelf, line: OrderLineMasses, pot: PotMass) -> _PotToFill:
    """A pot of an order before anything is drawn; what leftovers give is no base that it needs."""
    layers = [line.masses.layer(name) for name in pot.layers]
    needed_g: dict[str, float] = {}
    for layer in layers:
        for base, melt_g in layer.fresh:
            needed_g[base] = needed_g.get(base, 0.0) + melt_g
    colours = (one.name for layer in layers for one in layer.of_kind("colourants"))
    return _PotToFill(
        line=line.line,
        pot=pot.name,
        needed_g=needed_g,
        colourants={_original_colourant(shelf, name) for name in colours},
        oils={oil.oil for layer in layers for oil in layer.fragrances},
        layers={
            layer.name: ScentedLayer(
                layer.whole_g, layer.limit_used or 0.0, layer.melt_g / pot.melt_g
            )
            for layer in layers
        },
    )


def _original_colourant(shelf: Shelf, colourant: str) -> str:
    """Follow ``same_as`` from a colourant to the entry that it is the same colour as in the end."""
    chain = [colourant]
    while (record := shelf.colourants.get(chain[-1])) is not None and record.same_as:
        if record.same_as in chain:
            break
        chain.append(record.same_as)
    return chain[-1]


def _leftovers_to_place(
    shelf: Shelf, used_up_g: Mapping[str, float]
) -> list[tuple[str, Leftover, float]]:
    """The leftovers of known base and mass that are not used up: id, record, grams left.

    Hardest to place first (tinted and scented, then one of both, then plain), of these the
    smaller first, so that it is used up.
    """
    leftovers = []
    for name, record in shelf.leftovers.items():
        available_g = leftover_mass_g(record)
        if record.base is not None and record.base.shares and available_g is not None:
            leftovers.append((name, record, available_g - used_up_g.get(name, 0.0)))
    return sorted(
        (one for one in leftovers if one[2] > 0),
        key=lambda one: ((one[1].colourant is None) + (one[1].scented is None), one[2]),
    )


def leftover_mass_g(record: Leftover) -> float | None:
    """Grams of a leftover that there are; None where the shelf states no mass."""
    if record.amount is not None:
        return record.amount
    if record.on_hand is not None and record.on_hand.amount.kind == "mass":
        return record.on_hand.amount.value
    return None


def _fragrance_limit(shelf: Shelf, oil: str) -> float | None:
    """The oil's limit on the shelf, as a fraction; None if it has none."""
    record = shelf.fragrances.get(oil)
    return record.limit if record is not None else None


def _left_json(left: PotLeft) -> dict[str, Any]:
    """The JSON block of one pot."""
    return {
        **number_fields(left, "left_g lost_g"),
        "bases": {base: {"left_g": number(share * left.left_g)} for base, share in left.bases},
        "colours": list(left.colours),
        "additives": list(left.additives),
        "fragrances": {oil: {"layer_percent": percent(share)} for oil, share in left.scents},
    }


def _pot_rows(pots: tuple[PotLeft, ...]) -> Iterator[TableRow]:
    """Yield a row for each pot."""
    for left in pots:
        yield (
            left.pot, ", ".join(left.layers), left.melt_g, left.left_g, left.lost_g,
            ", ".join(left.colours), ", ".join(oil for oil, _ in left.scents),
        )  # fmt: skip


LEFTOVERS = FigureSpec(
    name="leftovers", kind="computed", derive=derive_leftovers,
    blocks={"leftovers": lambda pots: {left.pot: _left_json(left) for left in pots}},
    empty={},
    tables=(
        TableSpec(
            "pots", "pot layers melt_g left_g lost_g left_colours left_fragrances", _pot_rows
        ),
    ),
)  # fmt: skip

LEFT_OF_POURS = FigureSpec(
    name="left_of_pours", kind="computed", derive=derive_left_of_pours,
    explained_by="leftovers",
    blocks={"left_of_pours": lambda pours: [
        {"pour": left.pour, "pot": left.pot,
         **number_fields(left, "melted_g left_g lost_g short_g")}
        for left in pours
    ]},
    empty=[],
)  # fmt: skip
