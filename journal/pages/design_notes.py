"""What failed, the maker's own prose, the photos, what is missing, what is private."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import Any

from journal.figures.derive_fill import FILL
from journal.figures.derive_heat import BLEED, BOND, COOLING
from journal.figures.derive_layers import LAYERS
from journal.figures.derive_shop import COST, CUT, LABEL, NET_WEIGHT
from journal.figures.result import Figure, Missing
from journal.pages.leading import lead_from
from journal.pages.markdown import ShownPicture, prose
from journal.pages.on_design import KIND_SAID, OnDesign, inputs_said
from journal.pages.parts import (
    Block,
    Cell,
    Failure,
    Failures,
    Head,
    Part,
    Passage,
    Picture,
    Pictures,
    Points,
    Prose,
    Rows,
    Said,
    Span,
    Table,
    Words,
)
from journal.pages.photos import HERO, ReadyPhoto, picture, shown_in_prose
from journal.pages.words import sentence
from journal.records.links import links_in, target_of
from journal.records.shelf import KINDS
from journal.records.source import inside
from journal.records.write_up import Failure as WrittenFailure
from journal.records.write_up import Photo

_SHELF_KEY = re.compile(r"^(\w+)/([a-z0-9-]+): (.+)$")

# What a figure is called on the page, by its name in the JSON.
FIGURE_NAMES = {
    "layers": "Masses, fragrance, colour",
    "fill": "Fill of the cavity",
    "cut": "Cutting the mat",
    "cost": "Cost and price",
    "net_weight": "Net weight",
    "label": "Label",
    "bond": "Bond",
    "cooling": "Cooling of the pots",
    "bleed": "Growth of the bleed",
    "proud": "How far the bar stands proud",
    "colour": "Mass of the colour",
}


def failed_anchor(number: int) -> str:
    """Where the ``number``-th failure of a write-up stands on its page, from 1."""
    return f"failed-{number}"


def failed_part(on: OnDesign) -> Part | None:
    """What failed and what mended it."""
    if not on.design.failed:
        return None
    found = tuple(
        _failure(on, number, failure) for number, failure in enumerate(on.design.failed, start=1)
    )
    return Part("failed", "What failed", (Passage((Failures(found),)),))


def _failure(on: OnDesign, number: int, failure: WrittenFailure) -> Failure:
    where: Words = ()
    if failure.bar is not None:
        where = (f"bar {failure.bar}",)
    elif failure.variant is not None:
        where = (failure.variant,)
    return Failure(
        what=sentence(failure.what),
        where=where,
        saw=(failure.saw,),
        why=failure.why or "",
        mend=failure.mend or "",
        mended=failure.mended or "",
        anchor=failed_anchor(number),
    )


def prose_part(on: OnDesign) -> Part | None:
    """What the maker wrote below the front matter."""
    if not on.design.body.strip():
        return None
    design, folder = on.design, on.design.path.rpartition("/")[0]
    targets = (
        target_of(link, folder)
        for _, link, _ in links_in(design.body, design.path, design.body_line)
    )
    read = {(target.kind, target.name) for target in targets}
    html = prose(design.body, lambda to: _led(on, read, to), lambda src: _shown(on, src), "note")
    return Part("notes", "Notes", (Passage((Prose(html),)),))


def _led(on: OnDesign, read: Collection[tuple[str, str]], written: str) -> str | None:
    """Where a link leads; Markdown may take for one what was not read, and so not checked."""
    folder = on.design.path.rpartition("/")[0]
    target = target_of(written, folder)
    if target.kind not in ("outside", "here") and (target.kind, target.name) not in read:
        return None
    return lead_from(on.book, on.here, folder, written)


def _shown(on: OnDesign, written: str) -> ShownPicture | None:
    path = inside(written, on.design.path.rpartition("/")[0])
    if path is None or path not in {named for _, named in on.design.pictures}:
        return None
    ready = on.book.photos.get(path)
    return None if ready is None else shown_in_prose(on.here, ready)


def hero(on: OnDesign) -> Picture | None:
    """The first photo of the write-up, at the head of the page."""
    return _photo(on, on.design.photos[0], first=True) if on.design.photos else None


def photos_part(on: OnDesign, above: frozenset[str] = frozenset()) -> Part | None:
    """The rest of the photos; of one that cannot be shown, what it would show, in words.

    ``above`` are the addresses of those that the page has shown already.
    """
    found = [_photo(on, photo) for photo in on.design.photos[1:]]
    shown = tuple(entry for entry in found if entry is not None and entry.src not in above)
    blocks: list[Block] = [Pictures(shown)] if shown else []
    blocks += [
        Said((Span("A photo that cannot be shown: ", "soft"), *_which(photo, " "), photo.alt))
        for photo in on.design.photos
        if _ready(on, photo) is None
    ]
    return Part("photos", "Photos", (Passage(tuple(blocks)),)) if blocks else None


def _ready(on: OnDesign, photo: Photo) -> ReadyPhoto | None:
    return on.book.photos.get(inside(photo.file, on.design.path.rpartition("/")[0]) or "")


def _photo(on: OnDesign, photo: Photo, *, first: bool = False) -> Picture | None:
    ready = _ready(on, photo)
    if ready is None:
        return None
    caption = _which(photo)
    if first:
        return picture(on.here, ready, photo.alt, caption, sizes=HERO, first=True)
    return picture(on.here, ready, photo.alt, caption)


def _which(photo: Photo, after: str = "") -> Words:
    """Variant, bar and day of a photo, as far as they are written."""
    said = []
    if photo.variant is not None:
        said.append(photo.variant)
    if photo.bar is not None:
        said.append(f"bar {photo.bar}")
    if photo.day is not None:
        said.append(f"day {photo.day}")
    return (f"{sentence(', '.join(said))}.{after}",) if said else ()


def missing_part(on: OnDesign) -> Part | None:
    """Which figures cannot be had, and the key that would give each."""
    if on.figures is None:
        return None
    found = [
        entry
        for entry in (
            *on.figures.recipe.missing,
            *(m for recipe in on.figures.variants.values() for m in recipe.missing),
        )
        # A bar without a mat has no detail to bond and nothing to cut: nothing is missing there.
        if not (entry.figure in ("bond", "cut") and on.design.recipe.mat is None)
    ]
    lines = [_missing_said(on, entry) for entry in dict.fromkeys(found)]
    if not lines:
        return None
    lead = Said(("These figures cannot be had yet; each line names what would give them.",))
    return Part("missing", "What is missing", (Passage((lead, Points(tuple(lines)))),))


def _missing_said(on: OnDesign, entry: Missing) -> Words:
    name = FIGURE_NAMES.get(entry.figure, sentence(entry.figure))
    found = _SHELF_KEY.match(entry.needs)
    if found is not None and found[1] in KINDS:
        return (
            Span(name, "strong"),
            ": ",
            on.thing(found[1], found[2]),
            f" wants {found[3]}, in shelf/{found[1]}.yaml",
        )
    return (Span(name, "strong"), f": {entry.needs}")


def made_part(on: OnDesign) -> Part | None:
    """How each figure of the page was come by."""
    if on.figures is None:
        return None
    recipe = on.figures.recipe
    figures: Sequence[Figure[Any]] = (
        recipe[LAYERS],
        recipe[FILL],
        on.figures[COOLING],
        recipe[BOND],
        on.figures[BLEED],
        recipe[COST],
        recipe[NET_WEIGHT],
        recipe[LABEL],
        recipe[CUT],
    )
    rows = tuple(
        (
            Cell((FIGURE_NAMES[figure.name],), head=True),
            Cell((Span(KIND_SAID[figure.kind], href=on.how(figure.method)),)),
            Cell((inputs_said(figure),)),
        )
        for figure in figures
        if figure.value is not None
    )
    heads = (Head("Figure"), Head("How"), Head("From"))
    table = Table("How the figures of this page were made", heads, (Rows(rows),), quiet=True)
    return Part("made", "How they were made", (Passage((table,)),))


def private_part(on: OnDesign) -> Part | None:
    """Private notes, in the studio's own edition."""
    if not on.book.studio:
        return None
    lines: list[Words] = []
    if on.design.private:
        lines.append((on.design.private,))
    lines += [
        (Span(f"Pour {pour.label}. ", "strong"), pour.private)
        for pour in on.design.pours
        if pour.private
    ]
    if not lines:
        return None
    blocks: tuple[Block, ...] = tuple(Said(words) for words in lines)
    soft = Said(("Private notes stand in the studio's edition alone.",), "soft")
    return Part("private", "Private", (Passage((*blocks, soft)),))
