"""The stages from a notebook's folder to the notebook that is read, each named once, in order.

    read     files -> a record and a summary for each design, and what is wrong
    derive   records -> figures and a summary for each design; then what is worked out of all
    compare  records -> results and a summary for each design; then the questions across designs
    view     all of it -> a book, cut to one edition, and the inputs of every group of pages
    render   a group's inputs -> the bytes of its pages
    write    bytes -> a folder, whole or not at all

A stage gives for each design a value or its problems: a faulty write-up costs its own page. Each
value has a key, a digest of everything that it depends on, and a row in the cache: a value whose
key is that of the last run is not made again (``journal.cache``). Commands that need a part of
this take the functions of that part: ``read_notebook``, ``derive_figures``, ``compare_designs``.
"""

from __future__ import annotations

import dataclasses
import functools
import importlib.util
import os
import sys
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial
from itertools import accumulate, chain
from pathlib import Path
from types import NoneType
from typing import Protocol, TypeVar

from msgspec import Struct, msgpack
from msgspec.structs import replace

from journal.build_options import BuildOptions
from journal.cache import AnswerCache, Cache, CacheRow, DigestedValues, Stage
from journal.comparison import derive as comparison
from journal.comparison.derive import (
    ComparisonResults,
    DesignResults,
    DesignScatter,
    ResultsSummary,
)
from journal.comparison.failures.conditions import FailurePot
from journal.comparison.failures.derive import (
    ConditionsBySymptom,
    failure_pots,
    notebook_conditions,
)
from journal.comparison.observed import ObservedBar
from journal.edition_gate import EditionGate, SearchedFile
from journal.errors import ContentError, Problem, errors_in
from journal.figures.common.memo import Memo
from journal.figures.day.derive_card import CardFigures, derive_first_round
from journal.figures.day.derive_order import judged_pours, too_many_rounds
from journal.figures.derive import (
    AllFigures,
    BleedWidthsByDesign,
    DesignFigures,
    FiguresSummary,
    PricedFigures,
    PricedSummary,
    can_be_derived,
    derive_for_bench,
    derive_priced,
    figures_summary,
    lives_of,
    notebook_as_worn,
    priced_summary,
    with_prices,
)
from journal.figures.derive_notebook import (
    NotebookFigures,
    OrderPlan,
    buying_for,
    derive_notebook,
    notebook_as_left,
    plan_order,
    studio_pot_rates,
)
from journal.figures.heat.pot_rates import RateLine
from journal.html.theme import read_theme
from journal.output import CacheStore, OutputFile, ReadyFile
from journal.photos.derive import MeasuredPhoto, bleed_widths, measure_photo, measured_photos
from journal.photos.measurement import Measurement
from journal.photos.prepare import PreparedPhoto, photo_digest, prepare_photos
from journal.photos.source import PhotoProblem
from journal.records.codec import LazyValues, cached_digest, digest, digest_of, encode
from journal.records.designs import bad_page_id, written_head
from journal.records.models.questions import ComparisonFile, OrderFile
from journal.records.models.shelf import Shelf
from journal.records.models.summary import DesignSummary
from journal.records.models.things import ThingRef
from journal.records.models.write_up import Design, Photo
from journal.records.notebook import SETTINGS_FILE, CachedDesign, Notebook, read_notebook
from journal.records.yaml.source import read_text
from journal.records.yaml.tree import plain_tree
from journal.scan import ContentScan
from journal.views.design.variants import compared_as_shown
from journal.views.lists.faulty import FaultyThing, FaultyThings, faulty_sheets
from journal.views.notebook import PageGroup, groups_of, open_book, other_sheets, problems_by_design
from journal.views.shared.book import Book
from journal.views.shared.editions import (
    cut_to_edition,
    links_to_left_out,
    shelf_without_private,
    uses_avif,
)
from journal.views.shared.inputs import GroupKeys, reachable_things, restrict_to_inputs
from journal.views.shared.photos import PagePhoto, ProbedPhotos, page_photo, photo_paths
from journal.views.shared.places import KindAndId, Sheet
from journal.views.shared.private_values import PrivateText, private_texts, values_left_out
from journal.workers import MIN_TASKS, map_as_completed, map_in_order, worker_count

Value = TypeVar("Value")
Summary = TypeVar("Summary")
# Makes a value as it is encoded, and its summary.
Make = Callable[[], tuple[bytes, Summary]]

#: Libraries whose answers may differ from one version to the next.
_NUMERIC_LIBRARIES = ("numpy", "scipy", "pydantic", "yaml", "PIL")
#: How the names of photo files begin that wait to be written.
_PENDING = "made-"
_PIECES_FILE = "shelf/pieces.yaml"
#: Designs from which on a question across them is answered in a process of its own.
MANY_DESIGNS = 100


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
    """The summary of the read stage, of a design.

    ``files`` it was read from; ``named_files`` are those that it names, which must be there;
    ``front_digest`` is of everything but its prose, on which no figure depends; ``private`` is
    what stands under keys that only the studio sees.
    """

    summary: DesignSummary
    files: tuple[str, ...]
    named_files: tuple[str, ...]
    front_digest: str
    warnings: tuple[Problem, ...]
    private: tuple[PrivateText, ...]


class FiguresRow(Struct, frozen=True):
    """The summary of the derive stage, of a design."""

    summary: FiguresSummary
    problems: tuple[Problem, ...]


