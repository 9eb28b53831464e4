"""Dew on a recipe: rooms of pours and settings, wet or dry, the wait, the wrapping."""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import leaf, read

from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import Figure
from journal.figures.heat.derive_dew import DEW, WRAP_WITHIN_K, DewFigures
from journal.figures.heat.derive_heat import BOND
from journal.figures.heat.dew import dew_point, wet_above

DESIGN = "designs/leaf/design.md"
LAST_STEPS = "then: [unmould after 10 h, peel]"
Change = tuple[str, str, str]


def context(folder: Path, *changes: Change) -> RecipeContext:
    notebook = read(folder, *changes)
    one = notebook.designs["leaf"]
    return RecipeContext(notebook.settings, notebook.shelf, one, one.as_written, one.recipe.bars)


def figure(folder: Path, *changes: Change) -> Figure[DewFigures]:
    return context(folder, *changes).figure(DEW)


def dew(folder: Path, *changes: Change) -> DewFigures:
    found = figure(folder, *changes).value
    assert found is not None
    return found


def usual(humidity: str) -> Change:
    return ("journal.yaml", "room: 20 C\n", f"room: 20 C\nhumidity: {humidity}\n")


def noted(text: str) -> Change:
    return (DESIGN, "    room: 20 C\n", f"    {text}\n")


def last(steps: str) -> Change:
    return (DESIGN, LAST_STEPS, f"then: [{steps}]")


def test_a_chilled_piece_by_hand(tmp_path: Path) -> None:
    found = dew(tmp_path, usual("50 %"))
    # 20 C and 50 %: 9.3 C (tests/reference/14-dew-point.csv).
    assert found.dew_point_c == pytest.approx(9.3, abs=0.05)
    bond = context(tmp_path).figure(BOND).value
    assert bond is not None
    # The piece is the bond model's; no rest follows its chill here.
    assert found.piece_c == pytest.approx(bond.planned.detail_c, abs=1e-9)
    assert 4 < bond.planned.detail_c < 20
    assert found.wet_above_humidity == pytest.approx(wet_above(20, bond.planned.detail_c))


def test_it_is_wet_above_that_humidity_and_dry_below(tmp_path: Path) -> None:
    most = 100 * (dew(tmp_path).wet_above_humidity or 0)
    dry = dew(tmp_path, usual(f"{most - 0.1:.4f} %"))
    wet = dew(tmp_path, usual(f"{most + 0.1:.4f} %"))
    damp = dew(tmp_path, usual(f"{most + 20:.4f} %"))
    assert (dry.wet, dry.wait_min) == (False, 0)
    assert wet.wet
    assert damp.wet
    assert 0 < (wet.wait_min or 0) < (damp.wait_min or 0)


def test_without_a_humidity_it_says_up_to_which_it_is_dry(tmp_path: Path) -> None:
    found = figure(tmp_path)
    assert found.value is not None
    assert (found.value.humidity, found.value.dew_point_c) == (None, None)
    assert (found.value.wet, found.value.wait_min) == (None, None)
    assert 0 < (found.value.wet_above_humidity or 0) < 1
    assert [one.needs for one in found.missing] == ["journal.yaml: humidity"]


def test_the_latest_pours_room_goes_before_the_usual_one(tmp_path: Path) -> None:
    found = dew(tmp_path, usual("50 %"), noted("room: 24 C\n    humidity: 60 %"))
    assert (found.room_c, found.humidity) == (pytest.approx(24), pytest.approx(0.6))
    assert found.dew_point_c == pytest.approx(dew_point(24, 0.6))
    earlier = "pours:\n  - {date: 2026-02-01, room: 30 C, humidity: 90 %}\n"
    assert dew(tmp_path, usual("50 %"), (DESIGN, "pours:\n", earlier)).room_c == pytest.approx(20)


def test_a_rest_after_the_chill_is_part_of_the_wait(tmp_path: Path) -> None:
    rested = (DESIGN, "press flat", "rest 5 min, press flat")
    assert dew(tmp_path, rested).piece_c == pytest.approx(dew(tmp_path).piece_c)


def test_a_piece_that_was_not_chilled_stays_dry(tmp_path: Path) -> None:
    warm = (DESIGN, "then: [rest 15 min, chill 10 min at 4 C, press flat]", "then: [rest 3 h]")
    found = dew(tmp_path, usual("95 %"), warm)
    assert (found.wet, found.wait_min) == (False, 0)
    assert found.wet_above_humidity == pytest.approx(1)


def test_in_saturated_air_no_wait_helps(tmp_path: Path) -> None:
    found = figure(tmp_path, usual("100 %"))
    assert found.value is not None
    assert found.value.wet
    assert found.value.wait_min is None
    assert list(DEW.null_reasons(found.value))


def test_a_bar_is_wrapped_as_warm_as_the_room(tmp_path: Path) -> None:
    mould = dew(tmp_path, usual("50 %"))
    assert (mould.wrap_after_min, mould.chilled_last) == (0, False)
    cold = dew(tmp_path, usual("50 %"), last("unmould after 10 h, chill 2 h at 4 C"))
    assert cold.chilled_last
    assert (cold.wrap_after_min or 0) > 30
    # In damp air it has to pass the dew point, which lies within a degree of the room.
    assert 20 - dew_point(20, 0.97) < WRAP_WITHIN_K
    damp = dew(tmp_path, usual("97 %"), last("unmould after 10 h, chill 2 h at 4 C"))
    assert (damp.wrap_after_min or 0) > (cold.wrap_after_min or 0)


def test_a_bar_taken_out_warm_has_to_wait(tmp_path: Path) -> None:
    assert (dew(tmp_path, last("unmould after 1 h")).wrap_after_min or 0) > 60


def test_a_pour_that_was_wrapped_too_soon_is_named(tmp_path: Path) -> None:
    soon = noted("room: 20 C\n    wrapped: 9 h")
    assert dew(tmp_path, soon).wrapped_early == ("A",)
    assert dew(tmp_path, noted("room: 20 C\n    wrapped: 10 h")).wrapped_early == ()
    assert dew(tmp_path, soon, last("peel")).wrapped_early == ()  # nothing says when it was out


def test_a_bar_without_a_mat_has_its_wrapping_alone(tmp_path: Path) -> None:
    found = figure(tmp_path, usual("50 %"), (DESIGN, "mat: leaf\n", ""))
    assert found.value is not None
    assert found.value.piece_c is None
    assert found.value.wrap_after_min == 0
    assert [one.figure for one in found.missing] == ["dew on the piece"]


def test_a_quick_build_leaves_it_out(tmp_path: Path) -> None:
    assert leaf(read(tmp_path, usual("50 %"))).recipe[DEW].value is None
