"""Every round of the demo is followed step by step, as a helper would, pot by pot."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import pairwise

import pytest
from demo_book import demo_notebook

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_card import CardFigures, derive_card
from journal.figures.day.derive_rounds import round_limit
from journal.figures.day.rounds import BAR_MIN, PIECE_MIN, STIR_MIN
from journal.figures.day.sheet import TimedStep, plan_round
from journal.figures.derive import derive_design, figures_summary
from journal.figures.derive_notebook import card_rates, studio_pot_rates
from journal.figures.heat.pot_rates import RateLine, forecast_rate
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_layers import RecipeMasses, layer_bases, recipe_masses
from journal.figures.recipe.derive_leftovers import pots_left
from journal.records.models.then import read_step, says
from journal.records.models.write_up import Variant

DEMO = demo_notebook()
# A step begins at a whole minute: what takes 8.3 min is waited for until the ninth. So a pot may
# have left its window by half a minute when the hands are done.
HALF_A_MINUTE = 0.5
GRAMS = 0.1


def recipes() -> Iterator[tuple[str, str | None]]:
    """Each design as it is written, and its variants that differ."""
    for name, design in DEMO.designs.items():
        yield from ((name, variant) for variant in (None, *design.overview.differ))


RECIPES = list(recipes())


def chosen(name: str, variant: str | None) -> Variant:
    design = DEMO.designs[name]
    return design.as_written if variant is None else design.variant(variant)


@cache
def rates() -> tuple[Mapping[str, RateLine], Mapping[str, Mapping[str, int]]]:
    """How fast the pots of each design cool, and how long its pieces stand wet."""
    summaries = {
        name: figures_summary(DEMO, design, derive_design(DEMO, design, models=False)[0])
        for name, design in DEMO.designs.items()
    }
    dew = {name: summary.dew_min for name, summary in summaries.items()}
    return card_rates(summaries, studio_pot_rates(summaries)), dew


def context_of(name: str, variant: str | None, bars: int) -> RecipeContext:
    design = DEMO.designs[name]
    return RecipeContext(DEMO.settings, DEMO.shelf, design, chosen(name, variant), bars)


@cache
def card_of(name: str, variant: str | None, bars: int) -> CardFigures:
    lines, dew = rates()
    places = places_of_recipe(DEMO.shelf, chosen(name, variant).recipe)
    context = context_of(name, variant, bars)
    return derive_card(context, places, lines[name], dew[name].get(context.variant.name, 0))


@cache
def poured_at_once(name: str, variant: str | None, bars: int) -> RecipeMasses:
    """The masses of one round of so many bars, all of it fresh."""
    return recipe_masses(context_of(name, variant, bars))


def sizes() -> Iterator[tuple[str, str | None, int]]:
    """Each recipe with the bars that it is written for, and for one full round."""
    for name, variant in RECIPES:
        recipe = chosen(name, variant).recipe
        places, written = places_of_recipe(DEMO.shelf, recipe), recipe.bars
        full = round_limit(context_of(name, variant, written), places).bars or written
        yield from ((name, variant, bars) for bars in dict.fromkeys((written, full)))


SIZES = list(sizes())


@pytest.mark.parametrize(("name", "variant", "bars"), SIZES)
def test_the_plan_of_a_card_is_that_of_its_round(name: str, variant: str | None, bars: int) -> None:
    card = card_of(name, variant, bars)
    assert card.sheet == plan_round(card.round)


class Pot:
    """A pot while a round is followed: when it was last hot, and how hot."""

    def __init__(self, mass_g: float, line: RateLine, room_c: float) -> None:
        forecast = forecast_rate(line, mass_g)
        assert forecast is not None
        self.rate_per_min = forecast.rate_per_min
        self.room_c = room_c
        self.hot: tuple[float, float] | None = None

    def at(self, minute: float) -> float:
        """Its temperature in °C, by Newton's law of cooling."""
        assert self.hot is not None, "it was not melted"
        since, from_c = self.hot
        assert minute >= since - HALF_A_MINUTE, "it is not molten yet"
        waited = max(0.0, minute - since)
        return self.room_c + (from_c - self.room_c) * math.exp(-self.rate_per_min * waited)

    def assert_in(
        self, window: tuple[float | None, float | None] | None, from_min: float, minutes: float
    ) -> None:
        """It is in a window from a minute on for so many minutes."""
        low, high = window or (None, None)
        assert high is None or self.at(from_min) <= high + 1e-9
        assert low is None or self.at(from_min + minutes - HALF_A_MINUTE) >= low


