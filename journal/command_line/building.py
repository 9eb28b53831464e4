"""From a notebook's folder to the notebook that is read: the stages, in order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from msgspec import Struct

from journal.command_line.answers import (
    Answers,
    Remembered,
    keep_photos,
    known_photos,
    program_and_libraries,
)
from journal.command_line.asking import Asking
from journal.command_line.kept import or_anew
from journal.command_line.kept_designs import KeptDesigns
from journal.command_line.laid import laid_out
from journal.command_line.photo_work import clear_waiting, looked_wholly
from journal.command_line.progress import shown
from journal.command_line.reckoned import Wholes, all_compared, all_derived
from journal.command_line.seen import (
    Seen,
    changed_since,
    keep_program,
    kept_program,
    look,
    program_times,
)
from journal.command_line.surroundings import store_for
from journal.command_line.terminal import counted
from journal.command_line.theme_of import theme_of
from journal.command_line.unchanged import Asked, stamp_of, theme_folders, unchanged_lines
from journal.command_line.workers import spread
from journal.comparison.derive import (
    compare_designs,
)
from journal.errors import ContentError, Problem
from journal.figures.derive import (
    Figures,
    derive_figures,
)
from journal.output import Part, Store, Written, matches_last, recover, write_notebook
from journal.pages.book import Book, program_key
from journal.pages.editions import Edition, edition_problems, for_edition
from journal.pages.notebook import open_book
from journal.photos.derive import bleed_widths, measured_photos
from journal.records.notebook import Notebook, read_notebook


class Built(Struct, frozen=True):
    """What a build did. ``written`` is None where there was nothing to do."""

    written: Written | None
    warnings: tuple[Problem, ...] = ()
    designs: int = 0


def build_notebook(asked: Asked, seen: Seen | None = None) -> Built:
    """Make the notebook, or nothing of it.

    Takes:  asked  what is to be made
            seen   what the content looked like a moment ago, if anybody looked
    Gives:  what was made, kept and removed, and the warnings that the maker is told
    Fails:  ContentError with every error of the content; OutputError if the folder
            cannot be written. The notebook that was there stands as it was.
    """
    store = store_for(asked.content)
    recover(asked.out)
    times = program_times(theme_folders())
    program = kept_program(store, times)
    if program is None:
        program = program_key()
        keep_program(store, times, program)
    return or_anew(store, lambda: _built(asked, store, program, seen))


def _built(asked: Asked, store: Store, program: str, seen: Seen | None) -> Built:
    for more in reversed(range(_TRIES)):
        # Whatever changes until everything is read is seen below.
        seen = seen or look(asked.content, store)
        stamp = stamp_of(asked, seen, program)
        if matches_last(asked.out, stamp):
            return Built(None)
        ready = _ready(asked, store, seen, program)
        changed = changed_since(asked.content, seen)
        if not changed:
            ready.keep()
            break
        seen = None
        if not more:
            # Known to be of no one moment: the next build begins anew.
            stamp = {**stamp, "content": f"{stamp['content']} and changing"}
    ready.asking.keep()
    written = write_notebook(
        asked.out,
        laid_out(store, ready.book),
        stamp=stamp,
        away_from=(asked.content,),
        make_all=make_all,
    )
    clear_waiting(store)
    return Built(written, ready.warnings, len(ready.book.notebook.designs))


#: How often a notebook is read anew because somebody was writing in it.
_TRIES = 3


class _Ready(Struct, frozen=True):
    """A notebook that was read and reckoned, and how to keep what was worked out.

    ``keep`` is called if the files still are what they were; ``asking`` was asked for by
    numbers alone, and its answers hold whatever becomes of the files.
    """

    book: Book
    warnings: tuple[Problem, ...]
    keep: Callable[[], None]
    asking: Asking


def _ready(asked: Asked, store: Store, seen: Seen, program: str) -> _Ready:
    """Read, derive, compare: all that can find a mistake."""
    designs = KeptDesigns(asked.content, store, seen, program)
    notebook = read_notebook(asked.content, designs.known_on, designs.put_by)
    remembered = Remembered(store, notebook, seen, program)
    measured, unmeasured = measured_photos(notebook, remembered)
    widths = bleed_widths(measured)
    answers = Answers(store, notebook, seen, program, asked.edition, designs.front, widths)
    asking = Asking(store, program_and_libraries(program))
    figures = derive_figures(notebook, known=all_derived(notebook, answers, widths, asking))
    _check_sound(notebook, figures, asked.edition)
    cut = for_edition(notebook, asked.edition)
    wholes = Wholes(store, program, cut, figures, asked.edition)
    compared = compare_designs(
        cut,
        known=all_compared(cut, answers),
        answers=wholes.answers(),
    )
    theme = theme_of(store, program, asked.theme or notebook.settings.theme, asked.content)
    photos = known_photos(store, seen, program)
    book = open_book(
        cut,
        figures,
        compared,
        theme,
        asked.edition,
        asked.bars,
        program=program,
        photos=looked_wholly(cut, photos, store),
        measured=measured,
        rates=wholes.rates(),
        of_all=wholes.of_all(),
    )

    def keep() -> None:
        designs.keep(notebook)
        answers.keep()
        wholes.keep()
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
    return _Ready(book, tuple(sorted(warnings)), keep, asking)


def make_all(parts: Sequence[Part]) -> Iterator[bytes]:
    """The bytes of many files, on all cores; those of one photo in one process."""
    made = spread(
        [part.make for part in parts],
        together=lambda number: (
            parts[number].key.rpartition("-")[0] if parts[number].lasting else number
        ),
    )
    return shown(made, len(parts), "other files made")


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


def _check_sound(notebook: Notebook, figures: Figures, edition: Edition) -> None:
    """ContentError if anything in the notebook is wrong, or in what an edition shows of it."""
    errors = [problem for problem in figures.problems if not problem.warning]
    errors.extend(notebook.errors)
    cut = for_edition(notebook, edition)
    errors.extend(edition_problems(notebook, cut, edition))
    if errors:
        raise ContentError(tuple(set(errors)))
