"""The pages of the whole notebook, in groups that are rendered together.

To add a kind of page: its places in ``places``, its ``…_sheets(book)`` in a module of
its own, and a line in ``groups_of``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache, partial
from typing import NamedTuple, TypeVar

from journal.charts.things import DrawnMotif
from journal.comparison.derive import ComparisonResults, lost_choices
from journal.errors import Problem
from journal.figures.derive import AllFigures
from journal.figures.derive_notebook import NotebookFigures, derive_notebook, studio_pot_rates
from journal.html.theme import Theme
from journal.photos.derive import MeasuredPhoto
from journal.records.codec import digest
from journal.records.models.write_up import Design
from journal.records.notebook import Notebook
from journal.views.card.bench import bench_sheets, pourers_of
from journal.views.card.cards import cards_list_sheets, cards_sheets
from journal.views.design.compared import compared_sheets
from journal.views.design.page import cost_html, design_sheets
from journal.views.index import page as index_pages
from journal.views.lists.failed import failed_sheets
from journal.views.lists.feed import feed_sheets
from journal.views.lists.front import front_sheets
from journal.views.lists.how import how_sheets
from journal.views.lists.safety import safety_sheets
from journal.views.lists.weeks import weeks_sheets
from journal.views.order.bench import order_bench_sheets
from journal.views.order.buying import buying_sheets
from journal.views.order.orders import order_sheets, orders_list_sheets
from journal.views.paper.label_sheets import label_sheets
from journal.views.paper.photo_sheet import photo_card_sheets
from journal.views.paper.pour_sheet import pour_sheets
from journal.views.paper.templates import template_sheets
from journal.views.shared import inputs as given
from journal.views.shared.bars_seen import drawn_motif, seen_bar
from journal.views.shared.book import Book, base_digest
from journal.views.shared.editions import Edition, cut_figures_to_edition, shelf_without_private
from journal.views.shared.over_limit import over_limit_texts
from journal.views.shared.paper_places import has_sheets, template_places
from journal.views.shared.photos import (
    ProbedPhotos,
    RenditionCache,
    photo_sheets,
    presentable_photos,
    probe_photos,
)
from journal.views.shared.places import NOTHING_FAULTY, FaultyAddress, KindAndId, Sheet, places_of
from journal.views.shared.uses import shares_of, uses_of
from journal.views.shared.words import forecast_text, units_of
from journal.views.shelf.lots import batches_sheets, lot_sheets
from journal.views.shelf.pots import pots_sheets
from journal.views.shelf.shelf import shelf_sheets
from journal.views.shelf.thing import thing_sheets

Value = TypeVar("Value")


def open_book(
    notebook: Notebook,
    figures: AllFigures,
    compared: ComparisonResults,
    theme: Theme,
    edition: Edition = "studio",
    bars: int | None = None,
    *,
    program: str | None = None,
    photos: ProbedPhotos | None = None,
    measured: tuple[MeasuredPhoto, ...] = (),
    derived: NotebookFigures | None = None,
    faulty: Mapping[KindAndId, FaultyAddress] = NOTHING_FAULTY,
    recipes: Mapping[str, Design] | None = None,
) -> Book:
    """A book with everything that the pages are laid out from.

    Takes:  notebook  as it is cut for its edition (``editions.for_edition``)
            figures   of the whole notebook; ``compared`` of the notebook as it is cut
            bars      a batch for the cards
            program   the program's digest, where known
            photos    those that were decoded; the others are known by their first bytes
            measured  of the whole notebook
            recipes   the designs, with digests that leave out their prose
    Gives:  a Book; photos that cannot be shown are left out and listed in ``unshown``
    """
    ready, unshown = presentable_photos(notebook, probe_photos(notebook, photos))
    shown = cut_figures_to_edition(figures, notebook, edition)
    if derived is None:
        derived = derive_notebook(notebook, shown.summaries, studio_pot_rates(figures.summaries))
    colours = _grouped(
        (photo.design, photo) for photo in measured if photo.design in notebook.summaries
    )
    uses, units = uses_of(notebook), units_of(notebook.settings)

    @cache
    def motif_of(mat: str, size_mm: tuple[float, float] | None) -> DrawnMotif | None:
        """The motif of a mat, which is drawn once for all designs that have it in that size."""
        return drawn_motif(notebook.shelf.mats.get(mat), size_mm)

    return Book(
        notebook=notebook,
        bench=shelf_without_private(notebook.shelf),
        figures=shown,
        compared=compared,
        edition=edition,
        theme=theme,
        photos=ready,
        unshown=unshown,
        places=places_of(notebook, faulty, None if edition == "public" else derived.lots),
        uses=uses,
        units=units,
        derived=derived,
        bars=bars,
        ground=base_digest(theme, notebook.settings, edition, bars, program),
        templates={} if edition == "public" else template_places(notebook),
        comparisons_of=_grouped(
            (design, name) for name, answer in compared.across.items() for design in answer.designs
        ),
        shares=shares_of(notebook, uses),
        recipes=notebook.designs if recipes is None else recipes,
        forecasts={name: forecast_text(units, one) for name, one in derived.forecasts.items()},
        problems=problems_by_design((*notebook.problems, *shown.problems, *unshown)),
        measured=colours,
        seen={
            name: seen_bar(
                one.face,
                motif_of(one.face.mat, one.face.motif_mm),
                colours.get(name, ()),
                summary.overview.differ,
            )
            for name, summary in notebook.summaries.items()
            if (one := shown.summaries.get(name)) is not None and one.face is not None
        },
        over_limit={
            name: over_limit_texts(notebook.shelf, one.over)
            for name in notebook.summaries
            if (one := shown.summaries.get(name)) is not None and one.over
        },
        lost={
            name: lost for name, one in compared.summaries.items() if (lost := lost_choices(one))
        },
        pourers=pourers_of(notebook),
    )


def problems_by_design(problems: Iterable[Problem]) -> Mapping[str, tuple[Problem, ...]]:
    """The problems in the files of each design, by its id, sorted and each once."""
    paths = ((problem.position.path.split("/"), problem) for problem in sorted(set(problems)))
    return _grouped(("".join(path[1:2]), one) for path, one in paths if path[0] == "designs")


def _grouped(pairs: Iterable[tuple[str, Value]]) -> dict[str, tuple[Value, ...]]:
    """The values grouped by name, in their order."""
    groups: dict[str, list[Value]] = {}
    for name, value in pairs:
        groups.setdefault(name, []).append(value)
    return {name: tuple(values) for name, values in groups.items()}


class SectionApart(NamedTuple):
    """A section that is set by itself, where all else on its page is known.

    ``html`` gives it as it stands in the page, from its ``inputs``; ``beside`` are the inputs of
    all else on the page.
    """

    html: Callable[[Book], str]
    inputs: given.Inputs
    beside: given.Inputs


class PageGroup(NamedTuple):
    """Pages that are rendered together: a unique name, their builder, and their inputs.

    Groups of the same ``design`` are rendered from the same records. A group of one page may
    have a section that is set by itself.
    """

    name: str
    lay_out: Callable[[Book], Iterable[Sheet]]
    inputs: given.Inputs
    design: str
    apart: SectionApart | None = None


# The inputs of pages that show all designs.
_SUMMARIES = ("notebook.summaries", "places.designs")


def groups_of(book: Book) -> Iterator[PageGroup]:
    """Every group of pages: one for each order, thing and kind of page of a design.

    The larger ones come first.
    """
    lay: Callable[[Book], Iterable[Sheet]]
    for name in book.places.orders:
        lay = partial(order_sheets, name=name)
        yield PageGroup(f"order {name}", lay, given.order_inputs(book, name), "orders")
        lay = partial(order_bench_sheets, name=name)
        inputs = given.order_bench_inputs(book, name)
        yield PageGroup(f"order bench {name}", lay, inputs, "orders")
    # A design may name a mould that is not on the shelf.
    poured = (one.overview.mould for one in book.notebook.summaries.values())
    # In an order that is the same in every process, or its digest would not be.
    moulds = [("moulds", name) for name in sorted({*book.bench.moulds, *filter(None, poured)})]
    faulty = given.faulty_designs(book)
    single: list[tuple[str, Callable[[Book], Iterable[Sheet]], given.Inputs]] = [
        ("front", front_sheets,
         {**given.list_inputs(*_SUMMARIES, "compared.summaries", "photos", "seen", "over_limit"),
          "bench": moulds, **faulty}),
        ("failed", failed_sheets,
         {**given.list_inputs(*_SUMMARIES, "uses.descendants", "compared.conditions"),
          "bench": [("bases", name) for name in book.bench.bases]}),
        ("weeks", weeks_sheets, {**given.list_inputs(*_SUMMARIES), "bench": moulds}),
        ("compared", compared_sheets,
         given.list_inputs(*_SUMMARIES, "compared.across", "compared.summaries",
                           "notebook.comparisons", "places.compared", "places.things",
                           "places.faulty", "photos")),
        ("index", index_pages.index_sheets,
         given.list_inputs(*_SUMMARIES, "uses.by_thing", "places.things", "places.compared")),
        ("index data", index_pages.other_data_sheets,
         given.list_inputs(*_SUMMARIES, "notebook.comparisons", "notebook.orders", "places.things",
                           "places.compared", "places.orders", "places.lots", "notebook.shelf")),
        ("cards", cards_list_sheets,
         {**given.list_inputs(*_SUMMARIES, "figures.summaries", "photos", "templates",
                              "places.cards", "bench", "seen", "over_limit"), **faulty}),
        ("shelf", shelf_sheets,
         {**given.list_inputs("notebook.summaries", "uses.by_thing", "places.things",
                              "notebook.shelf", "derived.left"), **faulty}),
        ("orders", orders_list_sheets,
         given.list_inputs("notebook.summaries", "notebook.orders", "places.orders",
                           "places.faulty", "over_limit")),
        ("to buy", buying_sheets,
         given.list_inputs("derived.buying", "derived.left", "places.orders", "places.things",
                           "notebook.shelf")),
        ("photo card", photo_card_sheets, given.photo_card_inputs(book)),
        ("how", how_sheets, {}),
        ("pots", pots_sheets, {**given.list_inputs(*_SUMMARIES, "figures.summaries"), **faulty}),
        ("safety", safety_sheets, given.safety_inputs(book)),
    ]  # fmt: skip
    yield from (PageGroup(name, lay, inputs, name) for name, lay, inputs in single)
    for part, names in index_pages.design_parts(book).items():
        inputs = given.index_part_inputs(book, names)
        lay = partial(index_pages.design_data_sheets, part=part, names=names)
        yield PageGroup(f"index {part}", lay, inputs, part)
    if has_sheets(book):
        for pair in book.templates:
            lay, inputs = partial(template_sheets, pair=pair), given.template_inputs(book, pair)
            yield PageGroup(f"template {' '.join(pair)}", lay, inputs, "templates")
    for thing in book.places.things:
        name = " ".join(thing)
        yield PageGroup(
            name, partial(thing_sheets, thing=thing), given.thing_inputs(book, thing), name
        )
    for key in book.places.lots:
        name = f"lot {' '.join(map(str, key))}"
        lay = partial(lot_sheets, key=key)
        yield PageGroup(name, lay, given.lot_inputs(book, key), "lots")
    for name in book.places.batches:
        lay = partial(batches_sheets, name=name)
        yield PageGroup(f"batches {name}", lay, given.batches_inputs(book, name), name)
    for name in book.places.designs:
        for kind, lays, takes in _OF_A_DESIGN:
            apart = _cost_apart(book, name) if kind == "design" else None
            lay = partial(lays, name=name)
            yield PageGroup(f"{kind} {name}", lay, takes(book, name), name, apart)


def _cost_apart(book: Book, name: str) -> SectionApart | None:
    """The section of a design's page that shows prices; None where that is not ours to set."""
    if not book.studio or book.theme.own is not None:
        return None
    return SectionApart(
        partial(cost_html, name=name),
        given.cost_inputs(book, name),
        given.beside_cost_inputs(book, name),
    )


# The groups of pages that each design has.
_OF_A_DESIGN = (
    ("design", design_sheets, given.design_inputs),
    ("cards", cards_sheets, given.cards_inputs),
    ("pour sheet", pour_sheets, given.pour_sheet_inputs),
    ("bench", bench_sheets, given.bench_inputs),
    ("labels", label_sheets, given.label_inputs),
)


def other_sheets(
    book: Book, pages: Iterable[str], renditions: RenditionCache | None = None
) -> tuple[Sheet, ...]:
    """The files that belong to no group: the feed, photos, and the theme's own files.

    ``pages`` are the paths of all pages; ``renditions`` are photo files of earlier builds.
    """
    return (
        *feed_sheets(book, pages),
        *photo_sheets(book.notebook.root, book.photos, renditions),
        *(Sheet(path, data.__bytes__, digest(data)) for path, data in book.theme.files),
    )
