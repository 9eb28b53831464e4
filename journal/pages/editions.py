"""Editions: what the notebook holds for the studio, for its helpers, for the public.

An edition is cut out of the records before a page is laid out, so that no page can
show what its edition leaves out.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Literal, TypeVar

from msgspec.structs import replace

from journal.errors import Position, Problem
from journal.figures.derive import DesignFigures, Figures, RecipeFigures
from journal.figures.registry import OF_RECIPE
from journal.records.codec import LazyValues, digest, digest_at
from journal.records.links import links_in, target_of
from journal.records.notebook import Notebook
from journal.records.settings import Settings
from journal.records.shelf import KINDS, Shelf, ShelfRecord
from journal.records.source import Items, Table, Text
from journal.records.summary import DesignSummary
from journal.records.things import with_leftovers
from journal.records.write_up import Design
from journal.records.written import SourceTree

Edition = Literal["studio", "helpers", "public"]
EDITIONS: tuple[Edition, ...] = ("studio", "helpers", "public")

# What a record of the shelf keeps to the studio.
STUDIO_ONLY = ("price", "supplier", "private")
# Settings that are about money.
MONEY_SETTINGS = ("labour", "margin", "fixed_costs")

NOTHING_LEFT_OUT: Mapping[str, str] = {}

_LINK_TARGET = re.compile(r"\]\([^)]*\)")

Thing = TypeVar("Thing", bound=ShelfRecord)


def takes_avif(edition: Edition) -> bool:
    """Whether an edition's photos are made in AVIF beside JPEG.

    Of all files of photos AVIF saves a reader about a quarter, and takes half the time of
    making them. That pays where many fetch a notebook over the network; the studio and its
    helpers open it from a folder.
    """
    return edition == "public"


def for_edition(notebook: Notebook, edition: Edition) -> Notebook:
    """What an edition holds of a notebook.

    Takes:  notebook  everything that was written
            edition   who it is for
    Gives:  for the studio the same; for helpers without costs, suppliers, customers
            and private notes; for the public also without orders, without designs
            that are no keepers, and with only those things of the shelf that the
            rest is made with
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
            digest_at(notebook.designs, name),
            str(notebook.summaries[name].grew_from in kept),
        ),
    )
    shelf = bare_shelf(notebook.shelf)
    orders = {
        name: replace(
            order,
            asked=order.asked.model_copy(update={"customer": None, "private": None}),
            source=SourceTree(_without(order.written, ("customer", "private"))),
        )
        for name, order in notebook.orders.items()
    }
    if edition == "public":
        shelf = _only_used(shelf, summaries.values())
        orders = {}
    return dataclasses.replace(
        notebook,
        settings=_without_money(notebook.settings),
        shelf=shelf,
        designs=designs,
        summaries=summaries,
        comparisons={
            name: replace(
                comparison,
                asked=comparison.asked.model_copy(update={"private": None}),
                source=SourceTree(_without(comparison.written, ("private",))),
            )
            for name, comparison in notebook.comparisons.items()
        },
        orders=orders,
        unread=() if edition == "public" else notebook.unread,
        problems=_of_designs(notebook.problems, kept),
    )


def figures_for(figures: Figures, notebook: Notebook, edition: Edition) -> Figures:
    """The figures that an edition shows: of its designs, and costs for the studio alone."""
    if edition == "studio":
        return figures
    summaries = {
        name: found for name, found in figures.summaries.items() if name in notebook.summaries
    }
    return Figures(
        LazyValues(
            [name for name in figures.designs if name in summaries],
            lambda name: _without_cost(figures.designs[name]),
            lambda name: digest(edition, digest_at(figures.designs, name)),
        ),
        _of_designs(figures.problems, summaries),
        summaries,
    )


def _of_designs(problems: Iterable[Problem], designs: Iterable[str]) -> tuple[Problem, ...]:
    """The problems that stand in the folders of these designs."""
    folders = tuple(f"designs/{name}/" for name in designs)
    return tuple(problem for problem in problems if problem.position.path.startswith(folders))


