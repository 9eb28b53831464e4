"""The width of a text in the fonts that cards, labels and drawings are set in.

Widths are counted with the fonts' own letters (``text_width.toml``), always to the safe
side: a line counted here is never shorter than the printed one.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Final, Literal, get_args

FontFace = Literal["regular", "bold", "title"]

# Kerning and the rounding of a browser's letters to its pixels: 1 % of a line.
_SAFETY_FACTOR: Final = 1.01
# A letter that the fonts lack comes from another font: as wide as the type is high.
_UNKNOWN_LETTER: Final = 1000


@lru_cache(maxsize=1)
def letter_widths() -> Mapping[FontFace, Mapping[str, int]]:
    """The advance width of every letter of each face, in thousandths of the type size."""
    read = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))
    return {
        face: {letter: int(width) for width, letters in read[face].items() for letter in letters}
        for face in get_args(FontFace)
    }


# A card is set in up to three types, and its words come back on every card.
@lru_cache(maxsize=16384)
def thousandths(text: str, face: FontFace) -> int:
    """The sum of a text's advance widths, in thousandths of the type size."""
    widths = letter_widths()[face]
    return sum([widths.get(letter, _UNKNOWN_LETTER) for letter in text])


def rendered_width(wide: int, size: float) -> float:
    """``wide`` thousandths of the type size as a width in the size's unit, plus 1 % for safety."""
    return wide * size / 1000 * _SAFETY_FACTOR


def text_width(text: str, face: FontFace, size: float) -> float:
    """The width of a text, in the unit of ``size``; never less than it is printed."""
    return rendered_width(thousandths(text, face), size)
