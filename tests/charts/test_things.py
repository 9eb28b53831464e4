"""Bars, moulds, mats and pieces are drawn to scale: sizes are read back out of the drawings."""

from __future__ import annotations

import re

import pytest

from journal.charts.drawing import InkDrawing, InkShape
from journal.charts.mould import Lattice
from journal.charts.things import (
    DrawnMotif,
    DrawnPart,
    DrawnPiece,
    PlateBar,
    bar_from_above,
    bar_in_ink,
    motif_path,
    mould_from_above,
    piece_from_above,
    rectangle,
    sheet_from_above,
)
from journal.quantities.path_data import bounds, read_path

KELP = DrawnMotif((64.0, 44.0), "M-32-22H32V22H-32Z")
PARTS = (DrawnPart("#ffffff"), DrawnPart("#8b9aa0"))
BAR = PlateBar((80.0, 55.0), 8.0, PARTS, (70.0, 50.0), 2.0, KELP)


def size(shape: InkShape) -> tuple[float, float]:
    """What a shape measures in the drawing's units."""
    low, high = bounds(read_path(shape.d)) or ((0, 0), (0, 0))
    return (round(high[0] - low[0], 2), round(high[1] - low[1], 2))


def middle(shape: InkShape) -> tuple[float, float]:
    if shape.x:
        return (float(shape.x), float(shape.y))
    low, high = bounds(read_path(shape.d)) or ((0, 0), (0, 0))
    return (round((high[0] + low[0]) / 2, 2), round((high[1] + low[1]) / 2, 2))


def em_per_unit(drawing: InkDrawing) -> float:
    return float(drawing.width.removesuffix("em")) / float(drawing.view_box.split()[2])


def test_a_bar_measures_what_the_shelf_says() -> None:
    drawing = bar_from_above(BAR, "bar", "A bar", "80 x 55 mm", 0.12)
    ground, piece, motif = drawing.shapes
    assert [size(shape) for shape in drawing.shapes] == [(80, 55), (70, 50), (64, 44)]
    assert {middle(shape) for shape in drawing.shapes} == {(40, 27.5)}
    assert (ground.fill, piece.tone, motif.fill) == ("#8b9aa0", "trace", "#ffffff")
    assert "a8 8 0 0 1" in ground.d
    assert em_per_unit(drawing) == pytest.approx(0.12, rel=1e-3)


def test_bars_on_a_plate_are_at_one_scale() -> None:
    square = PlateBar((50.0, 50.0), 10.0, PARTS[1:])
    scales = [em_per_unit(bar_from_above(bar, "bar", "", "", 0.12)) for bar in (BAR, square)]
    assert scales[0] == pytest.approx(scales[1], rel=1e-3)


def test_an_outline_fills_its_motif_and_keeps_its_proportions() -> None:
    path = read_path("M0 0H30V10z")
    low, high = bounds(read_path(motif_path(path, (30, 10), (64, 44)))) or ((0, 0), (0, 0))
    assert (low, high) == ((-32, -10.7), (32, 10.7))
    curved = read_path("M0 5A5 5 0 0 1 10 5A5 5 0 0 1 0 5z")
    low, high = bounds(read_path(motif_path(curved, (10, 10), (64, 44)))) or ((0, 0), (0, 0))
    assert (*low, *high) == pytest.approx((-22, -22, 22, 22), abs=0.1)


def test_a_motif_that_its_piece_crops_is_what_is_left_of_it() -> None:
    bar = PlateBar((50.0, 50.0), 10.0, PARTS, (48.0, 48.0), 0.0, KELP)
    motif = bar_from_above(bar, "bar", "", "", 0.12).shapes[2]
    assert size(motif) == (48, 44)
    assert not motif.x


def test_what_has_no_colour_is_hatched_and_no_guess() -> None:
    parts = (DrawnPart(""), DrawnPart(""))
    bar = PlateBar((80.0, 55.0), 8.0, parts, (70.0, 50.0), 2.0, KELP)
    ground, _, motif = bar_from_above(bar, "bar", "", "", 0.12).shapes
    assert [(one.tone, one.fill) for one in (ground, motif)] == [
        ("bar unknown", ""),
        ("unknown", ""),
    ]


