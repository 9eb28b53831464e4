"""Several cards on a sheet of paper, and where it is cut."""

from __future__ import annotations

from typing import Final

from journal.pages.card_layout import MEASURES
from journal.pages.leaf import CardSize, CutMarks

# How many cards of a size go on a sheet: the sheet's name, columns, rows. The sheet lies
# on its long side where that holds more.
ON_SHEET: Final[dict[tuple[CardSize, str], tuple[str, int, int]]] = {
    ("4x6in", "letter"): ("letter", 2, 1),
    ("4x6in", "a4"): ("a4", 2, 1),
    ("a6", "letter"): ("letter", 2, 1),
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
_MARK_GAP_MM: Final = 1.0


def cut_marks(size: CardSize, sheet: str, across: int, down: int) -> CutMarks:
    """Short lines where a sheet of cards is to be cut.

    Takes:  size, sheet   names in ``MEASURES`` and ``SHEETS_MM``
            across, down  how many cards lie side by side and one under another; >= 1
    Gives:  lines of 4 mm outside the cards, or where there is no room outside, of 3 mm
            inside their margins; the cards lie in the middle of the sheet
    Fails:  KeyError for a name that is not known
    Source: definition
    """
    measures, (wide, high) = MEASURES[size], SHEETS_MM[sheet]
    left = (wide - across * measures.width_mm) / 2
    top = (high - down * measures.height_mm) / 2
    columns = [left + n * measures.width_mm for n in range(across + 1)]
    rows = [top + n * measures.height_mm for n in range(down + 1)]
    paths: list[str] = []
    for x in columns:
        if 0.1 < x < wide - 0.1:
            for y, way in ((rows[0], -1), (rows[-1], 1)):
                start, end = _mark(y, way, high)
                paths.append(f"M{_mm(x)} {_mm(start)}V{_mm(end)}")
    for y in rows:
        if 0.1 < y < high - 0.1:
            for x, way in ((columns[0], -1), (columns[-1], 1)):
                start, end = _mark(x, way, wide)
                paths.append(f"M{_mm(start)} {_mm(y)}H{_mm(end)}")
    return CutMarks(
        f"{_mm(wide)}mm", f"{_mm(high)}mm", f"0 0 {_mm(wide)} {_mm(high)}", "".join(paths)
    )


def _mark(edge: float, way: int, limit: float) -> tuple[float, float]:
    room = edge if way < 0 else limit - edge
    if room < _MARK_GAP_MM + 1.0:
        # No room outside: from the edge inwards, within the card's own margin.
        return edge, edge - way * 3.0
    return edge + way * _MARK_GAP_MM, edge + way * min(room, _MARK_GAP_MM + _MARK_MM)


def _mm(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
