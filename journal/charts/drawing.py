"""The parts of a chart: marks, lines and labels, each with its computed place.

A chart is as wide as the column that it stands in, so its horizontal places are
shares of that width, and its vertical ones are in letters' heights (em): the
letters keep their size on a phone, and all of it grows with the reader's text
size. Only curves are stretched, in a box of 1000 by 1000. A section is to scale.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from msgspec import Struct, field

Anchor = Literal["start", "middle", "end"]
MarkShape = Literal["ring", "dot", "cross"]


class Band(Struct, frozen=True):
    """A stretch of the scale that is aimed at, shaded behind the rest."""

    x: str
    y: str
    width: str
    height: str
    tone: str = "band"


class ChartLine(NamedTuple):
    """A straight line; ``tone`` is hair (thin), ink, mind (the accent) or aim."""

    x1: str
    y1: str
    x2: str
    y2: str
    tone: str = "hair"


class ChartLabel(NamedTuple):
    """A label in the drawing."""

    text: str
    x: str
    y: str
    anchor: Anchor = "start"
    tone: str = ""


class ChartMark(NamedTuple):
    """One value; rings, dots and crosses stay apart in grey too."""

    x: str
    y: str
    shape: MarkShape


class ChartCurve(Struct, frozen=True):
    """A path in a box of 1000 by 1000 that is stretched over the plot."""

    d: str
    tone: str = "line"


class Chart(Struct, frozen=True):
    """A drawing ready to be set; ``top`` and ``deep`` are the curves' box."""

    name: str
    title: str
    desc: str
    height: str
    top: str
    deep: str
    bands: tuple[Band, ...] = ()
    strokes: tuple[ChartLine, ...] = ()
    curves: tuple[ChartCurve, ...] = ()
    marks: tuple[ChartMark, ...] = ()
    letters: tuple[ChartLabel, ...] = ()

    @property
    def paths(self) -> tuple[tuple[str, str], ...]:
        """Everything that is drawn in the box of the curves: a path for each tone.

        A line of no length with a round end that is not scaled is a dot, so that
        some hundred bars take a few bytes each instead of an element each; a ring
        is a dot with a smaller one of paper on it.
        """
        drawn: dict[str, list[str]] = {}
        top, deep = _number(self.top), _number(self.deep)

        def in_box(x: str, y: str) -> str:
            return f"{round(10 * _number(x))} {round(1000 * (_number(y) - top) / deep)}"

        for stroke in self.strokes:
            if stroke.tone == "hair":
                ends = in_box(stroke.x1, stroke.y1), in_box(stroke.x2, stroke.y2)
                drawn.setdefault("hair", []).append(f"M{ends[0]}L{ends[1]}")
        for curve in self.curves:
            drawn.setdefault(curve.tone, []).append(curve.d)
        for shape in _ROUND:
            places = [f"M{in_box(mark.x, mark.y)}h0" for mark in self.marks if mark.shape == shape]
            if places:
                drawn[shape] = places
        if "ring" in drawn:
            drawn["hole"] = drawn["ring"]
        return tuple((tone, "".join(parts)) for tone, parts in drawn.items())

    @property
    def inked(self) -> tuple[ChartLine, ...]:
        """The lines that are not thin ones."""
        return tuple(stroke for stroke in self.strokes if stroke.tone != "hair")

    @property
    def scale(self) -> tuple[ChartLabel, ...]:
        """The letters of the scale, which stand back; they are set in one group."""
        return tuple(letters for letters in self.letters if letters.tone == "soft")

    @property
    def labels(self) -> tuple[ChartLabel, ...]:
        """All other letters."""
        return tuple(letters for letters in self.letters if letters.tone != "soft")


class SectionDrawing(Struct, frozen=True):
    """The bar in its cavity, cut through, to scale."""

    name: str
    title: str
    desc: str
    view_box: str
    cavity: str
    body: tuple[str, ...]
    mat: str
    detail: str
    brim: ChartLine
    strokes: tuple[ChartLine, ...] = ()
    letters: tuple[ChartLabel, ...] = ()


_ROUND: tuple[MarkShape, ...] = ("dot", "ring")
# Marks less than this share of the width apart are stacked: a mark is 9 px, and a
# phone's column 358 px.
_MARK_APART = 0.027


