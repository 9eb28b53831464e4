"""Charts of a pot that cools, of bars measured, of colour that creeps.

Positions are worked out here, in Python; the templates only set them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct, field

from journal.pages.drawing import (
    Anchor,
    Band,
    Chart,
    Curve,
    Letters,
    Mark,
    Shape,
    Stroke,
    ems,
    share,
    tick_text,
    ticks,
)


class _Plot(Struct, frozen=True):
    """A scale across (shares) and a scale up (em from the top)."""

    left: float
    right: float
    low_x: float
    high_x: float
    top: float
    deep: float
    low_y: float
    high_y: float

    def x(self, value: float) -> float:
        span = self.high_x - self.low_x
        return self.left + (self.right - self.left) * (value - self.low_x) / span

    def y(self, value: float) -> float:
        return self.top + self.deep * (self.high_y - value) / (self.high_y - self.low_y)

    def path(self, points: Sequence[tuple[float, float]]) -> str:
        steps = []
        for n, (across, up) in enumerate(points):
            px = round(1000 * self.x(across))
            py = round(1000 * (self.y(up) - self.top) / self.deep)
            steps.append(f"{'M' if n == 0 else 'L'}{px} {py}")
        return "".join(steps)


class Window(Struct, frozen=True):
    """A stretch of temperature to hit, in the chart's scale."""

    name: str
    low: float
    high: float


class Cooling(Struct, frozen=True):
    """What a cooling chart shows, all in one scale of temperature.

    ``curves`` are points of the fitted runs, the last of each to be drawn as far
    as the readings reach; ``beyond`` are their continuations. ``second`` turns a
    value of the scale into the other scale's text, for the right-hand figures.
    """

    name: str
    title: str
    desc: str
    readings: tuple[tuple[float, float], ...]
    curves: tuple[tuple[tuple[float, float], ...], ...] = ()
    beyond: tuple[tuple[tuple[float, float], ...], ...] = ()
    windows: tuple[Window, ...] = ()
    poured: tuple[float, float] | None = None
    poured_says: str = ""
    odd: tuple[tuple[float, float], ...] = ()
    seconds: tuple[tuple[float, str], ...] = field(default=())


# The scale's figures stand left of this share of the width: three digits of 14 px
# in the 288 px of the narrowest phone's column.
_LEFT = 0.11


def cooling_limits(spec: Cooling) -> tuple[float, float]:
    """The lowest and highest temperature that the chart must hold."""
    values = [t for _, t in spec.readings]
    values += [t for run in (*spec.curves, *spec.beyond) for _, t in run]
    values += [v for w in spec.windows for v in (w.low, w.high)]
    low, high = min(values), max(values)
    room = 0.06 * (high - low) or 1.0
    return low - room, high + room


def cooling_chart(spec: Cooling) -> Chart:
    """A pot cooling over time: readings, fitted curve, windows, the pour."""
    low, high = cooling_limits(spec)
    times = [m for m, _ in spec.readings]
    times += [m for run in (*spec.curves, *spec.beyond) for m, _ in run]
    # A pot read once, or within a minute, still gets a minute of width.
    end = max(max(times), min(times) + 1.0)
    plot = _Plot(_LEFT, 0.86, min(times), end, 1.2, 17.0, low, high)
    bands, letters, strokes = [], [], []
    for window in spec.windows:
        upper, lower = plot.y(window.high), plot.y(window.low)
        bands.append(Band("0%", ems(upper), "100%", ems(lower - upper)))
        letters.append(_window_label(spec, window, plot, (upper + lower) / 2))
    for value in ticks(low, high, 6):
        strokes.append(Stroke("0%", ems(plot.y(value)), "100%", ems(plot.y(value))))
        letters.append(Letters(tick_text(value), "0%", ems(plot.y(value) - 0.3), "start", "soft"))
    for value, text in spec.seconds:
        letters.append(Letters(text, "100%", ems(plot.y(value) - 0.3), "end", "soft"))
    foot = plot.top + plot.deep
    letters += _time_letters(plot, foot + 1.5, min(times), end)
    curves = [Curve(plot.path(run)) for run in spec.curves if len(run) > 1]
    curves += [Curve(plot.path(run), "beyond") for run in spec.beyond if len(run) > 1]
    marks = [Mark(share(plot.x(m)), ems(plot.y(t)), "ring") for m, t in spec.readings]
    marks += [Mark(share(plot.x(m)), ems(plot.y(t)), "cross") for m, t in spec.odd]
    if spec.poured is not None:
        across, up = plot.x(spec.poured[0]), plot.y(spec.poured[1])
        # The pot cools down and to the right, so the room is below the mark, unless
        # the mark is at the foot of the chart.
        near, far, word = (0.6, 2.3, 3.5) if up + 4.0 < plot.top + plot.deep else (-0.6, -2.3, -2.8)
        strokes.append(Stroke(share(across), ems(up + near), share(across), ems(up + far), "mind"))
        letters.append(
            Letters(spec.poured_says, share(across), ems(up + word), _anchor(across), "mind")
        )
    return Chart(
        spec.name,
        spec.title,
        spec.desc,
        ems(foot + 2.0),
        ems(plot.top),
        ems(plot.deep),
        tuple(bands),
        tuple(strokes),
        tuple(curves),
        tuple(marks),
        tuple(letters),
    )


