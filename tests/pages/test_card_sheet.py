"""Cards lie on their sheet, and cut marks miss the text."""

from __future__ import annotations

import re

import pytest

from journal.pages.card_layout import MEASURES
from journal.pages.card_sheet import ON_SHEET, SHEETS_MM, cut_marks
from journal.pages.leaf import CardSize


@pytest.mark.parametrize(("size", "paper"), sorted(ON_SHEET))
def test_cards_lie_on_their_sheet_and_marks_in_its_margins(size: CardSize, paper: str) -> None:
    sheet, across, down = ON_SHEET[size, paper]
    wide, high = SHEETS_MM[sheet]
    card = MEASURES[size]
    assert across * card.width_mm <= wide + 1e-9
    assert down * card.height_mm <= high + 1e-9
    left, top = (wide - across * card.width_mm) / 2, (high - down * card.height_mm) / 2
    marks = cut_marks(size, sheet, across, down)
    found = re.findall(r"M([\d.]+) ([\d.]+)([HV])([\d.]+)", marks.path)
    assert found or (across, down) == (1, 1)
    for x0, y0, way, end in found:
        x, y, z = float(x0), float(y0), float(end)
        along, limit, start, length, last = (
            (x, wide, left, card.width_mm, across)
            if way == "H"
            else (y, high, top, card.height_mm, down)
        )
        assert min(along, z) >= 0
        assert max(along, z) <= limit
        # Outside the cards, or no further in than the margin that holds no text.
        inner = start + last * length
        margin = min(card.side_mm, card.top_mm, card.foot_mm)
        assert max(along, z) <= start + margin or min(along, z) >= inner - margin


def test_a_full_sheet_still_has_marks() -> None:
    # Two A5 fill an A4 that lies (to 1 mm): the cut between them is marked from the edges.
    assert "M148.5 0V3" in cut_marks("a5", "a4-wide", 2, 1).path
