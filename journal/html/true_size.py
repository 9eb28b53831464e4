"""Drawings to print true to size, in millimetres.

A browser rounds its boxes to pixels of 0.26 mm, but not what is drawn inside a picture,
so everything here is drawn in one picture a page, one unit to the millimetre. Each page
has two check lines of 100 mm to measure before anything is cut, since a printer may scale.

The colours are those of paper, written out: a picture that is printed without a browser
does not see the stylesheet.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from typing import Final, Literal, NamedTuple

from msgspec import Struct, field

from journal.charts.drawing import decimals
from journal.html.blocks import PageFrame, Words
from journal.html.text_width import FontFace, text_width

PaperSize = Literal["letter", "a4"]

INK: Final = "#000"
SOFT: Final = "#4d575a"
MADDER: Final = "#96331f"

# The picture on a sheet, in mm: the sheet less a margin, and less a hair, so that no browser takes
# it for too large. Firefox makes no margin smaller than the printer says that it leaves bare,
# often a quarter of an inch, and makes all smaller to fit.
MARGIN_MM: Final = 6.5
AREAS_MM: Final[dict[PaperSize, tuple[float, float]]] = {
    "letter": (202.0, 266.0),
    "a4": (196.0, 283.0),
}
CHECK_MM: Final = 100.0
CHECK_SAYS: Final = (
    "Before you cut, measure both lines with a ruler: each is 100 mm from end to end. If one is"
    " not, print again at 100 %, with no fitting to the page."
)
#: Before the command that makes the PDF.
IF_SHORT_SAYS: Final = (
    " If a line comes out short even at 100 %, this browser cannot print to size: try another, or"
    " make a PDF with "
)
# The first stroke of the drawing may stand here, under the heading and the check lines.
HEAD_MM: Final = 44.0
# Where the two lines begin.
CHECK_X_MM: Final = 14.0
CHECK_Y_MM: Final = 37.0
_UPRIGHT_X_MM: Final = 6.0
_UPRIGHT_Y_MM: Final = 44.0
LEADING: Final = 1.35
# Smaller print is not read at the bench: 7 pt, common practice, no source.
LEAST_TYPE_MM: Final = 2.5
_STEP_TYPE_MM: Final = 4.2

_FONTS: Final[dict[FontFace, tuple[str, str]]] = {
    "regular": ("Bench", "400"),
    "bold": ("Bench", "700"),
    "title": ("Text", "600"),
}


class PathShape(NamedTuple):
    """A stroke or a filled outline: ``d`` is an SVG path, ``width`` its line width in mm."""

    d: str
    width: str = "0.2"
    stroke: str = INK
    dash: str = ""
    fill: str = "none"


class PrintedText(NamedTuple):
    """A line of text; ``size`` in mm, ``turn`` in degrees about its own place."""

    text: str
    x: str
    y: str
    size: str
    font: str
    weight: str
    anchor: str = "start"
    fill: str = INK
    turn: str = ""


class ClippedView(Struct, frozen=True):
    """A part of a larger drawing that is visible on one page, clipped at its edges."""

    name: str
    x: str
    y: str
    width: str
    height: str
    shift: str
    shapes: tuple[PathShape, ...]
    letters: tuple[PrintedText, ...]


class Repeated(Struct, frozen=True):
    """A part of a sheet that is drawn once and repeated; ``again`` are SVG shifts of the copies."""

    name: str
    again: tuple[str, ...]
    shapes: tuple[PathShape, ...]
    letters: tuple[PrintedText, ...]


class Drawing(Struct, frozen=True):
    """The picture of one page, with its size in mm; ``title`` describes it in words.

    ``one`` are what it repeats, each with the ``viewBox`` of a single one, for a phone.
    """

    name: str
    title: str
    width: str
    height: str
    shapes: tuple[PathShape, ...]
    letters: tuple[PrintedText, ...]
    windows: tuple[ClippedView, ...] = ()
    repeated: tuple[Repeated, ...] = ()
    one: tuple[tuple[str, str], ...] = ()


class TruePage(Struct, frozen=True, tag=True):
    """A page of the notebook whose pictures are printed true to size, a sheet each.

    ``language`` is that of the words in the pictures, where they are not the page's:
    "zxx" for names of ingredients, which belong to none. ``dangers`` are set as large as the title.
    """

    frame: PageFrame
    title: str
    paper: PaperSize
    drawings: tuple[Drawing, ...]
    standfirst: Words = ()
    notes: tuple[Words, ...] = ()
    folio: str = ""
    about: str = ""
    language: str = ""
    dangers: tuple[Words, ...] = ()


_Box = tuple[float, float, float, float]


class PrintCanvas(Struct):
    """A drawing in the making; lengths in mm from the left top corner."""

    # Each with its bounding box, so that a sheet can leave out what lies on others.
    shapes: list[tuple[PathShape, _Box]] = field(default_factory=list)
    texts: list[tuple[PrintedText, _Box]] = field(default_factory=list)

    def contents(
        self, seen: _Box = (-math.inf, -math.inf, math.inf, math.inf)
    ) -> tuple[tuple[PathShape, ...], tuple[PrintedText, ...]]:
        """The shapes that reach into a box, and the texts that lie in it whole; all by default."""
        left, top, right, foot = seen
        # A stroke is wider than its points.
        shapes = tuple(
            shape for shape, (x, y, end, low) in self.shapes
            if x < right + 1 and end > left - 1 and y < foot + 1 and low > top - 1
        )  # fmt: skip
        return shapes, tuple(
            text for text, (x, y, end, low) in self.texts
            if x >= left and end <= right and y >= top and low <= foot
        )  # fmt: skip

    def line(
        self, x1: float, y1: float, x2: float, y2: float, width: float = 0.2, dash: str = "",
        stroke: str = INK,
    ) -> None:  # fmt: skip
        """Draw a straight stroke that ends exactly at its two points."""
        d = f"M{mm(x1)} {mm(y1)}L{mm(x2)} {mm(y2)}"
        box = (min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))
        self.shapes.append((PathShape(d, mm(width), stroke, dash), box))

    def rectangle(
        self, x: float, y: float, wide: float, high: float, corner: float = 0.0,
        width: float = 0.2, dash: str = "", stroke: str = INK, fill: str = "none",
    ) -> None:  # fmt: skip
        """Draw a rectangle with corners of a radius; the middle of its stroke is its edge."""
        d = rectangle_path(x, y, wide, high, corner)
        box = (x, y, x + wide, y + high)
        self.shapes.append((PathShape(d, mm(width), stroke, dash, fill), box))

    def cross(self, x: float, y: float, arm: float, width: float = 0.15) -> None:
        """Draw a cross with arms of a length, about its middle."""
        self.line(x - arm, y, x + arm, y, width)
        self.line(x, y - arm, x, y + arm, width)

    def target(self, x: float, y: float, radius: float = 2.0) -> None:
        """Draw a ring with a cross through it, to be aligned with another."""
        self.cross(x, y, radius + 1.5)
        self.circle(x, y, radius)

    def circle(self, x: float, y: float, radius: float, width: float = 0.2) -> None:
        """Draw a circle about its middle."""
        r = mm(radius)
        half = f"a{r} {r} 0 1 1"
        d = f"M{mm(x - radius)} {mm(y)}{half} {mm(2 * radius)} 0{half} {mm(-2 * radius)} 0Z"
        box = (x - radius, y - radius, x + radius, y + radius)
        self.shapes.append((PathShape(d, mm(width)), box))

    def write(
        self, text: str, x: float, y: float, size: float, face: FontFace = "regular",
        anchor: str = "start", fill: str = INK, turn: float = 0.0,
    ) -> None:  # fmt: skip
        """Write a line of text; ``anchor`` says whether it begins, ends or is centred at ``x``."""
        font, weight = _FONTS[face]
        turned = f"rotate({mm(turn)} {mm(x)} {mm(y)})" if turn else ""
        line = PrintedText(text, mm(x), mm(y), mm(size), font, weight, anchor, fill, turned)
        reach = text_width(text, face, size)
        before = {"start": 0.0, "middle": reach / 2, "end": reach}[anchor]
        along, across = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        corners = [
            (x + right * along - down * across, y + right * across + down * along)
            for right in (-before, reach - before)
            for down in (-0.8 * size, 0.25 * size)
        ]
        xs, ys = zip(*corners, strict=True)
        self.texts.append((line, (min(xs), min(ys), max(xs), max(ys))))

    def paragraph(
        self, text: str, x: float, y: float, room: float, size: float, face: FontFace = "regular",
        fill: str = INK,
    ) -> float:  # fmt: skip
        """Write text in lines no wider than ``room``; gives the baseline of the next line."""
        for line in wrap_text(text, room, size, face):
            self.write(line, x, y, size, face, fill=fill)
            y += size * LEADING
        return y


# Labels lie on sheet after sheet in the same places.
@lru_cache(maxsize=16384)
def mm(length: float) -> str:
    """A length in mm as text, rounded to thousandths, without needless zeros."""
    return decimals(length, 3)


def rectangle_path(x: float, y: float, wide: float, high: float, corner: float = 0.0) -> str:
    """The outline of a rectangle with corners of a radius, as an SVG path."""
    if not corner:
        return f"M{mm(x)} {mm(y)}h{mm(wide)}v{mm(high)}h{mm(-wide)}Z"
    across, down = mm(wide - 2 * corner), mm(high - 2 * corner)
    r, back = mm(corner), mm(-corner)
    return (
        f"M{mm(x + corner)} {mm(y)}h{across}a{r} {r} 0 0 1 {r} {r}v{down}"
        f"a{r} {r} 0 0 1 {back} {r}h-{across}a{r} {r} 0 0 1 {back} {back}v-{down}"
        f"a{r} {r} 0 0 1 {r} {back}Z"
    )


# Every sheet bears the same advice.
@lru_cache(maxsize=1024)
def wrap_text(text: str, room: float, size: float, face: FontFace = "regular") -> tuple[str, ...]:
    """Text split into lines no wider than ``room`` in mm; a wider word is a line of its own."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if line and text_width(longer, face, size) > room:
            lines.append(line)
            line = word
        else:
            line = longer
    return (*lines, line)


