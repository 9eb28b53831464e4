"""The demo notebook as it is read and derived, and as pages are made from it; once a process."""

from __future__ import annotations

from functools import lru_cache

from paths import CONTENT

from journal.comparison.derive import compare_designs
from journal.figures.derive import AllFigures, derive_figures
from journal.html.theme import read_theme
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.steps import RoundSteps, recipe_round
from journal.views.notebook import open_book
from journal.views.shared.book import Book


@lru_cache(maxsize=1)
def demo_notebook() -> Notebook:
    """The demo as it is read, once for all tests of a process; only to be looked at."""
    return read_notebook(CONTENT)


@lru_cache(maxsize=1)
def demo_figures() -> AllFigures:
    """All its figures, those of the models too."""
    return derive_figures(demo_notebook())


@lru_cache(maxsize=1)
def demo_book() -> Book:
    """The book of the studio's edition."""
    notebook = demo_notebook()
    figures = derive_figures(notebook, models=False)
    return open_book(notebook, figures, compare_designs(notebook), read_theme(), "studio")


def demo_round(name: str) -> RoundSteps:
    """The first round of a design of the demo."""
    return recipe_round(demo_book(), demo_book().notebook.designs[name])
