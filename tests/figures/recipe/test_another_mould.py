"""A recipe in another mould, on another mat or base: by hand, and there and back again.

The rule is a definition: the cavity is as full as it was, or the bar as proud. What the figures of
a recipe say of the changed one is held against what they said of the first.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from demo import FAN, KELP_ON_CLAY, KELP_ON_GREY, OAT_LOAF, PEBBLES
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from msgspec.structs import replace
from paths import CONTENT
from worked_notebook import MATS, MOULDS, read

from journal.errors import FigureError
from journal.figures.common.derive_context import RecipeContext
from journal.figures.heat.pot_rates import NO_RATES
from journal.figures.recipe.derive_another_mould import (
    AnotherThing,
    CarriedOver,
    carried_over,
    design_in_another,
    relief_ratio,
)
from journal.figures.recipe.derive_fill import FILL, FillFigures
from journal.figures.recipe.derive_layers import recipe_masses
from journal.records.models.write_up import Recipe
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.card import cards_of

DEMO = read_notebook(CONTENT)
SMALL = (
    MOULDS
    + """
small:
  name: Small oblongs
  cavities: 6
  face: 60 x 40 mm
  depth: 20 mm
"""
)
THICK = (
    MATS
    + """
fern:
  name: Ferns
  sheet: 300 x 200 mm
  thickness: 3 mm
  relief: 3 mm
  relief_volume: 5 mL
  motif: {size: 60 x 40 mm, pitch: 90 x 60 mm, offset: 50 x 40 mm}
"""
)
HEAVY = "dense: {name: Dense, density: 1.25 g/mL, takes: 3 %}\n"


def context_of(notebook: Notebook, design: str, recipe: Recipe | None = None) -> RecipeContext:
    found = notebook.designs[design]
    variant = found.as_written
    if recipe is not None:
        variant = replace(variant, recipe=recipe)
    return RecipeContext(notebook.settings, notebook.shelf, found, variant, found.recipe.bars)


def fill_of(context: RecipeContext) -> FillFigures:
    fill = context.figure(FILL).value
    assert fill is not None
    return fill


def worked(tmp_path: Path, *changes: tuple[str, str, str]) -> Notebook:
    return read(
        tmp_path, ("designs/leaf/design.md", "piece: leaf-a, ", ""), *changes,
        more={"shelf/moulds.yaml": SMALL, "shelf/mats.yaml": THICK},
    )  # fmt: skip


def amounts(recipe: Recipe) -> list[float]:
    return [layer.amount for layer in recipe.layers]


def test_the_same_fill_by_hand(tmp_path: Path) -> None:
    """93.848 % of 48 mL are 45.047; the piece, cut to 58 x 38 mm, has 4.612, the detail 5. Of the
    body's 82.4 mL (80 g with its oil and colour) 35.435 are left: 34.403 g."""
    notebook = worked(tmp_path)
    context = context_of(notebook, "leaf")
    found = carried_over(context, AnotherThing(mould="small"))
    assert amounts(found.recipe) == pytest.approx([5, 34.40295], abs=1e-5)
    small = context_of(notebook, "leaf", found.recipe)
    assert fill_of(small).fill == pytest.approx(fill_of(context).fill)
    assert found.remarks == (
        "The motif of Leaves is larger than a cavity of Small oblongs: its edge is cut off.",
        "No piece of Leaves is cut for Small oblongs with this trim yet: cut it to 58 x 38 mm.",
    )


def test_as_proud_as_it_was_by_hand(tmp_path: Path) -> None:
    """5 + 103 mL and a piece of 6.448 are 14.448 over 100, on 4,000 mm2: 3.612 mm. On 2,400 mm2
    that is 8.669 over 48; less piece and detail 47.057 mL of body, of 103 for 100 g."""
    notebook = worked(tmp_path, ("designs/leaf/design.md", "amount: 80 g", "amount: 100 g"))
    context = context_of(notebook, "leaf")
    found = carried_over(context, AnotherThing(mould="small"))
    assert amounts(found.recipe) == pytest.approx([5, 45.68621], abs=1e-5)
    proud = fill_of(context_of(notebook, "leaf", found.recipe)).proud_mm
    assert proud == pytest.approx(fill_of(context).proud_mm)
    assert proud == pytest.approx((3.612, 3.612))


def test_scent_and_doses_stay_what_they_are_of_the_layer(tmp_path: Path) -> None:
    """A dose by the bar goes with the size of the bar, so that its oil is no larger a share."""
    by_bar = ("designs/leaf/design.md", "dose: 10 mL/kg", "dose: 0.8 mL/bar")
    notebook = worked(tmp_path, by_bar)
    context = context_of(notebook, "leaf")
    found = carried_over(context, AnotherThing(mould="small"))
    small = context_of(notebook, "leaf", found.recipe)
    (first, then) = (recipe_masses(one).layer("body").fragrances[0] for one in (context, small))
    assert then.layer_share == pytest.approx(first.layer_share)
    (dose,) = (oil.dose.value for oil in found.recipe.layers[1].fragrance)
    assert dose == pytest.approx(0.8 * found.recipe.layers[1].amount / 80)


