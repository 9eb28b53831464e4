"""A page for each thing on the shelf: what is known of it, and every design made with it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from msgspec import Struct

from journal.figures.heat.derive_bases import BaseOutcome
from journal.html.blocks import (
    Block,
    BulletList,
    Definition,
    DefinitionList,
    FailureList,
    Heading,
    Page,
    PageCell,
    PageTable,
    Paragraph,
    Passage,
    RowGroup,
    Section,
    SideNote,
    TextRun,
    Words,
)
from journal.quantities.show import show_length
from journal.records.models.shelf import KINDS
from journal.records.models.summary import DesignSummary
from journal.records.models.things import ThingRef
from journal.views.lists.failed import failure_view
from journal.views.shared.book import Book
from journal.views.shared.paper_places import has_sheets
from journal.views.shared.places import Address, href, pour_anchor, span, thing_span
from journal.views.shared.seen_colours import swatches_part
from journal.views.shared.sheet import Sheet
from journal.views.shared.words import (
    capitalised,
    count_in_words,
    count_text,
    list_text,
    long_date,
    percent,
    short_date,
)
from journal.views.shelf.facts import facts_of

# What is said of an outcome that turns with the temperature of the pour?
OUTCOME_SAID = {
    "lifted": "the detail lifted",
    "lip": "the body lay over the border by as much as is worth the name",
    "bleed": "colour had crept by as much as is worth the name",
}


class ThingContext(Struct, frozen=True):
    """One thing on its page; ``used`` are the designs made with it, in order of date."""

    book: Book
    here: Address
    kind: str
    name: str
    used: tuple[str, ...]

    @property
    def designs(self) -> list[DesignSummary]:
        """The designs made with it, the latest first."""
        return [self.book.notebook.summaries[name] for name in reversed(self.used)]

    def how(self, method: str) -> str:
        """Where it is explained how a figure is made."""
        return href(self.here, self.book.places.fixed("how"), method)


def thing_sheets(book: Book, thing: ThingRef) -> tuple[Sheet, ...]:
    """The page of a thing on the shelf."""
    kind, name = thing
    here = book.places.things[thing]
    on = ThingContext(book, here, kind, name, book.uses.by_thing.get(thing, ()))
    return (book.sheet(here, "material.html", partial(thing_page, on)),)


def thing_page(on: ThingContext) -> Page:
    """What is known of it, what was done with it, what failed."""
    parts = tuple(part for part in _parts(on) if part is not None)
    return Page(
        on.book.frame(on.here),
        on.here.title,
        parts,
        before=(capitalised(KINDS[on.kind].one), " · ", _use_said(on)),
        folio=on.here.folio,
        about=f"{on.here.title}: what is known of it, and every design made with it.",
    )


def _use_said(on: ThingContext) -> str:
    pours = [pour for design in on.designs for pour in design.brief.pours]
    if not on.used:
        return "not used yet"
    said = f"used in {count_text(len(on.used), 'design')}"
    if pours:
        said += (
            f", {count_text(len(pours), 'pour')}, last on {long_date(max(p.date for p in pours))}"
        )
    return said


def _parts(on: ThingContext) -> Iterator[Section | None]:
    record = on.book.notebook.shelf.of_kind(on.kind)[on.name]
    facts = facts_of(on.book, on.here, record)
    if facts:
        terms = DefinitionList(tuple(Definition(name, (words,)) for name, words in facts))
        yield Section("known", "What is known", (Passage((terms,)),))
    if on.kind == "pieces":
        yield _casts_part(on)
    if on.kind in ("mats", "moulds", "pieces"):
        yield _last_time(on)
        yield _templates(on)
    yield _limit_part(on)
    yield _outcome_part(on)
    yield _colour_part(on)
    if on.kind == "colourants":
        yield swatches_part(on.book, on.name, on.how("colour"))
    yield _made_with(on)
    yield _failed_with(on)


def _casts_part(on: ThingContext) -> Section | None:
    """How often a piece was cast, how many casts it has left, which moulds it fits."""
    piece = on.book.derived.pieces[on.name].value
    if piece is None:
        return None
    alike = f", over {count_text(piece.alike, 'piece')} alike" if piece.alike > 1 else ""
    words = f"{count_text(piece.before + piece.poured, 'cast')} so far{alike}"
    if piece.before:
        words += f", {piece.before} of them before its first pour here"
    blocks: list[Block] = [Paragraph((f"{words}.",))]
    if piece.fits:
        fitting = [
            thing_span(on.book.places, on.here, "moulds", fit.mould).text
            + (" (corners rounded off)" if fit.round_corners else "")
            for fit in piece.fits
        ]
        blocks.append(Paragraph((f"Fits {list_text(fitting)}.",)))
    note = SideNote(kind="Counted", how=on.how("pieces"))
    if piece.casts is not None:
        left = count_text(piece.casts.left, "cast")
        says = "left, by the mat's life" if not piece.casts.over else "left: it is past its life"
        note = SideNote(left, ((says,),), "Counted", how=on.how("pieces"))
    return Section("casts", "Casts", (Passage(tuple(blocks), (note,)),))


def _last_time(on: ThingContext) -> Section | None:
    """The latest pour with it: temperatures, bars kept, the last mend."""
    poured = [(day, design.id) for design in on.designs if (day := design.brief.last_poured)]
    if not poured:
        return None
    last_day, name = max(poured)
    design = on.book.notebook.summaries[name]
    pour = next(pour for pour in design.brief.pours if pour.date == last_day)
    poured_at = [
        f"{layer} at {on.book.units.temperature(temperature)}"
        for layer, temperature in pour.poured_c.items()
    ]
    amount = ", ".join([count_in_words(pour.bars, "bar"), *filter(None, [list_text(poured_at)])])
    kept = f"Kept {pour.kept} of {pour.judged}." if pour.judged else "None was judged."
    words = (
        f"On {long_date(pour.date)}, ",
        span(on.here, on.book.places.designs[design.id], fragment=pour_anchor(pour.label)),
        f": {amount}. {kept}",
    )
    failed = [failure for failure in design.failed if failure.mend]
    blocks: list[Block] = [Paragraph(words)]
    if failed:
        last = failed[-1]
        blocks.append(Paragraph((TextRun(f"{capitalised(last.what)}: ", "strong"), str(last.mend))))
    return Section("last", "Last time", (Passage(tuple(blocks)),))


def _templates(on: ThingContext) -> Section | None:
    """The cutting templates of a mat or a mould."""
    if not has_sheets(on.book):
        return None
    links = tuple(
        (span(on.here, place),)
        for (mat, mould), place in on.book.templates.items()
        if (on.kind, on.name) in (("mats", mat), ("moulds", mould))
    )
    if not links:
        return None
    return Section("templates", "Cutting templates", (Passage((BulletList(links),)),))


def _limit_part(on: ThingContext) -> Section | None:
    """The share of a fragrance in each design, and how much of its limit that is."""
    if on.kind != "fragrances":
        return None
    rows = []
    for design in on.designs:
        figures = on.book.figures.summaries.get(design.id)
        if figures is None:
            continue
        for layer, oil in figures.oils:
            if oil.oil != on.name:
                continue
            used = None if not oil.limit else oil.layer_share / oil.limit
            rows.append(
                (
                    PageCell((span(on.here, on.book.places.designs[design.id]),), layer, head=True),
                    PageCell((percent(oil.layer_share),), number=True,
                         tone="mind" if oil.within is False else ""),
                    PageCell((percent(oil.bar_share),), number=True),
                    PageCell(("–" if used is None else percent(used),), number=True),
                )
            )  # fmt: skip
    if not rows:
        return None
    table = PageTable(
        "Share of the oil, and how much of its limit that is",
        (Heading("Design", wide=True), Heading("Layer", True), Heading("Bar", True),
         Heading("Of the limit", True)),
        (RowGroup(tuple(rows)),),
    )  # fmt: skip
    note = SideNote(kind="Computed", how=on.how("fragrance"))
    return Section("limit", "Within its limit", (Passage((table,), (note,)),))


def _outcome_part(on: ThingContext) -> Section | None:
    """How outcomes depend on the pour temperature of a base, from the studio's own pours."""
    outcomes = on.book.derived.outcomes.get(on.name, ()) if on.kind == "bases" else ()
    if not outcomes:
        return None
    blocks: list[Block] = [Paragraph(_outcome_words(on, entry)) for entry in outcomes]
    note = SideNote(
        says=(("A pour is one trial, however many bars it filled.",),),
        kind="Measured",
        how=on.how("threshold"),
    )
    return Section("pours", "What the pours say", (Passage(tuple(blocks), (note,)),))


