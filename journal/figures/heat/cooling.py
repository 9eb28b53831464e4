"""Newton's law of cooling fitted to a pot's readings, and the times of a temperature window.

T(t) = room + (start - room) e^(-rate t), least squares in temperature. The
intervals are worked out for ln(T - room) = a - rate t, which is linear in its
parameters, so that they stay right with few readings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.heat import newton_fit

# Marks that begin a new run: heat was put in, or the pot holds less than before.
NEW_RUN_MARKS = ("reheated", "drawn")
# Room fitted from the readings: enough of them, and known to this half-width.
ROOM_READINGS = 4
ROOM_HALF_WIDTH_K = 10.0


class PotReading(Struct, frozen=True):
    """A thermometer reading of a pot; ``mark`` is what was done at that moment, if anything."""

    time_min: float
    temperature_c: float
    mark: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.time_min) and math.isfinite(self.temperature_c)):
            raise FigureError(f"a reading must be finite, not {self}")


class CoolingPause(Struct, frozen=True):
    """A pause of a pot, as while it sets: readings within it, the first after it, its length.

    ``late_min`` is how much later than by its curve the pot came to the temperature of ``after``.
    """

    within: tuple[PotReading, ...]
    after: PotReading
    late_min: float

    @property
    def from_c(self) -> float:
        """The temperature at which it was first seen to pause, in degrees C."""
        return (*self.within, self.after)[0].temperature_c


class CoolingReadings(Struct, frozen=True):
    """Readings between which the pot only cooled; ``number`` counts from 1.

    ``pause`` is the one that ended the run, if any; its readings are not among ``readings``.
    """

    number: int
    readings: tuple[PotReading, ...]
    place: int  # of the first among all readings of the pot, from 0
    pause: CoolingPause | None = None

    @property
    def starts_min(self) -> float:
        """The time of the first reading."""
        return self.readings[0].time_min


class TemperatureWindow(Struct, frozen=True):
    """A range of temperature to do something in, such as to pour."""

    low_c: float
    high_c: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low_c) and math.isfinite(self.high_c)):
            raise FigureError(f"a window must be finite, not {self}")
        if self.low_c > self.high_c:
            raise FigureError(f"a window's ends are out of order: {self}")


def half_time(rate_per_min: float) -> float:
    """Minutes in which a pot loses half of its warmth above the room: ln 2 / rate, rate > 0."""
    return math.log(2.0) / rate_per_min


class CoolingCurve(Struct, frozen=True):
    """A fitted cooling curve; its time 0 is the first reading of the run, ``last_min`` its last."""

    room_c: float
    start_c: float
    rate_per_min: float
    last_min: float
    spread: newton_fit.FitCovariance | None  # None: no interval (two readings, or they bend away)

    @property
    def half_time_min(self) -> float:
        """Minutes in which the warmth above the room halves."""
        return half_time(self.rate_per_min)

    @property
    def rate_interval_per_min(self) -> tuple[float, float] | None:
        """The 95 % interval of the rate; None where nothing is left to judge it by."""
        if self.spread is None:
            return None
        reach = self.spread.quantile * math.sqrt(self.spread.covariance[1][1])
        return self.rate_per_min - reach, self.rate_per_min + reach

    @property
    def half_time_interval_min(self) -> tuple[float, float] | None:
        """The 95 % interval of the half-time; None, too, where that of the rate reaches 0."""
        ends = self.rate_interval_per_min
        if ends is None or ends[0] <= 0:
            return None
        return half_time(ends[1]), half_time(ends[0])


class OutlyingReading(Struct, frozen=True):
    """An outlier: a reading that does not agree with the others of its run."""

    reading: PotReading
    residual_k: float
    studentised: float


class CoolingFit(Struct, frozen=True):
    """Newton's law fitted to one run; without a ``curve``, ``why`` says why there is none.

    ``readings`` is their number, ``rms_c`` the root mean square of the residuals in K.
    """

    curve: CoolingCurve | None
    room_from: str  # as it was passed in, or "fitted", or ""
    readings: int
    rms_c: float | None
    outliers: tuple[OutlyingReading, ...]
    bends: bool  # the run departs from Newton's law, as a pot does that pauses while it sets
    why: str


class WindowTimes(Struct, frozen=True):
    """The times at which a pot enters and leaves a window, in minutes from its run's first reading.

    A time is None where the pot never gets there, with the reason in ``why``; an interval also
    where the readings give none.
    """

    enters_min: float | None
    leaves_min: float | None
    enters_interval_min: tuple[float, float] | None
    leaves_interval_min: tuple[float, float] | None
    enters_beyond: bool  # after the last reading: the curve carried on
    leaves_beyond: bool
    why: str


class CoolingPoint(Struct, frozen=True):
    """A point of the cooling chart, with the interval of the curve there."""

    time_min: float
    temperature_c: float
    interval_c: tuple[float, float] | None
    beyond: bool


def cooling_runs(readings: Sequence[PotReading]) -> tuple[CoolingReadings, ...]:
    """Divide the readings of one pot into runs in which it only cooled.

    A reading marked as reheated or drawn is the first of a new run. A pot that was marked as it
    went back on the heat, and got warmer since, begins its run at the warmest reading up to where
    it cools again: the marked one ends the run before, those on the way up are of none.

    Takes:  readings  one pot of one pour, times not falling
    Fails:  FigureError if time goes backwards
    """
    starts: list[int] = []
    ends: list[int] = []
    for place, reading in enumerate(readings):
        if place and reading.time_min < readings[place - 1].time_min:
            raise FigureError(f"time goes backwards at {reading.time_min} min")
        if place and reading.mark not in NEW_RUN_MARKS:
            continue
        top = place
        if reading.mark == "reheated":
            while top + 1 < len(readings) and _warms(readings[top], readings[top + 1]):
                top += 1
        if place:
            cooled = reading.temperature_c <= readings[place - 1].temperature_c
            ends.append(place + 1 if cooled and top > place else place)
        starts.append(top)
    ends.append(len(readings))
    return (
        tuple(
            CoolingReadings(number, tuple(readings[start:end]), start)
            for number, (start, end) in enumerate(zip(starts, ends, strict=True), 1)
        )
        if readings
        else ()
    )


def _warms(reading: PotReading, following: PotReading) -> bool:
    """Whether a pot on the heat got warmer up to the next reading, at which nothing was done."""
    return following.temperature_c > reading.temperature_c and following.mark not in NEW_RUN_MARKS


def fit_cooling(
    readings: Sequence[PotReading], room_c: float | None, room_from: str = ""
) -> CoolingFit:
    """Fit Newton's law of cooling to the readings of one run.

    Two readings give an exact curve without an interval; one gives no curve. Readings that
    bend away from the curve (``departs_from_newton``) have none either.
    A room temperature that is not known is fitted too, if there are readings
    enough and they fix it to within 10 K.

    Takes:  readings   one run; degrees C, minutes; any number
            room_c     degrees C, or None
            room_from  where the room temperature comes from; passed on
    Fails:  FigureError if the room temperature is not finite
    Source: Newton's law, least squares (``newton_fit``)
    Checked: textbook examples of tests/reference/02-newton-cooling.csv; scipy's least_squares;
            coverage of the intervals in 1,000 seeded trials (tests/figures/heat/test_cooling.py)
    """
    import numpy as np

    if room_c is not None and not math.isfinite(room_c):
        raise FigureError(f"a room temperature must be finite, not {room_c}")
    count = len(readings)

    def no_fit(why: str) -> CoolingFit:
        source = room_from if room_c is not None else ""
        return CoolingFit(None, source, count, None, (), False, why)

    if count < 2:
        return no_fit("one reading gives no curve" if count else "no readings")
    time = np.array([r.time_min - readings[0].time_min for r in readings], dtype=np.float64)
    value = np.array([r.temperature_c for r in readings], dtype=np.float64)
    if float(time.max()) <= 0:
        return no_fit("all readings are of one moment")
    fits_room = room_c is None
    if fits_room and count < ROOM_READINGS:
        return no_fit(
            f"the room's temperature is not known; {ROOM_READINGS} readings are needed to fit it"
        )
    fit = newton_fit.least_squares(time, value, room_c)
    if fit is None:
        return no_fit("the readings do not cool towards the room")
    parameters, jacobian, residual = fit
    log_excess, rate, room, sign = parameters
    if fits_room and (sign < 0 or room > float(value.min())):
        return no_fit("the room's temperature is not known and the readings do not show it")
    freedom = count - jacobian.shape[1]
    spread = newton_fit.spread_of(jacobian, residual)
    if fits_room and (
        spread is None or spread.quantile * math.sqrt(spread.covariance[2][2]) > ROOM_HALF_WIDTH_K
    ):
        return no_fit("the room's temperature is not known and the readings do not show it")
    bends = newton_fit.departs_from_newton(time, jacobian, residual)
    rms_c = None if freedom == 0 else math.sqrt(float(residual @ residual) / count)
    return CoolingFit(
        curve=CoolingCurve(
            room_c=room,
            start_c=room + sign * math.exp(log_excess),
            rate_per_min=rate,
            last_min=float(time.max()),
            spread=None if bends else spread,
        ),
        room_from="fitted" if fits_room else room_from,
        readings=count,
        rms_c=rms_c,
        outliers=tuple(
            OutlyingReading(readings[index], own_residual, studentised)
            for index, own_residual, studentised in newton_fit.outliers(jacobian, residual)
        ),
        bends=bends,
        why=(
            "the readings bend away from the curve, as a pot does that pauses while it sets, so "
            "there is no interval"
            if bends
            else ""
            if freedom
            else "two readings give a curve without an interval"
        ),
    )


def temperature_at(curve: CoolingCurve, time_min: float) -> float:
    """The fitted temperature, in degrees C, so many minutes after the run's first reading."""
    return curve.room_c + (curve.start_c - curve.room_c) * math.exp(-curve.rate_per_min * time_min)


