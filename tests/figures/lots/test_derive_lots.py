"""Lots, dates and amounts out of records: worked on the small notebook, held on every demo pour."""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from paths import CONTENT
from worked_notebook import MOULDS, read

from journal.errors import Problem
from journal.figures.day.derive_buying import OpenOrder, derive_buying
from journal.figures.day.derive_order import derive_order
from journal.figures.lots.derive_taken import amounts_left, shelf_as_left, taken_by_pours
from journal.figures.lots.derive_trace import derive_trace, past_materials, past_on_shelf
from journal.records.models.shelf import MATERIALS
from journal.records.models.summary import recipe_as_poured
from journal.records.models.things import references_of
from journal.records.notebook import Notebook, read_notebook

BASES, OILS = "shelf/bases.yaml", "shelf/fragrances.yaml"
WRITE_UP = "designs/leaf/design.md"
LOTS = (
    BASES,
    "  on_hand: 300 g\n",
    "  on_hand: {amount: 500 g, on: 2026-02-28}\n  low: 150 g\n  lot: P-2\n"
    "  opened: 2026-02-20\n  best_before: 2026-09-30\n"
    "  earlier: [{lot: P-1, opened: 2025-06-01, best_before: 2026-01-31}]\n",
)
COUNTED = (OILS, "  on_hand: 10 mL\n", "  on_hand: {amount: 10 mL, on: 2026-02-28}\n")


def left_of(notebook: Notebook) -> dict[tuple[str, str], Fraction]:
    pours = (
        pour
        for design in notebook.designs.values()
        for pour in taken_by_pours(notebook.settings, notebook.shelf, design)
    )
    return {thing: one.left for thing, one in amounts_left(notebook.shelf, pours).items()}


def test_what_is_left_worked_on_paper(tmp_path: Path) -> None:
    """5 % stays in the jug. Pale: 60 g melted, 20 g in bars, 2 g of the 40 g poured in the jug.

    Body: 380 g melted, 320 g in bars, 16 g in the jug. So 22 + 336 = 358 g of 500 did not go back.
    The oil goes by the 336 g that the recipe melts: 10 mL/kg of it.
    """
    notebook = read(tmp_path, LOTS, COUNTED)
    left = left_of(notebook)
    assert float(left["bases", "plain"]) == pytest.approx(142)
    assert float(left["fragrances", "herb"]) == pytest.approx(6.64)
    assert float(left["colourants", "brick"]) == 100  # its count has no day
    (design,) = notebook.designs.values()
    (pour,) = taken_by_pours(notebook.settings, notebook.shelf, design)
    assert {pot.pot: pot.left_g for pot in pour.pots} == pytest.approx({"pale": 38, "body": 44})
    amounts = amounts_left(notebook.shelf, [pour])
    assert amounts["bases", "plain"].low
    assert not amounts["fragrances", "herb"].low
    as_left = shelf_as_left(notebook.shelf, amounts).bases["plain"].on_hand
    assert as_left is not None
    assert as_left.amount.value == pytest.approx(142)


def test_a_leftover_in_a_blend_is_not_taken_of_its_base(tmp_path: Path) -> None:
    """As above, but a quarter of the 336 g of the body is the ends: 22 + 252 = 274 g of 500."""
    blended = "base: [{base: plain, share: 75 %}, {leftover: ends, share: 25 %}]\n    amount: 80 g"
    ends = {"shelf/leftovers.yaml": "ends: {name: Ends, base: plain, amount: 900 g}\n"}
    notebook = read(
        tmp_path, LOTS, COUNTED, (WRITE_UP, "base: plain\n    amount: 80 g", blended), more=ends
    )
    assert float(left_of(notebook)["bases", "plain"]) == pytest.approx(226)


BLENDED = "base: [{base: plain, share: 75 %}, {leftover: ends, share: 25 %}]\n    mould: dish"
EMBED = (
    WRITE_UP, "base: plain\n    amount: 80 g",
    f"{BLENDED}\n    amount: 80 g\n    additives: [{{additive: oats, dose: 1 %}}]",
)  # fmt: skip
MORE = {
    "shelf/leftovers.yaml": "ends: {name: Ends, base: plain, amount: 900 g}\n",
    "shelf/additives.yaml": "oats: {name: Oats, density: 0.5 g/mL}\n",
    "shelf/moulds.yaml": f"{MOULDS}dish: {{name: Dish, cavities: 4, holds: 80-90 g}}\n",
}


