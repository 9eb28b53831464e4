from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.quantities.path_data import (
    PathError,
    PathSegment,
    bounds,
    joined,
    moved,
    on_points,
    read_path,
    read_transform,
)


def lines(text: str) -> list[tuple[str, tuple[float, ...]]]:
    return [
        (command, tuple(round(number, 6) for point in points for number in point))
        for command, points in read_path(text)
    ]


# SVG 1.1 (second edition), 8.3.1, 8.3.2 and 8.3.9: texts that it says are the same.
SAME = [
    # "superfluous white space and separators such as commas can be eliminated"
    ("M 100 100 L 200 200", "M100 100L200 200"),
    # "the command letter can be eliminated on subsequent commands"
    ("M 100 200 L 200 100 L -100 -200", "M 100 200 L 200 100 -100 -200"),
    # "if a moveto is followed by multiple pairs, they are treated as implicit lineto commands"
    ("M 100 200 L 200 100", "M 100 200 200 100"),
    ("M 100 200 l 100 -100", "m 100 200 100 -100"),
    # "M 100-200": the minus begins the second number; "M 0.6.5": so does the second point
    ("M 100 -200 L 0 0", "M 100-200L0 0"),
    ("M 0.6 0.5 L 0 0", "M 0.6.5L0 0"),
    # relative commands are those of the current point; H and V are lines
    ("M 10 10 H 20 V 30", "M10,10h10v20"),
    # 9.3.9 of SVG 2: a flag is one character, and needs nothing behind it
    ("M0 0A5 5 0 0 1 10 0", "M0 0a5 5 0 0110 0"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "other"), SAME)
def test_texts_that_the_specification_calls_the_same(text: str, other: str) -> None:
    assert lines(text) == lines(other)
    assert len(lines(text)) > 1


def test_the_triangle() -> None:
    """SVG 1.1, example triangle01."""
    assert lines("M 100 100 L 300 100 L 200 300 z") == [
        ("M", (100, 100)), ("L", (300, 100)), ("L", (200, 300)), ("Z", ()),
    ]  # fmt: skip


def test_smooth_curves_mirror_the_last_handle() -> None:
    """SVG 1.1, examples cubic01 and quad01; the mirrored handles are drawn in its figures."""
    _, first, second = lines("M100,200 C100,100 250,100 250,200 S400,300 400,200")
    assert first == ("C", (100, 100, 250, 100, 250, 200))
    assert second == ("C", (250, 300, 400, 300, 400, 200))
    # The quadratic's handle at (400, 50) is mirrored at (600, 300) to (800, 550): as a cubic, two
    # thirds of the way from each end to it.
    _, one, two = lines("M200,300 Q400,50 600,300 T1000,300")
    assert one == ("C", (333.333333, 133.333333, 466.666667, 133.333333, 600, 300))
    assert two == ("C", (733.333333, 466.666667, 866.666667, 466.666667, 1000, 300))
    # "if there is no previous command, or it was of another kind, the handle is the current point"
    assert lines("M0 0L10 0S20 10 20 0")[2] == ("C", (10, 0, 20, 10, 20, 0))


def test_the_pie() -> None:
    """SVG 1.1, example arcs01: three quarters of a circle of 150 about (300, 200)."""
    found = read_path("M300,200 h-150 a150,150 0 1,0 150,-150 z")
    curves = [segment.points for segment in found if segment.command == "C"]
    assert len(curves) == 3
    for *_, end in curves:
        assert math.dist(end, (300, 200)) == pytest.approx(150)
    assert curves[-1][-1] == (300, 50)
    low, high = bounds(found) or ((0, 0), (0, 0))
    assert low == pytest.approx((150, 50), abs=0.05)
    assert high == pytest.approx((450, 350), abs=0.05)


