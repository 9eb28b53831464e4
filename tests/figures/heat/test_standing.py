"""A thing that stands in the room: a thin slab by hand, the bond model's own start, its times."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from journal.figures.heat.bond import solve_bond
from journal.figures.heat.bond_case import BondCase, DetailStay
from journal.figures.heat.standing import AS_WARM_K, minutes_until, standing
from journal.figures.recipe.base_properties import AIR_FILM_W_M2K, base_properties

USUAL = base_properties()
CHILLED = (DetailStay(15.0, 20.0), DetailStay(10.0, 4.0))
CASE = BondCase(
    detail=USUAL, body=USUAL, detail_mm=2.0, body_mm=18.0, mat_mm=4.0, room_c=20.0,
    detail_pour_c=78.0, stays=CHILLED,
)  # fmt: skip


def test_a_thin_slab_warms_as_a_lump_does() -> None:
    # 0.5 mm with both faces in air at h: T = room + (start - room) e^(-2 h t / (rho c d)).
    course = standing(replace(CASE, detail_mm=0.5, mat_mm=0.0, detail_c=4.0))
    heat_j_m2k = 0.5e-3 * USUAL.density_kg_m3.nominal * USUAL.heat_capacity_j_kgk.nominal
    rate_per_min = 60 * 2 * AIR_FILM_W_M2K.nominal / heat_j_m2k
    assert course[0] == (0.0, pytest.approx(4.0))
    assert minutes_until(course, 12.0, 20.0) == pytest.approx(math.log(2) / rate_per_min, rel=0.02)
    assert abs(course[-1][1] - 20.0) <= AS_WARM_K


def test_it_begins_where_the_bond_model_has_the_detail() -> None:
    assert standing(CASE)[0][1] == pytest.approx(solve_bond(CASE, 53.0, ()).planned.detail_c)


def test_a_thicker_thing_takes_longer() -> None:
    times = [
        minutes_until(standing(replace(CASE, detail_mm=mm, mat_mm=0.0, detail_c=4.0)), 19.0, 21.0)
        for mm in (5.0, 20.0)
    ]
    assert times[1] > 4 * times[0] > 0


def test_half_a_day_in_the_mould_is_followed_to_the_room() -> None:
    bar = replace(CASE, detail_mm=25.0, mat_mm=0.0, stays=(DetailStay(720.0, 20.0),))
    assert standing(bar)[0][1] == pytest.approx(20.0, abs=0.2)


COURSE = ((0.0, 8.0), (2.0, 12.0), (6.0, 16.0))


@pytest.mark.parametrize(
    ("low_c", "high_c", "minutes"),
    [(8, 99, 0), (10, 99, 1), (14, 99, 4), (16, 99, 6), (16.1, 99, math.inf), (11, 13, 1.5)],
)
def test_times_on_a_warming_course(low_c: float, high_c: float, minutes: float) -> None:
    assert minutes_until(COURSE, low_c, high_c) == pytest.approx(minutes)


def test_times_on_a_cooling_course() -> None:
    falling = tuple((at_min, 30 - at_c) for at_min, at_c in COURSE)
    assert minutes_until(falling, 13, 17) == pytest.approx(3)
