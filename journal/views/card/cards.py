"""The notebook's recipe cards: a page a design with its cards, and the list of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from functools import partial

from journal.html.blocks import (
    Block,
    BulletList,
    EntryList,
    Link,
    ListEntry,
    Page,
    Paragraph,
    Passage,
    Section,
    Words,
)
from journal.html.card_page import CardLeaf, CardPage, CardSize
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Design
from journal.views.card.card import card_page, cards_of
from journal.views.paper.label_sheets import has_draft
from journal.views.shared.book import Book
from journal.views.shared.catalogue import catalogue_of
from journal.views.shared.on_design import joined_runs
from journal.views.shared.paper_places import (
    PHOTO_CARD,
    has_pour_sheet,
    has_sheets,
    label_place,
    pour_sheet_place,
)
from journal.views.shared.places import Address, href, span
from journal.views.shared.sheet import Sheet
from journal.views.shared.summary import by_date, first_photo
from journal.views.shared.words import count_text, list_text

# What works out another number of bars on a page of cards, in the order of loading.
CARD_SCRIPTS = ("amounts.js", "leaves.js", "rescale.js")
# The size of the cards in a notebook, by the paper that the studio prints on.
NOTEBOOK_SIZE: dict[str, CardSize] = {"letter": "4x6in", "a4": "a6"}


def cards_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The page of a design's cards; it waits where it names what is not on the shelf."""
    here, design = book.places.cards[name], book.recipes[name]
    if name not in book.figures.summaries:
        return (book.sheet(here, "page.html", partial(_waiting, book, here, design)),)
    return (book.sheet(here, "card.html", partial(cards_page, book, here, design)),)


def cards_list_sheets(book: Book) -> tuple[Sheet, ...]:
    """The list of the cards."""
    every = book.places.fixed("cards")
    return (book.sheet(every, "page.html", partial(_list, book, every)),)


def _waiting(book: Book, here: Address, design: Design) -> Page:
    """In place of a card, where a write-up names what is not on the shelf."""
    where = span(here, book.places.designs[design.id])
    said = Paragraph(("This card waits: not all that is named in ", where, " is on the shelf yet."))
    return Page(
        book.frame(here), design.title, (_part("waits", "No card yet", said),), folio=here.folio
    )


def card_variants(design: Design) -> tuple[str | None, ...]:
    """The variants that have a card: the recipe as written (None), and those that differ."""
    return (None, *design.brief.differ)


def cards_page(book: Book, here: Address, design: Design) -> CardPage:
    """All cards of a design, each leaf its own page on paper."""
    size = NOTEBOOK_SIZE[book.settings.paper]
    say = catalogue_of(book.settings.language)
    notebook = dataclasses.replace(book.notebook, shelf=book.bench)
    leaves: list[CardLeaf] = []
    for variant in card_variants(design):
        leaves.extend(cards_of(notebook, design, variant, book.bars, size, say=say))
    return card_page(
        book.frame(here, CARD_SCRIPTS),
        leaves,
        size,
        title=design.title,
        lead=_lead(book, here, design),
    )


def _lead(book: Book, here: Address, design: Design) -> Words:
    back = span(here, book.places.designs[design.id], "the design's page")
    names, others = design.brief.differ, _also_printed(book, here, design)
    words: Words = ("The recipe to pour from, leaf by leaf; what is known of it stands on ", back)
    if names:
        cards = "card is" if len(names) == 1 else "cards are"
        words = (*words, f". After the recipe as written, the {cards} that of {list_text(names)}")
    if others:
        words = (*words, ". To print as well: ", *joined_runs(others))
    return (*words, ".")


def _also_printed(book: Book, here: Address, design: Design) -> list[Words]:
    """What else there is on paper for a design."""
    if not has_sheets(book):
        return []
    found: list[Words] = []
    if has_pour_sheet(book, design):
        found.append((span(here, pour_sheet_place(design), "the pour-day sheet"),))
    template = book.templates.get((design.recipe.mat or "", design.recipe.mould or ""))
    if template is not None:
        found.append((span(here, template, "the cutting template"),))
    if has_draft(book, design):
        found.append((span(here, label_place(design), "drafts of its label"),))
    return found


def _list(book: Book, here: Address) -> Page:
    """Every design's cards by its state, the latest first."""
    parts: list[Section] = []
    for state, head in (("keeper", "Keepers"), ("trial", "Trials"), ("set aside", "Set aside")):
        entries = tuple(_entry(book, here, one) for one in by_date(book) if one.state == state)
        if entries:
            parts.append(_part(state.replace(" ", "-"), head, EntryList(entries)))
    parts.extend(_for_the_bench(book, here))
    safety = span(here, book.places.fixed("safety"), "what can hurt at the bench")
    scripted = book.settings.language == "en"
    words: Words = (
        "The number of bars at the head of a card can be written over. " if scripted else "",
        "From the command line journal cards makes them for other sizes of paper, several"
        " to a sheet, or straight into a PDF. Before anybody pours: ",
        safety,
        ".",
    )
    parts.append(_part("print", "To print", Paragraph(words)))
    return Page(
        book.frame(here),
        here.title,
        tuple(parts),
        lead=("One leaf, or a few, that lead a helper to the same bar.",),
        folio=here.folio,
        about="Recipe cards, a page a design.",
    )


def _for_the_bench(book: Book, here: Address) -> Iterator[Section]:
    """Templates and sheets, in the editions that have them."""
    if not has_sheets(book):
        return
    if book.templates:
        points = tuple((span(here, place),) for place in book.templates.values())
        yield _part("templates", "Cutting templates", BulletList(points))
    designs = [design for design in by_date(book) if design.id in book.figures.summaries]
    poured = (design for design in designs if has_pour_sheet(book, design))
    points = tuple((span(here, pour_sheet_place(design)),) for design in poured)
    photo_card: Words = (span(here, PHOTO_CARD), ", to stand beside a bar in a photo")
    yield _part("sheets", "Sheets for the bench", BulletList((photo_card, *points)))
    drafts = [design for design in designs if has_draft(book, design)]
    if drafts:
        points = tuple((span(here, label_place(design)),) for design in drafts)
        yield _part("labels", "Label drafts", BulletList(points))


def _part(anchor: str, head: str, block: Block) -> Section:
    return Section(anchor, head, (Passage((block,)),))


def _entry(book: Book, here: Address, design: DesignSummary) -> ListEntry:
    mould = book.bench.moulds.get(design.brief.mould or "")
    said = [count_text(book.bars or design.brief.bars, "bar")]
    if mould is not None:
        said.append(mould.name)
    names = design.brief.differ
    also = (f"Also {list_text(names)}.",) if names else ()
    return ListEntry(
        title=Link(design.title, href(here, book.places.cards[design.id])),
        says=also,
        end=(", ".join(said),),
        picture=first_photo(book, here, design),
    )