def test_arcs_out_of_range() -> None:
    """SVG 1.1, F.6.2 and F.6.6: no arc, a line, and radii that are enlarged."""
    assert lines("M5 5A9 9 0 0 1 5 5") == [("M", (5, 5))]
    assert lines("M0 0A0 9 0 0 1 5 5") == [("M", (0, 0)), ("L", (5, 5))]
    # A half circle of radius 10 over a chord of 20, though 1 was written; of either sign.
    low, high = bounds(read_path("M0 0A-1 1 0 0 1 20 0")) or ((0, 0), (0, 0))
    assert (low[1], high[1]) == pytest.approx((-10, 0), abs=0.01)


@pytest.mark.parametrize(
    ("text", "offset"),
    [
        ("L1 1", 0), ("M1", 2), ("M1 1 2", 6), ("M,1 1", 1), ("M1,,1", 3), ("M1 1L", 5),
        ("M1 1,", 5), ("M1 1X2 2", 4), ("M0 0a5 5 0 2 1 9 9", 11), ("M1 1e999", 3), ("M1 1z9", 5),
        ("M1 0x10", 4), ("M1 1L\u0661 1", 5), ("M1 NaN", 3), ("M1e7 0", 1),
    ],
)  # fmt: skip
def test_what_is_no_path(text: str, offset: int) -> None:
    with pytest.raises(PathError) as raised:
        read_path(text)
    assert raised.value.offset == offset


def test_a_path_is_bounded() -> None:
    assert len(read_path("M0 0" + "h1" * 1999)) == 2000
    with pytest.raises(PathError, match="more than 2000"):
        read_path("M0 0" + "h1" * 2000)
    assert read_path("") == ()


def test_transforms() -> None:
    """SVG 1.1, 7.6: applied as if each were a group within the one before it."""
    assert moved(read_transform("translate(50 90) scale(2)"), (1, 1)) == (52, 92)
    assert moved(read_transform("scale(2),translate(5)"), (1, 1)) == (12, 2)
    assert moved(read_transform("scale(2 -1)"), (3, 4)) == (6, -4)
    assert moved(read_transform(" matrix(1 2 3 4 5 6) "), (1, 1)) == (9, 12)
    assert read_transform("") == (1, 0, 0, 1, 0, 0)
    for wrong in ("rotate(45)", "scale()", "matrix(1 2 3)", "translate(1 2 3)", "scale(2)x"):
        with pytest.raises(PathError):
            read_transform(wrong)


numbers = st.floats(-100, 100).map(lambda number: round(number, 3))
matrices = st.tuples(*[numbers] * 6)


@examples(40)
@given(matrices, matrices, st.tuples(numbers, numbers))
def test_joined_matrices_move_as_one_after_the_other(
    outer: tuple[float, ...], inner: tuple[float, ...], point: tuple[float, float]
) -> None:
    both = joined(outer, inner)  # type: ignore[arg-type]
    step = moved(outer, moved(inner, point))  # type: ignore[arg-type]
    assert moved(both, point) == pytest.approx(step, abs=1e-6)


@examples(40)
@given(st.lists(st.tuples(numbers, numbers), min_size=4, max_size=4))
def test_bounds_hold_the_curve(points: list[tuple[float, float]]) -> None:
    start, *handles = points
    path = (PathSegment("M", (start,)), PathSegment("C", tuple(handles)))
    low, high = bounds(path) or ((0, 0), (0, 0))
    for n in range(101):
        t = n / 100
        for axis in (0, 1):
            p, q, r, s = (point[axis] for point in points)
            u = 1 - t
            at = u**3 * p + 3 * u * u * t * q + 3 * u * t * t * r + t**3 * s
            assert low[axis] - 1e-6 <= at <= high[axis] + 1e-6
    # And no wider than the points that pull at it.
    for axis in (0, 1):
        assert min(point[axis] for point in points) - 1e-6 <= low[axis]
        assert high[axis] <= max(point[axis] for point in points) + 1e-6


def test_moving_keeps_commands() -> None:
    path = read_path("M0 0L1 2Z")
    assert on_points(path, lambda point: (point[0] + 1, point[1])) == read_path("M1 0L2 2Z")
