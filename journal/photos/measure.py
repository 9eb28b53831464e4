"""Measure a photo of a bar: the colours of regions, and how far one has bled into another.

Colours are means in light, given as sRGB, CIE Lab (D65) and plain words, and come with how far
(in CIEDE2000) the truth may lie. The scale comes from the photo card, from two points a known
distance apart or from mm a pixel; colours are set right by the card or by a neutral of known
level, and without either said to be uncorrected.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.colour.spaces import (
    Triple,
    ciede2000,
    linear_to_lab,
    linear_to_srgb,
    plain_words,
    srgb_to_linear,
)
from journal.photos import light as photo_light
from journal.photos.arrays import Array, np
from journal.photos.card import RULER_MM
from journal.photos.edge import PixelLine, ToMm, fit_edge, samples_by_line
from journal.photos.find_card import FoundCard, find_card
from journal.photos.measurement import BleedWidth, Corrected, MeasuredRegion, Measurement
from journal.photos.source import PhotoProblem
from journal.photos.steps import rounding_corners


class GivenScale(Struct, frozen=True):
    """A scale given by hand, and how far it may be wrong as a share of it."""

    mm_per_px: float
    share_error: float = 0.0


_POINT_PIXELS = 1.0  # how far off either of two points may be set by hand


def scale_between(
    start: tuple[float, float], end: tuple[float, float], distance_mm: float
) -> GivenScale:
    """The scale by two points of the picture a known distance apart.

    Either point may be a pixel off, which goes into the intervals.

    Takes:  start, end   pixels; apart
            distance_mm  > 0
    Fails:  FigureError if the points are not 2 pixels apart or the distance is no length
    Source: definition
    Checked: (0, 0), (300, 400) and 50 mm give 0.1 mm a pixel
    """
    if not all(map(math.isfinite, (*start, *end, distance_mm))) or distance_mm <= 0.0:
        raise FigureError(
            f"a scale needs two points and a distance, not {start}, {end}, {distance_mm}"
        )
    pixels = math.dist(start, end)
    if pixels < 2.0:
        raise FigureError(f"the two points of a scale lie only {pixels:g} pixels apart")
    return GivenScale(distance_mm / pixels, math.sqrt(2.0) * _POINT_PIXELS / pixels)


class CardPose(Struct, frozen=True):
    """A scale that the photo card gives, and how the card lay.

    ``above_mm`` is how much nearer to the lens the measured face is than the card (0: level,
    as on the folding stand), ``above_error_mm`` how well that is known; ``camera_mm`` the lens's
    distance from the card, None to take it from the photo where it says so, and else to allow
    for 300 to 700 mm; ``ruler_mm`` what the printed ruler of 100 mm really measures.
    """

    above_mm: float = 0.0
    above_error_mm: float = 1.0
    camera_mm: float | None = None
    ruler_mm: float = RULER_MM


class NeutralPatch(Struct, frozen=True):
    """A grey of known level in the picture: an sRGB code, the same for all three channels."""

    box: photo_light.PixelBox
    srgb: float


def measure(
    picture: photo_light.PhotoPixels,
    *,
    regions: Sequence[tuple[str, photo_light.PixelBox]] = (),
    across: PixelLine | None = None,
    scale: GivenScale | CardPose | None = None,
    neutral: NeutralPatch | None = None,
    blur_px: float | None = None,
) -> Measurement:
    """Measure the colours of regions of a picture, and the width of an edge in it.

    Takes:  regions  names and boxes, pixels of the upright picture
            across   a line across an edge, from plain body to plain detail
            scale    by hand or by the photo card; without one an edge has no width in mm
            neutral  a grey of known level; the card, where there is one, is used instead
            blur_px  standard deviation of the lens blur, pixels; taken out where it is given
    Fails:  PhotoProblem when it cannot be measured, with the reason and a hint
    """
    notes = list(picture.notes)
    _refuse_meaningless(scale, neutral, blur_px)
    card, plane = None, None
    if isinstance(scale, CardPose):
        card = find_card(picture)
        plane = _plane_by_card(picture, card, scale)
        notes += plane.notes
    elif scale is not None:
        plane = _plane_by_hand(scale)

    light = _correcting_light(picture, card, neutral, tuple(box for _, box in regions))
    measured = tuple(_region_colour(picture, name, box, light) for name, box in regions)
    if any(region.clipped for region in measured):
        notes.append("a region is clipped: its colour is beyond what the photo holds")
    if regions and light.corrected == "none":
        notes.append("colours are uncorrected: no photo card and no neutral of known level")

    bleed, scale_here = None, None if plane is None else plane.scale_at(across)
    if across is not None:
        if plane is None:
            notes.append("no scale is given, so the bleed has no width in mm")
        else:
            bleed = _bleed_width(picture, across, plane, blur_px or 0.0)
            if blur_px is None:
                notes.append("the blur of the lens is not known and is part of the bleed's width")
    return Measurement(
        scale_mm_per_px=scale_here,
        scale_error=0.0 if plane is None else plane.error,
        corrected=light.corrected,
        regions=measured,
        bleed=bleed,
        notes=tuple(notes),
    )


def _refuse_meaningless(
    scale: GivenScale | CardPose | None, neutral: NeutralPatch | None, blur_px: float | None
) -> None:
    """Raise PhotoProblem for numbers that mean nothing."""
    if blur_px is not None and not (math.isfinite(blur_px) and blur_px >= 0.0):
        raise PhotoProblem(f"a lens blur of {blur_px} px means nothing", "Give pixels from 0 up")
    if neutral is not None and not 8.0 <= neutral.srgb <= 250.0:
        raise PhotoProblem(
            f"a neutral of level {neutral.srgb:g} is too near to black or white to go by",
            "Use a grey with an sRGB level between 8 and 250",
        )
    if isinstance(scale, GivenScale):
        if not (math.isfinite(scale.mm_per_px) and scale.mm_per_px > 0.0):
            raise PhotoProblem(
                f"a scale of {scale.mm_per_px} mm/px means nothing", "Give mm a pixel, above 0"
            )
    elif scale is not None:
        camera = scale.camera_mm
        lengths = (scale.above_error_mm, scale.ruler_mm, 1.0 if camera is None else camera)
        if not all(math.isfinite(v) and v >= 0.0 for v in lengths) or not (
            50.0 <= scale.ruler_mm <= 200.0 and abs(scale.above_mm) < 150.0
        ):
            raise PhotoProblem(
                "the photo card's height, distance or ruler is no length that it can have",
                "Give the height of the face over the card and the ruler's length in mm",
            )


# ---------------------------------------------------------------- where things lie


class _Plane(Struct, frozen=True):
    """Turns pixels into mm on the measured face; ``error`` is that of lengths, as a share.

    ``middle`` is a pixel, that of the card if there is one.
    """

    to_mm: ToMm
    error: float
    notes: tuple[str, ...] = ()
    middle: tuple[float, float] = (0.0, 0.0)

    def scale_at(self, across: PixelLine | None) -> float:
        """mm a pixel at the middle of the line, or else of the card or at the picture's corner."""
        x, y = self.middle
        if across is not None:
            x, y = (across.x1 + across.x2) / 2, (across.y1 + across.y2) / 2
        at_x, at_y = self.to_mm(np.array([x, x + 1.0, x]), np.array([y, y, y + 1.0]))
        right = at_x[1] - at_x[0], at_y[1] - at_y[0]
        down = at_x[2] - at_x[0], at_y[2] - at_y[0]
        return math.sqrt(abs(float(right[0] * down[1] - right[1] * down[0])))


