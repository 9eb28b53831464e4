"""What a melt leaves behind, and how much of a leftover a pot can take."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.recipe.leftovers import jug_loss_g, left_behind, mass_to_draw_g

SAME = 1e-9

LEFT_ON_PAPER = [
    ("white, planned", "6 x 6 + 8 = 44, + 8 in the jug", 52.0, 36.0, 8.0, 8.0, 0.0),
    ("slate, planned", "6 x 96 = 576, + 3 %", 593.28, 576.0, 17.28, 0.0, 0.0),
    ("slate, melted more", "624 - 576 - 17.28", 624.0, 576.0, 17.28, 30.72, 0.0),
    ("slate, melted less", "580 - 576 - 17.28", 580.0, 576.0, 17.28, 0.0, 13.28),
]


@pytest.mark.parametrize(
    ("pot", "inputs", "melted", "stays", "lost", "left", "short"), LEFT_ON_PAPER
)
def test_left_behind_on_paper(
    pot: str, inputs: str, melted: float, stays: float, lost: float, left: float, short: float
) -> None:
    found = left_behind(melted, stays, lost)
    assert found.left_g == pytest.approx(left, abs=SAME), (pot, inputs)
    assert found.short_g == pytest.approx(short, abs=SAME)
    assert found.lost_g == lost


@pytest.mark.parametrize(
    ("poured", "share", "least", "lost"), [(576, 0.03, 8, 17.28), (44, 0.03, 8, 8), (100, 0, 0, 0)]
)
def test_what_stays_in_the_jug(poured: float, share: float, least: float, lost: float) -> None:
    assert jug_loss_g(poured, share, least) == pytest.approx(lost, rel=SAME)


WHITE = (("white-shea", 1.0),)
HALVES = (("white-shea", 0.5), ("clear", 0.5))


@pytest.mark.parametrize(
    ("wanted_g", "shares", "there_g", "mass_g"),
    [
        ({"white-shea": 200.0}, WHITE, 300.0, 200.0),
        ({"white-shea": 200.0}, WHITE, 150.0, 150.0),
        ({"clear": 200.0}, WHITE, 300.0, 0.0),
        ({}, WHITE, 300.0, 0.0),
        ({"white-shea": 200.0}, HALVES, 300.0, 0.0),
        ({"white-shea": 200.0}, (*WHITE, ("clear", 0.0)), 300.0, 200.0),
        # 700 g of 70 % white and 30 % clear: 490 g of white at most, and of a mixture of
        # halves no more than twice the 210 g of clear.
        ({"white-shea": 490.0, "clear": 210.0}, WHITE, 600.0, 490.0),
        ({"white-shea": 490.0, "clear": 210.0}, HALVES, 600.0, 420.0),
        # The last digits of a float are no need.
        ({"white-shea": 1e-9}, WHITE, 300.0, 0.0),
    ],
)
def test_how_much_a_pot_can_take(
    wanted_g: dict[str, float], shares: tuple[tuple[str, float], ...], there_g: float, mass_g: float
) -> None:
    assert mass_to_draw_g(wanted_g, shares, there_g) == pytest.approx(mass_g, rel=SAME)


some_g = st.floats(0, 500)


@given(st.dictionaries(st.sampled_from(["white-shea", "clear"]), some_g), st.floats(0, 1), some_g)
def test_no_more_than_there_is_or_is_wanted(
    wanted_g: dict[str, float], white: float, there_g: float
) -> None:
    shares = (("white-shea", white), ("clear", 1 - white))
    mass_g = mass_to_draw_g(wanted_g, shares, there_g)
    assert 0 <= mass_g <= there_g
    limits = [there_g]
    for base, share in shares:
        assert mass_g * share <= wanted_g.get(base, 0.0) * (1 + SAME)
        if share:
            limits.append(wanted_g.get(base, 0.0) / share)
    assert mass_g == pytest.approx(min(limits), abs=1e-6)


def test_what_makes_no_sense_is_refused() -> None:
    for call, said in (
        (lambda: jug_loss_g(1, 1.5, 0), "the waste is 1.5 of the melt; a share is 0 to 1"),
        (lambda: jug_loss_g(-1, 0.1, 0), "the mass poured is -1 g; it cannot be below 0"),
        (lambda: left_behind(math.nan, 0, 0), "the melt is nan g; it cannot be below 0"),
        (lambda: left_behind(1, -1, 0), "what stays in the bars is -1 g; it cannot be below 0"),
        (
            lambda: mass_to_draw_g({"clear": -1.0}, WHITE, 1),
            "the need of clear is -1.0 g; it cannot",
        ),
        (
            lambda: mass_to_draw_g({}, WHITE, -1.0),
            "what there is of a leftover is -1.0 g; it cannot",
        ),
        (
            lambda: mass_to_draw_g({}, HALVES[:1], 1),
            "the shares of a leftover sum to 0.5, not to 1",
        ),
        (lambda: mass_to_draw_g({}, (), 1), "the shares of a leftover must lie in 0 to 1"),
    ):
        with pytest.raises(FigureError, match=said):
            call()
