"""What was melted is in the bars, left over or in the jug; what is left of what was counted."""

from __future__ import annotations

import math
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.lots.balance import PouredInto, Taken, amount_left, pot_balance

WHITE, CLEAR = ("bases", "white"), ("bases", "clear")
SLATE = PouredInto(540.0, 0.0, ((WHITE, 0.7), (CLEAR, 0.3)))
COUNTED = date(2026, 11, 1)


def test_a_pot_worked_by_hand() -> None:
    """600 g melted, six bars of 90 g, 3 % in the jug: 540 x 0.03 = 16.2 g."""
    pot = pot_balance("slate", [SLATE], 600.0, 0.03, 8.0)
    assert (pot.bars_g, pot.jug_g, pot.left_g, pot.short_g) == pytest.approx((540, 16.2, 43.8, 0))
    # 556.2 g did not go back: 70 % and 30 % of it.
    assert dict(pot.taken) == pytest.approx({WHITE: 389.34, CLEAR: 166.86})
    assert pot.written


def test_a_melt_that_was_not_noted_leaves_what_was_scraped_back() -> None:
    """48 g over the relief of six bars of 6 g; 8 g at least in the jug."""
    detail = PouredInto(36.0, 48.0, ((WHITE, 1.0),))
    pot = pot_balance("white", [detail], None, 0.03, 8.0)
    assert (pot.melted_g, pot.left_g, pot.jug_g) == pytest.approx((92, 48, 8))
    assert dict(pot.taken) == pytest.approx({WHITE: 44})


_grams = st.floats(0, 5000)


@given(
    st.lists(st.tuples(_grams, _grams, st.floats(0, 1)), min_size=1, max_size=4),
    st.none() | _grams, st.floats(0, 1), st.floats(0, 50),
)  # fmt: skip
def test_mass_is_conserved(
    layers: list[tuple[float, float, float]], melted: float | None, waste: float, least: float
) -> None:
    poured = [PouredInto(a, b, ((WHITE, share), (CLEAR, 1 - share))) for a, b, share in layers]
    pot = pot_balance("p", poured, melted, waste, least)
    whole = pot.bars_g + pot.left_g + pot.jug_g
    assert pot.melted_g + pot.short_g == pytest.approx(whole, abs=0.01)
    taken = math.fsum(mass for _, mass in pot.taken)
    assert taken == pytest.approx(pot.melted_g - pot.left_g, abs=0.01)


def test_what_is_left_worked_by_hand() -> None:
    """8 kg less pours of 1.5 and 1.3 kg since; that of the day itself came before the count."""
    pours = [(1, 900.0), (8, 1500.0), (9, 1300.0)]
    taken = [(date(2026, 11, day), Taken(*WHITE, mass_g=mass)) for day, mass in pours]
    left = amount_left("g", 8000, COUNTED, taken)
    assert (left.left, left.pours, left.unknown) == (5200, 2, 0)


def test_what_nobody_can_tell_is_counted() -> None:
    taken = [(date(2026, 11, 2), Taken("fragrances", "cedar", mass_g=4.0))]
    left = amount_left("mL", Fraction(266), COUNTED, taken)
    assert (left.left, left.pours, left.unknown) == (266, 1, 1)
    with pytest.raises(FigureError, match="is none of"):
        amount_left("kg", 1, COUNTED, [])
    with pytest.raises(FigureError, match="below 0"):
        amount_left("g", -1, COUNTED, [])
