"""The natural variation between bars of one pot, between pots, and between days."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Sequence

from msgspec import Struct

from journal.errors import FigureError


class VarianceComponents(Struct, frozen=True):
    """Standard deviations apart from the effect of the variants, in the measure's unit.

    ``within_pots`` is between bars of one pot, ``between_pots`` between pots of a
    day (or of all days, where no day has two pots: ``days_in_pots`` is True),
    ``between_days`` between days. A deviation is None where the bars do not show it.
    ``pots`` counts the pots.
    """

    within_pots: float | None
    between_pots: float | None
    between_days: float | None
    days_in_pots: bool
    pots: int


def variance_components(
    values: Sequence[float],
    pots: Sequence[Hashable],
    days: Sequence[Hashable],
    variants: Sequence[Hashable],
    per_pot: bool,
) -> VarianceComponents:
    """Estimate the deviations within pots, between pots and between days, by analysis of variance.

    The variants' means are subtracted first, within pots or, where a pot has one
    variant, among pots, with a degree of freedom for each beyond one. Mean squares are
    then set equal to their expected values, from the inside out; a negative variance
    is 0.

    Takes:  values    one a bar; finite; one or more
            pots      each bar's pot
            days      each bar's day; a pot lies in one day
            variants  each bar's variant
            per_pot   True if a pot has one variant
    Fails:  FigureError if the lists differ in length, are empty, or a pot lies in
            two days
    Source: nested random effects by moments: Searle, Casella and McCulloch,
            Variance Components (1992), ch. 5 (unbalanced coefficients)
    Checked: the dyestuff data of Davies, Statistical Methods (1947): within
            batches 49.5, between them 42.0
    """
    if not values or not len(values) == len(pots) == len(days) == len(variants):
        raise FigureError("each bar needs a value, a pot, a day and a variant")
    if not all(map(math.isfinite, values)):
        raise FigureError("a value is not finite")
    day_of: dict[Hashable, Hashable] = {}
    for pot, day in zip(pots, days, strict=True):
        if day_of.setdefault(pot, day) != day:
            raise FigureError(f"the pot {pot} lies in two days")
    adjusted = _without_variants(values, pots, variants, per_pot)
    in_pot: defaultdict[Hashable, list[float]] = defaultdict(list)
    for value, pot in zip(adjusted, pots, strict=True):
        in_pot[pot].append(value)
    in_day: defaultdict[Hashable, list[Hashable]] = defaultdict(list)
    for pot, day in day_of.items():
        in_day[day].append(pot)
    effects = len(set(variants)) - 1
    bars, n_pots = len(values), len(in_pot)
    days_in_pots = n_pots == len(in_day)
    if days_in_pots:
        # No day has two pots: what pots and days do is one thing, and all pots stand as of a day.
        in_day = defaultdict(list, {"": list(in_pot)})
    n_days = len(in_day)
    sizes = {pot: len(own) for pot, own in in_pot.items()}
    sums = {pot: math.fsum(own) for pot, own in in_pot.items()}
    day_sizes = {day: sum(sizes[pot] for pot in own) for day, own in in_day.items()}
    day_sums = {day: math.fsum(sums[pot] for pot in own) for day, own in in_day.items()}

    within = math.fsum(
        (value - sums[pot] / sizes[pot]) ** 2 for pot, own in in_pot.items() for value in own
    )
    within_df = bars - n_pots - (0 if per_pot else effects)
    error = within / within_df if within_df > 0 else None

    between = math.fsum(
        sizes[pot] * (sums[pot] / sizes[pot] - day_sums[day] / day_sizes[day]) ** 2
        for day, own in in_day.items()
        for pot in own
    )
    pots_df = n_pots - n_days - (effects if per_pot else 0)
    in_days = sum(sum(sizes[p] ** 2 for p in own) / day_sizes[d] for d, own in in_day.items())
    pot_variance = None
    if pots_df > 0:
        # With single bars the variance within pots cannot be taken off.
        factor = (bars - in_days) / (n_pots - n_days)
        pot_variance = max(0.0, (between / pots_df - (error or 0.0)) / factor)

    day_variance = None
    if n_days > 1 and error is not None and pot_variance is not None:
        whole = math.fsum(sums.values()) / bars
        squares = math.fsum(
            size * (day_sums[day] / size - whole) ** 2 for day, size in day_sizes.items()
        )
        df = n_days - 1
        of_pots = (in_days - sum(size**2 for size in sizes.values()) / bars) / df
        of_days = (bars - sum(size**2 for size in day_sizes.values()) / bars) / df
        day_variance = max(0.0, (squares / df - error - of_pots * pot_variance) / of_days)
    within_pots, between_pots, between_days = (
        None if variance is None else math.sqrt(variance)
        for variance in (error, pot_variance, day_variance)
    )
    return VarianceComponents(within_pots, between_pots, between_days, days_in_pots, n_pots)


def _without_variants(
    values: Sequence[float], pots: Sequence[Hashable], variants: Sequence[Hashable], per_pot: bool
) -> list[float]:
    """The values less the effect of their variant, to which each pot contributes once."""
    by_pot: dict[Hashable, dict[Hashable, list[float]]] = {}
    for value, pot, variant in zip(values, pots, variants, strict=True):
        by_pot.setdefault(pot, {}).setdefault(variant, []).append(value)
    off: defaultdict[Hashable, list[float]] = defaultdict(list)
    for own in by_pot.values():
        means = {variant: math.fsum(x) / len(x) for variant, x in own.items()}
        if per_pot or len(means) > 1:
            middle = 0.0 if per_pot else math.fsum(means.values()) / len(means)
            for variant, mean in means.items():
                off[variant].append(mean - middle)
    effect = {variant: math.fsum(own) / len(own) for variant, own in off.items()}
    return [
        value - effect.get(variant, 0.0) for value, variant in zip(values, variants, strict=True)
    ]


def deviation_within(groups: Sequence[Sequence[float]]) -> float | None:
    """Standard deviation within groups, pooled; None if no group has two values.

    Checked: (1, 3) and (5, 7) give sqrt(2)
    """
    squares = 0.0
    df = 0
    for group in groups:
        if len(group) > 1:
            mean = math.fsum(group) / len(group)
            squares += math.fsum((value - mean) ** 2 for value in group)
            df += len(group) - 1
    return math.sqrt(squares / df) if df else None
