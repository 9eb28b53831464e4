"""The parts of a chart: marks, lines and labels, each with its computed place.

A chart is as wide as its column, so horizontal positions are shares of that width, and
vertical ones are in em: labels keep their size on a phone, and the whole chart grows with
the reader's text size. Only curves are stretched, from a box of 1000 by 1000. The drawing
of a section is to scale.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from msgspec import Struct, field

from journal.records.codec import digest

Anchor = Literal["start", "middle", "end"]
MarkShape = Literal["ring", "dot", "cross"]


class Band(Struct, frozen=True):
    """A shaded rectangle behind the rest, for a range of the scale."""

    x: str
    y: str
    width: str
    height: str
    tone: str = "band"


class ChartLine(NamedTuple):
    """A straight line; ``tone`` is "hair" (thin), "ink", "mind" (the accent) or "halo" (paper),
    "ruler" or "dotted"."""

    x1: str
    y1: str
    x2: str
    y2: str
    tone: str = "hair"


class ChartLabel(NamedTuple):
    """A label in the drawing; ``under`` stands beneath it, from the same place."""

    text: str
    x: str
    y: str
    anchor: Anchor = "start"
    tone: str = ""
    under: str = ""


class ChartMark(NamedTuple):
    """The mark of one value; the shapes can be told apart without colour."""

    x: str
    y: str
    shape: MarkShape


class ChartCurve(Struct, frozen=True):
    """A path in a box of 1000 by 1000 that is stretched over the plot."""

    d: str
    tone: str = "line"


class Chart(Struct, frozen=True):
    """A finished chart; ``top`` and ``deep`` are the upper edge and height of the curves' box."""

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
        """Pairs of a tone and the SVG path of everything drawn in that tone in the curves' box.

        A mark is a line of no length with a round cap, so that hundreds of marks share one
        element; on a ring lies the same once more, smaller and in the colour of paper.
        """
        drawn: dict[str, list[str]] = {}
        top, deep = _value_of(self.top), _value_of(self.deep)

        def in_box(x: str, y: str) -> tuple[int, int]:
            return round(10 * _value_of(x)), round(1000 * (_value_of(y) - top) / deep)

        for stroke in self.strokes:
            (x1, y1), (x2, y2) = in_box(stroke.x1, stroke.y1), in_box(stroke.x2, stroke.y2)
            end = f"V{y2}" if x1 == x2 else f"H{x2}" if y1 == y2 else f"L{x2} {y2}"
            drawn.setdefault(stroke.tone, []).append(f"M{x1} {y1}{end}")
        for curve in self.curves:
            drawn.setdefault(curve.tone, []).append(curve.d)
        for shape in _ROUND_SHAPES:
            places = [in_box(mark.x, mark.y) for mark in self.marks if mark.shape == shape]
            if places:
                drawn[shape] = [_dots(places)]
        return tuple((tone, "".join(parts)) for tone, parts in drawn.items())

    @property
    def tints(self) -> tuple[tuple[str, tuple[Band, ...]], ...]:
        """The bands by their tones."""
        tones = dict.fromkeys(band.tone for band in self.bands)
        return tuple((tone, tuple(b for b in self.bands if b.tone == tone)) for tone in tones)

    @property
    def scale(self) -> tuple[ChartLabel, ...]:
        """The labels of the scales, which are grey and set in one group."""
        return tuple(letters for letters in self.letters if letters.tone == "soft")

    @property
    def labels(self) -> tuple[ChartLabel, ...]:
        """The labels that are not of the scales."""
        return tuple(letters for letters in self.letters if letters.tone != "soft")


class SectionDrawing(Struct, frozen=True):
    """A finished section through a bar in its cavity, to scale."""

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


class InkShape(Struct, frozen=True):
    """A closed or open path of an ink drawing: in one of the stylesheet's tones, or filled.

    ``fill`` is a colour that the maker gave or that was measured, such as "#8b9aa0"; without
    one the shape is drawn as its tone says. The tone "hatched" is for what has no known colour,
    and "unknown" is the same by the pattern that a page has once. With ``ref`` the path stands
    once on the page under that id, and is painted with its origin at ``x`` and ``y``.
    ``width`` is that of its stroke, where that is to scale; of one that is ``edged`` the half
    outside is cut off, and a line in ink goes round it.
    """

    d: str
    tone: str = ""
    fill: str = ""
    width: str = ""
    ref: str = ""
    x: str = ""
    y: str = ""
    edged: bool = False


def outline_id(d: str, kind: str = "s") -> str:
    """The id of an outline that many drawings of a page have; ``kind`` is "b" if it is edged."""
    return f"{kind}{digest(d)[:5]}"


class InkDrawing(Struct, frozen=True):
    """A finished drawing of things as they are, to scale; its units are whatever it was drawn in.

    Shapes are painted in their order, letters over them. Without a ``title`` it only repeats
    what is said in words beside it, and is not read out. ``width`` is how wide it is set,
    in em; "" for as wide as its place.
    """

    name: str
    title: str
    desc: str
    view_box: str
    shapes: tuple[InkShape, ...]
    letters: tuple[ChartLabel, ...] = ()
    width: str = ""

    @property
    def hatched(self) -> bool:
        """Whether a shape needs the pattern of hatching."""
        return any(shape.tone == "hatched" for shape in self.shapes)


