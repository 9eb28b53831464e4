"""What is asked for of a recipe's things: powder or liquid, by mass or by volume, and how much."""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import lay_out

from journal.figures.day.derive_order import derive_order
from journal.figures.day.derive_order_amounts import ordered_amounts
from journal.figures.day.order import GRAMS, MILLILITRES
from journal.figures.recipe.derive_layers import DosedFigures, FragranceFigures
from journal.figures.recipe.derive_measured import (
    asked_of_dosed,
    asked_of_oil,
    share_of_a_round,
    studio_tools,
)
from journal.quantities.kinds import Amount, Dose
from journal.records.models.settings import USUAL_SPOONS, Settings
from journal.records.models.shelf import Additive, Colourant, CountedAmount, DosedIngredient, Shelf
from journal.records.notebook import read_notebook

BY_MASS, BY_VOLUME = Amount("mass", 40.0), Amount("volume", 30.0)


def counted(amount: Amount | None) -> CountedAmount | None:
    return None if amount is None else CountedAmount.model_construct(amount=amount, on=None)


def colourant(kind: str | None, on_hand: Amount | None) -> Colourant:
    return Colourant.model_construct(name="Slate", kind=kind, on_hand=counted(on_hand))


@pytest.mark.parametrize(
    ("record", "rough", "stuff"),
    [
        (colourant("mica", BY_MASS), False, "powder"),
        # A sample by the spoonful is still a powder.
        (colourant("mica", BY_VOLUME), False, "powder"),
        (colourant("pigment", None), False, "powder"),
        # A paste in glycerine
        (colourant("pigment", BY_VOLUME), False, "liquid"),
        (colourant("dye", None), False, "liquid"),
        (colourant("dye", BY_MASS), False, "powder"),
        (colourant(None, None), True, "liquid"),
        (Additive.model_construct(name="Honey", on_hand=counted(BY_VOLUME)), False, "liquid"),
        (Additive.model_construct(name="Oats", on_hand=counted(BY_MASS)), False, "powder"),
    ],
)
def test_what_is_a_powder(record: DosedIngredient, rough: bool, stuff: str) -> None:
    kind = "additives" if isinstance(record, Additive) else "colourants"
    shelf = Shelf(**{kind: {"one": record}})  # type: ignore[arg-type]
    dosed = DosedFigures(kind, "one", 3.0, 1.5, False, None, rough, None)
    asked = asked_of_dosed(shelf, dosed)
    assert asked is not None
    assert (asked.stuff, asked.mass_g, asked.volume_ml, asked.in_drops) == (stuff, 1.5, 3.0, rough)


def test_by_eye_nothing_is_asked() -> None:
    by_eye = DosedFigures("colourants", "one", None, None, True, "pastel", False, None)
    assert asked_of_dosed(Shelf(), by_eye) is None


@pytest.mark.parametrize(
    ("assumed", "kind", "known"),
    [
        (False, "volume", (4.5, 4.4)),
        (True, "volume", (None, 4.4)),
        (True, "share", (4.5, None)),
        (True, "mass", (4.5, None)),
    ],
)
def test_no_amount_of_an_oil_is_from_a_guessed_density(
    assumed: bool, kind: str, known: tuple[float | None, float | None]
) -> None:
    oil = FragranceFigures("fig", 4.4, 4.5, 0.01, None, density_assumed=assumed, rough=True)
    asked = asked_of_oil(oil, Dose(kind, 1.0, "base"))  # type: ignore[arg-type]
    assert asked.stuff == "oil"
    assert (asked.mass_g, asked.volume_ml) == known
    assert asked.in_drops


def test_the_tools_are_the_studios() -> None:
    tools = studio_tools(Settings(studio="A", units="metric"))
    assert (tools.steps_g, tools.spoons, tools.us_first) == ((1.0, 0.1), USUAL_SPOONS, False)


def test_an_order_asks_round_by_round(tmp_path: Path) -> None:
    few = ("orders/dozen.yaml", "bars: 14", "bars: 5")
    notebook = read_notebook(lay_out(tmp_path, few))
    (order,) = notebook.orders.values()
    figures = derive_order(notebook, order)
    assert [line.rounds for line in figures.lines] == [(2, 2, 1)]
    amounts = ordered_amounts(notebook.shelf, figures)
    needs = {(need.kind, need.item, need.unit): need.amount for need in figures.needs}
    assert {key[2] for key in amounts} == {GRAMS, MILLILITRES}
    for (kind, item, unit), asked in amounts.items():
        sizes = [one.mass_g if unit == GRAMS else one.volume_ml for one in asked.by_round]
        assert sum(size or 0.0 for size in sizes) == pytest.approx(float(needs[kind, item, unit]))
        least = asked.least.mass_g if unit == GRAMS else asked.least.volume_ml
        assert least == min(size or 0.0 for size in sizes)
        assert asked.whole.stuff == {"bases": "base", "fragrances": "oil"}.get(kind, "powder")
    recipe = figures.lines[0].variant.recipe
    assert share_of_a_round(notebook.shelf, recipe) == min(1.0, 2 / recipe.bars)
