"""Pots set going by hand, layers poured in one session: by hand, and on random rounds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.attended import attended
from journal.figures.day_sheet import plan_day
from journal.figures.day_steps import After, Hours, Round
from journal.figures.round_steps import CHILL, DO, REST, UNMOULD, LayerSteps, Then, round_of

DETAIL = LayerSteps("detail", "white", 20, 5, (Then(REST, "rest", 15), Then(DO, "dab", 3)))
BODY = LayerSteps("body", "slate", 25, 6, (Then(UNMOULD, "set", 600),))
LAYERS = (DETAIL, BODY)


def round_from(layers: tuple[LayerSteps, ...], name: str = "one") -> Round:
    return round_of(
        name, "kind", layers, tidy_min=8, cavity="cavities", cavities=4, piece="piece", pieces=4,
        chilled=4, chill_places=4, keeps_min=15,
    )  # fmt: skip


def test_by_hand() -> None:
    made = attended(round_from(LAYERS), LAYERS, setting_min=(4, 3), session_min=90)
    assert [(step.name, step.minutes, step.hands) for step in made.steps] == [
        ("set white to melt", 4, True),
        ("melt white", 20, False),
        ("pour detail", 5, True),
        ("rest", 15, False),
        ("dab", 3, True),
        ("set slate to melt", 3, True),
        ("melt slate", 25, False),
        ("pour body", 6, True),
        ("set", 600, False),
        ("unmould and tidy", 8, True),
    ]
    # A pot melts as soon as it is set to; it is poured within the time that it keeps.
    assert made.steps[1].after == (After(0, 0),)
    assert made.steps[2].after == (After(1, 15),)
    # The body follows the dab and its pot, and the detail by 15 + 3 + 90 min at the latest.
    assert set(made.steps[7].after) == {After(4), After(6, 15), After(2, 108)}
    assert [(hold.resource, hold.from_step, hold.to_step) for hold in made.holds] == [
        ("cavities", 7, 9),
        ("piece", 2, 9),
    ]


def test_a_pot_that_is_hot_already_is_not_set_going_again() -> None:
    layers = (DETAIL, LayerSteps("body", "white", 0, 6, ()))
    made = attended(round_from(layers), layers, setting_min=(4,), session_min=90)
    assert [step.name for step in made.steps if step.name.startswith("set ")] == [
        "set white to melt"
    ]


@pytest.mark.parametrize(
    ("layers", "setting", "session", "said"),
    [
        (LAYERS, (4,), 90, "1 settings of 2 pots, 90 min"),
        (LAYERS, (4, -1), 90, "2 settings of 2 pots, 90 min"),
        (LAYERS, (4, 3), -1, "2 settings of 2 pots, -1 min"),
        ((*LAYERS, BODY), (4, 3, 3), 90, "is not made of these layers"),
    ],
)
def test_refused(
    layers: tuple[LayerSteps, ...], setting: tuple[int, ...], session: int, said: str
) -> None:
    with pytest.raises(FigureError, match=said):
        attended(round_from(LAYERS), layers, setting_min=setting, session_min=session)


thens = st.lists(
    st.builds(Then, st.sampled_from((REST, CHILL, DO)), st.just("x"), st.integers(0, 30)),
    max_size=3,
).map(tuple)
layers_of_a_round = st.lists(
    st.builds(LayerSteps, st.just("layer"), st.sampled_from("ab"), st.integers(0, 30),
              st.integers(0, 9), thens),
    min_size=1, max_size=3,
).map(tuple)  # fmt: skip


@given(layers_of_a_round)
def test_any_round_keeps_its_steps(layers: tuple[LayerSteps, ...]) -> None:
    plain = round_from(layers)
    melts = sum(layer.melt_min > 0 for layer in layers)
    made = attended(plain, layers, setting_min=(2,) * melts, session_min=60)
    assert [s.name for s in made.steps if not s.name.startswith("set ")] == [
        s.name for s in plain.steps
    ]
    for place, step in enumerate(made.steps):
        assert all(before.step < place for before in step.after)
        if step.name.startswith("melt "):
            assert made.steps[place - 1].name == f"set {step.name[5:]} to melt"
            assert After(place - 1, 0) in step.after


def test_nothing_melts_when_nobody_is_there() -> None:
    """Begun at a quarter to six, it is not done by six: all of it is for the morning."""
    made = attended(round_from(LAYERS), LAYERS, setting_min=(4, 3), session_min=90)
    sheet = plan_day(
        (made,),
        {"cavities": 4, "piece": 4, "chill places": 4},
        start_min=17 * 60 + 45,
        hours=Hours(8 * 60, 18 * 60),
    )
    when = {step.step: step.start_min for step in sheet.steps}
    assert when["pour detail"] >= 24 * 60 + 8 * 60
    assert when["pour body"] - when["pour detail"] <= 5 + 15 + 3 + 90
    for step in sheet.steps:
        if step.step.startswith(("melt", "set w", "set s")):
            assert 8 * 60 <= step.start_min % (24 * 60) <= 18 * 60
