"""The chart of time: every bar lies over its minutes, every label has room."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.charts.day import (
    NARROW_EM,
    TimeBar,
    TimeGroup,
    TimeLabel,
    TimeMark,
    TimeRow,
    time_chart,
)
from journal.charts.drawing import Band, Chart

NINE = 9 * 60
LABEL = TimeLabel("white: melt 9:00", "white")


def share(text: str) -> float:
    return float(text.removesuffix("%")) / 100


def em(text: str) -> float:
    return float(text.removesuffix("em"))


def clock(minute: int) -> str:
    return f"{minute // 60}:{minute % 60:02}"


def width_of(text: str) -> float:
    return 0.5 * len(text)


def chart_of(rows: tuple[TimeRow, ...], span: tuple[int, int]) -> Chart:
    return time_chart("day-1", "Day 1", "", (TimeGroup(LABEL, rows),), span, clock, width_of)


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
        TimeBar(NINE, NINE + 2, "hands"),
        TimeBar(NINE + 2, NINE + 22, "alone"),
        TimeBar(NINE + 40, NINE + 60, "window"),
        TimeBar(NINE + 45, NINE + 60, "pour"),
    )
    chart = chart_of((TimeRow(None, bars),), span)
    minute = minutes_between(chart, span)
    nine = next(share(one.x) for one in chart.scale if one.text == "9:00")
    drawn = {band.tone: band for band in steps(chart)}
    assert set(drawn) == {"hands", "alone", "window", "pour"}
    for bar in bars:
        band = drawn[bar.tone]
        assert share(band.x) == pytest.approx(nine + (bar.from_min - NINE) * minute, abs=2e-4)
        wide = (bar.to_min - bar.from_min) * minute
        assert share(band.width) == pytest.approx(wide, abs=2e-4)


def test_what_is_done_meanwhile_lies_over_what_runs_by_itself() -> None:
    bars = (
        TimeBar(NINE + 5, NINE + 7, "hands"),
        TimeBar(NINE, NINE + 20, "alone"),
        TimeBar(NINE, NINE + 20, "wait"),
    )
    chart = chart_of((TimeRow(None, bars),), (NINE, NINE + 20))
    assert [band.tone for band in steps(chart)] == ["wait", "alone", "hands"]


def test_ticks_lie_behind_and_are_round() -> None:
    chart = chart_of((TimeRow(None, (TimeBar(NINE, 660, "alone"),)),), (NINE - 4, 665))
    tones = [band.tone for band in chart.bands]
    assert tones == ["tick"] * 5 + ["alone"]
    assert [one.text for one in chart.scale[::2]] == ["9:00", "9:30", "10:00", "10:30", "11:00"]


bars = st.builds(
    lambda first, long, tone: TimeBar(first, first + long, tone),
    st.integers(480, 700), st.integers(1, 300), st.sampled_from(("hands", "pour", "alone")),
)  # fmt: skip


@examples(60)
@given(st.lists(st.lists(bars, min_size=1, max_size=5), min_size=1, max_size=6))
def test_rows_stand_apart_and_inside(every: list[list[TimeBar]]) -> None:
    span = (480, max(bar.to_min for row in every for bar in row))
    chart = chart_of(tuple(TimeRow(LABEL, tuple(row)) for row in every), span)
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
    chart = chart_of((TimeRow(TimeLabel("one", "one"), (TimeBar(480, 490, "hands"),)),), (480, 490))
    said = {one.text: one.tone for one in chart.labels}
    assert said == {"white: melt 9:00": "head roomy", "white": "head brief", "one": "over rim"}


def strip(*bars: TimeBar, marks: tuple[TimeMark, ...] = ()) -> Chart:
    """A strip of an hour whose scale counts from 9:00."""
    row, span = TimeRow(LABEL, bars, marks), (NINE - 10, NINE + 50)
    groups = (TimeGroup(None, (row, TimeRow(LABEL, bars[:1]))),)
    return time_chart("time", "", "", groups, span, lambda at: str(at - NINE), width_of, NINE)


POUR = TimeBar(NINE + 19, NINE + 31, "pour", ("pour at 122 to 132", "pour"), ruled=True)


def test_dotted_lines_lead_from_the_ends_of_a_ruled_bar_to_bold_numbers() -> None:
    chart = strip(TimeBar(NINE - 10, NINE - 8, "hands"), POUR)
    (bar,) = (band for band in chart.bands if band.tone == "pour")
    dotted = [line for line in chart.strokes if line.tone == "dotted"]
    bold = {one.text: share(one.x) for one in chart.labels if one.tone == "head"}
    edges = (share(bar.x), share(bar.x) + share(bar.width))
    assert list(bold) == ["19", "31"]
    for line, at, edge in zip(dotted, bold.values(), edges, strict=True):
        assert share(line.x1) == share(line.x2) == at == pytest.approx(edge, abs=2e-4)
        assert em(line.y1) == pytest.approx(em(bar.y) + em(bar.height))
        # As far as the ruler, under the row below.
        (ruler,) = (one for one in chart.strokes if one.tone == "ruler" and one.y1 == one.y2)
        assert line.y2 == ruler.y1
    # Numbers near a bold one are left out; the others are round from 0 on.
    assert [one.text for one in chart.scale] == ["0", "45"]


def test_a_bar_has_the_longest_text_that_fits_in_it() -> None:
    # 12 of 60 min: 6.9 em where there is room, 4 em on a phone; the longest takes 9 em.
    chart = strip(TimeBar(NINE, NINE + 1, "hands", ("stir",)), POUR)
    assert [one.text for one in chart.labels if one.tone.startswith("on")] == ["pour"]
    wide = strip(TimeBar(NINE, NINE + 20, "window", ("scent at 135 to 145", "scent")))
    said = {one.tone: one.text for one in wide.labels if one.tone.startswith("in")}
    assert said == {"in roomy": "scent at 135 to 145", "in brief": "scent"}


@pytest.mark.parametrize("at", [-9.5, 20.0, 49.0])
def test_what_the_studio_did_is_marked_at_its_minute_with_its_label_inside(at: float) -> None:
    label = TimeLabel("you poured at 127: 18 of 18 held", "127: 18 of 18 held")
    chart = strip(POUR, marks=(TimeMark((NINE + at,), label),))
    (mark,) = (line for line in chart.strokes if line.tone == "mind")
    zero = next(share(one.x) for one in chart.scale if one.text == "0")
    bold = next(share(one.x) for one in chart.labels if one.text == "31")
    assert share(mark.x1) == pytest.approx(zero + at * (bold - zero) / 31, abs=2e-4)
    (said,) = (one for one in chart.labels if one.tone.endswith("mind brief"))
    assert 0 <= share(said.x) <= 1 - width_of(said.text) / NARROW_EM + 1e-4
    assert em(mark.y1) >= em(said.y) - 0.2
