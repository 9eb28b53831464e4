"""Check codes of batches and lots against each other: two pours of one code, unknown batches."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Any

from journal.errors import Problem
from journal.quantities.number import excerpt
from journal.records.models.fields import unknown_name
from journal.records.models.questions import OrderFile
from journal.records.models.shelf import ShelfRecord
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Design
from journal.records.yaml.tree import position_of


def batch_clashes(
    designs: Mapping[str, Design], summaries: Mapping[str, DesignSummary]
) -> Iterator[Problem]:
    """Yield a problem for each pour whose batch has the code of another, whatever its capitals."""
    first: dict[str, tuple[str, str]] = {}
    for name, summary in summaries.items():
        for number, pour in enumerate(summary.overview.pours):
            other = first.setdefault(pour.batch.casefold(), (name, pour.label))
            if other != (name, pour.label):
                at = designs[name].pours[number].batch_at
                what = f"the batch {excerpt(pour.batch)} is also that of pour {other[1]}"
                what += f" of {other[0]}" if other[0] != name else ""
                yield Problem(at, what, "Write another code for one of the two: batch: K18A.")


def unknown_batches(
    order: OrderFile, summaries: Mapping[str, DesignSummary], unread: Collection[str]
) -> Iterator[Problem]:
    """Yield a problem for each batch of an order's line that is none of its design's."""
    for number, line in enumerate(order.record.designs):
        summary = summaries.get(line.design)
        if summary is None or line.design in unread:
            continue
        codes = {pour.batch.casefold(): pour.batch for pour in summary.overview.pours}
        for place, code in enumerate(line.batches):
            if code.casefold() not in codes:
                at = position_of(order.written, "designs", number, "batches", place)
                yield unknown_name(code, at, tuple(codes.values()), f"batch of {line.design}")


def lot_warnings(record: ShelfRecord, entry: Any) -> Iterator[Problem]:
    """Yield a warning where nobody can tell when the open lot took the place of earlier ones."""
    if record.earlier and (record.lot is None or record.opened is None):
        missing = "lot" if record.lot is None else "opened"
        what = f'there are earlier lots, and no "{missing}" says which is open since when'
        hint = "Write lot: WS-2609 and opened: 2026-09-14."
        yield Problem(position_of(entry, "earlier"), what, hint, warning=True)
