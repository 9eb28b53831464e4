"""What does not fit between the files of a notebook: ids that are nowhere, dead links."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from journal.errors import Position, Problem
from journal.records.asked import Comparison, Order
from journal.records.links import Known, dead_links, links_in, target_of
from journal.records.settings import Settings
from journal.records.shelf import ONE, Shelf
from journal.records.source import Table, place
from journal.records.typed import nearest
from journal.records.write_up import Design, Variant


def crossed(
    root: Path,
    settings: Settings,
    shelf: Shelf,
    designs: Mapping[str, Design],
    unread: frozenset[str],
    comparisons: Mapping[str, Comparison],
    orders: Mapping[str, Order],
) -> Iterator[Problem]:
    """Every problem between files. Designs that could not be read count as known."""
    known_designs = frozenset(designs) | unread
    known_shelf = frozenset(
        f"{kind}/{name}" for kind, table in shelf.written.items() for name in table
    ) | frozenset(shelf.written)
    yield from _shelf_problems(shelf, known_designs)
    for design in designs.values():
        yield from _design_problems(design, shelf, known_designs)
    yield from _circles(designs)
    for order in orders.values():
        yield from _order_problems(order, designs, unread)
    measures = settings.all_measures()
    for comparison in comparisons.values():
        yield from _comparison_problems(comparison, list(measures))
    for path, body, line in [
        *((d.path, d.body, d.body_line) for d in designs.values()),
        *((c.path, c.body, c.body_line) for c in comparisons.values()),
    ]:
        folder = path.rpartition("/")[0]
        files = frozenset(
            target.name
            for _, link, _ in links_in(body, path, line)
            if (target := target_of(link, folder)).kind == "file"
            and (root / target.name).is_file()
            and (root / target.name).resolve().is_relative_to(root.resolve())
        )
        known = Known(known_designs, known_shelf, frozenset(comparisons), files)
        yield from dead_links(body, path, line, known)


def _absent(shelf: Shelf, kind: str, name: str, at: Position) -> Iterator[Problem]:
    # An entry with an error of its own is on the shelf as far as its name goes.
    known = tuple(shelf.written.get(kind, ()))
    if name not in known:
        yield Problem(
            at, f'no {ONE[kind]} "{name}" is on the shelf', nearest(name, known) + _file(kind)
        )


def _file(kind: str) -> str:
    return f" The shelf's file is shelf/{kind}.yaml."


def _shelf_problems(shelf: Shelf, designs: frozenset[str]) -> Iterator[Problem]:
    for name, piece in shelf.pieces.items():
        entry = shelf.written["pieces"][name]
        if piece.mat is not None:
            yield from _absent(shelf, "mats", piece.mat, place(entry, "mat"))
        if piece.mould is not None:
            yield from _absent(shelf, "moulds", piece.mould, place(entry, "mould"))
    for name, colourant in shelf.colourants.items():
        entry = shelf.written["colourants"][name]
        if colourant.same_as is not None:
            yield from _absent(shelf, "colourants", colourant.same_as, place(entry, "same_as"))
    for name, leftover in shelf.leftovers.items():
        entry = shelf.written["leftovers"][name]
        if leftover.base is not None:
            if leftover.base.leftover is not None:
                yield Problem(
                    place(entry, "base"), "a leftover of a leftover", "Name the bases that it was."
                )
            for base, _ in leftover.base.shares:
                yield from _absent(shelf, "bases", base, place(entry, "base"))
        if leftover.tinted not in (None, "no"):
            yield from _absent(shelf, "colourants", str(leftover.tinted), place(entry, "tinted"))
        if leftover.scented is not None:
            yield from _absent(
                shelf, "fragrances", leftover.scented.oil, place(entry, "scented", "oil")
            )
        if leftover.origin is not None and leftover.origin not in designs:
            yield Problem(
                place(entry, "from"),
                f'no design is called "{leftover.origin}"',
                nearest(leftover.origin, designs),
            )


def _design_problems(design: Design, shelf: Shelf, designs: frozenset[str]) -> Iterator[Problem]:
    if design.grew_from is not None and design.grew_from not in designs:
        yield Problem(
            place(design.written, "grew_from"),
            f'no design is called "{design.grew_from}"',
            nearest(design.grew_from, designs),
        )
    for variant in design.variants:
        yield from _recipe_problems(variant, shelf)
    for pour in design.pours:
        for bar in pour.bars:
            if bar.piece is not None:
                yield from _absent(shelf, "pieces", bar.piece, bar.at)


def _recipe_problems(variant: Variant, shelf: Shelf) -> Iterator[Problem]:
    recipe, tree = variant.recipe, variant.written
    for kind, key, name in (
        ("mats", "mat", recipe.mat),
        ("moulds", "mould", recipe.mould),
        ("pieces", "piece", recipe.piece),
    ):
        if name is not None:
            yield from _absent(shelf, kind, name, place(tree, key))
    for number, name in enumerate(recipe.packaging):
        yield from _absent(shelf, "packaging", name, place(tree, "packaging", number))
    for number, layer in enumerate(recipe.layers):
        written = tree["layers"][number]
        if layer.base.leftover is not None:
            yield from _absent(shelf, "leftovers", layer.base.leftover, place(written, "base"))
        for name, _ in layer.base.shares:
            base = written["base"]
            at = base.keys_at[name] if isinstance(base, Table) else base.at
            yield from _absent(shelf, "bases", name, at)
        for index, fragrance in enumerate(layer.fragrance):
            entry = written["fragrance"]
            at = place(entry, "oil") if isinstance(entry, Table) else place(entry, index, "oil")
            yield from _absent(shelf, "fragrances", fragrance.oil, at)
        for index, colour in enumerate(layer.colours):
            entry = written["colours"]
            at = (
                place(entry, "colourant")
                if isinstance(entry, Table)
                else place(entry, index, "colourant")
            )
            yield from _absent(shelf, "colourants", colour.colourant, at)


def _circles(designs: Mapping[str, Design]) -> Iterator[Problem]:
    settled: set[str] = set()
    for start in designs:
        path: list[str] = []
        current: str | None = start
        while current is not None and current in designs and current not in settled:
            if current in path:
                design = designs[min(path[path.index(current) :])]
                yield Problem(
                    place(design.written, "grew_from"),
                    "the designs grew from each other in a circle",
                    "Leave the first of them without grew_from.",
                )
                break
            path.append(current)
            current = designs[current].grew_from
        settled.update(path)


def _order_problems(
    order: Order, designs: Mapping[str, Design], unread: frozenset[str]
) -> Iterator[Problem]:
    for number, line in enumerate(order.asked.designs):
        at = place(order.written, "designs", number, "design")
        if line.design not in designs:
            if line.design not in unread:
                yield Problem(
                    at, f'no design is called "{line.design}"', nearest(line.design, designs)
                )
            continue
        if line.bars < 1:
            yield Problem(
                place(order.written, "designs", number, "bars"),
                "an order of no bars",
                "Write 1 or more.",
            )
        design = designs[line.design]
        if line.variant is not None and line.variant not in [v.name for v in design.variants]:
            yield Problem(
                place(order.written, "designs", number, "variant"),
                f'the design {design.id} has no variant "{line.variant}"',
                nearest(line.variant, [v.name for v in design.variants]),
            )


def _comparison_problems(comparison: Comparison, measures: list[str]) -> Iterator[Problem]:
    for number, name in enumerate(comparison.asked.by):
        if name not in measures:
            yield Problem(
                place(comparison.written, "by", number), f'unknown measure "{name}"',
                nearest(name, measures),
            )  # fmt: skip
