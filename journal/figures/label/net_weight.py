"""The net weight of bars: their mean, the loss of weight by drying, the weight to declare."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from statistics import fmean, stdev

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.exact import exact_fraction, floor_to_step
from journal.figures.common.statistics import t_quantile_95
from journal.figures.common.tolerance import tolerance_limit
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
from journal.figures.label.regions import REGIONS

G_PER_OZ = G_PER_LB / OZ_PER_LB

# With fewer weigh-ins of bars that were weighed more than once no loss is worked out.
LEAST_WEIGH_INS = 3
# What a weight may be declared from: pours, since the bars of one pour are alike, and bars.
# Common practice, no source.
LEAST_POURS, LEAST_BARS = 2, 10
# What the loss of a variant is worked out from by itself: with two pours the interval would be
# some four times as wide (Student's t). Common practice, no source.
LEAST_POURS_OF_VARIANT = 3
# With fewer the limits lie far from the mean: at 2 pours Student's t is 12.7, at 4 it is 3.2.
FEW_POURS = 4
# Of all bars no more than 2.5 % may fall short by more than the allowance: the packers' rules of
# the Weights and Measures (Packaged Goods) Regulations 2006, which put Directive 76/211/EEC into
# practice. In no more than one declaration of twenty it is to be otherwise.
WITHIN_ALLOWANCE, CONFIDENCE = 0.975, 0.95


class Weighing(Struct, frozen=True):
    """One bar on the scale, tidied and unwrapped, so many days after its pour."""

    bar: str
    day: float
    weight_g: float
    pour: str = ""
    variant: str = ""


class LossAt(Struct, frozen=True):
    """Share of its weight that a bar loses from one day to another; below 0 for a gain.

    The 95 % interval is that of the mean of all pours; its ends are None with fewer than
    two pours. ``at_most`` is the share if they go on losing as much a day;
    ``bar_deviation`` is how far single bars differ; ``beyond`` is whether the later day
    lies after a bar's last weigh-in.
    """

    share: float
    low: float | None
    high: float | None
    at_most: float
    bar_deviation: float
    beyond: bool


class NetWeight(Struct, frozen=True):
    """Mean of the weighed bars, at their first weigh-in and at the day of sale.

    ``lower_g`` is the lower end of the 95 % interval of the mean at the day of
    sale, ``single_lower_g`` the weight that 97.5 % of single bars are above with 95 %
    confidence; both None below two pours, or where the loss up to the sale is not known.
    ``at_sale_g`` holds one weight a bar. ``forecast`` is whether a loss changed them;
    ``dried`` whether their loss is known, or an allowance for it. ``why`` are remarks on the
    estimate.
    """

    bars: int
    pours: int
    mean_g: float
    sale_day: float
    at_sale_g: tuple[float, ...]
    mean_at_sale_g: float
    lower_g: float | None
    single_lower_g: float | None
    forecast: bool
    dried: bool
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
    firsts: dict[str, Weighing] = {}
    for weighing in weighings:
        firsts.setdefault(weighing.bar, weighing)
        if not (math.isfinite(weighing.day) and weighing.day >= 0):
            raise FigureError(f"bar {weighing.bar}, day {weighing.day}: days count from 0")
        if not (math.isfinite(weighing.weight_g) and weighing.weight_g > 0):
            raise FigureError(
                f"bar {weighing.bar} weighs {weighing.weight_g} g; a weight must be above 0"
            )
        bars.setdefault(weighing.bar, {}).setdefault(weighing.day, []).append(weighing.weight_g)
    return tuple(
        tuple(
            Weighing(
                bar, day, math.fsum(weights) / len(weights), firsts[bar].pour, firsts[bar].variant
            )
            for day, weights in sorted(days.items())
        )
        for bar, days in bars.items()
    )


def drying_of_variant(weighings: Sequence[Weighing], variant: str) -> tuple[Weighing, ...]:
    """The weigh-ins that the loss of a variant's bars is worked out from.

    Takes:  weighings  as for weighings_by_bar
            variant    its name
    Gives:  the variant's own, where its bars were weighed again in three pours or more; else all
    Fails:  FigureError if a weigh-in lies outside its range
    Source: own rule
    """
    own = tuple(weighing for weighing in weighings if weighing.variant == variant)
    again = _weighed_again(own)
    enough = len({days[0].pour for days in again}) >= LEAST_POURS_OF_VARIANT
    return own if enough and sum(map(len, again)) >= LEAST_WEIGH_INS else tuple(weighings)


def loss_between(weighings: Sequence[Weighing], from_day: float, day: float) -> LossAt | None:
    """The share of their weight that bars lose from one day to another.

    Each bar that was weighed again is followed by itself: between two weigh-ins along a
    straight line over the root of the days, as water leaves by diffusion at first, and
    after the last along the line from its first to its last. There the interval reaches
    from a bar that loses no more to one that goes on losing as much a day. Bars of one pour
    dry alike, so the interval goes by the means of the pours.

    Takes:  weighings      as for weighings_by_bar
            from_day, day  days since the pour; finite, >= 0; scalars
    Gives:  the mean of the pours with its 95 % interval; None below three weigh-ins of bars
            weighed on two days or more
    Fails:  FigureError if a weigh-in lies outside its range, or nothing would be left
    Source: early-time law of diffusion, Crank, The Mathematics of Diffusion, 2nd ed., sec. 2.4
            and 4.3; Student's t on the means of clusters
    Checked: 100 g, 99 g on day 4 and 98 g on day 16 gives 1 % on day 4, 2.5 % by day 25
    """
    return _loss_of(_weighed_again(weighings), from_day, day)


def _weighed_again(weighings: Sequence[Weighing]) -> list[tuple[Weighing, ...]]:
    """The weigh-ins of each bar that was weighed on two days or more."""
    return [days for days in weighings_by_bar(weighings) if len(days) > 1]


def _loss_of(again: Sequence[tuple[Weighing, ...]], from_day: float, day: float) -> LossAt | None:
    """``loss_between`` of bars that were weighed again."""
    if sum(map(len, again)) < LEAST_WEIGH_INS:
        return None
    losses: dict[str, list[tuple[float, float, float]]] = {}
    for days in again:
        shares = [
            1 - _weight_on(days, day, power) / _weight_on(days, from_day, power)
            for power in (0.5, 1.0, 0.0)
        ]
        losses.setdefault(days[0].pour, []).append((shares[0], shares[1], shares[2]))
    by_law, straight, flat = (
        [fmean(bar[law] for bar in bars) for bars in losses.values()] for law in range(3)
    )
    share = fmean(by_law)
    low = high = None
    if len(losses) >= LEAST_POURS:
        errors = t_quantile_95(len(losses) - 1) / math.sqrt(len(losses))
        low = min(fmean(law) - errors * stdev(law) for law in (by_law, flat))
        high = max(fmean(law) + errors * stdev(law) for law in (by_law, straight))
    single = [bar[0] for pour in losses.values() for bar in pour]
    return LossAt(
        share=share + 0.0,
        low=low,
        high=high,
        at_most=max(share, fmean(straight)),
        bar_deviation=stdev(single) if len(single) > 1 else 0.0,
        beyond=any(days[-1].day < day for days in again),
    )


def _weight_on(days: Sequence[Weighing], day: float, power: float) -> float:
    """A bar's weight on a day; outside its weigh-ins it goes by the days to ``power``."""
    first, last = days[0], days[-1]
    if first is last:
        return first.weight_g
    if first.day <= day <= last.day:
        after = next(place for place in range(1, len(days)) if days[place].day >= day)
        first, last, power = days[after - 1], days[after], 0.5
    elif power == 0:
        return first.weight_g if day < first.day else last.weight_g
    since, at, last_at = (math.pow(one, power) for one in (first.day, day, last.day))
    gone = (at - since) / (last_at - since)
    weight_g = first.weight_g + (last.weight_g - first.weight_g) * gone
    if weight_g <= 0 and power == 0.5:
        raise FigureError(f"the loss would leave nothing by day {day:g}")
    return max(weight_g, 1e-9)


