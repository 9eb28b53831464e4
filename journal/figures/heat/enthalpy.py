"""One implicit time step of conduction through cells that may melt, many stacks at once.

A cell's heat is a straight line of its temperature below the melting range,
another within it, a third above: heat = slope * temperature - lift. While every
cell stays on its line the step is one symmetric tridiagonal system for all
stacks together, laid end to end with no link between them. A cell that leaves
its line is put on the line it came out on, and its stack, alone, is solved again.

A stack's answer is that of its own equations, whichever stacks stand beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from journal.figures.common.arrays import Array

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# A cell crosses an end of its melting range rarely, so 2 or 3 passes are the rule; past this
# many the step is accepted, which costs accuracy in that cell but no heat.
PASSES_AT_MOST = 60


class HeatColumns(Struct, frozen=True, eq=False):
    """Stacks with the same number of cells, as arrays of shape (stack, cell); per m2 of face."""

    width_m: Array
    capacity: Array  # J/m2K outside the melting range
    melting_capacity: Array  # J/m2K within it
    melting_heat: Array  # J/m2 from softening to molten; 0 where nothing melts
    softens_c: Array
    molten_share: Array  # liquid fraction per J/m2 within the range; 0 where nothing melts
    half_resistance: Array  # m2K/W from a cell's middle to its edge
    link: Array  # W/m2K to the next cell up; 0 in the last
    bottom_link: Array  # W/m2K, shape (stack,)
    top_link: Array
    bottom_c: Array
    top_c: Array
    start_c: Array

    def rows(self, chosen: Sequence[int] | NDArray[np.intp]) -> HeatColumns:
        """The chosen stacks, in that order; a stack may be chosen more than once."""
        import numpy as np

        pick = np.asarray(chosen, dtype=np.intp)
        return HeatColumns(**{name: getattr(self, name)[pick] for name in self.__struct_fields__})


class MeltingSystem:
    """Solves the equations of a time step, and keeps each cell's line from step to step."""

    def __init__(
        self, columns: HeatColumns, outflow: Array, heat: Array, tolerance_c: float
    ) -> None:
        """Put every cell on the line of its heat.

        ``outflow`` is what a cell loses to all sides, in W/m2K, ``heat`` what the cells hold, in
        J/m2, both of shape (stack, cell); ``tolerance_c`` is how well temperature and heat of a
        cell must agree.
        """
        import numpy as np
        from scipy.linalg.lapack import dptsv

        self._solve_tridiagonal = dptsv
        self._link, self._outflow = columns.link, outflow
        self._melting_heat = melting_heat = columns.melting_heat
        self._tolerance_c = tolerance_c
        capacity, melting_capacity = columns.capacity, columns.melting_capacity
        softens_c = columns.softens_c
        cold = capacity * softens_c
        above = cold + capacity * (melting_heat / melting_capacity) - melting_heat
        #: Slope and lift of each line, a row a cell of any stack.
        self._lines = np.stack(
            [
                capacity,
                cold,
                melting_capacity,
                melting_capacity * columns.softens_c,
                capacity,
                above,
            ],
            axis=-1,
        ).reshape(-1, 2)
        self._line = _lines(heat, melting_heat)
        current = self._lines.take(3 * np.arange(heat.size) + self._line.ravel(), axis=0)
        self._slope: Array = current[:, 0].copy().reshape(heat.shape)
        self._lift: Array = current[:, 1].copy().reshape(heat.shape)
        self._step_s = 0.0

    def step(self, step_s: float) -> None:
        """Set the length of the steps from now on; seconds; > 0."""
        if step_s != self._step_s:
            self._step_s = step_s
            self._losses = step_s * self._outflow
            self._off_diagonal = -step_s * self._link

    def solve(self, base: Array) -> tuple[Array, Array]:
        """Heat and temperature at the end of a step.

        Takes:  base  heat that is there, with what flows in from outside during the step; J/m2;
                      shape (stack, cell)
        Gives:  heat and temperature for which heat = base - step * (outflow - links) temperature
        """
        temperature, heat = self._solve_on_lines(
            self._slope, self._lift, self._losses, self._off_diagonal.copy(), base
        )
        line = _lines(heat, self._melting_heat)
        moved_cells = (line != self._line).ravel().nonzero()[0]
        if moved_cells.size:
            self._change_lines(moved_cells, line.ravel().take(moved_cells), base, heat, temperature)
        return heat, temperature

    def _solve_on_lines(
        self, slope: Array, lift: Array, losses: Array, off_diagonal: Array, base: Array
    ) -> tuple[Array, Array]:
        """Temperature and heat while every cell stays on its line; writes over ``off_diagonal``."""
        _, _, solved, _ = self._solve_tridiagonal(
            (slope + losses).ravel(), off_diagonal.ravel()[:-1], (base + lift).ravel(),
            overwrite_d=1, overwrite_e=1, overwrite_b=1,
        )  # fmt: skip
        temperature: Array = solved.reshape(base.shape)
        heat: Array = slope * temperature
        heat -= lift
        return temperature, heat

    def _change_lines(
        self,
        moved_cells: NDArray[np.intp],
        lines: NDArray[np.int8],
        base: Array,
        heat: Array,
        temperature: Array,
    ) -> None:
        """Move cells to other lines, and solve their stacks until no cell leaves its line."""
        import numpy as np

        cells = base.shape[1]
        for _ in range(PASSES_AT_MOST - 1):
            new_lines = self._lines.take(3 * moved_cells + lines, axis=0)
            slope, lift = new_lines[:, 0], new_lines[:, 1]
            self._line.ravel()[moved_cells] = lines
            self._slope.ravel()[moved_cells] = slope
            self._lift.ravel()[moved_cells] = lift
            line_temperature = (heat.ravel().take(moved_cells) + lift) / slope
            disagrees = (
                np.abs(temperature.ravel().take(moved_cells) - line_temperature)
                >= self._tolerance_c
            )
            unsettled = np.zeros(len(heat), dtype=np.bool_)
            unsettled[moved_cells[disagrees] // cells] = True
            stacks = unsettled.nonzero()[0]
            if not stacks.size:
                return
            stack_temperature, stack_heat = self._solve_on_lines(
                self._slope.take(stacks, axis=0),
                self._lift.take(stacks, axis=0),
                self._losses.take(stacks, axis=0),
                self._off_diagonal.take(stacks, axis=0),
                base.take(stacks, axis=0),
            )
            temperature[stacks] = stack_temperature
            heat[stacks] = stack_heat
            line = _lines(stack_heat, self._melting_heat.take(stacks, axis=0))
            places = (line != self._line.take(stacks, axis=0)).ravel().nonzero()[0]
            if not places.size:
                return
            moved_cells = stacks.take(places // cells) * cells + places % cells
            lines = line.ravel().take(places)


def _lines(heat: Array, melting_heat: Array) -> NDArray[np.int8]:
    """The number of each cell's line by its heat: 0 below the melting range, 1 within, 2 above."""
    line: NDArray[np.int8] = (heat > 0.0).view("int8") + (heat >= melting_heat).view("int8")
    return line
