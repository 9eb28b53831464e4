"""Bars for the tests of comparisons: an invented studio's, a line a pot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from journal.comparison.observed import ComparedMeasure, ComparedVariant, MeasuredValue, ObservedBar

LIP = ComparedMeasure("lip", "length", "lower", 0.5, "mm")
KEEP = ComparedMeasure("keep", "yes-no", "higher", 0.2)
RELIEF = ComparedMeasure("relief", "rating", "higher", 1.0, "of 5")
BUBBLES = ComparedMeasure("bubbles", "count", "lower", 2.0)
TIDY = ComparedMeasure("tidy", "time", "lower", 1.0, "min")
WEIGHT = ComparedMeasure("weight", "mass", None, 2.0, "g")

FIRST_DAY = date(2026, 4, 18)

TRIMS = (
    ComparedVariant("close", changes={"trim": "close"}),
    ComparedVariant("straight", changes={"trim": "straight 3 mm"}),
)
TINTS = (
    ComparedVariant("violet", changes={"layers.body.colours": "violet mica"}),
    ComparedVariant("blue", changes={"layers.body.colours": "blue mica"}),
)


def day(number: int) -> date:
    """The first day is 0; a pour a week."""
    return FIRST_DAY + timedelta(days=7 * number)


def bars_of(
    pour: str,
    variant: str,
    values: Sequence[MeasuredValue],
    measure: str = "lip",
    on: int | None = None,
    lifted: Sequence[int] = (),
    design: str = "kelp",
    levels: Mapping[str, str] | None = None,
    conditions: Mapping[str, str] | None = None,
    pot: str = "",
) -> list[ObservedBar]:
    """Bars of one variant from one pour; ``on`` is its day, by default its letter's place."""
    return [
        ObservedBar(
            bar=f"{pour}-{variant}-{number}",
            pour=pour,
            poured_on=day(ord(pour[0]) - ord("A") if on is None else on),
            variant=variant,
            values={measure: value},
            pot=pot,
            design=design,
            levels=levels or {},
            lifted=number in lifted,
            conditions=conditions or {},
        )
        for number, value in enumerate(values)
    ]
