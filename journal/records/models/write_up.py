"""The records of a design's write-up: its recipe, its pours and their results.

``key_meanings.yaml`` has what each key means to the maker.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from msgspec import Struct, field
from pydantic import BeforeValidator, Field

from journal.errors import Position, Problem, QuantityError
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.quantities.written_forms import FORMS, WrittenForm
from journal.records.models import fields
from journal.records.models.own_words import WrittenWords
from journal.records.models.shelf import BaseMixture, ThingRef, base_shares
from journal.records.models.trim import TRIM_KINDS, Trim, WrittenTrim
from journal.records.yaml.tree import SourceTree, WrittenTable

AS_WRITTEN = "as written"


def variant_words(name: str, trimmed: Callable[[str], str] = "{} trim".format) -> str:
    """What a variant, or a choice of one, is called in a sentence; "" for the recipe as written.

    ``close/dye`` is "close trim, dye": a choice that is named as a trim is one, and is what
    ``trimmed`` makes of it.
    """
    if name == AS_WRITTEN:
        return ""
    choices = name.split("/")
    return ", ".join(trimmed(one) if one in TRIM_KINDS else one for one in choices)


class FragranceDose(fields.Record):
    """A fragrance that goes into a layer."""

    oil: Annotated[fields.Text, fields.NamesThing("fragrances")]
    dose: fields.DoseField
    add: fields.Temperatures | None = None


class DoseEntry(fields.Record):
    """A colour or additive that is stirred into a layer by dose or by eye."""

    dose: fields.DoseField | None = None
    by: Annotated[str, fields.WordChoice("eye")] | None = None
    aim: fields.Text | None = None

    @property
    def thing(self) -> tuple[str, str]:
        """The kind on the shelf, and the id, of what is dosed."""
        raise NotImplementedError


class ColourDose(DoseEntry):
    """A colourant that goes into a layer."""

    colourant: Annotated[fields.Text, fields.NamesThing("colourants")]

    @property
    def thing(self) -> tuple[str, str]:
        return "colourants", self.colourant


class AdditiveDose(DoseEntry):
    """An additive that goes into a layer."""

    additive: Annotated[fields.Text, fields.NamesThing("additives")]

    @property
    def thing(self) -> tuple[str, str]:
        return "additives", self.additive


# The keys of a layer whose entries are ``DoseEntry``, and the record of each.
DOSED: Mapping[str, type[DoseEntry]] = {"colours": ColourDose, "additives": AdditiveDose}


def _as_list(value: Any) -> Any:
    return [value] if isinstance(value, dict) else value


class Layer(fields.Record):
    """One thickness of the bar."""

    name: fields.Text
    pot: fields.Text | None = None
    base: Annotated[BaseMixture, BeforeValidator(base_shares)]
    amount: fields.SomeMass
    overpour: fields.Mass | None = None
    pour: fields.Temperatures | None = None
    spritz: Annotated[str, fields.WordChoice("before", "after", "both")] | None = None
    mould: Annotated[fields.Text | None, fields.NamesThing("moulds")] = None
    then: Annotated[tuple[WrittenWords, ...], fields.IS_LIST] = ()
    fragrance: Annotated[tuple[FragranceDose, ...], fields.IS_LIST, BeforeValidator(_as_list)] = ()
    colours: Annotated[tuple[ColourDose, ...], fields.IS_LIST, BeforeValidator(_as_list)] = ()
    additives: Annotated[tuple[AdditiveDose, ...], fields.IS_LIST, BeforeValidator(_as_list)] = ()

    @property
    def pot_name(self) -> str:
        """The pot that the layer is melted in."""
        return self.pot or self.name

    @property
    def dosed(self) -> tuple[DoseEntry, ...]:
        """Its colours, then its additives."""
        return (*self.colours, *self.additives)


class HandsOn(fields.Record):
    """Hands-on time of the batch."""

    pour: fields.Minutes | None = None
    tidy: fields.Minutes | None = None


class Recipe(fields.Record):
    """The recipe of a design: the part of a write-up that a variant may change."""

    mat: Annotated[fields.Text | None, fields.NamesThing("mats")] = None
    mould: Annotated[fields.Text | None, fields.NamesThing("moulds")] = None
    trim: WrittenTrim | None = None
    piece: Annotated[fields.Text | None, fields.NamesThing("pieces")] = None
    bars: fields.BatchBars
    packaging: Annotated[
        tuple[fields.Text, ...], fields.IS_LIST, fields.NamesThing("packaging")
    ] = ()
    minutes: HandsOn | None = None
    layers: Annotated[tuple[Layer, ...], fields.IS_LIST, fields.NOT_EMPTY]


# The keys of a write-up that make up its recipe.
RECIPE_KEYS = tuple(Recipe.model_fields)


def recipe_tree(front: WrittenTable) -> WrittenTable:
    """The part of a write-up's tree that makes up its recipe."""
    return front.subset(RECIPE_KEYS)


