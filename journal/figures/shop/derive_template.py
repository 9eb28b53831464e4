"""Derive cutting templates: the piece of a mat for a mould, and its places on the sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.result import Figure, FigureBuilder
from journal.figures.common.spec import FigureSpec
from journal.figures.pieces.cut_plan import CutPlan, PieceSize, RepeatingMotif, SizeMm, cut_plan
from journal.figures.pieces.derive_pieces import piece_as_cut
from journal.figures.pieces.piece_corner import piece_corner
from journal.figures.shop.derive_shop import repeating_motif
from journal.records.models.shelf import Shelf
from journal.records.models.trim import Trim
from journal.records.notebook import Notebook

# Ids of a mat and a mould.
MatAndMould = tuple[str, str]
# The trims of a piece for which no design states one: common practice, no source.
USUAL_TRIMS = (Trim("close", 0.0), Trim("straight", 3.0))


class TemplateFigures(Struct, frozen=True):
    """A piece for a cavity, and where pieces lie on a sheet of the mat.

    ``radius_mm`` is that of the piece's corners; ``motif_mm`` None for a mat without
    one; ``plan`` None if the sheet or its motif is not fully on the shelf.
    """

    face_mm: SizeMm
    corner_radius_mm: float
    piece: PieceSize
    radius_mm: float
    motif_mm: SizeMm | None
    motif: RepeatingMotif | None
    sheet_mm: SizeMm | None
    plan: CutPlan | None


def _template_figures(
    context: tuple[Shelf, str, str, Trim | None], builder: FigureBuilder
) -> TemplateFigures | None:
    """Derive a template; ``context`` is the shelf, the ids of mat and mould, and the trim.

    None, with the missing inputs noted, without the mould's face or a margin, or if the face is
    too small. A piece with a motif is not laid on its side to save silicone: its picture would
    lie on its side too.
    """
    shelf, mat, mould, trim = context
    sheet, tray = shelf.mats[mat], shelf.moulds[mould]
    if tray.face is None:
        builder.lacks(f"moulds/{mould}: face")
    if sheet.motif is not None and (trim is None or trim.margin_mm is None):
        builder.lacks("trim: close, or straight with its margin")
    if builder.missing or tray.face is None:
        return None
    builder.used("motif, trim and the mould's face", "")
    try:
        size = piece_as_cut(sheet, tray.face, trim)
    except FigureError as error:  # a face so small that nothing is left of it
        builder.lacks(f"moulds/{mould}: a larger face: {error}")
        return None
    assert size is not None
    motif = repeating_motif(sheet, mat, builder, "cut plan")
    if sheet.sheet is None:
        builder.lacks(f"mats/{mat}: sheet", "cut plan")
    plan = None
    if sheet.sheet is not None and (motif is not None or sheet.motif is None):
        plan = cut_plan(sheet.sheet, size.size_mm, motif, may_turn=sheet.motif is None)
    return TemplateFigures(
        face_mm=tray.face,
        corner_radius_mm=tray.corner_radius or 0.0,
        piece=size,
        radius_mm=piece_corner(size.size_mm, tray.face, tray.corner_radius or 0.0),
        motif_mm=sheet.motif.size if sheet.motif is not None else None,
        motif=motif,
        sheet_mm=sheet.sheet,
        plan=plan,
    )


TEMPLATE: FigureSpec[tuple[Shelf, str, str, Trim | None], TemplateFigures] = FigureSpec(
    name="template", kind="computed", explained_by="cut", derive=_template_figures
)  # fmt: skip


class CutTemplate(Struct, frozen=True):
    """One template: the trim of the piece (None without a motif), and the figure to draw."""

    trim: Trim | None
    figure: Figure[TemplateFigures]


def cut_templates(
    shelf: Shelf, pair: MatAndMould, trims: Sequence[Trim]
) -> tuple[CutTemplate, ...]:
    """Derive the templates of one mat for one mould, one for each trim.

    Without ``trims`` they are close, and straight with 3 mm. A mat without a motif has one
    template, whatever the trim.
    """
    mat, mould = pair
    cuts: Iterable[Trim | None] = trims or USUAL_TRIMS
    if shelf.mats[mat].motif is None:
        cuts = (None,)
    return tuple(CutTemplate(trim, TEMPLATE.of((shelf, mat, mould, trim))) for trim in cuts)


def trims_used(notebook: Notebook) -> Mapping[MatAndMould, tuple[Trim, ...]]:
    """The mats and moulds that designs use together, each pair with its trims in order.

    Trims without a margin and designs that are set aside do not count.
    """
    shelf = notebook.shelf
    used: dict[MatAndMould, dict[Trim, None]] = {}
    for design in notebook.summaries.values():
        if design.state == "set aside":
            continue
        for mat, mould, trim in design.overview.trims:
            if mat in shelf.mats and mould in shelf.moulds:
                trims = used.setdefault((str(mat), str(mould)), {})
                if trim is not None and trim.margin_mm is not None:
                    trims[trim] = None
    return {
        pair: tuple(sorted(used[pair], key=lambda trim: (trim.kind, trim.margin_mm)))
        for pair in sorted(used)
    }


def derive_templates(notebook: Notebook) -> Mapping[MatAndMould, tuple[CutTemplate, ...]]:
    """Derive the templates of every mat and mould that a design uses together."""
    return {
        pair: cut_templates(notebook.shelf, pair, trims)
        for pair, trims in trims_used(notebook).items()
    }
