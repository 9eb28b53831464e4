"""Summaries of designs, for lists, the shelf and the pages of other designs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from itertools import count

from msgspec import Struct
from pydantic import ValidationError

from journal.errors import Position
from journal.records.models import write_up
from journal.records.models.links import LinkTarget, links_in, target_of
from journal.records.models.shelf import MATERIALS
from journal.records.models.things import ThingRef, references_of
from journal.records.models.trim import Trim
from journal.records.models.variants import recipe_as_done


class DesignSummary(Struct, frozen=True):
    """The part of a design that is used outside its own pages.

    Its fields are those of ``Design``, and two more: ``link_targets`` are the targets of the
    links in its prose, ``layers`` the names of its layers.
    """

    id: str
    path: str
    title: str
    date: date
    state: str
    summary: str
    subjects: tuple[str, ...]
    grew_from: str | None
    groups: Mapping[str, tuple[str, ...]]
    question: write_up.Question | None
    failed: tuple[write_up.Failure, ...]
    photos: tuple[write_up.Photo, ...]
    things: tuple[ThingRef, ...]
    pictures: tuple[tuple[Position, str], ...]
    overview: write_up.DesignOverview
    link_targets: tuple[LinkTarget, ...]
    layers: tuple[str, ...]


def summary_of(design: write_up.Design) -> DesignSummary:
    """Make the summary of a design."""
    folder = design.path.rpartition("/")[0]
    links = links_in(design.body, design.path, design.body_line)
    shared = (name for name in DesignSummary.__struct_fields__ if hasattr(design, name))
    return DesignSummary(
        **{name: getattr(design, name) for name in shared},
        link_targets=tuple(dict.fromkeys(target_of(link, folder) for _, link, _ in links)),
        layers=tuple(layer.name for layer in design.recipe.layers),
    )


def overview_of(
    recipe: write_up.Recipe, variants: Sequence[write_up.Variant], pours: Sequence[write_up.Pour]
) -> write_up.DesignOverview:
    """Make the overview of a design.

    Takes:  recipe    as it stands at the top of the write-up
            variants  all of them
            pours     all of them, in the order that they were written in
    Gives:  its overview; temperatures in degrees C
    """
    recipes = {variant.name: variant.recipe for variant in variants}
    all_recipes = (recipe, *recipes.values())
    return write_up.DesignOverview(
        bars=recipe.bars,
        mould=recipe.mould,
        variants=len(variants),
        differ=tuple(
            name for name, one in recipes.items() if name != write_up.AS_WRITTEN and one != recipe
        ),
        trims=tuple(dict.fromkeys((one.mat, one.mould, one.trim) for one in all_recipes)),
        pours=tuple(_pour_overview(pour, variants, recipe) for pour in pours),
    )


def mould_of(pour: write_up.Pour, recipe: write_up.Recipe) -> str | None:
    """The mould that bars of a recipe were cast in: the pour's own, where it took another."""
    return recipe.mould if pour.mould is None else pour.mould


def bars_by_mould(
    pour: write_up.Pour, recipes: Mapping[str, write_up.Recipe], recipe: write_up.Recipe
) -> tuple[tuple[str | None, tuple[write_up.Bar | None, ...]], ...]:
    """The bars of a pour as they lay: for each mould a bar or None a cavity, up to the last bar.

    Bars without a cavity of their own lie in the free ones in their order; ``recipes`` are by
    variant, and ``recipe`` stands in for one that is not in it.
    """
    moulds: dict[str | None, list[write_up.Bar]] = {}
    for bar in pour.bars:
        mould = mould_of(pour, recipes.get(bar.variant, recipe))
        moulds.setdefault(mould, []).append(bar)
    return tuple((mould, _in_cavities(of_mould)) for mould, of_mould in moulds.items())


def _in_cavities(bars: Sequence[write_up.Bar]) -> tuple[write_up.Bar | None, ...]:
    placed = {bar.cavity: bar for bar in bars if bar.cavity is not None}
    free = (cavity for cavity in count(1) if cavity not in placed)
    # Of two in one cavity, which is an error, the later takes a free one.
    rest = [bar for bar in bars if bar.cavity is None or placed[bar.cavity] is not bar]
    placed |= {next(free): bar for bar in rest}
    return tuple(placed.get(cavity) for cavity in range(1, max(placed, default=0) + 1))


