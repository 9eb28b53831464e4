"""One key taken off the shelf or the settings, and which figures that changes.

Reckoning everything again for every key of every record would take minutes. So it is
first watched which keys of which records each design and order looks at: one that is
not looked at cannot change a figure, and is not reckoned again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from journal.comparison.derive import across_results, design_results
from journal.errors import Problem
from journal.figures.as_json import (
    cooling_json,
    cost_json,
    label_json,
    layer_json,
    pour_left_json,
)
from journal.figures.derive_context import Case
from journal.figures.derive_day import capacities, rounds_of_order
from journal.figures.derive_fill import derive_fill
from journal.figures.derive_heat import CoolingRun, bond_case, derive_cooling, studio_rates
from journal.figures.derive_layers import RecipeMasses, derive_layers
from journal.figures.derive_leftovers import derive_left, derive_left_of_pours
from journal.figures.derive_order import derive_order
from journal.figures.derive_pieces import derive_pieces
from journal.figures.derive_shop import derive_cost, derive_cut, derive_label, derive_net_weight
from journal.figures.pot_rates import RateLine, rate_line
from journal.figures.result import Figure, Gathering, Missing
from journal.records.asked import Order
from journal.records.notebook import Notebook
from journal.records.settings import read_settings
from journal.records.shelf import KINDS, ONE, Shelf
from journal.records.source import Items, Table
from journal.records.typed import checked
from journal.records.write_up import Design

#: Below which keys stand names that the maker gave? They are not told apart.
NAMED = ("layers", "bases", "fragrances", "colours", "label", "apart")

#: How is a place in the figures called in the table of keys? The longest beginning counts.
CALLED = {
    "layers.base_g": "melt",
    "layers.melt_g": "melt",
    "layers.bases": "melt",
    "layers.leftover": "melt",
    "layers.pour_c": "melt",
    "layers.volume_ml_per_bar": "volume",
    "layers.fragrances.volume_ml": "oils",
    "layers.fragrances.mass_g": "oils",
    "layers.fragrances.from_leftover": "oils",
    "layers.fragrances": "concentration",
    "layers.fragrances.limit_percent": "limit",
    "layers.fragrances.within_limit": "limit",
    "layers.limit_used_percent": "limit",
    "layers.colours": "colours",
    "fill": "fill",
    "fill.in it": "fill",
    "fill.proud_mm": "proud",
    "cost": "cost",
    "net_weight": "net weight",
    "label.ingredients": "ingredients",
    "label.apart": "ingredients",
    "label.allergens": "allergens",
    "cut": "cut",
    "bond": "bond",
    "leftovers": "left behind",
    "left_of_pours": "left behind",
    "cooling": "cooling",
    "bleed": "bleed",
    "comparisons": "comparisons",
    "pieces.casts": "casts",
    "pieces.fits": "fits",
    "order.rounds": "rounds",
    "order.needs": "order takes",
    "order.leftovers": "order draws",
    "order.buy": "order buys",
    "order.wear": "order wears",
    "order.cost": "cost",
    "order.day": "day sheet",
}

#: Stands for what is not there at all, such as an oil that is in no layer any more.
GONE = "not there"

Values = dict[tuple[str, ...], Any]
Look = tuple[str, str, str]  # kind, id, key
Part = tuple[str, str]  # design or order, figure
Made = tuple[Any, tuple[Missing, ...]]
Path = tuple[str, ...]


def called(place: str) -> str:
    """What a place in the figures is called in the table of keys."""
    steps = place.split(".")
    for end in range(len(steps), 0, -1):
        found = CALLED.get(".".join(steps[:end]))
        if found is not None:
            return found
    raise AssertionError(f"{place} has no name in the table of keys")


def keys_of(tree: Table) -> Iterator[Path]:
    """The keys of an entry, and those of the mappings and lists in it, each once."""
    told: dict[Path, None] = {}
    for key, value in tree.items():
        told[(key,)] = None
        for inner in value if isinstance(value, Items) else (value,):
            if isinstance(inner, Table):
                told.update(dict.fromkeys((key, *path) for path in keys_of(inner)))
    yield from told


def without(tree: Table, path: Path) -> Table:
    """The tree less one key; in a list each entry less it."""
    made = tree.again()
    if len(path) == 1:
        made.pop(path[0], None)
    elif isinstance(made[path[0]], Items):
        items = Items(made[path[0]].at)
        items.extend(without(entry, path[1:]) for entry in made[path[0]])
        made[path[0]] = items
    else:
        made[path[0]] = without(made[path[0]], path[1:])
    return made


def with_records(notebook: Notebook, kind: str, records: Mapping[str, Any]) -> Notebook:
    """The notebook with all things of one kind replaced."""
    parts: dict[str, Any] = {other: notebook.shelf.of_kind(other) for other in KINDS}
    parts[kind] = records
    return replace(notebook, shelf=Shelf(**parts, written=notebook.shelf.written))


def shelf_without(
    notebook: Notebook, kind: str, name: str, path: Path
) -> Notebook | tuple[Problem, ...]:
    """The notebook with one record of the shelf less one key; or what is wrong then."""
    problems: list[Problem] = []
    entry = without(notebook.shelf.written[kind][name], path)
    record = checked(KINDS[kind], entry, f"{ONE[kind]} {name}", problems)
    if record is None:
        return tuple(problems)
    if len(path) == 1:
        # The record as it is in this notebook, which may not be as it was written.
        field = next(
            own for own, one in KINDS[kind].model_fields.items() if (one.alias or own) == path[0]
        )
        here = notebook.shelf.of_kind(kind)[name]
        record = here.model_copy(update={field: getattr(record, field)})
    return with_records(notebook, kind, {**notebook.shelf.of_kind(kind), name: record})


def settings_without(notebook: Notebook, tree: Table, path: Path) -> Notebook | tuple[Problem, ...]:
    """The notebook with its settings read again, less one key; or what is wrong then."""
    problems: list[Problem] = []
    settings, _ = read_settings(without(tree, path), problems)
    return tuple(problems) or replace(notebook, settings=settings)


class Noted:
    """A record that notes which of its keys are looked at."""

    def __init__(self, record: Any, key: tuple[str, str], seen: set[Look]) -> None:
        self._record, self._key, self._seen = record, key, seen

    def __getattr__(self, name: str) -> Any:
        self._seen.add((*self._key, "measures" if name == "all_measures" else name))
        return getattr(self._record, name)


def watched(notebook: Notebook, seen: set[Look]) -> Notebook:
    """The notebook, noting in ``seen`` what is looked at on its shelf and in its settings."""
    parts: dict[str, Any] = {
        kind: {
            name: Noted(record, (kind, name), seen)
            for name, record in notebook.shelf.of_kind(kind).items()
        }
        for kind in KINDS
    }
    shelf = Shelf(**parts, written=notebook.shelf.written)
    settings: Any = Noted(notebook.settings, ("settings", ""), seen)
    return replace(notebook, shelf=shelf, settings=settings)


@dataclass(frozen=True)
class Change:
    """What differs: places in the figures, what each was and is, and the rows of missing."""

    values: Mapping[tuple[str, ...], tuple[Any, Any]]

    @property
    def figures(self) -> set[str]:
        """The figures that differ, by their name in the table of keys."""
        return {called(key[1]) for key in self.values if key[1] != "missing"}

    @property
    def nulls(self) -> set[str]:
        """The parts, such as one design, in which a value became null."""
        return {
            key[0]
            for key, (before, after) in self.values.items()
            if after is None and before not in (None, GONE) and key[1] != "missing"
        }

    def lacking(self, part: str) -> set[str]:
        """The rows of missing that came to a part."""
        before, after = self.values.get((part, "missing"), ((), ()))
        return set(after) - set(before)


@dataclass(frozen=True)
class Reckoned:
    """The figures of a notebook, each figure of each design apart, and what it was made from."""

    notebook: Notebook
    parts: Mapping[Part, Values]
    looks: Mapping[Part, frozenset[Look]]
    rates: RateLine

    def change(self, other: Notebook, kind: str, name: str, key: str) -> Change:
        """What differs in another notebook, in which one key is otherwise."""
        values: dict[tuple[str, ...], tuple[Any, Any]] = {}
        field = "origin" if (kind, key) == ("leftovers", "from") else key
        for part, before in self.parts.items():
            if (kind, name, field) not in self.looks[part]:
                continue
            after = _part(other, part, self.rates)
            for place in {*before, *after}:
                pair = before.get(place, GONE), after.get(place, GONE)
                if pair[0] != pair[1]:
                    values[(" ".join(part), *place)] = pair
        return Change(values)


def rates_of(notebook: Notebook) -> RateLine:
    """How fast the studio's pots cooled."""
    return rate_line(
        studio_rates(
            run
            for design in notebook.designs.values()
            for run in _cooling(notebook, design).value or ()
        )
    )


