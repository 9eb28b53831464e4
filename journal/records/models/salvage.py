"""A record without its faults: the rest is checked too, so that one run reports every problem."""

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
# What stands in for a value that the settings, a write-up, a layer or a pour must have?
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
# Taking faults away may lay bare others, such as a list that is then empty.
_ROUNDS = 4


def salvage(model: type[Model], tree: WrittenTable) -> tuple[Model, WrittenTable] | None:
    """A record of the sound part of ``tree``, and that part of the tree; None if there is none.

    A faulty value is left out, with the entry of the list that it stands in. A required
    value is filled in from ``PLACEHOLDERS``. Positions stay those of ``tree``.
    """
    for _ in range(_ROUNDS):
        try:
            return model.model_validate(tree), tree
        except ValidationError as error:
            faults = {entry["loc"]: entry["type"] for entry in error.errors(include_url=False)}
        tree = tree.copy()
        gone: set[FieldPath] = set()
        # From the end, so that entries before one that goes keep their numbers.
        for path in sorted(faults, key=_by_number, reverse=True):
            if not any(path[:steps] in gone for steps in range(len(path))):
                _remove_fault(tree, path, 0, faults[path] == "extra_forbidden", gone)
    return None


def _by_number(path: FieldPath) -> tuple[tuple[int, str], ...]:
    """A key to sort paths by, which compares numbers as such."""
    return tuple((step, "") if isinstance(step, int) else (-1, step) for step in path)


def _remove_fault(
    table: WrittenTable, path: FieldPath, at: int, unknown: bool, gone: set[FieldPath]
) -> None:
    """Take the fault at ``path`` out of the copy ``table``, which stands at ``path[:at]``."""
    key, rest = str(path[at]), path[at + 1 :]
    value = table.get(key)
    number = rest[0] if rest and isinstance(rest[0], int) else None
    if number is not None and isinstance(value, WrittenList) and number < len(value):
        items = WrittenList(value.at)
        items.extend(value)
        table[key] = items
        entry = items[number]
        if isinstance(entry, WrittenTable) and len(rest) > 1 and (key == "layers" or unknown):
            items[number] = entry.copy()
            _remove_fault(items[number], path, at + 2, unknown, gone)
        else:
            del items[number]
            gone.add(path[: at + 2])
    elif isinstance(value, WrittenTable) and unknown and rest[1 if number is not None else 0 :]:
        table[key] = value.copy()
        _remove_fault(table[key], path, at + (2 if number is not None else 1), unknown, gone)
    elif key in PLACEHOLDERS:
        table.put(key, WrittenText(PLACEHOLDERS[key], table.key_at(key)), table.key_at(key))
    elif key in table:
        table.remove(key)
        gone.add(path[: at + 1])
