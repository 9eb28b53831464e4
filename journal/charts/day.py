"""The chart of a day by the clock: a row a pot and a row a mould, a bar for each step."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from msgspec import Struct

from journal.charts.drawing import Band, Chart, Sketch, anchor_at, format_em, format_share

# From five minutes to four hours; at most so many on a scale that fits a phone.
_TICKS_MIN = (5, 10, 15, 20, 30, 60, 120, 240)
_MOST_TICKS = 6
_HEAD_EM, _LABEL_EM, _BAR_EM, _GAP_EM = 1.5, 1.2, 0.95, 0.6
#: The width of the narrowest phone's column, and of any that is not a phone's, in the chart's
#: type: labels are to be no wider.
NARROW_EM, ROOMY_EM = 20.4, 35.0

BarTone = Literal["hands", "pour", "alone"]


class DayBar(Struct, frozen=True):
    """A step by the clock, in minutes; drawn solid, as a pour, or open if it runs by itself."""

    from_min: int
    to_min: int
    tone: BarTone


class DayLabel(Struct, frozen=True):
    """A label as it stands where there is room, and on a phone; "" for none."""

    roomy: str
    narrow: str

    def write(self, sketch: Sketch, y: float, tone: str) -> None:
        """Write it at the left edge; a stylesheet shows the one that fits."""
        if self.roomy == self.narrow:
            sketch.write(self.roomy, 0.0, y, "start", tone)
        else:
            sketch.write(self.roomy, 0.0, y, "start", f"{tone} roomy")
            sketch.write(self.narrow, 0.0, y, "start", f"{tone} brief")


class DayRow(Struct, frozen=True):
    """The bars of one pot or mould, and the windows in which its pot may be used.

    Without a label the bars stand right under that of the round.
    """

    label: DayLabel | None
    bars: tuple[DayBar, ...]
    windows: tuple[tuple[int, int], ...] = ()


class DayGroup(Struct, frozen=True):
    """The rows of one round."""

    label: DayLabel
    rows: tuple[DayRow, ...]


def day_chart(
    name: str, title: str, desc: str, groups: Sequence[DayGroup], span: tuple[int, int],
    clock: Callable[[int], str],
) -> Chart:  # fmt: skip
    """A chart over the minutes of ``span``; all bars lie within it.

    ``clock`` says a minute of the scale. A step by hand is solid, a pour in the accent, what runs
    by itself open; a bracket under the bars is a window.
    """
    low, high = span[0], max(span[1], span[0] + 1)
    ticks = _ticks(low, high)

    def across(minute: int) -> float:
        return 0.005 + 0.985 * (minute - low) / (high - low)

    sketch, marked = Sketch(), list[Band]()
    y = 1.6
    for group in groups:
        group.label.write(sketch, y + 1.0, "head")
        y += _HEAD_EM
        for row in group.rows:
            if row.label is not None:
                row.label.write(sketch, y + 0.85, "over rim")
                y += _LABEL_EM
            # What runs by itself lies behind what is done meanwhile.
            for bar in sorted(row.bars, key=lambda one: one.tone != "alone"):
                left = across(bar.from_min)
                wide = format_share(across(bar.to_min) - left)
                marked.append(
                    Band(format_share(left), format_em(y), wide, format_em(_BAR_EM), bar.tone)
                )
            for first, last in row.windows:
                foot = y + _BAR_EM + 0.25
                sketch.line(across(first), foot, across(last), foot, "ink")
                for end in (first, last):
                    sketch.line(across(end), y + 0.3, across(end), foot, "ink")
            y += _BAR_EM + _GAP_EM
        y += 0.2
    for minute in ticks:
        x = across(minute)
        # A pixel wide: a thin line would lie over the bars.
        sketch.bands.append(Band(format_share(x), format_em(1.4), "1", format_em(y - 1.4), "tick"))
        for level in (1.0, y + 1.0):
            sketch.write(clock(minute), x, level, anchor_at(x, 0.05, 0.94), "soft")
    sketch.bands += marked
    return sketch.chart(name, title, desc, y + 1.4, y)


def _ticks(low: int, high: int) -> tuple[int, ...]:
    """The round minutes of the clock from ``low`` to ``high`` in the least step of few."""
    for step in _TICKS_MIN:
        found = tuple(range(-(-low // step) * step, high + 1, step))
        if len(found) <= _MOST_TICKS:
            return found
    return (low, high)
