"""Find the pour that a photo is of, by the time it was taken at."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from msgspec import Struct

from journal.records.models.write_up import Pour

DAY_MIN = 1440.0


class PhotoPlace(Struct, frozen=True):
    """What a photo is of: a pour, so many days after it; its bar where that is sure."""

    pour: str
    day: int
    bar: str | None = None


def place_of(taken: datetime, pours: Sequence[Pour]) -> PhotoPlace | None:
    """The pour of the day that a photo was taken on, or a later look of that day; None for none.

    Of two pours of one day it is that whose readings are nearer in time.
    """
    of_day = [pour for pour in pours if pour.date == taken.date()]
    if of_day:
        minutes = taken.hour * 60 + taken.minute
        return PhotoPlace(min(of_day, key=lambda pour: _minutes_from(pour, minutes)).label, 0)
    for pour in pours:
        bars = {
            look.day: [one.bar for one in pour.later if one.day == look.day] for look in pour.later
        }
        for day, looked_at in bars.items():
            if pour.date + timedelta(days=day) == taken.date():
                only = looked_at[0] if len(set(looked_at)) == 1 else None
                return PhotoPlace(pour.label, day, only)
    return None


def _minutes_from(pour: Pour, minutes: float) -> float:
    """How far a time of the day lies from a pour's readings; as far as can be without any."""
    times = [reading.minutes for reading in pour.readings]
    if not times:
        return DAY_MIN
    return max(min(times) - minutes, minutes - max(times), 0.0)
