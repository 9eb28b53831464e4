"""A notebook made while somebody writes in it: what cannot be read stands as it was.

What was read and reckoned is kept from one time to the next, by what the files held.
A save in one design's folder is answered with that design's page at once, however large
the notebook is; the rest follows when the hands rest.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from itertools import chain
from typing import TypeVar

from msgspec import Struct

from journal.command_line.answers import (
    Answers,
    Remembered,
    known_photos,
    program_and_libraries,
)
from journal.command_line.asking import Asking
from journal.command_line.building import make_all
from journal.command_line.kept import or_anew
from journal.command_line.kept_designs import KeptDesigns
from journal.command_line.laid import as_part, laid_out
from journal.command_line.photo_work import clear_waiting, looked_wholly
from journal.command_line.reckoned import Wholes, all_compared, all_derived
from journal.command_line.seen import Seen, changed_since, look
from journal.command_line.surroundings import store_for
from journal.command_line.theme_of import theme_of
from journal.command_line.unchanged import Asked
from journal.comparison.derive import Compared, DesignResults, compare_designs, design_results
from journal.errors import Problem
from journal.figures.derive import Derived, Figures, derive_figures, derived
from journal.output import recover, write_notebook
from journal.pages.book import Book, program_key
from journal.pages.design import design_sheets
from journal.pages.editions import edition_problems, for_edition
from journal.pages.notebook import by_design, open_book
from journal.pages.parts import Page, Passage, Points, Said, Span
from journal.pages.parts import Part as PagePart
from journal.pages.photos import ReadyPhoto
from journal.pages.places import FIXED, Place
from journal.pages.sheet import Sheet
from journal.photos.derive import bleed_widths, measured_photos
from journal.records.asked import Comparison, Order
from journal.records.designs import read_design
from journal.records.notebook import SETTINGS_FILE, Notebook, read_notebook
from journal.records.shelf import KINDS, Leftover, Shelf
from journal.records.write_up import Design

Asks = TypeVar("Asks", Comparison, Order)
Thing = TypeVar("Thing")

# What a preview's folder is known by: no build takes it for one of its own.
STAMP: Mapping[str, str] = {"preview": "1"}


class Newer(Exception):
    """Something was saved meanwhile: what is being made is out of date."""


class Made(Struct, frozen=True):
    """What became of the notebook: paths that are new, other or gone, and what is wrong."""

    paths: tuple[str, ...]
    problems: tuple[Problem, ...]
    designs: int = 0


class _Last(Struct, frozen=True):
    """What was made last, with everything that it was made from."""

    seen: Seen
    folders: Mapping[str, str]
    notebook: Notebook
    figures: Mapping[str, Derived]
    results: Mapping[str, DesignResults]
    book: Book


class Desk:
    """One notebook, made again and again."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._store = store_for(asked.content)
        self._program = program_key()
        self._asking = Asking(self._store, program_and_libraries(self._program))
        self._last: _Last | None = None

    def make(self, is_newer: Callable[[], bool] = lambda: False) -> Made:
        """Make the whole notebook, as far as it can be.

        Takes:  is_newer  whether something was saved meanwhile; asked now and then
        Gives:  what changed, and every problem
        Fails:  Newer if something was saved meanwhile; OutputError if the folder cannot be
                written; ContentError if there is no notebook, or its own theme is at fault.
                What was made before stands then.
        """
        return or_anew(self._store, partial(self._make, is_newer), self._forget)

    def _forget(self) -> None:
        self._last = None

    def _make(self, is_newer: Callable[[], bool]) -> Made:
        asked, store = self._asked, self._store
        seen = look(asked.content, store)
        recover(asked.out)
        designs = KeptDesigns(asked.content, store, seen, self._program)
        notebook = read_notebook(asked.content, designs.known_on, designs.put_by)
        told = _told(notebook)
        notebook = self._mended(notebook)
        folders = _folders(seen)
        known = self._known(seen, folders, notebook)
        _stop(is_newer)
        remembered = Remembered(store, notebook, seen, self._program)
        measured, unmeasured = measured_photos(notebook, remembered)
        widths = bleed_widths(measured)
        answers = Answers(
            store, notebook, seen, self._program, asked.edition, designs.front, widths
        )
        figured = all_derived(notebook, answers, widths, self._asking, known.figures)
        figures = derive_figures(notebook, known=figured)
        cut = for_edition(notebook, asked.edition)
        _stop(is_newer)
        results = all_compared(cut, answers, known.results)
        wholes = Wholes(store, self._program, cut, figures, asked.edition)
        compared = compare_designs(cut, known=results, answers=wholes.answers())
        theme = theme_of(
            store, self._program, asked.theme or notebook.settings.theme, asked.content
        )
        photos = known_photos(store, seen, self._program)
        if self._last is not None:
            photos = {**photos, **_same_photos(self._last, seen)}
        book = open_book(
            cut, figures, compared, theme, asked.edition, asked.bars, program=self._program,
            photos=looked_wholly(cut, photos, store), measured=measured,
            rates=wholes.rates(), of_all=wholes.of_all(),
        )  # fmt: skip
        _stop(is_newer)
        problems = {
            *told, *unmeasured, *book.unshown, *figures.problems,
            *edition_problems(notebook, cut, asked.edition),
        }  # fmt: skip
        stubs = [as_part(stub(book, name, problems)) for name in notebook.unread]
        written = write_notebook(
            asked.out,
            _unless(is_newer, chain(laid_out(store, book), stubs)),
            stamp=STAMP,
            away_from=(asked.content,),
            make_all=lambda parts: _unless(is_newer, make_all(parts)),
        )
        clear_waiting(store)
        # What was saved meanwhile was read, and is known by what stood there before.
        moved = bool(changed_since(asked.content, seen))
        if not moved and not any(not problem.warning for problem in problems):
            designs.keep(notebook)
            if self._last is None:
                answers.keep()
        for recalled in (self._asking, wholes):
            recalled.keep()
        known_by = Seen({}, {}, frozenset()) if moved else seen
        self._last = _Last(known_by, folders, notebook, figured, results, book)
        return Made((*written.made, *written.removed), tuple(sorted(problems)), len(cut.designs))

    def make_page(self, changed: Iterable[str]) -> dict[str, bytes]:
        """The page of the one design that was changed, if nothing else was; else nothing.

        Takes:  changed  paths from the content folder
        Gives:  bytes by path from the notebook's root; none for a write-up with errors, or
                one whose title or date is another, since these stand on other pages too
        """
        last, folders = self._last, {path.split("/")[:2][-1] for path in changed}
        if last is None or len(folders) != 1 or self._asked.edition != "studio":
            return {}
        (name,) = folders
        before = last.notebook.designs.get(name)
        if before is None or any(not path.startswith(f"designs/{name}/") for path in changed):
            return {}
        settings = last.notebook.settings
        problems: list[Problem] = []
        read = read_design(self._asked.content, name, settings, True, problems)
        if read is None or not read.sound or any(not problem.warning for problem in problems):
            return {}
        design = read.design
        if (design.title, design.date) != (before.title, before.date):
            return {}
        folder = f"designs/{name}/"
        others = [p for p in last.notebook.problems if not p.position.path.startswith(folder)]
        notebook = dataclasses.replace(
            last.notebook,
            designs={**last.notebook.designs, name: design},
            problems=tuple(sorted((*others, *problems))),
        )
        book = last.book
        found, own = derived(notebook, design)
        figures = Figures(
            {**book.figures.designs, name: found},
            tuple(sorted({*(p for p in book.figures.problems
                            if not p.position.path.startswith(folder)), *own})),
        )  # fmt: skip
        results = {
            **book.compared.designs, name: design_results(settings, notebook.shelf, design)
        }  # fmt: skip
        changed_book = dataclasses.replace(
            book,
            notebook=notebook,
            figures=figures,
            compared=Compared(results, book.compared.across),
            problems=by_design((*notebook.problems, *figures.problems, *book.unshown)),
        )
        return {sheet.path: sheet.make() for sheet in design_sheets(changed_book, name)}

    def _mended(self, notebook: Notebook) -> Notebook:
        """The notebook with what cannot be read as it was when it could be."""
        last = self._last
        if last is None:
            return dataclasses.replace(
                notebook,
                shelf=_whole_leftovers(notebook.shelf),
                comparisons=_without_wrong(notebook, notebook.comparisons, {}),
                orders=_without_wrong(notebook, notebook.orders, {}),
            )
        kept = {n: last.notebook.designs[n] for n in notebook.unread if n in last.notebook.designs}
        found = {**notebook.designs, **kept}
        # Their pages stand as they were, without marks of what is written now.
        folders = tuple(f"designs/{name}/" for name in kept)
        return dataclasses.replace(
            notebook,
            problems=tuple(p for p in notebook.problems if not p.position.path.startswith(folders)),
            designs=dict(sorted(found.items())),
            unread=tuple(name for name in notebook.unread if name not in found),
            settings=last.notebook.settings
            if _is_wrong(notebook, SETTINGS_FILE)
            else notebook.settings,
            shelf=_whole_leftovers(_mended_shelf(notebook, found.values(), last.notebook.shelf)),
            comparisons=_without_wrong(notebook, notebook.comparisons, last.notebook.comparisons),
            orders=_without_wrong(notebook, notebook.orders, last.notebook.orders),
        )

    def _known(self, seen: Seen, folders: Mapping[str, str], notebook: Notebook) -> _Known:
        """The answers for designs whose files, and all that they are made with, are the same."""
        last = self._last
        if last is None or _ground(last.seen) != _ground(seen):
            return _Known({}, {})
        same = {
            name
            for name, design in notebook.designs.items()
            if folders.get(name) == last.folders.get(name)
            or design is last.notebook.designs.get(name)
        }
        return _Known(
            {name: found for name, found in last.figures.items() if name in same},
            {name: found for name, found in last.results.items() if name in same},
        )


