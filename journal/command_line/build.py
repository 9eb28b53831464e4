"""``journal build``: the notebook, where something has changed."""

from __future__ import annotations

import webbrowser
from functools import partial
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from journal.build_options import BuildOptions
from journal.cache import retry_without_cache
from journal.cache_folder import cache_store
from journal.command_line.progress import with_progress_bar
from journal.command_line.terminal import counted, print_lines, print_problems
from journal.command_line.unchanged import build_stamp, theme_folders, unchanged_lines
from journal.errors import Problem, errors_in
from journal.output import CacheStore, WriteResult, matches_last, recover, write_notebook
from journal.pages.book import program_digest
from journal.pipeline import Pipeline, make_parts
from journal.scan import (
    ContentScan,
    cache_program_digest,
    cached_program_digest,
    changed_since,
    program_fingerprint,
    scan_content,
)

# How often a notebook is read anew because somebody was writing in it.
_TRIES = 3


class BuildResult(Struct, frozen=True):
    """What a build did. ``written`` is None where there was nothing to do."""

    written: WriteResult | None
    problems: tuple[Problem, ...] = ()
    designs: int = 0
    faulty: int = 0  # designs whose page says what is wrong

    @property
    def errors(self) -> int:
        """Mistakes in what the maker wrote."""
        return len(errors_in(self.problems))


def build(options: BuildOptions, scan: ContentScan | None, to_open: bool) -> int:
    """``journal build``, once it is known that something may have changed.

    Takes:  options  what is to be made
            scan     what the content looked like a moment ago, if anybody looked
            to_open  whether the notebook's first page is opened afterwards
    """
    built = build_notebook(options, scan)
    print_problems(built.problems, options.content)
    print_lines(*built_lines(built, options.out))
    if to_open:
        open_in_browser(options.out)
    return 1 if built.errors else 0


def open_in_browser(out: Path) -> None:
    """Open the notebook's first page."""
    webbrowser.open((out / "index.html").resolve().as_uri())


def build_notebook(options: BuildOptions, scan: ContentScan | None = None) -> BuildResult:
    """Make the notebook, whole or not at all.

    Takes:  options  what is to be made
            scan     what the content looked like a moment ago, if anybody looked
    Gives:  what was made, kept and removed, and all that is wrong or to be minded
    Fails:  ContentError for what no page can be made without; OutputError if the folder
            cannot be written. The notebook that was there stands as it was.
    """
    store = cache_store(options.content)
    recover(options.out)
    times = program_fingerprint(theme_folders())
    program = cached_program_digest(store, times)
    if program is None:
        program = program_digest()
        cache_program_digest(store, times, program)
    return retry_without_cache(store, lambda: _built(options, store, program, scan))


def _built(
    options: BuildOptions, store: CacheStore, program: str, scan: ContentScan | None
) -> BuildResult:
    for more in reversed(range(_TRIES)):
        # Whatever changes until everything is read is seen below.
        scan = scan or scan_content(options.content, store)
        stamp = build_stamp(options, scan, program)
        if matches_last(options.out, stamp):
            return BuildResult(None)
        pipeline = Pipeline(options, store, program, scan, with_progress_bar)
        viewed = pipeline.view()
        if not changed_since(options.content, scan):
            pipeline.keep()
            break
        scan = None
        if not more:
            # Known to be of no one moment: the next build begins anew.
            stamp = {**stamp, "content": f"{stamp['content']} and changing"}
    pipeline.keep_answers()
    designs, faulty = len(viewed.book.notebook.summaries), len(viewed.faulty.of_kind("design"))
    built = BuildResult(None, viewed.problems, designs, faulty)
    if built.errors:
        # What is wrong is told at every build until it is mended.
        stamp = {**stamp, "content": f"{stamp['content']} with mistakes"}
    written = write_notebook(
        options.out,
        pipeline.render(viewed),
        stamp=stamp,
        away_from=(options.content,),
        make_all=partial(make_parts, progress=with_progress_bar),
    )
    pipeline.clear_waiting()
    return replace(built, written=written)


def built_lines(built: BuildResult, out: Path) -> tuple[str, ...]:
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
    mistaken = f", {built.faulty} with a mistake" if built.faulty else ""
    return (f"{line}: {counted(built.designs, 'design')} in {out}{mistaken}.", where)