@pytest.mark.parametrize("where", ["the demo", "a blend, an embed and an additive"])
def test_mass_is_conserved_on_every_pour(where: str, tmp_path: Path) -> None:
    demo = where == "the demo"
    notebook = read_notebook(CONTENT) if demo else read(tmp_path, LOTS, EMBED, more=MORE)
    poured = 0
    for design in notebook.designs.values():
        bars = {pour.label: pour.bars for pour in design.pours}
        for pour in taken_by_pours(notebook.settings, notebook.shelf, design):
            for pot in pour.pots:
                whole = pot.bars_g + pot.left_g + pot.jug_g - pot.short_g
                assert pot.melted_g == pytest.approx(whole, abs=0.01), (design.id, pour.pour)
                taken = math.fsum(mass for _, mass in pot.taken)
                assert taken == pytest.approx(pot.melted_g - pot.left_g, abs=0.01)
            # What is in the bars is what the recipe says stays in each.
            recipes = {one.name: one.recipe for one in design.variants}
            stays = math.fsum(
                layer.amount for bar in bars[pour.pour] for layer in recipes[bar.variant].layers
            )
            if all(one.did is None for one in design.pours if one.label == pour.pour):
                assert math.fsum(pot.bars_g for pot in pour.pots) == pytest.approx(stays)
            poured += 1
    assert poured > (25 if demo else 0)


@pytest.mark.parametrize("where", ["the demo", "a blend, an embed and an additive"])
def test_every_bar_holds_what_its_recipe_names(where: str, tmp_path: Path) -> None:
    """By the recipe's own marks, not by what reading a pour made of them; and back by each lot."""
    demo = where == "the demo"
    notebook = read_notebook(CONTENT) if demo else read(tmp_path, LOTS, EMBED, more=MORE)
    found, looked_at = derive_trace(notebook), 0
    held = {
        (lot.kind, lot.name, row.batch, bar)
        for lot in found.lots.values() for row in (*lot.holds, *lot.perhaps) for bar in row.bars
    }  # fmt: skip
    for name, design in notebook.designs.items():
        batches = {one.batch.pour: one.batch for one in found.batches[name]}
        for pour in design.pours:
            parts = {bar: part for part in batches[pour.label].parts for bar in part.bars}
            for bar in pour.bars:
                variant = next((v for v in design.variants if v.name == bar.variant), None)
                recipe = recipe_as_poured(pour, variant, design.recipe)
                wanted = {
                    (one.kind, one.name)
                    for layer in recipe.layers
                    for one in references_of(layer)
                    if one.kind in MATERIALS
                }
                uses = parts[bar.bar].uses
                assert wanted <= {(use.kind, use.name) for use in uses}, (name, bar.bar)
                for use in uses:
                    if use.lot is not None:
                        assert (use.kind, use.name, batches[pour.label].code, bar.bar) in held
                looked_at += len(wanted)
    assert looked_at > (600 if demo else 16)


def test_the_lot_that_was_open_is_the_one_that_was_poured(tmp_path: Path) -> None:
    trace = derive_trace(read(tmp_path, LOTS))
    assert trace.lots["bases", "plain", "P-2"].bars == 4
    assert trace.lots["bases", "plain", "P-1"].bars == 0
    # Of the oil no lot is written down at all.
    assert not any(key[0] == "fragrances" for key in trace.lots)


@pytest.mark.parametrize(
    ("opened", "lot"), [("2026-03-01", "P-2"), ("2026-03-02", "P-1"), ("2026-05-01", "P-1")]
)
def test_a_lot_counts_from_the_day_that_it_was_opened(
    tmp_path: Path, opened: str, lot: str
) -> None:
    file, old, new = LOTS
    notebook = read(tmp_path, (file, old, new.replace("2026-02-20", opened)))
    (batch,) = derive_trace(notebook).batches["leaf"]
    assert {use.lot for use in batch.batch.uses if use.kind == "bases"} == {lot}


