"""The day sheet of an order: what goes into it by hand, and what no plan may break."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from math import log
from pathlib import Path

import pytest
from worked_notebook import read

from journal.figures.day.derive_day import (
    MELT_MIN,
    SESSION_MIN,
    DayClock,
    OrderDay,
    capacities,
    derive_day,
    rounds_of_order,
)
from journal.figures.day.derive_order import OrderFigures, derive_order
from journal.figures.day.sheet import TimedStep
from journal.figures.day.steps import CastingRound, WorkingHours, lower_bound_min
from journal.figures.derive import derive_figures
from journal.figures.heat.derive_heat import COOLING, studio_rates
from journal.figures.heat.pot_rates import PotRate, rate_line
from journal.records.notebook import Notebook, read_notebook

DESIGN = "designs/leaf/design.md"
DAY = 24 * 60


def planned(notebook: Notebook, name: str, clock: DayClock) -> tuple[OrderFigures, OrderDay]:
    order = derive_order(notebook, notebook.orders[name])
    figures = derive_figures(notebook, models=False)
    rates = studio_rates(
        run for design in figures.designs.values() for run in design[COOLING].value or ()
    )
    return order, derive_day(notebook, order, rate_line(rates), clock)


@pytest.fixture(scope="module", params=["lantern-fair", "inn-bedrooms"])
def demo(
    request: pytest.FixtureRequest, demo_content: Path
) -> tuple[Notebook, OrderFigures, OrderDay]:
    notebook = read_notebook(demo_content)
    return notebook, *planned(notebook, request.param, DayClock())


def rounds(notebook: Notebook, *seen: PotRate) -> tuple[tuple[CastingRound, ...], dict[str, None]]:
    order = derive_order(notebook, notebook.orders["dozen"])
    assumed: dict[str, None] = {}
    return rounds_of_order(notebook.settings, order.lines, rate_line(seen), assumed), assumed


# By hand -------------------------------------------------------------------------------


def test_a_round_by_hand(tmp_path: Path) -> None:
    """20 min pour four bars in two rounds: 10 min a round, over two pots to set going, two
    pours and one thing to do. The body was poured 25 min after it was melted; nobody read the
    pale pot, and no pot's rate is known, so it takes 20. Tidying is 2 min a bar."""
    found, _ = rounds(read(tmp_path))
    assert len(found) == 7
    assert [(step.name, step.minutes, step.hands) for step in found[0].steps] == [
        ("set pale to melt", 2, True),
        ("melt pale", MELT_MIN, False),  # poured hotter than it is taken off the heat
        ("pour detail", 2, True),
        ("rest 15 min", 15, False),
        ("chill 10 min at 4 C", 10, False),
        ("press flat", 2, True),
        ("set body to melt", 2, True),
        ("melt body", MELT_MIN + 25, False),
        ("pour body", 2, True),
        ("set in the mould", 600, False),
        ("unmould and tidy", 4, True),
    ]
    assert {(hold.resource, hold.count) for hold in found[0].holds} == {
        ("cavities of four", 2), ("leaf-a", 2), ("chill places", 2),
    }  # fmt: skip


def test_a_pot_that_nobody_read_cools_as_the_studio_s_pots_do(tmp_path: Path) -> None:
    """A pot of 168 g was seen to come half way to the room's 20 C every 20 min. The pale one
    holds an eighth, 21 g of two bars with the waste, and at 8^(1/3) the speed takes 10 min. From
    71 C to 46 C, 51 K over the room to 26 K, are 0.97 of a half: 9.7 min, and 10 whole ones."""
    cooler = (DESIGN, "pour: 75-80 C", "pour: 40-46 C")
    found, assumed = rounds(read(tmp_path, cooler), PotRate(168.0, log(2) / 20))
    steps = {step.name: step.minutes for step in found[0].steps}
    assert steps["melt pale"] == MELT_MIN + 10
    assert not any("since none was read" in words for words in assumed)
    _, assumed = rounds(read(tmp_path, cooler))
    assert any("since none was read" in words for words in assumed)


