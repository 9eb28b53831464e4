"""Every form that may be written, and what it is worth."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.errors import QuantityError
from journal.quantities import read
from journal.quantities.kinds import Amount, Dose, Moment, Price
from journal.quantities.units import (
    G_PER_KG,
    G_PER_LB,
    G_PER_OZ,
    ML_PER_CUP,
    ML_PER_FL_OZ,
    ML_PER_TBSP,
    ML_PER_TSP,
)

READERS: dict[str, Callable[[str], Any]] = {
    name: reader for name, reader in vars(read).items() if name.startswith("read_")
}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("4", 4),
        ("0", 0),
        ("007", 7),
        ("2.5", 2.5),
        (".5", 0.5),
        ("2 1/2", 2.5),
        ("1/4", 0.25),
        ("5/4", 1.25),
        ("1⁄3", 1 / 3),
        ("½", 0.5),
        ("¼", 0.25),
        ("¾", 0.75),
        ("⅓", 1 / 3),
        ("⅔", 2 / 3),
        ("⅛", 0.125),
        ("2½", 2.5),
        ("2 ½", 2.5),
        (" 3 ", 3),
        ("0.1", 0.1),
    ],
)
def test_numbers(text: str, value: float) -> None:
    assert read.read_number(text) == value


@pytest.mark.parametrize("minus", ["-", "−"])
def test_numbers_below_zero_where_they_make_sense(minus: str) -> None:
    assert read.read_signed_number(f"{minus}2 1/2") == -2.5
    assert read.read_temperature(f"{minus}40 F") == -40
    assert math.copysign(1, read.read_temperature(f"{minus}0 C")) == 1


@pytest.mark.parametrize(
    ("text", "mass_g"),
    [
        ("85 g", Fraction(85)),
        ("85g", Fraction(85)),
        ("1.2 kg", Fraction("1.2") * G_PER_KG),
        ("1 kg 200 g", 1200),
        ("4 oz", 4 * G_PER_OZ),
        ("3 ½ oz", Fraction("3.5") * G_PER_OZ),
        ("1/3 lb", G_PER_LB / 3),
        ("4 lb 5.2 oz", 4 * G_PER_LB + Fraction("5.2") * G_PER_OZ),
        ("1 lb 2 1/2 oz", G_PER_LB + Fraction("2.5") * G_PER_OZ),
    ],
)
def test_masses(text: str, mass_g: Fraction) -> None:
    assert read.read_mass(text) == float(mass_g)


@pytest.mark.parametrize("blank", ["", " ", "\t", "\u00a0", "\u2009", "\u202f", "  "])
def test_any_blank_before_the_unit(blank: str) -> None:
    assert read.read_mass(f"85{blank}g") == 85
    assert read.read_temperature(f"-5{blank}°C") == -5


@pytest.mark.parametrize(
    ("text", "volume_ml"),
    [
        ("2.5 mL", Fraction("2.5")),
        ("2.5 ml", Fraction("2.5")),
        ("1 L", 1000),
        ("2 1/2 tsp", Fraction("2.5") * ML_PER_TSP),
        ("½ tsp", ML_PER_TSP / 2),
        ("2½ tsp", Fraction("2.5") * ML_PER_TSP),
        ("1 tbsp 1 tsp", ML_PER_TBSP + ML_PER_TSP),
        ("1/3 cup", ML_PER_CUP / 3),
        ("2 cups", 2 * ML_PER_CUP),
        ("3 fl oz", 3 * ML_PER_FL_OZ),
        ("1 drop", Fraction(1, 20)),
        ("12 drops", Fraction(12, 20)),
    ],
)
def test_volumes(text: str, volume_ml: Fraction) -> None:
    assert read.read_volume(text) == float(volume_ml)


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("8 min", 8),
        ("30 s", 0.5),
        ("1 h 20 min", 80),
        ("1.5 h", 90),
        ("12 h", 720),
        ("2 d", 2880),
        ("1 day", 1440),
        ("2 days 3 h", 3060),
        ("8 min 30 s", 8.5),
    ],
)
def test_durations(text: str, minutes: float) -> None:
    assert read.read_duration(text) == minutes


@pytest.mark.parametrize(
    ("text", "length_mm"), [("3 mm", 3), ("1.5 cm", 15), ("3/8 in", 9.525), ("0 mm", 0)]
)
def test_lengths(text: str, length_mm: float) -> None:
    assert read.read_length(text) == length_mm


@pytest.mark.parametrize(
    "text",
    [
        *("80 x 55 mm", "80 × 55 mm", "80x55 mm", "80×55mm"),
        *("8 x 5.5 cm", "80 mm x 55 mm", "80 mm x 5.5 cm"),
    ],
)
def test_sizes(text: str) -> None:
    assert read.read_size(text) == (80, 55)


@pytest.mark.parametrize("unit", ["F", "°F", "° F", "℉"])
@pytest.mark.parametrize("dash", ["-", "–", " - ", " – ", " to ", "—", "‑", "−"])
def test_windows(dash: str, unit: str) -> None:
    low_c, high_c = read.read_temperatures(f"158{dash}176 {unit}")
    assert (low_c, high_c) == (70, 80)


@pytest.mark.parametrize(
    ("reader", "text", "low_high"),
    [
        (read.read_temperatures, "131 F", (55, 55)),
        (read.read_temperatures, "-5--2 C", (-5, -2)),
        (read.read_temperatures, "-5 to -2 °C", (-5, -2)),
        (read.read_temperatures, "-5 - 3 C", (-5, 3)),
        (read.read_temperatures, "−5 °C to 3 °C", (-5, 3)),
        (read.read_temperatures, "50 C to 131 F", (50, 55)),
        (read.read_masses, "3-4 kg", (3000, 4000)),
        (read.read_masses, "900 g to 1.1 kg", (900, 1100)),
        (read.read_masses, "5 g", (5, 5)),
        (read.read_masses, "1/2-3/4 kg", (500, 750)),
        (read.read_masses, "1 1/2 – 2 kg", (1500, 2000)),
    ],
)
def test_ranges(reader: Callable[[str], object], text: str, low_high: tuple[float, float]) -> None:
    assert reader(text) == low_high


def test_a_window_of_the_example() -> None:
    low_c, high_c = read.read_temperatures("165-176 F")
    assert low_c == float(Fraction(133 * 5, 9))
    assert high_c == 80


@pytest.mark.parametrize(
    ("text", "share"), [("3 %", 0.03), ("3%", 0.03), ("0 %", 0), ("100 %", 1), ("1/4 %", 0.0025)]
)
def test_shares(text: str, share: float) -> None:
    assert read.read_share(text) == share


LB, OZ = float(G_PER_LB), float(G_PER_OZ)
QUARTER_TSP = float(ML_PER_TSP / 4)


@pytest.mark.parametrize(
    ("text", "dose"),
    [
        ("5 mL/lb", Dose("volume", 5, "base", LB)),
        ("5 mL / lb", Dose("volume", 5, "base", LB)),
        ("8 g/kg", Dose("mass", 8, "base", 1000)),
        ("8 g/100 g", Dose("mass", 8, "base", 100)),
        ("1/4 tsp/lb", Dose("volume", QUARTER_TSP, "base", LB)),
        ("¼ tsp/lb", Dose("volume", QUARTER_TSP, "base", LB)),
        ("3 drops/oz", Dose("volume", 0.15, "base", OZ, rough=True)),
        ("3 %", Dose("share", 0.03, "base")),
        ("2 drops/bar", Dose("volume", 0.1, "bar", rough=True)),
        ("0.5 g/bar", Dose("mass", 0.5, "bar")),
        ("2.5 mL", Dose("volume", 2.5, "pot")),
        ("2.5 mL/pot", Dose("volume", 2.5, "pot")),
        ("1/4 tsp", Dose("volume", QUARTER_TSP, "pot")),
        ("12 drops", Dose("volume", 0.6, "pot", rough=True)),
        ("0 mL/lb", Dose("volume", 0, "base", LB)),
    ],
)
def test_doses(text: str, dose: Dose) -> None:
    assert read.read_dose(text) == dose


@pytest.mark.parametrize(
    ("text", "price"),
    [
        ("4.10/lb", Price(Decimal("4.10"), "mass", G_PER_LB)),
        ("12.50/kg", Price(Decimal("12.50"), "mass", Fraction(1000))),
        ("3.20/fl oz", Price(Decimal("3.20"), "volume", ML_PER_FL_OZ)),
        ("6.20/100 mL", Price(Decimal("6.20"), "volume", Fraction(100))),
        ("0.85", Price(Decimal("0.85"), "each", Fraction(1))),
        ("0.85/each", Price(Decimal("0.85"), "each", Fraction(1))),
    ],
)
def test_prices(text: str, price: Price) -> None:
    assert read.read_price(text) == price


def test_money_is_exact() -> None:
    assert str(read.read_money("4.10")) == "4.10"


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("6 g", Amount("mass", 6)),
        ("2.5 mL", Amount("volume", 2.5)),
        ("12 drops", Amount("volume", 0.6, rough=True)),
        ("40", Amount("count", 40)),
        ("40 each", Amount("count", 40)),
        ("1 lb 2 oz", Amount("mass", float(18 * G_PER_OZ))),
    ],
)
def test_amounts(text: str, amount: Amount) -> None:
    assert read.read_amount(text) == amount


@pytest.mark.parametrize(
    ("reader", "text", "value"),
    [
        (read.read_density, "1.03 g/mL", 1.03),
        (read.read_density, "1.03 g/cm3", 1.03),
        (read.read_density, "1.03 g/cm³", 1.03),
        (read.read_density, "1030 kg/m3", 1.03),
        (read.read_density, "1030 kg/m³", 1.03),
        (read.read_thermal_conductivity, "0.30 W/mK", 0.3),
        (read.read_thermal_conductivity, "0.30 W/m/K", 0.3),
        (read.read_thermal_conductivity, "0.30 W/(m K)", 0.3),
        (read.read_thermal_conductivity, "0.30 W/(m·K)", 0.3),
        (read.read_thermal_conductivity, "0.30 W/m-K", 0.3),
        (read.read_heat_capacity, "2800 J/kgK", 2800),
        (read.read_heat_capacity, "2.8 kJ/(kg K)", 2800),
        (read.read_heat_capacity, "2.8 J/gK", 2800),
        (read.read_latent_heat, "45 kJ/kg", 45),
        (read.read_latent_heat, "45 J/g", 45),
    ],
)
def test_properties(reader: Callable[[str], object], text: str, value: float) -> None:
    assert reader(text) == (value, value)


def test_properties_are_ranges() -> None:
    assert read.read_density("1.02-1.05 g/mL") == (1.02, 1.05)
    assert read.read_thermal_conductivity("0.25 to 0.30 W/mK") == (0.25, 0.3)
    assert read.read_heat_capacity("2600–3000 J/kgK") == (2600, 3000)
    assert read.read_latent_heat("40-60 kJ/kg") == (40, 60)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("0:08", Moment(8, "clock")),
        ("1:30", Moment(90, "clock")),
        ("14:05", Moment(845, "clock")),
        ("30:15", Moment(1815, "clock")),
        ("2:05 pm", Moment(845, "twelve-hour")),
        ("2:05 PM", Moment(845, "twelve-hour")),
        ("2:05pm", Moment(845, "twelve-hour")),
        ("12:05 am", Moment(5, "twelve-hour")),
        ("12:05 pm", Moment(725, "twelve-hour")),
        ("11:59 am", Moment(719, "twelve-hour")),
        ("8 min", Moment(8, "duration")),
        ("1 h 20 min", Moment(80, "duration")),
    ],
)
def test_moments(text: str, moment: Moment) -> None:
    assert read.read_moment(text) == moment


def test_single_values() -> None:
    assert read.read_date("2026-04-18") == datetime.date(2026, 4, 18)
    assert read.read_date("2028-02-29") == datetime.date(2028, 2, 29)
    assert read.read_day_or_month("2026-04-18").isoformat() == "2026-04-18"
    assert read.read_day_or_month("2026-04").isoformat() == "2026-04"
    assert read.read_count("6") == 6
    assert read.read_mm_per_px("0.08 mm/px") == 0.08
    assert read.read_mm_per_px("0.01 in/px") == 0.254
    assert read.read_px("0.8 px") == 0.8
    assert read.read_px("0.8") == 0.8
    assert read.read_yes_no("yes") is True
    assert read.read_yes_no("no") is False


def test_readers_remember_so_much_and_no_more() -> None:
    for reader in READERS.values():
        size = reader.cache_parameters()["maxsize"]  # type: ignore[attr-defined]
        assert 0 < size <= 10_000


def leaves(value: object) -> list[object]:
    if isinstance(value, Amount | Dose | Moment):
        return [getattr(value, slot) for slot in value.__slots__]
    if isinstance(value, tuple):
        return list(value)
    return [value]


def outcome(reader: Callable[[str], object], text: str) -> object:
    try:
        return reader(text)
    except QuantityError as error:
        return error


def check_any_text(text: str) -> None:
    for name, reader in READERS.items():
        found = outcome(reader, text)
        if isinstance(found, QuantityError):
            assert found.what, name
            assert found.hint[-1] in ".?", name
            assert found.what.isprintable(), name
            assert found.hint.isprintable(), name
        for leaf in leaves(found):
            if isinstance(leaf, float):
                assert math.isfinite(leaf), name
                assert leaf != 0 or math.copysign(1, leaf) == 1, name


# Pieces of quantities, so that the forms are nearly right more often than by chance.
pieces = st.lists(
    st.sampled_from(
        [
            *("0", "1", "2", "12", "100", "2.5", ".5", "1/4", "½", "٣", "４", "²", ",", ".", "e3"),
            *(" ", "-", "–", "−", "+", "/", " to ", " x ", "×", ":", "_", "(", ")", "\u00a0", "\n"),
            *("g", "kg", "oz", "lb", "mL", "fl oz", "tsp", "drops", "F", "°C", "min", "h", "d"),
            *("mm", "in", "%", "px", "bar", "pot", "each", "g/mL", "W/mK", "J/kgK", "kJ/kg"),
            *("am", "pm", "yes", "nan", "inf", "$", "USD", "2026-04-18", "\x00", "\ud800"),
        ]
    ),
    max_size=8,
).map("".join)


@examples(150)
@given(pieces)
def test_pieces_of_quantities_give_a_value_or_a_reason(text: str) -> None:
    check_any_text(text)


@given(st.text(max_size=80))
def test_any_text_gives_a_value_or_a_reason(text: str) -> None:
    check_any_text(text)


@given(
    st.sampled_from(["g", "kg", "oz", "lb"]), st.decimals(0, 10**6, places=4), st.integers(0, 999)
)
def test_a_mass_is_its_number_times_its_unit(unit: str, number: Decimal, whole: int) -> None:
    factor = {"g": Fraction(1), "kg": G_PER_KG, "oz": G_PER_OZ, "lb": G_PER_LB}[unit]
    assert read.read_mass(f"{number:f} {unit}") == float(Fraction(number) * factor)
    assert read.read_mass(f"{whole} 1/3 {unit}") == float((whole + Fraction(1, 3)) * factor)
