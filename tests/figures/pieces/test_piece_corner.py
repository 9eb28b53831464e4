"""The corners of a piece in the corners of its cavity."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.pieces.piece_corner import CORNER_STEP_MM, piece_corner


@pytest.mark.parametrize(
    ("piece", "face", "corner", "radius"),
    [
        # a 3, b 5.5, R 7: 9 + 30.25 is below 49, so sharp.
        ((70, 50), (80, 55), 8, 0.0),
        # a 5, b 6.5, R 7: 11.5 - 7 - sqrt(2 x 2 x 0.5) = 3.086.
        ((74, 52), (80, 55), 8, 3.5),
        # As large as it may be: the cavity's own curve, 1 mm inside it.
        ((78, 53), (80, 55), 8, 7.0),
        ((40, 30), (80, 55), 8, 0.0),
        ((78, 53), (80, 55), 0, 0.0),
        # A corner sharper than the clearance needs no rounding.
        ((78, 53), (80, 55), 0.5, 0.0),
    ],
)
def test_by_hand(
    piece: tuple[float, float], face: tuple[float, float], corner: float, radius: float
) -> None:
    assert piece_corner(piece, face, corner) == pytest.approx(radius)


@given(st.floats(40, 200), st.floats(40, 200), st.floats(1, 10), st.floats(1, 10), st.floats(0, 15))
def test_no_point_of_the_corner_comes_nearer_than_the_clearance(
    wide: float, high: float, gap_x: float, gap_y: float, corner: float
) -> None:
    piece = (wide - 2 * gap_x, high - 2 * gap_y)
    radius = piece_corner(piece, (wide, high), corner)
    assert radius >= 0
    assert radius == pytest.approx(round(radius / CORNER_STEP_MM) * CORNER_STEP_MM) or (
        radius == pytest.approx(min(piece) / 2)
    )
    # The arc of the piece's corner, in the quarter of the cavity's corner.
    for part in range(21):
        angle = math.pi * (1 + part / 40)
        x = gap_x + radius * (1 + math.cos(angle))
        y = gap_y + radius * (1 + math.sin(angle))
        if x < corner and y < corner:
            assert math.hypot(corner - x, corner - y) <= max(corner - 1, 0) + 1e-6


@pytest.mark.parametrize(
    ("piece", "face", "corner", "said"),
    [
        ((79, 50), (80, 55), 8, "is too large for a face of"),
        ((0, 50), (80, 55), 8, "a piece of .* mm in a face of"),
        ((70, 50), (80, math.nan), 8, "a piece of .* mm in a face of"),
        ((70, 50), (80, 55), -1, "a corner of -1 mm"),
    ],
)
def test_what_cannot_be_is_refused(
    piece: tuple[float, float], face: tuple[float, float], corner: float, said: str
) -> None:
    with pytest.raises(FigureError, match=said):
        piece_corner(piece, face, corner)
