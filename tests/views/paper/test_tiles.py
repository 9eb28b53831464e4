"""A drawing over several sheets: all of it is there, and what two share lies at one place."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.html.true_size import AREAS_MM, PaperSize, PrintCanvas, mm, rectangle_path
from journal.views.paper.tiles import (
    OVERLAP_MM,
    TiledDrawing,
    pages_for,
    room_of,
    tile_drawing,
    tiles_of,
)

PAPERS: list[PaperSize] = ["letter", "a4"]


@pytest.mark.parametrize(
    ("across", "down", "count"),
    [
        # Letter has room for 190 x 210 mm.
        (190, 210, (1, 1)),
        (190.1, 210, (2, 1)),
        # 190 + 180 = 370, + 180 = 550.
        (370, 100, (2, 1)),
        (404, 304, (3, 2)),
        (304, 404, (2, 2)),
    ],
)
def test_sheets_by_hand(across: float, down: float, count: tuple[int, int]) -> None:
    assert room_of("letter") == (190.0, 210.0)
    assert pages_for(across, down, "letter") == count


@given(st.floats(5, 1200), st.floats(5, 1200), st.sampled_from(PAPERS))
def test_every_point_is_on_a_sheet_and_every_strip_on_two(
    across: float, down: float, paper: PaperSize
) -> None:
    plan = TiledDrawing("T", "", across, down, PrintCanvas())
    tiles = tiles_of(plan, paper)
    wide, high = room_of(paper)
    for tile in tiles:
        assert 0 < tile.width <= wide + 1e-9
        assert 0 < tile.height <= high + 1e-9
    rows = {tile.row for tile in tiles}
    first = [tile for tile in tiles if tile.row == 0]
    assert len(tiles) == len(rows) * len(first)
    assert first[0].x == 0
    assert first[-1].x + first[-1].width == pytest.approx(across)
    for one, other in pairwise(first):
        assert one.x + one.width - other.x == pytest.approx(OVERLAP_MM)
    column = [tile for tile in tiles if tile.column == 0]
    assert column[-1].y + column[-1].height == pytest.approx(down)


def test_rings_of_neighbours_lie_on_each_other() -> None:
    """A ring on one sheet's right side is that on the next sheet's left."""
    plan = TiledDrawing("T", "", 404, 304, PrintCanvas())
    drawn = tile_drawing(plan, "letter", "t")
    tiles = tiles_of(plan, "letter")

    def rings(number: int) -> set[tuple[float, float]]:
        tile, window = tiles[number], drawn[number].windows[0]
        found = set()
        for shape in drawn[number].shapes:
            # A ring begins at its left: two arcs of radius 2.
            if shape.d.count("a") == 2:
                x, y = map(float, shape.d[1 : shape.d.index("a")].split())
                found.add(
                    (
                        round(x + 2 - float(window.x) + tile.x, 3),
                        round(y - float(window.y) + tile.y, 3),
                    )
                )
        return found

    for one, other, way in ((0, 1, 0), (0, 3, 1)):
        edge = (tiles[other].x, tiles[other].y)[way] + OVERLAP_MM / 2
        shared = {ring for ring in rings(one) if ring[way] == pytest.approx(edge)}
        assert len(shared) >= 2
        assert shared == {ring for ring in rings(other) if ring[way] == pytest.approx(edge)}


def test_each_sheet_has_its_lines_and_says_where_it_stands() -> None:
    for paper in PAPERS:
        drawn = tile_drawing(TiledDrawing("T", "sub", 404, 304, PrintCanvas()), paper, "t")
        area = AREAS_MM[paper]
        assert len({one.name for one in drawn}) == len(drawn)
        for one in drawn:
            assert (one.width, one.height) == (mm(area[0]), mm(area[1]))
            texts = [letters.text for letters in one.letters]
            assert "100 mm across" in texts
            assert "100 mm up and down" in texts
            assert any(text.startswith("row ") for text in texts)
            assert any("measure both lines" in text for text in texts)


def test_an_outline_closes() -> None:
    assert rectangle_path(1, 2, 10, 5) == "M1 2h10v5h-10Z"
    path = rectangle_path(0, 0, 10, 6, 2)
    assert path == "M2 0h6a2 2 0 0 1 2 2v2a2 2 0 0 1 -2 2h-6a2 2 0 0 1 -2 -2v-2a2 2 0 0 1 2 -2Z"
