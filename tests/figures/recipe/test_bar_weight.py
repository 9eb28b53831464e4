"""The weight of a fresh bar: by definition, worked by hand, and as a law.

In the notebook reckoned on paper a bar holds 5 g of detail, and of the body 80 g of base, 0.8 mL
or 0.72 g of oil, and 0.8 g of colour: 86.52 g.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE
from worked_notebook import leaf, read

from journal.errors import FigureError
from journal.figures.common.result import Figure
from journal.figures.derive import RecipeFigures
from journal.figures.recipe.derive_bar_weight import BAR_WEIGHT, BarWeight, LayerInBar, bar_weight
from journal.quantities.read import read_mass

# Sums and quotients of a few floats.
CLOSE = 1e-12
DESIGN = "designs/leaf/design.md"
COLOURS = "colours: [{colourant: brick, dose: 1 %}]"

layers = st.builds(
    LayerInBar,
    st.floats(0.1, 5000.0),
    st.lists(st.sampled_from(("colourants/a", "colourants/b", "additives/a")), max_size=3).map(
        tuple
    ),
)


def weight_of(recipe: RecipeFigures) -> tuple[BarWeight, list[str]]:
    figure: Figure[BarWeight] = recipe[BAR_WEIGHT]
    assert figure.value is not None
    return figure.value, [one.needs for one in figure.missing]


def test_the_ounce_and_the_pound() -> None:
    """A layer of each: the sum of their definitions (01-units.csv)."""
    with (REFERENCE / "01-units.csv").open(encoding="utf-8") as file:
        grams = {row["symbol"]: float(row["factor"]) for row in csv.DictReader(file)}
    found = bar_weight([LayerInBar(read_mass("1 oz")), LayerInBar(read_mass("1 lb"))])
    assert found.mass_g_per_bar == pytest.approx(grams["oz"] + grams["lb"], rel=CLOSE)


def test_by_hand(tmp_path: Path) -> None:
    weight, missing = weight_of(leaf(read(tmp_path)).recipe)
    assert weight.mass_g_per_bar == pytest.approx(86.52, rel=CLOSE)
    assert weight.known_g_per_bar == weight.mass_g_per_bar
    assert weight.without == ()
    assert missing == []


def test_a_block_cut_into_bars(tmp_path: Path) -> None:
    """An amount is a bar's, not a cavity's: one of four from a cavity weighs as much."""
    cut = ("shelf/moulds.yaml", "cavities: 4", "cavities: 1\n  bars_each: 4")
    weight, _ = weight_of(leaf(read(tmp_path, cut)).recipe)
    assert weight.mass_g_per_bar == pytest.approx(86.52, rel=CLOSE)


def test_a_dose_a_bar_shares_the_waste(tmp_path: Path) -> None:
    """5 % more is melted than stays: of the 2.1 g dosed a bar 2 g get into it."""
    dose = (DESIGN, COLOURS, "colours: [{colourant: brick, dose: 2.1 g/bar}]")
    weight, _ = weight_of(leaf(read(tmp_path, dose)).recipe)
    assert weight.mass_g_per_bar == pytest.approx(5 + 80 + 0.72 + 2, rel=CLOSE)


@pytest.mark.parametrize(
    ("dose", "density", "needs"),
    [
        ("by: eye, aim: brick red", True, "colours/brick: dose (it is done by eye)"),
        ("dose: 10 mL/kg", False, "colourants/brick: density"),
    ],
)
def test_without_what_has_no_mass(tmp_path: Path, dose: str, density: bool, needs: str) -> None:
    changes = [(DESIGN, COLOURS, f"colours: [{{colourant: brick, {dose}}}]")]
    if not density:
        changes.append(("shelf/colourants.yaml", "  density: 0.5 g/mL\n", ""))
    weight, missing = weight_of(leaf(read(tmp_path, *changes)).recipe)
    assert weight.mass_g_per_bar is None
    assert weight.known_g_per_bar == pytest.approx(85.72, rel=CLOSE)
    assert weight.without == ("colourants/brick",)
    assert missing == [needs]


def test_a_mass_needs_no_density(tmp_path: Path) -> None:
    bare = ("shelf/colourants.yaml", "  density: 0.5 g/mL\n", "")
    weight, missing = weight_of(leaf(read(tmp_path, bare)).recipe)
    assert weight.mass_g_per_bar == pytest.approx(86.52, rel=CLOSE)
    assert missing == []


def test_an_oil_without_density_is_told(tmp_path: Path) -> None:
    """0.8 mL at 1.10 g/mL are 0.88 g."""
    bare = ("shelf/fragrances.yaml", "  density: 0.9 g/mL\n", "")
    recipe = leaf(read(tmp_path, bare)).recipe
    weight, _ = weight_of(recipe)
    assert weight.mass_g_per_bar == pytest.approx(86.68, rel=CLOSE)
    texts = {one.name: one.text for one in recipe[BAR_WEIGHT].inputs}
    assert texts["density of herb"] == "not on the shelf: 1.10 g/mL, the heavy end of its kind"


@given(inside=st.lists(layers, min_size=1, max_size=6), more=layers)
def test_a_layer_more_weighs_as_much_more(inside: list[LayerInBar], more: LayerInBar) -> None:
    """In any order; and one thing of no known mass is enough for no weight."""
    before, after = bar_weight(inside), bar_weight([*inside, more])
    assert after.known_g_per_bar == pytest.approx(before.known_g_per_bar + more.known_g, rel=CLOSE)
    turned = bar_weight([more, *reversed(inside)])
    assert turned.known_g_per_bar == pytest.approx(after.known_g_per_bar, rel=CLOSE)
    assert set(after.without) == {*before.without, *more.without}
    assert after.mass_g_per_bar == (None if after.without else after.known_g_per_bar)


@pytest.mark.parametrize("masses", [(), (0.0,), (4.0, -1.0), (4.0, float("nan"))])
def test_no_bar(masses: tuple[float, ...]) -> None:
    with pytest.raises(FigureError):
        bar_weight([LayerInBar(mass) for mass in masses])
