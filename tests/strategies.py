"""Generators of what a maker may write: every record, every key, every form of a quantity.

Each gives plain data, ``dict``, ``list`` and ``str``, that reads without an error;
``as_yaml`` and ``as_write_up`` make a file of it. A new field of a record joins here:
``fields`` refuses to leave one out.
"""

from __future__ import annotations

import datetime
import functools
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import yaml
from hypothesis import strategies as st

from journal.records.models.fields import Record, keys_of
from journal.records.models.questions import OrderLine, WrittenComparison, WrittenOrder
from journal.records.models.settings import (
    BUILT_IN_MEASURES,
    BUILT_IN_SYMPTOMS,
    KEYS_OF_BARS,
    LANGUAGES,
    AddedMeasure,
    PotResidue,
    Responsible,
    Settings,
)
from journal.records.models.shelf import (
    KINDS,
    CountedAmount,
    EarlierLot,
    Ingredient,
    Motif,
    Paste,
    Scent,
)
from journal.records.models.write_up import (
    AdditiveDose,
    CardPosition,
    ColourDose,
    Complaint,
    DoseEntry,
    Failure,
    FragranceDose,
    HandsOn,
    Layer,
    Measuring,
    Photo,
    Question,
    TwoPoints,
    WriteUp,
    WrittenNeutral,
    WrittenPlan,
    WrittenPour,
)

Data = Any
Draw = Callable[[st.SearchStrategy[Any]], Any]

#: A photo that every generated design has in its folder.
PHOTO = "photos/front.gif"


class _Writer(yaml.CSafeDumper):
    """Writes values out instead of pointing from one place to another."""

    def ignore_aliases(self, data: Data) -> bool:
        return True


class Lines(str):
    """A text that is written as a block of lines, as a text table has to be."""


_Writer.add_representer(
    Lines,
    lambda writer, text: writer.represent_scalar("tag:yaml.org,2002:str", str(text), style="|"),
)


def as_yaml(data: Data, flow: bool | None = False) -> str:
    """A YAML text of the data; ``flow`` None mixes blocks with braces, as makers do."""
    text: str = yaml.dump(
        data,
        Dumper=_Writer,
        default_flow_style=flow,
        allow_unicode=True,
        sort_keys=False,
        width=400,
    )
    return text


def as_write_up(data: Data, body: str = "", flow: bool | None = None) -> str:
    """A write-up with the data as its front matter."""
    return f"---\n{as_yaml(data, flow)}---\n{body}"


# Words.

_SHOWN = st.characters(
    exclude_categories=("Cc", "Cs", "Zl", "Zp", "Cn"), exclude_characters="\ufeff"
)
words = st.one_of(
    st.sampled_from(
        [
            "no",
            "1:30",
            "0x10",
            "1e3",
            "~",
            "2026-04-18",
            "yes",
            "null",
            "a: b",
            "- x",
            "#",
            "'",
            '"',
        ]
    ),
    st.text(_SHOWN, min_size=1, max_size=20).filter(lambda text: text.strip() != ""),
)
#: A name of one's own for a layer, variant or bar: no stroke, no dash alone, no marks of tables.
names = st.text(
    st.characters(categories=("Ll", "Lu", "Lo", "Nd"), max_codepoint=0x24F), min_size=1, max_size=8
).filter(lambda text: text not in (*KEYS_OF_BARS, "time", "did"))
ids = st.from_regex(r"[a-z][a-z0-9]{0,6}(-[a-z0-9]{1,4})?", fullmatch=True).filter(
    lambda text: text not in ("con", "prn", "aux", "nul") and text[:3] not in ("com", "lpt")
)
prose = st.text(_SHOWN | st.sampled_from("\n*_`[]() "), max_size=60).filter(
    lambda text: "](" not in text and "]:" not in text
)


#: A strategy that was made before is taken again: hypothesis looks through each new one, which
#: takes longer than to draw from it.
_once = functools.lru_cache(maxsize=1000)
_sampled = _once(st.sampled_from)


def some(choices: Sequence[str]) -> st.SearchStrategy[str]:
    return _sampled(tuple(choices))


# Quantities, in every form that is read.


@_once
def _decimal(low: int, high: int) -> st.SearchStrategy[str]:
    return st.one_of(
        st.integers(low, high).map(str),
        st.tuples(st.integers(low, high - 1), st.integers(0, 99)).map(
            lambda n: f"{n[0]}.{n[1]:02}"
        ),
    )


