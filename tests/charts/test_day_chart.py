"""The chart of a day: every bar lies over its minutes, every label has room."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.charts.day import DayBar, DayGroup, DayLabel, DayRow, day_chart
from journal.charts.drawing import Band, Chart

NINE = 9 * 60
LABEL = DayLabel("white: melt 9:00", "white")


def share(text: str) -> float:
    return float(text.removesuffix("%")) / 100


def em(text: str) -> float:
    return float(text.removesuffix("em"))


def clock(minute: int) -> str:
    return f"{minute // 60}:{minute % 60:02}"


def chart_of(rows: tuple[DayRow, ...], span: tuple[int, int]) -> Chart:
    return day_chart("day-1", "Day 1", "", (DayGroup(LABEL, rows),), span, clock)


def steps(chart: Chart) -> list[Band]:
    return [band for band in chart.bands if band.tone != "tick"]


def minutes_between(chart: Chart, span: tuple[int, int]) -> float:
    """The share of the width that a minute takes, by two ticks of the scale."""
    labels = {one.text: share(one.x) for one in chart.scale}
    first, *_, last = labels
    hours = [int(text.split(":")[0]) * 60 + int(text.split(":")[1]) for text in (first, last)]
    assert span[0] <= hours[0] < hours[1] <= span[1]
    return (labels[last] - labels[first]) / (hours[1] - hours[0])


def test_bars_span_their_minutes_by_the_scale() -> None:
    span = (NINE, NINE + 60)
    bars = (
        DayBar(NINE, NINE + 2, "hands"),
        DayBar(NINE + 2, NINE + 22, "alone"),
        DayBar(NINE + 45, NINE + 60, "pour"),
    )
    chart = chart_of((DayRow(None, bars, ((NINE + 40, NINE + 60),)),), span)
    minute = minutes_between(chart, span)
    nine = next(share(one.x) for one in chart.scale if one.text == "9:00")
    drawn = {band.tone: band for band in steps(chart)}
    assert set(drawn) == {"hands", "alone", "pour"}
    for bar in bars:
        band = drawn[bar.tone]
        assert share(band.x) == pytest.approx(nine + (bar.from_min - NINE) * minute, abs=2e-4)
        wide = (bar.to_min - bar.from_min) * minute
        assert share(band.width) == pytest.approx(wide, abs=2e-4)
    # The bracket: its foot, and an end at each of its minutes.
    assert [stroke.tone for stroke in chart.inked] == ["ink"] * 3
    for stroke, at in zip(chart.inked[1:], (40, 60), strict=True):
        assert share(stroke.x1) == share(stroke.x2) == pytest.approx(nine + at * minute, abs=2e-4)


def test_what_is_done_meanwhile_lies_over_what_runs_by_itself() -> None:
    bars = (DayBar(NINE + 5, NINE + 7, "hands"), DayBar(NINE, NINE + 20, "alone"))
    chart = chart_of((DayRow(None, bars),), (NINE, NINE + 20))
    assert [band.tone for band in steps(chart)] == ["alone", "hands"]


def test_ticks_lie_behind_and_are_round() -> None:
    chart = chart_of((DayRow(None, (DayBar(NINE, 660, "alone"),)),), (NINE - 4, 665))
    tones = [band.tone for band in chart.bands]
    assert tones == ["tick"] * 5 + ["alone"]
    assert [one.text for one in chart.scale[::2]] == ["9:00", "9:30", "10:00", "10:30", "11:00"]


bars = st.builds(
    lambda first, long, tone: DayBar(first, first + long, tone),
    st.integers(480, 700), st.integers(1, 300), st.sampled_from(("hands", "pour", "alone")),
)  # fmt: skip


@examples(60)
@given(st.lists(st.lists(bars, min_size=1, max_size=5), min_size=1, max_size=6))
def test_rows_stand_apart_and_inside(every: list[list[DayBar]]) -> None:
    span = (480, max(bar.to_min for row in every for bar in row))
    chart = chart_of(tuple(DayRow(LABEL, tuple(row)) for row in every), span)
    height = em(chart.height)
    tops = sorted({em(band.y) for band in steps(chart)})
    assert len(tops) == len(every)
    assert all(below - above > 2 for above, below in pairwise(tops))
    for band in steps(chart):
        assert 0 <= share(band.x) <= share(band.x) + share(band.width) <= 1.0001
        assert em(band.y) + em(band.height) < height
    for letters in chart.letters:
        assert 0 <= share(letters.x) <= 1
        assert 0 < em(letters.y) <= height
    assert 2 <= len(chart.scale) <= 12


def test_a_label_has_a_short_form_for_a_phone() -> None:
    chart = chart_of((DayRow(DayLabel("one", "one"), (DayBar(480, 490, "hands"),)),), (480, 490))
    said = {one.text: one.tone for one in chart.labels}
    assert said == {"white: melt 9:00": "head roomy", "white": "head brief", "one": "over rim"}
