"""Scales on which pots of all designs differ by about as much, whatever their level.

A length, a time or a count that is larger on one design differs more between its pots, too, and
a share of yes differs least near none and all. On these scales it does so no longer, or hardly.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from statistics import fmean

from msgspec import Struct

from journal.comparison.observed import ComparedMeasure, MeasureKind

# Half a tenth of a millimetre or so is what an eye with a rule tells apart; it keeps the many
# lips of 0 mm from standing far from those of 0.1 mm. Common practice, no source.
LENGTH_START = 0.1
# Steps in which measures are noted, in their stored unit. Common practice, no source.
NOTED_STEP: dict[MeasureKind, float] = {
    "length": 0.1, "time": 0.5, "mass": 0.1, "count": 1.0, "rating": 1.0,
}  # fmt: skip
# Times below this are noted as nothing: half of their step.
LEAST_TIME = 0.25


class _Scale(Struct, frozen=True):
    """A scale: from a value to its place, its slope there, and shifts about a place both ways.

    ``shift`` is of the place's shift the value's, ``back`` the other way about.
    """

    place: Callable[[float], float]
    slope: Callable[[float], float]
    shift: Callable[[float, float], float]
    back: Callable[[float, float], float]


_RAW = _Scale(lambda x: x, lambda _: 1.0, lambda _, by: by, lambda _, by: by)
# y = sqrt(x + start): the two ends of a shift about the middle m differ by 2 m times it.
_LENGTH = _Scale(
    lambda x: math.sqrt(x + LENGTH_START),
    lambda y: 0.5 / y,
    lambda middle, by: 2 * middle * by,
    lambda middle, by: by / (2 * middle),
)
# Anscombe, Biometrika 35 (1948) 246.
_COUNT = _Scale(
    lambda x: math.sqrt(x + 3 / 8),
    lambda y: 0.5 / y,
    lambda middle, by: 2 * middle * by,
    lambda middle, by: by / (2 * middle),
)
_TIME = _Scale(
    lambda x: math.log(max(x, LEAST_TIME)),
    lambda y: math.exp(-y),
    lambda middle, by: 2 * math.exp(middle) * math.sinh(by / 2),
    lambda middle, by: 2 * math.asinh(by / (2 * math.exp(middle))),
)
_SCALES: dict[MeasureKind, _Scale] = {
    "length": _LENGTH, "count": _COUNT, "time": _TIME, "mass": _RAW, "rating": _RAW,
}  # fmt: skip


def pot_place(values: Sequence[float], measure: ComparedMeasure) -> float:
    """The place of one pot on the scale of a measure, from the values of its bars.

    For yes/no it is asin(sqrt((yes + 3/8) / (bars + 3/4))), else the mean of the bars' places.

    Source: Anscombe, Biometrika 35 (1948) 246, for yes/no and counts
    """
    if measure.kind == "yes-no":
        return math.asin(math.sqrt((math.fsum(values) + 3 / 8) / (len(values) + 3 / 4)))
    return fmean(map(_SCALES[measure.kind].place, values))


def bar_places(values: Sequence[float], measure: ComparedMeasure) -> list[float] | None:
    """The places of single bars; None for yes/no, of which a single bar has no place."""
    if measure.kind == "yes-no":
        return None
    return list(map(_SCALES[measure.kind].place, values))


def natural_shift(shift: float, middle: float, measure: ComparedMeasure) -> float:
    """A shift on the scale about ``middle`` in the measure's stored unit; for yes/no of a share.

    Both ends lie half the shift from the middle, so that it is exact for the two places.
    """
    if measure.kind == "yes-no":
        return math.sin(2 * middle) * math.sin(max(-math.pi / 2, min(math.pi / 2, shift)))
    return _SCALES[measure.kind].shift(middle, shift)


def place_shift(shift: float, middle: float, measure: ComparedMeasure) -> float:
    """The shift on the scale about ``middle`` of one in the measure's unit: ``natural_shift`` back.

    A share cannot shift further than from none to all.
    """
    if measure.kind == "yes-no":
        room = math.sin(2 * middle)
        return math.asin(max(-1.0, min(1.0, shift / room))) if room > 0 else math.pi / 2
    return _SCALES[measure.kind].back(middle, shift)


def least_variance(middle: float, bars: float, measure: ComparedMeasure) -> float:
    """The variance of a pot's place that can be believed at least, of ``bars`` bars each.

    For yes/no it is half of the binomial one, 1 / (4 bars + 2) on this scale (Anscombe 1948);
    else that of rounding to the step in which the measure is noted.
    """
    if measure.kind == "yes-no":
        return 0.5 / (4 * bars + 2)
    step = NOTED_STEP[measure.kind] * _SCALES[measure.kind].slope(middle)
    return step * step / 12 / bars
