"""The bond in words: what the studio saw comes first, and a disagreement is said."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from journal.charts.rows import PoursRow, TemperatureRange, bond_chart
from journal.figures.heat.derive_heat import BOND, BondFigures, PouredBars
from journal.html.blocks import Words
from journal.views.design.bond import (
    _chart,
    _disagreements,
    _model_text,
    _note,
    observed_bonds_text,
    sticking_text,
)
from journal.views.shared.on_design import DesignContext
from journal.views.shared.words import UnitFormatter

NOTHING: Any = None
BOOK: Any = SimpleNamespace(units=UnitFormatter(True, (1.0,), "USD"))
ON = DesignContext(BOOK, NOTHING, NOTHING, None, None)


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def poured(label: str, at_f: float, held: int, lost: int = 0, silent: int = 0) -> PouredBars:
    return PouredBars(label, celsius(at_f), held, lost, silent)


def model(*seen: PouredBars, low_f: float = 128.0, high_f: float = 156.0, **more: Any) -> Any:
    window = SimpleNamespace(
        low_c=celsius(low_f),
        high_c=celsius(high_f),
        low_band_c=(celsius(low_f - 7), celsius(low_f + 7)),
        high_band_c=None,
        why="",
    )
    softens = SimpleNamespace(low=celsius(104), nominal=celsius(106), high=celsius(109))
    case = SimpleNamespace(detail=SimpleNamespace(softens_c=softens))
    values = {"poured_bars": seen, "window": window, "case": case, "agrees_at_c": None, **more}
    found = SimpleNamespace(**values)
    found.contradicted = BondFigures.contradicted.fget(found)  # type: ignore[attr-defined]
    return found


def text(words: Words) -> str:
    return "".join(w if isinstance(w, str) else w.text for w in words).replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        ((), "No bar has the temperature of its body written down yet."),
        (
            (poured("A", 128, 6), poured("B", 132, 3), poured("C", 160, 1, 2)),
            "Your nine bars poured at 128–132 °F held; two of three at 160 °F lost detail.",
        ),
        ((poured("A", 128, 1),), "Your one bar poured at 128 °F held."),
        ((poured("A", 160, 0, 3),), "Three of your three bars at 160 °F lost detail."),
        (
            (poured("A", 128, 2, 0, 4),),
            "Your two bars poured at 128 °F held;"
            " of four bars nobody wrote down whether the detail held.",
        ),
    ],
)
def test_the_studios_own_bars(seen: tuple[PouredBars, ...], said: str) -> None:
    assert text((observed_bonds_text(ON, seen),)) == said


def test_the_model_says_how_far_it_may_be_wrong() -> None:
    assert text((_model_text(ON, model()),)) == (
        "The model says: the body sticks from 128 °F (give or take 7 °F);"
        " at 156 °F a quarter of the detail melts."
    )


def _without(found: Any, *ends: str, why: str = "") -> Any:
    for end in ends:
        setattr(found.window, end, None)
    found.window.why = why
    return found


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        (("low_c", "high_c"), "The model gives no window: the mat is thicker than it reckons."),
        (
            ("low_c",),
            "The model says: at 156 °F a quarter of the detail melts."
            " The mat is thicker than it reckons.",
        ),
        (
            ("high_c",),
            "The model says: the body sticks from 128 °F (give or take 7 °F)."
            " The mat is thicker than it reckons.",
        ),
    ],
)
def test_a_window_with_an_end_that_is_not_known(ends: tuple[str, ...], said: str) -> None:
    why = "the mat is thicker than it reckons"
    found = _without(model(poured("A", 100, 6), poured("B", 200, 4)), *ends, why=why)
    assert text((_model_text(ON, found),)) == said
    against = [text(words) for words in _disagreements(ON, found)]
    assert len(against) == 2 - len(ends)


def test_bars_that_held_far_below_it_are_no_matter_of_the_models_slack() -> None:
    (said,) = map(text, _disagreements(ON, model(poured("A", 100, 6))))
    assert said == "Bars held at 100 °F. The model says they need 128 °F."


def test_where_they_agree_nothing_is_said() -> None:
    found = model(poured("A", 130, 6), poured("B", 165, 1, 2))
    assert _disagreements(ON, found) == []


def test_bars_that_held_below_the_window() -> None:
    found = model(poured("A", 125, 6), agrees_at_c=celsius(101))
    (said,) = map(text, _disagreements(ON, found))
    assert said == (
        "Bars held at 125 °F. The model says they need 128 °F."
        " The two agree if the base softens at 101 °F; the model took 104–109 °F."
        " The model may be off by that much."
    )


def test_bars_that_held_above_it_and_bars_that_were_lost_within_it() -> None:
    found = model(poured("A", 160, 6), poured("B", 140, 4, 2))
    hot, lost = map(text, _disagreements(ON, found))
    assert "held at 160 °F. The model says more than a quarter" in hot
    assert "our B at 140 °F lost detail, where the model says it holds" in lost


def on_page(bond: Any) -> Any:
    """A design's page whose bond is this one."""

    class Recipe:
        def __getitem__(self, spec: object) -> Any:
            assert spec is BOND
            return SimpleNamespace(value=bond)

    recipe = SimpleNamespace(layers=(SimpleNamespace(name="frond"), SimpleNamespace(name="body")))
    return SimpleNamespace(
        at=ON.at, units=ON.units, design=SimpleNamespace(recipe=recipe),
        known_figures=SimpleNamespace(recipe=Recipe()),
        note=lambda figure, *says, big: (big, text(says[0])),
    )  # fmt: skip


