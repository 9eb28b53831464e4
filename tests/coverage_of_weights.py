"""How often the claims on net weight hold: simulated studios, whose truth is known.

    python tests/coverage_of_weights.py [rounds]    from the repository's root

Truth: bars of a mean of 98 g, pours that differ, bars that differ within a pour, each drying at
its own rate along one of three curves. The claims: the mean lies below the lower limit in 2.5 %;
in no more than 5 % of declarations do more than 2.5 % of single bars fall short by more than the
allowance; the loss lies in its interval in 95 %.

In 1,000 rounds each, 2026-11-30 (before: the mean of all bars with Student's t, no limit for single
bars, one rate of loss through all weigh-ins; 1,500 rounds):

    pours x bars, sd between, within        mean below     too high      loss within    g below mean
                                             before now     before now    before now     before now
    2 x 6, 0 and 1 g                         5.5   0.2 %     0    0 %    59.5  95.4 %     1.2   7.9
    2 x 6, 1 and 1 g                         17.1   1.0       0    0      59.8  94.5       1.3  23.3
    3 x 6, 1 and 1 g                         16.7   1.3       0    0      63.1  94.5       1.2   5.3
    3 x 6, 1 and 4 g                          4.9   1.8      43    0.5    63.8  94.7       3.6  13.9
    4 x 6, 2 and 4 g                          8.8   2.4      49    1.0    67.3  95.5       4.3  12.7
    6 x 6, 1 and 1 g (600 rounds)            15.3   1.8       0    0      69.7  96.8       1.0   1.8
    3 x 6, last weighed on day 10, sold on day 30 (600 rounds):
      loss that flattens                      7.1   0         0    0      63.2 100         1.2   5.3
      loss that goes on evenly               92.8   1.0       0    0       0    97.8      -0.1   2.8
    of a variant, another of the same pours losing 4 % (2026-12-01; before: of the design):
      3 pours                                             0                     95.4             4.2
      6 pours (60 rounds)                           0     0    0    0      7    95         2.1   2.1
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator, Mapping
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from journal.figures.label.allowances import tolerable_negative_error_g
from journal.figures.label.net_weight import (
    Weighing,
    declare,
    drying_of_variant,
    loss_between,
    net_weight,
)

MEAN_G, SALE_DAY = 98.0, 30.0
LOSS = 0.025  # of the first day's weight, by the day of sale

#: Share of ``LOSS`` that is gone by a day: as diffusion begins, as it ends, and evenly.
CURVES: Mapping[str, Callable[[float], float]] = {
    "root": lambda day: math.sqrt(day / SALE_DAY),
    "flattening": lambda day: (1 - math.exp(-day / 12)) / (1 - math.exp(-SALE_DAY / 12)),
    "even": lambda day: day / SALE_DAY,
}


class Studio(NamedTuple):
    """Pours and bars, standard deviations in g, those of the loss as a share of it."""

    pours: int
    bars: int
    between_g: float
    within_g: float
    loss_between: float = 0.15
    loss_within: float = 0.10
    curve: str = "root"
    last_day: float = SALE_DAY  # weigh-ins on days 0, 7 and this
    again: int = 2  # bars weighed again in every pour and variant
    other_loss: float | None = None  # of the same day; a second variant, in the same pours

    def truth(self) -> tuple[float, float]:
        """Mean of all bars on the day of sale and the deviation of a single one, in g."""
        spread = math.hypot(self.between_g, self.within_g)
        of_loss = MEAN_G * LOSS * math.hypot(self.loss_between, self.loss_within)
        return MEAN_G * (1 - LOSS), math.hypot(spread * (1 - LOSS), of_loss)

    def weighings(self, random: np.random.Generator) -> Iterator[Weighing]:
        """What one such studio would write down, to 0.1 g."""
        yield from self._of_variant("one", LOSS, random)
        if self.other_loss is not None:
            yield from self._of_variant("other", self.other_loss, random)

    def _of_variant(
        self, variant: str, mean_loss: float, random: np.random.Generator
    ) -> Iterator[Weighing]:
        gone = CURVES[self.curve]
        for pour in range(self.pours):
            middle = MEAN_G + self.between_g * random.normal()
            loss = mean_loss * (1 + self.loss_between * random.normal())
            for bar in range(self.bars):
                first = middle + self.within_g * random.normal()
                own = loss + mean_loss * self.loss_within * random.normal()
                days = (0.0, 7.0, self.last_day) if bar < self.again else (0.0,)
                for day in days:
                    weight = round(first * (1 - own * gone(day)), 1)
                    yield Weighing(f"{variant} {pour}.{bar}", day, weight, f"{pour}", variant)


class Coverage(NamedTuple):
    """Shares of rounds: mean below the limit, declared, declared too high, loss within; and grams.

    ``given_away_g`` is how far the declared weight lies below the mean.
    """

    mean_below: float
    declared: float
    short: float
    loss_within: float
    given_away_g: float


def coverage(studio: Studio, rounds: int, seed: int = 26) -> Coverage:
    """Simulate a studio so many times."""
    random = np.random.default_rng(seed)
    mean, deviation = studio.truth()
    below = declared = short = within = 0
    away = 0.0
    for _ in range(rounds):
        weighings = tuple(studio.weighings(random))
        net = net_weight(weighings, SALE_DAY)
        below += net.lower_g is not None and mean < net.lower_g
        loss = loss_between(drying_of_variant(weighings, "one"), 0.0, SALE_DAY)
        within += (
            loss is not None
            and loss.low is not None
            and loss.high is not None
            and loss.low <= LOSS <= loss.high
        )
        label = declare(net, "eu")
        if label.declared_g is not None:
            declared += 1
            least = label.declared_g - float(tolerable_negative_error_g(label.declared_g))
            short += NormalDist(mean, deviation).cdf(least) > 0.025
            away += mean - label.declared_g
    counted = max(declared, 1)
    return Coverage(
        below / rounds, declared / rounds, short / counted, within / rounds, away / counted
    )


STUDIOS = [
    Studio(2, 6, 0.0, 1.0),
    Studio(2, 6, 1.0, 1.0),
    Studio(3, 6, 1.0, 1.0),
    Studio(3, 6, 1.0, 4.0),
    Studio(4, 6, 2.0, 4.0),
    Studio(3, 6, 0.5, 1.0, curve="flattening", last_day=10),
    Studio(3, 6, 0.5, 1.0, curve="even", last_day=10),
    Studio(6, 6, 1.0, 1.0),
    Studio(3, 6, 1.0, 1.0, other_loss=0.04),
    Studio(6, 6, 1.0, 1.0, other_loss=0.04),
]

if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    for one in STUDIOS:
        found = (f"{name} {value:.3f}" for name, value in coverage(one, count)._asdict().items())
        sys.stdout.write(f"{one}: {', '.join(found)}\n")
