"""Heat conduction against closed solutions, published tables, and its own heat balance."""

from __future__ import annotations

import csv
import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from msgspec.structs import replace
from paths import REFERENCE
from scipy.special import erf

from journal.errors import FigureError
from journal.figures.heat.conduction import (
    HeatLayer,
    HeatMaterial,
    HeatMoment,
    HeatStack,
    StackFace,
    columns_of,
    conduct,
    contact_temperature,
    effusivity,
    graded_mm,
    heat_content,
    interface_temperature,
    liquid_fraction,
    time_steps,
)
from journal.figures.heat.enthalpy import HeatColumns

HALF_SPACE_K = 0.1
FRONT = 0.01  # share of the depth of a melting front
BALANCE = 1e-6  # share of the heat that passed
PRINTED = 5.1e-5  # four decimals in the table
SERIES = 1e-3  # share of the temperature difference; 80 cells, 400 steps

BASE = HeatMaterial(1060.0, 2800.0, 0.30)
SILICONE = HeatMaterial(1150.0, 1300.0, 0.25)
MELTING = HeatMaterial(1060.0, 2800.0, 0.30, softens_c=46.0, melts_c=55.0, latent_heat_kj_kg=50.0)
INSULATED = StackFace(0.0)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found, name
    return found


def last(columns: HeatColumns, times_s: tuple[float, ...], tolerance_c: float = 1e-6) -> HeatMoment:
    *_, moment = conduct(columns, times_s, tolerance_c)
    return moment


# Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., sec. 2.15; Incropera eq. 5.63
@pytest.mark.parametrize("row", rows("03-contact-temperature.csv"), ids=lambda r: r["body_2"])
def test_contact_temperature_is_the_mean_by_effusivity(row: dict[str, str]) -> None:
    found = contact_temperature(
        float(row["e1_W_s05_m2K"]),
        float(row["T1_degC"]),
        float(row["e2_W_s05_m2K"]),
        float(row["T2_degC"]),
    )
    assert found == pytest.approx(float(row["T_contact_degC"]), abs=PRINTED)


# Cengel & Ghajar, Heat and Mass Transfer, problem on a bare foot at 32 C on a block of wood at
# 20 C, as its solution is printed: sqrt(k rho c) of flesh 1.1, of wood 0.38 kJ/m2 K s^0.5
def test_a_bare_foot_on_wood() -> None:
    assert contact_temperature(1100.0, 32.0, 380.0, 20.0) == pytest.approx(28.9, abs=0.05)


def test_one_base_on_itself_meets_at_the_plain_mean() -> None:
    e = effusivity(HeatMaterial(1060.0, 2800.0, 0.30))
    assert e == pytest.approx(943.61, abs=0.005)
    assert contact_temperature(e, 60.0, e, 22.0) == 41.0


# Carslaw & Jaeger sec. 2.15: T = Tc + (Ti - Tc) erf(x / (2 sqrt(alpha t))) on either side
@pytest.mark.parametrize(("below", "above"), [(SILICONE, BASE), (BASE, SILICONE), (BASE, BASE)])
def test_two_half_spaces_follow_the_error_function(
    below: HeatMaterial, above: HeatMaterial
) -> None:
    away = graded_mm(150.0, 0.1, 1.05)
    near = tuple(reversed(away))
    columns = columns_of(
        [
            HeatStack(
                (HeatLayer(below, near, 22.0), HeatLayer(above, away, 70.0)), INSULATED, INSULATED
            )
        ]
    )
    contact_c = contact_temperature(effusivity(below), 22.0, effusivity(above), 70.0)
    middle_m = np.cumsum(columns.width_m[0]) - columns.width_m[0] / 2 - 0.15
    wanted = (5.0, 30.0, 120.0, 600.0)
    times = tuple(sorted({*time_steps(0.02, 1.05, 5.0, 600.0), *wanted}))
    seen = [moment for moment in conduct(columns, times) if moment.time_s in wanted]
    assert len(seen) == len(wanted)
    for moment in seen:
        for material, start_c, side in ((below, 22.0, middle_m < 0), (above, 70.0, middle_m > 0)):
            alpha = material.thermal_conductivity_w_mk / (
                material.density_kg_m3 * material.heat_capacity_j_kgk
            )
            reach = 2.0 * math.sqrt(alpha * moment.time_s)
            exact = contact_c + (start_c - contact_c) * erf(np.abs(middle_m[side]) / reach)
            assert np.abs(moment.temperature_c[0, side] - exact).max() < HALF_SPACE_K
        meets = interface_temperature(columns, len(near) - 1, moment.temperature_c)
        assert abs(meets[0] - contact_c) < HALF_SPACE_K


