"""The inputs of each group of pages, and a book that holds nothing but them.

The key of a group is a digest of its inputs; its pages are rendered again only if that changes.
Looking up an entry that a group does not declare is a bug, and raises ``UndeclaredInput``.
"""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from operator import attrgetter
from typing import Any

from msgspec.structs import replace

from journal.records.codec import cached_digest, digest
from journal.records.models.shelf import KINDS, Shelf
from journal.records.models.things import ThingRef, references_of, things_named_by
from journal.views.shared.book import Book

# Names of the entries of one mapping that are taken; None takes all of them.
Names = Collection[Any] | None
# By the path of a mapping in the book, such as "notebook.designs".
Inputs = Mapping[str, Names]

# Shelves: of their entries, things by kind and id, all that their records name is taken as well.
SHELF_PATHS = ("notebook.shelf", "bench")
#: Every mapping that pages may take entries of.
INPUT_PATHS = (
    "notebook.designs",
    "notebook.summaries",
    "notebook.comparisons",
    "notebook.orders",
    "figures.designs",
    "figures.summaries",
    "compared.designs",
    "compared.across",
    "compared.summaries",
    *(f"places.{kind}" for kind in ("designs", "cards", "things", "compared", "orders",
                                    "faulty")),
    "uses.by_thing",
    "uses.descendants",
    *(f"derived.{name}" for name in ("outcomes", "colours", "pieces", "templates", "orders")),
    "photos",
    "templates",
    "comparisons_of",
    "shares",
    "forecasts",
    "recipes",
    "measured",
    "problems",
)  # fmt: skip


class UndeclaredInput(Exception):
    """A page used something that its group does not declare as an input."""


class DeclaredEntries(Mapping[Any, Any]):
    """Some entries of a mapping; looking up any other raises ``UndeclaredInput``."""

    __slots__ = ("_names", "_values")

    def __init__(self, values: Mapping[Any, Any], names: Collection[Any]) -> None:
        self._values, self._names = values, frozenset(names)

    def __getitem__(self, name: Any) -> Any:
        self._check(name)
        return self._values[name]

    def __contains__(self, name: object) -> bool:
        self._check(name)
        return name in self._values

    def __iter__(self) -> Iterator[Any]:
        return (name for name in self._values if name in self._names)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def _check(self, name: object) -> None:
        """Refuse a name that was not declared."""
        # No id is empty: None and "" stand for what a recipe does not name.
        if name not in (None, "") and name not in self._names:
            raise UndeclaredInput(name)


class GroupKeys:
    """The keys of the groups of one book; inputs that several groups share are digested once."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._entries = defaultdict[str, dict[Any, str]](dict)
        self._whole: dict[str, str] = {}

    def key(self, name: str, inputs: Inputs) -> str:
        """The key of the group ``name``."""
        parts = [self._book.ground, name]
        for path in sorted(inputs):
            names, digests = inputs[path], self._entries[path]
            parts.append(path)
            if names is None:
                parts.append(self._all(path))
            else:
                parts.extend([digests.get(one) or self._entry(path, one) for one in names])
        return digest(*parts)

    def _entry(self, path: str, name: Any) -> str:
        """The digest of one entry of a mapping, worked out once."""
        values = _at(self._book, path)
        if path in SHELF_PATHS:
            parts = []
            for kind, one in sorted(reachable_things(values, (name,))):
                parts.append(f"{kind}/{one}={cached_digest(values.of_kind(kind), one)}")
            key = digest(*parts)
        else:
            key = f"{name}={cached_digest(values, name)}"
        self._entries[path][name] = key
        return key

    def _all(self, path: str) -> str:
        """The digest of all entries of a mapping, worked out once."""
        if path not in self._whole:
            names = _at(self._book, path)
            if path in SHELF_PATHS:
                names = [(kind, name) for kind in KINDS for name in names.of_kind(kind)]
            self._whole[path] = digest(*(self._entry(path, name) for name in names))
        return self._whole[path]


def restrict_to_inputs(book: Book, inputs: Inputs) -> Book:
    """The book of one group: it holds the group's inputs and nothing else."""
    cut: dict[str, Mapping[Any, Any]] = {}
    for path in INPUT_PATHS:
        values, names = _at(book, path), inputs.get(path, ())
        cut[path] = values if names is None else DeclaredEntries(values, names)

    def within(record: Any, path: str) -> Any:
        """The record at a path, its mappings restricted."""
        own: dict[str, Any] = {
            name.removeprefix(f"{path}."): values
            for name, values in cut.items()
            if name.startswith(f"{path}.")
        }
        changed = dataclasses.replace if dataclasses.is_dataclass(record) else replace
        return changed(record, **own)

    whole: dict[str, Any] = {path: values for path, values in cut.items() if "." not in path}
    notebook = dataclasses.replace(
        within(book.notebook, "notebook"),
        shelf=_shelf_of(book.notebook.shelf, inputs.get("notebook.shelf", ())),
        problems=(),
    )
    return dataclasses.replace(
        book,
        notebook=notebook,
        bench=_shelf_of(book.bench, inputs.get("bench", ())),
        figures=within(book.figures, "figures"),
        compared=within(book.compared, "compared"),
        places=within(book.places, "places"),
        uses=within(book.uses, "uses"),
        derived=within(book.derived, "derived"),
        unshown=(),
        **whole,
    )


