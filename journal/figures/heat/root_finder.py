"""Zeros of rising functions, many at once, with few evaluations since each is costly."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from journal.figures.common.arrays import Array

# Places on the first grid.
GRID = 9


def rising_zeros(
    evaluate: Callable[[Sequence[int], Array], Sequence[Array]],
    cases: int,
    within: tuple[float, float],
    tolerance: float,
) -> tuple[tuple[float | None, ...], ...]:
    """Find the zero of each of several rising signals, for every case, by narrowing brackets.

    A grid is evaluated first: the whole of it for the first case, for the others outwards
    from the zero of the first. Then come three places within every bracket, the middle one
    where a straight line would cross 0. All places of a round are evaluated in one call. In
    a bracket narrower than the tolerance the zero is that of a straight line.

    Takes:  evaluate   called with the case of each place and the places; gives an array for
                       each signal, with a value for each place
            cases      how many
            within     ends of the grid, low below high
            tolerance  width of the last bracket; > 0
    Gives:  one tuple a signal, one place a case; the low end where it is passed already, None
            where it is not passed within the grid
    Source: bracketing with linear interpolation
    """
    import numpy as np

    grid = np.linspace(*within, GRID)
    first_scans = [_GridScan(signal.tolist()) for signal in evaluate([0] * GRID, grid)]
    scans = {
        (side, case): first if case == 0 else _GridScan([None] * GRID, first.first_not_below())
        for side, first in enumerate(first_scans)
        for case in range(cases)
    }
    brackets: dict[tuple[int, int], _Bracket] = {}
    ends: list[list[float | None]] = [[None] * cases for _ in first_scans]
    while True:
        for key in list(scans):
            upper = scans[key].first_not_below()
            if upper is None:
                continue
            values = scans.pop(key).values
            if upper == 0:
                ends[key[0]][key[1]] = float(grid[0])
            elif upper < GRID:
                below, above = values[upper - 1 : upper + 1]
                assert below is not None
                assert above is not None
                brackets[key] = _Bracket(float(grid[upper - 1]), float(grid[upper]), below, above)
        wide = [key for key, bracket in brackets.items() if bracket.high - bracket.low > tolerance]
        trials = [(key, place) for key in wide for place in brackets[key].trial_places()]
        steps = dict.fromkeys(
            (case, step) for (_, case), scan in scans.items() for step in scan.next_steps()
        )
        if not trials and not steps:
            break
        signals = evaluate(
            [key[1] for key, _ in trials] + [case for case, _ in steps],
            np.array([place for _, place in trials] + [float(grid[step]) for _, step in steps]),
        )
        for index, (key, place) in enumerate(trials):
            brackets[key] = brackets[key].narrowed(place, float(signals[key[0]][index]))
        for index, (case, step) in enumerate(steps, start=len(trials)):
            for side, signal in enumerate(signals):
                if (side, case) in scans:
                    scans[side, case].values[step] = float(signal[index])
    for (side, case), bracket in brackets.items():
        ends[side][case] = bracket.crossing()
    return tuple(map(tuple, ends))


class _GridScan:
    """The values of one rising signal at the grid places that were evaluated so far."""

    def __init__(self, values: list[float | None], guess: int | None = None) -> None:
        self.values = values
        self._guess = GRID if guess is None else guess

    def _known_bounds(self) -> tuple[int, int]:
        """The last step known to be below 0, and the first known not to be."""
        high = next((at for at, v in enumerate(self.values) if v is not None and v >= 0), GRID)
        low = max((at for at, v in enumerate(self.values[:high]) if v is not None), default=-1)
        return low, high

    def first_not_below(self) -> int | None:
        """The first step at which the signal is not below 0; GRID if it is below 0 at every
        step; None while that is not known."""
        low, high = self._known_bounds()
        return high if high - low == 1 else None

    def next_steps(self) -> range:
        """The two steps to evaluate next, outwards from the guess or from the known values."""
        low, high = self._known_bounds()
        if low < 0 and high == GRID:
            return range(max(self._guess - 1, 0), min(self._guess + 1, GRID))
        if low < 0:
            return range(max(high - 2, 0), high)
        return range(low + 1, min(low + 3, GRID) if high == GRID else high)


class _Bracket(NamedTuple):
    """Two places between which a signal passes 0, and its values there."""

    low: float
    high: float
    below: float
    above: float

    def crossing(self) -> float:
        """The place where a straight line between the two ends passes 0."""
        return self.low + (self.high - self.low) * -self.below / (self.above - self.below)

    def trial_places(self) -> tuple[float, ...]:
        """Three places to evaluate next, the middle one near the crossing."""
        width = self.high - self.low
        near = min(max(self.crossing(), self.low + 0.15 * width), self.high - 0.15 * width)
        return near - 0.1 * width, near, near + 0.1 * width

    def narrowed(self, place: float, value: float) -> _Bracket:
        """The bracket once the value at a place within it is known."""
        if not self.low < place < self.high:
            return self
        if value >= 0:
            return self._replace(high=place, above=value)
        return self._replace(low=place, below=value)
