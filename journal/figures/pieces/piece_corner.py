"""The radius that the corners of a mat piece need to lie in a cavity with rounded corners."""

from __future__ import annotations

import math

from journal.errors import FigureError
from journal.figures.pieces.cut_plan import CLEARANCE_MM, SizeMm

# Scissors follow half a millimetre; the radius is rounded up to it.
CORNER_STEP_MM = 0.5


def piece_corner(piece_mm: SizeMm, face_mm: SizeMm, corner_radius_mm: float) -> float:
    """The least radius that keeps a piece's corners clear of the cavity's curve.

    With the piece in the middle of the cavity, a and b the distances from the centre of
    the cavity's corner to the piece's two edges, and R the cavity's radius less the
    clearance: a sharp corner is clear if a^2 + b^2 <= R^2. Else its arc of radius p
    touches the curve from within where (a - p)^2 + (b - p)^2 = (R - p)^2, so
    p = a + b - R - sqrt(2 (R - a) (R - b)).

    Takes:  piece_mm      > 0, no larger than the face less the clearance
            face_mm       > 0
            corner_radius_mm     radius of the cavity's corners; >= 0
    Gives:  mm, rounded up to half a millimetre; 0 where a sharp corner is clear
    Fails:  FigureError if any lies outside its range
    Source: definition (circle within a circle)
    Checked: 74 x 52 in 80 x 55 with corners of 8: a 5, b 6.5, R 7 gives 3.09, so 3.5
    """
    for length in (*piece_mm, *face_mm):
        if not (math.isfinite(length) and length > 0):
            raise FigureError(f"a piece of {piece_mm} mm in a face of {face_mm} mm")
    if not (math.isfinite(corner_radius_mm) and corner_radius_mm >= 0):
        raise FigureError(f"a corner of {corner_radius_mm} mm; it cannot be below 0")
    reach = max(0.0, corner_radius_mm - CLEARANCE_MM)
    gaps = [(face - piece) / 2 for face, piece in zip(face_mm, piece_mm, strict=True)]
    if min(gaps) < CLEARANCE_MM - 1e-6:
        raise FigureError(f"a piece of {piece_mm} mm is too large for a face of {face_mm} mm")
    a, b = (min(reach, corner_radius_mm - gap) for gap in gaps)
    if a <= 0 or b <= 0 or math.hypot(a, b) <= reach:
        return 0.0
    radius = a + b - reach - math.sqrt(2 * (reach - a) * (reach - b))
    rounded = math.ceil(radius / CORNER_STEP_MM - 1e-9) * CORNER_STEP_MM
    return min(rounded, min(piece_mm) / 2)
