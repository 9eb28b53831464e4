"""At which temperatures of the body a bar holds: the model, the recipe, the studio's pours.

One scale of temperature, a row for each, so that where they disagree is seen at once.
"""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct

from journal.pages.drawing import (
    Anchor,
    Band,
    Chart,
    Letters,
    Mark,
    Shape,
    Stroke,
    ems,
    share,
    tick_text,
    ticks,
)

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


class BondChart(Struct, frozen=True):
    """What the chart shows, all in one scale of temperature."""

    name: str
    title: str
    desc: str
    stretches: tuple[Stretch, ...]
    seen: tuple[Seen, ...]
    unit: str


def bond_chart(spec: BondChart) -> Chart:
    """Rows over one scale: stretches as bands, pours as marks."""
    values = [v for s in spec.stretches for v in (s.low, s.high, *(e for b in s.ends for e in b))]
    values += [v for s in spec.seen for v in s.at]
    low, high = min(values), max(values)
    room = 0.05 * (high - low) or 1.0
    low, high = low - room, high + room

    def across(value: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * (value - low) / (high - low)

    bands: list[Band] = []
    strokes: list[Stroke] = []
    marks: list[Mark] = []
    letters: list[Letters] = []
    y = 0.0
    for stretch in spec.stretches:
        letters.append(Letters(stretch.says, "0%", ems(y + 1.0), "start", "over"))
        left, right = across(stretch.low), across(stretch.high)
        bands.append(Band(share(left), ems(y + 1.5), share(right - left), ems(1.0)))
        for first, last in stretch.ends:
            middle = ems(y + 2.0)
            strokes.append(Stroke(share(across(first)), middle, share(across(last)), middle, "ink"))
        y += 3.1
    for row in spec.seen:
        letters.append(Letters(row.says, "0%", ems(y + 1.0), "start", "over"))
        deepest = _row_of_marks(row, across, y, marks)
        y = deepest + 1.2
    behind = []
    scale = ticks(low, high, 6)
    for n, value in enumerate(scale):
        place = across(value)
        behind.append(Stroke(share(place), ems(1.4), share(place), ems(y), "hair"))
        anchor: Anchor = "start" if place < 0.04 else "end" if place > 0.92 else "middle"
        text = tick_text(value)
        text = f"{text}\u00a0{spec.unit}" if n == len(scale) - 1 else text
        letters.append(Letters(text, share(place), ems(y + 1.2), anchor, "soft"))
    return Chart(
        spec.name,
        spec.title,
        spec.desc,
        ems(y + 1.6),
        "0em",
        ems(y),
        tuple(bands),
        (*behind, *strokes),
        (),
        tuple(marks),
        tuple(letters),
    )


def _row_of_marks(
    row: Seen, across: Callable[[float], float], y: float, marks: list[Mark]
) -> float:
    """Marks of one row, stacked downwards where they would lie on each other."""
    taken: list[tuple[float, int]] = []
    deepest = y + 2.0
    for value in sorted(row.at):
        place = across(value)
        used = {level for other, level in taken if abs(other - place) < 0.027}
        level = next(n for n in range(len(taken) + 1) if n not in used)
        taken.append((place, level))
        at = y + 2.0 + 0.85 * level
        marks.append(Mark(share(place), ems(at), row.shape))
        deepest = max(deepest, at)
    return deepest
