"""A chart of differences: a row a design, its interval as a line, a summary at the foot."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from journal.pages.drawing import Chart, Sketch, ticks

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
    sketch, values = Sketch(), ticks(low, high, 5)
    sketch.band(across(-matters), 0.0, across(matters) - across(-matters), deep)
    sketch.rule(values[::-1], across, 0.0, deep)
    sketch.line(across(0.0), 0.0, across(0.0), deep, "ink")
    for number, row in enumerate(rows):
        top = _ROW_EM * number
        level, at = top + 1.9, across(row.value)
        sketch.write(row.says, 0.0, top + 1.0)
        if row.low is not None and row.high is not None:
            tone = "mind" if row.foot else "ink"
            sketch.line(across(row.low), level, across(row.high), level, tone)
        if row.foot:
            sketch.line(at, level - 0.55, at, level + 0.55, "mind")
        else:
            sketch.mark(at, level, "dot")
    sketch.number(values, across, deep + 1.2, unit, left=0.06)
    return sketch.chart(name, title, desc, deep + 1.6, deep)