def _compared_names(value: Any) -> tuple[str, ...]:
    """The names that a question compares: the variants of a list, or one group of variants."""
    if isinstance(value, str):
        return (str(fields.scalar(value)),)
    if isinstance(value, list) and value:
        return tuple(str(fields.scalar(entry)) for entry in value)
    empty = isinstance(value, list)
    what = "nothing is compared" if empty else "keys stand where variants belong"
    raise fields.validation_error(what, "Write [close, straight], or a group", value)


class StoppingRule(Struct, frozen=True):
    """The number of pours or bars after which a question is decided."""

    number: int
    of: str  # "pours" or "bars"


def read_until(text: str) -> StoppingRule:
    """Read a stopping rule: ``3 pours`` or ``12 bars``."""
    number, _, word = text.strip().partition(" ")
    kind = {"pour": "pours", "pours": "pours", "bar": "bars", "bars": "bars"}.get(word.strip())
    if kind is None:
        what = f"{excerpt(text)} is no number of pours or bars"
        raise QuantityError(what, "Write 3 pours, or 12 bars.")
    return StoppingRule(read.read_count(number), kind)


_UNTIL = WrittenForm(f"{FORMS[read.read_count].grouped} (?:pours?|bars?)")


# Pours at which each may bring a verdict: the first of them, at least, and the last.
EACH_POUR = (2, 12)


class Question(fields.Record):
    """What the test was to decide, written before pouring."""

    compare: Annotated[tuple[str, ...], BeforeValidator(_compared_names)]
    by: fields.Text
    asked: fields.Date
    until: Annotated[StoppingRule, fields.TextField(read_until, "3 pours", _UNTIL)]
    matters: fields.Text | None = None
    looks: Annotated[str, fields.WordChoice("each pour")] | None = None


def names_compared(groups: Mapping[str, tuple[str, ...]], question: Question) -> tuple[str, ...]:
    """The variants, or the choices of one group, that a question compares."""
    if len(question.compare) == 1:
        return groups.get(question.compare[0], ())
    return question.compare


# Pots that a plan may have at most: each is a table on the pour-day sheet.
MOST_PLANNED_POTS = 40
# Bars of a pot that are planned at most; a larger batch is poured on as it comes.
MOST_PLANNED_BARS = 48


class WrittenPlan(fields.Record):
    """A test laid out before pouring: which cavity, which order and which code follow from it."""

    pots: fields.AtLeastOne
    seed: fields.Text
    bars: fields.AtLeastOne | None = None


class Failure(fields.Record):
    """One thing that failed, and what was done about it."""

    what: fields.Text
    variant: fields.Text | None = None
    bar: fields.Text | None = None
    saw: fields.Text
    why: fields.Text | None = None
    mend: WrittenWords | None = None
    mended: Annotated[str, fields.WordChoice("yes", "no", "untested")] | None = None


class TwoPoints(fields.Record):
    """Two points of a picture a known distance apart."""

    start: Annotated[tuple[float, ...], fields.PixelPlaces(2)] = Field(alias="from")
    to: Annotated[tuple[float, ...], fields.PixelPlaces(2)]
    length: fields.SomeLength = Field(alias="is")


class CardPosition(fields.Record):
    """How the photo card lies, where it is not level with the face or not printed true."""

    above: fields.Length | None = None
    camera: fields.SomeLength | None = None
    ruler: fields.SomeLength | None = None


@dataclass(frozen=True, slots=True)  # which Pydantic can describe in a schema
class PhotoScale:
    """The scale of a photo: given, from two points, or from the card in the picture.

    ``lies`` says how the card lies; None for level with the face and printed true.
    """

    mm_per_px: float | None = None
    points: TwoPoints | None = None
    card: bool = False
    lies: CardPosition | None = None


