"""``journal build``: the notebook, where something has changed."""

from __future__ import annotations

import webbrowser
from pathlib import Path

from journal.build_options import BuildOptions
from journal.building import BuildResult, build_notebook
from journal.cli.progress import with_progress_bar
from journal.cli.terminal import counted, print_lines, print_problems
from journal.cli.unchanged import unchanged_lines
from journal.scan import ContentScan


def build(options: BuildOptions, scan: ContentScan | None, to_open: bool) -> int:
    """Run ``journal build`` where something may have changed; gives the exit status.

    Takes:  scan     of the content a moment ago, if there was one
            to_open  whether the notebook's first page is opened afterwards
    """
    built = build_notebook(options, scan, with_progress_bar)
    print_problems(built.problems, options.content)
    print_lines(*built_lines(built, options.out))
    if to_open:
        webbrowser.open((options.out / "index.html").resolve().as_uri())
    return 1 if built.errors else 0


def built_lines(built: BuildResult, out: Path) -> tuple[str, ...]:
    """Two lines that report what a build did."""
    if built.written is None:
        return unchanged_lines(out)
    made, kept, removed = (
        sum(path.endswith(".html") for path in paths)
        for paths in (built.written.made, built.written.kept, built.written.removed)
    )
    files = len(built.written.made) - made
    others = f" and {counted(files, 'other file')}" if files else ""
    line = f"Made {counted(made, 'page')}{others}, left {kept} as they were, removed {removed}"
    faulty = f", {built.faulty} with a mistake" if built.faulty else ""
    return (
        f"{line}: {counted(built.designs, 'design')} in {out}{faulty}.",
        f"Open it at {out / 'index.html'}",
    )
