"""One implicit step of cells that may melt, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from journal.figures.heat.enthalpy import HeatColumns, MeltingSystem

ROUNDING = 1e-12

# A cell of 2 J/m2K that melts from 40 to 45 C on 50 J/m2, so 10 J/m2K in between: heat in J/m2
# from softening, and its temperature.
HELD = [(-20.0, 30.0), (0.0, 40.0), (25.0, 42.5), (50.0, 45.0), (80.0, 60.0)]


def cells(heats: list[list[float]], link: float, outflow: list[float]) -> MeltingSystem:
    """Stacks of such cells, linked to each other and to air at 0 C."""
    heat = np.array(heats)
    links = np.full_like(heat, link)
    links[:, -1] = 0.0
    return MeltingSystem(
        HeatColumns(
            width_m=heat,
            capacity=np.full_like(heat, 2.0),
            melting_capacity=np.full_like(heat, 10.0),
            melting_heat=np.full_like(heat, 50.0),
            softens_c=np.full_like(heat, 40.0),
            molten_share=heat,
            half_resistance=heat,
            link=links,
            bottom_link=heat[:, 0],
            top_link=heat[:, 0],
            bottom_c=heat[:, 0],
            top_c=heat[:, 0],
            start_c=heat,
        ),
        outflow=np.tile(outflow, (len(heat), 1)),
        heat=heat,
        tolerance_c=1e-9,
    )


@pytest.mark.parametrize("before", [heat for heat, _ in HELD])
def test_an_insulated_cell_comes_out_on_the_line_of_its_heat(before: float) -> None:
    model = cells([[before]] * len(HELD), 0.0, [0.0])
    model.step(7.0)
    heat, temperature = model.solve(np.array([[heat] for heat, _ in HELD]))
    assert heat.ravel() == pytest.approx([heat for heat, _ in HELD], abs=ROUNDING)
    assert temperature.ravel() == pytest.approx([at for _, at in HELD], abs=ROUNDING)


# By hand: from 60 C in air at 0 C, 1 W/m2K over 4 s: 80 - 4 T = heat; within the range
# heat = 10 (T - 40), so T = 480 / 14 < 40; below it heat = 2 (T - 40), so T = 160 / 6.
def test_a_cell_that_sets_within_a_step() -> None:
    model = cells([[80.0, -20.0]], 0.0, [1.0, 1.0])
    model.step(4.0)
    heat, temperature = model.solve(np.array([[80.0, 0.0]]))
    assert temperature[0] == pytest.approx([160.0 / 6.0, 80.0 / 6.0], abs=ROUNDING)
    left = [80.0 - 4.0 * 160.0 / 6.0, -4.0 * 80.0 / 6.0]
    assert heat[0] == pytest.approx(left, abs=100 * ROUNDING)


def test_what_leaves_one_cell_enters_the_next() -> None:
    model = cells([[80.0, -20.0, 25.0], [-20.0, 25.0, 80.0]], 3.0, [3.0, 6.0, 3.0])
    before = np.array([[80.0, -20.0, 25.0], [-20.0, 25.0, 80.0]])
    model.step(2.0)
    heat, temperature = model.solve(before)
    assert heat.sum(axis=1) == pytest.approx(before.sum(axis=1), abs=100 * ROUNDING)
    flow = 2.0 * 3.0 * (temperature[:, :-1] - temperature[:, 1:])
    assert heat[:, 0] == pytest.approx(before[:, 0] - flow[:, 0], abs=100 * ROUNDING)
    alone = cells([[-20.0, 25.0, 80.0]], 3.0, [3.0, 6.0, 3.0])
    alone.step(2.0)
    assert alone.solve(before[1:])[0][0] == pytest.approx(heat[1], abs=100 * ROUNDING)
