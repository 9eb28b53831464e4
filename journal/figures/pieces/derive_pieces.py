"""The mat pieces on the shelf: casts had and left, and the moulds and recipes that they fit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.result import Figure, FigureBuilder
from journal.figures.common.spec import FigureSpec
from journal.figures.pieces import cut_plan as cut_plans
from journal.figures.pieces.blocks import bars_of_blocks
from journal.records.models.shelf import Mat, Mould, Piece, Shelf, ShelfRecord
from journal.records.models.summary import DesignSummary
from journal.records.models.trim import Trim
from journal.records.models.write_up import Recipe
from journal.records.notebook import Notebook
from journal.records.yaml.tree import position_of


class PieceFigures(Struct, frozen=True):
    """One entry of ``pieces.yaml``, which may be several pieces alike.

    ``before``, ``poured`` and ``casts`` count over all of them together: a round casts each once,
    so they wear alike. ``life_seen`` is whether bars show the life, else it is a guess. ``casts``
    is None where the life is neither seen nor on the shelf, ``size_mm`` where the size is neither
    measured nor can be derived.
    """

    piece: str
    alike: int
    before: int
    poured: int
    life_each: int | None
    life_seen: bool
    casts: cut_plans.CastsLeft | None
    size_mm: tuple[float, float] | None
    fits: tuple[cut_plans.MouldFit, ...]

    @property
    def had_each(self) -> int:
        """Casts that the most used of them has had, if they are cast on in turn."""
        return -(-(self.before + self.poured) // self.alike)

    @property
    def left_each(self) -> int | None:
        """Casts that the most used of them has left."""
        return None if self.life_each is None else max(0, self.life_each - self.had_each)

    @property
    def life_share(self) -> float | None:
        """The share of its life that the most used of them has had; 1 for one past it."""
        return None if self.life_each is None else min(1.0, self.had_each / self.life_each)


class CastingPlaces(Struct, frozen=True):
    """The cavities and pieces that one round of a recipe is cast in.

    ``owned`` is None if no piece is on hand, or the recipe has no mat; ``pieces`` are
    ids, the one that the recipe names first.
    """

    mould: str | None
    cavities: int | None
    moulds: int
    bars_each: int
    pieces: tuple[str, ...]
    owned: int | None

    @property
    def casts_a_round(self) -> int | None:
        """Casts of a full round; None where neither mould nor pieces limit it."""
        limits = [number for number in (self.cavities, self.owned) if number]
        return min(limits) if limits else None

    @property
    def bars_a_round(self) -> int | None:
        """Bars of a full round; None where neither mould nor pieces limit it."""
        casts = self.casts_a_round
        return casts * self.bars_each if casts is not None else None

    def first_round(self, bars: int) -> int:
        """Bars of the first round of so many: a full one, or all of them."""
        return min(bars, self.bars_a_round or bars)

    def blocks(self, bars: int) -> tuple[int, ...]:
        """Bars that each cast of a round of ``bars`` is cut into, as ``bars_of_blocks``."""
        return bars_of_blocks(bars, self.bars_each)

    @property
    def resource(self) -> str | None:
        """The name of the pieces that rounds wait for; None where there are none."""
        return " or ".join(self.pieces) if self.owned is not None else None


def derive_pieces(
    notebook: Notebook, casts: Mapping[str, int] | None = None
) -> dict[str, Figure[PieceFigures]]:
    """Derive casts and fit of every piece on the shelf, by its id.

    ``casts`` is how often each was cast on in the pours written up; None counts them.
    """
    if casts is None:
        casts = bars_by_piece(notebook.summaries, notebook.shelf)
    shelf = notebook.shelf
    return {name: PIECES.of((shelf, name, casts.get(name, 0))) for name in shelf.pieces}


def bars_by_piece(designs: Mapping[str, DesignSummary], shelf: Shelf) -> Counter[str]:
    """Count the casts on each piece, by its id, in the pours written up.

    A block that is cut into several bars was one cast. A bar was cast on the piece that its row
    names, else on that of its variant, else on the first that the card of its recipe chooses.
    """
    casts: Counter[str] = Counter()
    for pour in (pour for design in designs.values() for pour in design.overview.pours):
        bars: Counter[tuple[str, int]] = Counter()
        for cast in pour.cast:
            piece = cast.piece
            if piece is None:
                piece = next(_cut_alike(shelf, cast.mat, cast.mould, cast.trim), None)
            if piece is not None:
                bars[piece, _bars_per_cavity(shelf, cast.mould)] += cast.bars
        for (piece, bars_each), count in bars.items():
            casts[piece] += -(-count // bars_each)
    return casts


def fitting_pieces(shelf: Shelf, recipe: Recipe) -> tuple[str, ...]:
    """Ids of the pieces that a recipe can be cast on; the one that it names comes first.

    Another piece fits if its mat, mould and trim are those of the recipe.
    """
    if recipe.mat is None:
        return ()
    own_piece = recipe.piece if recipe.piece in shelf.pieces else None
    alike = _cut_alike(shelf, recipe.mat, recipe.mould, recipe.trim)
    fitting = (name for name in alike if name != own_piece)
    return (*((own_piece,) if own_piece is not None else ()), *fitting)


def _cut_alike(
    shelf: Shelf, mat: str | None, mould: str | None, trim: Trim | None
) -> Iterator[str]:
    """Yield the pieces of a mat that are cut for a mould with a trim; none without a trim."""
    for name in shelf.pieces_of_mat.get(mat or "", ()) if trim is not None else ():
        if (shelf.pieces[name].mould, shelf.pieces[name].trim) == (mould, trim):
            yield name


def places_of_recipe(shelf: Shelf, recipe: Recipe) -> CastingPlaces:
    """The cavities and pieces that the rounds of a recipe are cast in."""
    mould = shelf.moulds.get(recipe.mould or "")
    pieces = fitting_pieces(shelf, recipe)
    return CastingPlaces(
        mould=recipe.mould if mould is not None else None,
        cavities=mould.cavities if mould is not None else None,
        moulds=max(1, things_owned(mould)) if mould is not None else 1,
        bars_each=_bars_per_cavity(shelf, recipe.mould),
        pieces=pieces,
        owned=sum(things_owned(shelf.pieces[name]) for name in pieces) or None,
    )


def things_owned(record: ShelfRecord) -> int:
    """The moulds or pieces alike that an entry stands for: 1 if it does not count them."""
    amount = None if record.on_hand is None else record.on_hand.amount
    return int(amount.value) if amount is not None and amount.kind == "count" else 1


def _bars_per_cavity(shelf: Shelf, mould: str | None) -> int:
    """Bars cut from one cavity of a mould; 1 if the shelf does not say."""
    record = shelf.moulds.get(mould or "")
    return (record.bars_each or 1) if record is not None else 1


def _piece_figures(context: tuple[Shelf, str, int], builder: FigureBuilder) -> PieceFigures:
    """Derive casts and fit of one piece: ``context`` is the shelf, its id, its casts in pours.

    A missing mat or mat life is noted as missing for "casts left".
    """
    shelf, name, poured = context
    piece, entry = shelf.pieces[name], shelf.written["pieces"][name]
    alike = max(1, things_owned(piece))
    before = piece.casts_before or 0
    if piece.casts_before is not None:
        at = position_of(entry, "casts_before")
        builder.used("casts before the first pour here", str(before), at)
    builder.used("casts in the pours written up", str(poured))
    mat = shelf.mats.get(piece.mat or "")
    if mat is None:
        builder.lacks(f"pieces/{name}: mat", "casts left")
    life = None if mat is None else shelf.piece_life(str(piece.mat))
    if mat is not None and life is None:
        builder.lacks(f"mats/{piece.mat}: life", "casts left")
    size = _piece_size_mm(shelf, name, piece, mat, builder)
    return PieceFigures(
        piece=name,
        alike=alike,
        before=before,
        poured=poured,
        life_each=life,
        life_seen=piece.mat in shelf.lives_seen,
        casts=None if life is None else cut_plans.casts_left(life * alike, before, poured),
        size_mm=size,
        fits=_mould_fits(shelf.moulds, size),
    )


def piece_as_cut(
    mat: Mat, face_mm: cut_plans.SizeMm, trim: Trim | None
) -> cut_plans.PieceSize | None:
    """The size that a piece of a mat is cut to for a cavity.

    Takes:  mat      on the shelf
            face_mm  the cavity's face
            trim     how the piece is cut; a mat without a motif has one piece, whatever the trim
    Gives:  the size; None where a motif is cut with a margin that is not known
    Fails:  FigureError for a face so small that nothing is left of it
    Source: as ``piece_size``
    """
    if mat.motif is None:
        return cut_plans.piece_size(face_mm=face_mm, motif_mm=None, trim="straight", margin_mm=0.0)
    if trim is None or trim.margin_mm is None:
        return None
    return cut_plans.piece_size(
        face_mm=face_mm, motif_mm=mat.motif.size, trim=trim.kind, margin_mm=trim.margin_mm
    )


def _piece_size_mm(
    shelf: Shelf, name: str, piece: Piece, mat: Mat | None, builder: FigureBuilder
) -> cut_plans.SizeMm | None:
    """Size of a piece: as measured, else as its trim would be cut for its mould.

    If neither is known, the size is None and is noted as missing for "moulds that it fits".
    """
    if piece.size is not None:
        return piece.size
    mould = shelf.moulds.get(piece.mould or "")
    cut = None
    if mat is not None and mould is not None and mould.face is not None:
        try:
            cut = piece_as_cut(mat, mould.face, piece.trim)
        except FigureError as error:  # a face too small for any piece
            builder.lacks(f"moulds/{piece.mould}: a larger face ({error})", "moulds that it fits")
            return None
    if cut is None:
        builder.lacks(f"pieces/{name}: size", "moulds that it fits")
        return None
    return cut.size_mm


def _mould_fits(
    moulds: Mapping[str, Mould], size: cut_plans.SizeMm | None
) -> tuple[cut_plans.MouldFit, ...]:
    """The fit of a piece in each mould that it fits; none if its size is not known."""
    if size is None:
        return ()
    fits = (
        cut_plans.fit_in_mould(name, size, mould.face, mould.corner_radius or 0.0, may_turn=True)
        for name, mould in moulds.items()
        if mould.face is not None
    )
    return tuple(fit for fit in fits if fit is not None)


PIECES: FigureSpec[tuple[Shelf, str, int], PieceFigures] = FigureSpec(
    name="pieces", kind="counted", derive=_piece_figures,
)  # fmt: skip
