"""The pages of recipe cards: a page of cards for each design, and the list of these pages."""

from __future__ import annotations

import dataclasses
import shlex
from collections.abc import Iterator, Sequence
from functools import partial

from msgspec.structs import replace

from journal.charts.things import bar_in_ink
from journal.comparison.derive import lost_variants
from journal.errors import FigureError
from journal.figures.recipe.derive_another_mould import AnotherThing, design_in_another
from journal.html.blocks import (
    BulletList,
    Heading,
    Link,
    ListEntry,
    Page,
    PageCell,
    PageTable,
    Paragraph,
    Section,
    TextRun,
    Words,
    number_cell,
    simple_section,
    simple_table,
)
from journal.html.card_page import CardLeaf, CardPage, CardSize
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Design
from journal.views.card.card import card_page, cards_of
from journal.views.card.day_chart import READING_SCRIPT, when_to_pour
from journal.views.card.steps import recipe_round
from journal.views.lists.front import faulty_section, parts_by_state
from journal.views.paper.label_sheets import has_draft
from journal.views.shared import paper_places
from journal.views.shared.book import Book
from journal.views.shared.catalogue import catalogue_of
from journal.views.shared.on_design import joined_runs
from journal.views.shared.over_limit import over_limit_lines
from journal.views.shared.places import Address, Sheet, href, span, thing_span
from journal.views.shared.summary import by_date, thumbnail
from journal.views.shared.words import capitalised, count_text, variants_text

# What says a card for another number of bars, and when to pour.
CARD_SCRIPTS = ("rescale.js", READING_SCRIPT)
# The size of cards where none is asked for, by the paper: a sheet of it folded once.
USUAL_SIZE: dict[str, CardSize] = {"letter": "half-letter", "a4": "a5"}


def cards_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The page of a design's cards; a notice instead if the shelf lacks what it names."""
    here, design = book.places.cards[name], book.recipes[name]
    if name not in book.figures.summaries:
        return (book.sheet(here, "page.html", partial(_waiting_page, book, here, design)),)
    return (book.sheet(here, "card.html", partial(cards_page, book, here, design)),)


def cards_list_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page that lists the pages of cards."""
    here = book.places.fixed("cards")
    return (book.sheet(here, "page.html", partial(_list_page, book, here)),)


def _waiting_page(book: Book, here: Address, design: Design) -> Page:
    """The notice in place of cards if the write-up names what is not on the shelf."""
    words = (
        "This card waits: not all that is named in ",
        span(here, book.places.designs[design.id]),
        " is on the shelf yet.",
    )
    part = simple_section("waits", "No card yet", Paragraph(words))
    return replace(book.page(here, [part]), title=design.title)


def cards_page(book: Book, here: Address, design: Design) -> CardPage:
    """The page with all cards of a design, each leaf on its own sheet."""
    size = USUAL_SIZE[book.settings.paper]
    say = catalogue_of(book.settings.language, book.settings.written_in)
    notebook = dataclasses.replace(book.notebook, shelf=book.bench)
    leaves: list[CardLeaf] = []
    seen = book.seen.get(design.id)
    drawing = None if seen is None else bar_in_ink(seen.bar)
    lost = lost_variants(design.variants, book.lost.get(design.id, ()))
    shown = [name for name in design.overview.differ if name not in lost]
    for variant in (None, *shown):
        leaves.extend(
            cards_of(
                notebook, design, variant, book.bars, size, book.derived.card_rates[design.id],
                book.figures.summaries[design.id].dew_min,
                say=say, rescaled=True, drawing=drawing,
            )
        )  # fmt: skip
    frame, standfirst = book.frame(here, CARD_SCRIPTS), _cards_standfirst(book, here, design, shown)
    page = card_page(frame, leaves, size, title=design.title, standfirst=standfirst)
    dangers = tuple((text,) for text in book.over_limit.get(design.id, ()))
    when = tuple(when_to_pour(recipe_round(book, design)))
    return replace(page, when=when, dangers=dangers, moulds=_in_each_mould(book, here, design))


def _in_each_mould(book: Book, here: Address, design: Design) -> PageTable | None:
    """The recipe in each other mould of the shelf: a bar's layers, and the piece; None in none."""
    shelf, units, layers = book.bench, book.units, design.recipe.layers
    rows: list[tuple[PageCell, ...]] = []
    for name in (one for one in shelf.moulds if one != design.recipe.mould):
        head = PageCell((thing_span(book.places, here, "moulds", name),), head=True)
        try:
            carried, remarks = design_in_another(
                book.settings, shelf, design, None, AnotherThing(mould=name)
            )
        except FigureError as error:
            blank = (number_cell("–"),) * len(layers)
            rows.append((head, *blank, PageCell((capitalised(f"{error}."),))))
            continue
        amounts = [units.mass(layer.amount) for layer in carried.recipe.layers]
        said = " ".join(remarks) or f"journal cards {design.id} --mould {name}"
        rows.append((head, *(number_cell(*both) for both in amounts), PageCell((said,))))
    if not rows:
        return None
    heads: tuple[str | Heading, ...] = (
        "Mould", *(capitalised(layer.name) for layer in layers), Heading("To mind")
    )  # fmt: skip
    return simple_table("A bar in each other mould", heads, rows)