# Carslaw & Jaeger sec. 2.4; Incropera eq. 5.57
def test_a_face_held_at_a_temperature_gives_the_error_function_profile() -> None:
    for alpha in sorted({row["alpha_m2_s"] for row in rows("03-erf-profile.csv")}):
        chosen = [row for row in rows("03-erf-profile.csv") if row["alpha_m2_s"] == alpha]
        deep = max(float(row["x_mm"]) for row in chosen) * 60.0
        cells = graded_mm(deep, 0.05, 1.03)
        material = HeatMaterial(1000.0, 1000.0, float(alpha) * 1e6)
        columns = columns_of(
            [HeatStack((HeatLayer(material, cells, 1.0),), StackFace(math.inf, 0.0), INSULATED)]
        )
        middle_mm = 1e3 * (np.cumsum(columns.width_m[0]) - columns.width_m[0] / 2)
        wanted = sorted({float(row["t_s"]) for row in chosen})
        times = tuple(sorted({*time_steps(0.1, 1.05, max(wanted) / 100, max(wanted)), *wanted}))
        seen = {
            moment.time_s: moment.temperature_c[0]
            for moment in conduct(columns, times)
            if moment.time_s in wanted
        }
        for row in chosen:
            profile = seen[float(row["t_s"])]
            found = float(np.interp(float(row["x_mm"]), middle_mm, profile))
            assert found == pytest.approx(float(row["theta"]), abs=SERIES), row


def cooled_slab(films: list[float], cells: int) -> HeatColumns:
    """Half a slab, 10 mm, alpha 1e-7 m2/s, from 1 to 0 C; insulated in its middle."""
    material = HeatMaterial(1000.0, 3000.0, 0.3)
    return columns_of(
        [
            HeatStack(
                (HeatLayer(material, graded_mm(10.0, 10.0 / cells, 1.0), 1.0),),
                INSULATED,
                StackFace(film),
            )
            for film in films
        ]
    )


def surface(columns: HeatColumns, temperature_c: np.ndarray) -> np.ndarray:
    passed = columns.top_link * columns.half_resistance[:, -1]
    found: np.ndarray = temperature_c[:, -1] + passed * (columns.top_c - temperature_c[:, -1])
    return found


# Heisler, Trans. ASME 69 (1947) 227; Incropera eq. 5.42; 200-term series
def test_a_cooled_slab_follows_the_series_solution() -> None:
    table = rows("03-slab-temperature.csv")
    numbers = sorted({float(row["Bi"]) for row in table})
    fourier = sorted({float(row["Fo"]) for row in table})
    columns = cooled_slab([number * 0.3 / 0.010 for number in numbers], 80)
    times = tuple(1000.0 * fo for fo in fourier)
    steps = tuple(sorted({*time_steps(0.05, 1.05, 20.0, times[-1]), *times}))
    seen = {m.time_s: m.temperature_c for m in conduct(columns, steps) if m.time_s in times}
    for row in table:
        index = numbers.index(float(row["Bi"]))
        temperature_c = seen[1000.0 * float(row["Fo"])]
        own = temperature_c[index]
        found = (own[0], (own[39] + own[40]) / 2, surface(columns, temperature_c)[index])
        wanted = [float(row[f"theta_{place}"]) for place in ("mid", "half", "surface")]
        assert found == pytest.approx(wanted, abs=SERIES), row


