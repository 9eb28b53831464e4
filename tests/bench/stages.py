"""How long each stage takes in one process with nothing kept: JSON, seconds of the processor."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.theme import read_theme
from journal.records.notebook import read_notebook
from journal.views.notebook import open_book
from tests.every_sheet import all_sheets


def stages(content: Path) -> dict[str, float]:
    """Seconds by stage; the bond model's are what ``models`` adds to the figures."""
    took: dict[str, float] = {}
    last = time.process_time()

    def note(name: str) -> None:
        nonlocal last
        now = time.process_time()
        took[name] = now - last
        last = now

    notebook = read_notebook(content)
    note("reading")
    derive_figures(notebook, models=False)
    note("figures without the bond model")
    figures = derive_figures(notebook)
    note("bond model")
    took["bond model"] -= took["figures without the bond model"]
    compared = compare_designs(notebook)
    note("comparisons and their power")
    book = open_book(notebook, figures, compared, read_theme(content=content))
    sheets = [sheet for sheet in all_sheets(book) if not sheet.lasting]
    note("finding the pages")
    for sheet in sheets:
        sheet.make()
    note("pages")
    return took


if __name__ == "__main__":
    sys.stdout.write(json.dumps(stages(Path(sys.argv[1]))))
