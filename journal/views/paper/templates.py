"""The notebook's cutting templates: a page for each mat and mould that are used together."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from journal.figures.shop.derive_template import CutTemplate, MatAndMould
from journal.html.blocks import PageFrame, TextRun, Words
from journal.html.true_size import IF_SHORT_SAYS, Drawing, PaperSize, TruePage
from journal.records.models.shelf import Shelf
from journal.views.paper.cutting import (
    CuttingTemplate,
    piece_drawings,
    sheet_drawings,
    template_warning,
)
from journal.views.shared.book import Book
from journal.views.shared.places import Sheet, thing_span
from journal.views.shared.words import template_trim_text


def template_sheets(book: Book, pair: MatAndMould) -> tuple[Sheet, ...]:
    """The page of templates for one mat and mould."""
    mat, mould = pair
    here = book.templates[pair]
    standfirst: Words = (
        "Print it at 100 %, and measure the two lines of 100 mm on each sheet before you cut: ",
        thing_span(book.places, here, "mats", mat),
        " for ",
        thing_span(book.places, here, "moulds", mould),
        f".{IF_SHORT_SAYS}",
        TextRun(f"journal template {mat} {mould} --pdf cut.pdf", "strong"),
        ".",
    )
    paper: PaperSize = "a4" if book.settings.paper == "a4" else "letter"
    shelf, cut = book.notebook.shelf, book.derived.templates[pair]
    make = partial(template_page, book.frame(here), shelf, pair, cut, paper, standfirst)
    return (book.sheet(here, "true-size.html", make),)


def template_page(
    frame: PageFrame,
    shelf: Shelf,
    pair: MatAndMould,
    cut: Sequence[CutTemplate],
    paper: PaperSize,
    standfirst: Words = (),
) -> TruePage:
    """The page of templates: for each trim one piece, then all pieces of a sheet.

    Inputs that the shelf lacks are listed in notes; without them there is no drawing.
    """
    mat_name, mould_name = shelf.mats[pair[0]].name, shelf.moulds[pair[1]].name
    drawings: list[Drawing] = []
    notes: dict[Words, None] = {}
    for number, one in enumerate(cut, start=1):
        trim, figure = one.trim, one.figure
        for missing in figure.missing:
            notes[(TextRun("Not on the shelf: ", "mind"), f"{missing.needs}.")] = None
        if figure.value is None:
            continue
        cutting = CuttingTemplate(mat_name, mould_name, trim, figure.value)
        drawings.extend(piece_drawings(cutting, paper, f"piece-{number}"))
        drawings.extend(sheet_drawings(cutting, paper, f"sheet-{number}"))
        if warning := template_warning(figure.value):
            how = template_trim_text(trim)
            notes[(TextRun(f"{how[:1].upper()}{how[1:]}. ", "mind"), warning)] = None
        if figure.value.plan is not None and not figure.value.plan.count:
            notes[(f"Cut {template_trim_text(trim)}, no whole piece fits on a sheet.",)] = None
    title = f"{mat_name}, for {mould_name}"
    about = f"A cutting template, true to size: {title}."
    head = f"Cutting template: {title}"
    return TruePage(frame, head, paper, tuple(drawings), standfirst, tuple(notes), about=about)
