"""The day sheet: lawful at every minute, within a tenth of the best that there is."""

from __future__ import annotations

import os
import random
from collections.abc import Mapping, Sequence
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.day import search
from journal.figures.day.limits import cannot_be_kept
from journal.figures.day.rounds import (
    FollowingStep,
    LayerTask,
    PotTask,
    RoundEnd,
    RoundPlaces,
    Stirring,
    round_of,
)
from journal.figures.day.sheet import DaySheet, day_and_minute, plan_day
from journal.figures.day.steps import (
    MINUTES_A_DAY,
    CastingRound,
    ResourceHold,
    RoundStep,
    StepLimit,
    WorkingHours,
    lower_bound_min,
)

# What the rule may be longer than the best plan, as agreed for small orders.
TENTH = 0.10
# Sixty take two seconds. With DAY_SHEET_ORDERS=3000 (two minutes; pytest -o timeout=900) the
# worst was 3.6 % longer than the best, and all but six were the best.
SMALL_ORDERS = int(os.environ.get("DAY_SHEET_ORDERS", "60"))
# A few hundred of these take minutes: the trial of all orders grows fast with what is in the way.
WINDOWED_ORDERS = int(os.environ.get("WINDOWED_ORDERS", "12"))
SEED = 5

# A step by its round and place; a use of hands or of something else: from which, to which, so many.
At = tuple[int, int]
Use = tuple[At, At, int]

CAPACITY = {"cavities": 6, "pieces": 6, "chill places": 6}


def check_lawful(
    sheet: DaySheet,
    rounds: Sequence[CastingRound],
    capacity: Mapping[str, int],
    start_min: int,
    hours: WorkingHours | None,
) -> None:
    """Every rule of a plan, looked at minute by minute and step by step."""
    by_place = {(step.number, step.place): step for step in sheet.steps}
    assert len(by_place) == len(sheet.steps) == sum(len(one.steps) for one in rounds)
    busy: set[int] = set()
    use: dict[tuple[str, int], int] = {}
    for number, one in enumerate(rounds):
        for place, step in enumerate(one.steps):
            timed = by_place[number, place]
            assert timed.step is step
            assert timed.start_min >= start_min
            assert timed.end_min - timed.start_min == step.minutes
            for before in step.after:
                wait = timed.start_min - by_place[number, before.step].end_min
                assert wait >= 0
                assert before.within_min is None or wait <= before.within_min
            if step.hands:
                minutes = set(range(timed.start_min, timed.end_min))
                assert not busy & minutes
                busy |= minutes
                if hours is not None and step.minutes:
                    opens = timed.start_min // MINUTES_A_DAY * MINUTES_A_DAY
                    assert opens + hours.opens_min <= timed.start_min
                    assert timed.end_min <= opens + hours.closes_min
        for hold in one.holds:
            first = by_place[number, hold.from_step].start_min
            last = by_place[number, hold.to_step].end_min
            for minute in range(first, last):
                use[hold.resource, minute] = use.get((hold.resource, minute), 0) + hold.count
    assert all(count <= capacity[resource] for (resource, _), count in use.items())
    assert sheet.hands_on_min == len(busy)
    assert sheet.elapsed_min >= lower_bound_min(rounds, capacity)
    assert sheet.elapsed_min == max(s.end_min for s in sheet.steps) - sheet.steps[0].start_min


def chain(
    name: str, *minutes: int, holds: tuple[ResourceHold, ...] = (), kind: str = ""
) -> CastingRound:
    """Steps in a row, hands on and hands off by turns."""
    steps = tuple(
        RoundStep(
            "rest" if place % 2 else "do", length, place % 2 == 0,
            (StepLimit(place - 1),) if place else (),
        )
        for place, length in enumerate(minutes)
    )  # fmt: skip
    return CastingRound(name, kind or name, steps, holds)


ON_PAPER = [
    ("one round", [(10, 60, 5)], 6, "10 + 60 + 5", 75, 15),
    ("two overlap", [(10, 60, 5)] * 2, 12, "the second 10 min after the first", 85, 30),
    ("two in turn", [(10, 60, 5)] * 2, 6, "6 cavities: the second when the first is out", 150, 30),
    ("long wait first", [(5, 10, 5), (10, 60, 5)], 12, "10 + 60 + 5, the other within", 75, 25),
]