def net_weight(
    weighings: Sequence[Weighing], sale_day: float, allowance: float | None = None
) -> NetWeight:
    """Estimate the mean weight of the bars and its lower 95 % limit at the day of sale.

    A bar that was weighed by then and after counts with what it had on that day; any other with
    its last weigh-in, less the mean loss since (a gain is not counted on) of its variant's bars,
    or of all where those are too few (``drying_of_variant``), or less the allowance where the
    loss of two pours is not known. Bars of a pour are alike, so the limit goes by the means of
    the pours; the error of the loss is added as the root of the sum of squares, for single bars
    as for the mean, and what they lose more if they go on losing as much a day is taken off as it
    is.

    Takes:  weighings  one or more, as for weighings_by_bar
            sale_day   days after the pour; finite, >= 0; scalar
            allowance  share of its weight that a bar is taken to lose; 0 <= share < 1, or None
    Gives:  ``NetWeight``; no limit below two pours or without a loss. ``why`` has a remark on each
            thing that limits the estimate: no loss known, a gain, a forecast, no limit
    Fails:  FigureError if there is no weigh-in, or one lies outside its range
    Source: Student's t on the means of clusters (one-stage cluster sample; textbook), the level
            of NIST Handbook 133 Table 2-1; ``tolerance_limit``; root of the sum of squares,
            Zou & Donner, Stat. Med. 27 (2008) 1693 (from memory)
    Checked: pours of 96, 97 and 98 g on the day of sale give 97 and 97 - 2.484; coverage as in
            tests/coverage_of_weights.py
    """
    if not (math.isfinite(sale_day) and sale_day >= 0):
        raise FigureError(f"day of sale {sale_day}; days count from 0")
    bars = weighings_by_bar(weighings)
    if not bars:
        raise FigureError("no bar was weighed")
    remarks: list[str] = []
    drying = {name: drying_of_variant(weighings, name) for name in {one[0].variant for one in bars}}
    again = {name: _weighed_again(own) for name, own in drying.items()}
    # Most bars were last weighed on one of a few days.
    last_weighed = dict.fromkeys((days[0].variant, days[-1].day) for days in bars)
    losses: dict[tuple[str, float], LossAt | None] = {
        (variant, day): _loss_of(again[variant], day, sale_day)
        for variant, day in last_weighed
        if day < sale_day
    }
    dried = True
    forecast = False
    pours: dict[str, list[float]] = {}
    more_g = doubt_g = added = 0.0
    for days in bars:
        last = days[-1]
        loss = losses.get((last.variant, last.day))
        if last.day >= sale_day:
            at_sale_g = _weight_on(days, sale_day, 0.0)
        elif loss is not None and (loss.high is not None or allowance is None):
            at_sale_g = last.weight_g * (1 - max(loss.share, 0.0))
            forecast = forecast or loss.share > 0
            dried = dried and loss.high is not None
            worst = max(loss.at_most, 0.0)
            more_g += last.weight_g * (worst - max(loss.share, 0.0))
            doubt_g += last.weight_g * ((loss.high or 0.0) - worst)
            added += (last.weight_g * loss.bar_deviation) ** 2
        else:
            at_sale_g = last.weight_g * (1 - (allowance or 0.0))
            forecast = forecast or bool(allowance)
            dried = dried and allowance is not None
        pours.setdefault(last.pour, []).append(at_sale_g)
    known = [loss for loss in losses.values() if loss is not None]
    if losses and not known:
        remarks.append("no loss forecast: it needs three weigh-ins of bars weighed again")
    elif any(loss.high is None for loss in known):
        remarks.append("bars of one pour alone were weighed again, and pours may dry otherwise")
    if any(loss.share < 0 for loss in known):
        remarks.append("the bars gained weight; a gain is not counted on")
    shared = sorted(name for name, own in drying.items() if len(own) == len(weighings))
    if known and shared and len(drying) > 1:
        named = "any variant" if len(shared) == len(drying) > 2 else ", ".join(shared)
        remarks.append(f"too few weigh-ins of {named} alone: the loss is that of all bars")
    if losses and not dried and not forecast:
        remarks.append(f"not every bar was weighed by day {sale_day:g}; taken as last weighed")
    if forecast and any(loss.beyond for loss in known):
        remarks.append(f"day {sale_day:g} lies beyond the last weigh-in of a bar")
    means = [fmean(pour) for pour in pours.values()]
    mean = fmean(means)
    lower = single = None
    if len(means) < LEAST_POURS:
        remarks.append("no 95 % limit: it needs weighed bars of two pours")
    elif dried:
        reach_g = t_quantile_95(len(means) - 1) * stdev(means) / math.sqrt(len(means))
        more_g, doubt_g = more_g / len(bars), doubt_g / len(bars)
        lower = mean - more_g - math.hypot(reach_g, doubt_g)
        bar = tolerance_limit(
            tuple(pours.values()), WITHIN_ALLOWANCE, CONFIDENCE, added / len(bars)
        )
        single = bar.estimate - more_g - math.hypot(bar.estimate - bar.limit, doubt_g)
        if len(means) < FEW_POURS:
            remarks.append(
                f"{len(means)} pours say little of how pours differ; bars of another would raise "
                "the weight to declare"
            )
    return NetWeight(
        bars=len(bars),
        pours=len(pours),
        mean_g=math.fsum(days[0].weight_g for days in bars) / len(bars),
        sale_day=sale_day,
        at_sale_g=tuple(weight for pour in pours.values() for weight in pour),
        mean_at_sale_g=mean,
        lower_g=lower,
        single_lower_g=single,
        forecast=forecast,
        dried=dried,
        why=tuple(remarks),
    )