@_once
def _with(units: tuple[str, ...], low: int = 1, high: int = 500) -> st.SearchStrategy[str]:
    blank = st.sampled_from(["", " ", "\u00a0"])
    return st.tuples(_decimal(low, high), blank, some(units)).map("".join)


@_once
def _range(units: tuple[str, ...], low: int = 1, high: int = 500) -> st.SearchStrategy[str]:
    pair = st.tuples(st.integers(low, high), st.integers(0, 40), some(["-", "–", " to "]))
    return st.one_of(
        _with(units, low, high),
        st.tuples(pair, some(units)).map(lambda p: f"{p[0][0]}{p[0][2]}{p[0][0] + p[0][1]} {p[1]}"),
    )


MASS, VOLUME, LENGTH = (
    ("g", "kg", "oz", "lb"),
    ("mL", "L", "fl oz", "tsp", "tbsp"),
    ("mm", "cm", "in"),
)
HOT = ("F", "C", "°F", "°C")
some_masses = _with(MASS) | some(["4 lb 5.2 oz", "1/2 oz", "2 1/2 oz", "½ oz"])
masses = some_masses | some(["0 g", "0.00 oz"])
volumes = _with(VOLUME, 0) | some(["2 1/2 tsp", "½ tsp", "12 drops", "1 drop"])
some_lengths = _with(LENGTH)
lengths = _with(LENGTH, 0)
sizes = st.tuples(_decimal(1, 400), some([" x ", "×", "x"]), _decimal(1, 400)).map(
    lambda sides: f"{sides[0]}{sides[1]}{sides[2]} mm"
)
temperatures = _with(HOT, 1, 200)
windows = _range(HOT, 1, 200)
humidities = st.integers(10, 95).map(lambda number: f"{number} %")
durations = _with(("s", "min", "h"), 0) | some(["1 h 20 min"])
thirds = _decimal(0, 33).map(lambda number: f"{number} %")
chances = st.integers(1, 99).map(lambda share: f"{share} %")
shares = _decimal(0, 100).map(lambda number: f"{number} %")
counts = st.integers(0, 500).map(str)
at_least_one = st.integers(1, 50).map(str)
numbers = _decimal(0, 900)
money = _decimal(0, 900)
prices = st.tuples(money, some(["", "/lb", "/100 g", "/fl oz", "/each"])).map("".join)
amounts = masses | volumes | counts
doses = st.one_of(
    shares,
    st.tuples(masses | volumes, some(["", "/lb", "/kg", "/100 g", "/bar", "/pot"])).map("".join),
)
dates = st.dates(datetime.date(1990, 1, 1), datetime.date(2100, 1, 1)).map(str)
yes_no = some(["yes", "no"])
densities = _range(("g/mL", "kg/m3"))
trims = some(["close", "straight", "straight 3 mm", "straight 1/8 in"])
scales = _decimal(1, 9).map(lambda number: f"{number} mm/px")
pixels = numbers | numbers.map(lambda number: f"{number} px")


def fields(
    model: type[Record],
    needed: Mapping[str, st.SearchStrategy[Data]],
    optional: Mapping[str, st.SearchStrategy[Data]] | None = None,
) -> st.SearchStrategy[dict[str, Data]]:
    """A record with every field that it has; the optional ones may be left away."""
    given = {*needed, *(optional or {})}
    known = set(keys_of(model))
    assert given == known, f"{model.__name__}: {sorted(given ^ known)} do not join in"
    return st.fixed_dictionaries(dict(needed), optional=dict(optional or {}))


# The settings.

