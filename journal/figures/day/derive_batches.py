"""Derive the batches that the rounds of an order will be, and the lots that they will use."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from msgspec import Struct

from journal.figures.day.derive_day import OrderDay
from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.day.sheet import day_and_minute
from journal.records.models.pours import free_labels, made_batch
from journal.records.models.shelf import MATERIALS, Shelf
from journal.records.models.things import ThingRef, references_of


class LotToUse(Struct, frozen=True):
    """The lot of a material that is open on a day; "" where nobody noted it.

    ``is_past`` is whether its date is before that day.
    """

    kind: str
    name: str
    lot: str
    best_before: date | None
    is_past: bool = False


class BatchToCome(Struct, frozen=True):
    """The pour that a round will be: its code, its day, and the lots that are open by then.

    ``day`` is that on which the round begins, if the order is begun on its last day for that.
    """

    code: str
    label: str
    day: date
    lots: tuple[LotToUse, ...]


def batches_to_come(shelf: Shelf, figures: OrderFigures, day: OrderDay) -> tuple[BatchToCome, ...]:
    """The batch of each round of an order, in the order of its rounds.

    None for an order that is handed over, or has no day sheet. A round is a pour of its design,
    under the next label that none of its pours has; the code is made as that of a pour with none.
    """
    if day.sheet is None or day.begin_by is None or figures.order.record.done is not None:
        return ()
    lines = [line for line in figures.lines for _ in line.masses]
    begins: dict[int, int] = {}
    for step in day.sheet.steps:
        begins[step.number] = min(begins.get(step.number, step.start_min), step.start_min)
    labels: dict[str, Iterator[str]] = {}
    found: dict[int, BatchToCome] = {}
    for number in sorted(begins, key=lambda one: (begins[one], one)):
        design = lines[number].design
        on = day.begin_by + timedelta(days=day_and_minute(begins[number])[0] - 1)
        used = {pour.label for pour in design.pours}
        label = next(labels.setdefault(design.id, free_labels(used, len(design.pours))))
        lots = tuple(_lots_to_use(shelf, lines[number], on))
        found[number] = BatchToCome(made_batch(design.id, on, label), label, on, lots)
    return tuple(found[number] for number in range(len(lines)))


def _lots_to_use(shelf: Shelf, line: OrderedLine, day: date) -> Iterator[LotToUse]:
    """Yield the lot of each material that a line melts or stirs in; a leftover has its own."""
    for kind, name in _materials(line):
        record = shelf.of_kind(kind)[name]
        lot = record.lot_in_use(day)
        if lot is None:
            yield LotToUse(kind, name, "", None)
        else:
            is_past = lot.best_before is not None and lot.best_before < day
            yield LotToUse(kind, name, lot.lot, lot.best_before, is_past)


def _materials(line: OrderedLine) -> Sequence[ThingRef]:
    """The materials of a line's layers, each once."""
    named = (one for layer in line.variant.recipe.layers for one in references_of(layer))
    return tuple(dict.fromkeys((one.kind, one.name) for one in named if one.kind in MATERIALS))