class ResultsRow(Struct, frozen=True):
    """The summary of the compare stage, of a design; ``shown`` is a digest of what pages show."""

    summary: ResultsSummary
    shown: str


class MeasureResult(Struct, frozen=True):
    """A photo's measurement; where it failed None, with what is wrong and a hint."""

    measurement: Measurement | None
    what: str = ""
    hint: str = ""


class GroupFiles(Struct, frozen=True):
    """The files of a group of pages, by the key of its inputs: digests by path."""

    key: str
    files: dict[str, str]


class BesideSection(Struct, frozen=True):
    """A page but for a section that is set by itself: what stands before it, and after it."""

    path: str
    before: bytes
    after: bytes


class Pipeline:
    """One notebook through its stages.

    In its methods ``cut`` is the notebook without faulty designs, cut to the edition.
    """

    def __init__(
        self,
        options: BuildOptions,
        store: CacheStore,
        program: str,
        scan: ContentScan,
        progress: ShowProgress,
    ) -> None:
        """``program`` is the digest of this program."""
        self._options, self._store, self._program, self._scan = options, store, program, scan
        self._progress = progress
        self._settings_digest = scan.digests.get(SETTINGS_FILE, "")
        cache = self._cache = Cache(store, digest(program, _library_versions()))
        edition = options.edition
        self._designs = _DesignStage(
            options.content, scan, cache.stage("records", Design, DesignRow)
        )
        self._figures = cache.stage("figures", DesignFigures, FiguresRow)
        self._priced = cache.stage("prices", PricedFigures, PricedSummary)
        self._rounds = cache.stage("rounds", CardFigures, NoneType)
        self._scatters = cache.stage(f"scatters-{edition}", NoneType, DesignScatter)
        self._failures = cache.stage(f"failures-{edition}", NoneType, tuple[FailurePot, ...])
        self._results = cache.stage(f"results-{edition}", DesignResults, ResultsRow)
        # Of a question across designs: a design's bars, their summary the values that it has of
        # what the question compares; its contrasts between those values; the question's answer.
        self._bars = cache.stage(f"bars-{edition}", tuple[ObservedBar, ...], tuple[str, ...])
        self._contrasts = cache.stage(f"contrasts-{edition}", comparison.DesignContrasts, NoneType)
        self._answers = cache.stage(f"across-{edition}", comparison.CrossDesignResults, NoneType)
        self._plans = cache.stage(f"orders-{edition}", OrderPlan, NoneType)
        # Of pages, known after all others were kept: ``render`` keeps them.
        self._beside = Stage(cache, f"beside-{edition}", BesideSection, NoneType)
        self._function_answers = AnswerCache(cache)
        self.notebook: Notebook | None = None  # as it was read; None before
        self.problems: frozenset[Problem] = frozenset()  # what reading and figures have found
        self._gate: EditionGate | None = None  # no edition but the studio's own is without
        self._measured: dict[str, MeasureResult] = {}
        self._measured_before: dict[str, MeasureResult] = cache.table("measured", MeasureResult)
        # Photos with AVIF among their files are other ones than those without.
        self._with_avif = uses_avif(edition)
        self._photos_table = "photos-avif" if self._with_avif else "photos"
        self._photos_before = cache.table(self._photos_table, tuple[str, PagePhoto])
        # The digest of each photo's file, and what was made of it.
        self._photos: dict[str, tuple[str, PagePhoto]] = dict(self._photos_before)

    def _file_digest(self, path: str) -> str:
        """The digest of a content file; "" for one that is missing or cannot be read."""
        return self._scan.digests.get(path, "")

    def _rows(
        self,
        stage: Stage[Value, Summary],
        makers: Mapping[str, tuple[str, Make[Summary]]],
        what: str = "",
        together: Callable[[str], Hashable] | None = None,
        apart: bool = False,
    ) -> dict[str, CacheRow[Summary]]:
        """The rows of a stage: cached ones where the key is the same, else made on all cores.

        Takes:  makers    the key of each row, and what makes it, by name
                what      what is made, for the progress; "" shows none
                together  gives the group of a row by its name; one process makes a whole group
                apart     make even two rows in processes of their own, if there may be any
        """
        todo = [name for name, (key, _) in makers.items() if not stage.cached_row(name, key)]
        if todo:
            self._function_answers.load_earlier()  # before processes are forked
        made = map_in_order(
            [partial(self._function_answers.with_new_answers, makers[name][1]) for name in todo],
            together=None if together is None else lambda number: together(todo[number]),
            workers=worker_count() if apart else None,
        )
        if what:
            made = self._progress(made, len(todo), what)
        for name, ((data, summary), answers) in zip(todo, made, strict=True):
            self._function_answers.add(answers)
            stage.add(name, makers[name][0], data, summary)
        return {name: stage.rows[name] for name in makers}

    # read -------------------------------------------------------------------------------

    def read(self) -> Notebook:
        """Read everything the maker wrote; of designs only those that changed are read again."""
        notebook = self.notebook = read_notebook(self._options.content, self._designs)
        self.problems = frozenset(notebook.problems)
        return notebook

    # derive -----------------------------------------------------------------------------

    def derive(self, notebook: Notebook, widths: BleedWidthsByDesign) -> AllFigures:
        """The figures of every design that could be read; those with prices by themselves."""
        stage, bench = self._figures, shelf_without_private(notebook.shelf)
        without_prices = dataclasses.replace(notebook, shelf=bench)
        things = _ThingDigests(bench)
        makers = {}
        for name, summary in notebook.summaries.items():
            key = self._recipe_key(summary, things, repr(widths.get(name)))
            if stage.cached_row(name, key) or can_be_derived(bench, notebook.designs[name]):
                makers[name] = key, partial(self._derive_design, without_prices, name, widths)
        # Designs of one mat mostly share the answers of the bond model.
        rows = self._rows(
            stage, makers, "designs reckoned", lambda name: _first_mat(notebook.summaries[name])
        )
        problems = {problem for row in rows.values() for problem in row.summary.problems}
        summaries = {name: row.summary.summary for name, row in rows.items()}
        digests = {name: row.summary_digest for name, row in rows.items()}
        bench_figures = stage.values(rows)
        lives = lives_of(notebook.shelf, summaries)
        whole = self._with_prices(notebook, bench_figures, lives)
        return AllFigures(
            whole,
            tuple(sorted(problems)),
            DigestedValues(summaries, digests),
            bench_figures,
            self._priced.values(rows),
            self._priced.summaries(rows),
        )

    def _with_prices(
        self, notebook: Notebook, bench: LazyValues[DesignFigures], lives: Mapping[str, int]
    ) -> LazyValues[DesignFigures]:
        """The figures of every design, with those that take prices.

        ``lives`` are those of pieces that were seen: the bars of any design on a mat say them.
        """
        things, worn = _ThingDigests(notebook.shelf), notebook_as_worn(notebook, lives)

        def make(name: str) -> tuple[bytes, PricedSummary]:
            made = derive_priced(worn, notebook.designs[name], bench[name])
            return encode(made), priced_summary(made)

        makers = {}
        for name in bench:
            summary = notebook.summaries[name]
            own_lives = [
                (mat, lives[mat]) for kind, mat in summary.things if kind == "mats" and mat in lives
            ]
            more = digest(bench.digest(name), repr(sorted(own_lives)))
            key = self._recipe_key(summary, things, more)
            makers[name] = key, partial(make, name)
        self._rows(self._priced, makers)
        priced = self._priced.values(makers)
        return LazyValues(
            bench,
            lambda name: with_prices(bench[name], priced[name]),
            lambda name: digest(bench.digest(name), priced.digest(name)),
        )

    def _recipe_key(self, design: DesignSummary, things: _ThingDigests, more: str) -> str:
        """A digest of all that is written of a design's recipes, and of ``more``."""
        front, of_things = self._designs.front_digest(design.id), things.digest(design.things)
        return digest(self._settings_digest, front, of_things, more)

    def _derive_design(
        self, notebook: Notebook, name: str, widths: BleedWidthsByDesign
    ) -> tuple[bytes, FiguresRow]:
        """The encoded figures of one design, and their summary."""
        design = notebook.designs[name]
        figures, problems = derive_for_bench(
            notebook, design, photo_widths=widths.get(name), memo=self._function_answers
        )
        summary = figures_summary(notebook, design, figures)
        return encode(figures), FiguresRow(summary, problems)

    def measure(self, notebook: Notebook) -> tuple[tuple[MeasuredPhoto, ...], tuple[Problem, ...]]:
        """Measure the photos that write-ups say to measure; gives problems for those that fail."""
        return measured_photos(notebook, partial(self._measure_photo, notebook.root))

    def _measure_photo(self, root: Path, file: Path, photo: Photo) -> Measurement:
        """Measure one photo, or give the cached result; raises PhotoProblem as it would then."""
        content = self._file_digest(file.relative_to(root).as_posix())
        key = digest(file.name, content, repr(photo.measure), repr(photo.scale))
        result = self._measured.get(key) or self._measured_before.get(key)
        if result is None:
            try:
                result = MeasureResult(measure_photo(file, photo))
            except PhotoProblem as problem:
                result = MeasureResult(None, problem.what, problem.hint)
        self._measured[key] = result
        if result.measurement is None:
            raise PhotoProblem(result.what, result.hint)
        return result.measurement

    def derive_all(self, cut: Notebook, figures: AllFigures) -> NotebookFigures:
        """Work out what depends on all designs of an edition together, and each order's plan."""
        rates = studio_pot_rates(figures.summaries)
        together = derive_notebook(cut, figures.summaries, rates, {}, {}, self._function_answers)
        with_left = notebook_as_left(cut, together.left, together.lives)
        plans = {
            name: self._plan_order(with_left, planned, together)
            for name, order in cut.orders.items()
            if (planned := order.of_designs(figures.summaries)) is not None
        }
        rounds = self._plan_rounds(cut, figures, together)
        buying = buying_for(cut, plans, together.left)
        return replace(together, orders=plans, rounds=rounds, buying=buying)

    def _plan_rounds(
        self, cut: Notebook, figures: AllFigures, together: NotebookFigures
    ) -> LazyValues[CardFigures]:
        """The first round of every design, from all that it is planned from."""
        things = _ThingDigests(shelf_without_private(cut.shelf))

        def make(name: str, rate: RateLine, dew_min: Mapping[str, int]) -> tuple[bytes, None]:
            return encode(derive_first_round(cut, cut.designs[name], rate, dew_min)), None

        makers = {}
        for name, rate in together.card_rates.items():
            dew_min = figures.summaries[name].dew_min
            key = self._recipe_key(cut.summaries[name], things, digest_of((rate, dew_min)))
            makers[name] = key, partial(make, name, rate, dew_min)
        self._rows(self._rounds, makers)
        return self._rounds.values(makers)

    def _plan_order(self, cut: Notebook, order: OrderFile, together: NotebookFigures) -> OrderPlan:
        """The plan of an order; ``together`` is what was worked out of all designs."""
        casts, rates = together.casts, together.rates
        record = order.record
        # What was fit to sell so far says how many to pour.
        asks = record.sure is not None or any(line.sure is not None for line in record.designs)
        judged = judged_pours(cut.summaries) if asks else {}
        key = digest(
            self._file_digest(order.path),
            self._settings_digest,
            self._scan.under("shelf/"),
            *(self._designs.front_digest(line.design) for line in order.record.designs),
            digest_of((casts, rates, judged)),
            digest_of(tuple(sorted(together.left.items()))),
            digest_of(tuple(sorted(together.lives.items()))),
        )

        def make() -> tuple[bytes, None]:
            return encode(plan_order(cut, order, casts, rates, memo=self._function_answers)), None

        return self._plans.load(self._plans.row(order.id, key, make).digest)

    # compare ----------------------------------------------------------------------------

    def compare(self, cut: Notebook) -> ComparisonResults:
        """Compare the variants of every design, and answer every question across designs."""
        pieces = self._file_digest(_PIECES_FILE)
        keys = {
            name: digest(self._settings_digest, pieces, self._designs.front_digest(name))
            for name in cut.summaries
        }
        rows = self._rows(
            self._scatters,
            {name: (key, partial(_design_scatter, cut, name)) for name, key in keys.items()},
        )
        scatters = {name: row.summary for name, row in rows.items()}
        lent = comparison.lent_scatter(scatters)
        # All that is lent, with what the design has itself, says what it may borrow.
        lent_digests = _LentDigests(lent)
        makers = {
            name: (
                digest(key, *lent_digests.borrowed_by(scatters[name])),
                partial(_design_results, cut, name, scatters[name], lent),
            )
            for name, key in keys.items()
        }
        results = self._rows(self._results, makers, "designs compared")
        self._answer_questions(cut)
        values = self._results.values(makers)
        return ComparisonResults(
            LazyValues(values, values.__getitem__, lambda name: results[name].summary.shown),
            values,
            self._answers.values(cut.comparisons),
            DigestedValues(
                {name: row.summary.summary for name, row in results.items()},
                {name: row.summary_digest for name, row in results.items()},
            ),
            scatters,
            self._failure_conditions(cut),
        )

    def _failure_conditions(self, cut: Notebook) -> ConditionsBySymptom:
        """What went with each failure, over the pots of all designs; each design's are cached."""
        things = _ThingDigests(shelf_without_private(cut.shelf))
        rows = self._rows(
            self._failures,
            {
                name: (self._recipe_key(summary, things, ""), partial(_failure_pots, cut, name))
                for name, summary in cut.summaries.items()
            },
        )
        pots = chain.from_iterable(row.summary for row in rows.values())
        return notebook_conditions(pots, self._function_answers)

    def _answer_questions(self, cut: Notebook) -> None:
        """Answer every question across designs."""
        makers = {name: self._question_answer(cut, one) for name, one in cut.comparisons.items()}
        # What all designs have to say takes memory that a process does not give back to the system,
        # and that all pages would be set beside.
        self._rows(self._answers, makers, apart=len(cut.summaries) >= MANY_DESIGNS)

    def _question_answer(self, cut: Notebook, question: ComparisonFile) -> tuple[str, Make[None]]:
        """The key of an answer, and what makes it; what each design contributes is cached."""
        question_key = digest(self._settings_digest, self._file_digest(question.path), question.id)
        # First the bars of each design, which tell what values there are at all.
        bars = self._rows(
            self._bars,
            {
                f"{question.id}/{name}": (
                    digest(question_key, self._designs.front_digest(name)),
                    partial(_design_bars, cut, question, name),
                )
                for name in cut.summaries
            },
        )
        values = sorted({value for row in bars.values() for value in row.summary})
        contrasts = self._rows(
            self._contrasts,
            {
                name: (
                    digest(question_key, row.digest, *values),
                    partial(_design_contrasts, cut, question, self._bars, row.digest, values),
                )
                for name, row in bars.items()
                if row.summary
            },
        )
        digests = [row.digest for row in contrasts.values()]

        def make() -> tuple[bytes, None]:
            rows = (comparison.restored_contrasts(self._contrasts.load(one)) for one in digests)
            slim = map(comparison.without_values, rows)
            answer = comparison.cross_design_answer(cut.settings, question, slim)
            return encode(comparison.compact_answer(answer)), None

        return digest(question_key, *digests), make

    # view -------------------------------------------------------------------------------

    def view(self, stop: Callable[[], None] = lambda: None) -> ViewResult:
        """Read, derive and compare; gives the book that pages are laid out from.

        ``stop`` raises where the work is not wanted any more; it is called now and then.

        Fails:  ContentError for errors in what all pages depend on, for an edition that links to
                what it leaves out, and with ``strict`` for any error
        """
        options = self._options
        notebook = self.read()
        stop()
        measured, unmeasured = self.measure(notebook)
        figures = self.derive(notebook, bleed_widths(measured))
        stop()
        notebook = _with_orders_checked(notebook, figures.summaries, self._function_answers)
        problems = {*notebook.problems, *unmeasured, *figures.problems}
        self.problems = frozenset(problems)
        faulty = self._faulty_things(notebook)
        errors = _errors(problems)
        # An error that no page of its own shows refuses the whole; with ``strict`` any does.
        if (options.strict and errors) or not all(map(faulty.has_page_about, notebook.errors)):
            raise ContentError(errors)
        sound = _without_faulty(notebook, faulty)
        cut = cut_to_edition(sound, options.edition)
        if options.edition != "studio":
            left_out = faulty.left_out(options.edition)
            with_page = faulty.of_kind("design").keys() - left_out.keys()
            if links := links_to_left_out(cut, options.edition, with_page):
                raise ContentError(tuple({*links, *errors}))
            hidden = sound.summaries.keys() - cut.summaries.keys()
            titles = {name: sound.summaries[name].title for name in hidden} | {**left_out}
            values = values_left_out(notebook, self._designs.private_texts(notebook), titles)
            self._gate = EditionGate(self._cache, cut, options.edition, values, options.out)
        figures = _figures_of(figures, sound.summaries)
        compared = self.compare(cut)
        stop()
        photos = self._prepare_photos(cut)
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
        # A photo that cannot be shown has one warning: that it cannot be measured follows.
        unshown = {problem.what for problem in book.unshown}
        problems -= {problem for problem in unmeasured if problem.what in unshown}
        return ViewResult(book, faulty, tuple(sorted(problems | {*book.unshown})))

    def _recipes(self, cut: Notebook) -> Mapping[str, Design]:
        """The designs, each with a digest that leaves out its prose."""

        def digest_without_prose(name: str) -> str:
            front, grew_from = self._designs.front_digest(name), cut.summaries[name].grew_from
            return digest(self._options.edition, front, str(grew_from))

        return LazyValues(cut.designs, cut.designs.__getitem__, digest_without_prose)

    def _faulty_things(self, notebook: Notebook) -> FaultyThings:
        """The designs, questions and orders with an error, each with its problems.

        What only figures find, such as too much of an oil, is said on a design's own page, and
        costs it no other; but customers are not shown such a design.
        """
        public = self._options.edition == "public"
        read_errors = problems_by_design(notebook.errors)
        things: dict[KindAndId, FaultyThing] = {}
        for name in (*notebook.summaries, *notebook.unreadable):
            row = self._figures.rows.get(name)
            figure_errors = _errors(row.summary.problems) if public and row is not None else ()
            errors = {*read_errors.get(name, ()), *figure_errors}
            if errors or name in notebook.unreadable:
                summary = notebook.summaries.get(name)
                # Its date keeps the numbers of the others, however little can be read.
                head = written_head(notebook.root, name) if summary is None else summary
                things["design", name] = FaultyThing(
                    head.title, head.date, head.state, tuple(sorted(errors))
                )
        for kind, folder, ending in (
            ("comparison", "comparisons/", ".md"), ("order", "orders/", ".yaml")
        ):  # fmt: skip
            for name, problems in _problems_by_id(notebook.errors, folder, ending).items():
                things[kind, name] = FaultyThing(name, None, "", problems)
        return FaultyThings(things)

    def _prepare_photos(self, cut: Notebook) -> ProbedPhotos:
        """Prepare every photo that a notebook names; gives each, or its problem, by path.

        New ones are decoded to the last pixel, on all cores. Their files wait in the store until
        the notebook is written, so that memory holds those of a few photos only.
        """
        paths = photo_paths(cut)
        photos: dict[str, PagePhoto | PhotoProblem] = {
            path: self._photos[path][1]
            for path in paths
            if path in self._photos and self._photos[path][0] == self._file_digest(path) != ""
        }
        todo = [path for path in paths if path not in photos]
        files = [cut.root / path for path in todo]
        made = prepare_photos(files, modern=self._with_avif, workers=max(1, worker_count()))
        made = self._progress(made, len(todo), "photos made ready")
        for path, (file, prepared) in zip(todo, made, strict=True):
            if not isinstance(prepared, PreparedPhoto):
                photos[path] = prepared
                continue
            photo = photos[path] = page_photo(path, prepared)
            # A photo that was written to meanwhile, or taken away, is made again, and told if it
            # goes on.
            if _is_still(file, prepared.digest):
                self._photos[path] = (self._file_digest(path), photo)
                for rendition in prepared.renditions:
                    if rendition.format in photo.forms:
                        name = photo.file(rendition.width, rendition.format)
                        self._store.write(_pending_name(name), rendition.content)
        return {path: photos[path] for path in paths}

    # render -----------------------------------------------------------------------------

    def render(self, viewed: ViewResult) -> Iterator[OutputFile | ReadyFile]:
        """Every file of the notebook; pages whose inputs changed are made, on all cores.

        Fails:  ContentError, once all are made, for an edition that would give away what it
                leaves out
        """
        book, gate = viewed.book, self._gate
        table = f"pages-{book.edition}"
        before: dict[str, GroupFiles] = self._cache.table(table, GroupFiles)
        keys = GroupKeys(book)
        now: dict[str, GroupFiles] = {}
        todo: list[tuple[PageGroup, Callable[[], _Rendered]]] = []
        pages: list[str] = []
        beside_keys: dict[str, str] = {}
        for group in groups_of(book):
            key = keys.key(group.name, group.inputs)
            cached = before.get(group.name)
            if (
                cached is None
                or cached.key != key
                or not (gate is None or all(gate.knows(*file) for file in cached.files.items()))
            ):
                now[group.name] = GroupFiles(key, {})
                beside = None
                if group.apart is not None:
                    beside_keys[group.name] = keys.key(group.name, group.apart.beside)
                    beside = self._beside.cached_row(group.name, beside_keys[group.name])
                todo.append((group, partial(self._render_group, group, book, beside)))
                continue
            now[group.name] = cached
            self._beside.carry(group.name)
            pages.extend(cached.files)
            # Laid out once more, where one of its files is not there after all.
            again = functools.cache(partial(_render_group, group, book))
            for path, file_digest in cached.files.items():
                yield OutputFile(path, file_digest, partial(_one_file, again, path))
        if len(todo) >= MIN_TASKS:
            book.theme.compile_all()
        made = map_as_completed(
            [task for _, task in todo], together=lambda number: todo[number][0].design
        )
        for number, (files, apart_at, searched) in self._progress(
            made, len(todo), "parts of the notebook made"
        ):
            name = todo[number][0].name
            digests = {path: digest(data) for path, data in files.items()}
            now[name].files.update(digests)
            # Without a folder it would be held in memory, where nobody asks for it.
            if apart_at is not None and self._store.has_folder:
                self._keep_beside(name, beside_keys[name], files, apart_at)
            pages.extend(digests)
            if gate is not None:
                gate.add(searched)
            yield from (ReadyFile(path, digests[path], data) for path, data in files.items())
        self._beside.keep()
        if now != before:
            self._cache.write_table(table, now)
        faulty = tuple(faulty_sheets(book, viewed.faulty))
        pages.extend(sheet.path for sheet in faulty)
        for sheet in (*faulty, *other_sheets(book, pages, self._pending_photo)):
            file = as_output_file(sheet)
            yield file if gate is None else gate.checked(file)
        if gate is not None and (leaks := gate.problems()):
            raise ContentError(tuple({*leaks, *errors_in(viewed.problems)}))

    def _render_group(
        self, group: PageGroup, book: Book, beside: CacheRow[None] | None
    ) -> _Rendered:
        """Render a group, and search its files for what the edition leaves out.

        A section apart is put into what is known to stand beside it.
        """
        apart_at = None
        html = b""
        if group.apart is not None:
            html = group.apart.html(restrict_to_inputs(book, group.apart.inputs)).encode()
        if beside is not None and html:
            known = self._beside.load(beside.digest)
            files = {known.path: known.before + html + known.after}
        else:
            files = _render_group(group, book)
            if html:
                (page,) = files.values()
                at = page.find(html) if page.count(html) == 1 else -1
                apart_at = None if at < 0 else (at, at + len(html))
        return files, apart_at, {} if self._gate is None else self._gate.search(files)

    def _keep_beside(
        self, name: str, key: str, files: Mapping[str, bytes], apart_at: tuple[int, int]
    ) -> None:
        """Cache what stands beside the section of a page that is set by itself."""
        ((path, page),) = files.items()
        start, end = apart_at
        kept = BesideSection(path, page[:start], page[end:])
        self._beside.add(name, key, encode(kept), None)

    def _pending_photo(self, path: str) -> bytes | None:
        """The bytes of a photo file that waits in the store; None if it does not."""
        return self._store.read(_pending_name(path))

    def clear_waiting(self) -> None:
        """Delete the photo files that waited in the store, once the notebook is written."""
        self._store.clear(_PENDING)

    # between runs -----------------------------------------------------------------------

    def keep(self) -> None:
        """Write the cache for the next run; called if the content has not changed meanwhile."""
        assert self.notebook is not None, "nothing has been read"
        self._designs.keep_warnings(self.notebook.problems)
        self._cache.keep_stages()
        if self._measured.keys() - self._measured_before.keys():
            self._cache.write_table("measured", self._measured)
        photos = {path: row for path, row in self._photos.items() if path in self._scan.digests}
        if photos != self._photos_before:
            self._cache.write_table(self._photos_table, photos)
        self.keep_answers()

    def keep_answers(self) -> None:
        """Write the cached answers of pure functions, which depend on no file of the notebook."""
        self._function_answers.keep()


