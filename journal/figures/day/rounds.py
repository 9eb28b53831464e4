"""The steps of one round through a mould, from its recipe."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.day.steps import CastingRound, ResourceHold, RoundStep, StepLimit

REST = "rest"
CHILL = "chill"
DO = "do"
UNMOULD = "unmould"

CHILL_PLACES = "chill places"


class FollowingStep(Struct, frozen=True):
    """A step after a pour: ``kind`` is rest, chill, do (hands) or unmould (wait, then unmould)."""

    kind: str
    text: str
    minutes: int


class LayerSteps(Struct, frozen=True):
    """A layer in the day sheet.

    ``melt_min`` runs by itself and is 0 where the pot is hot already, melted
    for an earlier layer; ``set_min``, to set it going, and ``pour_min`` are
    hands-on: weighing, scenting, tinting, pouring.
    """

    layer: str
    pot: str
    set_min: int
    melt_min: int
    pour_min: int
    then: tuple[FollowingStep, ...]


def shared_minutes(total: int, parts: int) -> tuple[int, ...]:
    """Share whole minutes among steps as evenly as can be, the first ones longer.

    Takes:  total  >= 0
            parts  >= 1
    Gives:  minutes a step; they sum to total
    Fails:  FigureError if either lies outside its range
    Checked: 25 over 2 gives 13 and 12
    """
    if total < 0 or parts < 1:
        raise FigureError(f"{total} min over {parts} steps: not below 0, and one step or more")
    each, over = divmod(total, parts)
    return tuple(each + (1 if place < over else 0) for place in range(parts))


def round_of(
    name: str,
    kind: str,
    layers: Sequence[LayerSteps],
    *,
    tidy_min: int,
    cavity: str,
    cavities: int,
    piece: str | None,
    chilled: int,
    chill_places: int | None,
    keeps_min: int | None,
    session_min: int,
) -> CastingRound:
    """Build one round of its layers as steps and holds for ``plan_day``.

    Each pot has a hands-on step that sets it to melt; the melt begins as soon as
    that is done and then runs by itself. A pot is poured no later than
    ``keeps_min`` after it is melted. A layer is poured when its pot is ready and
    all that follows the layer before is done. It is poured at most
    ``session_min`` after that could have been done: a skin that has dried
    overnight takes no bond. Where there are fewer chill places than pieces to
    chill, they chill in turns.
    Pieces are held from the first pour, cavities from the second (the first
    layer lies in the piece, outside the mould) or, without pieces or with one
    layer, from the first; both until all is unmoulded and tidied.

    Takes:  name, kind    of the round; rounds of one kind are alike
            layers        in pouring order; one or more; minutes >= 0
            tidy_min      hands-on minutes to unmould, peel and tidy; >= 0
            cavity        resource of the mould; cavities it takes, >= 1
            piece         resource of the pieces, one a cavity; None if none
            chilled       pieces or cavities in the cold at once; >= 1
            chill_places  how many there are; >= 1; None: no limit
            keeps_min     how long a melted pot may stand; >= 0; None: any time
            session_min   how long a layer may wait for the next one; >= 0
    Gives:  the round
    Fails:  FigureError if any lies outside its range
    Source: common practice, no source
    Checked: detail and body of 13 and 12 min, rest 15, chill 10: the body is
             poured 38 min after the detail was begun, at the earliest
    """
    if not layers:
        raise FigureError(f"the round {name} has no layer")
    if chilled < 1 or (chill_places is not None and chill_places < 1):
        raise FigureError(f"{chilled} to chill in {chill_places} places: each must be 1 or more")
    steps: list[RoundStep] = []
    holds: list[ResourceHold] = []
    pours: list[int] = []
    before: list[StepLimit] = []
    for layer in layers:
        if layer.melt_min:
            steps.append(RoundStep(f"set {layer.pot} to melt", layer.set_min, True))
            melt = RoundStep(
                f"melt {layer.pot}", layer.melt_min, False, (StepLimit(len(steps) - 1, 0),)
            )
            steps.append(melt)
            before.append(StepLimit(len(steps) - 1, keeps_min))
        pour = len(steps)
        pours.append(pour)
        steps.append(RoundStep(f"pour {layer.layer}", layer.pour_min, True, tuple(before)))
        for then in layer.then:
            turns = 1
            if then.kind == CHILL and chill_places is not None:
                turns = -(-chilled // chill_places)
                place = len(steps)
                holds.append(ResourceHold(CHILL_PLACES, min(chilled, chill_places), place, place))
            elif then.kind not in (REST, CHILL, DO, UNMOULD):
                raise FigureError(f'"{then.kind}" in {name}; rest, chill, do or unmould')
            hands = then.kind == DO
            steps.append(
                RoundStep(then.text, then.minutes * turns, hands, (StepLimit(len(steps) - 1),))
            )
        follows_min = sum(step.minutes for step in steps[pour + 1 :])
        before = [StepLimit(len(steps) - 1), StepLimit(pour, follows_min + session_min)]
    end = len(steps)
    steps.append(RoundStep("unmould and tidy", tidy_min, True, (before[0],)))
    into_mould = pours[1] if piece is not None and len(pours) > 1 else pours[0]
    holds.append(ResourceHold(cavity, cavities, into_mould, end))
    if piece is not None:
        holds.append(ResourceHold(piece, cavities, pours[0], end))
    return CastingRound(name, kind, tuple(steps), tuple(holds))
