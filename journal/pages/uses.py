"""What a design is made with: the things of the shelf that it names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from journal.records.notebook import Notebook
from journal.records.write_up import Design, Recipe


@dataclass(frozen=True, slots=True)
class Uses:
    """Which designs use which thing, and what grew from what; ids, in order of date."""

    by_thing: Mapping[tuple[str, str], tuple[str, ...]]
    led_to: Mapping[str, tuple[str, ...]]


def uses_of(notebook: Notebook) -> Uses:
    """The uses of a whole notebook, as it is cut for its edition."""
    by_thing: dict[tuple[str, str], list[str]] = {}
    led_to: dict[str, list[str]] = {}
    for design in sorted(notebook.designs.values(), key=lambda design: (design.date, design.id)):
        for thing in dict.fromkeys(things_of(design)):
            by_thing.setdefault(thing, []).append(design.id)
        if design.grew_from is not None:
            led_to.setdefault(design.grew_from, []).append(design.id)
    return Uses(
        {thing: tuple(found) for thing, found in by_thing.items()},
        {name: tuple(found) for name, found in led_to.items()},
    )


def things_of(design: Design) -> Iterator[tuple[str, str]]:
    """Everything of the shelf that a design is made with: (kind, id); some more than once."""
    for recipe in (design.recipe, *(variant.recipe for variant in design.variants)):
        yield from things_in(recipe)
    for pour in design.pours:
        for bar in pour.bars:
            if bar.piece is not None:
                yield "pieces", bar.piece


def things_in(recipe: Recipe) -> Iterator[tuple[str, str]]:
    """Everything of the shelf that a recipe names: (kind, id)."""
    for kind, name in (("mats", recipe.mat), ("moulds", recipe.mould), ("pieces", recipe.piece)):
        if name is not None:
            yield kind, name
    for layer in recipe.layers:
        if layer.base.leftover is not None:
            yield "leftovers", layer.base.leftover
        yield from (("bases", base) for base, _ in layer.base.shares)
        yield from (("fragrances", oil.oil) for oil in layer.fragrance)
        yield from (("colourants", colour.colourant) for colour in layer.colours)
    yield from (("packaging", name) for name in recipe.packaging)