def _number(place: str) -> float:
    return float(place.removesuffix("%").removesuffix("em"))


def format_share(value: float) -> str:
    """A place across the drawing, 0 to 1, as SVG writes it."""
    return f"{decimals(100 * value)}%"


def format_em(value: float) -> str:
    """A height in letters, as SVG writes it."""
    return f"{decimals(value)}em"


def decimals(value: float, most: int = 2) -> str:
    """A number with at most so many decimals, as SVG writes it."""
    text = f"{value:.{most}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round values from ``low`` to ``high``, at most ``most`` of them.

    Steps of 1, 2, 2.5 or 5 and their tens, as a ruler has them.
    """
    if not high > low:
        return (low,)
    for power in range(math.floor(math.log10((high - low) / most)), 12):
        for step in (1.0, 2.0, 2.5, 5.0):
            size = step * 10.0**power
            first = math.ceil(low / size - 1e-9)
            last = math.floor(high / size + 1e-9)
            if last - first + 1 <= most:
                return tuple(n * size for n in range(first, last + 1))
    return (low, high)


def anchor_at(x: float, left: float = 0.2, right: float = 0.8) -> Anchor:
    """Which end of a label stands at its place, so that it stays within the drawing."""
    return "start" if x < left else "end" if x > right else "middle"


class Sketch(Struct):
    """A chart while it is drawn: places across are shares of its width, heights are in em."""

    bands: list[Band] = field(default_factory=list)
    strokes: list[ChartLine] = field(default_factory=list)
    curves: list[ChartCurve] = field(default_factory=list)
    marks: list[ChartMark] = field(default_factory=list)
    letters: list[ChartLabel] = field(default_factory=list)

    def band(self, x: float, y: float, width: float, height: float) -> None:
        """A stretch that is shaded behind the rest."""
        self.bands.append(
            Band(format_share(x), format_em(y), format_share(width), format_em(height))
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, tone: str = "hair") -> None:
        """A straight line."""
        self.strokes.append(
            ChartLine(format_share(x1), format_em(y1), format_share(x2), format_em(y2), tone)
        )

    def mark(self, x: float, y: float, shape: MarkShape) -> None:
        """One value."""
        self.marks.append(ChartMark(format_share(x), format_em(y), shape))

    def write(
        self, text: str, x: float, y: float, anchor: Anchor = "start", tone: str = "over"
    ) -> None:
        """A label."""
        self.letters.append(ChartLabel(text, format_share(x), format_em(y), anchor, tone))

    def number(
        self, values: Sequence[float], place: Callable[[float], float], y: float,
        unit: str = "", left: float = 0.04,
    ) -> None:  # fmt: skip
        """The numbers of a scale that runs across, the unit beside the last."""
        for value, text in zip(values, tick_texts(values, unit), strict=True):
            x = place(value)
            self.write(text, x, y, anchor_at(x, left, 0.92), "soft")

    def rule(
        self, values: Sequence[float], place: Callable[[float], float], top: float, foot: float
    ) -> None:
        """Thin lines up and down at the values of a scale."""
        for value in values:
            self.line(place(value), top, place(value), foot)

    def chart(
        self, name: str, title: str, desc: str, height: float, deep: float, top: float = 0.0
    ) -> Chart:
        """The drawing, ready to be set; ``top`` and ``deep`` are the box of its curves."""
        return Chart(
            name, title, desc, format_em(height), format_em(top), format_em(deep),
            tuple(self.bands), tuple(self.strokes), tuple(self.curves), tuple(self.marks),
            tuple(self.letters),
        )  # fmt: skip


def tick_texts(values: Sequence[float], unit: str) -> list[str]:
    """The numbers of a scale without needless noughts, the unit behind the last."""
    texts = [decimals(value).replace("-", "\u2212") for value in values]
    if unit:
        texts[-1] += f"\u00a0{unit}"
    return texts


def stack_levels(places: Sequence[float]) -> list[int]:
    """How high each mark must sit not to lie on one before it."""
    levels: list[int] = []
    for n, place in enumerate(places):
        occupied = {levels[m] for m in range(n) if abs(places[m] - place) < _MARK_APART}
        levels.append(next(level for level in range(n + 1) if level not in occupied))
    return levels
