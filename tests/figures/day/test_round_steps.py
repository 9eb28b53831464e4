"""A round as steps: pots melted just in time, windows by the forecast, what is held how long."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.day.rounds import (
    CHILL_PLACES,
    REHEAT_MIN,
    FollowingStep,
    LayerTask,
    PotTask,
    RoundEnd,
    RoundPlaces,
    Stirring,
    casts_in_one_heat,
    days_of_rounds,
    minutes_in_window,
    minutes_ready,
    round_of,
    shared_minutes,
)
from journal.figures.day.sheet import plan_day, plan_round
from journal.figures.day.steps import (
    CastingRound,
    ResourceHold,
    RoundStep,
    StepLimit,
    WorkingHours,
    chain_min,
    length_min,
)

# In a room of 20 C a pot of this rate loses half of what it is above it every 20 min (Newton's
# law): from 80 C it is at 65 C after 20 log2(60 / 45) = 8.3 min, at 50 C after 20, at 35 C after
# 40.
HALF_IN_20_MIN = math.log(2) / 20


def pot(name: str, melt_min: int = 20, rate: float | None = HALF_IN_20_MIN) -> PotTask:
    return PotTask(name, melt_min, 80.0, 20.0, rate)


POTS = {"white": pot("white", 15), "slate": pot("slate")}
DETAIL = LayerTask(
    0, "white", None, (),
    (FollowingStep("rest", 15, 0), FollowingStep("chill", 10, 1), FollowingStep("place", 0, 2)),
    casts=6, in_relief=True,
)  # fmt: skip
BODY = LayerTask(
    1, "slate", (35.0, 50.0),
    (Stirring("stir", 0), Stirring("scent", 0, (50.0, 65.0))),
    (FollowingStep("set", 720, 0),), casts=6,
)  # fmt: skip
ENDS = (RoundEnd("unmould"), RoundEnd("peel"), RoundEnd("tidy"), RoundEnd("wrap"))
PLACES = RoundPlaces("six-oblong", 6, "kelp pieces", 6, 6)


def kelp(
    layers: Sequence[LayerTask] = (DETAIL, BODY),
    pots: Mapping[str, PotTask] = POTS,
    ends: Sequence[RoundEnd] = ENDS,
    session_min: int = 90,
    pour_min: int = 20,
    long_waits: bool = False,
    in_windows: bool = True,
    **places: object,
) -> CastingRound:
    return round_of(
        "kelp 1", "kelp", layers, pots, ends, replace(PLACES, **places),
        pour_min=pour_min, tidy_min=12, session_min=session_min,
        long_waits=long_waits, in_windows=in_windows,
    )  # fmt: skip


def names(one: CastingRound) -> list[str]:
    return [step.name for step in one.steps]


def times(one: CastingRound) -> dict[str, tuple[int, int]]:
    return {step.step.name: (step.start_min, step.end_min) for step in plan_round(one).steps}


# By hand -------------------------------------------------------------------------------


def test_a_round_on_paper() -> None:
    """Six pieces at a minute each, six bars and six pieces laid at half a minute, two stirrings
    of 2 min: 16 of the 20 min; the other 4 go over what is left to do before the last pour."""
    assert [(step.name, step.minutes, step.hands) for step in kelp().steps] == [
        ("set out", 1, True),
        ("pieces", 1, True),
        ("melt white", 1, True),
        ("heat white", 15, False),
        ("pour white", 6, True),
        ("rest", 15, False),
        ("chill", 10, False),
        ("melt slate", 1, True),
        ("heat slate", 20, False),
        ("place", 3, True),
        ("stir slate", 2, True),
        ("cool slate", 9, False),  # to 65 C
        ("scent slate", 2, True),
        ("cool slate", 20, False),  # to 50 C
        ("pour slate", 3, True),
        ("set", 720, False),
        ("unmould", 4, True),
        ("peel", 4, True),
        ("tidy", 4, True),
        ("wrap", 0, True),
    ]


def test_what_each_step_waits_for() -> None:
    """The scent has from 9 to 20 min after the heat, 2 of them its own: 9, of which half may be
    waited. The pour has from 20 to 40, less 3: 17. The detail lies for 15 + 10 + 3 min and a
    session at most."""
    steps = kelp().steps
    at = {(step.kind, step.pot, step.minutes): place for place, step in enumerate(steps)}
    heat, cool, cooler = (
        at["heat", "slate", 20], at["cool", "slate", 9], at["cool", "slate", 20],
    )  # fmt: skip
    assert steps[heat].after == (StepLimit(at["melt", "slate", 1], 0),)
    assert steps[cool].after == steps[cooler].after == (StepLimit(heat, 0),)
    stir, scent = at["stir", "slate", 2], at["scent", "slate", 2]
    assert steps[stir].after == (StepLimit(heat),)
    assert steps[scent].after == (StepLimit(cool, 4, 11), StepLimit(stir))
    place = at["place", "", 3]
    assert steps[place].after == (StepLimit(at["chill", "", 10]), StepLimit(heat))
    assert steps[at["pour", "slate", 3]].after == (
        StepLimit(place), StepLimit(at["pour", "white", 6], 28 + 90), StepLimit(cooler, 8, 20),
        StepLimit(stir), StepLimit(scent),
    )  # fmt: skip


def test_the_body_s_pot_waits_for_the_pieces() -> None:
    """The detail is poured at 18, has rested at 39 and chilled at 49, the pieces are laid at 52.
    The pot that is poured then was at its 50 C at most 8 min before."""
    planned = times(kelp())
    assert planned["pour white"] == (18, 24)
    assert planned["rest"] == (24, 39)
    assert planned["chill"] == (39, 49)
    assert planned["place"] == (49, 52)
    assert planned["pour slate"] == (52, 55)
    assert 52 - 8 <= planned["heat slate"][1] + 20 <= 52
    assert planned["set"] == (55, 775)


def test_a_pot_of_which_nothing_is_known_keeps_a_quarter_of_an_hour() -> None:
    """20 min to its pour, then 15 less the 3 of the pour, of which half may be waited."""
    unread = {"white": POTS["white"], "slate": pot("slate", rate=None)}
    steps = kelp(pots=unread).steps
    (pour,) = (step for step in steps if step.name == "pour slate")
    (limit,) = (one for one in pour.after if steps[one.step].kind == "cool")
    assert (steps[limit.step].minutes, limit.within_min) == (20, 6)


@pytest.mark.parametrize(
    ("window", "from_c", "minutes"),
    [
        ((35.0, 50.0), 80.0, (20, 40)),
        ((None, 50.0), 80.0, (20, math.inf)),
        ((50.0, None), 80.0, (0, 20)),
        ((50.0, 90.0), 80.0, (0, 20)),
        ((65.0, 80.0), 65.0, (0, 0)),
        ((10.0, 50.0), 80.0, (20, math.inf)),  # it never is as cold as that
        ((10.0, 15.0), 80.0, (math.inf, math.inf)),
    ],
)
def test_when_a_pot_is_in_a_window(
    window: tuple[float | None, float | None], from_c: float, minutes: tuple[float, float]
) -> None:
    assert pot("slate").minutes_in(window, from_c) == pytest.approx(minutes)


def test_a_window_and_all_that_is_ready_in_it() -> None:
    """A pot is in its window for 11 min from the first step's end, 65; the pieces lie at 69."""
    ends = (65, 69, 60)
    pour = RoundStep("pour", 3, after=(StepLimit(0, 4, 11), StepLimit(1), StepLimit(2, 90)))
    assert (minutes_in_window(pour, ends), minutes_ready(pour, ends)) == ((65, 76), (69, 76))
    # Another pot that is poured with it, from 60 to 73.
    two = RoundStep("pour", 3, after=(*pour.after, StepLimit(2, 5, 13)))
    assert (minutes_in_window(two, ends), minutes_ready(two, ends)) == ((65, 73), (69, 73))
    # Pieces that are ready once it is over.
    late = (65, 76, 60)
    assert (minutes_in_window(pour, late), minutes_ready(pour, late)) == ((65, 76), None)
    assert minutes_ready(RoundStep("pour", 3, after=(StepLimit(0),)), ends) is None