def _photo_scale(value: Any) -> Any:
    """Read the scale of a photo in any of its forms; a validation error if it is none."""
    if not isinstance(value, dict):
        if value == "card":
            return PhotoScale(card=True)
        return PhotoScale(mm_per_px=fields.validator_of(read.read_mm_per_px)(value))
    problems: list[Problem] = []
    if "card" not in value:
        points = fields.validated(TwoPoints, value, "scale", problems)
        scale = PhotoScale(points=points)
        if points is not None and points.start == points.to:
            hint = "Mark two places of the picture"
            raise fields.validation_error("the two points are one", hint, value)
    elif len(value) > 1:
        hint = "Write {card: {above: 25 mm}}, or two points"
        raise fields.validation_error("a scale is of one kind", hint, value)
    else:
        lies = fields.validated(CardPosition, value["card"], "the card's place", problems)
        scale = PhotoScale(card=True, lies=lies)
    if problems:
        raise fields.validation_errors(problems)
    return scale


def read_level(text: str) -> float:
    """Read the sRGB level of a grey, above 0 and up to 255: black says nothing of the light."""
    level = read.read_number(text)
    if not 0 < level <= 255:
        raise QuantityError(f"{excerpt(text)} is no grey of a picture", "Write above 0, up to 255.")
    return level


class WrittenNeutral(fields.Record):
    """A grey of known level in a picture."""

    at: Annotated[tuple[float, ...], fields.PixelPlaces(4)]
    srgb: Annotated[float, fields.TextField(read_level, "118", FORMS[read.read_number])]


class Measuring(fields.Record):
    """What is to be measured in a photo, in pixels of the upright picture."""

    regions: Annotated[
        tuple[tuple[str, tuple[float, ...]], ...],
        fields.by_name("regions by name", "{body: [x, y, w, h]}", fields.PixelPlaces(4).read),
    ] = ()
    across: Annotated[tuple[float, ...], fields.PixelPlaces(4)] | None = None
    neutral: WrittenNeutral | None = None
    blur: fields.Pixels | None = None


class Photo(fields.Record):
    """A photo of the design."""

    file: fields.Text
    alt: fields.Text
    variant: fields.Text | None = None
    bar: fields.Text | None = None
    day: fields.Count | None = None
    scale: Annotated[PhotoScale, BeforeValidator(_photo_scale)] | None = None
    measure: Measuring | None = None


class WriteUp(Recipe):
    """The front matter of ``design.md``."""

    title: fields.Text
    date: fields.Date
    state: Annotated[str, fields.WordChoice("trial", "keeper", "set aside")]
    summary: fields.Text | None = None
    subjects: Annotated[tuple[fields.Text, ...], fields.IS_LIST] = ()
    grew_from: Annotated[fields.Text | None, fields.NamesThing("designs")] = None
    variants: Annotated[Any, fields.by_name("variants by name", "{close: {trim: close}}")] = None
    question: Question | None = None
    plan: WrittenPlan | None = None
    pours: Any = None
    failed: Annotated[tuple[Failure, ...], fields.IS_LIST] = ()
    photos: Annotated[tuple[Photo, ...], fields.IS_LIST] = ()
    private: fields.Text | None = None


ByName = tuple[tuple[str, float], ...]


def _quantities(example: str, reader: Callable[[str], float]) -> BeforeValidator:
    return fields.by_name("values by name", example, fields.validator_of(reader))


class Complaint(fields.Record):
    """What somebody said of a bar that was sold; for the studio alone."""

    date: fields.Date
    bar: fields.Text | None = None
    what: fields.Text


def _one_or_more_lots(value: Any) -> tuple[str, ...]:
    """The lots in a value: one, or a list of those that were melted together."""
    if isinstance(value, list) and value:
        return tuple(str(fields.scalar(entry)) for entry in value)
    return (str(fields.scalar(value)),)


