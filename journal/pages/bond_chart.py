"""At which temperatures of the body a bar holds: the model, the recipe, the studio's pours.

One scale of temperature, a row for each, so that where they disagree is seen at once.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from journal.pages.drawing import Chart, Shape, Sketch, stacked, ticks

# The plot's ends, as shares of the width: the outermost marks stay whole.
_LEFT, _RIGHT = 0.015, 0.985


class Stretch(Struct, frozen=True):
    """A stretch of temperature; ``ends`` are the bands within which its ends may lie."""

    says: str
    low: float
    high: float
    ends: tuple[tuple[float, float], ...] = ()


class Seen(Struct, frozen=True):
    """Pours at their temperatures, a mark a pour."""

    says: str
    at: tuple[float, ...]
    shape: Shape


def bond_chart(
    name: str, title: str, desc: str, stretches: Sequence[Stretch], seen: Sequence[Seen], unit: str
) -> Chart:
    """Rows over one scale of temperature: stretches as bands, pours as marks."""
    values = [v for s in stretches for v in (s.low, s.high, *(e for b in s.ends for e in b))]
    values += [v for s in seen for v in s.at]
    low, high = min(values), max(values)
    room = 0.05 * (high - low) or 1.0
    low, high = low - room, high + room

    def across(value: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * (value - low) / (high - low)

    sketch = Sketch()
    y = 0.0
    for stretch in stretches:
        sketch.write(stretch.says, 0.0, y + 1.0)
        left, right = across(stretch.low), across(stretch.high)
        sketch.band(left, y + 1.5, right - left, 1.0)
        for first, last in stretch.ends:
            sketch.line(across(first), y + 2.0, across(last), y + 2.0, "ink")
        y += 3.1
    for row in seen:
        sketch.write(row.says, 0.0, y + 1.0)
        places = [across(value) for value in sorted(row.at)]
        levels = stacked(places)
        for place, level in zip(places, levels, strict=True):
            sketch.mark(place, y + 2.0 + 0.85 * level, row.shape)
        y = y + 2.0 + 0.85 * max(levels, default=0) + 1.2
    scale = ticks(low, high, 6)
    sketch.rule(scale, across, 1.4, y)
    sketch.number(scale, across, y + 1.2, unit)
    return sketch.chart(name, title, desc, y + 1.6, y)
