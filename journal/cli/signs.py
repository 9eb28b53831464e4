"""What is written on a stream that has not every sign: a near one in its place."""

from __future__ import annotations

import codecs
import unicodedata
from typing import Final, TextIO

# The name of the handler, as streams know it.
NEAR_SIGNS: Final = "journal.near-signs"

# Signs that Unicode decomposes into none of ASCII.
_NEAR: Final = {
    "–": "-", "—": "-", "−": "-", "‐": "-", "‑": "-", "×": "x", "·": "*", "•": "*", "°": "",
    "“": '"', "”": '"', "„": '"', "‘": "'", "’": "'", "‚": "'", "«": '"', "»": '"', "‹": "'",
    "›": "'", "′": "'", "″": '"', "≤": "<=", "≥": ">=", "≈": "~", "→": "->", "√": "sqrt ",
    "€": "EUR ", "£": "GBP ", "¥": "Y", "µ": "u", "ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe",
    "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ð": "d", "þ": "th",
    "ı": "i", "∕": "/",
}  # fmt: skip
# Between two digits, so that 2⅞ does not become 27/8, nor 10² 102.
_APART: Final = {"<fraction>": " ", "<super>": "^"}


def show_near_signs(*streams: TextIO) -> None:
    """Have these streams show a near sign for one that they have not, such as 7/8 for ⅞."""
    codecs.register_error(NEAR_SIGNS, _near_signs)
    for stream in streams:
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=NEAR_SIGNS)


def _near_signs(error: UnicodeError) -> tuple[str, int]:
    """Handle an error of encoding: signs of ASCII, and where to go on."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text, places = error.object, range(error.start, error.end)
    near = (near_sign(text[place], text[place - 1] if place else "") for place in places)
    return "".join(near), error.end


def near_sign(sign: str, before: str = "") -> str:
    """The sign in ASCII, "?" if nothing is near; ``before`` is the one that it stands behind."""
    if sign in _NEAR:
        return _NEAR[sign]
    # ⅞ is taken apart into 7, a fraction slash and 8; é into e and a mark that is left out.
    apart = unicodedata.normalize("NFKD", sign).replace("\u2044", "/")
    plain = "".join(part for part in apart if part.isascii())
    if not plain:
        return "" if unicodedata.category(sign) == "Mn" else "?"
    form = unicodedata.decomposition(sign).partition(" ")[0]
    return _APART.get(form, "") * before.isdigit() + plain
