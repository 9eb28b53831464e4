"""Derive the masses, fragrance, colour and additives of a recipe's layers.

``builder`` notes inputs that are missing; the values that depend on them are None.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import Position
from journal.figures.common.as_json_numbers import number, number_fields, numbers, percent
from journal.figures.common.derive_context import RecipeContext, midpoint
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableRow, TableSpec
from journal.figures.recipe.base_properties import DENSITY_KG_M3
from journal.figures.recipe.doses import LOOSE_MICA_G_ML, MeasuredDose, measure_dose
from journal.figures.recipe.fragrance import (
    HEAVIEST_OIL_G_ML,
    LIMIT_SLACK,
    AddingWindow,
    adding_window_c,
    concentration,
    fragrance_load,
    limit_used,
    most_oil_g,
    share_taken,
    within_limit,
)
from journal.figures.recipe.layers import LayerMass, PotMass, PouredLayer, layer_masses
from journal.quantities.kinds import Dose
from journal.quantities.show import show_percent
from journal.records.models.shelf import Shelf
from journal.records.models.write_up import DOSED, DoseEntry, FragranceDose, Layer
from journal.records.yaml.tree import value_at


class FragranceFigures(Struct, frozen=True):
    """One oil in one layer of a batch.

    Shares and the limit are fractions of the whole; ``load`` is the mass of oil over that of
    base. ``takes`` is the largest load that the layer's base carries, ``within_takes`` whether all
    oils of the layer together are within it; ``most_g`` the most of this oil that limit and base
    allow, the others as they are. ``rough`` tells that the dose was in drops.

    Over its limit, alone or with the layer's other oils (``within_limit`` False), it has no volume
    and no mass: what nobody should pour is nowhere to be had, whoever asks.
    """

    oil: str
    volume_ml: float | None
    mass_g: float | None
    load: float
    limit: float | None
    layer_share: float = 0.0
    bar_share: float = 0.0
    within_limit: bool | None = None
    takes: float | None = None
    within_takes: bool | None = None
    most_g: float | None = None
    add_c: AddingWindow = (None, None)
    rough: bool = False
    density_assumed: bool = False  # the heavy end of the published range, for want of a density
    from_leftover: bool = False

    @property
    def refused(self) -> bool:
        """Whether it is over its limit, so that no amount of it is given."""
        return self.within_limit is False


class OverLimit(NamedTuple):
    """A layer over a limit: one oil over its own, or all its oils together over theirs.

    ``share`` is the oil's of the layer, or what the oils use of their limits, then without a
    ``limit``.
    """

    layer: str
    oils: tuple[str, ...]
    share: float
    limit: float | None


class DosedFigures(Struct, frozen=True):
    """A colourant or an additive in one layer, by its ``kind`` on the shelf and its id.

    Volume and mass are None where it is dosed by eye, one of them where its density is not known.
    ``layer_share`` is its share of all that is in the layer, ``most`` the largest usual share.
    """

    kind: str
    name: str
    volume_ml: float | None
    mass_g: float | None
    by_eye: bool
    aim: str | None
    rough: bool
    most: float | None
    layer_share: float | None = None


class LayerFigures(Struct, frozen=True):
    """All masses of one layer of a batch.

    ``bases`` is all base in it, that of a leftover too; ``fresh`` what is weighed out of the jars
    beside ``leftover_g`` of the leftover.
    """

    name: str
    pot: str
    base_g_per_bar: float
    base_g: float
    melt_g: float
    volume_ml_per_bar: float
    bases: tuple[tuple[str, float], ...]  # base id, grams to melt
    leftover: str | None
    fragrances: tuple[FragranceFigures, ...]
    dosed: tuple[DosedFigures, ...]  # as written: colours, then additives
    pour_c: tuple[float, float] | None
    limit_used: float | None  # sum of concentration / limit; None without limits
    whole_g: float  # base + fragrance + colour + additives of the layer's melt
    stays_g_per_bar: float  # base and all that is stirred in, in one bar
    fresh: tuple[tuple[str, float], ...] = ()
    leftover_g: float = 0.0

    @property
    def over(self) -> Iterator[OverLimit]:
        """Each limit that the layer is over, of its oils together only where none is alone."""
        alone = [
            OverLimit(self.name, (one.oil,), one.layer_share, one.limit)
            for one in self.fragrances
            if one.limit is not None and not _is_within(one.layer_share, one.limit)
        ]
        yield from alone
        if not alone and self.limit_used is not None and not within_limit(self.limit_used):
            oils = tuple(one.oil for one in self.fragrances if one.limit is not None)
            yield OverLimit(self.name, oils, self.limit_used, None)

    def of_kind(self, kind: str) -> tuple[DosedFigures, ...]:
        """The entries of ``dosed`` of one kind: "colourants" or "additives"."""
        return tuple(one for one in self.dosed if one.kind == kind)


class RecipeMasses(Struct, frozen=True):
    """The layers and pots of a batch of ``bars``; ``bar_g`` is one finished bar, still wet."""

    bars: int
    layers: tuple[LayerFigures, ...]
    pots: tuple[PotMass, ...]
    bar_g: float

    @property
    def over(self) -> tuple[OverLimit, ...]:
        """Each limit that a layer is over: a recipe with any is not to be poured or sold."""
        return tuple(one for layer in self.layers for one in layer.over)

    def layer(self, name: str) -> LayerFigures:
        """The layer of that name; KeyError if there is none."""
        for layer in self.layers:
            if layer.name == name:
                return layer
        raise KeyError(name)


# The name of the part of the figure in ``missing``, for each kind that is stirred in.
FIGURE_PART_OF_KIND = {"colourants": "colour", "additives": "additives"}


def derive_layers(context: RecipeContext, builder: FigureBuilder) -> RecipeMasses:
    """Derive the masses of a batch by layer and pot, and check limits and usual doses."""
    waste = context.settings.waste
    masses, pots = layer_masses(
        [
            PouredLayer(layer.name, layer.pot_name, layer.amount, layer.overpour or 0.0)
            for layer in context.recipe.layers
        ],
        context.bars,
        waste.share,
        waste.least,
    )
    builder.used("bars", str(context.bars))
    builder.used("waste", show_percent(waste.share))
    by_name = {mass.name: mass for mass in masses}
    layers = []
    for place, layer in enumerate(context.recipe.layers):
        builder.used(
            f"amount of {layer.name}",
            str(context.variant.written["layers"][place]["amount"]),
            context.at("layers", place, "amount"),
        )
        layers.append(_layer_figures(context, place, layer, by_name[layer.name], builder))
    bar_g = sum(layer.stays_g_per_bar for layer in layers)
    complete = _with_bar_shares(layers, bar_g)
    _check_limits(context, complete)
    _check_loads(context, complete)
    _check_usual_doses(context, complete)
    return RecipeMasses(context.bars, complete, pots, bar_g)


def base_density(context: RecipeContext, base: str) -> tuple[float, float, bool]:
    """Density of a base: low and high in g/mL, and whether it is the usual one, assumed."""
    record = context.shelf.bases.get(base)
    if record is not None and record.density is not None:
        return (*record.density, False)
    return DENSITY_KG_M3.low / 1000, DENSITY_KG_M3.high / 1000, True


def layer_bases(context: RecipeContext, layer: Layer) -> tuple[tuple[str, float], ...]:
    """The bases of a layer, with those of the leftover that is in it, as (id, share).

    Empty if the bases of that leftover are not on the shelf.
    """
    mixture = layer.base
    if mixture.leftover is None:
        return mixture.shares
    leftover = context.shelf.leftovers.get(mixture.leftover)
    if leftover is None or leftover.base is None:
        return ()
    if not mixture.shares:
        return leftover.base.shares
    shares = dict(mixture.shares)
    for base, share in leftover.base.shares:
        shares[base] = shares.get(base, 0.0) + mixture.of_leftover * share
    return tuple(shares.items())


def _layer_figures(
    context: RecipeContext, number: int, layer: Layer, mass: LayerMass, builder: FigureBuilder
) -> LayerFigures:
    """Derive layer ``number`` (from 0), but for the shares of its oils in the whole bar."""
    bases = tuple((base, share * mass.melt_g) for base, share in layer_bases(context, layer))
    stirred = tuple(
        _dosed_figures(context, ("layers", number, key, index), one, mass, builder)
        for key in DOSED
        for index, one in enumerate(getattr(layer, key))
    )
    stirred_g = sum(one.mass_g or 0.0 for one in stirred)
    oils = [
        _fragrance_figures(context, (number, index), fragrance, mass, builder)
        for index, fragrance in enumerate(layer.fragrance)
    ]
    whole_g = mass.melt_g + stirred_g + sum(oil.mass_g or 0.0 for oil in oils)
    oils.extend(_oil_of_leftover(context, number, layer, mass, builder))
    takes = _share_taken(context, layer, builder) if oils else None
    fragrances = tuple(_with_bounds(oil, oils, mass.melt_g, whole_g, takes) for oil in oils)
    with_limit = [
        (oil.layer_share, oil.limit) for oil in fragrances if oil.limit is not None and oil.limit
    ]
    layer_figures = LayerFigures(
        name=layer.name,
        pot=mass.pot,
        base_g_per_bar=mass.per_bar_g,
        base_g=mass.base_g,
        melt_g=mass.melt_g,
        volume_ml_per_bar=_volume_per_bar(context, layer, mass, fragrances, stirred, builder),
        bases=bases,
        leftover=layer.base.leftover,
        fragrances=fragrances,
        dosed=tuple(
            one if one.mass_g is None else replace(one, layer_share=one.mass_g / whole_g)
            for one in stirred
        ),
        pour_c=layer.pour,
        limit_used=limit_used(with_limit) if with_limit else None,
        whole_g=whole_g,
        stays_g_per_bar=whole_g * mass.per_bar_g / mass.melt_g if mass.melt_g else 0.0,
        fresh=tuple((base, share * mass.melt_g) for base, share in layer.base.shares),
        leftover_g=layer.base.of_leftover * mass.melt_g,
    )
    return _without_refused(layer_figures, builder)


def _fragrance_figures(
    context: RecipeContext,
    where: tuple[int, int],
    fragrance: FragranceDose,
    mass: LayerMass,
    builder: FigureBuilder,
) -> FragranceFigures:
    """Derive one oil of a layer, but for its shares; ``where`` are the places of layer and oil."""
    record = context.shelf.fragrances.get(fragrance.oil)
    density = record.density[1] if record is not None and record.density is not None else None
    path = ("layers", where[0], "fragrance", where[1])
    amount = _measured_dose(context, fragrance.dose, mass, density or HEAVIEST_OIL_G_ML)
    assert amount.mass_g is not None
    builder.used(f"dose of {fragrance.oil}", "", context.at(*path, "dose"))
    if density is None:
        builder.used(
            f"density of {fragrance.oil}",
            f"not on the shelf: {HEAVIEST_OIL_G_ML:.2f} g/mL, the heavy end of its kind",
        )
    limit = _fragrance_limit(context, fragrance.oil, context.at(*path, "oil"), builder)
    _check_adding_window(context, path, fragrance)
    return FragranceFigures(
        oil=fragrance.oil,
        volume_ml=amount.volume_ml,
        mass_g=amount.mass_g,
        load=fragrance_load(amount.mass_g, mass.melt_g),
        limit=limit,
        add_c=adding_window(context.shelf, fragrance),
        rough=fragrance.dose.rough,
        density_assumed=density is None,
    )


def adding_window(shelf: Shelf, fragrance: FragranceDose) -> AddingWindow:
    """The window to stir an oil in by recipe and shelf, as ``adding_window_c``."""
    record = shelf.fragrances.get(fragrance.oil)
    return adding_window_c(fragrance.add, None if record is None else record.add_below)


def _check_adding_window(
    context: RecipeContext, path: tuple[str | int, ...], fragrance: FragranceDose
) -> None:
    """Add an error if all of an oil's window, at ``path`` of the recipe, is above its supplier's.

    The window of the recipe is left out by ``adding_window`` in this case alone.
    """
    if fragrance.add is None or adding_window(context.shelf, fragrance)[0] is not None:
        return
    if context.on_shelf("fragrances", fragrance.oil) is None:  # as a page has it: told before
        return
    add = value_at(context.variant.written, (*path, "add"))
    below = context.shelf.written["fragrances"][fragrance.oil]["add_below"]
    context.error(
        add.at,
        f'"{fragrance.oil}" goes in at {add}, but its supplier says below {below}',
        f"Let the pot cool first: give a window that ends at {below} or lower.",
    )


def _fragrance_limit(
    context: RecipeContext, oil: str, at: Position, builder: FigureBuilder
) -> float | None:
    """The oil's limit as a fraction; None, noted as missing and with a warning, without one."""
    record = context.shelf.fragrances.get(oil)
    limit = record.limit if record is not None else None
    if limit is None:
        builder.lacks(f"fragrances/{oil}: limit", "fragrance limit")
        context.warning(
            context.on_shelf("fragrances", oil) or at,
            f'the oil "{oil}" has no limit on the shelf',
            "Add it as the supplier's certificate has it for rinse-off products: limit: … %.",
        )
        return None
    dated = record.certificate if record is not None else None
    of = f"certificate of {dated.isoformat()}" if dated else "its certificate has no date here"
    builder.used(f"limit of {oil}", f"{show_percent(limit)}, {of}")
    return limit


