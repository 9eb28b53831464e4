"""``journal.yaml``: the studio's settings, its measures and its symptoms."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from typing import Annotated, Any, Literal

from msgspec import Struct
from pydantic import BeforeValidator, Field

from journal.errors import Problem, QuantityError
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.quantities.written_forms import FORMS, WrittenForm, some_of
from journal.records.models import fields
from journal.records.models.fields import (
    IS_LIST,
    NOT_EMPTY,
    Record,
    ScaleStep,
    Text,
    TextField,
    WordChoice,
)
from journal.records.models.salvage import salvage
from journal.records.yaml.tree import WrittenTable, position_of

WrittenMeasureKind = Literal["length", "count", "time", "mass", "rating", "yes-no", "colour"]


class Measure(Struct, frozen=True):
    """Something that is measured on a bar.

    ``better`` is the direction of the better value, ``of`` the top mark of a rating.
    ``matters`` is the smallest difference that counts when a question states none: in the
    stored unit, a share for yes/no. Common practice, no source.
    """

    name: str
    kind: WrittenMeasureKind
    better: Literal["lower", "higher"] | None
    says: str
    matters: float | None
    of: int = 5

    @property
    def unit(self) -> str:
        """The stored unit as it is shown; empty for a kind without one."""
        units = {"length": "mm", "time": "min", "mass": "g", "rating": f"of {self.of}"}
        return units.get(self.kind, "")


# The folders of ``themes/``, and the languages that the catalogue of words has.
THEMES = ("desk", "large")
LANGUAGES = ("en", "es")

# What may be measured on every bar?
BUILT_IN_MEASURES = (
    Measure("lip", "length", "lower",
            "greatest width of body colour over the relief's border before tidying", 0.5),
    Measure("bleed", "length", "lower", "colour crept into the detail since the pour", 0.5),
    Measure("run", "length", "lower", "colour that ran over the face at the pour", 0.5),
    Measure("lifted", "yes-no", "lower", "detail pulled out of the relief", 0.2),
    Measure("floated", "yes-no", "lower", "the piece rose and base got under it", 0.2),
    Measure("bubbles", "count", "lower", "bubbles seen on the face", 2.0),
    Measure("relief", "rating", "higher", "how crisp the relief is", 1.0),
    Measure("scent", "rating", "higher",
            "how strong the bar smells, at the peel and on later days", 1.0),
    Measure("tidy", "time", "lower", "time to tidy the bar", 1.0),
    Measure("keep", "yes-no", "higher", "fit to sell", 0.2),
    Measure("tint", "colour", None, "colour of the body, from a photo", None),
    Measure("weight", "mass", None, "weight, tidied and unwrapped", 2.0),
)  # fmt: skip

# Which difference counts for a measure that the studio adds? Common practice, no source.
MATTERS: Mapping[WrittenMeasureKind, float] = {
    "length": 0.5, "count": 2.0, "time": 1.0, "mass": 2.0, "rating": 1.0, "yes-no": 0.2,
}  # fmt: skip

# What can fail, and what is meant by it?
BUILT_IN_SYMPTOMS: Mapping[str, str] = {
    "lip": "body colour lies over the relief's border",
    "bleed": "colour creeps from one layer into another in the days after the pour",
    "run": "colour ran over the face at the pour",
    "lifted": "the detail is pulled out of the relief",
    "floated": "the piece rose and base got under it",
    "bubbles": "bubbles or pits in the face or the relief",
    "remelted": "the detail softened and lost its form under the body",
    "separated": "the layers come apart",
    "sweating": "drops of water on the face",
    "soft": "the bar does not set firm",
    "cracked": "the bar or the detail cracks",
    "torn": "the detail tore when the mat was peeled off",
    "cloudy": "a clear base turned cloudy",
    "faded": "the colour faded",
    "speckling": "specks of colour that did not mix in",
    "uneven": "the back or a layer is not level",
    "faint scent": "the scent is weaker than meant",
    "other": "anything else",
}


# Which spoons does a set have? Common practice, no source.
USUAL_SPOONS = tuple(map(read.read_spoon, ("1/8 tsp", "1/4 tsp", "1/2 tsp", "1 tsp", "1 tbsp")))
# Drier or damper a room hardly is, in shares. Common practice, no source.
LIKELY_HUMIDITY = (0.10, 0.95)


class PotResidue(Record):
    """What is left in the jug: a share of each pot, and at least so much."""

    share: fields.Share = 0.0
    least: fields.Mass = 0.0


def _waste_mapping(value: Any) -> Any:
    """Turn a share alone into the mapping that it stands for."""
    return {"share": value} if isinstance(value, str) else value


class AddedMeasure(Record):
    """A measure that the studio adds."""

    kind: Annotated[
        WrittenMeasureKind, WordChoice("length", "count", "time", "mass", "rating", "yes-no")
    ]
    of: fields.AtLeastOne = 5
    better: Annotated[Literal["lower", "higher"], WordChoice("lower", "higher")]
    says: Text
    matters: Text | None = None


# The regions whose rules are known, by other names for them.
_REGIONS: Mapping[str, str] = {
    "us": "us", "usa": "us", "united states": "us",
    "eu": "eu", "european union": "eu", "europe": "eu",
    "uk": "uk", "united kingdom": "uk", "great britain": "uk", "gb": "uk",
}  # fmt: skip
_REGION = WrittenForm("us|eu|uk|[A-ZÀ-Þ].*")


def read_region(text: str) -> str:
    """A region: us, eu or uk, whose rules are known, or another place by its name.

    A name begins with a capital, so that a slip of the pen is none.
    """
    meant = _REGIONS.get(text.casefold().removeprefix("the ").strip())
    if text == meant or (meant is None and re.fullmatch(_REGION.pattern, text)):
        return text
    hint = (
        f'Write "{meant}".'
        if meant
        else 'Write "us", "eu" or "uk"; another place by its name, such as "Canada": its label is'
        " drafted as the ingredients alone."
    )
    raise QuantityError(f"{excerpt(text)} is no region that is known here", hint)


class Responsible(Record):
    """Who answers for the bars, with the address for the label, by region."""

    us: Text | None = None
    eu: Text | None = None
    uk: Text | None = None


def _named_symptoms(value: Any) -> tuple[tuple[str, str], ...]:
    """The studio's symptoms as (name, meaning), from a list of names or a mapping."""
    if isinstance(value, list):
        return tuple((str(fields.scalar(entry)), "") for entry in value)
    if isinstance(value, dict):
        return tuple((str(name), str(fields.scalar(says))) for name, says in value.items())
    raise fields.validation_error("a list of symptoms belongs here", "Write [warped, …]", value)


