"""Times of day as options name them: ``8:30``, ``8:00-18:00``; and which day it is."""

from __future__ import annotations

import argparse
import os
from datetime import UTC, date, datetime

from journal.errors import UsageError
from journal.figures.day.steps import MINUTES_A_DAY, WorkingHours


def read_clock(text: str) -> int:
    """Read a time of day such as ``8:30``, as minutes since midnight, 0 to 1440."""
    hour, colon, minute = text.strip().partition(":")
    minute = minute if colon else "00"
    digits = hour + minute
    if not (hour and len(minute) == 2 and digits.isascii() and digits.isdigit()) or minute > "59":
        raise argparse.ArgumentTypeError(f'"{text}" is no time of day; write 8:30, say')
    minutes = 60 * int(hour) + int(minute)
    if minutes > MINUTES_A_DAY:
        raise argparse.ArgumentTypeError(f'"{text}" is past midnight; write 8:30, say')
    return minutes


def read_hours(text: str) -> WorkingHours:
    """Read working hours such as ``8:00-18:00``."""
    opens, dash, closes = text.replace("–", "-").partition("-")
    if not dash:
        raise argparse.ArgumentTypeError(f'"{text}" is no working day; write 8:00-18:00, say')
    hours = WorkingHours(read_clock(opens), read_clock(closes))
    if hours.opens_min >= hours.closes_min:
        raise argparse.ArgumentTypeError(f'"{text}" ends before it begins; write 8:00-18:00, say')
    return hours


def read_day(text: str) -> date:
    """Read a day such as ``2026-12-01``."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is no day; write 2026-12-01, say') from None


def source_date_epoch() -> int | None:
    """The seconds since 1970 that ``SOURCE_DATE_EPOCH`` names; None if it is not set.

    Fails:  UsageError for what is no number, or a moment after the year 9999
    Source: reproducible-builds.org, "SOURCE_DATE_EPOCH specification" 1.1
    """
    text = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) <= 12 and int(text) < 253402300800):
        raise UsageError(
            f'SOURCE_DATE_EPOCH is "{text}", which is no number of seconds since 1970',
            "Set it to one, such as 1776470400, or to nothing.",
        )
    return int(text)


def today() -> date:
    """The day that a write-up or a print bears: this machine's, or ``SOURCE_DATE_EPOCH``."""
    moment = source_date_epoch()
    return date.today() if moment is None else datetime.fromtimestamp(moment, UTC).date()
