"""Masses round by round: by hand on the worked notebook, and what no order of rounds may break."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from worked_notebook import DESIGN, read

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_rounds import round_limit
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_by_round import masses_by_round, scrapings_g, summed_masses
from journal.figures.recipe.derive_layers import RecipeMasses, recipe_masses
from journal.figures.recipe.derive_leftovers import held_g, pots_left
from journal.records.notebook import Notebook

LEAF = "designs/leaf/design.md"
# A float's last digits.
CLOSE = 1e-9


def context_of(notebook: Notebook, bars: int = 4) -> RecipeContext:
    design = notebook.designs["leaf"]
    return RecipeContext(notebook.settings, notebook.shelf, design, design.as_written, bars)


def melts(rounds: tuple[RecipeMasses, ...]) -> dict[str, list[float]]:
    return {
        pot.name: [masses.pots[place].melt_g for masses in rounds]
        for place, pot in enumerate(rounds[0].pots)
    }


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> RecipeContext:
    return context_of(read(tmp_path_factory.mktemp("worked")))


def test_rounds_by_hand(worked: RecipeContext) -> None:
    """A bar takes 5 g of detail and as much over, a twentieth more: 10.5 g; 5 g are scraped back.
    After a round of four, 20 g of the 31.5 g of the next three bars are there; after these three,
    15 g of 21 g."""
    found = melts(masses_by_round(worked, (4, 3, 2)))
    assert found["pale"] == pytest.approx([42, 31.5 - 20, 21 - 15], rel=CLOSE)
    # Nothing is poured over from the other pot: 84 g a bar.
    assert found["body"] == pytest.approx([336, 252, 168], rel=CLOSE)


def test_what_is_stirred_in_goes_with_the_fresh_base(tmp_path: Path) -> None:
    """20 g of body over each bar: 105 g a bar, of which 20 g are scraped back. Of the second
    round of two, 210 g, 40 g are there, with the oil and colour in them."""
    context = context_of(read(tmp_path, (LEAF, "amount: 80 g", "amount: 80 g\n    overpour: 20 g")))
    first, second = masses_by_round(context, (2, 2))
    (oil, later) = (masses.layer("body").fragrances[0] for masses in (first, second))
    # 10 mL/kg of 210 g and of 170 g; 1 % of colour.
    assert (oil.volume_ml, later.volume_ml) == (pytest.approx(2.1), pytest.approx(1.7))
    assert (oil.mass_g, later.mass_g) == (pytest.approx(1.89), pytest.approx(1.53))
    assert oil.layer_share == later.layer_share
    assert [masses.layer("body").dosed[0].mass_g for masses in (first, second)] == [
        pytest.approx(2.1), pytest.approx(1.7),
    ]  # fmt: skip
    for masses in (first, second):
        # 0.9 % of oil by weight and 1 % of colour with 80 g of base.
        assert masses.layer("body").stays_g_per_bar == pytest.approx(80 + 0.72 + 0.8)
    whole = summed_masses((first, second)).layer("body")
    assert (whole.melt_g, whole.base_g) == (pytest.approx(380), pytest.approx(320))
    assert whole.fragrances[0].volume_ml == pytest.approx(3.8)


@pytest.mark.parametrize(
    ("pot", "bars", "grams"), [("pale", 4, 20), ("pale", 1, 5), ("body", 4, 0), ("other", 4, 0)]
)
def test_scrapings_by_hand(worked: RecipeContext, pot: str, bars: int, grams: float) -> None:
    assert scrapings_g(worked.recipe, pot, bars) == grams


def test_a_pot_of_two_layers_is_not_melted_again(tmp_path: Path) -> None:
    """What is scraped back has the colour of the layer that was poured last."""
    melted = (LEAF, "melted: {pale: 60 g, body: 380 g}", "melted: {body: 380 g}")
    one_pot = context_of(read(tmp_path, (LEAF, "    pot: pale\n", "    pot: body\n"), melted))
    assert scrapings_g(one_pot.recipe, "body", 4) == 0
    assert melts(masses_by_round(one_pot, (2, 2)))["body"] == pytest.approx(
        [(2 * 85 + 10) * 1.05] * 2, rel=CLOSE
    )


@pytest.fixture(scope="module", params=[5, 30, 200])
def overpoured(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Notebook:
    """Notebooks with ever more over the relief, up to more than the next round takes."""
    change = (LEAF, "overpour: 5 g", f"overpour: {request.param} g")
    least = ("journal.yaml", "waste: 5 %", "waste: {share: 5 %, least: 7 g}")
    return read(tmp_path_factory.mktemp("over"), change, least)


@given(st.integers(1, 60), st.integers(1, 6))
@examples(30)
def test_any_rounds_are_poured_in_full(overpoured: Notebook, bars: int, a_round: int) -> None:
    """Full rounds, and a smaller one at the end: each pot holds what its round takes."""
    context = context_of(overpoured, bars)
    rounds = [a_round] * (bars // a_round) + [bars % a_round] * (bars % a_round > 0)
    found = masses_by_round(context, rounds)
    for place, pot in enumerate(found[0].pots):
        back_g = 0.0
        for masses in found:
            full = recipe_masses(context_of(overpoured, masses.bars)).pots[place]
            own = masses.pots[place]
            assert 0 <= own.melt_g <= full.melt_g
            assert own.melt_g + back_g >= full.melt_g - CLOSE
            held = held_g(overpoured.settings, context.recipe, own, masses.bars)
            assert held == pytest.approx(full.melt_g, rel=CLOSE)
            back_g = scrapings_g(context.recipe, pot.name, masses.bars)
        left = pots_left(context, found)[place]
        stays_g = bars * sum(context.recipe.layers[n].amount for n in range(2)
                             if context.recipe.layers[n].pot_name == pot.name)  # fmt: skip
        assert left.melt_g == pytest.approx(stays_g + left.lost_g + left.left_g, rel=CLOSE)


def test_a_round_of_nothing_but_scrapings_is_poured_as_any_other(tmp_path: Path) -> None:
    over = (LEAF, "overpour: 5 g", "overpour: 80 g")
    first, second = masses_by_round(context_of(read(tmp_path, over)), (2, 1))
    assert second.layer("detail").melt_g == 0
    assert second.layer("detail").stays_g_per_bar == first.layer("detail").stays_g_per_bar == 5
    assert second.bar_g == pytest.approx(first.bar_g)


# What a round may hold -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("jugs", "bars", "by"),
    [
        ("", 2, "pieces"),
        ("jugs: [1 L]\n", 2, "pieces"),
        ("jugs: [100 mL, 60 mL]\n", 1, "jugs"),
        ("jugs: [20 mL]\n", 1, "jugs"),  # not even one fits: it is poured in any case
    ],
)
def test_what_limits_a_round(tmp_path: Path, jugs: str, bars: int, by: str) -> None:
    """A bar's body is 80 g at 1 g/mL, with oil, colour and waste somewhat above 84 mL."""
    notebook = read(tmp_path, ("journal.yaml", "chill_places: 4\n", f"chill_places: 4\n{jugs}"))
    context = context_of(notebook)
    limit = round_limit(context, places_of_recipe(notebook.shelf, context.recipe))
    assert (limit.bars, limit.by) == (bars, by)


