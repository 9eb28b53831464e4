"""Heat conduction through stacks of layers that may melt, many stacks at once.

One dimension, finite volumes, the enthalpy method: the unknown of a cell is
the heat it holds, and its temperature follows from that heat. A melting range
is a stretch over which the temperature rises slowly because latent heat is
taken up. What leaves one cell enters the next, so heat is conserved to
rounding, however loosely the iteration is stopped.

In time: the two-stage, L-stable diagonally implicit Runge-Kutta method of
second order, so that the jump between hot and cold at the first instant dies
away instead of ringing. In space: second order. Each stage is a system of its
own (``enthalpy``).

This module works on arrays: a row is a stack, a column a cell, counted from
the bottom up.

Left out: convection in a body that is still liquid (it is thick and thin
layers hardly turn over), heat through the sides, a base that sets cooler than
it melts, and any change of density or conductivity with temperature.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.arrays import Array
from journal.figures.heat.enthalpy import HeatColumns, MeltingSystem

# Share of a time step that each implicit stage covers. Alexander, SIAM J. Numer. Anal. 14
# (1977) 1006: 1 - 1/sqrt(2) makes the two-stage method L-stable and of second order.
STAGE = 1.0 - math.sqrt(0.5)


class HeatMaterial(Struct, frozen=True):
    """The material of a layer. Without ``softens_c`` and ``melts_c`` it does not melt."""

    density_kg_m3: float
    heat_capacity_j_kgk: float
    thermal_conductivity_w_mk: float
    softens_c: float | None = None
    melts_c: float | None = None
    latent_heat_kj_kg: float = 0.0

    def __post_init__(self) -> None:
        for what in ("density_kg_m3", "heat_capacity_j_kgk", "thermal_conductivity_w_mk"):
            value = getattr(self, what)
            if not (math.isfinite(value) and value > 0):
                raise FigureError(f"{what} must be above 0, not {value}")
        if not (math.isfinite(self.latent_heat_kj_kg) and self.latent_heat_kj_kg >= 0):
            raise FigureError(f"latent heat must be 0 or above, not {self.latent_heat_kj_kg}")
        if (self.softens_c is None) != (self.melts_c is None):
            raise FigureError("a melting range needs both its ends")
        if self.softens_c is not None and self.melts_c is not None:
            width = self.melts_c - self.softens_c
            if not (math.isfinite(width) and width > 0):
                raise FigureError(
                    f"a base that softens at {self.softens_c} C cannot melt at {self.melts_c} C"
                )


class HeatLayer(Struct, frozen=True):
    """One layer of a stack: its material, its cells from the bottom up, its first temperature.

    There is at least one cell, each thicker than 0 mm, as ``graded_mm`` gives them.
    """

    material: HeatMaterial
    cells_mm: tuple[float, ...]
    start_c: float


class StackFace(Struct, frozen=True):
    """The bottom or top of a stack: how well heat passes there, and to air of what temperature.

    ``film_w_m2k`` is 0 or above: 0 is an insulated face, ``math.inf`` one held at ``air_c``.
    """

    film_w_m2k: float
    air_c: float = 0.0


class HeatStack(Struct, frozen=True):
    """One layer or more from the bottom up, between two faces."""

    layers: tuple[HeatLayer, ...]
    bottom: StackFace
    top: StackFace


class HeatMoment(NamedTuple):
    """Temperatures and heat of all stacks at one time."""

    time_s: float
    temperature_c: Array  # (stack, cell)
    heat_j_m2: Array  # (stack, cell); 0 where a base is about to soften, or at 0 C
    heat_in_j_m2: Array  # (stack,) taken in through both faces since the start


def graded_mm(thickness_mm: float, first_mm: float, growth: float) -> tuple[float, ...]:
    """Divide a layer into cells that grow away from the side where the heat changes fastest.

    Takes:  thickness_mm  whole layer; mm; > 0; scalar
            first_mm      no cell is thicker than this at the near side; mm; > 0; scalar
            growth        ratio of a cell to the one before; >= 1; scalar
    Gives:  widths in mm from the near side, summing to the thickness
    Fails:  FigureError if an argument lies outside its range
    Source: definition (geometric grading; 1.3 or less keeps the scheme's second order)
    """
    if not (math.isfinite(thickness_mm) and thickness_mm > 0):
        raise FigureError(f"a layer must be thicker than 0 mm, not {thickness_mm}")
    if not (math.isfinite(first_mm) and first_mm > 0 and math.isfinite(growth) and growth >= 1):
        raise FigureError(f"cells cannot grow from {first_mm} mm by {growth}")
    widths = [min(first_mm, thickness_mm)]
    total = widths[0]
    while total < thickness_mm * (1 - 1e-12):
        widths.append(widths[-1] * growth)
        total += widths[-1]
    scale = thickness_mm / total
    return tuple(width * scale for width in widths)


# Called with the same few arguments over and over.
@lru_cache(maxsize=64)
def time_steps(first_s: float, growth: float, longest_s: float, end_s: float) -> tuple[float, ...]:
    """The times of a simulation: short steps after the pour, longer ones as the stack evens out.

    Takes:  first_s    first step; seconds; > 0; scalar
            growth     ratio of a step to the one before; >= 1; scalar
            longest_s  no step is longer; seconds; >= first_s; scalar
            end_s      last time, met exactly; seconds; > 0; scalar
    Gives:  rising times in seconds, the last of them ``end_s``
    Fails:  FigureError if an argument lies outside its range
    """
    if not (0 < first_s <= longest_s < math.inf and 1 <= growth < math.inf):
        raise FigureError(f"steps cannot grow from {first_s} s by {growth} up to {longest_s} s")
    if not 0 < end_s < math.inf:
        raise FigureError(f"the last time must be above 0 s, not {end_s}")
    times: list[float] = []
    step, time = first_s, first_s
    while time < end_s * (1 - 1e-9):
        times.append(time)
        step = min(step * growth, longest_s)
        time += step
    times.append(end_s)
    return tuple(times)


def columns_of(stacks: Sequence[HeatStack]) -> HeatColumns:
    """Turn stacks with the same number of cells in each layer into arrays.

    Takes:  stacks  at least one; layers may differ in everything but their number of cells
    Fails:  FigureError if the stacks do not match
    Source: definition (conductances of half cells in series: heat passes a boundary between
            materials without a jump in temperature)
    """
    import numpy as np

    shape = tuple(len(layer.cells_mm) for layer in stacks[0].layers)
    for stack in stacks:
        if tuple(len(layer.cells_mm) for layer in stack.layers) != shape:
            raise FigureError("stacks solved together must have the same cells")

    def per_cell(value: Callable[[HeatLayer], float]) -> Array:
        per_layer = [[value(layer) for layer in stack.layers] for stack in stacks]
        return np.repeat(np.array(per_layer, dtype=np.float64), shape, axis=1)

    width_m = 1e-3 * np.array(
        [[width for layer in stack.layers for width in layer.cells_mm] for stack in stacks],
        dtype=np.float64,
    )
    density = per_cell(lambda layer: layer.material.density_kg_m3)
    capacity = density * per_cell(lambda layer: layer.material.heat_capacity_j_kgk) * width_m
    softens_c = per_cell(lambda layer: layer.material.softens_c or 0.0)
    melting_range = per_cell(lambda layer: layer.material.melts_c or 0.0) - softens_c
    melts = melting_range > 0
    latent = 1e3 * density * per_cell(lambda layer: layer.material.latent_heat_kj_kg) * width_m
    melting_capacity = capacity + np.where(melts, latent / np.where(melts, melting_range, 1.0), 0.0)
    melting_heat = melting_capacity * melting_range
    half_resistance = (
        0.5 * width_m / per_cell(lambda layer: layer.material.thermal_conductivity_w_mk)
    )
    link = np.zeros_like(width_m)
    link[:, :-1] = 1.0 / (half_resistance[:, :-1] + half_resistance[:, 1:])

    def end_link(films: list[float], resistance: Array) -> Array:
        film = np.array(films, dtype=np.float64)
        open_face = film > 0
        return np.where(open_face, 1.0 / (1.0 / np.where(open_face, film, 1.0) + resistance), 0.0)

    return HeatColumns(
        width_m=width_m,
        capacity=capacity,
        melting_capacity=melting_capacity,
        melting_heat=melting_heat,
        softens_c=softens_c,
        molten_share=np.where(melts, 1.0 / np.where(melts, melting_heat, 1.0), 0.0),
        half_resistance=half_resistance,
        link=link,
        bottom_link=end_link([s.bottom.film_w_m2k for s in stacks], half_resistance[:, 0]),
        top_link=end_link([s.top.film_w_m2k for s in stacks], half_resistance[:, -1]),
        bottom_c=np.array([stack.bottom.air_c for stack in stacks], dtype=np.float64),
        top_c=np.array([stack.top.air_c for stack in stacks], dtype=np.float64),
        start_c=per_cell(lambda layer: layer.start_c),
    )


def heat_content(columns: HeatColumns, temperature_c: Array) -> Array:
    """Heat in each cell at its temperature, in J/m2; 0 as its base begins to soften, or at 0 C."""
    import numpy as np

    above = temperature_c - columns.softens_c
    melting_range = columns.melting_heat / columns.melting_capacity
    within = np.clip(above, 0.0, melting_range)
    return columns.capacity * (above - within) + columns.melting_capacity * within


def liquid_fraction(columns: HeatColumns, heat_j_m2: Array) -> Array:
    """Share of each cell that is liquid, linear over the melting range; 0 where nothing melts."""
    import numpy as np

    return np.clip(heat_j_m2 * columns.molten_share, 0.0, 1.0)


def interface_temperature(columns: HeatColumns, cell: int, temperature_c: Array) -> Array:
    """Temperature of each stack at the boundary between ``cell`` and the next one up.

    It follows from the temperatures of both, since the same heat flows through both half cells.
    """
    below = columns.half_resistance[:, cell]
    above = columns.half_resistance[:, cell + 1]
    shared: Array = temperature_c[:, cell] * above + temperature_c[:, cell + 1] * below
    return shared / (above + below)


def conduct(
    columns: HeatColumns, times_s: Sequence[float], tolerance_c: float = 1e-6
) -> Iterator[HeatMoment]:
    """Follow the temperatures of all stacks through the times given.

    Takes:  columns      the stacks, with their starting temperatures
            times_s      rising, from above 0; seconds
            tolerance_c  how well temperature and heat of a cell must agree; degrees C; > 0
    Gives:  one HeatMoment for every time, computed when it is taken. A stack does not depend
            on the others beside it.
    Fails:  FigureError if the times do not rise
    Source: enthalpy method, Voller & Swaminathan, Numer. Heat Transfer B 19 (1991) 175, from
            memory; time stepping, Alexander (1977), from memory
    Checked: erf solution of two half-spaces, series solution of the cooled slab, Neumann's
            melting front, heat balance, order of convergence (tests/figures/heat)
    """
    import numpy as np

    c = columns
    sources = np.zeros_like(c.capacity)
    sources[:, 0] += c.bottom_link * c.bottom_c
    sources[:, -1] += c.top_link * c.top_c
    outflow = c.link.copy()
    outflow[:, 1:] += c.link[:, :-1]
    outflow[:, 0] += c.bottom_link
    outflow[:, -1] += c.top_link
    heat = heat_content(c, c.start_c)
    cells = MeltingSystem(c, outflow, heat, tolerance_c)
    outside = c.bottom_link * c.bottom_c + c.top_link * c.top_c
    heat_in = np.zeros(len(heat))
    time = 0.0
    carried = (1.0 - STAGE) / STAGE
    for next_time in times_s:
        if not next_time > time:
            raise FigureError(f"times must rise from 0: {next_time} s after {time} s")
        step = STAGE * (next_time - time)
        cells.step(step)
        gains = step * sources
        middle, early_c = cells.solve(heat + gains)
        middle -= heat
        middle *= carried
        middle += heat
        middle += gains
        heat, temperature_c = cells.solve(middle)
        for share, at_c in ((carried, early_c), (1.0, temperature_c)):
            lost = c.bottom_link * at_c[:, 0] + c.top_link * at_c[:, -1]
            heat_in = heat_in + share * step * (outside - lost)
        time = next_time
        yield HeatMoment(time, temperature_c, heat, heat_in)


def contact_temperature(
    effusivity_1: float, temperature_1_c: float, effusivity_2: float, temperature_2_c: float
) -> float:
    """Temperature of the interface of two thick bodies from the first instant on, in degrees C.

    (e1 T1 + e2 T2) / (e1 + e2), e = sqrt(k rho c). Of one base on itself it is
    the plain mean. It holds while neither body has felt its far side and
    nothing melts.

    Takes:  effusivity_1, effusivity_2      W s0.5/m2K; > 0; scalars
            temperature_1_c, temperature_2_c  degrees C; finite; scalars
    Gives:  degrees C, between the two
    Fails:  FigureError if an effusivity is not above 0 or a temperature is not finite
    Source: Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., sec. 2.15; Incropera eq. 5.63
    Checked: tests/reference/03-contact-temperature.csv
    """
    for own in (effusivity_1, effusivity_2):
        if not (math.isfinite(own) and own > 0):
            raise FigureError(f"an effusivity must be above 0, not {own}")
    for temperature in (temperature_1_c, temperature_2_c):
        if not math.isfinite(temperature):
            raise FigureError(f"a temperature must be finite, not {temperature}")
    share = effusivity_1 / (effusivity_1 + effusivity_2)
    return share * temperature_1_c + (1.0 - share) * temperature_2_c


def effusivity(material: HeatMaterial) -> float:
    """The effusivity sqrt(k rho c), in W s0.5/m2K: how readily a body heats one that touches it."""
    return math.sqrt(
        material.density_kg_m3 * material.heat_capacity_j_kgk * material.thermal_conductivity_w_mk
    )
