"""A design's variants: the recipe with some of its keys changed."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping

from journal.errors import Problem
from journal.records.source import Items, Table, Text
from journal.records.typed import checked, nearest
from journal.records.write_up import AS_WRITTEN, Layer, Recipe, Variant

RECIPE_KEYS = tuple(Recipe.model_fields)
# A batch's size is not what tells two variants apart.
CHANGEABLE = tuple(key for key in RECIPE_KEYS if key != "bars")
# These are replaced whole: half of an old base and half of a new one is no base.
REPLACED_WHOLE = frozenset({"base", "dose", "then"})


def recipe_tree(front: Table) -> Table:
    """The keys of a write-up that make up its recipe."""
    tree = Table(front.at)
    for key in RECIPE_KEYS:
        if key in front:
            tree.put(key, front[key], front.keys_at[key])
    return tree


def laid_over(tree: Table, changes: Table, problems: list[Problem]) -> Table:
    """``tree`` with ``changes`` laid over it; ``layers`` of the changes go by layer name.

    Takes:  a recipe's tree and a mapping of some of its keys
    Gives:  a new tree; each value keeps the position that it was written at
    Fails:  never; a change that fits nowhere is added to ``problems``
    """
    merged = _copy(tree)
    for key, value in changes.items():
        at = changes.keys_at[key]
        if key not in CHANGEABLE:
            problems.append(Problem(at, f'unknown key "{key}"', nearest(key, CHANGEABLE)))
        elif key == "layers":
            merged.put(key, _layers_over(tree.get(key), value, problems), at)
        else:
            merged.put(key, _over(key, tree.get(key), value), at)
    return merged


def _layers_over(layers: object, changes: object, problems: list[Problem]) -> object:
    if not isinstance(changes, Table) or not isinstance(layers, Items):
        if isinstance(changes, Items):
            return changes
        if isinstance(changes, Text):
            problems.append(
                Problem(changes.at, "layers by name belong here", "Write {layers: {body: {…}}}.")
            )
        return layers
    names = [str(layer.get("name", "")) for layer in layers if isinstance(layer, Table)]
    merged = Items(layers.at)
    merged.extend(layers)
    for name, change in changes.items():
        if name not in names:
            problems.append(
                Problem(changes.keys_at[name], f'no layer is called "{name}"', nearest(name, names))
            )
            continue
        if not isinstance(change, Table):
            problems.append(
                Problem(change.at, "a layer's keys belong here", "Write {pour: 115-122 F}.")
            )
            continue
        place = names.index(name)
        layer = _copy(merged[place])
        for key, value in change.items():
            if key not in Layer.model_fields or key == "name":
                known = [known for known in Layer.model_fields if known != "name"]
                problems.append(
                    Problem(change.keys_at[key], f'unknown key "{key}"', nearest(key, known))
                )
                continue
            layer.put(key, _over(key, layer.get(key), value), change.keys_at[key])
        merged[place] = layer
    return merged


def _over(key: str, old: object, new: object) -> object:
    if key in REPLACED_WHOLE or not isinstance(new, Table):
        return new
    if isinstance(old, Items) and len(old) == 1:
        # One fragrance may be written as a list of one.
        old = old[0]
    if not isinstance(old, Table):
        return new
    merged = _copy(old)
    for inner, value in new.items():
        merged.put(inner, _over(inner, old.get(inner), value), new.keys_at[inner])
    return merged


def _copy(table: Table) -> Table:
    copied = Table(table.at)
    copied.update(table)
    copied.keys_at = dict(table.keys_at)
    return copied


def changed_keys(changes: Table) -> tuple[str, ...]:
    """What a variant changes, as dotted paths: ``trim``, ``layers.body.pour``."""
    found: list[str] = []
    for key, value in changes.items():
        if key == "layers" and isinstance(value, Table):
            for layer, change in value.items():
                inner = change if isinstance(change, Table) else ()
                found.extend(f"layers.{layer}.{name}" for name in inner)
        else:
            found.append(key)
    return tuple(found)


def read_variants(
    front: Table, recipe: Recipe, problems: list[Problem]
) -> tuple[tuple[Variant, ...], Mapping[str, tuple[str, ...]]]:
    """The variants of a write-up, and its groups with their choices."""
    tree = recipe_tree(front)
    entries = front.get("variants")
    if not isinstance(entries, Table) or not entries:
        return (Variant(AS_WRITTEN, recipe, tree, ()),), {}
    groups = _groups(entries, problems)
    if groups is None:
        return (Variant(AS_WRITTEN, recipe, tree, ()),), {}
    combinations: list[tuple[tuple[tuple[str, str], ...], tuple[tuple[str, object], ...]]]
    if not groups:
        combinations = [((("", name),), ((name, entries[name]),)) for name in entries]
    else:
        choices = [[(group, name) for name in entries[group]] for group in groups]
        combinations = [
            (picks, tuple((name, entries[group][name]) for group, name in picks))
            for picks in itertools.product(*choices)
        ]
    made: list[Variant] = []
    told: set[Problem] = set()
    for picks, overlays in combinations:
        merged = tree
        changed: list[str] = []
        found: list[Problem] = []
        for _, changes in overlays:
            if isinstance(changes, Table):
                merged = laid_over(merged, changes, found)
                changed.extend(changed_keys(changes))
        name = "/".join(name for _, name in picks)
        variant_recipe = checked(Recipe, merged, f"variant {name}", found)
        # A choice stands in several combinations; its fault is told once.
        told.update(found)
        if variant_recipe is not None and not found:
            chosen = {group: choice for group, choice in picks if group}
            made.append(Variant(name, variant_recipe, merged, tuple(changed), chosen))
    problems.extend(told)
    return tuple(made), {group: tuple(entries[group]) for group in groups}


def _groups(entries: Table, problems: list[Problem]) -> tuple[str, ...] | None:
    """Names of the groups; () when the entries are plain variants; None when unclear."""
    groups: list[str] = []
    plain: list[str] = []
    for name, entry in entries.items():
        if isinstance(entry, Text) and entry == "":
            plain.append(name)
        elif not isinstance(entry, Table):
            problems.append(
                Problem(entry.at, f'the variant "{name}" is no mapping', "Write {trim: close}.")
            )
            return None
        elif entry and all(_is_group_entry(key, value) for key, value in entry.items()):
            groups.append(name)
        else:
            plain.append(name)
        if "/" in name:
            problems.append(
                Problem(entries.keys_at[name], f'"{name}" holds a stroke', "Use another name.")
            )
            return None
    if groups and plain:
        problems.append(
            Problem(
                entries.keys_at[plain[0]],
                f'"{plain[0]}" is a variant, and "{groups[0]}" is a group of variants',
                "Put every variant into a group, or none.",
            )
        )
        return None
    return tuple(groups)


def _is_group_entry(key: str, value: object) -> bool:
    return key not in CHANGEABLE and (isinstance(value, Table) or value == "")


def variants_named(
    variants: Iterable[Variant], groups: Mapping[str, tuple[str, ...]], name: str
) -> tuple[str, ...]:
    """The variants that ``name`` means: itself, or in a group every one with that choice."""
    return tuple(
        variant.name
        for variant in variants
        if variant.name == name or name in variant.chosen.values()
    )
