"""Layer masses, fragrance and colour of a recipe, from what was written."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import Position
from journal.figures.base_properties import DENSITY_KG_M3
from journal.figures.derive_context import Case, middle
from journal.figures.doses import dosed
from journal.figures.fragrance import HEAVIEST_OIL_G_ML, concentration, limit_used, load, within
from journal.figures.layers import LayerMass, PotMass, PouredLayer, layer_masses
from journal.figures.result import Figure, Gathering
from journal.quantities.show import show_percent
from journal.records.source import Items
from journal.records.write_up import ColourDose, FragranceDose, Layer


class FragranceFigures(Struct, frozen=True):
    """One oil in one layer. Shares are fractions; ``dose_text`` is the dose as written."""

    oil: str
    volume_ml: float | None
    mass_g: float
    load: float
    layer_share: float
    bar_share: float
    limit: float | None
    within: bool | None
    add_c: tuple[float, float] | None
    rough: bool
    density_taken: bool  # the heavy end of the published range, for want of a density
    from_leftover: bool = False


class ColourFigures(Struct, frozen=True):
    """One colourant in one layer; None where it is by eye or its density is not known."""

    colourant: str
    volume_ml: float | None
    mass_g: float | None
    by_eye: bool
    aim: str | None
    rough: bool


class LayerFigures(Struct, frozen=True):
    """All masses of one layer of a batch."""

    name: str
    pot: str
    base_g_per_bar: float
    base_g: float
    melt_g: float
    volume_ml_per_bar: float
    bases: tuple[tuple[str, float], ...]  # base id, grams to melt
    leftover: str | None
    fragrances: tuple[FragranceFigures, ...]
    colours: tuple[ColourFigures, ...]
    pour_c: tuple[float, float] | None
    limit_used: float | None  # sum of concentration / limit; None without limits
    whole_g: float  # base + fragrance + colour of the layer's melt

    @property
    def stays_g_per_bar(self) -> float:
        """Base, fragrance and colour of this layer in one bar."""
        return self.whole_g * self.base_g_per_bar / self.melt_g if self.melt_g else 0.0


class RecipeMasses(Struct, frozen=True):
    """The layers and pots of a batch of ``bars``; ``bar_g`` is one finished bar, still wet."""

    bars: int
    layers: tuple[LayerFigures, ...]
    pots: tuple[PotMass, ...]
    bar_g: float

    def layer(self, name: str) -> LayerFigures:
        """The layer of that name; KeyError if there is none."""
        for layer in self.layers:
            if layer.name == name:
                return layer
        raise KeyError(name)


def derive_layers(case: Case) -> Figure[RecipeMasses]:
    """Masses of a batch: base, fragrance, colour, by layer and pot."""
    notes = Gathering("layers")
    waste = case.settings.waste
    masses, pots = layer_masses(
        [
            PouredLayer(layer.name, layer.pot_name, layer.amount, layer.overpour or 0.0)
            for layer in case.recipe.layers
        ],
        case.bars,
        waste.share,
        waste.least,
    )
    notes.used("bars", str(case.bars))
    notes.used("waste", show_percent(waste.share))
    by_name = {mass.name: mass for mass in masses}
    layers = []
    for number, layer in enumerate(case.recipe.layers):
        notes.used(
            f"amount of {layer.name}",
            str(case.variant.written["layers"][number]["amount"]),
            case.at("layers", number, "amount"),
        )
        layers.append(_layer(case, number, layer, by_name[layer.name], notes))
    bar_g = sum(layer.stays_g_per_bar for layer in layers)
    layers = [_with_bar_shares(layer, layers, bar_g) for layer in layers]
    _check_limits(case, layers)
    return notes.as_figure(
        RecipeMasses(case.bars, tuple(layers), pots, bar_g), "computed", "layer-mass"
    )


def base_density(case: Case, base: str) -> tuple[float, float, bool]:
    """Density of a base, low and high in g/mL, and whether the usual range was taken for it."""
    record = case.shelf.bases.get(base)
    if record is not None and record.density is not None:
        return (*record.density, False)
    return DENSITY_KG_M3.low / 1000, DENSITY_KG_M3.high / 1000, True


def bases_of(case: Case, layer: Layer) -> tuple[tuple[str, float], ...]:
    """The bases that a layer is of, with shares; those of the leftover it is cast from."""
    if layer.base.leftover is None:
        return layer.base.shares
    leftover = case.shelf.leftovers.get(layer.base.leftover)
    return leftover.base.shares if leftover is not None and leftover.base is not None else ()


def _layer(
    case: Case, number: int, layer: Layer, mass: LayerMass, notes: Gathering
) -> LayerFigures:
    bases = tuple((base, share * mass.melt_g) for base, share in bases_of(case, layer))
    colours = tuple(
        _colour(case, (number, index), colour, mass, notes)
        for index, colour in enumerate(layer.colours)
    )
    colour_g = sum(colour.mass_g or 0.0 for colour in colours)
    oils = [
        _fragrance(case, (number, index), fragrance, mass, notes)
        for index, fragrance in enumerate(layer.fragrance)
    ]
    whole_g = mass.melt_g + colour_g + sum(oil.mass_g for oil in oils)
    oils.extend(_already_in(case, number, layer, mass, notes))
    fragrances = tuple(_with_share(oil, whole_g) for oil in oils)
    with_limit = [
        (oil.layer_share, oil.limit) for oil in fragrances if oil.limit is not None and oil.limit
    ]
    return LayerFigures(
        name=layer.name,
        pot=mass.pot,
        base_g_per_bar=mass.per_bar_g,
        base_g=mass.base_g,
        melt_g=mass.melt_g,
        volume_ml_per_bar=_volume_per_bar(case, layer, mass, fragrances, colours, notes),
        bases=bases,
        leftover=layer.base.leftover,
        fragrances=fragrances,
        colours=colours,
        pour_c=layer.pour,
        limit_used=limit_used(with_limit) if with_limit else None,
        whole_g=whole_g,
    )


def _entry(case: Case, where: tuple[int, int], key: str) -> tuple[str | int, ...]:
    """The path of one entry of a layer's fragrances or colours, however they were written."""
    number, index = where
    written = case.variant.written["layers"][number][key]
    path: tuple[str | int, ...] = ("layers", number, key)
    return (*path, index) if isinstance(written, Items) else path


