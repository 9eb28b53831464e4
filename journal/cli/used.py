"""Checks of the parts of a notebook that a command uses; errors elsewhere do not stop it."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Container, Iterable, Iterator, Mapping, Sequence

from journal.errors import Position, Problem, UsageError, raise_errors
from journal.figures.day.derive_order import line_variant
from journal.figures.derive import can_be_derived
from journal.records.models.fields import spelling_hint
from journal.records.models.questions import OrderFile
from journal.records.models.shelf import KINDS
from journal.records.models.things import ThingRef, references_of, with_leftovers
from journal.records.models.write_up import Design, Recipe
from journal.records.notebook import Notebook
from journal.records.yaml.tree import WrittenTable
from journal.views.notebook import problems_by_design


def require_known(notebook: Notebook, designs: Iterable[str], orders: Collection[str] = ()) -> None:
    """Raise UsageError, with the nearest id, for a design that does not exist.

    With ``orders`` it may be one of these too.
    """
    ids = [*notebook.designs, *notebook.unreadable, *orders]
    kind = "design or order" if orders else "design"
    for name in designs:
        if name not in ids:
            raise UsageError(f'no {kind} is called "{name}"', spelling_hint(name, ids))


def usable_design(notebook: Notebook, name: str) -> Design:
    """The design of that name, checked with what its recipe uses.

    Fails:  UsageError if there is none; ContentError for errors in what its recipe uses
    """
    require_known(notebook, [name])
    require_recipes(notebook, [(name, None)])
    return notebook.designs[name]


def faulty_designs(notebook: Notebook) -> Mapping[str, tuple[Problem, ...]]:
    """The designs that have an error, each with its errors."""
    errors = problems_by_design(notebook.errors)
    return {
        name: errors.get(name, ())
        for name in (*notebook.designs, *notebook.unreadable)
        if name in errors
        or name not in notebook.designs
        or not can_be_derived(notebook.shelf, notebook.designs[name])
    }


def without_designs(notebook: Notebook, left_out: Container[str]) -> Notebook:
    """The notebook without some designs, and without questions that have an error."""
    faulty_files = {problem.position.path for problem in notebook.errors}
    questions = notebook.comparisons.items()
    return dataclasses.replace(
        notebook,
        designs={name: one for name, one in notebook.designs.items() if name not in left_out},
        summaries={name: one for name, one in notebook.summaries.items() if name not in left_out},
        comparisons={name: one for name, one in questions if one.path not in faulty_files},
    )


def require_bench(notebook: Notebook) -> None:
    """Raise ContentError for errors in what all designs depend on: the settings and the shelf."""
    raise_errors(
        problem
        for problem in notebook.problems
        if problem.position.path.partition("/")[0] not in ("designs", "comparisons", "orders")
    )


def require_sound(notebook: Notebook, designs: Sequence[str]) -> None:
    """Raise ContentError for errors in what these designs use."""
    variants = [
        (name, variant.name)
        for name in designs
        if name in notebook.designs
        for variant in notebook.designs[name].variants
    ]
    require_recipes(notebook, [*((name, None) for name in designs), *variants])


def require_used(notebook: Notebook, chosen: OrderFile) -> None:
    """Raise ContentError for errors in what an order uses, and for nothing else."""
    require_recipes(
        notebook,
        [(line.design, line.variant) for line in chosen.record.designs],
        takes_leftovers=any(line.takes_leftovers for line in chosen.record.designs),
        files=(chosen.path,),
    )


def require_recipes(
    notebook: Notebook,
    wanted: Sequence[tuple[str, str | None]],
    *,
    takes_leftovers: bool = False,
    files: tuple[str, ...] = (),
) -> None:
    """Raise ContentError for errors in what recipes use, and for nothing else.

    ``wanted`` are designs, each with a variant or None; ``files`` are used as well.
    """
    folders = tuple(f"designs/{name}/" for name, _ in wanted)
    recipes = [
        line_variant(notebook.designs[name], variant).recipe
        for name, variant in wanted
        if name in notebook.designs
        and (variant is None or any(variant == one.name for one in notebook.designs[name].variants))
    ]
    things = set(_used_things(notebook, recipes, takes_leftovers))
    used = tuple(
        problem
        for problem in notebook.errors
        if problem.position.path in ("journal.yaml", *files)
        or problem.position.path.startswith(folders)
        or _is_in_used_entry(notebook, problem.position, things)
    )
    if not used and not all(
        name in notebook.designs and can_be_derived(notebook.shelf, notebook.designs[name])
        for name, _ in wanted
    ):
        # A design that cannot be used always has an error; this is the last net.
        used = notebook.errors
    raise_errors(used)


def require_things(notebook: Notebook, things: Iterable[ThingRef]) -> None:
    """Raise ContentError for errors in the settings and in these things of the shelf."""
    wanted = set(things)
    raise_errors(
        problem
        for problem in notebook.errors
        if problem.position.path == "journal.yaml"
        or _is_in_used_entry(notebook, problem.position, wanted)
    )


def _used_things(
    notebook: Notebook, recipes: Iterable[Recipe], takes_leftovers: bool
) -> tuple[ThingRef, ...]:
    """The things of the shelf that recipes use; all leftovers with ``takes_leftovers``."""
    things: list[ThingRef] = []
    if takes_leftovers:
        things += (("leftovers", name) for name in notebook.shelf.written.get("leftovers", ()))
    for recipe in recipes:
        things += ((one.kind, one.name) for one in references_of(recipe))
        things += (("pieces", name) for name in _pieces_of(notebook, recipe.mat))
    return with_leftovers(notebook.shelf, things)


def _pieces_of(notebook: Notebook, mat: str | None) -> Iterator[str]:
    """The names of a mat's pieces, those with an error too; none for no mat."""
    for name, entry in notebook.shelf.written.get("pieces", {}).items():
        if mat is not None and isinstance(entry, WrittenTable) and entry.get("mat") == mat:
            yield name


def _is_in_used_entry(notebook: Notebook, at: Position, things: set[ThingRef]) -> bool:
    """Whether a position is in the shelf's entry of one of ``things``.

    In a file that cannot be parsed, every position of a kind in ``things`` counts.
    """
    folder, _, file = at.path.partition("/")
    kind = file.removesuffix(".yaml")
    if folder != "shelf" or kind not in KINDS:
        return False
    tree = notebook.shelf.written.get(kind)
    if tree is None:
        return any(kind == used for used, _ in things)
    above = [name for name in tree if tree.key_at(name).line <= at.line]
    return bool(above) and (kind, above[-1]) in things  # the entry that the line belongs to