def test_a_pot_is_in_its_window_for_as_long_as_it_cools_through_it() -> None:
    """From 80 C in a room of 20 C to 50 C takes 20 min, to 46 C 24.2: 4 whole min."""
    body = replace(BODY, pour_c=(46.0, 50.0))
    steps = kelp(layers=(DETAIL, body)).steps
    (pour,) = (step for step in steps if step.name == "pour slate")
    (limit,) = (one for one in pour.after if steps[one.step].kind == "cool")
    assert limit.window_min == 4


def test_a_table_of_cooling_lies_on_newtons_law() -> None:
    one = pot("slate")
    table = one.cooling_table(80.0, 55.3, 50.0)
    assert (table[0], table[-1]) == ((80.0, 0.0), (50.0, pytest.approx(20.0)))
    assert 55.3 in [at_c for at_c, _ in table]
    for (hot_c, early), (cold_c, late) in pairwise(table):
        assert 0 < hot_c - cold_c <= 2.0
        # T = 20 + 60 x 2^(-t/20), and half-way between two rows.
        assert early == pytest.approx(20 * math.log2(60 / (hot_c - 20)))
        between = 20 * math.log2(60 / ((hot_c + cold_c) / 2 - 20))
        assert (early + late) / 2 == pytest.approx(between, abs=0.1)


