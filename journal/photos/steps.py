"""The rounding of flat colours in a JPEG, and how the part of it that the decoder adds is undone.

A JPEG keeps a flat patch of 8 x 8 samples as one number for brightness and two for colour, each
a multiple of a step that its quality sets: at quality 55 a colour may lie one code off, and
more, without any noise to show it. The decoder then rounds the patch to whole codes once more;
that second rounding is undone here, since the step is known and the multiple can be told.

Source: ITU-T T.81 section A.3.4 (steps), JFIF 1.02 (YCbCr), libjpeg's decoding to whole codes.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import TYPE_CHECKING

from msgspec import Struct

from journal.photos.arrays import Array, Codes, np

if TYPE_CHECKING:
    from PIL.JpegImagePlugin import JpegImageFile


# JFIF 1.02: red, green and blue from Y, Cb - 128, Cr - 128
_TO_RGB = ((1.0, 0.0, 1.402), (1.0, -0.344136, -0.714136), (1.0, 1.772, 0.0))


class QuantisationSteps(Struct, frozen=True):
    """The steps of a JPEG's flat patches, in codes: of Y, Cb and Cr, and how many pixels wide
    and high a patch of each is."""

    step: tuple[float, float, float]
    wide: tuple[int, int, int]
    high: tuple[int, int, int]


# A file without steps of its own is only rounded to whole codes.
_WHOLE = 0.5


def rounding_corners(steps: QuantisationSteps | None) -> Iterator[Array]:
    """The eight farthest offsets, in red, green and blue, of a flat patch's true codes.

    They are from the codes in the file; without steps those are rounded to whole codes.
    """
    halves = [_WHOLE] * 3 if steps is None else [step / 2 for step in steps.step]
    for offsets in itertools.product(*((-half, half) for half in halves)):
        yield np.array(offsets) if steps is None else np.array(_TO_RGB) @ np.array(offsets)


def quantisation_steps(image: JpegImageFile) -> QuantisationSteps | None:
    """The steps of an opened JPEG; None if it is not made of Y, Cb and Cr."""
    layers, tables = image.layer, image.quantization
    if len(layers) != 3 or image.info.get("adobe_transform", 1) != 1:
        return None
    try:
        step = tuple(tables[layer[3]][0] / 8 for layer in layers)
    except (KeyError, IndexError):
        return None
    most_wide, most_high = max(layer[1] for layer in layers), max(layer[2] for layer in layers)
    wide = tuple(8 * most_wide // layer[1] for layer in layers)
    high = tuple(8 * most_high // layer[2] for layer in layers)
    return QuantisationSteps(
        (step[0], step[1], step[2]), (wide[0], wide[1], wide[2]), (high[0], high[1], high[2])
    )


def dequantised(part: Codes, left: int, top: int, steps: QuantisationSteps) -> Array:
    """Codes of red, green and blue of a part of a JPEG, flat patches free of the last rounding.

    Takes:  part       Y, Cb and Cr as decoded; height x width x 3
            left, top  where the part begins in the stored picture; pixels
            steps      of the file
    Gives:  height x width x 3, from 0 to 255, not whole
    """
    exact = part.astype(np.float64)
    for channel in range(3):
        step = steps.step[channel]
        if step <= 1.0:
            continue  # the codes are as fine as the steps
        wide, high = steps.wide[channel], steps.high[channel]
        first_x, first_y = left - left % wide, top - top % high
        for y in range(first_y - top, part.shape[0], high):
            for x in range(first_x - left, part.shape[1], wide):
                patch = np.s_[max(y, 0) : y + high, max(x, 0) : x + wide, channel]
                # a patch's rim is blended with its neighbours when colour is stored coarsely
                core = part[
                    max(y + high // 4, 0) : max(y + high - high // 4, 0),
                    max(x + wide // 4, 0) : max(x + wide - wide // 4, 0),
                    channel,
                ]
                if core.size == 0 or core.min() != core.max():
                    continue
                decoded = float(core.flat[0]) - 128.0
                stored = round(decoded / step) * step
                if abs(stored - decoded) <= _WHOLE:
                    exact[patch] += stored - decoded
    exact[..., 1:] -= 128.0
    codes: Array = np.clip(exact @ np.array(_TO_RGB).T, 0.0, 255.0)
    return codes
