"""``journal trace``: from a lot to the bars that hold it, and from a batch to what is in it."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator, Sequence

from journal.cli.terminal import counted, print_json, print_lines, print_problems, wrapped
from journal.cli.used import faulty_designs, without_designs
from journal.errors import UsageError
from journal.figures.lots.as_json_lots import batch_json, lot_json, places_of
from journal.figures.lots.derive_trace import (
    BatchTrace,
    LotTrace,
    OrderHolding,
    Trace,
    derive_trace,
)
from journal.figures.lots.trace import LotHolding, LotUse
from journal.records.models.fields import spelling_hint
from journal.records.notebook import Notebook, read_notebook
from journal.views.shared.words import long_date


def trace(args: argparse.Namespace) -> int:
    """Run ``journal trace``; gives the exit status: 1 where a write-up could not be looked at."""
    notebook = read_notebook(args.content)
    faulty = faulty_designs(notebook)
    notebook = without_designs(notebook, faulty)
    found = derive_trace(notebook)
    lots, batches = found.named(args.code)
    if not (lots or batches) and not faulty:
        raise UsageError(
            f'no lot and no batch is called "{args.code}"', spelling_hint(args.code, _codes(found))
        )
    if args.json:
        print_json(
            {
                "lots": [*map(lot_json, lots)],
                "batches": [*map(batch_json, batches)],
                "left_out": sorted(faulty),
            }
        )
    else:
        lines = [line for one in lots for line in ("", *_lot_lines(notebook, one))]
        lines += (line for one in batches for line in ("", *_batch_lines(notebook, one)))
        print_lines(*(lines[1:] or [f'Nothing that could be read names "{args.code}".']))
        if faulty:
            print_lines(f"Not looked at, for want of mending: {', '.join(sorted(faulty))}.")
    if faulty:
        problems = [problem for own in faulty.values() for problem in own]
        print_problems(sorted(set(problems)), args.content)
    return 1 if faulty else 0


def _codes(found: Trace) -> tuple[str, ...]:
    """The codes of all lots and batches, each once."""
    batches = (one.batch.code for of_design in found.batches.values() for one in of_design)
    return tuple(dict.fromkeys((*(one.lot for one in found.lots.values()), *batches)))


def _lot_lines(notebook: Notebook, one: LotTrace) -> Iterator[str]:
    """What holds a lot: the answer first, then a line a batch, then the orders."""
    record = notebook.shelf.of_kind(one.kind).get(one.name)
    name = one.name if record is None else record.name
    yield f"{name}, lot {one.lot}"
    pours = counted(len(one.holds), "pour")
    yield from wrapped(f"In {counted(one.bars, 'bar')} of {pours}.")
    yield from _holding_lines(notebook, one.holds)
    if one.perhaps:
        bars = sum(len(row.bars) for row in one.perhaps)
        yield from wrapped(
            f"Perhaps in {counted(bars, 'bar')} more: nobody wrote down which lot they hold."
        )
        yield from _holding_lines(notebook, one.perhaps)
    yield from _order_lines(one.orders)


def _holding_lines(notebook: Notebook, rows: Sequence[LotHolding]) -> Iterator[str]:
    """A line a batch: its code, day, design, and bars."""
    width = max((len(row.batch) for row in rows), default=0)
    for row in rows:
        via = f", by way of {_leftovers(notebook, row.via)}" if row.via else ""
        title = notebook.summaries[row.design].title
        bars = ", ".join(row.bars) or "no bar noted"
        text = f"{row.batch:<{width}}  {long_date(row.day)}, {title}{via}: {bars}."
        yield from wrapped(text, indent="    ")


def _leftovers(notebook: Notebook, names: Iterable[str]) -> str:
    shelf = notebook.shelf.leftovers
    return ", ".join(shelf[name].name if name in shelf else name for name in names)


def _order_lines(orders: Sequence[OrderHolding]) -> Iterator[str]:
    """A line an order, those first that name their batches."""
    if not orders:
        yield from wrapped("In no order.")
    for one in sorted(orders, key=lambda order: not order.sure):
        may = "Went into" if one.sure else "May have gone into"
        text = f"{may} {one.title} (orders/{one.order}.yaml): {counted(one.bars, 'bar')}"
        yield from wrapped(f"{text} of {', '.join(one.batches)}.")


def _batch_lines(notebook: Notebook, one: BatchTrace) -> Iterator[str]:
    """What is in a batch: its bars, a line a lot, the orders, how long it is good for."""
    batch = one.batch
    pour = next(p for p in notebook.designs[batch.design].pours if p.label == batch.pour)
    by = f" by {pour.by}" if pour.by else ""
    title = notebook.summaries[batch.design].title
    yield f"Batch {batch.code}: {title}, poured {long_date(batch.day)}{by}"
    bars = f": {', '.join(batch.bars)}" if batch.bars else ""
    yield from wrapped(f"{counted(len(batch.bars), 'bar')}{bars}.")
    for use, (pots, _) in places_of(batch).items():
        yield from wrapped(_use_text(notebook, use, pots), indent="    ")
    yield from _order_lines(one.orders)
    for region, until in one.good_until.items():
        if until.day is None:
            text = f"{region.upper()}: no date, for want of {until.needs}."
        else:
            first = f", the date of {until.limited_by}" if until.limited_by else ""
            text = f"{region.upper()}: best before {long_date(until.day)}{first}."
        yield from wrapped(text)


def _use_text(notebook: Notebook, use: LotUse, pots: Sequence[str]) -> str:
    """One lot in words: what it is, which lot, where it was."""
    record = notebook.shelf.of_kind(use.kind).get(use.name)
    name = use.name if record is None else record.name
    lot = "lot not known" if use.lot is None else f"lot {use.lot}"
    via = f", by way of {_leftovers(notebook, use.via)}" if use.via else ""
    where = "round the bars" if pots == [""] else f"in {', '.join(filter(None, pots))}"
    return f"{name}, {lot}: {where}{via}."
