from __future__ import annotations

import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.charts.charts import (
    ChartWindow,
    CoolingChart,
    GrowthCurve,
    cooling_chart,
    growth_chart,
)
from journal.charts.drawing import Chart, format_em, format_share, ticks
from journal.charts.rows import BarsRow, strip_chart
from journal.charts.section import SectionDimensions, section_drawing


def number(text: str) -> float:
    return float(re.sub(r"%|em", "", text))


def within(chart: Chart) -> None:
    height = number(chart.height)
    for mark in chart.marks:
        assert 0 <= number(mark.x) <= 100
        assert 0 <= number(mark.y) <= height
    for letters in chart.letters:
        assert 0 <= number(letters.x) <= 100
        assert 0 <= number(letters.y) <= height
    for curve in chart.curves:
        assert all(-1 <= int(n) <= 1001 for n in re.findall(r"-?\d+", curve.d))


@examples(40)
@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4), st.integers(2, 9))
def test_ticks_are_few_round_and_inside(low: float, span: float, most: int) -> None:
    high = low + span
    found = ticks(low, high, most)
    assert len(found) <= most
    assert list(found) == sorted(set(found))
    slack = 1e-6 * span
    assert all(low - slack <= v <= high + slack for v in found)


def test_ticks_of_a_pot() -> None:
    assert ticks(118.0, 154.0, 6) == (120.0, 130.0, 140.0, 150.0)
    assert ticks(3.0, 3.0, 5) == (3.0,)


def test_places_have_no_minus_nought() -> None:
    assert format_share(-0.000001) == "0%"
    assert format_em(1.50) == "1.5em"


def cooling(readings: tuple[tuple[float, float], ...]) -> CoolingChart:
    return CoolingChart(
        "pot",
        "A pot",
        "It cools",
        readings,
        curves=(readings,),
        windows=(ChartWindow("pour", 122.0, 132.0),),
        poured=readings[-1],
        poured_says="poured",
    )


@examples(40)
@given(
    st.lists(
        st.tuples(st.floats(0, 600), st.floats(60, 220)),
        min_size=2,
        max_size=8,
        unique_by=lambda reading: reading[0],
    )
)
def test_a_cooling_chart_holds_all_its_marks(readings: list[tuple[float, float]]) -> None:
    readings.sort()
    within(cooling_chart(cooling(tuple(readings))))


def test_hotter_is_higher_and_later_is_to_the_right() -> None:
    chart = cooling_chart(cooling(((0.0, 150.0), (10.0, 140.0), (20.0, 130.0))))
    assert [number(m.y) for m in chart.marks] == sorted(number(m.y) for m in chart.marks)
    assert [number(m.x) for m in chart.marks] == sorted(number(m.x) for m in chart.marks)


def test_one_reading_makes_a_chart() -> None:
    within(cooling_chart(cooling(((5.0, 150.0),))))


@examples(40)
@given(st.lists(st.lists(st.floats(0, 50), max_size=12), min_size=1, max_size=3))
def test_no_two_bars_lie_on_each_other(values: list[list[float]]) -> None:
    strips = tuple(BarsRow("row", tuple(v), None, "dot") for v in values)
    chart = strip_chart("lip", "t", "d", strips, "mm")
    within(chart)
    assert len(chart.marks) == sum(map(len, values))
    # 2.6 % of a phone's column is a mark's width; 0.8 em its height.
    places = [(number(m.x), number(m.y)) for m in chart.marks]
    for n, (x, y) in enumerate(places):
        assert not [p for p in places[:n] if abs(p[0] - x) < 2.6 and abs(p[1] - y) < 0.8]


def test_the_names_of_bars_stay_a_line_apart() -> None:
    bars = tuple(
        GrowthCurve(
            f"bar {n}", ((0.0, 0.0), (30.0, 0.5 + n / 100)), beyond=((30.0, 0.5), (180.0, 1.0))
        )
        for n in range(4)
    )
    chart = growth_chart("bleed", "t", "d", bars, "mm")
    names = sorted(number(t.y) for t in chart.letters if t.text.startswith("bar"))
    assert len(names) == 4
    assert all(b - a >= 1.14 for a, b in pairwise(names))


def test_the_section_is_to_scale() -> None:
    cut = SectionDimensions("d", 80.0, 25.0, 66.0, 4.0, 2.0, 60.0, (("body", 26.5),), 1.5, "proud")
    drawn = section_drawing(cut)
    scale = 240.0 / 80.0
    brim = float(drawn.brim.y1)
    floor = float(drawn.view_box.split()[3]) - 4.0
    assert floor - brim == pytest.approx(25.0 * scale, abs=0.02)
    top = brim - 1.5 * scale
    body = [float(n) for n in re.findall(r"V([\d.]+)", drawn.body[0])]
    assert min(body) - 5.0 == pytest.approx(top, abs=0.02)
