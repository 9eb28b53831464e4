"""Additives, worked by hand: 336 g of base are melted for the body of four bars.

15 mL a kilogram of oats are 5.04 mL, or 2.52 g at 0.5 g/mL. With 3.024 g of oil and 3.36 g of
colour the layer's melt is 344.904 g.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from worked_notebook import lay_out, leaf, read

from journal.figures.day.derive_order import derive_order
from journal.figures.derive import RecipeFigures, derive_figures
from journal.figures.heat.pot_rates import NO_RATES
from journal.figures.recipe.derive_layers import LAYERS
from journal.figures.recipe.derive_leftovers import LEFTOVERS
from journal.figures.shop.derive_shop import COST, LABEL
from journal.html.card_page import plain_text
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.card import cards_of
from journal.views.shared.editions import cut_to_edition

CLOSE = 1e-12
OATS = """\
oats:
  name: Oat flour
  density: 0.5 g/mL
  price: 0.05/g
  inci: Avena Sativa Kernel Flour
  most: 1 %
  on_hand: 5 g
  supplier: The mill
"""
DESIGN = "designs/leaf/design.md"
COLOURS = "    colours: [{colourant: brick, dose: 1 %}]\n"


def with_oats(dose: str = "dose: 15 mL/kg") -> tuple[str, str, str]:
    return DESIGN, COLOURS, f"{COLOURS}    additives: {{additive: oats, {dose}}}\n"


def notebook(tmp_path: Path, dose: str = "dose: 15 mL/kg", oats: str = OATS) -> Notebook:
    return read(tmp_path, with_oats(dose), more={"shelf/additives.yaml": oats})


def recipe(tmp_path: Path, dose: str = "dose: 15 mL/kg", oats: str = OATS) -> RecipeFigures:
    return leaf(notebook(tmp_path, dose, oats)).recipe


def test_masses_and_volume(tmp_path: Path) -> None:
    body = recipe(tmp_path).masses.layer("body")
    (oats,) = body.of_kind("additives")
    assert (oats.mass_g, oats.volume_ml) == pytest.approx((2.52, 5.04), rel=CLOSE)
    assert body.whole_g == pytest.approx(344.904, rel=CLOSE)
    assert oats.layer_share == pytest.approx(2.52 / 344.904, rel=CLOSE)
    # A bar: 80 mL of base, 0.8 of oil, 1.6 of colour, 5.04 x 80 / 336 = 1.2 of oats.
    assert body.volume_ml_per_bar == pytest.approx(83.6, rel=CLOSE)
    # The oil is so much less of the layer.
    assert body.fragrances[0].layer_share == pytest.approx(3.024 / 344.904, rel=CLOSE)


@pytest.mark.parametrize(
    ("more", "oats_ml"), [("", 1.2), ("  true_density: 1.25 g/mL\n", 0.48)], ids=["rough", "true"]
)
def test_a_powder_takes_up_no_air_in_the_bar(tmp_path: Path, more: str, oats_ml: float) -> None:
    """2.52 g of 1.25 g/mL are 2.016 mL in 336 g of base, 0.48 mL a bar; by the spoon it is 1.2."""
    found = recipe(tmp_path, oats=OATS + more)[LAYERS]
    assert found.value is not None
    body = found.value.layer("body")
    assert body.volume_ml_per_bar == pytest.approx(82.4 + oats_ml, rel=CLOSE)
    rough = [one.text for one in found.inputs if one.name == "volume of oats in the bar"]
    assert [text.partition(",")[0] for text in rough] == ([] if more else ["rough"])
    # What is measured out is as it was.
    assert body.of_kind("additives")[0].volume_ml == pytest.approx(5.04, rel=CLOSE)


def test_cost(tmp_path: Path) -> None:
    """2.52 g at 0.05: 0.126."""
    sheet = recipe(tmp_path)[COST].value
    assert sheet is not None
    assert dict(sheet.batch.parts)["additives"] == Decimal("0.13")


@pytest.mark.parametrize(
    ("dose", "names"),
    [
        # A bar holds 0.72 g of oil, and of oats 2.52 x 80 / 336 = 0.6 g or 2.4 g.
        ("dose: 15 mL/kg", ["Fragrance", "Avena Sativa (Oat) Kernel Flour"]),
        ("dose: 60 mL/kg", ["Avena Sativa (Oat) Kernel Flour", "Fragrance"]),
    ],
)
def test_the_label_in_descending_order(tmp_path: Path, dose: str, names: list[str]) -> None:
    label = recipe(tmp_path, dose)[LABEL].value
    assert label is not None
    assert label.drafts[0].names == (
        "Water", "Glycerin", "Sodium Stearate", *names, "Iron Oxides",
    )  # fmt: skip


def test_by_eye_it_stands_after_the_rest_of_the_label(tmp_path: Path) -> None:
    found = recipe(tmp_path, "by: eye, aim: a speckle")
    label = found[LABEL].value
    assert label is not None
    assert label.drafts[0].names[-2:] == (
        "Avena Sativa (Oat) Kernel Flour", "Iron Oxides",
    )  # fmt: skip
    assert label.drafts[0].why == (
        "how much of oats is in a bar is not known: it stands after the rest",
    )
    assert ("cost of additives", "additives/oats: dose (it is done by eye)") in [
        (one.figure, one.needs) for one in found[COST].missing
    ]


@pytest.mark.parametrize(
    ("most", "told"),
    [("1 %", []), ("0.7307 %", []), ("0.7 %", ["0.7 %"]), ("0.5 %", ["0.5 %"]), ("0 %", ["0 %"])],
)
def test_more_than_is_usual_is_a_warning(tmp_path: Path, most: str, told: list[str]) -> None:
    """2.52 g of 344.904 g are 0.73064 %."""
    problems = derive_figures(
        notebook(tmp_path, oats=OATS.replace("most: 1 %", f"most: {most}")), models=False
    ).problems
    assert [str(problem) for problem in problems] == [
        f'{DESIGN}:26:16: warning: "oats" is 0.73 % of the layer "body", over the {one} that is'
        " usual at most. Lower the dose, or raise most in shelf/additives.yaml if more has held."
        for one in told
    ]


def test_a_variant_changes_the_dose_or_leaves_it_out(tmp_path: Path) -> None:
    variants = (
        "variants:\n"
        "  more: {layers: {body: {additives: {dose: 30 mL/kg}}}}\n"
        "  none: {layers: {body: {additives: []}}}\n"
        "pours:\n"
    )
    found = leaf(
        read(
            tmp_path, with_oats(), (DESIGN, "pours:\n", variants),
            (DESIGN, "{bar: A1,", "{bar: A1, variant: more,"),
            (DESIGN, "{bar: A2,", "{bar: A2, variant: more,"),
            (DESIGN, "{bar: A3,", "{bar: A3, variant: none,"),
            (DESIGN, "{bar: A4,", "{bar: A4, variant: none,"),
            more={"shelf/additives.yaml": OATS},
        )
    )  # fmt: skip
    of = {name: one.masses.layer("body").dosed[1:] for name, one in found.variants.items()}
    assert [one.mass_g for one in of["more"]] == pytest.approx([5.04], rel=CLOSE)
    assert of["none"] == ()


def test_an_order_takes_and_buys_it(tmp_path: Path) -> None:
    """14 bars: 1176 g of base, 17.64 mL or 8.82 g of oats, of which 5 g are there."""
    found = notebook(tmp_path)
    plan = derive_order(found, found.orders["dozen"])
    (need,) = (one for one in plan.needs if one.kind == "additives")
    assert (need.item, float(need.amount)) == ("oats", pytest.approx(8.82, rel=CLOSE))
    (buy,) = (one for one in plan.buy if one.kind == "additives")
    assert float(buy.buy) == pytest.approx(3.82, rel=CLOSE)


def test_what_is_left_holds_it(tmp_path: Path) -> None:
    left = recipe(tmp_path)[LEFTOVERS].value
    assert left is not None
    assert [one.additives for one in left] == [(), ("oats",)]


def test_the_card_says_to_weigh_it_and_to_stir_it_in(tmp_path: Path) -> None:
    found = notebook(tmp_path)
    design = found.designs["leaf"]
    leaves = cards_of(found, design, None, None, "a5", NO_RATES, {})
    # There are two pieces, so two bars a round: half of it.
    weights = {one.what: plain_text(one.first) for leaf in leaves for one in leaf.weights}
    steps = [plain_text(step.words) for leaf in leaves for step in leaf.steps]
    # Weighed, since its density is known; it is dosed by the spoon.
    assert weights["Oat flour"] == "1.3\u00a0g"
    assert [step for step in steps if "Oat" in step] == [
        "Stir 1.3\u00a0g (1/2\u00a0tsp) Oat flour into the body until no speck is left."
    ]


def test_the_public_edition_has_it_without_what_it_cost(tmp_path: Path) -> None:
    whole = notebook(tmp_path, oats=OATS + OATS.replace("oats:", "unused:"))
    cut = cut_to_edition(whole, "public")
    assert list(cut.shelf.additives) == ["oats"]
    oats = cut.shelf.additives["oats"]
    assert (oats.price, oats.supplier) == (None, None)
    assert oats.most == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("dose", "message"),
    [
        ("", f"{DESIGN}:26:16: an additive is dosed, or done by eye. Write dose: …, or by: eye."),
        (
            "dose: 1 %, by: eye",
            f"{DESIGN}:26:16: an additive is dosed, or done by eye. Write dose: …, or by: eye.",
        ),
    ],
)
def test_neither_or_both_is_an_error(tmp_path: Path, dose: str, message: str) -> None:
    found = read_notebook(lay_out(tmp_path, with_oats(dose), more={"shelf/additives.yaml": OATS}))
    assert [str(problem) for problem in found.errors] == [message]


def test_what_is_not_on_the_shelf_is_told(tmp_path: Path) -> None:
    found = read_notebook(lay_out(tmp_path, with_oats()))
    (problem,) = found.errors
    assert problem.what == 'no additive "oats" is on the shelf'
