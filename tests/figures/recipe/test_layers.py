"""Layer masses, doses, fragrance and fill: by hand, against published cases, and as laws."""

from __future__ import annotations

import csv
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE

from journal.errors import FigureError
from journal.figures.recipe.doses import measure_dose
from journal.figures.recipe.fill import (
    capacity_by_mass,
    capacity_by_size,
    fill_share,
    proud,
    rounded_rectangle_area,
    silicone_volume,
)
from journal.figures.recipe.fragrance import concentration, fragrance_load, limit_used, within_limit
from journal.figures.recipe.layers import (
    PouredLayer,
    fresh_share,
    layer_masses,
    melt_mass,
    most_poured_g,
    rounds,
)
from journal.quantities.read import read_dose, read_mass, read_masses

# Sums and quotients of a few floats.
CLOSE = 1e-12

masses = st.floats(0.1, 5000.0)
bars = st.integers(1, 500)
wastes = st.floats(0.0, 0.5)


@pytest.mark.parametrize(
    ("stays_g", "overpour_g", "share", "least_g", "melt_g"),
    [
        (36, 48, 0.03, 0, 86.52),
        (36, 48, 0.03, 8, 92),
        (600, 0, 0.03, 8, 618),
        (600, 0, 0, 0, 600),
        (200, 0, 0.04, 8, 208),
    ],
)
def test_melt_by_hand(
    stays_g: float, overpour_g: float, share: float, least_g: float, melt_g: float
) -> None:
    assert melt_mass(stays_g, overpour_g, share, least_g) == pytest.approx(melt_g, rel=CLOSE)


@given(st.floats(0.1, 5000), st.floats(0, 1), st.floats(0, 50))
def test_what_is_poured_of_a_melt_is_what_it_was_melted_for(
    poured_g: float, share: float, least_g: float
) -> None:
    melt_g = melt_mass(poured_g, 0, share, least_g)
    assert most_poured_g(melt_g, share, least_g) == pytest.approx(poured_g, rel=1e-9)


def test_a_melt_that_sticks_to_the_jug() -> None:
    assert most_poured_g(86.52, 0.03, 0) == pytest.approx(84, rel=CLOSE)
    assert most_poured_g(86.52, 0.03, 8) == pytest.approx(78.52, rel=CLOSE)
    assert most_poured_g(5, 0.03, 8) == 0


def test_pot_of_two_layers_by_hand() -> None:
    """6 bars; 4 g + 10 g over, and 96 g, from one pot; 5 % waste.

    Stays 24 + 576 = 600 g, over 60 g, melt 660 x 1.05 = 693 g: the detail's share is
    693 x 24 / 600 = 27.72 g, the body's 665.28 g; 93 g stay behind.
    """
    layers = (PouredLayer("detail", "white", 4, 10), PouredLayer("body", "white", 96))
    found, pots = layer_masses(layers, 6, 0.05, 0)
    assert [pot.name for pot in pots] == ["white"]
    assert pots[0].melt_g == pytest.approx(693, rel=CLOSE)
    assert pots[0].left_g == pytest.approx(93, rel=CLOSE)
    assert [layer.melt_g for layer in found] == pytest.approx([27.72, 665.28], rel=CLOSE)


def test_fragrance_dose_of_common_practice() -> None:
    """5 mL per lb of base into 8 oz is 2.5 mL: common practice, no source."""
    dose = read_dose("5 mL/lb")
    found = measure_dose(dose.kind, dose.value, dose.per, dose.per_g, read_mass("8 oz"), 2, 2, None)
    assert found.volume_ml == pytest.approx(2.5, rel=CLOSE)
    assert found.mass_g is None


@pytest.mark.parametrize(
    ("text", "base_g", "number", "batch", "density", "volume_ml", "mass_g"),
    [
        ("8 g/kg", 500, 6, 6, 0.8, 5, 4),
        ("3 %", 500, 6, 6, 1.0, 15, 15),
        ("2 drops/bar", 500, 6, 3, None, 0.6, None),  # 0.05 mL a drop, by convention
        ("2.5 mL", 500, 12, 6, 2.0, 5, 10),
        ("0.5 g/bar", 500, 6, 6, 0.5, 6, 3),
    ],
)
def test_dose_by_hand(
    text: str,
    base_g: float,
    number: int,
    batch: int,
    density: float | None,
    volume_ml: float,
    mass_g: float | None,
) -> None:
    dose = read_dose(text)
    found = measure_dose(
        dose.kind, dose.value, dose.per, dose.per_g, base_g, number, batch, density
    )
    assert found.volume_ml == pytest.approx(volume_ml, rel=CLOSE)
    assert found.mass_g == (None if mass_g is None else pytest.approx(mass_g, rel=CLOSE))


