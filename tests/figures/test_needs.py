"""The table of keys tells the truth: each key taken away changes the figures that it names.

Every key that the demo's shelf and settings hold is taken off every record, one at a
time. What changes must be named in the table; and what the table names must change
somewhere, in the demo or in a notebook in which what stands in for the key is not there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache, lru_cache
from typing import Literal

import pytest
from demo import BARLEY, FAN, KELP_ON_CLAY, KELP_ON_GREY, MOTH, OAT_LOAF, PINE
from demo_book import demo_notebook
from msgspec import structs
from paths import CONTENT
from shelf_keys import (
    Change,
    Reckoned,
    keys_of,
    rates_of,
    reckon,
    settings_without,
    shelf_without,
    with_records,
)

from journal.errors import Problem
from journal.figures.derive_needs import KEYS, Key
from journal.figures.heat.derive_heat import USUAL_CHILL_C, USUAL_ROOM_C
from journal.figures.heat.pot_rates import PotRates
from journal.quantities.kinds import Amount, Dose
from journal.records.models.settings import (
    AddedMeasure,
    PotResidue,
    Responsible,
    Settings,
    read_settings,
)
from journal.records.models.shelf import (
    KINDS,
    BaseMixture,
    CountedAmount,
    EarlierLot,
    Ingredient,
    Motif,
    Paste,
    Scent,
)
from journal.records.models.write_up import DOSED, AdditiveDose, Design, Layer, Recipe
from journal.records.notebook import Notebook
from journal.records.yaml.source import parse_yaml, read_text
from journal.records.yaml.tree import WrittenTable
from journal.views.lists.methods import PARTS

# What the demo's settings leave out, or have as it would be without them.
MORE_SETTINGS = """
sale_day: 300
label_step: 5 g
sold_as: soap
drying: 3 %
"""
OTHER_SETTINGS = {
    "currency: USD": "currency: EUR",
    "room: 69 F": "room: 55 F",
    "gloss: {kind: rating, of: 5, ": "gloss: {kind: rating, of: 10, matters: 2, ",
}


# Notebooks in which a key matters that the demo has another for ---------------------


#: A notebook in which something is otherwise holds these designs, and one order, alone.
SMALL = ("share: 3 %, least: 8 g", "share: 0.1 %, least: 40 g")
JUGS = ("sale_day: 300", "sale_day: 300\njugs: [1 L]")
FEW = (BARLEY, KELP_ON_CLAY, KELP_ON_GREY, OAT_LOAF)


def counted(kind: Literal["mass", "count"], value: float) -> CountedAmount:
    return CountedAmount.model_construct(amount=Amount(kind, value), on=None)


def as_it_is(notebook: Notebook) -> Notebook:
    return notebook


def little_waste(notebook: Notebook) -> Notebook:
    """The least that a jug keeps counts for every pot."""
    return replace(notebook, settings=read_whole(settings_tree(*SMALL)))


def small_jugs(notebook: Notebook) -> Notebook:
    """No jug holds a whole loaf."""
    return replace(notebook, settings=read_whole(settings_tree(*JUGS)))


def with_recipes(notebook: Notebook, change: Callable[[Recipe], Recipe]) -> Notebook:
    """Every recipe of every design changed."""

    def changed(design: Design) -> Design:
        variants = tuple(structs.replace(v, recipe=change(v.recipe)) for v in design.variants)
        return replace(design, recipe=change(design.recipe), variants=variants)

    return replace(notebook, designs={k: changed(d) for k, d in notebook.designs.items()})


def with_layers(recipe: Recipe, change: Callable[[Layer], Layer]) -> Recipe:
    return recipe.model_copy(update={"layers": tuple(map(change, recipe.layers))})


def each(notebook: Notebook, kind: str, **update: object) -> Notebook:
    """Every record of a kind with some of its keys otherwise."""
    records = notebook.shelf.of_kind(kind).items()
    return with_records(notebook, kind, {k: r.model_copy(update=update) for k, r in records})


def no_piece_named(notebook: Notebook) -> Notebook:
    """Recipes name no piece; there are four of each, of which nothing is known but their trim."""
    bare = with_recipes(notebook, lambda recipe: recipe.model_copy(update={"piece": None}))
    return each(bare, "pieces", size=None, weight=None, on_hand=counted("count", 4.0))


def no_pieces(notebook: Notebook) -> Notebook:
    """Every piece is still to be cut, and many of them, since the moulds are large."""
    bare = with_records(no_piece_named(notebook), "pieces", {})
    large = each(bare, "moulds", cavities=20)
    return each(large, "mats", on_hand=counted("count", 1.0))


def many_loaves(notebook: Notebook) -> Notebook:
    """More bars than one round has, of which the last is a small one."""
    return with_recipes(notebook, lambda recipe: recipe.model_copy(update={"bars": 25}))


def not_weighed(notebook: Notebook) -> Notebook:
    """What is weighed in the demo is known by its size, and the pieces are cut small."""
    bare = each(notebook, "pieces", weight=None, size=(60.0, 38.0))
    return each(bare, "moulds", holds=None)


def cut_as_trimmed(notebook: Notebook) -> Notebook:
    """Nothing is weighed, and no size of a piece is on the shelf."""
    bare = with_recipes(notebook, lambda recipe: recipe.model_copy(update={"piece": None}))
    return each(each(bare, "mats", piece_weight=None, relief=None), "pieces", size=None)


def scorching(notebook: Notebook) -> Notebook:
    """No pot may be as hot as it is usually melted."""
    return each(notebook, "bases", scorches=(66.0, 68.0))


def dosed_by_mass(notebook: Notebook) -> Notebook:
    """Every oil, colour and additive is dosed as a share of the base."""

    def dosed(layer: Layer) -> Layer:
        share = Dose("share", 0.004, "base")
        oils = tuple(oil.model_copy(update={"dose": share}) for oil in layer.fragrance)
        stirred = {
            key: tuple(
                one if one.dose is None else one.model_copy(update={"dose": share})
                for one in getattr(layer, key)
            )
            for key in DOSED
        }
        return layer.model_copy(update={"fragrance": oils, **stirred})

    return with_recipes(notebook, lambda recipe: with_layers(recipe, dosed))


def micas_of_no_density(notebook: Notebook) -> Notebook:
    """Every colour is a mica in spoons, dry or a paste, of which nobody knows what it weighs."""
    spoon = {"dose": Dose("volume", 1.0, "base", 450.0), "by": None}

    def dosed(layer: Layer) -> Layer:
        dry = [one.model_copy(update=spoon) for one in layer.colours]
        pastes = [one.model_copy(update={"colourant": "sea-glass-green"}) for one in dry[:1]]
        return layer.model_copy(update={"colours": (*dry, *pastes)})

    by_mass = notebook.shelf.colourants["slate-mica"].price
    micas = {
        name: record.model_copy(update={"kind": "mica", "density": None, "price": by_mass})
        for name, record in notebook.shelf.colourants.items()
    }
    found = with_records(notebook, "colourants", micas)
    return with_recipes(found, lambda recipe: with_layers(recipe, dosed))


def tinted_with_paste(notebook: Notebook) -> Notebook:
    """Every colour is the one that comes as a paste."""

    def tinted(layer: Layer) -> Layer:
        green = [one.model_copy(update={"colourant": "sea-glass-green"}) for one in layer.colours]
        return layer.model_copy(update={"colours": tuple(green)})

    return with_recipes(notebook, lambda recipe: with_layers(recipe, tinted))


def of_true_soap(notebook: Notebook) -> Notebook:
    """A design is cast of the base that its supplier calls true soap."""
    aloe = BaseMixture(shares=(("aloe-clear", 1.0),))
    return _cast_of(notebook, lambda _: aloe)


def of_slate_ends(notebook: Notebook) -> Notebook:
    """A design is cast of a leftover whose colour was weighed."""
    return _cast_of(
        notebook,
        lambda layer: BaseMixture(
            leftover="white-scrapings" if layer == "detail" else "slate-ends"
        ),
    )


def _cast_of(notebook: Notebook, base: Callable[[str], BaseMixture]) -> Notebook:
    def cast(layer: Layer) -> Layer:
        return layer.model_copy(update={"base": base(layer.name), "fragrance": (), "colours": ()})

    one = replace(notebook, designs={KELP_ON_CLAY: notebook.designs[KELP_ON_CLAY]})
    cast_one = with_recipes(one, lambda recipe: with_layers(recipe, cast))
    return replace(notebook, designs={**notebook.designs, **cast_one.designs})


def no_allergens(notebook: Notebook) -> Notebook:
    """Oils say what vanillin they hold by its own key alone."""
    return each(notebook, "fragrances", allergens=())


def no_vanillin(notebook: Notebook) -> Notebook:
    """Oils say what vanillin they hold among their allergens alone."""
    return each(notebook, "fragrances", vanillin=None)


def over_their_limits(notebook: Notebook) -> Notebook:
    """Every oil is over its limit, so that no amount of it is given."""
    return each(notebook, "fragrances", limit=0.001)


def with_powder(notebook: Notebook) -> Notebook:
    """Every layer takes a powder in spoons."""
    dose = Dose("volume", 5.0, "base", 450.0)
    spoon = AdditiveDose.model_construct(additive="rosehip-powder", dose=dose)
    return with_recipes(
        notebook,
        lambda recipe: with_layers(
            recipe, lambda layer: layer.model_copy(update={"additives": (spoon,)})
        ),
    )


def nothing_said(notebook: Notebook) -> Notebook:
    """Steps without their temperatures, a chill last; pours without their room and its humidity."""

    def bare(layer: Layer) -> Layer:
        then = (*(text.replace(" at 39 F", "") for text in layer.then), "chill 20 min")
        return layer.model_copy(update={"then": then})

    found = with_recipes(notebook, lambda recipe: with_layers(recipe, bare))
    designs = {
        name: replace(
            design,
            pours=tuple(structs.replace(one, room_c=None, humidity=None) for one in design.pours),
        )
        for name, design in found.designs.items()
    }
    return replace(found, designs=designs)


def cast_from_leftovers(notebook: Notebook) -> Notebook:
    """A design is cast from leftovers; another jar was in them; they are on hand, not amounts."""
    found = _cast_of(
        notebook,
        lambda layer: BaseMixture(
            leftover="white-scrapings" if layer == "detail" else "indigo-ends"
        ),
    )
    leftovers = dict(found.shelf.leftovers)
    for name, record in leftovers.items():
        update: dict[str, object] = {"on_hand": counted("mass", 300.0), "amount": None}
        if name == "slate-ends":
            update["tinted"] = "slate-mica-2"
        leftovers[name] = record.model_copy(update=update)
    return with_records(found, "leftovers", leftovers)


def cast_from_what_browns(notebook: Notebook) -> Notebook:
    """A design is cast from leftovers, all with an oil that browns."""
    found = cast_from_leftovers(notebook)
    leftovers = dict(found.shelf.leftovers)
    for name, record in leftovers.items():
        if record.scented is not None:
            scented = record.scented.model_copy(update={"oil": "honey-oat"})
            leftovers[name] = record.model_copy(update={"scented": scented})
    return with_records(found, "leftovers", leftovers)


#: Where is what the demo cannot show of a key?
SHOWN_BY: dict[tuple[str, str], tuple[Callable[[Notebook], Notebook], ...]] = {
    ("bases", "scorches"): (scorching,),
    ("fragrances", "density"): (dosed_by_mass,),
    ("colourants", "density"): (dosed_by_mass,),
    ("fragrances", "limit"): (over_their_limits,),
    ("fragrances", "vanillin"): (no_allergens,),
    ("fragrances", "allergens.*"): (no_vanillin,),
    ("additives", "density"): (dosed_by_mass, with_powder),
    ("additives", "true_density"): (with_powder,),
    ("colourants", "same_as"): (cast_from_leftovers,),
    ("colourants", "kind"): (micas_of_no_density,),
    ("colourants", "paste"): (tinted_with_paste, micas_of_no_density),
    ("bases", "true_soap"): (of_true_soap,),
    ("settings", "sold_as"): (of_true_soap,),
    ("moulds", "cavities"): (no_pieces, many_loaves),
    ("moulds", "face"): (not_weighed, no_pieces),
    ("moulds", "corner_radius"): (not_weighed,),
    ("moulds", "depth"): (not_weighed,),
    ("mats", "sheet"): (no_pieces,),
    ("mats", "piece_weight"): (not_weighed,),
    ("mats", "motif"): (no_pieces, cut_as_trimmed),
    ("mats", "motif.pitch"): (no_pieces,),
    ("mats", "motif.offset"): (no_pieces,),
    ("mats", "on_hand"): (no_pieces,),
    ("pieces", "mat"): (no_piece_named,),
    ("pieces", "mould"): (no_piece_named,),
    ("pieces", "trim"): (no_piece_named,),
    ("pieces", "on_hand"): (no_piece_named,),
    ("pieces", "size"): (not_weighed,),
    ("leftovers", "base"): (cast_from_leftovers, cast_from_what_browns),
    ("leftovers", "tinted"): (cast_from_leftovers,),
    ("leftovers", "colour_share"): (of_slate_ends,),
    ("leftovers", "scented"): (cast_from_leftovers, cast_from_what_browns),
    ("leftovers", "on_hand"): (cast_from_leftovers,),
    ("settings", "waste.least"): (little_waste,),
    ("settings", "jugs"): (small_jugs,),
    ("settings", "room"): (nothing_said,),
    ("settings", "humidity"): (nothing_said,),
    ("settings", "chill_at"): (nothing_said,),
}


@lru_cache(maxsize=1)
def demo() -> Notebook:
    return replace(demo_notebook(), settings=read_whole(settings_tree()))


def read_whole(tree: WrittenTable) -> Settings:
    problems: list[Problem] = []
    settings, whole = read_settings(tree, problems)
    assert whole
    assert not problems
    return settings


def tree_of(made: Callable[[Notebook], Notebook]) -> WrittenTable:
    """The settings of one of the notebooks, as written."""
    return settings_tree(*{little_waste: SMALL, small_jugs: JUGS}.get(made, ()))


@cache
def settings_tree(*otherwise: str) -> WrittenTable:
    """The demo's settings, with more of them; an old and a new text may be given."""
    text = read_text(CONTENT, "journal.yaml") + MORE_SETTINGS
    for old, new in (*OTHER_SETTINGS.items(), *([otherwise] if otherwise else [])):
        assert old in text
        text = text.replace(old, new)
    tree = parse_yaml(text, "journal.yaml")
    assert isinstance(tree, WrittenTable)
    return tree


