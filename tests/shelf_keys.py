"""One key taken off the shelf or the settings, and which figures that changes.

Reckoning everything again for every key of every record would take minutes. So it is
first watched which keys of which records each design and order looks at: one that is
not looked at cannot change a figure, and is not reckoned again. What is reckoned again
of one recipe is so once for all its figures.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from msgspec import field

from journal.comparison.derive import cross_design_results, design_results
from journal.errors import Problem
from journal.figures.as_json import blocks_of
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import Figure, FigureBuilder
from journal.figures.common.spec import FIGURE_ENTRIES, FigureSpec
from journal.figures.day.derive_day import capacities, rounds_of_order
from journal.figures.day.derive_order import derive_order
from journal.figures.heat.derive_dew import DEW, bar_case, piece_case, room_air
from journal.figures.heat.derive_heat import BOND, COOLING, CoolingRun, bond_case, studio_rates
from journal.figures.heat.pot_rates import PotRates, rate_line
from journal.figures.pieces.derive_pieces import derive_pieces
from journal.figures.recipe.derive_layers import LAYERS
from journal.figures.registry import OF_DESIGN, OF_RECIPE
from journal.records.models.fields import validated
from journal.records.models.questions import OrderFile
from journal.records.models.settings import read_settings
from journal.records.models.shelf import KINDS, Shelf
from journal.records.models.write_up import Design, Variant
from journal.records.notebook import Notebook
from journal.records.yaml.tree import WrittenList, WrittenTable
from journal.views.lists.methods import PARTS

#: Stands for what is not there at all, such as an oil that is in no layer any more.
GONE = "not there"

Path = tuple[str, ...]
Place = tuple[Path, Path]  # the place in the figures; the number and name of the variant
Values = dict[Place, Any]
Look = tuple[str, str, str]  # kind, id, key
Part = tuple[str, str]  # design or order, figure

MISSING: Place = (("missing",), ())


@cache
def called(place: Path) -> str:
    """What a place in the figures is called in the table of keys: the longest path that fits."""
    fitting = [
        (len(steps), part.name)
        for part in PARTS
        for steps in (path.split(".") for path in part.paths.split())
        if len(steps) <= len(place)
        and all(step in ("*", own) for step, own in zip(steps, place, strict=False))
    ]
    assert fitting, f"{place} has no name in the table of keys"
    return max(fitting)[1]


def keys_of(tree: WrittenTable) -> Iterator[Path]:
    """The keys of an entry, and those of the mappings and lists in it, each once."""
    told: dict[Path, None] = {}
    for key, value in tree.items():
        told[(key,)] = None
        for inner in value if isinstance(value, WrittenList) else (value,):
            if isinstance(inner, WrittenTable):
                told.update(dict.fromkeys((key, *path) for path in keys_of(inner)))
    yield from told


def without(tree: WrittenTable, path: Path) -> WrittenTable:
    """The tree less one key; in a list each entry less it."""
    made = tree.copy()
    if len(path) == 1:
        made.pop(path[0], None)
    elif isinstance(made[path[0]], WrittenList):
        items = WrittenList(made[path[0]].at)
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
    record = validated(KINDS[kind].record, entry, f"{KINDS[kind].noun} {name}", problems)
    if record is None:
        return tuple(problems)
    if len(path) == 1:
        # The record as it is in this notebook, which may not be as it was written.
        own_field = next(
            own
            for own, one in KINDS[kind].record.model_fields.items()
            if (one.alias or own) == path[0]
        )
        here = notebook.shelf.of_kind(kind)[name]
        record = here.model_copy(update={own_field: getattr(record, own_field)})
    return with_records(notebook, kind, {**notebook.shelf.of_kind(kind), name: record})


def settings_without(
    notebook: Notebook, tree: WrittenTable, path: Path
) -> Notebook | tuple[Problem, ...]:
    """The notebook with its settings read again, less one key; or what is wrong then."""
    problems: list[Problem] = []
    settings, _ = read_settings(without(tree, path), problems)
    return tuple(problems) or replace(notebook, settings=settings)


class Noted:
    """A record that notes which of its keys are looked at."""

    def __init__(self, record: Any, key: tuple[str, str], seen: set[Look]) -> None:
        self._record, self._key, self._seen = record, key, seen

    def __getattr__(self, name: str) -> Any:
        own = type(self._record).__dict__.get(name)
        if isinstance(own, property):  # worked out of keys, which are noted in their turn
            return property.__get__(own, self)
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

    values: Mapping[tuple[Part, Place], tuple[Any, Any]]

    @property
    def figures(self) -> set[str]:
        """The parts of figures that differ, by their names."""
        return {called(place[0]) for _, place in self.values if place != MISSING}

    @property
    def nulls(self) -> set[Part]:
        """The parts, such as one design, in which a value became null."""
        return {
            part
            for (part, place), (before, after) in self.values.items()
            if after is None and before not in (None, GONE) and place != MISSING
        }

    def lacking(self, part: Part) -> set[str]:
        """The rows of missing that came to a part."""
        before, after = self.values.get((part, MISSING), ((), ()))
        return set(after) - set(before)


@dataclass(frozen=True)
class Reckoned:
    """The figures of a notebook, each figure of each design apart, and what it was made from."""

    notebook: Notebook
    parts: Mapping[Part, Values]
    looks: Mapping[Part, frozenset[Look]]
    rates: PotRates

    def change(self, other: Notebook, kind: str, name: str, key: str) -> Change:
        """What differs in another notebook, in which one key is otherwise."""
        values: dict[tuple[Part, Place], tuple[Any, Any]] = {}
        looked = "origin" if (kind, key) == ("leftovers", "from") else key
        cases: Cases = {}
        for part, before in self.parts.items():
            if (kind, name, looked) not in self.looks[part]:
                continue
            after = _part(other, part, self.rates, cases)
            for place in {*before, *after}:
                pair = before.get(place, GONE), after.get(place, GONE)
                if pair[0] != pair[1]:
                    values[part, place] = pair
        return Change(values)


def rates_of(notebook: Notebook) -> PotRates:
    """How fast the studio's pots cooled."""
    runs = (run for design in notebook.designs.values() for run in _cooling(notebook, design))
    return PotRates(rate_line(studio_rates(runs)))


