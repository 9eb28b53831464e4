"""Editions: the parts of the notebook for the studio, for its helpers, for the public.

An edition is cut out of the records before pages are rendered, so that no page can show what its
edition leaves out.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import partial
from typing import Literal, TypeVar

from msgspec.structs import replace

from journal.errors import Position, Problem
from journal.figures.derive import AllFigures
from journal.records.codec import LazyValues, cached_digest, digest
from journal.records.models.links import links_in, target_of
from journal.records.models.questions import ComparisonFile, OrderFile
from journal.records.models.shelf import KINDS, Shelf, ShelfRecord
from journal.records.models.summary import DesignSummary
from journal.records.models.things import with_leftovers
from journal.records.models.write_up import Design
from journal.records.notebook import Notebook
from journal.records.yaml.tree import SourceTree, WrittenList, WrittenTable

Edition = Literal["studio", "helpers", "public"]
EDITIONS: tuple[Edition, ...] = ("studio", "helpers", "public")

# Keys of a record of the shelf that only the studio sees.
STUDIO_ONLY = ("price", "supplier", "private")
# Keys of a pour that only the studio sees.
PRIVATE_OF_POUR = ("private", "complaints")
# Settings that are about money.
MONEY_SETTINGS = ("labour", "margin", "wholesale", "fixed_costs")

Thing = TypeVar("Thing", bound=ShelfRecord)
File = TypeVar("File", ComparisonFile, OrderFile)


def uses_avif(edition: Edition) -> bool:
    """Whether an edition's photos are made in AVIF beside JPEG.

    AVIF makes photos about a quarter smaller, and takes half of the time that photos take to
    make. That pays where many readers fetch a notebook over the network; the studio and its
    helpers open it from a folder.
    """
    return edition == "public"


def cut_to_edition(notebook: Notebook, edition: Edition) -> Notebook:
    """The part of a notebook that an edition holds.

    The studio has all of it. Helpers have no costs, suppliers, customers and private notes. The
    public also has no orders, only designs whose state is keeper, and only the things on the
    shelf that those use.
    """
    if edition == "studio":
        return notebook
    included = {
        name: design
        for name, design in notebook.summaries.items()
        if edition == "helpers" or design.state == "keeper"
    }
    summaries = {
        name: design if design.grew_from in included else replace(design, grew_from=None)
        for name, design in included.items()
    }
    designs = LazyValues(
        [name for name in notebook.designs if name in included],
        lambda name: _without_private(notebook.designs[name], included),
        lambda name: digest(
            "bare",
            cached_digest(notebook.designs, name),
            str(notebook.summaries[name].grew_from in included),
        ),
    )
    shelf = shelf_without_private(notebook.shelf)
    orders = {
        name: _file_without(order, ("customer", "private"))
        for name, order in notebook.orders.items()
    }
    if edition == "public":
        shelf, orders = _only_used(shelf, summaries.values()), {}
    # A file with an error in it is known by its problems: no figures are derived from it.
    files = [one.path for kept in (notebook.comparisons, orders) for one in kept.values()]
    return dataclasses.replace(
        notebook,
        settings=notebook.settings.model_copy(
            update={**dict.fromkeys(MONEY_SETTINGS), "may_show": ()}
        ),
        shelf=shelf,
        designs=designs,
        summaries=summaries,
        comparisons={
            name: _file_without(comparison, ("private",))
            for name, comparison in notebook.comparisons.items()
        },
        orders=orders,
        unreadable=() if edition == "public" else notebook.unreadable,
        problems=_problems_of(notebook.problems, included, files),
    )


def cut_figures_to_edition(figures: AllFigures, notebook: Notebook, edition: Edition) -> AllFigures:
    """The figures of an edition: of its designs only, with costs for the studio alone."""
    if edition == "studio":
        return figures
    summaries = {
        name: summary for name, summary in figures.summaries.items() if name in notebook.summaries
    }
    bench = LazyValues(
        [name for name in figures.bench if name in summaries],
        figures.bench.__getitem__,
        partial(cached_digest, figures.bench),
    )
    return AllFigures(bench, _problems_of(figures.problems, summaries), summaries, bench)


def _problems_of(
    problems: Iterable[Problem], designs: Iterable[str], files: Collection[str] = ()
) -> tuple[Problem, ...]:
    """The problems in the folders of these designs, and in these ``files``."""
    folders = tuple(f"designs/{name}/" for name in designs)
    return tuple(
        problem
        for problem in problems
        if problem.position.path in files or problem.position.path.startswith(folders)
    )


def _file_without(file: File, keys: Sequence[str]) -> File:
    """A comparison or an order without these keys, in its record and in its source."""
    return replace(
        file,
        record=file.record.model_copy(update=dict.fromkeys(keys)),
        source=SourceTree(_table_without(file.written, keys)),
    )


def _without_private(design: Design, included: Collection[str]) -> Design:
    """A design without private notes, and without its parent if that is not ``included``."""
    grew_from = design.grew_from if design.grew_from in included else None
    hidden = ("private",) if design.grew_from in included else ("private", "grew_from")
    written = _table_without(design.written, hidden)
    pours = written.get("pours")
    if isinstance(pours, WrittenList):
        bare = WrittenList(pours.at)
        bare.extend(
            _table_without(pour, PRIVATE_OF_POUR) if isinstance(pour, WrittenTable) else pour
            for pour in pours
        )
        written.put("pours", bare, written.key_at("pours"))
    return dataclasses.replace(
        design,
        private=None,
        grew_from=grew_from,
        pours=tuple(replace(pour, private=None, complaints=()) for pour in design.pours),
        source=SourceTree(written),
    )


def _table_without(table: WrittenTable, keys: Iterable[str]) -> WrittenTable:
    """A copy of a written table without these keys."""
    left_out, bare = frozenset(keys), WrittenTable(table.at)
    for key, value in table.items():
        if key not in left_out:
            bare.put(key, value, table.key_at(key))
    return bare


def shelf_without_private(shelf: Shelf) -> Shelf:
    """The shelf without prices, suppliers and private notes, in records and written text."""
    return Shelf(
        **{kind: _without_studio_keys(shelf.of_kind(kind)) for kind in KINDS},  # type: ignore[arg-type]
        written={
            kind: _entries_without(tree, STUDIO_ONLY, tree) for kind, tree in shelf.written.items()
        },
    )


def _entries_without(
    tree: WrittenTable, keys: Iterable[str], names: Collection[str]
) -> WrittenTable:
    """The entries ``names`` of a shelf file, each without these keys."""
    entries = WrittenTable(Position(""))
    for name, entry in tree.items():
        if isinstance(entry, WrittenTable) and name in names:
            entries.put(name, _table_without(entry, keys), tree.key_at(name))
    return entries


def _without_studio_keys(records: Mapping[str, Thing]) -> dict[str, Thing]:
    """The records of one kind with the keys of ``STUDIO_ONLY`` set to None."""
    bare = {}
    for name, record in records.items():
        hidden = [key for key in STUDIO_ONLY if key in type(record).model_fields]
        bare[name] = record.model_copy(update=dict.fromkeys(hidden))
    return bare


def _only_used(shelf: Shelf, designs: Iterable[DesignSummary]) -> Shelf:
    """The shelf with only what the designs use, and no names of what is left out.

    Leftovers lose their origin, and colourants a ``same_as`` that is left out.
    """
    used = set(with_leftovers(shelf, (thing for design in designs for thing in design.things)))
    kinds = {
        kind: {name: rec for name, rec in shelf.of_kind(kind).items() if (kind, name) in used}
        for kind in KINDS
    }
    colourants = kinds["colourants"]
    for name, record in kinds["leftovers"].items():
        kinds["leftovers"][name] = record.model_copy(update={"origin": None})
    for name, record in colourants.items():
        if getattr(record, "same_as", None) not in colourants:
            colourants[name] = record.model_copy(update={"same_as": None})
    written = {
        kind: _entries_without(tree, ("from",) if kind == "leftovers" else (), kinds[kind])
        for kind, tree in shelf.written.items()
    }
    return Shelf(**kinds, written=written)  # type: ignore[arg-type]


def links_to_left_out(
    cut: Notebook, edition: Edition, faulty: Collection[str] = ()
) -> tuple[Problem, ...]:
    """Errors where a text of an edition (``cut``) links to a design that it leaves out.

    A link to a ``faulty`` design is no error.
    """
    pages = {*cut.summaries, *faulty}
    files: list[Design | ComparisonFile] = [
        cut.designs[name]
        for name, design in cut.summaries.items()
        if any(one.kind == "design" and one.name not in pages for one in design.link_targets)
    ]
    problems: list[Problem] = []
    for file in (*files, *cut.comparisons.values()):
        folder = file.path.rpartition("/")[0]
        for at, link, _ in links_in(file.body, file.path, file.body_line):
            target = target_of(link, folder)
            if target.kind == "design" and target.name not in pages:
                what = f'the link leads to "{target.name}", which the {edition} edition leaves out'
                hint = "Take the link out, or make that design a keeper."
                problems.append(Problem(at, what, hint))
    return tuple(sorted(set(problems)))