def _without_cost(figures: DesignFigures) -> DesignFigures:
    return dataclasses.replace(
        figures,
        recipe=_recipe_without_cost(figures.recipe),
        variants={name: _recipe_without_cost(found) for name, found in figures.variants.items()},
    )


def _recipe_without_cost(figures: RecipeFigures) -> RecipeFigures:
    hidden = {spec.name: spec.without() for spec in OF_RECIPE if spec.studio_only}
    return replace(figures, made={**figures.made, **hidden})


def _without_money(settings: Settings) -> Settings:
    return settings.model_copy(update=dict.fromkeys(MONEY_SETTINGS))


def _without_private(design: Design, kept: Collection[str]) -> Design:
    hidden = ("private",) if design.grew_from in kept else ("private", "grew_from")
    written = _without(design.written, hidden)
    pours = written.get("pours")
    if isinstance(pours, Items):
        bare = Items(pours.at)
        bare.extend(
            _without(pour, ("private",)) if isinstance(pour, Table) else pour for pour in pours
        )
        written.put("pours", bare, written.keys_at["pours"])
    return dataclasses.replace(
        design,
        private=None,
        grew_from=design.grew_from if design.grew_from in kept else None,
        pours=tuple(replace(pour, private=None) for pour in design.pours),
        source=SourceTree(written),
    )


def _without(table: Table, keys: Iterable[str]) -> Table:
    left_out = frozenset(keys)
    made = Table(table.at)
    for key, value in table.items():
        if key not in left_out:
            made.put(key, value, table.keys_at[key])
    return made


def bare_shelf(shelf: Shelf) -> Shelf:
    """The shelf without prices, suppliers and private notes, and without its written text."""
    return Shelf(
        **{kind: _each_bare(shelf.of_kind(kind)) for kind in KINDS},  # type: ignore[arg-type]
        written={
            kind: _table_of(
                (name, _without(entry, STUDIO_ONLY), tree.keys_at[name])
                for name, entry in tree.items()
                if isinstance(entry, Table)
            )
            for kind, tree in shelf.written.items()
        },
    )


def _table_of(entries: Iterable[tuple[str, Table, Position]]) -> Table:
    made = Table(Position(""))
    for name, entry, at in entries:
        made.put(name, entry, at)
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
        kind: _table_of(
            (name, _without(entry, ("from",)) if kind == "leftovers" else entry, tree.keys_at[name])
            for name, entry in tree.items()
            if name in kinds[kind]
        )
        for kind, tree in shelf.written.items()
    }
    return Shelf(**kinds, written=written)  # type: ignore[arg-type]


def edition_problems(
    notebook: Notebook,
    cut: Notebook,
    edition: Edition,
    faulty: Collection[str] = (),
    left_out: Mapping[str, str] = NOTHING_LEFT_OUT,
) -> tuple[Problem, ...]:
    """What would give away in an edition what it leaves out: an error each, with its place.

    Takes:  notebook  everything that was written without an error
            cut       what the edition holds, from ``for_edition``
            edition   who it is for
            faulty    ids of designs with an error; a link to one costs no other page
            left_out  titles by id of those that the edition would not hold in any case
    Gives:  links to designs that are left out, and names and ids of such designs, names
            of suppliers and of customers, wherever the kept texts hold them
    """
    if edition == "studio":
        return ()
    names = _names_left_out(notebook, cut, left_out)
    made = {*cut.designs, *faulty} - left_out.keys()
    found: list[Problem] = []
    texts: list[tuple[Table, str, str, int]] = [
        (design.written, design.body, design.path, design.body_line)
        for design in cut.designs.values()
    ]
    texts += [
        (comparison.written, comparison.body, comparison.path, comparison.body_line)
        for comparison in cut.comparisons.values()
    ]
    for written, body, path, first_line in texts:
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
    if isinstance(tree, Text):
        yield tree.at, str(tree)
    elif isinstance(tree, Table):
        for value in tree.values():
            yield from _scalars(value)
    elif isinstance(tree, Items):
        for value in tree:
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
