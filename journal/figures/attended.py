"""A round with somebody there: pots set going by hand, layers poured in one session."""

from __future__ import annotations

from collections.abc import Sequence

from journal.errors import FigureError
from journal.figures.day_steps import After, Hold, Round, Step
from journal.figures.round_steps import LayerSteps


def attended(
    one: Round, layers: Sequence[LayerSteps], *, setting_min: Sequence[int], session_min: int
) -> Round:
    """A round from ``round_of`` in which no pot melts unattended and no layer dries out.

    Before every melt stands a step of the hands that sets the pot going, and the
    melt begins as soon as it is done. A layer is poured no later after the one
    before than what follows that takes, and ``session_min`` more: a skin that has
    dried overnight takes no bond.

    Takes:  one          the round as ``round_of`` made it of these layers
            layers       the same
            setting_min  hands-on minutes of each setting going, a pot that melts each; >= 0
            session_min  >= 0
    Gives:  the round, its steps in the same order with the new ones among them
    Fails:  FigureError if the layers are not those of the round
    Source: common practice, no source
    Checked: melt 20, pour 5: set going 3, melt 20, pour 5
    """
    melts = [layer for layer in layers if layer.melt_min]
    if len(setting_min) != len(melts) or session_min < 0 or min(setting_min, default=0) < 0:
        raise FigureError(f"{len(setting_min)} settings of {len(melts)} pots, {session_min} min")
    # The places of the steps are those that round_of gives them: melt, pour, what follows.
    minutes = iter(setting_min)
    steps: list[Step] = []
    moved: list[int] = []  # place before -> place after
    place = 0
    poured: tuple[int, int] | None = None  # the last pour, and how long what follows it takes

    def take(step: Step, more: tuple[After, ...] = ()) -> None:
        after = tuple(After(moved[before.step], before.within_min) for before in step.after)
        moved.append(len(steps))
        steps.append(Step(step.name, step.minutes, step.hands, (*after, *more)))

    for layer in layers:
        if place + bool(layer.melt_min) + 1 + len(layer.then) >= len(one.steps):
            raise FigureError(f"the round {one.name} is not made of these layers")
        if layer.melt_min:
            steps.append(Step(f"set {layer.pot} to melt", next(minutes), True))
            take(one.steps[place], (After(len(steps) - 1, 0),))
            place += 1
        more = () if poured is None else (After(poured[0], poured[1] + session_min),)
        pour_place = len(steps)
        take(one.steps[place], more)
        place += 1
        follows = one.steps[place : place + len(layer.then)]
        for step in follows:
            take(step)
        place += len(layer.then)
        poured = (pour_place, sum(step.minutes for step in follows))
    for step in one.steps[place:]:
        take(step)
    holds = tuple(
        Hold(hold.resource, hold.count, moved[hold.from_step], moved[hold.to_step])
        for hold in one.holds
    )
    return Round(one.name, one.kind, tuple(steps), holds)
