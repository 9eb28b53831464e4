"""How much the pots of a design differ, beside its variants: what other designs may borrow."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct

from journal.comparison.moderated import PotScatter, Shift
from journal.comparison.observed import ComparedMeasure, ObservedBar
from journal.comparison.scales import bar_places, least_variance, pot_place
from journal.comparison.trials import number_of, usable

# The variance of a yes/no bar on the scale of a pot: 1 / (4 n) of n bars (Anscombe 1948).
YES_NO_BAR = 0.25
# An effect over a deviation from fewer degrees of freedom says nothing of how large effects are.
LEAST_EFFECT_DF = 4


class MeasureScatter(Struct, frozen=True):
    """Scatter of a design's pots by one measure, on its scale (``journal.comparison.scales``).

    ``in_day`` is of the pots of a day, ``over_days`` of days, each pot with its day; None where
    there is no degree of freedom. ``bars`` is how many stand behind a pot, the harmonic mean;
    ``bar_variance`` is that of the bars of one pot, None if it is not known. ``follow_up`` is
    the day on which the measure was looked at, for what grows. ``bar_df`` are the degrees of
    freedom of ``bar_variance``; ``middle`` is the mean place of the pots, ``last_pour`` the day of
    the last of them.
    """

    in_day: PotScatter | None
    over_days: PotScatter | None
    bars: float
    bar_variance: float | None
    follow_up: int | None = None
    effects: tuple[tuple[float, float], ...] = ()
    bar_df: int = 0
    middle: float = 0.0
    last_pour: date = date.min


# The scatter of one design after each day on which it was poured and measured, the first day first.
ScatterHistory = tuple[MeasureScatter, ...]
# Histories of the other designs of a notebook, by measure.
OtherScatter = Mapping[str, tuple[ScatterHistory, ...]]


def known_on(day: date, histories: Iterable[ScatterHistory]) -> tuple[MeasureScatter, ...]:
    """The scatter of each design by its pots up to a day; none of those that had none by then.

    What was poured later does not change what an earlier answer borrowed.
    """
    latest = (
        next((one for one in reversed(history) if one.last_pour <= day), None)
        for history in histories
    )
    return tuple(one for one in latest if one is not None)


class _Observation(Struct):
    """One pot, or one day, as an observation: its place, the share of each variant, its bars."""

    place: float
    shares: Mapping[str, float]
    bars: int
    day: Hashable


def measure_scatter(
    bars: Sequence[ObservedBar],
    measure: ComparedMeasure,
    follow_up: int | None = None,
    shifts: Iterable[Shift] = (),
) -> MeasureScatter | None:
    """The scatter of a design's pots by a measure; None if no bar was measured.

    ``shifts`` are those between its variants, of which ``effects`` are taken.

    Where a pot has several variants, it is one observation, the mean of their places.

    Source: least squares of place = day + variant, and of place = variant
    Checked: four pots of one variant have the variance of their places
    """
    pots: defaultdict[tuple[date, str, str], defaultdict[str, list[ObservedBar]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for bar in bars:
        if usable(bar, measure):
            pots[bar.poured_on, bar.pour, bar.pot][bar.variant].append(bar)
    if not pots:
        return None
    rows = [_pot_row(cells, measure) for cells in pots.values()]
    squares, df = 0.0, 0
    for cells in pots.values():
        for own in cells.values():
            places = bar_places([number_of(bar, measure) for bar in own], measure)
            if places is not None:
                mean = math.fsum(places) / len(places)
                squares += math.fsum((place - mean) ** 2 for place in places)
                df += len(places) - 1
    bar_variance = squares / df if df else None
    if measure.kind == "yes-no":
        bar_variance = YES_NO_BAR
    return MeasureScatter(
        in_day=_residual(rows, by_day=True),
        over_days=_residual(_days(rows), by_day=False),
        bars=len(rows) / math.fsum(1 / row.bars for row in rows),
        bar_variance=bar_variance,
        follow_up=follow_up,
        effects=tuple(_effects(shifts)),
        bar_df=df,
        middle=math.fsum(row.place for row in rows) / len(rows),
        last_pour=max(poured_on for poured_on, *_ in pots),
    )


def _effects(shifts: Iterable[Shift]) -> Iterator[tuple[float, float]]:
    """Shifts over the deviation of a trial, made smaller by what few trials make them too large.

    Source: the mean of 1 / s^2 with d degrees of freedom is d / (d - 2) times that of sigma^2
    """
    for shift in shifts:
        variance, df = shift.scatter.variance, shift.scatter.df
        if df >= LEAST_EFFECT_DF and variance > 0:
            shrunk = shift.estimate * math.sqrt((df - 2) / df / variance)
            yield shrunk, shift.factor


def _pot_row(cells: Mapping[str, Sequence[ObservedBar]], measure: ComparedMeasure) -> _Observation:
    places = [pot_place([number_of(b, measure) for b in own], measure) for own in cells.values()]
    first = next(iter(cells.values()))[0]
    return _Observation(
        math.fsum(places) / len(places),
        {variant: 1 / len(cells) for variant in cells},
        sum(map(len, cells.values())),
        first.poured_on,
    )


def _days(pots: Iterable[_Observation]) -> list[_Observation]:
    """The pots of a day as one observation."""
    by_day: defaultdict[Hashable, list[_Observation]] = defaultdict(list)
    for pot in pots:
        by_day[pot.day].append(pot)
    return [
        _Observation(
            math.fsum(pot.place for pot in own) / len(own),
            {
                variant: math.fsum(pot.shares.get(variant, 0.0) for pot in own) / len(own)
                for variant in dict.fromkeys(name for pot in own for name in pot.shares)
            },
            sum(pot.bars for pot in own),
            day,
        )
        for day, own in by_day.items()
    ]


def _residual(rows: Sequence[_Observation], by_day: bool) -> PotScatter | None:
    """The variance that variants, and days if asked, leave; None without a degree of freedom."""
    import numpy as np

    variants = list(dict.fromkeys(name for row in rows for name in row.shares))
    days = list(dict.fromkeys(row.day for row in rows)) if by_day else []
    if len(rows) <= len(days) or len(rows) < 2:
        return None
    known = [
        [row.shares.get(name, 0.0) for name in variants] + [float(row.day == day) for day in days]
        for row in rows
    ]
    table, places = np.array(known), np.array([row.place for row in rows])
    solved, _, rank, _ = np.linalg.lstsq(table, places, rcond=None)
    df = len(rows) - int(rank)
    if df < 1:
        return None
    return PotScatter(float(((places - table @ solved) ** 2).sum()) / df, df)


def borrowed(
    others: Iterable[MeasureScatter],
    measure: ComparedMeasure,
    days_apart: bool,
    bars: float,
    middle: float,
) -> list[PotScatter]:
    """The scatter of other designs as pots of ``bars`` bars would have it.

    More bars behind a pot make its place steadier, by the variance of its bars. ``days_apart``
    says whether days stay in the scatter; a design that shows no pots of a day gives its days.
    """
    scatters = []
    for other in others:
        scatter = other.over_days if days_apart else other.in_day or other.over_days
        if scatter is None:
            continue
        more = (other.bar_variance or 0.0) * (1 / bars - 1 / other.bars)
        least = least_variance(middle, bars, measure)
        scatters.append(PotScatter(max(least, scatter.variance + more), scatter.df))
    return scatters
