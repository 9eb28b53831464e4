"""What the variants of a design are held side by side by: their bars and measures."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct, field

from journal.comparison.comparing import Comparison
from journal.comparison.derive import value_of
from journal.pages.on_design import OnDesign
from journal.records.settings import Measure
from journal.records.write_up import Bar, Pour, Variant


class Side(Struct, frozen=True, eq=False):
    """One choice of a group: its bars with their pours, and its first variant's recipe."""

    name: str
    bars: tuple[tuple[Pour, Bar], ...]
    variants: tuple[Variant, ...]
    _known: dict[str, tuple[float, ...]] = field(default_factory=dict)

    def values(self, on: OnDesign, measure: Measure) -> tuple[float, ...]:
        """What was measured on its bars, in their order."""
        name = measure.name
        if name not in self._known:
            # A table, its foot and a chart ask for the same.
            found = [value_of(on.design, pour, bar, name) for pour, bar in self.bars]
            self._known[name] = tuple(float(v) for v in found if isinstance(v, float | int))
        return self._known[name]


def side_of(on: OnDesign, group: str, choice: str) -> Side:
    variants = tuple(
        variant
        for variant in on.design.variants
        if (variant.chosen.get(group) if group else variant.name) == choice
    )
    names = {variant.name for variant in variants}
    bars = tuple(
        (pour, bar) for pour in on.design.pours for bar in pour.bars if bar.variant in names
    )
    return Side(choice, bars, variants)


def measures_of(
    on: OnDesign, sides: Sequence[Side], deciding: Sequence[Comparison]
) -> list[Measure]:
    """What was measured on any of the bars; what decides comes first."""
    every = on.book.settings.all_measures().values()
    decides = {entry.by for entry in deciding}
    found = [
        measure
        for measure in every
        if measure.kind != "colour" and any(side.values(on, measure) for side in sides)
    ]
    return sorted(found, key=lambda measure: measure.name not in decides)
