"""The width of an edge, from pixels made by its own formula."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from photos.card_views import codes_of_light
from scipy.special import ndtr

from journal.photos import edge as edge_module
from journal.photos.edge import WIDTH_IN_SIGMAS, PixelLine, fit_edge, samples_by_line
from journal.photos.light import PhotoPixels, linear_light
from journal.photos.source import PhotoProblem

BODY = linear_light(np.array([62.0, 74.0, 118.0]))
DETAIL = linear_light(np.array([238.0, 231.0, 214.0]))
MM = 0.05  # a pixel


def drawn(
    sigma_px: float,
    *,
    angle_deg: float = 0.0,
    body=BODY,
    detail=DETAIL,
    fall: float = 0.0,
    noise: float = 0.0,
    size: tuple[int, int] = (400, 300),
) -> PhotoPixels:
    """An edge through the middle of a picture, detail to the right of it."""
    x, y = np.meshgrid(np.arange(size[0]) + 0.5, np.arange(size[1]) + 0.5)
    angle = math.radians(angle_deg)
    off = (x - size[0] / 2) * math.cos(angle) + (y - size[1] / 2) * math.sin(angle)
    share = ndtr(off / sigma_px)[..., None] if sigma_px else (off > 0)[..., None].astype(float)
    light = body * (1 - share) + detail * share
    light = light * (1 + fall * (x / size[0] - 0.5) + fall * (y / size[1] - 0.5))[..., None]
    codes = codes_of_light(light).astype(float)
    codes += noise * np.random.default_rng(1).standard_normal(codes.shape)
    return PhotoPixels(np.clip(np.rint(codes), 0, 255).astype(np.uint8))


def width_of(picture: PhotoPixels, line: PixelLine, blur_px: float = 0.0):
    samples, pixel_mm = samples_by_line(picture, line, lambda x, y: (x * MM, y * MM))
    return fit_edge(samples, blur_mm=blur_px * pixel_mm, pixel_mm=pixel_mm)


ACROSS = PixelLine(100, 150, 300, 150)


# By hand: sigma 12 px of 0.05 mm is 0.6 mm; 2 x 1.281552 x 0.6 = 1.5379 mm
def test_a_known_width_by_hand():
    edge = width_of(drawn(12.0), ACROSS)
    assert edge.width_mm == pytest.approx(1.5379, abs=0.004)  # codes are whole
    assert edge.low_mm < 1.5379 < edge.high_mm
    assert edge.high_mm - edge.low_mm < 0.03
    assert abs(edge.angle_deg) < 0.5
    assert abs(edge.middle_mm) < 0.01


def test_the_quantile_of_the_interval_and_of_the_width():
    assert pytest.approx(scipy.stats.t.ppf(0.975, 10), abs=1e-6) == edge_module._T
    assert pytest.approx(2 * scipy.stats.norm.ppf(0.9), abs=1e-12) == WIDTH_IN_SIGMAS


@examples(10, 500)
@given(
    sigma=st.floats(1.0, 25.0),
    angle=st.floats(-40.0, 40.0),
    fall=st.floats(-0.25, 0.25),
    dark_detail=st.booleans(),
)
def test_the_width_is_taken_square_to_the_edge(sigma, angle, fall, dark_detail):
    ends = {"body": DETAIL, "detail": BODY} if dark_detail else {}
    edge = width_of(drawn(sigma, angle_deg=angle, fall=fall, **ends), PixelLine(80, 150, 320, 150))
    # whole codes and a pixel's grid; the fall-off is the hardest to tell from a wide bleed
    assert edge.width_mm == pytest.approx(WIDTH_IN_SIGMAS * sigma * MM, rel=0.03, abs=0.01)
    assert edge.angle_deg == pytest.approx(angle, abs=1.5)


def test_turning_line_and_picture_changes_nothing():
    picture = drawn(9.0, angle_deg=14.0, noise=1.5)
    turned = PhotoPixels(np.ascontiguousarray(np.rot90(picture.codes)))  # counter-clockwise
    line = PixelLine(110, 140, 310, 165)
    width = picture.width
    same = PixelLine(line.y1, width - line.x1, line.y2, width - line.x2)
    assert width_of(turned, same).width_mm == pytest.approx(
        width_of(picture, line).width_mm, rel=1e-4
    )


def test_lens_blur_comes_off_in_squares():
    sigma, blur = 10.0, 6.0
    edge = width_of(drawn(math.hypot(sigma, blur)), ACROSS, blur_px=blur)
    assert edge.width_mm == pytest.approx(WIDTH_IN_SIGMAS * sigma * MM, rel=0.01)
    blurred_mm = WIDTH_IN_SIGMAS * math.hypot(sigma, blur) * MM
    assert edge.blurred_width_mm == pytest.approx(blurred_mm, rel=0.01)
    # more blur than there is: nothing is left, and that is within the interval
    none = width_of(drawn(5.0, noise=2.0), ACROSS, blur_px=5.2)
    assert none.low_mm == 0.0
    assert none.width_mm < 0.2


def test_a_sharp_edge_is_within_a_pixel():
    edge = width_of(drawn(0.0), ACROSS)
    assert edge.width_mm < 1.5 * MM
    assert edge.low_mm >= 0.0


def test_colours_alike_in_luminance_are_told_apart_by_colour():
    # light of equal luminance, one red and one green
    red, green = np.array([0.45, 0.05, 0.1]), np.array([0.05, 0.1686, 0.1])
    edge = width_of(drawn(12.0, body=red, detail=green, noise=1.0), ACROSS)
    assert edge.width_mm == pytest.approx(1.5379, rel=0.02)


def test_more_noise_gives_a_wider_interval():
    spans = []
    for noise in (0.5, 2.0, 8.0):
        edge = width_of(drawn(12.0, noise=noise), ACROSS)
        spans.append(edge.high_mm - edge.low_mm)
    assert spans[0] < spans[1] < spans[2]


@pytest.mark.parametrize(
    ("picture", "line", "said"),
    [
        (drawn(12.0), PixelLine(10, 150, 120, 150), "look the same"),
        (drawn(12.0), PixelLine(185, 150, 215, 150), "does not reach plain colour"),
        (drawn(12.0), PixelLine(195, 150, 205, 150), "shorter than 12 pixels"),
        (drawn(12.0), PixelLine(-5, 150, 200, 150), "leaves the picture"),
        (drawn(12.0), PixelLine(100, 150, 300, math.nan), "leaves the picture"),
        (drawn(12.0), PixelLine(10, 150, 225, 150), "does not reach plain colour"),
        (PhotoPixels(np.full((300, 400, 3), 128, np.uint8)), ACROSS, "look the same"),
    ],
)
def test_what_is_no_measurement_is_refused(picture, line, said):
    with pytest.raises(PhotoProblem, match=said) as caught:
        width_of(picture, line)
    assert caught.value.hint


def test_a_line_over_two_edges_is_refused():
    picture = drawn(6.0)
    codes = picture.codes.copy()
    codes[:, 120:150] = (196, 190, 180)  # a strip of something else
    with pytest.raises(PhotoProblem, match="just once"):
        width_of(PhotoPixels(codes), PixelLine(60, 150, 300, 150))
