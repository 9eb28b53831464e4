"""The last gate of an edition: finds private values in files that are about to be written.

A file is read as its reader sees it: letters of one width and case (NFKC, case folded), no marks
that nobody sees, tags and entities gone. A value is found over line ends and tags, in addresses,
titles and scripts, and in what a picture says of itself.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from decimal import Decimal
from io import BytesIO
from typing import Literal
from urllib.parse import unquote

from msgspec import Struct

from journal.errors import Position
from journal.quantities.show import show_money
from journal.records.codec import digest

#: What a private value is looked for as: words whatever stands between them, an id letter by
#: letter, money with its currency or its unit, a share of the price with the word for it.
Form = Literal["words", "id", "money", "margin", "wholesale"]
# Forms that are a share, told by the word beside it.
SHARE_FORMS: tuple[Form, ...] = ("margin", "wholesale")
#: A value with fewer letters stands for too many things.
LEAST_LETTERS = 4

WORD = re.compile(r"[^\W_]+")
_PICTURES = (".jpg", ".jpeg", ".png", ".avif", ".webp", ".gif")
_FONTS = (".woff2", ".woff", ".ttf", ".otf")
# What can stand in the middle of a word and leave it one word to the eye.
_INLINE = (
    "a", "abbr", "b", "bdi", "cite", "code", "del", "em", "i", "ins", "kbd", "mark", "q", "s",
    "samp", "small", "span", "strong", "sub", "sup", "time", "u", "var", "wbr",
)  # fmt: skip
_INLINE_NAMES = "|".join((*_INLINE, *map(str.upper, _INLINE)))
_INLINE_TAG = re.compile(rf"</?(?:{_INLINE_NAMES})(?:\s[^<>]*)?>")
# Such tags between two letters. The engine is quick to find what begins with one sign.
_WITHIN_WORD = re.compile(
    rf"<(?<=[^\W_]<)/?(?:{_INLINE_NAMES})(?:\s[^<>]*)?>(?:{_INLINE_TAG.pattern})*+(?=[^\W_])"
)
# Letters that are looked at on either side of a word that tags part.
_ROUND = 150
_UNSEEN = re.compile("[\u00ad\u034f\u061c\u180e\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff]+")
_ENCODED = re.compile(r"%[0-9a-fA-F]{2}(?:%[0-9a-fA-F]{2})*")
# An escape in a script or in JSON.
_ESCAPED = re.compile(r"\\(?:u([0-9a-fA-F]{4})|([nrtbf]))")
# What may stand between two words of a value: tags, blanks, marks.
_GAP = r"(?:<[^<>]*>|[\W_])++"
_NO_WORD_BEFORE, _NO_WORD_AFTER = r"(?<![^\W_])", r"(?![^\W_])"
_AMOUNT = r"(?<![\d.,])\d+(?:[.,]\d+)*"
# What amounts of a currency are called beside its code and its sign. From memory.
_CALLED = {"USD": ("dollar", "dollars", "bucks"), "EUR": ("euro", "euros"), "GBP": ("quid",)}


class PrivateValue(Struct, frozen=True):
    """A value that an edition leaves out: as it was written, what it is, and where it stands.

    ``unit`` is what a price is for, such as "kg"; ``part`` says that it is part of a whole value,
    or a name of one word, either of which may be what many things are called.
    """

    text: str
    what: str
    at: Position
    form: Form = "words"
    unit: str = ""
    part: bool = False

    @property
    def key(self) -> str:
        """A digest of what is looked for."""
        return digest(self.form, folded(self.text), self.unit)


def folded(text: str) -> str:
    """A text with letters of one width and case, and without what nobody sees."""
    if not text.isascii():
        # To take these blanks out first is quick, and mostly leaves nothing else to do.
        text = unicodedata.normalize("NFKC", text.replace("\u00a0", " ").replace("\u202f", " "))
        text = _UNSEEN.sub("", text)
    return text.casefold()


def can_be_found(value: PrivateValue) -> bool:
    """Whether a value has letters enough to be looked for; money and shares need none."""
    words = "".join(WORD.findall(folded(value.text)))
    return value.form in ("money", *SHARE_FORMS) or len(words) >= LEAST_LETTERS


class PrivateValueSearch:
    """Looks for many private values at once.

    A page costs little more than to take it apart into words: only where it has all words of a
    value is the value itself looked for.
    """

    def __init__(self, values: Iterable[PrivateValue], currency: str) -> None:
        self.values = tuple(values)
        self._by_word: dict[str, list[_SoughtWords]] = defaultdict(list)
        self._sought: dict[PrivateValue, _SoughtWords] = {}
        money = [value for value in self.values if value.form == "money"]
        self._money = _MoneySearch(money, currency) if money else None
        for value in self.values:
            if value.form != "money":
                sought = self._sought[value] = _SoughtWords(value)
                self._by_word[max(sought.words, key=len)].append(sought)

    def in_file(self, path: str, data: bytes) -> set[PrivateValue]:
        """The values that a file holds, in its text or in its name."""
        return self.in_readings((folded(path), *readings(path, data)))

    def in_readings(self, texts: Sequence[str]) -> set[PrivateValue]:
        """The values that any of these folded texts holds."""
        pieces = {piece for text in texts for piece in text.split()}
        words = set(WORD.findall(" ".join(pieces)))
        found = {
            sought.value
            for word in self._by_word.keys() & words
            for sought in self._by_word[word]
            if sought.words <= words and any(any(sought.places(text)) for text in texts)
        }
        if self._money is not None:
            found |= self._money.values_in(texts, words)
        return found

    def places_in(self, value: PrivateValue, text: str) -> Iterator[int]:
        """Yield where a value stands in a folded text."""
        if value.form != "money":
            yield from (place - 1 for place in self._sought[value].places(text))
        elif self._money is not None:
            yield from (place for one, place in self._money.places(text) if one == value)


class _SoughtWords:
    """A value that is no money: its words, and how it stands in a text."""

    def __init__(self, value: PrivateValue) -> None:
        text = folded(value.text)
        in_order = WORD.findall(text)
        self.value = value
        self.words = frozenset((value.form,) if value.form in SHARE_FORMS else in_order)
        self._first = in_order[0]
        self._pattern: re.Pattern[str] | None = None

    def places(self, text: str) -> Iterator[int]:
        """Yield where the value stands in a folded text, counted from 1."""
        if self._pattern is None:
            self._pattern = re.compile(_pattern_of(self.value))
        at = text.find(self._first)
        while at >= 0:
            if self._pattern.match(text, at):
                yield at + 1
            at = text.find(self._first, at + 1)


def _pattern_of(value: PrivateValue) -> str:
    text = folded(value.text)
    if value.form == "id":
        # An id whose hyphens are blanks may be any words.
        return rf"(?<![\w-]){re.escape(text)}(?![\w-])"
    words = WORD.findall(text)
    if value.form in SHARE_FORMS:
        share = rf"{re.escape('.'.join(words))}\s?%"
        said = [
            f"(?<={value.form}{between}){share}" for between in (" ", ": ", " of ", " is ", " was ")
        ]
        return "|".join((*said, rf"(?<![\d.]){share}\s{value.form}"))
    return _NO_WORD_BEFORE + _GAP.join(words) + _NO_WORD_AFTER


class _MoneySearch:
    """Looks for amounts of money that have their currency, or what they are paid for."""

    def __init__(self, values: Sequence[PrivateValue], currency: str) -> None:
        self._by_amount: dict[Decimal, list[PrivateValue]] = defaultdict(list)
        for value in values:
            self._by_amount[Decimal(value.text)].append(value)
        sign = folded(re.sub(r"[\d\s.]+", "", show_money(Decimal(1), currency)))
        self._names = frozenset((folded(currency), *_CALLED.get(currency, ())))
        # Of a sign such as "CA$" the last letter will do.
        ends = {sign[-1:], folded(currency)[-1:]}
        self._signs = {one for one in ends if one and not one.isalnum()}
        called = "|".join(map(re.escape, sorted({*self._names, *self._signs})))
        units = sorted({value.unit for value in values if value.unit})
        self._said = [
            *self._signs,
            *(f"{before}{unit}" for unit in units for before in ("/", "per ", "a ", "an ")),
        ]
        either = [
            rf"(?:{called})\s?(?P<after>{_AMOUNT})",
            rf"(?P<before>{_AMOUNT})\s?(?:{called}){_NO_WORD_AFTER}",
        ]
        if units:
            each = "|".join(map(re.escape, units))
            of = rf"(?P<priced>{_AMOUNT})\s?(?:/\s?|(?:per|an?)\s)(?P<unit>{each}){_NO_WORD_AFTER}"
            either.append(of)
        self._pattern = re.compile("|".join(either))

    def values_in(self, texts: Sequence[str], words: Collection[str]) -> set[PrivateValue]:
        """The values that any of these folded texts, which have these words, names as money."""
        called = not self._names.isdisjoint(words)
        return {
            value
            for text in texts
            if called or any(said in text for said in self._said)
            for value, _ in self.places(text)
        }

    def places(self, text: str) -> Iterator[tuple[PrivateValue, int]]:
        """Yield each value that a folded text names as money, and where."""
        for match in self._pattern.finditer(text):
            groups = match.groupdict()
            amount = groups["after"] or groups["before"] or groups["priced"]
            for one in {Decimal(amount) for amount in _plain_amounts(amount)}:
                for value in self._by_amount.get(one, ()):
                    if not groups.get("unit") or groups["unit"] == value.unit:
                        yield value, match.start()


def _plain_amounts(amount: str) -> Iterator[str]:
    """An amount with a point for decimals, its comma read either way."""
    for plain in (amount.replace(",", ""), amount.replace(",", ".")):
        if plain.count(".") <= 1:
            yield plain


def readings(path: str, data: bytes) -> tuple[str, ...]:
    """What a file says, folded; then what stands round words that only tags part, joined."""
    if path.endswith(_FONTS):
        return ()
    if path.endswith(_PICTURES):
        return (folded(_said_by_picture(data)),)
    text = data.decode("utf-8", "replace")
    joined = _INLINE_TAG.sub("", "\n".join(_round_parted_words(text)))
    return (_as_read(text), _as_read(joined)) if joined else (_as_read(text),)


def _round_parted_words(text: str) -> Iterator[str]:
    """Yield the passages of a page round words that only tags part."""
    start = end = 0
    for tags in _WITHIN_WORD.finditer(text):
        if tags.start() - _ROUND > end:
            yield text[start:end]
            start = max(0, tags.start() - _ROUND)
        end = tags.end() + _ROUND
    yield text[start:end]


def _as_read(text: str) -> str:
    """A text with its entities and escapes as the characters they stand for, folded."""
    if "&" in text:
        text = html.unescape(text)
    if "\\" in text:
        text = _ESCAPED.sub(lambda one: chr(int(one[1], 16)) if one[1] else " ", text)
    if "%" in text:
        text = _ENCODED.sub(lambda one: unquote(one[0]), text)
    return folded(text)


def _said_by_picture(data: bytes) -> str:
    """All words that a picture holds beside its pixels: remarks, titles, places, profiles."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(BytesIO(data)) as picture:
            said = [*picture.info.values(), *picture.getexif().values()]
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError):
        return ""
    return " ".join(one.decode("latin-1") if isinstance(one, bytes) else str(one) for one in said)
