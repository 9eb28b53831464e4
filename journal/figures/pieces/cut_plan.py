"""Pieces from a mat sheet, the moulds that they fit, and the casts they have left."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence

from msgspec import Struct

from journal.errors import FigureError

# Room between a piece and the wall of its cavity, on every side, so that the
# piece drops in and the body runs round it. Agreed for this journal; no source.
CLEARANCE_MM = 1.0

# A sheet is measured to a millimetre at best; this only takes up the last
# digits of a float, so that a piece that just fits does fit.
FLOAT_SLACK_MM = 1e-6

CLOSE = "close"
STRAIGHT = "straight"

SizeMm = tuple[float, float]


class RepeatingMotif(Struct, frozen=True):
    """A motif that repeats over a sheet.

    ``pitch_mm`` is the distance from centre to centre, ``offset_mm`` the
    centre of the first from the sheet's corner; each across, then up.
    """

    size_mm: SizeMm
    pitch_mm: SizeMm
    offset_mm: SizeMm


class PieceSize(Struct, frozen=True):
    """The size that a piece is cut to.

    ``narrowed`` is whether the cavity makes it smaller than motif and margin, ``crops_motif``
    whether even smaller than the motif.
    """

    size_mm: SizeMm
    narrowed: bool
    crops_motif: bool


class PlacedPiece(Struct, frozen=True):
    """A piece on the sheet: its lower left corner from the sheet's corner, and its size."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


class CutPlan(Struct, frozen=True):
    """The pieces cut from a sheet, and the share of it that is in none of them.

    ``piece_mm`` is the size with the motif upright; ``turned``: all pieces lie on their side.
    """

    piece_mm: SizeMm
    turned: bool
    pieces: tuple[PlacedPiece, ...]
    waste_share: float

    @property
    def count(self) -> int:
        """Number of pieces."""
        return len(self.pieces)


class MouldFit(Struct, frozen=True):
    """The way a piece lies in a cavity: turned or not, with its corners rounded or not."""

    mould: str
    turned: bool
    round_corners: bool


class CastsLeft(Struct, frozen=True):
    """Casts that a piece has left; ``over`` counts the casts beyond its life."""

    left: int
    over: int


def _check_size(size: SizeMm, what: str) -> None:
    """Raise FigureError unless both lengths are finite and above 0; ``what`` names them."""
    for length in size:
        if not (math.isfinite(length) and length > 0):
            raise FigureError(f"{what} is {size[0]} x {size[1]} mm; both must be above 0")


def piece_size(
    *, face_mm: SizeMm, motif_mm: SizeMm | None, trim: str, margin_mm: float
) -> PieceSize:
    """The size that a piece is cut to for a cavity.

    It is the motif's size (trim "close") or that plus the margin on every side ("straight"), but
    at most the cavity's face less the clearance on every side. A mat without a motif is cut to
    that largest size.

    Takes:  face_mm       the cavity's face; > twice the clearance both ways
            motif_mm      size of the motif; > 0; None for a mat without one
            trim          "close" or "straight"
            margin_mm     >= 0; used for straight
    Gives:  the size, whether the face narrowed it, and whether that crops the motif
    Fails:  FigureError if any lies outside its range
    Source: definition
    Checked: motif 60 x 40, straight 3, face 80 x 55: 66 x 46
    """
    _check_size(face_mm, "the face")
    if not (math.isfinite(margin_mm) and margin_mm >= 0):
        raise FigureError(f"a margin of {margin_mm} mm; it cannot be below 0")
    if trim not in (CLOSE, STRAIGHT):
        raise FigureError(f'a trim "{trim}"; it is "{CLOSE}" or "{STRAIGHT}"')
    room = (face_mm[0] - 2 * CLEARANCE_MM, face_mm[1] - 2 * CLEARANCE_MM)
    _check_size(room, f"the face less {CLEARANCE_MM} mm on every side")
    if motif_mm is None:
        return PieceSize(room, False, False)
    _check_size(motif_mm, "the motif")
    around = 2 * margin_mm if trim == STRAIGHT else 0.0
    uncut = (motif_mm[0] + around, motif_mm[1] + around)
    size = (min(uncut[0], room[0]), min(uncut[1], room[1]))
    return PieceSize(
        size, size != uncut, any(room[way] < motif_mm[way] - FLOAT_SLACK_MM for way in (0, 1))
    )


