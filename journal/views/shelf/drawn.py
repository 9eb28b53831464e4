"""What a thing on the shelf looks like: colours, and moulds, mats and pieces to scale."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from journal.charts import things
from journal.figures.shop.derive_template import TemplateFigures
from journal.html import blocks as html
from journal.html.blocks import CaptionedDrawing, Section
from journal.records.models.shelf import Base, Mat, Mould
from journal.views.shared import words
from journal.views.shared.bars_seen import drawn_motif
from journal.views.shared.measured_colours import dose_ladder
from journal.views.shared.moulds import lattice_of
from journal.views.shared.on_page import PageContext

# How wide a mm is set, in em: a mould's cavities, a whole sheet, a piece.
_CAVITIES, _SHEET, _PIECE = 0.12, 0.075, 0.12


class DrawnThing(PageContext, frozen=True):
    """The thing of which a page is, by its kind and id."""

    kind: str
    name: str

    @property
    def record(self) -> object:
        """Its record on the shelf."""
        return self.book.notebook.shelf.of_kind(self.kind)[self.name]


def drawn_part(context: DrawnThing) -> Section | None:
    """The section on what a thing looks like; None where nothing is known of it."""
    record = context.record
    if context.kind == "colourants":
        return dose_ladder(context.book, context.name, context.how("colour"))
    if isinstance(record, Base) and record.looks:
        row = html.ColourRow("Its colour", ((record.looks, "as the maker describes it", ""),))
        return html.simple_section("colour", "What it looks like", row)
    drawings: tuple[CaptionedDrawing, ...] = ()
    if isinstance(record, Mould):
        drawings = tuple(_cavities(context, record))
    elif isinstance(record, Mat):
        drawings = (*_sheets(context, record), *_pieces_of_mat(context, record))
    elif context.kind == "pieces":
        drawings = tuple(_piece(context, context.name))
    if not drawings:
        return None
    return html.simple_section("drawn", "To scale", html.DrawingRow(drawings))


def _cavities(context: DrawnThing, mould: Mould) -> Iterator[CaptionedDrawing]:
    """Yield the cavities of a mould; nothing without their face."""
    if mould.face is None:
        return
    lattice = lattice_of(mould, 1)
    size = context.units.size(*mould.face).first
    text = f"{words.count_text(lattice.cavities, 'cavity', 'cavities')}, {size}"
    title = f"{mould.name}, to scale"
    yield CaptionedDrawing(
        things.mould_from_above(lattice, "mould", title, text, _CAVITIES), says=(f"{text}.",)
    )


def _sheets(context: DrawnThing, mat: Mat) -> Iterator[CaptionedDrawing]:
    """Yield the sheet of a mat with its cuts, for each trim that is used; else with its motifs."""
    drawn = list[TemplateFigures]()
    number = 0
    for (name, mould), cuts in context.book.derived.templates.items():
        for cut in cuts if name == context.name else ():
            figures = cut.figure.value
            if figures is None or figures.plan is None or figures.sheet_mm is None:
                continue
            if any(one.plan == figures.plan for one in drawn):
                continue
            drawn.append(figures)
            number += 1
            count = words.count_text(figures.plan.count, "piece")
            text = f"{words.capitalised(words.template_trim_text(cut.trim))}: {count} from a sheet"
            yield CaptionedDrawing(
                things.sheet_from_above(
                    figures.sheet_mm,
                    (
                        things.DrawnPiece(
                            (
                                piece.x_mm + piece.width_mm / 2,
                                # The plan counts upwards from the sheet's lower corner.
                                figures.sheet_mm[1] - piece.y_mm - piece.height_mm / 2,
                            ),
                            (piece.width_mm, piece.height_mm),
                            figures.radius_mm,
                        )
                        for piece in figures.plan.pieces
                    ),
                    drawn_motif(mat, figures.motif_mm),
                    f"sheet-{number}",
                    f"A sheet of {mat.name} with its cuts, to scale",
                    f"{text}, for {context.thing('moulds', mould).text}.",
                    _SHEET,
                ),
                says=(f"{text}.",),
            )


def _pieces_of_mat(context: DrawnThing, mat: Mat) -> Iterator[CaptionedDrawing]:
    """Yield each piece that was cut from a mat, with the casts it has had."""
    for name in context.book.notebook.shelf.pieces_of_mat.get(context.name, ()):
        for drawn in _piece(context, name):
            yield replace(drawn, says=(context.thing("pieces", name), ": ", *drawn.says))


def _piece(context: DrawnThing, name: str) -> Iterator[CaptionedDrawing]:
    """Yield a piece with its motif and the casts it has had; nothing without its size."""
    figures = context.book.derived.pieces[name].value
    if figures is None or figures.size_mm is None:
        return
    record = context.book.notebook.shelf.pieces[name]
    mat = context.book.notebook.shelf.mats.get(record.mat or "")
    motif = None
    if mat is not None and mat.motif is not None:
        motif = drawn_motif(mat, mat.motif.size)
    had = words.count_text(figures.had_each, "cast")
    text, share = f"{had} so far", None
    if figures.life_each is not None:
        text, share = f"{had} of {figures.life_each} each", figures.life_share
    if figures.alike == 1:
        text = text.removesuffix(" each")
    wide, high = figures.size_mm
    piece = things.DrawnPiece((wide / 2, high / 2), figures.size_mm)
    title = f"{record.name}, to scale"
    drawing = things.piece_from_above(piece, motif, share, f"piece-{name}", title, text, _PIECE)
    yield CaptionedDrawing(drawing, says=(f"{text}.",))