def test_between_which_temperatures_it_sticks() -> None:
    agreed = model(poured("A", 130, 6), body_layer="body")
    assert text((sticking_text(on_page(agreed)),)) == (
        "Below about 128 °F the body may not stick; above about 156 °F it starts to melt the frond."
    )
    unknown = _without(model(body_layer="body"), "low_c", "high_c")
    assert sticking_text(on_page(unknown)) == sticking_text(on_page(None)) == ""


def test_where_the_model_disagrees_the_large_figure_is_the_studios_own() -> None:
    planned = SimpleNamespace(
        pour_c=celsius(127), detail_c=celsius(50), softened_min=31.0, remelted_share=0.02
    )
    more = {"body_layer": "body", "planned": planned, "assumed": ()}
    agreed, against = model(poured("A", 130, 6), **more), model(poured("A", 120, 6), **more)
    big, says = _note(on_page(agreed), agreed)
    assert (text((big,)), says) == ("128–156 °F", "is the model's window for the body.")
    big, says = _note(on_page(against), against)
    assert text((big,)) == "120 °F"
    assert says == "is where your bars held; the model says 128–156 °F. Go by your pours."
    assert text((sticking_text(on_page(against)),)) == (
        "Go by your own pours here, not by the model. Your six bars poured at 120 °F held."
    )
    within = model(poured("A", 125, 6), **more)  # and the band begins at 121 °F
    assert text((sticking_text(on_page(within)),)) == (
        "Go by your own pours here. Your six bars poured at 125 °F held."
    )
    inside = model(poured("A", 140, 2, 4), **more)
    assert not inside.contradicted  # how sure the hot end is is not known here


def test_the_chart_holds_everything_in_its_width() -> None:
    chart = bond_chart(
        "bond",
        "t",
        "d",
        (TemperatureRange("model", 125.0, 140.0, ((118.0, 132.0), (136.0, 149.0))),),
        (
            PoursRow("held", (127.0, 127.0, 128.0, 180.0), "dot"),
            PoursRow("lost", (161.0,), "cross"),
        ),
        "°F",
    )
    height = float(chart.height.removesuffix("em"))
    places = [(m.x, m.y) for m in chart.marks]
    assert len(places) == 5 == len(set(places))
    for x, y in places:
        assert 0 <= float(x.removesuffix("%")) <= 100
        assert 0 <= float(y.removesuffix("em")) <= height
    (band,) = chart.bands
    lines = [stroke for stroke in chart.strokes if stroke.tone == "ink"]
    left = float(band.x.removesuffix("%"))
    assert float(lines[0].x1.removesuffix("%")) < left < float(lines[0].x2.removesuffix("%"))


def test_the_chart_counts_bars_and_marks_pours() -> None:
    recipe = SimpleNamespace(layers=(SimpleNamespace(name="body", pour=None),))
    design: Any = SimpleNamespace(recipe=recipe)
    on = DesignContext(BOOK, NOTHING, design, None, None)
    seen = (poured("A", 128, 6), poured("B", 132, 3), poured("C", 160, 1, 2))
    figure = _chart(on, model(*seen, body_layer="body"))
    assert figure is not None
    said = [text((one.text,)) for one in figure.chart.letters if one.tone == "over"]
    assert said[1:] == ["held: 9 bars; each mark is a pour", "lost detail: 2 bars"]
    assert [mark.shape for mark in figure.chart.marks] == ["dot", "dot", "cross"]
