"""Numbers as they may be written, without their unit: patterns, and text to exact fraction."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction
from typing import Final

from journal.errors import HintedError

_SIGNS: Final = "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
# The nearest fraction of small numbers is the sign's own: the largest denominator is 8.
VULGAR: Final[dict[str, Fraction]] = {
    sign: Fraction(unicodedata.numeric(sign)).limit_denominator(8) for sign in _SIGNS
}
NUMBER: Final = (
    rf"(?:[0-9]+ [0-9]+/[0-9]+|[0-9]+ ?[{_SIGNS}]|[0-9]+/[0-9]+|[0-9]*\.[0-9]+|[0-9]+|[{_SIGNS}])"
)
"""2 1/2, 2½, 1/4, 2.5 or .5, 4, ½; only these digits, no sign, no exponent"""
SOME_DIGIT: Final = f"[1-9{_SIGNS}]"
"""what every number but 0 has"""
NUMBER_START: Final = rf"(?:[0-9{_SIGNS}]|\.[0-9])"
MINUS: Final = "-−"

_PARTS = re.compile(
    rf"(?:(?P<whole>[0-9]+) )?(?P<top>[0-9]+)/(?P<bottom>[0-9]+)"
    rf"|(?:(?P<before>[0-9]+) ?)?(?P<sign>[{_SIGNS}])"
    r"|(?P<decimal>[0-9]*\.[0-9]+|[0-9]+)"
)
FRACTION_SLASH: Final = "\u2044"
# Blanks that a keyboard or a copied page puts between number and unit.
_BLANKS = re.compile("[ \t\u00a0\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\r\n]+")
# More digits than any instrument shows; keeps every float finite.
MOST_DIGITS: Final = 15
MOST_DECIMALS: Final = 40


class FormMismatch(HintedError):
    """A text does not have the form that was tried.

    With ``what``, the form is clear and ``what`` says why the text is wrong all the same.
    """

    def __init__(self, what: str = "", hint: str = "", unit: str | None = None) -> None:
        super().__init__(what, hint)
        self.unit = unit
        """the text that stands in the unit's place, if that is what is wrong; else None"""


def normalised(text: str) -> str:
    """The text with each run of blanks as one plain space, and fraction slashes as "/"."""
    return _BLANKS.sub(" ", text).strip(" ").replace(FRACTION_SLASH, "/")


def excerpt(text: str) -> str:
    """The text in quotes for a message: on one line, printable, cut off after 60 characters."""
    line = "".join(c if c.isprintable() else "\ufffd" for c in _BLANKS.sub(" ", text))
    return f'"{line[:60]}…"' if len(line) > 60 else f'"{line}"'


def parse_fraction(number: str) -> Fraction:
    """The exact value of a text that matches NUMBER; FormMismatch if it does not match."""
    parts = _PARTS.fullmatch(number)
    if parts is None:
        raise FormMismatch
    if len(number) > MOST_DIGITS:
        whole, _, decimals = number.partition(".")
        if len(whole) > MOST_DIGITS or len(decimals) > MOST_DECIMALS:
            raise FormMismatch(
                f"the number {excerpt(number)} has more digits than can be meant",
                "Write it with fewer digits.",
            )
    if parts["decimal"]:
        return Fraction(parts["decimal"])
    if parts["sign"]:
        return int(parts["before"] or 0) + VULGAR[parts["sign"]]
    top, bottom = int(parts["top"]), int(parts["bottom"])
    if bottom == 0:
        raise FormMismatch(f"the fraction {excerpt(number)} divides by 0", 'Write it as "1/4".')
    if parts["whole"] and top >= bottom:
        raise FormMismatch(
            f"the fraction in {excerpt(number)} is not less than 1",
            'Write a whole number and a smaller fraction, such as "2 1/2".',
        )
    return int(parts["whole"] or 0) + Fraction(top, bottom)