@pytest.mark.parametrize(("case", "rounds", "cavities", "inputs", "elapsed", "hands"), ON_PAPER)
def test_days_on_paper(
    case: str, rounds: list[tuple[int, ...]], cavities: int, inputs: str, elapsed: int, hands: int
) -> None:
    planned = [
        chain(f"round {place}", *minutes, holds=(ResourceHold("cavities", 6, 0, 2),))
        for place, minutes in enumerate(rounds)
    ]
    capacity = {"cavities": cavities}
    sheet = plan_day(planned, capacity, start_min=540, hours=None)
    assert (sheet.elapsed_min, sheet.hands_on_min) == (elapsed, hands), (case, inputs)
    check_lawful(sheet, planned, capacity, 540, None)


def test_an_evening_waits_for_the_morning() -> None:
    """Poured at 17:00 to 17:50, twelve hours in the mould: 5:50 in the night, unmoulded when
    the hands are there again, at 9:00."""
    one = chain("late", 50, 720, 20)
    hours = WorkingHours(540, 1080)
    sheet = plan_day([one], {}, start_min=1020, hours=hours)
    assert [(step.start_min, step.end_min) for step in sheet.steps] == [
        (1020, 1070),
        (1070, 1790),
        (MINUTES_A_DAY + 540, MINUTES_A_DAY + 560),
    ]
    assert day_and_minute(sheet.steps[-1].start_min) == (2, 540)
    # Ten minutes later the pour itself would run past six o'clock.
    later = plan_day([chain("later", 50, 720, 20)], {}, start_min=1035, hours=hours)
    assert later.steps[0].start_min == MINUTES_A_DAY + 540


def test_a_pot_is_melted_no_sooner_than_it_keeps() -> None:
    """The body's pot keeps 10 min: it is melted to be ready when the detail has rested."""
    steps = (
        RoundStep("pour", 10, True, pot="white"),
        RoundStep("rest", 60, False, (StepLimit(0),)),
        RoundStep("melt", 20, False, pot="slate"),
        RoundStep("pour", 10, True, (StepLimit(2, 10), StepLimit(1)), pot="slate"),
    )
    one = CastingRound("one", "one", steps, ())
    sheet = plan_day([one], {}, start_min=0, hours=None)
    starts = {step.step.name: step.start_min for step in sheet.steps}
    assert starts == {"pour white": 0, "rest": 10, "melt slate": 40, "pour slate": 70}
    check_lawful(sheet, [one], {}, 0, None)


def test_a_limit_that_cannot_be_kept_is_said() -> None:
    """A wait of twelve hours that must end in the presence of hands, within half an hour, of
    a working day of four: it never fits."""
    steps = (
        RoundStep("pour", 10, True),
        RoundStep("set", 720, False, (StepLimit(0, 0),)),
        RoundStep("unmould", 10, True, (StepLimit(1, 30),)),
    )
    with pytest.raises(FigureError, match="into the hours that there are"):
        plan_day(
            [CastingRound("one", "one", steps, ())], {}, start_min=540, hours=WorkingHours(540, 780)
        )


