"""A planned test in plain words: what it is likely to tell, and how it is laid out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from journal.comparison.observed import ComparedMeasure
from journal.comparison.planned.chances import PlanChance
from journal.comparison.planned.layout import PlannedTest
from journal.comparison.power import POWER
from journal.comparison.sentences import FormatAmount, plain_amount
from journal.quantities.rounding import rounded_to_step

_WHOLE = Decimal(1)

NOT_KNOWN = "How likely it is to tell is not known yet: no other design has this measured."


def pots_text(chance: PlanChance) -> str:
    """How much is poured: "4 pots of 6 bars"."""
    pots, bars = (
        f"{number} {noun}{'' if number == 1 else 's'}"
        for number, noun in ((chance.pots, "pot"), (chance.bars, "bar"))
    )
    return f"{pots} of {bars}"


def chance_text(chance: float) -> str:
    """A chance in hundredths, never none and never sure: "84 in 100"."""
    hundredths = int(rounded_to_step(100 * chance, _WHOLE))
    return f"{max(1, min(99, hundredths))} in 100"


def chance_sentences(
    planned: PlanChance,
    chances: Sequence[PlanChance],
    measure: ComparedMeasure,
    as_text: FormatAmount = plain_amount,
) -> Iterator[str]:
    """Yield how likely so many pots are to tell what matters, and how many tell in 4 of 5 tests.

    Takes:  planned  the pots that are meant to be poured
            chances  those of other numbers of pots, fewest first
    """
    if planned.chance is None:
        yield NOT_KNOWN
        return
    matters = as_text(measure.matters, measure)
    if not planned.chance:
        yield f"{pots_text(planned)}: too few to tell a difference of {matters} at all."
    else:
        yield (
            f"{pots_text(planned)}: {chance_text(planned.chance)}"
            f" that a difference of {matters} is told."
        )
    if planned.chance >= POWER:
        return
    enough = next((one for one in chances if one.chance and one.chance >= POWER), None)
    if enough is None:
        yield f"Even {pots_text(chances[-1])} would not tell it in 4 tests of 5."
    else:
        yield f"{pots_text(enough)} would tell it in 4 tests of 5."


def layout_sentence(test: PlannedTest) -> str:
    """How a test is laid out, and by what."""
    if test.by == "pots":
        return (
            f"{test.blocked} pots a day, one of each, in an order that was drawn by lot."
            " Pour them one after the other."
        )
    if test.blocked == len(test.compared):
        held = "a pair" if test.blocked == 2 else f"a set of {test.blocked}"
        return (
            f"Cavities poured one after the other make {held}."
            " Which of them gets which was drawn by lot."
        )
    each = test.blocked // len(test.compared)
    return f"Each pot has {each} of each. Where was drawn by lot."


def deviation_sentence(deviations: Sequence[str]) -> str:
    """Where a plan was not kept, and what follows; "" where it was."""
    if not deviations:
        return ""
    return (
        f"The plan was not kept: {'; '.join(deviations)}."
        ' So the answer is at most "perhaps": the order may explain it.'
    )
