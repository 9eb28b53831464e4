"""The facts of a thing on the shelf, as its record has them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, Literal

from msgspec import Struct

from journal.figures.lots.balance import AmountLeft
from journal.html.blocks import TextRun, Words
from journal.quantities.kinds import Amount, Price
from journal.quantities.show import show_number
from journal.records.models import shelf as shelf_records
from journal.records.models.trim import Trim
from journal.views.shared import words
from journal.views.shared.book import Book
from journal.views.shared.on_page import PageContext
from journal.views.shared.places import Address, span

Fact = tuple[str, Words]
HUNDREDTH = Decimal("0.01")
ONE = Decimal(1)


def thing_amount_text(units: words.UnitFormatter, amount: Amount) -> words.BothUnits:
    """An amount on the shelf in both systems of units; a bare number for pieces."""
    if amount.kind == "mass":
        return units.mass(amount.value)
    if amount.kind == "volume":
        return units.volume(amount.value)
    return words.BothUnits(show_number(amount.value, ONE))


# What does the shelf count in each unit?
_KIND_OF_UNIT: Mapping[str, Literal["mass", "volume", "count"]] = {
    "g": "mass", "mL": "volume", "each": "count",
}  # fmt: skip


def amount_left_text(units: words.UnitFormatter, left: AmountLeft) -> words.BothUnits:
    """How much of a thing is left, in both systems of units; never less than nothing.

    Where something was taken of it since it was counted it is an estimate, in few figures.
    """
    amount = max(0.0, float(left.left))
    return units.about(left.unit, amount) if left.used else amount_text(units, left.unit, amount)


def amount_text(units: words.UnitFormatter, unit: str, amount: float) -> words.BothUnits:
    """An amount in a unit of the shelf (g, mL, each), in both systems of units."""
    return thing_amount_text(units, Amount(_KIND_OF_UNIT[unit], float(amount)))


def left_text(units: words.UnitFormatter, left: AmountLeft) -> str:
    """What is left of a thing, as a sentence: ``About 5.2 kg, if nothing was thrown away.``"""
    if left.left < 0:
        return "None, by what was poured since it was counted. Count it again."
    amount = amount_left_text(units, left)
    if not left.used:
        since = left.since
        return f"{amount}" if since is None else f"{amount}, counted {words.long_date(since)}."
    return f"About {amount}, if nothing was thrown away."


def price_text(units: words.UnitFormatter, price: Price) -> str:
    """A price with its amount: ``$4.10 for 1 lb``, ``$4.10 each``."""
    if price.per == "each":
        return f"{units.money(price.amount)} each"
    amount = Amount("mass" if price.per == "mass" else "volume", float(price.quantity))
    return f"{units.money(price.amount)} for {thing_amount_text(units, amount).first}"


# A function that formats the value of a key for a page.
Show = Callable[[PageContext, Any], Words]


class FactSpec(Struct, frozen=True):
    """A key of a record as it is shown: label, formatter, and the words for a missing value."""

    name: str
    key: str
    show: Show
    without: Words = ()


def facts_of(book: Book, here: Address, record: shelf_records.ShelfRecord) -> tuple[Fact, ...]:
    """Label and value of each key of a record with something to show, in order of ``FACTS``."""
    context, facts = PageContext(book, here), list[Fact]()
    for one in (*FACTS[type(record)], *(_STUDIO if book.studio else ())):
        value = getattr(record, one.key)
        shown = one.without if value in (None, ()) else one.show(context, value)
        if shown:
            facts.append((one.name, shown))
    return tuple(facts)


def _in_units(show: Callable[[words.UnitFormatter, Any], object]) -> Show:
    """A formatter of values that needs nothing of the page but the studio's units."""
    return lambda context, value: (str(show(context.units, value)),)


