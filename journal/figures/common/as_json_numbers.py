"""Numbers as the JSON has them: 12 significant digits, null for what is missing."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from journal.quantities.rounding import to_twelve_digits


def number(x: float | None) -> float | None:
    """``x`` to 12 significant digits; None stays None."""
    return None if x is None else to_twelve_digits(x)


def number_fields(record: object, names: str) -> dict[str, float | None]:
    """Some fields of a record, from name to value to 12 significant digits.

    ``names`` are those of the fields, separated by blanks.
    """
    return {name: number(getattr(record, name)) for name in names.split()}


def numbers(values: Iterable[float]) -> list[float]:
    """A list of each number to 12 significant digits."""
    return [to_twelve_digits(x) for x in values]


def numbers_or_none(ends: tuple[float, float] | None) -> list[float] | None:
    """The ends of an interval to 12 significant digits; None stays None."""
    return None if ends is None else numbers(ends)


def percent(share: float | None) -> float | None:
    """A fraction as per cent; None stays None."""
    return None if share is None else to_twelve_digits(100 * share)


def money(amount: Decimal | None) -> float | None:
    """Money as a JSON number: its decimal digits are those printed."""
    return None if amount is None else float(amount)
