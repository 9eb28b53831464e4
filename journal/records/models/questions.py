"""Questions across designs, and orders: ``comparisons/*.md`` and ``orders/*.yaml``."""

from __future__ import annotations

from typing import Annotated, Any

from msgspec import Struct
from pydantic import BeforeValidator

from journal.records.models.fields import (
    IS_LIST,
    NOT_EMPTY,
    AtLeastOne,
    Date,
    NamesThing,
    Record,
    Text,
    YesNo,
    by_name,
    scalar,
)
from journal.records.yaml.tree import SourceTree, WrittenTable


def _as_list(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


# By what may bars of several designs be divided into the groups that are compared?
CONTRAST_KEYS = ("trim", "mat", "mould", "piece", "base", "colourant", "additive", "fragrance")
# By what conditions may the bars be chosen?
CONDITION_KEYS = (*CONTRAST_KEYS, "state", "subject")
# Which keys of a layer may stand in either, as layer.NAME.KEY?
LAYER_CONDITIONS = (
    "base", "colourant", "colours", "additives", "fragrance", "pour", "amount", "overpour",
    "spritz", "pot",
)  # fmt: skip
TRIMS = ("close", "straight")
STATES = ("trial", "keeper", "set aside")


class WrittenComparison(Record):
    """A question asked across designs."""

    title: Text
    by: Annotated[tuple[Text, ...], IS_LIST, NOT_EMPTY, BeforeValidator(_as_list)]
    between: Text
    where: Annotated[
        tuple[tuple[str, str], ...],
        by_name("conditions by key", "{mould: six-oblong}", lambda text: str(scalar(text))),
    ] = ()
    private: Text | None = None


class ComparisonFile(Struct, frozen=True):
    """A file of ``comparisons/``."""

    id: str
    path: str
    record: WrittenComparison
    body: str
    body_line: int
    source: SourceTree

    @property
    def written(self) -> WrittenTable:
        """The front matter as it was written."""
        return self.source.table


class OrderLine(Record):
    """Bars of one design in an order."""

    design: Annotated[Text, NamesThing("designs")]
    bars: AtLeastOne
    variant: Text | None = None
    takes_leftovers: YesNo = False


class WrittenOrder(Record):
    """A file of ``orders/``."""

    title: Text
    due: Date
    customer: Text | None = None
    designs: Annotated[tuple[OrderLine, ...], IS_LIST, NOT_EMPTY]
    private: Text | None = None


class OrderFile(Struct, frozen=True):
    """An order to plan."""

    id: str
    path: str
    record: WrittenOrder
    source: SourceTree

    @property
    def written(self) -> WrittenTable:
        """The file as it was written."""
        return self.source.table