_TEXT = _in_units(lambda _, value: value)
_DATE = _in_units(lambda _, day: words.long_date(day))
_LENGTH = _in_units(lambda units, length: units.length(length))
_MASS = _in_units(lambda units, mass: units.mass(mass))
_MONEY = _in_units(lambda units, money: units.money(money))
_PRICE = _in_units(price_text)
_TEMPERATURE = _in_units(lambda units, end: units.temperature(end))
_SIZE = _in_units(lambda units, size: units.size(*size))
_TEMPERATURES = _in_units(
    lambda units, ends: (
        units.temperature(ends[0]) if ends[0] == ends[1] else units.temperatures(*ends)
    )
)


def _bars(_: PageContext, bars: int) -> Words:
    """A number of bars; empty if it is one."""
    return () if bars == 1 else (str(bars),)


def _density(_: PageContext, ends: tuple[float, float]) -> Words:
    """A density or a range of densities, in g/mL."""
    low, high = (show_number(end, HUNDREDTH) for end in ends)
    return (words.no_break(f"{low if low == high else f'{low}–{high}'} g/mL"),)


def _ingredients(_: PageContext, ingredients: tuple[shelf_records.Ingredient, ...]) -> Words:
    """The INCI names of ingredients, with their shares where known."""
    texts = (
        one.inci if one.share is None else f"{one.inci} {words.percent(one.share)}"
        for one in ingredients
    )
    return (", ".join(texts),)


def _trim(context: PageContext, trim: Trim) -> Words:
    """The kind of a trim, and its border if it has one."""
    border = f", {context.book.units.length(trim.margin_mm).first}" if trim.margin_mm else ""
    return (f"{trim.kind}{border}",)


def _cast_in(context: PageContext, base: shelf_records.BaseMixture) -> Words:
    """The bases of a mixture as links, with their shares."""
    runs: list[TextRun | str] = []
    for name, part in base.shares:
        runs += [", "] * bool(runs) + [context.thing("bases", name)]
        runs += [f" {words.percent(part)}"] * (part < 1)
    return tuple(runs)


def _left_by(context: PageContext, origin: str) -> Words:
    """The design that a leftover came from, as a link; empty if the edition has no page of it."""
    place = context.book.places.designs.get(origin)
    return () if place is None else (span(context.here, place),)


_STUDIO = (FactSpec("From", "supplier", _TEXT), FactSpec("For the studio alone", "private", _TEXT))

