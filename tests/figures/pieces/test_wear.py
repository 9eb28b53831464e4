"""Wear of pieces: the slope as SciPy has it, and what a mat's bars say by the casts before."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from piped import piped
from scipy import stats
from worked_notebook import DESIGN, ORDER, lay_out, leaf, read

from journal.errors import FigureError
from journal.figures.as_tables import wear_table
from journal.figures.derive import derive_figures
from journal.figures.derive_notebook import OrderPlan, derive_notebook, studio_pot_rates
from journal.figures.pieces.wear import wear_trend
from journal.figures.shop.derive_shop import COST
from journal.figures.shop.derive_template import derive_templates
from journal.figures.shop.derive_wear import CastSeen, WearBand, casts_seen, wear_of_mats

TORN = "{what: torn, bar: A2, saw: A rib.}"
FALLING = [(0.0, 5.0), (12.0, 4.7), (25.0, 4.6), (33.0, 4.1), (50.0, 3.8), (61.0, 3.9)]


def test_the_slope_of_one_piece_as_scipy_has_it() -> None:
    found = wear_trend([FALLING])
    assert found is not None
    casts, relief = zip(*FALLING, strict=True)
    line = stats.linregress(casts, relief)
    wide = stats.t.ppf(0.975, len(FALLING) - 2) * line.stderr
    assert (found.per_cast, found.low, found.high) == pytest.approx(
        (line.slope, line.slope - wide, line.slope + wide)
    )
    assert found.is_seen
    assert found.lasts == pytest.approx((-1 / line.slope, -1 / found.low, -1 / found.high))
    assert (found.pours, found.most_casts) == (6, 61)


def test_where_no_wear_is_shown_only_the_least_is_said() -> None:
    level = wear_trend([[(0.0, 4.0), (10.0, 4.4), (20.0, 3.9), (30.0, 4.2), (40.0, 4.1)]])
    assert level is not None
    assert not level.is_seen
    assert (level.lasts[0], level.lasts[2]) == (None, None)
    assert level.lasts[1] == pytest.approx(-1 / level.low)
    better = wear_trend([[(0.0, 3.0), (10.0, 3.5), (20.0, 4.0), (30.0, 4.5), (40.0, 5.0)]])
    assert better is not None
    assert better.lasts == (None, None, None)


@pytest.mark.parametrize(
    "groups",
    [
        [], [[]], [FALLING[:4]],  # two degrees of freedom
        [[(x / 10, y) for x, y in FALLING]],  # within six casts
        [[one] for one in FALLING],  # each a piece of its own
    ],
)  # fmt: skip
def test_too_few_pours_say_nothing(groups: list[list[tuple[float, float]]]) -> None:
    assert wear_trend(groups) is None
    with pytest.raises(FigureError):
        wear_trend([FALLING], mark=0)


@given(shift=st.floats(-3, 3), later=st.integers(0, 200))
@examples(15)
def test_a_piece_that_was_never_crisp_says_nothing_of_wear(shift: float, later: int) -> None:
    """Each group about its own mean: another level, or another begin, is no slope."""
    once, moved = FALLING[:3], [(x + later, y + shift) for x, y in FALLING[3:]]
    found, same = wear_trend([once, FALLING[3:]]), wear_trend([once, moved])
    assert found is not None
    assert same is not None
    assert same.per_cast == pytest.approx(found.per_cast)
    assert (same.low, same.high) == pytest.approx((found.low, found.high))


def cast(piece: str, day: int, bars: int, *reliefs: float, torn: int = 0) -> CastSeen:
    poured = date(2026, 1, 1) + timedelta(days=day)
    return CastSeen(piece, poured, bars, bars, reliefs, len(reliefs), 0, torn)


def test_pieces_alike_are_cast_on_in_turn(tmp_path: Path) -> None:
    """Two pieces alike with 3 casts before: 12 bars are 6 each, and so on in the order of days."""
    notebook = read(tmp_path)
    seen = [
        cast("leaf-a", 9, 12, 4.0, 4.0), cast("leaf-a", 0, 12, 5.0, 5.0),
        cast("leaf-a", 20, 24, 4.0), cast("leaf-a", 40, 24, 3.5, torn=1),
        cast("leaf-a", 60, 2, 3.0), cast("gone", 60, 2, 3.0),
    ]  # fmt: skip
    settings, shelf = notebook.settings, notebook.shelf
    wear = wear_of_mats(settings, shelf, [("leaf", seen)], derive_templates(notebook))["leaf"]
    assert wear.bands == (
        WearBand(0, 9, 24, 4.5, 4, 0, 0),  # 1.5 and 7.5 casts before
        WearBand(10, 19, 24, 4.0, 1, 0, 0),  # 13.5
        WearBand(20, 29, 24, 3.5, 1, 0, 1),  # 25.5
        WearBand(30, 39, 2, 3.0, 1, 0, 0),  # 37.5
    )
    line = stats.linregress([1.5, 7.5, 13.5, 25.5, 37.5], [5.0, 4.0, 4.0, 3.5, 3.0])
    assert wear.trend is not None
    assert wear.trend.lasts[0] == pytest.approx(-1 / line.slope)  # 20.8 casts
    assert (wear.life_guessed, wear.most_casts) == (50, 38)
    # 24.00 for 9 pieces: of 12 casts each, the fewest, 0.22; of 50 each 0.05.
    wide = stats.t.ppf(0.975, 3) * line.stderr
    assert wear.life_seen == int(-1 / (line.slope - wide)) == 12
    assert (wear.a_cast, wear.guessed) == (Decimal("0.22"), Decimal("0.05"))


def test_the_casts_of_a_design(tmp_path: Path) -> None:
    """Three bars name the piece; the fourth lies on what its card chooses, the same."""
    notebook = read(
        tmp_path,
        ("designs/leaf/design.md", "keep: yes, weight: 84 g", "keep: yes, relief: 4, lifted: yes"),
        ("designs/leaf/design.md", "pours:\n", f"failed: [{TORN}]\npours:\n"),
    )  # fmt: skip
    (seen,) = casts_seen(notebook.shelf, notebook.designs["leaf"])
    assert (seen.piece, seen.bars, seen.casts) == ("leaf-a", 4, 4)
    assert (seen.reliefs, seen.looked_at, seen.lifted, seen.torn) == ((4.0,), 1, 1, 1)
    figures = derive_figures(notebook, models=False)
    together = derive_notebook(notebook, figures.summaries, studio_pot_rates(figures.summaries))
    assert together.wear["leaf"].trend is None
    assert together.wear["leaf"].a_cast is None
    assert together.casts == {"leaf-a": 4}
    (row,) = wear_table(notebook, figures).json
    # Two pieces alike had 3 casts before: 1.5 each. 24.00 for 9 pieces of 50 casts: a guess.
    assert (row["mat"], row["casts_most"], row["casts_life_guessed"]) == ("leaf", 2, 50)
    assert (row["casts_lasts"], row["cost_a_cast"]) == (None, None)
    assert row["cost_guessed_a_cast"] == 0.05


# Five pours of five bars on one piece: of each further pour one bar more has lost a mark, 0.2 of
# the mean in 5 casts, so that a mark lasts 25 casts, without scatter.
LEAF = "designs/leaf/design.md"
HEAD, _, _ = DESIGN.partition("pours:\n")
ONE_PIECE = (
    ("shelf/pieces.yaml", "casts_before: 3", "casts_before: 0"),
    ("shelf/pieces.yaml", "on_hand: 2", "on_hand: 1"),
)


def pours(lost: int) -> str:
    """The pours of 25 casts; with each pour ``lost`` bars more have a relief of 4, not 5."""
    rows = ["pours:"]
    for number, letter in enumerate("ABCDE"):
        rows += [f"  - date: 2026-03-{number + 1:02}", "    bars:"]
        for bar in range(5):
            relief = 4 if bar < number * lost else 5
            rows.append(f"      - {{bar: {letter}{bar + 1}, piece: leaf-a, relief: {relief}}}")
    return "\n".join(rows) + "\n---\n"


def test_a_bar_costs_by_the_life_that_its_bars_show(tmp_path: Path) -> None:
    """A piece is done at 25 casts, not at 50: of the mat's 24.00 / 9 a bar takes a 25th."""
    of_a_piece = Decimal("24.00") / 9
    known, orders, plans = list[Decimal](), list[Decimal](), list[OrderPlan]()
    for lost in (1, 0):
        notebook = read(tmp_path, *ONE_PIECE, more={LEAF: HEAD + pours(lost)})
        sheet = leaf(notebook).recipe[COST].value
        assert sheet is not None
        assert sheet.mat_life_by == ("seen" if lost else "guess")
        known.append(sheet.known)
        figures = derive_figures(notebook, models=False)
        assert figures.designs["leaf"].recipe[COST].value == sheet
        rates = studio_pot_rates(figures.summaries)
        together = derive_notebook(notebook, figures.summaries, rates)
        piece = together.pieces["leaf-a"].value
        assert piece is not None
        assert (piece.life_each, piece.left_each, piece.life_seen) == (
            (25, 0, True) if lost else (50, 25, False)
        )
        plans.append(together.orders["dozen"])
        line = plans[-1].figures.lines[0].figures[COST].value
        assert line is not None
        orders.append(line.known)
    assert known[0] - known[1] == pytest.approx(4 * of_a_piece * Decimal("0.02"))
    # Of the order's 14 casts none is left on the piece, against 25 by the guess.
    assert orders[0] - orders[1] == pytest.approx(14 * of_a_piece * Decimal("0.02"))
    assert [one.figures.wear[0].left for one in plans] == [0, 25]
    assert [[cut.pieces for cut in one.figures.cut] for one in plans] == [[1], []]


def test_a_pour_that_changes_the_life_makes_each_cost_on_the_mat_anew(tmp_path: Path) -> None:
    """Also that of a design and an order without a pour of their own."""
    content, kept = tmp_path / "content", tmp_path / "kept"
    fern = {
        "designs/fern/design.md": f"{HEAD}---\n".replace("Leaf on brick", "Fern"),
        "orders/dozen.yaml": ORDER.replace("design: leaf", "design: fern"),
    }
    costs = []
    for lost, says in ((1, b"mat by what is seen"), (0, b"mat by guess")):
        lay_out(content, *ONE_PIECE, more={LEAF: HEAD + pours(lost), **fern})
        run = piped(content, kept)
        assert says in run.made["designs/fern.html"]
        plan = run.viewed.book.derived.orders["dozen"]
        costs.append((plan.figures.cost.at_least, plan.figures.wear[0].left))
    assert costs[0][0] > costs[1][0]
    assert [left for _, left in costs] == [0, 25]
