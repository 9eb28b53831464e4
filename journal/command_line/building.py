"""From a notebook's folder to the notebook that is read: the stages, in order."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from journal.command_line.terminal import counted
from journal.comparison.derive import compare_designs
from journal.errors import ContentError, Problem
from journal.figures.derive import Figures, derive_figures
from journal.output import Part, Written, matches_last, recover, write_notebook
from journal.pages.book import program_key
from journal.pages.editions import Edition, edition_problems, for_edition
from journal.pages.notebook import lay_out, open_book
from journal.pages.theme import read_theme
from journal.records.notebook import Notebook, read_notebook


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be made: from which folder, into which, for whom, for how many bars."""

    content: Path
    out: Path
    edition: Edition = "studio"
    bars: int | None = None


@dataclass(frozen=True, slots=True)
class Built:
    """What a build did. ``written`` is None where there was nothing to do."""

    written: Written | None
    warnings: tuple[Problem, ...] = ()
    designs: int = 0


def build_notebook(asked: Asked) -> Built:
    """Make the notebook, or nothing of it.

    Takes:  asked  what is to be made
    Gives:  what was made, kept and removed, and the warnings that the maker is told
    Fails:  ContentError with every error of the content; OutputError if the folder
            cannot be written. The notebook that was there stands as it was.
    """
    recover(asked.out)
    stamp = _stamp(asked)
    if matches_last(asked.out, stamp):
        return Built(None)
    notebook = read_notebook(asked.content)
    figures = derive_figures(notebook)
    cut = _sound(notebook, figures, asked.edition)
    compared = compare_designs(cut)
    theme = read_theme(content=asked.content)
    book = open_book(cut, figures, compared, theme, asked.edition, asked.bars)
    parts = [Part(sheet.path, sheet.key, sheet.make, sheet.lasting) for sheet in lay_out(book)]
    written = write_notebook(asked.out, parts, stamp=stamp, away_from=(asked.content,))
    warnings = tuple(sorted({*notebook.warnings, *(p for p in figures.problems if p.warning)}))
    return Built(written, warnings, len(cut.designs))


def built_lines(built: Built, out: Path) -> tuple[str, ...]:
    """What a build did, in a line or two."""
    where = f"Open it at {out / 'index.html'}"
    if built.written is None:
        return (f"Nothing has changed: the notebook in {out} is up to date.", where)
    made, kept, removed = (
        sum(path.endswith(".html") for path in paths)
        for paths in (built.written.made, built.written.kept, built.written.removed)
    )
    files = len(built.written.made) - made
    others = f" and {counted(files, 'other file')}" if files else ""
    line = f"Made {counted(made, 'page')}{others}, kept {kept}, removed {removed}"
    return (f"{line}: {counted(built.designs, 'design')} in {out}.", where)


def _sound(notebook: Notebook, figures: Figures, edition: Edition) -> Notebook:
    """The notebook cut to its edition; ContentError if anything in it is wrong."""
    errors = [problem for problem in figures.problems if not problem.warning]
    errors.extend(notebook.errors)
    cut = for_edition(notebook, edition)
    errors.extend(edition_problems(notebook, cut, edition))
    if errors:
        raise ContentError(tuple(set(errors)))
    return cut


def _stamp(asked: Asked) -> dict[str, str]:
    """What a notebook is known by: the content, the program, and what was asked for."""
    return {
        "content": _content_key(asked.content),
        "program": program_key(),
        "edition": asked.edition,
        "bars": str(asked.bars or ""),
    }


def _content_key(root: Path) -> str:
    """A digest of every file that a notebook is made from."""
    found = hashlib.blake2b(digest_size=16)
    for path in _files(root):
        name = path.relative_to(root).as_posix().encode("utf-8", "surrogateescape")
        found.update(b"%d %s\n" % (len(name), name))
        try:
            with path.open("rb") as file:
                found.update(hashlib.file_digest(file, "blake2b").digest())
        except OSError:
            found.update(b"cannot be read")
    return found.hexdigest()


def _files(root: Path) -> Iterator[Path]:
    if not root.is_dir():
        return
    for entry in sorted(root.iterdir(), key=lambda entry: entry.name):
        if entry.name.startswith("."):
            continue
        if entry.is_dir() and not entry.is_symlink():
            yield from _files(entry)
        elif entry.is_file():
            yield entry