def test_concentration_against_published_case() -> None:
    """15 g into 500 g of base: the row "fraction basis" of the table, its source beside it."""
    with (REFERENCE / "08-fragrance.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["item"] == "check case, fraction basis"]
    assert len(rows) == 1
    assert "2.9126 %" in rows[0]["value"]
    assert 100 * concentration(15, 515) == pytest.approx(2.9126, abs=5e-5)  # printed digits
    assert 100 * fragrance_load(15, 500) == pytest.approx(3, rel=CLOSE)


def test_limit_of_a_certificate() -> None:
    """Category 9 maximum 1.49 %: 7.45 g in 500 g finished passes, 3 % fails (08-fragrance.csv)."""
    assert within_limit(limit_used([(concentration(7.45, 500), 0.0149)]))
    assert not within_limit(limit_used([(concentration(15, 500), 0.0149)]))
    assert not within_limit(limit_used([(concentration(7.46, 500), 0.0149)]))


def test_two_oils_share_their_limits() -> None:
    assert limit_used([(0.01, 0.02), (0.01, 0.04)]) == pytest.approx(0.75, rel=CLOSE)
    assert not within_limit(limit_used([(0.015, 0.02), (0.015, 0.04)]))


def test_fill_of_common_practice() -> None:
    """A cavity of 3.6-3.8 oz, about 4 oz melted for detail and body: a little proud.

    Common practice, no source. 80 x 55 mm face; 110 g of base and 3 mL of silicone.
    """
    capacity = capacity_by_mass(read_masses("3.6-3.8 oz"), (1.06, 1.06))
    assert capacity == pytest.approx((102.058 / 1.06, 107.728 / 1.06), abs=1e-3)
    in_cavity_ml = 110 / 1.06 + 3
    face = rounded_rectangle_area(80, 55, 0)
    least, largest = proud(in_cavity_ml, capacity, face)
    assert 0 < least < largest < 3
    low, high = fill_share(in_cavity_ml, capacity)
    assert 1 < low < high < 1.15


def test_fill_by_hand() -> None:
    """A box of 100 x 50 x 20 mm holds 100 mL; 105 mL in it stand 1 mm proud."""
    capacity = capacity_by_size(rounded_rectangle_area(100, 50, 0), 20)
    assert capacity == (100, 100)
    assert fill_share(105, capacity) == pytest.approx((1.05, 1.05), rel=CLOSE)
    assert proud(105, capacity, 5000) == pytest.approx((1, 1), rel=1e-9)
    assert proud(95, capacity, 5000) == (0, 0)


def test_corners_take_the_square_less_the_circle() -> None:
    """A square with corners of half its side is a circle."""
    assert rounded_rectangle_area(10, 10, 5) == pytest.approx(math.pi * 25, rel=CLOSE)


def test_silicone_never_below_nothing() -> None:
    """70 x 50 x 3 mm is 10500 mm3, 10.5 mL (1 L = 1 dm3, SI Brochure Table 8); 4 mL are hollow."""
    assert silicone_volume(70, 50, 3, 4) == pytest.approx(6.5, rel=CLOSE)
    assert silicone_volume(10, 10, 1, 4) == 0


@pytest.mark.parametrize(
    ("number", "cavities", "each", "pieces", "expected"),
    [
        (24, 6, 1, None, 4),
        (25, 6, 1, None, 5),
        (6, 6, 1, 4, 2),
        (20, 1, 10, None, 2),
        (1, 6, 1, 9, 1),
    ],
)
def test_rounds_by_hand(
    number: int, cavities: int, each: int, pieces: int | None, expected: int
) -> None:
    assert rounds(number, cavities, each, pieces) == expected


@given(
    st.lists(st.tuples(masses, st.floats(0, 100)), min_size=1, max_size=5), bars, wastes,
    st.integers(1, 3),
)  # fmt: skip
def test_masses_are_kept(
    stays: list[tuple[float, float]], number: int, waste: float, pots: int
) -> None:
    """Layers sum to their pots; twice the bars, twice everything."""
    layers = [
        PouredLayer(f"layer {place}", f"pot {place % pots}", stay, over)
        for place, (stay, over) in enumerate(stays)
    ]
    found, melted = layer_masses(layers, number, waste, 0)
    for pot in melted:
        own = [layer.melt_g for layer in found if layer.pot == pot.name]
        assert sum(own) == pytest.approx(pot.melt_g, rel=1e-9)
        assert pot.left_g >= -1e-9 * pot.melt_g
    twice, _ = layer_masses(layers, 2 * number, waste, 0)
    for once, double in zip(found, twice, strict=True):
        assert double.melt_g == pytest.approx(2 * once.melt_g, rel=1e-9)


@pytest.mark.parametrize(
    ("melt_g", "scrapings_g", "fresh_g"),
    [
        (86.52, 54, 32.52),  # as the docstring has it
        (86.52, 0, 86.52),
        (86.52, 90, 0),  # more than the pot is to hold: none is fresh
    ],
)
def test_fresh_base_beside_scrapings(melt_g: float, scrapings_g: float, fresh_g: float) -> None:
    share = fresh_share(melt_g, scrapings_g)
    assert share * melt_g == pytest.approx(fresh_g, rel=CLOSE)


@given(masses, st.floats(0, 6000))
def test_fresh_base_and_scrapings_fill_the_pot(melt_g: float, scrapings_g: float) -> None:
    share = fresh_share(melt_g, scrapings_g)
    assert 0 <= share <= 1
    assert share * melt_g + min(scrapings_g, melt_g) == pytest.approx(melt_g, rel=1e-9)


@given(masses, masses, st.floats(1.001, 10))
def test_more_oil_is_never_weaker(oil_g: float, base_g: float, times: float) -> None:
    assert concentration(times * oil_g, base_g + times * oil_g) > concentration(
        oil_g, base_g + oil_g
    )


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: melt_mass(0, 0, 0, 0), "a pot for 0 g of base"),
        (lambda: melt_mass(1, -1, 0, 0), "over -1 g, waste 0 and 0 g do not make a melt"),
        (lambda: melt_mass(1, 0, 1.5, 0), "over 0 g, waste 1.5 and 0 g do not make a melt"),
        (lambda: melt_mass(math.nan, 0, 0, 0), "a pot for nan g of base"),
        (lambda: fresh_share(0, 1), "1 g of scrapings in a melt of 0 g"),
        (lambda: fresh_share(1, -1), "-1 g of scrapings in a melt of 1 g"),
        (lambda: layer_masses((), 1, 0, 0), "0 layers for 1 bars"),
        (lambda: layer_masses((PouredLayer("a", "a", 1),), 0, 0, 0), "1 layers for 0 bars"),
        (lambda: rounds(0, 1), "0 bars in 1 places of 1 bars each"),
        (lambda: rounds(1, 0), "1 bars in 0 places of 1 bars each"),
        (lambda: fragrance_load(-1, 1), "-1 g of oil into 1 g of base"),
        (lambda: fragrance_load(1, 0), "1 g of oil into 0 g of base"),
        (lambda: concentration(2, 1), "2 g of oil in 1 g"),
        (lambda: limit_used([(0.1, 0)]), "a limit of 0"),
        (lambda: measure_dose("mass", 1, "base", None, 1, 1, 1, None), "a dose per None g of base"),
        (lambda: measure_dose("mass", 1, "pot", None, 1, 1, 1, 0), "a density of 0 g/mL"),
        (
            lambda: measure_dose("mass", -1, "pot", None, 1, 1, 1, None),
            "a dose of -1 into 1 g for 1 of 1 bars",
        ),
        (lambda: rounded_rectangle_area(10, 10, 6), "a face of 10 x 10 mm with corners of 6 mm"),
        (lambda: capacity_by_mass((0, 1), (1, 1)), "a cavity for"),
        (lambda: capacity_by_size(0, 1), "a cavity of 0 mm2 by 1 mm"),
        (lambda: silicone_volume(1, 1, 0, 0), "a piece of 1 x 1 x 0 mm, relief 0 mL"),
        (lambda: fill_share(-1, (1, 1)), "-1 mL in a cavity of"),
        (lambda: proud(1, (1, 1), 0), "a face of 0 mm2"),
    ],
)
def test_outside_the_domain_is_refused(wrong, said) -> None:
    with pytest.raises(FigureError, match=said):
        wrong()