def _is_still(photo: Path, expected: str) -> bool:
    """Whether a photo can still be read, and its digest is the ``expected`` one."""
    try:
        return photo_digest(photo) == expected
    except PhotoProblem:
        return False


def _pending_name(path: str) -> str:
    """The name of a photo's file in the store, while it waits to be written to its path."""
    return _PENDING + path.rpartition("/")[2]


def make_parts(parts: Sequence[OutputFile], progress: ShowProgress) -> Iterator[bytes]:
    """The bytes of many files, made on all cores; those of one photo in one process."""
    made = map_in_order(
        [part.make_bytes for part in parts],
        together=lambda number: (
            parts[number].key.rpartition("-")[0] if parts[number].lasting else number
        ),
    )
    return progress(made, len(parts), "other files made")


def as_output_file(sheet: Sheet) -> OutputFile:
    """A sheet as a file to be written; one without a key is rendered at once."""
    if sheet.key:
        return OutputFile(sheet.path, sheet.key, sheet.make, sheet.lasting)
    data = sheet.make()
    return OutputFile(sheet.path, digest(data), data.__bytes__)


# The files of a group by path; from where to where the section stands that is set apart; and what
# the gate of the edition found in them.
_Rendered = tuple[dict[str, bytes], tuple[int, int] | None, dict[str, SearchedFile]]


