"""The page of a design: its sections in their order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from journal.errors import Problem
from journal.html.blocks import Link, Page, Pictures, Section, TextRun, Words
from journal.views.design import notes
from journal.views.design.bars import bars_section, later_part
from journal.views.design.heat import heat_part
from journal.views.design.recipe import steps_part, weigh_part
from journal.views.design.shop import cost_part, cut_part, label_part
from journal.views.design.variants import variants_part
from journal.views.shared.book import Book
from journal.views.shared.measured_colours import measured_part
from journal.views.shared.on_design import DesignContext, joined_runs
from journal.views.shared.places import href
from journal.views.shared.sheet import Sheet
from journal.views.shared.words import capitalised, count_text, long_date

# How what designs share is called.
_SHARED_NOUNS: Final = {"mats": "mat", "moulds": "mould", "fragrances": "oil"}
# What leads to a part from the head of the page, by its anchor.
_LINK_TEXTS: Final = {
    "weigh": "To weigh",
    "heat": "When to pour",
    "variants": "Variants",
    "bars": "Bar by bar",
    "failed": "What failed",
    "notes": "Notes",
    "cost": "Cost",
    "label": "Label",
}


def design_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The page of one design."""
    on = DesignContext(
        book,
        book.places.designs[name],
        book.notebook.designs[name],
        book.figures.designs.get(name),
        book.compared.designs.get(name),
    )
    return (book.sheet(on.here, "design.html", lambda: _page(on)),)


def _page(on: DesignContext) -> Page:
    """The page of a design, all its parts laid out."""
    parts = tuple(_parts(on))
    return on.book.page(
        on.here,
        parts,
        on.design.summary,
        before=_byline(on),
        lead=(on.design.summary,) if on.design.summary else (),
        line=_lineage_line(on),
        hero=notes.hero(on),
        on_page=_on_page(on, parts),
        marks=tuple(_problem_line(problem) for problem in on.book.problems.get(on.design.id, ())),
    )


def _parts(on: DesignContext) -> Iterator[Section]:
    """The sections that the design has something for."""
    variants = variants_part(on)
    for part in (
        weigh_part(on),
        steps_part(on),
        heat_part(on),
        variants,
        bars_section(on),
        later_part(on),
        notes.failed_part(on),
        notes.prose_part(on),
        notes.photos_part(on, above=_pictures_in(variants)),
        measured_part(on),
        cost_part(on),
        label_part(on),
        cut_part(on),
        notes.missing_part(on),
        notes.made_part(on),
        notes.private_part(on),
    ):
        if part is not None:
            yield part


def _pictures_in(part: Section | None) -> frozenset[str]:
    """The addresses of the photos of a part, which need not be shown again below it."""
    if part is None:
        return frozenset()
    return frozenset(
        picture.src
        for passage in part.passages
        for block in passage.blocks
        if isinstance(block, Pictures)
        for picture in block.pictures
    )


def _byline(on: DesignContext) -> Words:
    """State, day of the write-up, and how much was poured: the line over the title."""
    design = on.design
    poured = "not poured yet"
    if design.pours:
        poured = f"{count_text(len(design.pours), 'pour')}, {count_text(len(design.bars), 'bar')}"
    written = f"first written up {long_date(design.date)}"
    return (" · ".join((capitalised(design.state), written, poured)),)


def _lineage_line(on: DesignContext) -> Words:
    """What a design grew from, what it led to, what it shares with others: a line of text."""
    words: list[TextRun | str] = []
    if on.design.grew_from is not None and on.design.grew_from in on.book.places.designs:
        words += ["Grew from ", on.design_link(on.design.grew_from)]
    led_to = on.book.uses.descendants.get(on.design.id, ())
    if led_to:
        words.append("; led to " if words else "Led to ")
        words += joined_runs([(on.design_link(name),) for name in led_to])
    if words:
        words.append(". ")
    return (*words, *_shared_line(on))


def _shared_line(on: DesignContext) -> Words:
    """``Shares the mat with Kelp on clay; the mould with …, and others.``"""
    words: list[TextRun | str] = []
    for kind, name, others, more in on.book.shares.get(on.design.id, ()):
        noun = _SHARED_NOUNS[kind]
        words.append(f"; the {noun} with " if words else f"Shares the {noun} with ")
        named: list[Words] = [(on.design_link(other),) for other in others]
        if more:
            named.append((on.thing(kind, name, "others"),))
        words += joined_runs(named)
    return (*words, ".") if words else ()


def _on_page(on: DesignContext, parts: tuple[Section, ...]) -> tuple[Link, ...]:
    """The links at the head of the page: to the recipe card, and to its own sections."""
    card = on.book.places.cards[on.design.id]
    links = [Link(_LINK_TEXTS[p.anchor], f"#{p.anchor}") for p in parts if p.anchor in _LINK_TEXTS]
    return (Link("Recipe card", href(on.here, card)), *links)


def _problem_line(problem: Problem) -> Words:
    """A problem in the files of the design, with its hint."""
    kind = "To mind" if problem.warning else "Wrong"
    return (TextRun(f"{kind}: ", "mind"), f"{capitalised(problem.what)}. {problem.hint}".strip())
