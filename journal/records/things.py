"""What a design is made with: the things of the shelf that it names."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from journal.records.shelf import Shelf
from journal.records.write_up import Pour, Recipe

# The kind of a thing on the shelf, and its id.
Thing = tuple[str, str]


def things_of(recipes: Iterable[Recipe], pours: Iterable[Pour]) -> tuple[Thing, ...]:
    """Everything of the shelf that recipes and poured bars name, each once."""
    named = (thing for recipe in recipes for thing in things_in(recipe))
    cast = (("pieces", bar.piece) for pour in pours for bar in pour.bars if bar.piece is not None)
    return tuple(dict.fromkeys((*named, *cast)))


def with_leftovers(shelf: Shelf, things: Iterable[Thing]) -> tuple[Thing, ...]:
    """Things, and what the leftovers among them are made of, each once."""
    found = dict.fromkeys(things)
    for kind, name in tuple(found):
        leftover = shelf.leftovers.get(name) if kind == "leftovers" else None
        if leftover is None:
            continue
        if leftover.base is not None:
            found.update(dict.fromkeys(("bases", base) for base, _ in leftover.base.shares))
        if leftover.tinted not in (None, "no"):
            found["colourants", str(leftover.tinted)] = None
        if leftover.scented is not None:
            found["fragrances", leftover.scented.oil] = None
    return tuple(found)


def things_in(recipe: Recipe) -> Iterator[Thing]:
    """Everything of the shelf that a recipe names; some more than once."""
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
