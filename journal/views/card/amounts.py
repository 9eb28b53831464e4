"""The amounts of one round on a card, as shown text: what is melted, stirred in and poured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

from msgspec import Struct

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_card import round_masses
from journal.figures.day.derive_rounds import round_limit
from journal.figures.pieces.derive_pieces import CastingPlaces
from journal.figures.recipe.derive_layers import RecipeMasses
from journal.figures.recipe.derive_measured import asked_of_dosed, asked_of_oil, studio_tools
from journal.html.card_page import CardWord, CardWords
from journal.quantities.measuring import (
    AskedAmount,
    MeasuredAmount,
    MeasuringUnit,
    Tools,
    measure,
    measuring_unit,
    show_measured,
)
from journal.quantities.rounding import decimal_of_twelve_digits
from journal.quantities.show import (
    show_mass,
    show_mass_us,
    show_percent,
    show_temperature_c,
    show_temperature_f,
    show_temperatures_c,
    show_temperatures_f,
)
from journal.records.models.write_up import Layer
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue

# Steps of an approximate mass, which is poured by hand: 0.5 g below 10 g, 1 g, then 5 g.
ABOUT_G = ((10.0, 0.5), (500.0, 1.0), (float("inf"), 5.0))

# What is measured of an oil that is over its limit.
REFUSED = MeasuredAmount(None)

# An amount by the first tool and by another; the words may be empty.
BothWords = tuple[CardWords, CardWords]
# What is measured, by its pot or layer and its place there.
AmountKey = tuple[str, int, int]


def non_breaking(text: str) -> str:
    """A shown figure with no-break spaces; a line may end after a plus."""
    return text.replace(" ", "\u00a0").replace("+\u00a0", "+ ")


def show_approximately(mass_g: float, us_first: bool) -> str:
    """A mass rounded to what can be poured by hand, in both systems: ``0.5 oz (14 g)``."""
    steps = [
        next(step for below, step in ABOUT_G if float(decimal_of_twelve_digits(mass_g)) < below)
    ]
    us, metric = non_breaking(show_mass_us(mass_g, steps)), non_breaking(show_mass(mass_g, steps))
    return f"{us} ({metric})" if us_first else f"{metric} ({us})"


class PotIngredient(NamedTuple):
    """A base or a leftover that is melted in a pot.

    ``pot`` and ``place`` are its indices among the pots, and among the bases of the pot.
    """

    pot: int
    place: int
    name: str
    leftover: bool


class RoundAmounts(Struct, frozen=True, dict=True):
    """The amounts of one round of a recipe as they are measured, and as text.

    ``units`` are the first units by what is measured, the same in every round of the recipe:
    those of a full round as it was written.
    """

    context: RecipeContext
    masses: RecipeMasses
    units: Mapping[AmountKey, MeasuringUnit] = {}
    phrases: PhraseCatalogue = ENGLISH

    @property
    def us_first(self) -> bool:
        """Whether ounces and degrees F stand first."""
        return self.context.settings.units == "us"

    @cached_property
    def tools(self) -> Tools:
        """What the studio measures with."""
        return studio_tools(self.context.settings)

    def layer(self, number: int) -> Layer:
        """The layer with this index, as the write-up has it."""
        return self.context.recipe.layers[number]

    def pot_bases(self, pot: int) -> tuple[PotIngredient, ...]:
        """What is melted in a pot (an index), in the order in which the write-up has it."""
        layer = self.masses.layer(self.masses.pots[pot].layers[0])
        found = [PotIngredient(pot, n, base, False) for n, (base, _) in enumerate(layer.fresh)]
        if layer.leftover is not None:
            found.append(PotIngredient(pot, len(found), layer.leftover, True))
        return tuple(found)

    def base_g(self, base: PotIngredient) -> float:
        """Mass in g of a pot's base, summed over the layers that are melted in the pot."""
        layers = [self.masses.layer(name) for name in self.masses.pots[base.pot].layers]
        return sum(one.leftover_g if base.leftover else one.fresh[base.place][1] for one in layers)

    def base(self, base: PotIngredient) -> MeasuredAmount:
        """What is weighed of a pot's base."""
        return self._measured(("base", base.pot, base.place), self.asked_base(base))

    def oil(self, layer: int, place: int) -> MeasuredAmount:
        """What is measured of a fragrance oil; nothing over its limit."""
        asked = self.asked_oil(layer, place)
        return REFUSED if asked is None else self._measured(("oil", layer, place), asked)

    def dosed(self, layer: int, place: int) -> MeasuredAmount:
        """What is measured of a dosed ingredient, which is not by eye."""
        asked = self.asked_dosed(layer, place)
        assert asked is not None
        return self._measured(("dosed", layer, place), asked)

    def asked_base(self, base: PotIngredient) -> AskedAmount:
        """A pot's base before it is measured."""
        return AskedAmount("base", self.base_g(base))

    def asked_oil(self, layer: int, place: int) -> AskedAmount | None:
        """A fragrance oil before it is measured; None over its limit."""
        written = self.layer(layer).fragrance[place].dose
        return asked_of_oil(self.masses.layers[layer].fragrances[place], written)

    def asked_dosed(self, layer: int, place: int) -> AskedAmount | None:
        """A dosed ingredient before it is measured; None by eye."""
        return asked_of_dosed(self.context.shelf, self.masses.layers[layer].dosed[place])

    def own_units(self) -> dict[AmountKey, MeasuringUnit]:
        """The first units in which this round's amounts are measured."""
        units: dict[AmountKey, MeasuringUnit] = {}
        for pot in range(len(self.masses.pots)):
            for base in self.pot_bases(pot):
                asked = self.asked_base(base)
                units["base", base.pot, base.place] = measuring_unit(asked, self.tools)
        for number, layer in enumerate(self.context.recipe.layers):
            for place in range(len(layer.fragrance)):
                oil = self.asked_oil(number, place)
                if oil is not None:
                    units["oil", number, place] = measuring_unit(oil, self.tools)
            for place in range(len(layer.dosed)):
                stirred = self.asked_dosed(number, place)
                if stirred is not None:
                    units["dosed", number, place] = measuring_unit(stirred, self.tools)
        return units

    def _measured(self, key: AmountKey, asked: AskedAmount) -> MeasuredAmount:
        """An amount in the unit that it has in every round, or in another that measures it."""
        unit = self.units.get(key)
        found = measure(asked, self.tools, unit)
        return found if found.first is not None else measure(asked, self.tools)

    def words(self, amount: MeasuredAmount) -> BothWords:
        """An amount as words by the first tool and by another.

        What no tool of the studio measures is parted from what one does; a powder of which there
        is too little even for that is a pinch.
        """
        say = self.phrases
        if amount is REFUSED:
            return (say.text("measure.dash"),), ()
        if amount.first is None:
            parted = self.parted(amount)
            if parted is None:
                liquid = amount.why is not None and amount.why.why == "drop"
                first = say.text("measure.dash" if liquid else "measure.pinch")
                return (first,), (say.text("measure.none"),)
            return (say.text("measure.part", **parted),), (say.text("measure.parted", **parted),)
        first = say.units(non_breaking(show_measured(amount.first)))
        if amount.second is None:
            return (first,), ()
        return (first,), (say.units(non_breaking(show_measured(amount.second))),)

    def parted(self, amount: MeasuredAmount) -> dict[str, str] | None:
        """What is measured to part a round's amount from, and in how many parts; None without."""
        why = amount.why
        if why is None or why.rounds is None or why.together is None:
            return None
        shown = self.phrases.units(non_breaking(show_measured(why.together)))
        return {"amount": shown, "n": str(why.rounds)}

    def dosed_words(self, layer: int, place: int) -> BothWords:
        """A dosed ingredient as words; by eye it is these words and the aim."""
        one = self.masses.layers[layer].dosed[place]
        if one.by_eye:
            return (self.phrases.text("by eye"),), (one.aim,) if one.aim else ()
        return self.words(self.dosed(layer, place))

    def poured(self, layer: int, what: str, casts: int) -> str:
        """The approximate mass of a layer that is poured.

        ``what`` is "stays" (per bar, what remains), "poured" (per bar, with the overpour)
        or "filled" (poured, for so many bars).
        """
        mass_g = self.masses.layers[layer].stays_g_per_bar
        if what != "stays":
            mass_g += self.layer(layer).overpour or 0.0
        return show_approximately(mass_g * (casts if what == "filled" else 1), self.us_first)

    def over_limit(self, layer: int, place: int) -> str:
        """A phrase if the oil has no limit, is over it, or is more than the base carries."""
        oil = self.masses.layers[layer].fragrances[place]
        if oil.limit is None:
            return self.phrases.text("limit.none")
        if oil.refused:
            return self.phrases.text("limit.leftover" if oil.from_leftover else "limit.refused")
        if oil.within_takes is False and oil.takes is not None:
            return self.phrases.text("limit.takes", share=non_breaking(show_percent(oil.takes)))
        return ""

    def temperature(self, temperature_c: float) -> str:
        """A temperature in both scales, the studio's first: ``160 °F (71 °C)``."""
        both = (show_temperature_f(temperature_c), show_temperature_c(temperature_c))
        shown, other = map(non_breaking, both if self.us_first else reversed(both))
        return f"{shown} ({other})"

    def window(self, window: tuple[float | None, float | None]) -> CardWords:
        """Words for a temperature window, the first scale bold: ``at 122–132 °F (50–56 °C)``."""
        low, high = window
        if low is None or high is None:
            one = high if low is None else low
            assert one is not None
            end = "below" if low is None else "from"
            return self.phrases.words(f"window.{end}", temperature=self.temperature(one))
        both = (show_temperatures_f(low, high), show_temperatures_c(low, high))
        shown, other = map(non_breaking, both if self.us_first else reversed(both))
        return self.phrases.words("window.within", first=shown, second=other)


def joined_words(parts: Sequence[CardWords]) -> CardWords:
    """Words one after the other; texts that meet are one."""
    joined: list[CardWord] = []
    for word in (word for words in parts for word in words):
        if isinstance(word, str) and joined and isinstance(joined[-1], str):
            joined[-1] += word
        elif word:
            joined.append(word)
    return tuple(joined)


def written_units(context: RecipeContext, places: CastingPlaces) -> dict[AmountKey, MeasuringUnit]:
    """The first unit of each thing that is measured: that of a full round as it was written."""
    bars = min(context.recipe.bars, round_limit(context, places).bars or context.recipe.bars)
    return RoundAmounts(context, round_masses(context, bars, 0)).own_units()
