"""The page of a design: its parts in their order, and what its bytes depend on."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from journal.errors import Problem
from journal.pages.book import Book
from journal.pages.design_bars import bars_part, later_part
from journal.pages.design_heat import forecast_of, forecast_said, heat_part
from journal.pages.design_notes import (
    failed_part,
    hero,
    made_part,
    missing_part,
    photos_part,
    private_part,
    prose_part,
)
from journal.pages.design_recipe import steps_part, weigh_part
from journal.pages.design_shares import shared_by, shares_line
from journal.pages.design_shop import cost_part, cut_part, label_part
from journal.pages.design_variants import across_places, variants_part
from journal.pages.on_design import OnDesign, joined
from journal.pages.parts import Link, Page, Part, Pictures, Span, Words
from journal.pages.places import Place, href, titles_key
from journal.pages.seen_colours import measured_part
from journal.pages.sheet import Sheet
from journal.pages.words import counted, said_date, sentence
from journal.records.links import links_in, target_of
from journal.records.source import inside
from journal.records.things import with_leftovers
from journal.records.write_up import Design


def design_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The page of one design."""
    on = OnDesign(
        book,
        book.places.designs[name],
        book.notebook.designs[name],
        book.figures.designs.get(name),
        book.compared.designs.get(name),
    )
    return (book.sheet(on.here, "design.html", lambda: design_page(on), *_depends(on)),)


def design_page(on: OnDesign) -> Page:
    """The page of a design, all its parts laid out."""
    parts = tuple(_parts(on))
    return Page(
        frame=on.book.frame(on.here),
        title=on.design.title,
        parts=parts,
        before=_byline(on),
        lead=(on.design.summary,) if on.design.summary else (),
        line=_lineage(on),
        hero=hero(on),
        on_page=_on_page(on, parts),
        folio=on.here.folio,
        about=on.design.summary,
        marks=tuple(_mark(problem) for problem in on.book.problems.get(on.design.id, ())),
    )


def _parts(on: OnDesign) -> Iterator[Part]:
    if on.figures is not None:
        yield weigh_part(on)
    yield steps_part(on)
    if on.figures is not None:
        heat = heat_part(on)
        if heat.passages:
            yield heat
    variants = variants_part(on)
    if variants is not None:
        yield variants
    for make in (
        bars_part,
        later_part,
        failed_part,
        prose_part,
        partial(photos_part, above=pictures_in(variants)),
        measured_part,
        cost_part,
        label_part,
        cut_part,
        missing_part,
        made_part,
        private_part,
    ):
        part = make(on)
        if part is not None:
            yield part


def pictures_in(part: Part | None) -> frozenset[str]:
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


def _byline(on: OnDesign) -> Words:
    design = on.design
    said = [sentence(design.state), f"first written up {said_date(design.date)}"]
    if design.pours:
        said.append(f"{counted(len(design.pours), 'pour')}, {counted(len(design.bars), 'bar')}")
    else:
        said.append("not poured yet")
    return (" · ".join(said),)


def _lineage(on: OnDesign) -> Words:
    """What a design grew from, what it led to, what it shares with others: a line of text."""
    words: list[Span | str] = []
    if on.design.grew_from is not None and on.design.grew_from in on.book.places.designs:
        words += ["Grew from ", on.other(on.design.grew_from)]
    led_to = on.book.uses.led_to.get(on.design.id, ())
    if led_to:
        words.append("; led to " if words else "Led to ")
        words += joined([(on.other(name),) for name in led_to])
    if words:
        words.append(". ")
    return (*words, *shares_line(on))


def _on_page(on: OnDesign, parts: tuple[Part, ...]) -> tuple[Link, ...]:
    card = on.book.places.cards[on.design.id]
    named = {
        "weigh": "To weigh",
        "heat": "When to pour",
        "variants": "Variants",
        "bars": "Bar by bar",
        "failed": "What failed",
        "notes": "Notes",
        "cost": "Cost",
        "label": "Label",
    }
    links = [Link(named[part.anchor], f"#{part.anchor}") for part in parts if part.anchor in named]
    return (Link("Recipe card", href(on.here, card)), *links)


def _mark(problem: Problem) -> Words:
    kind = "To mind" if problem.warning else "Wrong"
    return (Span(f"{kind}: ", "mind"), f"{sentence(problem.what)}. {problem.mend}".strip())


def _depends(on: OnDesign) -> tuple[object, ...]:
    """All that the page of a design shows, in a form that tells any change."""
    forecast = forecast_of(on)
    return (
        _written(on.design),
        *_shelf_records(on),
        *titles_key(_led_to(on)),
        *(ready for ready in _photos(on) if ready is not None),
        *(photo for photo in on.book.measured if photo.design == on.design.id),
        on.book.problems.get(on.design.id, ()),
        shared_by(on),
        () if forecast is None else forecast_said(on, forecast),
    )


def _written(design: Design) -> tuple[object, ...]:
    """Everything that the maker wrote of a design; tables in files beside it are in the pours."""
    return (design.written, design.body, design.pours, design.grew_from)


def _shelf_records(on: OnDesign) -> Iterator[object]:
    shelf = on.book.notebook.shelf
    for kind, name in with_leftovers(shelf, on.design.things):
        yield kind, name, shelf.of_kind(kind).get(name)


def _led_to(on: OnDesign) -> Iterator[Place]:
    """Every page that this one leads to by name."""
    places = on.book.places
    yield from across_places(on)
    names = [*on.book.uses.led_to.get(on.design.id, ())]
    names += [name for _, _, others, _ in shared_by(on) for name in others]
    if on.design.grew_from is not None:
        names.append(on.design.grew_from)
    things = list(on.design.things)
    for _, link, _ in links_in(on.design.body, on.design.path, 1):
        target = target_of(link, on.design.path.rpartition("/")[0])
        if target.kind == "design":
            names.append(target.name)
        elif target.kind == "shelf":
            kind, _, name = target.name.partition("/")
            things.append((kind, name))
        elif target.kind == "comparison" and target.name in places.compared:
            yield places.compared[target.name]
    yield from (places.designs[name] for name in names if name in places.designs)
    yield from (place for kind, name in things if (place := places.thing(kind, name)))


def _photos(on: OnDesign) -> Iterator[object]:
    folder = on.design.path.rpartition("/")[0]
    for photo in on.design.photos:
        yield on.book.photos.get(inside(photo.file, folder) or "")
    for _, link, is_picture in links_in(on.design.body, on.design.path, 1):
        if is_picture:
            yield on.book.photos.get(target_of(link, folder).name)
