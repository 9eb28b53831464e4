"""Where rising signals pass 0: many at once, each dear to work out, so few looks at each."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

# Places on the first grid.
GRID = 9


def rising_ends(
    judge: Callable[[Sequence[int], Array], Sequence[Array]],
    cases: int,
    within: tuple[float, float],
    tolerance: float,
) -> tuple[tuple[float | None, ...], ...]:
    """Where each of several rising signals passes 0, for every case, by narrowing brackets.

    A grid first; then within every bracket three places, the middle one where
    a straight line would cross. All places of a round are judged in one call.
    Below the tolerance a straight line is taken.

    Takes:  judge      (case of each place, places) -> one array a signal, a value a place
            cases      how many
            within     ends of the grid, low below high
            tolerance  width of the last bracket; > 0
    Gives:  one tuple a signal, one place a case; the low end where it is passed already, None
            where it is not passed within the grid
    Source: bracketing with linear interpolation
    """
    import numpy as np

    grid = np.linspace(*within, GRID)
    signals = judge([case for case in range(cases) for _ in grid], np.tile(grid, cases))
    brackets: dict[tuple[int, int], _Bracket] = {}
    ends: list[list[float | None]] = [[None] * cases for _ in signals]
    for side, signal in enumerate(signals):
        for case, values in enumerate(signal.reshape(cases, GRID)):
            above = np.flatnonzero(values >= 0)
            if len(above) == 0:
                continue
            upper = int(above[0])
            if upper == 0:
                ends[side][case] = float(grid[0])
                continue
            places, heights = grid[upper - 1 : upper + 1], values[upper - 1 : upper + 1]
            brackets[side, case] = _Bracket(*places.tolist(), *heights.tolist())
    while wide := [key for key, held in brackets.items() if held.high - held.low > tolerance]:
        looks = [(key, place) for key in wide for place in brackets[key].inner()]
        signals = judge([key[1] for key, _ in looks], np.array([place for _, place in looks]))
        for index, (key, place) in enumerate(looks):
            brackets[key] = brackets[key].narrowed(place, float(signals[key[0]][index]))
    for (side, case), bracket in brackets.items():
        ends[side][case] = bracket.crossing()
    return tuple(map(tuple, ends))


def zero_between(
    signal: Callable[[float], float], low: float, high: float, tolerance: float
) -> float:
    """Where a signal passes 0 between two places at which its signs differ.

    A parabola through the last three places, turned on its side, where they lie as one
    would; else the middle.

    Takes:  signal     continuous
            low, high  places with a signal of either sign, in any order
            tolerance  of the place, beside its own last digits; > 0
    Gives:  the place
    Source: Chandrupatla, Adv. Eng. Softw. 28 (1997) 145, from memory
    Checked: cos x = x at 0.739085 (test_brackets.py)
    """
    # The zero lies between ``near`` and ``far``; ``before`` is the place that was let go.
    near, far = low, high
    at_near, at_far = signal(near), signal(far)
    share = 0.5
    for _ in range(200):
        new = near + share * (far - near)
        at_new = signal(new)
        if (at_new >= 0) == (at_near >= 0):
            before, at_before = near, at_near
        else:
            before, far, at_before, at_far = far, near, at_far, at_near
        near, at_near = new, at_new
        width = abs(far - near)
        slack = 2.0 * math.ulp(1.0) * abs(near) + tolerance / 2.0
        if at_near == 0 or width <= 2.0 * slack:
            break
        place = (near - far) / (before - far)
        height = (at_near - at_far) / (at_before - at_far)
        share = 0.5
        if height**2 < place and (1.0 - height) ** 2 < 1.0 - place:
            share = at_near / (at_far - at_near) * at_before / (at_far - at_before) + (
                before - near
            ) / (far - near) * at_near / (at_before - at_near) * at_far / (at_before - at_far)
        least = slack / width
        share = min(max(share, least), 1.0 - least)
    return near if abs(at_near) <= abs(at_far) else far


class _Bracket(NamedTuple):
    """Two places between which a signal passes 0, and its values there."""

    low: float
    high: float
    below: float
    above: float

    def crossing(self) -> float:
        return self.low + (self.high - self.low) * -self.below / (self.above - self.below)

    def inner(self) -> tuple[float, ...]:
        width = self.high - self.low
        near = min(max(self.crossing(), self.low + 0.15 * width), self.high - 0.15 * width)
        return near - 0.1 * width, near, near + 0.1 * width

    def narrowed(self, place: float, value: float) -> _Bracket:
        if not self.low < place < self.high:
            return self
        if value >= 0:
            return self._replace(high=place, above=value)
        return self._replace(low=place, below=value)
