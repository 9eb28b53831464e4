"""Charts of a cooling pot and of growth over days, such as a colour's bleed.

Positions are computed here; the templates only draw them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from journal.charts.drawing import Chart, ChartCurve, Sketch, anchor_at, tick_texts, ticks

_Points = tuple[tuple[float, float], ...]


class _Plot(Struct, frozen=True):
    """The scales of a chart: x to a share of the width, y to em from the top."""

    left: float
    right: float
    low_x: float
    high_x: float
    top: float
    deep: float
    low_y: float
    high_y: float

    def x(self, value: float) -> float:
        """A value of x as a share of the width."""
        span = self.high_x - self.low_x
        return self.left + (self.right - self.left) * (value - self.low_x) / span

    def y(self, value: float) -> float:
        """A value of y in em from the top."""
        return self.top + self.deep * (self.high_y - value) / (self.high_y - self.low_y)

    def path(self, points: Sequence[tuple[float, float]]) -> str:
        """The SVG path through the points, in the box of curves of 1000 by 1000."""
        places = [
            (round(1000 * self.x(x)), round(1000 * (self.y(y) - self.top) / self.deep))
            for x, y in points
        ]
        # What lies level between its neighbours is on the line anyway.
        bends = [
            f"{x} {y}"
            for n, (x, y) in enumerate(places)
            if not (0 < n < len(places) - 1 and places[n - 1][1] == y == places[n + 1][1])
        ]
        return "M" + "L".join(bends)

    def curves(self, sketch: Sketch, runs: Sequence[_Points], tone: str) -> None:
        """Draw a curve through each run of points; runs of a single point are left out."""
        sketch.curves += [ChartCurve(self.path(run), tone) for run in runs if len(run) > 1]

    def rule(self, sketch: Sketch, values: Sequence[float], texts: Sequence[str]) -> None:
        """Draw horizontal lines at values of y, with their texts at the left."""
        for value, text in zip(values, texts, strict=True):
            sketch.line(0.0, self.y(value), 1.0, self.y(value))
            sketch.write(text, 0.0, self.y(value) - 0.3, "start", "soft")


class ChartWindow(Struct, frozen=True):
    """A range of temperature to aim for, in the chart's scale."""

    name: str
    low: float
    high: float


class CoolingChart(Struct, frozen=True):
    """The data of a cooling chart; points are (minutes, degrees), all in one scale.

    ``curves`` are the fitted curves as far as the readings reach, ``beyond`` their
    extrapolations, ``odd`` readings that do not fit. ``seconds`` are pairs of a value and its
    text in the other scale, for the right-hand side. ``poured`` is the pour.
    """

    name: str
    title: str
    desc: str
    readings: _Points
    curves: tuple[_Points, ...] = ()
    beyond: tuple[_Points, ...] = ()
    windows: tuple[ChartWindow, ...] = ()
    poured: tuple[float, float] | None = None
    poured_says: str = ""
    odd: _Points = ()
    seconds: tuple[tuple[float, str], ...] = ()


# The numbers of the scale stand left of this share of the width: three digits of 14 px
# in the 288 px of the narrowest phone's column.
_PLOT_LEFT = 0.11


def cooling_limits(spec: CoolingChart) -> tuple[float, float]:
    """The lowest and highest temperature of the chart, with 6 % of room at both ends."""
    values = [t for _, t in spec.readings]
    values += [t for run in (*spec.curves, *spec.beyond) for _, t in run]
    values += [v for w in spec.windows for v in (w.low, w.high)]
    low, high = min(values), max(values)
    room = 0.06 * (high - low) or 1.0
    return low - room, high + room


