"""The light on the photo card, measured by its bare paper and its greys."""

from __future__ import annotations

import math

from msgspec import Struct

from journal.photos.arrays import Array, np
from journal.photos.card import GREYS, CardPatch, grey_steps, paper_patches
from journal.photos.light import PhotoPixels, linear_light_table
from journal.photos.plane import CardPlane, pixels_per_mm, project, sample_light
from journal.photos.source import PhotoProblem

_TOO_LIGHT = 0.94  # of light: code 248
_TOO_DARK = 0.12  # of light on the paper: code 97
_STRAY = 0.35  # of their light that the greys may stray from an even correction

RAMP_RIM = 2.0  # mm of each grey step that its neighbours may have bled into


class CardIllumination(Struct, frozen=True):
    """The light on the card: a gain for each channel and one fall-off for all three.

    A patch printed with the light v has v * gain * (1 + fall . (pixel - middle)) in the photo.
    ``errors`` is the 3 x 3 covariance matrix of the constant 1 and the two falls, as shares of
    the light; ``stray`` is the root mean square distance of the greys from the fit, as a share.
    """

    middle: tuple[float, float]
    gains: tuple[float, float, float]
    fall: tuple[float, float]
    errors: Array
    stray: float

    def white_at(self, x: float, y: float) -> tuple[float, float, float]:
        """The light that a white patch would have at a pixel, per channel."""
        share = self._share(x, y)
        red, green, blue = self.gains
        return red * share, green * share, blue * share

    def _share(self, x: float, y: float) -> float:
        """The light at a pixel by that at the card's middle; at least 0.05."""
        fall = self.fall[0] * (x - self.middle[0]) + self.fall[1] * (y - self.middle[1])
        return max(1.0 + fall, 0.05)

    def error_at(self, x: float, y: float) -> float:
        """The error of ``white_at`` at a pixel, as a share of it (95 %).

        It adds up the fit's own error there, the greys' straying, and half the square of the
        fall-off from the card: what a light that falls off along a curve may add.
        """
        place = np.array([1.0, x - self.middle[0], y - self.middle[1]])
        spread = math.sqrt(max(float(place @ self.errors @ place), 0.0))
        fall = self._share(x, y) - 1.0
        return 2.0 * math.hypot(spread, self.stray / math.sqrt(len(GREYS))) + fall**2 / 2.0


def patch_light(picture: PhotoPixels, matrix: Array, patch: CardPatch, rim: float) -> Array | None:
    """Light of a patch of one colour, per channel: the mean of the middle half of its pixels.

    ``rim`` mm are left out on each side. None if the patch leaves the picture.
    """
    inner = patch.inside(rim)
    across = max(4, min(40, int(inner.width * pixels_per_mm(matrix))))
    down = max(4, min(40, int(inner.height * pixels_per_mm(matrix))))
    x = inner.x + (np.arange(across) + 0.5) / across * inner.width
    y = inner.y + (np.arange(down) + 0.5) / down * inner.height
    grid_x, grid_y = (part.ravel() for part in np.meshgrid(x, y))
    light = sample_light(picture, matrix, grid_x, grid_y)
    if light is None:
        return None
    ordered = np.sort(light, axis=0)
    quarter = len(ordered) // 4
    mean: Array = ordered[quarter : len(ordered) - quarter].mean(axis=0)
    return mean


def fit_card_illumination(
    picture: PhotoPixels, plane: CardPlane, middle: tuple[float, float]
) -> CardIllumination:
    """Fit the light on the card to its bare paper and its greys; ``middle`` is in pixels.

    Fails:  PhotoProblem if the card is clipped, too dark, shaded or covered
    """
    printed, photographed, places = [], [], []
    for patch in (*paper_patches(), *grey_steps()):
        rim = RAMP_RIM if patch.srgb[0] < 255 else 0.0
        light = patch_light(picture, plane.to_pixels, patch, rim)
        if light is None:
            continue  # a cut edge just outside the picture
        x, y = project(
            plane.to_pixels,
            np.array([patch.x + patch.width / 2]),
            np.array([patch.y + patch.height / 2]),
        )
        printed.append(float(linear_light_table()[patch.srgb[0]]))
        photographed.append(light)
        places.append((float(x[0]) - middle[0], float(y[0]) - middle[1]))
    target, levels, place = np.array(printed), np.array(photographed), np.array(places)
    paper = target == 1.0
    usable = (levels.max(axis=1) < _TOO_LIGHT) & (levels.min(axis=1) > 0.002)
    greys = usable & ~paper
    if greys.sum() < 3 or (usable & paper).sum() < 8:
        raise PhotoProblem(
            "the photo card is clipped: its paper or its greys are lighter than the photo can hold",
            "Take it again with less light, or with the exposure turned down",
        )
    if np.median(levels[paper].max(axis=1)) < _TOO_DARK:
        raise PhotoProblem(
            "the photo card is too dark to tell colours by", "Take it again in more light"
        )
    target, levels, place = target[usable], levels[usable], place[usable]
    gains, fall, stray = _fit_gains(levels / target[:, None], place)
    grey_stray = stray[target < 1.0].mean(axis=1)
    if float(np.abs(grey_stray).max()) > _STRAY:
        raise PhotoProblem(
            "the greys of the photo card are not as printed: something shades or covers it",
            "Take it again in even light, with nothing on the card",
        )
    design = np.column_stack([np.ones(len(place)), place / (1.0 + place @ fall)[:, None]])
    variance = float(np.median(stray.mean(axis=1) ** 2)) * 2.2  # as of a normal spread
    red, green, blue = (float(gain) for gain in gains)
    return CardIllumination(
        middle=middle,
        gains=(red, green, blue),
        fall=(float(fall[0]), float(fall[1])),
        errors=np.linalg.inv(design.T @ design) * variance,
        stray=float(np.sqrt((grey_stray**2).mean())),
    )


_HUBER = 0.02  # share of the light from which a patch counts for less


def _fit_gains(ratio: Array, place: Array) -> tuple[Array, Array, Array]:
    """Fit gains and fall-off, so that gain * (1 + fall . place) is nearest to ``ratio``.

    Least squares on shares of the light; a patch that strays, as under a thumb's shadow, counts
    for less (Huber's weights), so that it does not turn the whole card.

    Takes:  ratio  photographed over printed light; patches x 3
            place  pixels from the card's middle; patches x 2
    Gives:  gains, falls, and what is left over (patches x 3)
    Source: Huber, Robust Statistics, 1981 (from memory)
    """
    from scipy.optimize import least_squares

    size = float(np.abs(place).max())

    def residuals(values: Array) -> Array:
        share = np.maximum(1.0 + place @ values[3:] / size, 0.05)
        return np.ravel(np.log(ratio / (values[:3] * share[:, None])))

    start = np.append(np.median(ratio, axis=0), [0.0, 0.0])
    fit = least_squares(residuals, start, loss="huber", f_scale=_HUBER)
    return fit.x[:3], fit.x[3:] / size, np.expm1(fit.fun).reshape(-1, 3)
