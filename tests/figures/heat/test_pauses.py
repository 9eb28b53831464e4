"""A pot that pauses as it cools: the times on either side of it, and what is no pause."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pytest

from journal.figures.heat.cooling import (
    PotReading,
    TemperatureWindow,
    cooling_runs,
    fit_cooling,
    window_times,
)
from journal.figures.heat.pauses import fit_runs

TRIALS = 40
ROOM_C = 21.0
POUR = TemperatureWindow(50.0, 58.0)


class PausingPot(NamedTuple):
    """Readings of a pot by Newton's law that stands still, and when it is truly in the window."""

    readings: tuple[PotReading, ...]
    enters_min: float
    leaves_min: float


def pots(step: float, hold: float, end: float, noise_k: float = 0.3) -> Iterator[PausingPot]:
    """Pots that pause within the window for ``hold`` minutes, read to whole degrees Fahrenheit."""
    generator = np.random.default_rng(5)
    for _ in range(TRIALS):
        rate, start = generator.uniform(0.02, 0.04), generator.uniform(64.0, 72.0)
        pause_c = generator.uniform(52.5, 55.5)

        def due(level_c: float, rate: float = rate, start: float = start) -> float:
            return math.log((start - ROOM_C) / (level_c - ROOM_C)) / rate

        times = np.arange(0.0, end + 0.1, step)
        cooled = np.minimum(times, np.maximum(due(pause_c), times - hold))
        values = ROOM_C + (start - ROOM_C) * np.exp(-rate * cooled)
        shown = np.round((values + generator.normal(0.0, noise_k, len(times))) * 1.8 + 32.0)
        readings = zip(times.tolist(), ((shown - 32.0) / 1.8).tolist(), strict=True)
        yield PausingPot(tuple(PotReading(*one) for one in readings), due(58.0), due(50.0) + hold)


@pytest.mark.parametrize(
    ("step", "hold", "end"), [(2.0, 8.0, 40.0), (3.0, 8.0, 45.0), (5.0, 12.0, 60.0)]
)
def test_the_times_on_either_side_are_not_biased(step: float, hold: float, end: float) -> None:
    enters, leaves, late, by_one_curve = [], [], [], []
    for pot in pots(step, hold, end):
        one = fit_cooling(pot.readings, ROOM_C).curve
        assert one is not None
        by_one_curve.append(window_times(one, POUR).leaves_min - pot.leaves_min)
        runs = fit_runs(pot.readings, ROOM_C)
        if len(runs) == 1:
            continue
        (run, before), (rest, after) = runs
        assert before.curve is not None
        assert after.curve is not None
        assert run.pause is not None
        late.append(run.pause.late_min - hold)
        first = window_times(before.curve, POUR, run.pause)
        assert first.leaves_min is None
        assert first.why == "the pot pauses before it leaves the window"
        assert first.enters_min is not None
        enters.append(first.enters_min - pot.enters_min)
        last = window_times(after.curve, POUR)
        if last.leaves_min is not None:  # None: read again only below the window
            leaves.append(rest.starts_min + last.leaves_min - pot.leaves_min)
    assert len(enters) >= 0.95 * TRIALS
    assert len(leaves) >= 0.8 * TRIALS
    # A tenth of a minute, and 3 standard errors of these trials; by one curve it is 2 to 5 min.
    for name, off in (("enters", enters), ("leaves", leaves), ("late", late)):
        bound = 0.1 * step / 2 + 3 * np.std(off) / math.sqrt(len(off))
        assert abs(np.mean(off)) < bound, name
    assert np.mean(by_one_curve) < -2.0


@pytest.mark.parametrize("noise_k", [0.3, 0.6])
def test_a_sound_run_stays_whole(noise_k: float) -> None:
    whole = [len(fit_runs(pot.readings, ROOM_C)) for pot in pots(3.0, 0.0, 60.0, noise_k)]
    assert whole == [1] * TRIALS


def test_the_readings_of_the_pause_are_in_neither_run() -> None:
    """Ten minutes at 54 C, from the tenth on, a reading every other minute, without noise."""
    times = np.arange(0.0, 40.0, 2.0)
    cooled = np.minimum(times, np.maximum(10.0, times - 10.0))
    values = ROOM_C + (54.0 - ROOM_C) * np.exp(-0.03 * (cooled - 10.0))
    readings = tuple(PotReading(*one) for one in zip(times.tolist(), values.tolist(), strict=True))
    (run, before), (rest, after) = fit_runs(readings, ROOM_C, "pour")
    assert run.pause is not None
    assert (run.number, rest.number) == (1, 2)
    # The first and the last minute of the pause are on the curves, those between on neither.
    assert [one.time_min for one in run.readings] == [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    assert [one.time_min for one in run.pause.within] == [12.0, 14.0, 16.0, 18.0]
    assert readings[rest.place] == rest.readings[0] == run.pause.after
    assert run.pause.late_min == pytest.approx(10.0, abs=1e-6)
    assert run.pause.from_c == pytest.approx(54.0)
    for fit in (before, after):
        assert fit.curve is not None
        assert not fit.bends
        assert fit.curve.rate_per_min == pytest.approx(0.03, rel=1e-6)
    assert before.room_from == after.room_from == "pour"


def test_without_a_room_or_a_pause_runs_are_as_they_were_divided() -> None:
    readings = (
        PotReading(0.0, 70.0), PotReading(5.0, 63.0), PotReading(10.0, 57.0),
        PotReading(15.0, 68.0, "reheated"), PotReading(20.0, 61.0), PotReading(25.0, 55.5),
    )  # fmt: skip
    for room_c in (ROOM_C, None):
        runs = fit_runs(readings, room_c)
        assert tuple(run for run, _ in runs) == cooling_runs(readings)
    assert fit_runs((), ROOM_C) == ()
