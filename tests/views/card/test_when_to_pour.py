"""When to pour: the strip has the minutes of the steps, the sentence is true when all is ready."""

from __future__ import annotations

import json
import re

import pytest
from demo import AMBER, FAN, KELP_ON_GREY, OAT_LOAF, PEBBLES, WHITE_FAN
from demo_book import demo_book, demo_round
from msgspec.structs import replace
from paths import PROJECT

from journal.charts.drawing import Chart
from journal.figures.day.rounds import minutes_in_window
from journal.html.card_page import plain_text
from journal.views.card.day_chart import chart_of_round, pot_reading
from journal.views.card.steps import RoundSteps, when_ready


def said(one: RoundSteps) -> str:
    return plain_text(when_ready(one)).replace("\u00a0", " ")


def places(chart: Chart, one: RoundSteps) -> dict[str, list[tuple[int, int]]]:
    """The minutes of all bars of a strip by their tone, read back by the bold numbers."""
    bold = {int(label.text): label.x for label in chart.labels if label.tone == "head"}
    (first, at), (last, end) = ((n, float(x.removesuffix("%"))) for n, x in bold.items())
    minute = (end - at) / (last - first)
    zero = one.last_heat.end_min
    found: dict[str, list[tuple[int, int]]] = {}
    for band in chart.bands:
        left, wide = float(band.x.removesuffix("%")), float(band.width.removesuffix("%"))
        begins = zero + first + (left - at) / minute
        ends = begins + wide / minute
        assert abs(begins - round(begins)) < 0.05
        assert abs(ends - round(ends)) < 0.05
        found.setdefault(band.tone, []).append((round(begins), round(ends)))
    return found


@pytest.mark.parametrize("name", [KELP_ON_GREY, FAN, WHITE_FAN, AMBER, OAT_LOAF, PEBBLES])
def test_the_drawn_minutes_are_those_of_the_steps(name: str) -> None:
    one = demo_round(name)
    drawn = places(chart_of_round("time", one).chart, one)
    pour, when = one.last_pour, one.pour_window
    assert when is not None
    # The block of the pour: its pot in its window, and every step that it waits for over.
    window = minutes_in_window(pour.step, one.ends)
    assert window is not None
    waits = max(one.ends[limit.step] for limit in pour.step.after)
    assert when == (max(window[0], waits), window[1])
    assert when in drawn["pour"]
    assert when[0] <= pour.start_min < when[1]
    if window[0] < waits:
        assert (window[0], waits) in drawn["window"]
    # All else that begins once the pieces are poured into is drawn as long as it takes.
    first = min(timed.start_min for timed in one.steps if timed.step.kind == "pour")
    for timed in one.steps:
        tone = {"rest": "alone", "chill": "alone", "pour": "pour", "place": "hands"}
        kind = tone.get(timed.step.kind)
        if kind is not None and timed.start_min >= first and timed.end_min <= when[1]:
            assert (timed.start_min, timed.end_min) in drawn[kind], timed


def test_the_answer_is_true_when_the_pot_and_the_pieces_are_ready() -> None:
    one = demo_round(KELP_ON_GREY)
    begins, until = (minute - one.last_heat.end_min for minute in one.pour_window or (0, 0))
    answer = f"Pour {begins} to {until} min after the slate pot reads 160 °F."
    assert said(one) == (
        f"{answer} The pot is then at 122–132 °F (50–56 °C): go by the thermometer."
        " Pour the detail 7 min before that reading, so that all is ready."
    )
    chart = chart_of_round("time", one).chart
    # The answer stands over the chart, which says the rest.
    assert chart.desc.startswith("slate pot: ")
    bold = [label.text for label in chart.labels if label.tone == "head"]
    assert bold == [str(begins), str(until)]


def test_a_pot_for_both_layers_and_layers_that_are_poured_together() -> None:
    assert said(demo_round(WHITE_FAN)).endswith(
        "Pour the detail at that reading, so that all is ready."
    )
    assert said(demo_round(OAT_LOAF)).endswith(
        "The pot is then at 135–145 °F (57–63 °C): go by the thermometer."
    )


def test_where_they_miss_each_other_it_is_reheated_then_waited() -> None:
    """The pieces are laid once the pot has left its window: by hand, from 61 C to 55.6 and 50 C."""
    one = demo_round(KELP_ON_GREY)
    pour = one.last_pour
    (limit,) = (limit for limit in pour.step.after if limit.window_min is not None)
    after = tuple(
        replace(other, window_min=1) if other is limit else other for other in pour.step.after
    )
    late = replace(pour, step=replace(pour.step, after=after))
    missed = replace(one, steps=tuple(late if other is pour else other for other in one.steps))
    assert missed.pour_window is None
    pot = one.pots["slate"]
    begins, until = pot.minutes_in(pour.step.window_c or (None, None), 60.555)
    assert said(missed) == (
        f"Once all is ready, reheat the slate pot to 141 °F, then pour {-int(-begins // 1)} to"
        f" {int(until)} min later. The pot is then at 122–132 °F (50–56 °C): go by the thermometer."
        " The pot cools before all is ready for it."
    )
    # No time to pour is drawn on its row, nor said in bold.
    chart = chart_of_round("time", missed).chart
    assert not [line for line in chart.strokes if line.tone == "dotted"]
    assert not [label for label in chart.labels if label.tone == "head"]


def test_where_the_studio_poured_is_marked_with_what_came_of_it() -> None:
    one = demo_round(KELP_ON_GREY)
    chart = chart_of_round("time", one).chart
    (label,) = (one for one in chart.labels if one.tone.endswith("mind roomy"))
    assert label.text.replace("\u00a0", " ") == "you poured at 127–128 °F, 18 of 18 held"
    # Of four pours two were at 128 F, and one at 162 F was hotter than the scale begins.
    assert sum(line.tone == "mind" for line in chart.strokes) == 2
    # The accent is for nothing else.
    assert {band.tone for band in chart.bands} <= {"wait", "alone", "window", "hands", "pour"}


def test_the_table_of_a_reading_is_the_curve_of_the_steps() -> None:
    one = demo_round(KELP_ON_GREY)
    reading, pot = pot_reading(one), one.pots["slate"]
    assert reading is not None
    rows = json.loads(reading.table)
    assert (reading.high, reading.low, reading.again) == ("132", "122", "141\u00a0°F")
    # The hottest that was read in it, to the end of the window.
    read = [
        r.temperature_c for pour in demo_book().notebook.designs[KELP_ON_GREY].pours
        for r in pour.readings if r.pot == "slate"
    ]  # fmt: skip
    top = max(pot.melted_c, *read)
    assert rows[0] == [round(top * 1.8 + 32, 1), 0]
    assert rows[-1][0] == 122
    for at, minute in rows[1:]:
        assert minute == pytest.approx(pot.minutes_to((at - 32) / 1.8, top), abs=0.15)


def test_no_reading_is_asked_for_without_a_pot_that_was_read() -> None:
    one = demo_round(KELP_ON_GREY)
    unread = {name: replace(pot, rate_per_min=None) for name, pot in one.pots.items()}
    blank = replace(one, pots=unread)
    assert pot_reading(blank) is None
    chart = chart_of_round("time", blank).chart
    assert not any(line.tone == "mind" for line in chart.strokes)


def test_the_script_works_nothing_out_but_between_two_rows() -> None:
    script = (PROJECT / "themes" / "desk" / "reading.js").read_text("utf-8")
    assert not re.search(r"Math\.(exp|log|pow)|\*\*", script)
