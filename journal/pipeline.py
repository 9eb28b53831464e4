"""The stages from a notebook's folder to the notebook that is read, each named once, in order.

    read     files -> a record and a summary for each design, and what is wrong
    derive   records -> figures and a summary for each design; then what is worked out of all
    compare  records -> results and a summary for each design; then the questions across designs
    view     all of it -> a book, cut to one edition, and the inputs of every group of pages
    render   a group's inputs -> the bytes of its pages
    write    bytes -> a folder, whole or not at all

A stage gives for each design a value or its problems: a faulty write-up costs its own page.
What was made before from the same inputs is not made again; see ``journal.cache``. Commands
that need a part of this take the functions of that part: ``read_notebook``,
``derive_figures``, ``compare_designs``.
"""

from __future__ import annotations

import dataclasses
import functools
import importlib.util
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from types import NoneType
from typing import Protocol, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from journal.build_options import BuildOptions
from journal.cache import AnswerCache, Cache, CacheRow, DigestedValues, Stage
from journal.comparison.derive import (
    ComparisonResults,
    CrossDesignResults,
    DesignContrasts,
    DesignResults,
    ResultsSummary,
    compact_answer,
    compact_contrasts,
    compact_results,
    cross_design_answer,
    cross_design_bars,
    design_contrasts,
    design_results,
    restored_contrasts,
    results_summary,
)
from journal.comparison.observed import ObservedBar
from journal.errors import ContentError, Problem
from journal.figures.derive import (
    AllFigures,
    BleedWidthsByDesign,
    DesignFigures,
    FiguresSummary,
    derive_design,
    figures_summary,
    names_are_on_shelf,
)
from journal.figures.derive_notebook import (
    NotebookFigures,
    OrderPlan,
    derive_notebook,
    plan_order,
    studio_rate_line,
)
from journal.html.theme import read_theme
from journal.output import CacheStore, OutputFile, ReadyFile
from journal.photos.derive import MeasuredPhoto, bleed_widths, measure_photo, measured_photos
from journal.photos.measurement import Measurement
from journal.photos.prepare import PreparedPhoto, photo_digest, prepare_photos
from journal.photos.source import PhotoProblem
from journal.records.codec import LazyValues, cached_digest, digest, digest_of, encode
from journal.records.designs import bad_id, written_head
from journal.records.models.questions import ComparisonFile, OrderFile
from journal.records.models.shelf import Shelf
from journal.records.models.summary import DesignSummary
from journal.records.models.things import ThingRef
from journal.records.models.write_up import Design, Photo
from journal.records.notebook import SETTINGS_FILE, CachedDesign, Notebook, read_notebook
from journal.records.yaml.source import read_text
from journal.scan import ContentScan
from journal.views.lists.faulty import FaultyThing, FaultyThings, faulty_sheets
from journal.views.notebook import PageGroup, groups_of, open_book, other_sheets, problems_by_design
from journal.views.shared.book import Book
from journal.views.shared.editions import cut_to_edition, find_leaks, uses_avif
from journal.views.shared.inputs import GroupKeys, reachable_things, restrict_to_inputs
from journal.views.shared.photos import PagePhoto, ProbedPhotos, page_photo, photo_paths
from journal.views.shared.places import KindAndId
from journal.views.shared.sheet import Sheet
from journal.workers import MIN_TASKS, map_as_completed, map_in_order, worker_count

Value = TypeVar("Value")
Small = TypeVar("Small")
# Makes a value as it is encoded, and its summary.
Make = Callable[[], tuple[bytes, Small]]

#: Libraries whose answers may differ from one version to the next.
_NUMERIC_LIBRARIES = ("numpy", "scipy", "pydantic", "yaml", "PIL")
#: How the names of photo files begin that wait to be written.
_PENDING = "made-"
_PIECES = "shelf/pieces.yaml"


class ShowProgress(Protocol):
    """Passes work through and shows how far it has come: how much there is, and what it is."""

    def __call__(self, things: Iterable[Value], total: int, what: str, /) -> Iterator[Value]: ...


def no_progress(things: Iterable[Value], total: int, what: str, /) -> Iterator[Value]:
    """Pass work through and show nothing."""
    yield from things


class ViewResult(Struct, frozen=True):
    """The book of one edition, and all errors and warnings."""

    book: Book
    faulty: FaultyThings
    problems: tuple[Problem, ...]