def whole_motifs(sheet: float, piece: float, pitch: float, offset: float) -> tuple[float, ...]:
    """Centres of those motifs along one edge round which a whole piece fits on the sheet.

    Takes:  sheet   length of the edge; mm; > 0
            piece   length of the piece that way; mm; > 0
            pitch   centre to centre; mm; > 0
            offset  first centre from the corner; mm; finite
    Gives:  centres, ascending; may be empty
    Fails:  FigureError if any lies outside its range
    Source: definition
    Checked: sheet 400, piece 60, pitch 95, offset 45: 45, 140, 235, 330
    """
    for what, length in (("sheet", sheet), ("piece", piece), ("pitch", pitch)):
        if not (math.isfinite(length) and length > 0):
            raise FigureError(f"the {what} is {length} mm; it must be above 0")
    if not math.isfinite(offset):
        raise FigureError(f"the offset is {offset} mm; it must be finite")
    half = piece / 2
    first = max(0, math.ceil((half - offset - FLOAT_SLACK_MM) / pitch))
    last = math.floor((sheet - half - offset + FLOAT_SLACK_MM) / pitch)
    return tuple(offset + place * pitch for place in range(first, last + 1))


def _stride(piece: float, pitch: float) -> int:
    """The least step from motif to motif (1: every one) at which pieces do not overlap."""
    return max(1, math.ceil((piece - FLOAT_SLACK_MM) / pitch))


def cut_plan(
    sheet_mm: SizeMm, piece_mm: SizeMm, motif: RepeatingMotif | None, *, may_turn: bool
) -> CutPlan:
    """Plan where to cut as many pieces as possible, in the better of the allowed orientations.

    With a motif a piece is centred on every n-th one:
    ceil(nx / ceil(w / pitch_x)) x ceil(ny / ceil(h / pitch_y)) pieces, where nx x ny
    motifs have room for a whole piece. No plan of pieces of that orientation gives
    more: among so many neighbouring motifs only one can carry a piece.

    Takes:  sheet_mm  > 0
            piece_mm  > 0; as it lies with the motif upright
            motif     None for a sheet without one
            may_turn  whether the piece may be cut lying on its side
    Gives:  the places and the share of the sheet that is in no piece; upright
            when both orientations give as many
    Fails:  FigureError if any lies outside its range
    Source: definition; checked against exhaustive placing on small sheets
    Checked: sheet 400 x 300, piece 66 x 46, pitch 95 x 70, offset 45 x 32:
             16 pieces, waste 59.52 %
    """
    _check_size(sheet_mm, "the sheet")
    _check_size(piece_mm, "the piece")
    best: CutPlan | None = None
    for turned in (False, True) if may_turn else (False,):
        size = (piece_mm[1], piece_mm[0]) if turned else piece_mm
        if motif is None:
            pieces = _place_side_by_side(sheet_mm, size)
        else:
            pieces = _place_on_motifs(sheet_mm, size, motif)
        if best is None or len(pieces) > best.count:
            best = CutPlan(piece_mm, turned, pieces, waste_share(sheet_mm, pieces))
    assert best is not None
    return best


def _place_on_motifs(
    sheet_mm: SizeMm, size: SizeMm, motif: RepeatingMotif
) -> tuple[PlacedPiece, ...]:
    """Place pieces of one orientation, each centred on a motif, as many as do not overlap."""
    columns = whole_motifs(sheet_mm[0], size[0], motif.pitch_mm[0], motif.offset_mm[0])
    rows = whole_motifs(sheet_mm[1], size[1], motif.pitch_mm[1], motif.offset_mm[1])
    return tuple(
        # max: a piece flush with the edge must not start a hair outside it.
        PlacedPiece(max(0.0, x - size[0] / 2), max(0.0, y - size[1] / 2), *size)
        for y in rows[:: _stride(size[1], motif.pitch_mm[1])]
        for x in columns[:: _stride(size[0], motif.pitch_mm[0])]
    )


def _place_side_by_side(sheet_mm: SizeMm, size: SizeMm) -> tuple[PlacedPiece, ...]:
    """Place pieces of one orientation side by side in rows from the sheet's corner."""
    across = math.floor((sheet_mm[0] + FLOAT_SLACK_MM) / size[0])
    up = math.floor((sheet_mm[1] + FLOAT_SLACK_MM) / size[1])
    return tuple(
        PlacedPiece(column * size[0], row * size[1], *size)
        for row in range(up)
        for column in range(across)
    )


def waste_share(sheet_mm: SizeMm, pieces: Sequence[PlacedPiece]) -> float:
    """Share of a sheet that is in none of its pieces.

    Takes:  sheet_mm  > 0
            pieces    inside the sheet, none over another
    Gives:  0 to 1; 1 for no pieces
    Fails:  FigureError if a piece leaves the sheet or lies over another
    Source: definition
    Checked: the published layouts C1P1 and T1a (Hopper & Turton) waste nothing
    """
    _check_size(sheet_mm, "the sheet")
    for piece in pieces:
        _check_size((piece.width_mm, piece.height_mm), "a piece")
        if (
            piece.x_mm < -FLOAT_SLACK_MM
            or piece.y_mm < -FLOAT_SLACK_MM
            or piece.x_mm + piece.width_mm > sheet_mm[0] + FLOAT_SLACK_MM
            or piece.y_mm + piece.height_mm > sheet_mm[1] + FLOAT_SLACK_MM
        ):
            raise FigureError(f"a piece at {piece.x_mm} x {piece.y_mm} mm leaves the sheet")
    over = _first_overlap(pieces)
    if over is not None:
        one, other = over
        raise FigureError(
            f"the pieces at {one.x_mm} x {one.y_mm} mm and at "
            f"{other.x_mm} x {other.y_mm} mm lie over each other"
        )
    used = math.fsum(piece.width_mm * piece.height_mm for piece in pieces)
    return max(0.0, 1 - used / (sheet_mm[0] * sheet_mm[1]))


