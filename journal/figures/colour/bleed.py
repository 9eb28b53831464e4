"""The growth of a bleed (colour that creeps into the detail), and a forecast of its width.

Diffusion widens an edge as the square root of time, so width^2 = start^2 + a^2 days. A bleed
may also go on evenly, or come to an end; forecasts reach as far as the laws of growth that the
looks do not rule out. A ruler and a photo show the same edge with different widths, so widths by
one are never fitted together with widths by the other.
"""

from __future__ import annotations

import math
from statistics import fmean, stdev
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.statistics import t_quantile, t_quantile_95

if TYPE_CHECKING:
    from collections.abc import Sequence

# A half year, by way of a month and a season: how long a bar may lie before it is used.
HORIZONS_DAY = (30.0, 90.0, 180.0)
# With fewer observations the width at the pour is assumed to be 0 and not fitted.
START_FITTED_FROM = 3
# Colour that shows within a quarter of an hour of the pour has run, not crept.
EARLIEST_DAY = 0.01
# Past this chance that its shape is the true one a law is out (to both sides 1 %).
OUT_OF_QUESTION = 0.995
# How soon a growth may even out, in parts of the time that was looked at: from all but over by
# the last look to a straight line.
EVENING_TIMES = (0.1, 0.15, 0.2, 0.3, 0.4, 0.55, 0.8, 1.1, 1.6, 2.4, math.inf)

BleedMethod = Literal["photo", "ruler"]
METHODS: tuple[BleedMethod, ...] = get_args(BleedMethod)


class MeasuredWidth(Struct, frozen=True):
    """One observation of a bar: days since the pour, width of the bleed, how it was measured."""

    day: float
    width_mm: float
    by: BleedMethod

    def __post_init__(self) -> None:
        if not (math.isfinite(self.day) and self.day >= 0):
            raise FigureError(f"a follow-up must lie 0 days or more after the pour, not {self.day}")
        if not (math.isfinite(self.width_mm) and self.width_mm >= 0):
            raise FigureError(f"a bleed must be 0 mm or wider, not {self.width_mm}")


class WidthForecast(Struct, frozen=True):
    """The width to expect on a day, with its 95 % interval where there is one."""

    day: float
    width_mm: float
    interval_mm: tuple[float, float] | None
    beyond: bool  # later than the last observation


class BleedGrowth(Struct, frozen=True):
    """The law width^2 = start^2 + a^2 days, fitted to one bar's widths by one method.

    ``start_mm`` and ``a_mm_per_sqrt_day`` are None without an observation after the day of the
    pour. ``why`` is the reason that there is no fit or no interval, "" if there are both.
    """

    by: BleedMethod
    observations: int
    start_mm: float | None
    a_mm_per_sqrt_day: float | None
    forecasts: tuple[WidthForecast, ...]
    why: str


class PairGrowth(Struct, frozen=True):
    """Mean growth over several bars of one colourant and base; intervals are for the next bar."""

    by: BleedMethod
    bars: int
    a_mm_per_sqrt_day: float
    forecasts: tuple[WidthForecast, ...]
    why: str


def bleed_growth(widths: Sequence[MeasuredWidth]) -> tuple[BleedGrowth, ...]:
    """Fit the growth of one bar's bleed, photo and ruler apart.

    Least squares in width, which is where the error of reading lies. With two
    observations or fewer the start is 0; with three or more it is fitted, and
    neither start nor growth can come out below 0. Forecasts are of this law, or where the looks
    rule it out of the best of the others. An interval reaches over those of all laws that are
    left: those whose squared error lies within what chance may add to that of the best.

    Takes:  widths  observations of one bar; any number
    Gives:  one BleedGrowth for each method that was used, with forecasts for ``HORIZONS_DAY``;
            intervals of 95 % or more
    Source: definition (square-root growth: Crank, The Mathematics of Diffusion, 2nd ed., 2.14);
            least squares with t quantiles; the laws left are those within the F region of the
            least squares, Seber & Wild, Nonlinear Regression (1989), 5.3 (from memory)
    Checked: tests/figures/colour/test_bleed.py, against scipy's least_squares and in seeded trials:
            looks to day 60 of a bleed that goes on evenly have its width on day 180 in the interval
            in 95 % of 1,000, before others than the root were asked in none; of one that ends in
            98 %, before in 1 %
    """
    by_method = {by: tuple(w for w in widths if w.by == by) for by in METHODS}
    return tuple(_growth_by_method(by, measured) for by, measured in by_method.items() if measured)


