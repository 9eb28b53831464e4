"""``journal preview``: the notebook while it is written, shown anew at each save."""

from __future__ import annotations

import argparse
import time
import traceback
import webbrowser
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Final

from journal.build_options import BuildOptions
from journal.cache_folder import cache_path, cache_store
from journal.cli.bench import Bench, read_bench_at, typed_at_terminal
from journal.cli.progress import with_progress_bar
from journal.cli.terminal import counted, print_lines, print_problems, print_usage_error
from journal.errors import ContentError, Position, Problem, UsageError
from journal.preview.bench_server import BENCH_PORT, own_address
from journal.preview.pages import PreviewSite
from journal.preview.server import PreviewServer
from journal.preview.session import NotebookRebuilder, RebuildResult, Superseded
from journal.records.notebook import Notebook, read_notebook
from journal.scan import Times, file_times

# How often the files are looked at; and on a slow disk no more than this share of the time.
POLL_S: Final = 0.2
SHARE_OF_TIME: Final = 0.1
# A save is over when nothing has changed for so long: editors write in several steps.
SETTLED_S: Final = 0.05
# The whole notebook is made when the hands have rested for so long.
REST_S: Final = 0.4


def preview(args: argparse.Namespace) -> int:
    """Run ``journal preview`` until it is interrupted; gives the exit status."""
    out = args.out if args.out is not None else preview_folder(args.content, args.edition)
    options = BuildOptions(args.content, out, args.edition)
    rebuilder, watch = NotebookRebuilder(options, with_progress_bar), FolderWatch(args.content)
    site = PreviewSite(out, str(time.time_ns()))
    bench_at = _bench_address(args)
    apart = bench_at is not None and args.edition != "helpers"
    helpers = _helpers_loop(args.content) if apart else None
    loop = RebuildLoop(rebuilder, site, args.content, helpers)
    loop.make(lambda: False, first=True)
    try:
        with ExitStack() as serving:
            server = PreviewServer(site, args.port)
            serving.callback(server.stop)
            print_lines(f"See it at {server.address} (this computer alone; Ctrl-C ends it).")
            bench = None
            if bench_at is not None:
                shown = site if helpers is None else helpers.site
                bench = Bench(args.content, shown, loop.notebook, bench_at, typed_at_terminal())
                serving.callback(bench.stop)
                bench.begin()
            if args.open:
                webbrowser.open(server.address)
            while True:
                loop.step(watch)
                if bench is not None:
                    bench.step()
    except KeyboardInterrupt:
        print_lines("", "The preview has ended.")
        return 0


def _bench_address(args: argparse.Namespace) -> tuple[str, int] | None:
    """Where the bench is to be, None for nowhere; UsageError if it cannot be there."""
    if args.bench_at is not None:
        return read_bench_at(args.bench_at)
    return (own_address(), BENCH_PORT) if args.bench else None


def _helpers_loop(content: Path) -> RebuildLoop:
    """Rebuilds the helpers' edition, which the bench shows, beside the one that is previewed."""
    out = preview_folder(content, "helpers")
    rebuilder = NotebookRebuilder(BuildOptions(content, out, "helpers"), with_progress_bar)
    return RebuildLoop(rebuilder, PreviewSite(out, str(time.time_ns())), content)


def preview_folder(content: Path, edition: str) -> Path:
    """The folder of a preview for which none is named; never that of a built notebook."""
    cache = cache_path(content)
    # Writing makes the folder, and shows whether it can be written to.
    if cache is not None and cache_store(content).write("previewed", edition.encode()):
        return cache / f"preview-{edition}"
    return Path(f"preview-{edition}")