#: Designs that show in one of the notebooks what none of the few does.
ALSO: dict[Callable[[Notebook], Notebook], tuple[str, ...]] = {
    not_weighed: (MOTH,),
    dosed_by_mass: (FAN,),
    little_waste: (PINE, FAN),
}


@cache
def reckoned(made: Callable[[Notebook], Notebook]) -> Reckoned:
    if made is as_it_is:
        return reckon(demo(), rates())
    few = replace(
        demo(),
        designs={name: demo().designs[name] for name in (*FEW, *ALSO.get(made, ()))},
        orders={"inn-bedrooms": demo().orders["inn-bedrooms"]},
        comparisons={},
    )
    return reckon(made(few), rates())


@lru_cache(maxsize=1)
def rates() -> PotRates:
    return rates_of(demo())


def taken_away(entry: Key) -> Iterator[tuple[str, Change | tuple[Problem, ...]]]:
    """What each record's key does when it is taken away, in each notebook that shows it."""
    for made in (as_it_is, *SHOWN_BY.get((entry.kind, entry.key), ())):
        base = reckoned(made)
        for name, path in records_with(base.notebook, entry, tree_of(made)):
            if entry.kind == "settings":
                other = settings_without(base.notebook, tree_of(made), path)
            elif entry.key == "on_hand" and entry.kind in ("mats", "leftovers"):
                bare = base.notebook.shelf.of_kind(entry.kind)[name]
                records = {
                    **base.notebook.shelf.of_kind(entry.kind),
                    name: bare.model_copy(update={"on_hand": None}),
                }
                other = with_records(base.notebook, entry.kind, records)
            elif made is no_vanillin:
                bare = base.notebook.shelf.fragrances[name]
                fewer = tuple(one for one in bare.allergens if one[0] != path[1])
                records = {**base.notebook.shelf.fragrances}
                records[name] = bare.model_copy(update={"allergens": fewer})
                other = with_records(base.notebook, entry.kind, records)
            else:
                other = shelf_without(base.notebook, entry.kind, name, path)
            if isinstance(other, tuple):
                yield name, other
            else:
                yield name, base.change(other, entry.kind, name, path[0])