class DesignRow(Struct, frozen=True):
    """What the read stage keeps of a design beside its record.

    ``files`` it was read from; ``there`` are files that it names, which must be there;
    ``front`` is a digest of everything but its prose, on which no figure depends.
    """

    summary: DesignSummary
    files: tuple[str, ...]
    there: tuple[str, ...]
    front: str
    warnings: tuple[Problem, ...]


class FiguresRow(Struct, frozen=True):
    """What the derive stage caches of a design beside its figures."""

    summary: FiguresSummary
    problems: tuple[Problem, ...]


class MeasureResult(Struct, frozen=True):
    """What was measured in a photo, or what is wrong with it and how it is mended."""

    measurement: Measurement | None
    what: str = ""
    hint: str = ""


class GroupFiles(Struct, frozen=True):
    """The files of a group of pages, by the key of its inputs: digests by path."""

    key: str
    files: dict[str, str]


class Pipeline:
    """One notebook through its stages."""

    def __init__(
        self,
        options: BuildOptions,
        store: CacheStore,
        program: str,
        scan: ContentScan,
        progress: ShowProgress,
    ) -> None:
        """``program`` is the digest of this program, ``scan`` what the files look like."""
        self._options, self._store, self._program, self._scan = options, store, program, scan
        self._progress = progress
        cache = self._cache = Cache(store, digest(program, _libraries()))
        edition = options.edition
        self._records = _DesignStage(
            options.content, scan, cache.stage("records", Design, DesignRow)
        )
        self._figures = cache.stage("figures", DesignFigures, FiguresRow)
        self._results = cache.stage(f"results-{edition}", DesignResults, ResultsSummary)
        # The summary of a design's bars is the values that it has of what a question compares.
        self._bars = cache.stage(f"bars-{edition}", tuple[ObservedBar, ...], tuple[str, ...])
        self._contrasts = cache.stage(f"contrasts-{edition}", DesignContrasts, NoneType)
        self._answers = cache.stage(f"across-{edition}", CrossDesignResults, NoneType)
        self._plans = cache.stage(f"orders-{edition}", OrderPlan, NoneType)
        self._memo = AnswerCache(cache)
        self._read_problems: tuple[Problem, ...] = ()
        self._measured: dict[str, MeasureResult] = {}
        self._measured_before: dict[str, MeasureResult] = cache.table("measured", MeasureResult)
        # Photos are known by whether AVIF was made of them.
        self._modern = uses_avif(edition)
        self._photos_name = "photos-avif" if self._modern else "photos"
        self._photos_before = cache.table(self._photos_name, tuple[str, PagePhoto])
        self._photos: dict[str, tuple[str, PagePhoto]] = dict(self._photos_before)

    # read -------------------------------------------------------------------------------

    def read(self) -> Notebook:
        """Everything the maker wrote; only designs that changed are read again."""
        notebook = read_notebook(self._options.content, self._records)
        self._read_problems = notebook.problems
        return notebook

    # derive -----------------------------------------------------------------------------

    def derive(self, notebook: Notebook, widths: BleedWidthsByDesign) -> AllFigures:
        """The figures of every design that could be read."""
        stage = self._figures
        settings = self._scan.digests.get(SETTINGS_FILE, "")
        shelf = _ShelfText(notebook)
        keys = {
            name: digest(
                settings,
                self._records.front(name),
                shelf.digest(design.things),
                repr(widths.get(name)),
            )
            for name, design in notebook.summaries.items()
        }
        todo = [
            name
            for name, key in keys.items()
            if stage.known(name, key) is None
            and names_are_on_shelf(notebook.shelf, notebook.designs[name])
        ]
        if todo:
            self._memo.load()
        tasks = [
            partial(self._memo.noting, partial(self._derived, notebook, name, widths))
            for name in todo
        ]
        # Designs of one mat mostly share the answers of the bond model.
        made = map_in_order(
            tasks, together=lambda number: _first_mat(notebook.summaries[todo[number]])
        )
        for name, ((data, row), answered) in zip(
            todo, self._progress(made, len(todo), "designs reckoned"), strict=True
        ):
            self._memo.learn(answered)
            stage.add(name, keys[name], data, row)
        found = {name: stage.rows[name] for name in keys if name in stage.rows}
        problems = {p for row in found.values() for p in row.summary.problems}
        summaries = {name: row.summary.summary for name, row in found.items()}
        digests = {name: row.summary_digest for name, row in found.items()}
        return AllFigures(
            stage.values(found), tuple(sorted(problems)), DigestedValues(summaries, digests)
        )

    def _derived(
        self, notebook: Notebook, name: str, widths: BleedWidthsByDesign
    ) -> tuple[bytes, FiguresRow]:
        design = notebook.designs[name]
        found, problems = derive_design(
            notebook, design, photo_widths=widths.get(name), ask=self._memo
        )
        summary = figures_summary(notebook, design, found)
        return encode(found), FiguresRow(summary, problems)

    def measure(self, notebook: Notebook) -> tuple[tuple[MeasuredPhoto, ...], tuple[Problem, ...]]:
        """Everything that the write-ups want measured in photos, and what cannot be measured."""
        return measured_photos(notebook, partial(self._measure, notebook.root))

    def _measure(self, root: Path, file: Path, photo: Photo) -> Measurement:
        seen = self._scan.digests.get(file.relative_to(root).as_posix(), "")
        key = digest(file.name, seen, repr(photo.measure), repr(photo.scale))
        found = self._measured.get(key) or self._measured_before.get(key)
        if found is None:
            try:
                found = MeasureResult(measure_photo(file, photo))
            except PhotoProblem as problem:
                found = MeasureResult(None, problem.what, problem.hint)
        self._measured[key] = found
        if found.measurement is None:
            raise PhotoProblem(found.what, found.hint)
        return found.measurement

    def derive_all(self, cut: Notebook, figures: AllFigures) -> NotebookFigures:
        """What is worked out of all designs of an edition together."""
        rates = studio_rate_line(figures.summaries)
        derived_all = derive_notebook(cut, figures.summaries, rates, {}, self._memo)
        plans = {
            name: self._plan(cut, figures, order, derived_all)
            for name, order in cut.orders.items()
            if all(line.design in figures.summaries for line in order.asked.designs)
        }
        return replace(derived_all, orders=plans)

    def _plan(
        self, cut: Notebook, figures: AllFigures, order: OrderFile, whole: NotebookFigures
    ) -> OrderPlan:
        scan = self._scan
        key = digest(
            scan.digests.get(order.path, ""),
            scan.digests.get(SETTINGS_FILE, ""),
            scan.under("shelf/"),
            *(self._records.front(line.design) for line in order.asked.designs),
            digest_of((whole.casts, whole.rates)),
        )

        def make() -> tuple[bytes, None]:
            return encode(plan_order(cut, order, whole.casts, whole.rates, ask=self._memo)), None

        return self._plans.load(self._plans.find(order.id, key, make).digest)

    # compare ----------------------------------------------------------------------------

    def compare(self, cut: Notebook) -> ComparisonResults:
        """The results of every design, and the answer to every question across designs."""
        stage = self._results
        settings = self._scan.digests.get(SETTINGS_FILE, "")
        pieces = self._scan.digests.get(_PIECES, "")
        keys = {
            name: (
                digest(settings, pieces, self._records.front(name)),
                partial(_results_of, cut, name),
            )
            for name in cut.summaries
        }
        self._rows_of(stage, keys, "designs compared")
        for asked in cut.comparisons.values():
            self._answer_question(cut, asked)
        answers = self._answers.values(cut.comparisons)
        return ComparisonResults(stage.values(keys), answers, stage.summaries(keys))

    def _answer_question(self, cut: Notebook, asked: ComparisonFile) -> None:
        """Answer one question; what each design contributes is cached by itself."""
        asks = digest(
            self._scan.digests.get(SETTINGS_FILE, ""),
            self._scan.digests.get(asked.path, ""),
            asked.id,
        )
        # First the bars of each design, which tell what values there are at all.
        bars = self._rows_of(
            self._bars,
            {
                f"{asked.id}/{name}": (
                    digest(asks, self._records.front(name)), partial(_bars_of, cut, asked, name)
                )
                for name in cut.summaries
            },
        )  # fmt: skip
        values = sorted({value for row in bars.values() for value in row.summary})
        contrasts = self._rows_of(
            self._contrasts,
            {
                name: (
                    digest(asks, row.digest, *values),
                    partial(_contrasts_of, cut, asked, self._bars, row.digest, values),
                )
                for name, row in bars.items()
                if row.summary
            },
        )
        digests = [row.digest for row in contrasts.values()]

        def make() -> tuple[bytes, None]:
            rows = (restored_contrasts(self._contrasts.load(found)) for found in digests)
            return encode(compact_answer(cross_design_answer(cut.settings, asked, rows))), None

        self._answers.find(asked.id, digest(asks, *digests), make)

    def _rows_of(
        self,
        stage: Stage[Value, Small],
        wanted: Mapping[str, tuple[str, Make[Small]]],
        what: str = "",
    ) -> dict[str, CacheRow[Small]]:
        """The rows of a stage: cached ones where the key is the same, else made on all cores.

        Progress is shown where ``what`` says what is made.
        """
        todo = [name for name, (key, _) in wanted.items() if stage.known(name, key) is None]
        made = map_in_order([wanted[name][1] for name in todo])
        if what:
            made = self._progress(made, len(todo), what)
        for name, (data, summary) in zip(todo, made, strict=True):
            stage.add(name, wanted[name][0], data, summary)
        return {name: stage.rows[name] for name in wanted}

    # view -------------------------------------------------------------------------------

    def view(self, stop: Callable[[], None] = lambda: None) -> ViewResult:
        """Read, derive and compare; gives the book that pages are laid out from.

        ``stop`` raises where the work is not wanted any more; it is called now and then.

        Fails:  ContentError for errors in what all pages depend on, for an edition that would
                give away what it leaves out, and with ``strict`` for any error
        """
        options = self._options
        notebook = self.read()
        stop()
        measured, unmeasured = self.measure(notebook)
        figures = self.derive(notebook, bleed_widths(measured))
        stop()
        problems = {*notebook.problems, *unmeasured, *figures.problems}
        faulty = self._faulty(notebook, figures)
        self._refuse_untold_errors(notebook, problems, faulty)
        sound = _without(notebook, faulty)
        cut = cut_to_edition(sound, options.edition)
        leaks = find_leaks(
            sound, cut, options.edition, faulty.of_kind("design"), faulty.left_out(options.edition)
        )
        if leaks:
            raise ContentError(tuple({*leaks, *_errors(problems)}))
        figures = _of_designs(figures, sound.summaries)
        compared = self.compare(cut)
        stop()
        photos = self._decode_photos(cut)
        book = open_book(
            cut,
            figures,
            compared,
            read_theme(options.theme or notebook.settings.theme, options.content, self._program),
            options.edition,
            options.bars,
            program=self._program,
            photos=photos,
            measured=measured,
            derived=self.derive_all(cut, figures),
            faulty=faulty.places(options.edition),
            recipes=self._recipes(cut),
        )
        # Of a photo that cannot be shown it need not be told as well that it cannot be measured.
        told = {problem.what for problem in book.unshown}
        told_already = {problem for problem in unmeasured if problem.what in told}
        return ViewResult(book, faulty, tuple(sorted((problems - told_already) | {*book.unshown})))

    def _recipes(self, cut: Notebook) -> Mapping[str, Design]:
        """The designs, each with a digest that leaves out its prose."""
        edition, fronts = self._options.edition, self._records.front

        def known_by(name: str) -> str:
            return digest(edition, fronts(name), str(cut.summaries[name].grew_from))

        return LazyValues(cut.designs, cut.designs.__getitem__, known_by)

    def _faulty(self, notebook: Notebook, figures: AllFigures) -> FaultyThings:
        """The designs, questions and orders with an error, each with its problems."""
        errors = problems_by_design(notebook.errors)
        found: dict[KindAndId, FaultyThing] = {}
        for name in (*notebook.summaries, *notebook.unread):
            row = self._figures.rows.get(name)
            own = {*errors.get(name, ()), *(() if row is None else _errors(row.summary.problems))}
            if own or name in notebook.unread:
                summary = notebook.summaries.get(name)
                # Its date keeps the numbers of the others, however little can be read.
                head = written_head(notebook.root, name) if summary is None else summary
                found["design", name] = FaultyThing(
                    head.title, head.date, head.state, tuple(sorted(own))
                )
        for kind, folder, end in (
            ("comparison", "comparisons/", ".md"),
            ("order", "orders/", ".yaml"),
        ):
            for name, problems in _by_file(notebook.errors, folder, end).items():
                found[kind, name] = FaultyThing(name, None, "", problems)
        return FaultyThings(found)

    def _refuse_untold_errors(
        self, notebook: Notebook, problems: Iterable[Problem], faulty: FaultyThings
    ) -> None:
        """Raise ContentError for errors that no page of their own can show."""
        errors = _errors(problems)
        all_told = all(faulty.tells(problem) for problem in notebook.errors)
        if not all_told or (self._options.strict and errors):
            raise ContentError(errors)

    def _decode_photos(self, cut: Notebook) -> ProbedPhotos:
        """Every photo that a notebook names, decoded to its last pixel; new ones on all cores.

        Their files wait in the store until the notebook is written, so that memory holds those of
        a few photos only.
        """
        paths = photo_paths(cut)
        seen = self._scan.digests
        found: dict[str, PagePhoto | PhotoProblem] = {
            path: self._photos[path][1]
            for path in paths
            if path in self._photos and seen.get(path) and self._photos[path][0] == seen[path]
        }
        todo = [path for path in paths if path not in found]
        files = [cut.root / path for path in todo]
        made = prepare_photos(files, modern=self._modern, workers=max(1, worker_count()))
        told = self._progress(made, len(todo), "photos made ready")
        for path, (file, came) in zip(todo, told, strict=True):
            if not isinstance(came, PreparedPhoto):
                found[path] = came
                continue
            ready = found[path] = page_photo(path, came)
            # A photo that was written to meanwhile is made again, and told if it goes on.
            if photo_digest(file) == came.digest:
                self._photos[path] = (seen.get(path, ""), ready)
                for one in came.renditions:
                    if one.format in ready.forms:
                        name = ready.file(one.width, one.format)
                        self._store.write(_PENDING + name.rpartition("/")[2], one.content)
        return {path: found[path] for path in paths}

    # render -----------------------------------------------------------------------------

    def render(self, viewed: ViewResult) -> Iterator[OutputFile | ReadyFile]:
        """Every file of the notebook; pages whose inputs changed are made, on all cores."""
        book = viewed.book
        name = f"pages-{book.edition}"
        before: dict[str, GroupFiles] = self._cache.table(name, GroupFiles)
        keys = GroupKeys(book)
        now: dict[str, GroupFiles] = {}
        todo: list[PageGroup] = []
        pages: list[str] = []
        for group in groups_of(book):
            key = keys.key(group.name, group.inputs)
            known = before.get(group.name)
            now[group.name] = GroupFiles(key, {})
            if known is None or known.key != key:
                todo.append(group)
                continue
            now[group.name] = known
            pages.extend(known.files)
            # Laid out once more, where one of its files is not there after all.
            again = functools.cache(partial(_render_group, group, book))
            for path, own in known.files.items():
                yield OutputFile(path, own, partial(_one_file, again, path))
        if len(todo) >= MIN_TASKS:
            book.theme.compile_all()
        made = map_as_completed(
            [partial(_render_group, group, book) for group in todo],
            together=lambda number: todo[number].of,
        )
        for number, files in self._progress(made, len(todo), "parts of the notebook made"):
            group = todo[number]
            digests = {path: digest(data) for path, data in files.items()}
            now[group.name].files.update(digests)
            pages.extend(digests)
            yield from (ReadyFile(path, digests[path], data) for path, data in files.items())
        if now != before:
            self._cache.write_table(name, now)
        for sheet in faulty_sheets(book, viewed.faulty):
            pages.append(sheet.path)
            yield as_part(sheet)
        yield from map(as_part, other_sheets(book, pages, self._pending_photo))

    def _pending_photo(self, path: str) -> bytes | None:
        return self._store.read(_PENDING + path.rpartition("/")[2])

    def clear_waiting(self) -> None:
        """Delete the photo files that waited in the store, once the notebook is written."""
        self._store.clear(_PENDING)

    # between runs -----------------------------------------------------------------------

    def keep(self) -> None:
        """Write the cache for the next run; called if the content has not changed meanwhile."""
        self._records.keep(self._read_problems)
        for stage in (
            self._figures,
            self._results,
            self._bars,
            self._contrasts,
            self._answers,
            self._plans,
        ):
            stage.keep()
        if self._measured.keys() - self._measured_before.keys():
            self._cache.write_table("measured", self._measured)
        photos = {path: row for path, row in self._photos.items() if path in self._scan.digests}
        if photos != self._photos_before:
            self._cache.write_table(self._photos_name, photos)
        self.keep_answers()

    def keep_answers(self) -> None:
        """Write the cached answers of pure functions, which depend on no file of the notebook."""
        self._memo.keep()