# Incropera Table 5.1: late, a slab's excess dies away as C1 e^(-zeta1^2 Fo)
@pytest.mark.parametrize("row", rows("03-slab-eigenvalues.csv"), ids=lambda r: f"Bi {r['Bi']}")
def test_a_slab_dies_away_at_its_first_eigenvalue(row: dict[str, str]) -> None:
    columns = cooled_slab([float(row["Bi"]) * 0.3 / 0.010], 80)
    early, late = 600.0, 1000.0  # Fo 0.6 and 1.0: the other terms are gone
    times = (*time_steps(0.05, 1.05, 4.0, early), *(early + 4.0 * step for step in range(1, 101)))
    seen = {m.time_s: float(m.temperature_c[0, 0]) for m in conduct(columns, times)}
    zeta1 = math.sqrt(math.log(seen[early] / seen[late]) / 0.4)
    assert zeta1 == pytest.approx(float(row["zeta1"]), rel=SERIES)
    assert seen[early] * math.exp(zeta1**2 * 0.6) == pytest.approx(float(row["C1"]), rel=SERIES)


# Cengel, Heat Transfer, Ex. 4-4: brass plate, 120 W/m2K, 7 min in an oven of 500 C
def test_a_brass_plate_in_an_oven() -> None:
    row = rows("03-textbook-conduction.csv")[0]
    brass = HeatMaterial(8530.0, 380.0, 110.0)
    columns = columns_of(
        [HeatStack((HeatLayer(brass, (1.0,) * 20, 20.0),), INSULATED, StackFace(120.0, 500.0))]
    )
    moment = last(columns, time_steps(0.5, 1.1, 5.0, 420.0))
    found = float(surface(columns, moment.temperature_c)[0])
    assert found == pytest.approx(float(row["value_exact"]), abs=0.5)  # inputs of 3 digits


# Cengel Ex. 4-6, Incropera Ex. 5.6: how deep a frost reaches into soil
@pytest.mark.parametrize(
    ("index", "soil_c", "face_c", "days", "alpha"),
    [(2, 15.0, -10.0, 90.0, 0.15e-6), (3, 20.0, -15.0, 60.0, 0.138e-6)],
)
def test_frost_reaches_as_deep_as_in_the_textbook(
    index: int, soil_c: float, face_c: float, days: float, alpha: float
) -> None:
    row = rows("03-textbook-conduction.csv")[index]
    assert f"{days:.0f} d" in row["case"]
    soil = HeatMaterial(2000.0, 1000.0, alpha * 2e6)
    cells = graded_mm(10_000.0, 10.0, 1.05)
    columns = columns_of(
        [HeatStack((HeatLayer(soil, cells, soil_c),), StackFace(math.inf, face_c), INSULATED)]
    )
    moment = last(columns, time_steps(60.0, 1.1, 43_200.0, days * 86_400.0))
    middle_m = np.cumsum(columns.width_m[0]) - columns.width_m[0] / 2
    depth = float(np.interp(0.0, moment.temperature_c[0], middle_m))
    assert depth == pytest.approx(float(row["value_exact"]), rel=0.005)


# OpenStax College Physics 2e, 14.2: 0.250 kg of water at 20 C poured into 0.500 kg of hot aluminium
def test_two_layers_without_losses_settle_where_calorimetry_says() -> None:
    row = rows("02-calorimetry.csv")[0]
    water = HeatLayer(HeatMaterial(1000.0, 4186.0, 0.6), (0.025,) * 10, 20.0)
    aluminium = HeatLayer(HeatMaterial(2700.0, 900.0, 220.0), (0.5 / 27.0,) * 10, 150.0)
    columns = columns_of([HeatStack((aluminium, water), INSULATED, INSULATED)])
    moment = last(columns, time_steps(1e-4, 1.2, 1.0, 10.0))
    assert moment.temperature_c[0] == pytest.approx(float(row["value"]), abs=0.001)


