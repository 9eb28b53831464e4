"""A photo as light: its pixels, the light they stand for, and what the light was like.

Coordinates are pixels of the upright photo, origin at the top left corner of the top left
pixel, x to the right, y down; the middle of the first pixel is (0.5, 0.5). Light runs from 0
to 1, where 1 is the sRGB code 255.
"""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from typing import NamedTuple

from msgspec import Struct

from journal.figures.colour.spaces import Triple, srgb_to_linear
from journal.photos.arrays import Array, Codes, np
from journal.photos.source import (
    PhotoProblem,
    convert_to_srgb,
    decode_pixels,
    draft_decoder,
    open_photo,
)
from journal.photos.steps import QuantisationSteps, dequantised, quantisation_steps


class PixelBox(NamedTuple):
    """A rectangle of a photo, in pixels: its left top corner, width and height."""

    x: float
    y: float
    width: float
    height: float

    @property
    def middle(self) -> tuple[float, float]:
        """The point in its middle."""
        return self.x + self.width / 2, self.y + self.height / 2


class PhotoPixels(Struct, frozen=True):
    """A whole photo, upright, in sRGB codes: height x width x 3.

    ``stored`` holds Y, Cb and Cr as a JPEG stores them, not turned, and ``steps`` the steps that
    it rounds to: from these, colours are read finer than in whole codes. None for other files.
    """

    codes: Codes
    focal_35_mm: float | None = None
    notes: tuple[str, ...] = ()
    stored: Codes | None = None
    orientation: int = 1
    steps: QuantisationSteps | None = None

    @property
    def width(self) -> int:
        """Pixels from left to right."""
        return int(self.codes.shape[1])

    @property
    def height(self) -> int:
        """Pixels from top to bottom."""
        return int(self.codes.shape[0])


def read_picture(path: Path) -> PhotoPixels:
    """Read a photo with every pixel that it has, upright and in sRGB, for measuring."""
    from PIL.JpegImagePlugin import JpegImageFile

    with open_photo(path) as source:
        image = source.image
        steps = quantisation_steps(image) if isinstance(image, JpegImageFile) else None
        as_stored = steps is not None and "icc_profile" not in image.info
        draft_decoder(source, source.size.width, as_stored=as_stored)
        pixels = decode_pixels(source)
        stored = np.asarray(image) if image.mode == "YCbCr" else None
        if pixels is not image:
            image.close()  # a third of the memory
        srgb, notes = convert_to_srgb(source, pixels)
        upright = source.upright(srgb)
        codes = np.asarray(upright if upright.mode == "RGB" else upright.convert("RGB"))
        return PhotoPixels(
            codes, source.focal_35_mm, source.notes + notes, stored, source.orientation, steps
        )


@cache
def linear_light_table() -> Array:
    """Light of each of the 256 codes; indexed by an array of codes it gives an array of light."""
    table = np.array([srgb_to_linear(code) for code in range(256)])
    table.setflags(write=False)
    return table


@cache
def code_step() -> Array:
    """The light that one code is worth, at each of the 256 codes."""
    step = np.gradient(linear_light_table())
    step.setflags(write=False)
    return step


def _whole_box(box: PixelBox) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of the pixels whose middles lie in a box."""
    left, top = math.ceil(box.x - 0.5), math.ceil(box.y - 0.5)
    return left, top, math.ceil(box.x + box.width - 0.5), math.ceil(box.y + box.height - 0.5)


def crop_codes(picture: PhotoPixels, box: PixelBox, name: str) -> Codes:
    """The codes of the pixels whose middles lie in a box; at least 4 x 4 of them.

    Fails:  PhotoProblem, which calls the box by its name, if it leaves the picture or is too small
    """
    if not all(map(math.isfinite, box)):
        raise PhotoProblem(
            f'the region "{name}" is not made of numbers', "Give x, y, w, h in pixels"
        )
    right, bottom = box.x + box.width, box.y + box.height
    if min(box.x, box.y) < 0 or right > picture.width or bottom > picture.height:
        raise PhotoProblem(
            f'the region "{name}" ({box.x:g}, {box.y:g}, {box.width:g}, {box.height:g}) leaves the '
            f"picture, which is {picture.width} x {picture.height} pixels held upright",
            "Give x, y, w, h in pixels of the upright picture, from its top left corner",
        )
    left, top, after_x, after_y = _whole_box(box)
    part = picture.codes[top:after_y, left:after_x]
    if part.shape[0] < 4 or part.shape[1] < 4:
        raise PhotoProblem(
            f'the region "{name}" is smaller than 4 x 4 pixels',
            "Draw it larger, on one flat colour",
        )
    return part


_CUT_OFF = 0.02
"""Share of a region's pixels that may lie at the end of the codes before it counts as cut off."""


def is_clipped(codes: Codes) -> bool:
    """Whether over 2 % of a region's pixels are at the darkest or lightest code, in any channel."""
    return bool(((codes >= 254) | (codes <= 0)).mean(axis=(0, 1)).max() > _CUT_OFF)


