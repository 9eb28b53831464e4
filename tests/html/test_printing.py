"""A PDF can be read aloud: it is tagged as ISO 14289-1 asks (PDF/UA-1)."""

from __future__ import annotations

import io
from typing import Any

import pytest

from journal.html.blocks import Page, PageFrame, Paragraph, Passage, Section
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


def test_a_pdf_says_its_language_title_and_heads() -> None:
    pytest.importorskip("weasyprint")
    from pypdf import PdfReader

    parts = (Section(name, name, (Passage((Paragraph((name,)),)),)) for name in ("One", "Two"))
    page = Page(PageFrame("Corran Bench", "", ()), "Frond", tuple(parts))
    theme = read_theme()
    read = PdfReader(io.BytesIO(pdf_of(theme, [theme.set_page("page.html", page)])))
    root = read.root_object
    assert root["/MarkInfo"]["/Marked"].value
    assert root["/Lang"] == "en-GB"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value
    assert read.metadata is not None
    assert read.metadata.title == "Frond · Corran Bench"
    assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()
    assert _heads(root["/StructTreeRoot"]["/K"])[:3] == ["H1", "H2", "H2"]
