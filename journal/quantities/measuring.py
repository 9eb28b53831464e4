"""Amounts that can be measured with the tools that a studio has.

What is asked for is snapped to what a scale, a spoon or a dropper gives, and only that is
shown: exact, so that the sum over rounds is the sum of what is measured.

====== =================================================================================
what   by what it is measured, the first that does; the next that does stands beside it
====== =================================================================================
base   ounces or grams, the studio's own system first
powder grams, spoons
liquid millilitres, spoons, grams, drops; drops first if it is dosed in them
oil    millilitres, grams, drops, all rounded down; drops first if it is dosed in them
====== =================================================================================

A scale, or a mark in mL, is used where its step is at most a tenth of the amount. A thing
keeps its unit from place to place and from one number of bars to another: it is chosen once,
by ``measuring_unit``, for the smallest amount that is asked, and handed in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import combinations
from typing import Final, Literal

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError
from journal.quantities import show
from journal.quantities.kinds import Spoon
from journal.quantities.rounding import (
    RoundingMode,
    decimal_of_twelve_digits,
    plain_digits,
    rounded_to_step,
)
from journal.quantities.units import G_PER_OZ, ML_PER_DROP

Stuff = Literal["base", "powder", "liquid", "oil"]
MeasuringUnit = Literal["g", "oz", "mL", "spoons", "drops"]
WhyNot = Literal["scale", "spoon", "between spoons", "drop", "tool"]
"""less than a scale tells, than the smallest spoon, than a drop; far from every sum of spoons;
neither scale, spoon nor mark can be used for it"""

# Rounded to a tenth of itself, an amount is off by 5 % at most (common practice, no source).
_STEPS_AT_LEAST: Final = 10
# Kitchen scales in ounces go by a twentieth; the display of a finer one is in grams (common
# practice, no source).
_FINEST_OZ: Final = Decimal("0.05")
# How far may spoons be from the amount that is asked, and from the same amount on a scale? A
# level spoon of powder comes out alike to about a tenth, a colour looks alike to about a
# fifth (common practice, no source).
_SPOONS_WITHIN: Final = Fraction(1, 5)
_SPOONS_BESIDE_WITHIN: Final = Fraction(1, 10)
# Beside a weight more spoonfuls than these help nobody (common practice, no source).
_MOST_SPOONFULS_BESIDE: Final = 6
# More rounds than this are not mixed at once.
_MOST_ROUNDS: Final = 60

Scoops = tuple[tuple[Spoon, int], ...]


class Tools(Struct, frozen=True, cache_hash=True):
    """What a studio measures with: steps of its scales in g, its spoons, and its own system."""

    steps_g: tuple[float, ...]
    spoons: tuple[Spoon, ...]
    us_first: bool


class AskedAmount(Struct, frozen=True):
    """An amount before it is measured: mass and volume, None where not known.

    ``in_drops`` tells that it is dosed in drops.
    """

    stuff: Stuff
    mass_g: float | None
    volume_ml: float | None = None
    in_drops: bool = False

    def times(self, factor: float) -> AskedAmount:
        """So many times the amount."""
        mass_g, volume_ml = (
            None if amount is None else amount * factor for amount in (self.mass_g, self.volume_ml)
        )
        return replace(self, mass_g=mass_g, volume_ml=volume_ml)


class Measured(Struct, frozen=True, cache_hash=True):
    """What one tool gives: ``value`` in ``unit``, of spoons in mL; exact.

    ``scoops`` are the spoons, the largest first, and how often each is filled.
    """

    unit: MeasuringUnit
    value: Fraction
    scoops: Scoops = ()


class Unmeasured(Struct, frozen=True):
    """Why an amount cannot be measured, and from how many rounds' amount at once it can.

    ``together`` is what is measured for these ``rounds``; None if no number of rounds helps.
    """

    why: WhyNot
    rounds: int | None = None
    together: Measured | None = None


class MeasuredAmount(Struct, frozen=True):
    """An amount as it is measured, and the same by another tool where one does.

    Without ``first`` nothing measures it, and ``why`` says so.
    """

    first: Measured | None
    second: Measured | None = None
    why: Unmeasured | None = None


@lru_cache(maxsize=8192)
def measuring_unit(smallest: AskedAmount, tools: Tools) -> MeasuringUnit:
    """The unit in which a thing is measured wherever it stands.

    Takes:  smallest  the least of it that is measured at once, such as a round's
            tools     of the studio
    Gives:  the first unit of the table above in which that can be measured; if none can, that of
            the fewest rounds' amount at once that can be, else the last
    Fails:  FigureError if an amount is below 0, or neither mass nor volume is known
    Source: definition
    Checked: 5 g of mica of 0.45 g/mL in g; 0.4 g of it in spoons
    """
    units = _units(smallest, tools)
    for rounds in range(1, _MOST_ROUNDS + 1):
        amount = smallest.times(rounds)
        for unit in units:
            if isinstance(_measured_in(unit, amount, tools), Measured):
                return unit
    return units[-1]


# A card asks the same of every number of rounds.
@lru_cache(maxsize=8192)
def measure(asked: AskedAmount, tools: Tools, unit: MeasuringUnit | None = None) -> MeasuredAmount:
    """The amount that is measured for the amount that is asked.

    Takes:  asked  mass, volume or both; g, mL; >= 0
            tools  of the studio
            unit   its first unit, from ``measuring_unit``; None: as for this amount alone
    Gives:  what is measured, in two units where two tools do; exact
    Fails:  FigureError as ``measuring_unit``, and if ``unit`` is none of the thing's
    Source: definition
    Checked: 85.3 g of base with a scale of 1 g is 3 oz, and 85 g
    """
    units = _units(asked, tools)
    unit = unit or measuring_unit(asked, tools)
    if unit not in units:
        raise FigureError(f"{asked.stuff} is not measured in {unit}")
    first = _measured_in(unit, asked, tools)
    if not isinstance(first, Measured):
        return MeasuredAmount(None, why=_unmeasured(first, unit, asked, tools))
    return MeasuredAmount(first, next(_beside(unit, units, asked, tools), None))


def _units(asked: AskedAmount, tools: Tools) -> tuple[MeasuringUnit, ...]:
    """The units in which a thing may be measured, the best first."""
    if asked.stuff == "base":
        return ("oz", "g") if tools.us_first else ("g", "oz")
    if asked.stuff == "powder":
        return ("g", "spoons")
    if asked.in_drops:
        return ("drops", "mL")
    return ("mL", "g", "drops") if asked.stuff == "oil" else ("mL", "spoons", "g", "drops")


def _beside(
    first: MeasuringUnit, units: Sequence[MeasuringUnit], asked: AskedAmount, tools: Tools
) -> Iterator[Measured]:
    """Yield what other tools give for an amount; spoons only if a few of them come near."""
    for unit in units:
        measured = None if unit in (first, "drops") else _measured_in(unit, asked, tools)
        if isinstance(measured, Measured) and (
            unit != "spoons"
            or (
                _spoonfuls(measured.scoops) <= _MOST_SPOONFULS_BESIDE
                and _is_within(_SPOONS_BESIDE_WITHIN, measured, asked)
            )
        ):
            yield measured


def _measured_in(unit: MeasuringUnit, asked: AskedAmount, tools: Tools) -> Measured | WhyNot:
    """What is measured of an amount in a unit, or why it cannot be."""
    if asked.mass_g is None and asked.volume_ml is None:
        raise FigureError("an amount without mass or volume cannot be measured")
    amount = asked.mass_g if unit in ("g", "oz") else asked.volume_ml
    if amount is None:
        return "tool"
    if amount < 0:
        raise FigureError(f"{amount} is below 0, and cannot be measured")
    if not decimal_of_twelve_digits(amount):
        return Measured(unit, Fraction(0))
    if unit == "spoons":
        return _in_spoons(amount, asked, tools)
    way: RoundingMode = "down" if asked.stuff == "oil" else "half_up"
    if unit == "drops":
        drops = rounded_to_step(amount / float(ML_PER_DROP), Decimal(1), way)
        return Measured(unit, Fraction(drops)) if drops else "drop"
    step = show.volume_step_ml(amount)
    if unit == "g":
        step = show.mass_step_g(amount, tools.steps_g)
    elif unit == "oz":
        step = max(_FINEST_OZ, show.mass_step_oz(amount, tools.steps_g))
        amount /= float(G_PER_OZ)
    if _STEPS_AT_LEAST * step > decimal_of_twelve_digits(amount):
        return "drop" if unit == "mL" else "scale"
    return Measured(unit, Fraction(rounded_to_step(amount, step, way)))


def _in_spoons(volume_ml: float, asked: AskedAmount, tools: Tools) -> Measured | WhyNot:
    """The spoons that come nearest to a volume, or why none do."""
    if not tools.spoons:
        return "tool"
    scoops = fewest_spoons(
        Fraction(decimal_of_twelve_digits(volume_ml)),
        tools.spoons,
        Fraction(1, 2 * _STEPS_AT_LEAST),
    )
    measured = Measured("spoons", _scooped_ml(scoops), scoops)
    if scoops and _is_within(_SPOONS_WITHIN, measured, asked):
        return measured
    least_ml = min(spoon.volume_ml for spoon in tools.spoons)
    return "spoon" if volume_ml < least_ml else "between spoons"


def _is_within(share: Fraction, spoons: Measured, asked: AskedAmount) -> bool:
    """Whether spoons are off an amount by at most a share of it."""
    assert asked.volume_ml is not None
    volume_ml = Fraction(decimal_of_twelve_digits(asked.volume_ml))
    return abs(spoons.value - volume_ml) <= share * volume_ml


def fewest_spoons(
    volume_ml: Fraction, spoons: Sequence[Spoon], within: Fraction = Fraction(0)
) -> Scoops:
    """The fewest spoonfuls whose sum is a volume, but for a share of it; else the nearest sum.

    The largest spoon is filled as often as it goes in, then the next; the last may go over. The
    same is tried without the larger ones, and without the smaller. With spoons each of which is a
    whole number of the next, no other sum is nearer.

    Takes:  volume_ml  mL; >= 0; exact
            spoons     at least one, any order
            within     share of the volume that does not matter; >= 0
    Gives:  each spoon that is used and how often, the largest first; of sums that are as near that
            of fewer spoonfuls, then the larger; empty up to half the smallest spoon
    Source: definition
    Checked: 3.1 mL with 1/8, 1/4, 1/2 and 1 tsp is 1/2 tsp and 1/8 tsp (3.081 mL)
    """
    falling = sorted(spoons, key=lambda spoon: spoon.volume_ml, reverse=True)
    # In whole parts of one size, as fast as it is asked often.
    parts = math.lcm(volume_ml.denominator, *(one.volume_ml.denominator for one in falling))
    sizes = [int(one.volume_ml * parts) for one in falling]
    wanted = int(volume_ml * parts)
    allowed = within.numerator * wanted
    best: tuple[tuple[int, int, int, int], int, tuple[int, ...]] | None = None
    for start, end in combinations(range(len(sizes) + 1), 2):
        under = _filled(wanted, sizes[start:end])
        over = _filled(_size(under, sizes[start:end]) + sizes[end - 1], sizes[start:end])
        for times in (under, over):
            total = _size(times, sizes[start:end])
            off = abs(total - wanted)
            rank = (max(off * within.denominator, allowed), sum(times), off, -total)
            if best is None or rank < best[0]:
                best = rank, start, times
    assert best is not None
    _, start, counts = best
    return tuple((falling[start + n], times) for n, times in enumerate(counts) if times)


def _filled(volume: int, falling: Sequence[int]) -> tuple[int, ...]:
    """How often each size goes into what those before it have left."""
    counts = []
    for size in falling:
        times, volume = divmod(volume, size)
        counts.append(times)
    return tuple(counts)


def _size(counts: Sequence[int], sizes: Sequence[int]) -> int:
    """The sum of so many of each size."""
    return sum(times * size for times, size in zip(counts, sizes, strict=True))


def _spoonfuls(scoops: Scoops) -> int:
    """How often a spoon is filled in all."""
    return sum(times for _, times in scoops)


def _scooped_ml(scoops: Scoops) -> Fraction:
    """The volume of level spoons in mL."""
    return sum((times * spoon.volume_ml for spoon, times in scoops), Fraction(0))


def _unmeasured(why: WhyNot, unit: MeasuringUnit, asked: AskedAmount, tools: Tools) -> Unmeasured:
    """Why an amount is not measured in a unit, with the fewest rounds' amount at once that is."""
    for rounds in range(2, _MOST_ROUNDS + 1):
        together = _measured_in(unit, asked.times(rounds), tools)
        if isinstance(together, Measured):
            return Unmeasured(why, rounds, together)
    return Unmeasured(why)