def _render_group(group: PageGroup, book: Book) -> dict[str, bytes]:
    """The files of a group by path, rendered from its inputs alone."""
    return {
        sheet.path: sheet.make() for sheet in group.lay_out(restrict_to_inputs(book, group.inputs))
    }


def _one_file(files: Callable[[], Mapping[str, bytes]], path: str) -> bytes:
    """Render a group of pages by ``files``, and give the bytes of one of them."""
    return files()[path]


class _DesignStage:
    """The read stage: it reuses the designs of the last run that have not changed."""

    def __init__(self, root: Path, scan: ContentScan, stage: Stage[Design, DesignRow]) -> None:
        self._root, self._file_digests, self._stage = root, scan.digests, stage
        self._shared_key = ""
        self._front_digests: dict[str, str] = {}

    def known_on(self, shelf: Shelf) -> Mapping[str, CachedDesign]:
        """The cached designs that need not be read again; called before any is added."""
        # A design is judged by the settings, by what things there are on the shelf, by the
        # pieces that its bars were cast on, and by how many bars a mould takes.
        names = sorted(f"{kind}/{name}" for kind, table in shelf.written.items() for name in table)
        names += [f"{name}: {mould.bars}" for name, mould in shelf.moulds.items()]
        files = (self._file_digests.get(path, "") for path in (SETTINGS_FILE, _PIECES_FILE))
        self._shared_key = digest(*files, *sorted(shelf.unread), "", *names)
        designs: dict[str, CachedDesign] = {}
        for name, row in self._stage.before.items():
            design = row.summary
            if all(path in self._file_digests for path in design.named_files) and (
                self._stage.cached_row(name, self._key(design.files))
            ):
                self._front_digests[name] = design.front_digest
                designs[name] = CachedDesign(design.summary, design.warnings)
        return designs

    def add(self, design: Design, summary: DesignSummary) -> bool:
        """Cache a design that was read in this run; False where that cannot be done."""
        lines = read_text(self._root, design.path).split("\n")[: design.body_line - 1]
        others = (self._file_digests.get(path, "") for path in design.files[1:])
        front = self._front_digests[design.id] = digest("\n".join(lines), *others)
        if not all(self._file_digests.get(path) for path in design.files):
            return False  # by a way that is not looked at, such as a link to a folder
        private = tuple(private_texts(design.written))
        row = DesignRow(summary, design.files, tuple(_named_files(summary)), front, (), private)
        self._stage.add(design.id, self._key(design.files), encode(design), row)
        return True

    def designs(self, names: Iterable[str]) -> Mapping[str, Design]:
        """The designs of these names, decoded when they are looked up."""
        return self._stage.values(names)

    def front_digest(self, name: str) -> str:
        """A digest of everything that a design was read from, except its prose."""
        return self._front_digests.get(name, "")

    def private_texts(self, notebook: Notebook) -> Iterator[PrivateText]:
        """What only the studio sees of every design, without reading those that are cached."""
        for name in notebook.designs:
            row = self._stage.rows.get(name)
            if row is not None:
                yield from row.summary.private
            else:
                yield from private_texts(notebook.designs[name].written)

    def keep_warnings(self, problems: Iterable[Problem]) -> None:
        """Cache each design's warnings with it, and no design that has an error."""
        by_design = problems_by_design(problems)
        for name, row in list(self._stage.rows.items()):
            problems_of_design = by_design.get(name, ())
            if any(not problem.warning for problem in problems_of_design):
                self._stage.drop(name)
            elif row.summary.warnings != problems_of_design:
                self._stage.revise(name, replace(row.summary, warnings=problems_of_design))

    def _key(self, files: tuple[str, ...]) -> str:
        """The key of a design that is read from these files."""
        return digest(
            self._shared_key, *(f"{path} {self._file_digests.get(path)}" for path in files)
        )


