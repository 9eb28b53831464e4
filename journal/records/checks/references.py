"""Check the files of a notebook against each other: unknown ids, dead links, misfit pieces."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

from msgspec.structs import replace

from journal.errors import Position, Problem
from journal.quantities.number import excerpt
from journal.records.checks.comparisons import comparison_problems
from journal.records.designs import recipes_of
from journal.records.models.fields import Record, spelling_hint, unknown_name, validated
from journal.records.models.links import LinkTargets, dead_links, links_in, target_of
from journal.records.models.questions import ComparisonFile, OrderFile
from journal.records.models.settings import Measure
from journal.records.models.shelf import KINDS, Piece, Shelf, may_be_on_shelf, missing_thing_problem
from journal.records.models.summary import DesignSummary, mould_of
from journal.records.models.things import references_of
from journal.records.models.trim import SAME_BORDER_MM, Trim
from journal.records.models.variants import merged_with_changes
from journal.records.models.write_up import Design, Pour, Recipe, Variant
from journal.records.yaml import tree as yaml_tree
from journal.records.yaml.source import is_file, stays_in_notebook


class ReferenceChecker:
    """Finds names and links in a notebook that refer to nothing.

    Designs and files of the shelf that could not be read count as having everything that is
    referred to in them.
    """

    def __init__(
        self, root: Path, shelf: Shelf, designs: Collection[str], comparisons: Collection[str]
    ) -> None:
        """``designs`` and ``comparisons`` are ids; those of unreadable designs are among them."""
        self._root, self._shelf = root, shelf
        self._designs, self._comparisons = frozenset(designs), frozenset(comparisons)
        self._known_shelf = frozenset(
            f"{kind}/{name}" for kind, table in shelf.written.items() for name in table
        ).union(shelf.written, shelf.unread)

    def of_shelf(self) -> Iterator[Problem]:
        """Yield a problem for each name on the shelf that refers to nothing or in a circle."""
        return _shelf_problems(self._shelf, self._designs)

    def of_design(self, design: Design) -> Iterator[Problem]:
        """Yield a problem for each name and link of a design that refers to nothing."""
        yield from _design_problems(design, self._shelf, self._designs)
        yield from self._dead_links(design.path, design.body, design.body_line)

    def of_comparison(
        self,
        comparison: ComparisonFile,
        measures: Mapping[str, Measure] | None,
        layers: Collection[str] | None,
    ) -> Iterator[Problem]:
        """Yield a problem for each name and link of a question that refers to nothing.

        ``measures`` and ``layers`` as in ``comparison_problems``.
        """
        yield from comparison_problems(comparison, measures, self._shelf, layers)
        yield from self._dead_links(comparison.path, comparison.body, comparison.body_line)

    def _dead_links(self, path: str, body: str, line: int) -> Iterator[Problem]:
        """Yield a problem for each dead link of a Markdown text, which begins on ``line``."""
        if "](" not in body and "]:" not in body:
            return
        folder = path.rpartition("/")[0]
        links = [(link, target_of(link[1], folder)) for link in links_in(body, path, line)]
        files = frozenset(
            target.name
            for _, target in links
            if target.kind == "file"
            and is_file(self._root, target.name)
            and stays_in_notebook(self._root, target.name)
        )
        known = LinkTargets(
            self._designs, self._known_shelf, self._comparisons, files, self._shelf.unread
        )
        yield from dead_links(links, known)


def _unknown_names(
    record: Record, tree: yaml_tree.WrittenTable, shelf: Shelf, designs: Collection[str]
) -> Iterator[Problem]:
    """Yield a problem for each thing or design that a record names and that does not exist."""
    for one in references_of(record):
        written = yaml_tree.value_at(tree, one.path)
        # Bases with their shares are the keys of a mapping, or stand in a list of parts.
        at = written.at
        if isinstance(written, yaml_tree.WrittenTable):
            at = written.key_at(one.name)
        elif isinstance(written, yaml_tree.WrittenList):
            named = (value for part in written for value in part.values() if value == one.name)
            at = next((value.at for value in named), at)
        if one.kind == "designs":
            yield from _no_design(one.name, at, designs)
        elif not may_be_on_shelf(shelf, one.kind, one.name):
            yield missing_thing_problem(shelf, one.kind, one.name, at)


def _no_design(name: str, at: Position, designs: Collection[str]) -> Iterator[Problem]:
    """Yield a problem if no design has the id ``name``."""
    if name not in designs:
        yield unknown_name(name, at, designs, "design")


def _shelf_problems(shelf: Shelf, designs: frozenset[str]) -> Iterator[Problem]:
    """Yield problems of names on the shelf: of nothing, in a circle, leftovers of leftovers."""
    for kind in KINDS:
        for name, record in shelf.of_kind(kind).items():
            yield from _unknown_names(record, shelf.written[kind][name], shelf, designs)
    yield from _same_as_circles(shelf)
    for name, leftover in shelf.leftovers.items():
        if leftover.base is not None and leftover.base.of_leftover:
            at = yaml_tree.position_of(shelf.written["leftovers"][name], "base")
            yield Problem(at, "a leftover of a leftover", "Name the bases that it was.")


def _same_as_circles(shelf: Shelf) -> Iterator[Problem]:
    """Yield a problem for each circle of ``same_as``, at its first colourant by name."""
    next_name = {name: record.same_as for name, record in shelf.colourants.items()}
    for name in _first_of_circles(next_name):
        at = yaml_tree.position_of(shelf.written["colourants"][name], "same_as")
        what = "the colourants are each other's earlier entry in a circle"
        yield Problem(at, what, "Leave the first of them without same_as.")


def _design_problems(design: Design, shelf: Shelf, designs: frozenset[str]) -> Iterator[Problem]:
    """Yield problems of names in a design that refer to nothing, and of pieces that do not fit."""
    if design.grew_from is not None:
        yield from _no_design(
            design.grew_from, yaml_tree.position_of(design.written, "grew_from"), designs
        )
    recipes: dict[str, Recipe] = {}
    for variant in recipes_of(design):
        recipes[variant.name] = variant.recipe
        yield from _recipe_problems(variant, shelf)
    yield from dict.fromkeys(
        problem
        for pour in design.pours
        if pour.did is not None
        for problem in _did_problems(design, pour.did, shelf)
    )
    for bar in design.bars:
        if bar.piece is None:
            continue
        at = bar.piece_at or bar.at
        if not may_be_on_shelf(shelf, "pieces", bar.piece):
            yield missing_thing_problem(shelf, "pieces", bar.piece, at)
        elif bar.piece in shelf.pieces:
            yield from _misfits(shelf.pieces[bar.piece], bar.piece, recipes[bar.variant], at)
    for pour in design.pours:
        yield from _cavity_problems(pour, recipes, shelf)
        yield from _peeling_problems(pour)
    planned = 0 if design.plan is None else design.plan.bars or 0
    mould = shelf.moulds.get(design.recipe.mould or "")
    if mould is not None and mould.bars is not None and planned > mould.bars:
        what = f"the mould {excerpt(str(design.recipe.mould))} holds {mould.bars} bars"
        at = yaml_tree.position_of(design.written, "plan", "bars")
        yield Problem(at, what, f"Write up to {mould.bars}; a second mouldful is a pot more.")


def _cavity_problems(pour: Pour, recipes: Mapping[str, Recipe], shelf: Shelf) -> Iterator[Problem]:
    """Yield a problem for each bar in a cavity that its mould has not, or that another lay in."""
    taken: dict[tuple[str | None, int], str] = {}
    for bar in pour.bars:
        if bar.cavity is None or bar.cavity_at is None:
            continue
        name = mould_of(pour, recipes[bar.variant])
        mould = shelf.moulds.get(name or "")
        first = taken.setdefault((name, bar.cavity), bar.bar)
        if mould is not None and mould.bars is not None and bar.cavity > mould.bars:
            what = f"the mould {excerpt(str(name))} has no cavity {bar.cavity}"
            hint = f"Write 1 to {mould.bars}; a second mouldful is a pour of its own."
            yield Problem(bar.cavity_at, what, hint)
        elif first != bar.bar:
            what = f"{excerpt(bar.bar)} lies in cavity {bar.cavity}, and so does {excerpt(first)}"
            yield Problem(bar.cavity_at, what, "Mend one of the two.")


def _peeling_problems(pour: Pour) -> Iterator[Problem]:
    """Yield a problem for each bar that was peeled when another one was."""
    first: dict[int, str] = {}
    for bar in pour.bars:
        if bar.peeled is not None and first.setdefault(bar.peeled, bar.bar) != bar.bar:
            both = f"{excerpt(bar.bar)} and {excerpt(first[bar.peeled])}"
            what = f"{both} have one place in the order of peeling, {bar.peeled}"
            yield Problem(bar.at, what, "Mend one of the two.")


def _did_problems(design: Design, did: yaml_tree.WrittenTable, shelf: Shelf) -> Iterator[Problem]:
    """Yield problems of what a pour did otherwise: those of the changed recipes, within ``did``."""
    within = frozenset(_positions(did))
    for variant in recipes_of(design):
        tree = merged_with_changes(variant.written, did, [])
        recipe = validated(Recipe, tree, "", [])
        if recipe is not None:
            changed = replace(variant, recipe=recipe, source=yaml_tree.SourceTree(tree))
            yield from (p for p in _recipe_problems(changed, shelf) if p.position in within)


def _positions(
    tree: yaml_tree.WrittenTable | yaml_tree.WrittenList | yaml_tree.WrittenText,
) -> Iterator[Position]:
    """Yield the position of each key and each value of a tree."""
    yield tree.at
    if isinstance(tree, yaml_tree.WrittenTable):
        yield from tree.keys_at.values()
    if not isinstance(tree, yaml_tree.WrittenText):
        for value in tree.values() if isinstance(tree, yaml_tree.WrittenTable) else tree:
            yield from _positions(value)


def _recipe_problems(variant: Variant, shelf: Shelf) -> Iterator[Problem]:
    """Yield problems of names in a variant's recipe, and of a piece that does not fit it."""
    recipe, tree = variant.recipe, variant.written
    yield from _unknown_names(recipe, tree, shelf, ())
    piece = shelf.pieces.get(recipe.piece or "")
    if piece is not None:
        yield from _misfits(piece, str(recipe.piece), recipe, tree["piece"].at)