class WrittenPour(fields.Record):
    """One pour as it stands in the write-up; its tables are read one by one."""

    pour: fields.Text | None = None
    date: fields.Date
    batch: fields.Text | None = None
    by: fields.Text | None = None
    lots: Annotated[
        tuple[tuple[str, tuple[str, ...]], ...],
        fields.by_name("lots by material", "{white-shea: 2411-B}", _one_or_more_lots),
    ] = ()
    room: fields.Temperature | None = None
    humidity: fields.Humidity | None = None
    melted: Annotated[ByName, _quantities("{body: 21 oz}", read.read_mass)] = ()
    readings: Any = None
    poured: Annotated[ByName, _quantities("{body: 131 F}", read.read_temperature)] = ()
    did: Any = None
    bars: Any = None
    later: Any = None
    wrapped: fields.Duration | None = None
    complaints: Annotated[tuple[Complaint, ...], fields.IS_LIST] = ()
    sure: fields.YesNo = False
    private: fields.Text | None = None


class Variant(Struct, frozen=True):
    """A variant of a design: its name, its whole recipe, and what it changes."""

    name: str
    recipe: Recipe
    source: SourceTree  # the recipe's tree with the variant's changes merged in
    changed: tuple[str, ...]  # the keys that it changes, such as "trim", "layers.body.pour"
    chosen: Mapping[str, str] = field(default_factory=dict)  # group -> choice

    @property
    def written(self) -> WrittenTable:
        """The tree of the variant's recipe."""
        return self.source.table


class Reading(Struct, frozen=True):
    """A thermometer reading of a pot; ``minutes`` as in ``Moment``, ``did`` its mark or note."""

    pot: str
    minutes: float
    temperature_c: float
    did: str
    at: Position


# What may befall a bar that says nothing of its recipe: such a bar is not judged.
SPOILT = ("dropped", "lost")


class Bar(Struct, frozen=True):
    """One bar of a pour, with what was measured on it.

    ``measures`` has mm, min, g, counts and ratings as numbers, yes/no as bool, ``tint`` as
    three numbers (CIE Lab); what was not measured has no entry. ``poured_c`` goes by layer.
    ``cavity`` counts from 1, in a loaf its slices; ``peeled`` is its place in the order of
    peeling, from 1; None if they were not noted. ``spoilt`` is what
    befell a bar that is not judged (``SPOILT``), "" if nothing: its ``measures`` are empty, and
    ``set_aside`` has what was measured before.
    """

    bar: str
    pour: str
    variant: str
    piece: str | None
    poured_c: Mapping[str, float]
    measures: Mapping[str, int | float | bool | tuple[float, float, float]]
    note: str
    at: Position
    piece_at: Position | None = None
    cavity: int | None = None
    cavity_at: Position | None = None
    peeled: int | None = None
    spoilt: str = ""
    set_aside: Mapping[str, int | float | bool | tuple[float, float, float]] = field(
        default_factory=dict
    )


class FollowUp(Struct, frozen=True):
    """A bar looked at again, ``day`` days after its pour."""

    bar: str
    day: int
    measures: Mapping[str, int | float | bool | tuple[float, float, float]]
    at: Position


class Pour(Struct, frozen=True):
    """One pour with its readings, bars and follow-ups.

    ``melted_g`` goes by pot, ``poured_c`` by layer. What was not noted is None: ``room_c``,
    ``humidity`` (of the room, a share above 0), ``wrapped_min`` (minutes from the pour), ``by``
    (who poured). ``batch`` is its code, ``lots`` those that it says it used, by material.
    """

    label: str
    date: date
    room_c: float | None
    humidity: float | None
    melted_g: Mapping[str, float]
    readings: tuple[Reading, ...]
    poured_c: Mapping[str, float]
    did_source: SourceTree | None
    bars: tuple[Bar, ...]
    later: tuple[FollowUp, ...]
    wrapped_min: float | None
    private: str | None
    at: Position
    batch: str
    by: str | None
    lots: Mapping[ThingRef, tuple[str, ...]]
    complaints: tuple[Complaint, ...]
    batch_at: Position
    sure: bool

    @property
    def did(self) -> WrittenTable | None:
        """The tree of what was done otherwise than the recipe says; None if nothing was."""
        return None if self.did_source is None else self.did_source.table

    @property
    def mould(self) -> str | None:
        """The mould that it was cast in instead of the recipe's; None if in no other."""
        other = None if self.did is None else self.did.get("mould")
        return str(other) if isinstance(other, str) else None


