"""Finding the photo card in a photo: where it lies, what the light on it was.

The six squares give the card's plane (a homography from 24 corners); the bare paper and the
greys give the light. A card that is not found whole, flat, large and rightly exposed is refused
with the reason: no measurement is better than a wrong one.
"""

from __future__ import annotations

from msgspec import Struct

from journal.photos import plane as geometry
from journal.photos.arrays import Array, np
from journal.photos.card import (
    HEIGHT_MM,
    RULER_MM,
    RULER_Y_MM,
    SQUARE_MM,
    STRIP_X_MM,
    WIDTH_MM,
    grey_steps,
    square_corners,
)
from journal.photos.card_light import RAMP_RIM, CardIllumination, fit_card_illumination, patch_light
from journal.photos.light import LUMINANCE, PhotoPixels
from journal.photos.source import PhotoProblem
from journal.photos.squares import CardSquare, dark_squares, reductions

_LEAST_PIXELS_PER_MM = 2.0
# Root mean square distance of the corners from the plane that fits best. A card arched by 2, 4,
# 6 mm along its length showed 0.05, 0.10, 0.15 mm and lengths beside it 0.35, 0.7, 1.0 % wrong;
# a flat one shows 0.01 to 0.05.
_NOT_FLAT_MM = 0.12
_SCALE_OFF = 0.07  # share of a length for each mm of that distance
_STEEPEST = 1.45  # longest by shortest mm of the card; a tilt of 45 degrees has 1.41

_SEE_ALL = "Take it again with the whole card in the picture, sharp, and nothing on it"


