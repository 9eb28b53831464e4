"""Figures of the whole notebook, from records.

The only stage that knows both: the records and the pure functions. To add a
figure: a pure function in a module of its family, a ``derive_…`` beside these,
a field here, and its fragment on the page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError, Problem
from journal.figures.asking import Ask, plainly
from journal.figures.cost import CostSheet
from journal.figures.cut_plan import CutPlan
from journal.figures.derive_bases import (
    ColourSeen,
    OutcomesInBase,
    colours_seen,
    outcomes_in_bases,
)
from journal.figures.derive_context import Case
from journal.figures.derive_fill import FillFigures, derive_fill
from journal.figures.derive_heat import (
    BarBleed,
    BondFigures,
    CoolingRun,
    ForecastCase,
    derive_bleed,
    derive_bond,
    derive_cooling,
    forecast_case,
    studio_rates,
)
from journal.figures.derive_layers import FragranceFigures, RecipeMasses, derive_layers
from journal.figures.derive_leftovers import (
    PotLeft,
    PourLeft,
    derive_left,
    derive_left_of_pours,
)
from journal.figures.derive_shop import (
    LabelFigures,
    NetWeightFigures,
    derive_cost,
    derive_cut,
    derive_label,
    derive_net_weight,
)
from journal.figures.pot_rates import PotRate
from journal.figures.result import Figure, Kind, Missing
from journal.records.notebook import Notebook
from journal.records.settings import Settings
from journal.records.shelf import Shelf, ShelfRecord
from journal.records.write_up import Design, Layer, Variant

Made = TypeVar("Made")


class RecipeFigures(Struct, frozen=True):
    """All figures of one recipe for a batch of ``bars``."""

    variant: str
    bars: int
    layers: Figure[RecipeMasses]
    fill: Figure[FillFigures]
    cut: Figure[CutPlan]
    cost: Figure[CostSheet]
    net_weight: Figure[NetWeightFigures]
    label: Figure[LabelFigures]
    bond: Figure[BondFigures]
    leftovers: Figure[tuple[PotLeft, ...]]

    @property
    def all(self) -> tuple[Figure[object], ...]:
        """Every figure of the recipe."""
        return (
            self.layers,
            self.fill,
            self.cut,
            self.cost,
            self.net_weight,
            self.label,
            self.bond,
            self.leftovers,
        )

    @property
    def masses(self) -> RecipeMasses:
        """The masses, which every recipe that could be read has."""
        assert self.layers.value is not None
        return self.layers.value

    @property
    def missing(self) -> tuple[Missing, ...]:
        """What the figures lack, each told once."""
        return tuple(dict.fromkeys(entry for figure in self.all for entry in figure.missing))


@dataclass(frozen=True, slots=True)
class DesignFigures:
    """The figures of a design: of its recipe as it stands, and of each variant."""

    design: str
    recipe: RecipeFigures
    variants: Mapping[str, RecipeFigures]
    cooling: Figure[tuple[CoolingRun, ...]]
    bleed: Figure[tuple[BarBleed, ...]]
    left: tuple[PourLeft, ...]  # of the pours whose melts were written down


class FiguresSummary(Struct, frozen=True):
    """What anything but a design's own pages needs of its figures.

    ``oils`` are those of the recipe, each with its layer's name; ``drafted`` says whether it
    has a label draft.
    """

    oils: tuple[tuple[str, FragranceFigures], ...]
    drafted: bool
    rates: tuple[PotRate, ...]
    forecast: ForecastCase | None
    outcomes: tuple[OutcomesInBase, ...]
    colours: tuple[ColourSeen, ...]


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of all designs, and the problems that only figures could find."""

    designs: Mapping[str, DesignFigures]
    problems: tuple[Problem, ...]
    summaries: Mapping[str, FiguresSummary]


# A design's figures, with the problems that were found on the way.
Derived = tuple[DesignFigures, tuple[Problem, ...]]

# What stands for the bond model where only problems are looked for.
NOT_MODELLED: Figure[BondFigures] = Figure("bond", None, "estimate", "bond")


# Widths of bleeds measured in photos, by design and bar: (day, mm).
PhotoWidths = Mapping[str, Mapping[str, tuple[tuple[float, float], ...]]]
NO_PHOTO_WIDTHS: PhotoWidths = {}
NO_PHOTO_WIDTHS_OF_BARS: Mapping[str, tuple[tuple[float, float], ...]] = {}


def derive_figures(
    notebook: Notebook, *, models: bool = True, photo_widths: PhotoWidths = NO_PHOTO_WIDTHS
) -> Figures:
    """Figures of every design of the notebook that could be read.

    ``models`` False leaves the bond model out: it finds no problems and takes longest.
    """
    problems: list[Problem] = []
    designs: dict[str, DesignFigures] = {}
    summaries: dict[str, FiguresSummary] = {}
    for name, design in notebook.designs.items():
        if referenced(notebook.shelf, design):
            widths = photo_widths.get(name, {})
            designs[name], own = derived(notebook, design, models=models, photo_widths=widths)
            summaries[name] = figures_summary(
                notebook.settings, notebook.shelf, design, designs[name]
            )
            problems.extend(own)
    return Figures(designs, tuple(sorted(set(problems))), summaries)