def _named_files(summary: DesignSummary) -> Iterator[str]:
    """The files that a design names and that must be there, or it has an error."""
    if summary.grew_from is not None:
        yield f"designs/{summary.grew_from}/design.md"
    yield from (path for _, path in summary.pictures)
    for target in summary.link_targets:
        if target.kind == "design":
            yield f"designs/{target.name}/design.md"
        elif target.kind == "comparison":
            yield f"comparisons/{target.name}.md"
        elif target.kind == "file":
            yield target.name


class _ThingDigests:
    """Digests of things on a shelf: of what was written of them, and where."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._of_thing: dict[ThingRef, str] = {}
        self._of_things: dict[tuple[ThingRef, ...], str] = {}

    def digest(self, things: tuple[ThingRef, ...]) -> str:
        """A digest of everything on the shelf that the figures of a design may depend on."""
        if things not in self._of_things:
            reached = sorted(reachable_things(self._shelf, things))
            self._of_things[things] = digest(*map(self._digest, reached))
        return self._of_things[things]

    def _digest(self, thing: ThingRef) -> str:
        if thing not in self._of_thing:
            (kind, name), tree = thing, self._shelf.written.get(thing[0])
            # Problems are shown with their lines, so the places count.
            written = None if tree is None or name not in tree else plain_tree(tree[name])
            self._of_thing[thing] = digest(kind, name, msgpack.encode(written))
        return self._of_thing[thing]


class _LentDigests:
    """Digests of the scatter that designs lend, up to any day."""

    def __init__(self, lent: comparison.LentScatter) -> None:
        self._days: dict[tuple[str, int | None], list[date]] = {}
        self._digests: dict[tuple[str, int | None], list[str]] = {}
        for of, histories in lent.items():
            by_day: defaultdict[date, list[object]] = defaultdict(list)
            for name, history in histories.items():
                for scatter in history:
                    by_day[scatter.last_pour].append((name, scatter))
            self._days[of] = sorted(by_day)
            poured = (by_day[day] for day in self._days[of])
            self._digests[of] = list(
                accumulate(poured, lambda before, of_day: digest_of((before, of_day)), initial="")
            )

    def borrowed_by(self, own: DesignScatter) -> Iterator[str]:
        """For each measure that a design borrows a digest of all that is lent until its day."""
        for of in own.borrows.items():
            at = bisect_right(self._days.get(of, ()), own.borrows_until)
            yield self._digests[of][at] if at else ""


def _design_scatter(cut: Notebook, name: str) -> tuple[bytes, DesignScatter]:
    """How much the pots of one design differ, as the summary of no value."""
    scatter = comparison.design_scatter(cut.settings, cut.shelf, cut.designs[name])
    return encode(None), scatter


def _failure_pots(cut: Notebook, name: str) -> tuple[bytes, tuple[FailurePot, ...]]:
    """The pots of one design as trials of what fails, as the summary of no value."""
    return encode(None), failure_pots(cut.settings, cut.shelf, cut.designs[name])


def _design_results(
    cut: Notebook, name: str, own: DesignScatter, lent: comparison.LentScatter
) -> tuple[bytes, ResultsRow]:
    """The encoded results of one design, and their summary."""
    others = comparison.other_scatter(name, own, lent)
    results = comparison.design_results(cut.settings, cut.shelf, cut.designs[name], others)
    compact = comparison.compact_results(results)
    shown = digest_of(compared_as_shown(compact))
    return encode(compact), ResultsRow(comparison.results_summary(compact), shown)


def _design_bars(
    cut: Notebook, question: ComparisonFile, name: str
) -> tuple[bytes, tuple[str, ...]]:
    """The encoded bars of a design for a question, and the values that they have."""
    bars = comparison.cross_design_bars(cut.settings, question, cut.designs[name])
    return encode(bars), tuple(sorted({bar.variant for bar in bars}))


def _design_contrasts(
    cut: Notebook,
    question: ComparisonFile,
    stage: Stage[tuple[ObservedBar, ...], tuple[str, ...]],
    bars_digest: str,
    values: Sequence[str],
) -> tuple[bytes, None]:
    """The encoded contrasts of a design between the values that a question compares."""
    bars = stage.load(bars_digest)
    contrasts = comparison.design_contrasts(cut.settings, question, bars, values)
    return encode(comparison.compact_contrasts(contrasts)), None


def _first_mat(summary: DesignSummary) -> str | None:
    """The first mat that a design uses; None if it uses none."""
    return next((mat for mat, _, _ in summary.overview.trims), None)


def _errors(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The errors among problems, sorted, each once."""
    return tuple(sorted({*errors_in(problems)}))