def test_what_a_pot_is_reheated_to() -> None:
    one = pot("slate")
    assert one.reheat_c((50.0, 56.0)) == 61.0
    assert one.reheat_c((50.0, 56.0), 63.0) == 63.0
    assert one.reheat_c((50.0, 79.0)) == one.melted_c == 80.0


def test_what_is_held_and_how_long() -> None:
    one = kelp()
    held = {hold.resource: hold for hold in one.holds}
    end = len(one.steps) - 1
    slate = names(one).index("pour slate")
    chill = names(one).index("chill")
    assert held["kelp pieces"] == ResourceHold("kelp pieces", 6, 0, end)
    assert held["six-oblong"] == ResourceHold("six-oblong", 6, slate, end)
    assert held[CHILL_PLACES] == ResourceHold(CHILL_PLACES, 6, chill, chill)


def test_without_pieces_the_cavity_is_taken_by_the_first_layer() -> None:
    one = kelp(piece=None)
    (cavity,) = [hold for hold in one.holds if hold.resource == "six-oblong"]
    assert one.steps[cavity.from_step].name == "pour white"
    assert "pieces" not in names(one)
    assert all(hold.resource != "kelp pieces" for hold in one.holds)


@pytest.mark.parametrize(
    ("chilled", "places", "minutes", "held"),
    [(6, 6, 10, 6), (6, 4, 20, 4), (6, 1, 60, 1), (2, 4, 10, 2)],
)
def test_fewer_places_chill_in_turns(chilled: int, places: int, minutes: int, held: int) -> None:
    one = kelp(chilled=chilled, chill_places=places)
    (step,) = [step for step in one.steps if step.kind == "chill"]
    assert step.minutes == minutes
    assert [hold.count for hold in one.holds if hold.resource == CHILL_PLACES] == [held]
    free = kelp(chilled=chilled, chill_places=None)
    assert all(hold.resource != CHILL_PLACES for hold in free.holds)


# Pots that are poured more than once ------------------------------------------------------


