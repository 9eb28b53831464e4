"""The amounts on a card: for all bars, for a round and for the last round, as shown text."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from msgspec import Struct

from journal.figures.common.derive_context import RecipeContext
from journal.figures.recipe.derive_layers import RecipeMasses, recipe_masses
from journal.figures.recipe.fragrance import within_limit
from journal.html.card_page import (
    AmountFormat,
    CardAmount,
    CardWord,
    CardWords,
    RoundScope,
    WeighLine,
)
from journal.quantities.rounding import decimal_of_twelve_digits
from journal.quantities.show import (
    show_drops,
    show_mass,
    show_mass_us,
    show_number,
    show_percent,
    show_temperatures_c,
    show_temperatures_f,
    show_volume,
    show_volume_us,
)
from journal.quantities.units import ML_PER_TSP
from journal.records.models.write_up import Layer
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue

# The fonts of the theme have no letter for these fractions; written out, every machine
# shows them.
_FRACTIONS_WRITTEN_OUT = (("⅛", "1/8"), ("⅜", "3/8"), ("⅝", "5/8"), ("⅞", "7/8"))

# Amounts are given in spoons below a fluid ounce.
_MOST_TSP = 6.0
_TSP_STEP = Decimal("0.01")
# Steps of an approximate mass, which is poured by hand: 0.5 g below 10 g, 1 g, then 5 g.
ABOUT_G = ((10.0, 0.5), (500.0, 1.0), (float("inf"), 5.0))
# The card mentions that rounds melt more in all from half a per cent on.
_MORE_IN_ROUNDS = 1.005


def non_breaking(text: str) -> str:
    """A shown figure with no-break spaces, and with fractions that the fonts lack written out."""
    for letter, written in _FRACTIONS_WRITTEN_OUT:
        place = text.find(letter)
        if place >= 0:
            apart = " " if place and text[place - 1].isdigit() else ""
            text = text.replace(letter, apart + written)
    return text.replace(" ", "\u00a0")


def show_on_card(value: float, show: AmountFormat, steps_g: Sequence[float]) -> str:
    """A mass in g or a volume in mL as a card shows it; oils are rounded down.

    ``steps_g`` are the steps of the studio's scales, and count for masses only.
    """
    return non_breaking(_MASSES[show](value, steps_g) if show in _MASSES else _VOLUMES[show](value))


def show_approximately(mass_g: float, us_first: bool) -> str:
    """A mass rounded to what can be poured by hand, in both systems: ``0.5 oz (14 g)``."""
    steps = [
        next(step for below, step in ABOUT_G if float(decimal_of_twelve_digits(mass_g)) < below)
    ]
    us, metric = non_breaking(show_mass_us(mass_g, steps)), non_breaking(show_mass(mass_g, steps))
    return f"{us} ({metric})" if us_first else f"{metric} ({us})"


def show_spoons(volume_ml: float) -> str:
    """A volume as ``1½ tsp`` near a spoon's mark, else ``0.32 tsp``; from 6 tsp on in fl oz."""
    text = show_volume_us(volume_ml)
    tsp = volume_ml / float(ML_PER_TSP)
    if text.endswith(" tsp") or tsp >= _MOST_TSP:
        return text
    return f"{show_number(tsp, _TSP_STEP)} tsp"


_MASSES: Mapping[AmountFormat, Callable[[float, Sequence[float]], str]] = {
    "g": show_mass,
    "us": show_mass_us,
    "oil-g": partial(show_mass, way="down"),
}
_VOLUMES: Mapping[AmountFormat, Callable[[float], str]] = {
    "ml": show_volume,
    "spoons": show_spoons,
    "oil-ml": partial(show_volume, way="down"),
    "drops": show_drops,
}


def show_temperature_window(ends_c: tuple[float, float], us_first: bool) -> tuple[str, str]:
    """A range of temperature as text, in the studio's first scale and in the other."""
    fahrenheit = non_breaking(show_temperatures_f(*ends_c))
    celsius = non_breaking(show_temperatures_c(*ends_c))
    return (fahrenheit, celsius) if us_first else (celsius, fahrenheit)


# An amount in the studio's first system and in the other.
BothSystems = tuple[CardWords, CardWords]


class PotIngredient(NamedTuple):
    """A base or a leftover that is melted in a pot.

    ``pot`` and ``place`` are its indices among the pots, and among the bases of the pot.
    """

    pot: int
    place: int
    name: str
    leftover: bool