# Neumann's solution of one-phase melting; Carslaw & Jaeger sec. 11.2, Alexiades & Solomon 1993
@pytest.mark.parametrize("row", rows("03-stefan-lambda.csv"), ids=lambda r: f"Ste {r['Ste']}")
def test_a_melting_front_keeps_to_neumann(row: dict[str, str]) -> None:
    heat_capacity, over_k = 2500.0, 20.0
    latent_heat_kj_kg = heat_capacity * over_k / float(row["Ste"]) / 1000.0
    # A melting range of a thousandth of the driving difference stands for a melting point.
    solid = HeatMaterial(
        900.0, heat_capacity, 0.25, 50.0 - over_k / 1000.0, 50.0, latent_heat_kj_kg
    )
    alpha = 0.25 / (900.0 * heat_capacity)
    exact_m = 2.0 * float(row["lambda"]) * math.sqrt(alpha * 3600.0)
    cells = (2.0 * exact_m * 1e3 / 150,) * 150
    columns = columns_of(
        [
            HeatStack(
                (HeatLayer(solid, cells, 49.98),), StackFace(math.inf, 50.0 + over_k), INSULATED
            )
        ]
    )
    moment = last(columns, time_steps(0.5, 1.05, 30.0, 3600.0))
    front_m = float((liquid_fraction(columns, moment.heat_j_m2) * columns.width_m).sum())
    assert front_m == pytest.approx(exact_m, rel=FRONT)


# Turcotte & Schubert's lava lake: freezing from a face at 0 C, melt at its freezing point
def test_a_freezing_front_and_the_temperature_behind_it() -> None:
    worked = {row["case"]: float(row["value"]) for row in rows("03-stefan-worked.csv")}
    melt = HeatMaterial(1000.0, 1000.0, 7.0, 1049.0, 1050.0, 400.0)
    columns = columns_of(
        [HeatStack((HeatLayer(melt, (15.0,) * 200, 1050.0),), StackFace(math.inf, 0.0), INSULATED)]
    )
    moment = last(columns, time_steps(10.0, 1.05, 500.0, 1e5))
    front_m = float(((1.0 - liquid_fraction(columns, moment.heat_j_m2)) * columns.width_m).sum())
    assert front_m == pytest.approx(worked["front depth at t=1e5 s, kappa=7e-6"], rel=FRONT)
    middle_m = np.cumsum(columns.width_m[0]) - columns.width_m[0] / 2
    at_1 = float(np.interp(1.0, middle_m, moment.temperature_c[0]))
    at_10 = float(np.interp(0.1, middle_m, moment.temperature_c[0]))
    assert at_1 == pytest.approx(worked["T at y=1 m, t=1e5 s (T0=0, Tm=1050)"], rel=FRONT)
    assert at_10 == pytest.approx(worked["T at y=0.1 m"], rel=FRONT)


def test_a_wax_melts_as_deep_as_worked_out() -> None:
    worked = {row["case"]: float(row["value"]) for row in rows("03-stefan-worked.csv")}
    wax = HeatMaterial(870.0, 2500.0, 1.5, 29.99, 30.0, 179.0)
    columns = columns_of(
        [HeatStack((HeatLayer(wax, (1.0,) * 100, 29.99),), StackFace(math.inf, 40.0), INSULATED)]
    )
    moment = last(columns, time_steps(5.0, 1.05, 200.0, 36_000.0))
    front_m = float((liquid_fraction(columns, moment.heat_j_m2) * columns.width_m).sum())
    assert front_m == pytest.approx(worked["same, melt depth after 36000 s"], rel=FRONT)


@pytest.mark.parametrize("tolerance_c", [1e-6, 0.1, 10.0])
def test_heat_is_neither_made_nor_lost(tolerance_c: float) -> None:
    layers = (
        HeatLayer(SILICONE, graded_mm(4.0, 0.5, 1.2), 4.0),
        HeatLayer(MELTING, graded_mm(2.0, 0.2, 1.0), 14.0),
        HeatLayer(MELTING, graded_mm(18.0, 0.2, 1.2), 80.0),
    )
    columns = columns_of([HeatStack(layers, StackFace(12.0, 21.0), StackFace(9.0, 25.0))])
    before = heat_content(columns, columns.start_c).sum()
    for moment in conduct(columns, time_steps(0.3, 1.2, 120.0, 7200.0), tolerance_c):
        passed = float(np.abs(moment.heat_in_j_m2).sum())
        gained = float(moment.heat_j_m2.sum() - before)
        assert gained == pytest.approx(float(moment.heat_in_j_m2[0]), abs=BALANCE * passed)
    assert moment.heat_in_j_m2[0] < -1e5  # it did cool


