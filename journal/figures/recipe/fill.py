"""Capacity of a cavity, how full it gets, and how far the bar stands proud of it."""

from __future__ import annotations

import math

from journal.errors import FigureError

# A block that is cut into bars and fills less of its cavity than this cools and sets as a slab,
# and its bars are lower than the mould's. Common practice, no source.
LEAST_BLOCK_FILL = 0.5

NumberRange = tuple[float, float]
# A bar that stands further proud is tedious to plane.
# Common practice, no source.
PROUD_LIMIT_MM = 2.0


def rounded_rectangle_area(width_mm: float, height_mm: float, corner_radius_mm: float) -> float:
    """Area of a rectangle with rounded corners, in mm2.

    Takes:  width_mm, height_mm  > 0; corner_radius_mm  radius, 0 to half the shorter side
    Gives:  mm2
    Fails:  FigureError outside these ranges
    Source: definition (geometry): w h - (4 - pi) r^2
    """
    if (
        not min(width_mm, height_mm) > 0
        or not 0 <= corner_radius_mm <= min(width_mm, height_mm) / 2
    ):
        raise FigureError(
            f"a face of {width_mm} x {height_mm} mm with corners of {corner_radius_mm} mm"
        )
    return width_mm * height_mm - (4 - math.pi) * corner_radius_mm**2


def capacity_by_mass(holds_g: NumberRange, density_g_ml: NumberRange) -> NumberRange:
    """Volume of a cavity that holds a given mass of base, in mL.

    Takes:  holds_g       low and high; grams; > 0
            density_g_ml  low and high of that base; > 0
    Gives:  (least, largest) mL
    Fails:  FigureError for a value not above 0
    Source: definition
    """
    if not min(*holds_g, *density_g_ml) > 0:
        raise FigureError(f"a cavity for {holds_g} g of {density_g_ml} g/mL")
    return holds_g[0] / density_g_ml[1], holds_g[1] / density_g_ml[0]


def capacity_by_size(face_area_mm2: float, depth_mm: float) -> NumberRange:
    """Volume of a cavity with upright walls, in mL.

    Takes:  face_area_mm2, depth_mm  > 0
    Gives:  (mL, mL), twice the same: a drawing has no range
    Fails:  FigureError for a value not above 0
    Source: definition (geometry)
    """
    if not min(face_area_mm2, depth_mm) > 0:
        raise FigureError(f"a cavity of {face_area_mm2} mm2 by {depth_mm} mm")
    volume_ml = face_area_mm2 * depth_mm / 1000
    return volume_ml, volume_ml


def silicone_volume(
    width_mm: float, height_mm: float, thickness_mm: float, relief_ml: float
) -> float:
    """Silicone in a piece: its outline times its thickness less its relief, in mL.

    Takes:  width_mm, height_mm, thickness_mm  > 0; relief_ml  >= 0
    Gives:  mL, never below 0
    Fails:  FigureError outside these ranges
    Source: definition (geometry)
    """
    if not min(width_mm, height_mm, thickness_mm) > 0 or relief_ml < 0:
        raise FigureError(
            f"a piece of {width_mm} x {height_mm} x {thickness_mm} mm, relief {relief_ml} mL"
        )
    return max(0.0, width_mm * height_mm * thickness_mm / 1000 - relief_ml)


def fill_share(in_cavity_ml: float, capacity_ml: NumberRange) -> NumberRange:
    """The filled share of a cavity, as a range of fractions.

    Takes:  in_cavity_ml  base, fragrance, colour and silicone; mL; >= 0
            capacity_ml   (least, largest); > 0
    Gives:  (least, largest); the largest belongs to the smallest capacity
    Fails:  FigureError outside these ranges
    Source: definition
    """
    if in_cavity_ml < 0 or not min(capacity_ml) > 0:
        raise FigureError(f"{in_cavity_ml} mL in a cavity of {capacity_ml} mL")
    return in_cavity_ml / capacity_ml[1], in_cavity_ml / capacity_ml[0]


def proud(in_cavity_ml: float, capacity_ml: NumberRange, face_area_mm2: float) -> NumberRange:
    """The height by which the bar stands out of its cavity, in mm; 0 where it does not.

    Takes:  as ``fill_share``; face_area_mm2  of the open face; > 0
    Gives:  (least, largest) mm
    Fails:  FigureError outside these ranges
    Source: definition: volume in excess / area of the face
    """
    fill_share(in_cavity_ml, capacity_ml)
    if not face_area_mm2 > 0:
        raise FigureError(f"a face of {face_area_mm2} mm2")
    least, largest = (
        max(0.0, in_cavity_ml - capacity) * 1000 / face_area_mm2
        for capacity in (capacity_ml[1], capacity_ml[0])
    )
    return least, largest
