"""What is made with what: the designs that use a thing, and those that grew from a design."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from journal.records.later import Later
from journal.records.notebook import Notebook


@dataclass(frozen=True, slots=True)
class Uses(Later):
    """Which designs use which thing, and what grew from what; ids, in order of date."""

    by_thing: Mapping[tuple[str, str], tuple[str, ...]]
    led_to: Mapping[str, tuple[str, ...]]


def uses_of(notebook: Notebook) -> Uses:
    """The uses of a whole notebook, as it is cut for its edition."""
    by_thing: dict[tuple[str, str], list[str]] = {}
    led_to: dict[str, list[str]] = {}
    for design in sorted(notebook.designs.values(), key=lambda design: (design.date, design.id)):
        for thing in design.things:
            by_thing.setdefault(thing, []).append(design.id)
        if design.grew_from is not None:
            led_to.setdefault(design.grew_from, []).append(design.id)
    return Uses(
        {thing: tuple(found) for thing, found in by_thing.items()},
        {name: tuple(found) for name, found in led_to.items()},
    )
