"""What a card is made of: the rounds of a recipe, their masses, and the steps of one round."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_day import USUAL_HOURS
from journal.figures.day.derive_rounds import RoundLimit, derive_round, pot_tasks, round_limit
from journal.figures.day.order import bars_by_round
from journal.figures.day.rounds import PotTask, days_of_rounds
from journal.figures.day.sheet import DaySheet
from journal.figures.day.steps import CastingRound
from journal.figures.heat.pot_rates import RateLine
from journal.figures.pieces.derive_pieces import CastingPlaces, places_of_recipe
from journal.figures.recipe.derive_by_round import masses_by_round
from journal.figures.recipe.derive_layers import RecipeMasses
from journal.records.models.write_up import AS_WRITTEN, Design
from journal.records.notebook import Notebook


class CardFigures(Struct, frozen=True):
    """A recipe for a number of bars, round by round.

    ``masses`` are those of each round, ``sheet`` the steps of the first, by the minute from its
    begin, ``pots`` how its pots cool. ``days`` is how many days the rounds take.
    """

    places: CastingPlaces
    masses: tuple[RecipeMasses, ...]
    round: CastingRound
    sheet: DaySheet
    pots: Mapping[str, PotTask]
    days: int
    limit: RoundLimit

    @property
    def bars(self) -> tuple[int, ...]:
        """Bars of each round."""
        return tuple(masses.bars for masses in self.masses)


def derive_card(
    context: RecipeContext, places: CastingPlaces, rates: RateLine, dew_min: int = 0
) -> CardFigures:
    """Derive the rounds of ``context.bars`` bars, and the steps of the first of them.

    ``rates`` is how fast the pots cooled that speak for the design, ``dew_min`` as in
    ``derive_round``.
    """
    limit = round_limit(context, places)
    bars = (context.bars,) if limit.bars is None else bars_by_round(context.bars, limit.bars)
    masses = masses_by_round(context, bars)
    one, sheet = derive_round(context, masses[0], places, rates, {}, dew_min=dew_min)
    days = days_of_rounds(one, len(bars), USUAL_HOURS)
    pots = pot_tasks(context, masses[0], rates, {})
    return CardFigures(places, masses, one, sheet, pots, days, limit)


def derive_first_round(
    notebook: Notebook, design: Design, rates: RateLine, dew_min: Mapping[str, int]
) -> CardFigures:
    """Derive the first round of a design's recipe as written; ``dew_min`` is by variant."""
    settings, shelf, recipe = notebook.settings, notebook.shelf, design.recipe
    context = RecipeContext(settings, shelf, design, design.as_written, recipe.bars)
    return derive_card(context, places_of_recipe(shelf, recipe), rates, dew_min.get(AS_WRITTEN, 0))


def round_masses(context: RecipeContext, bars: int, before: int) -> RecipeMasses:
    """The masses of a round of ``bars`` that follows one of ``before``; 0: of the first."""
    rounds: Sequence[int] = (before, bars) if before else (bars,)
    return masses_by_round(context, rounds)[-1]