def test_a_pot_is_melted_once_however_many_layers_it_pours(tmp_path: Path) -> None:
    """A third layer from the pale pot: the ten minutes go over two pots, three pours and one
    thing to do, the first four of them a minute longer."""
    back = (
        DESIGN,
        "    then: [unmould after 10 h, peel]\n",
        "    then: [rest 5 min]\n"
        "  - {name: back, pot: pale, base: plain, amount: 5 g, then: [unmould after 10 h, peel]}\n",
    )
    found, _ = rounds(read(tmp_path, back))
    hands = [(step.name, step.minutes) for step in found[0].steps if step.hands]
    assert hands == [
        ("set pale to melt", 2),
        ("pour detail", 2),
        ("press flat", 2),
        ("set body to melt", 2),
        ("pour body", 1),
        ("pour back", 1),
        ("unmould and tidy", 4),
    ]
    assert [step.name for step in found[0].steps if step.name.startswith("melt")] == [
        "melt pale", "melt body",
    ]  # fmt: skip


def test_what_there_is_of_everything(tmp_path: Path) -> None:
    two = ("shelf/moulds.yaml", "on_hand: 1", "on_hand: 2")
    notebook = read(tmp_path, two)
    order = derive_order(notebook, notebook.orders["dozen"])
    assert capacities(notebook.settings, order.lines) == {
        "cavities of four": 8, "leaf-a": 2, "chill places": 4,
    }  # fmt: skip


def test_what_is_not_written_is_assumed_and_said(tmp_path: Path) -> None:
    bare = [
        (DESIGN, "minutes: {pour: 20, tidy: 8}\n", ""),
        (DESIGN, "then: [rest 15 min, chill 10 min at 4 C, press flat]", "then: [press flat]"),
        (DESIGN, "then: [unmould after 10 h, peel]", "then: [peel]"),
    ]
    found, assumed = rounds(read(tmp_path, *bare))
    said = " / ".join(assumed)
    for words in (
        "30 min of pouring",
        "1.5 min of tidying",
        "unmoulded after 12 h",
        "rests 15 min",
    ):
        assert words in said, said
    steps = {step.name: step.minutes for step in found[0].steps}
    assert steps["set in the mould"] == 720
    assert steps["rest 15 min"] == 15
    # Half an hour a round, since no batch says otherwise; a bar and a half each.
    hands = [step.minutes for step in found[0].steps if step.hands]
    assert sum(hands) == 30 + 3


def test_timed_tidying_goes_before_what_was_guessed(tmp_path: Path) -> None:
    timed = (
        DESIGN,
        "{bar: A1, piece: leaf-a, keep: yes",
        "{bar: A1, piece: leaf-a, tidy: 5 min, keep: yes",
    )
    found, _ = rounds(read(tmp_path, timed))
    assert found[0].steps[-1].minutes == 10


def test_one_bar_too_few_chill_places(tmp_path: Path) -> None:
    """Two pieces chill in one place, one after the other."""
    found, _ = rounds(read(tmp_path, ("journal.yaml", "chill_places: 4", "chill_places: 1")))
    assert {step.name: step.minutes for step in found[0].steps}["chill 10 min at 4 C"] == 20


def test_begun_in_time(tmp_path: Path) -> None:
    """Seven rounds on two pieces that are ten hours in the mould: a round a day, and the last
    is unmoulded on day 8. Begun on 22 April it is done on the 29th, the day before."""
    _, day = planned(read(tmp_path), "dozen", DayClock())
    assert day.days == 8
    assert day.begin_by == date(2026, 4, 22)


def test_around_the_clock_it_is_sooner(tmp_path: Path) -> None:
    notebook = read(tmp_path, ("orders/dozen.yaml", "bars: 14", "bars: 6"))
    _, day = planned(notebook, "dozen", DayClock())
    _, always = planned(notebook, "dozen", DayClock(8 * 60, None))
    assert day.sheet is not None
    assert always.sheet is not None
    assert always.sheet.elapsed_min < day.sheet.elapsed_min
    assert always.sheet.hands_on_min == day.sheet.hands_on_min == 3 * (10 + 4)