def _fragrance(
    case: Case,
    where: tuple[int, int],
    fragrance: FragranceDose,
    mass: LayerMass,
    notes: Gathering,
) -> FragranceFigures:
    record = case.shelf.fragrances.get(fragrance.oil)
    density = record.density[1] if record is not None and record.density is not None else None
    path = _entry(case, where, "fragrance")
    dose = fragrance.dose
    amount = dosed(
        dose.kind, dose.value, dose.per, dose.per_g,
        mass.melt_g, case.bars, case.design.recipe.bars, density or HEAVIEST_OIL_G_ML,
    )  # fmt: skip
    assert amount.mass_g is not None
    notes.used(f"dose of {fragrance.oil}", "", case.at(*path, "dose"))
    if density is None:
        notes.used(
            f"density of {fragrance.oil}",
            f"not on the shelf: {HEAVIEST_OIL_G_ML:.2f} g/mL, the heavy end of its kind",
        )
    limit = _limit(case, fragrance.oil, case.at(*path, "oil"), notes)
    return FragranceFigures(
        oil=fragrance.oil,
        volume_ml=amount.volume_ml,
        mass_g=amount.mass_g,
        load=load(amount.mass_g, mass.melt_g),
        layer_share=0.0,
        bar_share=0.0,
        limit=limit,
        within=None,
        add_c=fragrance.add,
        rough=dose.rough,
        density_taken=density is None,
    )


def _limit(case: Case, oil: str, at: Position, notes: Gathering) -> float | None:
    """The oil's limit, with the date of its certificate; a warning where there is none."""
    record = case.shelf.fragrances.get(oil)
    limit = record.limit if record is not None else None
    if limit is None:
        notes.lacks(f"fragrances/{oil}: limit", "fragrance limit")
        case.warning(
            case.on_shelf("fragrances", oil) or at,
            f'the oil "{oil}" has no limit on the shelf',
            "Add the limit from the supplier's certificate: limit: 2.5 %.",
        )
        return None
    dated = record.certificate if record is not None else None
    of = f"certificate of {dated.isoformat()}" if dated else "its certificate has no date here"
    notes.used(f"limit of {oil}", f"{show_percent(limit)}, {of}")
    return limit


