"""What is known of one thing on the shelf, as its record has it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from msgspec import Struct

from journal.pages.book import Book
from journal.pages.parts import Span, Words
from journal.pages.places import Place, span
from journal.pages.words import Both, Units, counted, keep, percent, said_date
from journal.quantities.kinds import Amount, Price
from journal.quantities.show import show_number
from journal.records.shelf import (
    Additive,
    Base,
    BaseShares,
    Colourant,
    Fragrance,
    Ingredient,
    Leftover,
    Mat,
    Mould,
    Packaging,
    Piece,
    ShelfRecord,
)
from journal.records.trim import Trim

Fact = tuple[str, Words]
HUNDREDTH = Decimal("0.01")
ONE = Decimal(1)


def amount_said(units: Units, amount: Amount) -> Both:
    """How much there is of something."""
    if amount.kind == "mass":
        return units.mass(amount.value)
    if amount.kind == "volume":
        return units.volume(amount.value)
    return Both(show_number(amount.value, ONE))


def price_said(units: Units, price: Price) -> str:
    """``4.10 USD for 1 lb``."""
    size = float(price.quantity)
    if price.per == "each":
        return f"{units.money(price.amount)} each"
    amount = Amount("mass" if price.per == "mass" else "volume", size)
    return f"{units.money(price.amount)} for {amount_said(units, amount).first}"


class _On(Struct, frozen=True):
    """The page that a record's facts stand on."""

    book: Book
    here: Place

    def named(self, kind: str, name: str) -> Span:
        return named_thing(self.book, self.here, kind, name)


Say = Callable[[_On, Any], Words]


class Shown(Struct, frozen=True):
    """A fact of a record: its name, its key, how a value is shown, and what stands for none."""

    name: str
    key: str
    say: Say
    without: Words = ()


def facts_of(book: Book, here: Place, record: ShelfRecord) -> tuple[Fact, ...]:
    """Name and value of every key of the record that says something, in the order of ``FACTS``."""
    on, facts = _On(book, here), list[Fact]()
    for one in (_ON_HAND, *FACTS[type(record)], *(_STUDIO if book.studio else ())):
        value = getattr(record, one.key)
        words = one.without if value in (None, ()) else one.say(on, value)
        if words:
            facts.append((one.name, words))
    return tuple(facts)


def _in_units(say: Callable[[Units, Any], object]) -> Say:
    return lambda on, value: (str(say(on.book.units, value)),)


_TEXT = _in_units(lambda _, value: value)
_DATE = _in_units(lambda _, day: said_date(day))
_LENGTH = _in_units(lambda units, length: units.length(length))
_MASS = _in_units(lambda units, mass: units.mass(mass))
_MONEY = _in_units(lambda units, money: units.money(money))
_PRICE = _in_units(price_said)
_SIZE = _in_units(lambda units, size: units.size(*size))
_TEMPERATURES = _in_units(
    lambda units, ends: (
        units.temperature(ends[0]) if ends[0] == ends[1] else units.temperatures(*ends)
    )
)


def _bars(_: _On, bars: int) -> Words:
    return () if bars == 1 else (str(bars),)


def _density(_: _On, ends: tuple[float, float]) -> Words:
    low, high = (show_number(end, HUNDREDTH) for end in ends)
    return (keep(f"{low if low == high else f'{low}–{high}'} g/mL"),)


def _ingredients(_: _On, ingredients: tuple[Ingredient, ...]) -> Words:
    shares = ("" if one.share is None else f" {percent(one.share)}" for one in ingredients)
    return (", ".join(f"{one.inci}{said}" for one, said in zip(ingredients, shares, strict=True)),)


def _trim(on: _On, trim: Trim) -> Words:
    border = f", {on.book.units.length(trim.margin_mm).first}" if trim.margin_mm else ""
    return (f"{trim.kind}{border}",)


def _cast_in(on: _On, base: BaseShares) -> Words:
    words: list[Span | str] = []
    for name, part in base.shares:
        words += [", "] * bool(words) + [on.named("bases", name)]
        words += [f" {percent(part)}"] * (part < 1)
    return tuple(words)


def _left_by(on: _On, origin: str) -> Words:
    place = on.book.places.designs.get(origin)
    return () if place is None else (span(on.here, place),)