def declare(net: NetWeight, system: str, step: Fraction | None = None) -> Declared:
    """Find the net weight to declare: rounded down, and so that no bar is too light for it.

    The largest label step that is not above the lower 95 % limit of the mean
    at the day of sale; then, step by step, further down until no weighed bar, and of all
    others no more than 2.5 %, is short by more than the system's allowance.

    Takes:  net     of net_weight
            system  "us" (ounces, with the grams that follow), "eu" or "uk" (grams); of another
                    no rule is known, and nothing is declared
            step    of the label, in ounces or grams; > 0; None: 0.1 oz or 1 g
    Gives:  the quantity and the words, or the reason that there is none
    Fails:  FigureError if step is not above 0
    Source: 21 CFR 701.13; NIST Handbook 133; Directive 76/211/EEC, whose allowances the Weights
            and Measures (Packaged Goods) Regulations 2006 have in the UK (from memory)
    Checked: limit 96.4 g gives "Net Wt 3.4 oz (96 g)" and "96 g"
    """
    if system not in REGIONS:
        return _refused(system, "its rules for net weights are not known here")
    if net.bars < LEAST_BARS or net.pours < LEAST_POURS:
        return _refused(
            system,
            f"weigh more bars: {LEAST_BARS} or more of {LEAST_POURS} pours or more are needed, "
            f"and there {'is' if net.bars == 1 else 'are'} {net.bars} of {net.pours}",
        )
    if net.lower_g is None or net.single_lower_g is None:
        return _refused(
            system,
            "weigh more bars: of two pours or more, again in the days up to the sale; or "
            "state in journal.yaml what they lose by then, as drying: 3 %",
        )
    unit_g = G_PER_OZ if system == "us" else Fraction(1)
    size = step if step is not None else (OUNCE_STEP if system == "us" else GRAM_STEP)
    quantity = floor_to_step(exact_fraction(net.lower_g) / unit_g, size)
    table_ends_g = LAST_LABEL_LB * G_PER_LB if system == "us" else Fraction(10000)
    shortest = min(net.single_lower_g, *net.at_sale_g)
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