def make_parts(parts: Sequence[OutputFile], progress: ShowProgress) -> Iterator[bytes]:
    """The bytes of many files, made on all cores; those of one photo in one process."""
    made = map_in_order(
        [part.make for part in parts],
        together=lambda number: (
            parts[number].key.rpartition("-")[0] if parts[number].lasting else number
        ),
    )
    return progress(made, len(parts), "other files made")


def as_part(sheet: Sheet) -> OutputFile:
    """A sheet as a file to be written; one without a key is rendered at once."""
    if sheet.key:
        return OutputFile(sheet.path, sheet.key, sheet.make, sheet.lasting)
    data = sheet.make()
    return OutputFile(sheet.path, digest(data), data.__bytes__)


def _render_group(group: PageGroup, book: Book) -> dict[str, bytes]:
    """The files of a group by path, rendered from its inputs alone."""
    return {sheet.path: sheet.make() for sheet in group.lay(restrict_to_inputs(book, group.inputs))}


def _one_file(files: Callable[[], Mapping[str, bytes]], path: str) -> bytes:
    return files()[path]


class _DesignStage:
    """The read stage: it reuses the designs of the last run that have not changed."""

    def __init__(self, root: Path, scan: ContentScan, stage: Stage[Design, DesignRow]) -> None:
        self._root, self._scan, self._stage = root, scan, stage
        self._shared_key = ""
        self._fronts: dict[str, str] = {}

    def known_on(self, shelf: Shelf) -> Mapping[str, CachedDesign]:
        """The designs that need not be read again; called before any is added."""
        # A design is judged by the settings, by what things there are on the shelf, and by the
        # pieces that its bars were cast on.
        names = sorted(f"{kind}/{name}" for kind, table in shelf.written.items() for name in table)
        files = (self._scan.digests.get(path, "") for path in (SETTINGS_FILE, _PIECES))
        self._shared_key = digest(*files, *sorted(shelf.unread), "", *names)
        there = self._scan.digests
        known: dict[str, CachedDesign] = {}
        for name, row in self._stage.before.items():
            kept = row.summary
            if all(path in there for path in kept.there) and self._stage.known(
                name, self._key(kept.files)
            ):
                self._fronts[name] = kept.front
                known[name] = CachedDesign(kept.summary, kept.warnings)
        return known

    def add(self, design: Design, summary: DesignSummary) -> bool:
        """Cache a design that was read in this run; False where that cannot be done."""
        self._fronts[design.id] = front = self._front(design)
        if not all(self._scan.digests.get(path) for path in design.files):
            return False  # by a way that is not looked at, such as a link to a folder
        row = DesignRow(summary, design.files, tuple(_named_files(summary)), front, ())
        self._stage.add(design.id, self._key(design.files), encode(design), row)
        return True

    def designs(self, names: Iterable[str]) -> Mapping[str, Design]:
        """The designs of these names, decoded when they are looked up."""
        return self._stage.values(names)

    def front(self, name: str) -> str:
        """A digest of everything that a design was read from, except its prose."""
        return self._fronts.get(name, "")

    def _front(self, design: Design) -> str:
        lines = read_text(self._root, design.path).split("\n")[: design.body_line - 1]
        others = (self._scan.digests.get(path, "") for path in design.files[1:])
        return digest("\n".join(lines), *others)

    def keep(self, problems: Iterable[Problem]) -> None:
        """Write the designs without an error to the cache, each with its warnings."""
        told = problems_by_design(problems)
        for name, row in list(self._stage.rows.items()):
            own = told.get(name, ())
            if any(not problem.warning for problem in own):
                self._stage.drop(name)
            elif row.summary.warnings != own:
                self._stage.revise(name, replace(row.summary, warnings=own))
        self._stage.keep()

    def _key(self, files: tuple[str, ...]) -> str:
        return digest(
            self._shared_key, *(f"{path} {self._scan.digests.get(path)}" for path in files)
        )


