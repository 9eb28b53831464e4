"""Derive which lots are in which bars, who was sold them, and how long each batch is good for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date

from msgspec import Struct

from journal.errors import Problem
from journal.figures.label.regions import REGIONS
from journal.figures.lots.dates import BY_SAFETY_REPORT, BestBefore, best_before
from journal.figures.lots.trace import (
    LeftoverOrigin,
    LotHolding,
    LotKey,
    LotUse,
    PouredBatch,
    PouredPart,
    TracedBatch,
    bars_by_lot,
    trace_batches,
)
from journal.records.models.questions import OrderFile
from journal.records.models.settings import Settings
from journal.records.models.shelf import MATERIALS, Leftover, Shelf
from journal.records.models.things import ThingRef, references_of
from journal.records.models.write_up import Design, Pour, PourOverview
from journal.records.notebook import Notebook
from journal.records.yaml.tree import position_of


class OrderHolding(Struct, frozen=True):
    """An order that bars of some batches went into.

    ``sure`` is whether it names those batches; else they may have, since bars of the design that
    were poured by then were handed over.
    """

    order: str
    title: str
    due: date
    bars: int
    batches: tuple[str, ...]
    sure: bool


class LotTrace(Struct, frozen=True):
    """One lot: the pours that hold it, those that may, and the orders.

    ``perhaps`` are pours with some of the material of which nobody noted the lot. Dates are None
    where they were not noted; ``on_shelf`` is whether the shelf has the lot written down.
    """

    kind: str
    name: str
    lot: str
    opened: date | None
    best_before: date | None
    on_shelf: bool
    holds: tuple[LotHolding, ...]
    perhaps: tuple[LotHolding, ...]
    orders: tuple[OrderHolding, ...]

    @property
    def bars(self) -> int:
        """How many bars hold it."""
        return sum(len(one.bars) for one in self.holds)


class BatchTrace(Struct, frozen=True):
    """One pour: the lots in it, the orders that it went into, and how long it is good for.

    ``good_until`` goes by region; ``undated`` are the lots in it that have no date of their own.
    """

    batch: TracedBatch
    orders: tuple[OrderHolding, ...]
    good_until: Mapping[str, BestBefore]
    undated: tuple[LotUse, ...]


class Trace(Struct, frozen=True):
    """All lots, by material and lot, and the pours of each design in their order."""

    lots: Mapping[LotKey, LotTrace]
    batches: Mapping[str, tuple[BatchTrace, ...]]

    def named(self, code: str) -> tuple[tuple[LotTrace, ...], tuple[BatchTrace, ...]]:
        """The lots and the batches called ``code``, whatever its capitals."""
        wanted = code.casefold()
        lots = tuple(one for one in self.lots.values() if one.lot.casefold() == wanted)
        every = (one for of_design in self.batches.values() for one in of_design)
        return lots, tuple(one for one in every if one.batch.code.casefold() == wanted)


def derive_trace(notebook: Notebook) -> Trace:
    """The trace of a notebook, from the summaries of its designs, its shelf and its orders."""
    shelf = notebook.shelf
    batches = [
        _poured_batch(shelf, name, pour)
        for name, summary in notebook.summaries.items()
        for pour in summary.overview.pours
    ]
    origins = {name: _origin(record) for name, record in shelf.leftovers.items()}
    traced = trace_batches(batches, origins)
    orders = _orders_by_batch(traced, notebook.orders.values())
    dates = {
        (kind, name, one.lot): one.best_before
        for kind in MATERIALS
        for name, record in shelf.of_kind(kind).items()
        for one in record.lots
    }
    of_design: dict[str, list[BatchTrace]] = {name: [] for name in notebook.summaries}
    for one in traced:
        of_design[one.design].append(
            _batch_trace(notebook.settings, shelf, one, orders.get(one.code, ()), dates)
        )
    return Trace(
        dict(_lot_traces(shelf, traced, orders)),
        {name: tuple(found) for name, found in of_design.items()},
    )


def lots_used(
    shelf: Shelf, pour: Pour | PourOverview, things: Iterable[ThingRef]
) -> dict[ThingRef, tuple[str, ...]]:
    """The lots of some materials that a pour used: those it names, else those then open."""
    found: dict[ThingRef, tuple[str, ...]] = {}
    for thing in things:
        record = shelf.of_kind(thing[0]).get(thing[1])
        named = pour.lots.get(thing)
        open_then = None if record is None else record.lot_in_use(pour.date)
        if named is not None:
            found[thing] = named
        elif open_then is not None:
            found[thing] = (open_then.lot,)
    return found


def past_materials(shelf: Shelf, design: Design) -> Iterator[Problem]:
    """Yield a warning for each material that was past its date when it was poured."""
    for pour, overview in zip(design.pours, design.overview.pours, strict=True):
        if pour.sure:
            continue
        things = dict.fromkeys(thing for part in overview.holds for thing in part.things)
        for (kind, name), lots in lots_used(shelf, overview, things).items():
            record = shelf.of_kind(kind).get(name)
            for one in () if record is None else record.lots:
                if one.lot in lots and one.best_before and one.best_before < pour.date:
                    assert record is not None
                    what = f"{record.name}, lot {one.lot}, was past its date ({one.best_before})"
                    hint = "Mend the date or the lot; or write sure: yes on the pour."
                    yield Problem(pour.at, f"{what} when it was poured", hint, warning=True)


def past_on_shelf(shelf: Shelf, day: date) -> Iterator[Problem]:
    """Yield a warning for each open lot on the shelf that is past its date on a day."""
    for kind in MATERIALS:
        for name, record in shelf.of_kind(kind).items():
            until = record.best_before
            if until is not None and until < day:
                lot = "" if record.lot is None else f", lot {record.lot},"
                at = position_of(shelf.written[kind][name], "best_before")
                what = f"{record.name}{lot} is past its date"
                hint = "Pour no more of it; open another lot, and move this one to earlier."
                yield Problem(at, what, hint, warning=True)


def _poured_batch(shelf: Shelf, design: str, pour: PourOverview) -> PouredBatch:
    things = dict.fromkeys(thing for part in pour.holds for thing in part.things)
    return PouredBatch(
        pour.batch, design, pour.label, pour.date,
        tuple(PouredPart(part.bars, part.pots, part.wrapped_in) for part in pour.holds),
        lots_used(shelf, pour, things),
    )  # fmt: skip


def _origin(record: Leftover) -> LeftoverOrigin:
    """Where a leftover came from, and the materials that its record names."""
    named = ((one.kind, one.name) for one in references_of(record) if one.kind in MATERIALS)
    return LeftoverOrigin(record.origin, tuple(dict.fromkeys(named)))


def _orders_by_batch(
    traced: Iterable[TracedBatch], orders: Iterable[OrderFile]
) -> dict[str, tuple[OrderHolding, ...]]:
    """The orders that each batch went into, or may have, by its code."""
    by_design: dict[str, list[TracedBatch]] = {}
    for one in traced:
        by_design.setdefault(one.design, []).append(one)
    found: dict[str, list[OrderHolding]] = {}
    for order in orders:
        for line in order.record.designs:
            codes = {code.casefold() for code in line.batches}
            known = by_design.get(line.design, ())
            done = order.record.done
            holding = [
                one.code
                for one in known
                if (one.code.casefold() in codes if codes else done and one.day <= done)
            ]
            row = OrderHolding(
                order.id, order.record.title, order.record.due, line.bars, tuple(holding),
                bool(codes),
            )  # fmt: skip
            for code in holding:
                found.setdefault(code, []).append(row)
    return {code: tuple(rows) for code, rows in found.items()}


def _batch_trace(
    settings: Settings,
    shelf: Shelf,
    batch: TracedBatch,
    orders: tuple[OrderHolding, ...],
    dates: Mapping[tuple[str, str, str], date | None],
) -> BatchTrace:
    """The trace of one pour; what is wrapped round a bar is none of its materials."""
    inside = [use for use in batch.uses if use.kind != "packaging"]
    dated: list[tuple[str, date]] = []
    undated: list[LotUse] = []
    for use in inside:
        day = None if use.lot is None else dates.get((use.kind, use.name, use.lot))
        if day is None:
            undated.append(use)
        else:
            dated.append((shelf.of_kind(use.kind)[use.name].name, day))
    return BatchTrace(
        batch,
        orders,
        {
            region: best_before(
                region,
                batch.day,
                settings.durability if region in BY_SAFETY_REPORT else settings.keeps,
                dated,
            )
            for region in settings.region
            if region in REGIONS
        },
        tuple(undated),
    )


def _lot_traces(
    shelf: Shelf, traced: Iterable[TracedBatch], orders: Mapping[str, tuple[OrderHolding, ...]]
) -> Iterator[tuple[LotKey, LotTrace]]:
    """Yield every lot that the shelf or a pour names, by material in the order of the shelf."""
    rows = bars_by_lot(traced)
    for kind in MATERIALS:
        names = dict.fromkeys((*shelf.of_kind(kind), *(k[1] for k in rows if k[0] == kind)))
        for name in names:
            record = shelf.of_kind(kind).get(name)
            written = {} if record is None else {one.lot: one for one in record.lots}
            poured = (key[2] for key in rows if key[:2] == (kind, name))
            for lot in dict.fromkeys((*written, *poured)):
                if lot is None:
                    continue
                one = written.get(lot)
                opened = None if one is None else one.opened
                holds = rows.get((kind, name, lot), ())
                # Before it was opened nothing of it was poured.
                perhaps = tuple(
                    row
                    for row in rows.get((kind, name, None), ())
                    if opened is None or row.day >= opened
                )
                sold = dict.fromkeys(order for row in holds for order in orders.get(row.batch, ()))
                yield (kind, name, lot), LotTrace(
                    kind, name, lot, opened,
                    None if one is None else one.best_before,
                    one is not None, holds, perhaps, tuple(sold),
                )  # fmt: skip
