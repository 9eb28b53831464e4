"""How long a bar is good for: months from its pour, and never beyond what is in it."""

from __future__ import annotations

import calendar
from collections.abc import Iterable
from datetime import date

from msgspec import Struct

from journal.errors import FigureError

# Whose labels say how long a bar keeps by the maker's own word, and whose by the safety report.
BY_SAFETY_REPORT = ("eu", "uk")
# A longer durability need not be dated there: the time after opening is given instead.
# Source: Regulation (EC) No 1223/2009, Article 19 (1) (c); the article from memory, unconfirmed.
DATED_UP_TO_MONTHS = 30


class BestBefore(Struct, frozen=True):
    """The day that a batch is good until; None with the key that it lacks.

    ``limited_by`` is the material whose own date comes first, by name; "" where it is the months
    from the pour.
    """

    day: date | None
    limited_by: str = ""
    needs: str = ""


def months_later(day: date, months: int) -> date:
    """The same day so many months later; the month's last where it has no such day.

    Takes:  months  >= 0
    Fails:  FigureError for fewer, or past the year 9999
    Checked: 31 January 2026 and a month is 28 February; 29 February 2024 and a year the 28th
    """
    if months < 0:
        raise FigureError(f"{months} months: it cannot be below 0")
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if year > 9999:
        raise FigureError(f"{months} months from {day} are past the year 9999")
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def best_before(
    region: str, poured: date, months: int | None, materials: Iterable[tuple[str, date]]
) -> BestBefore:
    """The day that bars of a pour are good until: no later than any material in them.

    Takes:  region     us, eu or uk
            poured     the day of the pour
            months     how long a bar keeps: the maker's own word in the US (``keeps``), in the EU
                       and the UK the safety report's (``durability``); None if not known
            materials  those that have a date: their names and dates
    Gives:  a day; none where the months are not known, with the key that says them. A material
            past its date on the day of the pour gives a day before it, which is no slip here
    Source: the studio's rule (earliest of the two); for the EU and UK Regulation (EC) No
            1223/2009, Annex I: durability is by the safety report
    """
    key = "durability" if region in BY_SAFETY_REPORT else "keeps"
    if months is None:
        return BestBefore(None, needs=f"journal.yaml: {key}")
    keeps = months_later(poured, months)
    name, first = min(materials, key=lambda one: one[1], default=("", keeps))
    return BestBefore(first, name) if first < keeps else BestBefore(keeps)
