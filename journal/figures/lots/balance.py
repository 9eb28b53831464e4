"""Mass balance of a pour's pots, and what it took of the shelf for good."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from fractions import Fraction

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.exact import ExactNumber, exact_fraction
from journal.figures.recipe.leftovers import jug_loss_g, left_behind


class PouredInto(Struct, frozen=True):
    """What one layer took of a pot, over all bars: base that stays, and base scraped back.

    ``shares`` are those of its bases and leftovers, by (kind, id); they sum to 1.
    """

    stays_g: float
    scraped_g: float
    shares: tuple[tuple[tuple[str, str], float], ...]


class PotBalance(Struct, frozen=True):
    """A pot of a pour: what was melted is in the bars, left over, or in the jug.

    ``written`` is whether the melt was noted, or else worked out from the recipe; ``short_g`` is
    how much too little was melted for the rest. ``taken`` is what did not go back, of each base
    and leftover in grams: bars and jug.
    """

    pot: str
    melted_g: float
    bars_g: float
    left_g: float
    jug_g: float
    short_g: float
    written: bool
    taken: tuple[tuple[tuple[str, str], float], ...]


class Taken(Struct, frozen=True):
    """What a pour took of one thing on the shelf; None in a unit that nobody can tell."""

    kind: str
    name: str
    mass_g: float | None = None
    volume_ml: float | None = None
    pieces: int | None = None


class TakenOn(Struct, frozen=True):
    """All that one pour took of the shelf for good, and the balance of its pots."""

    pour: str
    day: date
    pots: tuple[PotBalance, ...]
    taken: tuple[Taken, ...]


class AmountLeft(Struct, frozen=True):
    """What is left of a thing that was counted: ``left`` of ``counted``, in ``unit``.

    ``left`` is below 0 where more was poured than there was. ``since`` is the day of the count, if
    it was noted; ``pours`` how many took of it since, ``unknown`` those of which nobody can tell
    how much; ``low`` is whether there is less than the shelf should have.
    """

    unit: str
    counted: Fraction
    used: Fraction
    since: date | None
    pours: int
    unknown: int
    low: bool = False

    @property
    def left(self) -> Fraction:
        """Counted less used."""
        return self.counted - self.used


def pot_balance(
    pot: str,
    layers: Sequence[PouredInto],
    melted_g: float | None,
    waste_share: float,
    least_g: float,
) -> PotBalance:
    """Where the melt of a pot went.

    Takes:  layers       those poured from it; grams; >= 0
            melted_g     as it was noted; None: what the recipe melts, so that only what is scraped
                         back is left
            waste_share  0 to 1, ``least_g`` grams a pot: what stays in the jug
    Gives:  melted + short = bars + left + jug
    Fails:  FigureError if any lies outside its range
    Source: definition (mass balance)
    Checked: 600 g melted, 540 g stay, 3 % in the jug (16.2 g): 43.8 g left, 556.2 g taken
    """
    stays = math.fsum(one.stays_g for one in layers)
    scraped = math.fsum(one.scraped_g for one in layers)
    lost = jug_loss_g(stays + scraped, waste_share, least_g)
    melted = stays + scraped + lost if melted_g is None else melted_g
    left = left_behind(melted, stays, lost)
    taken_g = melted - left.left_g
    taken: dict[tuple[str, str], list[float]] = {}
    for one in layers:
        for thing, share in one.shares:
            part = one.stays_g / stays if stays else 1 / len(layers)
            taken.setdefault(thing, []).append(taken_g * part * share)
    return PotBalance(
        pot, melted, stays, left.left_g, lost, left.short_g, melted_g is not None,
        tuple((thing, math.fsum(parts)) for thing, parts in taken.items()),
    )  # fmt: skip


# How is each unit of the shelf written in ``Taken``?
TAKEN_FIELDS: Mapping[str, str] = {"g": "mass_g", "mL": "volume_ml", "each": "pieces"}


def amount_left(
    unit: str, counted: ExactNumber, since: date | None, taken: Iterable[tuple[date, Taken]]
) -> AmountLeft:
    """What is left of a thing: what was counted, less what was poured on later days.

    Takes:  unit     g, mL or each
            counted  in that unit, at the end of the day ``since``; >= 0. Without a day nothing is
                     taken off
            taken    what pours took of it, with their days
    Fails:  FigureError for an amount below 0 or another unit
    Source: definition; "if nothing was thrown away"
    Checked: 8000 g on 1 November, pours of 1500 and 1300 g after it and of 900 g on the day
             itself: 5200 g
    """
    if unit not in TAKEN_FIELDS:
        raise FigureError(f'"{unit}" is none of {", ".join(TAKEN_FIELDS)}')
    count = exact_fraction(counted)
    later = [getattr(one, TAKEN_FIELDS[unit]) for day, one in taken if since and day > since]
    known = [exact_fraction(one) for one in later if one is not None]
    if count < 0 or any(one < 0 for one in known):
        raise FigureError("an amount on the shelf cannot be below 0")
    used = sum(known, Fraction(0))
    return AmountLeft(unit, count, used, since, len(later), len(later) - len(known))