def reckon(notebook: Notebook, rates: RateLine) -> Reckoned:
    """All figures of a notebook, and what they were made from."""
    parts: dict[Part, Values] = {}
    looks: dict[Part, frozenset[Look]] = {}
    for part in (
        *(
            (name, figure)
            for name in notebook.designs
            for figure in (*OF_RECIPE, "cooling", "compared")
        ),
        *((name, "order") for name in notebook.orders),
        ("", "pieces"),
        *((name, "across") for name in notebook.comparisons),
    ):
        seen: set[Look] = set()
        parts[part] = _part(watched(notebook, seen), part, rates)
        looks[part] = frozenset(seen)
    return Reckoned(notebook, parts, looks, rates)


def _part(notebook: Notebook, part: Part, rates: RateLine) -> Values:
    name, figure = part
    if figure == "order":
        return _of_order(notebook, notebook.orders[name], rates)
    if figure == "pieces":
        return _of_pieces(notebook)
    if figure == "compared":
        design = notebook.designs[name]
        return {("comparisons",): repr(design_results(notebook.settings, notebook.shelf, design))}
    if figure == "across":
        return {("comparisons",): repr(across_results(notebook, notebook.comparisons[name]))}
    if figure == "cooling":
        found: Values = {}
        cooling = _cooling(notebook, notebook.designs[name])
        runs = cooling.value or ()
        _flat(found, (), ("cooling",), [cooling_json(run) for run in runs])
        told = {f"{run.pour} {run.pot} {run.run.number}: {run.fit.why}" for run in runs}
        found[("missing",)] = sorted(why for why in told if not why.endswith(": "))
        return found
    return _of_recipes(notebook, notebook.designs[name], figure)


