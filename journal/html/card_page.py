"""The parts of a recipe card, ready to print."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from markupsafe import Markup
from msgspec import Struct

from journal.charts.drawing import InkDrawing
from journal.html.blocks import Block, PageFrame, PageTable, TextRun, Tone, Words

CardSize = Literal["4x6in", "a6", "half-letter", "a5"]
CardTypeSize = Literal["", "large", "close", "large close"]


class CardAmount(NamedTuple):
    """A text that depends on the number of bars; ``place`` is its place in the card's table.

    The table has the text for every number of bars of a round: the script on the page puts the
    one for another number in its place. What stands between two ``**`` is bold.
    """

    text: str
    place: int
    tone: Tone = ""


CardWord = TextRun | str | CardAmount
CardWords = tuple[CardWord, ...]


def marked_words(text: str) -> Words:
    """The words of a text in which bold stands between two ``**``."""
    parts = enumerate(text.split("**"))
    return tuple(TextRun(part, "strong") if n % 2 else part for n, part in parts if part)


def plain_text(words: Iterable[CardWord]) -> str:
    """The words as one text, without their tones and links."""
    return "".join(
        word if isinstance(word, str)
        else word.text.replace("**", "") if isinstance(word, CardAmount)
        else word.text
        for word in words
    )  # fmt: skip


class WeighLine(Struct, frozen=True):
    """A line to weigh for one round: the amount by one tool, beneath it by another.

    ``layer`` stands on the first line of a layer or pot; ``mind`` is what stands out, such as
    "over the limit of 1.2 %".
    """

    what: str
    first: CardWords
    second: CardWords = ()
    layer: str = ""
    mind: CardWords = ()


class CardStep(NamedTuple):
    """A step to tick off, and how long after the begin it comes (``0:18``), where that is said.

    ``hidden`` is one that only other numbers of bars have.
    """

    words: CardWords
    at: CardWords = ()
    hidden: bool = False


class RoundRow(NamedTuple):
    """One thing to measure, over the rounds: the first, each further, a smaller last; in all.

    ``layer`` stands on the first line of a layer or pot. What there is no round for is empty.
    """

    what: str
    layer: str
    cells: tuple[str, str, str, str]


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

    ``leaf`` is "1 of 2" or nothing; ``state`` is what stands first, such as "Trial."; ``stop``,
    before it in the largest type, that it is not to be poured for safety; ``intro``
    are the sentences above the weights; ``lines`` are rows of lines to write on. In the corner
    stand ``dated``, ``printed`` with the day ``printed_on`` (empty: the day of printing, which a
    script or a hand writes), and ``version``. ``rows`` are what the rounds take, ``hidden`` until
    there are several, on the last leaf or on leaves of their own (``rows_only``). ``fit`` is the
    type size of a large card, and whether its lines stand close. ``card`` is the same on all
    leaves of a card; ``numbers``, on the first, are the texts for other numbers of bars.
    ``language`` is the code of the words' language, ``names`` that of titles and names where it is
    another; ``after`` is said
    before the time of a step where it is read out. ``drawing`` is the bar, in the corner of the
    heading.
    """

    anchor: str
    title: str
    sub: str
    bars: str
    version: str
    dated: str = ""
    printed: str = ""
    printed_on: str = ""
    leaf: str = ""
    fit: CardTypeSize = ""
    state: CardWords = ()
    stop: CardWords = ()
    rounds: CardWords = ()
    intro: tuple[CardWords, ...] = ()
    weights: tuple[WeighLine, ...] = ()
    steps: tuple[CardStep, ...] = ()
    rescue: tuple[CardWords, ...] = ()
    watch: tuple[CardWords, ...] = ()
    cautions: str = ""
    lines: tuple[tuple[WriteOnLine, ...], ...] = ()
    card: str = ""
    numbers: Markup = Markup("")
    rows: tuple[RoundRow, ...] = ()
    heads: tuple[str, ...] = ()
    scrapings: str = ""
    hidden: bool = False
    rows_only: bool = False
    drawing: InkDrawing | None = None
    caption: str = "Weigh out"
    after: str = ""
    language: str = "en-GB"
    names: str = ""


class CutMarks(Struct, frozen=True):
    """The marks to cut a sheet of several cards by, in mm, none of them on a card's text."""

    width: str
    height: str
    path: str


class CardPage(Struct, frozen=True, tag=True):
    """Cards of one size; ``sheet`` names the paper when several go on one.

    ``when`` says when to pour in the first card's round, on the screen, where ``moulds`` has the
    recipe in each mould of the shelf, folded. ``dangers`` are set as large as the title.
    """

    frame: PageFrame
    title: str
    size: CardSize
    sheets: tuple[tuple[CardLeaf, ...], ...]
    sheet: str = ""
    marks: CutMarks | None = None
    standfirst: Words = ()
    when: tuple[Block, ...] = ()
    folio: str = ""
    about: str = ""
    dangers: tuple[Words, ...] = ()
    moulds: PageTable | None = None