def test_pieces_are_poured_in_as_many_heats_as_the_window_asks() -> None:
    """From 80 C to 70 C in 20 log2(60 / 50) = 5.26 min: five of the six pieces, so three, and
    three more once the pot is reheated to 80 C; 2.26 min of its window are over."""
    hot = replace(DETAIL, pour_c=(70.0, 80.0))
    one = kelp(layers=(hot, BODY))
    pours = [(place, step) for place, step in enumerate(one.steps) if step.name == "pour white"]
    assert [(step.count, step.minutes) for _, step in pours] == [(3, 3), (3, 3)]
    (first, _), (second, last) = pours
    (reheat,) = (place for place, step in enumerate(one.steps) if step.kind == "reheat")
    assert one.steps[reheat].after == (StepLimit(first),)
    assert one.steps[reheat].minutes == REHEAT_MIN
    assert one.steps[reheat].window_c == (80.0, None)
    assert last.after == (StepLimit(first), StepLimit(reheat, 1, 5))
    assert one.steps[second + 1].after == (StepLimit(second),)  # all pieces rest together


def test_a_pot_of_two_layers_is_melted_once_and_reheated_if_it_is_late() -> None:
    """Poured at 80 C, the pot is at 35 C after 40 min; the detail takes 6 + 15 + 10 + 3 = 34. With
    a rest of 25 it is late: reheated by 5 C over its window, but never beyond 80 C."""
    body = replace(BODY, pot="white", stirrings=())
    one = kelp(layers=(DETAIL, body))
    assert names(one).count("melt white") == names(one).count("heat white") == 1
    assert "reheat white" not in names(one)
    longer = replace(DETAIL, then=(replace(DETAIL.then[0], minutes=25), *DETAIL.then[1:]))
    late = kelp(layers=(longer, body))
    assert names(late).count("melt white") == 1
    (reheat,) = (step for step in late.steps if step.kind == "reheat")
    assert reheat.window_c == (55.0, None)
    scented = replace(body, stirrings=(Stirring("scent", 0, (60.0, 65.0)),))
    (reheat,) = (step for step in kelp(layers=(longer, scented)).steps if step.kind == "reheat")
    assert reheat.window_c == (65.0, None)
    hottest = replace(body, pour_c=(75.0, 79.0))
    (reheat,) = (step for step in kelp(layers=(longer, hottest)).steps if step.kind == "reheat")
    assert reheat.window_c == (80.0, None)


def test_layers_of_two_pots_are_poured_together() -> None:
    """A swirl: both pots ready, one pour, and both windows are kept."""
    swirl = LayerTask(2, "red", (35.0, 50.0), (), (FollowingStep("set", 720, 0),), 6, joined=True)
    ground = replace(BODY, then=())
    one = kelp(layers=(DETAIL, ground, swirl), pots={**POTS, "red": pot("red")})
    pours = [step for step in one.steps if step.kind == "pour"]
    assert [step.layers for step in pours] == [(0,), (1, 2)]
    cooled = {one.steps[limit.step].pot for limit in pours[1].after
              if one.steps[limit.step].kind == "cool"}  # fmt: skip
    assert cooled == {"slate", "red"}
    # From one pot they are poured one after the other.
    again = kelp(layers=(DETAIL, ground, replace(swirl, pot="slate")))
    assert [step.layers for step in again.steps if step.kind == "pour"] == [(0,), (1,), (2,)]


def test_two_oils_of_one_window_follow_at_once() -> None:
    both = replace(BODY, stirrings=(*BODY.stirrings, Stirring("scent", 1, (50.0, 65.0))))
    steps = kelp(layers=(DETAIL, both)).steps
    first, second = (place for place, step in enumerate(steps) if step.kind == "scent")
    assert steps[second].after == (StepLimit(first, 0),)


def test_a_layer_on_pieces_that_nothing_is_poured_into() -> None:
    """One layer and a mat: the pieces are laid on a dab of its own pot before it is poured."""
    one = kelp(layers=(replace(BODY, number=0),))
    place = names(one).index("place")
    assert one.steps[place].layers == (0,)
    assert StepLimit(names(one).index("heat slate")) in one.steps[place].after
    assert StepLimit(place, 90) in one.steps[names(one).index("pour slate")].after
    held = {hold.resource: one.steps[hold.from_step].kind for hold in one.holds}
    assert held == {"six-oblong": "pour", "kelp pieces": "set out"}