def _cards_standfirst(book: Book, here: Address, design: Design, shown: Sequence[str]) -> Words:
    """The introduction: which variants have a card here, how to get others, what else to print."""
    back = span(here, book.places.designs[design.id], "the design's page")
    without = [name for name in design.overview.differ if name not in shown]
    others = list(_also_printed(book, here, design))
    words: Words = ("Pour from these leaves; the rest is on ", back, ".")
    if paper_places.has_bench_page(book, design):
        bench = span(here, paper_places.bench_place(design), "the bench page")
        words = (*words, " On a phone: ", bench, ".")
    if shown:
        words = (*words, f" First comes the recipe as written, then {variants_text(shown)}.")
    if without:
        lost = variants_text(without, [variant.name for variant in design.variants])
        command = f"journal cards {design.id} --variant {shlex.quote(without[0])}"
        words = (*words, f" No card here for what lost: {lost}. To test again: ")
        words = (*words, TextRun(command, "strong"), ".")
    if others:
        words = (*words, " Also to print: ", *joined_runs(others), ".")
    return words


def _also_printed(book: Book, here: Address, design: Design) -> Iterator[Words]:
    """Links to the other printed pages of a design: pour-day sheet, template, labels."""
    if not paper_places.has_sheets(book):
        return
    if paper_places.has_pour_sheet(book, design):
        yield (span(here, paper_places.pour_sheet_place(design), "pour-day sheet"),)
    template = book.templates.get((design.recipe.mat or "", design.recipe.mould or ""))
    if template is not None:
        yield (span(here, template, "cutting template"),)
    if has_draft(book, design):
        yield (span(here, paper_places.label_place(design), "drafts of its label"),)
    if design.id in book.places.batches:
        yield (span(here, book.places.batches[design.id], "batch records"),)


def _list_page(book: Book, here: Address) -> Page:
    """The page that lists the cards of all designs by state, then the other printed pages."""
    scripted = book.settings.language == "en"
    words: Words = (
        "The number of bars at the head of a card can be written over. " if scripted else "",
        "From the command line journal cards makes them for other sizes of paper, several"
        " to a sheet, or straight into a PDF. Before anybody pours: ",
        span(here, book.places.fixed("safety"), "what can hurt at the bench"),
        ".",
    )
    parts = (
        *parts_by_state(by_date(book), partial(_list_entry, book, here)),
        *faulty_section(book, here),
        *_for_the_bench(book, here),
        simple_section("print", "To print", Paragraph(words)),
    )
    standfirst = ("One leaf, or a few, that lead a helper to the same bar.",)
    dangers = over_limit_lines(here, book.places.designs, book.over_limit)
    about = "Recipe cards, a page a design."
    return book.page(here, parts, standfirst=standfirst, about=about, dangers=dangers)


def _for_the_bench(book: Book, here: Address) -> Iterator[Section]:
    """Sections with links to templates, sheets and label drafts; none without printed sheets."""
    if not paper_places.has_sheets(book):
        return
    if book.templates:
        points = tuple((span(here, place),) for place in book.templates.values())
        yield simple_section("templates", "Cutting templates", BulletList(points))
    designs = [design for design in by_date(book) if design.id in book.figures.summaries]
    poured = (design for design in designs if paper_places.has_pour_sheet(book, design))
    lines: list[Words] = [
        (
            span(here, paper_places.pour_sheet_place(design)), ", or ",
            span(here, paper_places.bench_place(design), "on a phone"),
        )
        for design in poured
    ]  # fmt: skip
    photo_card: Words = (span(here, paper_places.PHOTO_CARD), ", to stand beside a bar in a photo")
    yield simple_section("sheets", "Sheets for the bench", BulletList((photo_card, *lines)))
    drafts = [design for design in designs if has_draft(book, design)]
    if drafts:
        points = tuple((span(here, paper_places.label_place(design)),) for design in drafts)
        yield simple_section("labels", "Label drafts", BulletList(points))


def _list_entry(book: Book, here: Address, design: DesignSummary) -> ListEntry:
    """The line of a design in the list: its title, variants, bars and mould."""
    mould = book.bench.moulds.get(design.overview.mould or "")
    facts = [count_text(book.bars or design.overview.bars, "bar")]
    if mould is not None:
        facts.append(mould.name)
    picture, drawing = thumbnail(book, here, design)
    return ListEntry(
        title=Link(design.title, href(here, book.places.cards[design.id])),
        end=(", ".join(facts),),
        picture=picture,
        drawing=drawing,
    )
