"""Months on the calendar, and the day that a batch is good until."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.lots.dates import BestBefore, best_before, months_later

POURED = date(2026, 4, 18)
OIL, BASE = ("Cedar", date(2027, 2, 28)), ("White shea", date(2027, 7, 31))


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        # Worked on a calendar: the day is kept, or the month's last.
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2026, 8, 31), 18, date(2028, 2, 29)),
        (date(2026, 12, 1), 1, date(2027, 1, 1)),
        (POURED, 0, POURED),
    ],
)
def test_months_later(day: date, months: int, later: date) -> None:
    assert months_later(day, months) == later


def test_months_that_cannot_be() -> None:
    with pytest.raises(FigureError, match="below 0"):
        months_later(POURED, -1)
    with pytest.raises(FigureError, match="year 9999"):
        months_later(date(9999, 12, 1), 1)


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(0, 600))
def test_a_month_has_its_own_days(day: date, months: int) -> None:
    later = months_later(day, months)
    assert (later.year - day.year) * 12 + later.month - day.month == months
    assert later.day == day.day or (later.day < day.day and later.month != months_of_next(later))


def months_of_next(day: date) -> int:
    return date.fromordinal(day.toordinal() + 1).month


@pytest.mark.parametrize(
    ("region", "months", "materials", "found"),
    [
        ("us", 12, [OIL, BASE], BestBefore(OIL[1], "Cedar")),
        ("us", 6, [OIL, BASE], BestBefore(date(2026, 10, 18))),
        ("us", None, [OIL], BestBefore(None, needs="journal.yaml: keeps")),
        ("us", 12, [], BestBefore(date(2027, 4, 18))),
        ("eu", 30, [BASE], BestBefore(BASE[1], "White shea")),
        ("eu", 6, [BASE], BestBefore(date(2026, 10, 18))),
        # Without the safety report's word there is no date, whatever the materials say.
        ("eu", None, [OIL], BestBefore(None, needs="journal.yaml: durability")),
        ("uk", None, [], BestBefore(None, needs="journal.yaml: durability")),
    ],
)
def test_the_earliest_date_counts(
    region: str, months: int | None, materials: list[tuple[str, date]], found: BestBefore
) -> None:
    assert best_before(region, POURED, months, materials) == found
