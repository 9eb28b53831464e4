"""The sections of failures, prose, photos, missing inputs, methods and private notes."""

from __future__ import annotations

import re

from msgspec.structs import replace

from journal.charts.symptoms import symptom_drawing
from journal.errors import Position
from journal.html import blocks as html
from journal.html.blocks import Section, TextRun, Words
from journal.html.markdown import ShownPicture, render_prose
from journal.records.models.links import links_in, target_of
from journal.records.models.shelf import KINDS
from journal.records.models.write_up import Failure, Photo, variant_words
from journal.records.yaml.source import path_in_notebook
from journal.views.shared import words
from journal.views.shared.bars_seen import AT_HEAD
from journal.views.shared.on_design import DesignContext
from journal.views.shared.photos import HALF, HERO, picture, render_text, shown_in_prose
from journal.views.shared.prose_links import resolve_link
from journal.views.shared.summary import failed_anchor

_SHELF_KEY = re.compile(r"^(\w+)/([a-z0-9-]+): (.+)$")

# What a figure is called on the page, by its name in the JSON.
FIGURE_NAMES = {
    "layers": "What to weigh",
    "fill": "How full the cavity gets",
    "bar_weight": "Weight of a fresh bar",
    "cut": "Cutting the mat",
    "cost": "Cost and price",
    "net_weight": "Net weight",
    "label": "Label",
    "bond": "Sticking",
    "dew": "Sweating",
    "cooling": "How the pots cool",
    "bleed": "How far it bleeds",
    "proud": "How far the bar stands proud",
    "colour": "How much colour",
}
# Figures that a bar without a mat has none of.
NEED_A_MAT = ("bond", "cut", "dew on the piece")


def failed_part(context: DesignContext) -> Section | None:
    """The section of failures and how they were mended; None without failures."""
    if not context.design.failed:
        return None
    failures = enumerate(context.design.failed, start=1)
    views = tuple(_failure_view(number, failure) for number, failure in failures)
    return html.simple_section("failed", "What failed", html.FailureList(views))


def _failure_view(number: int, failure: Failure) -> html.FailureView:
    """A failure as the page shows it; ``number`` counts from 1 and makes its anchor."""
    bar = "" if failure.bar is None else f"bar {failure.bar}"
    where = bar or (failure.variant and variant_words(failure.variant))
    return html.FailureView(
        what=words.capitalised(failure.what),
        where=() if where is None else (where,),
        saw=(failure.saw,),
        why=failure.why or "",
        mend=failure.mend or "",
        mended=failure.mended or "",
        anchor=failed_anchor(number),
        drawing=symptom_drawing(failure.what),
    )


def prose_part(context: DesignContext) -> Section | None:
    """The section of the maker's own prose, rendered from Markdown; None without prose."""
    if not context.design.body.strip():
        return None
    design, folder = context.design, context.design.path.rpartition("/")[0]
    links = links_in(design.body, design.path, design.body_line)
    targets = [target_of(link, folder) for _, link, _ in links]
    checked = {(target.kind, target.name) for target in targets}
    pictures = {path for _, path in design.pictures}

    def resolve(written: str) -> str | None:
        """The address of a link; None drops the link and keeps its words."""
        target = target_of(written, folder)
        # Markdown may take for a link what was not read as one, and so not checked.
        if target.kind not in ("outside", "here") and (target.kind, target.name) not in checked:
            return None
        return resolve_link(context.book, context.here, folder, written)

    def show(written: str) -> ShownPicture | None:
        """A photo within the prose; None if it cannot be shown."""
        path = path_in_notebook(written, folder)
        ready = context.book.photos.get(path or "") if path in pictures else None
        return None if ready is None else shown_in_prose(context.here, ready)

    at = Position(design.path, design.body_line)
    rendered = render_prose(design.body, resolve, show, at, "note")
    return html.simple_section("notes", "Notes", html.Prose(rendered))


def frontispiece(context: DesignContext) -> html.PagePicture | None:
    """The first photo, for the head of the page; None without one that can be shown."""
    return _photo(context, context.design.photos[0], first=True) if context.design.photos else None


def drawn_bar(context: DesignContext) -> html.CaptionedDrawing | None:
    """The bar drawn to scale, for the head of a page without a photo; None if it cannot be."""
    seen = context.book.seen.get(context.design.id)
    if seen is None or frontispiece(context) is not None:
        return None
    drawing = seen.drawing("bar", f"A bar of {context.design.title}, to scale", AT_HEAD)
    return html.CaptionedDrawing(drawing, says=(f"Drawn to scale, {seen.says}",))


