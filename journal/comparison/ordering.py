"""Whether the order of pouring, or the cavities, could explain a difference."""

from __future__ import annotations

from collections.abc import Sequence

from journal.comparison.observed import ObservedBar
from journal.comparison.trials import Trials


def order_doubt(trials: Trials, between: tuple[str, str]) -> str:
    """What of order and place went with the variant, as the end of a sentence; "" if nothing did.

    A variant comes first where, in every stratum, all of its bars stand before all of the
    other's. Cavities go with it if no cavity has had both, and one has had more than one bar.
    An order that a plan drew could have been any other.
    """
    strata = [stratum.bars for stratum in trials.strata]
    if not strata or trials.planned:
        return ""
    first = {_comes_first(a, b) for a, b in strata}
    if len(first) == 1 and None not in first:
        name = between[first.pop() or 0]
        if trials.days_apart:
            return f"every {name} pour came before the others"
        return f"{name} was poured first each time"
    cavities = [{bar.at for pair in strata for bar in pair[side]} for side in (0, 1)]
    known = None not in cavities[0] | cavities[1]
    bars = sum(len(side) for pair in strata for side in pair)
    if known and cavities[0].isdisjoint(cavities[1]) and bars > sum(map(len, cavities)):
        return f"{between[0]} and {between[1]} never lay in the same cavities"
    return ""


def _comes_first(a: Sequence[ObservedBar], b: Sequence[ObservedBar]) -> int | None:
    """The side whose bars all stand before those of the other; None if neither does."""
    places = [[(bar.poured_on, bar.row) for bar in side] for side in (a, b)]
    if max(places[0]) < min(places[1]):
        return 0
    return 1 if max(places[1]) < min(places[0]) else None
