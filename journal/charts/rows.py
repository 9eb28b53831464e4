"""Charts with rows over one horizontal scale: measured bars, bonding, differences of designs.

Positions are computed here; the templates only draw them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec import Struct

from journal.charts.drawing import Chart, MarkShape, Sketch, stack_levels, ticks

_ROW_EM = 2.6


def _share_of_width(low: float, high: float, margin: float = 0.015) -> Callable[[float], float]:
    """A function from a value to a share of the width, with a margin so that no mark is cut."""
    left, right = margin, 1.0 - margin
    return lambda value: left + (right - left) * (value - low) / (high - low)


def _finished_chart(
    sketch: Sketch, name: str, title: str, desc: str, across: Callable[[float], float],
    values: Sequence[float], deep: float, unit: str,
) -> Chart:  # fmt: skip
    """The finished chart of rows of total height ``deep`` in em, with its scale."""
    sketch.rule(values, across, 1.4, deep)
    sketch.number(values, across, deep + 1.2, unit)
    return sketch.chart(name, title, desc, deep + 1.6, deep)


class BarsRow(Struct, frozen=True):
    """The row of one variant: its label, each bar's value, and the median, None without one."""

    says: str
    values: tuple[float, ...]
    middle: float | None
    shape: MarkShape


def strip_chart(name: str, title: str, desc: str, strips: tuple[BarsRow, ...], unit: str) -> Chart:
    """A chart with a row for each variant: a mark for each bar, the median as a line."""
    values = [v for s in strips for v in s.values]
    low, high = min(values, default=0.0), max(values, default=1.0)
    # A scale begins at 0 unless all values lie so far from it that they would be one heap.
    low = low - 0.4 * (high - low or 1.0) if low > 0.6 * high else min(0.0, low)
    high = high if high > low else low + 1.0
    across = _share_of_width(low, high)
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
            sketch.line(at, y + 1.55, at, base + 0.95, "ink")
        y = base + 1.7
    return _finished_chart(sketch, name, title, desc, across, ticks(low, high, 5), y, unit)


class TemperatureRange(Struct, frozen=True):
    """A range of temperature; ``ends`` are the uncertainty intervals of its two ends."""

    says: str
    low: float
    high: float
    ends: tuple[tuple[float, float], ...] = ()


class PoursRow(Struct, frozen=True):
    """A row of pours, each marked at its temperature."""

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
    """A chart over temperature: a row for each range, as a band, and rows of pours as marks."""
    values = [v for s in stretches for v in (s.low, s.high, *(e for b in s.ends for e in b))]
    values += [v for row in rows for v in row.at]
    low, high = min(values), max(values)
    room = 0.05 * (high - low) or 1.0
    low, high = low - room, high + room
    across = _share_of_width(low, high)
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
    return _finished_chart(sketch, name, title, desc, across, ticks(low, high, 6), y, unit)


class ForestRow(Struct, frozen=True):
    """A row of a forest plot: a difference and its interval, None where there is none.

    ``foot`` marks the summary, which is drawn in the accent colour.
    """

    says: str
    value: float
    low: float | None = None
    high: float | None = None
    foot: bool = False


def forest_chart(
    name: str, title: str, desc: str, rows: Sequence[ForestRow], unit: str, matters: float
) -> Chart:
    """A forest plot of differences; those smaller than ``matters`` lie in the shaded band."""
    ends = [x for row in rows for x in (row.value, row.low, row.high) if x is not None]
    low = min(0.0, -matters, *ends)
    high = max(0.0, matters, *ends)
    across = _share_of_width(low, high, margin=0.02)
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
            sketch.line(across(row.low), level, across(row.high), level, "ink")
        if row.foot:
            sketch.line(at, level - 0.55, at, level + 0.55, "ink")
        else:
            sketch.mark(at, level, "dot")
    sketch.number(values, across, deep + 1.2, unit, left=0.06)
    return sketch.chart(name, title, desc, deep + 1.6, deep)