_ON_HAND = Shown("On hand", "on_hand", _in_units(amount_said))
_STUDIO = (Shown("From", "supplier", _TEXT), Shown("For the studio alone", "private", _TEXT))

FACTS: Mapping[type[ShelfRecord], tuple[Shown, ...]] = {
    Base: (
        Shown("Softens", "softens", _TEMPERATURES),
        Shown("Sets", "sets", _TEMPERATURES),
        Shown("Melts", "melts", _TEMPERATURES),
        Shown("Scorches", "scorches", _TEMPERATURES),
        Shown("Density", "density", _density),
        Shown("Price", "price", _PRICE),
        Shown("Lot", "lot", _TEXT),
        Shown("Ingredients", "ingredients", _ingredients),
    ),
    Fragrance: (
        Shown("Limit", "limit", lambda _, limit: (percent(limit), " of a rinse-off product"),
              (Span("not on the shelf: ask for the certificate", "mind"),)),
        Shown("Certificate", "certificate", _DATE),
        Shown("Flash point", "flash_point",
              _in_units(lambda units, ends: units.temperature(ends[0]))),
        Shown("Density", "density", _density),
        Shown("Allergens", "allergens", lambda _, named: (
            ", ".join(f"{name} {percent(share)}" for name, share in named),)),
        Shown("Price", "price", _PRICE),
    ),
    Colourant: (
        Shown("Kind", "kind", _TEXT),
        Shown("Bleeds", "bleeds", lambda _, bleeds: ("yes" if bleeds else "no",)),
        Shown("INCI", "inci", _TEXT),
        Shown("Bulk density", "density", _density),
        Shown("Price", "price", _PRICE),
        Shown("Lot", "lot", _TEXT),
        Shown("Same as", "same_as", lambda on, name: (on.named("colourants", name),)),
    ),
    Additive: (
        Shown("Usual at most", "most", lambda _, most: (percent(most), " of a layer")),
        Shown("INCI", "inci", _TEXT),
        Shown("Bulk density", "density", _density),
        Shown("Price", "price", _PRICE),
    ),
    Mould: (
        Shown("Cavities", "cavities", _TEXT),
        Shown("Bars from each", "bars_each", _bars),
        Shown("Face", "face", _SIZE),
        Shown("Corner radius", "corner_radius", _LENGTH),
        Shown("Depth", "depth", _LENGTH),
        Shown("Holds", "holds", _in_units(lambda units, ends: units.masses(*ends))),
        Shown("Price", "price", _MONEY),
        Shown("Lasts", "life", lambda _, life: (f"{life} pours",)),
    ),
    Mat: (
        Shown("Sheet", "sheet", _SIZE),
        Shown("Thickness", "thickness", _LENGTH),
        Shown("Relief", "relief", _LENGTH),
        Shown("Motif", "motif", lambda on, motif: _SIZE(on, motif.size)),
        Shown("Pitch", "motif", lambda on, motif: _SIZE(on, motif.pitch) if motif.pitch else ()),
        Shown("Price", "price", _MONEY),
        Shown("A piece lasts", "life", lambda _, life: (f"{life} casts",)),
    ),
    Piece: (
        Shown("Cut from", "mat", lambda on, name: (on.named("mats", name),)),
        Shown("Fits", "mould", lambda on, name: (on.named("moulds", name),)),
        Shown("Trim", "trim", _trim),
        Shown("Size", "size", _SIZE),
        Shown("Weight", "weight", _MASS),
        Shown("Cut", "cut", _DATE),
    ),
    Packaging: (Shown("Price", "price", _MONEY), Shown("Bars in one", "each", _bars)),
    Leftover: (
        Shown("Amount", "amount", _MASS),
        Shown("Base", "base", _cast_in),
        Shown("Colour", "tinted", lambda on, name: (
            "none" if name == "no" else on.named("colourants", name),)),
        Shown("Scent", "scented", lambda on, scent: (
            on.named("fragrances", scent.oil), f", {percent(scent.concentration)}")),
        Shown("Left by", "origin", _left_by),
        Shown("Melted before", "melted_times", _in_units(lambda _, times: counted(times, "time"))),
    ),
}  # fmt: skip


def named_thing(book: Book, here: Place, kind: str, name: str) -> Span:
    """A thing of the shelf by its name, leading to its page where it has one."""
    place = book.places.thing(kind, name)
    return Span(name) if place is None else span(here, place)
