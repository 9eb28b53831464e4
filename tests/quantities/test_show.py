"""What is shown: rounded once, in both systems, and readable again."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.quantities import read, show
from journal.quantities.units import G_PER_OZ, ML_PER_FL_OZ, ML_PER_TSP, f_to_c

SCALES = (1.0, 0.1)
OUNCE_SCALE = (float(G_PER_OZ) / 10,)


@pytest.mark.parametrize(
    ("mass_g", "metric", "us"),
    [
        (0, "0 g", "0 oz"),
        (6, "6 g", "0.21 oz"),
        (6.04, "6 g", "0.215 oz"),
        (6.05, "6.1 g", "0.215 oz"),
        (86.467, "86.5 g", "3.05 oz"),
        (99.94, "99.9 g", "3.525 oz"),
        (99.96, "100 g", "3.525 oz"),
        (100, "100 g", "3.55 oz"),
        (453.59237, "454 g", "1 lb"),
        (453.0, "453 g", "1 lb"),  # 15.979 oz is carried over
        (1961.787, "1962 g", "4 lb 5.2 oz"),
        (9999.4, "9999 g", "22 lb 0.7 oz"),
        (12345.4, "12.345 kg", "27 lb 3.45 oz"),
    ],
)
def test_masses(mass_g: float, metric: str, us: str) -> None:
    assert show.show_mass(mass_g, SCALES) == metric
    assert show.show_mass_us(mass_g, SCALES) == us


@pytest.mark.parametrize(("number", "said"), [(1, "once"), (2, "twice"), (3, "3 times")])
def test_how_often(number: int, said: str) -> None:
    assert show.show_times(number) == said


def test_the_order_of_the_scales_does_not_matter() -> None:
    assert show.show_mass(6.04, (0.01, 1.0, 0.1)) == "6.04 g"
    assert show.show_mass(12.34, (0.01, 1.0, 0.1)) == "12.3 g"
    assert show.show_mass(123.4, (0.01, 1.0, 0.1)) == "123 g"


def test_a_scale_in_ounces() -> None:
    # Its step is 2.83 g, which no scale shows in grams: 5 g is the next.
    assert show.show_mass_us(86.467, OUNCE_SCALE) == "3.1 oz"
    assert show.show_mass(86.467, OUNCE_SCALE) == "85 g"


@pytest.mark.parametrize("steps_g", [(), (0.0,), (1.0, -1.0)])
def test_no_mass_without_a_scale(steps_g: tuple[float, ...]) -> None:
    with pytest.raises(FigureError, match="steps of the scales"):
        show.show_mass(85, steps_g)


@pytest.mark.parametrize(
    ("volume_ml", "metric", "us"),
    [
        (0, "0 mL", "0 fl oz"),
        (0.05, "0.05 mL", "0.002 fl oz"),
        (0.534, "0.53 mL", "0.018 fl oz"),
        (0.61, "0.61 mL", "1/8 tsp"),
        (9.25, "9.3 mL", "1 7/8 tsp"),
        (1.2322, "1.2 mL", "¼ tsp"),
        (2.5, "2.5 mL", "½ tsp"),
        (2.65, "2.7 mL", "0.09 fl oz"),  # 7.5 % over half a teaspoon
        (5, "5 mL", "1 tsp"),
        (7.4, "7.4 mL", "1½ tsp"),
        (53.26, "53.3 mL", "1.8 fl oz"),
        (250.4, "250 mL", "8.47 fl oz"),
        (12345, "12.345 L", "417.4 fl oz"),
    ],
)
def test_volumes(volume_ml: float, metric: str, us: str) -> None:
    assert show.show_volume(volume_ml) == metric
    assert show.show_volume_us(volume_ml) == us


def test_oils_are_rounded_down() -> None:
    assert show.show_volume(2.99, "down") == "2.9 mL"
    assert show.show_volume(2.5, "down") == "2.5 mL"
    assert show.show_volume(2.4999999999999996, "down") == "2.5 mL"
    assert show.show_volume_us(2.58, "down") == "½ tsp"
    assert show.show_volume_us(2.46, "down") == "0.083 fl oz"
    assert show.show_mass(86.59, SCALES, "down") == "86.5 g"


@given(st.floats(0, 5000))
def test_down_is_never_more_than_the_figure(volume_ml: float) -> None:
    # The 12 digits may lie above the figure by 5e-12 of it.
    most = volume_ml * (1 + 5e-12)
    assert read.read_volume(show.show_volume(volume_ml, "down")) <= most
    assert read.read_volume(show.show_volume_us(volume_ml, "down")) <= most


def test_drops() -> None:
    assert show.drops_text(Decimal(12)) == "12 drops"
    assert show.drops_text(Decimal(1)) == "1 drop"


@pytest.mark.parametrize(
    ("low_f", "high_f", "us", "metric"),
    [
        (122, 132, "122–132 °F", "50–56 °C"),
        (165, 176, "165–176 °F", "74–80 °C"),
        (131, 131, "131 °F", "55 °C"),
        (14, 41, "14–41 °F", "−10 °C to 5 °C"),
        (-40, -4, "−40 °F to −4 °F", "−40 °C to −20 °C"),
    ],
)
def test_windows(low_f: float, high_f: float, us: str, metric: str) -> None:
    window = f_to_c(low_f), f_to_c(high_f)
    assert show.show_temperatures_f(*window) == us
    assert show.show_temperatures_c(*window) == metric


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0, "0 min"),
        (0.004, "0 min"),
        (0.5, "30 s"),
        (0.999, "1 min"),
        (5.3, "5.5 min"),
        (9.9, "10 min"),
        (12.4, "12 min"),
        (59.7, "1 h"),
        (80, "1 h 20 min"),
        (720, "12 h"),
        (2879.4, "47 h 59 min"),
        (2879.8, "2 days"),
        (3100, "2 days 4 h"),
        (-80, "−1 h 20 min"),
    ],
)
def test_durations(minutes: float, text: str) -> None:
    assert show.show_duration(minutes) == text


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0, "0 %"),
        (0.03, "3 %"),
        # 15 g in 500 g of base is 2.912621 % of the whole
        (15 / 515, "2.91 %"),
        (1 / 3, "33.3 %"),
        (1, "100 %"),
        (0.0001, "0.01 %"),
        (0.000104, "0.0104 %"),
        (0.0000123456, "0.00123 %"),
        (-0.05, "−5 %"),
    ],
)
def test_percent(share: float, text: str) -> None:
    assert show.show_percent(share) == text


def test_other_texts() -> None:
    assert show.show_percent(2 / 3, Decimal(1)) == "67 %"
    assert show.show_duration(5.3, Decimal("0.1")) == "5.3 min"
    assert show.show_length(1.25) == "1.3 mm"
    assert show.show_length_us(80) == "3.15 in"
    assert show.show_size(80, 55) == "80 × 55 mm"
    assert show.show_size_us(80, 55) == "3.15 × 2.17 in"
    assert show.show_number(0.025131443, Decimal("0.0001")) == "0.0251"


def test_money() -> None:
    assert show.show_money(Decimal("4.1"), "USD") == "$4.10"
    assert show.show_money(Decimal("2.345"), "EUR") == "€2.35"
    assert show.show_money(Decimal("1200.4"), "JPY") == "¥1200"
    assert show.show_money(Decimal("-0.001"), "EUR") == "€0.00"
    assert show.show_money(Decimal("-0.43"), "GBP") == "−£0.43"
    # Without a sign of its own in English a currency has its code; dollars are told apart (CLDR).
    assert show.show_money(Decimal("1.2"), "CHF") == "CHF 1.20"
    assert show.show_money(Decimal("1.2"), "CAD") == "CA$1.20"
    assert show.show_money(Decimal("1.2"), "KWD") == "KWD 1.200"
    # Of funds and units of account, two have four places and one has none (ISO 4217).
    assert show.show_money(Decimal("1.2"), "CLF") == "CLF 1.2000"
    assert show.show_money(Decimal("1.2"), "UYW") == "UYW 1.2000"
    assert show.show_money(Decimal("1.2"), "UYI") == "UYI 1"
    assert show.show_money(Decimal("1.2"), "€") == "€1.20"


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        ("3.6 oz", "3.8 oz", "3.6–3.8 oz"),
        ("3.6 oz", "3.6 oz", "3.6 oz"),
        ("15 oz", "1 lb 2 oz", "15 oz to 1 lb 2 oz"),
        ("1 lb 2 oz", "1 lb 3 oz", "1 lb 2 oz to 1 lb 3 oz"),
        ("0.3 fl oz", "0.4 fl oz", "0.3–0.4 fl oz"),
        ("½ tsp", "0.1 fl oz", "½ tsp to 0.1 fl oz"),
        ("1 h", "1 h 20 min", "1 h to 1 h 20 min"),
        ("2 days", "3 days", "2–3 days"),
        ("1.02", "1.05", "1.02–1.05"),
        ("−5 °C", "4 °C", "−5 °C to 4 °C"),
    ],
)
def test_ranges(low: str, high: str, text: str) -> None:
    assert show.show_range(low, high) == text


@given(st.floats(0, 1e6), st.sampled_from([(1.0,), SCALES, (5.0, 0.5, 0.01)]))
def test_a_mass_shown_is_read_within_half_a_step(mass_g: float, steps_g: tuple[float, ...]) -> None:
    half_g = float(show.mass_step_g(mass_g, steps_g)) / 2
    half_oz = float(show.mass_step_oz(mass_g, steps_g)) / 2
    slack = 1e-11 * mass_g  # 12 digits, twice
    read_back = read.read_mass(show.show_mass(mass_g, steps_g))
    assert abs(read_back - mass_g) <= half_g + slack
    read_back = read.read_mass(show.show_mass_us(mass_g, steps_g))
    assert abs(read_back - mass_g) <= half_oz * float(G_PER_OZ) + slack


@given(st.floats(0, 1e6))
def test_a_volume_shown_is_read_within_half_a_step(volume_ml: float) -> None:
    half_ml = 0.005 if volume_ml < 1 else 0.05 if volume_ml < 100 else 0.5
    slack = 1e-11 * volume_ml
    assert abs(read.read_volume(show.show_volume(volume_ml)) - volume_ml) <= half_ml + slack
    spoons = show.show_volume_us(volume_ml)
    ounces = volume_ml / float(ML_PER_FL_OZ)
    half_oz = 0.0005 if ounces < 0.1 else 0.005 if ounces < 10 else 0.05
    # Spoons: half an eighth of a teaspoon, and never more than 5 %.
    most = (
        min(float(ML_PER_TSP) / 16, 0.05 * volume_ml)
        if "tsp" in spoons
        else half_oz * float(ML_PER_FL_OZ)
    )
    assert abs(read.read_volume(spoons) - volume_ml) <= most + slack


@given(st.floats(-200, 1000), st.floats(0, 50))
def test_a_window_shown_is_read_within_half_a_degree(low_c: float, width: float) -> None:
    high_c = low_c + width
    slack = 1e-8
    for text, half in (
        (show.show_temperatures_c(low_c, high_c), 0.5),
        (show.show_temperatures_f(low_c, high_c), 0.5 * 5 / 9),
    ):
        read_low, read_high = read.read_temperatures(text)
        assert abs(read_low - low_c) <= half + slack
        assert abs(read_high - high_c) <= half + slack


@given(st.floats(0, 1e5))
def test_a_duration_shown_is_read_within_half_a_step(minutes: float) -> None:
    limits = ((1, 1 / 60), (10, 0.5), (2880, 1))
    step = next((step for limit, step in limits if minutes < limit), 60)
    assert abs(read.read_duration(show.show_duration(minutes)) - minutes) <= step / 2 + 1e-6


@given(st.floats(0, 1e4))
def test_a_length_shown_is_read_within_half_a_step(length_mm: float) -> None:
    assert abs(read.read_length(show.show_length(length_mm)) - length_mm) <= 0.05 + 1e-7
    assert abs(read.read_length(show.show_length_us(length_mm)) - length_mm) <= 0.127 + 1e-7


@given(st.floats(0, 1))
def test_a_share_shown_is_read_within_half_a_step(share: float) -> None:
    half = 0.0005 if share >= 0.1 else 0.00005
    assert abs(read.read_share(show.show_percent(share)) - share) <= half + 1e-11
    if 1e-6 < share < 0.001:  # three digits
        assert read.read_share(show.show_percent(share)) == pytest.approx(share, rel=5.1e-3)


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_nothing_is_shown_for_no_number(bad: float) -> None:
    for fails in (
        lambda x: show.show_mass(x, SCALES),
        lambda x: show.show_mass_us(x, SCALES),
        show.show_volume,
        show.show_volume_us,
        show.show_temperature_f,
        show.show_temperature_c,
        show.show_duration,
        show.show_length,
        show.show_percent,
    ):
        with pytest.raises(FigureError, match=f"{bad} cannot be written|not {bad}"):
            fails(bad)


@pytest.mark.parametrize(
    ("amount", "kind", "customary", "said"),
    [
        (5234.0, "mass", False, "5.2 kg"),
        (13_424.0, "mass", False, "13.4 kg"),
        (13_424.0, "mass", True, "30 lb"),  # 29.6
        (986.0, "mass", False, "990 g"),
        (996.0, "mass", False, "1000 g"),
        (0.0, "mass", True, "0 oz"),
        (200.0, "mass", True, "7.1 oz"),  # 7.055
        (1283.4, "volume", False, "1.28 L"),
        (265.6, "volume", True, "9 fl oz"),  # 8.98
    ],
)
def test_an_estimate_has_two_or_three_figures(
    amount: float, kind: Literal["mass", "volume"], customary: bool, said: str
) -> None:
    """The third only after a 1; by hand, 453.59237 g a pound and 29.5735 mL a fluid ounce."""
    assert show.show_about(amount, kind, customary=customary) == said