def _misfits(piece: Piece, name: str, recipe: Recipe, at: Position) -> Iterator[Problem]:
    """Yield a warning if a piece differs from the recipe in its mat, its mould or its trim."""
    for key in ("mat", "mould"):
        of_piece, in_recipe = getattr(piece, key), getattr(recipe, key)
        if of_piece is not None and in_recipe is not None and of_piece != in_recipe:
            what = f"the piece {excerpt(name)} is for the {key} {excerpt(of_piece)}"
            hint = f"Name a piece for that {key}, or mend shelf/pieces.yaml."
            yield Problem(at, f"{what}, and the recipe says {excerpt(in_recipe)}", hint, True)
    own_trim, trim = piece.trim, recipe.trim
    if own_trim is not None and trim is not None and not _same_trim(own_trim, trim):
        what = f"the piece {excerpt(name)} is cut {_trim_text(own_trim)}"
        hint = "Name a piece of that trim, or mend shelf/pieces.yaml."
        yield Problem(at, f"{what}, and the recipe says {_trim_text(trim)}", hint, True)


def _same_trim(one: Trim, other: Trim) -> bool:
    """Whether two trims are of the same kind and, if both state it, have about the same margin."""
    if one.kind != other.kind or one.margin_mm is None or other.margin_mm is None:
        return one.kind == other.kind
    return abs(one.margin_mm - other.margin_mm) <= SAME_BORDER_MM


