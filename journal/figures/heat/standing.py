"""A pour that has rested and chilled, and then stands in the room until it is as warm as that."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from journal.figures.heat.bond_case import BondCase
from journal.figures.heat.bond_stack import BondModel, setting_of

# A thing is followed until it is so near to the room, or for so long.
AS_WARM_K = 0.1
FOLLOWED_S = 48 * 3600.0

#: (minutes, degrees C), from 0 min on.
Course = tuple[tuple[float, float], ...]


def standing(case: BondCase) -> Course:
    """The detail of a case on its mat, from the end of its stays on, in the air of the room.

    With a ``mat_mm`` of 0 it is a thing by itself, such as a bar, in air above and below. Its
    sides are left out, so that it takes longer here than on the bench.

    Takes:  case  what stands there; every property is taken at its nominal value
    Gives:  the mean over its depth, until it is within ``AS_WARM_K`` of the room
    Fails:  FigureError if it never sets where a stay waits for it
    Source: conduction by the enthalpy method (``conduction``); estimate
    Checked: a thin slab's e^(-h t / c) (tests/figures/heat/test_standing.py)
    """
    model = BondModel(case, (setting_of(case),))
    course = [(0.0, float(model.detail_mean_c()[0]))]
    for time_s, mean_c in model.detail_in_room(FOLLOWED_S):
        if abs(course[-1][1] - case.room_c) <= AS_WARM_K:
            break
        course.append((time_s / 60.0, mean_c))
    return tuple(course)


def minutes_until(course: Sequence[tuple[float, float]], low_c: float, high_c: float) -> float:
    """When a course first lies between two temperatures, in minutes; straight between its points.

    Past its last point it is as warm as the room: infinite where that lies outside too.
    """
    if low_c <= course[0][1] <= high_c:
        return course[0][0]
    for (before_min, before_c), (at_min, at_c) in pairwise(course):
        if low_c <= at_c <= high_c:
            edge_c = low_c if before_c < low_c else high_c
            share = (edge_c - before_c) / (at_c - before_c)
            return before_min + share * (at_min - before_min)
    return float("inf")
