"""The inputs of each group of pages, and a book that is restricted to them.

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

from journal.figures.lots.trace import LotKey
from journal.records.codec import cached_digest, digest
from journal.records.models.shelf import KINDS, Shelf
from journal.records.models.things import ThingRef, references_of, things_named_by
from journal.views.shared.book import Book

# Names of the entries of one mapping that are taken; None takes all of them.
Names = Collection[Any] | None
# By the path of a mapping in the book, such as "notebook.designs".
Inputs = Mapping[str, Names]

# Shelves: an entry is a thing by kind and id, and brings all that its record names.
SHELF_PATHS = ("notebook.shelf", "bench")
#: Every mapping that pages may take entries of.
INPUT_PATHS = (
    "notebook.designs",
    "notebook.summaries",
    "notebook.comparisons",
    "notebook.orders",
    "figures.designs",
    "figures.bench",
    "figures.summaries",
    "figures.priced",
    "figures.lacking",
    "compared.designs",
    "compared.exact",
    "compared.across",
    "compared.conditions",
    "compared.summaries",
    *(f"places.{kind}" for kind in ("designs", "cards", "things", "compared", "orders",
                                    "faulty", "lots", "batches")),
    "uses.by_thing",
    "uses.descendants",
    *(f"derived.{name}" for name in ("outcomes", "colours", "pieces", "wear", "templates", "orders",
                                     "card_rates", "card_reach", "rounds", "left", "lots",
                                     "batches", "buying")),
    "photos",
    "templates",
    "comparisons_of",
    "shares",
    "forecasts",
    "recipes",
    "measured",
    "problems",
    "seen",
    "over_limit",
    "lost",
    "pourers",
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
        """Raise ``UndeclaredInput`` for a name that was not declared."""
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
        """The key of the group ``name``: a digest of its inputs and of what all pages depend on."""
        parts = [self._book.ground, name]
        for path in sorted(inputs):
            names, digests = inputs[path], self._entries[path]
            parts.append(path)
            if names is None:
                parts.append(self._all(path))
            else:
                parts.extend([digests.get(one) or self._entry(path, one) for one in names])
        # No name holds the character that stands between them.
        return digest("\0".join(parts))

    def _entry(self, path: str, name: Any) -> str:
        """The digest of one entry of a mapping, worked out once."""
        values = _attribute_at(self._book, path)
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
            names = _attribute_at(self._book, path)
            if path in SHELF_PATHS:
                names = [(kind, name) for kind in KINDS for name in names.of_kind(kind)]
            self._whole[path] = digest(*(self._entry(path, name) for name in names))
        return self._whole[path]


def restrict_to_inputs(book: Book, inputs: Inputs) -> Book:
    """The book of one group: looking up anything but the group's inputs raises an error."""
    allowed: dict[str, Mapping[Any, Any]] = {}
    for path in INPUT_PATHS:
        values, names = _attribute_at(book, path), inputs.get(path, ())
        allowed[path] = values if names is None else DeclaredEntries(values, names)

    def restricted(record: Any, path: str) -> Any:
        """A record of the book with the mappings under ``path`` restricted."""
        fields: dict[str, Any] = {
            name.removeprefix(f"{path}."): values
            for name, values in allowed.items()
            if name.startswith(f"{path}.")
        }
        copy = dataclasses.replace if dataclasses.is_dataclass(record) else replace
        return copy(record, **fields)

    whole: dict[str, Any] = {path: values for path, values in allowed.items() if "." not in path}
    notebook = dataclasses.replace(
        restricted(book.notebook, "notebook"),
        shelf=_restricted_shelf(book.notebook.shelf, inputs.get("notebook.shelf", ())),
        problems=(),
    )
    return dataclasses.replace(
        book,
        notebook=notebook,
        bench=_restricted_shelf(book.bench, inputs.get("bench", ())),
        figures=restricted(book.figures, "figures"),
        compared=restricted(book.compared, "compared"),
        places=restricted(book.places, "places"),
        uses=restricted(book.uses, "uses"),
        derived=restricted(book.derived, "derived"),
        unshown=(),
        **whole,
    )


def _restricted_shelf(shelf: Shelf, things: Names) -> Shelf:
    """The shelf restricted to ``things`` and all that their records name; None takes all."""
    if things is None:
        return dataclasses.replace(shelf, written={})
    reachable = reachable_things(shelf, things)
    kinds: dict[str, Any] = {
        kind: DeclaredEntries(shelf.of_kind(kind), [name for of, name in reachable if of == kind])
        for kind in KINDS
    }
    return Shelf(**kinds)


def _attribute_at(book: Book, path: str) -> Any:
    """The attribute at a dotted path of the book, such as "notebook.designs"."""
    return attrgetter(path)(book)


