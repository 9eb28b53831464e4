"""Cut plans: sizes on paper, the closed form against exhaustive placing, published layouts."""

from __future__ import annotations

import csv
import math
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from paths import REFERENCE

from journal.errors import FigureError
from journal.figures.pieces.cut_plan import (
    PlacedPiece,
    RepeatingMotif,
    SizeMm,
    casts_left,
    cut_plan,
    fit_in_mould,
    piece_size,
    waste_share,
    whole_motifs,
)

SAME = 1e-12
FACE = (80.0, 55.0)
KELP = RepeatingMotif((60.0, 40.0), (95.0, 70.0), (45.0, 32.0))
SHEET = (400.0, 300.0)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found, name
    return found


SIZES_ON_PAPER = [
    ("close", 0.0, (60, 40), "the motif", (60, 40), False, False),
    ("straight", 3.0, (60, 40), "60 + 2 x 3, 40 + 2 x 3", (66, 46), False, False),
    ("straight", 10.0, (60, 40), "80 by 60, cut to 80 - 2 by 55 - 2", (78, 53), True, False),
    ("close", 0.0, (60, 54), "54, cut to 55 - 2", (60, 53), True, True),
    ("straight", 3.0, None, "80 - 2, 55 - 2", (78, 53), False, False),
]


@pytest.mark.parametrize(
    ("trim", "margin", "motif", "inputs", "size", "narrowed", "crops"), SIZES_ON_PAPER
)
def test_sizes_on_paper(
    trim: str,
    margin: float,
    motif: SizeMm | None,
    inputs: str,
    size: SizeMm,
    narrowed: bool,
    crops: bool,
) -> None:
    found = piece_size(face_mm=FACE, motif_mm=motif, trim=trim, margin_mm=margin)
    assert found.size_mm == size, inputs
    assert (found.narrowed, found.crops_motif) == (narrowed, crops)


PLANS_ON_PAPER = [
    ((66.0, 46.0), "4 across (45, 140, 235, 330), 4 up (32, 102, 172, 242)", 16, 0.5952),
    ((78.0, 53.0), "4 across (first edge 45 - 39 = 6), 4 up (32 - 26.5 = 5.5)", 16, 0.4488),
    ((91.0, 46.0), "45 - 45.5 < 0: first column lost, 3 across x 4 up", 12, 0.5814),
    ((66.0, 71.0), "71 > 70: every second row of 102, 172, 242 counted, 2; 4 x 2", 8, 0.6876),
]


@pytest.mark.parametrize(("piece", "inputs", "count", "waste"), PLANS_ON_PAPER)
def test_plans_on_paper(piece: SizeMm, inputs: str, count: int, waste: float) -> None:
    plan = cut_plan(SHEET, piece, KELP, may_turn=False)
    assert plan.count == count, inputs
    assert plan.waste_share == pytest.approx(waste, rel=SAME)
    for place in plan.pieces:
        centre = (place.x_mm + place.width_mm / 2, place.y_mm + place.height_mm / 2)
        for way in (0, 1):
            steps = (centre[way] - KELP.offset_mm[way]) / KELP.pitch_mm[way]
            assert steps == pytest.approx(round(steps), abs=1e-9)


def test_the_better_orientation() -> None:
    """46 by 66: up, 32 - 33 < 0 loses the first row: 4 x 3 upright, 16 turned."""
    plan = cut_plan(SHEET, (46.0, 66.0), KELP, may_turn=True)
    assert (plan.count, plan.turned) == (16, True)
    assert cut_plan(SHEET, (46.0, 66.0), KELP, may_turn=False).count == 12
    assert not cut_plan(SHEET, (66.0, 46.0), KELP, may_turn=True).turned


