"""Make a design's variants: the recipe with some of its keys changed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping

from msgspec import Struct, field

from journal.errors import Problem
from journal.quantities.number import excerpt
from journal.records.models.fields import unknown_key, unknown_name, validated
from journal.records.models.write_up import (
    AS_WRITTEN,
    RECIPE_KEYS,
    Layer,
    Pour,
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
    """Merge ``changes`` into a copy of the recipe ``tree``.

    Takes:  a recipe's tree, and a mapping of some of its keys with ``layers`` by layer name
    Gives:  a new tree; each value keeps the position that it was written at
    Fails:  never; a change that fits nowhere is added to ``problems``
    """
    merged = tree.copy()
    for key, value in changes.items():
        if key not in CHANGEABLE:
            problems.append(unknown_key(changes, key, CHANGEABLE))
            continue
        merged.copy_key(key, changes)
        if key == "layers":
            merged[key] = _merged_layers(tree.get(key), value, problems)
        else:
            merged[key] = _merged_value(key, tree.get(key), value)
    return merged


def recipe_as_done(variant: Variant, pour: Pour) -> Recipe:
    """The recipe of a variant with what a pour, checked before, did otherwise."""
    if pour.did is None:
        return variant.recipe
    return Recipe.model_validate(merged_with_changes(variant.written, pour.did, []))


def _merged_layers(layers: object, changes: object, problems: list[Problem]) -> object:
    """Merge ``changes``, by layer name, into a copy of the list of layers."""
    if isinstance(changes, WrittenText):
        hint = "Write {layers: {body: {…}}}."
        problems.append(Problem(changes.at, "layers by name belong here", hint))
        return layers
    if not isinstance(changes, WrittenTable) or not isinstance(layers, WrittenList):
        # A whole list of layers takes the place of the old one.
        return changes if isinstance(changes, WrittenList) else layers
    names = [str(layer.get("name", "")) for layer in layers if isinstance(layer, WrittenTable)]
    merged = WrittenList(layers.at)
    merged.extend(layers)
    for name, change in changes.items():
        if name not in names:
            problems.append(unknown_name(name, changes.key_at(name), names, "layer"))
        elif not isinstance(change, WrittenTable):
            hint = "Write {pour: 115-122 F}."
            problems.append(Problem(change.at, "a layer's keys belong here", hint))
        else:
            place = names.index(name)
            merged[place] = _merged_layer(merged[place], change, problems)
    return merged


def _merged_layer(
    layer: WrittenTable, change: WrittenTable, problems: list[Problem]
) -> WrittenTable:
    """Merge ``change`` into a copy of a layer; an unknown key is added to ``problems``."""
    merged = layer.copy()
    for key, value in change.items():
        if key in CHANGEABLE_LAYER_KEYS:
            merged.copy_key(key, change)
            merged[key] = _merged_value(key, layer.get(key), value)
        else:
            problems.append(unknown_key(change, key, CHANGEABLE_LAYER_KEYS, "layer"))
    return merged


def _merged_value(key: str, old: object, new: object) -> object:
    """The value after the change: two mappings are merged, anything else is replaced by ``new``."""
    if key in REPLACED_WHOLE or not isinstance(new, WrittenTable):
        return new
    if isinstance(old, WrittenList) and len(old) == 1:
        # One fragrance may be written as a list of one.
        old = old[0]
    if not isinstance(old, WrittenTable):
        return new
    merged = old.copy()
    for inner, value in new.items():
        merged.copy_key(inner, new)
        merged[inner] = _merged_value(inner, old.get(inner), value)
    for one, other in (("by", "dose"), ("dose", "by")):
        # A colour that was dosed and is now done by eye, or the other way round.
        if one in new and other not in new and other in merged:
            merged.remove(other)
    return merged


def changed_keys(changes: WrittenTable) -> tuple[str, ...]:
    """The keys that a variant changes, as dotted paths: ``trim``, ``layers.body.pour``."""
    paths: list[str] = []
    for key, value in changes.items():
        if key == "layers" and isinstance(value, WrittenTable):
            for layer, change in value.items():
                inner = change if isinstance(change, WrittenTable) else ()
                paths.extend(f"layers.{layer}.{name}" for name in inner)
        else:
            paths.append(key)
    return tuple(paths)


class ReadVariants(Struct, frozen=True):
    """The variants of a write-up.

    ``readable`` are those whose recipe could be read, ``names`` all that are written,
    ``groups`` each group with its choices.
    """

    readable: tuple[Variant, ...]
    names: tuple[str, ...]
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def read_variants(front: WrittenTable, recipe: Recipe, problems: list[Problem]) -> ReadVariants:
    """Make the variants of a write-up; their faults are added to ``problems``.

    A write-up that names no variants has one, "as written". None are readable where the groups
    are unclear or make too many.
    """
    tree = recipe_tree(front)
    entries = front.get("variants")
    if not isinstance(entries, WrittenTable) or not entries:
        return ReadVariants((Variant(AS_WRITTEN, recipe, SourceTree(tree), ()),), (AS_WRITTEN,))
    groups = groups_of(entries, problems)
    if groups is None:
        return ReadVariants((), ())
    # Each variant is a choice of one from each group; without groups, the one group is "".
    choices: dict[str, WrittenTable] = {group: entries[group] for group in groups} or {"": entries}
    number = math.prod(map(len, choices.values()))
    if number > MOST_VARIANTS:
        what = f"there are {number} variants" + " when the groups are multiplied" * bool(groups)
        problems.append(Problem(entries.at, what, f"Keep to {MOST_VARIANTS} in a design."))
        return ReadVariants((), ())
    readable: list[Variant] = []
    names: list[str] = []
    # A choice stands in several combinations; its fault is reported once.
    all_problems: dict[Problem, None] = {}
    for picks in itertools.product(*choices.values()):
        chosen = dict(zip(choices, picks, strict=True))
        name = "/".join(picks)
        names.append(name)
        merged, changed, variant_problems = tree, list[str](), list[Problem]()
        for group, choice in chosen.items():
            changes = choices[group][choice]
            if isinstance(changes, WrittenTable):
                merged = merged_with_changes(merged, changes, variant_problems)
                changed.extend(changed_keys(changes))
        merged_recipe: Recipe | None = recipe
        if changed:
            merged_recipe = validated(Recipe, merged, f"variant {excerpt(name)}", variant_problems)
        all_problems.update(dict.fromkeys(variant_problems))
        if merged_recipe is not None and not variant_problems:
            chosen.pop("", None)
            readable.append(
                Variant(name, merged_recipe, SourceTree(merged), tuple(changed), chosen)
            )
    problems.extend(all_problems)
    return ReadVariants(
        tuple(readable), tuple(names), {group: tuple(entries[group]) for group in groups}
    )


def groups_of(entries: WrittenTable, problems: list[Problem]) -> tuple[str, ...] | None:
    """Names of the groups; () if the entries are plain variants; None, with problems, if faulty."""
    groups: list[str] = []
    plain: list[str] = []
    group_problems: list[Problem] = []
    for name, entry in entries.items():
        if not isinstance(entry, WrittenTable) and entry != "":
            what = f"the variant {excerpt(name)} has no keys"
            group_problems.append(Problem(entry.at, what, "Write {trim: close}."))
        elif entry == "" or not _is_group(entry):
            plain.append(name)
        else:
            groups.append(name)
            group_problems.extend(_bad_name_problems(entry, entry))
        group_problems.extend(_bad_name_problems(entries, (name,)))
    if groups and plain:
        what = f"{excerpt(plain[0])} is a variant, and {excerpt(groups[0])} is a group of variants"
        hint = "Put every variant into a group, or none."
        group_problems.append(Problem(entries.key_at(plain[0]), what, hint))
    problems.extend(group_problems)
    return None if group_problems else tuple(groups)


def _bad_name_problems(table: WrittenTable, names: Iterable[str]) -> Iterator[Problem]:
    """A problem for each of the keys ``names`` of a table that cannot be a variant's name."""
    for name in names:
        if not name.strip() or "/" in name or name == AS_WRITTEN:
            flaw = "holds a stroke" if "/" in name else "is no name"
            what = f"{excerpt(name)} {flaw}"
            yield Problem(table.key_at(name), what, "Use another name.")


def _is_group(entry: WrittenTable) -> bool:
    """Whether an entry of ``variants`` is a group: a mapping of choices to their changes."""
    if not all(isinstance(value, WrittenTable) or value == "" for value in entry.values()):
        return False
    if not entry.keys().isdisjoint(CHANGEABLE):
        return False
    # {layer: {body: …}} is a variant with a slip in its key, not a group.
    return any(value == "" or not value.keys().isdisjoint(CHANGEABLE) for value in entry.values())