def _shelf_of(shelf: Shelf, things: Names) -> Shelf:
    """The shelf with some things and all that their records name."""
    if things is None:
        return dataclasses.replace(shelf, written={})
    reachable = reachable_things(shelf, things)
    own: dict[str, Any] = {
        kind: DeclaredEntries(shelf.of_kind(kind), [name for of, name in reachable if of == kind])
        for kind in KINDS
    }
    return Shelf(**own)


def _at(book: Book, path: str) -> Any:
    """What stands at a path of the book, such as "notebook.designs"."""
    return attrgetter(path)(book)


def design_inputs(book: Book, name: str) -> Inputs:
    """What a design's own page is made from."""
    design = book.notebook.summaries[name]
    linked: dict[str, list[str]] = {}
    for target in design.link_targets:
        linked.setdefault(target.kind, []).append(target.name)
    own = ("notebook.designs", "figures.designs", "figures.summaries", "compared.designs",
           "measured", "problems", "forecasts", "comparisons_of", "uses.descendants", "shares",
           "places.cards")  # fmt: skip
    return {
        **dict.fromkeys(own, (name,)),
        "bench": design.things,
        "places.designs": (
            name,
            *((design.grew_from,) if design.grew_from is not None else ()),
            *book.uses.descendants.get(name, ()),
            *(other for _, _, others, _ in book.shares.get(name, ()) for other in others),
            *linked.get("design", ()),
        ),
        "places.compared": (*book.comparisons_of.get(name, ()), *linked.get("comparison", ())),
        "places.faulty": [(target.kind, target.name) for target in design.link_targets],
        "places.things": (
            *reachable_things(book.notebook.shelf, design.things),
            *(thing.partition("/")[::2] for thing in linked.get("shelf", ())),
        ),
        "photos": [photo for _, photo in design.pictures],
        "templates": _pairs(book, name),
    }


def cards_inputs(book: Book, name: str) -> Inputs:
    """What a design's cards are made from; they show no price."""
    return {
        **pour_sheet_inputs(book, name),
        "places.cards": (name,),
        "bench": book.notebook.summaries[name].things,
        "templates": _pairs(book, name),
    }


def pour_sheet_inputs(book: Book, name: str) -> Inputs:
    """What a design's pour-day sheet is made from."""
    return dict.fromkeys(("recipes", "figures.summaries", "places.designs"), (name,))


def label_inputs(book: Book, name: str) -> Inputs:
    """What the drafts of a design's label are made from."""
    return {
        **pour_sheet_inputs(book, name),
        "figures.designs": (name,),
        "bench": book.notebook.summaries[name].things,
    }