_TAKEN = {*KEYS_OF_BARS, *(measure.name for measure in BUILT_IN_MEASURES)}
added_measures = st.dictionaries(
    ids.filter(lambda name: name not in _TAKEN),
    fields(
        AddedMeasure,
        {"kind": some(["rating", "count"]), "better": some(["lower", "higher"]), "says": words},
        {"of": at_least_one, "matters": some(["1", "0.5", "1/2"])},
    ),
    max_size=2,
)
settings = fields(
    Settings,
    {"studio": words},
    {
        "currency": words,
        "units": some(["us", "metric"]),
        "paper": some(["letter", "a4"]),
        "labour": money,
        "waste": shares | fields(PotResidue, {}, {"share": shares, "least": masses}),
        "scales": st.lists(some_masses, min_size=1, max_size=3),
        "spoons": st.lists(some(["1/8 tsp", "½ tsp", "1 tbsp", "2.5 mL", "1/4 cup"]), max_size=3),
        "jugs": st.lists(some(["500 mL", "1 L", "2 cups", "16 fl oz"]), max_size=2),
        "margin": st.integers(0, 99).map(lambda share: f"{share} %"),
        "wholesale": shares,
        "fixed_costs": money,
        "region": st.lists(some(["us", "eu", "uk", "Canada"]), min_size=1, max_size=2),
        "sold_as": some(["soap", "cosmetic"]),
        "responsible": fields(Responsible, {}, {"us": words, "eu": words, "uk": words}),
        "measures": added_measures,
        "symptoms": st.lists(words, max_size=2) | st.dictionaries(words, words, max_size=2),
        "room": temperatures,
        "humidity": humidities,
        "chill_at": temperatures,
        "chill_places": at_least_one,
        "address": some(["https://example.org", "http://example.org/soap/"]),
        "theme": some(["desk", "large"]),
        "language": some(["en", "es"]),
        "written_in": some(["en", "es"]),
        "sale_day": counts,
        "drying": st.integers(0, 99).map(lambda share: f"{share} %"),
        "label_step": some(["1 g", "0.1 oz"]),
        "keeps": some(["12 months", "1 year"]),
        "durability": some(["30 months", "2 years"]),
        "may_show": st.lists(words, max_size=2),
        "notebook": words,
    },
)


# The shelf. Each kind is drawn with the names that it may point to.


colours = some(["#8b9aa0", "#FFFFFF"])
_OWN: dict[str, Mapping[str, st.SearchStrategy[Data]]] = {
    "bases": {
        "price": prices, "density": densities, "softens": _range(("F",), 1, 100),
        "sets": _range(("F",), 1, 100), "melts": _range(("F",), 100, 150),
        "scorches": _range(("F",), 190, 220), "latent_heat": _range(("kJ/kg", "J/g")),
        "thermal_conductivity": _range(("W/mK",)), "heat_capacity": _range(("J/kgK",)),
        "takes": shares, "looks": colours,
        "ingredients": st.lists(
            fields(Ingredient, {"inci": words}, {"share": thirds, "us": words}), max_size=3
        ),
        "true_soap": yes_no,
    },
    "fragrances": {
        "density": densities, "price": prices, "limit": shares, "flash_point": windows,
        "add_below": temperatures,
        "allergens": st.dictionaries(words, thirds, max_size=3),
        "certificate": dates | dates.map(lambda day: day[:7]),
        "vanillin": shares,
    },
    "colourants": {
        "kind": some(["mica", "pigment", "dye"]), "density": densities, "price": prices,
        "inci": words, "bleeds": yes_no, "same_as": st.nothing(),
        "true_density": densities, "certified": yes_no,
        "paste": fields(Paste, {"pigment": shares, "carrier": words}, {}),
        "looks": colours,
    },
    "additives": {
        "density": densities, "true_density": densities, "price": prices,
        "inci": words, "most": shares,
    },
    "moulds": {
        "cavities": at_least_one, "face": some(["80 x 55 mm", "2 x 2.5 in", "5 x 5 mm"]),
        "corner_radius": some(["0 mm", "2.5 mm"]), "depth": some_lengths,
        "holds": _range(MASS), "bars_each": at_least_one, "price": money,
        "life": at_least_one, "rows": st.nothing(),
    },
    "mats": {
        "sheet": sizes, "thickness": some_lengths, "relief": some(["0 mm", "0.9 mm"]),
        "relief_volume": volumes, "density": densities, "piece_weight": some_masses,
        "price": money, "life": at_least_one, "outline": st.nothing(),
        "motif": fields(Motif, {"size": sizes}, {"pitch": sizes, "offset": sizes}),
    },
    "packaging": {"price": money, "each": at_least_one},
}  # fmt: skip


def _pointing(kind: str, known: Mapping[str, Sequence[str]]) -> dict[str, st.SearchStrategy[Data]]:
    """Fields of pieces and leftovers; those that would point to nothing can give nothing."""

    def of(name: str) -> Mapping[str, st.SearchStrategy[Data]]:
        there = known.get(_POINTS_TO[name])
        return {name: some(there) if there else st.nothing()}

    if kind == "pieces":
        return {
            **of("mat"), **of("mould"), "trim": trims, "size": sizes, "weight": some_masses,
            "cut": dates, "casts_before": counts,
        }  # fmt: skip
    oils = known.get("fragrances")
    scent = fields(Scent, {"oil": some(oils or ["-"]), "concentration": shares})
    return {
        "base": _bases(tuple(known.get("bases", ())), ()), "amount": masses,
        "tinted": some([*known.get("colourants", ()), "no"]), "colour_share": shares,
        "scented": st.just("no") | scent if oils else st.nothing(),
        **of("from"), "melted_times": counts,
    }  # fmt: skip