def _problems_by_id(
    problems: Iterable[Problem], folder: str, ending: str
) -> dict[str, tuple[Problem, ...]]:
    """Problems in the files of a folder, by the id that the file's name gives."""
    by_id: dict[str, tuple[Problem, ...]] = {}
    for problem in problems:
        path = problem.position.path
        name = path.removeprefix(folder).removesuffix(ending)
        if path == f"{folder}{name}{ending}" and not bad_page_id(name):
            by_id[name] = (*by_id.get(name, ()), problem)
    return by_id


def _with_orders_checked(notebook: Notebook, designs: Collection[str], memo: Memo) -> Notebook:
    """The notebook with the problems of orders that are too long to be planned.

    ``designs`` are those that have figures.
    """
    faulty_files = {problem.position.path for problem in notebook.errors}
    found = (
        too_many_rounds(notebook, order, designs, memo)
        for order in notebook.orders.values()
        if order.path not in faulty_files
    )
    return dataclasses.replace(notebook, problems=(*notebook.problems, *chain.from_iterable(found)))


def _without_faulty(notebook: Notebook, faulty: FaultyThings) -> Notebook:
    """The notebook without the designs, questions and orders that have an error."""

    def sound(things: Mapping[str, Value], kind: str) -> dict[str, Value]:
        return {name: one for name, one in things.items() if (kind, name) not in faulty.things}

    summaries, designs = sound(notebook.summaries, "design"), notebook.designs
    return dataclasses.replace(
        notebook,
        designs=LazyValues(
            [name for name in designs if name in summaries],
            designs.__getitem__,
            partial(cached_digest, designs),
        ),
        summaries=summaries,
        comparisons=sound(notebook.comparisons, "comparison"),
        orders=sound(notebook.orders, "order"),
    )


def _figures_of(figures: AllFigures, designs: Collection[str]) -> AllFigures:
    """All figures, with the summaries of only these designs."""
    summaries = {name: one for name, one in figures.summaries.items() if name in designs}
    digests = {name: cached_digest(figures.summaries, name) for name in summaries}
    return dataclasses.replace(figures, summaries=DigestedValues(summaries, digests))


def _library_versions() -> str:
    """The versions of Python and of the numeric libraries, as paths and times of their files."""
    versions = [sys.version]
    for name in _NUMERIC_LIBRARIES:
        spec = importlib.util.find_spec(name)
        if spec is not None and spec.origin is not None:
            versions.append(f"{spec.origin} {os.stat(spec.origin).st_mtime_ns}")
    return " ".join(versions)
