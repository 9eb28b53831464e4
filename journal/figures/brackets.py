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

    A grid first, the whole of it for the first case; for the others from where the first
    one's signals pass, outwards. Then within every bracket three places, the middle one
    where a straight line would cross. All places of a round are judged in one call.
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
    firsts = [_Steps(signal.tolist()) for signal in judge([0] * GRID, grid)]
    searched = {
        (side, case): first if case == 0 else _Steps([None] * GRID, first.passed())
        for side, first in enumerate(firsts)
        for case in range(cases)
    }
    brackets: dict[tuple[int, int], _Bracket] = {}
    ends: list[list[float | None]] = [[None] * cases for _ in firsts]
    while True:
        for key in list(searched):
            upper = searched[key].passed()
            if upper is None:
                continue
            known = searched.pop(key).known
            if upper == 0:
                ends[key[0]][key[1]] = float(grid[0])
            elif upper < GRID:
                below, above = known[upper - 1 : upper + 1]
                assert below is not None
                assert above is not None
                brackets[key] = _Bracket(float(grid[upper - 1]), float(grid[upper]), below, above)
        wide = [key for key, held in brackets.items() if held.high - held.low > tolerance]
        looks = [(key, place) for key in wide for place in brackets[key].inner()]
        steps = dict.fromkeys(
            (case, step) for (_, case), own in searched.items() for step in own.wanted()
        )
        if not looks and not steps:
            break
        signals = judge(
            [key[1] for key, _ in looks] + [case for case, _ in steps],
            np.array([place for _, place in looks] + [float(grid[step]) for _, step in steps]),
        )
        for index, (key, place) in enumerate(looks):
            brackets[key] = brackets[key].narrowed(place, float(signals[key[0]][index]))
        for index, (case, step) in enumerate(steps, start=len(looks)):
            for side, signal in enumerate(signals):
                if (side, case) in searched:
                    searched[side, case].known[step] = float(signal[index])
    for (side, case), bracket in brackets.items():
        ends[side][case] = bracket.crossing()
    return tuple(map(tuple, ends))


class _Steps:
    """What is known of one rising signal at the steps of the grid."""

    def __init__(self, known: list[float | None], guess: int | None = None) -> None:
        self.known = known
        self._guess = GRID if guess is None else guess

    def _between(self) -> tuple[int, int]:
        """Last step known to lie below 0, and the first that is known not to."""
        high = next((at for at, v in enumerate(self.known) if v is not None and v >= 0), GRID)
        low = max((at for at, v in enumerate(self.known[:high]) if v is not None), default=-1)
        return low, high

    def passed(self) -> int | None:
        """First step at which the signal is not below 0, GRID if it is below at all; None while
        that is not known."""
        low, high = self._between()
        return high if high - low == 1 else None

    def wanted(self) -> range:
        """Steps to look at next: two, outwards from the guess or from what is known."""
        low, high = self._between()
        if low < 0 and high == GRID:
            return range(max(self._guess - 1, 0), min(self._guess + 1, GRID))
        if low < 0:
            return range(max(high - 2, 0), high)
        return range(low + 1, min(low + 3, GRID) if high == GRID else high)


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
