"""Limits of time that no plan of a round can keep, found without a search."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import permutations

from journal.figures.day.steps import RoundStep


def cannot_be_kept(steps: Sequence[RoundStep]) -> bool:
    """Whether it is certain that no plan keeps the limits of time of a round, whatever the hours.

    From the start of each step to that of each other one goes a least time: by what a step
    waits for, by how long it may, and by the one pair of hands. Of two steps that need them the
    one that cannot be over when the other begins comes after it. Where a step would have to begin
    after itself, there is no plan.

    Takes:  steps  of one round, listed after those that they follow
    Gives:  True for no plan; False where there may be one
    Source: simple temporal networks, Dechter, Meiri & Pearl, Artif. Intell. 49 (1991) 61; the
            order of two steps, Carlier & Pinson, Manag. Sci. 35 (1989) 164 (both from memory)
    Checked: no round of which it says so has a plan by trying every order
    """
    network = _LeastTimes(len(steps))
    for place, step in enumerate(steps):
        for before in step.after:
            minutes = steps[before.step].minutes
            network.add(before.step, place, minutes)
            if before.within_min is not None:
                network.add(place, before.step, -minutes - before.within_min)
    by_hand = [place for place, step in enumerate(steps) if step.hands and step.minutes]
    changed = True
    while changed and not network.contradicts_itself:
        changed = False
        for first, then in permutations(by_hand, 2):
            if network.least[first][then] > -steps[then].minutes:
                changed |= network.add(first, then, steps[first].minutes)
    return network.contradicts_itself


class _LeastTimes:
    """Between the starts of any two steps the least time: ``least[a][b]`` from a to b.

    It may be below 0; -inf where there is none.
    """

    def __init__(self, count: int) -> None:
        self.least = [[-math.inf] * count for _ in range(count)]
        for place in range(count):
            self.least[place][place] = 0
        self.contradicts_itself = False

    def add(self, earlier: int, later: int, minutes: int) -> bool:
        """Put in a least time, with all that follows from it; whether it was news."""
        if self.contradicts_itself or minutes <= self.least[earlier][later]:
            return False
        if self.least[later][earlier] + minutes > 0:
            self.contradicts_itself = True
            return True
        onward = [(to, more) for to, more in enumerate(self.least[later]) if more > -math.inf]
        for row in self.least:
            so_far = row[earlier] + minutes
            for to, more in onward:
                if so_far + more > row[to]:
                    row[to] = so_far + more
        return True
