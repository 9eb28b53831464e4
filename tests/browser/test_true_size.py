"""What is cut by comes out true to size, in a browser's PDF and in one made without a browser."""

from __future__ import annotations

from pathlib import Path

import pytest
from card_cases import lay_notebook
from checked_pages import refuse_faults, watched
from playwright.sync_api import Browser
from printed import PAGE_TOLERANCE_MM, page_sizes_mm, placed_words, stroke_mm, texts

from journal.figures.derive_template import cut_templates
from journal.pages.card_sheet import SHEETS_MM
from journal.pages.label_sheets import label_page
from journal.pages.labels import BarSize, LabelShape, LabelWords
from journal.pages.parts import Frame
from journal.pages.printing import pdf_of
from journal.pages.templates import template_page
from journal.pages.theme import Theme, read_theme
from journal.pages.true_size import (
    CHECK_MM,
    CHECK_X_MM,
    CHECK_Y_MM,
    HEAD_MM,
    MARGIN_MM,
    Paper,
    TruePage,
)
from journal.records.trim import Trim

#: A printer's dot and the ends of a stroke: a quarter of what a maker's ruler tells.
TOLERANCE_MM = 0.1
PAPERS: list[Paper] = ["letter", "a4"]


@pytest.fixture(scope="module")
def theme() -> Theme:
    return read_theme()


