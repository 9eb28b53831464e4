"""The net weight in words: published declarations, rounding down, type and place."""

from __future__ import annotations

import csv
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE

from journal.errors import FigureError
from journal.figures.label.declaration import (
    LABEL_G_PER_OZ,
    MM2_PER_IN2,
    MM_PER_IN,
    eu_declaration,
    eu_figure_height_mm,
    metric_words,
    panel_of_box_mm2,
    panel_of_cylinder_mm2,
    plain_decimal,
    round_down_to_figures,
    us_declaration,
    us_declaration_place,
    us_ingredient_type_height_mm,
)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found, name
    return found


DECLARED = [row for row in rows("07-us-dual-declaration.csv") if row["inch_pound"]]


@pytest.mark.parametrize("row", DECLARED, ids=lambda row: row["text"])
def test_published_metric_halves(row: dict[str, str]) -> None:
    ounces = Fraction(row["inch_pound"].removesuffix(" oz"))
    grams = ounces * LABEL_G_PER_OZ
    assert float(grams) == pytest.approx(float(row["si_exact_with_factor"]))
    # Two figures below 100 g are allowed; some examples print three.
    three = "." in row["si_printed"]
    found = f"{plain_decimal(round_down_to_figures(grams, 3))} g" if three else metric_words(grams)
    assert found == row["si_printed"]


@pytest.mark.parametrize(
    ("ounces", "grams"),
    # Totals of the examples in 16 CFR 500.27(a) and (c): 1 lb 4.4 oz, 1.25 lb.
    [("20.4", "578 g"), ("20", "566 g")],
)
def test_published_totals(ounces: str, grams: str) -> None:
    assert metric_words(Fraction(ounces) * LABEL_G_PER_OZ) == grams


@pytest.mark.parametrize(("grams", "words"), [("999.9", "999 g"), ("1000", "1 kg")])
def test_a_thousand_grams_are_a_kilogram(grams: str, words: str) -> None:
    assert metric_words(Fraction(grams)) == words


@pytest.mark.parametrize(
    ("ounces", "words"),
    [
        ("3.4", "Net Wt 3.4 oz (96 g)"),
        ("3.5", "Net Wt 3.5 oz (99 g)"),
        ("4", "Net Wt 4 oz (113 g)"),
        ("0.3", "Net Wt 0.3 oz (8.5 g)"),
        ("15.9", "Net Wt 15.9 oz (450 g)"),
        ("16", "Net Wt 16 oz (1 lb) 453 g"),
        ("20.4", "Net Wt 20.4 oz (1 lb 4.4 oz) 578 g"),
        ("24", "Net Wt 24 oz (1 lb 8 oz) 680 g"),
        ("40", "Net Wt 40 oz (2 lb 8 oz) 1.13 kg"),
        ("88", "Net Wt 5 lb 8 oz (2.49 kg)"),
    ],
)
def test_united_states_words(ounces: str, words: str) -> None:
    assert us_declaration(Fraction(ounces)) == words


@pytest.mark.parametrize(
    ("grams", "words"), [(96, "96 g"), (Fraction("96.5"), "96.5 g"), (1250, "1.25 kg")]
)
def test_european_words(grams: Fraction, words: str) -> None:
    assert eu_declaration(Fraction(grams)) == words


@given(st.integers(1, 2000))
def test_the_grams_never_overstate_the_ounces(tenths: int) -> None:
    ounces = Fraction(tenths, 10)
    words = us_declaration(ounces)
    found = re.search(r"([\d.]+) (k?)g", words)
    assert found
    grams = Fraction(found[1]) * (1000 if found[2] else 1)
    assert grams <= ounces * LABEL_G_PER_OZ
    # One unit of the last of two figures is at most a tenth of the whole.
    assert grams > ounces * LABEL_G_PER_OZ * Fraction(9, 10)