@pytest.mark.parametrize(("name", "variant", "bars"), SIZES)
def test_a_round_can_be_followed(name: str, variant: str | None, bars: int) -> None:
    card, recipe = card_of(name, variant, bars), chosen(name, variant).recipe
    masses = card.masses[0]
    context = context_of(name, variant, masses.bars)
    full = poured_at_once(name, variant, masses.bars)
    assert DEMO.settings.room is not None
    pots = {one.name: Pot(one.melt_g, rates()[0][name], DEMO.settings.room) for one in full.pots}
    scorches = {
        layer.pot_name: min(
            DEMO.shelf.bases[base].scorches[0]  # type: ignore[index]
            for base, _ in layer_bases(context, layer)
            if DEMO.shelf.bases[base].scorches
        )
        for layer in recipe.layers
    }
    stirred: list[tuple[str, int, int | None]] = []
    casts = [0] * len(recipe.layers)
    for timed in card.sheet.steps:
        step = timed.step
        if step.kind in ("heat", "reheat"):
            assert (pots[step.pot].hot is None) == (step.kind == "heat")
            assert step.window_c is not None
            hot_c = step.window_c[0]
            assert hot_c is not None
            assert hot_c <= scorches[step.pot]
            pots[step.pot].hot = timed.end_min, hot_c
        elif step.kind in ("stir", "scent"):
            (number,) = step.layers
            assert recipe.layers[number].pot_name == step.pot
            pots[step.pot].assert_in(step.window_c, timed.start_min, STIR_MIN)
            assert casts[number] == 0, "it was poured already"
            stirred.append((step.kind, number, step.entry))
        elif step.kind == "pour":
            for number in step.layers:
                layer = recipe.layers[number]
                in_pieces = recipe.mat is not None and step.layers[0] < len(recipe.layers) - 1
                minutes = step.count * (PIECE_MIN if in_pieces else BAR_MIN)
                assert timed.end_min == timed.start_min + math.ceil(minutes)
                pots[layer.pot_name].assert_in(layer.pour, timed.start_min, minutes)
                casts[number] += step.count
        elif step.kind == "place":
            # Pieces are laid on a dab of what is poured next, while that is still liquid.
            following = next(
                other.step for other in card.sheet.steps
                if other.step.kind == "pour" and other.start_min >= timed.end_min
            )  # fmt: skip
            dab = recipe.layers[following.layers[0]]
            low, _ = dab.pour or (None, None)
            assert pots[dab.pot_name].at(timed.start_min) >= (low or 0.0)
    # All that was weighed out is stirred in, once, and nothing else.
    weighed = [
        (kind, number, place)
        for number, layer in enumerate(masses.layers)
        for kind, entries in (("stir", layer.dosed), ("scent", layer.fragrances))
        for place in range(len(entries) if kind == "stir" or layer.leftover is None else 0)
    ]
    assert sorted(stirred) == sorted(weighed)
    assert casts == [-(-masses.bars // card.places.bars_each)] * len(recipe.layers)


@pytest.mark.parametrize(("name", "variant", "bars"), SIZES)
def test_one_pair_of_hands_does_it(name: str, variant: str | None, bars: int) -> None:
    steps = card_of(name, variant, bars).sheet.steps
    busy = [(step.start_min, step.end_min) for step in steps if step.step.hands]
    assert busy
    assert all(first[1] <= second[0] for first, second in pairwise(sorted(busy)))


@pytest.mark.parametrize(("name", "variant", "bars"), SIZES)
def test_what_follows_a_pour_comes_before_the_next(
    name: str, variant: str | None, bars: int
) -> None:
    """Pieces have rested and are chilled, dry and laid before the body is poured; what is joined
    in one pour has nothing between."""
    card, recipe = card_of(name, variant, bars), chosen(name, variant).recipe
    pours = [timed for timed in card.sheet.steps if timed.step.kind == "pour"]
    for timed in card.sheet.steps:
        step = timed.step
        if step.kind not in ("rest", "chill", "dry", "firm", "do", "place") or not step.layers:
            continue
        (number,) = step.layers
        if step.kind == "place" and recipe.mat is not None and len(recipe.layers) == 1:
            continue
        own = [pour for pour in pours if number in pour.step.layers]
        later = [pour for pour in pours if min(pour.step.layers) > number]
        assert all(pour.end_min <= timed.start_min for pour in own)
        assert all(timed.end_min <= pour.start_min for pour in later if pour not in own)
    if recipe.mat is not None and len(recipe.layers) > 1:
        written = [
            (number, read_step(text).kind)
            for number, layer in enumerate(recipe.layers) for text in layer.then
        ]  # fmt: skip
        chilled = {t.step.layers[0] for t in card.sheet.steps if t.step.kind == "chill"}
        assert chilled == {number for number, kind in written if kind == "chill"}


@pytest.mark.parametrize(("name", "variant", "bars"), SIZES)
def test_bars_are_peeled_before_they_are_pared(name: str, variant: str | None, bars: int) -> None:
    card, recipe = card_of(name, variant, bars), chosen(name, variant).recipe
    then = recipe.layers[-1].then

    def about(timed: TimedStep, topic: str) -> bool:
        step = timed.step
        return step.kind == topic or (
            step.kind == "end" and step.entry is not None and says(then[step.entry], topic)
        )

    place = {timed.place: at for at, timed in enumerate(card.sheet.steps)}
    kinds = [step.kind for step in card.round.steps]
    unmould, wrap = kinds.index("unmould"), kinds.index("wrap")
    peeled = [one.place for one in card.sheet.steps if about(one, "peel")]
    pared = [
        one.place for one in card.sheet.steps if about(one, "tidy") and one.place not in peeled
    ]
    assert len(peeled) == (recipe.mat is not None)
    cut = [one.place for one in card.sheet.steps if about(one, "cut") and one.place > unmould]
    assert bool(cut) == (card.places.bars_each > 1)
    order = [unmould, *peeled, *cut, *pared, wrap]
    assert [place[one] for one in order] == sorted(place[one] for one in order)


# Masses --------------------------------------------------------------------------------


@pytest.mark.parametrize("bars", [1, 6, 24, 100])
@pytest.mark.parametrize(("name", "variant"), RECIPES)
def test_no_gram_is_lost(name: str, variant: str | None, bars: int) -> None:
    """What is weighed over all rounds stays in the bars, sticks to the jugs, or is left over."""
    card, recipe = card_of(name, variant, bars), chosen(name, variant).recipe
    waste = DEMO.settings.waste
    left = pots_left(context_of(name, variant, bars), card.masses)
    assert sum(card.bars) == bars
    for place, pot in enumerate(left):
        layers = [layer for layer in recipe.layers if layer.pot_name == pot.pot]
        stays_g = sum(layer.amount for layer in layers)
        over_g = max(layer.overpour or 0.0 for layer in layers)
        weighed_g = in_bars_g = in_jugs_g = kept_g = back_g = 0.0
        for masses in card.masses:
            fresh_g = masses.pots[place].melt_g
            weighed_g += fresh_g
            held_g = fresh_g + back_g
            poured_g = masses.bars * (stays_g + over_g)
            lost_g = max(poured_g * waste.share, waste.least)
            assert fresh_g >= 0
            assert held_g >= poured_g + lost_g - GRAMS, "there is too little to pour"
            in_bars_g += masses.bars * stays_g
            in_jugs_g += lost_g
            back_g = held_g - masses.bars * stays_g - lost_g
            if len(layers) > 1:  # it has the colour of the last one: kept for something else
                kept_g, back_g = kept_g + back_g, 0.0
        kept_g += back_g
        assert weighed_g == pytest.approx(in_bars_g + in_jugs_g + kept_g, abs=GRAMS)
        assert pot.melt_g == pytest.approx(weighed_g, abs=GRAMS)
        assert pot.lost_g == pytest.approx(in_jugs_g, abs=GRAMS)
        assert pot.left_g == pytest.approx(kept_g, abs=GRAMS)


@pytest.mark.parametrize(("name", "variant"), RECIPES)
def test_scrapings_bring_their_colour_and_scent(name: str, variant: str | None) -> None:
    """Each round's fresh base has the dose of the first: so has what is melted again. (A dose for
    a pot, whatever is in it, is another share of a smaller round.)"""
    card = card_of(name, variant, 100)
    for masses in (masses for masses in card.masses if masses.bars == card.bars[0]):
        for layer, first in zip(masses.layers, card.masses[0].layers, strict=True):
            share = layer.melt_g / first.melt_g
            for one, other in zip(layer.fragrances, first.fragrances, strict=True):
                assert one.mass_g == pytest.approx(share * other.mass_g)
            for dosed, before in zip(layer.dosed, first.dosed, strict=True):
                assert (dosed.mass_g is None) == (before.mass_g is None)
                if dosed.mass_g is not None and before.mass_g is not None:
                    assert dosed.mass_g == pytest.approx(share * before.mass_g)
