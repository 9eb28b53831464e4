"""A PDF can be read aloud: it is tagged as ISO 14289-1 asks (PDF/UA-1)."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from paths import PROJECT

from journal.charts.day import TimeBar, TimeGroup, TimeLabel, TimeRow, time_chart
from journal.html.blocks import ChartFigure, Page, PageFrame, Paragraph, Passage, Section
from journal.html.printing import pdf_of
from journal.html.theme import read_theme


def _heads(node: Any) -> list[str]:
    """The kinds of heads in the order in which a reader comes to them."""
    if isinstance(node, list):
        return [head for one in node for head in _heads(one)]
    node = node.get_object() if hasattr(node, "get_object") else node
    if not hasattr(node, "get"):
        return []
    kind = str(node.get("/S", ""))
    return [*([kind[1:]] if kind[1:] in {"H1", "H2", "H3"} else []), *_heads(node.get("/K", []))]


@pytest.fixture(scope="module")
def read_pdf() -> Any:
    """A page with two heads and a chart as a PDF, read."""
    pytest.importorskip("weasyprint")
    from pypdf import PdfReader

    bars = TimeBar(480, 500, "pour"), TimeBar(500, 520, "hands")
    groups = [TimeGroup(None, (TimeRow(TimeLabel("melt 8:06", "on a phone"), bars),))]
    chart = time_chart("day", "Day 1", "Told.", groups, (480, 540), str, lambda text: len(text) / 2)
    blocks = (Paragraph(("One",)), ChartFigure(chart, ("Key",)))
    parts = tuple(Section(name, name, (Passage(blocks),)) for name in ("One", "Two"))
    page, theme = Page(PageFrame("Corran Bench", "", ()), "Frond", parts), read_theme()
    return PdfReader(io.BytesIO(pdf_of(theme, [theme.set_page("page.html", page)])))


def test_a_pdf_says_its_language_title_and_heads(read_pdf: Any) -> None:
    root = read_pdf.root_object
    assert root["/MarkInfo"]["/Marked"].value
    assert root["/Lang"] == "en-GB"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value
    assert read_pdf.metadata is not None
    assert read_pdf.metadata.title == "Frond · Corran Bench"
    assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()
    assert _heads(root["/StructTreeRoot"]["/K"])[:3] == ["H1", "H2", "H2"]


def test_a_chart_in_a_pdf_has_the_inks_of_the_stylesheet(read_pdf: Any) -> None:
    """Without an ink WeasyPrint draws no bar and no letter, and says nothing of it."""
    css = (PROJECT / "themes" / "desk" / "look.css").read_text("utf-8")
    drawn = read_pdf.pages[0].get_contents().get_data().decode("latin-1")
    for tone in ("ink", "soft", "hair"):
        by_day = re.search(rf"--{tone}: #([0-9a-f]{{6}});", css)
        assert by_day
        fill = " ".join(f"{byte / 255:.6f}".rstrip("0") for byte in bytes.fromhex(by_day[1]))
        assert re.search(rf"(?m)^{re.escape(fill)} rg$(?:(?! rg$)[^T])* re$", drawn), tone
    text = read_pdf.pages[0].extract_text()
    assert "melt 8:06" in text
    assert "on a phone" not in text
