"""Colour against the standards' values, a published table, and an independent library."""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE

from journal.errors import FigureError
from journal.figures.colour import spaces as colour

PUBLISHED = 1e-4  # Sharma et al. print four decimals
COMPUTED = 6e-5  # the reference file's values have four decimals
LIBRARY = 1e-6  # two roundings of the same double arithmetic, and some to spare

labs = st.tuples(st.floats(0.0, 100.0), st.floats(-130.0, 130.0), st.floats(-130.0, 130.0))


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found, name
    return found


def srgb_to_lab(codes: Sequence[float]) -> tuple[float, float, float]:
    return colour.linear_to_lab([colour.srgb_to_linear(code) for code in codes])


def code_of(text: str) -> tuple[int, ...]:
    return tuple(bytes.fromhex(text.removeprefix("#")))


# Sharma, Wu & Dalal, Color Research & Application 30 (2005) 21-30, Table 1
@pytest.mark.parametrize("row", rows("05-ciede2000-sharma.csv"), ids=lambda row: row["pair"])
def test_ciede2000_agrees_with_the_published_pairs(row):
    one = [float(row[key]) for key in ("L1", "a1", "b1")]
    other = [float(row[key]) for key in ("L2", "a2", "b2")]
    assert colour.ciede2000(one, other) == pytest.approx(float(row["dE00"]), abs=PUBLISHED)
    assert colour.ciede2000(other, one) == pytest.approx(float(row["dE00"]), abs=PUBLISHED)


def test_all_34_published_pairs_are_there():
    assert len(rows("05-ciede2000-sharma.csv")) == 34


# IEC 61966-2-1 and CIE 15
@pytest.mark.parametrize("row", rows("05-srgb-lab-d65.csv"), ids=lambda row: row["hex"])
def test_srgb_to_lab_agrees_with_the_standards(row):
    red, green, blue = code_of(row["hex"])
    assert (red, green, blue) == (int(row["r"]), int(row["g"]), int(row["b"]))
    lightness, a, b = srgb_to_lab((red, green, blue))
    assert lightness == pytest.approx(float(row["L"]), abs=COMPUTED)
    assert a == pytest.approx(float(row["a"]), abs=COMPUTED)
    assert b == pytest.approx(float(row["b_star"]), abs=COMPUTED)
    light = [colour.srgb_to_linear(v) for v in (red, green, blue)]
    assert colour.linear_to_xyz(light)[1] == pytest.approx(
        float(row["relative_luminance_Y"]), abs=1e-6
    )


# W3C techniques G183 and G207, Understanding 1.4.11
@pytest.mark.parametrize("row", rows("05-contrast.csv"), ids=lambda row: row["colour_1"])
def test_contrast_agrees_with_the_guidelines(row):
    ratio = colour.contrast(code_of(row["colour_1"]), code_of(row["colour_2"]))
    assert ratio == pytest.approx(float(row["ratio"]), abs=COMPUTED)


def test_the_matrices_follow_from_the_primaries_and_the_white():
    primaries = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
    x, y = 0.3127, 0.3290
    white = np.array([x / y, 1.0, (1.0 - x - y) / y])
    columns = np.array([[px / py, 1.0, (1.0 - px - py) / py] for px, py in primaries]).T
    matrix = columns * np.linalg.solve(columns, white)
    assert np.allclose(colour.WHITE_XYZ, white, rtol=0, atol=1e-15)
    assert np.allclose(colour._TO_XYZ, matrix, rtol=0, atol=1e-14)


GRID = list(itertools.product((0, 7, 60, 128, 201, 255), repeat=3))


def test_lab_agrees_with_a_reference_library():
    for triple in GRID:
        theirs = Color("srgb", [v / 255 for v in triple])
        ours = srgb_to_lab(triple)
        assert ours == pytest.approx(theirs.convert("lab-d65").coords(), abs=LIBRARY)


def test_ciede2000_agrees_with_a_reference_library():
    generator = np.random.default_rng(4)
    for one, other in zip(
        generator.uniform((0, -110, -110), (100, 110, 110), (300, 3)),
        generator.uniform((0, -110, -110), (100, 110, 110), (300, 3)),
        strict=True,
    ):
        theirs = Color("lab-d65", list(one)).delta_e(
            Color("lab-d65", list(other)), method="2000", space="lab-d65"
        )
        assert colour.ciede2000(one, other) == pytest.approx(theirs, abs=LIBRARY)


def test_srgb_curve_by_hand():
    assert colour.srgb_to_linear(10) == pytest.approx(10 / 255 / 12.92, rel=1e-12)
    assert colour.srgb_to_linear(255) == 1.0
    assert colour.linear_to_srgb(0.18) == pytest.approx(117.65, abs=0.01)  # the 18 % grey
    assert colour.linear_to_srgb(-0.3) == 0.0
    assert colour.linear_to_srgb(1.4) == pytest.approx(255.0, abs=1e-9)


@given(st.floats(0.0, 255.0))
def test_the_srgb_curve_and_back_is_itself(code):
    # the two pieces of the curve do not quite meet at 0.04045: a jump of 3e-6 codes
    assert colour.linear_to_srgb(colour.srgb_to_linear(code)) == pytest.approx(code, abs=1e-4)