def reckon(notebook: Notebook, rates: PotRates) -> Reckoned:
    """All figures of a notebook, and what they were made from."""
    parts: dict[Part, Values] = {}
    looks: dict[Part, frozenset[Look]] = {}
    for part in (
        *(
            (name, figure)
            for name in notebook.designs
            for figure in (*(spec.name for spec in (*OF_RECIPE, *OF_DESIGN)), "compared")
        ),
        *((name, "order") for name in notebook.orders),
        ("", "pieces"),
        *((name, "across") for name in notebook.comparisons),
    ):
        seen: set[Look] = set()
        parts[part] = _part(watched(notebook, seen), part, rates, {})
        looks[part] = frozenset(seen)
    return Reckoned(notebook, parts, looks, rates)


class Case(RecipeContext, frozen=True):
    """A recipe whose figures are derived once, noting which others each is derived from."""

    under: dict[str, set[str]] = field(default_factory=dict)
    begun: list[str] = field(default_factory=list)

    def figure(self, spec: FigureSpec[RecipeContext, Any]) -> Figure[Any]:
        if spec.name not in self.figures:
            self.under[spec.name] = {spec.name}
            self.begun.append(spec.name)
            self.figures[spec.name] = spec.of(self)
            self.begun.pop()
        if self.begun:
            self.under[self.begun[-1]] |= self.under[spec.name]
        return self.figures[spec.name]

    def lacking(self, name: str) -> Iterator[str]:
        """What a figure, and those that it is derived from, say is missing."""
        for one in self.under[name]:
            yield from (f"{row.figure}: {row.needs}" for row in self.figures[one].missing)


Cases = dict[tuple[str, str], Case]


