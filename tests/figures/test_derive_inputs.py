"""What a figure was made from: each thing named, as it was written, and where."""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import FILES, leaf, read

from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import Figure, FigureInput
from journal.figures.common.spec import FigureSpec
from journal.figures.derive import RecipeFigures
from journal.figures.recipe.derive_fill import FILL
from journal.figures.recipe.derive_layers import LAYERS
from journal.figures.recipe.derive_leftovers import LEFTOVERS
from journal.figures.shop.derive_shop import CUT, NET_WEIGHT

DESIGN = "designs/leaf/design.md"
Change = tuple[str, str, str]
Told = list[tuple[str, str, str | None]]


def recipe(tmp_path: Path, *changes: Change) -> RecipeFigures:
    return leaf(read(tmp_path, *changes)).recipe


def place(entry: FigureInput) -> str | None:
    """What is written from the place on to the end of its line, comma or brace."""
    if entry.at is None:
        return None
    line = FILES[entry.at.path].splitlines()[entry.at.line - 1][entry.at.column - 1 :]
    return line.split(",")[0].split("}")[0]


def told(found: Figure[object]) -> Told:
    return [(entry.name, entry.text, place(entry)) for entry in found.inputs]


def test_what_layers_are_made_from(tmp_path: Path) -> None:
    assert told(recipe(tmp_path)[LAYERS]) == [
        ("bars", "4", None),
        ("waste", "5 %", None),
        ("amount of detail", "5 g", "5 g"),
        ("amount of body", "80 g", "80 g"),
        ("dose of brick", "", "1 %"),
        ("dose of herb", "", "10 mL/kg"),
        ("limit of herb", "2 %, certificate of 2026-01-15", None),
        ("fragrance that plain takes", "3 %", "3 %"),
    ]


@pytest.mark.parametrize(
    ("spec", "inputs"),
    [
        (
            FILL,
            [
                ("face and depth of the cavity", "", None),
                ("outline and thickness of the piece", "", None),
            ],
        ),
        (CUT, [("sheet, motif, trim and the mould's face", "", None)]),
        (NET_WEIGHT, [("weigh-ins", "4", None), ("day of sale", "30", None)]),
        (LEFTOVERS, [("stays in the jug", "5 %", None)]),
    ],
)
def test_what_the_others_are_made_from(
    tmp_path: Path, spec: FigureSpec[RecipeContext, object], inputs: Told
) -> None:
    assert told(recipe(tmp_path)[spec]) == inputs


@pytest.mark.parametrize(
    ("spec", "change", "name", "text"),
    [
        # The usual densities: base 1.06, silicone 1.15 g/mL (reference/04-properties.csv).
        (
            LAYERS,
            ("shelf/bases.yaml", "  density: 1 g/mL\n", ""),
            "density of plain",
            "not on the shelf: 1.06 g/mL is usual",
        ),
        (
            FILL,
            ("shelf/mats.yaml", "  density: 1.2 g/mL\n", "  piece_weight: 11.5 g\n"),
            "density of the silicone",
            "not on the shelf: 1.15 g/mL is usual",
        ),
        (
            FILL,
            ("shelf/mats.yaml", "  density: 1.2 g/mL\n", "  piece_weight: 11.5 g\n"),
            "weight of the piece",
            "11.5 g",
        ),
        (
            LEFTOVERS,
            ("journal.yaml", "waste: 5 %", "waste: {share: 5 %, least: 8 g}"),
            "stays in the jug, at least",
            "8 g",
        ),
    ],
)
def test_what_is_taken_or_weighed_is_told(
    tmp_path: Path, spec: FigureSpec[RecipeContext, object], change: Change, name: str, text: str
) -> None:
    assert (name, text, None) in told(recipe(tmp_path, change)[spec])


def test_what_the_cavity_holds(tmp_path: Path) -> None:
    holds = ("shelf/moulds.yaml", "  face: 80 x 50 mm\n  depth: 25 mm\n", "  holds: 100 g\n")
    entry = recipe(tmp_path, holds)[FILL].inputs[0]
    assert (entry.name, entry.text) == ("the cavity holds", "100 g")
    assert str(entry.at) == "shelf/moulds.yaml:4:10"
