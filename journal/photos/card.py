"""The photo card: printed once, stood beside a bar, and found again in the photo.

Six black squares say where the card lies; the first is open (it has a white middle), so that
the card has an up and a left. Between the two rows of squares runs one strip, steps of grey and
then a few of the studio's own tints, along a ruler of 100 mm.

The card must lie level with the face that is measured. A face that is nearer to the lens than
the card reads too large: 25 mm nearer reads 9 % too large from 300 mm away, 6 % from 450 mm and
4 % from 700 mm (a pinhole's sum: distance / (distance - height)). So the card folds into a
table: two legs as high as the bar, each with a foot.

All lengths are mm from the card's left top corner, x to the right, y down. A drawing has one mm
to its unit and prints true to size when it is printed at 100 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from msgspec import Struct

from journal.errors import FigureError

Rgb = tuple[int, int, int]

WIDTH_MM = 132.0
HEIGHT_MM = 46.0

SQUARE_MM = 9.0
#: The white middle of the first square.
HOLE_MM = 3.0
_SQUARE_X = (5.0, 61.5, 118.0)
_SQUARE_Y = (5.0, 32.0)

STEP_MM = 10.0
STRIP_X_MM = 16.0
STRIP_Y_MM = 16.0
STRIP_HEIGHT_MM = 8.0
RULER_MM = 100.0
RULER_Y_MM = 24.5

#: sRGB codes of the grey steps, from the left.
GREYS = (232, 196, 160, 124, 88, 52)
#: Steps of the strip that are left for tints.
MOST_TINTS = 4

PAPER: Rgb = (255, 255, 255)
INK: Rgb = (0, 0, 0)


class CardPatch(NamedTuple):
    """A rectangle on the card, in mm, of one colour."""

    x: float
    y: float
    width: float
    height: float
    srgb: Rgb

    def inside(self, rim: float) -> CardPatch:
        """The patch without a rim of ``rim`` mm, into which its neighbours may have bled."""
        return CardPatch(
            self.x + rim, self.y + rim, self.width - 2 * rim, self.height - 2 * rim, self.srgb
        )


class CardTint(Struct, frozen=True):
    """A colourant's tint as it is to be printed on the card."""

    name: str
    srgb: Rgb


def square_corners() -> tuple[tuple[tuple[float, float], ...], ...]:
    """Corners of the six squares in mm, clockwise from the left top.

    The upper row comes first, from the left; its first square is the open one.
    """
    return tuple(
        ((x, y), (x + SQUARE_MM, y), (x + SQUARE_MM, y + SQUARE_MM), (x, y + SQUARE_MM))
        for y in _SQUARE_Y
        for x in _SQUARE_X
    )


def grey_steps() -> tuple[CardPatch, ...]:
    """The grey steps of the strip, from the left."""
    return _strip_steps(0, [(code, code, code) for code in GREYS])


def _strip_steps(first: int, colours: Sequence[Rgb]) -> tuple[CardPatch, ...]:
    """Steps of the strip, one a colour; ``first`` is the number of the first one, from 0."""
    return tuple(
        CardPatch(STRIP_X_MM + number * STEP_MM, STRIP_Y_MM, STEP_MM, STRIP_HEIGHT_MM, colour)
        for number, colour in enumerate(colours, first)
    )


def tint_steps(tints: Sequence[CardTint]) -> tuple[CardPatch, ...]:
    """The steps of the strip right of the greys, one a tint; FigureError for more than four."""
    if len(tints) > MOST_TINTS:
        raise FigureError(f"the card has room for {MOST_TINTS} tints, not for {len(tints)}")
    for tint in tints:
        if len(tint.srgb) != 3 or not all(0 <= code <= 255 for code in tint.srgb):
            raise FigureError(f'the tint "{tint.name}" is no sRGB colour: {tint.srgb}')
    return _strip_steps(len(GREYS), [tint.srgb for tint in tints])


def ruler_marks() -> tuple[CardPatch, ...]:
    """The 101 marks of the ruler, one a mm: every fifth is longer, every tenth the longest."""
    marks = []
    for mm in range(round(RULER_MM) + 1):
        length = 5.0 if mm % 10 == 0 else 3.5 if mm % 5 == 0 else 2.0
        thick = 0.4 if mm % 5 == 0 else 0.2
        marks.append(CardPatch(STRIP_X_MM + mm - thick / 2, RULER_Y_MM, thick, length, INK))
    return tuple(marks)


_RIM_MM = 1.3  # off the cut edge, and off the squares
_BAND_MM = 2.4  # what is left of the margin
_PIECES = 11


def paper_patches() -> tuple[CardPatch, ...]:
    """Patches of bare paper along the rim of the card; they show the light on it."""
    wide = (WIDTH_MM - 2 * _RIM_MM) / _PIECES
    across = [
        CardPatch(_RIM_MM + n * wide, y, wide, _BAND_MM, PAPER)
        for y in (_RIM_MM, HEIGHT_MM - _RIM_MM - _BAND_MM)
        for n in range(_PIECES)
    ]
    high = (HEIGHT_MM - 2 * (_RIM_MM + _BAND_MM)) / 4
    down = [
        CardPatch(x, _RIM_MM + _BAND_MM + n * high, _BAND_MM, high, PAPER)
        for x in (_RIM_MM, WIDTH_MM - _RIM_MM - _BAND_MM)
        for n in range(4)
    ]
    return tuple(across + down)