def _named_files(summary: DesignSummary) -> Iterator[str]:
    """The files that a design names and that must be there, or it has an error."""
    if summary.grew_from is not None:
        yield f"designs/{summary.grew_from}/design.md"
    yield from (path for _, path in summary.pictures)
    for target in summary.leads_to:
        if target.kind == "design":
            yield f"designs/{target.name}/design.md"
        elif target.kind == "comparison":
            yield f"comparisons/{target.name}.md"
        elif target.kind == "file":
            yield target.name


class _ShelfText:
    """Digests of things on the shelf, of their text and its lines."""

    def __init__(self, notebook: Notebook) -> None:
        self._shelf = notebook.shelf
        self._written: dict[ThingRef, str] = {}
        self._digests: dict[tuple[ThingRef, ...], str] = {}
        for kind, tree in notebook.shelf.written.items():
            lines = read_text(notebook.root, f"shelf/{kind}.yaml").split("\n")
            starts = sorted((tree.key_at(name).line, name) for name in tree)
            ends = [line for line, _ in starts[1:]] + [len(lines) + 1] * bool(starts)
            for (line, name), end in zip(starts, ends, strict=True):
                # Mistakes are told with their lines, so the place counts.
                text = "\n".join(lines[line - 1 : end - 1])
                self._written[kind, name] = digest(str(line), text)

    def digest(self, things: tuple[ThingRef, ...]) -> str:
        """A digest of everything on the shelf that the figures of a design may depend on."""
        if things not in self._digests:
            reached = sorted(reachable_things(self._shelf, things))
            self._digests[things] = digest(
                *(f"{kind}/{name} {self._written.get((kind, name))}" for kind, name in reached)
            )
        return self._digests[things]


