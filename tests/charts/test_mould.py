"""Moulds as they are drawn: where each bar stands, how wide its lip is, what a small one counts."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.charts.drawing import InkDrawing, InkShape
from journal.charts.mould import (
    LIP_TIMES,
    Box,
    DrawnBar,
    Lattice,
    cavity_boxes,
    cells_mark,
    key_drawing,
    mould_drawing,
    sensible_row,
    units_per_mm,
)

OBLONG = Lattice(6, 2, face_mm=(80.0, 55.0), radius_mm=8.0)
LOAF = Lattice(1, 1, slices=10, face_mm=(250.0, 90.0))
_START = re.compile(r"M(-?[\d.]+) (-?[\d.]+)")


def drawn(lattice: Lattice, *bars: DrawnBar | None) -> InkDrawing:
    return mould_drawing(lattice, bars)


def of_tone(drawing: InkDrawing, tone: str) -> list[InkShape]:
    """The shapes of a tone."""
    return [shape for shape in drawing.shapes if tone in shape.tone.split()]


def starts(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in _START.findall(path)]


def name_places(drawing: InkDrawing) -> dict[str, tuple[float, float]]:
    """Where the name of each bar stands, by its name."""
    return {one.text.split()[0]: (float(one.x), float(one.y)) for one in drawing.letters}


def test_bars_lie_row_by_row() -> None:
    places = name_places(drawn(OBLONG, *(DrawnBar(f"A{n}", True) for n in range(1, 7))))
    columns = sorted({x for x, _ in places.values()})
    rows = sorted({y for _, y in places.values()})
    assert (len(columns), len(rows)) == (2, 3)
    assert {name: (rows.index(y), columns.index(x)) for name, (x, y) in places.items()} == {
        "A1": (0, 0), "A2": (0, 1), "A3": (1, 0), "A4": (1, 1), "A5": (2, 0), "A6": (2, 1),
    }  # fmt: skip


def test_a_cavity_without_a_bar_stays_empty() -> None:
    drawing = drawn(OBLONG, DrawnBar("A1", True), None, DrawnBar("A3", False))
    (empty,) = of_tone(drawing, "empty")
    assert empty.d.count("M") == 4
    (fit,), (lost,) = of_tone(drawing, "fit"), of_tone(drawing, "cavity")
    assert float(fit.y) < float(lost.y)
    assert fit.x == lost.x
    # Bars of one mould stand on a page once.
    assert (fit.ref, fit.d) == (lost.ref, lost.d)


def test_a_second_mouldful_lies_under_the_first() -> None:
    drawing = drawn(Lattice(2, 2), *(DrawnBar(f"A{n}", None) for n in range(1, 4)))
    places = name_places(drawing)
    assert places["A3"][0] == places["A1"][0]
    assert places["A3"][1] > places["A1"][1]
    assert not of_tone(drawing, "fit")
    assert not of_tone(drawing, "strike")


def test_a_loaf_is_cut_across_its_length() -> None:
    boxes = cavity_boxes(LOAF, 10)
    scale = units_per_mm(LOAF)
    # To the pixel.
    assert all(abs(box.width - 25.0 * scale) < 1 for box in boxes)
    assert all(abs(box.height - 90.0 * scale) < 1 for box in boxes)
    assert [box.x for box in boxes] == sorted(box.x for box in boxes)
    assert len({box.y for box in boxes}) == 1
    upright = cavity_boxes(Lattice(1, 1, slices=10, face_mm=(90.0, 250.0)), 10)
    assert len({box.x for box in upright}) == 1


@pytest.mark.parametrize("lip_mm", [0.1, 0.5, 1.0, 1.8, 2.5])
def test_a_lip_is_as_wide_as_it_says(lip_mm: float) -> None:
    drawing = drawn(OBLONG, DrawnBar("A1", False, lip_mm))
    (bar,) = of_tone(drawing, "cavity")
    # Half of the line lies outside of the bar, where it is cut off.
    assert bar.edged
    lip = float(bar.width) / 2
    assert lip / units_per_mm(OBLONG) == pytest.approx(LIP_TIMES * lip_mm, abs=0.03)


def test_a_lip_never_covers_the_bar() -> None:
    drawing = drawn(OBLONG, DrawnBar("A1", False, 40.0))
    (bar,) = of_tone(drawing, "cavity")
    assert float(bar.width) / 2 == pytest.approx(units_per_mm(OBLONG) * 55.0 / 3, abs=0.2)


@pytest.mark.parametrize("lip_mm", [None, 0.0])
def test_a_bar_without_a_lip_has_no_border_of_one(lip_mm: float | None) -> None:
    drawing = drawn(OBLONG, DrawnBar("A1", True, lip_mm, broken=True))
    (bar,) = of_tone(drawing, "fit")
    assert not bar.width
    assert of_tone(drawing, "broken") == [bar]


def test_the_border_of_a_close_trim_is_broken() -> None:
    drawing = drawn(OBLONG, DrawnBar("A1", True, 1.5, broken=True), DrawnBar("A2", True, 1.5))
    assert [shape.tone for shape in drawing.shapes if shape.width] == ["fit close", "fit"]


def test_strokes_say_lost_and_lifted() -> None:
    def strokes(fit: bool | None, lifted: bool) -> int:
        return sum(
            shape.d.count("M")
            for shape in of_tone(drawn(OBLONG, DrawnBar("A1", fit, lifted=lifted)), "strike")
        )

    assert [strokes(True, False), strokes(False, False), strokes(None, False)] == [0, 1, 0]
    assert [strokes(True, True), strokes(False, True), strokes(None, True)] == [2, 2, 2]


def test_a_long_sign_is_shortened_to_its_letter() -> None:
    narrow = Lattice(9, 3, face_mm=(50.0, 50.0))
    assert drawn(OBLONG, DrawnBar("A1", True, sign="hot")).letters[0].text == "A1 hot"
    assert drawn(narrow, DrawnBar("A1", True, sign="ultramarine")).letters[0].text == "A1 u"


@given(
    st.builds(
        Lattice,
        st.integers(1, 12),
        st.integers(1, 12),
        st.integers(1, 12),
        st.none() | st.tuples(st.floats(5, 400), st.floats(5, 400)),
        st.floats(0, 200),
    ),
    st.integers(1, 40),
)
def test_no_bar_lies_on_another_or_outside(lattice: Lattice, bars: int) -> None:
    drawing = drawn(lattice, *(DrawnBar(f"A{n}", True, 1.0) for n in range(bars)))
    _, _, width, height = map(float, drawing.view_box.split())
    assert width <= 341
    boxes = cavity_boxes(lattice, bars)

    def overlap(one: Box, other: Box) -> bool:
        across = min(one.x + one.width, other.x + other.width) - max(one.x, other.x)
        down = min(one.y + one.height, other.y + other.height) - max(one.y, other.y)
        return across > 1e-6 and down > 1e-6

    for n, box in enumerate(boxes):
        assert box.x >= 0
        assert box.x + box.width <= width + 0.1
        assert box.y + box.height <= height + 0.1
        assert not any(overlap(box, other) for other in boxes[:n])


@given(st.integers(1, 60), st.tuples(st.floats(5, 400), st.floats(5, 400)))
def test_rows_nobody_noted_are_full_or_near_a_square(
    cavities: int, face: tuple[float, float]
) -> None:
    in_row = sensible_row(cavities, face)
    assert 1 <= in_row <= cavities
    rows = math.ceil(cavities / in_row)
    long = abs(math.log(in_row * face[0] / (rows * face[1])))
    if cavities % in_row:
        # No full block is within thrice as long as wide, and none of these longer than one.
        assert all(
            abs(math.log(n * face[0] * n / (cavities * face[1]))) > math.log(3)
            for n in range(1, cavities + 1)
            if cavities % n == 0
        )
    else:
        assert long <= math.log(3) + 1e-9 or all(
            abs(math.log(n * face[0] / (math.ceil(cavities / n) * face[1]))) >= long - 1e-9
            for n in range(1, cavities + 1)
        )


@pytest.mark.parametrize(
    ("cavities", "face", "in_row"),
    [(6, (80.0, 55.0), 2), (9, (50.0, 50.0), 3), (1, (250.0, 90.0), 1), (4, (80.0, 55.0), 2),
     (7, (50.0, 50.0), 3), (2, (55.0, 80.0), 2), (12, (80.0, 55.0), 3)],
)  # fmt: skip
def test_rows_nobody_noted(cavities: int, face: tuple[float, float], in_row: int) -> None:
    assert sensible_row(cavities, face) == in_row


def test_a_mould_has_no_more_cavities_than_it_has() -> None:
    drawing = drawn(Lattice(7, 3), DrawnBar("A1", True))
    (empty,) = of_tone(drawing, "empty")
    assert empty.d.count("M") == 6


def run_cells(path: str, more: int = 1) -> int:
    """How many cells of 5 and a gap of 1 the lines of a path are broken into."""
    lengths = [int(length) + more for length in re.findall(r"h(\d+)", path)]
    assert not any(length % 6 for length in lengths)
    return sum(lengths) // 6


@given(st.text("yno.", min_size=1, max_size=60), st.integers(1, 12))
def test_a_small_mould_counts_what_it_is_given(cells: str, in_row: int) -> None:
    mark = cells_mark(cells, in_row)
    assert run_cells(mark.cells) == len(cells) - cells.count(".")
    assert run_cells(mark.hollow) == cells.count("n") + cells.count("o")
    assert run_cells(mark.struck, 0) == cells.count("n")
    _, _, width, height = map(float, mark.view_box.split())
    assert all(x <= width and y <= height for x, y in starts(mark.cells + mark.hollow))


def test_a_small_mould_has_each_cell_in_its_place() -> None:
    mark = cells_mark("yn.on", 2)
    assert mark.view_box == "0 0 11 14"
    assert mark.cells == "M0 2h11M6 7h5M0 12h5"
    assert mark.hollow == "M6 2h5M6 7h5M0 12h5"
    # The slant takes the strokes of the third row two cells to the left.
    assert mark.struck == "M6 2h6M12 12h6"


def test_a_small_mould_costs_few_bytes() -> None:
    # A list of 300 designs is to stay under 150 kB.
    mark = cells_mark("y" * 14 + "n" * 10, 10)
    assert len(mark.cells + mark.hollow + mark.struck) < 75


def test_the_key_has_a_cell_a_mark_as_large_as_the_bars() -> None:
    marks = [DrawnBar("fit to sell", True), DrawnBar("not fit", False)]
    like = Lattice(6, 2, 1, (80.0, 55.0), 8.0)
    key, mould = key_drawing(marks, like), mould_drawing(like, marks)
    assert [label.text for label in key.letters] == ["fit to sell", "not fit"]
    # Its cells are the outlines that the bars have; no tray lies round them.
    bars = {shape.ref for shape in mould.shapes if shape.edged}
    assert {shape.ref for shape in key.shapes if shape.edged} == bars
    assert "tray" not in [shape.tone for shape in key.shapes]
    # In the slice of a loaf no word has room.
    loaf = key_drawing(marks, Lattice(1, 1, 10, (240.0, 80.0)))
    assert {shape.ref for shape in loaf.shapes if shape.edged}.isdisjoint(bars)
