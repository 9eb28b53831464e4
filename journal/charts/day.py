"""The chart of time: a row a pot and one for the pieces, a bar for each step, a scale of minutes.

It is drawn for a day by the clock, and as the strip that says when a round's last pot may be
poured: there dotted lines lead from the ends of that time down to the scale.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from msgspec import Struct

from journal.charts.drawing import Band, Chart, Sketch, anchor_at, format_em, format_share

# From a minute to four hours; at most so many on a scale that fits a phone.
_TICKS_MIN = (1, 2, 5, 10, 15, 20, 30, 60, 120, 240)
_MOST_TICKS = 6
_HEAD_EM, _LABEL_EM, _BAR_EM, _GAP_EM = 1.5, 1.2, 0.95, 0.6
# A bar with letters in it; what stands free at both sides of them.
_LETTERED_EM, _INSET_EM = 2.0, 0.35
# Numbers of the scale are at least this far apart, from middle to middle.
_NUMBERS_EM = 2.4
#: The width of the narrowest phone's column, and of any that is not a phone's, in the chart's
#: type: labels are to be no wider.
NARROW_EM, ROOMY_EM = 20.4, 35.0

# From the back to the front: what runs by itself lies behind what is done meanwhile.
_TONES = ("wait", "alone", "window", "hands", "pour")
BarTone = Literal["wait", "alone", "window", "hands", "pour"]


class TimeBar(Struct, frozen=True):
    """A step, in minutes: a pour solid, other work by hand grey, what runs by itself open.

    A "window" is shaded, a "wait" a line. ``says`` are texts to stand in it, the longest first, of
    which the first that fits is taken. ``ruled``: dotted lines lead from its ends to the scale.
    """

    from_min: int
    to_min: int
    tone: BarTone
    says: tuple[str, ...] = ()
    ruled: bool = False


class TimeLabel(Struct, frozen=True):
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

    def write_about(
        self, sketch: Sketch, x: float, y: float, width_of: Callable[[str], float]
    ) -> None:
        """Write it in the accent with its middle at ``x``, as far as the edges let it."""
        for text, em, shown in (
            (self.roomy, ROOMY_EM, "roomy"), (self.narrow, NARROW_EM, "brief"),
        ):  # fmt: skip
            wide = width_of(text) / em
            left = max(0.0, min(x - wide / 2, 1.0 - wide))
            sketch.write(text, left, y, "start", f"over mind {shown}")


class TimeMark(Struct, frozen=True):
    """What the studio did: short lines in the accent into a row, with one label over them."""

    at_min: tuple[float, ...]
    label: TimeLabel


class TimeRow(Struct, frozen=True):
    """The bars of one pot, of the pieces or of a mould, and what the studio did with it.

    Without a label the bars stand right under that of the round.
    """

    label: TimeLabel | None
    bars: tuple[TimeBar, ...]
    marks: tuple[TimeMark, ...] = ()


class TimeGroup(Struct, frozen=True):
    """The rows of one round; without a label they follow on one another."""

    label: TimeLabel | None
    rows: tuple[TimeRow, ...]


def time_chart(
    name: str, title: str, desc: str, groups: Sequence[TimeGroup], span: tuple[int, int],
    clock: Callable[[int], str], width_of: Callable[[str], float], zero: int = 0,
) -> Chart:  # fmt: skip
    """A chart over the minutes of ``span``; all bars lie within it.

    ``clock`` says a minute of the scale, whose round numbers count from ``zero``; ``width_of`` is
    how wide a text is, in em of the chart's type. Where a bar is ruled, the scale is a ruler at
    the foot, with the ends of that bar in bold.
    """
    low, high = span[0], max(span[1], span[0] + 1)
    ends = sorted(
        {
            end for group in groups for row in group.rows for bar in row.bars if bar.ruled
            for end in (bar.from_min, bar.to_min)
        }
    )  # fmt: skip

    def across(minute: float) -> float:
        return 0.005 + 0.985 * (minute - low) / (high - low)

    sketch, marked = Sketch(), list[Band]()
    y = 0.0 if ends else 1.6
    ruled_at: dict[int, float] = {}
    for group in groups:
        if group.label is not None:
            group.label.write(sketch, y + 1.0, "head")
            y += _HEAD_EM
        for row in group.rows:
            if row.label is not None:
                row.label.write(sketch, y + 0.85, "over rim")
                y += _LABEL_EM
            deep = _LETTERED_EM if any(bar.says for bar in row.bars) else _BAR_EM
            for mark in row.marks:
                mark.label.write_about(sketch, across(mark.at_min[0]), y + 0.9, width_of)
                y += _LABEL_EM + 0.1
            for bar in row.bars:
                marked.append(_band(bar, across, y, deep))
                _write_in_bar(sketch, bar, across, y + deep / 2 + 0.35, width_of)
                ruled_at |= dict.fromkeys((bar.from_min, bar.to_min) if bar.ruled else (), y + deep)
            for number, mark in enumerate(row.marks):
                # From under its label, past those of the marks below it.
                top = y - (_LABEL_EM + 0.1) * (len(row.marks) - 1 - number)
                at = dict.fromkeys(round(across(minute), 4) for minute in mark.at_min)
                for tone in ("halo", "mind"):
                    for x in at:
                        sketch.line(x, top - 0.15, x, y + 0.5, tone)
            y += deep + _GAP_EM
        y += 0.2
    for end, top in ruled_at.items():
        sketch.line(across(end), top, across(end), y + 0.5, "dotted")
    _scale(sketch, ends, across, y, (low, high), clock, zero)
    # Bands of a tone are set together.
    sketch.bands += sorted(marked, key=lambda band: _TONES.index(band.tone))
    return sketch.chart(name, title, desc, y + (1.9 if ends else 1.4), y)


def _band(bar: TimeBar, across: Callable[[float], float], y: float, deep: float) -> Band:
    left = across(bar.from_min)
    wide = format_share(across(bar.to_min) - left)
    if bar.tone == "wait":
        # A rectangle, since a thin line would lie over the bars.
        return Band(format_share(left), format_em(y + deep / 2 - 0.06), wide, ".12em", "wait")
    return Band(format_share(left), format_em(y), wide, format_em(deep), bar.tone)


def _write_in_bar(
    sketch: Sketch, bar: TimeBar, across: Callable[[float], float], y: float,
    width_of: Callable[[str], float],
) -> None:  # fmt: skip
    """The longest of a bar's texts that fits in it, at any width and on a phone."""
    share = across(bar.to_min) - across(bar.from_min)
    fitting = [
        next((text for text in bar.says if width_of(text) + _INSET_EM <= share * em), "")
        for em in (ROOMY_EM, NARROW_EM)
    ]
    tone = {"pour": "on", "hands": "on", "window": "in"}.get(bar.tone, "over")
    middle = across((bar.from_min + bar.to_min) / 2)
    if fitting[0] == fitting[1]:
        if fitting[0]:
            sketch.write(fitting[0], middle, y, "middle", tone)
        return
    for text, shown in zip(fitting, ("roomy", "brief"), strict=True):
        if text:
            sketch.write(text, middle, y, "middle", f"{tone} {shown}")


