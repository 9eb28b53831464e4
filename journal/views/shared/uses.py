"""An index of use: the designs that use a thing, and those that grew from a design."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from journal.records.notebook import Notebook


@dataclass(frozen=True, slots=True)
class Uses:
    """The designs by the thing they use, and by the design they grew from; ids in order of date."""

    by_thing: Mapping[tuple[str, str], tuple[str, ...]]
    descendants: Mapping[str, tuple[str, ...]]


def uses_of(notebook: Notebook) -> Uses:
    """Index a notebook by use: the designs of each thing, the descendants of each design."""
    by_thing: dict[tuple[str, str], list[str]] = {}
    led_to: dict[str, list[str]] = {}
    for design in sorted(notebook.summaries.values(), key=lambda design: (design.date, design.id)):
        for thing in design.things:
            by_thing.setdefault(thing, []).append(design.id)
        if design.grew_from is not None:
            led_to.setdefault(design.grew_from, []).append(design.id)
    return Uses(
        {thing: tuple(designs) for thing, designs in by_thing.items()},
        {name: tuple(designs) for name, designs in led_to.items()},
    )


# A kind of thing, its id, the designs next to one in time that use it too, whether more do.
SharedThing = tuple[str, str, tuple[str, ...], bool]
# The kinds whose sharing is worth a line on a design's page.
_SHARED = ("mats", "moulds", "fragrances")
# How many are named of those written up before a design, and after it: its neighbours, so
# that one more design changes the pages of its own neighbours alone. The thing's page has all.
_BEFORE, _AFTER = 1, 1


def shares_of(notebook: Notebook, uses: Uses) -> Mapping[str, tuple[SharedThing, ...]]:
    """The mats, moulds and fragrances that each design shares with others, by design id."""
    shares: dict[str, tuple[SharedThing, ...]] = {}
    places = {
        thing: {name: place for place, name in enumerate(users)}
        for thing, users in uses.by_thing.items()
        if thing[0] in _SHARED and len(users) > 1
    }
    for name, design in notebook.summaries.items():
        shared: list[SharedThing] = []
        for kind in _SHARED:
            for thing in design.things:
                if thing[0] != kind or thing not in places:
                    continue
                users, here = uses.by_thing[thing], places[thing][name]
                neighbours = (
                    users[max(0, here - _BEFORE) : here] + users[here + 1 : here + 1 + _AFTER]
                )
                shared.append((*thing, neighbours, len(neighbours) + 1 < len(users)))
        if shared:
            shares[name] = tuple(shared)
    return shares
