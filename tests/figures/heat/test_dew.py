"""Dew points: published tables, the formula turned round, what must hold of any room."""

from __future__ import annotations

import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE

from journal.errors import FigureError
from journal.figures.heat.dew import dew_point, saturated_at, saturation_pressure, wet_above


def published(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_the_published_table_of_dew_points() -> None:
    rows = published("14-dew-point.csv")
    assert len(rows) > 100
    for row in rows:
        found = dew_point(float(row["room_c"]), float(row["humidity_percent"]) / 100)
        assert found == pytest.approx(float(row["dew_point_c"]), abs=0.2), row


def test_the_published_vapour_pressures() -> None:
    for row in published("14-vapour-pressure.csv"):
        at_c, pressure_hpa = float(row["temperature_c"]), 10 * float(row["pressure_kpa"])
        # The formula is good to 0.3 % between 0 and 40 C, 0.05 K.
        assert saturation_pressure(at_c) == pytest.approx(pressure_hpa, rel=3e-3), row
        assert saturated_at(pressure_hpa) == pytest.approx(at_c, abs=0.05), row


rooms = st.floats(-20, 50)


@given(rooms, st.floats(0.01, 1))
def test_a_surface_at_the_dew_point_is_wet_above_the_rooms_own_humidity(
    room_c: float, humidity: float
) -> None:
    surface_c = dew_point(room_c, humidity)
    assert surface_c <= room_c + 1e-9
    assert wet_above(room_c, surface_c) == pytest.approx(humidity, rel=1e-9)


@given(rooms, st.floats(0.01, 0.98))
def test_damper_air_has_a_higher_dew_point(room_c: float, humidity: float) -> None:
    assert dew_point(room_c, humidity) < dew_point(room_c, humidity + 0.01)
    assert dew_point(room_c, humidity) < dew_point(room_c + 0.1, humidity)


def test_what_is_as_warm_as_the_room_is_never_wet() -> None:
    assert wet_above(20, 20) == wet_above(20, 35) == 1
    assert wet_above(20, 19.9) < 1
    assert dew_point(20, 1) == pytest.approx(20, abs=1e-9)


@pytest.mark.parametrize("humidity", [0, -0.1, 1.01, float("nan")])
def test_a_humidity_that_cannot_be_is_refused(humidity: float) -> None:
    with pytest.raises(FigureError, match="relative humidity"):
        dew_point(20, humidity)


@pytest.mark.parametrize("at_c", [-243.12, float("inf"), float("nan")])
def test_a_temperature_that_cannot_be_is_refused(at_c: float) -> None:
    with pytest.raises(FigureError, match="vapour pressure"):
        saturation_pressure(at_c)


@pytest.mark.parametrize("pressure_hpa", [0, -1, float("nan"), 1e10])
def test_a_pressure_that_cannot_be_is_refused(pressure_hpa: float) -> None:
    with pytest.raises(FigureError, match="hPa"):
        saturated_at(pressure_hpa)