@given(labs, labs)
def test_a_difference_is_a_number_and_the_same_both_ways(one, other):
    there, back = colour.ciede2000(one, other), colour.ciede2000(other, one)
    assert math.isfinite(there)
    assert there >= 0.0
    # a pair of exactly opposite hues may round to either side of the break
    opposite = abs(abs(colour._hue_degrees(*one[1:]) - colour._hue_degrees(*other[1:])) - 180) < 1
    assert opposite or there == pytest.approx(back, abs=1e-9)


@given(labs)
def test_a_colour_does_not_differ_from_itself(lab):
    assert colour.ciede2000(lab, lab) == 0.0
    assert colour.shift_words(lab, lab) == "the same to the eye"


@given(labs)
def test_every_colour_has_a_name(lab):
    name = colour.plain_words(lab)
    assert 1 <= len(name.split()) <= 7
    assert name == name.strip()


@pytest.mark.parametrize(
    ("rgb", "name"),
    [
        ((255, 255, 255), "white"),
        ((238, 231, 214), "white with a touch of yellow"),
        ((190, 190, 190), "light grey"),
        ((118, 118, 118), "grey"),
        ((60, 60, 60), "deep grey"),
        ((10, 10, 10), "black"),
        ((62, 74, 118), "deep blue"),
        ((60, 66, 80), "deep grey-blue"),
        ((196, 165, 120), "yellow"),
        ((132, 152, 156), "grey with a touch of blue"),
        ((120, 158, 160), "grey blue-green"),
        ((186, 112, 104), "red"),
        ((0, 0, 255), "deep blue"),
        ((150, 123, 182), "violet"),
        ((200, 190, 226), "light grey-violet"),
        ((250, 240, 90), "light yellow"),
        ((30, 110, 50), "deep green"),
        ((230, 120, 40), "orange"),
    ],
)
def test_names_are_plain(rgb, name):
    assert colour.plain_words(srgb_to_lab(rgb)) == name


@pytest.mark.parametrize(
    ("delta_e", "words"),
    [
        (0.0, "not to be seen"),
        (0.5, "hardly to be seen"),
        (1.5, "seen side by side"),
        (3.0, "plain to see"),
        (6.0, "a different tint"),
        (12.0, "another colour"),
    ],
)
def test_a_difference_in_words_changes_at_its_bands(delta_e, words):
    assert colour.difference_words(delta_e) == words
    if delta_e:
        assert colour.difference_words(math.nextafter(delta_e, 0.0)) != words


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ((50, 20, -20), (60, 20, -20), "paler"),
        ((50, 20, -20), (40, 20, -20), "deeper"),
        ((50, 20, -20), (50, 14, -14), "greyer"),
        ((50, 20, -20), (56, 26, -26), "paler and stronger"),
        ((50, 0, 0.5), (50, 1, 4), "warmer"),
        ((50, 0, 0.5), (50, -1, -4), "cooler"),
        ((50, 30, 0), (50, 25, 17), "warmer"),
        ((60, 10, -25), (66, 6, -15), "paler and greyer"),
        ((60, 25, 0), (66, 14, 8), "paler, greyer and warmer"),
        ((50, 20, 20), (50, 20.3, 20), "the same to the eye"),
    ],
)
def test_a_shift_is_said_in_the_makers_words(before, after, words):
    assert colour.shift_words(before, after) == words


@given(labs, labs)
def test_paler_one_way_is_deeper_the_other(one, other):
    there, back = colour.shift_words(one, other), colour.shift_words(other, one)
    assert ("paler" in there) == ("deeper" in back)
    assert ("greyer" in there) == ("stronger" in back)
    assert ("warmer" in there) == ("cooler" in back)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: colour.srgb_to_linear(-0.1), "an sRGB code lies between 0 and 255, not at -0.1"),
        (lambda: colour.srgb_to_linear(255.1), "an sRGB code lies between 0 and 255, not at 255.1"),
        (
            lambda: colour.srgb_to_linear(math.nan),
            "an sRGB code lies between 0 and 255, not at nan",
        ),
        (lambda: colour.linear_to_srgb(math.inf), "light is a finite number, not inf"),
        (lambda: colour.contrast((0, 0), (0, 0)), "an sRGB colour is three finite numbers, not"),
        (lambda: colour.linear_to_lab((0, math.nan, 0)), "light is three finite numbers, not"),
        (lambda: colour.xyz_to_lab((math.inf, 0, 0)), "XYZ is three finite numbers, not"),
        (lambda: colour.plain_words((2000, 0, 0)), "Lab lies outside every colour:"),
        (
            lambda: colour.ciede2000((50, 0, 0), (50, 0, math.nan)),
            "the second Lab is three finite numbers, not",
        ),
        (
            lambda: colour.ciede2000((50, 0, 0), (50, 1e60, 0)),
            "the second Lab lies outside every colour:",
        ),
        (lambda: colour.plain_words((50, math.nan, 0)), "Lab is three finite numbers, not"),
        (lambda: colour.difference_words(-1), "a colour difference is a number from 0 up, not -1"),
        (
            lambda: colour.difference_words(math.nan),
            "a colour difference is a number from 0 up, not nan",
        ),
        (
            lambda: colour.contrast((0, 0, 300), (0, 0, 0)),
            "an sRGB code lies between 0 and 255, not at 300.0",
        ),
    ],
)
def test_what_is_no_colour_is_refused(call, said):
    with pytest.raises(FigureError, match=said):
        call()