_SITE = WrittenForm(r"""https?://[^\s"'<>?#]+""")
_ADDRESS = re.compile(_SITE.pattern)


def read_address(text: str) -> str:
    """Read the web address of a folder; gives it with a slash at its end."""
    if not _ADDRESS.fullmatch(text):
        what = f"{excerpt(text)} is no address of a site"
        raise QuantityError(what, "Write https://example.org/soap/")
    return text if text.endswith("/") else text + "/"


SiteAddress = Annotated[str, TextField(read_address, "https://example.org/soap/", _SITE)]


def read_margin(text: str) -> float:
    """Read a margin: a share of the price, below 100 %."""
    share = read.read_share(text)
    if share >= 1:
        what = f"a margin of {excerpt(text)} leaves nothing for the cost"
        raise QuantityError(what, "Write a share below 100 %.")
    return share


def read_drying(text: str) -> float:
    """Read the share of its weight that a bar loses up to its sale, below 100 %."""
    share = read.read_share(text)
    if share >= 1:
        what = f"a drying of {excerpt(text)} leaves nothing of the bar"
        raise QuantityError(what, "Write a share below 100 %.")
    return share


_MONTHS_IN = {"month": 1, "months": 1, "year": 12, "years": 12}
# Nothing that a studio makes is sold for longer. Common practice, no source.
MOST_MONTHS = 600


def read_months(text: str) -> int:
    """Read how long something keeps, in months: ``12 months``, ``2 years``."""
    number, _, word = text.strip().partition(" ")
    months_in = _MONTHS_IN.get(word.strip())
    if months_in is None or not number.isascii() or not number.isdigit():
        raise QuantityError(f"{excerpt(text)} is no number of months", "Write 12 months.")
    months = fields.read_at_least_one(number) * months_in
    if months > MOST_MONTHS:
        raise QuantityError(f"{excerpt(text)} is longer than any bar keeps", "Write 12 months.")
    return months


_KEEPS = WrittenForm(f"{some_of(FORMS[read.read_count]).grouped} (?:months?|years?)")
ShelfLifeField = Annotated[int, TextField(read_months, "12 months", _KEEPS)]


