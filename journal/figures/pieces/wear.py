"""How the relief of a mat's pieces goes down with the casts on them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.statistics import t_quantile_95

# Degrees of freedom and span of casts below which no line is laid. Common practice, no source.
LEAST_FREEDOM = 3
LEAST_SPAN = 10


class WearTrend(Struct, frozen=True):
    """How many marks of relief a cast takes, and how many casts a mark lasts.

    ``per_cast`` is below 0 for wear, ``low`` to ``high`` its 95 % interval. ``lasts`` are the casts
    after which ``mark`` is lost: the likely, the least, the most. The most, and with it the likely,
    is None where the bars do not show that relief goes down; the least where they rule it out.
    """

    per_cast: float
    low: float
    high: float
    mark: float
    pours: int
    most_casts: float
    lasts: tuple[float | None, float | None, float | None]

    @property
    def is_seen(self) -> bool:
        """Whether the bars show that relief goes down with the casts."""
        return self.high < 0


def wear_trend(
    groups: Sequence[Sequence[tuple[float, float]]], mark: float = 1.0
) -> WearTrend | None:
    """The common slope of relief against casts, within pieces and designs.

    slope = sum (x - mean x)(y - mean y) / sum (x - mean x)^2, the means those of each group:
    a design that is hard to peel, or a piece that was never crisp, says nothing of wear.

    Takes:  groups  a design on a piece each: (casts on the piece before, mean relief) by pour
            mark    marks of relief after whose loss a piece is done; > 0
    Gives:  the trend; None where the pours are too few, or lie too close
    Fails:  FigureError for a mark not above 0
    Source: least squares with a mean for each group (analysis of covariance); Student's t
    Checked: against scipy.stats.linregress for one group
    """
    if not mark > 0:
        raise FigureError(f"a loss of {mark} marks; it must be above 0")
    centred: list[tuple[float, float]] = []
    for group in groups:
        middle = [math.fsum(column) / len(group) for column in zip(*group, strict=True)]
        centred += [(casts - middle[0], relief - middle[1]) for casts, relief in group]
    freedom = len(centred) - sum(1 for group in groups if group) - 1
    reach = max((x for x, _ in centred), default=0.0) - min((x for x, _ in centred), default=0.0)
    if freedom < LEAST_FREEDOM or reach < LEAST_SPAN:
        return None
    squares = math.fsum(x * x for x, _ in centred)
    slope = math.fsum(x * y for x, y in centred) / squares
    rest = math.fsum((y - slope * x) ** 2 for x, y in centred)
    wide = t_quantile_95(freedom) * math.sqrt(rest / freedom / squares)
    low, high = slope - wide, slope + wide
    seen = high < 0
    lasts = (
        mark / -slope if seen else None,
        mark / -low if low < 0 else None,
        mark / -high if seen else None,
    )
    most = max(casts for group in groups for casts, _ in group)
    return WearTrend(slope, low, high, mark, len(centred), most, lasts)