def test_another_mat_by_its_relief(tmp_path: Path) -> None:
    """5 mL where there were 2: the detail's 5 g are 12.5 g, poured over as much more."""
    notebook = worked(tmp_path)
    context = context_of(notebook, "leaf")
    found = carried_over(context, AnotherThing(mat="fern"))
    detail, body = found.recipe.layers
    assert (detail.amount, detail.overpour) == pytest.approx((12.5, 12.5))
    assert fill_of(context_of(notebook, "leaf", found.recipe)).fill == pytest.approx(
        fill_of(context).fill
    )
    # The piece has 3 mL of silicone less; the detail takes 7.5 mL more.
    assert body.amount == pytest.approx((82.4 + 3 - 7.5) / 82.4 * 80)
    leaf, fern = notebook.shelf.mats["leaf"], notebook.shelf.mats["fern"]
    by_size = {"relief_volume": None}
    assert relief_ratio(leaf, fern) == 2.5
    assert relief_ratio(
        leaf.model_copy(update=by_size), fern.model_copy(update=by_size)
    ) == pytest.approx(1.5)
    bare = {"relief_volume": None, "relief": None}
    assert relief_ratio(leaf.model_copy(update=bare), fern) is None


def test_another_base_by_volume(tmp_path: Path) -> None:
    """1.25 g/mL for 1: as full by a quarter more in mass, and oil and colour with it."""
    notebook = worked(tmp_path, ("shelf/bases.yaml", "plain:\n", HEAVY + "plain:\n"))
    context = context_of(notebook, "leaf")
    found = carried_over(context, AnotherThing(bases={"plain": "dense"}))
    assert [layer.base.shares for layer in found.recipe.layers] == [(("dense", 1.0),)] * 2
    # The detail holds no oil: 5 mL. The body's 82.4 mL are 80 of base: 1 g of it is 0.8 + 0.03 mL.
    assert amounts(found.recipe) == pytest.approx([6.25, 82.4 / (0.8 + 2.4 / 80)])
    assert found.remarks == (
        "The pour window of the detail was tried on Plain: try one bar first.",
        "The pour window of the body was tried on Plain: try one bar first.",
    )


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("shelf/moulds.yaml", "  depth: 20 mm\n", ""), "moulds/small: holds, or face and depth"),
        (("shelf/moulds.yaml", "  depth: 20 mm\n", "  depth: 4 mm\n"), "Small oblongs has no room"),
        (("designs/leaf/design.md", "mould: four\n", ""), "the recipe has no mould"),
    ],
)
def test_what_cannot_be_carried_over(
    tmp_path: Path, change: tuple[str, str, str], says: str
) -> None:
    notebook = worked(tmp_path, change)
    with pytest.raises(FigureError, match=says):
        carried_over(context_of(notebook, "leaf"), AnotherThing(mould="small"))


def test_a_card_in_another_mould_and_back_is_the_first_card() -> None:
    # Two pots, a loaf that is cut, an additive, a leftover as the base.
    for name in (KELP_ON_CLAY, OAT_LOAF, FAN, PEBBLES):
        design = DEMO.designs[name]
        trial = dataclasses.replace(design, state="trial")
        here = cards_of(DEMO, trial, None, None, "half-letter", NO_RATES, {})
        for mould in DEMO.shelf.moulds:
            there, _ = design_in_another(
                DEMO.settings, DEMO.shelf, trial, None, AnotherThing(mould=mould)
            )
            back, _ = design_in_another(
                DEMO.settings, DEMO.shelf, there, None, AnotherThing(mould=design.recipe.mould)
            )
            assert cards_of(DEMO, back, None, None, "half-letter", NO_RATES, {}) == here, mould


@given(
    factor=st.floats(0.3, 1.5), over=st.floats(0.5, 1.5),
    mould=st.sampled_from(sorted(DEMO.shelf.moulds)),
    mat=st.sampled_from([None, *sorted(DEMO.shelf.mats)]),
)  # fmt: skip
@examples(25)
def test_there_and_back_from_any_amounts(
    factor: float, over: float, mould: str, mat: str | None
) -> None:
    recipe = DEMO.designs[KELP_ON_GREY].recipe
    detail, body = recipe.layers
    first = recipe.model_copy(
        update={
            "layers": (
                detail.model_copy(update={"amount": detail.amount * factor}),
                body.model_copy(update={"amount": body.amount * over}),
            )
        }
    )

    def carried(other: AnotherThing, one: Recipe) -> CarriedOver:
        return carried_over(context_of(DEMO, KELP_ON_GREY, one), other)

    try:
        there = carried(AnotherThing(mould=mould, mat=mat), first).recipe
    except FigureError as error:
        assert "no room" in str(error)
        return
    back = carried(AnotherThing(mould=recipe.mould, mat=recipe.mat), there).recipe
    assert amounts(back) == pytest.approx(amounts(first))
    assert back.piece == recipe.piece
    assert all(layer.amount > 0 for layer in there.layers)


def test_only_the_variant_asked_for_and_those_alike_are_carried() -> None:
    design = DEMO.designs[KELP_ON_CLAY]
    found, _ = design_in_another(
        DEMO.settings, DEMO.shelf, design, "clear", AnotherThing(mould="guest-nine")
    )
    assert found.variant("clear").recipe.mould == "guest-nine"
    assert found.variant("opaque").recipe == design.variant("opaque").recipe
    keeper, _ = design_in_another(
        DEMO.settings, DEMO.shelf, DEMO.designs[KELP_ON_GREY], None, AnotherThing(mat="deco-fan")
    )
    assert (DEMO.designs[KELP_ON_GREY].state, keeper.state) == ("keeper", "trial")