class Settings(Record):
    """The studio's settings; each has a default but the studio's name."""

    studio: Text
    currency: Text = "USD"
    units: Annotated[str, WordChoice("us", "metric")] = "us"
    paper: Annotated[str, WordChoice("letter", "a4")] = "letter"
    labour: fields.Money | None = None
    waste: Annotated[PotResidue, BeforeValidator(_waste_mapping)] = PotResidue()
    scales: Annotated[tuple[ScaleStep, ...], IS_LIST, NOT_EMPTY] = (1.0, 0.1)
    spoons: Annotated[tuple[fields.SpoonField, ...], IS_LIST] = Field(
        default_factory=lambda: USUAL_SPOONS
    )
    jugs: Annotated[tuple[fields.SomeVolume, ...], IS_LIST] = ()
    margin: Annotated[float, TextField(read_margin, "48 %", FORMS[read.read_share])] | None = None
    wholesale: fields.Share | None = None
    fixed_costs: fields.Money | None = None
    region: Annotated[
        tuple[Annotated[str, TextField(read_region, "us", _REGION)], ...], IS_LIST, NOT_EMPTY
    ] = ("us",)
    sold_as: Annotated[str, WordChoice("soap", "cosmetic")] | None = None
    responsible: Responsible = Responsible()
    measures: Annotated[
        dict[str, AddedMeasure],
        fields.by_name("measures by name", "{gloss: {kind: rating, better: higher, …}}"),
    ] = Field(default_factory=dict)
    symptoms: Annotated[tuple[tuple[str, str], ...], BeforeValidator(_named_symptoms)] = ()
    room: fields.Temperature | None = None
    humidity: fields.Humidity | None = None
    chill_at: fields.Temperature | None = None
    chill_places: fields.AtLeastOne | None = None
    address: SiteAddress | None = None
    theme: Annotated[str, WordChoice(*THEMES)] = "desk"
    language: Annotated[str, WordChoice(*LANGUAGES)] = "en"
    written_in: Annotated[str, WordChoice(*LANGUAGES)] = "en"
    sale_day: fields.Count = 30
    drying: Annotated[float, TextField(read_drying, "3 %", FORMS[read.read_share])] | None = None
    label_step: ScaleStep | None = None
    keeps: ShelfLifeField | None = None
    durability: ShelfLifeField | None = None
    may_show: Annotated[tuple[Text, ...], IS_LIST] = ()
    notebook: Text | None = None

    def all_measures(self) -> Mapping[str, Measure]:
        """Built-in and added measures by name."""
        measures = {measure.name: measure for measure in BUILT_IN_MEASURES}
        for name, added in self.measures.items():
            matters = MATTERS[added.kind]
            # A faulty one is reported when the settings are read; nothing is built with it.
            with suppress(QuantityError):
                if added.matters is not None:
                    matters = read_measure_difference(added.matters, added.kind)
            measures[name] = Measure(name, added.kind, added.better, added.says, matters, added.of)
        return measures

    def all_symptoms(self) -> Mapping[str, str]:
        """Built-in and added symptoms by name, with the meaning of each."""
        return {**BUILT_IN_SYMPTOMS, **dict(self.symptoms)}


# What a row of bars or of follow-ups holds beside its measures.
KEYS_OF_BARS = (
    "bar", "variant", "piece", "at", "peeled", "poured", "spoilt", "note", "day", "sure",
)  # fmt: skip


def read_settings(tree: WrittenTable, problems: list[Problem]) -> tuple[Settings, bool]:
    """Read the settings as far as possible; each fault is added to ``problems``.

    Gives the settings, and whether no measure or symptom had to be left out.
    """
    settings, sound = fields.validated(Settings, tree, "notebook", problems), tree
    if settings is None:
        salvaged = salvage(Settings, tree)
        if salvaged is None:
            return Settings(studio="-"), False
        settings, sound = salvaged
    problems.extend(humidity_warnings(settings.humidity, sound))
    problems.extend(_measure_problems(settings, sound))
    return settings, all(sound.get(key) == tree.get(key) for key in ("measures", "symptoms"))


def humidity_warnings(humidity: float | None, tree: WrittenTable) -> Iterator[Problem]:
    """A warning if a room's humidity, at the key ``humidity`` of ``tree``, can hardly be."""
    low, high = LIKELY_HUMIDITY
    if humidity is not None and not low <= humidity <= high:
        written = tree["humidity"]
        what = f"{excerpt(written)} is hardly the humidity of a room"
        yield Problem(written.at, what, "Look at the hygrometer again.", warning=True)


def _measure_problems(settings: Settings, tree: WrittenTable) -> Iterator[Problem]:
    """A problem for each added measure whose name is taken or whose ``matters`` is unreadable."""
    used = {*KEYS_OF_BARS, *(measure.name for measure in BUILT_IN_MEASURES)}
    for name, added in settings.measures.items():
        if name in used:
            what = f"{excerpt(name)} has a meaning of its own on every bar"
            yield Problem(tree["measures"].key_at(name), what, "Give the measure another name.")
        if added.matters is not None:
            try:
                read_measure_difference(added.matters, added.kind)
            except QuantityError as error:
                at = position_of(tree, "measures", name, "matters")
                yield Problem(at, error.what, error.hint)


def read_measure_difference(text: str, kind: WrittenMeasureKind) -> float:
    """Read the smallest difference that counts, above 0, in the stored unit of the measure."""
    readers: Mapping[WrittenMeasureKind, Callable[[str], float]] = {
        "length": read.read_length,
        "time": read.read_duration,
        "mass": read.read_mass,
        "yes-no": read.read_share,
    }
    difference: float = fields.above_zero(readers.get(kind, read.read_number))(text)
    return difference


def notebook_id(settings: Settings) -> str:
    """What a notebook is known by to what is handed in: its own id, or one made of its studio."""
    if settings.notebook is not None:
        return settings.notebook
    return hashlib.blake2b(settings.studio.encode(), digest_size=8).hexdigest()