def _oil_of_leftover(
    context: RecipeContext, number: int, layer: Layer, mass: LayerMass, builder: FigureBuilder
) -> list[FragranceFigures]:
    """The oil of the leftover in a layer, if any; the base's mass includes it."""
    leftover = context.shelf.leftovers.get(layer.base.leftover or "")
    if leftover is None:
        return []
    if leftover.base is None:
        builder.lacks(f"leftovers/{layer.base.leftover}: base")
    if leftover.scented is None:
        return []
    mass_g = leftover.scented.concentration * layer.base.of_leftover * mass.melt_g
    return [
        FragranceFigures(
            oil=leftover.scented.oil,
            volume_ml=None,
            mass_g=mass_g,
            load=fragrance_load(mass_g, mass.melt_g),
            limit=_fragrance_limit(
                context, leftover.scented.oil, context.at("layers", number, "base"), builder
            ),
            from_leftover=True,
        )
    ]


def _share_taken(context: RecipeContext, layer: Layer, builder: FigureBuilder) -> float | None:
    """The largest fragrance load that a layer's bases carry; None, noted as missing, if unknown."""
    taken = [
        (share, record.takes, base)
        for base, share in layer_bases(context, layer)
        if (record := context.shelf.bases.get(base)) is not None
    ]
    if not taken:
        builder.lacks(f"leftovers/{layer.base.leftover}: base", "fragrance load")
    for _, takes, base in taken:
        if takes is None:
            builder.lacks(f"bases/{base}: takes", "fragrance load")
        else:
            at = context.on_shelf("bases", base, "takes")
            builder.used(f"fragrance that {base} takes", show_percent(takes), at)
    return share_taken([(share, takes) for share, takes, _ in taken])


