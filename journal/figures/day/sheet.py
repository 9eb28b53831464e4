"""An order by the clock: rounds that overlap where hands, cavities and places let them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.day import search, steps


class TimedStep(Struct, frozen=True):
    """A step of a round with its times, in minutes since midnight of the first day.

    ``number`` is the place of its round among all, ``place`` its own in the round.
    """

    number: int
    place: int
    step: steps.RoundStep
    start_min: int
    end_min: int


class DaySheet(Struct, frozen=True):
    """The planned day: its steps by the clock, and how long it takes.

    ``order`` names the rounds in the order of their first steps. ``elapsed_min`` is from the
    first start to the last end.
    """

    steps: tuple[TimedStep, ...]
    order: tuple[str, ...]
    hands_on_min: int
    elapsed_min: int


def plan_day(
    rounds: Sequence[steps.CastingRound],
    capacity: Mapping[str, int],
    *,
    start_min: int,
    hours: steps.WorkingHours | None,
) -> DaySheet:
    """Schedule rounds by the clock for one pair of hands.

    The rounds are put in one after the other, each step as early as it can be.
    Up to four rounds every order is tried; above that the order given, longest
    first, longest waiting first, shortest hands first, and by turns between
    the kinds. In the best of these lists single steps are then moved to
    another place as long as that shortens the plan; at a dead end four steps
    are moved at random and the search goes on. The shortest plan wins, of two
    as short the one whose rounds are done sooner. The search ends early at a
    plan that none can beat.

    Takes:  rounds    one or more; steps listed after those that they follow
            capacity  how many there are of each resource that is held
            start_min when the day begins, minutes since midnight; >= 0
            hours     when hands are there; None: around the clock
    Gives:  the day sheet
    Fails:  FigureError if a round is not well formed, holds more than there
            is, or cannot be placed within its limits at all
    Source: serial schedule generation, Kolisch, Eur. J. Oper. Res. 90 (1996)
            320 (from memory); the search over lists is our own
    Checked: within 10 % of the optimum by exhaustive search on small cases
    """
    if not rounds:
        raise FigureError("there is no round to plan")
    if start_min < 0:
        raise FigureError(f"a start at minute {start_min}; it cannot be before midnight")
    if hours is not None and not 0 <= hours.opens_min < hours.closes_min <= steps.MINUTES_A_DAY:
        raise FigureError(f"hours from {hours.opens_min} to {hours.closes_min} are no working day")
    for one in rounds:
        steps.check_round(one, capacity, hours)
    planner = search.DayScheduler(rounds, capacity, start_min, hours)
    plans = [
        plan
        for order in search.round_orders(rounds)
        if (plan := planner.schedule(search.sequential_list(rounds, order))) is not None
    ]
    if not plans:
        raise FigureError("the steps do not fit into the hours that there are")
    plans.sort(key=lambda plan: plan.score)
    best = plans[0]
    bound = steps.lower_bound_min(rounds, capacity)
    for plan in plans[: search.ORDERS_IMPROVED]:
        if best.score[0] - start_min <= bound:
            break
        best = min(best, planner.better(plan, start_min + bound), key=lambda one: one.score)
    return _sheet(rounds, best.starts)


def _sheet(rounds: Sequence[steps.CastingRound], starts: search.Starts) -> DaySheet:
    """The day sheet of rounds whose steps begin at ``starts``."""
    timed = [
        TimedStep(number, place, step, start, start + step.minutes)
        for number, (one, of_round) in enumerate(zip(rounds, starts, strict=True))
        for place, (step, start) in enumerate(zip(one.steps, of_round, strict=True))
    ]
    # The sort is stable: steps of one moment stay in the order of their round.
    timed.sort(key=lambda step: (step.start_min, step.end_min))
    by_first_step = sorted(range(len(rounds)), key=lambda place: (min(starts[place]), place))
    return DaySheet(
        tuple(timed),
        tuple(rounds[place].name for place in by_first_step),
        sum(steps.hands_min(one) for one in rounds),
        max(step.end_min for step in timed) - timed[0].start_min,
    )


def plan_round(one: steps.CastingRound) -> DaySheet:
    """The steps of one round alone, from minute 0, as soon as each can be, whatever the hour.

    Fails:  FigureError if its steps cannot keep their limits of time
    """
    sheet = _sheet_alone(one)
    if sheet is None:
        raise FigureError("the steps do not fit into the hours that there are")
    return sheet


# Variants that differ in what is melted have the same round, as have all pages that show it.
@lru_cache(maxsize=256)
def _sheet_alone(one: steps.CastingRound) -> DaySheet | None:
    """The day sheet of one round alone; None if it cannot keep its limits of time."""
    capacity = {hold.resource: hold.count for hold in one.holds}
    steps.check_round(one, capacity, None)
    planner = search.DayScheduler([one], capacity, 0, None)
    # A limit that is not met by then, with every step after the other thrice, is never met.
    planner.latest_start = 3 * sum(step.minutes for step in one.steps if step.kind != "set")
    plan = planner.schedule(search.sequential_list([one], [0]))
    return None if plan is None else _sheet([one], plan.starts)


def day_and_minute(minute: int) -> tuple[int, int]:
    """Split minutes into a day, counted from 1, and its minute: 1500 is minute 60 of day 2.

    Takes:  minute  since midnight of the first day; >= 0
    """
    if minute < 0:
        raise FigureError(f"minute {minute}; the first day begins at 0")
    day, rest = divmod(minute, steps.MINUTES_A_DAY)
    return day + 1, rest