def time_to_cool(start_c: float, room_c: float, rate_per_min: float, target_c: float) -> float:
    """Minutes from one temperature to another by Newton's law.

    Takes:  start_c, room_c, target_c  degrees C; target strictly between start and room, or start
            rate_per_min               > 0; scalar
    Gives:  minutes, 0 or more
    Fails:  FigureError if the target is not between start and room, or the rate not above 0
    Source: Newton's law
    Checked: tests/reference/02-newton-cooling.csv
    """
    if not (math.isfinite(rate_per_min) and rate_per_min > 0):
        raise FigureError(f"a cooling rate must be above 0, not {rate_per_min}")
    share = (target_c - room_c) / (start_c - room_c) if start_c != room_c else math.nan
    if not 0 < share <= 1:
        raise FigureError(f"{target_c} C is not between {start_c} C and a room of {room_c} C")
    return -math.log(share) / rate_per_min


def time_at(curve: CoolingCurve, level_c: float) -> float | None:
    """Minutes from the first reading to a temperature, negative before it; None if never."""
    crossing = _crossing(curve, level_c)
    return None if crossing is None else crossing.time_min


def window_times(
    curve: CoolingCurve, window: TemperatureWindow, pause: CoolingPause | None = None
) -> WindowTimes:
    """Work out when the pot enters and leaves a window, with 95 % intervals.

    A pot that is in the window at its first reading enters at 0. One that pauses after its last
    reading has no times for what comes after that. The interval
    of such a time is the set of times at which the curve, given its
    uncertainty, may have that temperature (Fieller's argument on the log of
    the excess over the room).

    Source: Newton's law; Fieller, J. R. Stat. Soc. B 16 (1954) 175, from memory
    Checked: coverage in 1,000 seeded trials (tests/figures/heat/test_cooling.py)
    """
    cooling = curve.start_c > curve.room_c
    first, last = (window.high_c, window.low_c) if cooling else (window.low_c, window.high_c)
    enters, leaves = (
        _crossing(curve, level_c) if _before_pause(level_c, pause, cooling) else None
        for level_c in (first, last)
    )
    why = ""
    if leaves is not None and leaves.time_min < 0:
        warmth = "cooler" if cooling else "warmer"
        return WindowTimes(
            None, None, None, None, False, False,
            f"the pot is {warmth} than the window from its first reading",
        )  # fmt: skip
    if not _before_pause(last, pause, cooling):
        why = "the pot pauses before it leaves the window"
    elif enters is None:
        why = "the room keeps the pot from the window"
    elif leaves is None:
        why = "the room keeps the pot within the window"
    elif curve.spread is not None and (enters.interval is None or leaves.interval is None):
        why = "the readings do not fix the rate well enough for an interval"
    return WindowTimes(
        enters_min=None if enters is None else max(enters.time_min, 0.0),
        leaves_min=None if leaves is None else leaves.time_min,
        enters_interval_min=None if enters is None else _from_start(enters.interval),
        leaves_interval_min=None if leaves is None else _from_start(leaves.interval),
        enters_beyond=enters is not None and enters.time_min > curve.last_min,
        leaves_beyond=leaves is not None and leaves.time_min > curve.last_min,
        why=why,
    )