def _without_refused(layer: LayerFigures, builder: FigureBuilder) -> LayerFigures:
    """A layer without the amounts of its oils that are over a limit, which are noted as missing."""
    refused = {oil for over in layer.over for oil in over.oils}
    for oil in sorted(refused):
        builder.lacks(within_limit_need(oil), "amount of oil")
    fragrances = tuple(
        replace(one, within_limit=False, volume_ml=None, mass_g=None) if one.oil in refused else one
        for one in layer.fragrances
    )
    return replace(layer, fragrances=fragrances)


def within_limit_need(oil: str) -> str:
    """What is to be written, for an amount of an oil that is over its limit."""
    return f"fragrance/{oil}: dose (it is over its limit: no amount is given)"


def _with_bounds(
    oil: FragranceFigures,
    oils: Sequence[FragranceFigures],
    base_g: float,
    whole_g: float,
    takes: float | None,
) -> FragranceFigures:
    """A copy of one of a layer's oils with its share, and held against its limit and the base.

    ``takes`` is the largest load that the layer's base carries.
    """
    mass_g = oil.mass_g or 0.0
    share = concentration(mass_g, whole_g)
    # A limit of 0 allows no bar at all, and is an error of its own.
    others = [(other.mass_g or 0.0, other.limit or None) for other in oils if other is not oil]
    return replace(
        oil,
        layer_share=share,
        within_limit=None if oil.limit is None else _is_within(share, oil.limit),
        takes=takes,
        within_takes=None if takes is None else _is_within(sum(one.load for one in oils), takes),
        most_g=most_oil_g(base_g, whole_g - mass_g, others, oil.limit, takes),
    )