def _cell_letter(bar: write_up.Bar | None) -> str:
    """The letter of a cavity in ``PourOverview.cells``."""
    if bar is None:
        return "."
    keep = bar.measures.get("keep")
    return "o" if keep is None else "y" if keep else "n"


def recipe_as_poured(
    pour: write_up.Pour, variant: write_up.Variant | None, recipe: write_up.Recipe
) -> write_up.Recipe:
    """The recipe of a variant as a pour did it; ``recipe``, as written, where there is none."""
    if variant is None:
        return recipe
    try:
        return recipe_as_done(variant, pour)
    except ValidationError:  # an error that was told where the pour was read
        return variant.recipe


def bars_hold(
    pour: write_up.Pour, variants: Sequence[write_up.Variant], recipe: write_up.Recipe
) -> tuple[write_up.BarsHold, ...]:
    """The materials in the bars of a pour, by pot; bars that hold the same stand together.

    Takes:  variants  all of the design
            recipe    as it stands at the top of the write-up
    """
    by_name = {variant.name: variant for variant in variants}
    found: list[tuple[dict[str, tuple[ThingRef, ...]], tuple[ThingRef, ...], list[str]]] = []
    names = {bar.variant: None for bar in pour.bars} or {next(iter(by_name), ""): None}
    for name in names:
        poured = recipe_as_poured(pour, by_name.get(name), recipe)
        pots: dict[str, tuple[ThingRef, ...]] = {}
        for layer in poured.layers:
            of_layer = tuple((one.kind, one.name) for one in references_of(layer))
            inside = (one for one in of_layer if one[0] in MATERIALS)
            pots[layer.pot_name] = tuple(dict.fromkeys((*pots.get(layer.pot_name, ()), *inside)))
        wrapped_in = tuple(("packaging", one) for one in poured.packaging)
        bars = [bar.bar for bar in pour.bars if bar.variant == name]
        alike = next((row for row in found if row[:2] == (pots, wrapped_in)), None)
        if alike is None:
            found.append((pots, wrapped_in, bars))
        else:
            alike[2].extend(bars)
    return tuple(write_up.BarsHold(tuple(bars), pots, wrapped) for pots, wrapped, bars in found)


def _pour_overview(
    pour: write_up.Pour, variants: Sequence[write_up.Variant], recipe: write_up.Recipe
) -> write_up.PourOverview:
    """Make the overview of a pour; ``recipe`` stands in for that of an unknown variant."""
    recipes = {variant.name: variant.recipe for variant in variants}
    judged = [bar.measures["keep"] for bar in pour.bars if "keep" in bar.measures]
    of_recipe = [
        bar.measures["keep"] is True
        for bar in pour.bars
        if "keep" in bar.measures and recipes.get(bar.variant, recipe) == recipe
    ]
    cast: Counter[tuple[str | None, str | None, str | None, Trim | None]] = Counter()
    for bar in pour.bars:
        bar_recipe = recipes.get(bar.variant, recipe)
        piece = bar.piece or bar_recipe.piece
        if piece is not None or bar_recipe.mat is not None:
            chosen = (bar_recipe.mat, bar_recipe.trim) if piece is None else (None, None)
            cast[piece, bar_recipe.mould, *chosen] += 1
    return write_up.PourOverview(
        label=pour.label,
        date=pour.date,
        room_c=pour.room_c,
        bars=len(pour.bars),
        judged=len(judged),
        kept=sum(keep is True for keep in judged),
        cells="".join(
            _cell_letter(bar) for _, bars in bars_by_mould(pour, recipes, recipe) for bar in bars
        ),
        variants=tuple(dict.fromkeys(bar.variant for bar in pour.bars)),
        cast=tuple(
            write_up.CastCount(piece, mould, bars, mat, trim)
            for (piece, mould, mat, trim), bars in cast.items()
        ),
        poured_c=pour.poured_c,
        by=pour.by or "",
        as_written=(sum(of_recipe), len(of_recipe)),
        batch=pour.batch,
        lots=pour.lots,
        holds=bars_hold(pour, variants, recipe),
    )