class _Known(Struct, frozen=True):
    figures: Mapping[str, Derived]
    results: Mapping[str, DesignResults]


def _told(notebook: Notebook) -> tuple[Problem, ...]:
    """What is wrong; of faulty settings alone, since all else is then judged by others."""
    of_settings = [p for p in notebook.errors if p.position.path == SETTINGS_FILE]
    return tuple(of_settings) or notebook.problems


def _is_wrong(notebook: Notebook, path: str) -> bool:
    return any(problem.position.path == path for problem in notebook.errors)


def _mended_shelf(notebook: Notebook, designs: Iterable[Design], last: Shelf) -> Shelf:
    """The shelf with what was on it, where that is written with a mistake, or is still named."""
    shelf = notebook.shelf
    named = {thing for design in designs for thing in design.things}
    kinds: dict[str, object] = {}
    written = dict(shelf.written)
    for kind in KINDS:
        if kind not in written and kind in last.written:
            written[kind] = last.written[kind]
        faulty = frozenset(written.get(kind, ()))
        before = {
            name: record
            for name, record in last.of_kind(kind).items()
            if name in faulty or (kind, name) in named
        }
        kinds[kind] = {**before, **shelf.of_kind(kind)}
    return Shelf(**kinds, written=written)  # type: ignore[arg-type]


