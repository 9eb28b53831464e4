"""Heat to melt a pot: worked values of a textbook, a pot by hand, and what must hold of any."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE
from worked_notebook import leaf, read

from journal.errors import FigureError
from journal.figures.heat.derive_heat import MELTING
from journal.figures.recipe.base_properties import heat_to_melt

# OpenStax, College Physics 2e: the example of 14.2 and tables 14.1 and 14.2.
WATER_J_KGK, ALUMINIUM_J_KGK, ICE_KJ_KG = 4186.0, 900.0, 334.0


def published(begins: str) -> float:
    path = REFERENCE / "02-calorimetry.csv"
    lines = (line for line in path.read_text("utf-8").splitlines() if not line.startswith("#"))
    (row,) = (row for row in csv.DictReader(lines) if row["case"].startswith(begins))
    return float(row["value"])


def test_the_worked_values_of_a_textbook() -> None:
    water = heat_to_melt(250, WATER_J_KGK, 0, 20, 80)
    assert 1000 * water == pytest.approx(published("heat for 0.250 kg water"), rel=1e-12)
    pan = heat_to_melt(500, ALUMINIUM_J_KGK, 0, 20, 80)
    assert 1000 * pan == pytest.approx(published("heat for 0.500 kg aluminium"), rel=1e-12)
    ice = heat_to_melt(1000, WATER_J_KGK, ICE_KJ_KG, 0, 0)
    assert ice == pytest.approx(published("latent heat of fusion, water"), rel=1e-12)


def test_a_pot_by_hand(tmp_path: Path) -> None:
    own = "plain:\n  heat_capacity: 2500 J/kgK\n  latent_heat: 40 kJ/kg\n"
    found = leaf(read(tmp_path, ("shelf/bases.yaml", "plain:\n", own))).recipe[MELTING].value
    assert found is not None
    pale, body = found
    # 42 g from 20 to 80 C: 0.042 x (2.5 x 60 + 40); 336 g to 55 C: 0.336 x (2.5 x 35 + 40).
    assert (pale.pot, pale.start_c, pale.end_c) == ("pale", 20, pytest.approx(80))
    assert pale.heat_kj == pytest.approx(7.98, rel=1e-9)
    assert body.heat_kj == pytest.approx(42.84, rel=1e-9)
    assert body.heat_wh == pytest.approx(11.9, rel=1e-9)


def test_without_a_window_it_says_so(tmp_path: Path) -> None:
    change = ("designs/leaf/design.md", "    pour: 50-55 C\n", "")
    figure = leaf(read(tmp_path, change)).recipe[MELTING]
    assert [one.pot for one in figure.value or ()] == ["pale"]
    assert [one.needs for one in figure.missing] == ["layers/body: pour"]


some = st.floats(0.1, 1e4)


@given(some, st.floats(500, 5000), st.floats(0, 400), st.floats(-10, 60), st.floats(0, 80))
def test_twice_the_mass_takes_twice_the_heat(
    mass_g: float, capacity: float, latent: float, start_c: float, warming: float
) -> None:
    end_c = start_c + warming
    one = heat_to_melt(mass_g, capacity, latent, start_c, end_c)
    assert heat_to_melt(2 * mass_g, capacity, latent, start_c, end_c) == pytest.approx(2 * one)
    assert heat_to_melt(mass_g, capacity, latent, start_c, end_c + 1) > one >= 0


@pytest.mark.parametrize(
    "given", [(-1, 2800, 50, 20, 80), (1, 0, 50, 20, 80), (1, 2800, -1, 20, 80),
              (1, 2800, 50, 80, 20), (1, 2800, 50, 20, float("nan"))]
)  # fmt: skip
def test_what_cannot_be_is_refused(given: tuple[float, float, float, float, float]) -> None:
    with pytest.raises(FigureError):
        heat_to_melt(*given)