def _cooling(notebook: Notebook, design: Design) -> Figure[tuple[CoolingRun, ...]]:
    case = Case(notebook.settings, notebook.shelf, design, design.as_written, design.recipe.bars)
    masses = derive_layers(case).value
    assert masses is not None
    return derive_cooling(notebook.settings, design, masses)


def _of_recipes(notebook: Notebook, design: Design, figure: str) -> Values:
    """One figure of the recipe as it is written, and of each variant."""
    found: Values = {}
    missing: set[str] = set()
    for number, variant in enumerate((design.as_written, *design.variants)):
        case = Case(notebook.settings, notebook.shelf, design, variant, variant.recipe.bars)
        masses = derive_layers(case).value
        assert masses is not None
        value, lacks = OF_RECIPE[figure](case, masses)
        _flat(found, (str(number), variant.name), (figure,), value)
        missing.update(f"{one.figure}: {one.needs}" for one in lacks)
    if figure == "leftovers":
        left = derive_left_of_pours(notebook.settings, design)
        _flat(found, (), ("left_of_pours",), [pour_left_json(one) for one in left])
    found[("missing",)] = sorted(missing)
    return found


def _layers(case: Case, masses: RecipeMasses) -> Made:
    layers = {layer.name: layer_json(layer) for layer in masses.layers}
    pots = {pot.name: (pot.melt_g, pot.left_g) for pot in masses.pots}
    return {**layers, "the pots": {"melt_g": repr(pots)}}, derive_layers(case).missing


