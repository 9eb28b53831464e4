"""How much scented leftover a pot may take: by hand, and as laws."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.recipe.drawn_scent import ScentedLayer, room_for_scent, used_by_draw

CLOSE = 1e-12


def test_by_hand() -> None:
    """500 g at half its limit of 2 % may take 5 g more oil: 500 g of a leftover of 1 %."""
    layer = ScentedLayer(500, 0.5, 1)
    assert room_for_scent([layer], 0.01, 0.02) == pytest.approx(500, rel=CLOSE)
    assert used_by_draw(layer, 5, 0.02) == pytest.approx(0.5, rel=CLOSE)


def test_the_tightest_layer_decides() -> None:
    """Two layers share a pot: what is drawn is in both by their share of the melt."""
    detail, body = ScentedLayer(100, 0, 0.1), ScentedLayer(900, 0.9, 0.9)
    # Body: 0.1 x 0.02 x 900 = 1.8 g of oil, which is 0.9 of what is drawn at 1 %: 200 g.
    assert room_for_scent([detail, body], 0.01, 0.02) == pytest.approx(200, rel=CLOSE)


@pytest.mark.parametrize(
    ("used", "concentration", "limit", "room"),
    [
        (1.2, 0.01, 0.02, 0),
        (1, 0.01, 0.02, 0),
        (0.5, 0, 0.02, math.inf),
        (0.5, 0.01, None, math.inf),
    ],
)
def test_ends(used: float, concentration: float, limit: float | None, room: float) -> None:
    assert room_for_scent([ScentedLayer(500, used, 1)], concentration, limit) == room


@given(
    whole=st.floats(10, 5000), used=st.floats(0, 0.999), share=st.floats(0.05, 1),
    concentration=st.floats(0.001, 0.05), limit=st.floats(0.001, 0.2),
)  # fmt: skip
def test_what_there_is_room_for_reaches_the_limit(
    whole: float, used: float, share: float, concentration: float, limit: float
) -> None:
    layer = ScentedLayer(whole, used, share)
    room = room_for_scent([layer], concentration, limit)
    after = used + used_by_draw(layer, room * concentration, limit)
    assert after == pytest.approx(1, rel=1e-9)


@pytest.mark.parametrize(
    ("layers", "concentration", "limit", "said"),
    [
        ([], 0.01, 0.02, "0 layers"),
        ([ScentedLayer(500, 0, 1)], 1.1, 0.02, "a concentration of 1.1"),
        ([ScentedLayer(500, 0, 1)], 0.01, 0, "a limit of 0"),
        ([ScentedLayer(0, 0, 1)], 0.01, 0.02, "a layer cannot be"),
        ([ScentedLayer(500, -0.1, 1)], 0.01, 0.02, "a layer cannot be"),
        ([ScentedLayer(500, 0, 1.1)], 0.01, 0.02, "a layer cannot be"),
        ([ScentedLayer(500, math.nan, 1)], 0.01, 0.02, "a layer cannot be"),
    ],
)
def test_refused(layers: list[ScentedLayer], concentration: float, limit: float, said: str) -> None:
    with pytest.raises(FigureError, match=said):
        room_for_scent(layers, concentration, limit)


@pytest.mark.parametrize(("oil", "limit"), [(-1, 0.02), (1, 0), (math.nan, 0.02)])
def test_a_draw_that_is_none(oil: float, limit: float) -> None:
    with pytest.raises(FigureError, match=f"^{oil} g of oil, limit {limit}, in 500 g"):
        used_by_draw(ScentedLayer(500, 0, 1), oil, limit)
