"""Derive the figures of every design and recipe from the records; ``registry`` lists them."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import Problem
from journal.figures.common.derive_context import BleedWidthsByBar, RecipeContext
from journal.figures.common.memo import Memo, in_process_memo
from journal.figures.common.result import Figure, MissingInput
from journal.figures.common.spec import FigureSpec
from journal.figures.heat.derive_bases import (
    ColourOnBar,
    OutcomesInBase,
    colours_on_bars,
    outcomes_in_bases,
)
from journal.figures.heat.derive_dew import DEW
from journal.figures.heat.derive_heat import (
    BLEED,
    COOLING,
    ForecastCase,
    PotRun,
    forecast_case,
    studio_rates,
)
from journal.figures.label.derive_browning import BROWNING, VanillinOfOil
from journal.figures.label.regions import REGIONS
from journal.figures.lots.balance import TakenOn
from journal.figures.lots.derive_taken import taken_by_pours
from journal.figures.lots.derive_trace import past_materials
from journal.figures.recipe.derive_face import BarFace, bar_face
from journal.figures.recipe.derive_fill import FILL
from journal.figures.recipe.derive_layers import LAYERS, FragranceFigures, OverLimit, RecipeMasses
from journal.figures.registry import (
    OF_DESIGN,
    OF_RECIPE,
    PRICED,
    MadeOfDesign,
    MadeOfPrices,
    MadeOfRecipe,
)
from journal.figures.shop.derive_shop import LABEL
from journal.figures.shop.derive_wear import CastSeen, casts_seen, lives_seen, shelf_as_worn
from journal.records.models.settings import Settings
from journal.records.models.shelf import Shelf
from journal.records.models.things import references_of, with_leftovers
from journal.records.models.write_up import AS_WRITTEN, Design, Variant
from journal.records.notebook import Notebook

Value = TypeVar("Value")


class RecipeFigures(Struct, frozen=True):
    """All figures of one recipe for a batch of ``bars``, in ``figures`` by name.

    Indexing by a spec gives its figure: ``recipe_figures[COST]``.
    """

    variant: str
    bars: int
    figures: MadeOfRecipe

    def __getitem__(self, spec: FigureSpec[RecipeContext, Value]) -> Figure[Value]:
        return self.figures[spec.name]

    @property
    def masses(self) -> RecipeMasses:
        """The masses of layers and pots; every recipe that could be read has them."""
        masses = self[LAYERS].value
        assert masses is not None
        return masses

    @property
    def missing(self) -> tuple[MissingInput, ...]:
        """The missing inputs of the figures, each once."""
        return tuple(
            dict.fromkeys(one for figure in self.figures.values() for one in figure.missing)
        )


@dataclass(frozen=True, slots=True)
class DesignFigures:
    """The figures of a design's recipe as written, of each variant, and of the design (``own``).

    Indexing by a spec gives a figure of the design: ``design_figures[BLEED]``.
    """

    design: str
    recipe: RecipeFigures
    variants: Mapping[str, RecipeFigures]
    own: MadeOfDesign

    def __getitem__(self, spec: FigureSpec[RecipeContext, Value]) -> Figure[Value]:
        return self.own[spec.name]


class FiguresSummary(Struct, frozen=True):
    """The part of a design's figures that pages other than its own use.

    ``oils`` are those of the recipe, each with its layer's name; ``drafted`` is whether the
    recipe has a label to draw, of a region whose rules are known; ``dew_min`` how long a chilled
    piece of a variant stands wet, where it does; ``face`` what is seen of a bar, where that is
    known; ``casts`` what was cast on which piece; ``over`` the limits that a recipe is over, by
    the name of its variant, "" as written; ``browning`` the vanillin of its oils; ``taken`` what
    each of its pours took of the shelf.
    """

    oils: tuple[tuple[str, FragranceFigures], ...]
    drafted: bool
    rates: tuple[PotRun, ...]
    forecast: ForecastCase | None
    outcomes: tuple[OutcomesInBase, ...]
    colours: tuple[ColourOnBar, ...]
    dew_min: Mapping[str, int] = {}
    face: BarFace | None = None
    casts: tuple[CastSeen, ...] = ()
    over: tuple[tuple[str, tuple[OverLimit, ...]], ...] = ()
    browning: tuple[VanillinOfOil, ...] = ()
    taken: tuple[TakenOn, ...] = ()

    @property
    def oils_over(self) -> frozenset[str]:
        """The oils of which a recipe has more than a certificate allows."""
        return frozenset(oil for _, limits in self.over for one in limits for oil in one.oils)


@dataclass(frozen=True, slots=True)
class AllFigures:
    """The figures of all designs, and the problems that only figures could find.

    ``bench`` are those that take no price, for the bench, labels and other editions, ``priced``
    those that do, and ``lacking`` what is told of these beside their amounts.
    """

    designs: Mapping[str, DesignFigures]
    problems: tuple[Problem, ...]
    summaries: Mapping[str, FiguresSummary]
    bench: Mapping[str, DesignFigures] = dataclasses.field(default_factory=dict)
    priced: Mapping[str, PricedFigures] = dataclasses.field(default_factory=dict)
    lacking: Mapping[str, PricedSummary] = dataclasses.field(default_factory=dict)


# The figures that take prices, of each recipe by the name of its variant.
PricedFigures = dict[str, MadeOfPrices]


class PricedSummary(Struct, frozen=True):
    """What is told of a design's figures that take prices beside their amounts.

    By the names of its recipes: those whose figures are not known, and what figures lack.
    """

    unknown: tuple[str, ...]
    missing: dict[str, tuple[MissingInput, ...]]


# Widths of bleeds measured in photos, by design.
BleedWidthsByDesign = Mapping[str, BleedWidthsByBar]
NO_PHOTO_WIDTHS: BleedWidthsByDesign = {}


def derive_figures(
    notebook: Notebook, *, models: bool = True, photo_widths: BleedWidthsByDesign = NO_PHOTO_WIDTHS
) -> AllFigures:
    """Derive the figures of every design that ``can_be_derived`` lets through.

    ``models`` False leaves out the estimates, which find no problems and take longest.
    """
    problems: list[Problem] = []
    designs: dict[str, DesignFigures] = {}
    bench: dict[str, DesignFigures] = {}
    summaries: dict[str, FiguresSummary] = {}
    priced: dict[str, PricedFigures] = {}
    for name, design in notebook.designs.items():
        if can_be_derived(notebook.shelf, design):
            bench[name], design_problems = derive_for_bench(
                notebook, design, models=models, photo_widths=photo_widths.get(name)
            )
            summaries[name] = figures_summary(notebook, design, bench[name])
            problems.extend(design_problems)
    worn = notebook_as_worn(notebook, lives_of(notebook.shelf, summaries))
    for name, own in bench.items():
        priced[name] = derive_priced(worn, notebook.designs[name], own)
        designs[name] = with_prices(own, priced[name])
    lacking = {name: priced_summary(one) for name, one in priced.items()}
    return AllFigures(designs, tuple(sorted(set(problems))), summaries, bench, priced, lacking)


def lives_of(shelf: Shelf, summaries: Mapping[str, FiguresSummary]) -> dict[str, int]:
    """Casts that a piece of each mat lasts by the bars of these designs; see ``lives_seen``."""
    return lives_seen(shelf, ((name, one.casts) for name, one in summaries.items()))


def notebook_as_worn(notebook: Notebook, lives: Mapping[str, int]) -> Notebook:
    """The notebook with the lives of pieces that were seen on its shelf."""
    return dataclasses.replace(notebook, shelf=shelf_as_worn(notebook.shelf, lives))


def can_be_derived(shelf: Shelf, design: Design) -> bool:
    """Whether the figures of a design can be derived; if not, reading it reported an error.

    Everything that its recipes name must be on the shelf, and each recipe must have at least one
    bar and one layer, amounts above 0, and no two layers of one name.
    """
    for variant in design.variants:
        recipe = variant.recipe
        things = with_leftovers(shelf, ((one.kind, one.name) for one in references_of(recipe)))
        if any(name not in shelf.of_kind(kind) for kind, name in things):
            return False
        if not recipe.layers or recipe.bars < 1 or any(la.amount <= 0 for la in recipe.layers):
            return False
        layer_names = [layer.name for layer in recipe.layers]
        if len(set(layer_names)) != len(layer_names):
            return False
    return True


def derive_design(
    notebook: Notebook,
    design: Design,
    *,
    models: bool = True,
    photo_widths: BleedWidthsByBar | None = None,
) -> tuple[DesignFigures, tuple[Problem, ...]]:
    """Derive all figures of one design; arguments as of ``derive_for_bench``."""
    bench, problems = derive_for_bench(notebook, design, models=models, photo_widths=photo_widths)
    shelf = notebook.shelf
    # All designs on a mat say how long its pieces last.
    seen = [
        (name, casts_seen(shelf, one))
        for name, one in notebook.designs.items()
        if can_be_derived(shelf, one)
    ]
    worn = notebook_as_worn(notebook, lives_seen(shelf, seen))
    return with_prices(bench, derive_priced(worn, design, bench)), problems


def derive_for_bench(
    notebook: Notebook,
    design: Design,
    *,
    models: bool = True,
    photo_widths: BleedWidthsByBar | None = None,
    memo: Memo = in_process_memo,
) -> tuple[DesignFigures, tuple[Problem, ...]]:
    """Derive the figures of one design that take no price; give them with the problems found.

    ``models`` False leaves out the estimates. ``memo`` calls slow pure functions, or takes their
    results from a cache.
    """
    settings, shelf, problems = notebook.settings, notebook.shelf, list[Problem]()

    def recipe_of(variant: Variant) -> RecipeFigures:
        """The figures of one recipe, for the batch that it was written for."""
        return derive_recipe(
            settings, shelf, design, variant, None, problems,
            models=models, priced=False, memo=memo,
        )  # fmt: skip

    recipe = recipe_of(design.as_written)
    variants = {
        one.name: recipe_of(one) if one.changed else replace(recipe, variant=one.name)
        for one in design.variants
    }
    context = RecipeContext(
        settings, shelf, design, design.as_written, recipe.bars, problems, memo, photo_widths or {},
        dict(recipe.figures),
    )  # fmt: skip
    of_design = {spec.name: context.figure(spec) for spec in OF_DESIGN}
    problems.extend(past_materials(shelf, design))
    return DesignFigures(design.id, recipe, variants, of_design), tuple(problems)


def derive_priced(notebook: Notebook, design: Design, bench: DesignFigures) -> PricedFigures:
    """Derive the figures of one design that take prices, from those that take none."""
    hidden = {spec.name for spec in PRICED}

    def priced(variant: Variant, recipe: RecipeFigures) -> MadeOfPrices:
        known = {name: one for name, one in recipe.figures.items() if name not in hidden}
        context = RecipeContext(
            notebook.settings, notebook.shelf, design, variant, recipe.bars, figures=known
        )
        return {spec.name: context.figure(spec) for spec in PRICED}

    found = {AS_WRITTEN: priced(design.as_written, bench.recipe)}
    for one in design.variants:
        if one.changed:
            found[one.name] = priced(one, bench.variants[one.name])
    return found


def priced_summary(priced: PricedFigures) -> PricedSummary:
    """The part of a design's figures that take prices which is told beside their amounts."""
    figures = {
        recipe: [figure for spec in PRICED if (figure := of_recipe.get(spec.name)) is not None]
        for recipe, of_recipe in priced.items()
    }
    return PricedSummary(
        tuple(name for name, own in figures.items() if any(one.value is None for one in own)),
        {
            name: tuple(one for figure in own for one in figure.missing)
            for name, own in figures.items()
        },
    )


