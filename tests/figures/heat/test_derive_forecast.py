"""From readings that were written down to how long the next pot takes."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from msgspec.structs import replace
from worked_notebook import leaf, read

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_order import line_variant
from journal.figures.heat.derive_heat import (
    COOLING,
    PotForecast,
    forecast_case,
    forecast_pot,
    studio_rates,
)
from journal.figures.heat.pot_rates import PotRate, forecast_rate, rate_line
from journal.records.notebook import Notebook

DESIGN = "designs/leaf/design.md"
# The body: 336 g, scented at 58 to 62 C and poured at 50 to 55 C, in a room of 20 C. From the
# warm end of the one to the warm end of the other: 42 K above the room down to 35 K.
COOLED = math.log(42 / 35)
ALIKE = tuple(PotRate(336.0, rate) for rate in (0.015, 0.016, 0.0155, 0.0152))


def forecast(notebook: Notebook, *rates: PotRate) -> PotForecast | None:
    design = notebook.designs["leaf"]
    case = RecipeContext(notebook.settings, notebook.shelf, design, line_variant(design, None), 4)
    found = forecast_case(case, leaf(notebook).recipe.masses)
    return None if found is None else forecast_pot(found, rate_line(rates))


def test_one_pot_like_it(tmp_path: Path) -> None:
    found = forecast(read(tmp_path), PotRate(336.0, 0.0155))
    assert found is not None
    assert (found.pot, found.start_c, found.target_c) == ("body", 62, 55)
    assert found.mass_g == pytest.approx(336, rel=1e-12)
    assert found.minutes == pytest.approx(COOLED / 0.0155, rel=1e-9)
    assert found.interval_min is None


def test_a_lighter_pot_cools_faster(tmp_path: Path) -> None:
    """By the cube root of the masses, where pots of one mass alone were seen."""
    found = forecast(read(tmp_path), PotRate(336.0 * 8, 0.0155))
    assert found is not None
    assert found.minutes == pytest.approx(COOLED / (2 * 0.0155), rel=1e-9)


def test_several_pots_give_an_interval(tmp_path: Path) -> None:
    found = forecast(read(tmp_path), *ALIKE)
    assert found is not None
    assert found.interval_min is not None
    rate = forecast_rate(rate_line(ALIKE), found.mass_g)
    assert rate is not None
    slow, fast = rate.interval_per_min or (0.0, 0.0)
    assert 0 < slow < 0.015
    assert fast > 0.016
    # The fastest pot is there first.
    assert found.interval_min == pytest.approx((COOLED / fast, COOLED / slow), rel=1e-9)
    assert found.interval_min[0] < found.minutes < found.interval_min[1]


def test_without_a_room_it_is_a_usual_one(tmp_path: Path) -> None:
    found = forecast(read(tmp_path, ("journal.yaml", "room: 20 C\n", "")), PotRate(336.0, 0.0155))
    assert found is not None
    # 21 C: 41 K down to 34 K.
    assert found.minutes == pytest.approx(math.log(41 / 34) / 0.0155, rel=1e-9)


@pytest.mark.parametrize(
    "change",
    [
        (DESIGN, "    pour: 50-55 C\n", ""),
        (DESIGN, ", add: 58-62 C", ""),
        # Poured no cooler than it is scented, or no warmer than the room.
        (DESIGN, "    pour: 50-55 C\n", "    pour: 60-62 C\n"),
        ("journal.yaml", "room: 20 C", "room: 55 C"),
    ],
)
def test_nothing_to_wait_for(tmp_path: Path, change: tuple[str, str, str]) -> None:
    assert forecast(read(tmp_path, change), PotRate(336.0, 0.0155)) is None


def test_no_pot_was_read(tmp_path: Path) -> None:
    assert forecast(read(tmp_path)) is None


def test_rates_of_the_studio(tmp_path: Path) -> None:
    notebook = read(tmp_path)
    (run,) = leaf(notebook)[COOLING].value or ()
    (rate,) = studio_rates([run])
    # 380 g were melted; 70 to 54 C in 25 minutes in a room of 20 C.
    assert rate.mass_g == 380
    assert rate.rate_per_min == pytest.approx(math.log(50 / 34) / 25, rel=0.02)


def test_runs_that_say_nothing_of_the_studios_pots(tmp_path: Path) -> None:
    # Two readings make a curve that nothing speaks against.
    two = leaf(read(tmp_path, (DESIGN, "[0:10, 62 C, scented], ", "")))[COOLING].value or ()
    assert len(two) == 1
    assert studio_rates(two) == ()
    (run,) = leaf(read(tmp_path))[COOLING].value or ()
    assert studio_rates([replace(run, mass_g=None)]) == ()
    assert studio_rates([replace(run, fit=replace(run.fit, curve=None))]) == ()
