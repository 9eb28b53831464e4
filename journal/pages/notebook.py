"""The whole notebook, laid out: every file of it with its key, none of them made yet.

To add a kind of page: its places in ``places``, its ``…_sheets(book)`` in a module of
its own, and a line in ``groups_of``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import NamedTuple

from journal.comparison.derive import Compared
from journal.errors import Problem
from journal.figures.derive import Figures
from journal.figures.derive_bases import FindsThreshold
from journal.figures.derive_heat import studio_rates
from journal.figures.pot_rates import PotRate
from journal.figures.thresholds import pour_threshold
from journal.pages.book import Book, ground_key
from journal.pages.cards import cards_list_sheets, cards_sheets
from journal.pages.compared import compared_sheets
from journal.pages.design import design_sheets
from journal.pages.editions import Edition, figures_for
from journal.pages.failed import failed_sheets
from journal.pages.feed import feed_sheets
from journal.pages.front import front_sheets
from journal.pages.how import how_sheets
from journal.pages.index import (
    design_data_sheets,
    design_parts,
    index_sheets,
    other_data_sheets,
)
from journal.pages.label_sheets import label_sheets
from journal.pages.orders import order_sheets
from journal.pages.paper_places import Templates, template_places
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
    rates: tuple[PotRate, ...] | None = None,
    templates: Templates | None = None,
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
            rates     how fast the studio's pots cooled, of the whole notebook, where known
            templates the places of the cutting templates, where known
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
        rates=pot_rates(figures) if rates is None else rates,
        bars=bars,
        ground=ground_key(theme, notebook.settings, edition),
        templates=templates_of(notebook, edition) if templates is None else templates,
        threshold=threshold,
        problems=by_design((*notebook.problems, *shown.problems, *unshown)),
        measured=tuple(photo for photo in measured if photo.design in notebook.designs),
    )


def pot_rates(figures: Figures) -> tuple[PotRate, ...]:
    """How fast the studio's pots cooled, in all designs."""
    return studio_rates(
        run for design in figures.designs.values() for run in design.cooling.value or ()
    )


def templates_of(notebook: Notebook, edition: Edition) -> Templates:
    """The places of the cutting templates that an edition has."""
    return {} if edition == "public" else template_places(notebook)


def by_design(problems: Iterable[Problem]) -> Mapping[str, tuple[Problem, ...]]:
    """The problems in the files of each design, in order, each once."""
    found: dict[str, list[Problem]] = {}
    for problem in sorted(set(problems)):
        folder, _, rest = problem.position.path.partition("/")
        if folder == "designs":
            found.setdefault(rest.partition("/")[0], []).append(problem)
    return {design: tuple(own) for design, own in found.items()}


class Group(NamedTuple):
    """Pages that are laid out together, and a name that no other group has.

    Its pages depend on its name and on the book alone.
    """

    name: str
    lay: Callable[[Book], Iterable[Sheet]]


# Lays the pages of a group out; a build hands in one that remembers.
LaysGroup = Callable[[Group], Iterable[Sheet]]


def groups_of(book: Book) -> Iterator[Group]:
    """Every group of pages; those of a design are groups of their own."""
    yield Group("front", front_sheets)
    yield Group("shelf", shelf_sheets)
    yield Group("failed", failed_sheets)
    yield Group("weeks", weeks_sheets)
    yield Group("compared", compared_sheets)
    yield Group("cards", cards_list_sheets)
    yield Group("templates", template_sheets)
    yield Group("photo card", photo_card_sheets)
    yield Group("orders", order_sheets)
    yield Group("how", how_sheets)
    yield Group("safety", safety_sheets)
    yield Group("index", index_sheets)
    yield Group("index data", other_data_sheets)
    for part in design_parts(book):
        yield Group(f"index {part}", partial(design_data_sheets, part=part))
    for name in book.places.designs:
        yield Group(f"design {name}", partial(design_sheets, name=name))
        yield Group(f"cards {name}", partial(cards_sheets, name=name))
        yield Group(f"pour sheet {name}", partial(pour_sheets, name=name))
        yield Group(f"labels {name}", partial(label_sheets, name=name))


def lay_out(
    book: Book, made: Made | None = None, lay: LaysGroup | None = None
) -> tuple[Sheet, ...]:
    """Every file of the notebook: pages, photos, and what the theme needs beside them.

    Takes:  book  what they are laid out from
            made  knows files of photos that were made when they were looked into
            lay   lays a group out, or knows what came of it before
    """
    pages = tuple(
        sheet
        for group in groups_of(book)
        for sheet in (group.lay(book) if lay is None else lay(group))
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