_ON_SHELF = {
    "on_hand": amounts | fields(CountedAmount, {"amount": amounts}, {"on": dates}),
    "low": amounts,
    "lot": words,
    "opened": dates,
    "best_before": dates,
    "earlier": st.lists(
        fields(EarlierLot, {"lot": words, "opened": dates}, {"best_before": dates}), max_size=2
    ),
    "supplier": words,
    "private": words,
}


def _shelf_fields(kind: str, known: Mapping[str, Sequence[str]]) -> st.SearchStrategy[Data]:
    if kind in _OWN:
        return _unpointed(kind)
    return _of_shelf(kind, _pointing(kind, known))


@_once
def _unpointed(kind: str) -> st.SearchStrategy[Data]:
    return _of_shelf(kind, _OWN[kind])


def _of_shelf(kind: str, own: Mapping[str, st.SearchStrategy[Data]]) -> st.SearchStrategy[Data]:
    fields(KINDS[kind].record, {"name": words}, {**_ON_SHELF, **own})
    return st.fixed_dictionaries({"name": words}, optional={**_ON_SHELF, **_without_nothing(own)})


_POINTS_TO = {"mat": "mats", "mould": "moulds", "from": "designs"}


def _without_nothing(
    strategies: Mapping[str, st.SearchStrategy[Data]],
) -> dict[str, st.SearchStrategy[Data]]:
    return {key: strategy for key, strategy in strategies.items() if not strategy.is_empty}


@_once
def _bases(bases: tuple[str, ...], leftovers: tuple[str, ...]) -> st.SearchStrategy[Data]:
    found: list[st.SearchStrategy[Data]] = []
    if bases:
        found.append(some(bases))
        found.append(
            st.tuples(
                st.lists(some(bases), min_size=2, max_size=2, unique=True), st.integers(1, 99)
            ).map(lambda both: {both[0][0]: f"{both[1]} %", both[0][1]: f"{100 - both[1]} %"})
            if len(bases) > 1
            else some(bases).map(lambda name: {name: "100 %"})
        )
    if leftovers:
        found.append(some(leftovers).map(lambda name: {"leftover": name}))
    if bases and leftovers:
        found.append(
            st.tuples(some(bases), some(leftovers), st.integers(1, 99)).map(
                lambda both: [
                    {"base": both[0], "share": f"{both[2]} %"},
                    {"leftover": both[1], "share": f"{100 - both[2]} %"},
                ]
            )
        )
    return st.one_of(found)


@st.composite
def shelves(draw: Draw, designs: Sequence[str] = ()) -> dict[str, dict[str, Data]]:
    """Everything on the shelf: kind -> id -> record. There is something of each kind."""
    known: dict[str, Sequence[str]] = {"designs": designs}
    shelf: dict[str, dict[str, Data]] = {}
    for kind in KINDS:
        own = draw(st.lists(ids, min_size=1, max_size=3, unique=True))
        shelf[kind] = {name: draw(_shelf_fields(kind, known)) for name in own}
        known[kind] = own
    for mould in shelf["moulds"].values():
        cavities = int(str(mould.get("cavities", 6)))
        if draw(st.booleans()):
            rows = draw(some([n for n in range(1, cavities + 1) if cavities % n == 0]))
            mould["rows"] = f"{rows} x {cavities // rows}"
    colours = list(shelf["colourants"])
    if len(colours) > 1 and draw(st.booleans()):
        shelf["colourants"][colours[1]]["same_as"] = colours[0]
    return shelf


# Write-ups.

hands_on = fields(HandsOn, {}, {"pour": counts | durations, "tidy": counts | durations})
#: A text, or the same in several languages.
own_words = words | st.dictionaries(some(LANGUAGES), words, min_size=1)
steps = st.lists(
    some(["rest 15 min", "chill 10 min at 39 F", "unmould after 12 h", "rest a while"]) | own_words,
    max_size=3,
)


def _fragrances(shelf: Mapping[str, Mapping[str, Data]]) -> st.SearchStrategy[Data]:
    return _scented(tuple(shelf["fragrances"]))


