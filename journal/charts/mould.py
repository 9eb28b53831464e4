"""A mould drawn as its cavities: large and to scale, or as small as a line of text.

The unit of the large drawing is a CSS pixel; a cell of the small one is 5 by 4, a gap 1.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby

from msgspec import Struct

from journal.charts.drawing import CellsMark, ChartLabel, InkDrawing, InkShape, decimals, outline_id

# Drawn at the scale of the face, a lip of 0.5 mm, which is worth the name, were a hair.
LIP_TIMES = 4
# More cells than this are counted by nobody: then each stands for ten bars.
MOST_CELLS = 60
IN_ROW = 10
_PER_MM = 0.965
# Two moulds of two in a row stand side by side on a phone's column of 358 px, or one alone.
_WIDEST, _LEAST_CELL, _GAP, _RIM = 340.0, 34.0, 5.0, 5.0
_WITHOUT_FACE_MM = (80.0, 55.0)
# A cell of the key holds "not judged"; one of its own is as high as a word.
_LEAST_KEY, _KEY_MM, _KEY_RADIUS_MM, _KEY_IN_ROW = 70.0, (80.0, 26.0), 5.0, 4
# Width of the line round a bar, which the stylesheet sets.
_EDGE = 1.2
_PX_PER_REM = 16.0
# The unit of the small drawing: ten cells take 5 em.
_CELL_EM = 5 / 59
# Width of a letter of the small type, of 10.5 px.
_LETTER = 5.9


class Lattice(Struct, frozen=True):
    """How the cavities of a mould lie, row by row, and how many bars are cut from each.

    ``face_mm`` is None for one that was not measured, which is then drawn as the usual bar.
    """

    cavities: int
    in_row: int
    slices: int = 1
    face_mm: tuple[float, float] | None = None
    radius_mm: float = 0.0

    @property
    def face(self) -> tuple[float, float]:
        """Width and height of a cavity's face as it is drawn, in mm."""
        return self.face_mm or _WITHOUT_FACE_MM

    @property
    def bars(self) -> int:
        """The bars of one filling."""
        return self.cavities * self.slices


class DrawnBar(Struct, frozen=True):
    """A bar in its cavity: ``fit`` to sell, None if not judged; the lip in mm, None if unmeasured.

    ``broken`` is how the border of a close trim is drawn; ``says`` stands in the middle.
    """

    name: str
    fit: bool | None
    lip_mm: float | None = None
    lifted: bool = False
    broken: bool = False
    sign: str = ""
    says: str = ""


class Box(Struct, frozen=True):
    """A rectangle with its corner radius."""

    x: float
    y: float
    width: float
    height: float
    radius: float = 0.0

    @property
    def path(self) -> str:
        """The SVG path of its outline."""
        x, y, r = (decimals(value, 1) for value in (self.x, self.y, self.radius))
        across, down = self.width - 2 * self.radius, self.height - 2 * self.radius
        if not self.radius:
            return f"M{x} {y}h{decimals(across, 1)}v{decimals(down, 1)}h{decimals(-across, 1)}z"
        w, h = decimals(across, 1), decimals(down, 1)
        start = f"M{decimals(self.x + self.radius, 1)} {y}h{w}"
        return f"{start}q{r} 0 {r} {r}v{h}q0 {r}-{r} {r}h-{w}q-{r} 0-{r}-{r}v-{h}q0-{r} {r}-{r}"