def photos_part(context: DesignContext, above: frozenset[str] = frozenset()) -> Section | None:
    """The section of the other photos; those that cannot be shown are described in words.

    ``above`` are the addresses of photos that the page shows already, which are left out.
    """
    rest = [_photo(context, photo) for photo in context.design.photos[1:]]
    shown = tuple(entry for entry in rest if entry is not None and entry.src not in above)
    blocks: list[html.Block] = [html.Pictures(shown)] if shown else []
    standfirst = TextRun("A photo that cannot be shown: ", "soft")
    blocks += [
        html.Paragraph((standfirst, *_photo_caption(photo, " "), photo.alt))
        for photo in context.design.photos
        if context.photo(photo) is None
    ]
    return html.simple_section("photos", "Photos", *blocks) if blocks else None


def _photo(context: DesignContext, photo: Photo, *, first: bool = False) -> html.PagePicture | None:
    """A photo with its caption, large if it is the ``first``; None if it cannot be shown."""
    ready = context.photo(photo)
    if ready is None:
        return None
    sizes = HERO if first else HALF
    caption = _photo_caption(photo)
    # Said of the first; where a page has one, the others are.
    if first and (render := render_text(photo.alt)):
        caption = (*caption, f" {render}") if caption else (render,)
    return picture(context.here, ready, photo.alt, caption, sizes=sizes, first=first)


def _photo_caption(photo: Photo, after: str = "") -> Words:
    """A caption of variant, bar and day, as far as they are written, ending in ``after``."""
    variant = photo.variant and variant_words(photo.variant)
    named = (("", variant), ("bar ", photo.bar), ("day ", photo.day))
    facts = [f"{what}{value}" for what, value in named if value is not None]
    return (f"{words.capitalised(', '.join(facts))}.{after}",) if facts else ()


def missing_part(context: DesignContext) -> Section | None:
    """The section of figures that lack an input, with the key to write; None if none does."""
    if context.figures is None:
        return None
    recipes = (context.figures.recipe, *context.figures.variants.values())
    wanted: dict[str, list[str]] = {}
    for entry in dict.fromkeys(one for recipe in recipes for one in recipe.missing):
        # A bar without a mat has no detail to bond and nothing to cut: nothing is missing there.
        if not (entry.figure in NEED_A_MAT and context.design.recipe.mat is None):
            name = FIGURE_NAMES.get(entry.figure, words.capitalised(entry.figure.replace("_", " ")))
            wanted.setdefault(entry.needs, []).append(name)
    if not wanted:
        return None
    lines = tuple(_missing_line(context, needs, names) for needs, names in wanted.items())
    every = dict.fromkeys(name for names in wanted.values() for name in names)
    part = html.simple_section("missing", "What is missing", html.BulletList(lines))
    names = [name[:1].lower() + name[1:] for name in every]
    return replace(part, fold=f"Not known yet: {words.list_text(names)}")


def _missing_line(context: DesignContext, needs: str, figures: list[str]) -> Words:
    """A key to write, with a link to its thing's page, and the figures that lack it."""
    names = TextRun(words.list_text(list(dict.fromkeys(figures))), "strong")
    shelf_key = _SHELF_KEY.match(needs)
    if shelf_key is None or shelf_key[1] not in (*KINDS, "colours"):
        return (names, f": {needs}")
    kind, thing, key = shelf_key.groups()
    # The figures ask for the dose of a colour that a recipe has by eye, which is no key of a shelf.
    if kind == "colours":
        return (names, ": ", context.thing("colourants", thing), " goes in by eye, without a dose")
    return (names, ": ", context.thing(kind, thing), f" wants {key}, in shelf/{kind}.yaml")


def private_part(context: DesignContext) -> Section | None:
    """The section of private notes, in the studio's edition alone; None without notes."""
    if not context.book.studio:
        return None
    lines: list[Words] = [(context.design.private,)] if context.design.private else []
    lines += [
        (TextRun(f"Pour {pour.label}. ", "strong"), pour.private)
        for pour in context.design.pours
        if pour.private
    ]
    if not lines:
        return None
    part = html.simple_section("private", "Private", *map(html.Paragraph, lines))
    notes = words.count_text(len(lines), "note")
    return replace(part, fold=f"{notes}, in the studio's edition alone")
