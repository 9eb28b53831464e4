"""Exact factors, against the published ones and against a general unit library."""

from __future__ import annotations

import csv
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE

from journal.errors import FigureError
from journal.quantities import units
from journal.quantities.read import read_dose, read_mass, read_volume

# Conversions are one exact fraction and one rounding to a float; the library
# works in floats, with a few roundings of 1.1e-16 each.
FLOAT_NOISE = 1e-14


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    assert found
    return found


# Symbols of the reference table that this module defines or that follow from it.
EXACT = {
    "lb": units.G_PER_LB,
    "oz": units.G_PER_OZ,
    "in": units.MM_PER_IN,
    "in2": units.MM_PER_IN**2 / 100,
    "in3": units.MM_PER_IN**3 / 1000,
    "gal": units.ML_PER_FL_OZ * 128,
    "fl oz": units.ML_PER_FL_OZ,
    "cup": units.ML_PER_CUP,
    "tbsp": units.ML_PER_TBSP,
    "tsp": units.ML_PER_TSP,
}
# Not written in this journal: grains, label and metric kitchen measures, UK ounces.
ELSEWHERE = {*("gr", "tsp_m", "tbsp_m", "cup_m", "fl oz UK"), *("oz_label", "lb_label", "g_label")}


@pytest.mark.parametrize("row", rows("01-units.csv"), ids=lambda row: row["symbol"])
def test_factors_are_the_published_ones(row: dict[str, str]) -> None:
    # NIST SP 811 App. B and NIST Handbook 44 App. C; each row names its own source.
    if row["symbol"] in ELSEWHERE:
        assert row["symbol"] not in units.UNIT_BY_SPELLING
    else:
        assert EXACT[row["symbol"]] == Fraction(row["factor"])


@pytest.mark.parametrize(
    ("exact", "published"),
    [
        (1 / units.G_PER_OZ, "0.0352740"),
        (units.G_PER_OZ, "28.3495"),
        (units.G_PER_LB, "453.592"),
        (units.ML_PER_FL_OZ, "29.5735"),
    ],
)
def test_factors_round_to_the_label_factors(exact: Fraction, published: str) -> None:
    # 16 CFR 500.19(a), six figures.
    assert f"{float(exact):.6g}" == f"{float(published):.6g}"


@pytest.mark.parametrize("row", rows("01-temperature.csv"), ids=lambda row: row["degF"])
def test_temperatures_are_the_published_ones(row: dict[str, str]) -> None:
    # NIST SP 811 App. B, printed to six decimals.
    assert units.f_to_c(float(row["degF"])) == pytest.approx(float(row["degC"]), abs=5e-7)


def test_a_drop_is_the_nominal_one_of_the_pharmacopoeia() -> None:
    # USP 32-NF 27 <1101>: 20 drops of water to the millilitre, 18 to 22 found.
    by_name = {row["quantity"]: row["value"] for row in rows("01-drops.csv")}
    assert int(by_name["nominal_drops_per_mL"]) == 1 / units.ML_PER_DROP
    assert units.UNIT_BY_SPELLING["drops"].rough


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry()


NAMES = {
    "g": "gram",
    "kg": "kilogram",
    "oz": "ounce",
    "lb": "pound",
    "mL": "milliliter",
    "L": "liter",
    "fl oz": "US_fluid_ounce",
    "tsp": "teaspoon",
    "tbsp": "tablespoon",
    "cup": "cup",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "d": "day",
    "mm": "millimeter",
    "cm": "centimeter",
    "in": "inch",
}
STORED = {"mass": "gram", "volume": "milliliter", "duration": "minute", "length": "millimeter"}


@pytest.mark.parametrize("symbol", NAMES)
def test_factors_are_those_of_the_library(symbol: str, registry: pint.UnitRegistry[float]) -> None:
    unit = units.UNIT_BY_SPELLING[symbol]
    theirs = registry.Quantity(1.0, NAMES[symbol]).to(STORED[unit.dimension]).magnitude
    assert float(unit.factor) == pytest.approx(theirs, rel=FLOAT_NOISE)


@pytest.mark.parametrize("fahrenheit", [-459.67, -40.0, 0.0, 98.6, 131.0, 176.0, 451.0])
def test_temperatures_are_those_of_the_library(
    fahrenheit: float, registry: pint.UnitRegistry[float]
) -> None:
    theirs = registry.Quantity(fahrenheit, "degF").to("degC").magnitude
    # The library passes through kelvin, where a rounding is worth 6e-14.
    assert units.f_to_c(fahrenheit) == pytest.approx(theirs, abs=1e-12)


def test_every_spelling_belongs_to_one_unit() -> None:
    spellings = [s for unit in units.UNITS for s in (unit.symbol, *unit.spellings)]
    assert len(spellings) == len(set(spellings))


@given(st.floats(-459.67, 1e6))
def test_temperatures_there_and_back(fahrenheit: float) -> None:
    # Two roundings, each at most half a unit in the last place of a number of this size.
    back = units.c_to_f(units.f_to_c(fahrenheit))
    assert back == pytest.approx(fahrenheit, rel=4e-16, abs=1e-13)


@pytest.mark.parametrize("convert", [units.f_to_c, units.c_to_f])
@pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf")])
def test_no_temperature_from_no_number(convert: object, bad: float) -> None:
    assert callable(convert)
    with pytest.raises(FigureError, match=f"not {bad}"):
        convert(bad)


def test_fragrance_by_the_pound_on_half_a_pound() -> None:
    # Common practice, no source: 5 mL/lb over 8 oz of base is 2.5 mL.
    dose = read_dose("5 mL/lb")
    assert dose.per_g is not None
    volume_ml = dose.value * read_mass("8 oz") / dose.per_g
    assert volume_ml == pytest.approx(read_volume("2.5 mL"), rel=FLOAT_NOISE)