def order_inputs(book: Book, name: str) -> Inputs:
    """What the page of an order is made from."""
    designs = tuple(line.design for line in book.notebook.orders[name].record.designs)
    return {
        **dict.fromkeys(("notebook.orders", "derived.orders", "places.orders"), (name,)),
        **dict.fromkeys(("places.designs", "figures.summaries", "notebook.summaries"), designs),
        "places.faulty": [("design", design) for design in designs],
        **dict.fromkeys(("places.things", "notebook.shelf")),
    }


def thing_inputs(book: Book, thing: ThingRef) -> Inputs:
    """What the page of a thing on the shelf is made from."""
    kind, name = thing
    shelf = book.notebook.shelf
    used = book.uses.by_thing.get(thing, ())
    led_to = [other for design in used for other in book.uses.descendants.get(design, ())]
    named = things_named_by(shelf, thing)
    record = shelf.of_kind(kind)[name]
    designs = (one.name for one in references_of(record) if one.kind not in KINDS)
    places = [thing, *named]
    inputs: dict[str, Names] = {
        "notebook.shelf": (thing,),
        "uses.by_thing": (thing,),
        "uses.descendants": used,
        "notebook.summaries": (*used, *led_to),
        "places.designs": (*used, *led_to, *designs),
        "places.things": places,
    }
    if kind == "fragrances":
        inputs["figures.summaries"] = used
    if kind == "bases":
        inputs["derived.outcomes"] = (name,)
    if kind in ("bases", "colourants"):
        inputs["derived.colours"] = (thing,)
        others = "bases" if kind == "colourants" else "colourants"
        for entry in book.derived.colours.get(thing, ()):
            places.append((others, entry.base if others == "bases" else entry.colourant))
    if kind == "colourants":
        inputs.update(_measured_inputs(book, used))
    if kind == "pieces":
        inputs["derived.pieces"] = (name,)
        places.extend(other for other in book.places.things if other[0] == "moulds")
    if kind in ("mats", "moulds", "pieces"):
        inputs["templates"] = [pair for pair in book.templates if name in pair]
    return inputs


def template_inputs(book: Book, pair: tuple[str, str]) -> Inputs:
    """What the cutting templates of a mat for a mould are made from."""
    things = (("mats", pair[0]), ("moulds", pair[1]))
    return {
        "templates": (pair,),
        "derived.templates": (pair,),
        "places.things": things,
        "notebook.shelf": things,
    }


def index_part_inputs(book: Book, names: Collection[str]) -> Inputs:
    """What a part of the index is made from: the words of some designs."""
    things = tuple(thing for name in names for thing in book.notebook.summaries[name].things)
    return {"notebook.designs": names, "places.designs": names, "places.things": things}


def list_inputs(*paths: str) -> Inputs:
    """What a page about all designs is made from: everything at these paths."""
    return dict.fromkeys(paths)


def photo_card_inputs(book: Book) -> Inputs:
    """What the photo card is made from."""
    uses = book.uses.by_thing
    used = [name for thing, names in uses.items() if thing[0] == "colourants" for name in names]
    return {
        **_measured_inputs(book, used),
        "notebook.summaries": None,
        "uses.by_thing": None,
        "bench": None,
    }


def _measured_inputs(book: Book, used: Iterable[str]) -> dict[str, Names]:
    """Those of some designs whose photos were measured, with what was measured."""
    measured = [name for name in dict.fromkeys(used) if name in book.measured]
    return {"measured": measured, "notebook.designs": measured}


def _pairs(book: Book, name: str) -> list[tuple[str, str]]:
    """The mats of a design, each with the mould that it is cut for."""
    trims = book.notebook.summaries[name].overview.trims
    return [(mat or "", mould or "") for mat, mould, _ in trims]


def reachable_things(shelf: Shelf, things: Iterable[ThingRef]) -> tuple[ThingRef, ...]:
    """Things, and all that their records name: what figures and cards of them may look up."""
    todo, reached = [*things], dict[ThingRef, None]()
    while todo:
        thing = todo.pop()
        if thing not in reached:
            reached[thing] = None
            todo.extend(things_named_by(shelf, thing))
            if thing[0] == "mats":
                todo.extend(("pieces", piece) for piece in shelf.pieces_of_mat.get(thing[1], ()))
    return tuple(reached)
