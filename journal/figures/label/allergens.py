"""The fragrance allergens of a bar that its label must name, from the oils' certificates.

The list is ``allergens_eu.csv``: Regulation (EC) 1223/2009 Annex III as amended by Regulation
(EU) 2023/1545 (OJ L 188, 27.7.2023). Its entries, names on the label, INCI names and CAS numbers
are from a public transcription of the consolidated text of 18 May 2026, cross-checked with two
others. ``listed`` tells how an entry came to be declared: "first" with Directive 2003/15/EC (from
memory), "older" for an earlier entry declared since 2023/1545, "new" with 2023/1545, whose
entries newly placed products name from 1 August 2026 and all products from 1 August 2028.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.label.regions import REGIONS

# Above which share of the finished product is an allergen named? Regulation (EC)
# 1223/2009 Annex III: above 0.01 % of what is rinsed off (0.001 % of what is left on).
RINSE_OFF_SHARE = 1e-4
# "Above" is meant of the shares as they were written; a product of floats may
# lie a hair over a threshold that it meets exactly.
FLOAT_SLACK = 1e-9

# Which fragrance materials may a cosmetic in the European Union not contain at all?
# Annex II; the first three by Regulation (EU) 2017/1410 (no product on sale since
# 23 August 2021), the last by Regulation (EU) 2021/1902 (since 1 March 2022).
PROHIBITED = (
    "Hydroxyisohexyl 3-Cyclohexene Carboxaldehyde",
    "Atranol",
    "Chloroatranol",
    "Butylphenyl Methylpropional",
)


class OilInBar(Struct, frozen=True):
    """One oil in a bar: its share of the whole bar, and what its certificate lists."""

    oil: str
    bar_share: float
    allergens: tuple[tuple[str, float], ...]


class AllergensOfBar(Struct, frozen=True):
    """The allergens and prohibited materials in a bar's oils.

    ``named`` are the allergens above the threshold, each with its share of the whole bar.
    ``prohibited`` names materials that a cosmetic in the European Union may
    not contain at all, with the oil that lists them.
    """

    named: tuple[tuple[str, float], ...]
    prohibited: tuple[tuple[str, str], ...]


# A few hundred names are compared over and over.
@lru_cache(maxsize=4096)
def letters_of(name: str) -> str:
    """The letters and digits of a name in lower case, for comparing names.

    Takes:  name  any text
    Gives:  its letters and digits in lower case
    Source: definition
    Checked: "alpha-Isomethyl Ionone" gives "alphaisomethylionone"
    """
    return "".join(filter(str.isalnum, name.casefold()))


@cache
def _label_names() -> Mapping[str, str]:
    """A mapping from the letters of every spelling of an allergen to its name on the label.

    An entry may be written as its label name, as any name of its group, and as either half of a
    name that has a second one in parentheses.
    """
    names: dict[str, str] = {}
    with Path(__file__).with_name("allergens_eu.csv").open(encoding="utf-8", newline="") as lines:
        for entry in csv.DictReader(lines):
            written = {entry["name"], *entry["inci"].split("|")}
            for name in tuple(written):
                before, bracket, rest = name.partition("(")
                if bracket:
                    written |= {before, rest.rstrip(")")}
            for spelling in map(letters_of, written):
                # Two entries under one spelling would hide the second.
                assert names.setdefault(spelling, entry["name"]) == entry["name"], spelling
    return names


def find_allergen(name: str) -> str | None:
    """The name on the label of the listed allergen that a name belongs to.

    Takes:  name  label name, group name or INCI name, in any case
    Gives:  the entry's name on the label; None if the name is not listed
    Source: Regulation (EC) 1223/2009 Annex III
    Checked: "geranial" gives Citral (entry 70)
    """
    return _label_names().get(letters_of(name))


def named_in_region(
    region: str, allergens: Sequence[tuple[str, float]]
) -> tuple[tuple[str, float], ...]:
    """The allergens that a region names: in Great Britain those of the first list alone.

    Takes:  region     "us", "eu" or "uk"; of another nobody here knows
            allergens  names on the label, each with its share of the bar
    Gives:  those to name, in their order
    Source: Regulation (EU) 2023/1545 is not law in Great Britain (a laboratory's public notice)
    Checked: Linalool stays in the UK, Menthol does not
    """
    if region not in REGIONS:
        return ()
    if region != "uk":
        return tuple(allergens)
    first = _first_listed()
    return tuple((name, share) for name, share in allergens if name in first)


@cache
def _first_listed() -> frozenset[str]:
    with Path(__file__).with_name("allergens_eu.csv").open(encoding="utf-8", newline="") as lines:
        return frozenset(row["name"] for row in csv.DictReader(lines) if row["listed"] == "first")


def allergens_of_bar(oils: Sequence[OilInBar]) -> AllergensOfBar:
    """Allergens of a bar, summed over its oils and over the names of a group.

    share in the bar = sum over oils of (share in the oil x share of the oil in
    the whole bar); named when it is above 0.01 % (strictly; a rinse-off
    product). All entries count, whatever the day.

    Takes:  oils  shares 0 to 1; scalar each
    Gives:  those named by share, largest first, then by name; those prohibited
    Fails:  FigureError if a share lies outside 0 to 1
    Source: Regulation (EC) 1223/2009 Annex III, Regulation (EU) 2023/1545
    Checked: an oil of 2 % linalool at 3 % of the bar: 0.06 %, named
    """
    prohibited_names = {letters_of(name): name for name in PROHIBITED}
    shares: dict[str, float] = {}
    prohibited: list[tuple[str, str]] = []
    for oil in oils:
        if not 0 <= oil.bar_share <= 1:
            raise FigureError(f"{oil.oil} is {oil.bar_share} of the bar; a share is 0 to 1")
        for name, share in oil.allergens:
            if not 0 <= share <= 1:
                raise FigureError(f"{name} is {share} of {oil.oil}; a share is 0 to 1")
            barred = prohibited_names.get(letters_of(name))
            allergen = find_allergen(name)
            if barred is not None:
                if share > 0:
                    prohibited.append((barred, oil.oil))
            elif allergen is not None:
                shares[allergen] = shares.get(allergen, 0.0) + share * oil.bar_share
    limit = RINSE_OFF_SHARE * (1 + FLOAT_SLACK)
    named = sorted(
        ((name, share) for name, share in shares.items() if share > limit),
        key=lambda entry: (-entry[1], entry[0]),
    )
    return AllergensOfBar(tuple(named), tuple(prohibited))
