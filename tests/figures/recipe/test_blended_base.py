"""A base blended with a leftover: weighed, counted for scent, planned, printed and costed."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from worked_notebook import leaf, read

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_order import derive_order
from journal.figures.day.derive_order_amounts import ordered_amounts
from journal.figures.heat.pot_rates import NO_RATES
from journal.figures.recipe.derive_another_mould import AnotherThing, carried_over
from journal.figures.recipe.derive_leftovers import LEFTOVERS
from journal.figures.shop.derive_shop import COST
from journal.html.card_page import plain_text
from journal.records.notebook import Notebook
from journal.views.card.card import cards_of

DESIGN = "designs/leaf/design.md"
BLEND = "base: [{base: plain, share: 70 %}, {leftover: ends, share: 30 %}]\n    amount: 80 g"
ENDS = (
    "ends: {name: Ends, base: plain, amount: 400 g, tinted: brick, colour_share: 1 %,"
    " scented: {oil: herb, concentration: 1 %}}\n"
)


def blended(tmp_path: Path, *changes: tuple[str, str, str], ends: str = ENDS) -> Notebook:
    """80 g a bar and 5 % in the jug: 336 g to melt for four, of which 100.8 g are ends."""
    change = (DESIGN, "base: plain\n    amount: 80 g", BLEND)
    return read(tmp_path, change, *changes, more={"shelf/leftovers.yaml": ends})


def test_each_is_weighed_by_its_share(tmp_path: Path) -> None:
    body = leaf(blended(tmp_path)).recipe.masses.layer("body")
    assert body.fresh == (("plain", pytest.approx(235.2)),)
    assert (body.leftover, body.leftover_g) == ("ends", pytest.approx(100.8))
    # All of it is plain base, for density, label and cost.
    assert body.bases == (("plain", pytest.approx(336)),)


def test_the_scent_of_the_leftover_counts_by_its_share(tmp_path: Path) -> None:
    """10 mL/kg of 0.9 g/mL into 336 g are 3.024 g; the ends bring 1 % of 100.8 g."""
    dosed, brought = leaf(blended(tmp_path)).recipe.masses.layer("body").fragrances
    assert (dosed.mass_g, brought.mass_g) == pytest.approx((3.024, 1.008))
    assert (dosed.from_leftover, brought.from_leftover) == (False, True)
    # 2.5 % in the ends and 1.6 % dosed are over the limit of 2 % together.
    strong = ENDS.replace("concentration: 1 %", "concentration: 2.5 %")
    more = (DESIGN, "dose: 10 mL/kg", "dose: 16 mL/kg")
    over = leaf(blended(tmp_path / "over", more, ends=strong)).recipe.masses
    assert [one.oils for one in over.over] == [("herb", "herb")]


def test_an_order_takes_and_buys_both(tmp_path: Path) -> None:
    notebook = blended(tmp_path)
    order = derive_order(notebook, notebook.orders["dozen"])
    needs = {(one.kind, one.item): float(one.amount) for one in order.needs}
    (line,) = order.lines
    body, detail = line.total.layer("body"), line.total.layer("detail")
    assert needs["leftovers", "ends"] == pytest.approx(0.3 * body.melt_g)
    assert needs["bases", "plain"] == pytest.approx(0.7 * body.melt_g + detail.melt_g)
    asked = ordered_amounts(notebook.shelf, order)
    assert asked["leftovers", "ends", "g"].whole.mass_g == pytest.approx(0.3 * body.melt_g)


def test_the_card_names_both(tmp_path: Path) -> None:
    notebook = blended(tmp_path)
    design = notebook.designs["leaf"]
    leaves = cards_of(notebook, design, None, None, "half-letter", NO_RATES, {})
    weights = {one.what: plain_text(one.first) for leaf in leaves for one in leaf.weights}
    shown = [(what, text) for what, text in weights.items() if "Ends" in what or what == "Plain"]
    # A round has two bars, of 117.6 g and of 50.4 g.
    assert [text for _, text in shown][-2:] == ["118\u00a0g", "50.4\u00a0g"]
    assert "tinted Brick" in shown[-1][0]
    steps = " ".join(plain_text(step.words) for leaf in leaves for step in leaf.steps)
    assert "Ends" in steps


def test_cost_and_what_is_left(tmp_path: Path) -> None:
    """The base of a leftover costs what it cost; what is left of the pot has its colour."""
    plain = leaf(read(tmp_path / "plain")).recipe
    found = leaf(blended(tmp_path / "blended")).recipe
    for one in (plain[COST].value, found[COST].value):
        assert one is not None
        assert dict(one.batch.parts)["base"] == Fraction("3.58")
    (_, body) = found[LEFTOVERS].value or ()
    assert body.colours == ("brick",)


def test_in_another_base_the_leftover_stays(tmp_path: Path) -> None:
    notebook = blended(
        tmp_path,
        ("shelf/bases.yaml", "plain:\n", "dense: {name: Dense, density: 2 g/mL}\nplain:\n"),
    )
    design = notebook.designs["leaf"]
    context = RecipeContext(
        notebook.settings, notebook.shelf, design, design.as_written, design.recipe.bars
    )
    body = carried_over(context, AnotherThing(bases={"plain": "dense"})).recipe.layers[1]
    assert body.base.shares == (("dense", pytest.approx(0.7)),)
    assert (body.base.leftover, body.base.of_leftover) == ("ends", pytest.approx(0.3))
