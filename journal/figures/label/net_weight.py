"""The net weight of bars: their mean, the loss of weight by drying, the weight to declare."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.exact import exact_fraction, floor_to_step
from journal.figures.common.statistics import mean_and_deviation, t_quantile_95
from journal.figures.label.allowances import (
    G_PER_LB,
    LAST_LABEL_LB,
    LEAST_NOMINAL_G,
    maximum_allowable_variation_g,
    tolerable_negative_error_g,
)
from journal.figures.label.declaration import (
    GRAM_STEP,
    OUNCE_STEP,
    OZ_PER_LB,
    eu_declaration,
    us_declaration,
)

G_PER_OZ = G_PER_LB / OZ_PER_LB

# With fewer weigh-ins of bars that were weighed more than once a loss is fitted to a
# single point, and its error cannot be estimated.
LEAST_WEIGH_INS = 3


class Weighing(Struct, frozen=True):
    """One bar on the scale, tidied and unwrapped, so many days after the pour."""

    bar: str
    day: float
    weight_g: float


class LossFit(Struct, frozen=True):
    """Loss of weight as a share of the first day's weight: share = rate x sqrt(days).

    ``rate_low`` and ``rate_high`` bound the rate with 95 %; ``last_day`` is the
    latest weigh-in, beyond which the loss is a forecast.
    """

    rate_per_sqrt_day: float
    rate_low: float
    rate_high: float
    last_day: float


class LossAt(Struct, frozen=True):
    """Share of the first day's weight that is lost by a day, with its 95 % interval.

    Below 0 for a gain.
    """

    share: float
    low: float
    high: float


class NetWeight(Struct, frozen=True):
    """Mean of the weighed bars, at their first weigh-in and at the day of sale.

    ``lower_g`` is the lower end of the 95 % interval of the mean at the day of
    sale; None with the reason in ``why`` where there is none. ``at_sale_g``
    holds one weight a bar. ``forecast`` is whether the fitted loss changed them.
    ``why`` are remarks on the estimate.
    """

    bars: int
    mean_g: float
    sale_day: float
    at_sale_g: tuple[float, ...]
    mean_at_sale_g: float
    lower_g: float | None
    loss: LossFit | None
    forecast: bool
    why: tuple[str, ...]


class Declared(Struct, frozen=True):
    """The net weight to declare in one system, or the reason that there is none.

    ``quantity`` is in the system's unit (ounces or grams), ``declared_g`` the
    same in grams.
    """

    system: str
    quantity: Fraction | None
    declared_g: float | None
    text: str
    why: str


def weighings_by_bar(weighings: Sequence[Weighing]) -> tuple[tuple[Weighing, ...], ...]:
    """Group weigh-ins by bar, each bar's in the order of the days.

    A bar weighed twice on a day counts once, with the mean.

    Takes:  weighings  in any order; day finite, >= 0; weight finite, > 0
    Gives:  one tuple for each bar, in the order in which the bars first occur
    Fails:  FigureError if a day or a weight lies outside its range
    """
    bars: dict[str, dict[float, list[float]]] = {}
    for weighing in weighings:
        if not (math.isfinite(weighing.day) and weighing.day >= 0):
            raise FigureError(f"bar {weighing.bar}, day {weighing.day}: days count from 0")
        if not (math.isfinite(weighing.weight_g) and weighing.weight_g > 0):
            raise FigureError(
                f"bar {weighing.bar} weighs {weighing.weight_g} g; a weight must be above 0"
            )
        bars.setdefault(weighing.bar, {}).setdefault(weighing.day, []).append(weighing.weight_g)
    return tuple(
        tuple(
            Weighing(bar, day, math.fsum(weights) / len(weights))
            for day, weights in sorted(days.items())
        )
        for bar, days in bars.items()
    )


def fit_loss(weighings: Sequence[Weighing]) -> LossFit | None:
    """Fit the rate at which bars lose weight, from bars that were weighed again.

    Water leaves a drying bar by diffusion, so at first the loss grows as the
    square root of the days: w(d) = w(0) (1 - a sqrt(d)). Each later weigh-in
    is set against its own bar's first, on day r: with y = (w_r - w) / w_r and
    x = sqrt(d) - (w / w_r) sqrt(r) the law is y = a x exactly, and a is
    fitted by least squares through the origin over all bars. Later the true
    curve flattens, so that beyond the last weigh-in the law takes away too
    much rather than too little: the safe side for a declaration.

    Takes:  weighings  as for weighings_by_bar
    Gives:  the fit, or None below three weigh-ins of bars weighed on two days
            or more (two losses at least)
    Fails:  FigureError if a weigh-in lies outside its range
    Source: early-time law of diffusion, Crank, The Mathematics of Diffusion,
            2nd ed., sec. 2.4 and 4.3; the choice of it for soap is our own
    Checked: 100 g, 99 g on day 4 and 98 g on day 16 gives a = 0.005
    """
    pairs: list[tuple[float, float]] = []
    weigh_ins = 0
    last_day = 0.0
    for days in weighings_by_bar(weighings):
        if len(days) < 2:
            continue
        weigh_ins += len(days)
        first = days[0]
        last_day = max(last_day, days[-1].day)
        for later in days[1:]:
            share_left = later.weight_g / first.weight_g
            pairs.append((math.sqrt(later.day) - share_left * math.sqrt(first.day), 1 - share_left))
    if weigh_ins < LEAST_WEIGH_INS:
        return None
    squares = math.fsum(x * x for x, _ in pairs)
    if squares == 0:
        return None
    rate = math.fsum(x * y for x, y in pairs) / squares
    freedom = len(pairs) - 1
    residual = math.fsum((y - rate * x) ** 2 for x, y in pairs)
    half = t_quantile_95(freedom) * math.sqrt(residual / freedom / squares)
    return LossFit(rate + 0.0, rate - half, rate + half, last_day)


def loss_at(fit: LossFit, day: float) -> LossAt:
    """The share of the first day's weight that is lost by a day.

    Takes:  fit  of fit_loss
            day  since the pour; finite, >= 0; scalar
    Gives:  the share with its 95 % interval
    Fails:  FigureError if day lies outside its range, or the law would leave nothing
    Source: see fit_loss
    Checked: rate 0.005 gives 2 % on day 16
    """
    if not (math.isfinite(day) and day >= 0):
        raise FigureError(f"day {day}; days count from 0")
    root = math.sqrt(day)
    if fit.rate_per_sqrt_day * root >= 1:
        raise FigureError(f"the fitted loss would leave nothing by day {day:g}")
    return LossAt(fit.rate_per_sqrt_day * root, fit.rate_low * root, fit.rate_high * root)


def net_weight(weighings: Sequence[Weighing], sale_day: float) -> NetWeight:
    """Estimate the mean weight of the bars and its lower 95 % limit at the day of sale.

    Each bar counts with the weigh-in nearest to the day of sale (the later of
    two equally near), moved to that day by the fitted loss where there is a fit. A
    fitted gain is not counted on: the bars then count as weighed. The
    lower limit combines the spread of the bars and, where the loss moved them,
    the uncertainty of the rate, as the root of the sum of squares.

    Takes:  weighings  one or more, as for weighings_by_bar
            sale_day   days after the pour; finite, >= 0; scalar
    Gives:  ``NetWeight``; ``lower_g`` is None for a single bar. ``why`` has a remark on each
            thing that limits the estimate: no loss fitted, a gain, a forecast, no limit
    Fails:  FigureError if there is no weigh-in, or one lies outside its range
    Source: Student's t for the mean; NIST Handbook 133 Table 2-1 for its level
    Checked: 96, 97, 98 g on the day of sale gives 97 and 97 - 2.484
    """
    if not (math.isfinite(sale_day) and sale_day >= 0):
        raise FigureError(f"day of sale {sale_day}; days count from 0")
    bars = weighings_by_bar(weighings)
    if not bars:
        raise FigureError("no bar was weighed")
    remarks: list[str] = []
    fit = fit_loss(weighings)
    if fit is None:
        remarks.append("no loss forecast: it needs three weigh-ins of bars weighed again")
    elif fit.rate_per_sqrt_day < 0:
        remarks.append("the bars gained weight; a gain is not counted on")
    rate = max(fit.rate_per_sqrt_day, 0.0) if fit else 0.0
    if rate * math.sqrt(sale_day) >= 1:
        raise FigureError(f"the fitted loss would leave nothing by day {sale_day:g}")
    nearest = [min(days, key=lambda w: (abs(w.day - sale_day), -w.day)) for days in bars]
    moved_roots = [math.sqrt(sale_day) - math.sqrt(weighing.day) for weighing in nearest]
    at_sale = tuple(
        weighing.weight_g * (1 - rate * math.sqrt(sale_day)) / (1 - rate * math.sqrt(weighing.day))
        for weighing in nearest
    )
    forecast = rate > 0 and any(moved_roots)
    if fit is None and any(root > 0 for root in moved_roots):
        remarks.append(f"not every bar was weighed by day {sale_day:g}; taken as last weighed")
    if forecast and fit is not None and sale_day > fit.last_day:
        remarks.append(f"day {sale_day:g} lies beyond the last weigh-in, day {fit.last_day:g}")
    mean, deviation = mean_and_deviation(at_sale)
    lower = None
    if deviation is None:
        remarks.append("no 95 % limit: it needs two weighed bars")
    else:
        spread_g = t_quantile_95(len(at_sale) - 1) * deviation / math.sqrt(len(at_sale))
        rate_error_g = 0.0
        if forecast and fit is not None:
            mean_root = math.fsum(moved_roots) / len(moved_roots)
            rate_error_g = mean * abs(mean_root) * (fit.rate_high - fit.rate_per_sqrt_day)
        lower = mean - math.hypot(spread_g, rate_error_g)
    return NetWeight(
        bars=len(bars),
        mean_g=math.fsum(days[0].weight_g for days in bars) / len(bars),
        sale_day=sale_day,
        at_sale_g=at_sale,
        mean_at_sale_g=mean,
        lower_g=lower,
        loss=fit,
        forecast=forecast,
        why=tuple(remarks),
    )


def declare(net: NetWeight, system: str, step: Fraction | None = None) -> Declared:
    """Find the net weight to declare: rounded down, and so that no bar is too light for it.

    The largest label step that is not above the lower 95 % limit of the mean
    at the day of sale; then, step by step, further down until no weighed bar
    is short by more than the system's allowance.

    Takes:  net     of net_weight
            system  "us" (ounces, with the grams that follow), "eu" or "uk" (grams)
            step    of the label, in ounces or grams; > 0; None: 0.1 oz or 1 g
    Gives:  the quantity and the words, or the reason that there is none
    Fails:  FigureError if system is unknown or step is not above 0
    Source: 21 CFR 701.13; NIST Handbook 133; Directive 76/211/EEC, whose allowances the Weights
            and Measures (Packaged Goods) Regulations 2006 have in the UK (from memory)
    Checked: limit 96.4 g gives "Net Wt 3.4 oz (96 g)" and "96 g"
    """
    if system not in ("us", "eu", "uk"):
        raise FigureError(f'no rules for the system "{system}"; it is "us", "eu" or "uk"')
    if net.lower_g is None:
        return _refused(system, "; ".join(net.why))
    unit_g = G_PER_OZ if system == "us" else Fraction(1)
    size = step if step is not None else (OUNCE_STEP if system == "us" else GRAM_STEP)
    quantity = floor_to_step(exact_fraction(net.lower_g) / unit_g, size)
    table_ends_g = LAST_LABEL_LB * G_PER_LB if system == "us" else Fraction(10000)
    shortest = min(net.at_sale_g)
    while quantity > 0:
        label_g = quantity * unit_g
        if label_g > table_ends_g or (system == "us" and label_g == table_ends_g):
            return _refused(system, f"{float(label_g):g} g is beyond the table of allowances")
        if system != "us" and label_g < LEAST_NOMINAL_G:
            return _refused(system, f"below {LEAST_NOMINAL_G} g no net weight need be declared")
        allowance = (
            maximum_allowable_variation_g(label_g)
            if system == "us"
            else tolerable_negative_error_g(label_g)
        )
        if label_g - exact_fraction(shortest) <= allowance:
            words = us_declaration(quantity) if system == "us" else eu_declaration(quantity)
            return Declared(system, quantity, float(label_g), words, "")
        quantity -= size
    return _refused(system, "the bars differ too much for any declaration; weigh more of them")


def _refused(system: str, why: str) -> Declared:
    """A ``Declared`` without a weight, with the reason ``why`` there is none."""
    return Declared(system, None, None, "", why)