class FolderWatch:
    """Looks for files of the content that are new, gone or different."""

    def __init__(self, content: Path) -> None:
        self._content = content
        self._times: dict[str, Times] = file_times(content)
        self._pause = POLL_S

    def changed(self, seconds: float) -> frozenset[str]:
        """Wait up to ``seconds`` for a save; gives the paths that changed, once it is over."""
        until = time.monotonic() + seconds
        while True:
            changed = self._look()
            if changed:
                break
            left = until - time.monotonic()
            if left <= 0:
                return frozenset()
            time.sleep(min(self._pause, left))
        for _ in range(20):
            time.sleep(SETTLED_S)
            more = self._look()
            if not more:
                break
            changed |= more
        return changed

    def has_changed(self) -> bool:
        """Whether anything changed since the last look; ``changed`` gives it later."""
        return file_times(self._content) != self._times

    def _look(self) -> frozenset[str]:
        """Paths that changed since the last look."""
        began = time.monotonic()
        now, before = file_times(self._content), self._times
        self._times = now
        self._pause = max(POLL_S, (time.monotonic() - began) / SHARE_OF_TIME)
        return frozenset(
            path for path in now.keys() | before.keys() if now.get(path) != before.get(path)
        )


class RebuildLoop:
    """Rebuilds the notebook at each save, and reports to the terminal and the pages."""

    def __init__(
        self, rebuilder: NotebookRebuilder, site: PreviewSite, content: Path,
        beside: RebuildLoop | None = None,
    ) -> None:  # fmt: skip
        """``beside`` rebuilds another edition whenever the whole notebook has been."""
        self._rebuilder, self.site, self._content = rebuilder, site, content
        self._beside = beside
        #: Problems that another edition has told.
        self.told: tuple[Problem, ...] = ()
        self._reported: tuple[Problem, ...] = ()
        self._rebuild_due = False

    def step(self, watch: FolderWatch, rest_s: float = REST_S) -> None:
        """Wait for a save and rebuild its design's page; after a pause rebuild the whole."""
        changed = watch.changed(rest_s if self._rebuild_due else 1.0)
        if changed:
            try:
                page = self._rebuilder.make_page(changed)
            except Exception:  # noqa: BLE001  # the whole notebook is made next, and reports it
                page = {}
            self.site.lay_over(page)
            self._rebuild_due = True
            if page:
                return
        if self._rebuild_due:
            self._rebuild_due = not self.make(watch.has_changed)

    def make(self, is_newer: Callable[[], bool], *, first: bool = False) -> bool:
        """Rebuild the whole notebook; gives False if a newer save cut that short.

        Fails:  UsageError at the ``first`` time, if there is nothing to make it from or
                nowhere to make it; later on what was made before is shown
        """
        if first and not self._content.is_dir():
            raise UsageError(
                f'there is no notebook in "{self._content}"',
                f"Begin one with: journal begin {self._content}",
            )
        began = time.monotonic()
        self.site.begin_writing()
        try:
            result = self._rebuilder.make(is_newer)
        except Superseded:
            return False
        except ContentError as error:
            result = RebuildResult((), error.problems)
        except UsageError as error:
            if first:
                raise
            print_usage_error(error)
            result = self._failure(error.what, error.hint)
        except Exception as error:  # noqa: BLE001  # a preview goes on, and shows what it had
            traceback.print_exc()
            result = self._failure(f"the program failed: {error!r}", "Undo the last change.")
        finally:
            self.site.end_writing()
        self.site.publish(result.paths, result.problems)
        self._report(result, time.monotonic() - began)
        if self._beside is None:
            return True
        self._beside.told = result.problems
        return self._beside.make(is_newer, first=first)

    def notebook(self) -> Notebook:
        """The notebook as it was built last, else as it is written."""
        return self._rebuilder.notebook or read_notebook(self._content)

    def _failure(self, what: str, hint: str) -> RebuildResult:
        """The result of a build that failed for no file's fault; the terminal shows it already."""
        problem = Problem(Position(self._content.as_posix()), what, hint)
        self._reported = (problem,)
        return RebuildResult((), self._reported)

    def _report(self, result: RebuildResult, seconds: float) -> None:
        """Print problems that are not those of the last build, and how many pages were made."""
        if result.problems != self._reported:
            own = [problem for problem in result.problems if problem not in self.told]
            print_problems(own, self._content)
            self._reported = result.problems
        pages = sum(path.endswith(".html") for path in result.paths)
        if pages:
            print_lines(f"Made {counted(pages, 'page')} in {seconds:.1f} s.")