@pytest.mark.parametrize("least_g", [0, 30, 100])
@pytest.mark.parametrize("jug_ml", [150, 300, 420, 700])
def test_a_full_round_goes_into_the_jug(tmp_path: Path, least_g: int, jug_ml: int) -> None:
    """With what sticks to the jug, which is not less for fewer bars."""
    design = DESIGN.replace("mat: leaf\n", "").replace("trim: straight 2 mm\n", "")
    notebook = read(
        tmp_path,
        ("journal.yaml", "chill_places: 4\n", f"chill_places: 4\njugs: [{jug_ml} mL]\n"),
        ("journal.yaml", "waste: 5 %", f"waste: {{share: 5 %, least: {least_g} g}}"),
        ("shelf/moulds.yaml", "cavities: 4", "cavities: 40"),
        more={LEAF: design.replace("bars: 4", "bars: 40")},
    )
    context = context_of(notebook, 40)
    bars = round_limit(context, places_of_recipe(notebook.shelf, context.recipe)).bars
    assert bars is not None

    def held_ml(number: int) -> float:
        masses = recipe_masses(context_of(notebook, number))
        return max(
            pot.melt_g / layer.base_g * number * layer.volume_ml_per_bar
            for pot in masses.pots
            for layer in [masses.layer(pot.layers[0])]
        )

    assert bars == 1 or held_ml(bars) <= jug_ml
    assert held_ml(bars + 1) > jug_ml