class FoundCard(Struct, frozen=True):
    """The card in a photo: its plane, and the light on it.

    ``pixels_per_mm`` is taken at its middle; ``flatness_mm`` is how far its corners are from
    the plane that fits them best (root mean square).
    """

    plane: geometry.CardPlane
    middle: tuple[float, float]
    pixels_per_mm: float
    flatness_mm: float
    light: CardIllumination

    @property
    def scale_error(self) -> float:
        """The error of a length in the card's plane, as a share of it."""
        return _SCALE_OFF * self.flatness_mm

    def on_card(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Turn x and y of pixels into mm from the card's left top corner."""
        return geometry.project(self.plane.to_mm, x, y)


def find_card(picture: PhotoPixels) -> FoundCard:
    """Find the photo card in an upright sRGB picture.

    Fails:  PhotoProblem when there is no card, or it is cut off, small, bent, steep, or too
            light or dark, with the reason and what to do
    """
    from PIL import Image

    grey = np.asarray(Image.fromarray(picture.codes).convert("L"))
    largest: tuple[CardSquare, ...] = ()
    for small, factor in reductions(grey):
        squares = tuple(
            CardSquare(square.corners * factor, square.open) for square in dark_squares(small)
        )
        for matched in _candidate_cards(squares):
            if len(matched) == len(square_corners()):
                card = _locate_card(picture, matched)
                if card is not None:
                    return card
            elif len(matched) > len(largest):
                largest = matched
    if len(largest) >= 3:
        raise PhotoProblem(
            f"only {len(largest)} of the photo card's 6 squares are to be seen", _SEE_ALL
        )
    raise PhotoProblem("no photo card is to be seen in the picture", _SEE_ALL)


# The squares after the open one, in the order in which each is looked for from those before it:
# the one below, then the two in the middle, then the two on the right. With each, how far off it
# may be, as a share of the distance to the nearest of those before.
_REACH_BY_SQUARE = {3: 0.5, 1: 0.4, 4: 0.25, 2: 0.2, 5: 0.15}


def _candidate_cards(squares: tuple[CardSquare, ...]) -> list[tuple[CardSquare, ...]]:
    """Candidates for the card: squares in the order of the card, the open one first.

    One candidate begins at each turn of each open square, and ends where the next square is not
    at its place; six squares make a whole card. The longest candidates come first.
    """
    model = np.array(square_corners())
    middles = np.array([square.middle for square in squares]).reshape(-1, 2)
    sets = []
    for start in squares:
        if not start.open:
            continue
        for turn in range(4):
            matched = {0: CardSquare(np.roll(start.corners, turn, axis=0), True)}
            for number, reach in _REACH_BY_SQUARE.items():
                nearest = min(
                    matched,
                    key=lambda n: float(((model[n] - model[number]).mean(axis=0) ** 2).sum()),
                )
                matrix = geometry.fit_homography(
                    np.concatenate([model[n] for n in matched]),
                    np.concatenate([matched[n].corners for n in matched]),
                    affine=len(matched) <= 2,  # too narrow to tell how it recedes
                )
                if matrix is None:
                    break
                expected = np.stack(geometry.project(matrix, *model[number].T), axis=1)
                goal = expected.mean(axis=0)
                distance = float(np.hypot(*(goal - matched[nearest].middle)))
                off = np.hypot(*(middles - goal).T)
                best = int(np.argmin(off))
                candidate = squares[best]
                alike = 0.5 < candidate.side / CardSquare(expected, False).side < 2.0
                if off[best] > reach * distance or candidate.open or not alike:
                    break
                matched[number] = CardSquare(_nearest_turn(candidate.corners, expected), False)
            sets.append(tuple(matched[n] for n in sorted(matched)))
    return sorted(sets, key=len, reverse=True)


def _nearest_turn(corners: Array, expected: Array) -> Array:
    """The same four corners, renumbered cyclically to match the expected ones best."""
    turns = [np.roll(corners, n, axis=0) for n in range(4)]
    centred = expected - expected.mean(axis=0)
    return min(turns, key=lambda c: float(((c - c.mean(axis=0) - centred) ** 2).sum()))


def _locate_card(picture: PhotoPixels, squares: tuple[CardSquare, ...]) -> FoundCard | None:
    """The card from its six squares; None if these squares are no card after all."""
    mm = np.array(square_corners()).reshape(-1, 2)
    rough = np.concatenate([square.corners for square in squares])
    matrix = geometry.fit_homography(mm, rough)
    if (
        matrix is None
        or geometry.plane_residual_mm(matrix, mm, rough) > SQUARE_MM / 4
        or not _looks_like_a_card(picture, matrix)
    ):
        return None
    density = geometry.pixels_per_mm(matrix)
    if density < _LEAST_PIXELS_PER_MM:
        raise PhotoProblem(
            f"the photo card is too small in the picture ({density:.1f} pixels a mm; "
            f"{_LEAST_PIXELS_PER_MM:g} are needed)",
            "Take it again from nearer, or with more pixels",
        )
    if geometry.steepness(matrix) > _STEEPEST:
        raise PhotoProblem(
            "the photo card is seen too much from the side", "Take it again from straight above"
        )
    edge = np.array([(0.0, 0.0), (WIDTH_MM, 0.0), (WIDTH_MM, HEIGHT_MM), (0.0, HEIGHT_MM)])
    if geometry.sample_light(picture, matrix, *edge.T) is None:
        raise PhotoProblem("the photo card runs out of the picture", _SEE_ALL)
    for _ in range(2):
        corners = _refine_corners(picture, matrix)
        better = None if corners is None else geometry.fit_homography(mm, corners)
        if corners is None or better is None:
            raise PhotoProblem(
                "the squares of the photo card are not sharp enough to measure by",
                "Take it again, in focus and held still",
            )
        matrix = better
        flatness = geometry.plane_residual_mm(matrix, mm, corners)
    back = np.linalg.inv(matrix)
    plane = geometry.CardPlane(matrix, np.asarray(back / back[2, 2], dtype=np.float64))
    middle_x, middle_y = geometry.project(
        matrix, np.array([WIDTH_MM / 2]), np.array([HEIGHT_MM / 2])
    )
    middle = float(middle_x[0]), float(middle_y[0])
    light = fit_card_illumination(picture, plane, middle)
    if flatness > _NOT_FLAT_MM:
        raise PhotoProblem(
            f"the photo card does not lie flat (its squares are {flatness:.2f} mm off a plane)",
            "Stick it to something stiff, and take it again",
        )
    return FoundCard(plane, middle, geometry.pixels_per_mm(matrix), flatness, light)


def _looks_like_a_card(picture: PhotoPixels, matrix: Array) -> bool:
    """Whether greys fall from light to dark where they should, and the ruler has its marks."""
    greys = [patch_light(picture, matrix, step, RAMP_RIM) for step in grey_steps()]
    if any(grey is None for grey in greys):
        return False
    luminance = np.array(greys) @ LUMINANCE
    if not (np.diff(luminance[1:]) < 0).all() or luminance[0] < luminance[-1] * 2:
        return False
    # light must fall between the long marks of the ruler and rise again
    at = STRIP_X_MM + np.arange(0, RULER_MM + 0.1, 2.5)
    row = np.full_like(at, RULER_Y_MM + 2.7)  # below the short marks, on the long ones
    light = geometry.sample_light(picture, matrix, at, row)
    if light is None:
        return False
    ruler = light @ LUMINANCE
    return bool(ruler[::2].mean() < 0.93 * ruler[1::2].mean())


_POINTS = 17  # along each side of a square
_INNER = 0.72  # of the side that is used: its ends are rounded by blur
_DEPTH_MM = 1.8  # sampled to either side of a side: nothing else lies so near


def _refine_corners(picture: PhotoPixels, matrix: Array) -> Array | None:
    """Corners of the six squares in pixels, where lines through their sides cross.

    Along each side, at 17 places, the light is followed from black to paper; the side lies where
    a sharp step would let through as much light, which blur does not move.
    None if a side is not clear enough or leaves the picture.
    """
    depth = np.linspace(-_DEPTH_MM, _DEPTH_MM, 45)
    corners = []
    for square in np.array(square_corners()):
        lines = []
        for number in range(4):
            start, end = square[number], square[(number + 1) % 4]
            along = (end - start) / SQUARE_MM
            outwards = np.array([along[1], -along[0]])
            place = (np.linspace(-_INNER, _INNER, _POINTS) + 1) / 2
            on_side = start + place[:, None] * (end - start)
            x = (on_side[:, None, 0] + depth * outwards[0]).ravel()
            y = (on_side[:, None, 1] + depth * outwards[1]).ravel()
            light = geometry.sample_light(picture, matrix, x, y)
            if light is None:
                return None
            level = (light @ LUMINANCE).reshape(_POINTS, len(depth))
            dark = np.median(level[:, :10], axis=1, keepdims=True)
            bright = np.median(level[:, -10:], axis=1, keepdims=True)
            good = (bright - dark)[:, 0] > 0.04
            if good.sum() < _POINTS // 2:
                return None
            share = (level - dark) / np.maximum(bright - dark, 1e-3)
            shift = _DEPTH_MM - np.asarray(np.trapezoid(share, depth, axis=1))
            shift = shift[good]
            is_near = np.abs(shift - np.median(shift)) < 0.5
            at = on_side[good][is_near] + shift[is_near, None] * outwards
            u, v = geometry.project(matrix, *at.T)
            lines.append(geometry.line_through(np.stack([u, v], axis=1)))
        for number in range(4):
            crossing = np.cross(lines[number - 1], lines[number])
            if abs(crossing[2]) < 1e-9:
                return None
            corners.append(crossing[:2] / crossing[2])
    return np.array(corners)