def test_what_is_out_of_its_window_may_be_poured_if_it_must() -> None:
    """A pot that is through its window in half a minute: no hands are as quick as that after
    laying the pieces, so its heat sets no limit, and the maker is told to warm it."""
    quick = {"white": POTS["white"], "slate": pot("slate", rate=5.0)}
    with_limits, without = kelp(pots=quick), kelp(pots=quick, in_windows=False)
    assert any(
        limit.within_min == 0
        for step in with_limits.steps if step.name == "pour slate" for limit in step.after
    )  # fmt: skip
    for step in without.steps:
        if step.kind in ("pour", "scent"):
            assert all(
                limit.within_min is None or without.steps[limit.step].kind in ("pieces", "pour")
                for limit in step.after
            )
    assert plan_round(without).elapsed_min > 720


@pytest.mark.parametrize("hours", [5, 92])
def test_a_layer_waits_as_long_as_the_hands_need(hours: int) -> None:
    """One layer that is set out and melted in longer than a session: it is poured all the same,
    an hour after its pot was put on the heat, or so."""
    one = LayerTask(0, "slate", (35.0, 50.0), (), (FollowingStep("set", 720),), casts=6)
    with pytest.raises(FigureError, match="into the hours that there are"):
        plan_round(kelp(layers=(one,), pour_min=60 * hours, piece=None))
    made = kelp(layers=(one,), pour_min=60 * hours, piece=None, long_waits=True)
    when = times(made)
    assert sum(step.minutes for step in made.steps if step.hands) == 60 * hours + 12
    assert when["pour slate"][0] - when["set out"][1] > 90
    assert 40 <= when["pour slate"][0] - when["heat slate"][0] <= 60


def test_a_pot_that_the_room_keeps_from_its_window_is_not_waited_for() -> None:
    """In a room of 60 C no pot cools to 50: the forecast says nothing of it, and all pieces are
    poured in one heat."""
    warm = {name: replace(one, room_c=60.0) for name, one in POTS.items()}
    detail = replace(DETAIL, pour_c=(35.0, 50.0))
    made = kelp(layers=(detail, BODY), pots=warm)
    assert [step.count for step in made.steps if step.kind == "pour"] == [6, 6]
    assert plan_round(made).elapsed_min < 900


# Counted -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("window_min", "casts", "in_one"),
    [
        (4.6, 6, 5),
        (4.4, 6, 4),
        (0.2, 6, 1),
        (6.0, 6, 6),
        (99.0, 6, 6),
        (math.inf, 6, 6),
        (1.0, 1, 1),
    ],
)
def test_casts_in_one_heat_on_paper(window_min: float, casts: int, in_one: int) -> None:
    assert casts_in_one_heat(window_min, casts) == in_one


@given(st.floats(0, 60), st.integers(1, 40))
def test_no_more_casts_than_the_window_has_minutes(window_min: float, casts: int) -> None:
    found = casts_in_one_heat(window_min, casts)
    assert 1 <= found <= casts
    # The last is poured half a minute after it is begun.
    assert found <= max(1.0, window_min + 0.5)
    assert found == casts or found + 0.5 > window_min


def chain(*minutes: int, setting: int = 0) -> CastingRound:
    """Steps one after the other, the last but one in the mould for ``setting`` min."""
    kinds = [("do", length) for length in minutes]
    if setting:
        kinds.insert(len(kinds) - 1, ("set", setting))
    steps = tuple(
        RoundStep(kind, length, kind == "do", (StepLimit(place - 1),) if place else ())  # type: ignore[arg-type]
        for place, (kind, length) in enumerate(kinds)
    )
    return CastingRound("one", "one", steps, ())


TEN_HOURS = WorkingHours(480, 1080)