def test_a_day_too_short_for_a_step_says_why(tmp_path: Path) -> None:
    long = (DESIGN, "minutes: {pour: 20, tidy: 8}", "minutes: {pour: 20, tidy: 900}")
    _, day = planned(read(tmp_path, long), "dozen", DayClock(480, WorkingHours(480, 600)))
    assert day.sheet is None
    assert "unmould and tidy" in day.why
    assert day.begin_by is None


# On the demo ---------------------------------------------------------------------------


def test_one_pair_of_hands_within_its_hours(demo: tuple[Notebook, OrderFigures, OrderDay]) -> None:
    _, _, day = demo
    assert day.sheet is not None
    hands = sorted(
        (step.start_min, step.end_min)
        for step in day.sheet.steps
        if step.hands and step.end_min > step.start_min
    )
    assert all(first[1] <= second[0] for first, second in pairwise(hands))
    for start, end in hands:
        assert start % DAY >= 8 * 60
        assert end - start // DAY * DAY <= 18 * 60
    assert sum(end - start for start, end in hands) == day.sheet.hands_on_min


def step_at(day: OrderDay, own: CastingRound, place: int) -> TimedStep:
    """A step of a round in the plan; names of steps differ within a round of the demo."""
    assert day.sheet is not None
    (found,) = (
        step
        for step in day.sheet.steps
        if step.round == own.name and step.step == own.steps[place].name
    )
    return found


def held(day: OrderDay, resource: str) -> Iterator[tuple[int, int, int]]:
    for own in day.rounds:
        for hold in own.holds:
            if hold.resource == resource:
                start = step_at(day, own, hold.from_step).start_min
                yield start, step_at(day, own, hold.to_step).end_min, hold.count


def test_no_more_is_held_than_there_is(demo: tuple[Notebook, OrderFigures, OrderDay]) -> None:
    """Looked at whenever something is taken hold of."""
    notebook, order, day = demo
    there = capacities(notebook.settings, order.lines)
    assert len(there) > 2
    for resource, count in there.items():
        spans = list(held(day, resource))
        assert spans
        for moment, _, _ in spans:
            taken = sum(n for start, end, n in spans if start <= moment < end)
            assert taken <= count, (resource, moment)


def test_no_layer_waits_longer_than_a_session(
    demo: tuple[Notebook, OrderFigures, OrderDay],
) -> None:
    _, _, day = demo
    for own in day.rounds:
        for place, step in enumerate(own.steps):
            start = step_at(day, own, place).start_min
            for before in step.after:
                wait = start - step_at(day, own, before.step).end_min
                assert wait >= 0
                assert before.within_min is None or wait <= before.within_min
        pours = [place for place, step in enumerate(own.steps) if step.name.startswith("pour ")]
        first, last = step_at(day, own, pours[0]), step_at(day, own, pours[-1])
        assert last.start_min - first.end_min < SESSION_MIN + 60


def test_every_bar_is_made(demo: tuple[Notebook, OrderFigures, OrderDay]) -> None:
    notebook, order, day = demo
    assert day.sheet is not None
    assert len(day.rounds) == sum(len(line.rounds) for line in order.lines)
    assert len({own.name for own in day.rounds}) == len(day.rounds)
    assert {step.round for step in day.sheet.steps} == {own.name for own in day.rounds}
    capacity = capacities(notebook.settings, order.lines)
    assert day.sheet.elapsed_min >= lower_bound_min(day.rounds, capacity)


def test_the_same_order_has_the_same_sheet(tmp_path: Path) -> None:
    notebook = read(tmp_path, ("orders/dozen.yaml", "bars: 14", "bars: 6"))
    assert planned(notebook, "dozen", DayClock())[1] == planned(notebook, "dozen", DayClock())[1]