def cooling_chart(spec: CoolingChart) -> Chart:
    """A chart of a pot cooling over time: readings, fitted curves, windows, the pour."""
    low, high = cooling_limits(spec)
    times = [m for m, _ in spec.readings]
    times += [m for run in (*spec.curves, *spec.beyond) for m, _ in run]
    # A pot read once, or within a minute, still gets a minute of width.
    end = max(max(times), min(times) + 1.0)
    plot = _Plot(_PLOT_LEFT, 0.86, min(times), end, 1.2, 17.0, low, high)
    sketch = Sketch()
    for window in spec.windows:
        upper, lower = plot.y(window.high), plot.y(window.low)
        sketch.band(0.0, upper, 1.0, lower - upper)
        _label_window(sketch, spec, window, plot, (upper + lower) / 2)
    values = ticks(low, high, 6)
    plot.rule(sketch, values, tick_texts(values, ""))
    for value, text in spec.seconds:
        sketch.write(text, 1.0, plot.y(value) - 0.3, "end", "soft")
    foot = plot.top + plot.deep
    # Four figures at most: they stay apart on a phone of 320 px.
    sketch.number(ticks(min(times), end, 5), plot.x, foot + 1.5, "min")
    plot.curves(sketch, spec.curves, "line")
    plot.curves(sketch, spec.beyond, "beyond")
    for minute, degrees in spec.readings:
        sketch.mark(plot.x(minute), plot.y(degrees), "ring")
    for minute, degrees in spec.odd:
        sketch.mark(plot.x(minute), plot.y(degrees), "cross")
    if spec.poured is not None:
        across, up = plot.x(spec.poured[0]), plot.y(spec.poured[1])
        # The pot cools down and to the right, so the room is below the mark, unless
        # the mark is at the foot of the chart.
        near, far, word = (0.6, 2.3, 3.5) if up + 4.0 < plot.top + plot.deep else (-0.6, -2.3, -2.8)
        sketch.line(across, up + near, across, up + far, "ink")
        sketch.write(spec.poured_says, across, up + word, anchor_at(across), "head")
    return sketch.chart(spec.name, spec.title, spec.desc, foot + 2.0, plot.deep, plot.top)


def _label_window(
    sketch: Sketch, spec: CoolingChart, window: ChartWindow, plot: _Plot, middle: float
) -> None:
    """Write the name of a window at the side where it hides no curve."""
    # The label goes to the side where the pot is not in the window. About a tenth of the
    # width at each side is left for the numbers.
    inside = [
        plot.x(m)
        for run in (spec.readings, *spec.curves, *spec.beyond)
        for m, t in run
        if window.low <= t <= window.high
    ]
    before, after = (min(inside), 1.0 - max(inside)) if inside else (0.0, 1.0)
    if before > after:
        sketch.write(window.name, 0.13, middle + 0.35, "start", "in")
    else:
        sketch.write(window.name, 0.84, middle + 0.35, "end", "in")


class GrowthCurve(Struct, frozen=True):
    """The growth of one bar, in points of (day, width).

    ``curve`` is the fitted curve, ``beyond`` its forecast between ``low`` and ``high``.
    """

    says: str
    measured: _Points
    curve: _Points = ()
    beyond: _Points = ()
    low: _Points = ()
    high: _Points = ()


def growth_chart(
    name: str,
    title: str,
    desc: str,
    bars: tuple[GrowthCurve, ...],
    unit: str,
    across_unit: str = "",
) -> Chart:
    """A chart of width over days for each bar; forecasts are dashed, their spread shaded.

    With ``across_unit`` the horizontal scale is in that unit instead of days.
    """
    every = [p for b in bars for p in (*b.measured, *b.curve, *b.beyond, *b.low, *b.high)]
    days = max((d for d, _ in every), default=1.0) or 1.0
    widest = max((w for _, w in every), default=1.0) or 1.0
    plot = _Plot(0.13, 0.985, 0.0, days, 1.2, 13.0, 0.0, widest * 1.05)
    sketch = Sketch()
    scale = ticks(0.0, widest, 5)
    plot.rule(sketch, scale, tick_texts(scale, unit))
    for bar in bars:
        if bar.low and bar.high:
            back = plot.path(tuple(reversed(bar.low))).replace("M", "L", 1)
            sketch.curves.append(ChartCurve(f"{plot.path(bar.high)}{back}Z", "spread"))
    for bar in bars:
        plot.curves(sketch, (bar.curve,), "line")
        plot.curves(sketch, (bar.beyond,), "beyond")
        for day, wide in bar.measured:
            sketch.mark(plot.x(day), plot.y(wide), "ring")
    _write_bar_names(sketch, bars, plot)
    foot = plot.top + plot.deep
    first = len(sketch.letters)
    sketch.number(ticks(0.0, days, 5), plot.x, foot + 1.5, across_unit)
    if not across_unit:
        for n in {first, len(sketch.letters) - 1}:
            end = sketch.letters[n]
            sketch.letters[n] = end._replace(text=f"day\u00a0{end.text}")
    return sketch.chart(name, title, desc, foot + 2.0, plot.deep, plot.top)


def _write_bar_names(sketch: Sketch, bars: tuple[GrowthCurve, ...], plot: _Plot) -> None:
    """Write the bars' names at the ends of their curves, at least a line apart."""
    ends = []
    for bar in bars:
        tail = (*bar.measured, *bar.curve, *bar.beyond)
        if bar.says and tail:
            d, w = max(tail)
            ends.append((plot.y(w) - 0.7, plot.x(d), bar.says))
    above = math.inf
    for y, across, says in sorted(ends, reverse=True):
        above = min(y, above - 1.15)
        sketch.write(says, across, above, anchor_at(across))
