"""Questions across designs, and orders: ``comparisons/*.md`` and ``orders/*.yaml``."""

from __future__ import annotations

from typing import Annotated, Any

from msgspec import Struct
from pydantic import BeforeValidator, Field

from journal.records.source import Table
from journal.records.typed import (
    LISTED,
    NOT_EMPTY,
    AtLeastOne,
    Date,
    Names,
    Record,
    Words,
    YesNo,
    by_name,
    scalar,
)
from journal.records.written import SourceTree


def _several(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


# What may bars of several designs be told apart by?
BETWEEN = ("trim", "mat", "mould", "piece", "base", "colourant", "additive", "fragrance")
# And on what conditions may they be taken?
WHERE = (*BETWEEN, "state", "subject")
# Which keys of a layer, as layer.NAME.KEY?
OF_LAYERS = (
    "base", "colourant", "colours", "additives", "fragrance", "pour", "amount", "overpour",
    "spritz", "pot",
)  # fmt: skip
TRIMS = ("close", "straight")
STATES = ("trial", "keeper", "set aside")


class AcrossDesigns(Record):
    """A question asked across designs."""

    title: Words
    by: Annotated[tuple[Words, ...], LISTED, NOT_EMPTY, BeforeValidator(_several)] = Field(
        description="The measures to compare by; the first decides."
    )
    between: Words = Field(
        description="What the bars are told apart by: trim (close or straight), mat, mould, piece,"
        " base (of the last layer), colourant, additive, fragrance, or layer.NAME.KEY with a"
        " layer's name and its base, colourant, additives, fragrance, pour, amount, overpour,"
        " spritz or pot."
    )
    where: Annotated[
        tuple[tuple[str, str], ...],
        by_name("conditions by key", "{mould: six-oblong}", lambda text: str(scalar(text))),
    ] = Field(
        (),
        description="Only bars for which all of these hold: the keys of between, and state (of the"
        " design) and subject (one of its subjects). A trim is close or straight.",
    )
    private: Words | None = None


class Comparison(Struct, frozen=True):
    """A file of ``comparisons/``."""

    id: str
    path: str
    asked: AcrossDesigns
    body: str
    body_line: int
    source: SourceTree

    @property
    def written(self) -> Table:
        """The front matter as it was written."""
        return self.source.table


class OrderLine(Record):
    """Bars of one design in an order."""

    design: Annotated[Words, Names("designs")]
    bars: AtLeastOne
    variant: Words | None = None
    takes_leftovers: YesNo = False


class WrittenOrder(Record):
    """A file of ``orders/``."""

    title: Words
    due: Date
    customer: Words | None = None
    designs: Annotated[tuple[OrderLine, ...], LISTED, NOT_EMPTY]
    private: Words | None = None


class Order(Struct, frozen=True):
    """An order to plan."""

    id: str
    path: str
    asked: WrittenOrder
    source: SourceTree

    @property
    def written(self) -> Table:
        """The file as it was written."""
        return self.source.table