def _plane_by_hand(scale: GivenScale) -> _Plane:
    """The face's plane by a scale that is the same all over the picture."""

    def to_mm(x: Array, y: Array) -> tuple[Array, Array]:
        return x * scale.mm_per_px, y * scale.mm_per_px

    return _Plane(to_mm, scale.share_error)


_CAMERA_MM = (300.0, 700.0)  # how far a hand-held phone is from what it photographs
_FILM_DIAGONAL_MM = 43.27  # of 35 mm film, 36 x 24 mm (CIPA DCG-001 goes by the diagonal)
_FOCAL_ERROR = 0.15  # share: close focus draws the lens out, a crop goes unsaid


def _plane_by_card(picture: photo_light.PhotoPixels, card: FoundCard, pose: CardPose) -> _Plane:
    """The face's plane, which lies level with the card or a known height above it."""
    printed = pose.ruler_mm / RULER_MM
    notes: list[str] = []
    nearest, camera, farthest = _camera_mm(picture, card, pose, printed)
    if pose.above_mm >= nearest:
        raise PhotoProblem(
            f"the face cannot lie {pose.above_mm:g} mm above the card, "
            f"with the lens {camera:.0f} mm away",
            "Check the height of the face over the card",
        )
    nearer = pose.above_mm / camera
    shrink = printed * (1.0 - nearer)
    # what remains: the height as well as it is known, the distance as well as it is known
    height_error = pose.above_error_mm / camera
    distance_error = abs(pose.above_mm) * (1.0 / nearest - 1.0 / farthest) / 2.0
    error = math.hypot(card.scale_error, height_error, distance_error)
    if pose.above_mm == 0.0:
        notes.append(
            "lengths hold for a face level with the card; one 25 mm nearer to the lens would read "
            f"{25.0 / (camera - 25.0):.0%} too large"
        )
    if picture.focal_35_mm is None and pose.camera_mm is None and pose.above_mm:
        notes.append(
            "the distance of the lens is not known: 300 to 700 mm is allowed for in the interval"
        )

    def to_mm(x: Array, y: Array) -> tuple[Array, Array]:
        across, down = card.on_card(x, y)
        return across * shrink, down * shrink

    return _Plane(to_mm, error, tuple(notes), card.middle)