def _as_stored(picture: PhotoPixels, box: PixelBox) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of a box in the stored picture, before it is held upright."""
    left, top, right, bottom = _whole_box(box)
    wide, high = picture.width, picture.height
    mirrored = (wide - right, top, wide - left, bottom)
    turned = {
        1: (left, top, right, bottom),
        2: mirrored,
        3: (wide - right, high - bottom, wide - left, high - top),
        4: (left, high - bottom, right, high - top),
        5: (top, left, bottom, right),
        6: (top, wide - right, bottom, wide - left),
        7: (high - bottom, wide - right, high - top, wide - left),
        8: (high - bottom, left, high - top, right),
    }
    return turned[picture.orientation]


def linear_light(codes: Array) -> Array:
    """Light of codes that need not be whole.

    Source: IEC 61966-2-1; the array form of journal.figures.colour.spaces.srgb_to_linear
    """
    share = codes / 255.0
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def mean_light(picture: PhotoPixels, box: PixelBox, name: str) -> Triple:
    """The mean light of a region, per channel: a mean of light, not of codes."""
    red, green, blue = _region_light(picture, box, name).mean(axis=(0, 1))
    return float(red), float(green), float(blue)


def trimmed_mean_light(picture: PhotoPixels, box: PixelBox, name: str) -> Triple:
    """The light of a patch that is known to be even: the mean of the middle half of its pixels.

    What creeps in from beside the patch, as the rims of a JPEG's blocks do, falls outside.
    """
    ordered = np.sort(_region_light(picture, box, name).reshape(-1, 3), axis=0)
    quarter = len(ordered) // 4
    red, green, blue = ordered[quarter : len(ordered) - quarter].mean(axis=0)
    return float(red), float(green), float(blue)


def _region_light(picture: PhotoPixels, box: PixelBox, name: str) -> Array:
    """Light of every pixel of a region, without the last rounding where the file allows it."""
    codes = crop_codes(picture, box, name)
    if picture.stored is not None and picture.steps is not None:
        left, top, right, bottom = _as_stored(picture, box)
        part = picture.stored[top:bottom, left:right]
        return linear_light(dequantised(part, left, top, picture.steps))
    return linear_light_table()[codes]


LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Weights of red, green and blue light in luminance (IEC 61966-2-1, to four digits)."""


class IlluminationSlope(Struct, frozen=True):
    """The fall-off of the light over a photo: its relative change for each pixel to the right and
    down, with the standard errors of the two."""

    right: float
    down: float
    right_error: float
    down_error: float

    def over(self, start: tuple[float, float], end: tuple[float, float]) -> float:
        """The largest relative change from one point to another that the fall-off explains."""
        across, along = end[0] - start[0], end[1] - start[1]
        change = self.right * across + self.down * along
        error = math.hypot(self.right_error * across, self.down_error * along)
        return abs(change) + _ERRORS * error


_ERRORS = 2.0  # standard errors: about 95 of 100
_CELL = 8  # pixels: a JPEG's block, whose noise is one
# Marks on a surface reach further than a cell, so neighbouring cells are no independent
# witnesses; with this, 99 of 100 drawn pictures with uneven light had the truth within.
_NEIGHBOURS = 1.6


def illumination_slope(
    picture: PhotoPixels, boxes: tuple[PixelBox, ...]
) -> IlluminationSlope | None:
    """The fall-off of the light, from how each of several even surfaces darkens within itself.

    A plane is fitted to the logarithm of the luminance in cells of 8 x 8 pixels, one level for
    each surface and one slope for all of them. The errors are widened for marks larger than a
    cell. None if there are fewer than 3 cells more than what is fitted.

    Source: definition (least squares)
    """
    places: list[Array] = []
    levels: list[Array] = []
    surfaces: list[Array] = []
    for number, box in enumerate(boxes):
        codes = crop_codes(picture, box, "surface")
        rows, columns = codes.shape[0] // _CELL, codes.shape[1] // _CELL
        if rows == 0 or columns == 0:
            continue
        luminance = linear_light_table()[codes[: rows * _CELL, : columns * _CELL]] @ LUMINANCE
        cells = luminance.reshape(rows, _CELL, columns, _CELL).mean(axis=(1, 3))
        y, x = np.mgrid[0:rows, 0:columns] * _CELL + _CELL / 2
        places.append(np.stack([x.ravel() + box.x, y.ravel() + box.y], axis=1))
        levels.append(np.log(np.maximum(cells.ravel(), 1e-6)))
        surfaces.append(np.full(cells.size, number))
    if not places:
        return None
    which = np.concatenate(surfaces)
    ids = np.unique(which)
    design = np.hstack([np.concatenate(places), (which[:, None] == ids).astype(float)])
    target = np.concatenate(levels)
    spare = len(target) - design.shape[1]
    if spare < 3 or np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    fitted, *_ = np.linalg.lstsq(design, target, rcond=None)
    variance = float(((target - design @ fitted) ** 2).sum()) / spare
    errors = _NEIGHBOURS * np.sqrt(np.diag(np.linalg.inv(design.T @ design))[:2] * variance)
    return IlluminationSlope(float(fitted[0]), float(fitted[1]), float(errors[0]), float(errors[1]))
