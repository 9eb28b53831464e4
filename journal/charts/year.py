"""The pours of a year on a ruled line, broken by quarters of thirteen weeks.

The unit is a CSS pixel where the four quarters stand side by side on a wide page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from journal.charts.drawing import ChartLabel, InkDrawing, InkShape, decimals

WEEKS = 13
# A year has 52 weeks or 53: half a week of room at either end takes the last one.
_WEEK, _SLOTS = 18.0, 14
_CELL, _PITCH = (5.6, 4.2), (7.0, 5.4)
_MOST_IN_ROW = 2
_ROOM_TOP, _ROOM_HIGH, _NUMBER = 15.0, 14.0, 11.0
_TOP = 40.0


class YearPour(NamedTuple):
    """A pour on the line: its week from 0 and its place in weeks, its design's number, its cells.

    ``room`` is the temperature in the unit of ``room_text``; None if it was not noted.
    """

    week: int
    at: float
    number: str
    cells: str
    room: float | None
    room_text: str


class Quarter(NamedTuple):
    """Some weeks of the line, from ``first``; ``months`` are where a month begins, and its name."""

    first: int
    title: str
    desc: str
    months: Sequence[tuple[int, str]]


def year_line(quarters: Sequence[Quarter], pours: Sequence[YearPour]) -> tuple[InkDrawing, ...]:
    """The quarters of a year, all of one height and with one scale of the room's temperature."""
    rule = _TOP + max((_stack_height(pours, pour.week) for pour in pours), default=0.0)
    rooms = [pour.room for pour in pours if pour.room is not None]
    scale = (min(rooms, default=0.0), max(rooms, default=0.0))
    last = len(quarters) - 1
    return tuple(
        _quarter_drawing(
            f"quarter-{number}",
            quarter,
            [
                pour
                for pour in pours
                if quarter.first <= pour.week
                and (number == last or pour.week < quarter.first + WEEKS)
            ],
            rule,
            scale,
        )
        for number, quarter in enumerate(quarters)
    )


def _rows(cells: str) -> int:
    return -(-len(cells) // _MOST_IN_ROW)


def _height(cells: str) -> float:
    """The height of a mould with its number over it."""
    return _rows(cells) * _PITCH[1] + _NUMBER


def _stack_height(pours: Sequence[YearPour], week: int) -> float:
    return sum(_height(pour.cells) for pour in pours if pour.week == week)


def _quarter_drawing(
    name: str, quarter: Quarter, pours: Sequence[YearPour], rule: float, scale: tuple[float, float]
) -> InkDrawing:
    """One quarter: months under the line, moulds on it, the room's temperature above them."""
    width = _SLOTS * _WEEK

    def place(weeks: float) -> float:
        """The place of a day, in weeks of the year."""
        return (weeks - quarter.first + 0.5) * _WEEK

    letters = [
        ChartLabel(month, decimals(place(week), 1), decimals(rule + 14, 1), tone="name")
        for week, month in quarter.months
    ]
    ticks = "".join(
        f"M{decimals(place(week), 1)} {decimals(rule, 1)}v4" for week, _ in quarter.months
    )
    fit: list[str] = []
    lost: list[str] = []
    struck: list[str] = []
    foot: dict[int, float] = {}
    for pour in pours:
        top = foot.get(pour.week, rule) - _rows(pour.cells) * _PITCH[1]
        foot[pour.week] = top - _NUMBER
        left = place(pour.week) + 2.0
        for n, letter in enumerate(pour.cells):
            x = decimals(left + _PITCH[0] * (n % _MOST_IN_ROW), 1)
            y = top + _PITCH[1] * (n // _MOST_IN_ROW)
            if letter == ".":
                continue
            cell = f"M{x} {decimals(y, 1)}h{_CELL[0]}v{_CELL[1]}h-{_CELL[0]}z"
            (fit if letter == "y" else lost).append(cell)
            if letter == "n":
                struck.append(f"M{x} {decimals(y + _CELL[1], 1)}l{_CELL[0]}-{_CELL[1]}")
        middle = decimals(left + _PITCH[0] - 0.7, 1)
        letters.append(ChartLabel(pour.number, middle, decimals(top - 3, 1), "middle", "name"))
    shapes = [
        InkShape(f"M0 {decimals(rule, 1)}h{decimals(width + 1, 1)}{ticks}", "line"),
        InkShape("".join(fit), "mark"),
        InkShape("".join(lost), "open"),
        InkShape("".join(struck), "stroke"),
    ]
    room_shapes, room_letters = _room(pours, place, scale)
    return InkDrawing(
        name, quarter.title, quarter.desc,
        f"0 0 {decimals(width, 1)} {decimals(rule + 18, 1)}",
        tuple(shape for shape in (*shapes, *room_shapes) if shape.d),
        (*letters, *room_letters),
        "100%",
    )  # fmt: skip


def _room(
    pours: Sequence[YearPour], place: Callable[[float], float], scale: tuple[float, float]
) -> tuple[list[InkShape], list[ChartLabel]]:
    """The room's temperature at each pour, joined, with its number where it is another."""
    low, high = scale
    points = sorted((pour.at, pour.room, pour.room_text) for pour in pours if pour.room is not None)
    places: list[str] = []
    letters: list[ChartLabel] = []
    said, free = "", 0.0
    for at, room, text in points:
        x = place(at)
        share = (high - room) / (high - low) if high > low else 0.5
        y = _ROOM_TOP + _ROOM_HIGH * share
        places.append(f"{decimals(x, 1)} {decimals(y, 1)}")
        if text != said and x >= free:
            letters.append(ChartLabel(text, decimals(x, 1), decimals(y - 5, 1), tone="name rim"))
            said, free = text, x + 5.6 * len(text)
    if not places:
        return [], []
    dots = "".join(f"M{point}h0" for point in places)
    return [InkShape(f"M{'L'.join(places)}", "hair"), InkShape(dots, "spots")], letters
