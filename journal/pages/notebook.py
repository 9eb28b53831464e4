"""The whole notebook, laid out: every file of it, none of them made yet.

To add a kind of page: its places in ``places``, its ``…_sheets(book)`` in a module of
its own, and a line in ``groups_of``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import NamedTuple

from msgspec import Struct

from journal.comparison.derive import Compared
from journal.errors import Problem
from journal.figures.derive import Figures
from journal.figures.derive_bases import BaseOutcome, by_base, derive_base_outcomes
from journal.figures.derive_heat import studio_rates
from journal.figures.derive_pieces import bars_by_piece
from journal.figures.pot_rates import RateLine, rate_line
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
from journal.pages.orders import order_sheets, orders_list_sheets
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
from journal.pages.thing import thing_sheets
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
    program: str | None = None,
    photos: Looked | None = None,
    measured: tuple[MeasuredPhoto, ...] = (),
    rates: RateLine | None = None,
    of_all: OfAll | None = None,
) -> Book:
    """What the pages are laid out from.

    Takes:  notebook  as it is cut for its edition (``editions.for_edition``)
            figures   of the whole notebook
            compared  of the notebook as it is cut
            theme     what the pages are set with
            edition   who it is for
            bars      a batch for the cards
            program   its key, where known
            photos    what came of those that were looked into; the others are known
                      by their first bytes
            measured  what was measured in photos, of the whole notebook
            rates     how fast the studio's pots cooled, of the whole notebook, where known
            of_all    what is worked out of all designs of the edition, where known
    Gives:  a Book; designs that could be read have pages whatever is wrong in them, and
            a photo that cannot be shown is left out, which ``unshown`` tells
    """
    ready, unshown = shown_photos(notebook, looked_into(notebook, photos))
    shown = figures_for(figures, notebook, edition)
    of_all = of_all or of_all_designs(notebook, edition)
    by_photo: dict[str, list[MeasuredPhoto]] = {}
    for photo in measured:
        if photo.design in notebook.designs:
            by_photo.setdefault(photo.design, []).append(photo)
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
        ground=ground_key(theme, notebook.settings, edition, program),
        templates=of_all.templates,
        casts=of_all.casts,
        outcomes=of_all.outcomes,
        problems=by_design((*notebook.problems, *shown.problems, *unshown)),
        measured={name: tuple(found) for name, found in by_photo.items()},
    )


def pot_rates(figures: Figures) -> RateLine:
    """How fast the studio's pots cooled, in all designs."""
    runs = (run for design in figures.designs.values() for run in design.cooling.value or ())
    return rate_line(studio_rates(runs))


class OfAll(Struct, frozen=True):
    """What is worked out of all designs of an edition at once: see ``Book``."""

    templates: Templates
    casts: Mapping[str, int]
    outcomes: Mapping[str, tuple[BaseOutcome, ...]]


def of_all_designs(notebook: Notebook, edition: Edition) -> OfAll:
    """What is worked out of all designs of an edition at once."""
    return OfAll(templates_of(notebook, edition), casts_of(notebook), outcomes_of(notebook))


def templates_of(notebook: Notebook, edition: Edition) -> Templates:
    """The places of the cutting templates that an edition has."""
    return {} if edition == "public" else template_places(notebook)


def casts_of(notebook: Notebook) -> Mapping[str, int]:
    """How often each piece was cast on in the pours written up."""
    return dict(bars_by_piece(notebook.designs, notebook.shelf))


def outcomes_of(notebook: Notebook) -> Mapping[str, tuple[BaseOutcome, ...]]:
    """What the pours say of each base."""
    return by_base(derive_base_outcomes(notebook))


def by_design(problems: Iterable[Problem]) -> Mapping[str, tuple[Problem, ...]]:
    """The problems in the files of each design, in order, each once."""
    found: dict[str, list[Problem]] = {}
    for problem in sorted(set(problems)):
        folder, _, rest = problem.position.path.partition("/")
        if folder == "designs":
            found.setdefault(rest.partition("/")[0], []).append(problem)
    return {design: tuple(own) for design, own in found.items()}


# Lays some pages out.
LaysOut = Callable[[Book], Iterable[Sheet]]


class Group(NamedTuple):
    """Pages that are laid out together, and a name that no other group has.

    Its pages depend on its name and on the book alone. ``of`` is what groups share that
    are laid out from the same records.
    """

    name: str
    lay: LaysOut
    of: str


def groups_of(book: Book) -> Iterator[Group]:
    """Every group of pages; those of a design, of a thing and of an order are their own.

    The larger ones come first.
    """
    whole: list[tuple[str, LaysOut]] = [
        *((f"order {name}", partial(order_sheets, name=name)) for name in book.places.orders),
        ("front", front_sheets),
        ("failed", failed_sheets),
        ("weeks", weeks_sheets),
        ("compared", compared_sheets),
        ("index", index_sheets),
        ("index data", other_data_sheets),
        ("cards", cards_list_sheets),
        ("shelf", shelf_sheets),
        ("orders", orders_list_sheets),
        ("templates", template_sheets),
        ("photo card", photo_card_sheets),
        ("how", how_sheets),
        ("safety", safety_sheets),
        *((f"index {part}", partial(design_data_sheets, part=part)) for part in design_parts(book)),
    ]
    yield from (Group(name, lay, name) for name, lay in whole)
    for thing in book.places.things:
        name = " ".join(thing)
        yield Group(name, partial(thing_sheets, thing=thing), name)
    for name in book.places.designs:
        yield Group(f"design {name}", partial(design_sheets, name=name), name)
        yield Group(f"cards {name}", partial(cards_sheets, name=name), name)
        yield Group(f"pour sheet {name}", partial(pour_sheets, name=name), name)
        yield Group(f"labels {name}", partial(label_sheets, name=name), name)


def lay_out(book: Book) -> tuple[Sheet, ...]:
    """Every file of the notebook: pages, photos, and what the theme needs beside them."""
    pages = tuple(sheet for group in groups_of(book) for sheet in group.lay(book))
    return (*pages, *other_sheets(book, [sheet.path for sheet in pages]))


def other_sheets(book: Book, pages: Iterable[str], made: Made | None = None) -> tuple[Sheet, ...]:
    """What belongs to no group: the feed, photos, and what the theme needs beside its pages.

    Takes:  book   what they are laid out from
            pages  the paths of all pages
            made   knows files of photos that were made when they were looked into
    """
    return (
        *feed_sheets(book, pages),
        *photo_sheets(book.notebook.root, book.photos, made),
        *theme_sheets(book.theme.files),
    )


def theme_sheets(files: Iterable[tuple[str, bytes]]) -> tuple[Sheet, ...]:
    """Stylesheet, fonts and licences."""
    return tuple(Sheet(path, content.__bytes__, digest(content)) for path, content in files)