@pytest.mark.parametrize(
    ("one", "rounds", "days"),
    [
        (chain(50, 20, setting=720), 1, 2),  # unmoulded on the second day
        (chain(50, 20, setting=720), 4, 5),  # a round a day, the last unmoulded on the fifth
        (chain(50, 20, setting=1440), 1, 2),
        (chain(50, 20, setting=2000), 1, 3),  # 33 h in the mould
        (chain(40, 20, setting=120), 3, 1),  # 3 h each: three in ten hours
        (chain(40, 20, setting=120), 4, 2),
        (chain(300, 300), 2, 2),  # all of a day each
    ],
)
def test_days_on_paper(one: CastingRound, rounds: int, days: int) -> None:
    assert days_of_rounds(one, rounds, TEN_HOURS) == days


@given(st.integers(1, 200), st.integers(1, 1400), st.integers(1, 60), st.integers(1, 12))
@examples(60)
def test_rounds_never_take_fewer_days_than_there_is_time(
    pour: int, setting: int, tidy: int, rounds: int
) -> None:
    one = chain(pour, tidy, setting=setting)
    days = days_of_rounds(one, rounds, TEN_HOURS)
    assert days_of_rounds(one, rounds + 1, TEN_HOURS) in (days, days + 1)
    # From the first begin to the last end all minutes of all rounds lie one after the other.
    assert days * 1440 >= rounds * length_min(one) - (1440 - 600)
    if length_min(one) <= 600:
        assert days * 600 >= rounds * length_min(one) / 2


