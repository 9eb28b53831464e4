"""Cutting templates, reckoned on paper from the rows of a small shelf."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from worked_notebook import read

from journal.figures.common.result import Figure
from journal.figures.pieces.cut_plan import PieceSize, RepeatingMotif
from journal.figures.shop.derive_template import TEMPLATE, TemplateFigures
from journal.records.models.trim import Trim

MATS, MOULDS = "shelf/mats.yaml", "shelf/moulds.yaml"
PLAIN = (MATS, "  motif: {size: 60 x 40 mm, pitch: 90 x 60 mm, offset: 50 x 40 mm}\n", "")


def template(
    tmp_path: Path, *changes: tuple[str, str, str], trim: Trim | None
) -> Figure[TemplateFigures]:
    return TEMPLATE.of((read(tmp_path, *changes).shelf, "leaf", "four", trim))


def needs(found: Figure[TemplateFigures]) -> list[tuple[str, str]]:
    return [(entry.figure, entry.needs) for entry in found.missing]


def test_a_straight_piece(tmp_path: Path) -> None:
    found = template(tmp_path, trim=Trim("straight", 2.0))
    assert (found.name, found.kind, found.method) == ("template", "computed", "cut-plan")
    assert [(entry.name, entry.text) for entry in found.inputs] == [
        ("motif, trim and the mould's face", "")
    ]
    assert needs(found) == []
    value = found.value
    assert value is not None
    # Motif 60 x 40 and 2 mm all round; three motifs across the sheet and three up it.
    assert value.piece == PieceSize((64.0, 44.0), False, False)
    assert value.plan is not None
    assert value.plan.count == 9
    assert (value.face_mm, value.corner_radius_mm, value.radius_mm) == ((80.0, 50.0), 0.0, 0.0)
    assert value.motif_mm == (60.0, 40.0)
    assert value.motif == RepeatingMotif((60.0, 40.0), (90.0, 60.0), (50.0, 40.0))
    assert value.sheet_mm == (300.0, 200.0)


def test_a_close_piece(tmp_path: Path) -> None:
    value = template(tmp_path, trim=Trim("close", 0.0)).value
    assert value is not None
    assert value.piece.size_mm == (60.0, 40.0)


def test_a_rounded_cavity(tmp_path: Path) -> None:
    """Wanted 74 x 54; 50 less 1 mm on either side leaves 48. The edges lie 3 and 1 mm from the
    wall, 5 and 7 mm from the centre of its corner of 8: p = 5 + 7 - 7 - sqrt(2 (7 - 5) 0) = 5."""
    corner = (MOULDS, "  depth: 25 mm\n", "  depth: 25 mm\n  corner_radius: 8 mm\n")
    value = template(tmp_path, corner, trim=Trim("straight", 7.0)).value
    assert value is not None
    assert value.piece == PieceSize((74.0, 48.0), True, False)
    assert (value.corner_radius_mm, value.radius_mm) == (8.0, 5.0)


def test_a_mat_without_a_motif_needs_no_trim_and_may_be_turned(tmp_path: Path) -> None:
    """78 x 48: of 300 x 160 three across and three up, laid on their side six and two."""
    sheet = (MATS, "sheet: 300 x 200 mm", "sheet: 300 x 160 mm")
    found = template(tmp_path, PLAIN, sheet, trim=None)
    assert needs(found) == []
    value = found.value
    assert value is not None
    assert (value.piece.size_mm, value.motif_mm, value.motif) == ((78.0, 48.0), None, None)
    assert value.plan is not None
    assert value.plan.count == 12


def test_a_motif_is_not_laid_on_its_side(tmp_path: Path) -> None:
    """Two motifs, one above the other, on a sheet on which three turned pieces would lie."""
    narrow = (MATS, "sheet: 300 x 200 mm", "sheet: 70 x 140 mm")
    motif = (MATS, "pitch: 90 x 60 mm, offset: 50 x 40 mm", "pitch: 90 x 60 mm, offset: 35 x 30 mm")
    value = template(tmp_path, narrow, motif, trim=Trim("straight", 2.0)).value
    assert value is not None
    assert value.plan is not None
    assert value.plan.count == 2
    assert not value.plan.turned


@pytest.mark.parametrize(
    ("change", "trim", "lacks"),
    [
        (("  face: 80 x 50 mm\n", ""), Trim("close", 0.0), ["moulds/four: face"]),
        (("", ""), None, ["trim: close, or straight with its margin"]),
        (("", ""), Trim("straight"), ["trim: close, or straight with its margin"]),
        (
            ("  face: 80 x 50 mm\n", ""),
            None,
            ["moulds/four: face", "trim: close, or straight with its margin"],
        ),
    ],
)
def test_what_no_piece_can_be_cut_without(
    tmp_path: Path, change: tuple[str, str], trim: Trim | None, lacks: list[str]
) -> None:
    found = template(tmp_path, (MOULDS, *change), trim=trim)
    assert found.value is None
    assert (found.kind, found.method, found.inputs) == ("computed", "cut-plan", ())
    assert needs(found) == [("template", need) for need in lacks]


def test_a_face_smaller_than_the_room_to_spare(tmp_path: Path) -> None:
    shelf = read(tmp_path).shelf
    tiny = replace(
        shelf, moulds={"four": shelf.moulds["four"].model_copy(update={"face": (80.0, 2.0)})}
    )
    found = TEMPLATE.of((tiny, "leaf", "four", Trim("close", 0.0)))
    assert found.value is None
    assert (found.kind, found.method) == ("computed", "cut-plan")
    ((figure, lack),) = needs(found)
    assert figure == "template"
    assert lack.startswith("moulds/four: a larger face: ")


@pytest.mark.parametrize(
    ("change", "lack"),
    [
        ((", pitch: 90 x 60 mm", ""), "mats/leaf: motif pitch and offset"),
        ((", offset: 50 x 40 mm", ""), "mats/leaf: motif pitch and offset"),
        (("  sheet: 300 x 200 mm\n", ""), "mats/leaf: sheet"),
    ],
)
def test_a_piece_without_its_plan(tmp_path: Path, change: tuple[str, str], lack: str) -> None:
    found = template(tmp_path, (MATS, *change), trim=Trim("straight", 2.0))
    assert found.value is not None
    assert found.value.piece.size_mm == (64.0, 44.0)
    assert found.value.plan is None
    assert needs(found) == [("cut plan", lack)]