def test_a_bar_cut_from_a_block_shows_its_layers_by_their_share() -> None:
    parts = (DrawnPart("#aaaaaa", 0.75), DrawnPart("#bbbbbb", 0.25))
    *bands, edge = bar_from_above(
        PlateBar((90.0, 60.0), 0.0, parts, cut=True), "bar", "", "", 0.12
    ).shapes
    assert [(size(one), middle(one)[1], one.fill) for one in bands] == [
        ((90, 45), 37.5, "#aaaaaa"), ((90, 15), 7.5, "#bbbbbb"),
    ]  # fmt: skip
    assert size(edge) == (90, 60)


def test_a_mould_has_its_cavities() -> None:
    drawing = mould_from_above(Lattice(6, 3, 1, (80.0, 55.0), 8.0), "mould", "", "", 0.12)
    assert [size(shape) for shape in drawing.shapes] == [(80, 55)] * 6
    places = [middle(shape) for shape in drawing.shapes]
    assert len(set(places)) == 6
    for one in places:
        for other in places:
            apart = abs(one[0] - other[0]), abs(one[1] - other[1])
            assert one == other or apart[0] >= 80 or apart[1] >= 55
    one = mould_from_above(Lattice(1, 1, 1, (250.0, 90.0), 10.0), "mould", "", "", 0.12)
    assert [size(shape) for shape in one.shapes] == [(250, 90)]


def test_a_sheet_has_its_pieces_where_they_are_cut() -> None:
    pieces = [DrawnPiece((50.0, 40.0), (70.0, 50.0), 2.0), DrawnPiece((150.0, 40.0), (70.0, 50.0))]
    sheet, *rest = sheet_from_above((400.0, 300.0), pieces, KELP, "s", "", "", 0.1).shapes
    assert (size(sheet), middle(sheet)) == ((400, 300), (200, 150))
    cuts = [shape for shape in rest if shape.tone == "cutline"]
    assert [(size(cut), middle(cut)) for cut in cuts] == [
        ((70, 50), (50, 40)),
        ((70, 50), (150, 40)),
    ]
    assert [middle(one) for one in rest if one.tone == "relief"] == [(50, 40), (150, 40)]


@pytest.mark.parametrize(("share", "wide"), [(0.25, 17.5), (1.0, 70.0)])
def test_a_piece_shows_how_much_of_its_life_is_over(share: float, wide: float) -> None:
    piece = DrawnPiece((35.0, 25.0), (70.0, 50.0))
    cut, _, past, life = piece_from_above(piece, KELP, share, "p", "", "", 0.1).shapes
    assert (size(cut), size(past)[0], size(life)[0]) == ((70, 50), wide, 70)
    assert len(piece_from_above(piece, None, None, "p", "", "", 0.1).shapes) == 1
    assert len(piece_from_above(piece, None, 0.0, "p", "", "", 0.1).shapes) == 2


def test_a_bar_in_ink_needs_no_page_around_it() -> None:
    drawing = bar_in_ink(BAR)
    assert drawing is not None
    assert not any(shape.ref for shape in drawing.shapes)
    assert {shape.fill for shape in drawing.shapes} == {"#000", "#fff"}
    assert size(drawing.shapes[2]) == (64, 44)
    assert bar_in_ink(PlateBar((50.0, 50.0), 10.0, PARTS[1:])) is None


def test_a_rectangle_is_closed_and_no_corner_is_too_round() -> None:
    for corner in (0.0, 3.0, 99.0):
        d = rectangle((0.0, 0.0), (20.0, 10.0), corner)
        assert size(InkShape(d)) == (20, 10)
        assert d.endswith("z")
        assert re.findall(r"a([\d.]+)", d)[:1] == ([] if not corner else [f"{min(corner, 5):g}"])


@pytest.mark.parametrize(
    ("fill", "tone"), [("#ffffff", "motif"), ("#f6f1e6", "motif"), ("#8b9aa0", ""), ("", "motif")]
)
def test_a_motif_that_is_hardly_seen_has_a_line_around_it(fill: str, tone: str) -> None:
    parts = (DrawnPart("#ffffff"), DrawnPart(fill))
    bar = PlateBar((80.0, 55.0), 8.0, parts, (70.0, 50.0), 2.0, KELP)
    assert bar_from_above(bar, "bar", "", "", 0.12).shapes[2].tone == tone