def _results_of(cut: Notebook, name: str) -> tuple[bytes, ResultsSummary]:
    found = compact_results(design_results(cut.settings, cut.shelf, cut.designs[name]))
    return encode(found), results_summary(found)


def _bars_of(cut: Notebook, asked: ComparisonFile, name: str) -> tuple[bytes, tuple[str, ...]]:
    bars = cross_design_bars(cut.settings, asked, cut.designs[name])
    return encode(bars), tuple(sorted({bar.variant for bar in bars}))


def _contrasts_of(
    cut: Notebook,
    asked: ComparisonFile,
    stage: Stage[tuple[ObservedBar, ...], tuple[str, ...]],
    bars: str,
    values: Sequence[str],
) -> tuple[bytes, None]:
    found = compact_contrasts(design_contrasts(cut.settings, asked, stage.load(bars), values))
    return encode(found), None


def _first_mat(summary: DesignSummary) -> str | None:
    return next((mat for mat, _, _ in summary.brief.trims), None)


def _errors(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted({problem for problem in problems if not problem.warning}))


def _by_file(problems: Iterable[Problem], folder: str, end: str) -> dict[str, tuple[Problem, ...]]:
    found: dict[str, tuple[Problem, ...]] = {}
    for problem in problems:
        path = problem.position.path
        name = path.removeprefix(folder).removesuffix(end)
        if path == f"{folder}{name}{end}" and not bad_id(name):
            found[name] = (*found.get(name, ()), problem)
    return found