def fitting_size(text: str, room: float, size: float, face: FontFace) -> float:
    """The largest type up to ``size`` in which a line fits into ``room``, or ``LEAST_TYPE_MM``."""
    wide = text_width(text, face, size)
    return max(LEAST_TYPE_MM, size if wide <= room else size * room / wide)


def draw_heading(
    pencil: PrintCanvas, area: tuple[float, float], title: str, sub: str, corner: str = "",
    mind: str = "",
) -> None:  # fmt: skip
    """Draw title and subtitle, and the two check lines of 100 mm with instructions.

    ``corner`` stands at the right of the title, ``mind`` is a warning of one line.
    """
    wide, _ = area
    left = text_width(corner, "regular", 3.6)
    room = wide - left - 6.0
    pencil.write(title, 0, 6.6, fitting_size(title, room, 6.4, "title"), "title")
    if corner:
        pencil.write(corner, wide, 6.6, 3.6, anchor="end", fill=SOFT)
    pencil.write(sub, 0, 12.4, fitting_size(sub, wide, 3.9, "regular"), fill=SOFT)
    pencil.line(0, 15.2, wide, 15.2, 0.5)
    pencil.paragraph(CHECK_SAYS, 0, 21.0, wide, 3.9, "bold", fill=MADDER)
    if mind:
        pencil.write(mind, 0, 31.8, fitting_size(mind, wide, 3.9, "bold"), "bold", fill=MADDER)
    x, y = CHECK_X_MM, CHECK_Y_MM
    pencil.line(x, y, x + CHECK_MM, y, 0.3)
    for end in (x + 0.15, x + CHECK_MM - 0.15):
        pencil.line(end, y - 2, end, y + 2, 0.3)
    pencil.write("100 mm across", x + CHECK_MM + 3, y + 1.2, 3.6, "bold")
    x, y = _UPRIGHT_X_MM, _UPRIGHT_Y_MM
    pencil.line(x, y, x, y + CHECK_MM, 0.3)
    for end in (y + 0.15, y + CHECK_MM - 0.15):
        pencil.line(x - 2, end, x + 2, end, 0.3)
    pencil.write("100 mm up and down", x - 2.4, y + CHECK_MM / 2, 3.6, "bold", "middle", turn=-90)


