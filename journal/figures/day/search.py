"""The search behind the day sheet: serial schedules of lists of steps.

A plan is made from a list, which has all steps of all rounds in some order.
Each step in turn is placed as early as the steps before it, the hands and what
it holds allow. The search is for a list that gives a short plan.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from itertools import permutations, zip_longest
from typing import NamedTuple

from msgspec import Struct

from journal.figures.day.limits import cannot_be_kept
from journal.figures.day.steps import (
    MINUTES_A_DAY,
    CastingRound,
    ResourceHold,
    WorkingHours,
    hands_min,
    length_min,
)

# Up to so many rounds every order of them is tried (24 at most); above it only
# those of round_orders, since their number grows without bound.
ALL_ORDERS_UP_TO = 4
# How many of the orders, the best first, are improved step by step.
ORDERS_IMPROVED = 6
# At a dead end so many steps are moved at random, so many times. The seed is
# fixed: the same order has the same sheet.
SHUFFLED_STEPS = 4
SHUFFLES = 30
SEED = 1
# Steps placed in all, at most: about a second of work. A sheet of a dozen steps
# is done well before that; a long one is improved less.
MOST_STEPS_PLACED = 120_000
# A limit of time that is not met so many days after all rounds could have been
# poured one after the other, each on days of its own, is never met.
PATIENCE_DAYS = 30

# Lists whose limits can be met are placed at most so often, nearly all of them. Then we look
# whether a round's limits can be met at all, which takes as long as ten times more.
USUAL_PASSES = 6

# A step by the places of its round and in its round.
StepPlace = tuple[int, int]
Starts = tuple[tuple[int, ...], ...]


class SchedulePlan(Struct, frozen=True):
    """A list of steps that can be kept, with each step's start in minutes, and its score.

    The score is last end, sum of the rounds' ends, sum of all starts; the lower the better.
    """

    steps: tuple[StepPlace, ...]
    starts: Starts
    score: tuple[int, int, int]


class _StepDemands(NamedTuple):
    """What the start of a step goes by: its minutes, those of the hands (0 or all), steps, holds.

    ``after`` are the steps that are over before it begins, ``holds`` what it takes up from then on.
    """

    minutes: int
    by_hand_min: int
    after: tuple[StepPlace, ...]
    holds: tuple[ResourceHold, ...]


class DayScheduler:
    """Schedules lists of steps for one set of rounds, and counts the steps it has placed."""

    def __init__(
        self,
        rounds: Sequence[CastingRound],
        capacity: Mapping[str, int],
        start_min: int,
        hours: WorkingHours | None,
    ) -> None:
        self.rounds = rounds
        self.capacity = capacity
        self.start_min = start_min
        self.hours = hours
        self.latest_start = start_min + PATIENCE_DAYS * MINUTES_A_DAY
        self.latest_start += sum(length_min(one) + 2 * MINUTES_A_DAY for one in rounds)
        self.steps_placed = 0
        self.hopeless: bool | None = None
        self.generator = random.Random(SEED)
        self.holds = {
            name: tuple(
                (place, hold)
                for place, one in enumerate(rounds)
                for hold in one.holds
                if hold.resource == name
            )
            for name in capacity
        }
        # Lists are placed thousands of times: what the steps go by is looked for once.
        self.demands: dict[StepPlace, _StepDemands] = {}
        self.limits: list[tuple[StepPlace, StepPlace, int]] = []
        for place, one in enumerate(rounds):
            for index, step in enumerate(one.steps):
                after = [(place, before.step) for before in step.after]
                # Of rounds that take turns, the step of the round ahead that a step waits for.
                if one.follows is not None:
                    first_pour = rounds[one.follows].first_pour
                    after += [(one.follows, 0)] if index == 0 else []
                    after += [(one.follows, first_pour)] if index == one.first_pour else []
                holds = tuple(hold for hold in one.holds if hold.from_step == index)
                by_hand_min = step.minutes if step.hands else 0
                at = place, index
                self.demands[at] = _StepDemands(step.minutes, by_hand_min, tuple(after), holds)
                self.limits.extend(
                    (at, (place, before.step), before.within_min)
                    for before in step.after
                    if before.within_min is not None
                )

    def schedule(self, steps: Sequence[StepPlace]) -> SchedulePlan | None:
        """Place the steps of a list one after the other, each as early as it can be.

        A step that begins too long after one that it follows moves that one
        later, and the list is scheduled again. These bounds only ever rise, so
        this ends.

        Takes:  steps  every step of every round once
        Gives:  the plan, its list put in order of the starts; None if a step
                stands before one that it follows, or comes before its turn, waits for
                what is never freed, or cannot keep its limit of time
        Source: serial schedule generation, Kolisch, Eur. J. Oper. Res. 90
                (1996) 320 (from memory)
        """
        earliest: dict[StepPlace, int] = {}
        passes = 0
        while True:
            passes += 1
            starts = self._place_once(steps, earliest)
            if starts is None:
                return None
            late = self._too_late(starts)
            if not late:
                ordered = tuple(sorted(steps, key=lambda at: (starts[at], at[1], at[0])))
                by_round = tuple(
                    tuple(starts[place, step] for step in range(len(one.steps)))
                    for place, one in enumerate(self.rounds)
                )
                return SchedulePlan(ordered, by_round, _score(self.rounds, by_round))
            # A limit that cannot be met at all pulls a step later for ever.
            if max(late.values()) > self.latest_start:
                return None
            if passes == USUAL_PASSES and self._cannot_be_kept():
                return None
            earliest.update(late)

    def _cannot_be_kept(self) -> bool:
        """Whether a round has limits of time that no plan keeps; looked for once."""
        if self.hopeless is None:
            self.hopeless = any(cannot_be_kept(one.steps) for one in self.rounds)
        return self.hopeless

    def _place_once(
        self, steps: Sequence[StepPlace], earliest: Mapping[StepPlace, int]
    ) -> dict[StepPlace, int] | None:
        """Starts for the list in one go, no step before ``earliest``; None at a dead end."""
        starts: dict[StepPlace, int] = {}
        ends: dict[StepPlace, int] = {}
        # When the hands begin to be at work, and when they end: in order and without overlap.
        busy_from: list[int] = []
        busy_to: list[int] = []
        for at in steps:
            # A long plan costs more a step: every step searches the times of the hands.
            self.steps_placed += 1 + len(busy_to) // 32
            minutes, by_hand_min, after, holds = self.demands[at]
            start = earliest.get(at, self.start_min)
            for before in after:
                end = ends.get(before)
                if end is None:
                    return None
                if end > start:
                    start = end
            while holds or by_hand_min:
                start_before = start
                if by_hand_min:
                    start = _hands_free(start, by_hand_min, busy_from, busy_to, self.hours)
                for hold in holds:
                    free_from = self._first_room(starts, ends, at[0], hold, start)
                    if free_from is None:
                        return None
                    start = free_from
                if start == start_before or not holds:
                    break
            starts[at], ends[at] = start, start + minutes
            if by_hand_min:
                place = bisect_right(busy_from, start)
                busy_from.insert(place, start)
                busy_to.insert(place, start + minutes)
        return starts

    def _first_room(
        self,
        starts: Mapping[StepPlace, int],
        ends: Mapping[StepPlace, int],
        place: int,
        hold: ResourceHold,
        start: int,
    ) -> int | None:
        """The first moment from ``start`` on with room for a hold; None if it is never freed."""
        room = self.capacity[hold.resource] - hold.count
        taken: list[tuple[int, int]] = []
        for other_place, other in self.holds[hold.resource]:
            if other is hold and other_place == place:
                continue
            if (other_place, other.from_step) not in starts:
                continue
            end = ends.get((other_place, other.to_step))
            if end is None:
                room -= other.count
            elif end > start:
                taken.append((end, other.count))
        for moment in (start, *sorted(end for end, _ in taken)):
            if sum(count for end, count in taken if end > moment) <= room:
                return moment
        return None

    def _too_late(self, starts: Mapping[StepPlace, int]) -> dict[StepPlace, int]:
        """The new earliest starts of steps after which another one now begins too late."""
        late: dict[StepPlace, int] = {}
        for at, earlier, within_min in self.limits:
            moment = starts[at] - self.demands[earlier].minutes - within_min
            if moment > starts[earlier]:
                late[earlier] = max(moment, late.get(earlier, 0))
        return late

    def better(self, plan: SchedulePlan, bound: int) -> SchedulePlan:
        """Look for a better plan by moving single steps in the list of this one.

        Takes:  plan   of ``schedule``
                bound  a last end that no plan can beat; the search stops there
        Gives:  a plan no worse
        Source: iterated local search; the moves are our own
        """
        best = self._descend(plan, bound)
        for _ in range(SHUFFLES):
            if best.score[0] <= bound or self.steps_placed >= MOST_STEPS_PLACED:
                break
            steps = list(best.steps)
            for _ in range(SHUFFLED_STEPS):
                moved = steps.pop(self.generator.randrange(len(steps)))
                steps.insert(self.generator.randrange(len(steps) + 1), moved)
            shuffled = self.schedule(_in_order(self.rounds, steps))
            if shuffled is not None:
                best = min(best, self._descend(shuffled, bound), key=lambda one: one.score)
        return best

    def _descend(self, plan: SchedulePlan, bound: int) -> SchedulePlan:
        """Move single steps as long as one move makes a better plan; the plan at the end."""
        improved = True
        while improved and plan.score[0] > bound:
            improved = False
            for steps in _single_moves(plan.steps):
                if self.steps_placed >= MOST_STEPS_PLACED:
                    return plan
                trial = self.schedule(steps)
                if trial is not None and trial.score < plan.score:
                    plan = trial
                    improved = True
                    break
        return plan


def round_orders(rounds: Sequence[CastingRound]) -> Iterator[tuple[int, ...]]:
    """The orders of rounds to try, as given first, each as the rounds' places.

    Rounds that take turns do so in each. Up to ``ALL_ORDERS_UP_TO`` rounds these are all orders
    that differ in kind, above it one for each of some rules.

    Source: common practice (priority rules), no source
    """
    as_ordered = tuple(range(len(rounds)))
    if len(rounds) <= ALL_ORDERS_UP_TO:
        tried: set[tuple[str, ...]] = set()
        for order in permutations(as_ordered):
            order = _in_turn(rounds, order)
            kinds = tuple(rounds[place].kind for place in order)
            if kinds not in tried:
                tried.add(kinds)
                yield order
        return
    yield _in_turn(rounds, as_ordered)
    hands = [hands_min(one) for one in rounds]
    length = [length_min(one) for one in rounds]
    # Longest first, longest waiting first, shortest hands first.
    yield _in_turn(rounds, sorted(as_ordered, key=lambda place: -length[place]))
    yield _in_turn(rounds, sorted(as_ordered, key=lambda place: hands[place] - length[place]))
    yield _in_turn(rounds, sorted(as_ordered, key=lambda place: hands[place]))
    by_kind: dict[str, list[int]] = {}
    for place in as_ordered:
        by_kind.setdefault(rounds[place].kind, []).append(place)
    turns = zip_longest(*by_kind.values())
    yield _in_turn(rounds, [place for turn in turns for place in turn if place is not None])


def _in_turn(rounds: Sequence[CastingRound], order: Sequence[int]) -> tuple[int, ...]:
    """The order changed as little as possible, so that no round comes before its turn."""
    left, done = list(order), list[int]()
    while left:
        ready = next(place for place in left if rounds[place].follows in (None, *done))
        left.remove(ready)
        done.append(ready)
    return tuple(done)


def sequential_list(rounds: Sequence[CastingRound], order: Sequence[int]) -> tuple[StepPlace, ...]:
    """The list of steps in which all steps of one round come before those of the next."""
    return tuple((place, step) for place in order for step in range(len(rounds[place].steps)))


def _single_moves(steps: Sequence[StepPlace]) -> Iterator[tuple[StepPlace, ...]]:
    """Every list that differs in the place of one step."""
    for place, moved in enumerate(steps):
        rest = (*steps[:place], *steps[place + 1 :])
        for to in range(len(steps)):
            if to != place:
                yield (*rest[:to], moved, *rest[to:])


def _in_order(rounds: Sequence[CastingRound], steps: Sequence[StepPlace]) -> tuple[StepPlace, ...]:
    """The list reordered as little as possible, so that each step comes after those it follows."""
    left = list(steps)
    done: list[StepPlace] = []
    while left:
        ready = next(
            (place, index)
            for place, index in left
            if all((place, before.step) in done for before in rounds[place].steps[index].after)
        )
        left.remove(ready)
        done.append(ready)
    return tuple(done)


def _score(rounds: Sequence[CastingRound], starts: Starts) -> tuple[int, int, int]:
    """Last end, sum of the rounds' ends, and sum of all starts, in minutes; less is better."""
    ends = [
        max(start + step.minutes for start, step in zip(of_round, one.steps, strict=True))
        for one, of_round in zip(rounds, starts, strict=True)
    ]
    return max(ends), sum(ends), sum(map(sum, starts))


def _hands_free(
    start: int,
    minutes: int,
    busy_from: Sequence[int],
    busy_to: Sequence[int],
    hours: WorkingHours | None,
) -> int:
    """The first moment from ``start`` on at which the hands are free for so many minutes.

    They are at work from each of ``busy_from`` to that of ``busy_to``, in order, without overlap.
    """
    while True:
        start_before = start
        if hours is not None:
            day, minute = divmod(start, MINUTES_A_DAY)
            if minute < hours.opens_min:
                start = day * MINUTES_A_DAY + hours.opens_min
            elif minute + minutes > hours.closes_min:
                start = (day + 1) * MINUTES_A_DAY + hours.opens_min
        for place in range(bisect_right(busy_to, start), len(busy_to)):
            if busy_from[place] >= start + minutes:
                break
            start = busy_to[place]
        if start == start_before:
            return start
