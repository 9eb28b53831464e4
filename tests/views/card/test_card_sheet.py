"""Cards lie on their sheet, and cut marks miss the text."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

from journal.html.blocks import PageFrame
from journal.html.card_page import CardLeaf, CardSize
from journal.views.card.card import card_page
from journal.views.card.layout import MEASURES
from journal.views.card.sheet import ON_SHEET, SHEETS_MM, cut_marks


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
        # Where printers print: 5 mm inside the sheet, along and across.
        assert min(along, z) >= 5
        assert max(along, z) <= limit - 5
        beside, broad = (y, high) if way == "H" else (x, wide)
        assert 5 <= beside <= broad - 5
        # Outside the cards, or on an edge of theirs, whose margins hold no text.
        inner = start + last * length
        first, each, count = (
            (top, card.height_mm, down) if way == "H" else (left, card.width_mm, across)
        )
        assert min(abs(beside - first - n * each) for n in range(count + 1)) < 1e-3
        assert max(along, z) <= start or min(along, z) >= inner or count > 1
        assert 2 <= abs(along - z) <= 4.001


@pytest.mark.parametrize(
    # 210 x 297 mm is cut into two of A5 or four of A6 (ISO 216).
    ("size", "wanted"), [("a5", [2, 2, 2, 1]), ("a6", [4, 3]), ("half-letter", [1] * 7)]
)  # fmt: skip
def test_a_sheet_holds_as_many_cards_as_lie_on_it(size: CardSize, wanted: list[int]) -> None:
    leaf = CardLeaf("", "", "", "", "")
    leaves = [replace(leaf, anchor=str(number)) for number in range(7)]
    page = card_page(PageFrame("", "", ()), leaves, size, "a4")
    assert [len(sheet) for sheet in page.sheets] == wanted
    assert [leaf.anchor for sheet in page.sheets for leaf in sheet] == list("0123456")


def test_a_full_sheet_still_has_marks() -> None:
    # Two A5 fill an A4 that lies (to 1 mm): the cut between them is marked where printers print.
    assert cut_marks("a5", "a4-wide", 2, 1).path == "M148.5 6.5V9.5M148.5 203.5V200.5"
