"""The journal from Python: read, derive, compare, build.

    from journal import api

    notebook = api.read("soap")                    # everything written, checked
    for problem in notebook.problems:
        print(problem)                             # file:line:column: what is wrong. A hint.
    figures = api.derive(notebook)                 # every figure of every design
    results = api.compare(notebook)                # what the bars say
    found = api.as_json(notebook, figures, results)
    print(found["designs"]["fern-leaf"]["layers"])
    built = api.build("soap", "soap-notebook")     # the folder that a browser opens
    print(built.written.made if built.written else "nothing has changed")

Values are frozen: grams, mL, degC, mm and minutes, shares 0 to 1, money in decimals.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from journal.build_options import BuildOptions
from journal.building import BuildResult, build_notebook
from journal.comparison.as_json import figures_json
from journal.comparison.derive import ComparisonResults, compare_designs
from journal.figures.derive import AllFigures
from journal.photos.derive import figures_with_photos
from journal.records.notebook import Notebook, read_notebook
from journal.views.shared.editions import Edition

__all__ = ["as_json", "build", "compare", "derive", "read"]


def read(folder: str | Path) -> Notebook:
    """Read a notebook's content: settings, shelf, designs, questions, orders.

    Takes:  folder  of the content, such as "content"
    Gives:  the records, and in ``problems`` everything that is wrong, each at its place
    Fails:  ContentError if there is no such folder
    """
    return read_notebook(Path(folder))


def derive(notebook: Notebook) -> AllFigures:
    """Work out the figures of every design that could be read, photos measured.

    Gives:  figures by the design's id, and problems that only a figure or a photo can show
    """
    return figures_with_photos(notebook)


def compare(notebook: Notebook) -> ComparisonResults:
    """Compare the variants of every design, and answer the questions across designs."""
    return compare_designs(notebook)


def as_json(
    notebook: Notebook, figures: AllFigures, results: ComparisonResults, only: Sequence[str] = ()
) -> dict[str, Any]:
    """Figures and results as ``journal figures`` prints them, of the designs ``only`` or of all."""
    return figures_json(notebook, figures, results, only)


def build(
    content: str | Path,
    out: str | Path,
    *,
    edition: Edition = "studio",
    bars: int | None = None,
    theme: str | None = None,
    strict: bool = False,
) -> BuildResult:
    """Write the notebook's pages, whole or not at all; only what changed is made again.

    Takes:  content  folder of the content
            out      folder to make
            edition  who it is for
            bars     bars on the cards; None for each recipe's own
            theme    how it looks; None for that of the settings
            strict   make nothing where there is a mistake
    Gives:  what was made, kept and removed, and everything that is wrong
    Fails:  ContentError for what no page can be made without, OutputError where the folder
            cannot be written; what was there before stands then
    """
    return build_notebook(BuildOptions(Path(content), Path(out), edition, bars, theme, strict))
