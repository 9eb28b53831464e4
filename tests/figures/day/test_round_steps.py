"""A round as steps: melting beside the rest, chilling in turns, what is held how long."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.day.rounds import (
    CHILL,
    CHILL_PLACES,
    DO,
    REST,
    UNMOULD,
    FollowingStep,
    LayerSteps,
    round_of,
    shared_minutes,
)
from journal.figures.day.sheet import plan_day
from journal.figures.day.steps import CastingRound, ResourceHold, StepLimit, WorkingHours

DETAIL = LayerSteps(
    "detail",
    "white",
    0,
    15,
    13,
    (
        FollowingStep(REST, "rest 15 min", 15),
        FollowingStep(CHILL, "chill 10 min", 10),
        FollowingStep(DO, "dab", 2),
    ),
)
BODY = LayerSteps("body", "slate", 0, 20, 12, (FollowingStep(UNMOULD, "unmould after 12 h", 720),))


def kelp(**changes: object) -> CastingRound:
    fields: dict[str, object] = {
        "tidy_min": 12,
        "cavity": "six-oblong",
        "cavities": 6,
        "piece": "kelp pieces",
        "chilled": 6,
        "chill_places": 6,
        "keeps_min": 30,
        "session_min": 90,
    }
    return round_of("kelp 1", "kelp", [DETAIL, BODY], **{**fields, **changes})  # type: ignore[arg-type]


EXPECTED = {
    "set white to melt": (0, 0),
    "melt white": (0, 15),
    "pour detail": (15, 28),
    "rest 15 min": (28, 43),
    "chill 10 min": (43, 53),
    "dab": (53, 55),
    "set slate to melt": (5, 5),
    "melt slate": (5, 25),
    "pour body": (55, 67),
    "unmould after 12 h": (67, 787),
    "unmould and tidy": (787, 799),
}


def times(one: CastingRound, capacity: dict[str, int]) -> dict[str, tuple[int, int]]:
    sheet = plan_day([one], capacity, start_min=0, hours=None)
    return {step.step: (step.start_min, step.end_min) for step in sheet.steps}


def test_a_round_on_paper() -> None:
    capacity = {"six-oblong": 6, "kelp pieces": 6, CHILL_PLACES: 6}
    assert times(kelp(), capacity) == EXPECTED
    assert times(kelp(keeps_min=None), capacity)["melt slate"] == (0, 20)


def test_what_is_held_and_how_long() -> None:
    names = [step.name for step in kelp().steps]
    held = {hold.resource: hold for hold in kelp().holds}
    end = names.index("unmould and tidy")
    chill = names.index("chill 10 min")
    assert held["kelp pieces"] == ResourceHold("kelp pieces", 6, names.index("pour detail"), end)
    assert held["six-oblong"] == ResourceHold("six-oblong", 6, names.index("pour body"), end)
    assert held[CHILL_PLACES] == ResourceHold(CHILL_PLACES, 6, chill, chill)


def test_without_pieces_the_cavity_is_taken_by_the_first_layer() -> None:
    one = kelp(piece=None)
    (cavity,) = [hold for hold in one.holds if hold.resource == "six-oblong"]
    assert one.steps[cavity.from_step].name == "pour detail"
    assert all(hold.resource != "kelp pieces" for hold in one.holds)


@pytest.mark.parametrize(
    ("chilled", "places", "minutes", "held"),
    [(6, 6, 10, 6), (6, 4, 20, 4), (6, 1, 60, 1), (2, 4, 10, 2)],
)
def test_fewer_places_chill_in_turns(chilled: int, places: int, minutes: int, held: int) -> None:
    one = kelp(chilled=chilled, chill_places=places)
    (step,) = [step for step in one.steps if step.name.startswith("chill")]
    assert step.minutes == minutes
    assert [hold.count for hold in one.holds if hold.resource == CHILL_PLACES] == [held]
    free = kelp(chilled=chilled, chill_places=None)
    assert all(hold.resource != CHILL_PLACES for hold in free.holds)


def test_a_pot_that_is_hot_already_is_not_melted_again() -> None:
    again = LayerSteps("face", "white", 0, 0, 5, ())
    one = round_of(
        "r",
        "r",
        [DETAIL, again],
        tidy_min=3,
        cavity="m",
        cavities=1,
        piece=None,
        chilled=1,
        chill_places=None,
        keeps_min=None,
        session_min=90,
    )
    names = [step.name for step in one.steps]
    assert names.count("set white to melt") == names.count("melt white") == 1
    assert one.steps[-1].name == "unmould and tidy"


@given(st.integers(0, 500), st.integers(1, 9))
def test_minutes_are_shared_whole(total: int, parts: int) -> None:
    shared = shared_minutes(total, parts)
    assert sum(shared) == total
    assert len(shared) == parts
    assert max(shared) - min(shared) <= 1
    assert list(shared) == sorted(shared, reverse=True)


def test_what_makes_no_sense_is_refused() -> None:
    odd = LayerSteps("odd", "white", 0, 0, 1, (FollowingStep("dance", "dance", 1),))
    with pytest.raises(FigureError, match="no layer"):
        round_of(
            "r", "r", [], tidy_min=1, cavity="m", cavities=1, piece=None,
            chilled=1, chill_places=None, keeps_min=None, session_min=90,
        )  # fmt: skip
    with pytest.raises(FigureError, match='"dance"'):
        round_of(
            "r", "r", [odd], tidy_min=1, cavity="m", cavities=1, piece=None,
            chilled=1, chill_places=None, keeps_min=None, session_min=90,
        )  # fmt: skip
    with pytest.raises(FigureError, match="0 places"):
        kelp(chill_places=0)
    with pytest.raises(FigureError, match="-1 min over 2 steps: not below 0, and one step or more"):
        shared_minutes(-1, 2)
    with pytest.raises(FigureError, match="1 min over 0 steps: not below 0, and one step or more"):
        shared_minutes(1, 0)


# Pots set going by hand, layers poured in one session

SET_DETAIL = LayerSteps(
    "detail", "white", 4, 20, 5, (FollowingStep(REST, "rest", 15), FollowingStep(DO, "dab", 3))
)
SET_BODY = LayerSteps("body", "slate", 3, 25, 6, (FollowingStep(UNMOULD, "set", 600),))
LAYERS = (SET_DETAIL, SET_BODY)


def round_from(layers: tuple[LayerSteps, ...], name: str = "one") -> CastingRound:
    return round_of(
        name, "kind", layers, tidy_min=8, cavity="cavities", cavities=4, piece="piece",
        chilled=4, chill_places=4, keeps_min=15, session_min=90,
    )  # fmt: skip


def test_pots_are_set_going_by_hand() -> None:
    made = round_from(LAYERS)
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
    assert made.steps[1].after == (StepLimit(0, 0),)
    assert made.steps[2].after == (StepLimit(1, 15),)
    # The body follows the dab and its pot, and the detail by 15 + 3 + 90 min at the latest.
    assert set(made.steps[7].after) == {StepLimit(4), StepLimit(6, 15), StepLimit(2, 108)}
    assert [(hold.resource, hold.from_step, hold.to_step) for hold in made.holds] == [
        ("cavities", 7, 9),
        ("piece", 2, 9),
    ]


thens = st.lists(
    st.builds(FollowingStep, st.sampled_from((REST, CHILL, DO)), st.just("x"), st.integers(0, 30)),
    max_size=3,
).map(tuple)
layers_of_a_round = st.lists(
    st.builds(LayerSteps, st.just("layer"), st.sampled_from("ab"), st.integers(0, 9),
              st.integers(0, 30), st.integers(0, 9), thens),
    min_size=1, max_size=3,
).map(tuple)  # fmt: skip


@given(layers_of_a_round)
def test_in_any_round_a_melt_follows_its_setting(layers: tuple[LayerSteps, ...]) -> None:
    made = round_from(layers)
    for place, step in enumerate(made.steps):
        assert all(before.step < place for before in step.after)
        if step.name.startswith("melt "):
            assert made.steps[place - 1].name == f"set {step.name[5:]} to melt"
            assert step.after == (StepLimit(place - 1, 0),)


def test_nothing_melts_when_nobody_is_there() -> None:
    """Begun at a quarter to six, it is not done by six: all of it is for the morning."""
    made = round_from(LAYERS)
    sheet = plan_day(
        (made,),
        {"cavities": 4, "piece": 4, "chill places": 4},
        start_min=17 * 60 + 45,
        hours=WorkingHours(8 * 60, 18 * 60),
    )
    when = {step.step: step.start_min for step in sheet.steps}
    assert when["pour detail"] >= 24 * 60 + 8 * 60
    assert when["pour body"] - when["pour detail"] <= 5 + 15 + 3 + 90
    for step in sheet.steps:
        if step.step.startswith(("melt", "set w", "set s")):
            assert 8 * 60 <= step.start_min % (24 * 60) <= 18 * 60
