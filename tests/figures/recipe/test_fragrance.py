"""What goes into a layer at most, and when: published values, cases by hand, what holds of all."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.recipe.fragrance import (
    adding_window_c,
    concentration,
    limit_used,
    most_oil_g,
    share_taken,
    within_limit,
)

CLOSE = 1e-12
masses = st.floats(1.0, 1000.0)
shares = st.floats(1e-4, 0.2)


@pytest.mark.parametrize(
    ("add", "below", "window"),
    [
        (None, None, (None, None)),
        (None, 70.0, (None, 70.0)),
        ((58.0, 62.0), None, (58.0, 62.0)),
        ((58.0, 62.0), 60.0, (58.0, 60.0)),
        ((58.0, 62.0), 58.0, (58.0, 58.0)),
        ((58.0, 62.0), 57.9, (None, 57.9)),
    ],
)
def test_the_window_to_stir_an_oil_in(
    add: tuple[float, float] | None, below: float | None, window: tuple[float | None, float | None]
) -> None:
    assert adding_window_c(add, below) == window


def test_what_a_blend_carries() -> None:
    """70 % of a base that takes 3 % and 30 % of one that takes 2 %: 2.1 + 0.6 = 2.7 %."""
    assert share_taken([(0.7, 0.03), (0.3, 0.02)]) == pytest.approx(0.027, rel=CLOSE)
    # What is not known of one is taken from the others: (0.5 x 3 + 0.25 x 1.5) / 0.75.
    some = [(0.5, 0.03), (0.25, 0.015), (0.25, None)]
    assert share_taken(some) == pytest.approx(0.025, rel=CLOSE)
    assert share_taken([(1.0, 0.0)]) == 0
    assert share_taken([(1.0, None)]) is None
    assert share_taken([]) is None


def test_the_most_by_a_certificate() -> None:
    """Category 9 maximum 1.49 % of 500 g finished: 7.45 g (08-fragrance.csv)."""
    assert most_oil_g(480, 492.55, [], 0.0149, None) == pytest.approx(7.45, rel=CLOSE)


@pytest.mark.parametrize(
    ("others", "limit", "takes", "most"),
    [
        ((), 0.02, None, 100 / 49),
        ((), None, 0.02, 2.0),
        ((), 0.02, 0.02, 2.0),
        ((), 0.01, 0.02, 100 / 99),
        ((), None, None, None),
        # A share of all that there is bounds nothing.
        ((), 1.0, None, None),
        ((), 0.0, 0.02, 0.0),
        (((1.5, None),), None, 0.02, 0.5),
        (((3.0, None),), None, 0.02, 0.0),
    ],
)
def test_the_lower_of_certificate_and_base_rules(
    others: tuple[tuple[float, float | None], ...],
    limit: float | None,
    takes: float | None,
    most: float | None,
) -> None:
    """In 100 g of base alone; the other oil is counted with the base for the certificate."""
    found = most_oil_g(100, 100, others, limit, takes)
    assert found == (None if most is None else pytest.approx(most, rel=CLOSE))


@given(masses, st.floats(0.0, 50.0), shares, st.lists(st.tuples(st.floats(0.0, 1.0), shares)))
def test_the_most_is_at_the_limit(
    base_g: float, stirred_g: float, limit: float, others: list[tuple[float, float]]
) -> None:
    rest_g = base_g + stirred_g + sum(mass_g for mass_g, _ in others)
    most_g = most_oil_g(base_g, rest_g, others, limit, None)
    assert most_g is not None

    def used(oil_g: float) -> float:
        oils = [(oil_g, limit), *others]
        return limit_used([(concentration(one, rest_g + oil_g), most) for one, most in oils])

    if most_g:
        assert used(most_g) == pytest.approx(1, rel=1e-9)
        assert not within_limit(used(most_g * 1.001))
    else:
        assert used(0.0) >= 1 - 1e-9


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: share_taken([(-0.1, 0.03)]),
        lambda: share_taken([(0.1, -0.03)]),
        lambda: most_oil_g(0, 1, [], 0.02, None),
        lambda: most_oil_g(1, -1, [], 0.02, None),
        lambda: most_oil_g(1, 1, [(-1, None)], 0.02, None),
        lambda: most_oil_g(1, 1, [(1, 0.0)], 0.02, None),
    ],
)
def test_out_of_range(wrong: object) -> None:
    assert callable(wrong)
    with pytest.raises(FigureError):
        wrong()
