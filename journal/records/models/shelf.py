"""What is on the shelf: a record a kind of thing, from ``shelf/*.yaml``.

All keys but ``name`` are optional unless a figure needs them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from msgspec import Struct
from pydantic import BeforeValidator, Field

from journal.errors import Position, Problem
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.records.models.fields import (
    IS_LIST,
    AmountField,
    AtLeastOne,
    Count,
    Date,
    Density,
    HeatCapacity,
    LatentHeat,
    Length,
    Mass,
    Money,
    NamesThing,
    PriceField,
    Record,
    Share,
    Size,
    SomeLength,
    SomeMass,
    SomeMasses,
    Temperatures,
    Text,
    ThermalConductivity,
    Volume,
    WordChoice,
    YesNo,
    by_name,
    scalar,
    spelling_hint,
    validated_items,
    validation_error,
    validator_of,
)
from journal.records.models.salvage import UNREADABLE
from journal.records.models.trim import WrittenTrim
from journal.records.yaml.source import WrittenTable


class ShelfRecord(Record):
    """What every thing on the shelf may have."""

    name: Text = Field(description="What it is called on pages and cards.")
    on_hand: AmountField | None = Field(None, description="How much there is, with its unit.")
    supplier: Text | None = Field(None, description="Who sells it; never in the public edition.")
    private: Text | None = Field(None, description="A note for the studio alone.")


class Ingredient(Record):
    """One ingredient of a base by its INCI name, and its share where the supplier says it."""

    inci: Text = Field(description="The ingredient's INCI name.")
    share: Share | None = Field(None, description="Its mass share of the base.")


class Base(ShelfRecord):
    """A melt-and-pour base."""

    price: PriceField | None = Field(None, description="Price for a mass, such as 4.10/lb.")
    density: Density | None = Field(None, description="Density, such as 1.06 g/mL.")
    softens: Temperatures | None = Field(None, description="Where it begins to soften.")
    sets: Temperatures | None = Field(None, description="Where it sets on cooling.")
    melts: Temperatures | None = Field(None, description="Where it is fully liquid.")
    scorches: Temperatures | None = Field(None, description="Where it scorches.")
    latent_heat: LatentHeat | None = Field(None, description="Heat of melting, such as 45 kJ/kg.")
    thermal_conductivity: ThermalConductivity | None = Field(None, description="Such as 0.30 W/mK.")
    heat_capacity: HeatCapacity | None = Field(None, description="Such as 2800 J/kgK.")
    ingredients: Annotated[tuple[Ingredient, ...], IS_LIST] = Field(
        (), description="INCI names in the supplier's order."
    )
    lot: Text | None = Field(None, description="The lot on the shelf.")


class Fragrance(ShelfRecord):
    """A fragrance oil."""

    density: Density | None = Field(None, description="Density, such as 0.97 g/mL.")
    price: PriceField | None = Field(None, description="Price for a volume or mass.")
    limit: Share | None = Field(
        None, description="Largest share of the finished rinse-off product, by the certificate."
    )
    flash_point: Temperatures | None = Field(None, description="Flash point.")
    allergens: Annotated[
        tuple[tuple[str, float], ...],
        by_name("shares by name", "{Linalool: 3 %}", validator_of(read.read_share)),
    ] = Field((), description="INCI name of each allergen: its share of the oil.")
    certificate: Date | None = Field(None, description="Date of the supplier's certificate.")


class DosedIngredient(ShelfRecord):
    """What is stirred into a layer by dose: a colourant or an additive."""

    density: Density | None = Field(None, description="Bulk density as spooned.")
    price: PriceField | None = Field(None, description="Price for a mass or volume.")
    inci: Text | None = Field(None, description="INCI name, or a colour's index number.")


class Colourant(DosedIngredient):
    """A mica, pigment or dye."""

    kind: Annotated[str, WordChoice("mica", "pigment", "dye")] | None = Field(
        None, description="What it is."
    )
    bleeds: YesNo | None = Field(None, description="Whether it is known to migrate.")
    lot: Text | None = Field(None, description="The lot on the shelf.")
    same_as: Annotated[Text | None, NamesThing("colourants")] = Field(
        None, description="An earlier entry that is the same colour."
    )


class Additive(DosedIngredient):
    """An oat flour, honey, clay, salt, butter and the like."""

    most: Share | None = Field(None, description="Largest usual share of a layer, such as 3 %.")


class Mould(ShelfRecord):
    """A mould with its cavities."""

    cavities: AtLeastOne | None = Field(None, description="How many bars it casts at once.")
    face: Size | None = Field(None, description="Face of a cavity, such as 80 x 55 mm.")
    corner_radius: Length | None = Field(None, description="Radius of the face's corners.")
    depth: SomeLength | None = Field(None, description="Depth of a cavity.")
    holds: SomeMasses | None = Field(
        None, description="Base that a cavity holds, such as 3.6-3.8 oz."
    )
    bars_each: AtLeastOne | None = Field(
        None, description="Bars cut from one cavity; 1 if not given."
    )
    price: Money | None = Field(None, description="What the mould cost.")
    life: AtLeastOne | None = Field(None, description="How many pours it lasts.")


class Motif(Record):
    """The repeated picture of a mat."""

    size: Size = Field(description="Width and height of one motif.")
    pitch: Size | None = Field(None, description="From one motif's centre to the next.")
    offset: Size | None = Field(None, description="From the sheet's corner to the first centre.")


class Mat(ShelfRecord):
    """A silicone mat with a relief."""

    sheet: Size | None = Field(None, description="Size of the sheet.")
    thickness: SomeLength | None = Field(None, description="Thickness of the sheet.")
    relief: Length | None = Field(None, description="Depth of the relief.")
    relief_volume: Volume | None = Field(None, description="Volume of one motif's relief.")
    density: Density | None = Field(None, description="Density of the silicone.")
    piece_weight: SomeMass | None = Field(None, description="Weight of one cut piece.")
    motif: Motif | None = Field(None, description="Size, pitch and offset of the motif.")
    price: Money | None = Field(None, description="What the sheet cost.")
    life: AtLeastOne | None = Field(None, description="How many casts a piece lasts.")


class Piece(ShelfRecord):
    """A piece cut from a mat, kept and used again."""

    mat: Annotated[Text | None, NamesThing("mats")] = Field(
        None, description="The mat that it was cut from."
    )
    mould: Annotated[Text | None, NamesThing("moulds")] = Field(
        None, description="The mould that it fits."
    )
    trim: WrittenTrim | None = Field(None, description="close, or straight 3 mm.")
    size: Size | None = Field(None, description="Width and height of the piece.")
    weight: SomeMass | None = Field(None, description="Weight of the piece.")
    cut: Date | None = Field(None, description="When it was cut.")
    casts_before: Count | None = Field(
        None, description="Casts that it had before the first pour here."
    )


class Packaging(ShelfRecord):
    """Wrapping of a bar."""

    price: Money | None = Field(None, description="Price of one.")
    each: AtLeastOne | None = Field(None, description="Bars that one serves; 1 if not given.")


class BaseMixture(Record):
    """What a layer is cast in: bases with shares that sum to 1, or a leftover."""

    shares: Annotated[tuple[tuple[str, float], ...], NamesThing("bases")] = ()
    leftover: Annotated[str | None, NamesThing("leftovers")] = None


class Scent(Record):
    """Fragrance already in a leftover."""

    oil: Annotated[Text, NamesThing("fragrances")]
    concentration: Share


class Leftover(ShelfRecord):
    """Base that was melted and not poured."""

    base: Annotated[BaseMixture, BeforeValidator(lambda value: base_shares(value))] | None = Field(
        None, description="A base's id, or ids with shares."
    )
    amount: Mass | None = Field(None, description="How much is left.")
    tinted: Annotated[Text | None, NamesThing("colourants", none="no")] = Field(
        None, description="The colourant in it, or no."
    )
    scented: Annotated[Scent | None, BeforeValidator(lambda value: _scent(value))] = Field(
        None, description="{oil, concentration}, or no."
    )
    origin: Annotated[Text | None, NamesThing("designs")] = Field(
        None, alias="from", description="The design it was left by."
    )
    melted_times: Count | None = Field(None, description="How often it has been melted.")

    @property
    def colourant(self) -> str | None:
        """Id of the colourant in it; None for plain base."""
        return None if self.tinted == "no" else self.tinted


class ThingKind(Struct, frozen=True):
    """A kind of thing on the shelf: its record, what one is called in a message, and the
    letter before the page number of one."""

    record: type[ShelfRecord]
    one: str
    letter: str


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
    """All records of the shelf by kind and id, and the text that they were read from."""

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
    # Ids of the pieces of each mat, in the order of the shelf: a studio comes to have hundreds.
    pieces_of_mat: Mapping[str, tuple[str, ...]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        found: dict[str, list[str]] = {}
        for name, piece in self.pieces.items():
            if piece.mat is not None:
                found.setdefault(piece.mat, []).append(name)
        of_mat = {mat: tuple(names) for mat, names in found.items()}
        object.__setattr__(self, "pieces_of_mat", of_mat)

    def of_kind(self, kind: str) -> Mapping[str, ShelfRecord]:
        """All records of one of ``KINDS`` by id."""
        found: Mapping[str, ShelfRecord] = getattr(self, kind)
        return found

    def stirred_in(self, kind: str, name: str) -> DosedIngredient:
        """A colourant or an additive."""
        kinds: Mapping[str, Mapping[str, DosedIngredient]] = {
            "colourants": self.colourants, "additives": self.additives,
        }  # fmt: skip
        return kinds[kind][name]


def may_be_on_shelf(shelf: Shelf, kind: str, name: str) -> bool:
    """Whether a thing is on the shelf, or may be, since its file cannot be read.

    An entry with an error of its own is there as far as its name goes.
    """
    return name in shelf.written.get(kind, ()) or kind in shelf.unread or name == UNREADABLE


def missing_thing_problem(shelf: Shelf, kind: str, name: str, at: Position) -> Problem:
    """The problem that a thing is not on the shelf."""
    known: Mapping[str, Any] = shelf.written.get(kind, {})
    return Problem(
        at,
        f"no {KINDS[kind].one} {excerpt(name)} is on the shelf",
        f"{spelling_hint(name, known)} The shelf's file is shelf/{kind}.yaml.",
    )


def _scent(value: Any) -> Any:
    return None if isinstance(value, str) and value == "no" else value


# A third of a base written as 33.3 % three times still counts as whole.
SHARES_MAY_MISS = 0.0011


def base_shares(value: Any) -> Any:
    """What a layer or leftover is of: an id, ids with shares, or ``{leftover: id}``."""
    if isinstance(value, str):
        return {"shares": ((str(scalar(value)), 1.0),)}
    if not isinstance(value, dict):
        raise validation_error(
            "a list stands where a base belongs", "Write a base's id, or ids with shares", value
        )
    if "leftover" in value:
        if len(value) > 1:
            raise validation_error(
                "a leftover stands beside other bases", "Make it a layer of its own", value
            )
        return {"leftover": str(scalar(value["leftover"]))}
    shares = validated_items(
        (name, share, validator_of(read.read_share)) for name, share in value.items()
    )
    total = sum(share for _, share in shares)
    if abs(total - 1) > SHARES_MAY_MISS:
        raise validation_error(
            f"the shares of base sum to {100 * total:.6g} %", "Make them sum to 100 %", value
        )
    return {"shares": tuple((name, share / total) for name, share in shares)}
