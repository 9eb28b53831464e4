"""Charts that are rows over one scale: bars measured, where a bar holds, differences of designs.

Positions are worked out here, in Python; the templates only set them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec import Struct

from journal.charts.drawing import Chart, MarkShape, Sketch, stack_levels, ticks

_ROW_EM = 2.6


def _scale(low: float, high: float, margin: float = 0.015) -> Callable[[float], float]:
    """Where a value stands, as a share of the width; outermost marks stay whole in the margin."""
    left, right = margin, 1.0 - margin
    return lambda value: left + (right - left) * (value - low) / (high - low)


def _on_scale(
    sketch: Sketch, name: str, title: str, desc: str, across: Callable[[float], float],
    values: Sequence[float], deep: float, unit: str,
) -> Chart:  # fmt: skip
    """The chart of rows that are ``deep`` together, with its scale behind and beneath them."""
    sketch.rule(values, across, 1.4, deep)
    sketch.number(values, across, deep + 1.2, unit)
    return sketch.chart(name, title, desc, deep + 1.6, deep)


class BarsRow(Struct, frozen=True):
    """The bars of one variant: each value, the median, and the label of the row."""

    says: str
    values: tuple[float, ...]
    middle: float | None
    shape: MarkShape


def strip_chart(name: str, title: str, desc: str, strips: tuple[BarsRow, ...], unit: str) -> Chart:
    """Every bar as a mark, a row a variant, the median as a tick of madder."""
    values = [v for s in strips for v in s.values]
    low, high = min(values, default=0.0), max(values, default=1.0)
    # A scale begins at 0 unless all values lie so far from it that they would be one heap.
    low = low - 0.4 * (high - low or 1.0) if low > 0.6 * high else min(0.0, low)
    high = high if high > low else low + 1.0
    across = _scale(low, high)
    sketch = Sketch()
    y = 0.0
    for strip in strips:
        levels = stack_levels([across(v) for v in strip.values])
        base = y + 2.5 + 0.85 * max(levels, default=0)
        sketch.write(strip.says, 0.0, y + 1.0)
        for value, level in zip(strip.values, levels, strict=True):
            sketch.mark(across(value), base - 0.85 * level, strip.shape)
        if strip.middle is not None:
            at = across(strip.middle)
            sketch.line(at, y + 1.55, at, base + 0.95, "mind")
        y = base + 1.7
    return _on_scale(sketch, name, title, desc, across, ticks(low, high, 5), y, unit)


class TemperatureRange(Struct, frozen=True):
    """A stretch of temperature; ``ends`` are the bands within which its ends may lie."""

    says: str
    low: float
    high: float
    ends: tuple[tuple[float, float], ...] = ()


class PoursRow(Struct, frozen=True):
    """Pours at their temperatures, a mark a pour."""

    says: str
    at: tuple[float, ...]
    shape: MarkShape


def bond_chart(
    name: str,
    title: str,
    desc: str,
    stretches: Sequence[TemperatureRange],
    rows: Sequence[PoursRow],
    unit: str,
) -> Chart:
    """Rows over one scale of temperature: stretches as bands, pours as marks."""
    values = [v for s in stretches for v in (s.low, s.high, *(e for b in s.ends for e in b))]
    values += [v for row in rows for v in row.at]
    low, high = min(values), max(values)
    room = 0.05 * (high - low) or 1.0
    low, high = low - room, high + room
    across = _scale(low, high)
    sketch = Sketch()
    y = 0.0
    for stretch in stretches:
        sketch.write(stretch.says, 0.0, y + 1.0)
        left, right = across(stretch.low), across(stretch.high)
        sketch.band(left, y + 1.5, right - left, 1.0)
        for first, last in stretch.ends:
            sketch.line(across(first), y + 2.0, across(last), y + 2.0, "ink")
        y += 3.1
    for row in rows:
        sketch.write(row.says, 0.0, y + 1.0)
        places = [across(value) for value in sorted(row.at)]
        levels = stack_levels(places)
        for place, level in zip(places, levels, strict=True):
            sketch.mark(place, y + 2.0 + 0.85 * level, row.shape)
        y = y + 2.0 + 0.85 * max(levels, default=0) + 1.2
    return _on_scale(sketch, name, title, desc, across, ticks(low, high, 6), y, unit)


class ForestRow(Struct, frozen=True):
    """One line of the chart; ``low`` and ``high`` are the interval's ends where there are any.

    ``foot`` marks the summary, which is drawn in the accent.
    """

    says: str
    value: float
    low: float | None = None
    high: float | None = None
    foot: bool = False


def forest_chart(
    name: str, title: str, desc: str, rows: Sequence[ForestRow], unit: str, matters: float
) -> Chart:
    """Differences on one scale, the stretch that is not worth the name shaded behind them."""
    ends = [x for row in rows for x in (row.value, row.low, row.high) if x is not None]
    low = min(0.0, -matters, *ends)
    high = max(0.0, matters, *ends)
    across = _scale(low, high, margin=0.02)
    deep = _ROW_EM * len(rows)
    sketch, values = Sketch(), ticks(low, high, 5)
    sketch.band(across(-matters), 0.0, across(matters) - across(-matters), deep)
    sketch.rule(values[::-1], across, 0.0, deep)
    sketch.line(across(0.0), 0.0, across(0.0), deep, "ink")
    for number, row in enumerate(rows):
        top = _ROW_EM * number
        level, at = top + 1.9, across(row.value)
        sketch.write(row.says, 0.0, top + 1.0)
        if row.low is not None and row.high is not None:
            tone = "mind" if row.foot else "ink"
            sketch.line(across(row.low), level, across(row.high), level, tone)
        if row.foot:
            sketch.line(at, level - 0.55, at, level + 0.55, "mind")
        else:
            sketch.mark(at, level, "dot")
    sketch.number(values, across, deep + 1.2, unit, left=0.06)
    return sketch.chart(name, title, desc, deep + 1.6, deep)
