"""The width of an edge, by an error-function profile fitted across it, in light.

Colour that creeps from one soap into another by diffusion spreads as an error function (Crank,
The Mathematics of Diffusion, 2nd ed. 1975, eq. 2.14). The lens adds a blur of its own, near
enough a Gaussian, whose square comes off the square of the whole.

    light = (body + step * share) * (1 + right * s + down * t)
    share = 1/2 (1 + erf(d / (sigma sqrt 2)))        d = distance from the edge, mm

The last bracket is the fall-off of the light. The edge may lie at any angle to the line that
was drawn across it; the width is taken square to the edge. The 10-90 % width is 2.5631 sigma.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple, TypeAlias

from msgspec import Struct

from journal.photos.arrays import Array, Whole, np
from journal.photos.light import LUMINANCE, PhotoPixels, code_step, linear_light_table
from journal.photos.source import PhotoProblem

WIDTH_IN_SIGMAS = 2.0 * 1.2815515655446004
"""The 10-90 % width of an error-function edge; 1.28155 is the normal quantile of 0.9."""

_ALONG, _ACROSS = 6, 3  # patches of the band, for the interval
# Student's t, 97.5 %, 10 degrees of freedom: about what so many patches less 7 values are good
# for. From memory; tests/photos/test_edge.py looks it up.
_T = 2.228139
_END_SHARE = 0.12  # of the line at either end, taken as plain body and plain detail
_LEAST_STEP = 3.0  # codes between the two: what a JPEG may have moved either by, and to spare
_CLEAR_STEP = 4.0  # of the luminance's step in its noise, to be used alone
_REACH = 2.4  # sigmas that the line must reach past the edge on either side
_MISFIT = 0.08  # of the step: how far the profile's means may stray from the fitted one
_SLOPE_BOUND = 0.5  # change of the light from the line's middle to its end, at most


class EdgeSamples(Struct, frozen=True):
    """Pixels along and beside a line across an edge.

    ``along`` and ``beside`` are mm from the line's middle, towards its end and to its right;
    ``light`` is pixels x 3; ``step``, pixels x 3, is the light that one code is worth at each
    pixel, to which its noise is proportional.
    """

    along: Array
    beside: Array
    light: Array
    step: Array
    length_mm: float


class Edge(Struct, frozen=True):
    """A fitted edge. Widths are of the 10-90 % kind, in mm, with a 95 % interval.

    ``width_mm`` has the lens blur taken out, ``blurred_width_mm`` has not; ``middle_mm`` is
    the edge's place along the line, from the line's middle; ``angle_deg`` is how far the edge
    is turned from square to the line.
    """

    width_mm: float
    low_mm: float
    high_mm: float
    blurred_width_mm: float
    middle_mm: float
    angle_deg: float


class PixelLine(NamedTuple):
    """A line across an edge, in pixels: from plain body to plain detail."""

    x1: float
    y1: float
    x2: float
    y2: float


ToMm: TypeAlias = "Callable[[Array, Array], tuple[Array, Array]]"
"""Turns x and y of pixels into x and y on the bar's face, in mm."""

_BESIDE = 0.22  # of the line's length, to either side
_BESIDE_PIXELS = (6.0, 80.0)  # at least and at most


