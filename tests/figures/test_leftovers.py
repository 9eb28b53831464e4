"""What a melt leaves behind, and which pots of an order may draw on the shelf."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.leftovers import (
    ANY,
    NONE,
    PLAIN,
    Leftover,
    PotNeed,
    draw_leftovers,
    jug_loss_g,
    left_behind,
)

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


def pot(allows: str = PLAIN, **changes: object) -> PotNeed:
    fields = {
        "design": "kelp",
        "pot": "white",
        "bases_g": (("white-shea", 200.0),),
        "colourants": (),
        "oils": (),
        "allows": allows,
    }
    return PotNeed(**{**fields, **changes})  # type: ignore[arg-type]


def rest(name: str = "rest", amount_g: float = 300.0, **changes: object) -> Leftover:
    fields = {
        "name": name,
        "shares": (("white-shea", 1.0),),
        "amount_g": amount_g,
        "tinted": None,
        "scented": None,
        "concentration": 0.0,
    }
    return Leftover(**{**fields, **changes})  # type: ignore[arg-type]


def test_plain_base_goes_into_any_pot_of_its_base() -> None:
    drawn = draw_leftovers([pot()], [rest()])
    (draw,) = drawn.draws
    assert (draw.leftover, draw.pot, draw.mass_g) == ("rest", "white", 200.0)
    assert drawn.fresh[0].bases_g == (("white-shea", 0.0),)
    assert drawn.kept_g == (("rest", 100.0),)


@pytest.mark.parametrize(
    ("need", "leftover"),
    [
        (pot(NONE), rest()),
        (pot(bases_g=(("clear", 200.0),)), rest()),
        (pot(PLAIN, colourants=("slate",)), rest(tinted="slate")),
        (pot(PLAIN, oils=("cedar",)), rest(scented="cedar", concentration=0.02)),
        (pot(ANY), rest(tinted="slate")),
        (pot(ANY), rest(scented="cedar", concentration=0.02)),
        (pot(ANY, colourants=("slate",)), rest(tinted="slate", scented="cedar")),
    ],
    ids=[
        "takes none",
        "another base",
        "tinted, not allowed",
        "scented, not allowed",
        "tinted into a plain pot",
        "scented into a plain pot",
        "scented too",
    ],
)
def test_what_is_not_allowed_stays_on_the_shelf(need: PotNeed, leftover: Leftover) -> None:
    drawn = draw_leftovers([need], [leftover])
    assert drawn.draws == ()
    assert drawn.fresh == (need,)
    assert drawn.kept_g == (("rest", 300.0),)


def test_tinted_and_scented_base_goes_where_it_is_allowed_and_brings_its_oil() -> None:
    need = pot(ANY, colourants=("slate",), oils=("cedar",))
    drawn = draw_leftovers([need], [rest(tinted="slate", scented="cedar", concentration=0.02)])
    (draw,) = drawn.draws
    assert draw.oil == "cedar"
    assert draw.oil_g == pytest.approx(4.0)
    assert not draw.other_colour
    assert not draw.other_scent


def test_its_own_colour_comes_first_and_another_is_marked() -> None:
    needs = [
        pot(ANY, pot="violet", colourants=("violet",)),
        pot(ANY, pot="slate", colourants=("slate",)),
    ]
    drawn = draw_leftovers(needs, [rest(tinted="slate")])
    assert [(d.pot, d.mass_g, d.other_colour) for d in drawn.draws] == [
        ("slate", 200.0, False),
        ("violet", 100.0, True),
    ]


def test_a_mixed_pot_takes_plain_base_up_to_its_share() -> None:
    """700 g of 70 % white and 30 % clear: 490 g of white at most, and of a mixture of halves
    no more than twice the 210 g of clear."""
    mixed = pot(bases_g=(("white-shea", 490.0), ("clear", 210.0)))
    (white,) = draw_leftovers([mixed], [rest(amount_g=600.0)]).draws
    assert white.mass_g == pytest.approx(490.0)
    halves = rest(shares=(("white-shea", 0.5), ("clear", 0.5)), amount_g=600.0)
    drawn = draw_leftovers([mixed], [halves])
    assert drawn.draws[0].mass_g == pytest.approx(420.0)
    assert dict(drawn.fresh[0].bases_g) == pytest.approx({"white-shea": 280.0, "clear": 0.0})


def test_the_hardest_to_place_goes_first() -> None:
    need = pot(ANY, colourants=("slate",))
    drawn = draw_leftovers([need], [rest("plain"), rest("tinted", 150.0, tinted="slate")])
    assert [(draw.leftover, draw.mass_g) for draw in drawn.draws] == [
        ("tinted", 150.0),
        ("plain", 50.0),
    ]


marks = st.sampled_from([None, "slate", "violet"])


@given(
    st.lists(
        st.builds(
            pot,
            st.sampled_from([NONE, PLAIN, ANY]),
            bases_g=st.sampled_from(
                [(("white-shea", 200.0),), (("white-shea", 70.0), ("clear", 30.0)), ()]
            ),
            colourants=marks.map(lambda mark: (mark,) if mark else ()),
            oils=marks.map(lambda mark: (mark,) if mark else ()),
        ),
        max_size=4,
    ),
    st.lists(
        st.tuples(st.floats(0, 500), marks, marks, st.sampled_from([0.0, 0.5, 1.0])), max_size=4
    ),
)
def test_nothing_is_made_or_lost_or_let_in(
    needs: list[PotNeed], parts: list[tuple[float, str | None, str | None, float]]
) -> None:
    leftovers = [
        rest(
            f"rest {place}",
            amount_g,
            tinted=tinted,
            scented=scented,
            concentration=0.02 if scented else 0.0,
            shares=(("white-shea", white), ("clear", 1 - white)),
        )
        for place, (amount_g, tinted, scented, white) in enumerate(parts)
    ]
    drawn = draw_leftovers(needs, leftovers)
    kept = dict(drawn.kept_g)
    for leftover in leftovers:
        out = math.fsum(d.mass_g for d in drawn.draws if d.leftover == leftover.name)
        assert kept[leftover.name] + out == pytest.approx(leftover.amount_g, abs=1e-6)
    wanted = math.fsum(mass for need in needs for _, mass in need.bases_g)
    fresh = math.fsum(mass for need in drawn.fresh for _, mass in need.bases_g)
    used = math.fsum(draw.mass_g for draw in drawn.draws)
    assert fresh + used == pytest.approx(wanted, abs=1e-6)
    if all(need.allows != ANY for need in needs):
        by_name = {leftover.name: leftover for leftover in leftovers}
        for draw in drawn.draws:
            assert by_name[draw.leftover].tinted is None
            assert by_name[draw.leftover].scented is None


def test_what_makes_no_sense_is_refused() -> None:
    for call, said in (
        (lambda: jug_loss_g(1, 1.5, 0), "the waste is 1.5 of the melt; a share is 0 to 1"),
        (lambda: jug_loss_g(-1, 0.1, 0), "the mass poured is -1 g; it cannot be below 0"),
        (lambda: left_behind(math.nan, 0, 0), "the melt is nan g; it cannot be below 0"),
        (lambda: left_behind(1, -1, 0), "what stays in the bars is -1 g; it cannot be below 0"),
        (lambda: draw_leftovers([pot("some")], []), "a design that allows"),
        (
            lambda: draw_leftovers([pot(bases_g=(("white-shea", -1.0),))], []),
            "white-shea in the pot white of kelp is -1.0 g; it cannot be",
        ),
        (
            lambda: draw_leftovers([], [rest(amount_g=-1.0)]),
            "the leftover rest is -1.0 g; it cannot be below 0",
        ),
        (
            lambda: draw_leftovers([], [rest(shares=(("white-shea", 0.5),))]),
            "the shares of the leftover rest sum to 0.5, not to 1",
        ),
        (
            lambda: draw_leftovers([], [rest(shares=())]),
            "the shares of the leftover rest must lie in 0 to 1",
        ),
        (
            lambda: draw_leftovers([], [rest(concentration=2.0)]),
            "a concentration of 2.0 in rest; a share is 0 to 1",
        ),
    ):
        with pytest.raises(FigureError, match=said):
            call()
