"""Where a pot paused as it cooled, and the fits of its readings on either side.

A pot that sets gives off heat and stands still, or nearly, before it goes on. One curve through
all of its readings is late before the pause and early after it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import count

from msgspec.structs import replace

from journal.figures.common.arrays import Array
from journal.figures.heat import newton_fit
from journal.figures.heat.cooling import (
    CoolingFit,
    CoolingPause,
    CoolingReadings,
    PotReading,
    cooling_runs,
    fit_cooling,
    time_at,
)

# A side of a pause needs as many readings as show whether they fit its curve.
SIDE_READINGS = 3
# A reading is taken into the pause if a side would else gain this many variances; a variance is at
# least that of a reading to 1 F by an unsteady hand (0.3 K): common practice, no source.
LEFT_OUT_VARIANCES = 6.0
LEAST_DEVIATION_K = 0.3
# Fisher's F of two curves against one. They are the best of many, so the limit is from seeded
# trials: none of 480 sound runs got there, with a deviation of 0.3 or 0.6 K.
LEAST_RATIO = 15.0
READ_TO_1_F_K2 = (5 / 9) ** 2 / 12  # what rounding leaves
# Of the time between the sides, the part by which the pot is late: less is no pause.
LEAST_DELAY = 0.4


def fit_runs(
    readings: Sequence[PotReading], room_c: float | None, room_from: str = ""
) -> tuple[tuple[CoolingReadings, CoolingFit], ...]:
    """Divide one pot's readings into runs, fit each, and begin a new run after a pause.

    A run whose readings lie off their curve is divided where a pause explains it: the run before
    it has the pause, whose readings are in neither fit. Else it stays whole.

    Takes:  as ``cooling_runs`` and ``fit_cooling``
    Gives:  the runs, numbered from 1, each with its fit
    Fails:  FigureError if time goes backwards, or the room temperature is not finite
    Source: two curves by least squares; readings left out by a penalty of ``LEFT_OUT_VARIANCES``
    Checked: bias of the times, and sound runs, in seeded trials (tests/figures/heat/test_pauses.py)
    """
    numbers = count(1)
    return tuple(
        (replace(run, number=next(numbers)), fit)
        for whole in cooling_runs(readings)
        for run, fit in _fits(whole, room_c, room_from)
    )


def _fits(
    whole: CoolingReadings, room_c: float | None, room_from: str
) -> Iterator[tuple[CoolingReadings, CoolingFit]]:
    """The fit of a run, or of its sides if it paused."""
    fit = fit_cooling(whole.readings, room_c, room_from)
    off = fit.rms_c is not None and fit.rms_c >= newton_fit.BEND_LEAST_RMS_K
    sides = _sides(whole, fit.rms_c or 0.0, room_c, room_from) if off and room_c is not None else ()
    yield from sides or ((whole, fit),)


def _sides(
    whole: CoolingReadings, rms_c: float, room_c: float, room_from: str
) -> tuple[tuple[CoolingReadings, CoolingFit], ...]:
    """The runs before and after the pause, with their fits; none if no pause explains ``rms_c``.

    That is of the one curve through all readings.
    """
    readings = whole.readings
    ends = _ends_of_pause(readings, len(readings) * rms_c**2, room_c)
    if ends is None:
        return ()
    end, begin = ends
    before = fit_cooling(readings[:end], room_c, room_from)
    after = fit_cooling(readings[begin:], room_c, room_from)
    if before.curve is None or after.curve is None or before.bends or after.bends:
        return ()
    due = time_at(before.curve, after.curve.start_c)
    if due is None:
        return ()
    at_min = readings[begin].time_min
    late_min = at_min - whole.starts_min - due
    if late_min < LEAST_DELAY * (at_min - readings[end - 1].time_min):
        return ()
    pause = CoolingPause(readings[end:begin], readings[begin], late_min)
    return (
        (replace(whole, readings=readings[:end], pause=pause), before),
        (CoolingReadings(whole.number, readings[begin:], whole.place + begin), after),
    )


def _ends_of_pause(
    readings: Sequence[PotReading], squares: float, room_c: float
) -> tuple[int, int] | None:
    """The number of readings before the pause, and the place of the first after it.

    None where two curves are no better than one with that sum of ``squares``, in K2.
    """
    import numpy as np

    number = len(readings)
    time = np.array([one.time_min for one in readings])
    value = np.array([one.temperature_c for one in readings])
    before = {
        end: _squares(time[:end], value[:end], room_c) for end in range(SIDE_READINGS, number)
    }
    after = {
        begin: _squares(time[begin:], value[begin:], room_c)
        for begin in range(SIDE_READINGS, number - SIDE_READINGS + 1)
    }
    pairs = [(end, begin) for begin in after for end in before if end <= begin]
    if not pairs:
        return None

    def variance(end: int, begin: int) -> float:
        freedom = max(number - (begin - end) - 2 * 2, 1)
        return (before[end] + after[begin]) / freedom

    least = max(LEAST_DEVIATION_K**2, min(variance(*pair) for pair in pairs))

    def cost(end: int, begin: int) -> float:
        return before[end] + after[begin] + LEFT_OUT_VARIANCES * least * (begin - end)

    end, begin = min(pairs, key=lambda pair: cost(*pair))
    gain = (squares - before[end] - after[begin]) / (2 + begin - end)
    chance = max(variance(end, begin), READ_TO_1_F_K2)
    return (end, begin) if gain > LEAST_RATIO * chance else None


def _squares(time: Array, value: Array, room_c: float) -> float:
    """The sum of squares about the curve through some readings, in K2; infinite without one."""
    fit = newton_fit.least_squares(time - time[0], value, room_c)
    return math.inf if fit is None else float(fit[2] @ fit[2])