def _anchor(across: float) -> Anchor:
    if across < 0.2:
        return "start"
    return "end" if across > 0.8 else "middle"


def _window_label(spec: Cooling, window: Window, plot: _Plot, middle: float) -> Letters:
    # The label goes to the side where the pot is not in the window. The outermost
    # tenth or so is the figures' own.
    inside = [
        plot.x(m)
        for run in (spec.readings, *spec.curves, *spec.beyond)
        for m, t in run
        if window.low <= t <= window.high
    ]
    before, after = (min(inside), 1.0 - max(inside)) if inside else (0.0, 1.0)
    if before > after:
        return Letters(window.name, "13%", ems(middle + 0.35), "start", "in")
    return Letters(window.name, "84%", ems(middle + 0.35), "end", "in")


def _time_letters(plot: _Plot, y: float, low: float, high: float) -> list[Letters]:
    # Four figures at most: they stay apart on a phone of 320 px.
    values = ticks(low, high, 5)
    letters = []
    for n, value in enumerate(values):
        last = n == len(values) - 1
        across = plot.x(value)
        anchor: Anchor = "start" if across < 0.04 else "end" if across > 0.92 else "middle"
        text = f"{tick_text(value)}\u00a0min" if last else tick_text(value)
        letters.append(Letters(text, share(across), ems(y), anchor, "soft"))
    return letters


class Strip(Struct, frozen=True):
    """The bars of one variant: each value, the middle one, what is said of them."""

    says: str
    values: tuple[float, ...]
    middle: float | None
    shape: Shape


# What share of the width two marks must be apart not to be stacked: a mark is
# 9 px, and a phone's column 358 px.
_MARK_APART = 0.027


def strip_chart(name: str, title: str, desc: str, strips: tuple[Strip, ...], unit: str) -> Chart:
    """Every bar as a mark, a row a variant, the median as a tick of madder."""
    values = [v for s in strips for v in s.values]
    low, high = min(values, default=0.0), max(values, default=1.0)
    # A scale begins at 0 unless all values lie so far from it that they would be one heap.
    low = low - 0.4 * (high - low or 1.0) if low > 0.6 * high else min(0.0, low)
    high = high if high > low else low + 1.0
    plot = _Plot(0.015, 0.985, low, high, 0.0, 1.0, 0.0, 1.0)
    strokes, marks, letters = [], [], []
    y = 0.0
    for strip in strips:
        levels = _stacked([plot.x(v) for v in strip.values])
        base = y + 2.5 + 0.85 * max(levels, default=0)
        letters.append(Letters(strip.says, "0%", ems(y + 1.0), "start", "over"))
        for value, level in zip(strip.values, levels, strict=True):
            marks.append(Mark(share(plot.x(value)), ems(base - 0.85 * level), strip.shape))
        if strip.middle is not None:
            across = share(plot.x(strip.middle))
            strokes.append(Stroke(across, ems(y + 1.55), across, ems(base + 0.95), "mind"))
        y = base + 1.7
    scale = ticks(low, high, 5)
    behind = []
    for n, value in enumerate(scale):
        place = plot.x(value)
        behind.append(Stroke(share(place), ems(1.4), share(place), ems(y), "hair"))
        anchor: Anchor = "start" if place < 0.04 else "end" if place > 0.92 else "middle"
        text = tick_text(value)
        text = f"{text}\u00a0{unit}" if unit and n == len(scale) - 1 else text
        letters.append(Letters(text, share(place), ems(y + 1.2), anchor, "soft"))
    return Chart(
        name,
        title,
        desc,
        ems(y + 1.6),
        "0em",
        ems(y),
        (),
        (*behind, *strokes),
        (),
        tuple(marks),
        tuple(letters),
    )