def drawing(
    name: str, title: str, area: tuple[float, float], pencil: PrintCanvas,
    windows: Iterable[ClippedView] = (), repeated: Iterable[Repeated] = (),
) -> Drawing:  # fmt: skip
    """The picture of a page, from all that was drawn on its canvas; ``area`` is its size in mm."""
    size = mm(area[0]), mm(area[1])
    return Drawing(name, title, *size, *pencil.contents(), tuple(windows), tuple(repeated))


def repeat(
    name: str,
    places: Sequence[tuple[float, float]],
    draw: Callable[[PrintCanvas, float, float], None],
) -> Repeated:
    """A part that ``draw`` draws at the first of the places, and that is copied to the others.

    ``name`` is unique on its page; places are left top corners in mm from that of the sheet.
    """
    pencil, (x, y) = PrintCanvas(), places[0]
    draw(pencil, x, y)
    again = tuple(f"translate({mm(right - x)} {mm(down - y)})" for right, down in places[1:])
    return Repeated(name, again, *pencil.contents())


def clipped_view(
    name: str, at: tuple[float, float], size: tuple[float, float], seen: tuple[float, float],
    pencil: PrintCanvas,
) -> ClippedView:  # fmt: skip
    """A part of a larger drawing, of a ``size``, from its point ``seen`` on, placed at ``at``.

    Its edges cut strokes, but no text: what does not lie within them whole is left out.
    """
    shift = f"translate({mm(at[0] - seen[0])} {mm(at[1] - seen[1])})"
    corner, extent = (mm(at[0]), mm(at[1])), (mm(size[0]), mm(size[1]))
    box = (*seen, seen[0] + size[0], seen[1] + size[1])
    return ClippedView(name, *corner, *extent, shift, *pencil.contents(box))


def draw_steps(pencil: PrintCanvas, says: Sequence[str], x: float, y: float, room: float) -> float:
    """Write numbered steps, one under another; gives the baseline of the next line."""
    for number, text in enumerate(says, start=1):
        pencil.write(f"{number}", x, y, _STEP_TYPE_MM, "bold")
        y = pencil.paragraph(text, x + 6, y, room - 6, _STEP_TYPE_MM) + 1.2
    return y