def cooling_curve(curve: CoolingCurve, until_min: float, points: int) -> tuple[CoolingPoint, ...]:
    """Evenly spaced points of the fitted curve, with its 95 % interval, for a chart.

    Takes:  until_min  last time, in minutes from the first reading; > 0
            points     at least 2
    Fails:  FigureError if either lies outside its range
    Source: Newton's law; delta method on the log of the excess
    """
    if not (math.isfinite(until_min) and until_min > 0 and points >= 2):
        raise FigureError(f"a curve cannot have {points} points up to {until_min} min")
    times = [until_min * index / (points - 1) for index in range(points)]
    return tuple(
        CoolingPoint(at, temperature_at(curve, at), _interval_at(curve, at), at > curve.last_min)
        for at in times
    )


# --- inside the fit ----------------------------------------------------------------------------


def _before_pause(level_c: float, pause: CoolingPause | None, cooling: bool) -> bool:
    """Whether a pot, cooling or warming, passes a temperature before it pauses, if it does."""
    return pause is None or (level_c >= pause.from_c if cooling else level_c <= pause.from_c)


class _Crossing(NamedTuple):
    """The time at which a curve has a temperature, and its 95 % interval if it has one."""

    time_min: float
    interval: tuple[float, float] | None


def _crossing(curve: CoolingCurve, level_c: float) -> _Crossing | None:
    """The time (it may be negative) when the curve has a temperature; None if it never has."""
    excess = curve.start_c - curve.room_c
    level_excess = level_c - curve.room_c
    if level_excess == 0 or (level_excess > 0) != (excess > 0):
        return None
    gap = math.log(excess / level_excess)
    rate = curve.rate_per_min
    spread = curve.spread
    if spread is None:
        return _Crossing(gap / rate, None)
    # (gap - rate t)^2 <= q^2 Var(ln excess - rate t - ln(level - room)), a quadratic in t.
    of_gap, of_time = (1.0, 0.0, 1.0 / level_excess), (0.0, -1.0, 0.0)
    q2 = spread.quantile**2
    second = rate**2 - q2 * spread.between(of_time, of_time)
    if second <= 0:
        return _Crossing(gap / rate, None)
    first = gap * rate + q2 * spread.between(of_gap, of_time)
    constant = gap**2 - q2 * spread.between(of_gap, of_gap)
    root = math.sqrt(max(first**2 - second * constant, 0.0))
    return _Crossing(gap / rate, ((first - root) / second, (first + root) / second))


def _from_start(interval: tuple[float, float] | None) -> tuple[float, float] | None:
    """An interval of time with what lies before the first reading cut off."""
    return None if interval is None else (max(interval[0], 0.0), max(interval[1], 0.0))


def _interval_at(curve: CoolingCurve, time_min: float) -> tuple[float, float] | None:
    """The 95 % interval of the fitted temperature at a time; None of an exact curve."""
    spread = curve.spread
    if spread is None:
        return None
    excess = temperature_at(curve, time_min) - curve.room_c
    if excess == 0.0:  # at the room, to a float's last digit
        reach = spread.quantile * math.sqrt(spread.covariance[2][2])
        return curve.room_c - reach, curve.room_c + reach
    of_log = (1.0, -time_min, 1.0 / excess)
    reach = spread.quantile * math.sqrt(max(spread.between(of_log, of_log), 0.0))
    # Far beyond the readings the log may span more than a float holds.
    ends = sorted(curve.room_c + excess * math.exp(min(s * reach, 50.0)) for s in (-1.0, 1.0))
    return ends[0], ends[1]