def _is_within(share: float, most: float) -> bool:
    """Whether a share is no larger than ``most``; none is, of what should not be there at all."""
    return bool(most) and within_limit(share / most)


def _with_bar_shares(layers: Sequence[LayerFigures], bar_g: float) -> tuple[LayerFigures, ...]:
    """Copies of the layers with each oil's share of the whole bar, summed over the layers."""
    in_bar_g: dict[str, float] = {}
    for layer in layers:
        for oil in layer.fragrances:
            mass_g = oil.layer_share * layer.stays_g_per_bar
            in_bar_g[oil.oil] = in_bar_g.get(oil.oil, 0.0) + mass_g
    shares = {oil: concentration(mass_g, bar_g) for oil, mass_g in in_bar_g.items()}
    return tuple(
        replace(
            layer,
            fragrances=tuple(replace(oil, bar_share=shares[oil.oil]) for oil in layer.fragrances),
        )
        for layer in layers
    )


def _check_limits(context: RecipeContext, layers: Sequence[LayerFigures]) -> None:
    """Add an error for each layer whose oils pass their limits, alone or together."""
    for place, layer in enumerate(layers):
        over = next(layer.over, None)
        if over is None:
            continue
        at = context.at("layers", place, "fragrance")
        if over.limit is not None:
            context.error(
                at,
                f'"{over.oils[0]}" is {show_percent(over.share)} of the layer "{layer.name}",'
                f" over its limit of {show_percent(over.limit)}",
                "Lower the dose: over the limit it can hurt skin.",
            )
        else:
            context.error(
                at,
                f'the oils of the layer "{layer.name}" together use {show_percent(over.share)} of'
                " their limits",
                "Lower the doses until the shares of the limits sum to at most 100 %.",
            )


