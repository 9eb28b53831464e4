"""The texts from which the script on a card's page rescales it to other numbers of bars.

A card is made once for each number of bars of a round. Where the words differ, the page has
all of them in a table, and the script (``rescale.js`` of the theme) only picks: it works out
nothing but how many rounds there are.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from itertools import zip_longest
from typing import Any, Final

from markupsafe import Markup
from msgspec.structs import replace

from journal.html.blocks import TextRun
from journal.html.card_page import (
    CardAmount,
    CardLeaf,
    CardStep,
    CardWord,
    CardWords,
    marked_words,
    plain_text,
)
from journal.html.text_width import text_width

# Cards are rescaled on the page up to so many bars; the command makes any number.
MOST_BARS: Final = 48

# What stands where words differ: the card's own, those of all numbers of bars, and their tone.
Choose = Callable[[str, tuple[str, ...], Any], CardWords]


class TextTable:
    """Texts for each number of bars of a round, each row once."""

    def __init__(self) -> None:
        self.rows: dict[tuple[str, ...], int] = {}

    def amount(self, own: str, texts: tuple[str, ...], tone: Any) -> CardWords:
        """A text that the script picks from the table."""
        return (CardAmount(own, self.rows.setdefault(texts, len(self.rows)), tone),)


def widest_text(own: str, texts: tuple[str, ...], tone: Any) -> CardWords:
    """The widest of the texts, to measure a card by that has room for each of them."""
    widest = max((own, *texts), key=lambda text: text_width(text, "bold", 10.0))
    return (TextRun(widest, tone),) if tone else marked_words(widest)


def with_amounts(own: CardLeaf, every: Sequence[CardLeaf], choose: Choose) -> CardLeaf:
    """A card in which other words stand where other numbers of bars change them.

    ``every`` are the cards for 1, 2, … bars of a round. A step stands at its place among the
    steps, as in the order of each number of bars.
    """

    def merged(own_words: CardWords, all_words: Sequence[CardWords]) -> CardWords:
        return _merged(own_words, all_words, choose)

    def each(part: str) -> tuple[CardWords, ...]:
        lines = zip(getattr(own, part), *(getattr(one, part) for one in every), strict=True)
        return tuple(merged(words, others) for words, *others in lines)

    weights = tuple(
        replace(
            line,
            first=merged(line.first, [other.first for other in others]),
            second=merged(line.second, [other.second for other in others]),
            mind=merged(line.mind, [other.mind for other in others]),
        )
        for line, *others in zip(own.weights, *(one.weights for one in every), strict=True)
    )
    none = CardStep((), hidden=True)
    steps = tuple(
        CardStep(
            merged(step.words, [other.words for other in others]),
            merged(step.at, [other.at for other in others]),
            step.hidden,
        )
        for step, *others in zip_longest(
            own.steps, *(one.steps for one in every), fillvalue=none
        )
    )  # fmt: skip
    state = merged(own.state, [one.state for one in every])
    return replace(
        own,
        state=state,
        stop=merged(own.stop, [one.stop for one in every]),
        intro=each("intro"),
        weights=weights,
        steps=steps,
        rescue=each("rescue"),
    )


def _merged(own: CardWords, every: Sequence[CardWords], choose: Choose) -> CardWords:
    """The words of one card, with what is chosen in place of each that others have not."""
    if all(words == own for words in every):
        return own
    tones = tuple(map(_tone, own))
    if any(tuple(map(_tone, words)) != tones for words in every):
        said = {_tone(word) for words in (own, *every) for word in words}
        if len(said) == 1:
            return choose(plain_text(own), tuple(map(plain_text, every)), said.pop())
        return choose(marked_text(own), tuple(map(marked_text, every)), "")
    joined: list[CardWord] = []
    for place, word in enumerate(own):
        texts = tuple(_text(words[place]) for words in every)
        same = set(texts) == {_text(word)}
        joined.extend((word,) if same else choose(_text(word), texts, tones[place]))
    return tuple(joined)


def marked_text(words: CardWords) -> str:
    """Words as one text, with what is not plain between two ``**``."""
    return "".join(f"**{_text(word)}**" if _tone(word) else _text(word) for word in words)


def _text(word: CardWord) -> str:
    return word if isinstance(word, str) else word.text


def _tone(word: CardWord) -> Any:
    return word.tone if isinstance(word, TextRun) else ""


def card_numbers(texts: Mapping[str, Any], table: TextTable) -> Markup:
    """The texts of a card, as JSON that is safe in an attribute between single quotes."""
    numbers = {**texts, "texts": list(table.rows)}
    text = json.dumps(numbers, separators=(",", ":"), ensure_ascii=False)
    for letter, written in (("&", "&amp;"), ("<", "&lt;"), ("'", "&#39;")):
        text = text.replace(letter, written)
    # Whatever could end the attribute is written out above.
    return Markup(text)
