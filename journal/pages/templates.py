"""The notebook's cutting templates: a page for each mat and mould that are used together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from journal.figures.derive_template import derive_template
from journal.pages.book import Book
from journal.pages.cutting import Cutting, piece_drawings, sheet_drawings, trim_said
from journal.pages.paper_places import has_sheets, trims_used
from journal.pages.parts import Frame, Span, Words
from journal.pages.places import Place
from journal.pages.sheet import Sheet
from journal.pages.thing_facts import named_thing
from journal.pages.true_size import Drawing, Paper, TruePage
from journal.records.shelf import Shelf
from journal.records.trim import Trim

# What is shown where no design says a trim: the two ways of cutting.
USUAL_TRIMS = (Trim("close", 0.0), Trim("straight", 3.0))


def template_sheets(book: Book) -> tuple[Sheet, ...]:
    """A page of templates for each pair of mat and mould, in the editions for the bench."""
    if not has_sheets(book):
        return ()
    trims = trims_used(book.notebook)
    return tuple(
        _sheet(book, here, mat, mould, trims[mat, mould])
        for (mat, mould), here in book.templates.items()
    )


def _sheet(book: Book, here: Place, mat: str, mould: str, trims: tuple[Trim, ...]) -> Sheet:
    shelf = book.notebook.shelf
    lead: Words = (
        "To print at 100 % and cut by: ",
        named_thing(book, here, "mats", mat),
        " for ",
        named_thing(book, here, "moulds", mould),
        ". Measure the two lines of 100 mm on each sheet before anything is cut.",
    )
    paper: Paper = "a4" if book.settings.paper == "a4" else "letter"
    return book.sheet(
        here,
        "true-size.html",
        lambda: template_page(book.frame(here), shelf, (mat, mould), trims, paper, lead),
    )


def template_page(
    frame: Frame,
    shelf: Shelf,
    pair: tuple[str, str],
    trims: Sequence[Trim],
    paper: Paper,
    lead: Words = (),
) -> TruePage:
    """Templates of one mat for one mould.

    Takes:  pair   ids of the mat and the mould, which are on the shelf
            trims  how the pieces are cut; none: close, and straight with 3 mm; a mat
                   without a motif has one piece, whatever the trim
            paper  that it is printed on
    Gives:  a page: for each trim the piece, then all pieces of a sheet; what the shelf
            lacks is said
    """
    mat, mould = pair
    drawings: list[Drawing] = []
    notes: dict[Words, None] = {}
    wanted: Iterable[Trim | None] = trims or USUAL_TRIMS
    if shelf.mats[mat].motif is None:
        wanted = (None,)
    for number, trim in enumerate(wanted, start=1):
        figure = derive_template(shelf, mat, mould, trim)
        for missing in figure.missing:
            notes[(Span("Not on the shelf: ", "mind"), f"{missing.needs}.")] = None
        if figure.value is None:
            continue
        cutting = Cutting(shelf.mats[mat].name, shelf.moulds[mould].name, trim, figure.value)
        drawings.extend(piece_drawings(cutting, paper, f"piece-{number}"))
        drawings.extend(sheet_drawings(cutting, paper, f"sheet-{number}"))
        if figure.value.plan is not None and not figure.value.plan.count:
            notes[(f"Cut {trim_said(trim)}, no whole piece fits on a sheet.",)] = None
    title = f"{shelf.mats[mat].name}, for {shelf.moulds[mould].name}"
    return TruePage(
        frame,
        f"Cutting template: {title}",
        paper,
        tuple(drawings),
        lead,
        tuple(notes),
        about=f"A cutting template, true to size: {title}.",
    )
