"""What a substance is called on a label by region, and which colours are permitted there.

``substances.csv`` has the names of what is no colour. EU and UK: the common names of ingredients
of Regulation (EC) 1223/2009 Art. 33; US: the common or usual name, 21 CFR 701.3(c), so neither
Aqua, Parfum, a Colour Index number alone nor a plant in Latin alone (FDA, "Cosmetic Ingredient
Names"). The pairs of names are from memory.

``colours.csv`` has the colours, as listed in November 2026: 21 CFR 73 subpart C and 74 subpart C
(``rule``; those of part 74, and lakes by part 82, only from certified lots), Regulation (EC)
1223/2009 Annex IV. ``read`` says for which region a row was held against a published list: the
FDA's "Color Additives Permitted for Use in Cosmetics" of 2019 and its list of certified colours;
ECHA's pages of Annex IV, its first rows in Greek, and the comparison of four regions in
J. Cosmet. Sci. 72 (2021) 487 and 494; the white, the iron oxides, the ultramarines and CI 74260
as quoted from the UK's copy of the Annex. None differed; all else is from memory. In the United
States a certified colour may go by its short name, Blue 1 for FD&C Blue No. 1 (FDA, letter of
7 June 1999).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from functools import cache, lru_cache
from pathlib import Path

from msgspec import Struct

from journal.figures.label.allergens import letters_of

# How a Colour Index number is written within a name.
_INDEX = re.compile(r"\bc\.?\s?i\.?\s*(\d{5}(?::\d)?)", re.IGNORECASE)
# A lake is a salt of its colour, and has its name with the metal between, or without.
_LAKE = re.compile(r"\s+((aluminum|aluminium|barium|calcium|zirconium)\s+)?lake$", re.IGNORECASE)


class Substance(Struct, frozen=True):
    """The names of a substance, and how it is listed as a colour.

    ``us`` or ``eu`` is empty where the region has no name for it. ``rule`` is its section of
    21 CFR; ``us_use`` and ``eu_use`` are the uses that it is listed for, empty if it is not
    listed: "yes", "all", or a limit in words; "carrier" bears colours and is none itself.
    """

    us: str
    eu: str
    rule: str = ""
    certified: bool = False
    us_use: str = ""
    eu_use: str = ""
    colour: bool = False


def _rows(file: str) -> Iterator[dict[str, str]]:
    with Path(__file__).with_name(file).open(encoding="utf-8", newline="") as lines:
        yield from csv.DictReader(lines)


@cache
def _substances() -> Mapping[str, Substance]:
    """All substances by the letters of each of their names; of two with one name the first."""
    found: dict[str, Substance] = {}
    for file in ("substances.csv", "colours.csv"):
        for row in _rows(file):
            one = Substance(
                row["us"], row["eu"], row.get("rule", ""), bool(row.get("certified")),
                row.get("us_use", ""), row.get("eu_use", ""), file == "colours.csv",
            )  # fmt: skip
            for name in filter(None, (row["eu"], row["us"], *row["others"].split("|"))):
                found.setdefault(letters_of(name), one)
    return found


@lru_cache(maxsize=4096)
def find_substance(name: str) -> Substance | None:
    """The substance of a name: by its Colour Index number, else by any of its names.

    Takes:  name  as a supplier writes it, such as "Titanium Dioxide (CI 77891)"
    Gives:  the substance; of a number that is in no list, one without a use; None if not known
    Source: see the module
    Checked: "CI 77891" gives Titanium Dioxide in the United States
    """
    index = _INDEX.search(name)
    if index is not None:
        number = f"CI {index[1]}"
        return _substances().get(letters_of(number)) or Substance("", number, colour=True)
    found = _substances().get(letters_of(name))
    return found or _substances().get(letters_of(_LAKE.sub("", name)))


def name_in_region(region: str, name: str) -> str:
    """The name of a substance on a label of a region; as it was written where none is known.

    Takes:  region  "us", "eu" or "uk"; any other has the names of the EU, which are INCI
            name    as written
    Gives:  the name; a lake of the United States keeps the word, and Iron Oxides without a number
            stays so everywhere: which of three they are is not known
    Source: see the module
    Checked: "CI 77891" is Titanium Dioxide in the US, "Water" is Aqua in the EU
    """
    found = find_substance(name)
    if found is None:
        return name
    if region == "us":
        lake = " Lake" if found.colour and _LAKE.search(name) else ""
        return f"{found.us}{lake}" if found.us else name
    if len(numbers_of(name)) > 1:
        return name
    return found.eu or name


@cache
def numbers_of(name: str) -> tuple[str, ...]:
    """The Colour Index numbers that a colour of the United States may stand for by its name.

    Takes:  name  as written
    Gives:  the names of all colours of that name in the European Union; empty for a number
    Source: see the module
    Checked: "Iron Oxides" gives CI 77489, CI 77491, CI 77492 and CI 77499
    """
    letters = letters_of(name)
    rows = (row for row in _rows("colours.csv") if letters_of(row["us"]) == letters)
    return tuple(row["eu"] for row in rows if row["eu"])


def is_colour(region: str, name: str) -> bool:
    """Whether a name is that of a colour; what is none is a carrier or another ingredient.

    Takes:  region  "us", "eu" or "uk"
            name    as written
    Gives:  True for a Colour Index number, and for any name in the lists of colours; mica is a
            colour in the United States (21 CFR 73.2496) and bears them in Europe
    Source: 21 CFR 73, 74 and 82; Regulation (EC) 1223/2009 Annex IV
    Checked: "CI 77891" is one, "Glycerin" is not
    """
    found = find_substance(name)
    return found is not None and found.colour and (region == "us" or found.eu_use != "carrier")


def colour_fault(region: str, name: str, certified: bool) -> str:
    """The reason that a bar with a colour may not be sold in a region; "" if it may.

    Takes:  region     "us", "eu" or "uk"
            name       of a colour, as written
            certified  whether its lot was certified by the FDA
    Gives:  a sentence without its full stop
    Source: 21 CFR 73, 74 and 82; Regulation (EC) 1223/2009 Art. 14(1)(c) and Annex IV
    Checked: CI 73015 (indigo) is listed in the EU and not for cosmetics in the US
    """
    found = find_substance(name)
    if found is None or not found.colour:
        return ""
    if region != "us":
        by = "Annex IV of Regulation (EC) 1223/2009"
        by += " as it stands in Great Britain" if region == "uk" else ""
        return (
            "" if found.eu_use else f"{name} is not permitted in a cosmetic: {by} does not list it"
        )
    if not found.us_use:
        return f"{name} is not permitted in a cosmetic: 21 CFR 73 and 74 do not list it"
    if found.us_use != "yes":
        return f"{name} is permitted for {found.us_use} (21 CFR {found.rule})"
    if found.certified and not certified:
        return (
            f"{name} is {found.us} only from a lot certified by the FDA (21 CFR {found.rule}):"
            " if its lot is, write certified: yes on the shelf"
        )
    return ""