@_once
def _scented(oils: tuple[str, ...]) -> st.SearchStrategy[Data]:
    one = fields(FragranceDose, {"oil": some(oils), "dose": doses}, {"add": windows})
    return one | st.lists(one, max_size=2)


@_once
def _dosed(ids: tuple[str, ...], record: type[DoseEntry], key: str) -> st.SearchStrategy[Data]:
    """Colours or additives: ``key`` names one."""
    name = some(ids)
    fields(record, {key: name, "dose": doses, "by": words, "aim": words})
    one = st.one_of(
        st.fixed_dictionaries({key: name, "dose": doses}, optional={"aim": words}),
        st.fixed_dictionaries({key: name, "by": st.just("eye")}, optional={"aim": words}),
    )
    return one | st.lists(one, max_size=2)


def _colours(shelf: Mapping[str, Mapping[str, Data]]) -> st.SearchStrategy[Data]:
    return _dosed(tuple(shelf["colourants"]), ColourDose, "colourant")


def _additives(shelf: Mapping[str, Mapping[str, Data]]) -> st.SearchStrategy[Data]:
    return _dosed(tuple(shelf["additives"]), AdditiveDose, "additive")


@st.composite
def layers(draw: Draw, shelf: Mapping[str, Mapping[str, Data]]) -> list[dict[str, Data]]:
    """The layers of a recipe; those that share a pot are of one base."""
    made: list[dict[str, Data]] = []
    for name in draw(st.lists(names, min_size=1, max_size=3, unique=True)):
        layer = draw(
            fields(
                Layer,
                {
                    "name": st.just(name),
                    "base": _bases(tuple(shelf["bases"]), tuple(shelf["leftovers"])),
                    "amount": some_masses,
                },
                {
                    "pot": st.just(f"pot of {name}"),
                    "overpour": masses,
                    "mould": some(tuple(shelf["moulds"])),
                    "pour": windows,
                    "spritz": some(["before", "after", "both"]),
                    "then": steps,
                    "fragrance": _fragrances(shelf),
                    "colours": _colours(shelf),
                    "additives": _additives(shelf),
                },
            )
        )
        if made and "pot" in made[-1] and draw(st.booleans()):
            layer["pot"], layer["base"] = made[-1]["pot"], made[-1]["base"]
        made.append(layer)
    return made


def _changes(
    recipe_layers: Sequence[Mapping[str, Data]], shelf: Mapping[str, Mapping[str, Data]]
) -> st.SearchStrategy[Data]:
    """What a variant, or a pour, may do otherwise."""
    of_layer = st.fixed_dictionaries(
        {},
        optional={"pour": windows, "amount": st.just("3 g"), "then": steps,
                  "spritz": st.just("both"), "fragrance": _fragrances(shelf),
                  "colours": _colours(shelf), "additives": _additives(shelf)},
    )  # fmt: skip
    return st.fixed_dictionaries(
        {},
        optional={
            "trim": trims,
            "mat": some(list(shelf["mats"])),
            "mould": some(list(shelf["moulds"])),
            "piece": some(list(shelf["pieces"])),
            "packaging": st.lists(some(list(shelf["packaging"])), max_size=2),
            "minutes": hands_on,
            "layers": st.dictionaries(
                some([str(layer["name"]) for layer in recipe_layers]), of_layer, max_size=2
            ),
        },
    )


#: What a generated bar may be measured by, beside what a studio adds.
OF_BARS: Mapping[str, st.SearchStrategy[Data]] = {
    "lip": lengths,
    "bleed": lengths,
    "run": lengths,
    "lifted": yes_no,
    "floated": yes_no,
    "bubbles": counts,
    "scent": st.integers(1, 5),
    "relief": some(["1", "2.5", "5"]),
    "tidy": durations,
    "keep": yes_no,
    "tint": st.lists(some(["62", "-3", "−10.5"]), min_size=3, max_size=3),
    "weight": masses,
}
assert set(OF_BARS) == {measure.name for measure in BUILT_IN_MEASURES}
_measured = st.fixed_dictionaries({}, optional=dict(OF_BARS))


