"""Lots and batches as JSON, as ``journal trace`` and ``journal figures`` print them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from journal.figures.common.as_json_numbers import number_fields
from journal.figures.common.result import MissingInput
from journal.figures.lots.balance import PotBalance, TakenOn
from journal.figures.lots.derive_trace import BatchTrace, LotTrace, OrderHolding
from journal.figures.lots.trace import LotHolding, LotUse, TracedBatch, in_order
from journal.records.models.write_up import Design


def batches_json(
    design: Design, batches: Iterable[BatchTrace], taken: Iterable[TakenOn]
) -> list[dict[str, Any]]:
    """Every pour of a design: its code, who poured, its lots, where its melts went, its dates."""
    pots = {one.pour: one.pots for one in taken}
    by = {pour.label: pour.by for pour in design.pours}
    return [
        {
            **batch_json(one),
            "by": by[one.batch.pour],
            "pots": {pot.pot: _pot_json(pot) for pot in pots.get(one.batch.pour, ())},
        }
        for one in batches
    ]


def batch_json(one: BatchTrace) -> dict[str, Any]:
    """One batch: its bars, the lots in it, the orders that it went into, its dates by region."""
    batch = one.batch
    return {
        "batch": batch.code,
        "design": batch.design,
        "pour": batch.pour,
        "date": batch.day.isoformat(),
        "bars": list(batch.bars),
        "lots": [
            {**_use_json(use), "pots": pots, "bars": bars}
            for use, (pots, bars) in places_of(batch).items()
        ],
        "orders": [*map(_order_json, one.orders)],
        "best_before": {
            region: None if until.day is None else until.day.isoformat()
            for region, until in one.good_until.items()
        },
    }


def missing_dates(batches: Iterable[BatchTrace]) -> Iterator[MissingInput]:
    """The keys for want of which batches have no best before, each once."""
    needs = {until.needs: None for one in batches for until in one.good_until.values()}
    yield from (MissingInput("best before", one) for one in needs if one)


def lot_json(one: LotTrace) -> dict[str, Any]:
    """One lot: the pours that hold it or may, and the orders that they went into."""
    return {
        "kind": one.kind,
        "thing": one.name,
        "lot": one.lot,
        "opened": None if one.opened is None else one.opened.isoformat(),
        "best_before": None if one.best_before is None else one.best_before.isoformat(),
        "holds": [*map(_holding_json, one.holds)],
        "perhaps": [*map(_holding_json, one.perhaps)],
        "orders": [*map(_order_json, one.orders)],
    }


def places_of(batch: TracedBatch) -> Mapping[LotUse, tuple[list[str], list[str]]]:
    """The pots that each lot of a batch was in ("" for what bars are wrapped in), and its bars."""
    found: dict[LotUse, tuple[dict[str, None], dict[str, None]]] = {}
    for part in batch.parts:
        for pot, uses in (*part.pots.items(), ("", part.wrapped_in)):
            for use in uses:
                pots, bars = found.setdefault(use, ({}, {}))
                pots[pot] = None
                bars.update(dict.fromkeys(part.bars))
    return {use: ([*pots], [*in_order(bars)]) for use, (pots, bars) in found.items()}


def _use_json(use: LotUse) -> dict[str, Any]:
    return {"kind": use.kind, "thing": use.name, "lot": use.lot, "via": list(use.via)}


def _holding_json(one: LotHolding) -> dict[str, Any]:
    return {
        "batch": one.batch,
        "design": one.design,
        "pour": one.pour,
        "date": one.day.isoformat(),
        "bars": list(one.bars),
        "pots": list(one.pots),
        "via": list(one.via),
    }


def _order_json(one: OrderHolding) -> dict[str, Any]:
    return {
        "order": one.order,
        "due": one.due.isoformat(),
        "bars": one.bars,
        "batches": list(one.batches),
        "sure": one.sure,
    }


def _pot_json(pot: PotBalance) -> dict[str, Any]:
    return {**number_fields(pot, "melted_g bars_g left_g jug_g short_g"), "noted": pot.written}
