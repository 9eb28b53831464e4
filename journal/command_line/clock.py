"""Times of day as they are asked for: ``8:30``, ``8:00-18:00``."""

from __future__ import annotations

import argparse

from journal.figures.day_steps import MINUTES_A_DAY, Hours


def read_clock(text: str) -> int:
    """``8:30``, in minutes since midnight."""
    hour, colon, minute = text.strip().partition(":")
    if not (hour.isascii() and hour.isdigit() and (not colon or len(minute) == 2)):
        raise argparse.ArgumentTypeError(f'"{text}" is no time of day; write 8:30, say')
    if colon and not (minute.isascii() and minute.isdigit() and int(minute) < 60):
        raise argparse.ArgumentTypeError(f'"{text}" is no time of day; write 8:30, say')
    found = 60 * int(hour) + int(minute or 0)
    if found > MINUTES_A_DAY:
        raise argparse.ArgumentTypeError(f'"{text}" is past midnight; write 8:30, say')
    return found


def read_hours(text: str) -> Hours:
    """``8:00-18:00``, when hands are there."""
    opens, dash, closes = text.replace("–", "-").partition("-")
    if not dash:
        raise argparse.ArgumentTypeError(f'"{text}" is no working day; write 8:00-18:00, say')
    hours = Hours(read_clock(opens), read_clock(closes))
    if hours.opens_min >= hours.closes_min:
        raise argparse.ArgumentTypeError(f'"{text}" ends before it begins; write 8:00-18:00, say')
    return hours
