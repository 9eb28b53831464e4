"""``journal build``: the notebook, where something has changed."""

from __future__ import annotations

import argparse
import gc
import webbrowser
from pathlib import Path

from journal.command_line.building import build_notebook, built_lines
from journal.command_line.terminal import say, say_problems
from journal.command_line.unchanged import Asked

#: Records are made by the hundred thousand and hardly any is in a circle: to look through them
#: after every 700 for what could be thrown away takes a tenth of a build. So many are enough.
COLLECT_AFTER = 50_000


def build(asked: argparse.Namespace) -> int:
    """``journal build``, once it is known that something may have changed."""
    gc.set_threshold(COLLECT_AFTER, *gc.get_threshold()[1:])
    built = build_notebook(Asked(asked.content, asked.out, asked.edition, asked.bars, asked.theme))
    say_problems(built.warnings, asked.content)
    say(*built_lines(built, asked.out))
    if asked.open:
        open_in_browser(asked.out)
    return 0


def open_in_browser(out: Path) -> None:
    """Open the notebook's first page."""
    webbrowser.open((out / "index.html").resolve().as_uri())
