"""Derive what to buy for all open orders together, by when, and what that costs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from journal.figures.day.derive_order import OrderFigures
from journal.figures.day.order import ShelfNeed
from journal.figures.lots.balance import AmountLeft
from journal.figures.shop.cost import material_cost, round_money, unit_price
from journal.quantities.kinds import Price
from journal.records.models.questions import OrderFile
from journal.records.models.shelf import Shelf
from journal.records.models.things import ThingRef

# The kind of price that buys by each unit of a need.
_PRICED_BY = {"g": "mass", "mL": "volume", "each": "each"}


class OpenOrder(Struct, frozen=True):
    """An order that is not handed over yet: its amounts, and the last day to begin on."""

    order: OrderFile
    figures: OrderFigures
    begin_by: date | None


class BuyLine(Struct, frozen=True):
    """What to buy of one thing over all open orders.

    ``left`` is what is there; None where the shelf does not say, or in another unit. ``by`` is
    when the first order begins that it does not suffice for; ``cost`` is rounded
    once, and None without a price in this unit.
    """

    kind: str
    item: str
    unit: str
    need: Fraction
    left: Fraction | None
    buy: Fraction
    by: date
    orders: tuple[str, ...]
    cost: Decimal | None


def derive_buying(
    shelf: Shelf,
    orders: Sequence[OpenOrder],
    left: Mapping[ThingRef, AmountLeft],
    currency: str = "",
) -> dict[tuple[str, str, str], BuyLine]:
    """What to buy over all open orders, by kind, id and unit.

    What is there goes to the order that begins first. A leftover is drawn on by the first order
    that wants it; the others are counted as if it were used up.
    """
    first = sorted(orders, key=lambda one: (_begins(one), one.order.id))
    needs: dict[tuple[str, str, str], list[tuple[OpenOrder, Fraction]]] = {}
    for order, need in _needs_in_turn(first):
        key = (need.kind, need.item, need.unit)
        needs.setdefault(key, []).append((order, need.amount))
    found: dict[tuple[str, str, str], BuyLine] = {}
    for key, of_orders in sorted(needs.items()):
        kind, item, unit = key
        there = left.get((kind, item))
        have = None if there is None or there.unit != unit else max(Fraction(0), there.left)
        whole = sum((amount for _, amount in of_orders), Fraction(0))
        buy = max(Fraction(0), whole - (have or Fraction(0)))
        if not buy or kind == "leftovers":
            continue
        found[key] = BuyLine(
            kind, item, unit, whole, have, buy,
            _by_when(of_orders, have or Fraction(0)),
            tuple(dict.fromkeys(one.order.id for one, _ in of_orders)),
            None if (cost := _cost(shelf, kind, item, unit, buy)) is None
            else round_money(cost, currency),
        )  # fmt: skip
    return found


def _begins(one: OpenOrder) -> date:
    """The last day to begin an order on; the day it is due, where that is not known."""
    return one.begin_by or one.order.record.due


def _needs_in_turn(orders: Sequence[OpenOrder]) -> Iterator[tuple[OpenOrder, ShelfNeed]]:
    """Yield what each order takes of the shelf, less what it alone draws from leftovers."""
    drawn: set[str] = set()
    for one in orders:
        wanted = {draw.leftover for draw in one.figures.draws}
        taken = one.figures.fresh if not wanted & drawn else one.figures.needs
        drawn |= wanted
        for need in taken:
            if need.amount:
                yield one, need


def _by_when(needs: Sequence[tuple[OpenOrder, Fraction]], have: Fraction) -> date:
    """When the first order begins that what is there does not suffice for."""
    used = Fraction(0)
    for order, amount in needs:
        used += amount
        if used > have:
            return _begins(order)
    return _begins(needs[-1][0])


def _cost(shelf: Shelf, kind: str, item: str, unit: str, buy: Fraction) -> Fraction | None:
    """What so much of a thing costs; None without a price for this unit."""
    price = getattr(shelf.of_kind(kind)[item], "price", None)
    if isinstance(price, Decimal):
        return material_cost(buy, unit_price(price, 1)) if unit == "each" else None
    if isinstance(price, Price) and price.per == _PRICED_BY[unit]:
        return material_cost(buy, unit_price(price.amount, price.quantity))
    return None
