"""What the studio's own pours say of a base: which bars count, and with which outcome."""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import DESIGN as WRITTEN
from worked_notebook import read

from journal.figures.derive import derive_figures
from journal.figures.heat.derive_bases import (
    BaseOutcome,
    base_outcomes,
    colours_in_bases,
    main_base,
    outcomes_by_base,
    outcomes_in_bases,
)
from journal.figures.heat.thresholds import PourOutcome, pour_threshold
from journal.records.notebook import Notebook

DESIGN = "designs/leaf/design.md"
MILK = """
milk:
  name: Milk
  density: 1 g/mL
"""
MORE_BASES = ("shelf/bases.yaml", "  on_hand: 300 g\n", f"  on_hand: 300 g\n{MILK}")

# One pour with three bodies: two bars at 54 C, one poured at 50 C, and one of the milky base.
VARIANTS = """
variants:
  plain: {}
  milky: {layers: {body: {base: {plain: 40 %, milk: 60 %}}}}
pours:
  - date: 2026-03-01
    poured: {body: 54 C}
    bars:
      - {bar: A1, variant: plain, lifted: yes, lip: 0.5 mm, bleed: 0.2 mm}
      - {bar: A2, variant: plain, lifted: no, lip: 0.4 mm}
      - {bar: A3, variant: plain, poured: {body: 50 C}, lifted: no}
      - {bar: A4, variant: milky, lifted: yes, lip: 2 mm}
    later:
      - {day: 1, bar: A1, bleed: 0.3 mm}
      - {day: 4, bar: A1, bleed: 0.6 mm}
      - {day: 9, bar: A1, bleed: 0.9 mm}
      - {day: 2, bar: A1, bleed: 0.1 mm}
      - {day: 4, bar: A4, bleed: 1 mm}
      - {day: 9, bar: A4, bleed: 1.5 mm}
---
On"""


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    pours = WRITTEN[WRITTEN.index("pours:\n") :]
    changes = (MORE_BASES, (DESIGN, pours, VARIANTS.lstrip("\n") + " paper first.\n"))
    return read(tmp_path_factory.mktemp("bases"), *changes)


def outcomes(notebook: Notebook) -> dict[tuple[str, str], tuple[PourOutcome, ...]]:
    measures = notebook.settings.all_measures()
    found = base_outcomes(
        row for design in notebook.designs.values() for row in outcomes_in_bases(measures, design)
    )
    assert [entry.threshold for entry in found] == [pour_threshold(e.pours) for e in found]
    assert [(entry.base, entry.outcome) for entry in found] == sorted(
        (entry.base, entry.outcome) for entry in found
    )
    return {(entry.base, entry.outcome): entry.pours for entry in found}


def test_outcomes_by_base_and_temperature(notebook: Notebook) -> None:
    found = outcomes(notebook)
    # At 54 C one of two was lifted, at 50 C none of one; a lip is one from 0.5 mm on.
    assert found["plain", "lifted"] == (PourOutcome(54.0, 0.5), PourOutcome(50.0, 0.0))
    assert found["plain", "lip"] == (PourOutcome(54.0, 0.5),)
    # The base that there is most of.
    assert found["milk", "lifted"] == (PourOutcome(54.0, 1.0),)
    assert found["milk", "lip"] == (PourOutcome(54.0, 1.0),)
    # As it was seen last, on day 9; the look of day 2 was written down later.
    assert found["plain", "bleed"] == (PourOutcome(54.0, 1.0),)
    assert found["milk", "bleed"] == (PourOutcome(54.0, 1.0),)


def test_without_a_mat_there_is_no_detail_to_lift(tmp_path: Path) -> None:
    bare = read(
        tmp_path,
        (DESIGN, "mat: leaf\n", ""),
        (DESIGN, "trim: straight 2 mm\n", ""),
        (DESIGN, "piece: leaf-a, ", ""),
    )
    assert outcomes(bare) == {}


def test_colours_in_bases(notebook: Notebook) -> None:
    plain, milky = sorted(
        colours_in_bases(
            (name, summary.colours)
            for name, summary in derive_figures(notebook, models=False).summaries.items()
        ),
        key=lambda entry: entry.bars[0][1],
    )
    assert (plain.colourant, plain.base) == ("brick", "plain")
    assert [(design, bar) for design, bar, _ in plain.bars] == [("leaf", "A1")]
    assert plain.bars[0][2].observations == 4
    assert (milky.colourant, milky.base) == ("brick", "milk")
    assert [(design, bar) for design, bar, _ in milky.bars] == [("leaf", "A4")]
    assert {growth.by for growth in plain.growth} == {"ruler"}


def test_the_base_that_there_is_most_of(notebook: Notebook) -> None:
    recipes = {variant.name: variant.recipe for variant in notebook.designs["leaf"].variants}
    assert main_base(recipes["plain"].layers[1]) == "plain"
    assert main_base(recipes["milky"].layers[1]) == "milk"


def test_by_base() -> None:
    entries = tuple(
        BaseOutcome(base, outcome, (), pour_threshold(()))
        for base, outcome in (("a", "lip"), ("b", "lip"), ("a", "bleed"))
    )
    assert outcomes_by_base(entries) == {"a": (entries[0], entries[2]), "b": (entries[1],)}