def sum_asked(amounts: Sequence[AskedAmount]) -> AskedAmount:
    """What is asked of one thing in all, in g and mL; in drops only if each amount is.

    Takes:  amounts  one or more; what one of them lacks, the sum lacks
    Fails:  IndexError without any
    """
    masses = [one.mass_g for one in amounts if one.mass_g is not None]
    volumes = [one.volume_ml for one in amounts if one.volume_ml is not None]
    return replace(
        amounts[0],
        mass_g=sum(masses) if len(masses) == len(amounts) else None,
        volume_ml=sum(volumes) if len(volumes) == len(amounts) else None,
        in_drops=all(one.in_drops for one in amounts),
    )


def times_measured(amount: MeasuredAmount, times: int) -> MeasuredAmount:
    """The amount so many times, as for rounds that are alike; what is not measured stays so."""
    if amount.first is None:
        return amount
    return MeasuredAmount(
        _times(amount.first, times), None if amount.second is None else _times(amount.second, times)
    )


def _times(one: Measured, times: int) -> Measured:
    scoops = tuple((spoon, times * filled) for spoon, filled in one.scoops)
    return Measured(one.unit, one.value * times, scoops)


def sum_measured(amounts: Sequence[MeasuredAmount], tools: Tools) -> MeasuredAmount:
    """What is measured in all, such as over the rounds.

    Takes:  amounts  of one thing, in one first unit; at least one
            tools    of the studio
    Gives:  the sums, in the second unit only if all have it; if one is not measured, why
    Fails:  FigureError if there is none, or they differ in their first unit
    Source: definition
    Checked: 6 times 1/2 tsp is 1 tbsp
    """
    if not amounts:
        raise FigureError("there is no amount to add up")
    without = next((amount for amount in amounts if amount.first is None), None)
    if without is not None:
        return without
    firsts = [amount.first for amount in amounts if amount.first is not None]
    seconds = [amount.second for amount in amounts if amount.second is not None]
    same = len(seconds) == len(amounts) and len({second.unit for second in seconds}) == 1
    return MeasuredAmount(_sum(tuple(firsts), tools), _sum(tuple(seconds), tools) if same else None)


