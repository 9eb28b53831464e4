"""Browning by vanillin: shares by definition, the steps at their bounds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.label.browning import BROWNING, browning_to_expect, vanillin_in_bar


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


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_vanillin_browns_no_less(one: float, other: float) -> None:
    steps = [words for _, words in BROWNING]
    low, high = sorted((one, other))
    assert steps.index(browning_to_expect(low)) <= steps.index(browning_to_expect(high))


def test_shares_are_shares() -> None:
    for call in (lambda: vanillin_in_bar(2.0, 0.1), lambda: browning_to_expect(-0.1)):
        with pytest.raises(FigureError, match="share is 0 to 1"):
            call()
