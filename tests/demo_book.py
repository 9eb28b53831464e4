"""The demo notebook as pages are made from it, without the models that take long."""

from __future__ import annotations

from functools import lru_cache

from paths import CONTENT

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.theme import read_theme
from journal.records.notebook import read_notebook
from journal.views.card.steps import RoundSteps, recipe_round
from journal.views.notebook import open_book
from journal.views.shared.book import Book


@lru_cache(maxsize=1)
def demo_book() -> Book:
    """The book of the studio's edition."""
    notebook = read_notebook(CONTENT)
    figures = derive_figures(notebook, models=False)
    return open_book(notebook, figures, compare_designs(notebook), read_theme(), "studio")


def demo_round(name: str) -> RoundSteps:
    """The first round of a design of the demo."""
    return recipe_round(demo_book(), demo_book().notebook.designs[name])
