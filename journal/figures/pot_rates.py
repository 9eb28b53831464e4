"""What the studio's pots do by mass, so that a pot without readings gets a forecast."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.newton_fit import t_quantile

if TYPE_CHECKING:
    from collections.abc import Sequence

# Pots of one shape: area over volume goes as mass^(-1/3).
SIMILAR_POTS_SLOPE = -1.0 / 3.0
# To fit the slope instead: runs, and the ratio of the largest to the smallest mass.
SLOPE_RUNS = 5
SLOPE_SPREAD = 1.5


class PotRate(Struct, frozen=True):
    """One run of a pot: how much it held and how fast it cooled."""

    mass_g: float
    rate_per_min: float

    def __post_init__(self) -> None:
        for value in (self.mass_g, self.rate_per_min):
            if not (math.isfinite(value) and value > 0):
                raise FigureError(f"a pot's mass and rate must be above 0, not {self}")


class RateLine(Struct, frozen=True):
    """The line of ln(rate) over ln(mass) through the runs of pots: one for a whole studio.

    Rates are per minute, masses in g. ``mean`` is that of ln(mass), ``level`` that of
    ln(rate); ``square`` and ``error`` are sums of squares, of ln(mass) about its mean and
    of ln(rate) about the line.
    """

    mean: float
    level: float
    square: float
    error: float
    slope: float
    fitted: bool
    runs: int
    masses_g: tuple[float, float] | None  # smallest and largest seen


class RateForecast(Struct, frozen=True):
    """What the studio's pots would do at a mass; ``interval`` is for one more run."""

    rate_per_min: float | None
    interval_per_min: tuple[float, float] | None
    slope: float
    slope_fitted: bool  # False: taken from pots of one shape
    runs: int
    masses_g: tuple[float, float] | None  # smallest and largest seen
    why: str


def rate_line(pots: Sequence[PotRate]) -> RateLine:
    """The line through the runs of a studio's pots, for ``forecast_rate``.

    Takes:  pots  one entry a run; any number
    Gives:  RateLine; of no run where there is none. Its slope is fitted when there are
            ``SLOPE_RUNS`` or more over masses ``SLOPE_SPREAD`` apart, and it comes out
            between -1 and 0; else it is that of pots of one shape
    Fails:  never: ``PotRate`` refuses what has no logarithm
    Source: least squares
    """
    runs = len(pots)
    if not runs:
        return RateLine(0.0, 0.0, 0.0, 0.0, SIMILAR_POTS_SLOPE, False, 0, None)
    logs = [math.log(pot.mass_g) for pot in pots]
    rates = [math.log(pot.rate_per_min) for pot in pots]
    mean, level = math.fsum(logs) / runs, math.fsum(rates) / runs
    square = math.fsum((x - mean) ** 2 for x in logs)
    slope, fitted = SIMILAR_POTS_SLOPE, False
    if runs >= SLOPE_RUNS and max(logs) - min(logs) >= math.log(SLOPE_SPREAD):
        tried = (
            math.fsum((x - mean) * (y - level) for x, y in zip(logs, rates, strict=True)) / square
        )
        if -1.0 <= tried <= 0.0:
            slope, fitted = tried, True
    error = math.fsum(
        (y - level - slope * (x - mean)) ** 2 for x, y in zip(logs, rates, strict=True)
    )
    masses = min(pot.mass_g for pot in pots), max(pot.mass_g for pot in pots)
    return RateLine(mean, level, square, error, slope, fitted, runs, masses)


def forecast_rate(line: RateLine, mass_g: float) -> RateForecast:
    """How fast a pot of this mass would cool, from what the studio's pots did.

    ln(rate) = level + slope ln(mass). The slope is fitted when there are runs
    enough over a spread of masses, and comes out between -1 and 0; else it is
    that of pots of one shape, -1/3.

    Takes:  line    through any number of runs
            mass_g  grams; > 0; scalar
    Gives:  RateForecast; the interval needs two runs
    Fails:  FigureError if the mass is not above 0
    Source: least squares; the slope of similar pots from Newton's law (area over volume)
    """
    if not (math.isfinite(mass_g) and mass_g > 0):
        raise FigureError(f"a pot's mass must be above 0, not {mass_g}")
    slope, fitted, runs = line.slope, line.fitted, line.runs
    if not runs:
        return RateForecast(None, None, slope, fitted, 0, None, "no pot has been read yet")
    away = math.log(mass_g) - line.mean
    centre = line.level + slope * away
    freedom = runs - (2 if fitted else 1)
    if freedom < 1:
        return RateForecast(
            math.exp(centre), None, slope, fitted, runs, line.masses_g, "one run gives no interval"
        )
    leverage = 1.0 / runs + (away**2 / line.square if fitted else 0.0)
    reach = t_quantile(freedom) * math.sqrt(line.error / freedom * (1.0 + leverage))
    return RateForecast(
        rate_per_min=math.exp(centre),
        interval_per_min=(math.exp(centre - reach), math.exp(centre + reach)),
        slope=slope,
        slope_fitted=fitted,
        runs=runs,
        masses_g=line.masses_g,
        why="",
    )