def derived(
    notebook: Notebook,
    design: Design,
    *,
    models: bool = True,
    photo_widths: Mapping[str, tuple[tuple[float, float], ...]] = NO_PHOTO_WIDTHS_OF_BARS,
    ask: Ask = plainly,
) -> Derived:
    """One design's figures, and the problems that they find; ``ask`` answers what is dear."""
    problems: list[Problem] = []
    found = derive_design(
        notebook.settings,
        notebook.shelf,
        design,
        problems,
        models=models,
        photo_widths=photo_widths,
        ask=ask,
    )
    return found, tuple(problems)


def referenced(shelf: Shelf, design: Design) -> bool:
    """Whether everything that a design names is on the shelf; else it is an error already told."""
    for variant in design.variants:
        recipe = variant.recipe
        names = (
            (shelf.mats, recipe.mat),
            (shelf.moulds, recipe.mould),
            (shelf.pieces, recipe.piece),
            *((shelf.packaging, name) for name in recipe.packaging),
            *((shelf.leftovers, layer.base.leftover) for layer in recipe.layers),
            *((shelf.bases, base) for layer in recipe.layers for base, _ in layer.base.shares),
            *((shelf.fragrances, oil.oil) for layer in recipe.layers for oil in layer.fragrance),
            *((shelf.colourants, c.colourant) for layer in recipe.layers for c in layer.colours),
            *(named for layer in recipe.layers for named in _named_by_leftover(shelf, layer)),
        )
        if any(name is not None and name not in records for records, name in names):
            return False
        if not recipe.layers or recipe.bars < 1 or any(la.amount <= 0 for la in recipe.layers):
            return False
        named = [layer.name for layer in recipe.layers]
        if len(set(named)) != len(named):
            return False
    return True


def _named_by_leftover(
    shelf: Shelf, layer: Layer
) -> Iterator[tuple[Mapping[str, ShelfRecord], str]]:
    """What the leftover that a layer is cast in was made of."""
    record = shelf.leftovers.get(layer.base.leftover or "")
    if record is None:
        return
    if record.base is not None:
        yield from ((shelf.bases, base) for base, _ in record.base.shares)
    if record.tinted not in (None, "no"):
        yield shelf.colourants, str(record.tinted)
    if record.scented is not None:
        yield shelf.fragrances, record.scented.oil


def derive_design(
    settings: Settings,
    shelf: Shelf,
    design: Design,
    problems: list[Problem],
    *,
    models: bool = True,
    photo_widths: Mapping[str, tuple[tuple[float, float], ...]] = NO_PHOTO_WIDTHS_OF_BARS,
    ask: Ask = plainly,
) -> DesignFigures:
    """All figures of one design; problems that they find are added to ``problems``."""
    recipe = derive_recipe(
        settings, shelf, design, design.as_written, None, problems, models=models, ask=ask
    )
    variants = {
        variant.name: (
            replace(recipe, variant=variant.name)
            if not variant.changed
            else derive_recipe(
                settings, shelf, design, variant, None, problems, models=models, ask=ask
            )
        )
        for variant in design.variants
    }
    return DesignFigures(
        design.id,
        recipe,
        variants,
        derive_cooling(settings, design, recipe.masses),
        derive_bleed(design, photo_widths),
        derive_left_of_pours(settings, design),
    )


def figures_summary(
    settings: Settings, shelf: Shelf, design: Design, figures: DesignFigures
) -> FiguresSummary:
    """The summary of a design's figures."""
    recipe = figures.recipe
    case = Case(settings, shelf, design, design.as_written, recipe.bars)
    return FiguresSummary(
        oils=tuple((layer.name, oil) for layer in recipe.masses.layers for oil in layer.fragrances),
        drafted=recipe.label.value is not None,
        rates=studio_rates(figures.cooling.value or ()),
        forecast=forecast_case(case, recipe.masses),
        outcomes=outcomes_in_bases(settings.all_measures(), design),
        colours=colours_seen(design, figures.bleed.value or ()),
    )


def derive_recipe(
    settings: Settings,
    shelf: Shelf,
    design: Design,
    variant: Variant,
    bars: int | None,
    problems: list[Problem],
    *,
    models: bool = True,
    ask: Ask = plainly,
) -> RecipeFigures:
    """Figures of one recipe for ``bars`` bars; None for the batch that it was written for."""
    batch = variant.recipe.bars if bars is None else bars
    case = Case(settings, shelf, design, variant, batch, problems, ask)
    layers = derive_layers(case)
    assert layers.value is not None
    masses = layers.value
    cut = _or_why("cut", "computed", "cut-plan", lambda: derive_cut(case))
    bond = NOT_MODELLED
    if models:
        bond = _or_why("bond", "estimate", "bond", lambda: derive_bond(case, masses))
    return RecipeFigures(
        variant=variant.name,
        bars=batch,
        layers=layers,
        fill=_or_why("fill", "computed", "fill", lambda: derive_fill(case, masses)),
        cut=cut,
        cost=_or_why("cost", "computed", "cost", lambda: derive_cost(case, masses, cut.value)),
        net_weight=derive_net_weight(case),
        label=derive_label(case, masses),
        bond=bond,
        leftovers=derive_left(case, masses),
    )


def _or_why(name: str, kind: Kind, method: str, make: Callable[[], Figure[Made]]) -> Figure[Made]:
    """A figure; without a value, and with the reason, where its inputs cannot be, such as a
    relief of no depth."""
    try:
        return make()
    except FigureError as error:
        return Figure(name, None, kind, method, missing=(Missing(name, str(error)),))