def _fill(case: Case, masses: RecipeMasses) -> Made:
    figure = derive_fill(case, masses)
    fill = figure.value
    if fill is None:
        return None, figure.missing
    rest = (fill.capacity_ml, fill.poured_ml, fill.piece_ml, fill.fill)
    return {"in it": rest, "proud_mm": fill.proud_mm}, figure.missing


def _cut(case: Case, masses: RecipeMasses) -> Made:
    figure = derive_cut(case)
    return figure.value, figure.missing


def _cost(case: Case, masses: RecipeMasses) -> Made:
    cut = derive_cut(case)
    figure = derive_cost(case, masses, cut.value)
    return cost_json(figure.value, case.settings.currency), (*cut.missing, *figure.missing)


def _net_weight(case: Case, masses: RecipeMasses) -> Made:
    figure = derive_net_weight(case)
    return figure.value, figure.missing


def _label(case: Case, masses: RecipeMasses) -> Made:
    figure = derive_label(case, masses)
    return label_json(figure.value), figure.missing


def _bond(case: Case, masses: RecipeMasses) -> Made:
    """The model by what it is made from: solving it takes too long."""
    notes = Gathering("bond")
    return bond_case(case, masses, notes), tuple(notes.missing)


def _leftovers(case: Case, masses: RecipeMasses) -> Made:
    figure = derive_left(case, masses)
    return repr(figure.value), figure.missing


OF_RECIPE: Mapping[str, Callable[[Case, RecipeMasses], Made]] = {
    "layers": _layers,
    "fill": _fill,
    "cut": _cut,
    "cost": _cost,
    "net_weight": _net_weight,
    "label": _label,
    "bond": _bond,
    "leftovers": _leftovers,
}


def _of_pieces(notebook: Notebook) -> Values:
    found: Values = {}
    for name, figure in derive_pieces(notebook).items():
        piece = figure.value
        assert piece is not None
        found[("pieces.casts", name)] = (piece.alike, piece.before, piece.poured, piece.casts)
        found[("pieces.fits", name)] = (piece.size_mm, piece.fits)
    return found


def _of_order(notebook: Notebook, order: Order, rates: RateLine) -> Values:
    """The plan of the days by what it is made from: laying them out takes too long."""
    plan = derive_order(notebook, order)
    rounds = rounds_of_order(notebook.settings, plan.lines, rates, {})
    return {
        ("order.rounds",): tuple(line.rounds for line in plan.lines),
        ("order.needs",): (plan.needs, plan.cut),
        ("order.leftovers",): plan.draws,
        ("order.buy",): plan.buy,
        ("order.wear",): plan.wear,
        ("order.cost",): plan.cost,
        ("order.day",): (rounds, capacities(notebook.settings, plan.lines)),
    }


def _flat(found: Values, key: tuple[str, ...], path: tuple[str, ...], value: Any) -> None:
    if isinstance(value, Mapping):
        for name, inner in value.items():
            if path and path[-1] in NAMED and path[-1] not in key[-1:]:
                _flat(found, (*key, str(name), path[-1]), path, inner)
            else:
                _flat(found, key, (*path, str(name)), inner)
    elif isinstance(value, list) and value and isinstance(value[0], Mapping):
        for number, inner in enumerate(value):
            _flat(found, (*key, str(number)), path, inner)
    else:
        found[(".".join(path), *key)] = value