def pair_growth(bars: Sequence[BleedGrowth]) -> tuple[PairGrowth, ...]:
    """Average the growth of a colourant in a base over its bars, photo and ruler apart.

    Every bar counts once. The intervals are those within which the next bar
    is expected (t, from the spread between bars), or as far as those of the bars reach on average,
    since all bars may follow another law.

    Takes:  bars  as made by ``bleed_growth``; those without growth are left out
    Gives:  one PairGrowth for each method that was used
    Source: prediction interval of a mean (textbook; t quantiles)
    """
    growths = []
    for by in METHODS:
        grown = [bar for bar in bars if bar.by == by and bar.a_mm_per_sqrt_day is not None]
        if not grown:
            continue
        a, _ = _next_value([bar.a_mm_per_sqrt_day or 0.0 for bar in grown])
        forecasts = []
        for index, first in enumerate(grown[0].forecasts):
            width, interval = _next_value([bar.forecasts[index].width_mm for bar in grown])
            beyond = all(bar.forecasts[index].beyond for bar in grown)
            of_bars = [bar.forecasts[index].interval_mm for bar in grown]
            ends = [one for one in of_bars if one is not None]
            if beyond and interval is not None and ends:
                interval = (
                    min(interval[0], fmean(low for low, _ in ends)),
                    max(interval[1], fmean(high for _, high in ends)),
                )
            forecasts.append(WidthForecast(first.day, width, interval, beyond))
        why = "" if len(grown) > 1 else "one bar does not say how bars differ"
        growths.append(PairGrowth(by, len(grown), a, tuple(forecasts), why))
    return tuple(growths)


def _growth_by_method(by: BleedMethod, widths: tuple[MeasuredWidth, ...]) -> BleedGrowth:
    """Fit the growth of one bar's bleed to its widths by one method."""
    count = len(widths)
    latest = max(w.day for w in widths)
    if latest < EARLIEST_DAY:
        return BleedGrowth(by, count, None, None, (), "no look later than the day of the pour")
    days = tuple(w.day for w in widths)
    # In a unit near the widest, or the squares of very small widths would come to 0. A
    # power of two changes no digit.
    unit = math.ldexp(1.0, math.frexp(max(w.width_mm for w in widths))[1] - 1)
    scaled = tuple(w.width_mm / unit for w in widths)
    fitted = count >= START_FITTED_FROM and len(set(days)) > 1
    start, a = _fit_law(days, scaled) if fitted else (0.0, _fit_without_start(days, scaled))
    error = math.fsum((w - _width_at(start, a, d)) ** 2 for d, w in zip(days, scaled, strict=True))
    freedom = count - (2 if fitted else 1)
    others = _evening_laws(days, scaled, fitted) if freedom and a else ()
    # Laws that agree with the looks so much worse than the best of them are out.
    most = min([error, *(law.error for law in others)])
    if freedom:
        most *= 1.0 + t_quantile(OUT_OF_QUESTION, freedom) ** 2 / freedom
    others = tuple(law for law in others if law.error <= most)
    why = ""
    if freedom < 1:
        why = "one look gives no interval"
    elif a == 0:
        why = "the widths do not grow, so there is no interval for their growth"
    forecasts = []
    for day in HORIZONS_DAY:
        interval = None
        width = _width_at(start, a, day)
        if not why:
            ends = [law.interval(day) for law in others]
            if error <= most:
                ends.append(_width_interval(days, start, a, day, error / freedom, freedom))
            else:
                width = min(others, key=lambda law: law.error).width(day)
            interval = min(low for low, _ in ends) * unit, max(high for _, high in ends) * unit
        forecasts.append(WidthForecast(day, width * unit, interval, day > latest))
    return BleedGrowth(by, count, start * unit, a * unit, tuple(forecasts), why)


class _EveningLaw(NamedTuple):
    """width = start + reach (1 - e^(-day / time)), fitted; with an endless time a straight line."""

    time_day: float
    start: float
    reach: float
    mean: float  # of the shares of the reach, 0 without a start
    apart: float  # sum of squares of the shares about it
    looks: float  # their number, without a start endless
    error: float
    freedom: int

    def share(self, day: float) -> float:
        """The share of the reach on a day; of an endless time the days."""
        return day if math.isinf(self.time_day) else -math.expm1(-day / self.time_day)

    def width(self, day: float) -> float:
        """The width on a day."""
        return self.start + self.reach * self.share(day)

    def interval(self, day: float) -> tuple[float, float]:
        """The 95 % interval of the width on a day."""
        spread = 1.0 / self.looks + (self.share(day) - self.mean) ** 2 / self.apart
        half = t_quantile_95(self.freedom) * math.sqrt(self.error / self.freedom * spread)
        return max(self.width(day) - half, 0.0), self.width(day) + half