@cache
def key_of(kind: str, path: tuple[str, ...]) -> Key:
    """The entry of the table for a key as it is written; "*" is a name of the maker's."""
    for entry in KEYS:
        steps = entry.key.split(".")
        if (entry.kind, len(steps)) == (kind, len(path)) and all(
            step in ("*", own) for step, own in zip(steps, path, strict=True)
        ):
            return entry
    raise KeyError(f"{kind}: {'.'.join(path)}")


def records_with(
    notebook: Notebook, entry: Key, tree: WrittenTable
) -> Iterator[tuple[str, tuple[str, ...]]]:
    if entry.kind == "settings":
        yield from (("", p) for p in keys_of(tree) if key_of("settings", p) is entry)
        return
    for name, written in notebook.shelf.written[entry.kind].items():
        if name not in notebook.shelf.of_kind(entry.kind):
            continue
        paths = {*keys_of(written)}
        if entry.key == "on_hand":
            paths.add(("on_hand",))
        yield from ((name, path) for path in sorted(paths) if key_of(entry.kind, path) is entry)


@pytest.mark.parametrize(("kind", "key"), [(entry.kind, entry.key) for entry in KEYS])
def test_a_key_touches_the_figures_that_say_they_need_it(kind: str, key: str) -> None:
    entry = next(one for one in KEYS if (one.kind, one.key) == (kind, key))
    touches = touched(entry)
    seen: set[str] = set()
    records = 0
    for name, change in taken_away(entry):
        records += 1
        if isinstance(change, tuple):
            assert entry.effect == "refused", (name, change)
            assert key.rpartition(".")[2] in change[0].what or "shares" in change[0].what
            continue
        assert entry.effect != "refused", name
        more = change.figures - touches
        assert not more, f"{kind}/{name}: {key} also touches {sorted(more)}"
        seen |= change.figures
        for part in change.nulls:
            rows = change.lacking(part)
            assert rows, f"{part} has a null without a reason"
            if entry.effect == "needed" and kind != "settings":
                named = (name, "base of the leftover")
                assert any(one in row for row in rows for one in named), (part, name, rows)
    # A record that has no such key of its own would show nothing; a lot is written alike whatever
    # it is of, and so is a count.
    assert records or entry.effect == "shown" or key.startswith(("earlier.", "on_hand."))
    assert seen == touches, f"never touched: {sorted(touches - seen)}"


