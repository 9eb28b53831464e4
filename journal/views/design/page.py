"""The page of a design: its sections in their order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from msgspec.structs import replace

from journal.errors import Problem
from journal.figures.heat.derive_heat import BOND
from journal.figures.shop.derive_shop import COST
from journal.html.blocks import Link, Page, Pictures, Section, TextRun, Words
from journal.views.card.day_chart import READING_SCRIPT
from journal.views.design import notes
from journal.views.design.bars import bars_section, follow_ups_part
from journal.views.design.heat import heat_part
from journal.views.design.recipe import design_round, steps_part, weigh_part
from journal.views.design.shop import cost_part, cost_section, cut_part, label_part
from journal.views.design.variants import variants_part
from journal.views.shared.book import Book
from journal.views.shared.measured_colours import measured_part
from journal.views.shared.on_design import DesignContext, joined_runs
from journal.views.shared.on_page import PageContext
from journal.views.shared.places import Sheet, href
from journal.views.shared.words import capitalised, count_text, list_text, long_date, measure_value

# How what designs share is called.
_SHARED_NOUNS: Final = {"mats": "mat", "moulds": "mould", "fragrances": "oil"}
# What leads to a part from the head of the page, by its anchor.
_LINK_TEXTS: Final = {
    "variants": "Which way is better",
    "heat": "When to pour",
    "weigh": "Weigh out",
    "bars": "Bar by bar",
    "failed": "What failed",
    "notes": "Notes",
    "cost": "Cost",
    "label": "Label",
}


def design_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The page of one design, as a tuple of one sheet."""
    context = DesignContext(
        book,
        book.places.designs[name],
        book.notebook.designs[name],
        book.figures.designs.get(name),
        book.compared.designs.get(name),
    )
    return (book.sheet(context.here, "design.html", lambda: _page(context)),)


def cost_html(book: Book, name: str) -> str:
    """The section of a design's page that shows prices, set by itself; "" if it has none."""
    priced = book.figures.priced.get(name)
    if priced is None:
        return ""
    costs = {recipe: of_recipe[COST.name] for recipe, of_recipe in priced.items()}
    context = PageContext(book, book.places.designs[name])
    part = cost_section(context, costs, book.compared.exact.get(name))
    return "" if part is None else book.theme.set_part(part)


def _page(context: DesignContext) -> Page:
    """Lay out the page of a design."""
    parts = tuple(_parts(context))
    return context.book.page(
        context.here,
        parts,
        context.design.summary,
        scripts=(READING_SCRIPT,) if context.figures is not None else (),
        dangers=tuple((text,) for text in context.book.over_limit.get(context.design.id, ())),
        before=_byline(context),
        standfirst=(context.design.summary,) if context.design.summary else (),
        line=_lineage_line(context),
        frontispiece=notes.frontispiece(context),
        drawn=notes.drawn_bar(context),
        on_page=_page_links(context, parts),
        marks=tuple(
            _problem_line(problem) for problem in context.book.problems.get(context.design.id, ())
        ),
    )


def _parts(context: DesignContext) -> Iterator[Section]:
    """Yield the sections of the page, without those that would be empty.

    The answers come first; what only some readers want is folded under a line that says it.
    """
    variants, one = variants_part(context), design_round(context)
    for part in (
        variants,
        _folded_after_first(heat_part(context, one), _why_then_text(context)),
        weigh_part(context),
        None if one is None else steps_part(one),
        bars_section(context),
        _folded(follow_ups_part(context), _looked_at_text(context)),
        notes.failed_part(context),
        notes.prose_part(context),
        notes.photos_part(context, above=_pictures_in(variants)),
        _folded(measured_part(context), _measured_text(context)),
        cost_part(context),
        label_part(context),
        cut_part(context),
        notes.missing_part(context),
        notes.private_part(context),
    ):
        if part is not None:
            yield part


def _folded(part: Section | None, fold: str) -> Section | None:
    """A section folded under a line, unless it has folds of its own."""
    if part is None or any(passage.fold for passage in part.passages):
        return part
    return replace(part, fold=fold)


def _folded_after_first(part: Section | None, fold: str) -> Section | None:
    """A section whose first passage is its answer, and whose others are folded under a line."""
    if part is None or any(passage.fold for passage in part.passages):
        return part
    first, *others = part.passages
    return replace(part, passages=(first, *(replace(other, fold=fold) for other in others)))


