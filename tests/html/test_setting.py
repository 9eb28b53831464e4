"""What functions set is what templates would: each is held against its template."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from journal.charts.drawing import ChartLabel, ChartLine, InkShape
from journal.html import filters as setting
from journal.html.blocks import Link, PageCell, TextRun
from journal.html.card_page import CardAmount
from journal.html.theme import read_theme
from journal.html.true_size import PathShape, PrintedText

PLAINLY = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "plainly_set"),
    undefined=StrictUndefined,
    autoescape=True,
)

#: Texts of the maker: everything that HTML gives a meaning, in any order.
TEXT = st.text("ab <>&'\"\u00a0é½", max_size=6)
TONE = st.sampled_from(("", "strong", "mind", "mended", "soft"))
SPAN = st.builds(TextRun, TEXT, TONE, TEXT, TEXT)
#: Bold stands between two pairs of asterisks, each a list's item or not.
MARKED = st.lists(TEXT, min_size=1, max_size=4).map("**".join)
AMOUNT = st.builds(CardAmount, MARKED, st.integers(0, 99), TONE)
CELL = st.builds(
    PageCell, st.lists(st.one_of(TEXT, SPAN), max_size=3).map(tuple), TEXT, st.booleans(),
    st.booleans(), TONE, TEXT,
)  # fmt: skip
#: What the modules that draw have written; no maker's text comes in here.
PLACE = st.sampled_from(("0", "12.5", "50%", "1.2em"))
ANCHOR = st.sampled_from(("start", "middle", "end"))
INK = st.sampled_from(("#000", "none"))


def plainly(name: str, every: object, **values: object) -> str:
    """The same, set by a template."""
    return PLAINLY.get_template(f"{name}.html").render(all=every, **values)


@given(st.lists(st.one_of(TEXT, SPAN), max_size=4))
def test_words(every: list[TextRun | str]) -> None:
    assert setting.words(every) == plainly("words", every, scripted=False)


@given(st.lists(st.one_of(TEXT, SPAN, AMOUNT), max_size=4), st.booleans())
def test_words_of_a_card(every: list[TextRun | str | CardAmount], scripted: bool) -> None:
    scripts = ("rescale.js",) if scripted else ()
    assert setting.card_words(every, scripts) == plainly("words", every, scripted=scripted)


@given(st.lists(CELL, max_size=4), st.booleans(), st.booleans())
def test_cells(row: list[PageCell], figures: bool, named: bool) -> None:
    shown = plainly("cells", row, figures=figures, named=named, scripted=False)
    assert setting.cells(row, figures, named) == shown
    both = setting.rows((row, row), figures, named)
    assert both == 2 * f"<tr>{shown}</tr>"


@given(st.builds(Link, TEXT, TEXT, TEXT, TEXT, st.booleans()))
def test_a_link(to: Link) -> None:
    assert setting.link(to) == plainly("link", to)


@given(st.lists(st.builds(ChartLine, PLACE, PLACE, PLACE, PLACE, st.just("ink")), max_size=3))
def test_strokes(every: list[ChartLine]) -> None:
    assert setting.strokes(every) == plainly("strokes", every)


LABEL = st.builds(
    ChartLabel, TEXT, PLACE, PLACE, ANCHOR, st.sampled_from(("", "over", "over rim")), TEXT
)


@given(st.lists(LABEL, max_size=3), st.booleans())
def test_letters(every: list[ChartLabel], toned: bool) -> None:
    assert setting.letters(every, toned) == plainly("letters", every, toned=toned)


SHAPE = st.builds(PathShape, st.just("M0 0L1 1"), PLACE, INK, st.sampled_from(("", "2 1")), INK)


@given(st.lists(SHAPE, max_size=3))
def test_shapes(every: list[PathShape]) -> None:
    assert setting.shapes(every) == plainly("shapes", every)


INKED = st.builds(
    InkShape, st.just("M0 0L1 1"), st.sampled_from(("", "edge", "hatched", "bar unknown")),
    st.sampled_from(("", "#8b9aa0")), st.sampled_from(("", "5.4")),
    st.sampled_from(("", "s1")), st.sampled_from(("", "4")),
)  # fmt: skip


@given(st.lists(INKED, max_size=3))
def test_shapes_in_ink(every: list[InkShape]) -> None:
    assert setting.inked(every, "bar-h") == plainly("inked", every, hatching="bar-h")


LETTERING = st.builds(
    PrintedText, TEXT, PLACE, PLACE, PLACE, st.just("Bench"), st.just("400"), ANCHOR, INK,
    st.sampled_from(("", "rotate(-90 1 2)")),
)  # fmt: skip


@given(st.lists(LETTERING, max_size=3))
def test_lettering(every: list[PrintedText]) -> None:
    assert setting.lettering(every) == plainly("lettering", every)


@pytest.mark.parametrize("first", [str, Markup])
def test_a_text_that_is_html_already_is_not_escaped_again(first: type[str]) -> None:
    # The same letters, asked for as text and as HTML, one after the other and the other way.
    other = Markup if first is str else str
    shown = {kind: setting.escaped(kind(f"<i>{first.__name__}</i>")) for kind in (first, other)}
    assert shown[str] == f"&lt;i&gt;{first.__name__}&lt;/i&gt;"
    assert shown[Markup] == f"<i>{first.__name__}</i>"


def test_what_is_set_is_html() -> None:
    # Else a template would escape it once more.
    for name, function in setting.FILTERS.items():
        given_one = Link("a", "b") if name == "link" else ()
        scripts = ((),) if name == "card_words" else ()
        assert isinstance(function(given_one, *scripts), Markup)


@pytest.mark.parametrize(
    ("value", "html"),
    [("<&>", "&lt;&amp;&gt;"), (Markup("<b>"), "<b>"), (3, "3"), (["<"], "[&#39;&lt;&#39;]")],
    ids=["text", "HTML", "a number", "what has no digest"],
)
def test_what_a_template_prints(value: object, html: str) -> None:
    assert setting.shown(value) == html
    environment = read_theme().environment
    source = "{{ value }}{% macro again(it) %}{{ it }}{% endmacro %}{{ again(value) }}"
    assert environment.from_string(source).render(value=value) == 2 * html
