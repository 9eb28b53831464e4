"""What a JPEG rounds away of flat colours, and what is had back of it."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile

from journal.figures.colour.spaces import linear_to_srgb
from journal.photos.light import PixelBox, mean_light, read_picture
from journal.photos.steps import (
    QuantisationSteps,
    dequantised,
    quantisation_steps,
    rounding_corners,
)

# JFIF 1.02: Y, Cb and Cr of red, green and blue
TO_YCC = np.array([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])


def flat(path, colour, quality: int) -> np.ndarray:
    Image.new("RGB", (64, 64), tuple(colour)).save(path, quality=quality)
    light = mean_light(read_picture(path), PixelBox(16, 16, 32, 32), "a")
    return np.array([linear_to_srgb(value) for value in light])


@pytest.mark.parametrize("quality", [50, 60, 75])
def test_a_flat_colour_is_read_as_it_was_stored(tmp_path, quality):
    rng = np.random.default_rng(quality)
    path = tmp_path / "p.jpg"
    plain, exact = [], []
    for colour in rng.integers(30, 226, (25, 3)):
        seen = flat(path, colour, quality)
        with Image.open(path) as image:
            assert isinstance(image, JpegImageFile)
            steps = quantisation_steps(image)
            decoded = np.asarray(image.convert("RGB"), float)[32, 32]
        off = np.abs(TO_YCC @ (seen - colour))
        # half a step; the encoder's own whole numbers leave half a code more, and a corner
        # of the coloured cube may be cut off
        assert (off <= np.array(steps.step) / 2 + 0.75).all()
        exact.append(np.square(TO_YCC @ (seen - colour)).sum())
        plain.append(np.square(TO_YCC @ (decoded - colour)).sum())
    assert np.mean(exact) < np.mean(plain)


def test_steps_are_those_of_the_file(tmp_path):
    path = tmp_path / "p.jpg"
    picture = Image.new("RGB", (64, 64), (90, 120, 150))
    # two tables of 64, as T.81 lays them out: 14 for brightness, 15 for colour
    picture.save(path, qtables=[[14] * 64, [15] * 64], subsampling=2)
    with Image.open(path) as image:
        assert isinstance(image, JpegImageFile)
        steps = quantisation_steps(image)
    assert steps == QuantisationSteps((14 / 8, 15 / 8, 15 / 8), (8, 16, 16), (8, 16, 16))
    assert len(list(rounding_corners(steps))) == 8
    for form in ("L", "CMYK"):
        picture.convert(form).save(path)
        with Image.open(path) as image:
            assert isinstance(image, JpegImageFile)
            assert quantisation_steps(image) is None


# By hand: Cb seen as 134 with a step of 15/8: the third multiple, 5.625, rounds to 6
def test_the_second_rounding_is_undone_by_hand():
    part = np.empty((16, 16, 3), np.uint8)
    part[...] = (146, 134, 128)
    steps = QuantisationSteps((1.0, 15 / 8, 15 / 8), (8, 16, 16), (8, 16, 16))
    codes = dequantised(part, 0, 0, steps)
    assert codes[0, 0] == pytest.approx((146.0, 146 - 0.344136 * 5.625, 146 + 1.772 * 5.625))
    # no multiple lies near 131: such a patch is no flat one, and stays
    part[..., 1] = 131
    assert dequantised(part, 0, 0, steps)[0, 0, 2] == pytest.approx(146 + 1.772 * 3.0)
    # nor is a patch with a slope
    part[:, :, 1] = np.linspace(120, 136, 16).astype(np.uint8)
    assert dequantised(part, 3, 5, steps)[0, 0, 2] == pytest.approx(146 - 1.772 * 8.0)


def test_a_picture_without_steps_is_only_as_fine_as_its_codes():
    corners = np.array(list(rounding_corners(None)))
    assert corners.shape == (8, 3)
    assert np.abs(corners).max() == 0.5