# Tables of rounds ask the same again for each variant, and for each number of bars.
@lru_cache(maxsize=4096)
def _sum(parts: tuple[Measured, ...], tools: Tools) -> Measured:
    """The sum of what one tool gives; spoons as few of the studio's as give the same."""
    unit, total = parts[0].unit, sum((part.value for part in parts), Fraction(0))
    if any(part.unit != unit for part in parts):
        raise FigureError("amounts in different units cannot be added up")
    if unit != "spoons":
        return Measured(unit, total)
    counts: dict[Spoon, int] = {}
    for spoon, times in (scoop for part in parts for scoop in part.scoops):
        counts[spoon] = counts.get(spoon, 0) + times
    as_filled = tuple(sorted(counts.items(), key=lambda one: one[0].volume_ml, reverse=True))
    scoops = fewest_spoons(total, tools.spoons)
    if _scooped_ml(scoops) != total or _spoonfuls(scoops) > _spoonfuls(as_filled):
        scoops = as_filled
    return Measured(unit, total, scoops)


def show_measured(measured: Measured) -> str:
    """What is measured: ``4 lb 5.2 oz``, ``3.4 mL``, ``6 drops``, ``2 × 1 tbsp + 1/8 tsp``."""
    if measured.unit == "spoons":
        return (
            " + ".join(
                f"{times} × {_spoon_text(spoon)}" if times > 1 else _spoon_text(spoon)
                for spoon, times in measured.scoops
            )
            or "0 tsp"
        )
    value = Decimal(measured.value.numerator) / measured.value.denominator
    texts = {"g": show.rounded_mass_text, "oz": show.rounded_mass_text_us, "drops": show.drops_text}
    return texts.get(measured.unit, show.rounded_volume_text)(value)


def _spoon_text(spoon: Spoon) -> str:
    """A spoon by what stands on it: ``1/8 tsp``, ``1 1/2 tbsp``, ``2.5 mL spoon``.

    Fractions are written out: few fonts have a letter for an eighth.
    """
    if spoon.unit in ("mL", "L"):
        number = Decimal(spoon.number.numerator) / spoon.number.denominator
        return f"{plain_digits(number)} {spoon.unit} spoon"
    whole, part = divmod(spoon.number, 1)
    return f"{' '.join(filter(None, (str(whole or ''), str(part or ''))))} {spoon.unit}"