def _camera_mm(
    picture: photo_light.PhotoPixels, card: FoundCard, pose: CardPose, printed: float
) -> tuple[float, float, float]:
    """Distance from lens to card: the least, the likeliest and the most that it may be."""
    if pose.camera_mm:
        return pose.camera_mm * 0.97, pose.camera_mm, pose.camera_mm * 1.03
    if picture.focal_35_mm:
        diagonal = math.hypot(picture.width, picture.height)
        focal_px = picture.focal_35_mm / _FILM_DIAGONAL_MM * diagonal
        distance = focal_px / card.pixels_per_mm * printed
        return distance * (1 - _FOCAL_ERROR), distance, distance * (1 + _FOCAL_ERROR)
    low, high = _CAMERA_MM
    return low, 2.0 / (1.0 / low + 1.0 / high), high


# ---------------------------------------------------------------- what the light was


class _Light(Struct, frozen=True):
    """The light by which colours are corrected: the card's, a neutral's (``white``), or none."""

    corrected: Corrected
    card: FoundCard | None = None
    white: Triple = (1.0, 1.0, 1.0)
    error: float = 0.0
    """of the neutral's colour, in CIEDE2000"""
    neutral: photo_light.PixelBox | None = None
    others: tuple[photo_light.PixelBox, ...] = ()


def _correcting_light(
    picture: photo_light.PhotoPixels,
    card: FoundCard | None,
    neutral: NeutralPatch | None,
    regions: tuple[photo_light.PixelBox, ...],
) -> _Light:
    """The light that colours are corrected by: the card's, else the neutral's, else none."""
    if card is not None:
        white = card.light.white_at(*card.middle)
        return _Light("card", card=card, error=_rounding_error(picture, white, white))
    if neutral is None:
        return _Light("none")
    if photo_light.is_clipped(photo_light.crop_codes(picture, neutral.box, "neutral")):
        raise PhotoProblem(
            "the neutral is clipped: the photo does not hold how light or dark it was",
            "Take it again with less light, or leave the neutral out",
        )
    photographed = photo_light.trimmed_mean_light(picture, neutral.box, "neutral")
    level = srgb_to_linear(neutral.srgb)
    red, green, blue = (max(value, 1e-4) / level for value in photographed)
    white = (red, green, blue)
    error = _rounding_error(picture, photographed, white)
    return _Light("neutral", None, white, error, neutral.box, regions)


def _rounding_error(picture: photo_light.PhotoPixels, light: Triple, white: Triple) -> float:
    """The most that rounding in the file may have moved a flat colour, in CIEDE2000."""

    def moved(offset: Iterable[float]) -> Sequence[float]:
        codes = (linear_to_srgb(v) + float(by) for v, by in zip(light, offset, strict=True))
        return [srgb_to_linear(min(max(code, 0.0), 255.0)) for code in codes]

    return max(
        ciede2000(_lab(light, white), _lab(moved(offset), white))
        for offset in rounding_corners(picture.steps)
    )


def _lab(light: Sequence[float], white: Triple) -> Triple:
    return linear_to_lab([value / full for value, full in zip(light, white, strict=True)])


def _region_colour(
    picture: photo_light.PhotoPixels, name: str, box: photo_light.PixelBox, light: _Light
) -> MeasuredRegion:
    """The colour of a region, corrected by the light where that is known, with its error."""
    mean = photo_light.mean_light(picture, box, name)
    white, within = light.white, None
    if light.card is not None:
        white = light.card.light.white_at(*box.middle)
        uneven = light.card.light.error_at(*box.middle)
    elif light.neutral is not None:
        surfaces = (light.neutral, *light.others)
        slope = photo_light.illumination_slope(picture, surfaces)
        uneven = 0.0 if slope is None else slope.over(light.neutral.middle, box.middle)
    if light.corrected != "none":
        here = _lab(mean, white)
        fall_off = max(
            ciede2000(here, _lab([value * factor for value in mean], white))
            for factor in (math.exp(-uneven), math.exp(uneven))
        )
        within = fall_off + math.hypot(_rounding_error(picture, mean, white), light.error)
    true = [value / full for value, full in zip(mean, white, strict=True)]
    lab = linear_to_lab(true)
    red, green, blue = (linear_to_srgb(value) for value in true)
    off_scale = photo_light.is_clipped(photo_light.crop_codes(picture, box, name))
    return MeasuredRegion(name, (red, green, blue), lab, plain_words(lab), within, off_scale)


# ---------------------------------------------------------------- the edge


def _bleed_width(
    picture: photo_light.PhotoPixels, across: PixelLine, plane: _Plane, blur_px: float
) -> BleedWidth:
    """The width of the edge across a line, its interval widened by the scale's error."""
    samples, pixel_mm = samples_by_line(picture, across, plane.to_mm)
    edge = fit_edge(samples, blur_mm=blur_px * pixel_mm, pixel_mm=pixel_mm)
    off_scale = edge.width_mm * plane.error
    return BleedWidth(
        edge.width_mm,
        max(0.0, edge.width_mm - math.hypot(edge.width_mm - edge.low_mm, off_scale)),
        edge.width_mm + math.hypot(edge.high_mm - edge.width_mm, off_scale),
    )