def samples_by_line(
    picture: PhotoPixels, line: PixelLine, to_mm: ToMm
) -> tuple[EdgeSamples, float]:
    """The pixels along and beside a line, and the width of one of them on the bar in mm.

    Fails:  PhotoProblem if the line leaves the picture or is shorter than 12 pixels
    """
    inside = all(map(math.isfinite, line)) and all(
        0 <= x <= picture.width and 0 <= y <= picture.height
        for x, y in ((line.x1, line.y1), (line.x2, line.y2))
    )
    if not inside:
        raise PhotoProblem(
            f"the line across the edge leaves the picture, which is {picture.width} x "
            f"{picture.height} pixels held upright",
            "Give x1, y1, x2, y2 in pixels of the upright picture, from its top left corner",
        )
    length = math.hypot(line.x2 - line.x1, line.y2 - line.y1)
    if length < 12:
        raise PhotoProblem(
            "the line across the edge is shorter than 12 pixels",
            "Draw it longer, from plain body to plain detail",
        )
    reach = min(max(_BESIDE * length, _BESIDE_PIXELS[0]), _BESIDE_PIXELS[1])
    unit_x, unit_y = (line.x2 - line.x1) / length, (line.y2 - line.y1) / length
    middle_x, middle_y = (line.x1 + line.x2) / 2, (line.y1 + line.y2) / 2
    wide = abs(unit_x) * length / 2 + abs(unit_y) * reach
    high = abs(unit_y) * length / 2 + abs(unit_x) * reach
    left, right = max(0, int(middle_x - wide)), min(picture.width, int(middle_x + wide) + 2)
    top, bottom = max(0, int(middle_y - high)), min(picture.height, int(middle_y + high) + 2)
    y, x = np.mgrid[top:bottom, left:right] + 0.5
    along = (x - middle_x) * unit_x + (y - middle_y) * unit_y
    beside = (y - middle_y) * unit_x - (x - middle_x) * unit_y
    chosen = (np.abs(along) <= length / 2) & (np.abs(beside) <= reach)
    codes = picture.codes[top:bottom, left:right][chosen]

    ends_x, ends_y = to_mm(np.array([line.x1, line.x2]), np.array([line.y1, line.y2]))
    length_mm = float(math.hypot(ends_x[1] - ends_x[0], ends_y[1] - ends_y[0]))
    unit = (ends_x[1] - ends_x[0]) / length_mm, (ends_y[1] - ends_y[0]) / length_mm
    x_mm, y_mm = to_mm(x[chosen], y[chosen])
    x_mm, y_mm = x_mm - ends_x.mean(), y_mm - ends_y.mean()
    samples = EdgeSamples(
        along=x_mm * unit[0] + y_mm * unit[1],
        beside=y_mm * unit[0] - x_mm * unit[1],
        light=linear_light_table()[codes],
        step=code_step()[codes],
        length_mm=length_mm,
    )
    return samples, length_mm / length


def fit_edge(samples: EdgeSamples, *, blur_mm: float, pixel_mm: float) -> Edge:
    """Fit the width of an edge, by least squares over every pixel beside the line.

    The noise of a photo is even in its codes, not in light, so each pixel counts by what one
    code is worth there. The interval comes from how the residuals of each patch of the band add
    up, so that it covers marks on the surface and an uneven edge as well as noise; a tenth of a
    pixel is added for the camera's grid.

    Takes:  samples   pixels by a line from body to detail
            blur_mm   standard deviation of the lens blur; >= 0; 0 takes nothing out
            pixel_mm  size of a pixel on the bar; > 0
    Fails:  PhotoProblem when there is no one clear edge, or the line is too short
    Source: Crank 1975 eq. 2.14; the sandwich by clusters: Liang & Zeger, Biometrika 73 (1986)
            13-22 (from memory)
    """
    signal, weight = _signal(samples)
    values, residuals, slopes = _fit_profile(samples, signal, weight, pixel_mm)
    _refuse_poor_fit(values, samples, signal)
    sigma = math.exp(values[4])
    error = _log_sigma_error(samples, residuals, slopes) * sigma
    reach = _T * math.hypot(error, 0.1 * pixel_mm / WIDTH_IN_SIGMAS)
    return Edge(
        width_mm=_without_blur(sigma, blur_mm),
        low_mm=_without_blur(max(sigma - reach, 0.0), blur_mm),
        high_mm=_without_blur(sigma + reach, blur_mm),
        blurred_width_mm=WIDTH_IN_SIGMAS * sigma,
        middle_mm=float(values[2]),
        angle_deg=math.degrees(values[3]),
    )


def _without_blur(sigma: float, blur_mm: float) -> float:
    """The 10-90 % width without the lens blur; both inputs are standard deviations in mm."""
    return WIDTH_IN_SIGMAS * math.sqrt(max(sigma**2 - blur_mm**2, 0.0))


