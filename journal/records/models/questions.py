"""Questions across designs, and orders: ``comparisons/*.md`` and ``orders/*.yaml``."""

from __future__ import annotations

from collections.abc import Container, Iterable
from datetime import date
from typing import Annotated, Any

from msgspec import Struct
from msgspec.structs import replace
from pydantic import BeforeValidator

from journal.errors import Position, QuantityError
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.quantities.written_forms import FORMS
from journal.records.models import fields
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


class WrittenComparison(fields.Record):
    """A question asked across designs."""

    title: fields.Text
    by: Annotated[
        tuple[fields.Text, ...], fields.IS_LIST, fields.NOT_EMPTY, BeforeValidator(_as_list)
    ]
    between: fields.Text
    where: Annotated[
        tuple[tuple[str, str], ...],
        fields.by_name(
            "conditions by key", "{mould: six-oblong}", lambda text: str(fields.scalar(text))
        ),
    ] = ()
    private: fields.Text | None = None


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


def read_chance(text: str) -> float:
    """Read a chance: a share above 0 and below 100 %."""
    share = read.read_share(text)
    if not 0 < share < 1:
        what = f"{excerpt(text)} is no chance that pouring more bars can give"
        raise QuantityError(what, "Write a share below 100 %, such as 90 %.")
    return share


Chance = Annotated[float, fields.TextField(read_chance, "90 %", FORMS[read.read_share])]


class OrderLine(fields.Record):
    """Bars of one design in an order."""

    design: Annotated[fields.Text, fields.NamesThing("designs")]
    bars: fields.AtLeastOne
    variant: fields.Text | None = None
    takes_leftovers: fields.YesNo = False
    sure: Chance | None = None
    batches: Annotated[tuple[fields.Text, ...], fields.IS_LIST] = ()


class WrittenOrder(fields.Record):
    """A file of ``orders/``."""

    title: fields.Text
    due: fields.Date
    customer: fields.Text | None = None
    designs: Annotated[tuple[OrderLine, ...], fields.IS_LIST, fields.NOT_EMPTY]
    sure: Chance | None = None
    done: fields.Date | None = None
    private: fields.Text | None = None


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

    def of_designs(self, known: Container[str]) -> OrderFile | None:
        """The order with only those of its lines whose design is known; None if none is."""
        lines = tuple(line for line in self.record.designs if line.design in known)
        if not lines:
            return None
        return replace(self, record=self.record.model_copy(update={"designs": lines}))


def unwritten_order(lines: Iterable[tuple[str, int, str | None]], due: date) -> OrderFile:
    """An order that stands in no file: for each line a design, its bars and its variant."""
    record = WrittenOrder.model_construct(
        title="",
        due=due,
        customer=None,
        designs=tuple(
            OrderLine.model_construct(
                design=design,
                bars=bars,
                variant=variant,
                takes_leftovers=False,
                sure=None,
                batches=(),
            )
            for design, bars, variant in lines
        ),
        sure=None,
        done=None,
        private=None,
    )
    return OrderFile("", "", record, SourceTree(WrittenTable(Position(""))))
