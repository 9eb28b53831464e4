"""``journal build``: the notebook, where something has changed."""

from __future__ import annotations

import webbrowser
from pathlib import Path

from journal.command_line.building import build_notebook, built_lines
from journal.command_line.seen import Seen
from journal.command_line.terminal import say, say_problems
from journal.command_line.unchanged import Asked


def build(asked: Asked, seen: Seen | None, to_open: bool) -> int:
    """``journal build``, once it is known that something may have changed.

    Takes:  asked    what is to be made
            seen     what the content looked like a moment ago, if anybody looked
            to_open  whether the notebook's first page is opened afterwards
    """
    built = build_notebook(asked, seen)
    say_problems(built.warnings, asked.content)
    say(*built_lines(built, asked.out))
    if to_open:
        open_in_browser(asked.out)
    return 0


def open_in_browser(out: Path) -> None:
    """Open the notebook's first page."""
    webbrowser.open((out / "index.html").resolve().as_uri())
