"""What the studio's pots do by mass."""

from __future__ import annotations

import math
import statistics
from itertools import pairwise
from random import Random

import numpy as np
import pytest
from demo_book import demo_notebook
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.derive import derive_design, figures_summary
from journal.figures.heat.cooling import time_to_cool
from journal.figures.heat.pot_rates import PotRate, coarse_line, forecast_rate, rate_line
from journal.quantities.units import G_PER_OZ, f_to_c

OZ = float(G_PER_OZ)


def test_eight_ounces_in_this_pot_take_about_twelve_minutes() -> None:
    # By hand: ln((152 - 69) / (132 - 69)) = 0.2757; over 12 min that is 0.02297 a minute.
    pots = [PotRate(8 * OZ, rate) for rate in (0.0222, 0.0231, 0.0236)]
    found = forecast_rate(rate_line(pots), 8 * OZ)
    assert found is not None
    assert found.interval_per_min is not None
    minutes = [
        time_to_cool(f_to_c(152.0), f_to_c(69.0), rate, f_to_c(132.0))
        for rate in (found.rate_per_min, *found.interval_per_min)
    ]
    assert minutes[0] == pytest.approx(12.0, abs=0.05)
    assert minutes[2] < minutes[0] < minutes[1]


@given(st.floats(50.0, 2000.0), st.floats(0.005, 0.1), st.floats(0.3, 4.0))
def test_pots_of_one_shape_cool_with_the_cube_root_of_mass(
    mass_g: float, rate: float, ratio: float
) -> None:
    found = forecast_rate(rate_line([PotRate(mass_g, rate)]), mass_g * ratio)
    assert found is not None
    assert found.rate_per_min == pytest.approx(rate / math.cbrt(ratio), rel=1e-12)
    assert found.interval_per_min is None


def test_the_slope_is_fitted_where_the_masses_differ() -> None:
    masses = (100.0, 150.0, 220.0, 400.0, 600.0, 900.0)
    pots = [PotRate(mass, 0.5 * mass**-0.55) for mass in masses]
    line = rate_line(pots)
    assert line.fitted
    assert line.slope == pytest.approx(-0.55)
    found = forecast_rate(line, 300.0)
    assert found is not None
    assert found.rate_per_min == pytest.approx(0.5 * 300.0**-0.55)


@pytest.mark.parametrize(
    "pots",
    [
        [PotRate(mass, 0.5 * mass**-0.55) for mass in (100.0, 200.0, 400.0, 800.0)],
        [PotRate(mass, 0.5 * mass**-0.55) for mass in (200.0, 210.0, 220.0, 230.0, 240.0)],
        [PotRate(mass, 0.001 * mass**0.4) for mass in (100.0, 200.0, 400.0, 800.0, 900.0)],
    ],
    ids=["four runs", "one mass, nearly", "uphill"],
)
def test_too_little_to_fit_a_slope_takes_that_of_one_shape(pots: list[PotRate]) -> None:
    line = rate_line(pots)
    assert not line.fitted
    assert line.slope == pytest.approx(-1.0 / 3.0)
    found = forecast_rate(line, 300.0)
    assert found is not None
    assert found.interval_per_min is not None


def test_the_interval_is_for_the_next_run() -> None:
    generator = np.random.default_rng(5)
    held = 0
    trials = 1000
    for _ in range(trials):
        masses = generator.uniform(100.0, 800.0, 7)
        rates = 0.15 * masses ** (-1.0 / 3.0) * np.exp(generator.normal(0.0, 0.15, 7))
        pots = [PotRate(float(m), float(k)) for m, k in zip(masses[:6], rates[:6], strict=True)]
        found = forecast_rate(rate_line(pots), float(masses[6]))
        assert found is not None
        assert found.interval_per_min is not None
        low, high = found.interval_per_min
        held += low <= rates[6] <= high
    # A slope outside -1 to 0 is not taken, which makes the interval neither exact nor far off.
    assert 0.92 <= held / trials <= 0.98


def test_no_pots_no_forecast() -> None:
    assert forecast_rate(rate_line([]), 300.0) is None


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: PotRate(0.0, 0.02), "a pot's mass and rate must be above 0, not PotRate"),
        (lambda: PotRate(200.0, -0.02), "a pot's mass and rate must be above 0, not PotRate"),
        (lambda: forecast_rate(rate_line([]), 0.0), "a pot's mass must be above 0, not 0.0"),
    ],
)
def test_what_cannot_be_is_refused(wrong: object, said: str) -> None:
    with pytest.raises(FigureError, match=said):
        wrong()  # type: ignore[operator]


# The line of a card -------------------------------------------------------------------------


pots_of_a_studio = st.lists(
    st.builds(PotRate, st.floats(40.0, 2000.0), st.floats(0.005, 0.1)), min_size=1, max_size=12
)


@given(pots_of_a_studio, st.floats(41.0, 2200.0))
def test_a_card_s_line_is_off_by_a_twentieth_at_most(pots: list[PotRate], mass_g: float) -> None:
    """ln(1.05) = 0.0488: of the rate by 5 %, but for the last digits."""
    line = rate_line(pots)
    fine, coarse = forecast_rate(line, mass_g), forecast_rate(coarse_line(line), mass_g)
    assert fine is not None
    assert coarse is not None
    assert abs(math.log(coarse.rate_per_min / fine.rate_per_min)) <= 0.05 + 1e-9
    if not line.fitted:  # its slope is that of all pots
        assert coarse.rate_per_min == pytest.approx(fine.rate_per_min, rel=0.0254)


def test_a_card_s_line_by_hand() -> None:
    """One pot of 300 g at 0.02 a minute: ln(0.02) = -3.912, a twentieth is -3.9."""
    line = coarse_line(rate_line([PotRate(300.0, 0.02)]))
    assert line.level == pytest.approx(-3.9)
    assert line.slope == pytest.approx(-1 / 3)
    found = forecast_rate(line, 300.0)
    assert found is not None
    assert found.rate_per_min == pytest.approx(0.020242, rel=1e-4)
    assert found.interval_per_min is None
    assert forecast_rate(coarse_line(rate_line([])), 300.0) is None


@pytest.fixture(scope="module")
def demo_rates() -> list[PotRate]:
    notebook = demo_notebook()
    every: list[PotRate] = []
    for design in notebook.designs.values():
        figures = derive_design(notebook, design, models=False)[0]
        every += figures_summary(notebook, design, figures).rates
    return every


def test_a_further_pot_mostly_changes_no_card(demo_rates: list[PotRate]) -> None:
    """The demo's pots as if read one after the other, in twenty orders: a line that happens to lie
    beside a limit of rounding says little."""
    assert len(demo_rates) > 20
    unchanged = []
    for seed in range(20):
        order = Random(seed).sample(demo_rates, len(demo_rates))
        lines = [coarse_line(rate_line(order[:read])) for read in range(20, len(order) + 1)]
        unchanged += [before == after for before, after in pairwise(lines)]
    assert statistics.fmean(unchanged) >= 0.65  # rounded three times as fine: at most 0.64
    # The fine line changes with each.
    assert all(
        rate_line([*demo_rates[:place], *demo_rates[place + 1 :]]) != rate_line(demo_rates)
        for place in range(len(demo_rates))
    )
