"""Firefox prints as Chromium does: true to size, on the paper asked for, no head alone at a foot.

It is started once for all processes of a run, and prints what every test here looks at.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from card_cases import TWO_LAYERS, card_of, lay_notebook
from conftest import MakeOnce
from demo import KELP_ON_GREY, MOTH
from firefox import LETTER_CM, running_firefox
from printed import (
    last_lines,
    overlapping_words,
    page_sizes_mm,
    placed_words,
    refuse_other_records,
    stroke_mm,
    words_beyond,
)

from journal.figures.shop.derive_template import cut_templates
from journal.html.blocks import PageFrame
from journal.html.card_page import CardSize
from journal.html.theme import read_theme
from journal.html.true_size import CHECK_MM, CHECK_X_MM, CHECK_Y_MM, HEAD_MM, MARGIN_MM, PaperSize
from journal.records.models.trim import Trim
from journal.views.card.card import card_page
from journal.views.card.layout import MEASURES
from journal.views.card.sheet import SHEETS_MM
from journal.views.paper.templates import template_page

# The first test waits for the build of the demo, for Firefox, and for all that it prints.
pytestmark = [pytest.mark.firefox, pytest.mark.usefixtures("poppler")]

#: Firefox rounds a sheet up to a point and a half.
SHEET_TOLERANCE_MM = 0.3
#: A printer's dot and the ends of a stroke: a quarter of what a maker's ruler tells.
TOLERANCE_MM = 0.1
PAPERS: list[PaperSize] = ["letter", "a4"]
PAPERS_CM = {"letter": LETTER_CM, "a4": {"width": 21.0, "height": 29.7}}
#: A card alone, and several on a sheet.
CARDS: list[tuple[CardSize, str]] = [("half-letter", ""), ("a6", "a4")]
READ = ("index.html", f"designs/{MOTH}.html")
BATCHES = f"batches/{KELP_ON_GREY}.html"


@pytest.fixture(scope="session")
def printed(firefox: str, make_once: MakeOnce, notebook: Path) -> Path:
    """The folder of all PDFs; ``printer-`` is for a printer that leaves a margin bare."""

    def make(out: Path) -> None:
        pages = _lay_pages(out, notebook)
        with running_firefox(firefox) as browser:
            for html in pages:
                browser.print_page(html, out / f"{html.stem}.pdf")
            for paper in PAPERS:
                pdf = out / f"printer-{paper}.pdf"
                browser.print_page(out / f"{paper}.html", pdf, PAPERS_CM[paper])

    return make_once("printed by Firefox", make)


def _lay_pages(out: Path, notebook: Path) -> list[Path]:
    """Write what is to be printed: templates, cards, and pages of the notebook."""
    theme, frame = read_theme(), PageFrame("Corran Bench", "", ())
    for path, raw in theme.files:
        (out / path).parent.mkdir(parents=True, exist_ok=True)
        (out / path).write_bytes(raw)
    small = lay_notebook(out / "small", a=TWO_LAYERS)
    pair = ("frond", "six")
    cut = cut_templates(small.shelf, pair, (Trim("straight", 3.0),))
    made = {
        paper: ("true-size.html", template_page(frame, small.shelf, pair, cut, paper))
        for paper in PAPERS
    }
    for size, paper in CARDS:
        leaves = card_of(small, "a", 14, size=size)
        made[f"cards-{size}"] = ("card.html", card_page(frame, [*leaves, *leaves], size, paper))
    for name, (template, page) in made.items():
        (out / f"{name}.html").write_text(theme.set_page(template, page), "utf-8")
    # In its PDFs the letters of a heavier weight of the theme's fonts cannot be read again.
    plain = out / "plain"
    shutil.copytree(notebook, plain, ignore=shutil.ignore_patterns("fonts"), copy_function=os.link)
    return [*(out / f"{name}.html" for name in made), *(plain / kind for kind in (*READ, BATCHES))]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("by", ["", "printer-"])
def test_lines_are_true(printed: Path, tmp_path: Path, paper: PaperSize, by: str) -> None:
    pdf = printed / f"{by}{paper}.pdf"
    sizes = page_sizes_mm(pdf)
    assert len(sizes) == 5
    for size in sizes:
        assert size == pytest.approx(SHEETS_MM[paper], abs=SHEET_TOLERANCE_MM)
    x, y = MARGIN_MM + CHECK_X_MM, MARGIN_MM + CHECK_Y_MM
    upright_x, upright_y = MARGIN_MM + 6.0, MARGIN_MM + HEAD_MM
    for number in (1, 3, len(sizes)):
        across = stroke_mm(pdf, tmp_path, (x - 2, y - 0.5, 104, 1), page=number, dpi=300)
        assert across == pytest.approx(CHECK_MM, abs=TOLERANCE_MM)
        box = (upright_x - 0.5, upright_y - 2, 1, 104)
        upright = stroke_mm(pdf, tmp_path, box, page=number, upright=True, dpi=300)
        assert upright == pytest.approx(CHECK_MM, abs=TOLERANCE_MM)


@pytest.mark.parametrize(("size", "paper"), CARDS)
def test_cards_are_whole_and_true(printed: Path, size: CardSize, paper: str) -> None:
    pdf = printed / f"cards-{size}.pdf"
    measures = MEASURES[size]
    wanted = SHEETS_MM[paper] if paper else (measures.width_mm, measures.height_mm)
    sizes, placed = page_sizes_mm(pdf), placed_words(pdf)
    assert len(sizes) >= (1 if paper else 3)
    for number, words in enumerate(placed):
        assert sizes[number] == pytest.approx(wanted, abs=SHEET_TOLERANCE_MM)
        assert not overlapping_words(words)
        side = measures.side_mm - 0.2
        box = (side, measures.top_mm, wanted[0] - side, wanted[1] - measures.foot_mm)
        assert not words_beyond(words, box)
        # A sheet that was made smaller would end early.
        assert max(word.bottom for word in words) > wanted[1] - measures.foot_mm - 4


def test_a_batch_has_a_sheet_to_sign(printed: Path) -> None:
    refuse_other_records(printed / f"{Path(BATCHES).stem}.pdf", SHEETS_MM["letter"])


@pytest.mark.parametrize("kind", READ)
def test_no_head_is_left_alone(printed: Path, kind: str) -> None:
    html = printed / "plain" / kind
    soup = BeautifulSoup(html.read_text("utf-8"), "html.parser")
    heads = {"".join(head.get_text().split()) for head in soup.select("main :is(h2, h3)")}
    pages = placed_words(printed / f"{html.stem}.pdf")
    said = "".join(word.text for words in pages for word in words)
    assert sum(head in said for head in heads) >= 5
    edges = (0, 216 / 2, 216) if soup.select("html.columned") else (0, 216)
    for number, words in enumerate(pages, start=1):
        assert not overlapping_words(words), f"sheet {number}"
        alone = heads.intersection(last_lines([w for w in words if w.bottom < 262], edges))
        assert not alone, f"{alone} at the foot of sheet {number}"