class CellsMark(Struct, frozen=True):
    """A mould as small as a line of text; it repeats the words beside it and is not read out.

    ``cells`` are lines through all cells, ``hollow`` through those not filled, ``struck`` through
    those that are struck; the stylesheet breaks them into cells.
    """

    view_box: str
    width: str
    cells: str
    hollow: str = ""
    struck: str = ""


_ROUND_SHAPES: tuple[MarkShape, ...] = ("dot", "ring")
# Marks closer than this share of the width are stacked: a mark is 9 px, a phone's column
# 358 px.
_MARK_APART = 0.027


def _dots(places: Sequence[tuple[int, int]]) -> str:
    """A path of lines of no length; each place is written from the one before, which is shorter."""
    path, at = "", (0, 0)
    for x, y in sorted(places):
        path += f"m{x - at[0]} {y - at[1]}h0".replace(" -", "-")
        at = x, y
    return path.replace("m", "M", 1)


def _value_of(place: str) -> float:
    return float(place.removesuffix("%").removesuffix("em"))


def format_share(value: float) -> str:
    """A horizontal place from 0 to 1 as a percentage for SVG."""
    return f"{decimals(100 * value)}%"


def format_em(value: float) -> str:
    """A vertical place in em for SVG."""
    return f"{decimals(value)}em"


def decimals(value: float, most: int = 2) -> str:
    """A number rounded to ``most`` decimals, without trailing zeros, for SVG."""
    text = f"{value:.{most}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round values from ``low`` to ``high`` for a scale, at most ``most`` of them.

    Their step is 1, 2, 2.5 or 5 times a power of ten. If ``high`` is not above ``low``, it is
    ``low`` alone.
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
    """The end of a label to put at ``x``, so that the label stays within the drawing."""
    return "start" if x < left else "end" if x > right else "middle"


class Sketch(Struct):
    """A chart in the making: x is a share of the width from 0 to 1, y is in em from the top."""

    bands: list[Band] = field(default_factory=list)
    strokes: list[ChartLine] = field(default_factory=list)
    curves: list[ChartCurve] = field(default_factory=list)
    marks: list[ChartMark] = field(default_factory=list)
    letters: list[ChartLabel] = field(default_factory=list)

    def band(self, x: float, y: float, width: float, height: float) -> None:
        """Draw a shaded rectangle behind the rest."""
        self.bands.append(
            Band(format_share(x), format_em(y), format_share(width), format_em(height))
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, tone: str = "hair") -> None:
        """Draw a straight line."""
        self.strokes.append(
            ChartLine(format_share(x1), format_em(y1), format_share(x2), format_em(y2), tone)
        )

    def mark(self, x: float, y: float, shape: MarkShape) -> None:
        """Draw the mark of one value."""
        self.marks.append(ChartMark(format_share(x), format_em(y), shape))

    def write(
        self, text: str, x: float, y: float, anchor: Anchor = "start", tone: str = "over"
    ) -> None:
        """Write a label."""
        self.letters.append(ChartLabel(text, format_share(x), format_em(y), anchor, tone))

    def number(
        self, values: Sequence[float], place: Callable[[float], float], y: float,
        unit: str = "", left: float = 0.04,
    ) -> None:  # fmt: skip
        """Write the numbers of a horizontal scale, with the unit after the last."""
        for value, text in zip(values, tick_texts(values, unit), strict=True):
            x = place(value)
            self.write(text, x, y, anchor_at(x, left, 0.92), "soft")

    def rule(
        self, values: Sequence[float], place: Callable[[float], float], top: float, foot: float
    ) -> None:
        """Draw thin vertical lines at the values of a horizontal scale."""
        for value in values:
            self.line(place(value), top, place(value), foot)

    def chart(
        self, name: str, title: str, desc: str, height: float, deep: float, top: float = 0.0
    ) -> Chart:
        """The finished chart; ``top`` and ``deep`` are upper edge and height of the curves' box."""
        return Chart(
            name, title, desc, format_em(height), format_em(top), format_em(deep),
            tuple(self.bands), tuple(self.strokes), tuple(self.curves), tuple(self.marks),
            tuple(self.letters),
        )  # fmt: skip


def tick_texts(values: Sequence[float], unit: str) -> list[str]:
    """The numbers of a scale as text, without trailing zeros, with the unit after the last."""
    texts = [decimals(value).replace("-", "\u2212") for value in values]
    if unit:
        texts[-1] += f"\u00a0{unit}"
    return texts


def stack_levels(places: Sequence[float]) -> list[int]:
    """The level (0, 1, ...) of each mark, so that none lies on an earlier one close to it."""
    levels: list[int] = []
    for n, place in enumerate(places):
        occupied = {levels[m] for m in range(n) if abs(places[m] - place) < _MARK_APART}
        levels.append(next(level for level in range(n + 1) if level not in occupied))
    return levels
