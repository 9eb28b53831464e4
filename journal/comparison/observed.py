"""The input of a comparison: bars, measures, variants, and the question asked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import Literal

from msgspec import Struct, field

from journal.errors import FigureError

MeasureKind = Literal["length", "count", "time", "mass", "rating", "yes-no"]
Better = Literal["lower", "higher"]
VariantTrialKind = Literal["bars", "pots"]
MeasuredValue = int | float | bool | None

# Things that can differ from bar to bar of a pot. Definition: what is cut, poured or
# sprayed for one cavity. All else (base, colour, scent, temperature, waits, the mould's tray) is
# shared by the bars of a pot. The last word of a dotted name counts.
BAR_BY_BAR = frozenset({"trim", "piece", "mat", "amount", "overpour", "spritz"})

# Measures that cannot be taken once the detail has come away with the mat.
# Definition: those that are taken at the detail or its border.
ON_THE_DETAIL = frozenset({"lip", "bleed", "relief"})


class ObservedBar(Struct, frozen=True):
    """One bar as it was poured, with its measured values.

    ``pot`` tells the pots of a pour apart; it may stay empty where the bars of a
    pour that share a variant share a pot. ``levels`` names the choice from each
    group of variants (trim -> close), and is empty where variants are not grouped.
    ``lifted`` is True where the detail came away, None where nobody looked.
    ``conditions`` are other things that may differ (base, mould, season) and could
    explain a difference. ``spoilt`` bars were dropped or lost, and are not judged. ``row`` is
    its place in the order of pouring, ``at`` its cavity, ``peeled`` its place in the order of
    peeling. ``block`` is that of its plan, "" where no plan was drawn or kept.
    """

    bar: str
    pour: str
    poured_on: date
    variant: str
    values: Mapping[str, MeasuredValue]
    pot: str = ""
    design: str = ""
    levels: Mapping[str, str] = field(default_factory=dict)
    lifted: bool | None = None
    conditions: Mapping[str, str] = field(default_factory=dict)
    spoilt: bool = False
    row: int = 0
    at: int | None = None
    peeled: int | None = None
    block: str = ""


class ComparedMeasure(Struct, frozen=True):
    """A measure of bars, and the smallest difference in it that matters.

    ``better`` is None where neither less nor more is better. ``matters`` is in the measure's
    stored unit, a share for yes/no. ``highest`` is the highest rating (ratings run from 1).
    """

    name: str
    kind: MeasureKind
    better: Better | None
    matters: float
    unit: str = ""
    highest: int | float = 5

    def __post_init__(self) -> None:
        if not (math.isfinite(self.matters) and self.matters > 0):
            raise FigureError(f"a difference in {self.name} of {self.matters} cannot matter")

    @property
    def needs_the_detail(self) -> bool:
        """Whether a bar with its detail lifted cannot be measured."""
        return self.name in ON_THE_DETAIL

    def is_fit(self, value: MeasuredValue) -> bool:
        """Whether a value is of this measure's kind and within its range."""
        if self.kind == "yes-no":
            return isinstance(value, bool)
        if isinstance(value, bool) or not isinstance(value, int | float):
            return False
        low, high = (1, self.highest) if self.kind == "rating" else (0, math.inf)
        return math.isfinite(value) and low <= value <= high


class ComparedVariant(Struct, frozen=True):
    """A variant, or one choice of a group, with its changes to the recipe.

    ``changes`` goes from the thing (``trim``, ``layers.body.pour``) to its new value
    as text; all other things are as in the recipe.
    """

    name: str
    group: str = ""
    changes: Mapping[str, str] = field(default_factory=dict)


class ComparisonQuestion(Struct, frozen=True):
    """The question that a test is to decide, written before pouring.

    ``compare`` names variants of ``group``; empty means all of that group. Pours
    before ``asked`` are hints. The verdict is looked for once ``until`` pours or bars have
    been measured, and once more at twice that; with ``last_look`` at every pour from ``until``
    to that one. ``matters`` overrides the measure's own.
    """

    by: str
    asked: date
    until: int
    until_of: Literal["pours", "bars"] = "pours"
    compare: tuple[str, ...] = ()
    group: str = ""
    matters: float | None = None
    last_look: int | None = None


def changed_between(a: ComparedVariant, b: ComparedVariant) -> tuple[str, ...]:
    """The things in which two variants of one group differ, sorted."""
    things = set(a.changes) | set(b.changes)
    return tuple(sorted(t for t in things if a.changes.get(t) != b.changes.get(t)))


def trials_of(things: tuple[str, ...]) -> VariantTrialKind:
    """The kind of trial when these things are changed: bars if each can differ within a pot."""
    alone = all(thing.rpartition(".")[2] in BAR_BY_BAR for thing in things)
    return "bars" if alone else "pots"