def _whole_leftovers(shelf: Shelf) -> Shelf:
    """The shelf without leftovers of what is not on it."""

    def is_whole(leftover: Leftover) -> bool:
        bases = leftover.base.shares if leftover.base is not None else ()
        return (
            all(base in shelf.bases for base, _ in bases)
            and (leftover.tinted in (None, "no") or leftover.tinted in shelf.colourants)
            and (leftover.scented is None or leftover.scented.oil in shelf.fragrances)
        )

    whole = {name: leftover for name, leftover in shelf.leftovers.items() if is_whole(leftover)}
    return dataclasses.replace(shelf, leftovers=whole)


def _without_wrong(
    notebook: Notebook, found: Mapping[str, Asks], last: Mapping[str, Asks]
) -> dict[str, Asks]:
    """Questions or orders; those with a mistake as they were when they had none, if ever."""
    before = {name: asks for name, asks in last.items() if _is_wrong(notebook, asks.path)}
    sound = {name: asks for name, asks in found.items() if not _is_wrong(notebook, asks.path)}
    return dict(sorted({**before, **sound}.items()))


def _ground(seen: Seen) -> str:
    """A digest of what every design's figures may depend on beside its own folder."""
    return f"{seen.digests.get(SETTINGS_FILE)} {seen.under('shelf/')}"


def _folders(seen: Seen) -> dict[str, str]:
    """What stands in each design's folder, by its id."""
    folders: dict[str, list[str]] = {}
    for path, digest in sorted(seen.digests.items()):
        if path.startswith("designs/"):
            folders.setdefault(path.split("/", 2)[1], []).append(f"{path} {digest}")
    return {name: "\n".join(files) for name, files in folders.items()}


def _same_photos(last: _Last, seen: Seen) -> dict[str, ReadyPhoto]:
    """Photos that are what they were when they were made ready."""
    return {
        path: ready
        for path, ready in last.book.photos.items()
        if seen.digests.get(path) and seen.digests.get(path) == last.seen.digests.get(path)
    }


def stub(book: Book, name: str, problems: Iterable[Problem]) -> Sheet:
    """A page in place of a design that could never be read: it says what is wrong."""
    place = Place(f"designs/{name}.html", name, under=FIXED["designs"].path)
    folder = f"designs/{name}/"
    own = sorted(p for p in problems if p.position.path.startswith(folder) and not p.warning)
    points = Points(
        tuple(
            (Span(str(problem.position), "strong"), f": {problem.what}. {problem.mend}")
            for problem in own
        )
    )
    lead = Said(("This write-up cannot be read yet. Mend these, and the page comes by itself.",))
    return book.sheet(
        place,
        "page.html",
        lambda: Page(
            book.frame(place),
            name,
            (PagePart("wrong", "What is wrong", (Passage((lead, points)),)),),
        ),
    )


def _stop(is_newer: Callable[[], bool]) -> None:
    if is_newer():
        raise Newer


def _unless(is_newer: Callable[[], bool], things: Iterable[Thing]) -> Iterator[Thing]:
    """The same things, unless something is saved meanwhile."""
    for number, thing in enumerate(things):
        if number % 16 == 0:
            _stop(is_newer)
        yield thing