def test_every_key_of_the_demo_is_in_the_table() -> None:
    for kind, tree in demo().shelf.written.items():
        for entry in tree.values():
            for path in keys_of(entry):
                assert key_of(kind, path).kind == kind
    for path in keys_of(settings_tree()):
        assert key_of("settings", path).kind == "settings"


def test_every_key_that_there_can_be_is_in_the_table() -> None:
    inner = {
        ("bases", "ingredients"): Ingredient,
        ("mats", "motif"): Motif,
        ("leftovers", "scented"): Scent,
        ("colourants", "paste"): Paste,
        **{(kind, "on_hand"): CountedAmount for kind in KINDS},
        **{(kind, "earlier"): EarlierLot for kind in KINDS},
        ("settings", "responsible"): Responsible,
        ("settings", "waste"): PotResidue,
        ("settings", "measures.*"): AddedMeasure,
    }
    named = {(entry.kind, entry.key) for entry in KEYS}
    models = {**{name: kind.record for name, kind in KINDS.items()}, "settings": Settings}
    can_be = {
        (kind, field.alias or name)
        for kind, model in models.items()
        for name, field in model.model_fields.items()
    }
    for (kind, key), model in inner.items():
        can_be |= {(kind, f"{key}.{name}") for name in model.model_fields}
    assert can_be <= named, sorted(can_be - named)
    assert len(named) == len(KEYS), "a key stands in the table twice"
    assert {key for kind, key in named if (kind, key) not in can_be} == {
        "allergens.*", "base.*", "measures.*", "symptoms.*",
    }  # fmt: skip


