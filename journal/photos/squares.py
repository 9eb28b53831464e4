"""Black squares in a photo: where something dark with four straight sides lies on something light.

Own work on plain arrays: a local threshold, joined patches of dark pixels, four corners to each
patch. The corners are good to about a pixel of the reduced picture; find_card refines them.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from journal.photos.arrays import Array, Codes, Grey, Mask, np

_WINDOW = 61  # pixels; a square and the paper around it fall within
_CONTRAST = 30.0  # codes between dark and light in a window
_SIDE = (9.0, 58.0)  # pixels, shortest and longest, of a square that a window can judge
_FULL = 0.82  # of the four-sided figure that must be dark, holes filled
_OPEN = 0.25  # of the way from black to paper: how light an open square's middle is at least
_LOPSIDED = 2.6  # longest side by shortest; a square held at 60 degrees has 2


class CardSquare(Struct, frozen=True):
    """Four corners, clockwise in the picture, in pixels; open when its middle is light."""

    corners: Array
    open: bool

    @property
    def middle(self) -> Array:
        """Its middle."""
        middle: Array = self.corners.mean(axis=0)
        return middle

    @property
    def side(self) -> float:
        """The mean length of its sides."""
        return float(np.hypot(*(self.corners - np.roll(self.corners, 1, axis=0)).T).mean())


def dark_squares(grey: Grey) -> tuple[CardSquare, ...]:
    """Every dark patch with four straight sides and a lighter surround, 9 to 58 pixels wide."""
    from scipy import ndimage

    smooth = ndimage.uniform_filter(grey, 3)
    lowest = ndimage.minimum_filter(smooth, _WINDOW)
    highest = ndimage.maximum_filter(smooth, _WINDOW)
    # nearer to the dark end: a blurred square loses less than it would to the middle
    dark = (smooth < lowest + 0.45 * (highest - lowest)) & (highest - lowest > _CONTRAST)
    labels, _ = ndimage.label(dark)
    squares = []
    for number, place in enumerate(ndimage.find_objects(labels), start=1):
        high, wide = (part.stop - part.start for part in place)
        if not (_SIDE[0] * 0.7 <= min(high, wide) and max(high, wide) <= _SIDE[1] * 1.5):
            continue
        patch = labels[place] == number
        corners = _four_sided(patch)
        if corners is None:
            continue
        row, column = (int(v) for v in corners.mean(axis=0)[::-1])
        if not (0 <= row < high and 0 <= column < wide):
            continue
        black = float(np.median(smooth[place][patch]))
        paper = float(highest[place][row, column])
        # a small white middle is blurred to grey
        is_open = float(smooth[place][row, column]) > black + _OPEN * (paper - black)
        squares.append(CardSquare(corners + np.array([place[1].start, place[0].start]), is_open))
    return tuple(squares)


def _four_sided(patch: Mask) -> Array | None:
    """Corners of a patch with four straight sides, from its own left top corner; or None."""
    from scipy import ndimage

    filled = ndimage.binary_fill_holes(patch)
    rim = filled & ~ndimage.binary_erosion(filled)
    rows, columns = np.nonzero(rim)
    on_rim = _corners(np.stack([columns + 0.5, rows + 0.5], axis=1))
    if on_rim is None:
        return None
    middle = on_rim.mean(axis=0)
    # the rim's pixel middles lie half a pixel inside the outline
    sides = np.hypot(*(on_rim - np.roll(on_rim, 1, axis=0)).T)
    corners: Array = middle + (on_rim - middle) * (1.0 + 1.0 / max(float(sides.mean()), 1.0))
    x, y = corners.T
    area = float(abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) / 2)
    if not _FULL <= int(filled.sum()) / area <= 1.25:
        return None
    if sides.min() < _SIDE[0] * 0.6 or sides.max() > _LOPSIDED * sides.min():
        return None
    return corners


def _corners(points: Array) -> Array | None:
    """Four corners of an outline, clockwise: two ends of its longest chord, one to each side.

    None for too few points, or when all lie on one side of the chord.
    """
    if len(points) < 12:
        return None
    first = points[np.argmax(((points - points.mean(axis=0)) ** 2).sum(axis=1))]
    second = points[np.argmax(((points - first) ** 2).sum(axis=1))]
    chord = second - first
    aside = chord[0] * (points[:, 1] - first[1]) - chord[1] * (points[:, 0] - first[0])
    third, fourth = points[np.argmax(aside)], points[np.argmin(aside)]
    if aside.max() <= 0.0 or aside.min() >= 0.0:
        return None
    # y runs down, so a larger cross product lies clockwise of the chord
    return np.stack([first, fourth, second, third])


def reductions(grey: Codes) -> Iterator[tuple[Grey, int]]:
    """The picture at several sizes, each half of the last, with the factor that it is reduced by.

    The squares are between 9 and 58 pixels wide in one of them, wherever the card is from a
    tenth of the picture's length to all of it.
    """
    factor = max(1, -(-max(grey.shape) // 1700))
    while max(grey.shape) / factor >= 200:
        high, wide = grey.shape[0] // factor * factor, grey.shape[1] // factor * factor
        blocks = grey[:high, :wide].reshape(high // factor, factor, wide // factor, factor)
        yield blocks.mean(axis=(1, 3), dtype=np.float32), factor
        factor *= 2