def _already_in(
    case: Case, number: int, layer: Layer, mass: LayerMass, notes: Gathering
) -> list[FragranceFigures]:
    """The scent that a leftover brings with it; its mass is part of the base's mass."""
    leftover = case.shelf.leftovers.get(layer.base.leftover or "")
    if leftover is None:
        return []
    if leftover.base is None:
        notes.lacks(f"leftovers/{layer.base.leftover}: base")
    if leftover.scented is None:
        return []
    mass_g = leftover.scented.concentration * mass.melt_g
    return [
        FragranceFigures(
            oil=leftover.scented.oil,
            volume_ml=None,
            mass_g=mass_g,
            load=load(mass_g, mass.melt_g),
            layer_share=0.0,
            bar_share=0.0,
            limit=_limit(case, leftover.scented.oil, case.at("layers", number, "base"), notes),
            within=None,
            add_c=None,
            rough=False,
            density_taken=False,
            from_leftover=True,
        )
    ]


def _with_share(oil: FragranceFigures, whole_g: float) -> FragranceFigures:
    share = concentration(oil.mass_g, whole_g)
    allowed = None if oil.limit is None else bool(oil.limit) and within(share / oil.limit)
    return replace(oil, layer_share=share, within=allowed)


def _with_bar_shares(layer: LayerFigures, layers: list[LayerFigures], bar_g: float) -> LayerFigures:
    """The layer with each oil's share of the whole bar, over all layers that hold it."""
    in_bar: dict[str, float] = {}
    for other in layers:
        for oil in other.fragrances:
            in_bar[oil.oil] = in_bar.get(oil.oil, 0.0) + oil.layer_share * other.stays_g_per_bar
    return replace(
        layer,
        fragrances=tuple(
            replace(oil, bar_share=concentration(in_bar[oil.oil], bar_g))
            for oil in layer.fragrances
        ),
    )


def _check_limits(case: Case, layers: list[LayerFigures]) -> None:
    for number, layer in enumerate(layers):
        # An oil whose limit is 0 belongs into no bar, and uses no countable share of it.
        over = [oil for oil in layer.fragrances if oil.within is False]
        if not over and (layer.limit_used is None or within(layer.limit_used)):
            continue
        at = case.at("layers", number, "fragrance")
        if over:
            oil = over[0]
            assert oil.limit is not None
            case.error(
                at,
                f'"{oil.oil}" is {show_percent(oil.layer_share)} of the layer "{layer.name}",'
                f" over its limit of {show_percent(oil.limit)}",
                "Lower the dose: over the limit it can hurt skin.",
            )
        else:
            assert layer.limit_used is not None
            case.error(
                at,
                f'the oils of the layer "{layer.name}" together use'
                f" {show_percent(layer.limit_used)} of their limits",
                "Lower the doses until the shares of the limits sum to at most 100 %.",
            )


def _colour(
    case: Case, where: tuple[int, int], colour: ColourDose, mass: LayerMass, notes: Gathering
) -> ColourFigures:
    record = case.shelf.colourants.get(colour.colourant)
    path = _entry(case, where, "colours")
    if colour.dose is None:
        notes.lacks(f"colours/{colour.colourant}: dose (it is done by eye)", "colour")
        return ColourFigures(colour.colourant, None, None, True, colour.aim, False)
    density = middle(record.density) if record is not None and record.density else None
    dose = colour.dose
    amount = dosed(
        dose.kind, dose.value, dose.per, dose.per_g,
        mass.melt_g, case.bars, case.design.recipe.bars, density,
    )  # fmt: skip
    notes.used(f"dose of {colour.colourant}", "", case.at(*path, "dose"))
    if density is None:
        notes.lacks(f"colourants/{colour.colourant}: density", "colour")
    return ColourFigures(
        colour.colourant, amount.volume_ml, amount.mass_g, False, colour.aim, dose.rough
    )


def _volume_per_bar(
    case: Case,
    layer: Layer,
    mass: LayerMass,
    fragrances: tuple[FragranceFigures, ...],
    colours: tuple[ColourFigures, ...],
    notes: Gathering,
) -> float:
    """Volume that the layer takes up in one bar, in mL; colours count where known."""
    volume_ml = 0.0
    shares: Mapping[str, float] = dict(bases_of(case, layer)) or {"": 1.0}
    for base, share in shares.items():
        low, high, taken = base_density(case, base)
        if taken:
            density = DENSITY_KG_M3.nominal / 1000
            notes.used(f"density of {base}", f"not on the shelf: {density:.2f} g/mL is usual")
        else:
            density = middle((low, high))
        volume_ml += share * mass.melt_g / density
    volume_ml += sum(oil.volume_ml or 0.0 for oil in fragrances)
    volume_ml += sum(colour.volume_ml or 0.0 for colour in colours)
    return volume_ml * mass.per_bar_g / mass.melt_g