def best_by_trying(
    rounds: Sequence[CastingRound], capacity: Mapping[str, int], at_most: int
) -> int:
    """The shortest plan of all, by trying every order of all steps.

    Independent of the rule: steps are started in order of time, each as early
    as it can be after the one before it; some such order is as good as any plan.
    """
    best = at_most
    starts: dict[tuple[int, int], int] = {}
    total = sum(len(one.steps) for one in rounds)
    tails = []
    for one in rounds:
        tail = [0] * len(one.steps)
        for place in reversed(range(len(one.steps))):
            after = [
                tail[other]
                for other, step in enumerate(one.steps)
                if any(before.step == place for before in step.after)
            ]
            tail[place] = one.steps[place].minutes + max(after, default=0)
        tails.append(tail)

    def room(at: int, hold: ResourceHold, start: int) -> int | None:
        held = 0
        ends = []
        for other, one in enumerate(rounds):
            for taken in one.holds:
                if taken.resource != hold.resource or (other == at and taken is hold):
                    continue
                if (other, taken.from_step) in starts:
                    if (other, taken.to_step) in starts:
                        end = starts[other, taken.to_step] + one.steps[taken.to_step].minutes
                        ends.append((end, taken.count))
                    else:
                        held += taken.count
        for moment in [start, *sorted(end for end, _ in ends if end > start)]:
            busy = held + sum(count for end, count in ends if end > moment)
            if busy + hold.count <= capacity[hold.resource]:
                return moment
        return None

    def go_on(last: int, hands_free: int, span: int) -> None:
        nonlocal best
        if len(starts) == total:
            best = min(best, span)
            return
        tried = set()
        for at, one in enumerate(rounds):
            for place, step in enumerate(one.steps):
                if (at, place) in starts:
                    continue
                if any((at, before.step) not in starts for before in step.after):
                    continue
                start: int | None = max(
                    [last]
                    + [
                        starts[at, before.step] + one.steps[before.step].minutes
                        for before in step.after
                    ]
                    + ([hands_free] if step.hands else [])
                )
                for hold in one.holds:
                    if hold.from_step == place and start is not None:
                        start = room(at, hold, start)
                if start is None or start + tails[at][place] >= best:
                    continue
                own = tuple(starts.get((at, other)) for other in range(len(one.steps)))
                if (one.kind, place, start, own) in tried:
                    continue
                tried.add((one.kind, place, start, own))
                starts[at, place] = start
                end = start + step.minutes
                go_on(start, end if step.hands else hands_free, max(span, end))
                del starts[at, place]

    go_on(0, 0, 0)
    return best


def small_order(chance: random.Random) -> tuple[list[CastingRound], dict[str, int]]:
    """Two or three rounds of three to five steps, at small counts of everything."""
    kinds = []
    for _ in range(chance.randint(1, 3)):
        length = chance.randint(3, 5)
        minutes = [
            chance.randint(1, 4) if place % 2 == 0 else chance.randint(1, 8)
            for place in range(length)
        ]
        holds = [ResourceHold("cavities", 1, chance.randint(0, 1), length - 1)]
        if chance.random() < 0.6:
            holds.append(ResourceHold("pieces", 1, 0, length - 1))
        if chance.random() < 0.6:
            wait = chance.choice([place for place in range(length) if place % 2])
            holds.append(ResourceHold("chill places", 1, wait, wait))
        kinds.append((minutes, tuple(holds)))
    rounds = []
    for place in range(chance.randint(2, 3)):
        kind = chance.randrange(len(kinds))
        minutes, holds_of_kind = kinds[kind]
        rounds.append(chain(f"round {place}", *minutes, holds=holds_of_kind, kind=str(kind)))
    return rounds, {name: chance.randint(1, 2) for name in CAPACITY}


def test_the_rule_is_within_a_tenth_of_the_best_on_small_orders() -> None:
    chance = random.Random(SEED)
    bettered = 0
    for _ in range(SMALL_ORDERS):
        rounds, capacity = small_order(chance)
        sheet = plan_day(rounds, capacity, start_min=0, hours=None)
        check_lawful(sheet, rounds, capacity, 0, None)
        best = best_by_trying(rounds, capacity, sheet.elapsed_min)
        bound_min = lower_bound_min(rounds, capacity)
        assert bound_min <= best
        assert sheet.elapsed_min <= (1 + TENTH) * best, (rounds, capacity)
        bettered += best > bound_min
    # The cases are worth the name: in some of them the bound alone would not tell.
    assert bettered >= SMALL_ORDERS // 10


def test_the_search_itself_finds_what_can_be_seen() -> None:
    """Hands 4, rest 8, hands 4, twice, cavities for both: 4 + 4 + idle 4 + 4 + 4 = 20; in one
    cavity one after the other, 32."""
    rounds = [
        chain(f"round {p}", 4, 8, 4, holds=(ResourceHold("cavities", 1, 0, 2),)) for p in (1, 2)
    ]
    assert best_by_trying(rounds, {"cavities": 2}, 99) == 20
    assert best_by_trying(rounds, {"cavities": 1}, 99) == 32


# Rounds with windows, and pots that are poured twice ----------------------------------------