def _trim_text(trim: Trim) -> str:
    return f"{trim.kind} {trim.margin_mm:.3g} mm" if trim.margin_mm else trim.kind


def ancestry_cycles(
    designs: Mapping[str, Design], summaries: Mapping[str, DesignSummary]
) -> Iterator[Problem]:
    """Yield a problem for each circle of designs that grew from each other, at the first by id."""
    for name in _first_of_circles({name: summary.grew_from for name, summary in summaries.items()}):
        at = yaml_tree.position_of(designs[name].written, "grew_from")
        what = "the designs grew from each other in a circle"
        yield Problem(at, what, "Leave the first of them without grew_from.")


def _first_of_circles(next_name: Mapping[str, str | None]) -> Iterator[str]:
    """Yield the first name, by the alphabet, of each circle in a mapping from name to name."""
    settled: set[str] = set()
    for start in next_name:
        path: dict[str, int] = {}
        current: str | None = start
        while current is not None and current in next_name and current not in settled:
            if current in path:
                yield min(list(path)[path[current] :])
                break
            path[current] = len(path)
            current = next_name[current]
        settled.update(path)


def order_problems(
    order: OrderFile, designs: Mapping[str, Design], unread: Collection[str]
) -> Iterator[Problem]:
    """Yield problems of unknown designs in an order, and of variants where a design was read."""
    for number, line in enumerate(order.record.designs):
        design = designs.get(line.design)
        if design is None or line.design in unread:
            if line.design not in unread:
                at = yaml_tree.position_of(order.written, "designs", number, "design")
                yield from _no_design(line.design, at, designs)
            continue
        names = [variant.name for variant in design.variants]
        if line.variant is not None and line.variant not in names:
            at = yaml_tree.position_of(order.written, "designs", number, "variant")
            what = f"the design {design.id} has no variant {excerpt(line.variant)}"
            yield Problem(at, what, spelling_hint(line.variant, names))