def _without(notebook: Notebook, faulty: FaultyThings) -> Notebook:
    """The notebook without what has an error."""
    sound = _without_ids(notebook.summaries, faulty.of_kind("design"))
    return dataclasses.replace(
        notebook,
        designs=LazyValues(
            [name for name in notebook.designs if name in sound],
            notebook.designs.__getitem__,
            partial(cached_digest, notebook.designs),
        ),
        summaries=sound,
        comparisons=_without_ids(notebook.comparisons, faulty.of_kind("comparison")),
        orders=_without_ids(notebook.orders, faulty.of_kind("order")),
    )


def _without_ids(found: Mapping[str, Value], faulty: Mapping[str, object]) -> dict[str, Value]:
    return {name: one for name, one in found.items() if name not in faulty}


def _of_designs(figures: AllFigures, summaries: Mapping[str, object]) -> AllFigures:
    """The figures of some designs."""
    own = {name: found for name, found in figures.summaries.items() if name in summaries}
    digests = {name: cached_digest(figures.summaries, name) for name in own}
    return AllFigures(figures.designs, figures.problems, DigestedValues(own, digests))


def _libraries() -> str:
    """The versions of Python and of the numeric libraries, as paths and times of their files."""
    told = [sys.version]
    for name in _NUMERIC_LIBRARIES:
        spec = importlib.util.find_spec(name)
        if spec is not None and spec.origin is not None:
            told.append(f"{spec.origin} {os.stat(spec.origin).st_mtime_ns}")
    return " ".join(told)
