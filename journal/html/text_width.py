"""How wide is a text in the letters that cards, labels and drawings are set in?

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
_SAFE: Final = 1.01
# A letter that the fonts do not have comes from another: as wide as the type is high.
_STRANGE: Final = 1000


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
    """Width of a text, never less than it is printed, in thousandths of the type's size."""
    widths = letter_widths()[face]
    return sum([widths.get(letter, _STRANGE) for letter in text])


def rendered_width(wide: int, size: float) -> float:
    """Width of so many thousandths in a size, in that size's unit, with a browser's rounding."""
    return wide * size / 1000 * _SAFE


def text_width(text: str, face: FontFace, size: float) -> float:
    """Width of a text, in the unit that the size is given in; never less than it is printed."""
    return rendered_width(thousandths(text, face), size)
