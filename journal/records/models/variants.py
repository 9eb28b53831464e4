"""A design's variants: the recipe with some of its keys changed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping

from msgspec import Struct, field

from journal.errors import Problem
from journal.quantities.number import excerpt
from journal.records.models.fields import spelling_hint, validated
from journal.records.models.write_up import (
    AS_WRITTEN,
    RECIPE_KEYS,
    Layer,
    Recipe,
    Variant,
    recipe_tree,
)
from journal.records.yaml.tree import SourceTree, WrittenList, WrittenTable, WrittenText

# A batch's size is not what tells two variants apart.
CHANGEABLE = tuple(key for key in RECIPE_KEYS if key != "bars")
# These are replaced whole: half of an old base and half of a new one is no base.
REPLACED_WHOLE = frozenset({"base", "dose", "then"})
# The keys of a layer that a variant may change.
CHANGEABLE_LAYER_KEYS = tuple(key for key in Layer.model_fields if key != "name")
# Groups multiply; more variants than this are never poured.
MOST_VARIANTS = 64


def merged_with_changes(
    tree: WrittenTable, changes: WrittenTable, problems: list[Problem]
) -> WrittenTable:
    """``tree`` with ``changes`` laid over it; ``layers`` of the changes go by layer name.

    Takes:  a recipe's tree and a mapping of some of its keys
    Gives:  a new tree; each value keeps the position that it was written at
    Fails:  never; a change that fits nowhere is added to ``problems``
    """
    merged = tree.again()
    for key, value in changes.items():
        if key not in CHANGEABLE:
            problems.append(
                Problem(
                    changes.key_at(key),
                    f"unknown key {excerpt(key)}",
                    spelling_hint(key, CHANGEABLE),
                )
            )
            continue
        merged.take(key, changes)
        if key == "layers":
            merged[key] = _layers_over(tree.get(key), value, problems)
        else:
            merged[key] = _over(key, tree.get(key), value)
    return merged


def _layers_over(layers: object, changes: object, problems: list[Problem]) -> object:
    if isinstance(changes, WrittenText):
        problems.append(
            Problem(changes.at, "layers by name belong here", "Write {layers: {body: {…}}}.")
        )
        return layers
    if not isinstance(changes, WrittenTable) or not isinstance(layers, WrittenList):
        # A whole list of layers takes the place of the old one.
        return changes if isinstance(changes, WrittenList) else layers
    names = [str(layer.get("name", "")) for layer in layers if isinstance(layer, WrittenTable)]
    merged = WrittenList(layers.at)
    merged.extend(layers)
    for name, change in changes.items():
        if name not in names:
            problems.append(
                Problem(
                    changes.key_at(name),
                    f"no layer is called {excerpt(name)}",
                    spelling_hint(name, names),
                )
            )
        elif not isinstance(change, WrittenTable):
            problems.append(
                Problem(change.at, "a layer's keys belong here", "Write {pour: 115-122 F}.")
            )
        else:
            place = names.index(name)
            merged[place] = _layer_over(merged[place], change, problems)
    return merged


def _layer_over(layer: WrittenTable, change: WrittenTable, problems: list[Problem]) -> WrittenTable:
    merged = layer.again()
    for key, value in change.items():
        if key in CHANGEABLE_LAYER_KEYS:
            merged.take(key, change)
            merged[key] = _over(key, layer.get(key), value)
        else:
            problems.append(
                Problem(
                    change.key_at(key),
                    f"unknown key {excerpt(key)}",
                    spelling_hint(key, CHANGEABLE_LAYER_KEYS, "layer"),
                )
            )
    return merged


def _over(key: str, old: object, new: object) -> object:
    if key in REPLACED_WHOLE or not isinstance(new, WrittenTable):
        return new
    if isinstance(old, WrittenList) and len(old) == 1:
        # One fragrance may be written as a list of one.
        old = old[0]
    if not isinstance(old, WrittenTable):
        return new
    merged = old.again()
    for inner, value in new.items():
        merged.take(inner, new)
        merged[inner] = _over(inner, old.get(inner), value)
    for one, other in (("by", "dose"), ("dose", "by")):
        # A colour that was dosed and is now done by eye, or the other way round.
        if one in new and other not in new and other in merged:
            merged.leave(other)
    return merged


def changed_keys(changes: WrittenTable) -> tuple[str, ...]:
    """What a variant changes, as dotted paths: ``trim``, ``layers.body.pour``."""
    found: list[str] = []
    for key, value in changes.items():
        if key == "layers" and isinstance(value, WrittenTable):
            for layer, change in value.items():
                inner = change if isinstance(change, WrittenTable) else ()
                found.extend(f"layers.{layer}.{name}" for name in inner)
        else:
            found.append(key)
    return tuple(found)


class ReadVariants(Struct, frozen=True):
    """The variants of a write-up.

    ``made`` are those whose recipe could be read, ``names`` those that are written,
    ``groups`` each group with its choices.
    """

    made: tuple[Variant, ...]
    names: tuple[str, ...]
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def read_variants(front: WrittenTable, recipe: Recipe, problems: list[Problem]) -> ReadVariants:
    """The variants of a write-up; what cannot be read is added to ``problems``."""
    tree = recipe_tree(front)
    as_written = ReadVariants((Variant(AS_WRITTEN, recipe, SourceTree(tree), ()),), (AS_WRITTEN,))
    entries = front.get("variants")
    if not isinstance(entries, WrittenTable) or not entries:
        return as_written
    groups = _groups(entries, problems)
    if groups is None:
        return ReadVariants((), ())
    number = math.prod(len(entries[group]) for group in groups) if groups else len(entries)
    if number > MOST_VARIANTS:
        problems.append(
            Problem(
                entries.at,
                f"there are {number} variants" + (" when the groups are multiplied" * bool(groups)),
                f"Keep to {MOST_VARIANTS} in a design.",
            )
        )
        return ReadVariants((), ())
    # Each variant is a choice of one from each group; without groups, the one group is "".
    choices = [[(group, name) for name in entries[group]] for group in groups] or [
        [("", name) for name in entries]
    ]
    made: list[Variant] = []
    names: list[str] = []
    found_problems: dict[Problem, None] = {}
    for picks in itertools.product(*choices):
        name = "/".join(choice for _, choice in picks)
        names.append(name)
        merged = tree
        changed: list[str] = []
        found: list[Problem] = []
        for group, choice in picks:
            changes = entries[group][choice] if group else entries[choice]
            if isinstance(changes, WrittenTable):
                merged = merged_with_changes(merged, changes, found)
                changed.extend(changed_keys(changes))
        if changed:
            variant_recipe = validated(Recipe, merged, f"variant {excerpt(name)}", found)
        else:
            variant_recipe = recipe
        # A choice stands in several combinations; its fault is reported once.
        found_problems.update(dict.fromkeys(found))
        if variant_recipe is not None and not found:
            chosen = {group: choice for group, choice in picks if group}
            made.append(Variant(name, variant_recipe, SourceTree(merged), tuple(changed), chosen))
    problems.extend(found_problems)
    return ReadVariants(
        tuple(made), tuple(names), {group: tuple(entries[group]) for group in groups}
    )


def _groups(entries: WrittenTable, problems: list[Problem]) -> tuple[str, ...] | None:
    """Names of the groups; () when the entries are plain variants; None when unclear."""
    groups: list[str] = []
    plain: list[str] = []
    sound = True
    for name, entry in entries.items():
        if isinstance(entry, WrittenText) and entry == "":
            plain.append(name)
        elif not isinstance(entry, WrittenTable):
            problems.append(
                Problem(
                    entry.at, f"the variant {excerpt(name)} is no mapping", "Write {trim: close}."
                )
            )
            sound = False
        elif _is_group(entry):
            groups.append(name)
            for choice in entry:
                sound = _good_name(entry, choice, problems) and sound
        else:
            plain.append(name)
        sound = _good_name(entries, name, problems) and sound
    if groups and plain:
        problems.append(
            Problem(
                entries.key_at(plain[0]),
                f"{excerpt(plain[0])} is a variant, and {excerpt(groups[0])} is a group of"
                " variants",
                "Put every variant into a group, or none.",
            )
        )
        sound = False
    return tuple(groups) if sound else None


def _good_name(entries: WrittenTable, name: str, problems: list[Problem]) -> bool:
    if name.strip() and "/" not in name and name != AS_WRITTEN:
        return True
    what = f"{excerpt(name)} holds a stroke" if "/" in name else f"{excerpt(name)} is no name"
    problems.append(Problem(entries.key_at(name), what, "Use another name."))
    return False


def _is_group(entry: WrittenTable) -> bool:
    """Whether an entry of ``variants`` holds choices, each with its changes."""
    if any(key in CHANGEABLE or not (isinstance(value, WrittenTable) or value == "")
           for key, value in entry.items()):  # fmt: skip
        return False
    # {layer: {body: …}} is a variant with a slip in its key, not a group.
    return any(value == "" or any(key in CHANGEABLE for key in value) for value in entry.values())
