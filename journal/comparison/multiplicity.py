"""Adjustment of p where several tests are made at once."""

from __future__ import annotations

from collections.abc import Sequence

from journal.errors import FigureError


def holm(ps: Sequence[float | None]) -> tuple[float | None, ...]:
    """Adjust the p of each test of a family by Holm's method.

    The smallest of m is multiplied by m, the next by m - 1, and so on; none is
    less than one before it, none above 1. The chance of a false finding anywhere
    in the family stays within the level, however the tests depend on each other.

    Takes:  ps  0 to 1 each, or None for a test that could not be made (it is not
                counted); any length
    Gives:  as many, in the same order; None stays None
    Fails:  FigureError if a p is not within 0 to 1
    Source: Holm, Scand. J. Stat. 6 (1979) 65
    Checked: 0.01 0.04 0.03 gives 0.03 0.06 0.06
    """
    for p in ps:
        if p is not None and not 0 <= p <= 1:
            raise FigureError(f"{p} is no p")
    ranked = sorted((p, place) for place, p in enumerate(ps) if p is not None)
    adjusted: list[float | None] = [None] * len(ps)
    reached = 0.0
    for before, (p, place) in enumerate(ranked):
        reached = max(reached, min(1.0, p * (len(ranked) - before)))
        adjusted[place] = reached
    return tuple(adjusted)