@pytest.fixture(scope="module", params=PAPERS)
def page(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> TruePage:
    notebook = lay_notebook(tmp_path_factory.mktemp("true"))
    pair = ("frond", "six")
    cut = cut_templates(notebook.shelf, pair, (Trim("straight", 3.0),))
    return template_page(Frame("Corran Bench", "", ()), notebook.shelf, pair, cut, request.param)


@pytest.fixture(scope="module", params=["browser", "no browser"])
def pdf(
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
    browser: Browser,
    theme: Theme,
    page: TruePage,
) -> tuple[Path, float]:
    """The page as a PDF, and how far its sheets may be from their size, in mm."""
    html, folder = theme.set_page("true-size.html", page), tmp_path_factory.mktemp("printed")
    made = folder / "page.pdf"
    if request.param == "no browser":
        pytest.importorskip("weasyprint")
        made.write_bytes(pdf_of(theme, [html]))
        return made, 0.001
    for path, raw in theme.files:
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(raw)
    (folder / "page.html").write_text(html, "utf-8")
    context = browser.new_context(offline=True, color_scheme="light")
    asked, wrong = watched(context)
    shown = context.new_page()
    shown.goto((folder / "page.html").as_uri())
    shown.pdf(path=made, prefer_css_page_size=True, print_background=True)
    context.close()
    refuse_faults(asked, wrong)
    return made, PAGE_TOLERANCE_MM


@pytest.mark.usefixtures("poppler")
def test_sheets_and_lines_are_true(tmp_path: Path, page: TruePage, pdf: tuple[Path, float]) -> None:
    path, tolerance = pdf
    sizes = page_sizes_mm(path)
    assert len(sizes) == len(page.drawings) >= 3
    for size in sizes:
        assert size == pytest.approx(SHEETS_MM[page.paper], abs=tolerance)
    for number in (1, len(sizes)):
        # The line across alone in its box, without the ends' small strokes.
        x, y = MARGIN_MM + CHECK_X_MM, MARGIN_MM + CHECK_Y_MM
        across = stroke_mm(path, tmp_path, (x - 2, y - 0.5, 104, 1), page=number, dpi=300)
        assert across == pytest.approx(CHECK_MM, abs=TOLERANCE_MM)
        x, y = MARGIN_MM + 6.0, MARGIN_MM + HEAD_MM
        upright = stroke_mm(
            path, tmp_path, (x - 0.5, y - 2, 1, 104), page=number, upright=True, dpi=300
        )
        assert upright == pytest.approx(CHECK_MM, abs=TOLERANCE_MM)


@pytest.mark.usefixtures("poppler")
def test_the_piece_is_as_large_as_the_figures_say(
    tmp_path: Path, page: TruePage, pdf: tuple[Path, float]
) -> None:
    # Motif 60 x 40 and 3 mm on every side: 66 x 46. The stroke's own width stands out by half.
    path, _ = pdf
    wide, high = 66 + 0.35, 46 + 0.35
    window = page.drawings[0].windows[0]
    x = MARGIN_MM + float(window.x) + float(window.width) / 2
    y = MARGIN_MM + float(window.y) + float(window.height) / 2
    top = (x - 36, y - 24, 72, 3)
    side = (x - 34, y - 26, 3, 52)
    assert stroke_mm(path, tmp_path, top, dpi=300) == pytest.approx(wide, abs=TOLERANCE_MM)
    assert stroke_mm(path, tmp_path, side, upright=True, dpi=300) == pytest.approx(
        high, abs=TOLERANCE_MM
    )


def test_the_words_that_keep_a_hand_from_cutting_too_soon(pdf: tuple[Path, float]) -> None:
    for said in texts(pdf[0]):
        flat = "".join(said.split())
        assert "Beforeyoucut,measurebothlineswitharuler" in flat
        assert "printagainat100%" in flat
    flat = "".join(texts(pdf[0])[0].split())
    for words in ("reliefonthisside", "cut66mmwide", "46mmhigh", "thecavity:80×55mm,corners8mm"):
        assert words in flat


def test_a_page_that_is_too_wide_would_be_noticed(
    browser: Browser, tmp_path: Path, theme: Theme
) -> None:
    """A browser makes everything smaller, without a word, if something is wider than the page."""
    html = (
        '<!doctype html><html class="true true-a4"><link rel="stylesheet" href="look.css">'
        '<div class="sheet"><svg width="199mm" height="60mm" viewBox="0 0 199 60">'
        '<path d="M14 37H114" stroke="#000" stroke-width=".3"/></svg>'
        '<div style="width: 240mm">wide</div></div></html>'
    )
    (tmp_path / "look.css").write_bytes(dict(theme.files)["look.css"])
    (tmp_path / "wide.html").write_text(html, "utf-8")
    sheet = browser.new_page()
    sheet.goto((tmp_path / "wide.html").as_uri())
    sheet.pdf(path=tmp_path / "wide.pdf", prefer_css_page_size=True)
    sheet.close()
    length = stroke_mm(tmp_path / "wide.pdf", tmp_path, (5, 5, 150, 60), dpi=300)
    assert length < CHECK_MM - 5


@pytest.mark.usefixtures("poppler")
def test_the_net_weight_is_as_high_as_the_rule_asks(tmp_path: Path, theme: Theme) -> None:
    """The small o of "oz", measured on the printed sheet: 1/8 in on a bar of 80 x 55 mm."""
    import numpy as np
    from PIL import Image

    words = LabelWords(
        "us", "Frond", "Corran Bench", "Net\u00a0Wt\u00a03.4\u00a0oz (96\u00a0g)", 96.4, "Aqua.", ()
    )
    bar = BarSize((80.0, 55.0), 25.0)
    shape = LabelShape("rectangle", 70.0, 48.0)
    sheet = label_page(Frame("Corran Bench", "", ()), [words], bar, [shape], "letter")
    pytest.importorskip("weasyprint")
    pdf = tmp_path / "label.pdf"
    pdf.write_bytes(pdf_of(theme, [theme.set_page("true-size.html", sheet)]))
    ounces = next(word for word in placed_words(pdf)[0] if word.text == "oz")
    wide = (ounces.right - ounces.left) / 2.2
    stroke_mm(pdf, tmp_path, (ounces.left, ounces.top, wide, 2))  # draws the page
    with Image.open(tmp_path / "label-1-600.pgm") as opened:
        ink = 255 - np.asarray(opened.convert("L"), dtype=float)
    left, top, right, foot = (
        round(length * 600 / 25.4)
        for length in (ounces.left, ounces.top, ounces.left + wide, ounces.bottom)
    )
    rows = np.flatnonzero(ink[top:foot, left:right].max(1) > 128)
    high = (rows[-1] - rows[0] + 1) * 25.4 / 600
    # A round letter leans out of its height by 2 %, top and foot.
    assert 25.4 / 8 <= high <= 25.4 / 8 * 1.06
