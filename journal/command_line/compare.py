"""``journal compare``: variants compared, in the terminal."""

from __future__ import annotations

import argparse

from journal.command_line.compared import comparison_lines
from journal.command_line.soundness import require_sound
from journal.command_line.terminal import say
from journal.comparison.derive import compare_designs
from journal.errors import UsageError
from journal.figures.derive import derive_figures
from journal.records.notebook import read_notebook
from journal.records.typed import nearest


def compare(asked: argparse.Namespace) -> int:
    """``journal compare``."""
    notebook = read_notebook(asked.content)
    known = [*notebook.designs, *notebook.unread, *notebook.comparisons]
    if asked.id is not None and asked.id not in known:
        raise UsageError(
            f'no design or comparison is called "{asked.id}"', nearest(asked.id, known)
        )
    derived = derive_figures(notebook, models=False)
    across = asked.id is None or asked.id in notebook.comparisons
    require_sound(notebook, derived, [] if across else [asked.id])
    lines = comparison_lines(notebook, compare_designs(notebook), asked.id)
    say(*(lines or ("Nothing to compare yet: no design has poured two variants.",)))
    return 0