def with_prices(bench: DesignFigures, priced: PricedFigures) -> DesignFigures:
    """The figures of a design with those that take prices; recipes as written share them."""

    def whole(recipe: RecipeFigures) -> RecipeFigures:
        of_recipe = priced.get(recipe.variant, priced[AS_WRITTEN])
        return replace(recipe, figures={**recipe.figures, **of_recipe})

    variants = {name: whole(one) for name, one in bench.variants.items()}
    return dataclasses.replace(bench, recipe=whole(bench.recipe), variants=variants)


def figures_summary(notebook: Notebook, design: Design, figures: DesignFigures) -> FiguresSummary:
    """The part of a design's figures that other pages use."""
    settings, recipe = notebook.settings, figures.recipe
    context = RecipeContext(settings, notebook.shelf, design, design.as_written, recipe.bars)
    label = recipe[LABEL].value
    return FiguresSummary(
        oils=tuple((layer.name, oil) for layer in recipe.masses.layers for oil in layer.fragrances),
        drafted=label is not None and any(one.region in REGIONS for one in label.drafts),
        rates=studio_rates(figures[COOLING].value or ()),
        forecast=forecast_case(context, recipe.masses),
        outcomes=outcomes_in_bases(settings.all_measures(), design),
        colours=colours_on_bars(design, figures[BLEED].value or ()),
        dew_min={
            one.variant: math.ceil(dew.wait_min)
            for one in (figures.recipe, *figures.variants.values())
            if (dew := one[DEW].value) is not None and dew.wait_min
        },
        face=bar_face(context, recipe.masses, recipe[FILL].value),
        casts=casts_seen(notebook.shelf, design),
        over=tuple(
            (name, one.masses.over)
            for name, one in (("", recipe), *figures.variants.items())
            if one.masses.over
        ),
        browning=recipe[BROWNING].value or (),
        taken=taken_by_pours(settings, notebook.shelf, design),
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
    priced: bool = True,
    memo: Memo = in_process_memo,
) -> RecipeFigures:
    """Derive the figures of one recipe for a batch of ``bars``, None for as many as were written.

    Problems are added to ``problems``. Without ``models`` the estimates have no value, without
    ``priced`` what takes prices.
    """
    batch = variant.recipe.bars if bars is None else bars
    context = RecipeContext(settings, shelf, design, variant, batch, problems, memo)
    for spec in OF_RECIPE:
        if (models or spec.kind != "estimate") and (priced or spec not in PRICED):
            context.figure(spec)
        else:
            context.figures[spec.name] = spec.without()
    return RecipeFigures(variant.name, batch, context.figures)
