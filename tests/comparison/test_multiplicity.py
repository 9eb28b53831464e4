"""Holm's adjustment against statsmodels and by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from journal.comparison.multiplicity import holm
from journal.errors import FigureError

LIBRARY = 1e-12


def test_by_hand() -> None:
    # 3 x 0.01, then 2 x 0.03, then 0.04 that may not fall below 0.06.
    assert holm((0.01, 0.04, 0.03)) == pytest.approx((0.03, 0.06, 0.06))


def test_a_test_that_could_not_be_made_is_not_counted() -> None:
    assert holm((None, 0.02, None, 0.5)) == (None, 0.04, None, 0.5)
    assert holm(()) == ()
    assert holm((None,)) == (None,)


@pytest.mark.parametrize(
    "ps",
    [
        (0.5,),
        (0.01, 0.04, 0.03, 0.005),
        (0.02, 0.02, 0.02),
        (1.0, 0.0, 0.9, 0.0001, 0.3),
        (0.049, 0.026, 0.017, 0.0126, 0.0101),
    ],
)
def test_agrees_with_statsmodels(ps: tuple[float, ...]) -> None:
    expected = multipletests(ps, method="holm")[1]
    assert holm(ps) == pytest.approx(tuple(expected), abs=LIBRARY)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=8))
def test_never_below_the_p_itself(ps: list[float]) -> None:
    adjusted = holm(ps)
    for p, after in zip(ps, adjusted, strict=True):
        assert after is not None
        assert p <= after <= 1


@pytest.mark.parametrize("p", [-0.1, 1.1])
def test_refused(p: float) -> None:
    with pytest.raises(FigureError, match=str(p)):
        holm((0.5, p))
