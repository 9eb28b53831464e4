"""An order summed over its designs: rounds, what it takes, and what to buy."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.exact import ExactNumber, exact_at_least

GRAMS = "g"
MILLILITRES = "mL"
EACH = "each"
UNITS = (GRAMS, MILLILITRES, EACH)


class ShelfNeed(Struct, frozen=True):
    """The amount needed of one thing; ``kind`` is its shelf (bases, fragrances, …)."""

    kind: str
    item: str
    unit: str
    amount: Fraction


class OnHand(Struct, frozen=True):
    """The amount on hand of one thing; ``amount`` is None when the shelf does not say."""

    kind: str
    item: str
    unit: str
    amount: Fraction | None


class ToBuy(Struct, frozen=True):
    """The amounts of one thing: needed by an order, on hand, and to buy.

    ``buy`` is None, with the reason, where need and shelf are in units that
    do not compare; where the shelf does not say, all of it is to buy.
    """

    kind: str
    item: str
    unit: str
    need: Fraction
    on_hand: Fraction | None
    buy: Fraction | None
    why: str


def exact_need(kind: str, item: str, unit: str, amount: ExactNumber) -> ShelfNeed:
    """A need of one thing, its amount turned into an exact fraction.

    Fails:  FigureError if the amount is below 0, or the unit none of ``UNITS``
    """
    if unit not in UNITS:
        raise FigureError(f'{item} is needed in "{unit}"; it must be one of {", ".join(UNITS)}')
    return ShelfNeed(kind, item, unit, exact_at_least(amount, 0, f"the need of {item}"))


def sum_needs(needs: Sequence[ShelfNeed]) -> tuple[ShelfNeed, ...]:
    """Add up all needs of the same thing in the same unit.

    Gives:  one need for each thing and unit, sorted by shelf, id and unit
    Checked: 100 g and 50 g of one base are 150 g of it
    """
    totals: dict[tuple[str, str, str], Fraction] = {}
    for one in needs:
        key = (one.kind, one.item, one.unit)
        totals[key] = totals.get(key, Fraction(0)) + one.amount
    return tuple(ShelfNeed(*key, amount) for key, amount in sorted(totals.items()))


def to_buy(needs: Sequence[ShelfNeed], on_hand: Sequence[OnHand]) -> tuple[ToBuy, ...]:
    """Take what is on hand from what is needed; the rest is to buy.

    Takes:  needs    summed or not
            on_hand  at most one entry a thing
    Gives:  one entry for each thing and unit needed, sorted by shelf and id
    Fails:  FigureError if a thing is on hand twice, or less than nothing of it
    Checked: 500 g needed, 300 g there: 200 g to buy
    """
    shelf: dict[tuple[str, str], OnHand] = {}
    for entry in on_hand:
        if (entry.kind, entry.item) in shelf:
            raise FigureError(f"{entry.item} is on hand twice")
        if entry.amount is not None and entry.amount < 0:
            raise FigureError(f"{entry.amount} of {entry.item} is on hand; it cannot be below 0")
        shelf[entry.kind, entry.item] = entry
    lines = []
    for one in sum_needs(needs):
        on_shelf = shelf.get((one.kind, one.item))
        amount = None if on_shelf is None else on_shelf.amount
        buy: Fraction | None = one.amount
        why = ""
        if on_shelf is None or amount is None:
            why = "the shelf does not say what is on hand"
        elif on_shelf.unit != one.unit:
            buy = None
            why = f"on hand in {on_shelf.unit}, needed in {one.unit}: comparing takes a density"
        else:
            buy = max(Fraction(0), one.amount - amount)
        lines.append(ToBuy(one.kind, one.item, one.unit, one.amount, amount, buy, why))
    return tuple(lines)


def bars_by_round(bars: int, a_round: int) -> tuple[int, ...]:
    """Split bars into rounds: full rounds, then one of what is left.

    Takes:  bars     >= 1
            a_round  >= 1
    Gives:  a count a round; they sum to bars
    Fails:  FigureError if either is below 1
    Checked: 14 bars, 6 a round: 6, 6, 2
    """
    if bars < 1 or a_round < 1:
        raise FigureError(f"{bars} bars in rounds of {a_round}: both must be 1 or more")
    full, over = divmod(bars, a_round)
    return (a_round,) * full + ((over,) if over else ())