class CastCount(Struct, frozen=True):
    """The number of bars of one pour that were cast on one piece in one mould.

    Without a ``piece`` of their own it is one of the mat with that trim: as a card chooses.
    """

    piece: str | None
    mould: str | None
    bars: int
    mat: str | None = None
    trim: Trim | None = None


class BarsHold(Struct, frozen=True):
    """The materials that some bars of a pour hold: those of each pot, then what they are wrapped
    in. ``bars`` is empty where a pour names none, and the recipe is as written.
    """

    bars: tuple[str, ...]
    pots: Mapping[str, tuple[ThingRef, ...]]
    wrapped_in: tuple[ThingRef, ...]

    @property
    def things(self) -> tuple[ThingRef, ...]:
        """All of it, each once."""
        of_pots = (thing for things in self.pots.values() for thing in things)
        return tuple(dict.fromkeys((*of_pots, *self.wrapped_in)))


class PourOverview(Struct, frozen=True):
    """A summary of a pour: the numbers of its bars, judged and kept; each variant of them once.

    ``cells`` has a letter a cavity, in order: "y" for a bar fit to sell, "n" for one that is
    not, "o" for one not judged, "." for none. ``as_written`` are the numbers kept and judged of
    the bars that are of the recipe as written.
    """

    label: str
    date: date
    room_c: float | None
    bars: int
    judged: int
    kept: int
    cells: str
    variants: tuple[str, ...]
    cast: tuple[CastCount, ...]
    poured_c: Mapping[str, float]  # by layer
    batch: str
    lots: Mapping[ThingRef, tuple[str, ...]]
    holds: tuple[BarsHold, ...]
    as_written: tuple[int, int] = (0, 0)
    by: str = ""


class DesignOverview(Struct, frozen=True):
    """What lists, the shelf and other designs' pages show of a design's recipes and pours.

    ``variants`` is their number; ``differ`` names those whose recipe differs from that at the top
    of the write-up; ``trims`` has the (mat, mould, trim) of all recipes, each once.
    """

    bars: int
    mould: str | None
    variants: int
    differ: tuple[str, ...]
    trims: tuple[tuple[str | None, str | None, Trim | None], ...]
    pours: tuple[PourOverview, ...]

    @property
    def last_poured(self) -> date | None:
        """The day of the last pour; None without pours."""
        return max((pour.date for pour in self.pours), default=None)


@dataclass(frozen=True, slots=True)
class Design:
    """A checked write-up, from which the figures and pages are made."""

    id: str
    path: str  # of design.md, relative to the notebook
    title: str
    date: date
    state: str
    summary: str
    subjects: tuple[str, ...]
    grew_from: str | None
    recipe: Recipe
    variants: tuple[Variant, ...]  # one, "as written", where the write-up names none
    groups: Mapping[str, tuple[str, ...]]  # group -> its choices; empty without groups
    question: Question | None
    plan: WrittenPlan | None
    pours: tuple[Pour, ...]
    failed: tuple[Failure, ...]
    photos: tuple[Photo, ...]
    private: str | None
    body: str
    body_line: int
    source: SourceTree
    files: tuple[str, ...]  # every text file that it was read from, design.md first
    things: tuple[tuple[str, str], ...]  # all of the shelf that it names: (kind, id), each once
    pictures: tuple[tuple[Position, str], ...]  # each place that names a picture, and its path
    overview: DesignOverview

    @property
    def written(self) -> WrittenTable:
        """The front matter as it was written."""
        return self.source.table

    @property
    def variants_tree(self) -> WrittenTable | None:
        """The tree at ``variants``: the changes of each variant or choice; None without one."""
        tree = self.written.get("variants")
        return tree if isinstance(tree, WrittenTable) else None

    @property
    def as_written(self) -> Variant:
        """The recipe at the top of the write-up, as a variant."""
        first = self.variants[0]
        if first.name == AS_WRITTEN:
            return first
        source = SourceTree(None, self.path, make=lambda: recipe_tree(self.written))
        return Variant(AS_WRITTEN, self.recipe, source, ())

    def variant(self, name: str) -> Variant:
        """The variant of that name; KeyError if there is none."""
        return {variant.name: variant for variant in self.variants}[name]

    @property
    def bars(self) -> tuple[Bar, ...]:
        """All bars of all pours."""
        return tuple(bar for pour in self.pours for bar in pour.bars)
