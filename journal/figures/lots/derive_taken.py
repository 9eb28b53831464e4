"""Derive what each pour took of the shelf, and what is left of what was counted."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import TypeVar

from msgspec.structs import replace

from journal.figures.common.derive_context import RecipeContext
from journal.figures.lots.balance import (
    AmountLeft,
    PotBalance,
    PouredInto,
    Taken,
    TakenOn,
    amount_left,
    pot_balance,
)
from journal.figures.recipe.derive_layers import recipe_masses
from journal.figures.recipe.derive_leftovers import overpour_g
from journal.quantities.kinds import Amount
from journal.records.models.settings import Settings
from journal.records.models.shelf import KINDS, BaseMixture, CountedAmount, Shelf, ShelfRecord
from journal.records.models.summary import recipe_as_poured
from journal.records.models.things import ThingRef, references_of
from journal.records.models.write_up import Design, Pour, Variant

Value = TypeVar("Value")

# The unit that the shelf counts a kind of amount in.
UNIT_OF: Mapping[str, str] = {"mass": "g", "volume": "mL", "count": "each"}
_KIND_OF = {unit: kind for kind, unit in UNIT_OF.items()}


def taken_by_pours(settings: Settings, shelf: Shelf, design: Design) -> tuple[TakenOn, ...]:
    """What every pour of a design took of the shelf for good, and where its melts went.

    A pour without bars took nothing that is known. What it did otherwise counts as it was done;
    where that names what is not on the shelf the pour is left out.
    """
    made = (_taken_by(settings, shelf, design, pour) for pour in design.pours if pour.bars)
    return tuple(one for one in made if one is not None)


def _taken_by(settings: Settings, shelf: Shelf, design: Design, pour: Pour) -> TakenOn | None:
    groups = tuple(_poured_alike(design, pour))
    named = (one for variant, _ in groups for one in references_of(variant.recipe))
    if any(one.name not in shelf.of_kind(one.kind) for one in named):
        return None
    pots = tuple(_pot_balances(settings, groups, pour))
    taken = [Taken(*thing, mass_g=mass_g) for pot in pots for thing, mass_g in pot.taken]
    for variant, bars in groups:
        context = RecipeContext(settings, shelf, design, variant, bars)
        for layer in recipe_masses(context).layers:
            # An oil over its limit has no amount, so that nobody can tell how much is left.
            taken += (
                Taken("fragrances", oil.oil, oil.mass_g, oil.volume_ml)
                for oil in layer.fragrances
                if not oil.from_leftover
            )
            taken += (Taken(one.kind, one.name, one.mass_g, one.volume_ml) for one in layer.dosed)
    return TakenOn(pour.label, pour.date, pots, (*taken, *_wrapped(shelf, design, pour)))


def _poured_alike(design: Design, pour: Pour) -> Iterator[tuple[Variant, int]]:
    """Yield each recipe as it was poured, and how many bars: alike in layers is one recipe."""
    variants = {one.name: one for one in design.variants}
    found: list[tuple[Variant, int]] = []
    for name in dict.fromkeys(bar.variant for bar in pour.bars):
        variant = variants.get(name, design.as_written)
        # Its tree stays as written: only places of problems, which nobody is told, come from it.
        poured = replace(variant, recipe=recipe_as_poured(pour, variant, design.recipe))
        bars = sum(bar.variant == name for bar in pour.bars)
        place = next(
            (n for n, (one, _) in enumerate(found) if one.recipe.layers == poured.recipe.layers),
            None,
        )
        if place is None:
            found.append((poured, bars))
        else:
            found[place] = (found[place][0], found[place][1] + bars)
    yield from found


def _pot_balances(
    settings: Settings, groups: Iterable[tuple[Variant, int]], pour: Pour
) -> Iterator[PotBalance]:
    """Yield the balance of every pot that bars were poured from."""
    pots: dict[str, list[PouredInto]] = {}
    for variant, bars in groups:
        scraped: set[str] = set()
        for layer in variant.recipe.layers:
            # A pot's overpour is its layers' largest, so it counts once.
            back_g = 0.0
            if layer.pot_name not in scraped:
                back_g = overpour_g(variant.recipe, layer.pot_name, bars)
                scraped.add(layer.pot_name)
            into = PouredInto(layer.amount * bars, back_g, _shares(layer.base))
            pots.setdefault(layer.pot_name, []).append(into)
    waste = settings.waste
    for pot, layers in pots.items():
        yield pot_balance(pot, layers, pour.melted_g.get(pot), waste.share, waste.least)


def _shares(mixture: BaseMixture) -> tuple[tuple[ThingRef, float], ...]:
    """The bases of a layer and the leftover in it, with their shares."""
    bases = tuple((("bases", name), share) for name, share in mixture.shares)
    if mixture.leftover is None:
        return bases
    return (*bases, (("leftovers", mixture.leftover), mixture.of_leftover))


def _wrapped(shelf: Shelf, design: Design, pour: Pour) -> Iterator[Taken]:
    """Yield the packaging of the bars that were not spoilt."""
    variants = {one.name: one for one in design.variants}
    for name in dict.fromkeys(bar.variant for bar in pour.bars):
        recipe = recipe_as_poured(pour, variants.get(name), design.recipe)
        bars = sum(bar.variant == name and not bar.spoilt for bar in pour.bars)
        for one in recipe.packaging:
            each = shelf.packaging[one].each or 1
            yield Taken("packaging", one, pieces=-(-bars // each))


def amounts_left(shelf: Shelf, pours: Iterable[TakenOn]) -> dict[ThingRef, AmountLeft]:
    """What is left of everything on the shelf that was counted, and whether that is little.

    From a count without a day nothing is taken off.
    """
    taken: dict[ThingRef, list[tuple[date, Taken]]] = {}
    for pour in pours:
        for one in pour.taken:
            taken.setdefault((one.kind, one.name), []).append((pour.day, one))
    found: dict[ThingRef, AmountLeft] = {}
    for kind in KINDS:
        for name, record in shelf.of_kind(kind).items():
            counted = record.on_hand
            if counted is None:
                continue
            amount, low = counted.amount, record.low
            of_thing = taken.get((kind, name), ())
            left = amount_left(UNIT_OF[amount.kind], amount.value, counted.on, of_thing)
            is_low = low is not None and low.kind == amount.kind and left.left < low.value
            found[kind, name] = replace(left, low=is_low)
    return found


def shelf_as_left(shelf: Shelf, left: Mapping[ThingRef, AmountLeft]) -> Shelf:
    """The shelf with what is left in place of what was counted, for an order to take from."""
    changed: dict[str, Mapping[str, ShelfRecord]] = {}
    for kind in KINDS:
        records = shelf.of_kind(kind)
        now = {name: left[kind, name] for name in records if (kind, name) in left}
        now = {name: one for name, one in now.items() if one.used}
        if now:
            changed[kind] = {
                name: _with_amount(record, now[name]) if name in now else record
                for name, record in records.items()
            }
    return dataclasses.replace(shelf, **changed) if changed else shelf  # type: ignore[arg-type]


def _with_amount(record: ShelfRecord, left: AmountLeft) -> ShelfRecord:
    """A record that has as much on hand as is left."""
    amount = Amount(_KIND_OF[left.unit], max(0.0, float(left.left)))  # type: ignore[arg-type]
    count = CountedAmount.model_construct(amount=amount, on=None)
    changes: dict[str, object] = {"on_hand": count}
    if "amount" in type(record).model_fields and left.unit == "g":
        changes["amount"] = amount.value
    return record.model_copy(update=changes)