FACTS: Mapping[type[shelf_records.ShelfRecord], tuple[FactSpec, ...]] = {
    shelf_records.Base: (
        FactSpec("Softens", "softens", _TEMPERATURES),
        FactSpec("Sets", "sets", _TEMPERATURES),
        FactSpec("Melts", "melts", _TEMPERATURES),
        FactSpec("Scorches", "scorches", _TEMPERATURES),
        FactSpec("Carries", "takes",
              lambda _, most: ("up to ", words.percent(most), " of its weight in fragrance")),
        FactSpec("Density", "density", _density),
        FactSpec("Price", "price", _PRICE),
        FactSpec("Ingredients", "ingredients", _ingredients),
        FactSpec("True soap", "true_soap", lambda _, yes: (
            f"{'yes' if yes else 'no'}, by its supplier",)),
    ),
    shelf_records.Fragrance: (
        FactSpec("Limit", "limit",
              lambda _, limit: ("up to ", words.percent(limit), " of a bar that is rinsed off"),
              (TextRun("not on the shelf: ask for the certificate", "mind"),)),
        FactSpec("Vanillin", "vanillin_share", _in_units(lambda _, share: words.percent(share))),
        FactSpec("Certificate", "certificate", _in_units(lambda _, when: words.day_or_month(when))),
        FactSpec("Goes in below", "add_below", _TEMPERATURE),
        FactSpec("Flash point, for storage and shipping", "flash_point",
              _in_units(lambda units, ends: units.temperature(ends[0]))),
        FactSpec("Density", "density", _density),
        FactSpec("Allergens", "allergens", lambda _, named: (
            ", ".join(f"{name} {words.percent(share)}" for name, share in named),)),
        FactSpec("Price", "price", _PRICE),
    ),
    shelf_records.Colourant: (
        FactSpec("Kind", "kind", _TEXT),
        FactSpec("Bleeds", "bleeds", lambda _, bleeds: ("yes" if bleeds else "no",)),
        FactSpec("INCI", "inci", _TEXT),
        FactSpec("Paste", "paste", lambda _, paste: (
            f"{words.percent(paste.pigment)} in {paste.carrier}",)),
        FactSpec("Lot certified", "certified", lambda _, yes: ("yes" if yes else "no",)),
        FactSpec("Bulk density", "density", _density),
        FactSpec("True density", "true_density", _density),
        FactSpec("Price", "price", _PRICE),
        FactSpec("Same as", "same_as", lambda on, name: (on.thing("colourants", name),)),
    ),
    shelf_records.Additive: (
        FactSpec("Usual", "most", lambda _, most: ("up to ", words.percent(most), " of a layer")),
        FactSpec("INCI", "inci", _TEXT),
        FactSpec("Bulk density", "density", _density),
        FactSpec("True density", "true_density", _density),
        FactSpec("Price", "price", _PRICE),
    ),
    shelf_records.Mould: (
        FactSpec("Cavities", "cavities", _TEXT),
        FactSpec("Rows", "rows", lambda _, rows: (f"{rows[0]} × {rows[1]}",)),
        FactSpec("Bars from each", "bars_each", _bars),
        FactSpec("Face", "face", _SIZE),
        FactSpec("Corner radius", "corner_radius", _LENGTH),
        FactSpec("Depth", "depth", _LENGTH),
        FactSpec("Holds", "holds", _in_units(lambda units, ends: units.masses(*ends))),
        FactSpec("Price", "price", _MONEY),
        FactSpec("Lasts", "life", lambda _, life: (f"{life} pours",)),
    ),
    shelf_records.Mat: (
        FactSpec("Sheet", "sheet", _SIZE),
        FactSpec("Thickness", "thickness", _LENGTH),
        FactSpec("Relief", "relief", _LENGTH),
        FactSpec("Motif", "motif", lambda on, motif: _SIZE(on, motif.size)),
        FactSpec("Motif to motif", "motif",
              lambda on, motif: _SIZE(on, motif.pitch) if motif.pitch else ()),
        FactSpec("Price", "price", _MONEY),
        FactSpec("A piece lasts", "life", lambda _, life: (f"{life} casts, a guess",)),
    ),
    shelf_records.Piece: (
        FactSpec("Cut from", "mat", lambda on, name: (on.thing("mats", name),)),
        FactSpec("Fits", "mould", lambda on, name: (on.thing("moulds", name),)),
        FactSpec("Trim", "trim", _trim),
        FactSpec("Size", "size", _SIZE),
        FactSpec("Weight", "weight", _MASS),
        FactSpec("Cut", "cut", _DATE),
    ),
    shelf_records.Packaging: (
        FactSpec("Price", "price", _MONEY),
        FactSpec("Bars in one", "each", _bars),
    ),
    shelf_records.Leftover: (
        FactSpec("Amount", "amount", _MASS),
        FactSpec("Base", "base", _cast_in),
        FactSpec("Colour", "tinted", lambda on, name: (
            "none" if name == "no" else on.thing("colourants", name),)),
        FactSpec("Of it colour", "colour_share", _in_units(lambda _, share: words.percent(share))),
        FactSpec("Scent", "scented", lambda on, scent: (
            on.thing("fragrances", scent.oil), f", {words.percent(scent.concentration)}")),
        FactSpec("Left over from", "origin", _left_by),
        FactSpec("Melted before", "melted_times",
            _in_units(lambda _, times: words.count_text(times, "time"))),
    ),
}  # fmt: skip