class Shorter:
    """Whether there is a plan that is done by a moment, by trying every order at every conflict.

    Independent of the rule, and exact with limits of time: each step is put as early as what it
    follows and limits it allow, which no plan betters; where hands or a resource are used twice
    then, one use must be over before another begins, and each such pair is tried.
    """

    def __init__(self, rounds: Sequence[CastingRound], capacity: Mapping[str, int]) -> None:
        steps = {
            (number, place): step
            for number, one in enumerate(rounds)
            for place, step in enumerate(one.steps)
        }
        self.minutes = {at: step.minutes for at, step in steps.items()}
        # (a, b, lag): b begins at the begin of a and lag minutes, or later.
        self.lags = []
        for (number, place), step in steps.items():
            for before in step.after:
                ahead = (number, before.step)
                self.lags.append((ahead, (number, place), self.minutes[ahead]))
                if before.within_min is not None:
                    most = self.minutes[ahead] + before.within_min
                    self.lags.append(((number, place), ahead, -most))
        # What is used from the begin of one step to the end of another: by how many.
        self.uses = {
            name: [
                ((number, hold.from_step), (number, hold.to_step), hold.count)
                for number, one in enumerate(rounds)
                for hold in one.holds
                if hold.resource == name
            ]
            for name in capacity
        }
        self.capacity = {**capacity, "hands": 1}
        self.uses["hands"] = [(at, at, 1) for at, s in steps.items() if s.hands and s.minutes]
        self.tried = 0

    def by(self, latest: int, more: tuple[tuple[At, At, int], ...] = ()) -> bool:
        """Whether all can be done by minute ``latest``."""
        self.tried += 1
        assert self.tried < 50_000, "too large a case to try out"
        starts = self._earliest(latest, more)
        if starts is None:
            return False
        clash = self._clash(starts)
        if clash is None:
            return True
        return any(
            self.by(latest, (*more, (ends, begins, self.minutes[ends])))
            for (_, ends, _), (begins, _, _) in permutations(clash, 2)
        )

    def _earliest(self, latest: int, more: tuple[tuple[At, At, int], ...]) -> dict[At, int] | None:
        starts = dict.fromkeys(self.minutes, 0)
        changed = True
        while changed:
            changed = False
            for before, after, lag in (*self.lags, *more):
                if starts[after] < starts[before] + lag:
                    starts[after] = starts[before] + lag
                    if starts[after] + self.minutes[after] > latest:
                        return None
                    changed = True
        return starts

    def _clash(self, starts: Mapping[At, int]) -> list[Use] | None:
        """Uses that go on at once and are more than there is; as few as can be."""
        for name, uses in self.uses.items():
            spans = [(starts[a], starts[b] + self.minutes[b], (a, b, n)) for a, b, n in uses]
            for moment, _, _ in spans:
                busy = [use for start, end, use in spans if start <= moment < end]
                if sum(count for _, _, count in busy) > self.capacity[name]:
                    return busy[: self.capacity[name] + 1] if self._single(busy) else busy
        return None

    @staticmethod
    def _single(busy: Sequence[Use]) -> bool:
        return all(count == 1 for _, _, count in busy)


def windowed_order(chance: random.Random) -> tuple[list[CastingRound], dict[str, int]]:
    """Two or three rounds of pots that are melted in time and poured in their windows.

    Each has a detail and a body, from two pots or both from one; colder than its first pour or
    reheated for its second. Cavities, pieces and chill places are for one round or two.
    """
    kinds = []
    for _ in range(chance.randint(1, 2)):
        then = [FollowingStep("rest", chance.randint(2, 8))]
        if chance.random() < 0.6:
            then.append(FollowingStep("chill", chance.randint(2, 6)))
        pots = chance.choice((("a", "b"), ("a", "a")))
        low = chance.choice((30.0, 45.0))
        detail = LayerTask(0, pots[0], (60.0, 80.0), (), tuple(then), casts=1, in_relief=True)
        body = LayerTask(
            1, pots[1], (low, low + 15), (Stirring("scent", 0, (low, 70.0)),),
            (FollowingStep("set", chance.randint(5, 25)),), casts=1,
        )  # fmt: skip
        kinds.append(((detail, body), chance.choice((None, "pieces"))))
    tasks = {
        name: PotTask(name, chance.randint(3, 8), 80.0, 20.0, chance.uniform(0.03, 0.08))
        for name in "ab"
    }
    rounds = []
    for number in range(chance.randint(2, 3)):
        kind = chance.randrange(len(kinds))
        layers, piece = kinds[kind]
        rounds.append(
            round_of(
                f"round {number}", str(kind), layers, tasks, (RoundEnd("unmould"),),
                RoundPlaces("cavities", 1, piece, 1, 1),
                pour_min=1, tidy_min=2, session_min=90,
            )
        )  # fmt: skip
    return rounds, {name: chance.randint(1, 2) for name in CAPACITY}


