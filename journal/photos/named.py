"""Which photos the write-ups of a notebook name, and where; which of them cannot be shown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from journal.errors import Position, Problem
from journal.photos.source import PhotoProblem, photo_size
from journal.records.models.links import pictures_in
from journal.records.notebook import Notebook


def named_photos(notebook: Notebook) -> Iterator[tuple[Position, str]]:
    """Every place that a photo is named at, with its path in the notebook; those that are there.

    Reading the notebook has reported those that are missing.
    """
    named = [design.pictures for design in notebook.summaries.values()]
    named += [
        tuple(pictures_in(asked.body, asked.path, asked.body_line))
        for asked in notebook.comparisons.values()
    ]
    for pictures in named:
        for at, path in pictures:
            if (notebook.root / path).is_file():
                yield at, path


def photo_warnings(notebook: Notebook, problems: Mapping[str, PhotoProblem]) -> tuple[Problem, ...]:
    """A warning at every place that names a photo which cannot be shown; problems by path."""
    return tuple(
        Problem(at, problems[path].what, f"{problems[path].hint}.", warning=True)
        for at, path in dict.fromkeys(named_photos(notebook))
        if path in problems
    )


def unreadable_photos(notebook: Notebook) -> tuple[Problem, ...]:
    """Warnings for files whose first bytes are those of no photo; nothing is decoded."""
    problems: dict[str, PhotoProblem] = {}
    for path in dict.fromkeys(path for _, path in named_photos(notebook)):
        try:
            photo_size(notebook.root / path)
        except PhotoProblem as problem:
            problems[path] = problem
    return photo_warnings(notebook, problems)
