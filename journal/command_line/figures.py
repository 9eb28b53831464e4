"""``journal figures``: all figures as JSON, or as CSV tables."""

from __future__ import annotations

import argparse
import json

from journal.command_line.soundness import only_known, require_sound
from journal.command_line.tables import write_tables
from journal.command_line.terminal import say
from journal.comparison.as_json import figures_json
from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.photos.derive import bleed_widths, measured_photos
from journal.records.notebook import read_notebook


def figures(asked: argparse.Namespace) -> int:
    """``journal figures``."""
    notebook = read_notebook(asked.content)
    only_known(notebook, asked.designs)
    measured, _ = measured_photos(notebook)
    derived = derive_figures(notebook, photo_widths=bleed_widths(measured))
    require_sound(notebook, derived, asked.designs)
    compared = compare_designs(notebook)
    if asked.csv is not None:
        say(write_tables(notebook, derived, compared, asked.designs, asked.csv))
        return 0
    found = figures_json(notebook, derived, compared, asked.designs)
    say(json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False))
    return 0