@given(st.integers(1, 120), st.integers(60, 900), st.integers(1, 60), st.integers(1, 3))
@examples(15)
def test_a_day_sheet_takes_the_days_that_a_card_says(
    pour: int, setting: int, tidy: int, rounds: int
) -> None:
    """Rounds of one mould, by the clock: as many days as are said, and no fewer."""
    own = chain(pour, tidy, setting=setting)
    hold = ResourceHold("cavities", 1, 0, len(own.steps) - 1)
    one = CastingRound("one", "one", own.steps, (hold,))
    sheet = plan_day([one] * rounds, {"cavities": 1}, start_min=480, hours=TEN_HOURS)
    took = -(-max(step.end_min for step in sheet.steps) // 1440)
    said = days_of_rounds(own, rounds, TEN_HOURS)
    assert said - 1 <= took <= said, (took, said)


@given(st.integers(0, 500), st.integers(1, 9))
def test_minutes_are_shared_whole(total: int, parts: int) -> None:
    shared = shared_minutes(total, parts)
    assert sum(shared) == total
    assert len(shared) == parts
    assert max(shared) - min(shared) <= 1
    assert list(shared) == sorted(shared, reverse=True)


def test_the_longest_chain_between_two_steps() -> None:
    """5 + 30 + 2 beside 5 + 10 + 2; nothing leads from one side to the other."""
    steps = (
        RoundStep("pour", 5),
        RoundStep("rest", 30, after=(StepLimit(0),)),
        RoundStep("heat", 10, after=(StepLimit(0),)),
        RoundStep("place", 2, after=(StepLimit(1), StepLimit(2))),
    )
    assert chain_min(steps, 0, 3) == 37
    assert chain_min(steps, 2, 3) == 12
    assert chain_min(steps, 1, 2) == 0


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(FigureError, match="has no layer"):
        kelp(layers=())
    with pytest.raises(FigureError, match="6 to chill in 0 places"):
        kelp(chill_places=0)
    with pytest.raises(FigureError, match="0 to chill in 6 places"):
        kelp(chilled=0)
    with pytest.raises(FigureError, match="-1 min over 2 steps: not below 0, and one step or more"):
        shared_minutes(-1, 2)
    with pytest.raises(FigureError, match="1 min over 0 steps: not below 0, and one step or more"):
        shared_minutes(1, 0)


# Any round -----------------------------------------------------------------------------

thens = st.lists(
    st.builds(FollowingStep, st.sampled_from(("rest", "chill", "do")), st.integers(0, 30)),
    max_size=3,
).map(tuple)
windows = st.sampled_from([None, (35.0, 50.0), (60.0, 70.0), (None, 50.0), (55.0, None)])
stirrings = st.lists(
    st.builds(Stirring, st.sampled_from(("stir", "scent")), st.integers(0, 3), windows), max_size=2
).map(tuple)


@st.composite
def layers_of_a_round(draw: st.DrawFn) -> tuple[LayerTask, ...]:
    count = draw(st.integers(1, 3))
    casts, relief = draw(st.integers(1, 6)), draw(st.integers(-1, count - 2))
    return tuple(
        LayerTask(
            number, draw(st.sampled_from("ab")), draw(windows), draw(stirrings), draw(thens),
            casts, number <= relief, number > relief + 1 and draw(st.booleans()),
        )
        for number in range(count)
    )  # fmt: skip


@given(
    layers_of_a_round(),
    st.sampled_from([HALF_IN_20_MIN, 0.01, None]),
    st.sampled_from([20.0, 60.0]),
    st.booleans(),
    st.integers(0, 3000),
)
@examples(150)
def test_any_round_can_be_followed_where_windows_may_be_missed(
    layers: tuple[LayerTask, ...], rate: float | None, room_c: float, pieces: bool, pour_min: int
) -> None:
    pots = {name: replace(pot(name, rate=rate), room_c=room_c) for name in "ab"}
    piece = "pieces" if pieces else None
    made = kelp(layers, pots, piece=piece, pour_min=pour_min, long_waits=True, in_windows=False)
    assert plan_round(made).hands_on_min >= pour_min


@given(layers_of_a_round(), st.sampled_from([HALF_IN_20_MIN, 0.01, None]), st.booleans())
@examples(150)
def test_any_round_is_in_order(
    layers: tuple[LayerTask, ...], rate: float | None, pieces: bool
) -> None:
    pots = {name: pot(name, rate=rate) for name in "ab"}
    made = kelp(layers=layers, pots=pots, piece="pieces" if pieces else None)
    melted: dict[str, int] = {}
    for place, step in enumerate(made.steps):
        assert all(before.step < place for before in step.after)
        if step.kind == "heat":
            assert step.pot not in melted  # a pot is melted once
            melted[step.pot] = place
            assert made.steps[place - 1].name == f"melt {step.pot}"
            assert step.after == (StepLimit(place - 1, 0),)
        if step.kind in ("stir", "scent", "pour", "cool", "reheat"):
            used = {layers[number].pot for number in step.layers} or {step.pot}
            assert used <= set(melted)
    poured = [number for step in made.steps if step.kind == "pour" for number in step.layers]
    assert sorted(set(poured)) == list(range(len(layers)))
    assert poured == sorted(poured)
    for layer in layers:
        casts = sum(
            step.count for step in made.steps
            if step.kind == "pour" and layer.number in step.layers
        )  # fmt: skip
        assert casts == layer.casts
        first = min(
            place for place, step in enumerate(made.steps)
            if step.kind == "pour" and layer.number in step.layers
        )  # fmt: skip
        stirred = [
            (step.kind, step.entry) for step in made.steps[:first]
            if step.kind in ("stir", "scent") and step.layers == (layer.number,)
        ]  # fmt: skip
        assert stirred == [(one.kind, one.entry) for one in layer.stirrings]


def test_nothing_melts_when_nobody_is_there() -> None:
    """Begun at a quarter to six, it is not done by six: all of it is for the morning."""
    made = kelp()
    sheet = plan_day(
        (made,),
        {"six-oblong": 6, "kelp pieces": 6, CHILL_PLACES: 6},
        start_min=17 * 60 + 45,
        hours=WorkingHours(8 * 60, 18 * 60),
    )
    when = {step.step.name: step.start_min for step in sheet.steps}
    assert when["pour white"] >= 24 * 60 + 8 * 60
    assert when["pour slate"] - when["pour white"] <= 6 + 28 + 90
    for step in sheet.steps:
        if step.step.kind in ("melt", "heat"):
            assert 8 * 60 <= step.start_min % (24 * 60) <= 18 * 60
