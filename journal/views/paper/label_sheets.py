"""The notebook's label drafts: a page a keeper, in the studio's own edition."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import partial

from msgspec.structs import replace

from journal.figures.derive import RecipeFigures
from journal.figures.label.ingredients import LabelDraft
from journal.figures.label.net_weight import Declared
from journal.figures.label.regions import REGIONS
from journal.figures.lots.derive_trace import BatchTrace
from journal.figures.shop.derive_shop import LABEL, NET_WEIGHT
from journal.html.blocks import PageFrame, TextRun, Words
from journal.html.true_size import IF_SHORT_SAYS, Drawing, PaperSize, TruePage
from journal.records.models.settings import Settings
from journal.records.models.shelf import Shelf
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Design
from journal.views.paper import labels
from journal.views.shared.book import Book
from journal.views.shared.paper_places import label_place
from journal.views.shared.places import Sheet, span
from journal.views.shared.words import REGION_NAMES, draft_version, short_date, still_to_fill_in

# A line breaks before what stands in brackets, and after it, but within no figure.
_SPACE_WITHIN_FIGURE = re.compile(r" (?!\()(?<!\) )")
_NO_WEIGHT = {"us": "Net Wt __ oz (__ g)", "eu": "__ g", "uk": "__ g"}


def label_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The page of a design's label drafts; none if it is no keeper or cannot be drafted."""
    design = book.recipes[name]
    if not has_draft(book, design):
        return ()
    here = label_place(design)
    words = label_words(design, book.figures.bench[name].recipe, book.settings)
    bar = bar_size(book.bench, design)
    shapes = tuple(labels.usual_shape(shape, bar) for shape in labels.SHAPES)
    paper: PaperSize = "a4" if book.settings.paper == "a4" else "letter"
    standfirst: Words = (
        "Drafts: try them on a bar, then show them to somebody who knows the rules where you"
        " sell. What they are made from is on ",
        span(here, book.places.designs[design.id], "the design's page", "label"),
        f". Print them at 100 %, and measure both lines of 100 mm.{IF_SHORT_SAYS}",
        TextRun(f"journal label {design.id} --pdf label.pdf", "strong"),
        ".",
    )
    dangers = book.over_limit.get(name, ())
    make = partial(label_page, book.frame(here), words, bar, shapes, paper, standfirst, dangers)
    return (book.sheet(here, "true-size.html", make),)


def has_draft(book: Book, design: Design | DesignSummary) -> bool:
    """Whether a design has a page of label drafts: only keepers, in the studio's own edition."""
    return design.state == "keeper" and can_draft(book, design.id)


def can_draft(book: Book, name: str) -> bool:
    """Whether a label can be drafted: in the studio's own edition, from complete figures."""
    figures = book.figures.summaries.get(name)
    return book.studio and figures is not None and figures.drafted


def bar_size(shelf: Shelf, design: Design) -> labels.BarSize:
    """The size of the bar that a design makes; unknown for a block that is cut into bars."""
    mould = shelf.moulds.get(design.recipe.mould or "")
    if mould is None or (mould.bars_each or 1) > 1:
        return labels.BarSize(None, None)
    return labels.BarSize(mould.face, mould.depth)


# The words before the date that a bar is good until. Source: Regulation (EC) No 1223/2009, Article
# 19 (1) (c), from memory, unconfirmed; in the United States common practice, no source.
_UNTIL = {"us": "best before", "eu": "best used before the end of"}
_UNTIL["uk"] = _UNTIL["eu"]


def words_of_batch(batch: BatchTrace, words: labels.LabelWords) -> labels.LabelWords:
    """A label with the code of its batch, the day that it is good until, if known, its version.

    By the version a label and the record of its batch are told to belong together.
    """
    until = batch.good_until.get(words.region)
    best, filled = "", ["batch"]
    if until is not None and until.day is not None:
        best = f", {_UNTIL[words.region]} {short_date(until.day)}"
        filled.append("best before")
    blanks = tuple(one for one in words.blanks if not one.startswith(tuple(filled)))
    return replace(words, lot=f"Lot {batch.batch.code}{best} · {words.version}", blanks=blanks)


def label_words(
    design: Design, figures: RecipeFigures, settings: Settings
) -> tuple[labels.LabelWords, ...]:
    """The texts of the label for each region whose rules are known.

    The design's label figure must have a value.
    """
    label, net = figures[LABEL].value, figures[NET_WEIGHT].value
    assert label is not None
    declared = {entry.system: entry for entry in net.declared} if net is not None else {}
    return tuple(
        _label_words_of_draft(design, draft, declared.get(draft.region), settings)
        for draft in label.drafts
        if draft.region in REGIONS
    )


def _label_words_of_draft(
    design: Design, draft: LabelDraft, declared: Declared | None, settings: Settings
) -> labels.LabelWords:
    """The texts of a label for the region of a draft; a missing net weight is a blank."""
    remarks = [f"{reason[:1].upper()}{reason[1:]}." for reason in (*draft.faults, *draft.why)]
    text = declared.text if declared is not None else ""
    if not text:
        because = (
            declared.why if declared is not None else "weigh more bars, and none is weighed yet"
        )
        remarks.append(f"There is no net weight to declare: {because}.")
    instead = "a colour is not permitted" if draft.faults else "list of each base, see beneath"
    return labels.LabelWords(
        region=draft.region,
        title=design.title,
        studio=settings.studio,
        net=_SPACE_WITHIN_FIGURE.sub("\u00a0", text or _NO_WEIGHT[draft.region]),
        nominal_g=declared.declared_g if declared is not None else None,
        ingredients=draft.statement or f"Ingredients: [{instead}]",
        why=tuple(remarks),
        responsible=getattr(settings.responsible, draft.region) or "",
        blanks=still_to_fill_in(draft.asked, text),
        version=draft_version(draft),
    )


def label_page(
    frame: PageFrame,
    words: Sequence[labels.LabelWords],
    bar: labels.BarSize,
    shapes: Iterable[labels.LabelShape],
    paper: PaperSize,
    standfirst: Words = (),
    dangers: tuple[str, ...] = (),
) -> TruePage:
    """The page of label drafts: warnings, then a sheet for each shape and region.

    ``words`` are those of each region; there is at least one. ``dangers`` are what is said of
    the limits that the soap is over (``over_limit_texts``); every sheet says it.
    """
    drawings: list[Drawing] = []
    notes: dict[Words, None] = {
        (TextRun(f"{REGION_NAMES[one.region].removeprefix('the ')}. ", "mind"),
         f"Still to be filled in: {'; '.join(one.blanks)}."): None
        for one in words
        if one.blanks
    }  # fmt: skip
    for number, shape in enumerate(shapes, start=1):
        for one in words:
            draft = labels.draw_label(
                one, shape, bar, paper, f"label-{number}-{one.region}", dangers
            )
            drawings.append(draft.drawing)
            whose = TextRun(f"{shape.shape.capitalize()} label, {one.region.upper()}. ", "mind")
            notes |= {(whose, warning): None for warning in draft.warnings}
    title = words[0].title
    about = f"Drafts of a label for {title}, to be checked before they are used."
    return TruePage(
        frame, f"Label draft: {title}", paper, tuple(drawings), standfirst, tuple(notes),
        about=about, language="zxx", dangers=tuple((text,) for text in dangers),
    )  # fmt: skip
