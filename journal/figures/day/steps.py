"""The input of a day's plan: rounds of steps, what they hold, when hands are there.

Whole minutes throughout. A round is a chain (or a small net) of steps; a step
either needs the one pair of hands for all of its time or runs by itself. A
hold keeps so many cavities, pieces or chill places from the start of one step
to the end of another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from msgspec import Struct

from journal.errors import FigureError

MINUTES_A_DAY = 24 * 60


class StepLimit(Struct, frozen=True):
    """An earlier step of the round, by its place, that must be over before this one begins.

    It may be over for ``within_min`` minutes at most; None: for any time. With ``window_min`` a
    pot is in its window from then on, for so many minutes.
    """

    step: int
    within_min: int | None = None
    window_min: int | None = None


StepKind = Literal[
    "set out", "pieces", "melt", "heat", "cool", "reheat", "stir", "scent", "pour",
    "firm", "rest", "chill", "dry", "do", "place", "set",
    "unmould", "peel", "cut", "tidy", "end", "wrap",
]  # fmt: skip


class RoundStep(Struct, frozen=True):
    """One task or wait of a round; ``hands`` is True if it takes the hands throughout.

    ``layers`` are the places of the layers that it is about; ``entry`` is the place of the oil, of
    what is stirred in, or of the line of ``then`` that is done; ``count`` the casts that are
    poured; ``window_c`` the temperatures in °C between which it is done, or which it leads to.
    """

    kind: StepKind
    minutes: int = 0
    hands: bool = False
    after: tuple[StepLimit, ...] = ()
    pot: str = ""
    layers: tuple[int, ...] = ()
    entry: int | None = None
    count: int = 0
    window_c: tuple[float | None, float | None] | None = None

    @property
    def name(self) -> str:
        """The kind of step, with its pot where it has one: ``melt slate``."""
        return f"{self.kind} {self.pot}".strip()


class ResourceHold(Struct, frozen=True):
    """A ``count`` of a resource that a round holds from the start of one step to another's end."""

    resource: str
    count: int
    from_step: int
    to_step: int


class CastingRound(Struct, frozen=True):
    """One round through a mould; ``kind`` is the same for rounds that are alike.

    ``follows`` is the place of the round before whose first step and first pour this one's do
    not begin; None for any order.
    """

    name: str
    kind: str
    steps: tuple[RoundStep, ...]
    holds: tuple[ResourceHold, ...]
    follows: int | None = None

    @property
    def first_pour(self) -> int:
        """The place of the first step that pours; 0 if none does."""
        return next((at for at, step in enumerate(self.steps) if step.kind == "pour"), 0)


class WorkingHours(Struct, frozen=True):
    """The hours when hands are there, in minutes since midnight, the same every day."""

    opens_min: int
    closes_min: int


def check_round(one: CastingRound, capacity: Mapping[str, int], hours: WorkingHours | None) -> None:
    """Raise FigureError for a round that cannot be planned at all.

    Takes:  one       steps listed after those that they follow; minutes >= 0
            capacity  how many there are of each resource that is held
            hours     when hands are there; None: around the clock
    Fails:  FigureError with the step or the hold that is at fault
    """
    if not one.steps:
        raise FigureError(f"the round {one.name} has no steps")
    day = MINUTES_A_DAY if hours is None else hours.closes_min - hours.opens_min
    for place, step in enumerate(one.steps):
        limits = [before.within_min for before in step.after if before.within_min is not None]
        if min([step.minutes, *limits]) < 0:
            raise FigureError(f"{step.name} in {one.name}: minutes cannot be below 0")
        if any(not 0 <= before.step < place for before in step.after):
            raise FigureError(f"{step.name} in {one.name} follows a step that is not before it")
        if step.hands and hours is not None and step.minutes > day:
            raise FigureError(
                f"{step.name} in {one.name} takes {step.minutes} min of hands; a day has {day}"
            )
    for hold in one.holds:
        if not 0 <= hold.from_step <= hold.to_step < len(one.steps):
            raise FigureError(f"{one.name} holds {hold.resource} over steps that it does not have")
        available = capacity.get(hold.resource, 0)
        if hold.count < 1 or hold.count > available:
            raise FigureError(
                f"{one.name} needs {hold.count} of {hold.resource}; there are {available}"
            )


def hands_min(one: CastingRound) -> int:
    """Sum of the minutes of a round's hands-on steps."""
    return sum(step.minutes for step in one.steps if step.hands)


def length_min(one: CastingRound) -> int:
    """Minutes that a round takes if nothing else is going on: its longest chain of steps."""
    ends: list[int] = []
    for step in one.steps:
        ends.append(max((ends[before.step] for before in step.after), default=0) + step.minutes)
    return max(ends)


def lower_bound_min(rounds: Sequence[CastingRound], capacity: Mapping[str, int]) -> int:
    """A time that no plan for these rounds can beat, hours and limits aside.

    The largest of: all hands-on minutes; the longest round alone; for each
    resource, its least use (count x the least time of each hold) over how
    many there are.

    Takes:  rounds    one or more
            capacity  how many there are of each resource that is held
    Gives:  minutes
    Checked: two rounds of 10 min hands and 60 min rest in one cavity: 140
    """
    least = max(sum(hands_min(one) for one in rounds), *(length_min(one) for one in rounds))
    used: dict[str, int] = {}
    for one in rounds:
        for hold in one.holds:
            least_min = chain_min(one.steps, hold.from_step, hold.to_step)
            used[hold.resource] = used.get(hold.resource, 0) + hold.count * least_min
    for resource, minutes in used.items():
        least = max(least, -(-minutes // capacity[resource]))
    return least


def chain_min(steps: Sequence[RoundStep], from_step: int, to_step: int) -> int:
    """The longest chain from one step to a later one, both with it: 0 if none leads there."""
    reach: list[int | None] = []
    for place, step in enumerate(steps):
        if place == from_step:
            reach.append(step.minutes)
            continue
        before = [reach[earlier.step] for earlier in step.after]
        known = [minutes for minutes in before if minutes is not None]
        reach.append(max(known) + step.minutes if known else None)
    return reach[to_step] or 0
