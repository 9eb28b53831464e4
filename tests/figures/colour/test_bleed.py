"""Growth of the bleed: by hand, against an optimiser, in seeded trials."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from long_run import LONG
from scipy.optimize import least_squares

from journal.errors import FigureError
from journal.figures.colour.bleed import (
    BleedGrowth,
    BleedMethod,
    MeasuredWidth,
    PairGrowth,
    bleed_growth,
    pair_growth,
)

OPTIMISER = 1e-5  # where a general optimiser stops, as a share


def looks(
    days: tuple[float, ...], widths: tuple[float, ...], by: BleedMethod = "ruler"
) -> list[MeasuredWidth]:
    return [MeasuredWidth(day, width, by) for day, width in zip(days, widths, strict=True)]


def grown(widths: list[MeasuredWidth]) -> BleedGrowth:
    (found,) = bleed_growth(widths)
    return found


def ends(interval: tuple[float, float] | None) -> tuple[float, float]:
    assert interval is not None
    return interval


def growth_ends(found: BleedGrowth | PairGrowth) -> tuple[float, float]:
    """The interval of the growth, where the bleed began at nothing."""
    forecast = found.forecasts[1]
    low, high = ends(forecast.interval_mm)
    return low / math.sqrt(forecast.day), high / math.sqrt(forecast.day)


def test_one_look_gives_the_growth_and_no_interval() -> None:
    found = grown(looks((30.0,), (0.8,)))
    assert found.a_mm_per_sqrt_day == pytest.approx(0.8 / math.sqrt(30.0))
    assert [f.width_mm for f in found.forecasts] == pytest.approx(
        [0.8, 0.8 * math.sqrt(3.0), 0.8 * math.sqrt(6.0)]
    )
    assert [f.beyond for f in found.forecasts] == [False, True, True]
    assert {f.interval_mm for f in found.forecasts} == {None}
    assert found.why == "one look gives no interval"


def test_two_looks_go_through_no_width_at_the_pour() -> None:
    # By hand: a = (0.5 x 3 + 1.1 x 6) / (9 + 36) = 0.18; residuals -0.04 and 0.02.
    found = grown(looks((9.0, 36.0), (0.5, 1.1)))
    assert found.start_mm == 0.0
    assert found.a_mm_per_sqrt_day == pytest.approx(0.18)
    # The line rules nothing out: b = (0.5 x 9 + 1.1 x 36) / (81 + 1296) = 0.03203, residuals 0.2118
    # and -0.0529, its error sqrt(0.04765 / 1377) = 0.005883. t(0.975, 1) = 12.706.
    low, high = ends(found.forecasts[1].interval_mm)
    assert high == pytest.approx(90 * (0.03203 + 12.706 * 0.005883), abs=2e-3)
    # And it may have come to an end after day 9, at 0.8 mm or so: 0 to either side.
    assert low == 0.0


def test_three_looks_fit_the_start() -> None:
    days = (4.0, 25.0, 100.0)
    found = grown(looks(days, tuple(math.sqrt(0.09 + 0.04 * day) for day in days)))
    assert found.start_mm == pytest.approx(0.3, abs=1e-6)
    assert found.a_mm_per_sqrt_day == pytest.approx(0.2, abs=1e-7)
    assert found.forecasts[2].width_mm == pytest.approx(math.sqrt(0.09 + 0.04 * 180), rel=1e-7)


def test_a_ruler_and_a_photo_are_two_fits() -> None:
    found = bleed_growth(looks((10.0, 30.0), (0.5, 0.9)) + looks((10.0, 30.0), (1.0, 1.7), "photo"))
    assert [growth.by for growth in found] == ["photo", "ruler"]
    assert [growth.observations for growth in found] == [2, 2]
    ruler = grown(looks((10.0, 30.0), (0.5, 0.9)))
    assert found[1] == ruler


def test_looks_of_the_pour_day_alone_say_nothing() -> None:
    found = grown(looks((0.0,), (0.2,)))
    assert (found.a_mm_per_sqrt_day, found.forecasts) == (None, ())
    assert found.why == "no look later than the day of the pour"
    assert bleed_growth([]) == ()


def test_widths_that_shrink_do_not_grow() -> None:
    found = grown(looks((5.0, 30.0, 90.0), (1.0, 0.9, 0.8)))
    assert found.a_mm_per_sqrt_day == 0.0
    assert found.start_mm == pytest.approx(0.9)
    assert {f.interval_mm for f in found.forecasts} == {None}
    assert "do not grow" in found.why


def test_a_start_below_nothing_is_nothing() -> None:
    found = grown(looks((5.0, 30.0, 90.0), (0.0, 0.9, 2.2)))
    assert found.start_mm == 0.0
    assert growth_ends(found)[1] > (found.a_mm_per_sqrt_day or 0.0)


def test_no_bleed_at_all_is_no_growth() -> None:
    found = grown(looks((30.0, 90.0, 180.0), (0.0, 0.0, 0.0)))
    assert found.a_mm_per_sqrt_day == 0.0
    assert [f.width_mm for f in found.forecasts] == [0.0, 0.0, 0.0]


def test_looks_of_one_day_keep_the_line_through_nothing() -> None:
    found = grown(looks((30.0, 30.0, 30.0), (0.7, 0.8, 0.9)))
    assert found.a_mm_per_sqrt_day == pytest.approx(0.8 / math.sqrt(30.0))


def test_the_fit_is_that_of_a_general_optimiser() -> None:
    generator = np.random.default_rng(20260501)
    for _ in range(40):
        days = np.sort(generator.uniform(1.0, 200.0, 6))
        widths = np.sqrt(0.25 + 0.05**2 * generator.uniform(0.5, 20.0) * days)
        seen = np.abs(widths + generator.normal(0.0, 0.1, 6))

        def off(at: np.ndarray, days: np.ndarray = days, seen: np.ndarray = seen) -> np.ndarray:
            found: np.ndarray = np.hypot(at[0], at[1] * np.sqrt(days)) - seen
            return found

        reference = min(
            (
                least_squares(off, start, xtol=1e-14, ftol=1e-14, gtol=1e-14)
                for start in ((0.5, 0.1), (0.01, 0.2), (1.0, 0.01))
            ),
            key=lambda result: result.cost,
        )
        found = grown(
            [MeasuredWidth(float(d), float(w), "photo") for d, w in zip(days, seen, strict=True)]
        )
        ours = off(np.array([found.start_mm, found.a_mm_per_sqrt_day]))
        assert float(ours @ ours) == pytest.approx(2 * reference.cost, rel=OPTIMISER)
        for day, forecast in ((f.day, f) for f in found.forecasts):
            wanted = math.hypot(reference.x[0], reference.x[1] * math.sqrt(day))
            assert forecast.width_mm == pytest.approx(wanted, rel=1e-4)


@pytest.mark.parametrize(
    ("days", "start_mm"),
    [((10.0, 60.0), 0.0), ((5.0, 15.0, 40.0, 80.0, 120.0), 0.8)],
    ids=["through nothing", "with a start"],
)
def test_forecasts_hold_the_truth_19_times_in_20(days: tuple[float, ...], start_mm: float) -> None:
    generator = np.random.default_rng(len(days))
    trials, held = 1000, 0
    for _ in range(trials):
        a = generator.uniform(0.15, 0.3)
        truth = np.sqrt(start_mm**2 + a * a * np.array(days))
        seen = np.abs(truth + generator.normal(0.0, 0.08, len(days)))
        found = grown(
            [MeasuredWidth(d, float(w), "ruler") for d, w in zip(days, seen, strict=True)]
        )
        exact = math.sqrt(start_mm**2 + a * a * 180.0)
        interval = found.forecasts[2].interval_mm
        held += interval is None or interval[0] <= exact <= interval[1]
    # Starts that come out at 0 and the bend of the root cost a little against 95 %; that other
    # laws are asked too gives it back.
    assert held / trials >= 0.92


EARLY, LATE = (7.0, 30.0), (1.0, 3.0, 7.0, 14.0, 30.0, 45.0, 60.0)


@pytest.mark.parametrize("days", [EARLY, LATE], ids=["two looks", "seven"])
@pytest.mark.parametrize("law", ["evenly", "to an end"])
def test_forecasts_hold_whatever_the_law(days: tuple[float, ...], law: str) -> None:
    """A bleed that grows by 2 mm in 90 days, read to 0.12 mm: its width on day 180.

    95 % is claimed. Before other laws were asked it was 74 and 0 % of those that go on evenly, 93
    and 1 % of those that end; now, in 1,000 rounds, it is 96 and 95, 97 and 98 %."""
    generator = np.random.default_rng(len(days))
    trials = 1000 if LONG else 200

    def width(day: float) -> float:
        return 2.0 * day / 90.0 if law == "evenly" else -2.0 * math.expm1(-day / 30.0)

    held = 0
    for _ in range(trials):
        seen = [max(width(day) + generator.normal(0.0, 0.12), 0.0) for day in days]
        low, high = ends(grown(looks(days, tuple(seen))).forecasts[2].interval_mm)
        held += low <= width(180.0) <= high
    assert held / trials >= 0.95 - 3.0 * math.sqrt(0.05 * 0.95 / trials)


@example([(0.0, 0.0, "ruler"), (1.0, 1e-80, "ruler"), (2.0, 1e-80, "ruler")])
@example([(0.0, 0.0, "ruler"), (0.0, 1e-80, "ruler"), (1.0, 1e-80, "ruler")])
@example([(30.0, 1.0, "ruler"), (30.0, 1.5, "ruler"), (math.nextafter(30.0, 31.0), 1.2, "ruler")])
@given(
    st.lists(
        st.tuples(
            st.floats(0.0, 400.0), st.floats(0.0, 5.0), st.sampled_from(get_args(BleedMethod))
        ),
        max_size=8,
    )
)
def test_any_looks_give_finite_figures(seen: list[tuple[float, float, BleedMethod]]) -> None:
    for growth in bleed_growth([MeasuredWidth(*look) for look in seen]):
        numbers = [growth.start_mm, growth.a_mm_per_sqrt_day]
        for forecast in growth.forecasts:
            numbers += [forecast.width_mm, *(forecast.interval_mm or ())]
            if forecast.interval_mm is not None:
                assert 0.0 <= forecast.interval_mm[0] <= forecast.width_mm * (1 + 1e-9)
                assert forecast.width_mm * (1 - 1e-9) <= forecast.interval_mm[1]
        assert all(value is None or (math.isfinite(value) and value >= 0.0) for value in numbers)


@given(st.floats(0.5, 20.0))
def test_twice_the_widths_is_twice_the_growth(scale: float) -> None:
    days, widths = (3.0, 20.0, 60.0, 120.0), (0.5, 0.8, 1.6, 2.0)
    plain = grown(looks(days, widths))
    scaled = grown(looks(days, tuple(scale * width for width in widths)))
    assert scaled.a_mm_per_sqrt_day == pytest.approx(scale * plain.a_mm_per_sqrt_day, rel=1e-5)
    assert ends(scaled.forecasts[1].interval_mm) == pytest.approx(
        [scale * end for end in ends(plain.forecasts[1].interval_mm)], rel=1e-4
    )


# --- several bars of a colourant in a base -------------------------------------------------------


def test_bars_of_one_colourant_and_base_come_together() -> None:
    bars = [grown(looks((36.0,), (width,))) for width in (0.6, 0.9, 1.2)]
    (found,) = pair_growth(bars)
    assert (found.bars, found.by) == (3, "ruler")
    assert found.a_mm_per_sqrt_day == pytest.approx(0.15)
    # By hand: s = 0.05, t(0.975, 2) = 4.3027, reach = 4.3027 x 0.05 x sqrt(4 / 3) = 0.2484.
    assert growth_ends(found) == pytest.approx((0.0, 0.15 + 0.2484), abs=1e-4)
    assert found.forecasts[1].width_mm == pytest.approx(0.15 * math.sqrt(90.0))


def test_a_pair_never_mixes_ruler_and_photo() -> None:
    bars = [
        *bleed_growth(looks((36.0,), (0.6,)) + looks((36.0,), (1.2,), "photo")),
        *bleed_growth(looks((36.0,), (0.7,))),
        *bleed_growth(looks((0.0,), (0.1,))),
    ]
    photo, ruler = pair_growth(bars)
    assert (photo.by, photo.bars, photo.forecasts[1].interval_mm) == ("photo", 1, None)
    assert photo.why == "one bar does not say how bars differ"
    assert (ruler.by, ruler.bars) == ("ruler", 2)
    assert pair_growth([]) == ()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (
            lambda: MeasuredWidth(-1.0, 0.5, "ruler"),
            "a follow-up must lie 0 days or more after the pour, not -1.0",
        ),
        (lambda: MeasuredWidth(1.0, -0.5, "ruler"), "a bleed must be 0 mm or wider, not -0.5"),
        (
            lambda: MeasuredWidth(math.nan, 0.5, "photo"),
            "a follow-up must lie 0 days or more after the pour, not nan",
        ),
        (lambda: MeasuredWidth(1.0, math.inf, "photo"), "a bleed must be 0 mm or wider, not inf"),
    ],
)
def test_what_cannot_be_is_refused(wrong: object, said: str) -> None:
    with pytest.raises(FigureError, match=said):
        wrong()  # type: ignore[operator]