def _first_overlap(pieces: Sequence[PlacedPiece]) -> tuple[PlacedPiece, PlacedPiece] | None:
    """Two pieces that lie over each other; None if no two do.

    A line is swept up the sheet. The pieces that it crosses lie side by side as long as none
    overlap, so a piece that it comes to need be compared with its neighbours alone.

    Source: sweep line, Shamos & Hoey, Proc. 17th FOCS (1976) 208 (from memory)
    """
    crossed: list[PlacedPiece] = []  # from left to right, with some that are left behind
    for one in sorted(pieces, key=lambda piece: (piece.y_mm, piece.x_mm)):
        place = bisect_right(crossed, one.x_mm, key=lambda piece: piece.x_mm)
        # One left behind to the right could hide the neighbour; to the left none does, since each
        # piece came upon all that lay in its own width.
        while place < len(crossed) and not _reaches(crossed[place], one.y_mm):
            del crossed[place]
        for other in crossed[max(0, place - 1) : place + 1]:
            if _overlap(one, other):
                return other, one
        crossed.insert(place, one)
    return None


def _reaches(piece: PlacedPiece, y_mm: float) -> bool:
    """Whether a piece reaches above a height by more than rounding."""
    return piece.y_mm + piece.height_mm > y_mm + FLOAT_SLACK_MM


def _overlap(one: PlacedPiece, other: PlacedPiece) -> bool:
    """Whether two pieces overlap by more than rounding."""
    return (
        one.x_mm + one.width_mm > other.x_mm + FLOAT_SLACK_MM
        and other.x_mm + other.width_mm > one.x_mm + FLOAT_SLACK_MM
        and one.y_mm + one.height_mm > other.y_mm + FLOAT_SLACK_MM
        and other.y_mm + other.height_mm > one.y_mm + FLOAT_SLACK_MM
    )


def fit_in_mould(
    mould: str, piece_mm: SizeMm, face_mm: SizeMm, corner_radius_mm: float, *, may_turn: bool
) -> MouldFit | None:
    """Fit a piece into a mould's cavity with the clearance on every side.

    A cavity with rounded corners holds a square-cornered piece only if the
    piece's corners stay inside the curve; if not, they must be rounded off.

    Takes:  mould         its name, carried through
            piece_mm      > 0
            face_mm       > 0
            corner_radius_mm     radius of the cavity's corners; >= 0
            may_turn      whether the piece may lie turned by a right angle
    Gives:  the fit, upright if possible; None if the piece does not fit
    Fails:  FigureError if any lies outside its range
    Source: definition
    Checked: 66 x 46 in 80 x 55 lies upright, 46 x 66 turned
    """
    _check_size(piece_mm, "the piece")
    _check_size(face_mm, "the face")
    if not (math.isfinite(corner_radius_mm) and corner_radius_mm >= 0):
        raise FigureError(f"a corner of {corner_radius_mm} mm; it cannot be below 0")
    for turned in (False, True) if may_turn else (False,):
        width, height = (piece_mm[1], piece_mm[0]) if turned else piece_mm
        gap_x, gap_y = (face_mm[0] - width) / 2, (face_mm[1] - height) / 2
        if min(gap_x, gap_y) - CLEARANCE_MM >= -FLOAT_SLACK_MM:
            in_x, in_y = max(0.0, corner_radius_mm - gap_x), max(0.0, corner_radius_mm - gap_y)
            sharp = in_x > 0 and in_y > 0 and math.hypot(in_x, in_y) > corner_radius_mm
            return MouldFit(mould, turned, sharp)
    return None


def casts_left(life: int, before: int, poured: int) -> CastsLeft:
    """Subtract the casts that a piece had from its life.

    Takes:  life    casts that a piece of its mat is good for; >= 1
            before  casts it had before the first pour written up; >= 0
            poured  bars poured on it in the pours written up; >= 0
    Gives:  casts left (never below 0) and over its life
    Fails:  FigureError if any lies outside its range
    Source: definition
    Checked: life 50, 12 before, 9 poured: 29 left
    """
    if life < 1:
        raise FigureError(f"a life of {life} casts; a piece is good for at least one")
    if before < 0 or poured < 0:
        raise FigureError(f"{before} casts before and {poured} poured; neither can be below 0")
    had = before + poured
    return CastsLeft(max(0, life - had), max(0, had - life))
