"""The records of the shelf, from ``shelf/*.yaml``: a class for each kind of thing.

All keys but ``name`` are optional: a figure says what it misses. ``key_meanings.yaml`` has
what each key means.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Any

from msgspec import Struct
from pydantic import BeforeValidator, Field

from journal.errors import Position, Problem, QuantityError
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.quantities.written_forms import FORMS, WrittenForm, some_of
from journal.records.models import fields
from journal.records.models.fields import (
    IS_LIST,
    NamesThing,
    Record,
    Text,
    WordChoice,
    by_name,
    plain_id,
    spelling_hint,
)
from journal.records.models.outlines import FILE_NAME, Outline, read_outline_name
from journal.records.models.salvage import UNREADABLE
from journal.records.models.trim import WrittenTrim
from journal.records.yaml.tree import WrittenTable

# The kind of a thing on the shelf, and its id.
ThingRef = tuple[str, str]


class CountedAmount(Record):
    """How much there was when it was counted, and the day of the count, if that was noted."""

    amount: fields.AmountField
    on: fields.Date | None = None


class EarlierLot(Record):
    """A lot that was in use before the one that is open."""

    lot: Text
    opened: fields.Date
    best_before: fields.Date | None = None


class LotDates(Struct, frozen=True):
    """A lot of a thing; ``opened`` and ``best_before`` are None where they were not noted."""

    lot: str
    opened: date | None
    best_before: date | None


def _counted(value: Any) -> Any:
    """Turn an amount alone into the mapping that it stands for."""
    return {"amount": value} if isinstance(value, str) else value


class ShelfRecord(Record):
    """The fields that every thing on the shelf has."""

    name: Text
    on_hand: Annotated[CountedAmount | None, BeforeValidator(_counted)] = None
    low: fields.AmountField | None = None
    lot: Text | None = None
    opened: fields.Date | None = None
    best_before: fields.Date | None = None
    earlier: Annotated[tuple[EarlierLot, ...], IS_LIST] = ()
    supplier: Text | None = None
    private: Text | None = None

    @property
    def lots(self) -> tuple[LotDates, ...]:
        """All lots that are written down, the open one first."""
        now = () if self.lot is None else (LotDates(self.lot, self.opened, self.best_before),)
        return (*now, *(LotDates(one.lot, one.opened, one.best_before) for one in self.earlier))

    def lot_in_use(self, day: date) -> LotDates | None:
        """The lot that was open on a day: the latest that was opened by then.

        The open one counts as always open where it was not noted when it was opened. None before
        the first was opened, and where that cannot be told: no lot is written down, or there are
        earlier ones and nobody says when the open one took their place.
        """
        if self.earlier and (self.lot is None or self.opened is None):
            return None
        known = [one for one in self.lots if one.opened is None or one.opened <= day]
        return max(known, key=lambda one: one.opened or date.min, default=None)


class Ingredient(Record):
    """One ingredient of a base by its INCI name, and its share where the supplier says it."""

    inci: Text
    us: Text | None = None
    share: fields.Share | None = None


class Base(ShelfRecord):
    """A melt-and-pour base."""

    price: fields.PriceField | None = None
    density: fields.Density | None = None
    softens: fields.Temperatures | None = None
    sets: fields.Temperatures | None = None
    melts: fields.Temperatures | None = None
    scorches: fields.Temperatures | None = None
    latent_heat: fields.LatentHeat | None = None
    thermal_conductivity: fields.ThermalConductivity | None = None
    heat_capacity: fields.HeatCapacity | None = None
    takes: fields.Share | None = None
    ingredients: Annotated[tuple[Ingredient, ...], IS_LIST] = ()
    true_soap: fields.YesNo | None = None
    looks: fields.Colour | None = None


class Fragrance(ShelfRecord):
    """A fragrance oil."""

    density: fields.Density | None = None
    price: fields.PriceField | None = None
    limit: fields.Share | None = None
    add_below: fields.Temperature | None = None
    flash_point: fields.Temperatures | None = None
    allergens: Annotated[
        tuple[tuple[str, float], ...],
        by_name("shares by name", "{Linalool: 3 %}", fields.validator_of(read.read_share)),
    ] = ()
    vanillin: fields.Share | None = None
    certificate: fields.DayOrMonth | None = None

    @property
    def vanillin_share(self) -> float | None:
        """Share of vanillin in the oil, by its key or its allergens; None if neither has it."""
        listed = {name.casefold(): share for name, share in self.allergens}
        return listed.get("vanillin") if self.vanillin is None else self.vanillin


class DosedIngredient(ShelfRecord):
    """A colourant or an additive, which is stirred into a layer by dose."""

    density: fields.Density | None = None
    true_density: fields.Density | None = None
    price: fields.PriceField | None = None
    inci: Text | None = None


class Paste(Record):
    """A colour in its carrier: the share of pigment, and the INCI name of the rest."""

    pigment: fields.Share
    carrier: Text


# What suppliers call a colour that is one of three kinds: what does not dissolve is a pigment.
# Common practice, no source.
_COUNTS_AS: Mapping[str, str] = {
    **dict.fromkeys(("oxide", "oxides", "ultramarine", "ultramarines", "lake", "lakes"), "pigment"),
    **dict.fromkeys(("ochre", "titanium dioxide", "mineral"), "pigment"),
    **dict.fromkeys(("pearl", "pearlescent", "shimmer", "glitter"), "mica"),
    **dict.fromkeys(("food colour", "food colouring", "liquid colour", "water-soluble"), "dye"),
}


class Colourant(DosedIngredient):
    """A mica, pigment or dye."""

    kind: Annotated[str, WordChoice("mica", "pigment", "dye", counts_as=_COUNTS_AS)] | None = None
    paste: Paste | None = None
    certified: fields.YesNo | None = None
    bleeds: fields.YesNo | None = None
    same_as: Annotated[Text | None, NamesThing("colourants")] = None
    looks: fields.Colour | None = None


class Additive(DosedIngredient):
    """An oat flour, honey, clay, salt, butter and the like."""

    most: fields.Share | None = None


def read_rows(text: str) -> tuple[int, int]:
    """Read how cavities lie, as rows and how many stand in each: ``2 x 3``."""
    rows, by, in_row = text.lower().replace("×", "x").partition("x")
    if not by:
        raise QuantityError(f"{excerpt(text)} is no rows of cavities", "Write 2 x 3.")
    return fields.read_at_least_one(rows.strip()), fields.read_at_least_one(in_row.strip())


_CAVITIES = some_of(FORMS[read.read_count]).grouped
ROWS = WrittenForm(f"{_CAVITIES} ?[xX×] ?{_CAVITIES}")


class Mould(ShelfRecord):
    """A mould with its cavities."""

    cavities: fields.AtLeastOne | None = None
    rows: Annotated[tuple[int, int], fields.TextField(read_rows, "2 x 3", ROWS)] | None = None
    face: fields.Size | None = None
    corner_radius: fields.Length | None = None
    depth: fields.SomeLength | None = None
    holds: fields.SomeMasses | None = None
    bars_each: fields.BatchBars | None = None
    price: fields.Money | None = None
    life: fields.AtLeastOne | None = None

    @property
    def bars(self) -> int | None:
        """How many bars one filling gives; None if its cavities are not known."""
        return None if self.cavities is None else self.cavities * (self.bars_each or 1)


class Motif(Record):
    """The repeated picture of a mat."""

    size: fields.Size
    pitch: fields.Size | None = None
    offset: fields.Size | None = None


class Mat(ShelfRecord):
    """A silicone mat with a relief."""

    sheet: fields.Size | None = None
    thickness: fields.SomeLength | None = None
    relief: fields.Length | None = None
    relief_volume: fields.Volume | None = None
    density: fields.Density | None = None
    piece_weight: fields.SomeMass | None = None
    motif: Motif | None = None
    outline: (
        Annotated[Outline, fields.TextField(read_outline_name, "kelp.svg", FILE_NAME)] | None
    ) = None
    price: fields.Money | None = None
    life: fields.AtLeastOne | None = None


class Piece(ShelfRecord):
    """A piece cut from a mat, kept and used again."""

    mat: Annotated[Text | None, NamesThing("mats")] = None
    mould: Annotated[Text | None, NamesThing("moulds")] = None
    trim: WrittenTrim | None = None
    size: fields.Size | None = None
    weight: fields.SomeMass | None = None
    cut: fields.Date | None = None
    casts_before: fields.Count | None = None


class Packaging(ShelfRecord):
    """Wrapping of a bar."""

    price: fields.Money | None = None
    each: fields.AtLeastOne | None = None


class BaseMixture(Record):
    """The base of a layer: bases with their shares, a leftover, or bases blended with one.

    All shares sum to 1; ``leftover_share`` is the leftover's, where there is one.
    """

    shares: Annotated[tuple[tuple[str, float], ...], NamesThing("bases")] = ()
    leftover: Annotated[str | None, NamesThing("leftovers")] = None
    leftover_share: float = 1.0

    @property
    def of_leftover(self) -> float:
        """The share of a leftover in it; 0 without one."""
        return 0.0 if self.leftover is None else self.leftover_share


class BlendPart(Record):
    """One part of a base that is blended with a leftover."""

    base: Text | None = None
    leftover: Text | None = None
    share: fields.Share


class Scent(Record):
    """Fragrance already in a leftover."""

    oil: Annotated[Text, NamesThing("fragrances")]
    concentration: fields.Share


class Leftover(ShelfRecord):
    """Base that was melted and not poured."""

    base: Annotated[BaseMixture, BeforeValidator(lambda value: base_shares(value))] | None = None
    amount: fields.Mass | None = None
    tinted: Annotated[Text | None, NamesThing("colourants", none="no")] = None
    colour_share: fields.Share | None = None
    scented: Annotated[Scent | None, BeforeValidator(lambda value: _scent_or_none(value))] = None
    origin: Annotated[Text | None, NamesThing("designs")] = Field(None, alias="from")
    melted_times: fields.Count | None = None

    @property
    def colourant(self) -> str | None:
        """Id of the colourant in it; None for plain base."""
        return None if self.tinted == "no" else self.tinted


class ThingKind(Struct, frozen=True):
    """A kind of thing on the shelf: the class of its records, its name in messages, and the
    letter before the page number of such a thing."""

    record: type[ShelfRecord]
    noun: str
    letter: str


# What goes into a bar or round it, and so may be of a lot.
MATERIALS = ("bases", "fragrances", "colourants", "additives", "packaging", "leftovers")

# The kinds by their files of the shelf, in the order of its pages. Recipes and records name a
# thing in a field that is marked with ``NamesThing``.
KINDS: Mapping[str, ThingKind] = {
    "bases": ThingKind(Base, "base", "B"),
    "fragrances": ThingKind(Fragrance, "fragrance", "F"),
    "colourants": ThingKind(Colourant, "colourant", "C"),
    "additives": ThingKind(Additive, "additive", "A"),
    "moulds": ThingKind(Mould, "mould", "M"),
    "mats": ThingKind(Mat, "mat", "T"),
    "pieces": ThingKind(Piece, "piece", "P"),
    "packaging": ThingKind(Packaging, "packaging", "W"),
    "leftovers": ThingKind(Leftover, "leftover", "L"),
}


@dataclass(frozen=True, slots=True)
class Shelf:
    """All records of the shelf by kind and id; ``written`` has the trees of the files, by kind.

    ``lives_seen`` are the casts that a piece of a mat lasts, where its bars show that.
    """

    bases: Mapping[str, Base] = field(default_factory=dict)
    fragrances: Mapping[str, Fragrance] = field(default_factory=dict)
    colourants: Mapping[str, Colourant] = field(default_factory=dict)
    additives: Mapping[str, Additive] = field(default_factory=dict)
    moulds: Mapping[str, Mould] = field(default_factory=dict)
    mats: Mapping[str, Mat] = field(default_factory=dict)
    pieces: Mapping[str, Piece] = field(default_factory=dict)
    packaging: Mapping[str, Packaging] = field(default_factory=dict)
    leftovers: Mapping[str, Leftover] = field(default_factory=dict)
    written: Mapping[str, WrittenTable] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()  # kinds whose file cannot be read: anything may be there
    lives_seen: Mapping[str, int] = field(default_factory=dict)
    # Ids of the pieces of each mat, in the order of the shelf: a studio comes to have hundreds.
    pieces_of_mat: Mapping[str, tuple[str, ...]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        names: dict[str, list[str]] = {}
        for name, piece in self.pieces.items():
            if piece.mat is not None:
                names.setdefault(piece.mat, []).append(name)
        of_mat = {mat: tuple(of_one) for mat, of_one in names.items()}
        object.__setattr__(self, "pieces_of_mat", of_mat)

    def piece_life(self, mat: str) -> int | None:
        """Casts that a piece of a mat lasts: as its bars show, else as written, by guess."""
        return self.lives_seen.get(mat, self.mats[mat].life)

    def of_kind(self, kind: str) -> Mapping[str, ShelfRecord]:
        """All records of one of ``KINDS`` by id."""
        records: Mapping[str, ShelfRecord] = getattr(self, kind)
        return records

    def dosed_ingredient(self, kind: str, name: str) -> DosedIngredient:
        """The colourant or additive called ``name``; KeyError if there is none."""
        kinds: Mapping[str, Mapping[str, DosedIngredient]] = {
            "colourants": self.colourants, "additives": self.additives,
        }  # fmt: skip
        return kinds[kind][name]


def may_be_on_shelf(shelf: Shelf, kind: str, name: str) -> bool:
    """Whether a thing is on the shelf, or may be since its file cannot be read.

    An entry with an error counts as being there.
    """
    return name in shelf.written.get(kind, ()) or kind in shelf.unread or name == UNREADABLE


def missing_thing_problem(shelf: Shelf, kind: str, name: str, at: Position) -> Problem:
    """The problem that a thing named at ``at`` is not on the shelf."""
    known: Mapping[str, Any] = shelf.written.get(kind, {})
    what = f"no {KINDS[kind].noun} {excerpt(name)} is on the shelf"
    if kind == "bases" and name in shelf.written.get("leftovers", ()):
        return Problem(at, f"{what}: it is a leftover", f"Write {{leftover: {name}}}.")
    if kind == "leftovers" and name in shelf.written.get("bases", ()):
        return Problem(at, f"{what}: it is a base", f"Write base: {name}.")
    words = _words(name)
    titled = [one for one, thing in shelf.of_kind(kind).items() if _words(thing.name) == words]
    # An entry that is no id has a problem of its own, and is not to be copied.
    ids = [one for one in known if one == plain_id(one)]
    hint = f"Did you mean {excerpt(titled[0])}?" if titled else spelling_hint(name, ids)
    return Problem(at, what, f"{hint} The shelf's file is shelf/{kind}.yaml.")


def _words(text: str) -> list[str]:
    """The words of a text, without capitals and hyphens."""
    return text.casefold().replace("-", " ").split()


def _scent_or_none(value: Any) -> Any:
    """Turn the text "no" into None; any other value is left as it is."""
    return None if isinstance(value, str) and value == "no" else value


# A third of a base written as 33.3 % three times still counts as whole.
SHARES_MAY_MISS = 0.0011


def base_shares(value: Any) -> Any:
    """Turn the written base of a layer or leftover into the fields of ``BaseMixture``.

    It is an id, ids with shares, ``{leftover: id}``, or a list of parts with shares, of which one
    is a leftover. Shares are scaled to sum to exactly 1.
    """
    if isinstance(value, str):
        return {"shares": ((str(fields.scalar(value)), 1.0),)}
    if not isinstance(value, dict):
        return _blend_of(value)
    if "leftover" in value:
        if len(value) > 1:
            hint = f"Write {_BLEND}"
            raise fields.validation_error("a leftover stands beside other bases", hint, value)
        return {"leftover": str(fields.scalar(value["leftover"]))}
    shares = fields.validated_items(
        (name, share, fields.validator_of(read.read_share)) for name, share in value.items()
    )
    total = _whole([share for _, share in shares], value)
    return {"shares": tuple((name, share / total) for name, share in shares)}


_BLEND = "[{base: white-shea, share: 70 %}, {leftover: ends, share: 30 %}]"


def _blend_of(value: Any) -> Any:
    """Turn the parts of a blended base into the fields of ``BaseMixture``."""
    if not all(isinstance(entry, dict) for entry in value) or not value:
        hint = f"Write a base's id, ids with shares, or {_BLEND}"
        raise fields.validation_error("a list stands where a base belongs", hint, value)
    problems: list[Problem] = []
    parts = [fields.validated(BlendPart, entry, "part of a base", problems) for entry in value]
    if problems:
        raise fields.validation_errors(problems)
    known = [part for part in parts if part is not None]
    for part, entry in zip(known, value, strict=True):
        if (part.base is None) == (part.leftover is None):
            hint = f"Write {_BLEND}"
            raise fields.validation_error("a part is one base or one leftover", hint, entry)
    leftovers = [part for part in known if part.leftover is not None]
    if len(leftovers) > 1:
        hint = "Melt the other in a layer of its own"
        raise fields.validation_error("two leftovers stand in one base", hint, value)
    total = _whole([part.share for part in known], value)
    bases: dict[str, float] = {}
    for part in known:
        if part.base is not None:
            bases[part.base] = bases.get(part.base, 0.0) + part.share / total
    found: dict[str, Any] = {"shares": tuple(bases.items())}
    if leftovers:
        found |= {"leftover": leftovers[0].leftover, "leftover_share": leftovers[0].share / total}
    return found


def _whole(shares: Sequence[float], value: Any) -> float:
    """The sum of the shares of a base; a validation error if that is not the whole."""
    total = sum(shares)
    if abs(total - 1) > SHARES_MAY_MISS:
        what = f"the shares of base sum to {100 * total:.6g} %"
        raise fields.validation_error(what, "Make them sum to 100 %", value)
    return total
