"""An order's plan as JSON: stable names with their units in them, null for what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from journal.figures.as_json import FORMAT
from journal.figures.common.as_json_numbers import money, number, percent
from journal.figures.day.bars_enough import BarsEnough
from journal.figures.day.derive_batches import BatchToCome
from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.day.order import EACH, GRAMS, MILLILITRES
from journal.figures.derive_notebook import OrderPlan
from journal.html.card_page import plain_text
from journal.records.models.write_up import AS_WRITTEN
from journal.records.notebook import Notebook
from journal.views.card.steps import RoundSteps
from journal.views.order.day import PlannedDay, day_step_text, planned_days, rounds_of_plan
from journal.views.order.words import assumption_words, without
from journal.views.shared.words import NO_BREAK

_UNIT_NAMES = {GRAMS: "g", MILLILITRES: "ml", EACH: "count"}


def plan_json(notebook: Notebook, plan: OrderPlan, *, studio: bool) -> dict[str, Any]:
    """The plan of an order; without ``studio`` no customer, cost or price.

    Minutes count from midnight of the first day. A step's ``round`` is the place of its round in
    ``rounds``. ``left_out`` are its designs with a mistake; of a fragrance in ``over_limit``
    ``needs`` has no amount for that design.
    """
    figures, day = plan.figures, plan.day
    record = figures.order.record
    private = {
        "customer": record.customer,
        "currency": notebook.settings.currency,
        "cost": money(figures.cost.cost),
        "cost_at_least": money(figures.cost.at_least),
        "price": money(figures.cost.price),
        "wholesale": money(figures.cost.wholesale),
    }
    sheet, days = day.sheet, list[dict[str, Any]]()
    if sheet is not None:
        rounds = rounds_of_plan(notebook.settings, notebook.shelf, plan)
        days = [_day_json(planned, rounds) for planned in planned_days(plan, rounds)]
    return {
        "format": FORMAT,
        "order": figures.order.id,
        "title": record.title,
        "due": record.due.isoformat(),
        **(private if studio else {}),
        "bars": figures.bars,
        "wanted": figures.wanted,
        "begin_by": None if day.begin_by is None else day.begin_by.isoformat(),
        "lines": [_line_json(line) for line in figures.lines],
        "left_out": list(without(notebook, plan)),
        "over_limit": [
            {
                "design": line.design.id,
                "variant": _variant(line),
                "layer": over.layer,
                "fragrances": list(over.oils),
            }
            for line, over in figures.over
        ],
        "needs": _needs_json(notebook, figures),
        "by_eye": [f"{kind}/{name}" for kind, name in figures.by_eye],
        "rounds": _rounds_json(plan),
        "days": days,
        "hands_on_min": None if sheet is None else sheet.hands_on_min,
        "elapsed_min": None if sheet is None else sheet.elapsed_min,
        "assumed": [
            plain_text(assumption_words(one)).replace(NO_BREAK, " ") for one in day.assumed
        ],
        "missing": [] if sheet is not None else [{"figure": "days", "needs": day.why}],
    }


def _line_json(line: OrderedLine) -> dict[str, Any]:
    """A line: its design, its variant (null as written), its rounds and what limits them."""
    return {
        "design": line.design.id,
        "variant": _variant(line),
        "bars": line.bars,
        "wanted": line.wanted,
        **({} if line.enough is None else {"enough": _enough_json(line.enough)}),
        "rounds": len(line.rounds),
        "limited_by": line.limit.by or None,
        "casts": line.casts,
        "pots": {pot.name: {"melt_g": number(pot.melt_g)} for pot in line.total.pots},
    }


def _enough_json(enough: BarsEnough) -> dict[str, Any]:
    """How many bars to pour to be sure of enough, and what that goes by."""
    return {
        "sure_percent": percent(enough.sure),
        "bars": enough.bars,
        "chance_percent": percent(enough.chance),
        "kept": enough.kept,
        "judged": enough.judged,
        "share_percent": percent(enough.share),
        "low_percent": percent(enough.low),
        "high_percent": percent(enough.high),
        "missing": [enough.why] if enough.why else [],
    }


def _variant(line: OrderedLine) -> str | None:
    return None if line.variant.name == AS_WRITTEN else line.variant.name


def _needs_json(notebook: Notebook, figures: OrderFigures) -> list[dict[str, Any]]:
    """What the order takes of each thing, in the unit of the shelf."""
    rows = []
    to_buy = {(one.kind, one.item, one.unit): one for one in figures.buy}
    for need, fresh in zip(figures.needs, figures.fresh, strict=True):
        unit, buy = _UNIT_NAMES[need.unit], to_buy[need.kind, need.item, need.unit]
        on_hand = None if buy.buy is None else buy.on_hand
        amounts = {
            "needed": need.amount,
            "from_leftovers": need.amount - fresh.amount,
            "on_hand": on_hand,
            "buy": buy.buy,
        }
        rows.append(
            {
                "kind": need.kind,
                "thing": need.item,
                "name": notebook.shelf.of_kind(need.kind)[need.item].name,
                **{
                    f"{name}_{unit}": number(None if amount is None else float(amount))
                    for name, amount in amounts.items()
                },
            }
        )
    return rows


def _rounds_json(plan: OrderPlan) -> list[dict[str, Any]]:
    """Each round: its name, design, variant, bars, pots, and the batch that it will be."""
    of_lines = [(line, masses) for line in plan.figures.lines for masses in line.masses]
    batches = plan.batches or (None,) * len(of_lines)
    return [
        {
            "name": one.name,
            "design": line.design.id,
            "variant": _variant(line),
            "bars": masses.bars,
            "pots": {pot.name: {"melt_g": number(pot.melt_g)} for pot in masses.pots},
            **({} if batch is None else _batch_json(batch)),
        }
        for one, (line, masses), batch in zip(plan.day.rounds, of_lines, batches, strict=True)
    ]


def _batch_json(batch: BatchToCome) -> dict[str, Any]:
    """The pour that a round will be, if the order is begun on its last day for that."""
    lots = [{"kind": one.kind, "thing": one.name, "lot": one.lot or None} for one in batch.lots]
    return {"batch": batch.code, "pour": batch.label, "date": batch.day.isoformat(), "lots": lots}


def _day_json(day: PlannedDay, rounds: Sequence[RoundSteps]) -> dict[str, Any]:
    """A day: what is melted on it, and its steps in the order of the hands."""
    return {
        "day": day.number,
        "melt": {
            f"{kind}/{name}": {"melt_g": number(melt.mass_g)}
            for melt in day.melts
            for kind, name in (melt.thing,)
        },
        "steps": [
            {
                "start_min": timed.start_min,
                "end_min": timed.end_min,
                "round": timed.number,
                "kind": timed.step.kind,
                "hands": timed.step.hands,
                "pot": timed.step.pot or None,
                "text": day_step_text(rounds[timed.number], timed).replace(NO_BREAK, " ") or None,
            }
            for timed in day.steps
        ],
    }
