"""Wear of pieces: the slope as SciPy has it, and what a mat's bars say by the casts before."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from scipy import stats
from worked_notebook import read

from journal.errors import FigureError
from journal.figures.as_tables import wear_table
from journal.figures.derive import derive_figures
from journal.figures.derive_notebook import derive_notebook, studio_pot_rates
from journal.figures.pieces.wear import wear_trend
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
    # 24.00 for 9 pieces: of 20 casts each 0.13, of 50 each 0.05.
    assert (wear.a_cast, wear.guessed) == (Decimal("0.13"), Decimal("0.05"))


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
