"""Which photos the write-ups of a notebook name, and where; which of them cannot be shown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from journal.errors import Position, Problem
from journal.photos.source import PhotoProblem, probe
from journal.records.links import links_in, target_of
from journal.records.notebook import Notebook
from journal.records.source import inside, place


def named_photos(notebook: Notebook) -> Iterator[tuple[Position, str]]:
    """Every place that a photo is named at, with its path in the notebook; those that are there.

    One that is not there is an error that was told when the notebook was read.
    """
    for design in notebook.designs.values():
        folder = design.path.rpartition("/")[0]
        for number, photo in enumerate(design.photos):
            path = inside(photo.file, folder)
            if path is not None and (notebook.root / path).is_file():
                yield place(design.written, "photos", number, "file"), path
    texts = [(d.path, d.body, d.body_line) for d in notebook.designs.values()]
    texts += [(c.path, c.body, c.body_line) for c in notebook.comparisons.values()]
    for source, body, line in texts:
        for at, link, is_picture in links_in(body, source, line):
            target = target_of(link, source.rpartition("/")[0])
            if is_picture and target.kind == "file" and (notebook.root / target.name).is_file():
                yield at, target.name


def told_where_named(
    notebook: Notebook, problems: Mapping[str, PhotoProblem]
) -> tuple[Problem, ...]:
    """A warning at every place that names a photo which cannot be shown.

    Takes:  notebook  whose write-ups name the photos
            problems  what is wrong with photos, by path
    Gives:  warnings; nothing is left out but the photo, so that none stops the notebook
    """
    return tuple(
        Problem(at, problems[path].what, f"{problems[path].mend}.", warning=True)
        for at, path in dict.fromkeys(named_photos(notebook))
        if path in problems
    )


def unreadable_photos(notebook: Notebook) -> tuple[Problem, ...]:
    """Warnings for photos that are told to be none by their first bytes; nothing is decoded."""
    problems: dict[str, PhotoProblem] = {}
    for path in dict.fromkeys(path for _, path in named_photos(notebook)):
        try:
            probe(notebook.root / path)
        except PhotoProblem as problem:
            problems[path] = problem
    return told_where_named(notebook, problems)
