"""An embed with a mould of its own: weighed, planned, printed, costed, as large as its mould."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from worked_notebook import MOULDS, leaf, read

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_order import derive_order
from journal.figures.derive import derive_design
from journal.figures.heat.pot_rates import NO_RATES
from journal.figures.recipe.derive_another_mould import AnotherThing, carried_over
from journal.figures.recipe.derive_fill import FILL
from journal.figures.shop.derive_shop import COST
from journal.html.card_page import plain_text
from journal.records.notebook import Notebook
from journal.views.card.card import cards_of
from journal.views.shared.catalogue import catalogue_of

DESIGN = "designs/leaf/design.md"
MOON = "layers:\n  - {name: moon, base: plain, amount: 3 g, pour: 70-75 C, mould: beds}\n"
BEDS = """
beds: {name: Moon beds, cavities: 1, face: 20 x 20 mm, depth: 10 mm, price: 10.00, life: 100}
small: {name: Small, cavities: 6, face: 70 x 45 mm, depth: 20 mm}
"""


def with_moon(tmp_path: Path, *changes: tuple[str, str, str]) -> Notebook:
    return read(
        tmp_path, (DESIGN, "layers:\n", MOON), *changes, more={"shelf/moulds.yaml": MOULDS + BEDS}
    )


def test_it_takes_room_in_the_bar_and_its_mould_costs(tmp_path: Path) -> None:
    """3 mL more than the 87.4, and 10.00 over 100 pours of one: 0.10 a bar, and its base."""
    bare, found = (leaf(read(tmp_path / "a")).recipe, leaf(with_moon(tmp_path / "b")).recipe)
    fill, cost, before = found[FILL].value, found[COST].value, bare[COST].value
    assert fill is not None
    assert cost is not None
    assert before is not None
    assert fill.poured_ml == pytest.approx(90.4)
    # Wear of four bars; both are the tools of a batch.
    more = dict(cost.batch.parts)["tools"] or 0, dict(before.batch.parts)["tools"] or 0
    assert Fraction(more[0]) - Fraction(more[1]) == Fraction("0.40")


def test_a_round_has_no_more_bars_than_its_mould_has_cavities(tmp_path: Path) -> None:
    notebook = with_moon(tmp_path)
    (line,) = derive_order(notebook, notebook.orders["dozen"]).lines
    assert (line.limit.by, line.limit.bars, line.rounds) == ("embeds", 1, (1,) * 14)
    two = ("shelf/moulds.yaml", "beds: {name: Moon beds, ", "beds: {name: Moon beds, on_hand: 9, ")
    notebook = with_moon(tmp_path / "nine", two)
    (line,) = derive_order(notebook, notebook.orders["dozen"]).lines
    assert (line.limit.by, line.rounds) == ("pieces", (2,) * 7)


@pytest.mark.parametrize(("language", "says"), [("en", "into Moon beds"), ("es", "en Moon beds")])
def test_the_card_says_what_it_is_poured_into(tmp_path: Path, language: str, says: str) -> None:
    notebook = with_moon(tmp_path)
    say = catalogue_of(language, "en")
    leaves = cards_of(
        notebook, notebook.designs["leaf"], None, None, "half-letter", NO_RATES, {}, say=say
    )
    steps = [plain_text(step.words) for leaf in leaves for step in leaf.steps]
    (pour,) = (text for text in steps if says in text)
    assert "moon" in pour
    # The detail is still the one that goes into the relief.
    assert sum("relief" in text or "relieve" in text for text in steps) >= 1
    intro = " ".join(plain_text(words) for leaf in leaves for words in leaf.intro)
    assert "Moon beds" in intro


def test_one_that_is_larger_than_its_mould_is_a_warning(tmp_path: Path) -> None:
    """A cavity of 20 x 20 x 10 mm holds 4 mL."""
    notebook = with_moon(tmp_path, (DESIGN, "amount: 3 g", "amount: 5 g"))
    _, problems = derive_design(notebook, notebook.designs["leaf"], models=False)
    (warning,) = (one for one in problems if "embed" in one.what)
    assert warning.what == 'the embed "moon" is 5 mL, and a cavity of its mould holds 4 mL'


def test_in_another_mould_it_stays_as_large_as_its_own(tmp_path: Path) -> None:
    notebook = with_moon(tmp_path)
    design = notebook.designs["leaf"]
    context = RecipeContext(
        notebook.settings, notebook.shelf, design, design.as_written, design.recipe.bars
    )
    moon, detail, body = carried_over(context, AnotherThing(mould="small")).recipe.layers
    assert (moon.amount, detail.amount) == (3, 5)
    assert body.amount < 80
