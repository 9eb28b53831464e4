"""What is known of one thing on the shelf, as its record has it."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from journal.pages.book import Book
from journal.pages.parts import Span, Words
from journal.pages.places import Place, span
from journal.pages.words import Both, Units, counted, keep, percent, said_date
from journal.quantities.kinds import Amount, Price
from journal.quantities.show import show_number
from journal.records.shelf import (
    Base,
    Colourant,
    Fragrance,
    Leftover,
    Mat,
    Mould,
    Packaging,
    Piece,
    ShelfRecord,
)

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


def facts_of(book: Book, here: Place, record: ShelfRecord) -> tuple[Fact, ...]:
    """Name and value of every key of the record that says something, in the record's order."""
    return tuple(_facts(book, here, record))


def _facts(book: Book, here: Place, record: ShelfRecord) -> Iterator[Fact]:
    units = book.units
    if record.on_hand is not None:
        yield "On hand", (str(amount_said(units, record.on_hand)),)
    match record:
        case Base():
            yield from _base(units, record)
        case Fragrance():
            yield from _fragrance(units, record)
        case Colourant():
            yield from _colourant(book, here, record)
        case Mould():
            yield from _mould(units, record)
        case Mat():
            yield from _mat(units, record)
        case Piece():
            yield from _piece(book, here, record)
        case Packaging():
            if record.price is not None:
                yield "Price", (units.money(record.price),)
            if record.each is not None and record.each != 1:
                yield "Bars in one", (str(record.each),)
        case Leftover():
            yield from _leftover(book, here, record)
    if book.studio and record.supplier is not None:
        yield "From", (record.supplier,)
    if book.studio and record.private is not None:
        yield "For the studio alone", (record.private,)


def _density(ends: tuple[float, float]) -> Words:
    low, high = (show_number(end, HUNDREDTH) for end in ends)
    return (keep(f"{low if low == high else f'{low}–{high}'} g/mL"),)


def _base(units: Units, base: Base) -> Iterator[Fact]:
    for name, ends in (
        ("Softens", base.softens),
        ("Sets", base.sets),
        ("Melts", base.melts),
        ("Scorches", base.scorches),
    ):
        if ends is not None:
            same = ends[0] == ends[1]
            yield name, (str(units.temperature(ends[0]) if same else units.temperatures(*ends)),)
    if base.density is not None:
        yield "Density", _density(base.density)
    if base.price is not None:
        yield "Price", (price_said(units, base.price),)
    if base.lot is not None:
        yield "Lot", (base.lot,)
    if base.ingredients:
        named = [
            entry.inci if entry.share is None else f"{entry.inci} {percent(entry.share)}"
            for entry in base.ingredients
        ]
        yield "Ingredients", (", ".join(named),)


def _fragrance(units: Units, oil: Fragrance) -> Iterator[Fact]:
    limit: Words = (Span("not on the shelf: ask for the certificate", "mind"),)
    yield "Limit", limit if oil.limit is None else (percent(oil.limit), " of a rinse-off product")
    if oil.certificate is not None:
        yield "Certificate", (said_date(oil.certificate),)
    if oil.flash_point is not None:
        yield "Flash point", (str(units.temperature(oil.flash_point[0])),)
    if oil.density is not None:
        yield "Density", _density(oil.density)
    if oil.allergens:
        named = [f"{name} {percent(share)}" for name, share in oil.allergens]
        yield "Allergens", (", ".join(named),)
    if oil.price is not None:
        yield "Price", (price_said(units, oil.price),)


def _colourant(book: Book, here: Place, colour: Colourant) -> Iterator[Fact]:
    if colour.kind is not None:
        yield "Kind", (colour.kind,)
    if colour.bleeds is not None:
        yield "Bleeds", ("yes",) if colour.bleeds else ("no",)
    if colour.inci is not None:
        yield "INCI", (colour.inci,)
    if colour.density is not None:
        yield "Bulk density", _density(colour.density)
    if colour.price is not None:
        yield "Price", (price_said(book.units, colour.price),)
    if colour.lot is not None:
        yield "Lot", (colour.lot,)
    if colour.same_as is not None:
        yield "Same as", (named_thing(book, here, "colourants", colour.same_as),)


