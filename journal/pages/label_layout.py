"""Words within the outline of a label: as large as they fit, never below the rule's least.

Widths are counted with the fonts' own letters, to the safe side (``card_widths``), so that
what fits here fits on paper.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from journal.pages.card_layout import text_width
from journal.pages.card_widths import Face

# Left free along every edge, for a hand with scissors.
MARGIN_MM: Final = 2.5
LEADING: Final = 1.22
# How high are a small o and a figure, as shares of the type size? From the theme's font
# files (OS/2 sxHeight, sCapHeight of the bench face); a test reads them again.
X_HEIGHT: Final = 0.496
FIGURE_HEIGHT: Final = 0.668
# Sizes are tried in steps of this.
_STEP_MM: Final = 0.1


@dataclass(frozen=True, slots=True)
class Panel:
    """One face of a label: its size in mm; round ones are a circle of its width."""

    width: float
    height: float
    round: bool = False

    def room(self, top: float, bottom: float) -> float:
        """How wide a line between two heights may be, within the margin; 0 for none."""
        if top < MARGIN_MM - 1e-9 or bottom > self.height - MARGIN_MM + 1e-9:
            return 0.0
        if not self.round:
            return self.width - 2 * MARGIN_MM
        radius = self.width / 2
        off = max(abs(top - radius), abs(bottom - radius))
        inner = radius - MARGIN_MM
        return 2 * math.sqrt(inner * inner - off * off) if off < inner else 0.0


@dataclass(frozen=True, slots=True)
class SetLine:
    """A line of text; ``y`` is its baseline, in mm from the panel's top."""

    text: str
    y: float


@dataclass(frozen=True, slots=True)
class SetText:
    """Text that is set: its size, its lines, and whether the size is the least or more."""

    size: float
    lines: tuple[SetLine, ...]
    fits: bool


def set_text(
    panel: Panel,
    text: str,
    between: tuple[float, float],
    sizes: tuple[float, float],
    face: Face = "regular",
    foot: bool = False,
) -> SetText:
    """Text as large as it fits between two heights of a panel.

    Takes:  panel    the face of the label
            text     words apart by spaces
            between  from and to, in mm from the top
            sizes    the largest and the least size, in mm
            face     that it is set in
            foot     whether it stands at the foot of that stretch, not in its middle
    Gives:  its lines; below the least size, with ``fits`` False, where it does not fit
    """
    largest, least = sizes
    for size in _descending(largest, least):
        lines = _lines(panel, text, between, size, face, foot)
        if lines is not None:
            return SetText(size, lines, True)
    for size in _descending(least, 0.4):
        lines = _lines(panel, text, between, size, face, foot)
        if lines is not None:
            return SetText(size, lines, False)
    return SetText(least, (), False)


def _descending(largest: float, least: float) -> Iterator[float]:
    size = largest
    while size > least + 1e-9:
        yield size
        size -= _STEP_MM
    yield least


def _lines(
    panel: Panel, text: str, between: tuple[float, float], size: float, face: Face, foot: bool
) -> tuple[SetLine, ...] | None:
    """The lines of a text in one size, or None if they do not fit."""
    step = size * LEADING
    deep = between[1] - between[0]
    most = int(deep / step + 1e-9)
    for count in range(1, most + 1):
        # In a circle the middle is widest: the block is moved there as it grows.
        spare = deep - count * step
        top = between[0] + (spare if foot else spare / 2)
        lines = _filled(panel, text, top, count, size, face)
        if lines is not None:
            return lines
    return None


def _filled(
    panel: Panel, text: str, top: float, count: int, size: float, face: Face
) -> tuple[SetLine, ...] | None:
    words = text.split(" ")
    lines: list[SetLine] = []
    step = size * LEADING
    for number in range(count):
        y = top + number * step
        room = panel.room(y, y + step)
        line = ""
        while words:
            longer = f"{line} {words[0]}" if line else words[0]
            if text_width(longer, face, size) > room:
                break
            line = longer
            words.pop(0)
        if line:
            # The baseline stands where letters have room beneath for their tails.
            lines.append(SetLine(line, y + step * 0.78))
    return None if words else tuple(lines)
