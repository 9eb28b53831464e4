"""Whether a notebook, or the part of it that a command uses, can be worked with."""

from __future__ import annotations

from collections.abc import Sequence

from journal.command_line.used import require_recipes
from journal.errors import ContentError, Problem, UsageError
from journal.figures.derive import Figures
from journal.records.notebook import Notebook
from journal.records.typed import nearest


def all_problems(notebook: Notebook, derived: Figures) -> tuple[Problem, ...]:
    """What reading and reckoning found, sorted by place."""
    return tuple(sorted({*notebook.problems, *derived.problems}))


def only_known(notebook: Notebook, designs: Sequence[str]) -> None:
    """Raise UsageError, with the nearest id, for a design that there is not."""
    known = [*notebook.designs, *notebook.unread]
    for name in designs:
        if name not in known:
            raise UsageError(f'no design is called "{name}"', nearest(name, known))


def require_sound(notebook: Notebook, derived: Figures, designs: Sequence[str]) -> None:
    """Raise ContentError for errors in what these designs use; without any, for every error."""
    if not designs:
        found = tuple(p for p in all_problems(notebook, derived) if not p.warning)
        if found:
            raise ContentError(found)
        return
    variants = [
        (name, variant.name)
        for name in designs
        if name in notebook.designs
        for variant in notebook.designs[name].variants
    ]
    require_recipes(notebook, [*((name, None) for name in designs), *variants])
    folders = tuple(f"designs/{name}/" for name in designs)
    found = tuple(
        problem
        for problem in derived.problems
        if not problem.warning and problem.position.path.startswith(folders)
    )
    if found:
        raise ContentError(found)