def _why_then_text(context: DesignContext) -> str:
    """Why the last layer is poured when it is: what happens below and above its window."""
    bond = None if context.figures is None else context.figures.recipe[BOND].value
    why: list[str] = []
    if bond is not None and bond.window.low_c is not None:
        why.append(f"below {context.at(bond.window.low_c)} it may not stick")
    if bond is not None and bond.window.high_c is not None:
        why.append(f"above {context.at(bond.window.high_c)} it melts the detail")
    return f"Why then: {', '.join(why)}" if why else "Why then: how the pots cooled"


def _looked_at_text(context: DesignContext) -> str:
    """How many bars were looked at again and until which day, and how wide their bleed got."""
    looks = [look for pour in context.design.pours for look in pour.later]
    if not looks:
        return "How far it bleeds, measured in photos"
    bars = count_text(len({look.bar for look in looks}), "bar")
    text = f"{bars}, until day {max(look.day for look in looks)}"
    widths = [w for look in looks if isinstance(w := look.measures.get("bleed"), float)]
    if not widths:
        return text
    widest = measure_value(max(widths), "length")
    return f"{text}: {f'bleed up to {widest}' if max(widths) else 'no bleed'}"


def _measured_text(context: DesignContext) -> str:
    """The colours that were measured in photos, region by region."""
    photos = context.book.measured.get(context.design.id, ())
    seen = dict.fromkeys(
        f"{region.region} {region.words}" for one in photos for region in one.measurement.regions
    )
    return capitalised(list_text(list(seen)) or "the width of the edge")


def _pictures_in(part: Section | None) -> frozenset[str]:
    """The addresses of the photos in a section, which need not be shown again below it."""
    if part is None:
        return frozenset()
    return frozenset(
        picture.src
        for passage in part.passages
        for block in passage.blocks
        if isinstance(block, Pictures)
        for picture in block.pictures
    )


def _byline(context: DesignContext) -> Words:
    """The line over the title: state, date of the write-up, pours and bars so far."""
    design = context.design
    poured = "not poured yet"
    if design.pours:
        poured = f"{count_text(len(design.pours), 'pour')}, {count_text(len(design.bars), 'bar')}"
    written = f"first written up {long_date(design.date)}"
    return (" · ".join((capitalised(design.state), written, poured)),)


def _lineage_line(context: DesignContext) -> Words:
    """A line of text: the design it grew from, those it led to, what it shares with others."""
    words: list[TextRun | str] = []
    if (
        context.design.grew_from is not None
        and context.design.grew_from in context.book.places.designs
    ):
        words += ["Grew from ", context.design_link(context.design.grew_from)]
    led_to = context.book.uses.descendants.get(context.design.id, ())
    if led_to:
        words.append("; led to " if words else "Led to ")
        words += joined_runs([(context.design_link(name),) for name in led_to])
    if words:
        words.append(". ")
    return (*words, *_shared_line(context))


def _shared_line(context: DesignContext) -> Words:
    """``Shares the mat with Kelp on clay; the mould with …, and others.``; empty if alone."""
    words: list[TextRun | str] = []
    for kind, name, others, more in context.book.shares.get(context.design.id, ()):
        noun = _SHARED_NOUNS[kind]
        words.append(f"; the {noun} with " if words else f"Shares the {noun} with ")
        named: list[Words] = [(context.design_link(other),) for other in others]
        if more:
            named.append((context.thing(kind, name, "others"),))
        words += joined_runs(named)
    return (*words, ".") if words else ()


def _page_links(context: DesignContext, parts: tuple[Section, ...]) -> tuple[Link, ...]:
    """The links at the head of the page: to cards, to batch records, then to sections below."""
    card = context.book.places.cards[context.design.id]
    records = context.book.places.batches.get(context.design.id)
    batches = (Link("Batches", href(context.here, records)),) if records is not None else ()
    links = [Link(_LINK_TEXTS[p.anchor], f"#{p.anchor}") for p in parts if p.anchor in _LINK_TEXTS]
    return (Link("Recipe card", href(context.here, card)), *batches, *links)


def _problem_line(problem: Problem) -> Words:
    """An error or warning about the design's files, with its hint."""
    kind = "Please check" if problem.warning else "Wrong"
    return (TextRun(f"{kind}: ", "mind"), f"{capitalised(problem.what)}. {problem.hint}".strip())
