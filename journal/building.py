"""A notebook from its content to its folder, whole or not at all; or looked through for that."""

from __future__ import annotations

from functools import partial

from msgspec import Struct
from msgspec.structs import replace

from journal.build_options import BuildOptions
from journal.cache import retry_without_cache
from journal.cache_folder import cache_store
from journal.errors import ContentError, Problem, errors_in
from journal.html.theme import own_theme_problems
from journal.made_from import is_up_to_date, remember, stamp_to_write
from journal.output import (
    CacheStore,
    OutputFile,
    WriteResult,
    check_together,
    recover,
    write_notebook,
)
from journal.photos.derive import unreadable_photos
from journal.pipeline import Pipeline, ShowProgress, make_parts, no_progress
from journal.records.models.shelf import Shelf
from journal.scan import (
    ContentScan,
    cache_program_digest,
    cached_program_digest,
    changed_since,
    program_fingerprint,
    scan_content,
)
from journal.views.shared.book import program_digest

# How often a notebook is read anew because somebody was writing in it.
_TRIES = 3


class BuildResult(Struct, frozen=True):
    """The files that a build wrote, and all problems. ``written`` is None where nothing changed."""

    written: WriteResult | None
    problems: tuple[Problem, ...] = ()
    designs: int = 0
    faulty: int = 0  # designs whose page says what is wrong

    @property
    def errors(self) -> int:
        """The number of errors in what the maker wrote."""
        return len(errors_in(self.problems))


class CheckResult(Struct, frozen=True):
    """Everything that is wrong in a notebook, how many designs there are, and its shelf."""

    problems: tuple[Problem, ...]
    designs: int
    shelf: Shelf | None = None


def build_notebook(
    options: BuildOptions, scan: ContentScan | None = None, progress: ShowProgress = no_progress
) -> BuildResult:
    """Make the notebook, whole or not at all.

    Takes:  scan      of the content a moment ago, if there was one; else it is scanned now
            progress  shows how far the work has come
    Gives:  what was made, kept and removed, with all errors and warnings
    Fails:  ContentError for what no page can be made without; OutputError if the folder
            cannot be written. The notebook that was there stands as it was.
    """
    store = cache_store(options.content)
    recover(options.out)
    program = _program(store)
    return retry_without_cache(store, lambda kept: _build(options, kept, program, scan, progress))


def check_notebook(options: BuildOptions, progress: ShowProgress = no_progress) -> CheckResult:
    """Lay out every page as a build does, and write nothing but the cache.

    Where there is no error, a build of these options succeeds, as far as it goes by the content.

    Fails:  ContentError if there is no notebook; OutputError if two pages cannot stand beside
            one another
    """
    store = cache_store(options.content)
    program = _program(store)
    return retry_without_cache(store, lambda kept: _check(options, kept, program, progress))


def _program(store: CacheStore) -> str:
    """The digest of this program, kept from run to run."""
    times = program_fingerprint()
    program = cached_program_digest(store, times)
    if program is None:
        program = program_digest()
        cache_program_digest(store, times, program)
    return program


def _check(
    options: BuildOptions, store: CacheStore, program: str, progress: ShowProgress
) -> CheckResult:
    """Look a notebook through, with the cache as it is."""
    scan = scan_content(options.content, store)
    pipeline = Pipeline(options, store, program, scan, progress)
    try:
        viewed = pipeline.view()
        # Only paths are held against one another: bytes that were laid out are let go.
        check_together(
            OutputFile(file.path, file.key, bytes, isinstance(file, OutputFile) and file.lasting)
            for file in pipeline.render(viewed)
        )
        problems = set(viewed.problems)
        if not changed_since(options.content, scan):
            pipeline.keep()
    except ContentError as error:
        notebook = pipeline.notebook
        if notebook is None:
            raise
        # A build ends at what it cannot go on from; here what is behind it is told as well.
        problems = {
            *error.problems,
            *pipeline.problems,
            *unreadable_photos(notebook),
            *own_theme_problems(notebook.settings.theme, options.content),
        }
    pipeline.keep_answers()
    if pipeline.notebook is None:
        return CheckResult(tuple(sorted(problems)), 0)
    found = pipeline.notebook
    return CheckResult(tuple(sorted(problems)), found.count_designs, found.shelf)


def _build(
    options: BuildOptions,
    store: CacheStore,
    program: str,
    scan: ContentScan | None,
    progress: ShowProgress,
) -> BuildResult:
    """Build; content that changes while it is read is read again, three times at most."""
    for tries_left in reversed(range(_TRIES)):
        # Whatever changes before everything is read is noticed below.
        scan = scan or scan_content(options.content, store)
        stamp = options.stamp(scan.key, program)
        if is_up_to_date(options.out, stamp, store):
            return BuildResult(None)
        pipeline = Pipeline(options, store, program, scan, progress)
        viewed = pipeline.view()
        if not changed_since(options.content, scan):
            pipeline.keep()
            break
        scan = None
        if not tries_left:
            # The files are of no one moment, so the next build must begin anew.
            stamp = {**stamp, "content": f"{stamp['content']} and changing"}
    pipeline.keep_answers()
    designs, faulty = len(viewed.book.notebook.summaries), len(viewed.faulty.of_kind("design"))
    result = BuildResult(None, viewed.problems, designs, faulty)
    if result.errors:
        # Errors are reported at every build until they are corrected.
        stamp = {**stamp, "content": f"{stamp['content']} with mistakes"}
    written = write_notebook(
        options.out,
        pipeline.render(viewed),
        stamp=stamp_to_write(stamp),
        away_from=(options.content,),
        make_all=partial(make_parts, progress=progress),
    )
    pipeline.clear_waiting()
    remember(options.out, stamp, store)
    return replace(result, written=written)