def design_inputs(book: Book, name: str) -> Inputs:
    """The inputs of a design's own page."""
    design = book.notebook.summaries[name]
    linked: dict[str, list[str]] = {}
    for target in design.link_targets:
        linked.setdefault(target.kind, []).append(target.name)
    own = ("notebook.designs", "figures.designs", "figures.summaries", "compared.designs",
           "measured", "problems", "forecasts", "comparisons_of", "uses.descendants", "shares",
           "places.cards", "places.batches", "derived.rounds", "seen", "over_limit")  # fmt: skip
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
        "templates": _mat_mould_pairs(book, name),
    }


def cost_inputs(book: Book, name: str) -> Inputs:
    """The inputs of the section of a design's page that shows prices."""
    return dict.fromkeys(("figures.priced", "compared.exact", "places.designs"), (name,))


def beside_cost_inputs(book: Book, name: str) -> Inputs:
    """The inputs of all else on a design's page, which shows no amount of money."""
    inputs = {**design_inputs(book, name)}
    del inputs["figures.designs"]
    return {**inputs, **dict.fromkeys(("figures.bench", "figures.lacking"), (name,))}


def cards_inputs(book: Book, name: str) -> Inputs:
    """The inputs of a design's recipe cards, which show no price: all moulds are tried."""
    moulds = [("moulds", mould) for mould in book.bench.moulds]
    own = ("places.cards", "places.batches", "derived.card_rates", "derived.rounds", "lost", "seen")
    return {
        **pour_sheet_inputs(book, name),
        **dict.fromkeys(own, (name,)),
        "bench": (*book.notebook.summaries[name].things, *moulds),
        "places.things": moulds,
        "templates": _mat_mould_pairs(book, name),
    }


def pour_sheet_inputs(book: Book, name: str) -> Inputs:
    """The inputs of a design's pour-day sheet."""
    return {
        **dict.fromkeys(("recipes", "figures.summaries", "places.designs", "over_limit"), (name,)),
        "bench": book.notebook.summaries[name].things,
    }


def bench_inputs(book: Book, name: str) -> Inputs:
    """The inputs of a design's bench page."""
    own = ("derived.rounds", "derived.card_rates", "derived.card_reach")
    summary = book.notebook.summaries[name]
    mats = {mat for mat, _, _ in summary.overview.trims}
    pieces = [("pieces", one) for one, piece in book.bench.pieces.items() if piece.mat in mats]
    inputs = {**pour_sheet_inputs(book, name), **dict.fromkeys(own, (name,))}
    return {**inputs, "bench": (*summary.things, *pieces), "pourers": None}


def label_inputs(book: Book, name: str) -> Inputs:
    """The inputs of the drafts of a design's label."""
    return {**pour_sheet_inputs(book, name), "figures.bench": (name,)}


def order_inputs(book: Book, name: str) -> Inputs:
    """The inputs of the page of an order."""
    designs = tuple(line.design for line in book.notebook.orders[name].record.designs)
    return {
        **dict.fromkeys(("notebook.orders", "derived.orders", "places.orders"), (name,)),
        **dict.fromkeys(("places.designs", "figures.summaries", "notebook.summaries"), designs),
        "places.faulty": [("design", design) for design in designs],
        **dict.fromkeys(("places.things", "notebook.shelf")),
    }


def order_bench_inputs(book: Book, name: str) -> Inputs:
    """The inputs of an order's bench page."""
    designs = tuple(line.design for line in book.notebook.orders[name].record.designs)
    known = [one for one in designs if one in book.figures.summaries]
    return {
        **dict.fromkeys(("notebook.orders", "derived.orders"), (name,)),
        **dict.fromkeys(("derived.card_reach", "over_limit"), known),
        **dict.fromkeys(("bench", "pourers")),
    }


def thing_inputs(book: Book, thing: ThingRef) -> Inputs:
    """The inputs of the page of a thing on the shelf."""
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
        **faulty_designs(book),
    }
    lots = [key for key in book.places.lots if key[:2] == thing]
    inputs["derived.lots"] = inputs["places.lots"] = lots
    inputs["derived.left"] = (thing,)
    if kind == "fragrances":
        inputs["figures.summaries"] = inputs["over_limit"] = used
    if kind == "bases":
        inputs["derived.outcomes"] = (name,)
    if kind in ("bases", "colourants"):
        inputs["derived.colours"] = (thing,)
        others = "bases" if kind == "colourants" else "colourants"
        for entry in book.derived.colours.get(thing, ()):
            places.append((others, entry.base if others == "bases" else entry.colourant))
    if kind in ("colourants", "fragrances"):
        inputs.update(_measured_inputs(book, used))
        cast_in = (thing for design in used for thing in book.notebook.summaries[design].things)
        places.extend(other for other in cast_in if other[0] in ("bases", "leftovers"))
    if kind == "pieces":
        inputs["derived.pieces"] = (name,)
        places.extend(other for other in book.places.things if other[0] == "moulds")
    if kind == "mats":
        pieces = shelf.pieces_of_mat.get(name, ())
        inputs["derived.pieces"] = pieces
        inputs["derived.wear"] = (name,)
        inputs["derived.templates"] = pairs = [
            pair for pair in book.derived.templates if pair[0] == name
        ]
        places.extend(("pieces", piece) for piece in pieces)
        places.extend(("moulds", mould) for _, mould in pairs)
    if kind in ("mats", "moulds", "pieces"):
        inputs["templates"] = [pair for pair in book.templates if name in pair]
    return inputs


