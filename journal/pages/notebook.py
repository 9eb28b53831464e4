"""The whole notebook, laid out: every file of it with its key, none of them made yet.

To add a kind of page: its places in ``places``, its ``…_sheets(book)`` in a module of
its own, and a line in ``lay_out``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from journal.comparison.derive import Compared
from journal.errors import Problem
from journal.figures.derive import Figures
from journal.figures.derive_bases import FindsThreshold
from journal.figures.derive_heat import studio_rates
from journal.figures.thresholds import pour_threshold
from journal.pages.book import Book, ground_key
from journal.pages.cards import cards_sheets
from journal.pages.compared import compared_sheets
from journal.pages.design import design_sheets
from journal.pages.editions import Edition, figures_for
from journal.pages.failed import failed_sheets
from journal.pages.feed import feed_sheets
from journal.pages.front import front_sheets
from journal.pages.how import how_sheets
from journal.pages.index import index_sheets
from journal.pages.label_sheets import label_sheets
from journal.pages.orders import order_sheets
from journal.pages.paper_places import template_places
from journal.pages.photo_sheet import photo_card_sheets
from journal.pages.photos import Looked, Made, looked_into, photo_sheets, shown_photos
from journal.pages.places import places_of
from journal.pages.pour_sheet import pour_sheets
from journal.pages.safety import safety_sheets
from journal.pages.sheet import Sheet, digest
from journal.pages.shelf import shelf_sheets
from journal.pages.templates import template_sheets
from journal.pages.theme import Theme
from journal.pages.uses import uses_of
from journal.pages.weeks import weeks_sheets
from journal.pages.words import units_of
from journal.photos.derive import MeasuredPhoto
from journal.records.notebook import Notebook


def open_book(
    notebook: Notebook,
    figures: Figures,
    compared: Compared,
    theme: Theme,
    edition: Edition = "studio",
    bars: int | None = None,
    *,
    photos: Looked | None = None,
    threshold: FindsThreshold = pour_threshold,
    measured: tuple[MeasuredPhoto, ...] = (),
) -> Book:
    """What the pages are laid out from.

    Takes:  notebook  as it is cut for its edition (``editions.for_edition``)
            figures   of the whole notebook
            compared  of the notebook as it is cut
            theme     what the pages are set with
            edition   who it is for
            bars      a batch for the cards
            photos    what came of those that were looked into; the others are known
                      by their first bytes
            threshold finds where an outcome of the pours turns
            measured  what was measured in photos, of the whole notebook
    Gives:  a Book; designs that could be read have pages whatever is wrong in them, and
            a photo that cannot be shown is left out, which ``unshown`` tells
    """
    ready, unshown = shown_photos(notebook, looked_into(notebook, photos))
    shown = figures_for(figures, notebook, edition)
    return Book(
        notebook=notebook,
        figures=shown,
        compared=compared,
        edition=edition,
        theme=theme,
        photos=ready,
        unshown=unshown,
        places=places_of(notebook),
        uses=uses_of(notebook),
        units=units_of(notebook.settings),
        rates=studio_rates(
            run for design in figures.designs.values() for run in design.cooling.value or ()
        ),
        bars=bars,
        ground=ground_key(theme, notebook.settings, edition),
        templates={} if edition == "public" else template_places(notebook),
        threshold=threshold,
        problems=by_design((*notebook.problems, *shown.problems, *unshown)),
        measured=tuple(photo for photo in measured if photo.design in notebook.designs),
    )


def by_design(problems: Iterable[Problem]) -> Mapping[str, tuple[Problem, ...]]:
    """The problems in the files of each design, in order, each once."""
    found: dict[str, list[Problem]] = {}
    for problem in sorted(set(problems)):
        folder, _, rest = problem.position.path.partition("/")
        if folder == "designs":
            found.setdefault(rest.partition("/")[0], []).append(problem)
    return {design: tuple(own) for design, own in found.items()}


def lay_out(book: Book, made: Made | None = None) -> tuple[Sheet, ...]:
    """Every file of the notebook: pages, photos, and what the theme needs beside them.

    ``made`` knows files of photos that were made when they were looked into.
    """
    pages = (
        *front_sheets(book),
        *design_sheets(book),
        *shelf_sheets(book),
        *failed_sheets(book),
        *weeks_sheets(book),
        *compared_sheets(book),
        *cards_sheets(book),
        *template_sheets(book),
        *pour_sheets(book),
        *label_sheets(book),
        *photo_card_sheets(book),
        *order_sheets(book),
        *how_sheets(book),
        *safety_sheets(book),
        *index_sheets(book),
    )
    return (
        *pages,
        *feed_sheets(book, pages),
        *photo_sheets(book.notebook.root, book.photos, made),
        *theme_sheets(book.theme.files),
    )


def theme_sheets(files: Iterable[tuple[str, bytes]]) -> tuple[Sheet, ...]:
    """Stylesheet, fonts and licences."""
    return tuple(Sheet(path, digest(content), content.__bytes__) for path, content in files)