def test_pots_in_their_windows_are_planned_within_a_tenth_of_the_best(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With an eighth of the work that the rule may do, to be quick."""
    monkeypatch.setattr(search, "MOST_STEPS_PLACED", search.MOST_STEPS_PLACED // 8)
    chance = random.Random(SEED)
    planned = proved = 0
    for _ in range(WINDOWED_ORDERS):
        rounds, capacity = windowed_order(chance)
        sheet = plan_day(rounds, capacity, start_min=0, hours=None)
        check_lawful(sheet, rounds, capacity, 0, None)
        planned += 1
        # Nothing a tenth shorter can be done, and the plan itself can.
        least = int(sheet.elapsed_min / (1 + TENTH))
        if least < lower_bound_min(rounds, capacity):
            continue
        assert not Shorter(rounds, capacity).by(least), (rounds, capacity)
        proved += 1
    assert planned == WINDOWED_ORDERS
    assert proved >= planned // 10


def test_the_trial_of_all_orders_finds_what_can_be_seen() -> None:
    """As above; and a rest of 3 min that must be begun and ended at once waits for no hands."""
    rounds = [
        chain(f"round {p}", 4, 8, 4, holds=(ResourceHold("cavities", 1, 0, 2),)) for p in (1, 2)
    ]
    for cavities, least in ((2, 20), (1, 32)):
        assert Shorter(rounds, {"cavities": cavities}).by(least)
        assert not Shorter(rounds, {"cavities": cavities}).by(least - 1)
    at_once = []
    for one in (chain(f"round {p}", 4, 3, 4) for p in (1, 2)):
        first, *others = one.steps
        limited = [replace(step, after=(StepLimit(n, 0),)) for n, step in enumerate(others)]
        at_once.append(CastingRound(one.name, one.kind, (first, *limited), ()))
    # Four minutes do not go into three: the second begins when the first is done, 11 + 11.
    assert Shorter(at_once, {}).by(22)
    assert not Shorter(at_once, {}).by(21)


def limited_round(chance: random.Random) -> CastingRound:
    """A few steps, hands on or not, most of which may wait for the one before a little only."""
    steps = []
    for place in range(chance.randint(3, 7)):
        ahead = chance.sample(range(place), min(place, chance.randint(1, 2)))
        limits = [StepLimit(one, chance.choice((None, 0, 2, 5, 9))) for one in ahead]
        steps.append(RoundStep("do", chance.randint(0, 8), chance.random() < 0.6, tuple(limits)))
    return CastingRound("one", "one", tuple(steps), ())


def test_limits_that_cannot_be_kept_are_seen() -> None:
    """Where it is said, no order of the steps keeps them; and nearly always where none does."""
    chance = random.Random(SEED)
    impossible = said = 0
    for _ in range(300):
        one = limited_round(chance)
        # 56 minutes of steps, and no wait is longer than 9.
        none_keeps = not Shorter([one], {}).by(200)
        impossible += none_keeps
        if cannot_be_kept(one.steps):
            said += 1
            assert none_keeps, one
    assert 60 < impossible < 240
    assert said > 0.95 * impossible


def test_that_they_cannot_be_kept_is_seen_as_soon_in_a_long_round() -> None:
    """A pot keeps for 1 min and its oil takes 2, however long the other steps are."""
    for long in (10, 10_000):
        steps = (
            RoundStep("melt", long, True),
            RoundStep("heat", 20, False, (StepLimit(0, 0),)),
            RoundStep("scent", 2, True, (StepLimit(1),)),
            RoundStep("pour", long, True, (StepLimit(1, 1), StepLimit(2))),
        )
        planner = search.DayScheduler([CastingRound("one", "one", steps, ())], {}, 0, None)
        assert planner.schedule([(0, place) for place in range(4)]) is None
        assert planner.steps_placed <= 4 * search.USUAL_PASSES


hours_of_a_day = st.one_of(
    st.none(), st.just(WorkingHours(540, 1080)), st.just(WorkingHours(0, 400))
)


@given(st.randoms(use_true_random=False), hours_of_a_day, st.integers(0, 900))
@examples(25)
def test_every_plan_is_lawful(
    chance: random.Random, hours: WorkingHours | None, start_min: int
) -> None:
    rounds, capacity = small_order(chance)
    sheet = plan_day(rounds, capacity, start_min=start_min, hours=hours)
    check_lawful(sheet, rounds, capacity, start_min, hours)


def test_the_same_order_has_the_same_sheet() -> None:
    rounds, capacity = small_order(random.Random(11))
    sheets = [plan_day(rounds, capacity, start_min=540, hours=None) for _ in range(2)]
    assert sheets[0] == sheets[1]


def test_many_rounds_overlap() -> None:
    """Twelve rounds of two designs, moulds for two of them at once."""
    rounds = [
        chain(
            f"round {p}",
            13,
            25,
            12,
            90,
            10,
            holds=(ResourceHold("cavities", 6, 2, 4),),
            kind=str(p % 2),
        )
        for p in range(12)
    ]
    capacity = {"cavities": 12}
    sheet = plan_day(rounds, capacity, start_min=0, hours=None)
    check_lawful(sheet, rounds, capacity, 0, None)
    in_turn = sum(13 + 25 + 12 + 90 + 10 for _ in rounds)
    assert sheet.elapsed_min < in_turn / 1.8
    assert sheet.elapsed_min <= (1 + TENTH) * lower_bound_min(rounds, capacity)


def test_least_minutes_on_paper() -> None:
    """Two rounds of 10 min hands and 60 min rest in one cavity: 2 x 70; in two: the hands of
    both are 20, the longer chain 70."""
    rounds = [
        chain(f"round {p}", 10, 60, holds=(ResourceHold("cavities", 1, 0, 1),)) for p in (1, 2)
    ]
    assert lower_bound_min(rounds, {"cavities": 1}) == 140
    assert lower_bound_min(rounds, {"cavities": 2}) == 70


def one_step(**changes: object) -> CastingRound:
    fields = {"kind": "do", "minutes": 5, "hands": True, "after": ()}
    return CastingRound("one", "one", (RoundStep(**{**fields, **changes}),), ())  # type: ignore[arg-type]


def test_what_makes_no_sense_is_refused() -> None:
    good = one_step()

    def holding(resource: str, count: int, start: int, end: int) -> CastingRound:
        return CastingRound("one", "one", good.steps, (ResourceHold(resource, count, start, end),))

    for rounds, start, hours, said in (
        ([], 0, None, "no round to plan"),
        ([good], -1, None, "a start at minute -1"),
        ([good], 0, WorkingHours(600, 540), "600 to 540 are no working day"),
        ([good], 0, WorkingHours(600, 604), "takes 5 min of hands; a day has 4"),
        ([one_step(minutes=-1)], 0, None, "minutes cannot be below 0"),
        ([one_step(after=(StepLimit(0),))], 0, None, "follows a step that is not before it"),
        ([CastingRound("one", "one", (), ())], 0, None, "has no steps"),
        ([holding("cavities", 7, 0, 0)], 0, None, "needs 7 of cavities; there are 6"),
        ([holding("cavities", 1, 0, 1)], 0, None, "steps that it does not have"),
        ([holding("kettles", 1, 0, 0)], 0, None, "needs 1 of kettles; there are 0"),
    ):
        with pytest.raises(FigureError, match=said):
            plan_day(rounds, CAPACITY, start_min=start, hours=hours)
    with pytest.raises(FigureError, match="minute -1; the first day begins at 0"):
        day_and_minute(-1)


def test_midnight_begins_a_day() -> None:
    assert [day_and_minute(at) for at in (0, 1439, 1440)] == [(1, 0), (1, 1439), (2, 0)]
