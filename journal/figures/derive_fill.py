"""How full the cavity will be, from what was written."""

from __future__ import annotations

from msgspec import Struct

from journal.figures.base_properties import SILICONE
from journal.figures.cut_plan import piece_size
from journal.figures.derive_context import Case, middle
from journal.figures.derive_layers import RecipeMasses, base_density, bases_of
from journal.figures.fill import (
    PROUD_LIMIT_MM,
    capacity_by_mass,
    capacity_by_size,
    fill_share,
    proud,
    rounded_rectangle_area,
    silicone_volume,
)
from journal.figures.result import Figure, Gathering
from journal.quantities.show import show_length
from journal.records.shelf import Mat, Mould, Piece

Range = tuple[float, float]


class FillFigures(Struct, frozen=True):
    """What is in one cavity and how that fits it; shares are fractions, ends are (low, high).

    ``proud_mm`` is None where the mould's face is not known.
    """

    capacity_ml: Range
    poured_ml: float
    piece_ml: float
    fill: Range
    proud_mm: Range | None


def derive_fill(case: Case, masses: RecipeMasses) -> Figure[FillFigures]:
    """The fill of one cavity."""
    notes = Gathering("fill")
    mould = case.shelf.moulds.get(case.recipe.mould or "")
    if mould is None:
        notes.lacks("mould")
        return notes.as_figure(None, "computed", "fill")
    capacity_ml = _capacity(case, mould, notes)
    piece_ml = _silicone(case, mould, notes)
    if capacity_ml is None or piece_ml is None:
        return notes.as_figure(None, "computed", "fill")
    poured_ml = sum(layer.volume_ml_per_bar for layer in masses.layers) * (mould.bars_each or 1)
    in_cavity_ml = poured_ml + piece_ml
    face_mm2 = face_area(mould)
    proud_mm = None if face_mm2 is None else proud(in_cavity_ml, capacity_ml, face_mm2)
    if face_mm2 is None:
        notes.lacks(f"moulds/{case.recipe.mould}: face", "proud")
    # A mould that is cut into bars is filled to taste: standing proud says nothing there.
    if proud_mm is not None and proud_mm[0] > PROUD_LIMIT_MM and (mould.bars_each or 1) == 1:
        case.warning(
            case.at("layers", len(case.recipe.layers) - 1, "amount"),
            f"the bar stands at least {show_length(proud_mm[0])} proud of its cavity",
            f"Pour less: up to {show_length(PROUD_LIMIT_MM)} is planed off.",
        )
    return notes.as_figure(
        FillFigures(
            capacity_ml, poured_ml, piece_ml, fill_share(in_cavity_ml, capacity_ml), proud_mm
        ),
        "computed",
        "fill",
    )


def face_area(mould: Mould) -> float | None:
    """Area of a cavity's open face in mm2; None where the shelf does not give the face."""
    if mould.face is None:
        return None
    return rounded_rectangle_area(*mould.face, mould.corner_radius or 0.0)


def _capacity(case: Case, mould: Mould, notes: Gathering) -> Range | None:
    name = case.recipe.mould or ""
    if mould.holds is not None:
        bases = bases_of(case, case.recipe.layers[0])
        low, high, taken = base_density(case, bases[0][0] if bases else "")
        written = case.shelf.written["moulds"][name]["holds"]
        notes.used("the cavity holds", str(written), written.at)
        if taken:
            notes.used("density of the first base", f"not on the shelf: {low:.2f} to {high:.2f}")
        return capacity_by_mass(mould.holds, (low, high))
    area = face_area(mould)
    if area is not None and mould.depth is not None:
        notes.used("face and depth of the cavity", "")
        return capacity_by_size(area, mould.depth)
    notes.lacks(f"moulds/{name}: holds, or face and depth")
    return None


def _silicone(case: Case, mould: Mould, notes: Gathering) -> float | None:
    """Volume of the mat piece in the cavity, in mL; 0 without a mat."""
    mat = case.shelf.mats.get(case.recipe.mat or "")
    if mat is None:
        return 0.0
    piece = case.shelf.pieces.get(case.recipe.piece or "")
    weight_g = piece.weight if piece is not None and piece.weight is not None else mat.piece_weight
    if weight_g is not None:
        if mat.density is not None:
            density = middle(mat.density)
        else:
            density = SILICONE.density_kg_m3 / 1000
            notes.used("density of the silicone", f"not on the shelf: {density:.2f} g/mL is usual")
        notes.used("weight of the piece", f"{weight_g:g} g")
        return weight_g / density
    outline = piece_outline(case, mat, mould, piece)
    if outline is None:
        notes.lacks(f"mats/{case.recipe.mat}: piece_weight, or the piece's size")
        return None
    if mat.thickness is None:
        notes.lacks(f"mats/{case.recipe.mat}: piece_weight, or thickness")
        return None
    notes.used("outline and thickness of the piece", "")
    return silicone_volume(*outline, mat.thickness, mat.relief_volume or 0.0)


def piece_outline(
    case: Case, mat: Mat, mould: Mould | None, piece: Piece | None
) -> tuple[float, float] | None:
    """Width and height of the piece in mm: as measured on the shelf, else as it is cut."""
    if piece is not None and piece.size is not None:
        return piece.size
    face = mould.face if mould is not None else None
    trim = case.recipe.trim
    if face is None:
        return None
    if mat.motif is None:
        return piece_size(face_mm=face, motif_mm=None, trim="straight", margin_mm=0.0).size_mm
    if trim is None or trim.margin_mm is None:
        return None
    return piece_size(
        face_mm=face, motif_mm=mat.motif.size, trim=trim.kind, margin_mm=trim.margin_mm
    ).size_mm
