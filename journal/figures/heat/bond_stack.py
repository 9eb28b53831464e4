"""The bond model in columns: a detail cooling on its mat, then a body poured over it.

The stack from the bottom up: bench, wall of the mould, mat, detail, body, air.
A row is one pour of one setting of the properties; all rows are solved at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple, get_args

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.common.arrays import Array
from journal.figures.heat import conduction
from journal.figures.heat.bond_case import FOLLOWED_MIN, BondCase
from journal.figures.heat.conduction import HeatLayer, HeatMaterial, HeatStack
from journal.figures.heat.enthalpy import HeatColumns
from journal.figures.recipe import base_properties
from journal.figures.recipe.base_properties import BaseProperties, PropertyRange, SolidMaterial

# A detail that has not set by itself after this long never will at that room.
SETTING_AT_MOST_MIN = 240.0
# Cells at the interface and their growth away from it; steps in time. Halving all of them moves
# the ends of the window by less than 0.3 K (test_bond.py).
FINEST_MM = 0.2
GROWTH = 1.2
FIRST_STEP_S = 0.3
STEP_GROWTH = 1.25
LONGEST_STEP_S = 180.0
# Density and heat capacity of still air near 20 C, kg/m3 and J/kgK (any table of properties).
AIR = (1.2, 1005.0)

VariedProperty = Literal[
    "", "melting range", "latent heat", "thermal conductivity", "heat capacity", "silicone",
    "wall of the mould", "air film", "gap", "cold mould", "gap and cold mould",
]  # fmt: skip
VARIED: tuple[VariedProperty, ...] = get_args(VariedProperty)[1:]


class BondSetting(Struct, frozen=True):
    """The materials of a case with every property at one value out of its range."""

    detail: HeatMaterial
    body: HeatMaterial
    sets_c: float
    mat: HeatMaterial
    mould: HeatMaterial
    bench: HeatMaterial
    mould_mm: float
    film_w_m2k: float
    gap_m2k_w: float  # resistance of the air under the mould; 0: it lies flat
    mould_as_detail: bool  # it was chilled with the piece in it, or is warm from the detail


class PourCourse(NamedTuple):
    """The temperatures of a set of pours over time, and what they did to the details.

    ``softened_min`` is how long the interface stood in its melting range, ``remelted`` the
    share of the detail that was liquid at one time or another.
    """

    time_s: Array  # (moment,), from 0
    interface_c: Array  # (moment, pour)
    softened_min: Array  # (pour,)
    held_over_k: Array  # (pour,) warmest the interface stood at for the hold, less ``softens``
    remelted: Array  # (pour,)


class BondModel:
    """A case with several settings of its properties, onto which bodies can be poured.

    The detail's cooling does not depend on the body, so it is solved once, when the model is made.
    """

    def __init__(self, case: BondCase, settings: tuple[BondSetting, ...]) -> None:
        import numpy as np

        self.case = case
        self.settings = settings
        self.finest_mm = min(FINEST_MM, case.detail_mm / 8.0, case.body_mm / 8.0)
        self.mat_cells = _finest_on_top(case.mat_mm, self.finest_mm, 1.5) if case.mat_mm else ()
        self.detail_cells = _finest_on_top(case.detail_mm, self.finest_mm, 1.15)
        #: The details on their mats, by themselves.
        self.resting = conduction.columns_of([self._detail_on_mat(one) for one in settings])
        start_c = self._after_stays(self.resting)
        self.resting = replace(self.resting, start_c=start_c)
        self.detail_start_c: Array = start_c[:, len(self.mat_cells) :]
        stacks = [self._whole_stack(setting) for setting in settings]
        self.columns = conduction.columns_of(stacks)
        #: Place of the lowest cell of the body, which lies on the last one of the detail.
        self.body_cell = sum(len(layer.cells_mm) for layer in stacks[0].layers[:-1])
        self.start_c: Array = self.columns.start_c.copy()
        lowest = self.body_cell - start_c.shape[1]
        self.start_c[:, lowest : self.body_cell] = start_c
        as_detail = np.array([setting.mould_as_detail for setting in settings])
        self.start_c[as_detail, len(_bench_cells(case)) : lowest] = start_c[as_detail, :1]
        self.weights: Array = np.array(self.detail_cells) / case.detail_mm

    def detail_mean_c(self) -> Array:
        """Mean temperature of the detail of each setting when the body is poured."""
        return self._mean_c(self.resting.start_c)

    def _mean_c(self, cells_c: Array) -> Array:
        """Mean temperature of each detail, of the cells of mat and detail."""
        mean: Array = (cells_c[:, len(self.mat_cells) :] * self.weights).sum(axis=1)
        return mean

    def detail_in_room(self, until_s: float) -> Iterator[tuple[float, float]]:
        """Yield time in seconds and mean temperature of the first detail on its mat in the room.

        No body is poured over it. From the end of its stays up to ``until_s`` seconds later.
        """
        import numpy as np

        air_c = np.full(len(self.settings), self.case.room_c)
        columns = replace(self.resting, bottom_c=air_c, top_c=air_c)
        steps = conduction.time_steps(1.0, 1.2, LONGEST_STEP_S, until_s)
        for moment in conduction.conduct(columns, steps):
            yield moment.time_s, float(self._mean_c(moment.temperature_c)[0])

    def pour(self, chosen: Sequence[int], pours_c: Sequence[float] | Array) -> PourCourse:
        """Follow pours of the body through time, all at once.

        Pour i is made at ``pours_c[i]`` degrees C onto the setting with number ``chosen[i]``.
        Raises FigureError if a temperature is not finite.
        """
        import numpy as np

        pours = np.asarray(pours_c, dtype=np.float64)
        if not np.all(np.isfinite(pours)):
            raise FigureError(f"a pour temperature must be finite, not {pours.tolist()}")
        rows = np.asarray(chosen, dtype=np.intp)
        start_c = self.start_c[rows]
        start_c[:, self.body_cell :] = pours[:, np.newaxis]
        columns = replace(self.columns.rows(rows), start_c=start_c)
        below_interface = self.body_cell - 1
        detail = slice(self.body_cell - len(self.detail_cells), self.body_cell)
        times: list[float] = []
        interface: list[Array] = []
        start_heat = conduction.heat_content(columns, start_c)
        highest_heat: Array = start_heat[:, detail]
        end_s = 60.0 * FOLLOWED_MIN
        steps = conduction.time_steps(FIRST_STEP_S, STEP_GROWTH, LONGEST_STEP_S, end_s)
        for moment in conduction.conduct(columns, steps):
            cells_c = moment.temperature_c
            times.append(moment.time_s)
            interface.append(conduction.interface_temperature(columns, below_interface, cells_c))
            highest_heat = np.maximum(highest_heat, moment.heat_j_m2[:, detail])
        softens_c = columns.softens_c[:, below_interface]
        # At the first instant the interface has the temperature of the first step. The mean of
        # the two cells would ignore what melts.
        time_s = np.array([0.0, *times])
        interface_c = np.array([interface[0], *interface])
        full = np.zeros_like(start_heat)
        full[:, detail] = highest_heat
        liquid = conduction.liquid_fraction(columns, full)[:, detail]
        return PourCourse(
            time_s=time_s,
            interface_c=interface_c,
            softened_min=_minutes_above(time_s, interface_c - softens_c),
            held_over_k=_warmest_held(time_s, interface_c, 60.0 * self.case.hold_min) - softens_c,
            # Summed row by row, so that a pour does not depend on those solved beside it.
            remelted=(liquid * self.weights).sum(axis=1),
        )

    def _detail_on_mat(self, setting: BondSetting) -> HeatStack:
        """The detail on its mat, before it lies in the cavity.

        On a bench or a shelf a mat loses heat downwards about as fast as into
        air: wood's effusivity over 10 min comes to 320 / sqrt(pi 600) = 7 W/m2K.
        """
        case = self.case
        detail_c = case.detail_c if case.detail_c is not None else case.detail_pour_c
        layers = [HeatLayer(setting.detail, self.detail_cells, detail_c or 0.0)]
        if self.mat_cells:
            mat_c = case.room_c if case.detail_c is None else case.detail_c
            layers.insert(0, HeatLayer(setting.mat, self.mat_cells, mat_c))
        face = conduction.StackFace(setting.film_w_m2k, case.room_c)
        return HeatStack(tuple(layers), face, face)

    def _after_stays(self, columns: HeatColumns) -> Array:
        """Temperatures of mat and detail when the body is poured, (setting, cell)."""
        import numpy as np

        if self.case.detail_c is not None:
            return columns.start_c
        for stay in self.case.stays:
            air_c = np.full(len(columns.start_c), stay.air_c)
            columns = replace(columns, bottom_c=air_c, top_c=air_c)
            if stay.minutes is None:
                columns = replace(columns, start_c=self._until_set(columns))
                continue
            # Half a day in the mould takes no more steps than an hour.
            steps = conduction.time_steps(1.0, 1.2, max(60.0, stay.minutes), 60.0 * stay.minutes)
            for moment in conduction.conduct(columns, steps):
                last_c = moment.temperature_c
            columns = replace(columns, start_c=last_c)
        return columns.start_c

    def _until_set(self, columns: HeatColumns) -> Array:
        """Temperatures of each column at the moment when its detail has just set."""
        import numpy as np

        sets_c = np.array([setting.sets_c for setting in self.settings])
        detail = slice(len(self.mat_cells), None)
        reached_c: Array = columns.start_c.copy()
        waiting = reached_c[:, detail].max(axis=1) > sets_c
        steps = conduction.time_steps(1.0, 1.2, 10.0, 60.0 * SETTING_AT_MOST_MIN)
        for moment in conduction.conduct(columns, steps):
            if not waiting.any():
                return reached_c
            reached_c[waiting] = moment.temperature_c[waiting]
            waiting &= moment.temperature_c[:, detail].max(axis=1) > sets_c
        raise FigureError(
            f"the detail does not set within {SETTING_AT_MOST_MIN:.0f} min "
            f"in air of {float(columns.top_c.max())} C"
        )

    def _whole_stack(self, setting: BondSetting) -> HeatStack:
        """The stack from bench to body; ``pour`` sets the temperatures of detail and body later."""
        case = self.case
        *bench, top = _bench_cells(case)
        gap = setting.bench
        if setting.gap_m2k_w:  # in the place of the bench's uppermost cell, and as thick
            gap = HeatMaterial(*AIR, top / 1000.0 / setting.gap_m2k_w)
        layers = (
            (setting.bench, tuple(bench)),
            (gap, (top,)),
            (setting.mould, (setting.mould_mm / 2.0,) * 2 if setting.mould_mm > 0 else ()),
            (setting.mat, self.mat_cells),
            (setting.detail, self.detail_cells),
            (setting.body, conduction.graded_mm(case.body_mm, self.finest_mm, GROWTH)),
        )
        air = conduction.StackFace(setting.film_w_m2k, case.room_c)
        return HeatStack(
            tuple(HeatLayer(material, cells, case.room_c) for material, cells in layers if cells),
            air,
            air,
        )


def _bench_cells(case: BondCase) -> tuple[float, ...]:
    """The cells of the bench from the bottom up."""
    return _finest_on_top(case.bench_mm, case.bench_mm / 10.0, 1.6)


def _finest_on_top(thickness_mm: float, finest_mm: float, growth: float) -> tuple[float, ...]:
    """The cells of a layer from the bottom up, the finest at the top."""
    return tuple(reversed(conduction.graded_mm(thickness_mm, finest_mm, growth)))


def setting_of(case: BondCase, what: VariedProperty = "", end: int = 0) -> BondSetting:
    """The case with property ``what`` at its low (-1) or high (1) end, the rest nominal."""

    def at(span: PropertyRange, name: VariedProperty) -> float:
        if name != what or end == 0:
            return span.nominal
        return span.low if end < 0 else span.high

    def melting(base: BaseProperties) -> HeatMaterial:
        return HeatMaterial(
            density_kg_m3=base.density_kg_m3.nominal,
            heat_capacity_j_kgk=at(base.heat_capacity_j_kgk, "heat capacity"),
            thermal_conductivity_w_mk=at(base.thermal_conductivity_w_mk, "thermal conductivity"),
            softens_c=at(base.softens_c, "melting range"),
            melts_c=at(base.melts_c, "melting range"),
            latent_heat_kj_kg=at(base.latent_heat_kj_kg, "latent heat"),
        )

    def solid(material: SolidMaterial, name: VariedProperty) -> HeatMaterial:
        return HeatMaterial(
            material.density_kg_m3,
            material.heat_capacity_j_kgk,
            at(material.thermal_conductivity_w_mk, name),
        )

    return BondSetting(
        detail=melting(case.detail),
        body=melting(case.body),
        sets_c=at(case.detail.sets_c, "melting range"),
        mat=solid(case.mat_material, "silicone"),
        mould=solid(case.mould_material, "silicone"),
        bench=solid(case.bench_material, ""),
        mould_mm=at(case.mould_mm, "wall of the mould"),
        film_w_m2k=at(case.air_film_w_m2k, "air film"),
        gap_m2k_w=base_properties.MOULD_GAP_M2K_W if "gap" in what and end > 0 else 0.0,
        mould_as_detail="cold mould" in what and end > 0,
    )


def shifted(setting: BondSetting, shift_k: float) -> BondSetting:
    """The setting with the melting ranges of both pours moved by so many kelvin."""

    def shifted_range(base: HeatMaterial) -> HeatMaterial:
        return replace(
            base,
            softens_c=(base.softens_c or 0.0) + shift_k,
            melts_c=(base.melts_c or 0.0) + shift_k,
        )

    return replace(
        setting,
        detail=shifted_range(setting.detail),
        body=shifted_range(setting.body),
        sets_c=setting.sets_c + shift_k,
    )


def _minutes_above(time_s: Array, excess: Array) -> Array:
    """For each pour the minutes with ``excess`` (moment, pour) at 0 or more, linear between."""
    import numpy as np

    before, after = excess[:-1], excess[1:]
    upper, lower = np.maximum(before, after), np.minimum(before, after)
    crossing = (upper >= 0) & (lower < 0)
    share = np.where(lower >= 0, 1.0, 0.0)
    np.divide(upper, upper - lower, out=share, where=crossing)
    minutes: Array = np.diff(time_s) @ share / 60.0
    return minutes


def _warmest_held(time_s: Array, interface_c: Array, hold_s: float) -> Array:
    """For each pour the temperature at or above which the interface stood ``hold_s`` in all.

    Each moment stands for half the steps on either side of it.
    """
    import numpy as np

    steps = np.diff(time_s)
    weights = np.zeros_like(time_s)
    weights[:-1] += steps / 2.0
    weights[1:] += steps / 2.0
    order = np.argsort(-interface_c, axis=0)
    falling = np.take_along_axis(interface_c, order, axis=0)
    spent = np.cumsum(weights[order], axis=0)
    reached = np.argmax(spent >= hold_s, axis=0)
    pour = np.arange(interface_c.shape[1])
    late, early = falling[reached, pour], falling[np.maximum(reached - 1, 0), pour]
    spent_late = spent[reached, pour]
    spent_early = np.where(reached > 0, spent[np.maximum(reached - 1, 0), pour], 0.0)
    share = (hold_s - spent_early) / (spent_late - spent_early)
    temperature_c: Array = early + share * (late - early)
    return temperature_c