class CardAmounts(Struct, frozen=True):
    """The masses of a recipe for all bars, for one round and for a last, smaller round.

    ``masses`` has "last" only if the last round is smaller. ``round_bars`` are the bars of
    one round, ``last_bars`` those of a smaller last one, else None. ``phrases`` is the
    catalogue of the card's language.
    """

    case: RecipeContext
    masses: Mapping[RoundScope, RecipeMasses]
    rounds: int
    round_bars: int
    last_bars: int | None
    phrases: PhraseCatalogue = ENGLISH

    @property
    def us_first(self) -> bool:
        """Whether ounces stand before grams."""
        return self.case.settings.units == "us"

    @property
    def steps_g(self) -> tuple[float, ...]:
        """Steps of the studio's scales, in grams."""
        return self.case.settings.scales

    @property
    def melts_more_in_rounds(self) -> bool:
        """Whether all rounds together melt 0.5 % more base than a single melt for all bars.

        Each round leaves its own waste in the jug.
        """
        melt_g = {
            scope: sum(pot.melt_g for pot in masses.pots) for scope, masses in self.masses.items()
        }
        full = self.rounds - ("last" in self.masses)
        return full * melt_g["round"] + melt_g.get("last", 0.0) > _MORE_IN_ROUNDS * melt_g["all"]

    def pot_bases(self, pot: int) -> tuple[PotIngredient, ...]:
        """What is melted in a pot (an index), in the order in which the write-up has it."""
        masses = self.masses["all"]
        layer = masses.layer(masses.pots[pot].layers[0])
        if layer.leftover is not None:
            return (PotIngredient(pot, 0, layer.leftover, True),)
        return tuple(PotIngredient(pot, n, base, False) for n, (base, _) in enumerate(layer.bases))

    def base_g(self, base: PotIngredient, scope: RoundScope) -> float:
        """Mass in g of a pot's base, summed over the layers that are melted in the pot."""
        masses = self.masses[scope]
        layers = [masses.layer(name) for name in masses.pots[base.pot].layers]
        return sum(one.melt_g if base.leftover else one.bases[base.place][1] for one in layers)

    def base_amount(self, base: PotIngredient, scope: RoundScope) -> BothSystems:
        """The amount of a pot's base in both systems."""
        value, of = self.base_g(base, scope), f"base {base.pot} {base.place}"
        us, metric = (
            self._amount_words(value, of, "us", scope),
            self._amount_words(value, of, "g", scope),
        )
        return (us, metric) if self.us_first else (metric, us)

    def oil_amount(self, layer: int, place: int, scope: RoundScope) -> BothSystems:
        """The amount of a fragrance oil: millilitres first, grams second.

        If the shelf has no density, only the unit that the dose was written in is given:
        the other, from an assumed density, might put in too much.
        """
        oil = self.masses[scope].layers[layer].fragrances[place]
        written = self.written(layer).fragrance[place].dose.kind
        of = f"oil {layer} {place}"
        by_volume = self._amount_words(oil.volume_ml, f"{of} ml", "oil-ml", scope)
        by_mass = self._amount_words(oil.mass_g, f"{of} g", "oil-g", scope)
        if oil.density_assumed:
            return (by_volume, ()) if written == "volume" else (by_mass, ())
        return by_volume, by_mass

    def dosed_amount(self, layer: int, place: int, scope: RoundScope) -> BothSystems:
        """The amount of a dosed ingredient: mL and spoons, or g and mL if it is dosed by mass.

        By eye it is these words and the aim; a rough dose is in mL and about so many drops.
        """
        one = self.masses[scope].layers[layer].dosed[place]
        if one.by_eye:
            return (self.phrases.text("by eye"),), (one.aim,) if one.aim else ()
        of = f"dosed {layer} {place}"
        by_volume = self._amount_words(one.volume_ml, f"{of} ml", "ml", scope)
        dose = self.written(layer).dosed[place].dose
        if dose is not None and dose.kind != "volume":
            return self._amount_words(one.mass_g, f"{of} g", "g", scope), by_volume
        if one.rough:
            drops = self._amount_words(one.volume_ml, f"{of} ml", "drops", scope)
            return by_volume, self.phrases.words("about", amount=drops)
        return by_volume, self._amount_words(one.volume_ml, f"{of} ml", "spoons", scope)

    def written(self, layer: int) -> Layer:
        """The layer with this index, as the write-up has it."""
        return self.case.recipe.layers[layer]

    def weight(
        self, what: str, amount: Callable[[RoundScope], BothSystems], layer: str = "",
        mind: CardWords = (), each: bool = True,
    ) -> WeighLine:  # fmt: skip
        """A line to weigh; ``each`` adds the amounts of a round, and of a smaller last one.

        ``amount`` gives the amount for a scope, ``mind`` is a warning after the name.
        """
        words: list[CardWord] = []
        for scope in tuple(self.masses)[1:] if each and self.rounds > 1 else ():
            first, second = amount(scope)
            bars = self.round_bars if scope == "round" else self.last_bars
            words.append(self.phrases.text(f"each.{scope}", bars=bars))
            words.extend((*first, *self.phrases.beside(second)))
        return WeighLine(what, *amount("all"), layer, tuple(words), mind)

    def poured_amount(self, layer: int, what: str) -> CardAmount:
        """The approximate mass of a layer that is poured.

        ``what`` is "stays" (per bar, what remains), "poured" (per bar, with the overpour)
        or "filled" (poured, for all bars of a round).
        """
        mass_g = self.masses["round"].layers[layer].stays_g_per_bar
        if what != "stays":
            mass_g += self.written(layer).overpour or 0.0
        if what == "filled":
            mass_g = self.round_bars * mass_g
        return CardAmount(
            show_approximately(mass_g, self.us_first), f"{what} {layer}", "about", "round"
        )

    def limit_note(self, layer: int, place: int, show: AmountFormat) -> CardAmount:
        """A note that an oil is over its limit or has none; empty text if all is well."""
        note = self.over_limit(layer, place)
        text = f", {note}" if note and show == "and-limit" else note
        return CardAmount(text, f"limit {layer} {place}", show, tone="mind")

    def over_limit(self, layer: int, place: int) -> str:
        """A phrase if the oil has no limit, or it or the layer's oils together exceed theirs."""
        figures = self.masses["all"].layers[layer]
        oil = figures.fragrances[place]
        if oil.limit is None:
            return self.phrases.text("limit.none")
        if oil.within_limit is False:
            share, limit = (non_breaking(show_percent(x)) for x in (oil.layer_share, oil.limit))
            return self.phrases.text("limit.over", share=share, limit=limit)
        if figures.limit_used is not None and not within_limit(figures.limit_used):
            used = non_breaking(show_percent(figures.limit_used))
            return self.phrases.text("limit.together", used=used)
        return ""

    def phrase_at_temperature(
        self, phrase: str, ends_c: tuple[float, float] | None, **values: CardWord | CardWords
    ) -> CardWords:
        """The phrase, or with a range of temperature ``phrase.at``, which has both scales."""
        if ends_c is None:
            return self.phrases.words(phrase, **values)
        shown, other = show_temperature_window(ends_c, self.us_first)
        return self.phrases.words(f"{phrase}.at", window=shown, other=other, **values)

    def _amount_words(
        self, value: float | None, of: str, show: AmountFormat, scope: RoundScope
    ) -> CardWords:
        """A value as one shown amount; no words for None."""
        if value is None:
            return ()
        text = self.phrases.units(show_on_card(value, show, self.steps_g))
        return (CardAmount(text, of, show, scope),)