def _signal(samples: EdgeSamples) -> tuple[Array, Array]:
    """One value for each pixel that tells body from detail, and its weight in the fit.

    Luminance where that tells them apart, since a JPEG keeps it sharper than colour; otherwise
    the mixture of the three channels that tells them apart best (Fisher's discriminant).
    """
    reach = samples.length_mm * (0.5 - _END_SHARE)
    body, detail = samples.along < -reach, samples.along > reach
    if body.sum() < 8 or detail.sum() < 8:
        raise PhotoProblem(
            "the line across the edge is too short", "Draw it longer, from plain body to detail"
        )
    one, other = samples.light[body], samples.light[detail]
    step = other.mean(axis=0) - one.mean(axis=0)
    code = np.median(samples.step[body | detail], axis=0)
    if float((np.abs(step) / code).max()) < _LEAST_STEP:
        raise PhotoProblem(
            "body and detail look the same at the two ends of the line across the edge",
            "Draw it from plain body to plain detail",
        )
    spread = (np.cov(one.T) + np.cov(other.T)) / 2 + np.eye(3) * 1e-8
    axis = np.array(LUMINANCE)
    if abs(step @ axis) < _CLEAR_STEP * math.sqrt(axis @ spread @ axis):
        axis = np.linalg.solve(spread, step)
        axis = axis / np.abs(axis).sum()
    worth = np.sqrt((samples.step**2) @ (axis**2))
    return samples.light @ axis, 1.0 / np.maximum(worth, 1e-5)


def _first_guess(
    samples: EdgeSamples, signal: Array, pixel_mm: float
) -> tuple[Array, Array, Array]:
    """Starting values, lower and upper bounds of the seven values that are fitted.

    They are: body, step, middle, angle, log sigma, fall-off along, fall-off beside.
    """
    half = samples.length_mm / 2
    bins = max(12, min(200, int(samples.length_mm / pixel_mm)))
    place = _bin_of(samples.along, half, bins)
    count = np.bincount(place, minlength=bins)
    profile = np.bincount(place, signal, minlength=bins)[count > 0] / count[count > 0]
    centre = (np.flatnonzero(count > 0) + 0.5) / bins * samples.length_mm - half
    ends = max(1, round(len(profile) * _END_SHARE))
    body, detail = float(profile[:ends].mean()), float(profile[-ends:].mean())
    share = (profile - body) / (detail - body)
    # an error function's mean slope by its own weight: the area between it and a sharp step
    over = np.clip(share, 0.0, 1.0)
    middle = half - float(np.trapezoid(over, centre)) - (half - float(centre[-1]))
    area = float(np.trapezoid(over * (1.0 - over), centre))
    sigma = max(area * math.sqrt(math.pi), 0.5 * pixel_mm)  # the area is sigma / sqrt(pi)
    sigma = min(sigma, half)
    bound = _SLOPE_BOUND / half
    start = np.array([body, detail - body, middle, 0.0, math.log(sigma), 0.0, 0.0])
    low = np.array([-np.inf, -np.inf, -half, -1.2, math.log(0.05 * pixel_mm), -bound, -np.inf])
    high = np.array([np.inf, np.inf, half, 1.2, math.log(4 * half), bound, np.inf])
    return np.clip(start, low + 1e-9, high - 1e-9), low, high


_PRIOR = 0.1  # change of the light from the line's middle to its end that is usual


