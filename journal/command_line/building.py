"""From a notebook's folder to the notebook that is read: the stages, in order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from journal.command_line.answers import (
    Recalled,
    Remembered,
    keep_answers,
    keep_photos,
    known_answers,
    known_photos,
)
from journal.command_line.photo_work import clear_waiting, looked_wholly, waiting
from journal.command_line.progress import shown
from journal.command_line.seen import Seen, changed_since, keep_program, look, program_times
from journal.command_line.surroundings import store_for
from journal.command_line.terminal import counted
from journal.command_line.unchanged import Asked, stamp_of, theme_folders, unchanged_lines
from journal.command_line.workers import spread
from journal.comparison.across import across
from journal.comparison.derive import DesignResults, compare_designs, design_results
from journal.errors import ContentError, Problem
from journal.figures.derive import (
    Derived,
    Figures,
    PhotoWidths,
    derive_figures,
    derived,
    referenced,
)
from journal.figures.thresholds import pour_threshold
from journal.output import Part, Store, Written, matches_last, recover, write_notebook
from journal.pages.book import Book, program_key
from journal.pages.editions import Edition, edition_problems, for_edition
from journal.pages.notebook import lay_out, open_book
from journal.pages.theme import read_theme
from journal.photos.derive import bleed_widths, measured_photos
from journal.records.notebook import Notebook, read_notebook


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
    store = store_for(asked.content)
    recover(asked.out)
    times = program_times(theme_folders())
    program = program_key()
    keep_program(store, times, program)
    for more in reversed(range(_TRIES)):
        seen = look(asked.content, store)
        stamp = stamp_of(asked, seen, program)
        if matches_last(asked.out, stamp):
            return Built(None)
        ready = _ready(asked, store, seen, program)
        changed = changed_since(asked.content, seen)
        if not changed:
            ready.keep()
            break
        if not more:
            # Known to be of no one moment: the next build begins anew.
            stamp = {**stamp, "content": f"{stamp['content']} and changing"}
    parts = [
        Part(sheet.path, sheet.key, sheet.make, sheet.lasting)
        for sheet in lay_out(ready.book, partial(waiting, store))
    ]
    for recalled in ready.sums:
        recalled.keep()
    written = write_notebook(
        asked.out, parts, stamp=stamp, away_from=(asked.content,), make_all=make_all
    )
    clear_waiting(store)
    return Built(written, ready.warnings, len(ready.book.notebook.designs))


#: How often a notebook is read anew because somebody was writing in it.
_TRIES = 3


@dataclass(frozen=True, slots=True)
class _Ready:
    """A notebook that was read and reckoned, and how to keep what was worked out.

    ``keep`` is called if the files still are what they were; ``sums`` were asked for by
    numbers alone, and hold whatever becomes of the files.
    """

    book: Book
    warnings: tuple[Problem, ...]
    keep: Callable[[], None]
    sums: tuple[Recalled[Any], ...]


def _ready(asked: Asked, store: Store, seen: Seen, program: str) -> _Ready:
    """Read, derive, compare: all that can find a mistake."""
    notebook = read_notebook(asked.content)
    kept = known_answers(store, notebook, seen, program, asked.edition)
    remembered = Remembered(store, notebook, seen, program)
    measured, unmeasured = measured_photos(notebook, remembered)
    derived_ones = all_derived(notebook, kept.figures, bleed_widths(measured))
    figures = derive_figures(notebook, known=derived_ones)
    cut = _sound(notebook, figures, asked.edition)
    asked_across = Recalled(store, f"across-{asked.edition}", program, across)
    compared = compare_designs(
        cut, known=all_compared(cut, kept.results), compare_across=asked_across
    )
    theme = read_theme(asked.theme or notebook.settings.theme, asked.content)
    photos = known_photos(store, seen, program)
    threshold = Recalled(store, f"thresholds-{asked.edition}", program, pour_threshold)
    book = open_book(
        cut,
        figures,
        compared,
        theme,
        asked.edition,
        asked.bars,
        photos=looked_wholly(cut, photos, store),
        measured=measured,
        threshold=threshold,
    )

    def keep() -> None:
        keep_answers(store, kept, asked.edition, derived_ones, compared.designs)
        keep_photos(store, seen, program, photos, book.photos)
        remembered.keep()

    # Of a photo that cannot be shown it need not be told as well that it cannot be measured.
    told = {problem.what for problem in book.unshown}
    warnings = {
        *notebook.warnings,
        *book.unshown,
        *(problem for problem in unmeasured if problem.what not in told),
        *(problem for problem in figures.problems if problem.warning),
    }
    return _Ready(book, tuple(sorted(warnings)), keep, (asked_across, threshold))


def all_derived(
    notebook: Notebook, known: Mapping[str, Derived], widths: PhotoWidths
) -> dict[str, Derived]:
    """The figures of all designs: those that are known, the rest on all cores."""
    todo = [
        design
        for name, design in notebook.designs.items()
        if name not in known and referenced(notebook.shelf, design)
    ]
    # Designs of one mat mostly share the answers of the bond model.
    answers = spread(
        [
            partial(derived, notebook, design, photo_widths=widths.get(design.id, {}))
            for design in todo
        ],
        together=lambda number: todo[number].recipe.mat,
    )
    told = shown(answers, len(todo), "designs reckoned")
    return {**known, **{design.id: found for design, found in zip(todo, told, strict=True)}}


def all_compared(cut: Notebook, known: Mapping[str, DesignResults]) -> dict[str, DesignResults]:
    """The comparisons of all designs: those that are known, the rest on all cores."""
    todo = [design for name, design in cut.designs.items() if name not in known]
    answers = spread([partial(design_results, cut.settings, cut.shelf, design) for design in todo])
    told = shown(answers, len(todo), "designs compared")
    return {**known, **{design.id: found for design, found in zip(todo, told, strict=True)}}


def make_all(parts: Sequence[Part]) -> Iterator[bytes]:
    """The bytes of many files, on all cores; those of one photo in one process."""
    made = spread(
        [part.make for part in parts],
        together=lambda number: (
            parts[number].key.rpartition("-")[0] if parts[number].lasting else number
        ),
    )
    return shown(made, len(parts), "pages and photos made")


def built_lines(built: Built, out: Path) -> tuple[str, ...]:
    """What a build did, in a line or two."""
    if built.written is None:
        return unchanged_lines(out)
    where = f"Open it at {out / 'index.html'}"
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