def _part(notebook: Notebook, part: Part, rates: PotRates, cases: Cases) -> Values:
    name, figure = part
    if figure == "order":
        return _of_order(notebook, notebook.orders[name], rates)
    if figure == "pieces":
        return _of_pieces(notebook)
    if figure == "compared":
        results = design_results(notebook.settings, notebook.shelf, notebook.designs[name])
        return {(("comparisons",), ()): repr(results)}
    if figure == "across":
        results = cross_design_results(notebook, notebook.comparisons[name])
        return {(("comparisons",), ()): repr(results)}
    return _of_design(notebook, notebook.designs[name], figure, cases)


def _cooling(notebook: Notebook, design: Design) -> tuple[CoolingRun, ...]:
    return _case(notebook, design, design.as_written, {}).figure(COOLING).value or ()


def _case(notebook: Notebook, design: Design, variant: Variant, cases: Cases) -> Case:
    key, bars = (design.id, variant.name), variant.recipe.bars
    if key not in cases:
        cases[key] = Case(notebook.settings, notebook.shelf, design, variant, bars)
    return cases[key]


def _of_design(notebook: Notebook, design: Design, name: str, cases: Cases) -> Values:
    """One figure of the design, or of its recipe as it is written and of each variant."""
    spec = next(one for one in (*OF_RECIPE, *OF_DESIGN) if one.name == name)
    found: Values = {}
    missing: set[str] = set()
    variants = (design.as_written, *(() if spec in OF_DESIGN else design.variants))
    for number, variant in enumerate(variants):
        case, key = _case(notebook, design, variant, cases), (str(number), variant.name)
        if spec is BOND:  # by what it is made from: solving it takes too long
            notes = FigureBuilder("bond")
            masses = case.figure(LAYERS).value
            assert masses is not None
            found[("bond",), key] = bond_case(case, masses, notes)
            missing.update(f"bond: {one.needs}" for one in notes.missing)
            continue
        if spec is DEW:  # as above
            notes = FigureBuilder("dew")
            room_c, humidity = room_air(case)
            for part, case_of in (("piece_c", piece_case), ("wrap_after_min", bar_case)):
                made_from = case_of(case, room_c, notes)
                found[("dew", part), key] = None if made_from is None else (made_from, humidity)
            missing.update(f"dew: {one.needs}" for one in notes.missing)
            continue
        figure = case.figure(spec)
        for block, value in blocks_of(spec, figure):
            _flat(found, key, (block,), value)
        parts = FIGURE_ENTRIES[spec.name].parts
        if len(parts) == 1 and figure.value is not None:  # tables say more than the JSON
            rows = [tuple(table.rows(figure.value)) for table in spec.tables]
            found[(*parts[0].paths.split()[0].split("."), "rows"), key] = repr(rows)
        missing.update(case.lacking(spec.name))
        missing.update(() if figure.value is None else spec.null_reasons(figure.value))
    found[MISSING] = sorted(missing)
    return found


def _of_pieces(notebook: Notebook) -> Values:
    found: Values = {}
    for name, figure in derive_pieces(notebook).items():
        piece = figure.value
        assert piece is not None
        found[("pieces", "casts"), (name,)] = (piece.alike, piece.before, piece.poured, piece.casts)
        found[("pieces", "fits"), (name,)] = (piece.size_mm, piece.fits)
    return found


def _of_order(notebook: Notebook, order: OrderFile, rates: PotRates) -> Values:
    """The plan of the days by what it is made from: laying them out takes too long."""
    plan = derive_order(notebook, order)
    rounds = rounds_of_order(notebook, plan.lines, rates, {})
    return {
        (("order", "rounds"), ()): tuple(line.rounds for line in plan.lines),
        (("order", "needs"), ()): (plan.needs, plan.cut),
        (("order", "leftovers"), ()): (plan.draws, tuple(line.left for line in plan.lines)),
        (("order", "buy"), ()): plan.buy,
        (("order", "wear"), ()): plan.wear,
        (("order", "cost"), ()): plan.cost,
        (("order", "day"), ()): (rounds, capacities(notebook, plan.lines)),
    }


def _flat(found: Values, key: Path, path: Path, value: Any) -> None:
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        value = {str(number): inner for number, inner in enumerate(value)}
    if isinstance(value, Mapping):
        for name, inner in value.items():
            _flat(found, key, (*path, str(name)), inner)
    else:
        found[path, key] = value