def card_amounts_of(
    context: RecipeContext,
    places: int | None,
    bars_each: int,
    say: PhraseCatalogue = ENGLISH,
    masses: RecipeMasses | None = None,
) -> CardAmounts:
    """The amounts of a recipe for ``context.bars`` bars, cast in rounds.

    A round has ``places`` casts of ``bars_each`` bars; with None all bars are one round.
    ``masses`` are those of all bars, if they were computed before.
    """
    full = context.bars if places is None else min(context.bars, places * bars_each)
    rounds = -(-context.bars // full)
    last = context.bars - full * (rounds - 1)
    masses = masses or _masses_for(context, context.bars)
    scopes: dict[RoundScope, RecipeMasses] = {"all": masses}
    scopes["round"] = masses if rounds == 1 else _masses_for(context, full)
    if last != full:
        scopes["last"] = _masses_for(context, last)
    return CardAmounts(context, scopes, rounds, full, last if last != full else None, say)


def _masses_for(context: RecipeContext, bars: int) -> RecipeMasses:
    """The masses for a number of bars."""
    # Problems are reported for all bars; a round has no others.
    problems = context.problems if bars == context.bars else []
    return recipe_masses(
        RecipeContext(
            context.settings, context.shelf, context.design, context.variant, bars, problems
        )
    )
