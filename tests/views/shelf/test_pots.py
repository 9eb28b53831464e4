"""The page of all pots: half-times worked by hand, lightest first, and what is drawn of them."""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import DESIGN, read

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.figures.heat.cooling import half_time
from journal.html.blocks import ChartFigure, Page, PageTable
from journal.html.theme import read_theme
from journal.records.notebook import Notebook
from journal.views.notebook import open_book
from journal.views.shared.places import POTS
from journal.views.shelf.pots import _pots, pots_page, pots_sheets

# Above a room of 20 °C: 60, 30 and 15 K after 0, 30 and 60 min, so half is lost in 30 min.
OLD = "readings: {body: [[0:00, 70 C, melted], [0:10, 62 C, scented], [0:25, 54 C, poured]]}"
NEW = "readings: {body: [[0:00, 80 C, melted], [0:30, 50 C, scented], [1:00, 35 C, poured]]}"
# 1000 g: 60, 30 and 15 K after 0, 50 and 100 min, so 50 min.
SECOND = """\
  - date: 2026-03-08
    room: 20 C
    melted: {pale: 60 g, body: 1000 g}
    readings: {body: [[0:00, 80 C], [0:50, 50 C], [1:40, 35 C]]}
    bars: [{bar: B1, keep: yes}]
---
On paper first.
"""


def page(notebook: Notebook) -> Page:
    book = open_book(
        notebook, derive_figures(notebook, models=False), compare_designs(notebook),
        read_theme(),
    )  # fmt: skip
    (sheet,) = pots_sheets(book)
    assert sheet.path == POTS.path
    return pots_page(book, POTS, tuple(_pots(book)), (POTS,))


def test_two_pots_of_known_half_times(tmp_path: Path) -> None:
    more = {"designs/leaf/design.md": DESIGN.replace("---\nOn paper first.\n", SECOND)}
    found = page(read(tmp_path, ("designs/leaf/design.md", OLD, NEW), more=more))
    assert found.standfirst == (
        "2\u00a0pots read as they cooled, from 380\u00a0g to 1000\u00a0g."
        " The more a pot holds, the longer it stays hot.",
    )
    (passage,) = found.parts[0].passages
    figure, table = passage.blocks
    assert isinstance(figure, ChartFigure)
    assert isinstance(table, PageTable)
    rows = [[cell.words[0] for cell in row[:4]] for row in table.groups[0].rows]
    assert rows == [
        ["380\u00a0g", "30\u00a0min", "20\u00a0°C", "Body"],
        ["1000\u00a0g", "50\u00a0min", "20\u00a0°C", "Body"],
    ]
    assert len(figure.chart.marks) == 2
    # Between pots of 380 and 1000 g: two runs, so the slope of pots of one shape, -1/3, through
    # ln(30), ln(50) at the mean of ln(mass): 30 x 50 = t(380)^2 x (1000/380)^(1/3) gives 33.0 min.
    (note,) = passage.notes
    assert note.big == "33\u00a0min"


def test_nothing_was_read(tmp_path: Path) -> None:
    found = page(read(tmp_path, ("designs/leaf/design.md", f"    {OLD}\n", "")))
    assert found.parts == ()
    assert found.standfirst == (
        "No pot has been read yet as it cooled. Three readings of one pot are a start.",
    )


def test_half_of_the_warmth() -> None:
    # A tenth a minute: ln 2 / 0.1 = 6.93 min.
    assert half_time(0.1) == pytest.approx(6.931471805599453, rel=1e-15)