def _mould(units: Units, mould: Mould) -> Iterator[Fact]:
    if mould.cavities is not None:
        yield "Cavities", (str(mould.cavities),)
    if mould.bars_each is not None and mould.bars_each != 1:
        yield "Bars from each", (str(mould.bars_each),)
    if mould.face is not None:
        yield "Face", (str(units.size(*mould.face)),)
    if mould.corner_radius is not None:
        yield "Corner radius", (str(units.length(mould.corner_radius)),)
    if mould.depth is not None:
        yield "Depth", (str(units.length(mould.depth)),)
    if mould.holds is not None:
        yield "Holds", (str(units.masses(*mould.holds)),)
    if mould.price is not None:
        yield "Price", (units.money(mould.price),)
    if mould.life is not None:
        yield "Lasts", (f"{mould.life} pours",)


def _mat(units: Units, mat: Mat) -> Iterator[Fact]:
    if mat.sheet is not None:
        yield "Sheet", (str(units.size(*mat.sheet)),)
    if mat.thickness is not None:
        yield "Thickness", (str(units.length(mat.thickness)),)
    if mat.relief is not None:
        yield "Relief", (str(units.length(mat.relief)),)
    if mat.motif is not None:
        yield "Motif", (str(units.size(*mat.motif.size)),)
        if mat.motif.pitch is not None:
            yield "Pitch", (str(units.size(*mat.motif.pitch)),)
    if mat.price is not None:
        yield "Price", (units.money(mat.price),)
    if mat.life is not None:
        yield "A piece lasts", (f"{mat.life} casts",)


def _piece(book: Book, here: Place, piece: Piece) -> Iterator[Fact]:
    units = book.units
    if piece.mat is not None:
        yield "Cut from", (named_thing(book, here, "mats", piece.mat),)
    if piece.mould is not None:
        yield "Fits", (named_thing(book, here, "moulds", piece.mould),)
    if piece.trim is not None:
        margin = piece.trim.margin_mm
        border = f", {units.length(margin).first}" if margin else ""
        yield "Trim", (f"{piece.trim.kind}{border}",)
    if piece.size is not None:
        yield "Size", (str(units.size(*piece.size)),)
    if piece.weight is not None:
        yield "Weight", (str(units.mass(piece.weight)),)
    if piece.cut is not None:
        yield "Cut", (said_date(piece.cut),)


def _leftover(book: Book, here: Place, leftover: Leftover) -> Iterator[Fact]:
    if leftover.amount is not None:
        yield "Amount", (str(book.units.mass(leftover.amount)),)
    if leftover.base is not None and leftover.base.shares:
        words: list[Span | str] = []
        for name, part in leftover.base.shares:
            if words:
                words.append(", ")
            words.append(named_thing(book, here, "bases", name))
            if part < 1:
                words.append(f" {percent(part)}")
        yield "Base", tuple(words)
    if leftover.tinted == "no":
        yield "Colour", ("none",)
    elif leftover.tinted is not None:
        yield "Colour", (named_thing(book, here, "colourants", leftover.tinted),)
    if leftover.scented is not None:
        scent = named_thing(book, here, "fragrances", leftover.scented.oil)
        yield "Scent", (scent, f", {percent(leftover.scented.concentration)}")
    if leftover.origin is not None and leftover.origin in book.places.designs:
        yield "Left by", (span(here, book.places.designs[leftover.origin]),)
    if leftover.melted_times is not None:
        yield "Melted before", (counted(leftover.melted_times, "time"),)


def named_thing(book: Book, here: Place, kind: str, name: str) -> Span:
    """A thing of the shelf by its name, leading to its page where it has one."""
    place = book.places.thing(kind, name)
    return Span(name) if place is None else span(here, place)
