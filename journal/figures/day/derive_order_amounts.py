"""What an order asks for of each thing, to be measured with the studio's tools."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec import Struct
from msgspec.structs import replace

from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.day.order import EACH, GRAMS
from journal.figures.recipe.derive_layers import RecipeMasses
from journal.figures.recipe.derive_measured import asked_of_dosed, asked_of_oil
from journal.quantities.measuring import AskedAmount, sum_asked
from journal.records.models.shelf import Shelf
from journal.records.models.things import ThingRef


class OrderedAmount(Struct, frozen=True):
    """What is asked for of a thing in all, and what of it is measured at once, by rounds."""

    whole: AskedAmount
    by_round: tuple[AskedAmount, ...]

    @property
    def least(self) -> AskedAmount:
        """The least that is measured at once."""
        return min(self.by_round, key=lambda one: (one.mass_g or 0.0, one.volume_ml or 0.0))


def ordered_amounts(
    shelf: Shelf, order: OrderFigures
) -> Mapping[tuple[str, str, str], OrderedAmount]:
    """The amounts of all needs of an order but those that are counted, by kind, id and unit."""
    uses: dict[ThingRef, list[AskedAmount]] = {}
    for line in order.lines:
        for masses in line.masses:
            for thing, asked in _asked_of_round(shelf, line, masses):
                uses.setdefault(thing, []).append(asked)
    found = {}
    for need in order.needs:
        if need.unit == EACH:
            continue
        mass = need.unit == GRAMS
        known = [
            asked
            for asked in uses[need.kind, need.item]
            if (asked.mass_g if mass else asked.volume_ml) is not None
        ]
        whole = sum_asked(known)
        found[need.kind, need.item, need.unit] = OrderedAmount(
            whole, tuple(replace(asked, in_drops=whole.in_drops) for asked in known)
        )
    return found


def _asked_of_round(
    shelf: Shelf, line: OrderedLine, masses: RecipeMasses
) -> Iterator[tuple[ThingRef, AskedAmount]]:
    """Yield what each layer of a round takes of the shelf, but what has no amount to measure."""
    for layer, written in zip(masses.layers, line.variant.recipe.layers, strict=True):
        if layer.leftover is not None:
            yield ("leftovers", layer.leftover), AskedAmount("base", layer.leftover_g)
        for base, melt_g in layer.fresh:
            yield ("bases", base), AskedAmount("base", melt_g)
        stirred_in = (oil for oil in layer.fragrances if not oil.from_leftover)
        for oil, dose in zip(stirred_in, written.fragrance, strict=True):
            of_oil = asked_of_oil(oil, dose.dose)
            if of_oil is not None:
                yield ("fragrances", oil.oil), of_oil
        for one in layer.dosed:
            asked = asked_of_dosed(shelf, one)
            if asked is not None:
                yield (one.kind, one.name), asked
