"""Text set within the outline of a label: as large as it fits, not below the size required.

Widths are counted with the fonts' own letters, to the safe side (``html.text_width``), so that
what fits here fits on paper.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Final

from msgspec import Struct

from journal.html.text_width import FontFace, rendered_width, thousandths

# Free space along every edge, since scissors are not exact.
MARGIN_MM: Final = 2.5
LEADING: Final = 1.22
# The place of a line's baseline in its height, with room beneath for descenders.
_BASELINE: Final = 0.78
# Heights of a small o and of a figure, as shares of the type size: from the theme's font
# files (OS/2 sxHeight, sCapHeight of the bench face); a test reads them again.
X_HEIGHT: Final = 0.496
FIGURE_HEIGHT: Final = 0.668
# Sizes are tried in steps of this.
_STEP_MM: Final = 0.1


class Panel(Struct, frozen=True):
    """One face of a label, in mm: a rectangle, or if ``round`` a circle of its width."""

    width: float
    height: float
    round: bool = False

    @property
    def widest(self) -> float:
        """The width, in mm, of the widest line."""
        return self.width - 2 * MARGIN_MM

    def room(self, top: float, bottom: float) -> float:
        """The width in mm of a line between two heights, within the margin; 0 without room."""
        if top < MARGIN_MM - 1e-9 or bottom > self.height - MARGIN_MM + 1e-9:
            return 0.0
        if not self.round:
            return self.widest
        radius = self.width / 2
        off = max(abs(top - radius), abs(bottom - radius))
        inner = radius - MARGIN_MM
        return 2 * math.sqrt(inner * inner - off * off) if off < inner else 0.0


class SetLine(Struct, frozen=True):
    """A line of text; ``y`` is its baseline, in mm from the panel's top."""

    text: str
    y: float


class SetText(Struct, frozen=True):
    """Text that is set: its size in mm and its lines; none if it does not fit."""

    size: float
    lines: tuple[SetLine, ...]

    @property
    def top(self) -> float:
        """The upper edge of its first line, in mm from the panel's top."""
        return self.lines[0].y - _BASELINE * self.size * LEADING


# The studio's name and the lines to fill in are alike on all labels of a shape.
@lru_cache(maxsize=2048)
def set_text(
    panel: Panel,
    text: str,
    between: tuple[float, float],
    sizes: tuple[float, float],
    face: FontFace = "regular",
    foot: bool = False,
    small: bool = False,
) -> SetText:
    """The text, as large as it fits between two heights of a panel.

    Takes:  between  the upper and the lower height, in mm from the panel's top
            sizes    the largest and the least size, in mm
            foot     place it at the bottom of that stretch, not in its middle
            small    try the least size first: quicker where only the fit matters
    Gives:  the lines and their size; no lines if the text does not fit in the least size
    """
    largest, least = sizes
    measured = _measure(text, face)
    fitting = tuple(_descending_sizes(largest, least))
    for size in reversed(fitting) if small else fitting:
        lines = _lines_at_size(panel, measured, between, size, foot)
        if lines is not None:
            return SetText(size, lines)
    return SetText(least, ())


def _descending_sizes(largest: float, least: float) -> Iterator[float]:
    """Sizes from the largest down in steps of ``_STEP_MM``, then the least."""
    size = largest
    while size > least + 1e-9:
        yield size
        size -= _STEP_MM
    yield least


class _MeasuredText(Struct, frozen=True):
    """The words of a text, and where each begins and ends if all stand on one line.

    Lengths are in thousandths of the type size. ``whole`` is that of the line with no more
    than one space between its words.
    """

    words: tuple[str, ...]
    begins: tuple[int, ...]
    ends: tuple[int, ...]
    space: int
    whole: int

    def fewest(self, widest: float) -> int:
        """A lower bound of the number of lines if none is wider than ``widest``.

        A line that is broken loses a space, so every line may as well be a space wider.
        """
        room = max(widest, 0.0) + self.space
        return max(1, math.ceil((self.whole + self.space) / room - 1e-6))

    def end_of_line(self, first: int, room: float) -> int:
        """The index of the first word that no longer fits on a line that begins with ``first``."""
        return bisect_right(self.ends, self.begins[first] + room, first)


@lru_cache(maxsize=4096)
def _measure(text: str, face: FontFace) -> _MeasuredText:
    """The words of a text with their widths in a face."""
    words = tuple(text.split(" "))
    widths = [thousandths(word, face) for word in words]
    space = thousandths(" ", face)
    ends = [end - space for end in itertools.accumulate(wide + space for wide in widths)]
    begins = [end - wide for end, wide in zip(ends, widths, strict=True)]
    whole = sum(wide + space for wide in widths if wide) - space
    return _MeasuredText(words, tuple(begins), tuple(ends), space, max(0, whole))


def _lines_at_size(
    panel: Panel, text: _MeasuredText, between: tuple[float, float], size: float, foot: bool
) -> tuple[SetLine, ...] | None:
    """The lines of a text in one size, in as few lines as fit; None if it does not fit."""
    step = size * LEADING
    deep = between[1] - between[0]
    most = int(deep / step + 1e-9)
    one = rendered_width(1, size)
    for count in range(text.fewest(panel.widest / one), most + 1):
        # In a circle the middle is widest: the block is moved there as it grows.
        spare = deep - count * step
        top = between[0] + (spare if foot else spare / 2)
        ys = [top + number * step for number in range(count)]
        lines = _fill_lines(text, [panel.room(y, y + step) / one for y in ys])
        if lines is not None:
            return tuple(
                SetLine(" ".join(text.words[first:end]), y + step * _BASELINE)
                for y, (first, end) in zip(ys, lines, strict=True)
                if end > first
            )
    return None


def _fill_lines(text: _MeasuredText, rooms: Iterable[float]) -> list[tuple[int, int]] | None:
    """Fill the lines greedily: numbers of the first word and past the last, equal if empty.

    ``rooms`` are the widths of the lines, in thousandths of the type size; below 0 takes no
    word. Gives None if words are left over.
    """
    words, every = text.words, len(text.words)
    lines: list[tuple[int, int]] = []
    end = 0
    for room in rooms:
        while room >= 0.0 and end < every and not words[end]:
            # The empty word between two spaces: no line begins with it.
            end += 1
        first = end
        end = text.end_of_line(first, room) if first < every else every
        lines.append((first, end))
    return lines if end == every else None