def _readings(draw: Draw, pots: Sequence[str]) -> Data:
    """Readings in any of their forms; a text table only where each pot is one word."""
    rows = draw(st.integers(1, 4))
    minutes = sorted(draw(st.lists(st.integers(0, 59), min_size=rows, max_size=rows)))
    marks = some(["melted", "scented", "reheated", "poured", "a note", "drawn"])
    if draw(st.booleans()) and all(" " not in pot for pot in pots):
        lines = ["  ".join(["time", *pots, "did"])]
        for minute in minutes:
            cells = [draw(st.just("-") | st.integers(30, 90).map(lambda t: f"{t} C")) for _ in pots]
            lines.append("  ".join([f"0:{minute:02}", *cells, draw(marks)]))
        return Lines("\n".join(lines) + "\n")
    form = draw(some(["0:{:02}", "14:{:02}", "2:{:02} pm", "{} min"]))
    made: dict[str, Data] = {}
    for pot in draw(st.lists(some(pots), max_size=2, unique=True)):
        made[pot] = [
            [form.format(minute), draw(temperatures), *draw(st.lists(marks, max_size=1))]
            for minute in minutes
        ]
    return made


def _named_materials(made_layers: Sequence[Mapping[str, Data]]) -> tuple[str, ...]:
    """The materials of some layers, each with its kind, as a pour names their lots."""
    found: dict[str, None] = {}
    for layer in made_layers:
        base = layer["base"]
        if isinstance(base, str):
            base = {base: "100 %"}
        for part in base if isinstance(base, list) else [base]:
            for key, value in part.items():
                if key == "leftover":
                    found[f"leftovers/{value}"] = None
                elif key != "share":
                    found[f"bases/{value if key == 'base' else key}"] = None
    return tuple(found)


