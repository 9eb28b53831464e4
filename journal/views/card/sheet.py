"""Several cards on a sheet of paper, and the marks to cut it by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Final

from journal.html.card_page import CardSize, CutMarks
from journal.html.true_size import MARGIN_MM, mm
from journal.views.card.layout import MEASURES

# The name of the sheet for cards of a size, its columns and rows of cards. The sheet lies
# on its long side where that holds more, or leaves room for marks.
ON_SHEET: Final[dict[tuple[CardSize, str], tuple[str, int, int]]] = {
    ("4x6in", "letter"): ("letter-wide", 2, 1),
    ("4x6in", "a4"): ("a4-wide", 2, 1),
    ("a6", "letter"): ("letter-wide", 2, 1),
    ("a6", "a4"): ("a4", 2, 2),
    ("half-letter", "letter"): ("letter-wide", 2, 1),
    ("half-letter", "a4"): ("a4", 1, 1),
    ("a5", "letter"): ("letter", 1, 1),
    ("a5", "a4"): ("a4-wide", 2, 1),
}
# Sheets in mm: ISO 216; Letter 8.5 x 11 in (ANSI/ASME Y14.1).
SHEETS_MM: Final[dict[str, tuple[float, float]]] = {
    "a4": (210.0, 297.0),
    "a4-wide": (297.0, 210.0),
    "letter": (215.9, 279.4),
    "letter-wide": (279.4, 215.9),
}
_MARK_MM: Final = 4.0
_LEAST_MARK_MM: Final = 2.0
_MARK_GAP_MM: Final = 1.0


def cut_marks(size: CardSize, sheet: str, across: int, down: int) -> CutMarks:
    """The cut marks of a sheet with ``across`` columns and ``down`` rows of cards.

    The marks are 2 to 4 mm long outside the cards, or where there is no room outside, 3 mm
    along their edges. None stands where printers leave paper bare, so the edge of a card that
    lies there has none. The cards lie in the middle of the sheet.
    """
    measures, (wide, high) = MEASURES[size], SHEETS_MM[sheet]
    left = (wide - across * measures.width_mm) / 2
    top = (high - down * measures.height_mm) / 2
    columns = [left + n * measures.width_mm for n in range(across + 1)]
    rows = [top + n * measures.height_mm for n in range(down + 1)]
    upright = product(
        (x for x in columns if MARGIN_MM <= x <= wide - MARGIN_MM), _mark_ends(rows, high)
    )
    level = product(
        (y for y in rows if MARGIN_MM <= y <= high - MARGIN_MM), _mark_ends(columns, wide)
    )
    paths = [f"M{mm(x)} {mm(start)}V{mm(end)}" for x, (start, end) in upright]
    paths += [f"M{mm(start)} {mm(y)}H{mm(end)}" for y, (start, end) in level]
    return CutMarks(mm(wide), mm(high), "".join(paths))


def _mark_ends(edges: Sequence[float], limit: float) -> Iterator[tuple[float, float]]:
    """Start and end in mm of the two marks of a cut, at the first and at the last edge."""
    for edge, way, outside in ((edges[0], -1, edges[0]), (edges[-1], 1, limit - edges[-1])):
        length = min(_MARK_MM, outside - MARGIN_MM - _MARK_GAP_MM)
        if length < _LEAST_MARK_MM:
            start = edge - way * max(0.0, MARGIN_MM - outside)
            yield start, start - way * 3.0
        else:
            yield edge + way * _MARK_GAP_MM, edge + way * (_MARK_GAP_MM + length)
