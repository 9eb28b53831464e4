"""What is printed of the rounds of any number of bars: measurable, and the sum of its rounds."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cache

import pytest
from demo_book import demo_notebook

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_card import round_masses
from journal.figures.day.derive_rounds import round_limit
from journal.figures.day.order import bars_by_round
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_measured import studio_tools
from journal.html.card_page import plain_text
from journal.quantities.measuring import Measured, MeasuredAmount, show_measured
from journal.quantities.units import G_PER_OZ
from journal.records.models.write_up import Variant
from journal.views.card.amounts import RoundAmounts, written_units
from journal.views.card.weights import Rounds, _weighed, round_column, round_rows

DEMO = demo_notebook()
TOOLS = studio_tools(DEMO.settings)
MOST_BARS = 100
RECIPES = [
    (name, variant)
    for name, design in DEMO.designs.items()
    for variant in (None, *design.overview.differ)
]


def chosen(name: str, variant: str | None) -> Variant:
    design = DEMO.designs[name]
    return design.as_written if variant is None else design.variant(variant)


class Recipe:
    """The rounds of a recipe for any number of bars; what is measured of each is kept."""

    def __init__(self, name: str, variant: str | None) -> None:
        self.variant = chosen(name, variant)
        recipe = self.variant.recipe
        self.design = DEMO.designs[name]
        self.context = self._context(recipe.bars)
        self.places = places_of_recipe(DEMO.shelf, recipe)
        self.full = round_limit(self.context, self.places).bars or MOST_BARS
        self.units = written_units(self.context, self.places)
        self._amounts: dict[tuple[int, int], RoundAmounts] = {}

    def _context(self, bars: int) -> RecipeContext:
        return RecipeContext(DEMO.settings, DEMO.shelf, self.design, self.variant, bars)

    def amounts(self, bars: int, before: int) -> RoundAmounts:
        """A round of so many bars after one of ``before``."""
        if (bars, before) not in self._amounts:
            masses = round_masses(self._context(bars), bars, before)
            self._amounts[bars, before] = RoundAmounts(self.context, masses, self.units)
        return self._amounts[bars, before]

    def each(self, bars: int) -> list[RoundAmounts]:
        """Every round of so many bars, one after the other."""
        rounds = bars_by_round(bars, self.full)
        return [
            self.amounts(own, before) for own, before in zip(rounds, (0, *rounds), strict=False)
        ]

    def printed(self, bars: int) -> Rounds:
        """The rounds as a card has them: the first, further ones alike, a smaller last."""
        each = self.each(bars)
        alike = [one for one in each[1:] if one.masses.bars == each[0].masses.bars]
        last = each[-1] if each[-1].masses.bars != each[0].masses.bars else None
        first, further, smaller = (
            None if one is None else round_column(one)
            for one in (each[0], alike[0] if alike else None, last)
        )  # fmt: skip
        assert first is not None
        return Rounds(first, further, len(alike), smaller)


@cache
def recipe_of(name: str, variant: str | None) -> Recipe:
    return Recipe(name, variant)


def measured_of(amounts: RoundAmounts) -> Iterator[tuple[str, MeasuredAmount]]:
    """Everything that is measured for a round, with its name."""
    for one in _weighed(amounts):
        if one.amount is not None:
            yield one.what, one.amount(amounts)


SPOONS = {
    show_measured(Measured("spoons", spoon.volume_ml, ((spoon, 1),))): spoon.volume_ml
    for spoon in TOOLS.spoons
}


def assert_sum(text: str, amounts: list[MeasuredAmount]) -> None:
    """A printed text is the sum of what is measured, unit by unit; the rest says what is not.

    A small last round may be measured with another tool: ``1.8 g + 1/8 tsp``.
    """
    values: dict[str, Fraction] = {}
    for one in (amount.first for amount in amounts if amount.first is not None):
        values[one.unit] = values.get(one.unit, Fraction(0)) + one.value
    spoons_ml = Fraction(0)
    # What no round can be measured of stands behind a comma.
    measured, *others = text.replace("\u00a0", " ").split(", ")
    others = [other for other in others if not other.endswith(" there")]  # less than is needed
    if not values:
        others, measured = [measured, *others], ""
    for part in filter(None, measured.split(" + ")):
        times, _, spoon = part.rpartition(" × ")
        if spoon in SPOONS:
            spoons_ml += int(times or 1) * SPOONS[spoon]
        else:
            others.append(part)
    assert spoons_ml == values.pop("spoons", 0)
    for unit, value in values.items():
        others.remove(show_measured(Measured(unit, value)))  # type: ignore[arg-type]
    assert bool(others) == any(amount.first is None for amount in amounts)


@pytest.mark.parametrize(("name", "variant"), RECIPES)
def test_what_is_printed_of_all_rounds_is_their_sum(name: str, variant: str | None) -> None:
    one = recipe_of(name, variant)
    for bars in range(one.full + 1, MOST_BARS + 1):
        each = [list(measured_of(amounts)) for amounts in one.each(bars)]
        rows = round_rows(one.printed(bars))
        assert len(rows) == len(each[0]) > 0
        for row, *of_rounds in zip(rows, *each, strict=True):
            assert_sum(row.cells[-1], [amount for _, amount in of_rounds])


def assert_measurable(one: Measured) -> None:
    """A tool of the studio gives just that."""
    assert one.value >= 0
    if one.unit == "spoons":
        assert {spoon for spoon, _ in one.scoops} <= set(TOOLS.spoons)
        assert sum(times * spoon.volume_ml for spoon, times in one.scoops) == one.value
        return
    if one.unit == "drops":
        assert one.value.denominator == 1
        return
    steps = {
        "g": [Fraction(str(step)) for step in TOOLS.steps_g],
        # A scale of a gram tells a twentieth of an ounce, one of a tenth a two-hundredth.
        "oz": [Fraction("0.05"), Fraction("0.1"), Fraction(1)],
        "mL": [Fraction("0.01"), Fraction("0.1"), Fraction(1)],
    }[one.unit]
    fine = [step for step in steps if one.value % step == 0]
    # Rounded down to a step, an amount may be that much less than it was asked for.
    assert any(10 * step <= one.value + step for step in fine), one
    if one.unit == "oz":
        smallest_g = min(Fraction(str(step)) for step in TOOLS.steps_g)
        assert min(steps) * Fraction(G_PER_OZ) >= smallest_g


def amounts_of(name: str, variant: str | None) -> Iterator[tuple[int, RoundAmounts]]:
    """Every round that there is in any number of bars."""
    one = recipe_of(name, variant)
    for bars in range(1, min(one.full, MOST_BARS) + 1):
        yield bars, one.amounts(bars, 0)
        if one.full < MOST_BARS:
            yield bars, one.amounts(bars, one.full)


@pytest.mark.parametrize(("name", "variant"), RECIPES)
def test_every_amount_can_be_measured_or_it_says_so(name: str, variant: str | None) -> None:
    seen = 0
    for bars, amounts in amounts_of(name, variant):
        for what, amount in measured_of(amounts):
            seen += 1
            first, second = (plain_text(words) for words in amounts.words(amount))
            if amount.first is None:
                # It is too little: for so many rounds at once it can be measured.
                assert amount.why is not None, (bars, what)
                assert amount.why.together is not None, (bars, what)
                assert_measurable(amount.why.together)
                assert str(amount.why.rounds) in second
                continue
            assert first.replace("\u00a0", " ") == show_measured(amount.first)
            for part in (amount.first, amount.second):
                if part is not None and part.value:
                    assert_measurable(part)
    assert seen >= 2


def test_rounds_of_one_size_are_measured_alike() -> None:
    """The fourth round of a hundred bars is weighed as the second."""
    one = recipe_of(*RECIPES[0])
    second, *others = [
        [amount for _, amount in measured_of(amounts)] for amounts in one.each(MOST_BARS)[1:-1]
    ]
    assert len(others) > 5
    assert all(amounts == second for amounts in others)
