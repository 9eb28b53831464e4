"""The days of an order: what is melted, a chart by the clock, the steps as sentences."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.sheet import TimedStep
from journal.figures.derive_notebook import OrderPlan
from journal.html.blocks import TextRun
from journal.html.card_page import CardWord, CardWords, plain_text
from journal.quantities.measuring import AskedAmount, measure, sum_measured
from journal.records.models.settings import Settings
from journal.records.models.shelf import Shelf
from journal.records.models.things import ThingRef
from journal.views.card.amounts import PotIngredient, RoundAmounts, joined_words, written_units
from journal.views.card.steps import (
    RoundSteps,
    leave_words,
    round_steps_of,
    set_out_words,
    step_words,
    unmould_words,
)
from journal.views.order.words import DayMelt, steps_by_day
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue


class PlannedDay(Struct, frozen=True):
    """A day of a plan: its steps in the order of the hands, by when they begin."""

    number: int
    steps: tuple[TimedStep, ...]
    melts: tuple[DayMelt, ...]


def rounds_of_plan(
    settings: Settings, shelf: Shelf, plan: OrderPlan, say: PhraseCatalogue = ENGLISH,
    *, afresh: bool = False,
) -> tuple[RoundSteps, ...]:  # fmt: skip
    """The rounds of an order that has a day sheet, with their amounts and timed steps.

    ``afresh``: each says everything, since it is not read after the others.
    """
    assert plan.day.sheet is not None
    by_round: dict[int, list[TimedStep]] = {}
    for step in plan.day.sheet.steps:
        by_round.setdefault(step.number, []).append(step)
    rounds: list[RoundSteps] = []
    for line in plan.figures.lines:
        context = RecipeContext(settings, shelf, line.design, line.variant, line.bars)
        units = written_units(context, line.places)
        for number, masses in enumerate(line.masses):
            amounts = RoundAmounts(context, masses, units, say)
            steps, pots = by_round[len(rounds)], plan.day.pots[len(rounds)]
            said = 0 if afresh else 2 if number else int(bool(rounds))
            rounds.append(round_steps_of(amounts, line.places, steps, pots, said))
    return tuple(rounds)


def planned_days(plan: OrderPlan, rounds: Sequence[RoundSteps]) -> Iterator[PlannedDay]:
    """Yield the days on which something begins."""
    for number, steps in steps_by_day(plan.day).items():
        yield PlannedDay(number, tuple(steps), tuple(_melts(rounds, steps)))


def _melts(rounds: Sequence[RoundSteps], steps: Iterable[TimedStep]) -> Iterator[DayMelt]:
    """The bases and leftovers of the pots that are set to melt, each summed over its pots."""
    found: dict[ThingRef, list[tuple[RoundAmounts, PotIngredient]]] = {}
    for timed in steps:
        if timed.step.kind == "melt":
            amounts = rounds[timed.number].amounts
            pot = [one.name for one in amounts.masses.pots].index(timed.step.pot)
            for base in amounts.pot_bases(pot) if amounts.masses.pots[pot].melt_g else ():
                thing = ("leftovers" if base.leftover else "bases", base.name)
                found.setdefault(thing, []).append((amounts, base))
    for thing, uses in found.items():
        shelf, tools = uses[0][0].context.shelf, uses[0][0].tools
        mass_g = sum(amounts.base_g(base) for amounts, base in uses)
        weighed = [amounts.base(base) for amounts, base in uses]
        measured = measure(AskedAmount("base", mass_g), tools)
        if len({one.first.unit if one.first else "" for one in weighed}) == 1:
            measured = sum_measured(weighed, tools)
        yield DayMelt(thing, shelf.of_kind(thing[0])[thing[1]].name, mass_g, measured)


def day_step_text(one: RoundSteps, timed: TimedStep) -> str:
    """A step of a day as a sentence; "" for what is said with another step."""
    return plain_text(day_step_words(one, timed))


def day_step_words(one: RoundSteps, timed: TimedStep) -> CardWords:
    """A step of a day as a sentence, nothing in bold; empty for what is said with another step.

    Unlike on a card, the bars are left on one day and unmoulded on another.
    """
    words: CardWords = step_words(one, timed)
    if timed.step.kind == "set out":
        words = set_out_words(one, by_name=True)
    elif timed.step.kind == "set":
        words = leave_words(one, timed.step.minutes)
    elif timed.step.kind == "unmould":
        words = unmould_words(one)
    return joined_words([(_without_tone(word),) for word in words])


def _without_tone(word: CardWord) -> CardWord:
    """A word without its weight; what is in another language stays marked."""
    if isinstance(word, TextRun) and word.language:
        return TextRun(word.text, language=word.language)
    return plain_text((word,))
