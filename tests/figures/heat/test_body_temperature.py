"""At which temperature a layer was poured, where a write-up may say it in three places."""

from __future__ import annotations

from pathlib import Path

import pytest

from journal.figures.heat.derive_heat import body_temperature, poured_bars
from journal.records.models.write_up import Design
from journal.records.notebook import read_notebook

WRITE_UP = """---
title: Ears
date: 2026-04-18
state: trial
bars: 2
layers:
  - {name: detail, pot: white, base: plain, amount: 5 g}
  - {name: body, pot: BODY, base: plain, amount: 90 g}
pours:
  - pour: A
    date: 2026-04-18
    POURED
    readings:
      BODY: [[0 min, 70 C, melted], [9 min, 60 C, poured], [20 min, 50 C, poured off]]
    bars: [{bar: A1, lifted: yes}, {bar: A2, POUREDBAR lifted: no}]
---
"""


def design(tmp_path: Path, body: str, poured: str = "", bar: str = "") -> Design:
    (tmp_path / "shelf").mkdir()
    (tmp_path / "designs" / "ears").mkdir(parents=True)
    (tmp_path / "journal.yaml").write_text("studio: A room\n")
    (tmp_path / "shelf" / "bases.yaml").write_text("plain: {name: Plain}\n")
    text = WRITE_UP.replace("BODY", body).replace("POUREDBAR", bar)
    (tmp_path / "designs" / "ears" / "design.md").write_text(text.replace("POURED", poured))
    notebook = read_notebook(tmp_path)
    assert not notebook.errors, notebook.errors
    return notebook.designs["ears"]


@pytest.mark.parametrize(
    ("poured", "bar", "first", "second"),
    [
        ("", "", 50.0, 50.0),  # the last mark of the pot
        ("poured: {body: 57 C}", "", 57.0, 57.0),
        ("poured: {body: 57 C}", "poured: {body: 54 C},", 57.0, 54.0),
        ("poured: {detail: 75 C}", "", 50.0, 50.0),
    ],
)
def test_the_nearest_note_counts(
    tmp_path: Path, poured: str, bar: str, first: float, second: float
) -> None:
    found = design(tmp_path, "slate", poured, bar)
    pour = found.pours[0]
    temperatures = [body_temperature(found, pour, one, "body") for one in pour.bars]
    assert temperatures == pytest.approx([first, second])


def test_marks_of_a_shared_pot_go_in_the_order_of_its_layers(tmp_path: Path) -> None:
    found = design(tmp_path, "white")
    pour = found.pours[0]
    bar = pour.bars[0]
    assert body_temperature(found, pour, bar, "detail") == pytest.approx(60.0)
    assert body_temperature(found, pour, bar, "body") == pytest.approx(50.0)


def test_bars_without_any_note_are_not_counted(tmp_path: Path) -> None:
    found = design(tmp_path, "slate")
    assert body_temperature(found, found.pours[0], found.pours[0].bars[0], "detail") is None
    assert poured_bars(found, "detail") == ()
    (seen,) = poured_bars(found, "body")
    assert (seen.held, seen.lost, seen.unrecorded) == (1, 1, 0)


def test_a_layer_that_a_variant_alone_has_is_known_by_a_note_alone(tmp_path: Path) -> None:
    """Pots and their marks go by the recipe at the top, which has no such layer."""
    found = design(tmp_path, "slate")
    pour, bar = found.pours[0], found.pours[0].bars[0]
    assert body_temperature(found, pour, bar, "back") is None
    assert poured_bars(found, "back") == ()
