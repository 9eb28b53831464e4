"""Questions across designs, and orders: ``comparisons/*.md`` and ``orders/*.yaml``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from journal.records.source import Table
from journal.records.typed import LISTED, Count, Date, Record, Words, YesNo, fault, scalar


def _conditions(value: Any) -> tuple[tuple[str, str], ...]:
    if not isinstance(value, dict):
        raise fault("conditions by key belong here", "Write {mould: six-oblong}")
    return tuple((str(key), str(scalar(entry))) for key, entry in value.items())


def _several(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


class AcrossDesigns(Record):
    """A question asked across designs."""

    title: Words
    by: Annotated[tuple[Words, ...], LISTED, BeforeValidator(_several)] = Field(
        description="The measures to compare by; the first decides."
    )
    between: Words = Field(description="trim, colourant, layer.body.base, …")
    where: Annotated[tuple[tuple[str, str], ...], BeforeValidator(_conditions)] = Field(
        (), description="Only designs with these values."
    )
    private: Words | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """A file of ``comparisons/``."""

    id: str
    path: str
    asked: AcrossDesigns
    body: str
    body_line: int
    written: Table


class OrderLine(Record):
    """Bars of one design in an order."""

    design: Words
    bars: Count
    variant: Words | None = None
    takes_leftovers: YesNo = False


class WrittenOrder(Record):
    """A file of ``orders/``."""

    title: Words
    due: Date
    customer: Words | None = None
    designs: Annotated[tuple[OrderLine, ...], LISTED]
    private: Words | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """An order to plan."""

    id: str
    path: str
    asked: WrittenOrder
    written: Table
