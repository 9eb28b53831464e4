"""Newton's law fitted to readings: textbook pots, a general optimiser, coverage, trouble."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from paths import REFERENCE
from scipy.optimize import least_squares
from scipy.special import fdtrc

from journal.errors import FigureError
from journal.figures.heat.cooling import (
    CoolingCurve,
    CoolingFit,
    PotReading,
    TemperatureWindow,
    cooling_curve,
    cooling_runs,
    fit_cooling,
    temperature_at,
    time_to_cool,
    window_times,
)
from journal.figures.heat.newton_fit import _chance_of_f
from journal.quantities.units import c_to_f, f_to_c

PRINTED = 5e-7  # seven digits in the table, as a share
OPTIMISER = 1e-5  # where a general optimiser stops, as a share
TRIALS = 1000

ROOM_C = 21.0
POUR = TemperatureWindow(f_to_c(122.0), f_to_c(132.0))


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found, name
    return found


def readings(times: object, values: object) -> tuple[PotReading, ...]:
    return tuple(
        PotReading(float(time), float(value))
        for time, value in zip(times, values, strict=True)  # type: ignore[call-overload]
    )


def newton(times: np.ndarray, start_c: float, rate: float, room_c: float = ROOM_C) -> np.ndarray:
    found: np.ndarray = room_c + (start_c - room_c) * np.exp(-rate * times)
    return found


def curve_of(fit: CoolingFit) -> CoolingCurve:
    assert fit.curve is not None, fit.why
    return fit.curve


# OpenStax Calculus 1 and 2, College Algebra 2e: pots, pizzas and pitchers
@pytest.mark.parametrize("row", rows("02-newton-cooling.csv"), ids=lambda r: r["case"])
def test_textbook_cooling(row: dict[str, str]) -> None:
    start_c, room_c, first_c = (
        f_to_c(float(row[name])) for name in ("T0_degF", "T_ambient_degF", "T_first_degF")
    )
    fit = fit_cooling(readings((0.0, float(row["t_first"])), (start_c, first_c)), room_c, "pour")
    curve = curve_of(fit)
    assert curve.rate_per_min == pytest.approx(float(row["k_exact"]), rel=PRINTED)
    if row["T_target_degF"].startswith("T after"):
        hour = c_to_f(temperature_at(curve, 60.0))
        assert hour == pytest.approx(float(row["time_exact"].split()[0]), rel=PRINTED)
        return
    target_c = f_to_c(float(row["T_target_degF"]))
    exact = float(row["time_exact"])
    assert time_to_cool(start_c, room_c, curve.rate_per_min, target_c) == pytest.approx(
        exact, rel=PRINTED
    )
    times = window_times(curve, TemperatureWindow(target_c, target_c))
    assert times.enters_min == pytest.approx(exact, rel=PRINTED)
    assert times.leaves_min == times.enters_min
    assert times.leaves_beyond == (exact > float(row["t_first"]))
    assert (times.enters_interval_min, times.leaves_interval_min) == (None, None)


# Cengel Ex. 4-1 and 4-2, Incropera Ex. 5.1: lumps with a film
@pytest.mark.parametrize(
    ("index", "start_c", "room_c", "target_c"),
    [(0, 0.0, 100.0, 99.0), (1, 37.0, 20.0, 25.0), (2, 25.0, 200.0, 199.0)],
)
def test_textbook_lumps(index: int, start_c: float, room_c: float, target_c: float) -> None:
    row = rows("02-lumped.csv")[index]
    film, length, density, capacity = (
        float(row[name]) for name in ("h_W_m2K", "Lc_m", "rho_kg_m3", "cp_J_kgK")
    )
    rate_per_s = film / (density * capacity * length)
    assert rate_per_s == pytest.approx(float(row["b_per_s"]), rel=1e-5)
    minutes = time_to_cool(start_c, room_c, 60.0 * rate_per_s, target_c)
    assert 60.0 * minutes == pytest.approx(float(row["time_s"]), rel=2e-5)


def optimised(times: np.ndarray, values: np.ndarray, room_c: float | None) -> np.ndarray:
    """Start excess, rate and room by a general optimiser, from a rough first guess."""

    def off(at: np.ndarray) -> np.ndarray:
        room = room_c if room_c is not None else at[2]
        found: np.ndarray = room + at[0] * np.exp(-at[1] * times) - values
        return found

    guess = [values[0] - ROOM_C, 0.03, ROOM_C][: 2 if room_c is not None else 3]
    found: np.ndarray = least_squares(off, guess, method="lm", xtol=1e-14, ftol=1e-14, gtol=1e-14).x
    return found


@pytest.mark.parametrize("room_c", [ROOM_C, None], ids=["room given", "room fitted"])
def test_the_fit_is_that_of_a_general_optimiser(room_c: float | None) -> None:
    generator = np.random.default_rng(20260418)
    compared = 0
    for _ in range(40):
        times = np.sort(generator.uniform(0.0, 60.0, 9))
        times -= times[0]
        truth = newton(times, generator.uniform(60.0, 80.0), generator.uniform(0.02, 0.06))
        values = truth + generator.normal(0.0, 0.4, 9)
        fit = fit_cooling(readings(times, values), room_c, "pour")
        if fit.curve is None:
            assert room_c is None
            continue
        compared += 1
        reference = optimised(times, values, room_c)
        assert fit.curve.start_c - fit.curve.room_c == pytest.approx(reference[0], rel=OPTIMISER)
        assert fit.curve.rate_per_min == pytest.approx(reference[1], rel=OPTIMISER)
        if room_c is None:
            assert fit.curve.room_c == pytest.approx(reference[2], rel=OPTIMISER)
            assert fit.room_from == "fitted"
        left = temperature_residuals(fit.curve, times, values)
        assert fit.rms_c == pytest.approx(math.sqrt(float(np.mean(left**2))), rel=1e-9)
    assert compared >= 25


def temperature_residuals(curve: CoolingCurve, times: np.ndarray, values: np.ndarray) -> np.ndarray:
    return values - np.array([temperature_at(curve, float(time)) for time in times])


def covered(
    count: int,
    span_min: float,
    noise: Callable[[np.random.Generator, np.ndarray], np.ndarray],
    room_c: float | None = ROOM_C,
) -> dict[str, float]:
    """Share of seeded trials in which each 95 % interval holds the truth."""
    generator = np.random.default_rng(count)
    times = np.linspace(0.0, span_min, count)
    held = {"rate": 0, "enters": 0, "leaves": 0}
    fitted = 0
    for _ in range(TRIALS):
        start_c = generator.uniform(62.0, 74.0)
        rate = generator.uniform(0.02, 0.03)
        values = noise(generator, newton(times, start_c, rate))
        fit = fit_cooling(readings(times, values), room_c)
        if fit.curve is None or fit.bends:  # 1 % of sound runs
            continue
        fitted += 1
        ends = fit.curve.rate_interval_per_min
        assert ends is not None
        held["rate"] += ends[0] <= rate <= ends[1]
        seen = window_times(fit.curve, POUR)
        for name, level_c, interval in (
            ("enters", POUR.high_c, seen.enters_interval_min),
            ("leaves", POUR.low_c, seen.leaves_interval_min),
        ):
            truth = time_to_cool(start_c, ROOM_C, rate, level_c)
            held[name] += interval is None or interval[0] <= truth <= interval[1]
    assert fitted > 0.9 * TRIALS
    return {name: number / fitted for name, number in held.items()}


def noisy(deviation: float) -> Callable[[np.random.Generator, np.ndarray], np.ndarray]:
    def made(generator: np.random.Generator, truth: np.ndarray) -> np.ndarray:
        return truth + generator.normal(0.0, deviation, len(truth))

    return made


def whole_fahrenheit(generator: np.random.Generator, truth: np.ndarray) -> np.ndarray:
    """A thermometer with 0.3 K of noise that shows whole degrees Fahrenheit."""
    shown = np.round((truth + generator.normal(0.0, 0.3, len(truth))) * 1.8 + 32.0)
    found: np.ndarray = (shown - 32.0) / 1.8
    return found


@pytest.mark.parametrize(
    ("count", "span_min", "noise", "room_c"),
    [
        (3, 25.0, noisy(0.3), ROOM_C),
        (6, 25.0, noisy(0.5), ROOM_C),
        (8, 90.0, noisy(0.3), None),
        (6, 25.0, whole_fahrenheit, ROOM_C),
    ],
    ids=["3 readings", "6 readings", "room fitted", "whole degrees Fahrenheit"],
)
def test_intervals_hold_the_truth_19_times_in_20(
    count: int,
    span_min: float,
    noise: Callable[[np.random.Generator, np.ndarray], np.ndarray],
    room_c: float | None,
) -> None:
    for name, share in covered(count, span_min, noise, room_c).items():
        # Binomial error at 1,000 trials: 0.95 +- 3 x 0.0069 lies within.
        assert 0.92 <= share <= 0.98, name


@given(
    start=st.floats(50.0, 95.0),
    rate=st.floats(0.005, 0.2),
    room=st.floats(5.0, 35.0),
    count=st.integers(3, 10),
)
def test_readings_without_noise_give_their_curve_back(
    start: float, rate: float, room: float, count: int
) -> None:
    times = np.linspace(0.0, 30.0, count)
    curve = curve_of(fit_cooling(readings(times, newton(times, start, rate, room)), room))
    assert curve.rate_per_min == pytest.approx(rate, rel=1e-6)
    assert curve.start_c == pytest.approx(start, rel=1e-6)
    assert curve.half_time_min * curve.rate_per_min == pytest.approx(math.log(2.0))


@examples(50)
@given(scale=st.floats(0.2, 5.0), shift=st.floats(-20.0, 20.0), late=st.floats(0.0, 500.0))
def test_the_clock_and_the_zero_of_the_scale_do_not_matter(
    scale: float, shift: float, late: float
) -> None:
    times = np.array([0.0, 4.0, 9.0, 15.0, 22.0])
    values = np.array([66.1, 61.9, 57.8, 53.2, 49.0])
    plain = curve_of(fit_cooling(readings(times, values), ROOM_C))
    moved = curve_of(fit_cooling(readings(late + times * scale, values + shift), ROOM_C + shift))
    assert moved.rate_per_min * scale == pytest.approx(plain.rate_per_min, rel=1e-6)
    assert moved.start_c - shift == pytest.approx(plain.start_c, rel=1e-6)
    window = TemperatureWindow(50.0, 55.0)
    seen = window_times(plain, window)
    seen_moved = window_times(moved, TemperatureWindow(50.0 + shift, 55.0 + shift))
    for name in ("enters_min", "leaves_min"):
        assert getattr(seen_moved, name) == pytest.approx(scale * getattr(seen, name), rel=1e-5)
    for name in ("enters_interval_min", "leaves_interval_min"):
        wanted = [scale * end for end in getattr(seen, name)]
        assert getattr(seen_moved, name) == pytest.approx(wanted, rel=1e-4)


# --- runs --------------------------------------------------------------------------------------


def test_a_reheat_and_a_draw_begin_new_runs() -> None:
    marks = (("melted", 67.0), ("scented", 60.0), ("poured", 55.0), ("reheated", 59.0), ("", 54.0))
    marked = (
        *(PotReading(float(10 * index), at, mark) for index, (mark, at) in enumerate(marks)),
        PotReading(50.0, 50.0, "drawn"),
        PotReading(60.0, 45.0),
    )
    runs = cooling_runs(marked)
    assert [len(run.readings) for run in runs] == [3, 2, 2]
    assert [run.number for run in runs] == [1, 2, 3]
    assert [run.starts_min for run in runs] == [0.0, 30.0, 50.0]


def test_a_rise_that_nobody_explains_stays_in_its_run() -> None:
    runs = cooling_runs(readings((0, 10, 20), (60.0, 62.0, 55.0)))
    assert [len(run.readings) for run in runs] == [3]


def test_a_pot_marked_as_it_goes_back_on_the_heat_cools_from_its_top() -> None:
    """61.2 C as it went back on, then 66 and 70 C on the heat: the run begins at 70 C."""
    marked = (
        PotReading(0.0, 66.0, "melted"),
        PotReading(10.0, 61.2, "reheated"),
        PotReading(13.0, 66.0),
        PotReading(15.0, 70.0),
        PotReading(25.0, 64.4, "poured"),
    )
    before, after = cooling_runs(marked)
    assert [one.temperature_c for one in before.readings] == [66.0, 61.2]
    assert [one.temperature_c for one in after.readings] == [70.0, 64.4]
    assert (after.place, after.starts_min) == (3, 15.0)
    # Marked on the way up, it is of neither.
    rising = (marked[0], PotReading(10.0, 67.0, "reheated"), *marked[3:])
    assert [len(run.readings) for run in cooling_runs(rising)] == [1, 2]


def test_a_pause_while_it_sets_leaves_no_interval() -> None:
    """Eight minutes at 54 C, a reading every other minute: the curve says no more than it can."""
    times = np.arange(0.0, 36.0, 2.0)
    pause = math.log((67.0 - ROOM_C) / (54.0 - ROOM_C)) / 0.03
    values = newton(np.minimum(times, np.maximum(pause, times - 8.0)), 67.0, 0.03)
    fit = fit_cooling(readings(times, values), ROOM_C)
    assert fit.bends
    assert fit.why.startswith("the readings bend away from the curve")
    assert curve_of(fit).half_time_interval_min is None
    assert window_times(curve_of(fit), POUR).leaves_interval_min is None


def test_no_readings_no_runs() -> None:
    assert cooling_runs(()) == ()


@pytest.mark.parametrize("mark", ["", "reheated"])
def test_time_that_goes_backwards_is_refused(mark: str) -> None:
    with pytest.raises(FigureError, match="backwards"):
        cooling_runs((PotReading(10.0, 60.0), PotReading(5.0, 58.0, mark)))


# --- few readings ------------------------------------------------------------------------------


def test_two_readings_are_exact_and_have_no_interval() -> None:
    fit = fit_cooling(readings((0, 10), (66.0, 57.0)), ROOM_C, "settings")
    curve = curve_of(fit)
    assert temperature_at(curve, 10.0) == pytest.approx(57.0)
    assert (curve.spread, curve.rate_interval_per_min, curve.half_time_interval_min) == (None,) * 3
    assert fit.rms_c is None
    assert fit.room_from == "settings"
    assert fit.why == "two readings give a curve without an interval"
    assert {point.interval_c for point in cooling_curve(curve, 20.0, 5)} == {None}


@pytest.mark.parametrize(
    ("times", "values", "room_c", "why"),
    [
        ((), (), ROOM_C, "no readings"),
        ((0,), (60.0,), ROOM_C, "one reading gives no curve"),
        ((5, 5), (60.0, 59.0), ROOM_C, "all readings are of one moment"),
        ((0, 10), (60.0, 60.0), ROOM_C, "the readings do not cool towards the room"),
        ((0, 10, 20), (50.0, 55.0, 60.0), ROOM_C, "the readings do not cool towards the room"),
        ((0, 10), (60.0, 20.0), ROOM_C, "the readings do not cool towards the room"),
        ((0, 10, 20), (60.0, 55.0, 51.0), None, "4 readings are needed"),
        ((0, 2, 4, 6), (60.0, 59.2, 58.3, 57.6), None, "the readings do not show it"),
        ((0, 9, 20, 30), (21.0, 21.0, 21.0, 21.0), ROOM_C, "do not cool"),
    ],
)
def test_too_little_gives_no_curve_and_says_why(
    times: tuple[float, ...], values: tuple[float, ...], room_c: float | None, why: str
) -> None:
    fit = fit_cooling(readings(times, values), room_c, "pour")
    assert fit.curve is None
    assert why in fit.why
    assert fit.readings == len(times)
    assert fit.room_from == ("pour" if room_c is not None else "")


def test_the_room_is_fitted_where_the_readings_show_it() -> None:
    times = np.linspace(0.0, 150.0, 12)
    values = newton(times, 70.0, 0.03, 18.0) + 0.1 * np.array([1, -1] * 6)
    fit = fit_cooling(readings(times, values), None)
    assert fit.room_from == "fitted"
    assert curve_of(fit).room_c == pytest.approx(18.0, abs=1.0)


@pytest.mark.parametrize("rate", [0.005, 0.02, 0.15])
def test_readings_without_noise_give_the_room_back(rate: float) -> None:
    """Slow pots among them, of which half an hour shows a small part of their way."""
    times = np.linspace(0.0, 30.0, 7)
    curve = curve_of(fit_cooling(readings(times, newton(times, 70.0, rate)), None))
    assert curve.room_c == pytest.approx(ROOM_C, rel=1e-6)
    assert curve.rate_per_min == pytest.approx(rate, rel=1e-6)
    assert curve.start_c == pytest.approx(70.0, rel=1e-6)


def test_a_cold_pot_warms_towards_the_room() -> None:
    times = np.linspace(0.0, 40.0, 6)
    curve = curve_of(fit_cooling(readings(times, newton(times, 4.0, 0.02)), ROOM_C))
    assert curve.start_c == pytest.approx(4.0)
    seen = window_times(curve, TemperatureWindow(8.0, 12.0))
    assert seen.enters_min == pytest.approx(math.log(17.0 / 13.0) / 0.02)
    assert seen.leaves_min == pytest.approx(math.log(17.0 / 9.0) / 0.02)


# --- windows -----------------------------------------------------------------------------------


def exact_curve(start_c: float = 67.0, rate: float = 0.025, last_min: float = 20.0) -> CoolingCurve:
    return CoolingCurve(ROOM_C, start_c, rate, last_min, None)


def test_a_pot_in_the_window_from_the_start_enters_at_0() -> None:
    seen = window_times(exact_curve(54.0), POUR)
    assert seen.enters_min == 0.0
    assert seen.leaves_min == pytest.approx(math.log(33.0 / 29.0) / 0.025)


def test_a_pot_past_the_window_never_enters() -> None:
    seen = window_times(exact_curve(45.0), POUR)
    assert (seen.enters_min, seen.leaves_min) == (None, None)
    assert seen.why == "the pot is cooler than the window from its first reading"


def test_a_warm_room_holds_the_pot() -> None:
    assert window_times(exact_curve(), TemperatureWindow(10.0, 20.0)).why == (
        "the room keeps the pot from the window"
    )
    within = window_times(exact_curve(), TemperatureWindow(20.0, 40.0))
    assert within.enters_min is not None
    assert within.leaves_min is None
    assert within.why == "the room keeps the pot within the window"


def test_times_past_the_last_reading_are_marked() -> None:
    seen = window_times(exact_curve(last_min=15.0), POUR)
    assert (seen.enters_beyond, seen.leaves_beyond) == (False, True)
    points = cooling_curve(exact_curve(last_min=15.0), 30.0, 7)
    assert [point.beyond for point in points] == [False] * 4 + [True] * 3


def test_intervals_enclose_their_times_and_widen_beyond_the_readings() -> None:
    times = np.array([0.0, 5.0, 10.0, 15.0])
    values = newton(times, 67.0, 0.025) + np.array([0.2, -0.3, 0.2, -0.1])
    curve = curve_of(fit_cooling(readings(times, values), ROOM_C))
    seen = window_times(curve, POUR)
    assert seen.enters_interval_min is not None
    assert seen.leaves_interval_min is not None
    assert seen.enters_interval_min[0] < seen.enters_min < seen.enters_interval_min[1]
    assert seen.leaves_interval_min[0] < seen.leaves_min < seen.leaves_interval_min[1]
    widths = [point.interval_c[1] - point.interval_c[0] for point in cooling_curve(curve, 60.0, 13)]
    assert widths[-1] > widths[2]
    half = curve.half_time_interval_min
    assert half is not None
    assert half[0] < curve.half_time_min < half[1]


def test_a_rate_that_may_be_0_has_no_interval_in_time() -> None:
    fit = fit_cooling(readings((0, 5, 10), (60.0, 61.5, 58.0)), ROOM_C)
    seen = window_times(curve_of(fit), POUR)
    assert seen.leaves_min is not None
    assert seen.leaves_interval_min is None
    assert seen.why == "the readings do not fix the rate well enough for an interval"
    assert curve_of(fit).half_time_interval_min is None


def test_a_pot_that_is_at_the_room_at_once_is_drawn_with_the_room_s_interval() -> None:
    """At 2.6 a minute nothing that a float can hold is left of its warmth after twenty
    minutes; a room that was given is certain."""
    fit = fit_cooling(readings((0, 1, 20), (70.0, 25.0, 21.2)), ROOM_C)
    assert cooling_curve(curve_of(fit), 20.0, 2)[-1].interval_c == (ROOM_C, ROOM_C)


# --- trouble -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("times", "values", "room_c"),
    [
        ((0, 37, 41), (-26.2, -11.3, 38.4), -4.0),
        ((0, 60, 60, 61, 62, 62, 127), (19.9, 20.0, 21.0, 101.9, 128.3, 21.0, 20.0), None),
        ((0, 1000, 1060, 1062, 1124, 1186), (22.0, 22.0, 21.0, 20.0, 13.8, 17.7), 20.0),
    ],
)
def test_readings_that_send_the_search_beyond_all_floats(
    times: tuple[float, ...], values: tuple[float, ...], room_c: float | None
) -> None:
    """A fit or a reason, and no warning: pots that warm up all at once, or warm and cool."""
    fit = fit_cooling(readings(times, values), room_c)
    assert (fit.curve is None) == bool(fit.why)


def spoilt(count: int, index: int, by: float) -> CoolingFit:
    times = np.linspace(0.0, 30.0, count)
    values = newton(times, 67.0, 0.025) + np.resize([0.1, -0.15, 0.05, 0.1, -0.1], count)
    values[index] += by
    return fit_cooling(readings(times, values), ROOM_C)


def test_a_reading_out_of_line_is_named() -> None:
    (found,) = spoilt(7, 3, 4.0).outliers
    assert found.reading.time_min == 15.0
    assert found.residual_k > 2.5
    assert found.studentised > 6.0


# Cook & Weisberg: t_i = r_i sqrt((n - p - 1) / (n - p - r_i^2)), r_i internally studentised; here
# by leaving the reading out and asking how far it lies from the fit of the others
def test_studentised_residuals_are_those_of_leaving_one_out() -> None:
    times = np.linspace(0.0, 30.0, 7)
    values = newton(times, 67.0, 0.025) + np.resize([0.1, -0.15, 0.05, 0.1, -0.1], 7)
    values[3] += 4.0
    (found,) = fit_cooling(readings(times, values), ROOM_C).outliers
    keep = np.arange(7) != 3
    others = curve_of(fit_cooling(readings(times[keep], values[keep]), ROOM_C))
    point = cooling_curve(others, 15.0, 2)[-1]
    assert point.interval_c is not None
    assert others.spread is not None
    error = (point.interval_c[1] - point.interval_c[0]) / 2 / others.spread.quantile
    left = temperature_residuals(others, times[keep], values[keep])
    own = math.sqrt(float(left @ left) / 4.0)
    deleted = (values[3] - point.temperature_c) / math.hypot(own, error)
    # The law is not quite linear in its rate, so the two agree to a few per cent.
    assert found.studentised == pytest.approx(deleted, rel=0.05)


def test_few_readings_name_nobody() -> None:
    assert spoilt(4, 2, 4.0).outliers == ()


def test_a_sound_run_rarely_names_a_reading() -> None:
    generator = np.random.default_rng(7)
    times = np.linspace(0.0, 30.0, 7)
    named = sum(
        bool(
            fit_cooling(
                readings(times, newton(times, 67.0, 0.025) + generator.normal(0.0, 1.0, 7)), ROOM_C
            ).outliers
        )
        for _ in range(TRIALS)
    )
    # 5 % were meant; those under 0.6 K are let go, and 3 binomial errors are 2 %.
    assert 0.02 <= named / TRIALS <= 0.07


def test_an_exact_run_but_for_one_reading_names_it() -> None:
    times = np.linspace(0.0, 30.0, 6)
    values = newton(times, 67.0, 0.025)
    values[2] -= 5.0
    (found,) = fit_cooling(readings(times, values), ROOM_C).outliers
    assert found.reading.time_min == 12.0
    assert math.isfinite(found.studentised)


def setting_pot(times: np.ndarray) -> np.ndarray:
    """A pot that gives off 50 kJ/kg between 55 and 46 C while it cools at 0.03 a minute."""
    heat = np.array([2.8 * (70.0 - 46.0) + 50.0])  # kJ/kg above softening
    found, clock, step = [], 0.0, 0.05

    def temperature(held: float) -> float:
        mush = 2.8 * 9.0 + 50.0
        if held > mush:
            return 55.0 + (held - mush) / 2.8
        return 46.0 + (held / mush * 9.0 if held > 0 else held / 2.8)

    held = float(heat[0])
    for time in times:
        while clock < time - 1e-9:
            held -= step * 0.03 * 2.8 * (temperature(held) - ROOM_C)
            clock += step
        found.append(temperature(held))
    return np.array(found)


@pytest.mark.parametrize(
    ("step", "end"),
    [(5.0, 60.0), (5.0, 40.0), (8.0, 80.0), (8.0, 48.0), (10.0, 60.0), (10.0, 100.0)],
)
def test_a_pot_that_pauses_while_it_sets_is_noticed(step: float, end: float) -> None:
    times = np.arange(0.0, end + 1.0, step)
    rounded = (np.round(setting_pot(times) * 1.8 + 32.0) - 32.0) / 1.8
    fit = fit_cooling(readings(times, rounded), ROOM_C)
    assert fit.bends
    assert fit.rms_c is not None
    assert fit.rms_c > 0.4
    # Until then it is Newton's law, and the time to the window is right to a minute.
    early = rounded[rounded > 55.0]
    fit = fit_cooling(readings(times[: len(early)], early), ROOM_C)
    exact = math.log(49.0 / (POUR.high_c - ROOM_C)) / 0.03
    assert window_times(curve_of(fit), POUR).enters_min == pytest.approx(exact, abs=1.0)


@pytest.mark.parametrize("count", [7, 9])
def test_a_sound_run_does_not_bend(count: int) -> None:
    generator = np.random.default_rng(11)
    times = np.linspace(0.0, 60.0, count)
    bent = sum(
        fit_cooling(
            readings(times, newton(times, 67.0, 0.025) + generator.normal(0.0, 0.6, count)), ROOM_C
        ).bends
        for _ in range(TRIALS // 2)
    )
    assert bent / (TRIALS // 2) < 0.025  # 1 % were meant, and 3 binomial errors


def test_readings_to_one_fahrenheit_are_near_the_curve() -> None:
    generator = np.random.default_rng(3)
    times = np.linspace(0.0, 30.0, 7)
    for _ in range(100):
        start_c = generator.uniform(62.0, 74.0)
        exact = newton(times, start_c, 0.025)
        rounded = (np.round(exact * 1.8 + 32.0) - 32.0) / 1.8
        fit = fit_cooling(readings(times, rounded), ROOM_C)
        assert curve_of(fit).half_time_min == pytest.approx(math.log(2.0) / 0.025, rel=0.03)
        assert fit.outliers == ()
        assert not fit.bends
        assert fit.rms_c is not None
        assert fit.rms_c < 0.28  # half a degree Fahrenheit


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: PotReading(math.nan, 60.0), "a reading must be finite, not PotReading"),
        (lambda: PotReading(0.0, math.inf), "a reading must be finite, not PotReading"),
        (lambda: TemperatureWindow(60.0, 50.0), "a window's ends are out of order: Temperature"),
        (lambda: TemperatureWindow(math.nan, 50.0), "a window must be finite, not Temperature"),
        (lambda: fit_cooling((), math.nan), "a room temperature must be finite, not nan"),
        (lambda: time_to_cool(60.0, 21.0, 0.0, 50.0), "a cooling rate must be above 0, not 0.0"),
        (
            lambda: time_to_cool(60.0, 21.0, 0.03, 61.0),
            "61.0 C is not between 60.0 C and a room of 21.0 C",
        ),
        (
            lambda: time_to_cool(60.0, 21.0, 0.03, 21.0),
            "21.0 C is not between 60.0 C and a room of 21.0 C",
        ),
        (
            lambda: time_to_cool(21.0, 21.0, 0.03, 21.0),
            "21.0 C is not between 21.0 C and a room of 21.0 C",
        ),
        (
            lambda: cooling_curve(exact_curve(), 0.0, 5),
            "a curve cannot have 5 points up to 0.0 min",
        ),
        (
            lambda: cooling_curve(exact_curve(), 10.0, 1),
            "a curve cannot have 1 points up to 10.0 min",
        ),
    ],
)
def test_what_cannot_be_is_refused(wrong: object, said: str) -> None:
    with pytest.raises(FigureError, match=said):
        wrong()  # type: ignore[operator]


@pytest.mark.parametrize("terms", [2, 3])
def test_what_added_terms_take_up_by_chance_is_fishers_law(terms: int) -> None:
    for freedom in (1, 2, 3, 8, 25):
        for ratio in (0.01, 0.7, 2.0, 9.0, 60.0):
            assert _chance_of_f(terms, freedom, ratio) == pytest.approx(
                float(fdtrc(terms, freedom, ratio)), rel=1e-9
            )
