"""Tiling: a drawing larger than a sheet of paper is split over as many sheets as it takes.

Neighbouring sheets show the same strip of 10 mm, with rings along its middle that come
to lie on each other when the sheets are aligned.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product
from typing import Final

from msgspec import Struct

from journal.html import true_size

OVERLAP_MM: Final = 10.0
# Room left of the drawing for the upright line of 100 mm.
LEFT_MM: Final = 12.0
_RING_STEP_MM: Final = 50.0
_FOOT_MM: Final = 12.0


class TiledDrawing(Struct, frozen=True):
    """A drawing of any size, in mm from its own corner; ``across`` and ``down`` are its size.

    ``mind`` is a warning that stands on every sheet of it.
    """

    title: str
    sub: str
    across: float
    down: float
    pencil: true_size.PrintCanvas
    mind: str = ""


class Tile(Struct, frozen=True):
    """One sheet of several: its column and row, and the part of the drawing it shows, in mm."""

    column: int
    row: int
    x: float
    y: float
    width: float
    height: float


def room_of(paper: true_size.PaperSize) -> tuple[float, float]:
    """The width and height of the drawing that goes on one sheet, in mm."""
    wide, high = true_size.AREAS_MM[paper]
    return wide - LEFT_MM, high - true_size.HEAD_MM - _FOOT_MM


def pages_for(across: float, down: float, paper: true_size.PaperSize) -> tuple[int, int]:
    """The numbers of columns and rows of sheets that a drawing (in mm, above 0) takes.

    Each sheet but the first of a row or column adds its room less ``OVERLAP_MM``: 400 mm
    over sheets of 193 mm are 193 + 183 + 24, so three.
    """
    columns, rows = (
        max(1, math.ceil((length - OVERLAP_MM - 1e-6) / (room - OVERLAP_MM)))
        for length, room in zip((across, down), room_of(paper), strict=True)
    )
    return columns, rows


def tiles_of(plan: TiledDrawing, paper: true_size.PaperSize) -> tuple[Tile, ...]:
    """The sheets of a plan, row by row; each but the last of a row or column is full."""
    columns, rows = pages_for(plan.across, plan.down, paper)
    wide, high = room_of(paper)
    tiles = []
    for row, column in product(range(rows), range(columns)):
        x, y = column * (wide - OVERLAP_MM), row * (high - OVERLAP_MM)
        size = min(wide, plan.across - x), min(high, plan.down - y)
        tiles.append(Tile(column, row, x, y, *size))
    return tuple(tiles)


def tile_drawing(
    plan: TiledDrawing, paper: true_size.PaperSize, name: str
) -> tuple[true_size.Drawing, ...]:
    """The drawings of a plan, one a sheet, each with alignment marks and lines of 100 mm.

    ``name`` begins the names of the pictures, and is unique on the page.
    """
    return tuple(_draw_tile(plan, paper, tile, f"{name}-{tile.row + 1}-{tile.column + 1}")
                 for tile in tiles_of(plan, paper))  # fmt: skip


def _draw_tile(
    plan: TiledDrawing, paper: true_size.PaperSize, tile: Tile, name: str
) -> true_size.Drawing:
    """One sheet: heading, dashes and rings in the shared strips, and its part of the plan."""
    area = true_size.AREAS_MM[paper]
    columns, rows = pages_for(plan.across, plan.down, paper)
    several = columns * rows > 1
    pencil = true_size.PrintCanvas()
    where = f"row {tile.row + 1} of {rows}, column {tile.column + 1} of {columns}"
    corner = where if several else ""
    true_size.draw_heading(pencil, area, plan.title, plan.sub, corner, plan.mind)
    across, down = _shared_strips(tile, columns, rows)
    left, top = LEFT_MM, true_size.HEAD_MM
    for x in across:
        pencil.line(left + x, top, left + x, top + tile.height, 0.15, "2 1.5", true_size.SOFT)
    for y in down:
        pencil.line(left, top + y, left + tile.width, top + y, 0.15, "2 1.5", true_size.SOFT)
    for x in across:
        for place in _ring_places(tile.y, tile.height):
            pencil.target(left + x, top + (place - tile.y))
    for y in down:
        for place in _ring_places(tile.x, tile.width):
            pencil.target(left + (place - tile.x), top + y)
    if several:
        pencil.write(_gluing_hint(tile), LEFT_MM, area[1] - 2.0, 3.4, fill=true_size.SOFT)
    title = f"{plan.title}, {where}" if several else plan.title
    shown = true_size.clipped_view(
        f"{name}-w", (left, top), (tile.width, tile.height), (tile.x, tile.y), plan.pencil
    )
    return true_size.drawing(name, title, area, pencil, (shown,))


def _shared_strips(tile: Tile, columns: int, rows: int) -> tuple[list[float], list[float]]:
    """The middles of the strips shared with neighbours: x of upright, y of level strips, in mm.

    There one sheet is cut and glued on the other; both have rings at the same places.
    """
    half = OVERLAP_MM / 2
    across = [half] * (tile.column > 0) + [tile.width - half] * (tile.column < columns - 1)
    down = [half] * (tile.row > 0) + [tile.height - half] * (tile.row < rows - 1)
    return across, down


def _ring_places(start: float, length: float) -> Iterator[float]:
    """Places of rings: every 50 mm of the whole drawing, 4 mm or more from a sheet's edges."""
    first = math.ceil((start + 4.0) / _RING_STEP_MM)
    place = first * _RING_STEP_MM
    while place <= start + length - 4.0:
        yield place
        place += _RING_STEP_MM


def _gluing_hint(tile: Tile) -> str:
    """A sentence on which edges of a sheet are cut and laid on the sheets before."""
    sides = [side for side, there in (("left", tile.column), ("top", tile.row)) if there]
    if not sides:
        return (
            "Leave this sheet whole: the next are cut along their dashes and laid on the dashes"
            " of this one."
        )
    return (
        f"Cut this sheet along its dashes at the {' and at the '.join(sides)}, lay it on the dashes"
        " of the sheet before, ring on ring."
    )
