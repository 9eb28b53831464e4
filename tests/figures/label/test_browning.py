"""Browning by vanillin: shares by definition, the steps at their bounds."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from worked_notebook import leaf, read

from journal.errors import FigureError
from journal.figures.label import browning
from journal.figures.label.browning import NO_BROWNING, browning_to_expect, vanillin_in_bar
from journal.figures.label.derive_browning import BROWNING

SWEET = """\
sweet:
  name: Sweet
  density: 0.9 g/mL
  limit: 2 %
  allergens: {Vanillin: 1 %}
"""


def test_the_share_in_the_bar() -> None:
    assert vanillin_in_bar(0.01, 0.08) == pytest.approx(0.0008, rel=1e-12)


@pytest.mark.parametrize(
    ("percent", "expected"),
    [
        (0.0, "none to be seen"),
        (0.009, "none to be seen"),
        (0.01, "cream"),
        (0.03, "tan"),
        (0.08, "tan"),
        (0.1, "brown"),
        # An oil of 10 % at 3 % of the bar.
        (0.3, "dark brown"),
        (100, "dark brown"),
    ],
)
def test_what_is_to_be_expected(percent: float, expected: str) -> None:
    assert browning_to_expect(percent / 100) == expected


def test_the_vanillin_of_all_oils_browns_the_bar(tmp_path: Path) -> None:
    """A bar of 86.52 g, with 0.72 g of an oil of 4 % and 0.72 g of one of 1 %: 0.0333 and 0.0083 %
    of 87.24 g with the other oil, tan for the two; by the second alone it is none to be seen."""
    oils = "[{oil: herb, dose: 10 mL/kg}, {oil: sweet, dose: 10 mL/kg}]"
    changes = (
        ("designs/leaf/design.md", "{oil: herb, dose: 10 mL/kg, add: 58-62 C}", oils),
        ("shelf/fragrances.yaml", "  limit: 2 %\n", "  limit: 2 %\n  vanillin: 4 %\n"),
        ("shelf/fragrances.yaml", "  on_hand: 10 mL\n", "  on_hand: 10 mL\n" + SWEET),
    )
    recipe = leaf(read(tmp_path, *changes)).recipe
    found = {one.oil: (100 * one.bar_share, one.expect) for one in recipe[BROWNING].value or ()}
    assert found["herb"] == (pytest.approx(4 * 0.72 / 87.24), "tan")
    assert found["sweet"] == (pytest.approx(0.72 / 87.24), "tan")
    assert browning_to_expect(0.72 / 8724) == NO_BROWNING


def test_an_oil_that_names_no_vanillin_has_no_row(tmp_path: Path) -> None:
    assert leaf(read(tmp_path)).recipe[BROWNING].value == ()


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_vanillin_browns_no_less(one: float, other: float) -> None:
    steps = [words for _, words in browning.BROWNING]
    low, high = sorted((one, other))
    assert steps.index(browning_to_expect(low)) <= steps.index(browning_to_expect(high))


def test_shares_are_shares() -> None:
    for call in (lambda: vanillin_in_bar(2.0, 0.1), lambda: browning_to_expect(-0.1)):
        with pytest.raises(FigureError, match="share is 0 to 1"):
            call()