def _fit_profile(
    samples: EdgeSamples, signal: Array, weight: Array, pixel_mm: float
) -> tuple[Array, Array, Array]:
    """The seven values of the least-squares fit, the residuals there and their Jacobian.

    Two residuals of a prior come after those of the pixels: they keep the fall-off near nothing
    where the pixels cannot tell it from the bleed. After 60 rounds the best so far is returned,
    which _refuse_poor_fit then judges like any other.
    """
    from scipy.optimize import least_squares

    half = samples.length_mm / 2
    start, low, high = _first_guess(samples, signal, pixel_mm)
    prior = np.zeros((2, 7))
    prior[0, 5] = prior[1, 6] = half / _PRIOR

    def residuals(values: Array) -> Array:
        model, _ = _model(values, samples)
        return np.concatenate([(model - signal) * weight, prior @ values])

    def slopes(values: Array) -> Array:
        _, columns = _model(values, samples)
        return np.concatenate([columns * weight[:, None], prior])

    size = np.array([1.0, 1.0, half, 1.0, 1.0, 1.0 / half, 1.0 / half])
    fit = least_squares(
        residuals, start, slopes, (low, high), "dogbox", ftol=1e-10, x_scale=size, max_nfev=60
    )
    return fit.x, fit.fun, slopes(fit.x)


def _model(values: Array, samples: EdgeSamples) -> tuple[Array, Array]:
    """The modelled light at each pixel, and its derivatives by the seven values."""
    from scipy.special import ndtr

    body, step, middle, angle, log_sigma, fall_along, fall_beside = values
    sigma = math.exp(log_sigma)
    cosine, sine = math.cos(angle), math.sin(angle)
    distance = ((samples.along - middle) * cosine + samples.beside * sine) / sigma
    share = np.asarray(ndtr(distance))
    rise = np.exp(-0.5 * distance**2) / math.sqrt(2.0 * math.pi)
    level = body + step * share
    falling = 1.0 + fall_along * samples.along + fall_beside * samples.beside
    turned = (samples.beside * cosine - (samples.along - middle) * sine) / sigma
    steep = step * rise * falling
    columns = np.stack(
        [
            falling,
            share * falling,
            steep * (-cosine / sigma),
            steep * turned,
            -steep * distance,
            level * samples.along,
            level * samples.beside,
        ],
        axis=1,
    )
    return level * falling, columns


def _log_sigma_error(samples: EdgeSamples, residuals: Array, slopes: Array) -> float:
    """Standard error of log sigma, clustered by patches of the band.

    Noise is one pixel wide, but marks on the surface are not: the scores of a patch's pixels are
    summed before they are squared.
    """
    count = len(samples.along)
    scores = slopes[:count] * residuals[:count, None]
    half = samples.length_mm / 2
    reach = float(np.abs(samples.beside).max()) or 1.0
    patch = _bin_of(samples.along, half, _ALONG) * _ACROSS + _bin_of(samples.beside, reach, _ACROSS)
    sums = np.stack([np.bincount(patch, column, _ALONG * _ACROSS) for column in scores.T], axis=1)
    inverse = np.linalg.inv(slopes.T @ slopes)
    used = np.count_nonzero(np.bincount(patch, minlength=_ALONG * _ACROSS))
    share = used / max(used - slopes.shape[1], 1)  # seven values bend the fit towards its scores
    return float(np.sqrt(((sums @ inverse[:, 4]) ** 2).sum() * share))


def _bin_of(offset: Array, reach: float, count: int) -> Whole:
    """The number of the part that each offset lies in; -reach to reach has ``count`` equal ones."""
    part = ((offset + reach) / (2 * reach) * count).astype(np.int64)
    return np.clip(part, 0, count - 1)


def _refuse_poor_fit(values: Array, samples: EdgeSamples, signal: Array) -> None:
    """Raise PhotoProblem for a fit that is no measurement."""
    sigma, middle, half = math.exp(values[4]), values[2], samples.length_mm / 2
    if half - abs(middle) < _REACH * sigma:
        raise PhotoProblem(
            "the line across the edge does not reach plain colour on both sides of it",
            "Draw it longer, from plain body to plain detail",
        )
    model, _ = _model(values, samples)
    bins = 24
    place = _bin_of(samples.along, half, bins)
    count = np.maximum(np.bincount(place, minlength=bins), 1)
    off = np.bincount(place, signal - model, minlength=bins) / count
    if np.abs(off).max() > _MISFIT * abs(values[1]):
        raise PhotoProblem(
            "the colour along the line across the edge does not go from body to detail just once",
            "Draw it across one edge only, clear of marks and of the bar's outer edge",
        )
