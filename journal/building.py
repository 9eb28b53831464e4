"""A notebook from its content to its folder, whole or not at all."""

from __future__ import annotations

from functools import partial

from msgspec import Struct
from msgspec.structs import replace

from journal.build_options import BuildOptions
from journal.cache import retry_without_cache
from journal.cache_folder import cache_store
from journal.errors import Problem, errors_in
from journal.made_from import is_up_to_date, remember, stamp_to_write
from journal.output import CacheStore, WriteResult, recover, write_notebook
from journal.pipeline import Pipeline, ShowProgress, make_parts, no_progress
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
    times = program_fingerprint()
    program = cached_program_digest(store, times)
    if program is None:
        program = program_digest()
        cache_program_digest(store, times, program)
    return retry_without_cache(store, lambda: _build(options, store, program, scan, progress))


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
