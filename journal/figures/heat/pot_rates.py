"""Cooling rate against mass over the studio's pots, to forecast a pot without readings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from statistics import fmean, linear_regression

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.statistics import t_quantile_95

# Pots of one shape: area over volume goes as mass^(-1/3).
SIMILAR_POTS_SLOPE = -1.0 / 3.0
# To fit the slope instead: runs, and the ratio of the largest to the smallest mass.
SLOPE_RUNS = 5
SLOPE_SPREAD = 1.5


class PotRate(Struct, frozen=True):
    """One run of a pot: the mass that it held and the rate at which it cooled."""

    mass_g: float
    rate_per_min: float

    def __post_init__(self) -> None:
        for value in (self.mass_g, self.rate_per_min):
            if not (math.isfinite(value) and value > 0):
                raise FigureError(f"a pot's mass and rate must be above 0, not {self}")


class RateLine(Struct, frozen=True):
    """The regression line of ln(rate) over ln(mass) through all runs of a studio's pots.

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


# The line of a studio that has read no pot.
NO_RATES = RateLine(0.0, 0.0, 0.0, 0.0, SIMILAR_POTS_SLOPE, False, 0)


class RateForecast(Struct, frozen=True):
    """The cooling rate expected at a mass, with the 95 % interval for one more run."""

    rate_per_min: float
    interval_per_min: tuple[float, float] | None  # None: of one run


def rate_line(pots: Sequence[PotRate]) -> RateLine:
    """Fit the line of rate over mass through a studio's runs, for ``forecast_rate``.

    Takes:  pots  one entry a run; any number, none for a line of no run
    Gives:  the line; its slope is fitted when there are ``SLOPE_RUNS`` or more over masses
            ``SLOPE_SPREAD`` apart, and it comes out between -1 and 0; else it is that of pots
            of one shape
    Source: least squares
    """
    runs = len(pots)
    if not runs:
        return NO_RATES
    logs = [math.log(pot.mass_g) for pot in pots]
    rates = [math.log(pot.rate_per_min) for pot in pots]
    mean, level = fmean(logs), fmean(rates)
    square = math.fsum((x - mean) ** 2 for x in logs)
    slope, fitted = SIMILAR_POTS_SLOPE, False
    if runs >= SLOPE_RUNS and max(logs) - min(logs) >= math.log(SLOPE_SPREAD):
        own_slope = linear_regression(logs, rates).slope
        if -1.0 <= own_slope <= 0.0:
            slope, fitted = own_slope, True
    error = math.fsum(
        (y - level - slope * (x - mean)) ** 2 for x, y in zip(logs, rates, strict=True)
    )
    return RateLine(mean, level, square, error, slope, fitted, runs)


def forecast_rate(line: RateLine, mass_g: float) -> RateForecast | None:
    """The rate at which a pot of this mass would cool, from the studio's earlier runs.

    ln(rate) = level + slope ln(mass), by the line of ``rate_line``.

    Takes:  line    through any number of runs
            mass_g  grams; > 0; scalar
    Gives:  RateForecast; None without a run
    Fails:  FigureError if the mass is not above 0
    Source: least squares; the slope of similar pots from Newton's law (area over volume)
    """
    if not (math.isfinite(mass_g) and mass_g > 0):
        raise FigureError(f"a pot's mass must be above 0, not {mass_g}")
    if not line.runs:
        return None
    away = math.log(mass_g) - line.mean
    centre = line.level + line.slope * away
    freedom = line.runs - (2 if line.fitted else 1)
    if freedom < 1:
        return RateForecast(math.exp(centre), None)
    leverage = 1.0 / line.runs + (away**2 / line.square if line.fitted else 0.0)
    reach = t_quantile_95(freedom) * math.sqrt(line.error / freedom * (1.0 + leverage))
    return RateForecast(math.exp(centre), (math.exp(centre - reach), math.exp(centre + reach)))


def coarse_line(line: RateLine) -> RateLine:
    """The line to a twentieth of ln(rate), through 300 g: what a whole minute of a card tells.

    Two pots of one kind differ by as much, so a card need not change with every pot that is read.
    From 41 g to 2.2 kg the rate is off by a fortieth for its level and as much for its slope.
    """
    if not line.runs:
        return NO_RATES
    slope = round(40 * line.slope) / 40 if line.fitted else line.slope
    mean = math.log(300.0)
    level = round(20 * (line.level + line.slope * (mean - line.mean))) / 20
    return RateLine(mean, level, 0.0, 0.0, slope, False, 1)


def coarse_reach(line: RateLine) -> float | None:
    """How far ln(rate) of one more pot may lie from the line, for 95 %, up to a twentieth.

    As coarse as ``coarse_line``, for the same reason; None of a single run.
    """
    forecast = forecast_rate(line, math.exp(line.mean)) if line.runs else None
    if forecast is None or forecast.interval_per_min is None:
        return None
    return math.ceil(20 * math.log(forecast.interval_per_min[1] / forecast.rate_per_min)) / 20


class PotRates(Struct, frozen=True):
    """How fast pots cool: by all of the studio's runs, and by those of designs with enough."""

    studio: RateLine
    own: Mapping[str, RateLine] = {}

    def of(self, design: str) -> RateLine:
        """The line that speaks for a design: through its own runs, else the studio's."""
        return self.own.get(design, self.studio)