def smooth_error(cells: int, steps: int) -> float:
    """Error of the middle of a slab at Bi 1, Fo 1, against the finest."""
    columns = cooled_slab([30.0], cells)
    moment = last(columns, tuple(1000.0 * (step + 1) / steps for step in range(steps)), 1e-9)
    # To the middle itself: the profile is flat there, so the first cell's is off by curvature.
    inner, outer = moment.temperature_c[0, 0], moment.temperature_c[0, 1]
    return float(inner + (inner - outer) / 8.0)


def test_halving_the_cells_quarters_the_error() -> None:
    zeta, first = 0.8603335890193797, 1.1191265  # roots of zeta tan zeta = 1, Incropera 5.42
    exact = first * math.exp(-(zeta**2))
    errors = [abs(smooth_error(cells, 400) - exact) for cells in (4, 8, 16)]
    orders = [math.log2(coarse / fine) for coarse, fine in itertools.pairwise(errors)]
    assert orders == pytest.approx([2.0, 2.0], abs=0.15)


def test_halving_the_steps_quarters_the_error() -> None:
    finest = smooth_error(20, 1280)
    errors = [abs(smooth_error(20, steps) - finest) for steps in (20, 40, 80)]
    orders = [math.log2(coarse / fine) for coarse, fine in itertools.pairwise(errors)]
    assert orders == pytest.approx([2.0, 2.0], abs=0.25)


def test_cells_and_steps_converge_through_a_melting_range() -> None:
    def interface_c(fine: int) -> float:
        cells = 5 * fine
        layers = (
            HeatLayer(MELTING, (2.0 / cells,) * cells, 22.0),
            HeatLayer(MELTING, (2.0 / cells,) * (9 * cells), 64.0),
        )
        columns = columns_of([HeatStack(layers, StackFace(10.0, 22.0), StackFace(10.0, 22.0))])
        moment = last(columns, time_steps(0.4 / fine, 1.0 + 0.2 / fine, 20.0 / fine, 60.0))
        return float(interface_temperature(columns, cells - 1, moment.temperature_c)[0])

    finest = interface_c(16)
    errors = [abs(interface_c(fine) - finest) for fine in (1, 2, 4)]
    assert errors[0] < 0.02
    # Where a front lies within its cell makes the error uneven: about the second order.
    assert all(coarse / fine > 3.0 for coarse, fine in itertools.pairwise(errors))


temperatures = st.floats(-20.0, 120.0)


@examples(40)
@given(low=temperatures, mid=temperatures, high=temperatures, air=temperatures)
def test_stacks_solved_together_are_those_solved_alone(
    low: float, mid: float, high: float, air: float
) -> None:
    def stack(start_c: float) -> HeatStack:
        return HeatStack(
            (HeatLayer(SILICONE, (0.5,) * 4, low), HeatLayer(MELTING, (0.25,) * 8, start_c)),
            StackFace(10.0, air),
            StackFace(10.0, 21.0),
        )

    # Far below a degree: together, a column is iterated for as long as any needs it.
    times = time_steps(1.0, 1.3, 60.0, 900.0)
    both = last(columns_of([stack(mid), stack(high)]), times, 1e-9)
    alone = last(columns_of([stack(high)]), times, 1e-9)
    assert both.temperature_c[1] == pytest.approx(alone.temperature_c[0], abs=1e-6)