def _check_loads(context: RecipeContext, layers: Sequence[LayerFigures]) -> None:
    """Add a warning for each layer that is dosed with more oil than its base carries."""
    for place, layer in enumerate(layers):
        poured_in = [oil for oil in layer.fragrances if not oil.from_leftover]
        if not poured_in or poured_in[0].within_takes is not False:
            continue
        takes = poured_in[0].takes
        assert takes is not None
        load = sum(oil.load for oil in layer.fragrances)
        brought = sum(oil.load for oil in layer.fragrances if oil.from_leftover)
        # Rounded down: the dose that is said must pass.
        most = show_percent(math.floor(max(0.0, takes - brought) * 1e4 + LIMIT_SLACK) / 1e4)
        path: tuple[str | int, ...] = ("layers", place, "fragrance")
        one = len(poured_in) == 1
        context.warning(
            context.at(*path, 0, "dose") if one else context.at(*path),
            f'the fragrance of the layer "{layer.name}" is {show_percent(load)} of its base, which'
            f" carries {show_percent(takes)}",
            f"Lower the {'dose' if one else 'doses together'} to {most} of the base or less:"
            " beyond it scent sweats out, and the bar may not set.",
        )


def _dosed_figures(
    context: RecipeContext,
    path: tuple[str | int, ...],
    one: DoseEntry,
    mass: LayerMass,
    builder: FigureBuilder,
) -> DosedFigures:
    """Derive a colourant or an additive of a layer; ``path`` leads to it in the recipe."""
    kind, name = one.thing
    record = context.shelf.dosed_ingredient(kind, name)
    most = getattr(record, "most", None)
    part = FIGURE_PART_OF_KIND[kind]
    if one.dose is None:
        builder.lacks(f"{path[2]}/{name}: dose (it is done by eye)", part)
        return DosedFigures(kind, name, None, None, True, one.aim, False, most)
    density = midpoint(record.density) if record.density else None
    amount = _measured_dose(context, one.dose, mass, density)
    builder.used(f"dose of {name}", "", context.at(*path, "dose"))
    if density is None:
        builder.lacks(f"{kind}/{name}: density", part)
    return DosedFigures(
        kind, name, amount.volume_ml, amount.mass_g, False, one.aim, one.dose.rough, most
    )