def patches(tints: Sequence[CardTint] = ()) -> tuple[CardPatch, ...]:
    """All rectangles printed on the card, in the order of painting."""
    squares = []
    for number, corners in enumerate(square_corners()):
        (x, y), *_ = corners
        squares.append(CardPatch(x, y, SQUARE_MM, SQUARE_MM, INK))
        if number == 0:
            rim = (SQUARE_MM - HOLE_MM) / 2
            squares.append(CardPatch(x + rim, y + rim, HOLE_MM, HOLE_MM, PAPER))
    return (*squares, *grey_steps(), *tint_steps(tints), *ruler_marks())


FOOT_MM = 12.0
"""Depth of each foot of the folding stand."""


def card_svg(tints: Sequence[CardTint] = (), *, stand_mm: float = 0.0) -> str:
    """The card as an SVG drawing, one unit to the mm, to print at 100 %.

    With a stand, a leg as high as the bar and a foot join each long side; they fold back along
    the dashed lines, so that the card stands level with the bar's face.

    Takes:  tints     at most four, shown after the greys
            stand_mm  height of the legs: that of the bar's face over the table; 0 for none
    Fails:  FigureError if the stand's height is no length up to 120 mm, or as tint_steps
    """
    if not (math.isfinite(stand_mm) and 0.0 <= stand_mm <= 120.0):
        raise FigureError(f"a stand is 0 to 120 mm high, not {stand_mm}")
    leg = stand_mm + FOOT_MM if stand_mm else 0.0
    height = HEIGHT_MM + 2 * leg
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_mm(WIDTH_MM)}mm" '
        f'height="{_mm(height)}mm" viewBox="0 0 {_mm(WIDTH_MM)} {_mm(height)}" '
        'role="img" aria-labelledby="photo-card">',
        '<title id="photo-card">Photo card: six squares, a strip of greys and tints, '
        "a ruler of 100 mm</title>",
        f'<rect x="0.1" y="0.1" width="{_mm(WIDTH_MM - 0.2)}" height="{_mm(height - 0.2)}" '
        'fill="#fff" stroke="#999" stroke-width="0.2"/>',
    ]
    folds = (FOOT_MM, leg, leg + HEIGHT_MM, leg + HEIGHT_MM + stand_mm) if leg else ()
    lines += [
        f'<path d="M0 {_mm(y)}H{_mm(WIDTH_MM)}" stroke="#999" stroke-width="0.2" '
        'stroke-dasharray="2 1.5" fill="none"/>'
        for y in folds
    ]
    lines.append(f'<g transform="translate(0 {_mm(leg)})">')
    lines += [
        f'<rect x="{_mm(p.x)}" y="{_mm(p.y)}" width="{_mm(p.width)}" height="{_mm(p.height)}" '
        f'fill="#{p.srgb[0]:02x}{p.srgb[1]:02x}{p.srgb[2]:02x}"/>'
        for p in patches(tints)
    ]
    lines.append('<g font-family="sans-serif" font-size="2.5" fill="#000">')
    lines += [
        f'<text x="{_mm(x)}" y="{_mm(y)}">{escape(text)}</text>'
        for x, y, text in _card_texts(tints)
    ]
    lines += ["</g>", "</g>"]
    legs = (FOOT_MM + stand_mm / 2, leg + HEIGHT_MM + stand_mm / 2) if leg else ()
    lines += [
        f'<text x="6" y="{_mm(y)}" font-family="sans-serif" font-size="2.6" fill="#666">'
        f"leg, {_mm(stand_mm)} mm: fold back; foot: fold out</text>"
        for y in legs
    ]
    return "\n".join([*lines, "</svg>\n"])


def _card_texts(tints: Sequence[CardTint]) -> list[tuple[float, float, str]]:
    """The texts on the card as (x, y, text) in mm, clear of every place that is measured."""
    words = [
        (16.5, 7.2, "Print at 100 %. If the ruler is"),
        (16.5, 10.2, "not 100 mm long, measure it"),
        (16.5, 13.2, "and say so."),
        (73.0, 7.2, "Stand it level with the face,"),
        (73.0, 10.2, "beside the bar and in the"),
        (73.0, 13.2, "same light."),
    ]
    words += [
        (16.5 if row % 2 == 0 else 73.0, 36.4 + 3.0 * (row // 2), f"{row + 1} {tint.name[:28]}")
        for row, tint in enumerate(tints)
    ]
    words += [(STRIP_X_MM + mm, 31.7, str(mm)) for mm in range(0, 81, 20)]
    return words


def _mm(length: float) -> str:
    """A length as short as it can be written to a thousandth of a mm."""
    return f"{length:.3f}".rstrip("0").rstrip(".") or "0"
