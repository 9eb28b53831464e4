"""``journal build``: the notebook, where something has changed."""

from __future__ import annotations

import atexit
import gc
import webbrowser
from pathlib import Path

from journal.command_line.building import build_notebook, built_lines
from journal.command_line.seen import Seen
from journal.command_line.terminal import say, say_problems
from journal.command_line.unchanged import Asked

#: Records are made by the hundred thousand and hardly any is in a circle: to look through them
#: after every 700 for what could be thrown away takes a tenth of a build. So many are enough.
COLLECT_AFTER = 50_000


def build(asked: Asked, seen: Seen | None, to_open: bool) -> int:
    """``journal build``, once it is known that something may have changed.

    Takes:  asked    what is to be made
            seen     what the content looked like a moment ago, if anybody looked
            to_open  whether the notebook's first page is opened afterwards
    """
    gc.set_threshold(COLLECT_AFTER, *gc.get_threshold()[1:])
    # Else all that is left is looked through for circles at the end, which takes as long as
    # reading a write-up.
    atexit.register(gc.freeze)
    built = build_notebook(asked, seen)
    say_problems(built.warnings, asked.content)
    say(*built_lines(built, asked.out))
    if to_open:
        open_in_browser(asked.out)
    return 0


def open_in_browser(out: Path) -> None:
    """Open the notebook's first page."""
    webbrowser.open((out / "index.html").resolve().as_uri())
