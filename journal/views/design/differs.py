"""Differences between variants, and deviations of a pour from its recipe, in words."""

from __future__ import annotations

from collections.abc import Iterator

from journal.html.blocks import Words
from journal.records.models.trim import Trim
from journal.records.models.write_up import DOSED, Layer, Variant
from journal.records.yaml.tree import WrittenList, WrittenTable
from journal.views.shared.on_design import DesignContext, joined_runs, typeset_quantity
from journal.views.shared.words import NO_BREAK, capitalised, percent


def key_name(key: str) -> str:
    """The name of a recipe's key in words: ``layers.body.base`` is "Base of the body"."""
    if key.startswith("layers.") and key.count(".") == 2:
        _, layer, name = key.split(".")
        return f"{capitalised(name)} of the {layer}"
    return capitalised(key)


def value_runs(context: DesignContext, variant: Variant, key: str) -> Words:
    """A variant's value at a key as text runs; things of the shelf link to their pages."""
    recipe = variant.recipe
    if key == "trim":
        return (trim_text(recipe.trim),)
    for name, kind in (("mat", "mats"), ("mould", "moulds"), ("piece", "pieces")):
        if key == name:
            thing: str | None = getattr(recipe, name)
            return (context.thing(kind, thing),) if thing else ("none",)
    if key == "packaging":
        things: list[Words] = [(context.thing("packaging", name),) for name in recipe.packaging]
        return joined_runs(things) or ("none",)
    if key.startswith("layers.") and key.count(".") == 2:
        _, name, part = key.split(".")
        for layer, written in zip(recipe.layers, variant.written["layers"], strict=True):
            if layer.name == name:
                return _layer_value(context, layer, written, part)
    return ("changed",)


def trim_text(trim: Trim | None) -> str:
    """A trim in words: ``close``, ``straight 3 mm``, ``none``."""
    if trim is None:
        return "none"
    if trim.kind == "close" or trim.margin_mm is None:
        return trim.kind
    return f"straight{NO_BREAK}{trim.margin_mm:g}{NO_BREAK}mm"


def _layer_value(context: DesignContext, layer: Layer, written: WrittenTable, part: str) -> Words:
    """The value of a layer's key ``part`` as text runs; doses stand as the maker wrote them."""
    if part == "base":
        return _base_value(context, layer)
    if part == "fragrance":
        return _dosed_values(context, written, part, "oil", "fragrances")
    if part in DOSED:
        kind = "colourants" if part == "colours" else part
        return _dosed_values(context, written, part, kind.removesuffix("s"), kind)
    if part == "amount":
        return (str(context.units.mass(layer.amount)),)
    if part == "overpour":
        return (str(context.units.mass(layer.overpour)) if layer.overpour else "none",)
    if part == "pour":
        return (str(context.units.temperatures(*layer.pour)) if layer.pour is not None else "any",)
    if part == "then":
        return ("; ".join(map(typeset_quantity, layer.then)) or "nothing",)
    if part == "spritz":
        return ("before and after" if layer.spritz == "both" else layer.spritz or "none",)
    return (layer.pot_name,)


def _base_value(context: DesignContext, layer: Layer) -> Words:
    """The base of a layer: ``70 % White shea and 30 % Clear glycerine``, a leftover among them."""
    things = [("bases", *one) for one in layer.base.shares]
    if layer.base.leftover is not None:
        things.append(("leftovers", layer.base.leftover, layer.base.of_leftover))
    if len(things) == 1:
        return (context.thing(*things[0][:2]),)
    parts: list[Words] = [
        (f"{percent(share)} ", context.thing(kind, name)) for kind, name, share in things
    ]
    return joined_runs(parts)


def _dosed_values(
    context: DesignContext, layer: WrittenTable, key: str, thing: str, kind: str
) -> Words:
    """The oils, colourants or additives under ``key``, each with its written dose; or "none"."""
    values: list[Words] = []
    entries = layer.get(key)
    for entry in entries if isinstance(entries, WrittenList) else [entries]:
        if isinstance(entry, WrittenTable):
            how = f" by eye, to {entry['aim']}" if "aim" in entry else " by eye"
            if "dose" in entry:
                how = f", {typeset_quantity(str(entry['dose']))}"
            values.append((context.thing(kind, str(entry[thing])), how))
    return joined_runs(values) or ("none",)


def deviations_text(did: WrittenTable) -> str:
    """The deviations of a pour from its recipe: ``fragrance of the body: 1.5 mL``."""
    return "; ".join(f"{name}: {typeset_quantity(text)}" for name, text in _leaves(did, ()))


def _leaves(tree: object, path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Yield the path in words and the text of each leaf of a written tree."""
    if isinstance(tree, WrittenTable):
        for key, value in tree.items():
            yield from _leaves(value, (*path, key))
    elif isinstance(tree, WrittenList) and any(
        isinstance(entry, WrittenTable | WrittenList) for entry in tree
    ):
        for entry in tree:
            yield from _leaves(entry, path)
    else:
        text = ", ".join(map(str, tree)) if isinstance(tree, WrittenList) else str(tree)
        yield _path_text(path), text


def _path_text(path: tuple[str, ...]) -> str:
    """A path in words: ``("layers", "body", "fragrance")`` is "fragrance of the body"."""
    if path[:1] == ("layers",) and len(path) > 2:
        return f"{' '.join(path[2:])} of the {path[1]}"
    return " ".join(path)
