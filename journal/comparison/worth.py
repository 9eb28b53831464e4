"""What the choice between two variants is worth a bar: in tidying, bars fit to sell, materials.

Two differences of one comparison carry their own 95 % intervals here, and are turned into money:

tidying           minutes less x the hourly rate
bars fit to sell  share more x what a bar costs: what was spent on a bar that is not sold is lost.
                  The price foregone would be right only where every bar that is fit is sold. What
                  of a lost bar is melted again is not taken off.

Ends of the two intervals are added. That is the rule of Zou and Donner (Stat. Med. 27 (2008) 1693,
"MOVER") for a correlation of 1: whatever the correlation of the two is, the deviation of a sum is
no more than the sum of the deviations, so that the interval is no narrower than it should be. Both
are of the same bars, and a bar that takes long to tidy is often one that is not sold: to take them
as independent would make it too narrow. What materials cost is reckoned, and has no interval.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from msgspec import Struct

from journal.comparison.comparing import VariantComparison
from journal.errors import FigureError
from journal.figures.common.exact import exact_fraction
from journal.figures.shop.cost import CostSheet, labour_cost

PartOfWorth = Literal["tidying", "bars fit to sell", "materials"]
PARTS_OF_WORTH: tuple[PartOfWorth, ...] = ("tidying", "bars fit to sell", "materials")
# The measures that can be turned into money.
TIDY, KEEP = "tidy", "keep"
# The part of a cost that differs by hands, not by materials.
_LABOUR = "labour"


class MeasuredDifference(NamedTuple):
    """A difference, second less first, with its 95 % interval; None where there is none."""

    estimate: float
    low: float | None
    high: float | None


class WorthOfPart(Struct, frozen=True):
    """What one part of a choice is worth a bar: above 0 if the second saves money.

    ``low`` and ``high`` are None without an interval. What is reckoned has both ends at ``money``.
    """

    part: PartOfWorth
    money: Fraction
    low: Fraction | None
    high: Fraction | None


class WorthOfChoice(Struct, frozen=True):
    """What taking the second of two variants in place of the first is worth a bar.

    ``bar`` is what a bar costs, as far as it is known: ``unknown`` names the parts of its cost
    that are not.
    """

    between: tuple[str, str]
    group: str
    parts: tuple[WorthOfPart, ...]
    bar: Fraction | None
    unknown: tuple[str, ...] = ()

    @property
    def money(self) -> Fraction:
        """The sum of the parts: above 0 if the second saves money."""
        return sum((one.money for one in self.parts), Fraction(0))

    @property
    def interval(self) -> tuple[Fraction, Fraction] | None:
        """The sums of the lower and of the upper ends; None if a part has no interval."""
        low, high = Fraction(0), Fraction(0)
        for one in self.parts:
            if one.low is None or one.high is None:
                return None
            low, high = low + one.low, high + one.high
        return low, high


def worth_of_difference(
    part: PartOfWorth, difference: MeasuredDifference, money_each: Fraction
) -> WorthOfPart:
    """Turn a difference, second less first, into what it is worth to take the second.

    Takes:  difference  in minutes or as a share
            money_each  what one more costs (a minute) or saves (below 0: a bar fit to sell)
    Gives:  money a bar, exact; the ends change places where more costs money
    Fails:  FigureError if a number is not finite
    Source: definition
    Checked: 3 min less, from 2 to 4 less, at 0.30 a minute is worth 0.90, from 0.60 to 1.20
    """
    estimate, low, high = (
        None if value is None else -exact_fraction(value, "a difference") * money_each
        for value in difference
    )
    assert estimate is not None
    if low is None or high is None:
        return WorthOfPart(part, estimate, None, None)
    return WorthOfPart(part, estimate, min(low, high), max(low, high))


def worth_of_choice(
    between: tuple[str, str],
    group: str,
    tidy: MeasuredDifference | None,
    keep: MeasuredDifference | None,
    *,
    labour: Decimal | None,
    bar: Fraction | None,
    materials: Fraction | None = None,
    unknown: tuple[str, ...] = (),
) -> WorthOfChoice | None:
    """What taking the second of two variants is worth a bar; None if nothing of it is known.

    Takes:  tidy       difference of the minutes that a bar takes to tidy, None if not measured
            keep       difference of the shares of bars fit to sell, None if not measured
            labour     money an hour, None if not set
            bar        what a bar costs, as far as it is known, None if nothing is
            materials  what a bar of the second costs more but for labour; None if not known
            unknown    the parts of a bar's cost that are not known
    Fails:  FigureError for a cost below 0, or a share that is none
    Source: definition; interval: Zou and Donner 2008, at the head of this module
    Checked: by hand in the tests: 1.50 for tidying and 2.00 for bars fit to sell
    """
    parts: list[WorthOfPart] = []
    if tidy is not None and labour is not None:
        parts.append(worth_of_difference("tidying", tidy, labour_cost(1, labour)))
    if keep is not None and bar is not None:
        if bar < 0 or not -1 <= keep.estimate <= 1:
            raise FigureError(
                f"a share of {keep.estimate} of a bar for {bar} is not worth anything"
            )
        parts.append(worth_of_difference("bars fit to sell", keep, -bar))
    if not parts:
        return None
    if materials:
        parts.append(WorthOfPart("materials", -materials, -materials, -materials))
    return WorthOfChoice(between, group, tuple(parts), bar, unknown)


def worth_of_choices(
    comparisons: Sequence[VariantComparison],
    variants: Sequence[str],
    costs: Mapping[str, CostSheet],
    as_written: str,
    labour: Decimal | None,
) -> Iterator[WorthOfChoice]:
    """What each choice between two variants of a design is worth, in the order of its pairs.

    Takes:  comparisons  of the design, those that decide first
            variants     names of all its variants
            costs        by variant; one that costs what the recipe does need not be there
            as_written   the name of the recipe as written among the costs
            labour       money an hour, None if not set
    """
    by_pair: dict[tuple[str, tuple[str, str]], dict[str, MeasuredDifference]] = {}
    for entry in comparisons:
        measured = by_pair.setdefault((entry.group, entry.between), {})
        if entry.difference is not None and entry.by in (TIDY, KEEP):
            difference = MeasuredDifference(entry.difference, entry.low, entry.high)
            measured.setdefault(entry.by, difference)
    written = costs.get(as_written)
    bar = None if written is None else exact_fraction(written.known) / written.bars
    for (group, between), measured in by_pair.items():
        pair = _cost_of_pair(between, variants, costs, written)
        worth = worth_of_choice(
            between,
            group,
            measured.get(TIDY),
            measured.get(KEEP),
            labour=labour,
            bar=bar or None,
            materials=None if pair is None else _materials_more(*pair),
            unknown=() if written is None else written.missing,
        )
        if worth is not None:
            yield worth


def _cost_of_pair(
    between: tuple[str, str],
    variants: Sequence[str],
    costs: Mapping[str, CostSheet],
    written: CostSheet | None,
) -> tuple[CostSheet, CostSheet] | None:
    """The costs of two variants that differ by one choice alone; None if there are none."""
    first, second = between
    for name in variants:
        # A variant of several groups is named by its choices: close/dye.
        other = "/".join(second if part == first else part for part in name.split("/"))
        if other != name and other in variants:
            a, b = costs.get(name, written), costs.get(other, written)
            if a is not None and b is not None:
                return a, b
    return None


def _materials_more(first: CostSheet, second: CostSheet) -> Fraction | None:
    """What a bar of the second costs more but for labour; None if a part is known of one alone.

    It is worked from the rounded parts of the batches, and so may miss a cent of a batch.
    """
    more = Fraction(0)
    for (name, a), (_, b) in zip(first.batch.parts, second.batch.parts, strict=True):
        if name == _LABOUR or (a is None and b is None):
            continue
        if a is None or b is None:
            return None
        more += exact_fraction(b) / second.bars - exact_fraction(a) / first.bars
    return more