def _evening_laws(
    days: Sequence[float], widths: Sequence[float], fitted: bool
) -> tuple[_EveningLaw, ...]:
    """The laws of a growth that evens out, soon or late or never, as they fit by least squares."""
    laws = []
    for part in EVENING_TIMES:
        law = _EveningLaw(part * max(days), 0.0, 0.0, 0.0, 0.0, math.inf, 0.0, 0)
        shares = [law.share(day) for day in days]
        mean, middle = (fmean(shares), fmean(widths)) if fitted else (0.0, 0.0)
        for _ in range(2):
            apart = math.fsum((share - mean) ** 2 for share in shares)
            along = math.fsum(
                (share - mean) * (width - middle)
                for share, width in zip(shares, widths, strict=True)
            )
            if middle * apart >= along * mean:
                break
            mean = middle = 0.0  # no start below nothing
        if along <= 0.0:
            continue
        reach = along / apart
        law = law._replace(
            start=middle - reach * mean, reach=reach, mean=mean, apart=apart,
            looks=len(days) if mean else math.inf, freedom=len(days) - (2 if fitted else 1),
        )  # fmt: skip
        laws.append(
            law._replace(
                error=math.fsum((w - law.width(d)) ** 2 for d, w in zip(days, widths, strict=True))
            )
        )
    return tuple(laws)


def _width_at(start: float, a: float, day: float) -> float:
    """The width on a day by the law of growth."""
    return math.hypot(start, a * math.sqrt(day))


def _fit_without_start(days: Sequence[float], widths: Sequence[float]) -> float:
    """Fit the growth a of width = a sqrt(day) by least squares."""
    along = math.fsum(w * math.sqrt(d) for d, w in zip(days, widths, strict=True))
    return along / math.fsum(days)


def _fit_law(days: Sequence[float], widths: Sequence[float]) -> tuple[float, float]:
    """Fit start and growth a by least squares, both 0 or above.

    With start = s cos(turn) and a = s sin(turn) / sqrt(latest) the width is linear in s for
    a given turn. A grid and a golden-section search over the quarter circle find the least
    without a starting value.
    """
    latest = max(days)
    shares = tuple(d / latest for d in days)

    def scale_and_error(turn: float) -> tuple[float, float]:
        """The best s for a turn, and the sum of squares of the errors with it."""
        start, growth = math.cos(turn) ** 2, math.sin(turn) ** 2
        shape = [math.sqrt(start + growth * x) for x in shares]
        scale = math.fsum(f * w for f, w in zip(shape, widths, strict=True)) / math.fsum(
            f * f for f in shape
        )
        return scale, math.fsum((w - scale * f) ** 2 for f, w in zip(shape, widths, strict=True))

    steps = 24
    turns = [math.pi / 2.0 * index / steps for index in range(steps + 1)]
    best = min(range(steps + 1), key=lambda index: scale_and_error(turns[index])[1])
    low, high = turns[max(best - 1, 0)], turns[min(best + 1, steps)]
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    # 40 cuts narrow the bracket by 4e-9, past which the sum of squares no longer changes.
    for _ in range(40):
        left, right = high - golden * (high - low), low + golden * (high - low)
        if scale_and_error(left)[1] <= scale_and_error(right)[1]:
            high = right
        else:
            low = left
    turn = (low + high) / 2.0
    for edge in (0.0, math.pi / 2.0):
        if scale_and_error(edge)[1] <= scale_and_error(turn)[1] or abs(turn - edge) < 1e-7:
            turn = edge
    scale = scale_and_error(turn)[0]
    start = scale * math.cos(turn) if turn < math.pi / 2.0 else 0.0
    return start, (scale * math.sin(turn) / math.sqrt(latest) if turn > 0 else 0.0)


def _width_interval(
    days: Sequence[float], start: float, a: float, day: float, variance: float, freedom: int
) -> tuple[float, float]:
    """The 95 % interval of the width on a day, from the variance of one observation.

    Without a start the width itself is linear in a; with one its square is linear in start^2
    and a^2.
    """
    quantile = t_quantile_95(freedom)
    if start == 0:
        reach = quantile * math.sqrt(variance / math.fsum(days))
        return max(a - reach, 0.0) * math.sqrt(day), (a + reach) * math.sqrt(day)
    # d width / d start^2 = 1 / (2 width); d width / d a^2 = day / (2 width).
    weights = [0.25 / _width_at(start, a, d) ** 2 for d in days]
    # From the weighted mean day, which does not cancel where the days lie close together.
    whole = math.fsum(weights)
    mean = math.fsum(w * d for w, d in zip(weights, days, strict=True)) / whole
    apart = math.fsum(w * (d - mean) ** 2 for w, d in zip(weights, days, strict=True))
    reach = quantile * math.sqrt(variance * (1.0 / whole + (day - mean) ** 2 / apart))
    square = start * start + a * a * day
    return math.sqrt(max(square - reach, 0.0)), math.sqrt(square + reach)


def _next_value(values: Sequence[float]) -> tuple[float, tuple[float, float] | None]:
    """The expected next value (the mean) and its 95 % interval above 0; None for one value."""
    count = len(values)
    mean = fmean(values)
    if count < 2:
        return mean, None
    reach = t_quantile_95(count - 1) * stdev(values) * math.sqrt(1.0 + 1.0 / count)
    return mean, (max(mean - reach, 0.0), mean + reach)
