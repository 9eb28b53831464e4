"""The parts of a recipe card, ready to print."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from markupsafe import Markup
from msgspec import Struct

from journal.html.blocks import PageFrame, TextRun, Tone, Words

CardSize = Literal["4x6in", "a6", "half-letter", "a5"]
RoundScope = Literal["all", "round", "last"]
CardTypeSize = Literal["", "large"]
# The format of a figure: masses and volumes, then words for a number of pieces, for an
# oil and its limit, for a leftover and the amount that there is.
AmountFormat = Literal[
    "g", "us", "oil-g", "ml", "spoons", "oil-ml", "drops", "about",
    "pieces", "each", "limit", "and-limit", "left",
]  # fmt: skip


class CardAmount(NamedTuple):
    """A figure that depends on the number of bars, as it is shown for this number.

    ``of`` names the figure, ``show`` how it is rounded and written, ``scope``
    whether it is for all bars, for one round, or for the last round: from these the
    script on the page works it out again for another number of bars. The text may
    be empty: a warning that only another number of bars calls for.
    """

    text: str
    of: str
    show: AmountFormat
    scope: RoundScope = "all"
    tone: Tone = ""


CardWord = TextRun | str | CardAmount
CardWords = tuple[CardWord, ...]


def plain_text(words: Iterable[CardWord]) -> str:
    """The words as one text, without their tones and links."""
    return "".join(word if isinstance(word, str) else word.text for word in words)


class WeighLine(Struct, frozen=True):
    """A line to weigh: the amount in the maker's first system, beneath it in the second.

    ``layer`` stands on the first line of a layer or pot; ``each`` is the amount a
    round where there are several; ``mind`` is a warning in madder, such as "over the
    limit of 1.2 %".
    """

    what: str
    first: CardWords
    second: CardWords = ()
    layer: str = ""
    each: CardWords = ()
    mind: CardWords = ()


class WriteOnLine(NamedTuple):
    """A line to write on, ``span`` (1 to 3) columns wide, with a label of so many ``rows``.

    A ``spare`` line is left out if the card would need one more leaf for it.
    """

    label: str
    span: int = 1
    rows: int = 1
    spare: bool = False


class CardLeaf(Struct, frozen=True):
    """One leaf of a card; a long recipe has several, each with its heading.

    ``leaf`` is "1 of 2" or nothing; ``lines`` are rows of lines to write on;
    ``dated`` and ``version`` stand in the corner, in the last of these rows if
    ``beside``. ``fit`` is the type size that a large card is set in. ``card`` is the same
    on all leaves of a card; ``numbers``, on the first, are those from which the script
    rescales the card. ``language`` is the code of the words' language.
    """

    anchor: str
    title: str
    sub: str
    bars: str
    version: str
    dated: str = ""
    leaf: str = ""
    fit: CardTypeSize = ""
    rounds: CardWords = ()
    weights: tuple[WeighLine, ...] = ()
    steps: tuple[CardWords, ...] = ()
    watch: tuple[CardWords, ...] = ()
    cautions: str = ""
    lines: tuple[tuple[WriteOnLine, ...], ...] = ()
    beside: bool = False
    card: str = ""
    numbers: Markup = Markup("")
    caption: str = "To weigh"
    language: str = "en-GB"


class CutMarks(Struct, frozen=True):
    """The marks to cut a sheet of several cards by, in mm, none of them on a card's text."""

    width: str
    height: str
    path: str


class CardPage(Struct, frozen=True, tag=True):
    """Cards of one size; ``sheet`` names the paper when several go on one."""

    frame: PageFrame
    title: str
    size: CardSize
    sheets: tuple[tuple[CardLeaf, ...], ...]
    sheet: str = ""
    marks: CutMarks | None = None
    lead: Words = ()
    folio: str = ""
    about: str = ""