def _stacked(places: Sequence[float]) -> list[int]:
    """How high each mark must sit not to lie on one before it."""
    levels: list[int] = []
    for n, place in enumerate(places):
        taken = {levels[m] for m in range(n) if abs(places[m] - place) < _MARK_APART}
        levels.append(next(level for level in range(n + 1) if level not in taken))
    return levels


class Growth(Struct, frozen=True):
    """The bleed of one bar: what was measured, the fitted curve, its forecast."""

    says: str
    measured: tuple[tuple[float, float], ...]
    curve: tuple[tuple[float, float], ...] = ()
    beyond: tuple[tuple[float, float], ...] = ()
    low: tuple[tuple[float, float], ...] = ()
    high: tuple[tuple[float, float], ...] = ()


def growth_chart(
    name: str,
    title: str,
    desc: str,
    bars: tuple[Growth, ...],
    unit: str,
    across_unit: str = "",
) -> Chart:
    """Width over days for each bar, forecasts broken, their spread shaded.

    With ``across_unit`` it is something else that grows, over that unit.
    """
    every = [p for b in bars for p in (*b.measured, *b.curve, *b.beyond, *b.low, *b.high)]
    days = max((d for d, _ in every), default=1.0) or 1.0
    widest = max((w for _, w in every), default=1.0) or 1.0
    plot = _Plot(0.13, 0.985, 0.0, days, 1.2, 13.0, 0.0, widest * 1.05)
    letters, strokes, curves, marks = [], [], [], []
    scale = ticks(0.0, widest, 5)
    for n, value in enumerate(scale):
        y = plot.y(value)
        text = f"{tick_text(value)}\u00a0{unit}" if n == len(scale) - 1 else tick_text(value)
        strokes.append(Stroke("0%", ems(y), "100%", ems(y)))
        letters.append(Letters(text, "0%", ems(y - 0.3), "start", "soft"))
    for bar in bars:
        if bar.low and bar.high:
            back = plot.path(tuple(reversed(bar.low))).replace("M", "L", 1)
            curves.append(Curve(f"{plot.path(bar.high)}{back}Z", "spread"))
    for bar in bars:
        if len(bar.curve) > 1:
            curves.append(Curve(plot.path(bar.curve)))
        if len(bar.beyond) > 1:
            curves.append(Curve(plot.path(bar.beyond), "beyond"))
        marks += [Mark(share(plot.x(d)), ems(plot.y(w)), "ring") for d, w in bar.measured]
    letters += _end_letters(bars, plot)
    foot = plot.top + plot.deep
    for n, value in enumerate(values := ticks(0.0, days, 5)):
        across = plot.x(value)
        anchor: Anchor = "start" if across < 0.04 else "end" if across > 0.92 else "middle"
        text = tick_text(value)
        if across_unit:
            text = f"{text}\u00a0{across_unit}" if n == len(values) - 1 else text
        elif n in (0, len(values) - 1):
            text = f"day\u00a0{text}"
        letters.append(Letters(text, share(across), ems(foot + 1.5), anchor, "soft"))
    return Chart(
        name,
        title,
        desc,
        ems(foot + 2.0),
        ems(plot.top),
        ems(plot.deep),
        (),
        tuple(strokes),
        tuple(curves),
        tuple(marks),
        tuple(letters),
    )


def _end_letters(bars: tuple[Growth, ...], plot: _Plot) -> list[Letters]:
    """The bars' names at the ends of their curves, kept a line apart."""
    ends = []
    for bar in bars:
        tail = (*bar.measured, *bar.curve, *bar.beyond)
        if bar.says and tail:
            d, w = max(tail)
            ends.append((plot.y(w) - 0.7, plot.x(d), bar.says))
    letters: list[Letters] = []
    above = math.inf
    for y, across, says in sorted(ends, reverse=True):
        above = min(y, above - 1.15)
        letters.append(Letters(says, share(across), ems(above), _anchor(across), "over"))
    return letters
