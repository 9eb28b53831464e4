"""Editions: what the notebook holds for the studio, for its helpers, for the public.

An edition is cut out of the records before pages are rendered, so that no page can show what its
edition leaves out.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Literal, TypeVar

from msgspec.structs import replace

from journal.errors import Position, Problem
from journal.figures.derive import AllFigures, DesignFigures, RecipeFigures
from journal.figures.registry import OF_RECIPE
from journal.records.codec import LazyValues, cached_digest, digest
from journal.records.models.links import links_in, target_of
from journal.records.models.questions import ComparisonFile, OrderFile
from journal.records.models.shelf import KINDS, Shelf, ShelfRecord
from journal.records.models.summary import DesignSummary
from journal.records.models.things import with_leftovers
from journal.records.models.write_up import Design
from journal.records.notebook import Notebook
from journal.records.yaml.tree import SourceTree, WrittenList, WrittenTable, WrittenText

Edition = Literal["studio", "helpers", "public"]
EDITIONS: tuple[Edition, ...] = ("studio", "helpers", "public")

# What a record of the shelf keeps to the studio.
STUDIO_ONLY = ("price", "supplier", "private")
# Settings that are about money.
MONEY_SETTINGS = ("labour", "margin", "fixed_costs")

NOTHING_LEFT_OUT: Mapping[str, str] = {}

_LINK_TARGET = re.compile(r"\]\([^)]*\)")

Thing = TypeVar("Thing", bound=ShelfRecord)
Asked = TypeVar("Asked", ComparisonFile, OrderFile)


def uses_avif(edition: Edition) -> bool:
    """Whether an edition's photos are made in AVIF beside JPEG.

    Of all files of photos AVIF saves a reader about a quarter, and takes half the time of
    making them. That pays where many fetch a notebook over the network; the studio and its
    helpers open it from a folder.
    """
    return edition == "public"


def cut_to_edition(notebook: Notebook, edition: Edition) -> Notebook:
    """The part of a notebook that an edition holds.

    The studio has all of it; helpers have no costs, suppliers, customers and private notes;
    the public also has no orders, no designs that are no keepers, and of the shelf only what
    the rest is made with.
    """
    if edition == "studio":
        return notebook
    kept = {
        name: design
        for name, design in notebook.summaries.items()
        if edition == "helpers" or design.state == "keeper"
    }
    summaries = {
        name: design if design.grew_from in kept else replace(design, grew_from=None)
        for name, design in kept.items()
    }
    designs = LazyValues(
        [name for name in notebook.designs if name in kept],
        lambda name: _without_private(notebook.designs[name], kept),
        lambda name: digest(
            "bare",
            cached_digest(notebook.designs, name),
            str(notebook.summaries[name].grew_from in kept),
        ),
    )
    shelf = shelf_without_private(notebook.shelf)
    orders = {
        name: _asked_without(order, ("customer", "private"))
        for name, order in notebook.orders.items()
    }
    if edition == "public":
        shelf = _only_used(shelf, summaries.values())
        orders = {}
    return dataclasses.replace(
        notebook,
        settings=notebook.settings.model_copy(update=dict.fromkeys(MONEY_SETTINGS)),
        shelf=shelf,
        designs=designs,
        summaries=summaries,
        comparisons={
            name: _asked_without(comparison, ("private",))
            for name, comparison in notebook.comparisons.items()
        },
        orders=orders,
        unread=() if edition == "public" else notebook.unread,
        problems=_of_designs(notebook.problems, kept),
    )


def cut_figures_to_edition(figures: AllFigures, notebook: Notebook, edition: Edition) -> AllFigures:
    """The figures that an edition shows: of its designs, and costs for the studio alone."""
    if edition == "studio":
        return figures
    summaries = {
        name: found for name, found in figures.summaries.items() if name in notebook.summaries
    }
    return AllFigures(
        LazyValues(
            [name for name in figures.designs if name in summaries],
            lambda name: _without_cost(figures.designs[name]),
            lambda name: digest(edition, cached_digest(figures.designs, name)),
        ),
        _of_designs(figures.problems, summaries),
        summaries,
    )


def _of_designs(problems: Iterable[Problem], designs: Iterable[str]) -> tuple[Problem, ...]:
    """The problems that stand in the folders of these designs."""
    folders = tuple(f"designs/{name}/" for name in designs)
    return tuple(problem for problem in problems if problem.position.path.startswith(folders))


def _asked_without(asked: Asked, keys: Sequence[str]) -> Asked:
    return replace(
        asked,
        asked=asked.asked.model_copy(update=dict.fromkeys(keys)),
        source=SourceTree(_without(asked.written, keys)),
    )


def _without_cost(figures: DesignFigures) -> DesignFigures:
    return dataclasses.replace(
        figures,
        recipe=_recipe_without_cost(figures.recipe),
        variants={name: _recipe_without_cost(found) for name, found in figures.variants.items()},
    )


def _recipe_without_cost(figures: RecipeFigures) -> RecipeFigures:
    hidden = {spec.name: spec.without() for spec in OF_RECIPE if spec.studio_only}
    return replace(figures, made={**figures.made, **hidden})


def _without_private(design: Design, kept: Collection[str]) -> Design:
    hidden = ("private",) if design.grew_from in kept else ("private", "grew_from")
    written = _without(design.written, hidden)
    pours = written.get("pours")
    if isinstance(pours, WrittenList):
        bare = WrittenList(pours.at)
        bare.extend(
            _without(pour, ("private",)) if isinstance(pour, WrittenTable) else pour
            for pour in pours
        )
        written.put("pours", bare, written.keys_at["pours"])
    return dataclasses.replace(
        design,
        private=None,
        grew_from=design.grew_from if design.grew_from in kept else None,
        pours=tuple(replace(pour, private=None) for pour in design.pours),
        source=SourceTree(written),
    )


def _without(table: WrittenTable, keys: Iterable[str]) -> WrittenTable:
    left_out = frozenset(keys)
    made = WrittenTable(table.at)
    for key, value in table.items():
        if key not in left_out:
            made.put(key, value, table.keys_at[key])
    return made


def shelf_without_private(shelf: Shelf) -> Shelf:
    """The shelf without prices, suppliers and private notes, and without its written text."""
    return Shelf(
        **{kind: _each_bare(shelf.of_kind(kind)) for kind in KINDS},  # type: ignore[arg-type]
        written={
            kind: _entries_without(tree, STUDIO_ONLY, tree) for kind, tree in shelf.written.items()
        },
    )


def _entries_without(
    tree: WrittenTable, keys: Iterable[str], names: Collection[str]
) -> WrittenTable:
    """Some entries of a file of the shelf, without these keys."""
    made = WrittenTable(Position(""))
    for name, entry in tree.items():
        if isinstance(entry, WrittenTable) and name in names:
            made.put(name, _without(entry, keys), tree.keys_at[name])
    return made


def _each_bare(records: Mapping[str, Thing]) -> dict[str, Thing]:
    return {
        name: record.model_copy(
            update={key: None for key in STUDIO_ONLY if key in type(record).model_fields}
        )
        for name, record in records.items()
    }


def _only_used(shelf: Shelf, designs: Iterable[DesignSummary]) -> Shelf:
    """What the designs are made with; leftovers do not say what they were left by."""
    used = set(with_leftovers(shelf, (thing for design in designs for thing in design.things)))
    kinds = {
        kind: {name: rec for name, rec in shelf.of_kind(kind).items() if (kind, name) in used}
        for kind in KINDS
    }
    kinds["leftovers"] = {
        name: record.model_copy(update={"origin": None})
        for name, record in kinds["leftovers"].items()
    }
    kinds["colourants"] = {
        name: record.model_copy(update={"same_as": None})
        if getattr(record, "same_as", None) not in kinds["colourants"]
        else record
        for name, record in kinds["colourants"].items()
    }
    written = {
        kind: _entries_without(tree, ("from",) if kind == "leftovers" else (), kinds[kind])
        for kind, tree in shelf.written.items()
    }
    return Shelf(**kinds, written=written)  # type: ignore[arg-type]


def find_leaks(
    notebook: Notebook,
    cut: Notebook,
    edition: Edition,
    faulty: Collection[str] = (),
    left_out: Mapping[str, str] = NOTHING_LEFT_OUT,
) -> tuple[Problem, ...]:
    """Errors where the texts of an edition (``cut``) name what it leaves out, or link to it.

    These are designs, suppliers and customers. A link to a ``faulty`` design is no error;
    ``left_out`` has titles by id of faulty designs that the edition would not hold anyway.
    """
    if edition == "studio":
        return ()
    names = _names_left_out(notebook, cut, left_out)
    made = {*cut.designs, *faulty} - left_out.keys()
    found: list[Problem] = []
    texts: tuple[Design | ComparisonFile, ...] = (*cut.designs.values(), *cut.comparisons.values())
    for one in texts:
        written, body, path, first_line = one.written, one.body, one.path, one.body_line
        folder = path.rpartition("/")[0]
        for at, link, _ in links_in(body, path, first_line):
            target = target_of(link, folder)
            if target.kind == "design" and target.name not in made:
                found.append(
                    Problem(
                        at,
                        f'the link leads to "{target.name}",'
                        f" which the {edition} edition leaves out",
                        "Take the link out, or make that design a keeper.",
                    )
                )
        # Where links lead was looked at above.
        lines = [
            (Position(path, first_line + n), _LINK_TARGET.sub("]", line))
            for n, line in enumerate(body.split("\n"))
        ]
        for at, text in [*_scalars(written), *lines]:
            found.extend(_given_away(at, text, names, edition))
    for tree in cut.shelf.written.values():
        for at, text in _scalars(tree):
            found.extend(_given_away(at, text, names, edition))
    return tuple(sorted(set(found)))


def _names_left_out(
    notebook: Notebook, cut: Notebook, left_out: Mapping[str, str]
) -> dict[str, str]:
    """Each name that may not appear, and what it is."""
    names: dict[str, str] = {}
    titles = {name: design.title for name, design in notebook.summaries.items()}
    for name, title in {**titles, **left_out}.items():
        if name not in cut.summaries:
            names[title] = "a design"
            # An id of one word, such as "fern", is said of many things.
            if "-" in name:
                names[name] = "the id of a design"
    for kind in KINDS:
        for record in notebook.shelf.of_kind(kind).values():
            if record.supplier:
                names[record.supplier] = "a supplier"
    for order in notebook.orders.values():
        if order.asked.customer:
            names[order.asked.customer] = "a customer"
    return names


def _scalars(tree: object) -> Iterator[tuple[Position, str]]:
    if isinstance(tree, WrittenText):
        yield tree.at, str(tree)
    elif isinstance(tree, WrittenTable | WrittenList):
        for value in tree.values() if isinstance(tree, WrittenTable) else tree:
            yield from _scalars(value)


def _given_away(
    at: Position, text: str, names: Mapping[str, str], edition: Edition
) -> Iterator[Problem]:
    for name, what in names.items():
        if name in text and re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text):
            yield Problem(
                at,
                f'"{name}" is {what} that the {edition} edition leaves out',
                "Say it without the name, or put it into a private note.",
            )