def _measured_dose(
    context: RecipeContext, dose: Dose, mass: LayerMass, density_g_ml: float | None
) -> MeasuredDose:
    """The volume and mass to measure out for a dose of a layer of this batch."""
    return measure_dose(
        dose.kind, dose.value, dose.per, dose.per_g,
        mass.melt_g, context.bars, context.design.recipe.bars, density_g_ml,
    )  # fmt: skip


def usual_density_g_ml(shelf: Shelf, kind: str, name: str) -> tuple[float, float] | None:
    """The published range of the density of what is dosed; None where there is none."""
    if kind != "colourants":
        return None
    colour = shelf.colourants[name]
    return LOOSE_MICA_G_ML if colour.kind == "mica" and colour.paste is None else None


def _check_usual_doses(context: RecipeContext, layers: Sequence[LayerFigures]) -> None:
    """Add a warning for each additive whose share of its layer is above the usual."""
    for place, layer in enumerate(layers):
        for index, one in enumerate(layer.of_kind("additives")):
            if one.most is None or one.layer_share is None:
                continue
            if _is_within(one.layer_share, one.most):
                continue
            context.warning(
                context.at("layers", place, "additives", index),
                f'"{one.name}" is {show_percent(one.layer_share)} of the layer "{layer.name}",'
                f" over the {show_percent(one.most)} that is usual at most",
                "Lower the dose, or raise most in shelf/additives.yaml if more has held.",
            )


def _volume_per_bar(
    context: RecipeContext,
    layer: Layer,
    mass: LayerMass,
    fragrances: tuple[FragranceFigures, ...],
    stirred: tuple[DosedFigures, ...],
    builder: FigureBuilder,
) -> float:
    """Volume of the layer in one bar, in mL; what is stirred in counts if its volume is known."""
    volume_ml = 0.0
    shares: Mapping[str, float] = dict(layer_bases(context, layer)) or {"": 1.0}
    for base, share in shares.items():
        low, high, assumed = base_density(context, base)
        if assumed:
            density = DENSITY_KG_M3.nominal / 1000
            builder.used(f"density of {base}", f"not on the shelf: {density:.2f} g/mL is usual")
        else:
            density = midpoint((low, high))
        volume_ml += share * mass.melt_g / density
    volume_ml += sum(oil.volume_ml or 0.0 for oil in fragrances)
    volume_ml += sum(_volume_in_bar(context, one, builder) for one in stirred)
    return volume_ml * mass.per_bar_g / mass.melt_g


def _volume_in_bar(context: RecipeContext, one: DosedFigures, builder: FigureBuilder) -> float:
    """The volume in mL that a dose takes up in a layer: a powder's without the air in it.

    A dye and a paste take what they measure, and so does an additive without a true density,
    which may be honey or flour: it is said to be rough. 0 where it is not known.
    """
    if one.kind == "colourants":
        colour = context.shelf.colourants[one.name]
        if colour.kind == "dye" or colour.paste is not None:
            return one.volume_ml or 0.0
    true_density = context.shelf.dosed_ingredient(one.kind, one.name).true_density
    if true_density is not None and one.mass_g is not None:
        return one.mass_g / midpoint(true_density)
    if one.kind != "colourants":
        if one.volume_ml is not None:
            rough = "rough, by its density as spooned: a powder has air in it (true_density)"
            builder.used(f"volume of {one.name} in the bar", rough)
        return one.volume_ml or 0.0
    if not one.by_eye:
        builder.lacks(f"colourants/{one.name}: true_density", "volume of colour in the bar")
    return 0.0


def recipe_masses(context: RecipeContext) -> RecipeMasses:
    """The figure ``LAYERS`` of the context's recipe; every recipe that could be read has one."""
    masses = context.figure(LAYERS).value
    assert masses is not None
    return masses