def lot_inputs(book: Book, key: LotKey) -> Inputs:
    """The inputs of the page of a lot."""
    lot = book.derived.lots[key]
    rows = (*lot.holds, *lot.perhaps)
    orders = [order.order for order in lot.orders]
    designs = list(dict.fromkeys(row.design for row in rows))
    brought = [("leftovers", name) for row in rows for name in row.via]
    return {
        "derived.lots": (key,),
        "places.lots": (key,),
        "notebook.orders": orders,
        "places.orders": orders,
        "places.designs": designs,
        "places.batches": designs,
        "places.things": [(lot.kind, lot.name), *brought],
        "notebook.shelf": [(lot.kind, lot.name)],
    }


def batches_inputs(book: Book, name: str) -> Inputs:
    """The inputs of the page of a design's batches."""
    batches = book.derived.batches[name]
    uses = [use for one in batches for use in one.batch.uses]
    orders = [order.order for one in batches for order in one.orders]
    things = list(
        dict.fromkeys(
            thing
            for use in uses
            for thing in ((use.kind, use.name), *(("leftovers", via) for via in use.via))
        )
    )
    own = ("derived.batches", "recipes", "figures.summaries", "figures.bench", "places.designs",
           "places.batches")  # fmt: skip
    return {
        **dict.fromkeys(own, (name,)),
        "places.lots": [use.key for use in uses],
        "places.orders": orders,
        "places.things": things,
        "bench": things,
    }


def faulty_designs(book: Book) -> Inputs:
    """The designs that could not be read: inputs of a page that counts or lists designs."""
    return {"places.faulty": [one for one in book.places.faulty if one[0] == "design"]}


def template_inputs(book: Book, pair: tuple[str, str]) -> Inputs:
    """The inputs of the cutting template for a pair of mat and mould."""
    things = (("mats", pair[0]), ("moulds", pair[1]))
    return {
        "templates": (pair,),
        "derived.templates": (pair,),
        "places.things": things,
        "notebook.shelf": things,
    }


def index_part_inputs(book: Book, names: Collection[str]) -> Inputs:
    """The inputs of a part of the index, which has the words of these designs."""
    things = tuple(thing for name in names for thing in book.notebook.summaries[name].things)
    own = dict.fromkeys(("notebook.designs", "places.designs", "places.batches"), names)
    return {**own, "places.things": things}


def list_inputs(*paths: str) -> Inputs:
    """The inputs of a page about all designs: every entry of the mappings at these paths."""
    return dict.fromkeys(paths)


def safety_inputs(book: Book) -> Inputs:
    """The inputs of the page of cautions, which lists the oils."""
    oils = [("fragrances", name) for name in book.notebook.shelf.fragrances]
    return {"bench": oils, "places.things": oils}


def photo_card_inputs(book: Book) -> Inputs:
    """The inputs of the page of the photo card."""
    uses = book.uses.by_thing
    used = [name for thing, names in uses.items() if thing[0] == "colourants" for name in names]
    return {
        **_measured_inputs(book, used),
        "notebook.summaries": None,
        "uses.by_thing": None,
        "bench": None,
    }


def _measured_inputs(book: Book, used: Iterable[str]) -> dict[str, Names]:
    """The inputs for those of these designs whose photos were measured."""
    measured = [name for name in dict.fromkeys(used) if name in book.measured]
    return {"measured": measured, "recipes": measured}


def _mat_mould_pairs(book: Book, name: str) -> list[tuple[str, str]]:
    """The pairs of mat and mould of a design's variants; "" where one is not named."""
    trims = book.notebook.summaries[name].overview.trims
    return [(mat or "", mould or "") for mat, mould, _ in trims]


def reachable_things(shelf: Shelf, things: Iterable[ThingRef]) -> tuple[ThingRef, ...]:
    """These things, and all that their records name, directly or through others.

    Mats also bring the pieces that were cut from them.
    """
    todo, reached = [*things], dict[ThingRef, None]()
    while todo:
        thing = todo.pop()
        if thing not in reached:
            reached[thing] = None
            todo.extend(things_named_by(shelf, thing))
            if thing[0] == "mats":
                todo.extend(("pieces", piece) for piece in shelf.pieces_of_mat.get(thing[1], ()))
    return tuple(reached)