@pytest.mark.parametrize(
    ("value", "figures", "cut"),
    [
        ("96.388", 3, "96.3"),
        ("96.388", 2, "96"),
        ("578.33", 3, "578"),
        ("0.0567", 2, "0.056"),
        ("1", 1, "1"),
        ("1299", 2, "1200"),
        ("0.1", 2, "0.1"),
    ],
)
def test_cut_figures(value: str, figures: int, cut: str) -> None:
    assert round_down_to_figures(Fraction(value), figures) == Fraction(cut)


@pytest.mark.parametrize("row", rows("07-us-type-size.csv"), ids=lambda row: row["min_height_in"])
def test_type_height_by_panel(row: dict[str, str]) -> None:
    height = Fraction(row["min_height_in"]) * MM_PER_IN
    assert float(height) == float(row["min_height_mm"])
    over = Fraction(row["panel_in2_over"])
    upper = Fraction(row["panel_in2_up_to"]) if row["panel_in2_up_to"] else over * 2
    for area_in2 in (over + Fraction(1, 100), upper):
        place = us_declaration_place(area_in2 * MM2_PER_IN2, 50)
        assert place.type_height_mm == height


def test_a_box_face_of_two_by_three_and_a_half_inches() -> None:
    area = panel_of_box_mm2(2 * MM_PER_IN, Fraction("3.5") * MM_PER_IN)
    assert area == 7 * MM2_PER_IN2
    place = us_declaration_place(area, 2 * MM_PER_IN)
    assert place.type_height_mm == Fraction("3.175")
    assert place.within_bottom_mm == Fraction("15.24")
    small = us_declaration_place(5 * MM2_PER_IN2, 40)
    assert small.within_bottom_mm is None


def test_panels_of_other_shapes() -> None:
    assert panel_of_cylinder_mm2(2 * MM_PER_IN, 10 * MM_PER_IN) == 8 * MM2_PER_IN2


@pytest.mark.parametrize("row", rows("07-eu-figure-heights.csv"), ids=lambda row: row["height_mm"])
def test_european_figures(row: dict[str, str]) -> None:
    over = Fraction(row["nominal_g_over"])
    up_to = Fraction(row["nominal_g_up_to"]) if row["nominal_g_up_to"] else over * 10
    for grams in (over + Fraction(1, 100), (over + up_to) / 2, up_to):
        assert eu_figure_height_mm(grams) == int(row["height_mm"])


def test_ingredients_in_small_type() -> None:
    assert us_ingredient_type_height_mm(12 * MM2_PER_IN2) == Fraction("1.5875")
    assert us_ingredient_type_height_mm(Fraction("11.9") * MM2_PER_IN2) == Fraction("0.79375")


def test_what_cannot_be_declared() -> None:
    for call, said in (
        (lambda: us_declaration(Fraction(0)), "0 oz cannot be declared; it must be above 0"),
        (lambda: eu_declaration(Fraction(-1)), "-1 g cannot be declared; it must be above 0"),
        (lambda: metric_words(Fraction(0)), "0 cannot be cut down to 2 figures"),
        (lambda: round_down_to_figures(Fraction(1), 0), "1 cannot be cut down to 0 figures"),
        (lambda: plain_decimal(Fraction(1, 3)), "1/3 has no short decimal form"),
        (lambda: panel_of_box_mm2(0, 1), "the panel's height is 0; it must be above 0"),
        (lambda: us_declaration_place(100, 0), "the panel's height is 0; it must be above 0"),
        (lambda: eu_figure_height_mm(0), "the nominal weight is 0; it must be above 0"),
        (lambda: us_ingredient_type_height_mm(-1), "the surface is -1; it must be above 0"),
    ):
        with pytest.raises(FigureError, match=said):
            call()


def test_panels_of_less_than_a_millimetre() -> None:
    assert panel_of_box_mm2(0.5, 0.5) == Fraction(1, 4)
    assert us_declaration_place(0.5, 0.5).type_height_mm == Fraction(1, 16) * MM_PER_IN
    assert us_ingredient_type_height_mm(0.5) == Fraction(1, 32) * MM_PER_IN