def test_a_sheet_without_motif() -> None:
    assert cut_plan(SHEET, (78, 53), None, may_turn=False).count == 25
    plan = cut_plan(SHEET, (78, 53), None, may_turn=True)
    assert plan.count == max(5 * 5, (400 // 53) * (300 // 78))
    assert plan.waste_share == pytest.approx(1 - plan.count * 78 * 53 / 120000, rel=SAME)


def test_a_piece_that_just_fits() -> None:
    """Three tenths are no binary number: 3 x 0.1 mm pieces lie on 0.3 mm."""
    assert cut_plan((0.1 + 0.2, 0.1), (0.1, 0.1), None, may_turn=False).count == 3
    motif = RepeatingMotif((0.1, 0.1), (0.1, 0.1), (0.05, 0.05))
    assert cut_plan((0.3, 0.1), (0.1, 0.1), motif, may_turn=False).count == 3
    assert whole_motifs(400, 60, 95, 45) == (45, 140, 235, 330)
    assert whole_motifs(50, 60, 95, 45) == ()


def most_by_trying(sheet: SizeMm, piece: SizeMm, motif: RepeatingMotif) -> int:
    """The most pieces by trying every set of motifs, independent of the closed form."""
    half = (piece[0] / 2, piece[1] / 2)
    spots = [
        (x, y)
        for i in range(-2, 12)
        for j in range(-2, 12)
        if i >= 0 and j >= 0
        for x in [motif.offset_mm[0] + i * motif.pitch_mm[0]]
        for y in [motif.offset_mm[1] + j * motif.pitch_mm[1]]
        if half[0] <= x <= sheet[0] - half[0] and half[1] <= y <= sheet[1] - half[1]
    ]

    def clear(one: SizeMm, other: SizeMm) -> bool:
        return abs(one[0] - other[0]) >= piece[0] or abs(one[1] - other[1]) >= piece[1]

    def most(taken: int, left: list[SizeMm], best: int) -> int:
        best = max(best, taken)
        for place, spot in enumerate(left):
            if taken + len(left) - place <= best:
                return best
            rest = [other for other in left[place + 1 :] if clear(spot, other)]
            best = most(taken + 1, rest, best)
        return best

    return most(0, spots, 0)


halves = st.integers(2, 24).map(lambda whole: whole / 2)  # exact in binary


@given(
    st.tuples(st.integers(4, 26), st.integers(4, 26)),
    st.tuples(halves, halves),
    st.tuples(st.integers(5, 9), st.integers(5, 9)),
    st.tuples(st.integers(0, 9), st.integers(0, 9)),
)
@examples(300)
def test_the_closed_form_against_exhaustive_placing(
    sheet: SizeMm, piece: SizeMm, pitch: SizeMm, offset: SizeMm
) -> None:
    motif = RepeatingMotif((1.0, 1.0), pitch, offset)
    plan = cut_plan(sheet, piece, motif, may_turn=False)
    assert plan.count == most_by_trying(sheet, piece, motif)
    if plan.count:
        used = plan.count * piece[0] * piece[1] / (sheet[0] * sheet[1])
        assert plan.waste_share == pytest.approx(1 - used, abs=1e-9)


def test_the_search_itself_finds_what_can_be_seen() -> None:
    """Pieces of two pitches on a row of five motifs: the first, third and fifth."""
    motif = RepeatingMotif((1, 1), (10, 10), (10, 5))
    assert most_by_trying((60, 10), (20, 10), motif) == 3
    assert most_by_trying((60, 10), (10, 10), motif) == 5


def layout(instance: str) -> tuple[SizeMm, tuple[PlacedPiece, ...]]:
    pieces = tuple(
        PlacedPiece(
            float(row["x_in_verified_layout"]),
            float(row["y_in_verified_layout"]),
            float(row["width"]),
            float(row["height"]),
        )
        for row in rows("12-packing-items.csv")
        if row["instance"] == instance
    )
    side = math.sqrt(sum(piece.width_mm * piece.height_mm for piece in pieces))
    return (side, side), pieces


@pytest.mark.parametrize(
    "row",
    [row for row in rows("12-packing-optima.csv") if row["zero_waste"] == "yes"],
    ids=lambda row: row["instance"],
)
def test_published_layouts(row: dict[str, str]) -> None:
    sheet, pieces = layout(row["instance"])
    assert sheet[1] == int(row["optimum"].split()[-1])
    assert len(pieces) == int(row["items"])
    assert waste_share(sheet, pieces) == pytest.approx(0, abs=SAME)


def test_a_published_layout_with_a_piece_out_of_place_is_seen() -> None:
    sheet, pieces = layout("C1P1")
    first = pieces[0]
    moved = PlacedPiece(first.x_mm + 1, first.y_mm, first.width_mm, first.height_mm)
    with pytest.raises(FigureError, match=r"over each other|leaves"):
        waste_share(sheet, (moved, *pieces[1:]))
    without = waste_share(sheet, pieces[1:])
    assert without == pytest.approx(first.width_mm * first.height_mm / 400, rel=SAME)


#: Corner and size of pieces on a sheet of 9 by 9, in whole millimetres.
ANY_PIECE = st.tuples(*[st.integers(0, 6)] * 2, *[st.integers(1, 3)] * 2)


@given(st.lists(ANY_PIECE, min_size=2, max_size=9))
def test_pieces_over_each_other_are_seen_in_any_layout(drawn: list[tuple[int, ...]]) -> None:
    """Two pieces overlap if there is a millimetre of the sheet that both cover."""
    covered = [{(x + i, y + j) for i in range(w) for j in range(h)} for x, y, w, h in drawn]
    pieces = [PlacedPiece(*map(float, one)) for one in drawn]
    if sum(map(len, covered)) > len(set().union(*covered)):
        with pytest.raises(FigureError, match="over each other"):
            waste_share((9, 9), pieces)
    else:
        assert waste_share((9, 9), pieces) == pytest.approx(1 - sum(map(len, covered)) / 81)


def test_no_piece_is_all_waste() -> None:
    plan = cut_plan((50, 50), (66, 46), KELP, may_turn=True)
    assert (plan.count, plan.waste_share) == (0, 1)


@given(st.integers(1, 40), st.integers(2, 5))
def test_millimetres_or_inches_make_no_difference(cells: int, times: int) -> None:
    motif = RepeatingMotif((1, 1), (7 * 25.4, 5 * 25.4), (3.5 * 25.4, 2.5 * 25.4))
    inches = RepeatingMotif((1, 1), (7, 5), (3.5, 2.5))
    sheet = (cells * 25.4, times * 25.4 * 5)
    in_mm = cut_plan(sheet, (7 * 25.4, 5 * 25.4), motif, may_turn=False)
    in_inches = cut_plan((cells, times * 5), (7, 5), inches, may_turn=False)
    assert in_mm.count == in_inches.count


def test_which_moulds_a_piece_fits() -> None:
    upright = fit_in_mould("six-oblong", (66, 46), FACE, 0, may_turn=True)
    assert upright is not None
    assert (upright.turned, upright.round_corners) == (False, False)
    turned = fit_in_mould("six-oblong", (46, 66), FACE, 0, may_turn=True)
    assert turned is not None
    assert turned.turned
    assert fit_in_mould("six-oblong", (46, 66), FACE, 0, may_turn=False) is None
    assert fit_in_mould("six-oblong", (78, 53), FACE, 0, may_turn=False) is not None
    assert fit_in_mould("six-oblong", (78.1, 53), FACE, 0, may_turn=False) is None


def test_a_round_corner_needs_round_pieces() -> None:
    """1 mm of room in a corner of 8 mm: the piece's corner is 7 mm off the centre both ways,
    sqrt(98) = 9.9 > 8; with 2.4 mm of room sqrt(2) x 5.6 = 7.92 < 8."""
    tight = fit_in_mould("soft", (78, 53), FACE, 8, may_turn=False)
    assert tight is not None
    assert tight.round_corners
    loose = fit_in_mould("soft", (80 - 4.8, 55 - 4.8), FACE, 8, may_turn=False)
    assert loose is not None
    assert not loose.round_corners


@pytest.mark.parametrize(
    ("life", "before", "poured", "left", "over"),
    [(50, 12, 9, 29, 0), (50, 0, 50, 0, 0), (50, 40, 14, 0, 4)],
)
def test_casts_on_paper(life: int, before: int, poured: int, left: int, over: int) -> None:
    found = casts_left(life, before, poured)
    assert (found.left, found.over) == (left, over)


def test_what_makes_no_sense_is_refused() -> None:
    for call, said in (
        (
            lambda: piece_size(face_mm=(0, 5), motif_mm=None, trim="close", margin_mm=0),
            "the face is 0 x 5 mm; both must be above 0",
        ),
        (
            lambda: piece_size(face_mm=(2, 5), motif_mm=None, trim="close", margin_mm=0),
            "the face less 1.0 mm on every side is 0.0 x 3.0 mm; both must",
        ),
        (
            lambda: piece_size(face_mm=FACE, motif_mm=(math.nan, 1), trim="close", margin_mm=0),
            "the motif is nan x 1 mm; both must be above 0",
        ),
        (lambda: piece_size(face_mm=FACE, motif_mm=(1, 1), trim="wavy", margin_mm=0), "a trim"),
        (
            lambda: piece_size(face_mm=FACE, motif_mm=(1, 1), trim="close", margin_mm=-1),
            "a margin of -1 mm; it cannot be below 0",
        ),
        (lambda: whole_motifs(0, 1, 1, 0), "the sheet is 0 mm; it must be above 0"),
        (lambda: whole_motifs(1, 1, 0, 0), "the pitch is 0 mm; it must be above 0"),
        (lambda: whole_motifs(1, 1, 1, math.inf), "the offset is inf mm; it must be finite"),
        (
            lambda: cut_plan((0, 1), (1, 1), None, may_turn=False),
            "the sheet is 0 x 1 mm; both must be above 0",
        ),
        (
            lambda: cut_plan((1, 1), (0, 1), None, may_turn=False),
            "the piece is 0 x 1 mm; both must be above 0",
        ),
        (
            lambda: fit_in_mould("m", (1, 1), FACE, -1, may_turn=False),
            "a corner of -1 mm; it cannot be below 0",
        ),
        (lambda: casts_left(0, 0, 0), "a life of 0 casts; a piece is good for at least one"),
        (lambda: casts_left(1, -1, 0), "-1 casts before and 0 poured; neither can be below 0"),
        (
            lambda: waste_share((5, 5), (PlacedPiece(-1, 0, 2, 2),)),
            "a piece at -1 x 0 mm leaves the sheet",
        ),
    ):
        with pytest.raises(FigureError, match=said):
            call()


def test_pairs_of_a_plan_never_overlap() -> None:
    plan = cut_plan(SHEET, (78.0, 53.0), KELP, may_turn=True)
    for one, other in combinations(plan.pieces, 2):
        assert (
            one.x_mm + one.width_mm <= other.x_mm + SAME
            or other.x_mm + other.width_mm <= one.x_mm + SAME
            or one.y_mm + one.height_mm <= other.y_mm + SAME
            or other.y_mm + other.height_mm <= one.y_mm + SAME
        )


@pytest.mark.parametrize(
    ("lengths", "name"),
    [((0, 1, 1), "sheet"), ((1, 0, 1), "piece"), ((1, 1, 0), "pitch"), ((1, math.inf, 1), "piece")],
)
def test_the_length_that_is_none_is_named(lengths: tuple[float, float, float], name: str) -> None:
    with pytest.raises(FigureError, match=f"^the {name} is"):
        whole_motifs(*lengths, 0)


def test_lengths_below_one_are_let_through() -> None:
    # Centres 0.5 apart from 0.25 on; half a piece of 0.25 reaches 0.125: two on a sheet of 1.
    assert whole_motifs(1, 0.25, 0.5, 0.25) == (0.25, 0.75)
