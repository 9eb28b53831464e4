"""Make records of faulty text, without its faults, so that one run reports every problem."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from pydantic import ValidationError

from journal.records.models.fields import Record
from journal.records.yaml.tree import WrittenList, WrittenTable, WrittenText

Model = TypeVar("Model", bound=Record)
FieldPath = tuple[str | int, ...]

# Stands for a name that could not be read; it counts as being on the shelf.
UNREADABLE = "?"
# The stand-in for each required value of the settings, a write-up, a layer or a pour.
PLACEHOLDERS: Mapping[str, str] = {
    "studio": UNREADABLE,
    "title": UNREADABLE,
    "date": "2000-01-01",
    "state": "trial",
    "bars": "1",
    "name": UNREADABLE,
    "base": UNREADABLE,
    "amount": "1 g",
}
# Removing faults may cause others, such as a list that is then empty.
_ROUNDS = 4


def salvage(model: type[Model], tree: WrittenTable) -> tuple[Model, WrittenTable] | None:
    """Make a record of ``tree`` without its faulty values; gives it with the tree so changed.

    A faulty value is removed together with the list entry that it stands in; a required
    value is replaced from ``PLACEHOLDERS``. Positions stay those of ``tree``, which is not
    changed. None if faults are left after a few rounds.
    """
    for _ in range(_ROUNDS):
        try:
            return model.model_validate(tree), tree
        except ValidationError as error:
            faults = {entry["loc"]: entry["type"] for entry in error.errors(include_url=False)}
        tree = tree.copy()
        removed: set[FieldPath] = set()
        copied: set[FieldPath] = set()
        # From the end, so that entries before one that goes keep their numbers.
        for path in sorted(faults, key=_path_sort_key, reverse=True):
            if not any(path[:steps] in removed for steps in range(len(path))):
                unknown = faults[path] == "extra_forbidden"
                _remove_fault(tree, path, 0, unknown, removed, copied)
    return None


def _path_sort_key(path: FieldPath) -> tuple[tuple[int, str], ...]:
    """A sort key for paths that compares numbers as numbers."""
    return tuple((step, "") if isinstance(step, int) else (-1, step) for step in path)


def _remove_fault(
    table: WrittenTable,
    path: FieldPath,
    at: int,
    unknown: bool,
    removed: set[FieldPath],
    copied: set[FieldPath],
) -> None:
    """Remove the fault at ``path`` from ``table``, a copy of what stands at ``path[:at]``.

    ``unknown`` says that the fault is an unknown key. Paths of what is removed go to ``removed``,
    those of tables and lists that are copies already to ``copied``: each is copied once, however
    many faults it has.
    """
    key, rest = str(path[at]), path[at + 1 :]
    value = table.get(key)
    number = rest[0] if rest and isinstance(rest[0], int) else None
    own, within = path[: at + 1], path[: at + 2]
    if number is not None and isinstance(value, WrittenList) and number < len(value):
        if own not in copied:
            copied.add(own)
            items = WrittenList(value.at)
            items.extend(value)
            table[key] = value = items
        entry = value[number]
        if isinstance(entry, WrittenTable) and len(rest) > 1 and (key == "layers" or unknown):
            if within not in copied:
                copied.add(within)
                value[number] = entry = entry.copy()
            _remove_fault(entry, path, at + 2, unknown, removed, copied)
        else:
            del value[number]
            removed.add(within)
    elif isinstance(value, WrittenTable) and unknown and rest[1 if number is not None else 0 :]:
        steps = path[: at + (2 if number is not None else 1)]
        if steps not in copied:
            copied.add(steps)
            table[key] = value = value.copy()
        _remove_fault(value, path, len(steps), unknown, removed, copied)
    elif key in PLACEHOLDERS:
        table.put(key, WrittenText(PLACEHOLDERS[key], table.key_at(key)), table.key_at(key))
    elif key in table:
        table.remove(key)
        removed.add(own)