@examples(40)
@given(start=temperatures, air=temperatures, shift=st.floats(-30.0, 30.0))
def test_upside_down_and_shifted_it_is_the_same(start: float, air: float, shift: float) -> None:
    def stack(by: float) -> tuple[HeatLayer, HeatLayer]:
        moved = HeatMaterial(1060.0, 2800.0, 0.30, 46.0 + by, 55.0 + by, 50.0)
        return (
            HeatLayer(SILICONE, (0.4, 0.5, 0.6), 21.0 + by),
            HeatLayer(moved, (0.2, 0.3, 0.4, 0.5), start + by),
        )

    plain = HeatStack(stack(0.0), StackFace(5.0, air), StackFace(12.0, 21.0))
    turned = HeatStack(
        tuple(
            HeatLayer(layer.material, tuple(reversed(layer.cells_mm)), layer.start_c)
            for layer in reversed(stack(shift))
        ),
        StackFace(12.0, 21.0 + shift),
        StackFace(5.0, air + shift),
    )
    times = time_steps(1.0, 1.3, 60.0, 900.0)
    upright = last(columns_of([plain]), times, 1e-9).temperature_c[0]
    flipped = last(columns_of([turned]), times, 1e-9).temperature_c[0]
    assert flipped[::-1] - shift == pytest.approx(upright, abs=1e-6)


def test_whole_numbers_are_temperatures_too() -> None:
    columns = columns_of(
        [HeatStack((HeatLayer(BASE, (1, 1), 22),), StackFace(0), StackFace(0, 21))]
    )
    start_c = columns.start_c.copy()
    start_c[:] = 54.25
    assert last(replace(columns, start_c=start_c), (10.0,)).temperature_c == pytest.approx(54.25)


def test_steps_and_cells_end_where_they_should() -> None:
    assert time_steps(1.0, 2.0, 4.0, 12.0) == (1.0, 3.0, 7.0, 11.0, 12.0)
    widths = graded_mm(7.0, 1.0, 2.0)
    assert widths == (1.0, 2.0, 4.0)
    assert sum(graded_mm(18.0, 0.2, 1.2)) == pytest.approx(18.0, rel=1e-12)
    assert graded_mm(0.1, 0.2, 1.2) == (0.1,)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: HeatMaterial(0.0, 2800.0, 0.3), "density_kg_m3 must be above 0, not 0.0"),
        (
            lambda: HeatMaterial(1060.0, math.nan, 0.3),
            "heat_capacity_j_kgk must be above 0, not nan",
        ),
        (
            lambda: HeatMaterial(1060.0, 2800.0, 0.3, 50.0, None),
            "a melting range needs both its ends",
        ),
        (
            lambda: HeatMaterial(1060.0, 2800.0, 0.3, 50.0, 50.0),
            "a base that softens at 50.0 C cannot melt at 50.0 C",
        ),
        (
            lambda: HeatMaterial(1060.0, 2800.0, 0.3, latent_heat_kj_kg=-1.0),
            "latent heat must be 0 or above, not -1.0",
        ),
        (
            lambda: columns_of(
                [
                    HeatStack((HeatLayer(BASE, (1.0,) * n, 20.0),), INSULATED, INSULATED)
                    for n in (2, 3)
                ]
            ),
            "stacks solved together must have the same cells",
        ),
        (lambda: graded_mm(0.0, 0.2, 1.2), "a layer must be thicker than 0 mm, not 0.0"),
        (lambda: graded_mm(1.0, 0.2, 0.9), "cells cannot grow from 0.2 mm by 0.9"),
        (
            lambda: time_steps(0.0, 1.2, 1.0, 10.0),
            "steps cannot grow from 0.0 s by 1.2 up to 1.0 s",
        ),
        (lambda: time_steps(1.0, 1.2, 10.0, math.inf), "the last time must be above 0 s, not inf"),
        (
            lambda: last(cooled_slab([1.0], 4), (2.0, 1.0)),
            "times must rise from 0: 1.0 s after 2.0 s",
        ),
        (
            lambda: contact_temperature(0.0, 20.0, 1.0, 20.0),
            "an effusivity must be above 0, not 0.0",
        ),
        (
            lambda: contact_temperature(1.0, math.nan, 1.0, 20.0),
            "a temperature must be finite, not nan",
        ),
    ],
)
def test_what_cannot_be_is_refused(wrong: object, said: str) -> None:
    with pytest.raises(FigureError, match=said):
        wrong()  # type: ignore[operator]