def _outcome_words(on: ThingContext, entry: BaseOutcome) -> Words:
    units, found = on.book.units, entry.threshold
    seen = ""
    if found.seen_c is not None:
        seen = f", poured at {units.temperatures(*found.seen_c)}"
    had = sum(pour.share > 0 for pour in entry.pours)
    words = (
        TextRun(f"{capitalised(entry.outcome)}. ", "strong"),
        f"In {had} of {count_text(found.pours, 'pour')}{seen}, {OUTCOME_SAID[entry.outcome]}"
        " on at least one bar. ",
    )
    if found.both_ends:
        return (*words, "It happens at the cool and at the hot end, and less between.")
    if found.interval_c is None or found.at_c is None or found.rises is None:
        return (*words, f"{capitalised(found.why)}.")
    ends = ["" if end is None else units.temperature(end).first for end in found.interval_c]
    where = (
        list_text(ends, "to")
        if all(ends)
        else f"below {ends[1]}"
        if ends[1]
        else f"above {ends[0]}"
    )
    more = "above" if found.rises else "below"
    return (
        *words,
        f"Half the bars would have it {more} about {units.temperature(found.at_c)}"
        f" (95 %: {where}).",
    )


def _colour_part(on: ThingContext) -> Section | None:
    """How far colourants bled into bases, measured on bars that were looked at again."""
    if on.kind not in ("bases", "colourants"):
        return None
    rows = []
    for entry in on.book.derived.colours.get((on.kind, on.name), ()):
        other = (
            ("bases", entry.base) if on.kind == "colourants" else ("colourants", entry.colourant)
        )
        for growth in entry.growth:
            forecasts = {forecast.day: forecast for forecast in growth.forecasts}
            cells = []
            for day in (30.0, 90.0, 180.0):
                forecast = forecasts.get(day)
                beneath = ""
                if forecast is not None and forecast.interval_mm is not None:
                    low, high = (show_length(end) for end in forecast.interval_mm)
                    beneath = f"{low.removesuffix(' mm')} to {high}"
                said = "–" if forecast is None else show_length(forecast.width_mm)
                cells.append(PageCell((said,), beneath, number=True))
            rows.append(
                (
                    PageCell((thing_span(on.book.places, on.here, *other),),
                         f"{count_text(growth.bars, 'bar')}, by {growth.by}", head=True),
                    *cells,
                )
            )  # fmt: skip
    if not rows:
        return None
    head = "In" if on.kind == "colourants" else "Colourant"
    table = PageTable(
        "Width of the bleed to expect, in mm, with the range for the next bar",
        (
            Heading(head, wide=True),
            Heading("Day 30", True),
            Heading("Day 90", True),
            Heading("Day 180", True),
        ),
        (RowGroup(tuple(rows)),),
    )
    note = SideNote(kind="A model's estimate", how=on.how("bleed"))
    return Section("moves", "Colour that moves", (Passage((table,), (note,)),))


def _made_with(on: ThingContext) -> Section | None:
    if not on.used:
        return None
    rows = []
    for design in on.designs:
        kept, judged = design.brief.kept_of
        rows.append(
            (
                PageCell(
                    (span(on.here, on.book.places.designs[design.id]),), design.state, head=True
                ),
                PageCell((short_date(design.date),)),
                PageCell((str(len(design.brief.pours)),), number=True),
                PageCell((f"{kept} of {judged}" if judged else "–",), number=True),
            )
        )
    table = PageTable(
        "Every design made with it",
        (
            Heading("Design", wide=True),
            Heading("Since"),
            Heading("Pours", True),
            Heading("Kept", True),
        ),
        (RowGroup(tuple(rows)),),
    )
    return Section("used", "Made with it", (Passage((table,)),))


def _failed_with(on: ThingContext) -> Section | None:
    """What failed in the designs made with it."""
    shown = tuple(
        failure_view(on.book, on.here, design, failure)
        for design in on.designs
        for failure in design.failed
    )
    return Section("failed", "What failed", (Passage((FailureList(shown),)),)) if shown else None
