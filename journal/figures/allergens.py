"""Which fragrance allergens of a bar are to be named, from the oils' certificates."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.allergens_eu import ALLERGENS, PROHIBITED, Allergen

# Above which share of the finished product is an allergen named? Regulation (EC)
# 1223/2009 Annex III: above 0.01 % of what is rinsed off (0.001 % of what is left on).
RINSE_OFF_SHARE = 1e-4
# "Above" is meant of the shares as they were written; a product of floats may
# lie a hair over a threshold that it meets exactly.
FLOAT_SLACK = 1e-9


class OilInBar(Struct, frozen=True):
    """One oil in a bar: its share of the whole bar, and what its certificate lists."""

    oil: str
    bar_share: float
    allergens: tuple[tuple[str, float], ...]


class AllergenInBar(Struct, frozen=True):
    """An entry of the list with its share of the whole bar, over all oils.

    ``due`` and ``due_on_all`` are the days from which newly placed products,
    and all products on sale, must name it.
    """

    entry: int
    name: str
    bar_share: float
    oils: tuple[str, ...]
    due: date
    due_on_all: date
    note: str


class AllergensOfBar(Struct, frozen=True):
    """What a bar's oils hold: to be named, below the threshold, and not on the list.

    ``prohibited`` names materials that a cosmetic in the European Union may
    not contain at all, with the oil that lists them.
    """

    named: tuple[AllergenInBar, ...]
    below: tuple[AllergenInBar, ...]
    unlisted: tuple[str, ...]
    prohibited: tuple[tuple[str, str], ...]


# A few hundred names are asked for over and over.
@lru_cache(maxsize=4096)
def letters_of(name: str) -> str:
    """A name without case, blanks, hyphens and other marks, for comparing.

    Takes:  name  any text
    Gives:  its letters and digits in lower case
    Fails:  never
    Source: definition
    Checked: "alpha-Isomethyl Ionone" gives "alphaisomethylionone"
    """
    return "".join(filter(str.isalnum, name.casefold()))


def _spellings(allergen: Allergen) -> set[str]:
    """The ways in which an entry may be written: its name, its group, and either
    half of a name that has a second one in parentheses."""
    written = {allergen.name, *allergen.inci}
    for name in allergen.inci:
        before, bracket, rest = name.partition("(")
        if bracket:
            written |= {before, rest.rstrip(")")}
    return {letters_of(name) for name in written}


def _by_spelling() -> dict[str, Allergen]:
    found: dict[str, Allergen] = {}
    for allergen in ALLERGENS:
        for spelling in _spellings(allergen):
            # Two entries under one spelling would hide the second.
            assert found.setdefault(spelling, allergen) is allergen, spelling
    return found


_ALLERGENS_BY_SPELLING = _by_spelling()
_PROHIBITED_BY_SPELLING = {letters_of(name): name for name in PROHIBITED}


def find_allergen(name: str) -> Allergen | None:
    """The entry of the list that a name belongs to.

    Takes:  name  label name, group name or INCI name, in any case
    Gives:  the entry, or None
    Fails:  never
    Source: Regulation (EC) 1223/2009 Annex III
    Checked: "geranial" gives entry 70, Citral
    """
    return _ALLERGENS_BY_SPELLING.get(letters_of(name))


def allergens_of_bar(oils: Sequence[OilInBar]) -> AllergensOfBar:
    """Allergens of a bar, summed over its oils and over the names of a group.

    share in the bar = sum over oils of (share in the oil x share of the oil in
    the whole bar); named when it is above 0.01 % (strictly; a rinse-off
    product). All entries are looked at whatever the day; each carries the
    days from which it is due.

    Takes:  oils  shares 0 to 1; scalar each
    Gives:  named and below, each by share, largest first, then by name
    Fails:  FigureError if a share lies outside 0 to 1
    Source: Regulation (EC) 1223/2009 Annex III, Regulation (EU) 2023/1545
    Checked: an oil of 2 % linalool at 3 % of the bar: 0.06 %, named
    """
    shares: dict[int, float] = {}
    origins: dict[int, list[str]] = {}
    unlisted: list[str] = []
    prohibited: list[tuple[str, str]] = []
    for oil in oils:
        if not 0 <= oil.bar_share <= 1:
            raise FigureError(f"{oil.oil} is {oil.bar_share} of the bar; a share is 0 to 1")
        for name, share in oil.allergens:
            if not 0 <= share <= 1:
                raise FigureError(f"{name} is {share} of {oil.oil}; a share is 0 to 1")
            barred = _PROHIBITED_BY_SPELLING.get(letters_of(name))
            if barred is not None:
                if share > 0:
                    prohibited.append((barred, oil.oil))
                continue
            allergen = find_allergen(name)
            if allergen is None:
                if name not in unlisted:
                    unlisted.append(name)
                continue
            shares[allergen.entry] = shares.get(allergen.entry, 0.0) + share * oil.bar_share
            sources = origins.setdefault(allergen.entry, [])
            if oil.oil not in sources:
                sources.append(oil.oil)
    found = [
        AllergenInBar(
            allergen.entry,
            allergen.name,
            shares[allergen.entry],
            tuple(origins[allergen.entry]),
            allergen.due,
            allergen.due_on_all,
            allergen.note,
        )
        for allergen in ALLERGENS
        if allergen.entry in shares
    ]
    found.sort(key=lambda allergen: (-allergen.bar_share, allergen.name))
    limit = RINSE_OFF_SHARE * (1 + FLOAT_SLACK)
    return AllergensOfBar(
        tuple(allergen for allergen in found if allergen.bar_share > limit),
        tuple(allergen for allergen in found if allergen.bar_share <= limit),
        tuple(unlisted),
        tuple(prohibited),
    )
