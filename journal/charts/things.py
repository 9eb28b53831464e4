"""Bars, moulds, mats and pieces as they are, from above, in mm."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from journal.charts.drawing import InkDrawing, InkShape, decimals, outline_id
from journal.charts.mould import Lattice
from journal.figures.colour.spaces import contrast
from journal.quantities.path_data import Matrix, PathSegment, moved

Size = tuple[float, float]
Place = tuple[float, float]

# The tone of a surface whose colour nobody has said: the page's pattern of hatching.
UNKNOWN = "unknown"
# White on oatmeal is seen without a line, white on white is not.
_LEAST_CONTRAST = 1.4
# A bar on a card: as high as so many em of the heading's type, its edge in mm of the bar.
CARD_EM = 1.05
_INK, _INK_LINE = "#000", 1.6
# Free space round a drawing, in mm, for half the width of its edge.
_EDGE = 0.6


class DrawnMotif(Struct, frozen=True):
    """A motif: its size in mm, and its path about its middle; without one it is its rectangle."""

    size_mm: Size
    d: str = ""


class DrawnPart(Struct, frozen=True):
    """What shows of a layer: its colour, "" where it is not known, and its share of a cut bar."""

    fill: str
    share: float = 1.0


class PlateBar(Struct, frozen=True):
    """What is drawn of a bar, in mm; ``parts`` as ``figures.recipe.derive_face.BarFace``."""

    size_mm: Size
    corner_mm: float
    parts: tuple[DrawnPart, ...]
    piece_mm: Size | None = None
    piece_corner_mm: float = 0.0
    motif: DrawnMotif | None = None
    cut: bool = False


# One mat has the same motif on every page that shows a bar from it.
@lru_cache(maxsize=256)
def motif_path(paths: tuple[PathSegment, ...], size: Size, motif_mm: Size) -> str:
    """The path of an outline about the middle of its motif, in mm.

    Takes:  paths     between (0, 0) and ``size``
            motif_mm  what it is fitted to, its proportions kept
    """
    scale = min(motif_mm[0] / size[0], motif_mm[1] / size[1])
    place: Matrix = (scale, 0.0, 0.0, scale, -scale * size[0] / 2, -scale * size[1] / 2)
    parts = []
    for command, points in paths:
        # A tenth of a millimetre is less than a blade can follow.
        at = (round(number, 1) for point in points for number in moved(place, point))
        # A minus parts two numbers as well as a blank does.
        parts.append(command + " ".join(decimals(number) for number in at).replace(" -", "-"))
    return "".join(parts)


def rectangle(middle: Place, size: Size, corner: float = 0.0) -> str:
    """The path of a rectangle about its middle, its corners rounded."""
    wide, high = size
    r = min(corner, wide / 2, high / 2)
    x, y = middle[0] - wide / 2, middle[1] - high / 2
    if not r:
        return f"M{_at(x, y)}h{decimals(wide)}v{decimals(high)}h{decimals(-wide)}z"
    turn = f"a{decimals(r)} {decimals(r)} 0 0 1"
    across, down = decimals(wide - 2 * r), decimals(high - 2 * r)
    return (
        f"M{_at(x + r, y)}h{across}{turn} {_at(r, r)}v{down}{turn}{_at(-r, r)}"
        f"h-{across}{turn}{_at(-r, -r)}v-{down}{turn} {_at(r, -r)}z"
    )


def _at(x: float, y: float) -> str:
    """Two numbers of a path; a minus parts them as well as a blank does."""
    return f"{decimals(x)} {decimals(y)}".replace(" -", "-")


def _shared(d: str, tone: str, fill: str = "", at: Place | None = None) -> InkShape:
    """A shape that many drawings of a page have, so that its path stands there once."""
    x, y = ("", "") if at is None else map(decimals, at)
    return InkShape(d, tone, fill, ref=outline_id(d), x=x, y=y)


def bar_shapes(bar: PlateBar, middle: Place = (0.0, 0.0)) -> tuple[InkShape, ...]:
    """A bar from above: its ground with its edge, the line of the piece, its motif."""
    edge = rectangle(middle, bar.size_mm, bar.corner_mm)
    if bar.cut:
        return (*_bands(bar, middle), InkShape(edge, "edge"))
    fill = bar.parts[-1].fill
    shapes = [_shared(edge, "bar" if fill else f"bar {UNKNOWN}", fill)]
    if bar.piece_mm is not None:
        piece = rectangle(middle, bar.piece_mm, bar.piece_corner_mm)
        shapes.append(_shared(piece, "trace"))
    if bar.motif is not None:
        own = bar.parts[0].fill
        tone = UNKNOWN if not own else "motif" if _hardly_seen(own, fill) else ""
        shapes.append(_motif_shape(bar.motif, middle, own, bar.piece_mm, tone))
    return tuple(shapes)


def _hardly_seen(one: str, other: str) -> bool:
    """Whether one colour on the other needs a line around it to be seen at all."""
    if not other:
        return True
    codes = (tuple(bytes.fromhex(colour[1:])) for colour in (one, other))
    return contrast(*codes) < _LEAST_CONTRAST


def _bands(bar: PlateBar, middle: Place) -> Iterable[InkShape]:
    """Yield the layers of a bar that is cut from a block, the lowest first, one on the other."""
    wide, high = bar.size_mm
    foot = middle[1] + high / 2
    for part in bar.parts:
        deep = high * part.share
        band = rectangle((middle[0], foot - deep / 2), (wide, deep))
        yield InkShape(band, "" if part.fill else UNKNOWN, part.fill)
        foot -= deep


def _motif_shape(
    motif: DrawnMotif, middle: Place, fill: str, piece_mm: Size | None, tone: str
) -> InkShape:
    """A motif in its colour; one that its piece crops is the rectangle that is left of it."""
    size = motif.size_mm
    cropped = piece_mm is not None and (size[0] > piece_mm[0] or size[1] > piece_mm[1])
    if motif.d and not cropped:
        return _shared(motif.d, tone, fill, middle)
    if piece_mm is not None:
        size = (min(size[0], piece_mm[0]), min(size[1], piece_mm[1]))
    return InkShape(rectangle(middle, size), tone, fill)


def drawing_in_mm(
    shapes: Iterable[InkShape], size_mm: Size, name: str, title: str, desc: str, em_per_mm: float
) -> InkDrawing:
    """A drawing in mm from (0, 0), set so many em wide for each mm."""
    wide, high = (length + 2 * _EDGE for length in size_mm)
    box = " ".join(map(decimals, (-_EDGE, -_EDGE, wide, high)))
    return InkDrawing(
        name, title, desc, box, tuple(shapes), width=f"{decimals(wide * em_per_mm)}em"
    )


def bar_from_above(bar: PlateBar, name: str, title: str, desc: str, em_per_mm: float) -> InkDrawing:
    """A bar from above, to scale."""
    middle = (bar.size_mm[0] / 2, bar.size_mm[1] / 2)
    return drawing_in_mm(bar_shapes(bar, middle), bar.size_mm, name, title, desc, em_per_mm)


def mould_from_above(
    lattice: Lattice, name: str, title: str, desc: str,
    em_per_mm: float, apart_mm: float = 8.0,
) -> InkDrawing:  # fmt: skip
    """The cavities of a mould, to scale, as they lie."""
    cavities, across, face_mm = lattice.cavities, lattice.in_row, lattice.face
    down = math.ceil(cavities / across)
    shapes = [
        InkShape(
            rectangle(
                tuple(  # type: ignore[arg-type]
                    length / 2 + place * (length + apart_mm)
                    for length, place in zip(face_mm, (n % across, n // across), strict=True)
                ),
                face_mm,
                lattice.radius_mm,
            ),
            "edge",
        )
        for n in range(cavities)
    ]
    whole = (across * (face_mm[0] + apart_mm) - apart_mm, down * (face_mm[1] + apart_mm) - apart_mm)
    return drawing_in_mm(shapes, whole, name, title, desc, em_per_mm)


class DrawnPiece(Struct, frozen=True):
    """A piece on a sheet: its middle, from the sheet's upper left corner, and its size, in mm."""

    middle_mm: Place
    size_mm: Size
    corner_mm: float = 0.0