def _scale(
    sketch: Sketch, ends: Sequence[int], across: Callable[[float], float], y: float,
    span: tuple[int, int], clock: Callable[[int], str], zero: int,
) -> None:  # fmt: skip
    """Rules with numbers over and under them; where a bar is ruled, a ruler at the foot."""
    near = _NUMBERS_EM / NARROW_EM
    for minute in _ticks(*span, zero):
        x = across(minute)
        free = all(abs(x - across(end)) >= near for end in ends)
        if ends:
            sketch.line(x, y + 0.5, x, y + 0.8, "ruler")
        else:
            # A pixel wide: a thin line would lie over the bars.
            height = format_em(y - 1.4)
            sketch.bands.append(Band(format_share(x), format_em(1.4), "1", height, "tick"))
            sketch.write(clock(minute), x, 1.0, anchor_at(x, 0.05, 0.94), "soft")
        if free:
            place = y + (1.7 if ends else 1.0)
            sketch.write(clock(minute), x, place, anchor_at(x, 0.05, 0.94), "soft")
    if ends:
        sketch.line(across(span[0]), y + 0.5, across(span[1]), y + 0.5, "ruler")
        close = across(ends[-1]) - across(ends[0]) < near
        for end in ends:
            anchor = anchor_at(across(end), 0.05, 0.94)
            if close:
                anchor = "end" if end == ends[0] else "start"
            sketch.line(across(end), y + 0.5, across(end), y + 0.8, "ruler")
            sketch.write(clock(end), across(end), y + 1.7, anchor, "head")


def _ticks(low: int, high: int, zero: int) -> tuple[int, ...]:
    """The minutes from ``low`` to ``high`` that are round from ``zero`` on, few enough."""
    for step in _TICKS_MIN:
        if step < 5 and high - low > 12:
            continue
        found = tuple(range(zero - (zero - low) // step * step, high + 1, step))
        if len(found) <= _MOST_TICKS:
            return found
    return (low, high)
