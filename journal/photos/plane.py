"""The plane of the photo card in a photo: its millimetres and the picture's pixels."""

from __future__ import annotations

import math
from typing import NamedTuple

from journal.photos.arrays import Array, np
from journal.photos.card import HEIGHT_MM, WIDTH_MM
from journal.photos.light import PhotoPixels, linear_light_table


class CardPlane(NamedTuple):
    """The homographies from the card's mm to the picture's pixels, and back."""

    to_pixels: Array
    to_mm: Array


def fit_homography(mm: Array, pixels: Array, *, affine: bool = False) -> Array | None:
    """The homography from mm to pixels that fits best; None if it has no finite one.

    ``affine`` fits an affine map instead, which is all that one square can tell.

    Source: the direct linear transformation, points first shifted and scaled to unit size
            (Hartley, IEEE PAMI 19 (1997) 580-593, from memory)
    """
    (from_mm, mm), (from_pixels, pixels) = _unit(mm), _unit(pixels)
    x, y = mm.T
    u, v = pixels.T
    one, zero = np.ones_like(x), np.zeros_like(x)
    if affine:
        design = np.stack([x, y, one], axis=1)
        across, *_ = np.linalg.lstsq(design, pixels, rcond=None)
        matrix = np.vstack([across.T, [0.0, 0.0, 1.0]])
    else:
        rows = np.concatenate(
            [
                np.stack([x, y, one, zero, zero, zero, -u * x, -u * y, -u], axis=1),
                np.stack([zero, zero, zero, x, y, one, -v * x, -v * y, -v], axis=1),
            ]
        )
        matrix = np.linalg.svd(rows)[2][-1].reshape(3, 3)
    matrix = np.linalg.inv(from_pixels) @ matrix @ from_mm
    if not np.isfinite(matrix).all() or abs(matrix[2, 2]) < 1e-12:
        return None
    homography: Array = matrix / matrix[2, 2]
    return homography


def _unit(points: Array) -> tuple[Array, Array]:
    """The matrix that shifts and scales points to unit size, and the points so changed."""
    centre = points.mean(axis=0)
    size = float(np.hypot(*(points - centre).T).mean()) or 1.0
    shift = np.array(
        [[1 / size, 0, -centre[0] / size], [0, 1 / size, -centre[1] / size], [0, 0, 1]]
    )
    return shift, (points - centre) / size


def project(matrix: Array, x: Array, y: Array) -> tuple[Array, Array]:
    """Map points through a homography."""
    depth = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
    across = (matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2]) / depth
    down = (matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2]) / depth
    return across, down


def plane_residual_mm(matrix: Array, mm: Array, pixels: Array) -> float:
    """Root mean square distance on the card between where corners are and where they belong."""
    back = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    x, y = project(back, *pixels.T)
    return float(np.sqrt(((x - mm[:, 0]) ** 2 + (y - mm[:, 1]) ** 2).mean()))


def jacobian(matrix: Array, x_mm: float, y_mm: float) -> Array:
    """Pixels for each mm to the right and down, at a point of the card."""
    step = 0.01
    x = np.array([x_mm - step, x_mm + step, x_mm, x_mm])
    y = np.array([y_mm, y_mm, y_mm - step, y_mm + step])
    u, v = project(matrix, x, y)
    return np.array([[u[1] - u[0], u[3] - u[2]], [v[1] - v[0], v[3] - v[2]]]) / (2 * step)


def pixels_per_mm(matrix: Array) -> float:
    """Pixels to the mm at the card's middle: the root of how much larger an area is."""
    return math.sqrt(abs(float(np.linalg.det(jacobian(matrix, WIDTH_MM / 2, HEIGHT_MM / 2)))))


def steepness(matrix: Array) -> float:
    """The longest mm by the shortest, at the card's middle; 1 when seen from straight above."""
    long, short = np.linalg.svd(jacobian(matrix, WIDTH_MM / 2, HEIGHT_MM / 2))[1]
    return float(long / max(short, 1e-9))


def sample_light(picture: PhotoPixels, matrix: Array, x_mm: Array, y_mm: Array) -> Array | None:
    """Light at points of the card, interpolated between pixels; points x 3.

    None if any lies outside the picture.
    """
    x, y = project(matrix, x_mm, y_mm)
    x, y = x - 0.5, y - 0.5  # from edges to middles of pixels
    if x.min() < 0 or y.min() < 0 or x.max() > picture.width - 1 or y.max() > picture.height - 1:
        return None
    left = np.minimum(x.astype(np.int64), picture.width - 2)
    top = np.minimum(y.astype(np.int64), picture.height - 2)
    right_share, low_share = (x - left)[:, None], (y - top)[:, None]
    light = linear_light_table()
    upper = light[picture.codes[top, left]] * (1 - right_share)
    upper = upper + light[picture.codes[top, left + 1]] * right_share
    lower = light[picture.codes[top + 1, left]] * (1 - right_share)
    lower = lower + light[picture.codes[top + 1, left + 1]] * right_share
    light_at: Array = upper * (1 - low_share) + lower * low_share
    return light_at


def line_through(points: Array) -> Array:
    """The line a x + b y + c = 0 nearest to points, by the squares of their distances."""
    centre = points.mean(axis=0)
    normal = np.linalg.svd(points - centre)[2][1]
    return np.array([normal[0], normal[1], -float(normal @ centre)])