def test_a_pour_that_names_its_lot_goes_first(tmp_path: Path) -> None:
    said = (WRITE_UP, "    room: 20 C\n", "    room: 20 C\n    lots: {plain: [P-0, P-2]}\n")
    trace = derive_trace(read(tmp_path, LOTS, said))
    assert {key[2]: one.bars for key, one in trace.lots.items() if key[0] == "bases"} == {
        "P-2": 4, "P-1": 0, "P-0": 4,
    }  # fmt: skip
    assert not trace.lots["bases", "plain", "P-0"].on_shelf


def test_bars_of_no_known_lot_may_hold_any(tmp_path: Path) -> None:
    bare = (BASES, "  on_hand: 300 g\n", "  on_hand: 300 g\n  lot: P-2\n  opened: 2026-03-02\n")
    lot = derive_trace(read(tmp_path, bare)).lots["bases", "plain", "P-2"]
    # The pour came before it was opened.
    assert (lot.bars, lot.perhaps) == (0, ())
    other = (WRITE_UP, "    room: 20 C\n", "    room: 20 C\n    lots: {herb: H-1}\n")
    jar = "  on_hand: 10 mL\n"
    file = (OILS, jar, f"{jar}  earlier: [{{lot: H-0, opened: 2026-01-01}}]\n")
    trace = derive_trace(read(tmp_path / "again", other, file))
    assert trace.lots["fragrances", "herb", "H-1"].bars == 4
    assert trace.lots["fragrances", "herb", "H-0"].bars == 0


def warnings(problems: tuple[Problem, ...]) -> list[str]:
    return [f"{one.position.line}: {one.what}" for one in problems]


def test_what_is_past_its_date(tmp_path: Path) -> None:
    file, old, new = LOTS
    past = read(tmp_path, (file, old, new.replace("2026-09-30", "2026-02-28")))
    (design,) = past.designs.values()
    assert warnings(tuple(past_materials(past.shelf, design))) == [
        "28: Plain, lot P-2, was past its date (2026-02-28) when it was poured"
    ]
    sure = read(
        tmp_path / "sure", (file, old, new.replace("2026-09-30", "2026-02-28")),
        (WRITE_UP, "    room: 20 C\n", "    room: 20 C\n    sure: yes\n"),
    )  # fmt: skip
    (design,) = sure.designs.values()
    assert not list(past_materials(sure.shelf, design))
    # On the shelf it goes by the day that is given, and its own day is still good.
    assert not list(past_on_shelf(past.shelf, date(2026, 2, 28)))
    (problem,) = past_on_shelf(past.shelf, date(2026, 3, 1))
    assert problem.warning
    assert "lot P-2, is past its date" in problem.what


def test_what_to_buy_for_all_orders_together(tmp_path: Path) -> None:
    """Two orders of two bars: 170 g stay in them, 10 g are poured over, 5 % stay in the jugs.

    So each melts 189 g. 300 g are there: the first is safe, and 78 g are to buy for the second,
    which is due first but begins later; at 10.00 a kilogram 0.78. Five sleeves are enough.
    """
    two = "title: Two\ndue: 2026-05-30\ndesigns: [{design: leaf, bars: 2}]\n"
    order = ("orders/dozen.yaml", "bars: 14", "bars: 2")
    notebook = read(tmp_path, order, more={"orders/two.yaml": two})
    begins = {"dozen": date(2026, 4, 20), "two": date(2026, 4, 2)}
    orders = [
        OpenOrder(one, derive_order(notebook, one), begins[name])
        for name, one in notebook.orders.items()
    ]
    found = derive_buying(notebook.shelf, orders, amounts_left(notebook.shelf, ()), "EUR")
    (line,) = (one for one in found.values() if one.kind == "bases")
    assert (float(line.need), float(line.buy)) == pytest.approx((378, 78))
    assert (line.by, line.orders) == (begins["dozen"], ("two", "dozen"))
    assert line.cost == Decimal("0.78")
    assert not any(one.kind == "packaging" for one in found.values())
