"""Rebuilds a notebook while somebody writes in it.

A save in one design's folder renders that design's page at once, however large the notebook
is; the other pages follow when nothing has been saved for a moment.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from journal.build_options import BuildOptions
from journal.cache import retry_without_cache
from journal.cache_folder import cache_store
from journal.comparison.derive import (
    ComparisonResults,
    design_results,
    design_scatter,
    lent_scatter,
    other_scatter,
)
from journal.errors import Problem, errors_in
from journal.figures.day.derive_card import derive_first_round
from journal.figures.derive import AllFigures, derive_design
from journal.output import CacheStore, recover, write_notebook
from journal.pipeline import Pipeline, ShowProgress, make_parts, no_progress
from journal.records.designs import read_design
from journal.records.notebook import Notebook
from journal.scan import changed_since, scan_content
from journal.views.design.page import design_sheets
from journal.views.notebook import problems_by_design
from journal.views.shared.book import Book, program_digest

Thing = TypeVar("Thing")

# Marks the folder of a preview: no build takes it for one of its own.
STAMP: Mapping[str, str] = {"preview": "1"}


class Superseded(Exception):
    """Something was saved during a build, so that the build is out of date."""


class RebuildResult(Struct, frozen=True):
    """The result of a build: paths that are new, changed or removed, and all problems."""

    paths: tuple[str, ...]
    problems: tuple[Problem, ...]
    designs: int = 0


class NotebookRebuilder:
    """Rebuilds one notebook, and remembers the last build."""

    def __init__(self, options: BuildOptions, progress: ShowProgress = no_progress) -> None:
        self._options, self._progress = options, progress
        self._store = cache_store(options.content)
        self._program = program_digest()
        self._last: Book | None = None

    def make(self, is_newer: Callable[[], bool] = lambda: False) -> RebuildResult:
        """Make the whole notebook, as far as it can be.

        Takes:  is_newer  tells whether something was saved meanwhile; called now and then
        Gives:  what changed, and every problem
        Fails:  Superseded if something was saved meanwhile; OutputError if the folder cannot
                be written; ContentError for what no page can be made without. What was made
                before stands then.
        """
        return retry_without_cache(self._store, partial(self._make, is_newer), self._forget)

    @property
    def notebook(self) -> Notebook | None:
        """The notebook as it was built last; None before that."""
        book = self._last
        return None if book is None else book.notebook

    def _forget(self) -> None:
        self._last = None

    def _make(self, is_newer: Callable[[], bool], store: CacheStore) -> RebuildResult:
        """Build once, with the cache as it is."""
        options = self._options
        scan = scan_content(options.content, store)
        recover(options.out)
        pipeline = Pipeline(options, store, self._program, scan, self._progress)
        viewed = pipeline.view(partial(_raise_if_superseded, is_newer))
        written = write_notebook(
            options.out,
            _until_superseded(is_newer, pipeline.render(viewed)),
            stamp=STAMP,
            away_from=(options.content,),
            make_all=lambda parts: _until_superseded(is_newer, make_parts(parts, self._progress)),
        )
        pipeline.clear_waiting()
        # A file that was saved meanwhile may have been read under the digest of the earlier one.
        if not changed_since(options.content, scan):
            pipeline.keep()
        pipeline.keep_answers()
        self._last = viewed.book
        designs = len(viewed.book.notebook.summaries)
        return RebuildResult((*written.made, *written.removed), viewed.problems, designs)

    def make_page(self, changed: Iterable[str]) -> dict[str, bytes]:
        """Render the page of a design, if files of that design alone have changed; else nothing.

        Takes:  changed  paths from the content folder
        Gives:  bytes by path from the notebook's root; none for a write-up with errors, or
                with another title or date than before, since other pages show these too
        """
        book, folders = self._last, {path.split("/")[:2][-1] for path in changed}
        if book is None or len(folders) != 1 or self._options.edition != "studio":
            return {}
        (name,) = folders
        before = book.notebook.summaries.get(name)
        if before is None or any(not path.startswith(f"designs/{name}/") for path in changed):
            return {}
        settings, shelf = book.settings, book.notebook.shelf
        problems: list[Problem] = []
        read = read_design(self._options.content, name, settings, True, problems)
        if read is None or not read.sound or errors_in(problems):
            return {}
        design = read.design
        if (design.title, design.date) != (before.title, before.date):
            return {}
        figures, figure_problems = derive_design(book.notebook, design)
        rate, dew_min = book.derived.card_rates[name], book.figures.summaries[name].dew_min
        own = design_scatter(settings, shelf, design)
        scatters = {**book.compared.scatters, name: own}
        others = other_scatter(name, own, lent_scatter(scatters))
        results = {name: design_results(settings, shelf, design, others)}
        changed_book = dataclasses.replace(
            book,
            notebook=dataclasses.replace(book.notebook, designs={name: design}),
            figures=AllFigures({name: figures}, figure_problems, book.figures.summaries),
            derived=replace(
                book.derived,
                rounds={name: derive_first_round(book.notebook, design, rate, dew_min)},
            ),
            compared=ComparisonResults(
                results,
                results,
                book.compared.across,
                book.compared.summaries,
                scatters,
                book.compared.conditions,
            ),
            problems={**book.problems, **problems_by_design((*problems, *figure_problems))},
        )
        return {sheet.path: sheet.make() for sheet in design_sheets(changed_book, name)}


def _raise_if_superseded(is_newer: Callable[[], bool]) -> None:
    if is_newer():
        raise Superseded


def _until_superseded(is_newer: Callable[[], bool], things: Iterable[Thing]) -> Iterator[Thing]:
    """The same things; raises Superseded when something is saved meanwhile."""
    for number, thing in enumerate(things):
        if number % 16 == 0:
            _raise_if_superseded(is_newer)
        yield thing