def _layer_json(layer: LayerFigures) -> dict[str, Any]:
    """The JSON block of one layer."""
    block: dict[str, Any] = {
        **number_fields(layer, "base_g_per_bar base_g melt_g volume_ml_per_bar"),
        "bases": {base: {"melt_g": number(mass_g)} for base, mass_g in layer.bases},
        "fragrances": {
            oil.oil: {
                **number_fields(oil, "volume_ml mass_g"),
                "load_percent": percent(oil.load),
                "layer_percent": percent(oil.layer_share),
                "bar_percent": percent(oil.bar_share),
                "limit_percent": percent(oil.limit),
                "within_limit": oil.within_limit,
                "takes_percent": percent(oil.takes),
                "within_takes": oil.within_takes,
                "most_g": number(oil.most_g),
                "from_leftover": oil.from_leftover,
                **_adding_json(oil.add_c),
            }
            for oil in layer.fragrances
        },
        "limit_used_percent": number(_limit_used(layer)),
        "colours": {
            one.name: number_fields(one, "volume_ml mass_g") for one in layer.of_kind("colourants")
        },
        "additives": {
            one.name: {
                **number_fields(one, "volume_ml mass_g"),
                "layer_percent": percent(one.layer_share),
            }
            for one in layer.of_kind("additives")
        },
        "pour_c": None if layer.pour_c is None else numbers(layer.pour_c),
    }
    if layer.leftover is not None:
        block |= {"leftover": layer.leftover, "leftover_g": number(layer.leftover_g)}
    return block


def _adding_json(add_c: AddingWindow) -> dict[str, float | None]:
    """The ends of the window to stir an oil in; without those that are not set."""
    ends = zip(("add_low_c", "add_high_c"), add_c, strict=True)
    return {name: number(end_c) for name, end_c in ends if end_c is not None}


def _limit_used(layer: LayerFigures) -> float | None:
    """The part of its oils' limits that a layer uses, in per cent.

    0 without oils, None if no oil has a limit.
    """
    if not layer.fragrances:
        return 0.0
    return None if layer.limit_used is None else 100 * layer.limit_used


def _layer_rows(masses: RecipeMasses) -> Iterator[TableRow]:
    """Yield a row for each layer."""
    for layer in masses.layers:
        yield (
            layer.name, layer.pot, layer.base_g_per_bar, layer.base_g, layer.melt_g,
            layer.volume_ml_per_bar, *(layer.pour_c or (None, None)), _limit_used(layer),
            layer.leftover, layer.leftover_g if layer.leftover is not None else None,
        )  # fmt: skip


def _fragrance_rows(masses: RecipeMasses) -> Iterator[TableRow]:
    """Yield a row for each oil of each layer."""
    for layer in masses.layers:
        for oil in layer.fragrances:
            yield (
                layer.name, oil.oil, oil.volume_ml, oil.mass_g, 100 * oil.load,
                100 * oil.layer_share, 100 * oil.bar_share,
                None if oil.limit is None else 100 * oil.limit, oil.within_limit,
                None if oil.takes is None else 100 * oil.takes, oil.within_takes, oil.most_g,
                *oil.add_c, oil.from_leftover, oil.density_assumed,
            )  # fmt: skip


def _dosed_rows(masses: RecipeMasses, kind: str) -> Iterator[TableRow]:
    """Yield a row for each colourant or additive of each layer."""
    for layer in masses.layers:
        for one in layer.of_kind(kind):
            yield (layer.name, one.name, one.volume_ml, one.mass_g, one.by_eye, one.aim)


LAYERS = FigureSpec(
    name="layers", kind="computed", derive=derive_layers,
    blocks={
        "pots": lambda masses: {
            pot.name: {"melt_g": number(pot.melt_g), "layers": list(pot.layers)}
            for pot in masses.pots
        },
        "layers": lambda masses: {layer.name: _layer_json(layer) for layer in masses.layers},
    },
    tables=(
        TableSpec("layers",
                "layer pot base_g_per_bar base_g melt_g volume_ml_per_bar pour_low_c pour_high_c "
                "limit_used_percent leftover leftover_g", _layer_rows),
        TableSpec(
            "bases",
            "layer base melt_g",
            lambda masses: (
                (one.name, base, melt_g) for one in masses.layers for base, melt_g in one.bases
            ),
        ),
        TableSpec("fragrances",
                "layer oil volume_ml mass_g load_percent layer_percent bar_percent limit_percent "
                "within_limit takes_percent within_takes most_g add_low_c add_high_c from_leftover "
                "density_taken", _fragrance_rows),
        TableSpec("colours", "layer colourant volume_ml mass_g by_eye aim",
                lambda masses: _dosed_rows(masses, "colourants")),
        TableSpec("additives", "layer additive volume_ml mass_g by_eye aim",
                lambda masses: _dosed_rows(masses, "additives")),
    ),
)  # fmt: skip