@st.composite
def write_ups(
    draw: Draw, shelf: Mapping[str, Mapping[str, Data]], designs: Sequence[str] = ()
) -> dict[str, Data]:
    """The front matter of a write-up that fits the shelf."""
    made_layers = draw(layers(shelf))
    changes = _changes(made_layers, shelf)
    layer_names = [str(layer["name"]) for layer in made_layers]
    pots = sorted({str(layer.get("pot", layer["name"])) for layer in made_layers})
    form = draw(some(["none", "plain", "groups"]))
    variants: Data = None
    picks: list[dict[str, str]] = [{}]
    variant_names: list[str] = []
    if form == "plain":
        variant_names = draw(st.lists(names, min_size=1, max_size=3, unique=True))
        variants = {name: draw(changes | st.just("")) for name in variant_names}
        # A change of nothing but layers would also be a group of choices.
        picks = [{"variant": name} for name in variant_names]
    elif form == "groups":
        own = names.filter(lambda name: name not in _TAKEN)
        groups = draw(st.lists(own, min_size=1, max_size=2, unique=True))
        choices = {
            group: draw(st.lists(names, min_size=1, max_size=2, unique=True)) for group in groups
        }
        variants = {
            group: {choice: draw(changes) or "" for choice in choices[group]} for group in groups
        }
        picks = [{}]
        for group in groups:
            picks = [{**pick, group: choice} for pick in picks for choice in choices[group]]
        variant_names = ["/".join(pick.values()) for pick in picks]
    bars = iter(range(1, 1000))
    materials = _named_materials(made_layers)
    pours: list[dict[str, Data]] = []
    bar_names: list[str] = []
    for _ in range(draw(st.integers(0, 2))):
        rows: list[dict[str, Data]] = []
        for _ in range(draw(st.integers(0, 3))):
            measured = draw(_measured)
            extra = draw(
                st.fixed_dictionaries(
                    {},
                    optional={
                        "piece": some(list(shelf["pieces"])),
                        "poured": temperatures | st.dictionaries(some(layer_names), temperatures),
                        "note": words,
                        "spoilt": some(["dropped", "lost"]),
                    },
                )
            )
            rows.append(
                {"bar": f"B{next(bars)}", **draw(st.sampled_from(picks)), **extra, **measured}
            )
        moulds = shelf["moulds"].values()
        least = min(
            int(str(one.get("cavities", 1))) * int(str(one.get("bars_each", 1))) for one in moulds
        )
        if least >= len(rows):
            for row, cavity in zip(rows, draw(st.permutations(range(1, least + 1))), strict=False):
                row |= draw(st.fixed_dictionaries({}, optional={
                    "at": st.just(str(cavity)), "peeled": st.just(str(least + 1 - cavity)),
                }))  # fmt: skip
        own_bars = [str(row["bar"]) for row in rows]
        bar_names += own_bars
        later = st.lists(
            st.fixed_dictionaries(
                {"day": counts, "bar": some(own_bars or ["-"])},
                optional={**OF_BARS, "note": words, "sure": yes_no},
            ),
            max_size=2,
        )
        pours.append(
            draw(
                fields(
                    WrittenPour,
                    {"date": dates},
                    {
                        "pour": st.just(f"pour {len(pours)}"),
                        "room": temperatures,
                        "humidity": humidities,
                        "melted": st.dictionaries(some(pots), masses, max_size=2),
                        "readings": st.just(_readings(draw, pots)),
                        "poured": st.dictionaries(some(layer_names), temperatures, max_size=2),
                        "did": changes,
                        "bars": st.just(rows),
                        "later": later if own_bars else st.just([]),
                        # Two that were drawn might be the same.
                        "batch": st.nothing(),
                        "by": words,
                        "lots": st.dictionaries(some(materials), words, max_size=2)
                        if materials
                        else st.just({}),
                        "complaints": st.lists(
                            fields(
                                Complaint,
                                {"date": dates, "what": words},
                                {"bar": some(own_bars)} if own_bars else {"bar": st.nothing()},
                            ),
                            max_size=1,
                        )
                        if own_bars
                        else st.just([]),
                        "sure": yes_no,
                        "wrapped": st.integers(1, 400).map(lambda hours: f"{hours} h"),
                        "private": words,
                    },
                )
            )
        )
    kept_bars = [str(row["bar"]) for pour in pours for row in pour.get("bars", ())]
    for pour in pours:
        if "bars" not in pour:
            pour.pop("later", None)
            pour.pop("complaints", None)
    about = {
        key: some(known) for key, known in (("variant", variant_names), ("bar", kept_bars)) if known
    }
    fields(
        Failure, dict.fromkeys(("what", "variant", "bar", "saw", "why", "mend", "mended"), words)
    )
    failed = st.lists(
        st.fixed_dictionaries(
            {"what": some(list(BUILT_IN_SYMPTOMS)), "saw": words},
            optional={**about, "why": words, "mend": own_words,
                      "mended": some(["yes", "no", "untested"])},
        ),
        max_size=2,
    )  # fmt: skip
    question = fields(
        Question,
        {
            "compare": _compared(form, variants, variant_names),
            "by": some([m.name for m in BUILT_IN_MEASURES if m.kind == "length"]),
            "asked": dates,
            "until": some(["3 pours", "1 pour", "12 bars"]),
        },
        {"matters": some_lengths, "looks": st.just("each pour")},
    ).map(lambda asked: {**asked, "until": "3 pours"} if "looks" in asked else asked)
    plan = fields(
        WrittenPlan, {"pots": some(["12", "40"]), "seed": words}, {"bars": some(["4", "6"])}
    )
    can_ask = form == "groups" or len(variant_names) > 1
    optional: dict[str, st.SearchStrategy[Data]] = {
        "summary": words,
        "mat": some(list(shelf["mats"])),
        "mould": some(list(shelf["moulds"])),
        "trim": trims,
        "piece": some(list(shelf["pieces"])),
        "subjects": st.lists(words, max_size=3),
        "packaging": st.lists(some(list(shelf["packaging"])), max_size=2),
        "minutes": hands_on,
        "failed": failed,
        "photos": st.lists(_photos(about), max_size=2),
        "private": words,
    }
    fixed: dict[str, st.SearchStrategy[Data]] = {
        "title": words,
        "date": dates,
        "state": some(["trial", "keeper", "set aside"]),
        "bars": at_least_one,
        "layers": st.just(made_layers),
        "pours": st.just(pours),
    }
    if variants is not None:
        fixed["variants"] = st.just(variants)
    if designs:
        optional["grew_from"] = some(designs)
    if can_ask and draw(st.booleans()):
        fixed["question"] = question
        optional["plan"] = plan
    missing = {key: st.nothing() for key in ("variants", "grew_from", "question", "plan")}
    fields(WriteUp, {**missing, **fixed, **optional})
    made: dict[str, Data] = draw(st.fixed_dictionaries(fixed, optional=optional))
    if "plan" in made and ("mould" in made or form == "groups"):
        # As many as the mould holds, or as a group has choices, may be fewer, or more.
        made["plan"] = {key: value for key, value in made["plan"].items() if key != "bars"}
    return made


def _compared(form: str, variants: Data, variant_names: Sequence[str]) -> st.SearchStrategy[Data]:
    if form == "groups":
        return some(list(variants))
    if len(variant_names) < 2:
        return st.nothing()
    return st.lists(some(variant_names), min_size=2, max_size=2, unique=True)


