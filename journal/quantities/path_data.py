"""Paths as SVG writes them, read into straight and curved pieces.

Source: SVG 1.1 (second edition), chapter 8.3, and SVG 2, chapter 9.3; arcs by appendix F.6 of
the first.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from typing import Final, NamedTuple

from journal.errors import QuantityError

Point = tuple[float, float]
# (a, b, c, d, e, f) takes (x, y) to (a x + c y + e, b x + d y + f).
Matrix = tuple[float, float, float, float, float, float]
IDENTITY: Final[Matrix] = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

# The longest path that is read: a motif of a few hundred points is a fine one.
MOST_SEGMENTS: Final = 2000
# No drawing is as large; what is larger would overflow where it is multiplied.
_LARGEST: Final = 1e6
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_BLANKS: Final = " \t\n\r\f"
# How many numbers each command takes at a time.
_TAKES: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
_TRANSFORM: Final = re.compile(r"[\s,]*(translate|scale|matrix)\s*\(([^()]*)\)")
_TRANSFORM_TAKES: Final = {"translate": (1, 2), "scale": (1, 2), "matrix": (6,)}


class PathSegment(NamedTuple):
    """One piece of a path: "M" and "L" with one point, "C" with three, "Z" with none."""

    command: str
    points: tuple[Point, ...] = ()


class PathError(QuantityError):
    """A text is no path; ``offset`` is where it goes wrong, in characters from 0."""

    def __init__(self, what: str, offset: int, hint: str = "Mend the path.") -> None:
        super().__init__(what, hint)
        self.offset = offset


class _PathText:
    """The text of a path and how far it has been read."""

    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0

    def skip_blanks(self) -> None:
        while self.at < len(self.text) and self.text[self.at] in _BLANKS:
            self.at += 1

    @property
    def next(self) -> str:
        """The character that comes next; "" at the end."""
        return self.text[self.at : self.at + 1]

    def part(self) -> None:
        """Skip blanks and at most one comma between two numbers."""
        self.skip_blanks()
        if self.next == ",":
            self.at += 1
            self.skip_blanks()

    def number(self) -> float:
        """Read a number; PathError where there is none, or one that is too large."""
        found = _NUMBER.match(self.text, self.at)
        if found is None:
            raise PathError(f"{_shown(self.next)} stands where a number belongs", self.at)
        value = float(found[0])
        if not abs(value) <= _LARGEST:
            raise PathError("the number is too large for a drawing", self.at)
        self.at = found.end()
        return value

    def flag(self) -> float:
        """Read a flag of an arc: one character, 0 or 1."""
        if self.next not in ("0", "1"):
            raise PathError(f"{_shown(self.next)} stands where a flag 0 or 1 belongs", self.at)
        self.at += 1
        return float(self.text[self.at - 1])

    def more_numbers(self) -> bool:
        """Whether another number follows; what parts it from the last is skipped."""
        self.skip_blanks()
        if self.next == ",":
            self.part()
            return True
        return bool(self.next) and self.next in "+-.0123456789"


def _shown(character: str) -> str:
    return f'"{character}"' if character else "the end"


# A preview reads the same outlines at each save.
@lru_cache(maxsize=256)
def read_path(text: str) -> tuple[PathSegment, ...]:
    """Read the data of a path (the attribute ``d``) into absolute lines and cubic curves.

    Takes:  text  commands M L H V C S Q T A Z, of either case
    Gives:  its pieces; quadratic curves become cubic ones exactly, arcs by quarter turns at most,
            whose error is below 3e-4 of the radius
    Fails:  PathError with the place, for what is no path and for one that is too long
    Source: SVG 1.1, 8.3.9; SVG 2, 9.3.9
    """
    source, found = _PathText(text), list[PathSegment]()
    now = start = handle = (0.0, 0.0)
    last = ""
    source.skip_blanks()
    while source.next:
        letter, place = source.next, source.at
        command = letter.upper()
        if command not in _TAKES:
            raise PathError(f"{_shown(letter)} is no command of a path", place)
        if not found and command != "M":
            raise PathError("a path begins with M", place)
        source.at += 1
        source.skip_blanks()
        first = True
        while first or (command != "Z" and source.more_numbers()):
            values = list(_arguments(source, command))
            base = now if letter.islower() else (0.0, 0.0)
            if command == "M":
                now = (values[0] + base[0], values[1] + base[1])
                start = now if first else start
                found.append(PathSegment("M" if first else "L", (now,)))
            elif command == "Z":
                now = start
                found.append(PathSegment("Z"))
            else:
                handle = handle if last in _SMOOTH_AFTER.get(command, "") else now
                made, handle = _drawn(command, values, base, now, handle)
                found.extend(made)
                now = made[-1].points[-1] if made else now
            if len(found) > MOST_SEGMENTS:
                raise PathError(f"the path has more than {MOST_SEGMENTS} pieces", place)
            last, first = command, False
        source.skip_blanks()
    return tuple(found)


# After which commands the handle of the last curve is mirrored.
_SMOOTH_AFTER: Final = {"S": "CS", "T": "QT"}


def _arguments(source: _PathText, command: str) -> Iterator[float]:
    """Yield the numbers of one command."""
    for number in range(_TAKES[command]):
        if number:
            source.part()
        yield source.flag() if command == "A" and number in (3, 4) else source.number()


def _drawn(
    command: str, values: list[float], base: Point, now: Point, handle: Point
) -> tuple[list[PathSegment], Point]:
    """The pieces that one command draws from ``now``, and the handle of its curve's end.

    ``handle`` is that of the curve before it, or ``now``.
    """
    if command == "A":
        end = (values[5] + base[0], values[6] + base[1])
        return _arc(now, (values[0], values[1]), values[2], values[3] > 0, values[4] > 0, end), end
    if command == "H":
        end = (values[0] + base[0], now[1])
        return [PathSegment("L", (end,))], end
    if command == "V":
        end = (now[0], values[0] + base[1])
        return [PathSegment("L", (end,))], end
    points = [(x + base[0], y + base[1]) for x, y in zip(values[::2], values[1::2], strict=True)]
    if command == "L":
        return [PathSegment("L", (points[0],))], points[0]
    if command in "ST":
        points.insert(0, (2 * now[0] - handle[0], 2 * now[1] - handle[1]))
    if command in "CS":
        return [PathSegment("C", tuple(points))], points[1]
    middle, end = points
    one, other = (
        (at[0] + 2 / 3 * (middle[0] - at[0]), at[1] + 2 / 3 * (middle[1] - at[1]))
        for at in (now, end)
    )
    return [PathSegment("C", (one, other, end))], middle


def _arc(
    start: Point, radii: Point, turn_deg: float, large: bool, sweep: bool, end: Point
) -> list[PathSegment]:
    """An elliptical arc as cubic curves, each a quarter turn at most.

    Source: SVG 1.1, F.6.5 and F.6.6 (centre of the ellipse; radii too small are enlarged)
    """
    if start == end:
        return []
    rx, ry = abs(radii[0]), abs(radii[1])
    if not rx or not ry:
        return [PathSegment("L", (end,))]
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    dx, dy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    x, y = cos * dx + sin * dy, -sin * dx + cos * dy
    stretch = math.hypot(x / rx, y / ry)
    if stretch > 1:
        rx, ry = rx * stretch, ry * stretch
    below = (rx * y) ** 2 + (ry * x) ** 2
    root = math.sqrt(max(0.0, (rx * ry) ** 2 / below - 1)) * (-1 if large == sweep else 1)
    cx, cy = root * rx * y / ry, -root * ry * x / rx
    first = math.atan2((y - cy) / ry, (x - cx) / rx)
    swept = math.atan2((-y - cy) / ry, (-x - cx) / rx) - first
    if sweep and swept < 0:
        swept += 2 * math.pi
    elif not sweep and swept > 0:
        swept -= 2 * math.pi
    middle = (
        cos * cx - sin * cy + (start[0] + end[0]) / 2,
        sin * cx + cos * cy + (start[1] + end[1]) / 2,
    )
    place: Matrix = (cos * rx, sin * rx, -sin * ry, cos * ry, *middle)
    pieces = max(1, math.ceil(abs(swept) / (math.pi / 2) - 1e-9))
    step = swept / pieces
    reach = 4 / 3 * math.tan(step / 4)
    curves = []
    for number in range(pieces):
        a, b = first + number * step, first + (number + 1) * step
        unit = (
            (math.cos(a) - reach * math.sin(a), math.sin(a) + reach * math.cos(a)),
            (math.cos(b) + reach * math.sin(b), math.sin(b) - reach * math.cos(b)),
            (math.cos(b), math.sin(b)),
        )
        curves.append(PathSegment("C", tuple(moved(place, point) for point in unit)))
    # The end is as it was written, not as it was reckoned.
    curves[-1] = PathSegment("C", (*curves[-1].points[:2], end))
    return curves


def read_transform(text: str) -> Matrix:
    """Read ``translate``, ``scale`` and ``matrix`` of an attribute ``transform``, in their order.

    Fails:  PathError for any other function, and for numbers that do not belong there
    Source: SVG 1.1, 7.6
    """
    whole, at = IDENTITY, 0
    end = len(text.rstrip(_BLANKS))
    while at < end:
        found = _TRANSFORM.match(text, at)
        if found is None:
            hint = "Apply it to the path in the program that drew it."
            raise PathError("only translate, scale and matrix are read", at, hint)
        source, numbers = _PathText(found[2].strip(_BLANKS)), list[float]()
        while not numbers or source.more_numbers():
            numbers.append(source.number())
        name = found[1]
        if source.next or len(numbers) not in _TRANSFORM_TAKES[name]:
            raise PathError(f"{name} has other numbers than belong there", found.start(1))
        if name == "matrix":
            a, b, c, d, e, f = numbers
        elif name == "translate":
            a, b, c, d, e, f = 1.0, 0.0, 0.0, 1.0, numbers[0], (*numbers, 0.0)[1]
        else:
            a, b, c, d, e, f = numbers[0], 0.0, 0.0, numbers[-1], 0.0, 0.0
        whole = joined(whole, (a, b, c, d, e, f))
        at = found.end()
    return whole


def moved(matrix: Matrix, point: Point) -> Point:
    """A point where the matrix takes it."""
    a, b, c, d, e, f = matrix
    return (a * point[0] + c * point[1] + e, b * point[0] + d * point[1] + f)


def joined(outer: Matrix, inner: Matrix) -> Matrix:
    """The matrix that does ``inner`` first, then ``outer``."""
    a, b = moved(outer, (inner[0], inner[1])), moved(outer, (inner[2], inner[3]))
    e, f = outer[4], outer[5]
    return (a[0] - e, a[1] - f, b[0] - e, b[1] - f, *moved(outer, (inner[4], inner[5])))


def on_points(
    segments: Iterable[PathSegment], move: Callable[[Point], Point]
) -> tuple[PathSegment, ...]:
    """The pieces of a path with every point moved."""
    return tuple(PathSegment(one.command, tuple(map(move, one.points))) for one in segments)


def bounds(segments: Iterable[PathSegment]) -> tuple[Point, Point] | None:
    """The least and the greatest x and y of a path, curves included; None for an empty one."""
    xs, ys = list[float](), list[float]()
    now = start = (0.0, 0.0)
    for command, points in segments:
        if command == "M":
            start = points[0]
        if command == "C":
            for axis, found in ((0, xs), (1, ys)):
                ends = (now[axis], *(point[axis] for point in points))
                found.extend(_cubic_at(ends, t) for t in _turning_points(ends))
        if points:
            now = points[-1]
            xs.append(now[0])
            ys.append(now[1])
        else:
            now = start
    return ((min(xs), min(ys)), (max(xs), max(ys))) if xs else None


def _turning_points(ends: tuple[float, ...]) -> Iterator[float]:
    """Yield where, between 0 and 1, a cubic curve turns back along one axis."""
    p, q, r, s = ends
    a, b, c = -p + 3 * q - 3 * r + s, 2 * (p - 2 * q + r), q - p
    if abs(a) < 1e-12:
        roots = [-c / b] if abs(b) > 1e-12 else []
    else:
        below = b * b - 4 * a * c
        root = math.sqrt(below) if below >= 0 else math.nan
        roots = [(-b + root) / (2 * a), (-b - root) / (2 * a)]
    yield from (t for t in roots if 0 < t < 1)


def _cubic_at(ends: tuple[float, ...], t: float) -> float:
    p, q, r, s = ends
    u = 1 - t
    return u * u * u * p + 3 * u * u * t * q + 3 * u * t * t * r + t * t * t * s
