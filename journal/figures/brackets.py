"""Where rising signals pass 0: many at once, each dear to work out, so few looks at each."""

from __future__ import annotations

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
