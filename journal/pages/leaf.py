"""What a recipe card is made of, ready to print."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from journal.pages.parts import Frame, Words

CardSize = Literal["4x6in", "a6", "half-letter", "a5"]
SheetName = Literal["", "a4", "a4-wide", "letter", "letter-wide"]

# How many cards of a size go on a sheet of paper, and which way the sheet lies.
# Width x height in mm: 4x6in 101.6 x 152.4, a6 105 x 148, half-letter 139.7 x 215.9,
# a5 148 x 210, A4 210 x 297, Letter 215.9 x 279.4 (ISO 216; ANSI/ASME Y14.1).
ON_SHEET: Final[dict[tuple[CardSize, str], tuple[SheetName, int]]] = {
    ("4x6in", "letter"): ("letter", 2),
    ("4x6in", "a4"): ("a4", 2),
    ("a6", "letter"): ("letter", 2),
    ("a6", "a4"): ("a4", 4),
    ("half-letter", "letter"): ("letter-wide", 2),
    ("half-letter", "a4"): ("a4", 1),
    ("a5", "letter"): ("letter", 1),
    ("a5", "a4"): ("a4-wide", 2),
}


@dataclass(frozen=True, slots=True)
class Weight:
    """A line to weigh: large in the maker's first system, beneath it the second.

    ``layer`` is given on the first line of a layer; ``each`` is the amount a round
    where there are several; ``mind`` is a word of madder, such as "over the limit".
    """

    what: str
    first: str
    second: str = ""
    layer: str = ""
    each: str = ""
    mind: str = ""


@dataclass(frozen=True, slots=True)
class Leaf:
    """One leaf of a card; a long recipe has several, each with its heading.

    ``leaf`` is "1 of 2" or nothing; ``lines`` are the words before each line to
    write on; ``version`` stands in the corner.
    """

    anchor: str
    title: str
    sub: str
    bars: str
    version: str
    leaf: str = ""
    rounds: Words = ()
    weights: tuple[Weight, ...] = ()
    steps: tuple[Words, ...] = ()
    watch: tuple[Words, ...] = ()
    cautions: str = ""
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CardPage:
    """Cards of one size; ``sheet`` names the paper when several go on one."""

    frame: Frame
    title: str
    size: str
    sheets: tuple[tuple[Leaf, ...], ...]
    sheet: SheetName = ""
    lead: Words = ()
    folio: str = ""
    about: str = ""