def touched(entry: Key) -> set[str]:
    return {part.name for part in PARTS if part.touched_by(entry.kind, entry.key)}


def test_figures_need_keys_that_there_are() -> None:
    named = {key for part in PARTS for key in part.needs.split()}
    assert named <= {f"{entry.kind}.{entry.key}" for entry in KEYS}
    assert len({part.name for part in PARTS}) == len(PARTS)
    for entry in KEYS:
        assert (entry.effect in ("shown", "refused")) == (not touched(entry)), entry


#: Default as it is written: a key with it is the same as none.
WRITTEN = {
    ("moulds", "corner_radius"): 0.0,
    ("moulds", "bars_each"): 1,
    ("mats", "relief_volume"): 0.0,
    ("mats", "density"): (1.15, 1.15),
    ("fragrances", "density"): (1.10, 1.10),
    ("pieces", "casts_before"): 0,
    ("packaging", "each"): 1,
    ("moulds", "on_hand"): counted("count", 1.0),
}


@pytest.mark.parametrize(("kind", "key"), sorted(WRITTEN))
def test_a_default_is_what_it_says(kind: str, key: str) -> None:
    """Written out, it gives the figures that are had without it."""
    entry = next(one for one in KEYS if (one.kind, one.key) == (kind, key))
    value = WRITTEN[kind, key]
    assert entry.default is not None
    plain = value.amount.value if isinstance(value, CountedAmount) else value
    assert entry.default.value == pytest.approx(plain[0] if isinstance(plain, tuple) else plain)
    bare = reckoned(not_weighed).notebook
    two = {name: bare.designs[name] for name in (BARLEY, OAT_LOAF)}
    bare = replace(bare, designs={**two, KELP_ON_GREY: bare.designs[KELP_ON_GREY]})
    without = reckon(each(bare, kind, **{key: None}), rates())
    written = each(bare, kind, **{key: value})
    for name in bare.shelf.of_kind(kind):
        assert not without.change(written, kind, name, key).values, name


def test_the_settings_defaults_are_those_of_the_figures() -> None:
    taken = {entry.key: entry.default.value for entry in KEYS
             if entry.kind == "settings" and entry.default is not None}  # fmt: skip
    plain = Settings(studio="-")
    assert taken["room"] == USUAL_ROOM_C
    assert taken["chill_at"] == USUAL_CHILL_C
    assert taken["sale_day"] == plain.sale_day
    assert taken["waste.share"] == plain.waste.share
    assert taken["waste.least"] == plain.waste.least
    assert taken["measures.*.of"] == AddedMeasure.model_fields["of"].default
