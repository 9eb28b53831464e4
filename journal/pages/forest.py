"""A chart of differences: a row a design, its interval as a line, a summary at the foot."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from journal.pages.drawing import (
    Anchor,
    Band,
    Chart,
    Letters,
    Mark,
    Stroke,
    ems,
    share,
    tick_text,
    ticks,
)

# Share of the width that the scale leaves free on either side, for its end letters.
_MARGIN = 0.02
_ROW_EM = 2.6


class ForestRow(Struct, frozen=True):
    """One line of the chart; ``low`` and ``high`` are the interval's ends where there are any.

    ``foot`` marks the summary, which is drawn in the accent.
    """

    says: str
    value: float
    low: float | None = None
    high: float | None = None
    foot: bool = False


def forest_chart(
    name: str, title: str, desc: str, rows: Sequence[ForestRow], unit: str, matters: float
) -> Chart:
    """Differences on one scale, the stretch that is not worth the name shaded behind them."""
    ends = [x for row in rows for x in (row.value, row.low, row.high) if x is not None]
    low = min(0.0, -matters, *ends)
    high = max(0.0, matters, *ends)

    def across(value: float) -> float:
        return _MARGIN + (1 - 2 * _MARGIN) * (value - low) / (high - low)

    deep = _ROW_EM * len(rows)
    bands = (
        Band(share(across(-matters)), "0em", share(across(matters) - across(-matters)), ems(deep)),
    )
    strokes = [Stroke(share(across(0.0)), "0em", share(across(0.0)), ems(deep), "ink")]
    marks: list[Mark] = []
    letters: list[Letters] = []
    for number, row in enumerate(rows):
        top = _ROW_EM * number
        level = top + 1.9
        letters.append(Letters(row.says, "0%", ems(top + 1.0), "start", "over"))
        if row.low is not None and row.high is not None:
            strokes.append(
                Stroke(
                    share(across(row.low)), ems(level), share(across(row.high)), ems(level),
                    "mind" if row.foot else "ink",
                )
            )  # fmt: skip
        if row.foot:
            at = share(across(row.value))
            strokes.append(Stroke(at, ems(level - 0.55), at, ems(level + 0.55), "mind"))
        else:
            marks.append(Mark(share(across(row.value)), ems(level), "dot"))
    scale = ticks(low, high, 5)
    for number, value in enumerate(scale):
        place = across(value)
        strokes.insert(0, Stroke(share(place), "0em", share(place), ems(deep), "hair"))
        anchor: Anchor = "start" if place < 0.06 else "end" if place > 0.92 else "middle"
        text = tick_text(value)
        if unit and number == len(scale) - 1:
            text = f"{text}\u00a0{unit}"
        letters.append(Letters(text, share(place), ems(deep + 1.2), anchor, "soft"))
    return Chart(
        name, title, desc, ems(deep + 1.6), "0em", ems(deep), bands, tuple(strokes), (),
        tuple(marks), tuple(letters),
    )  # fmt: skip