def sensible_row(cavities: int, face_mm: tuple[float, float] = _WITHOUT_FACE_MM) -> int:
    """How many cavities lie in a row if nobody says: as near to a square as they come.

    Rows are full where that makes a block at most thrice as long as wide.
    """

    def oblong(in_row: int) -> float:
        rows = -(-cavities // in_row)
        return abs(math.log(in_row * face_mm[0] / (rows * face_mm[1])))

    full = [in_row for in_row in range(1, cavities + 1) if cavities % in_row == 0]
    best = min(full, key=oblong)
    return best if oblong(best) <= math.log(3) else min(range(1, cavities + 1), key=oblong)


def units_per_mm(lattice: Lattice) -> float:
    """The scale of a large drawing; one for all moulds but the very small and the very wide."""
    width = lattice.face[0]
    slice_mm = max(lattice.face) / lattice.slices if lattice.slices > 1 else width
    room = _WIDEST - 2 * _RIM - _GAP * (lattice.in_row - 1)
    return min(room / (lattice.in_row * width), max(_PER_MM, _LEAST_CELL / slice_mm))


def cavity_boxes(lattice: Lattice, bars: int) -> list[Box]:
    """The places of so many bars in a mould, row by row, in a loaf slice by slice."""
    scale = units_per_mm(lattice)
    width, height = (max(1.0, float(int(scale * side))) for side in lattice.face)
    boxes: list[Box] = []
    for place in range(bars):
        cavity, of_cavity = divmod(place, lattice.slices)
        row, column = divmod(cavity, lattice.in_row)
        x, y = _RIM + column * (width + _GAP), _RIM + row * (height + _GAP)
        if lattice.slices == 1:
            radius = min(float(round(scale * lattice.radius_mm)), width / 2, height / 2)
            boxes.append(Box(x, y, width, height, radius))
        elif width >= height:
            thick = width / lattice.slices
            boxes.append(Box(x + of_cavity * thick, y, thick, height))
        else:
            thick = height / lattice.slices
            boxes.append(Box(x, y + of_cavity * thick, width, thick))
    return boxes


def key_drawing(marks: Sequence[DrawnBar], like: Lattice) -> InkDrawing:
    """What the marks of a mould mean: cells drawn as its bars are, with a word in each.

    They are as large as the bars of ``like``, or of the usual bar where those are too narrow.
    """
    # Five are three and two: one alone in a row looked left over.
    in_row = math.ceil(len(marks) / math.ceil(len(marks) / _KEY_IN_ROW)) if marks else 1
    cell = Lattice(len(marks), in_row, 1, like.face_mm, like.radius_mm)
    if like.slices > 1 or units_per_mm(cell) * cell.face[0] < _LEAST_KEY:
        cell = Lattice(len(marks), in_row, 1, _KEY_MM, _KEY_RADIUS_MM)
    return mould_drawing(cell, marks, tray=False)


def mould_drawing(
    lattice: Lattice, bars: Sequence[DrawnBar | None], *, tray: bool = True
) -> InkDrawing:
    """A pour as it lay: each bar in its cavity, filled if fit to sell, struck if not.

    The lip is the border inside the bar's edge, ``LIP_TIMES`` as wide as at the scale of the face.
    """
    places = max(lattice.bars, len(bars))
    boxes = cavity_boxes(lattice, -(-places // lattice.slices) * lattice.slices)
    scale = units_per_mm(lattice)
    empty = strike = ""
    shapes: list[InkShape] = []
    letters: list[ChartLabel] = []
    for place, box in enumerate(boxes):
        bar = bars[place] if place < len(bars) else None
        if bar is None:
            empty += box.path
            continue
        lip = min(LIP_TIMES * scale * (bar.lip_mm or 0.0), min(box.width, box.height) / 3)
        tone = "fit" if bar.fit else "cavity"
        if bar.broken:
            # A wide lip is broken itself; two broken lines side by side were a muddle.
            tone += " broken" if lip < _EDGE else " close"
        shapes.append(_bar_shape(box, tone, decimals(2 * lip, 1) if lip else ""))
        strike += _strokes(bar, box)
        letters.append(_letters(bar, box))
    right = max(box.x + box.width for box in boxes) + _RIM
    foot = max(box.y + box.height for box in boxes) + _RIM
    edge = Box(0.5, 0.5, right - 1, foot - 1, 2 * _RIM if lattice.radius_mm else _RIM).path
    lines = [InkShape(empty, "empty"), *shapes, InkShape(strike, "strike")]
    if tray:
        lines.insert(0, InkShape(edge, "tray", ref=outline_id(edge)))
    return InkDrawing(
        "", "", "", f"0 0 {decimals(right, 1)} {decimals(foot, 1)}",
        tuple(one for one in lines if one.d), tuple(letters),
        f"{decimals(right / _PX_PER_REM)}rem",
    )  # fmt: skip


def _bar_shape(box: Box, tone: str, width: str) -> InkShape:
    """A bar with its lip, in an outline that all its like on the page share."""
    d = Box(0.0, 0.0, box.width, box.height, box.radius).path
    at = decimals(box.x, 1), decimals(box.y, 1)
    return InkShape(d, tone, "", width, outline_id(d, "b"), *at, edged=True)


def _strokes(bar: DrawnBar, box: Box) -> str:
    """The stroke through a bar that is not fit to sell; the cross over one that lifted."""
    x, y, w, h = (decimals(value, 1) for value in (box.x, box.y, box.width, box.height))
    rising = f"M{x} {decimals(box.y + box.height, 1)}l{w}-{h}"
    if bar.lifted:
        return f"{rising}M{x} {y}l{w} {h}"
    return rising if bar.fit is False else ""


def _letters(bar: DrawnBar, box: Box) -> ChartLabel:
    """The name of a bar with its sign, and what is said of it; the stylesheet centres them."""
    x, middle = str(round(box.x + box.width / 2)), box.y + box.height / 2
    name = f"{bar.name} {bar.sign}".rstrip()
    if _LETTER * len(name) > box.width - 4:
        name = f"{bar.name} {bar.sign[:1]}".rstrip()
    y = str(round(middle - 5 if bar.says else middle + 4))
    return ChartLabel(name, x, y, tone="" if bar.fit else "rim", under=bar.says)


def cells_mark(cells: str, in_row: int) -> CellsMark:
    """A mould at the height of a line: cells that are filled, struck or open.

    A list has hundreds, so a run of cells is one line, which the stylesheet breaks: a row's
    strokes are slanted so far that they begin one cell further on than those of the row above.

    Takes:  cells   a letter a cavity, as ``PourOverview.cells``
            in_row  cavities in each row
    """
    width = 6 * min(in_row, len(cells)) - 1
    return CellsMark(
        f"0 0 {width} {5 * -(-len(cells) // in_row) - 1}",
        f"{decimals(_CELL_EM * width)}em",
        _lines(cells, in_row, "yno"),
        _lines(cells, in_row, "no"),
        _lines(cells, in_row, "n", 1),
    )


def _lines(cells: str, in_row: int, letters: str, slant: int = 0) -> str:
    """The path of a line through each run of these letters, moved ``slant`` cells a row."""
    path = ""
    for row in range(-(-len(cells) // in_row)):
        column = 0
        for here, run in groupby(cells[row * in_row : (row + 1) * in_row], letters.__contains__):
            length = len(list(run))
            if here:
                path += f"M{6 * (column + slant * row)} {5 * row + 2}h{6 * length - 1 + slant}"
            column += length
    return path