def sheet_from_above(
    sheet_mm: Size, pieces: Iterable[DrawnPiece], motif: DrawnMotif | None,
    name: str, title: str, desc: str, em_per_mm: float,
) -> InkDrawing:  # fmt: skip
    """A sheet of a mat with its cuts, to scale, the motif on each piece."""
    shapes = [InkShape(rectangle((sheet_mm[0] / 2, sheet_mm[1] / 2), sheet_mm), "edge")]
    for piece in pieces:
        shapes += piece_shapes(piece, motif)
    return drawing_in_mm(shapes, sheet_mm, name, title, desc, em_per_mm)


def piece_shapes(piece: DrawnPiece, motif: DrawnMotif | None) -> list[InkShape]:
    """A piece from above, with its motif in relief."""
    shapes = [InkShape(rectangle(piece.middle_mm, piece.size_mm, piece.corner_mm), "cutline")]
    if motif is not None:
        shapes.append(_motif_shape(motif, piece.middle_mm, "", piece.size_mm, "relief"))
    return shapes


def piece_from_above(
    piece: DrawnPiece, motif: DrawnMotif | None, share: float | None,
    name: str, title: str, desc: str, em_per_mm: float,
) -> InkDrawing:  # fmt: skip
    """A piece, to scale; beneath it a bar that is as long as ``share`` of its life is over."""
    wide, high = piece.size_mm
    shapes = piece_shapes(piece, motif)
    deep = 3.0
    if share is not None:
        past = wide * share
        foot = high + 2 * deep
        if past:
            shapes.append(InkShape(rectangle((past / 2, foot - deep / 2), (past, deep)), "solid"))
        shapes.append(InkShape(rectangle((wide / 2, foot - deep / 2), (wide, deep)), "edge"))
        high = foot
    return drawing_in_mm(shapes, (wide, high), name, title, desc, em_per_mm)


def bar_in_ink(bar: PlateBar) -> InkDrawing | None:
    """A bar in ink alone, to know a card by; None without a motif.

    Its parts say how they are filled: what prints without a browser knows no stylesheet. Nothing
    of it is shared, since a card may be printed alone.
    """
    if bar.motif is None or bar.cut:
        return None
    wide, high = bar.size_mm
    inner = (wide - 2 * _INK_LINE, high - 2 * _INK_LINE)
    here = (0.0, 0.0)
    motif = _motif_shape(bar.motif, here, _INK, bar.piece_mm, "solid")
    shapes = (
        InkShape(rectangle(here, bar.size_mm, bar.corner_mm), "solid", _INK),
        InkShape(rectangle(here, inner, max(0.0, bar.corner_mm - _INK_LINE)), "paper", "#fff"),
        replace(motif, ref=""),
    )
    box = " ".join(map(decimals, (-wide / 2, -high / 2, wide, high)))
    return InkDrawing("bar", "", "", box, shapes, width=f"{decimals(CARD_EM * wide / high)}em")