def _photos(about: Mapping[str, st.SearchStrategy[Data]]) -> st.SearchStrategy[Data]:
    def places(count: int) -> st.SearchStrategy[Data]:
        return st.lists(numbers, min_size=count, max_size=count)

    fields(
        Photo, dict.fromkeys(("file", "alt", "variant", "bar", "day", "scale", "measure"), words)
    )
    levels = st.integers(1, 255).map(str)
    points = fields(TwoPoints, {"from": places(2), "to": places(2), "is": some_lengths}).filter(
        lambda scale: scale["from"] != scale["to"]
    )
    lies = fields(
        CardPosition, {}, {"above": lengths, "camera": some_lengths, "ruler": some_lengths}
    )
    card = st.just("card") | lies.map(lambda place: {"card": place})
    measure = fields(
        Measuring,
        {},
        {
            "regions": st.dictionaries(words, places(4), max_size=2),
            "across": places(4),
            "neutral": fields(WrittenNeutral, {"at": places(4), "srgb": levels}),
            "blur": pixels,
        },
    )
    return st.fixed_dictionaries(
        {"file": st.just(PHOTO), "alt": words},
        optional={**about, "day": counts, "scale": scales | card | points,
                  "measure": measure},
    )  # fmt: skip


# Questions across designs, and orders.


def comparisons(shelf: Mapping[str, Mapping[str, Data]]) -> st.SearchStrategy[dict[str, Data]]:
    """The front matter of a file of ``comparisons/``."""
    where = {
        "mould": some(list(shelf["moulds"])),
        "mat": some(list(shelf["mats"])),
        "state": some(["trial", "keeper"]),
        "subject": words,
        "trim": some(["close", "straight"]),
    }
    by = some([measure.name for measure in BUILT_IN_MEASURES])
    return fields(
        WrittenComparison,
        {
            "title": words,
            "by": by | st.lists(by, min_size=1, max_size=3),
            "between": some(["trim", "mat", "piece", "base", "colourant", "fragrance"]),
        },
        {"where": st.fixed_dictionaries({}, optional=where), "private": words},
    )


def orders(designs: Sequence[str]) -> st.SearchStrategy[dict[str, Data]]:
    """A file of ``orders/`` for designs as they are written."""
    known = ("design", "bars", "variant", "takes_leftovers", "sure", "batches")
    fields(OrderLine, dict.fromkeys(known, words))
    line = st.fixed_dictionaries(
        {"design": some(designs), "bars": at_least_one},
        optional={"takes_leftovers": yes_no, "sure": chances},
    )
    return fields(
        WrittenOrder,
        {"title": words, "due": dates, "designs": st.lists(line, min_size=1, max_size=3)},
        {"customer": words, "done": dates, "private": words, "sure": chances},
    )


@st.composite
def notebooks(draw: Draw) -> dict[str, str]:
    """A whole notebook without an error: path -> text. ``PHOTO`` is to be added to each design."""
    designs = draw(st.lists(ids, min_size=1, max_size=2, unique=True))
    shelf = draw(shelves(designs))
    dump = functools.partial(as_yaml, flow=draw(st.sampled_from([False, None])))
    made = {"journal.yaml": dump(draw(settings))}
    for kind, records in shelf.items():
        made[f"shelf/{kind}.yaml"] = dump(records)
    for number, design in enumerate(designs):
        written = draw(write_ups(shelf, designs[:number]))
        made[f"designs/{design}/design.md"] = as_write_up(written, draw(prose))
    made["comparisons/one.md"] = as_write_up(draw(comparisons(shelf)), draw(prose))
    made["orders/one.yaml"] = dump(draw(orders(designs)))
    return made


# Anything at all, in the shape of a file.

_ANY = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
scraps: st.SearchStrategy[Data] = st.recursive(
    _ANY | words | doses | windows | dates,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_ANY | words, inner, max_size=4),
    max_leaves=12,
)
#: Text that is often nearly YAML, a table or Markdown.
near_yaml = st.lists(
    some(["a", "title", ": ", ":", "- ", "-", "\n", "\n  ", "\n    ", "{", "}", "[", "]", ",", '"',
          "'", "|", ">", "&a", "*a", "!x", "<<", "#", "%", "@", "\t", "?", "---\n", "...\n", "é",
          "🧼", "\\", "\\x", "1,5", "0:00", "150 F", "~", "\u200f", "`", "](", "![", "x.md)"]),
    max_size=40,
).map("".join)  # fmt: skip
