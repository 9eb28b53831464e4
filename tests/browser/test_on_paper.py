"""The notebook on paper: ink on white, no ways to click, nothing over anything, nothing alone."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from checked_pages import WIDTHS, accessibility_faults, overflow_faults, refuse_faults, watched
from demo import KELP_ON_GREY, MOTH, WHITE_FAN
from playwright.sync_api import Browser, BrowserContext, Page
from printed import (
    PAGE_TOLERANCE_MM,
    last_lines,
    overlapping_words,
    page_sizes_mm,
    placed_words,
    refuse_other_records,
    shrunk_pages,
    smallest_type_pt,
    stroke_mm,
    words_beyond,
)

from journal.views.card.sheet import SHEETS_MM

#: A page of each kind that is read, and the margins of its paper in mm.
READ = (
    "index.html",
    f"designs/{KELP_ON_GREY}.html",
    f"designs/{MOTH}.html",
    "shelf/mat-kelp-frond.html",
    "failed.html",
    "weeks.html",
    "compared/close-or-straight.html",
    "orders/lantern-fair.html",
    "cards/index.html",
)
#: A page of each kind that is made to be printed: the sheet that it is for, sheets, margin.
MADE = {
    f"cards/{KELP_ON_GREY}.html": ("card", 0, 4.0),
    "templates/kelp-frond-six-oblong.html": ("letter", 10, 5.0),
    f"labels/{KELP_ON_GREY}.html": ("letter", 6, 5.0),
    f"sheets/pour-{KELP_ON_GREY}.html": ("letter-wide", 2, 8.0),
    f"sheets/pour-{WHITE_FAN}.html": ("letter-wide", 5, 8.0),
    "sheets/photo-card.html": ("letter", 1, 5.0),
}


@pytest.fixture(scope="module")
def dark(browser: Browser) -> Iterator[BrowserContext]:
    """A reader by night, who prints all the same."""
    context = browser.new_context(offline=True, color_scheme="dark")
    asked, wrong = watched(context)
    yield context
    context.close()
    refuse_faults(asked, wrong)


@pytest.fixture
def printed(dark: BrowserContext, notebook: Path, tmp_path: Path) -> Callable[[str], Path]:
    def print_it(kind: str) -> Path:
        name = kind.removesuffix(".html").replace("/", "-")
        page, pdf = dark.new_page(), tmp_path / f"{name}.pdf"
        page.goto((notebook / kind).as_uri())
        page.evaluate("document.fonts.ready")
        page.pdf(path=pdf, prefer_css_page_size=True, print_background=True)
        page.close()
        return pdf

    return print_it


def brightness(pdf: Path, folder: Path) -> tuple[float, int]:
    """Mean and least brightness of the first page, 0 to 255."""
    import numpy as np
    from PIL import Image

    subprocess.run(
        ["pdftoppm", "-r", "50", "-gray", "-singlefile", str(pdf), str(folder / "seen")],
        check=True, capture_output=True,
    )  # fmt: skip
    with Image.open(folder / "seen.pgm") as seen:
        shades = np.asarray(seen)
    return float(shades.mean()), int(shades.min())


def heads(soup: BeautifulSoup) -> set[str]:
    """What may not stand last on a sheet; the line of a part that is folded whole is all of it."""
    found = soup.select("h1, h2, h3, h4, caption, .run summary, thead tr, .group")
    return {"".join(head.get_text().split()) for head in found}


@pytest.mark.usefixtures("poppler")
@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_a_batch_has_a_sheet_to_sign(
    page: Page, notebook: Path, tmp_path: Path, paper: str
) -> None:
    page.goto((notebook / f"batches/{KELP_ON_GREY}.html").as_uri())
    page.evaluate("document.fonts.ready")
    pdf = tmp_path / f"{paper}.pdf"
    page.pdf(path=pdf, format=paper, prefer_css_page_size=paper == "Letter")
    refuse_other_records(pdf, page_sizes_mm(pdf)[0])
    assert shrunk_pages(pdf) == []


@pytest.mark.usefixtures("poppler")
@pytest.mark.parametrize("kind", READ)
def test_a_page_that_is_read(
    printed: Callable[[str], Path], notebook: Path, tmp_path: Path, kind: str
) -> None:
    pdf = printed(kind)
    sizes = page_sizes_mm(pdf)
    for size in sizes:
        assert size == pytest.approx(SHEETS_MM["letter"], abs=PAGE_TOLERANCE_MM)
    pages = placed_words(pdf)
    soup = BeautifulSoup((notebook / kind).read_text("utf-8"), "html.parser")
    forbidden, columned = heads(soup), bool(soup.select("html.columned"))
    edges = (0, 216 / 2, 216) if columned else (0, 216)
    for number, words in enumerate(pages, start=1):
        assert not overlapping_words(words), f"sheet {number}"
        box = (11.5, 8, 204.5, 276) if kind.startswith("orders/") else (15, 8, 201, 272)
        assert not words_beyond(words, box), f"sheet {number}"
        body = [word for word in words if word.bottom < 262]
        assert len(body) > 5, f"sheet {number} of {len(pages)} is all but empty"
        alone = forbidden.intersection(last_lines(body, edges))
        assert not alone or number == len(pages), f"{alone} at the foot of sheet {number}"
    if columned or kind == "index.html":
        # The demo's longest designs are among those that are read. An order has a sheet of what it
        # takes, then one for every two days.
        assert len(pages) <= 4
    assert smallest_type_pt(pdf)[0] >= 7
    said = " ".join(word.text for words in pages for word in words)
    # Nothing to click, and nothing that is folded on the screen; a part that is folded whole
    # says its answer, and the line of a day is its verdict.
    answers = [
        line.get_text()
        for line in soup.select(".part:not(#made, #missing) > .fold > summary, .verdict")
    ]
    folded = [line.get_text() for line in soup.select("summary")]
    folded = [line for line in folded if line not in answers]
    if "days" not in soup.select("html")[0]["class"]:
        assert set(" ".join(answers).split()) <= set(said.split())
    for way in ("To the top", "To the text", "Contents", *folded):
        assert way not in said
    # The way to another page is its number.
    if not kind.startswith("compared/"):  # all its ways are in folds
        assert re.search(r"\(p\.\s\w", said)
    assert re.search(r"· page \w+", said)
    mean, darkest = brightness(pdf, tmp_path)
    # A page with a large photo is darker; one in night inks is below 60.
    assert mean > 190
    assert darkest < 60


@pytest.mark.usefixtures("poppler")
@pytest.mark.parametrize("kind", sorted(MADE))
def test_a_page_that_is_made_to_be_printed(
    printed: Callable[[str], Path], notebook: Path, tmp_path: Path, kind: str
) -> None:
    pdf = printed(kind)
    sheet, count, margin = MADE[kind]
    # A leaf of a card a sheet, but for that of the rounds where there is one round.
    shown = re.sub(r'<div class="sheet"[^>]* hidden', "", (notebook / kind).read_text("utf-8"))
    count = count or shown.count('<div class="sheet"')
    wanted = (139.7, 215.9) if sheet == "card" else SHEETS_MM[sheet]
    sizes = page_sizes_mm(pdf)
    assert len(sizes) == count
    for size in sizes:
        assert size == pytest.approx(wanted, abs=PAGE_TOLERANCE_MM)
    for words in placed_words(pdf):
        assert words
        assert not overlapping_words(words)
        box = (margin, margin, wanted[0] - margin, wanted[1] - margin)
        assert not words_beyond(words, box)
    assert smallest_type_pt(pdf)[0] >= 7
    mean, darkest = brightness(pdf, tmp_path)
    assert mean > 200
    assert darkest < 90


def test_on_a_phone_at_the_bench(browser: Browser, notebook: Path, axe_script: str) -> None:
    """What is made for paper can be looked at before it is printed, by day and night."""
    width, height = WIDTHS["phone"]
    context = browser.new_context(viewport={"width": width, "height": height}, offline=True)
    asked, wrong = watched(context)
    page = context.new_page()
    faults = []
    for kind in MADE:
        page.goto((notebook / kind).as_uri())
        # Drawings have the same inks by day and night.
        lights = ("light",) if page.locator(".true").count() else ("light", "dark")
        found = [*overflow_faults(page), *accessibility_faults(page, axe_script, lights)]
        faults += [f"{kind}: {fault}" for fault in found]
    context.close()
    assert not faults, "\n".join(faults)
    refuse_faults(asked, wrong)


@pytest.mark.usefixtures("poppler")
def test_the_ruler_of_the_photo_card_is_true(
    printed: Callable[[str], Path], tmp_path: Path
) -> None:
    """The strip of greys is 60 mm, six steps of 10, and lies in one row."""
    pdf = printed("sheets/photo-card.html")
    words = placed_words(pdf)[0]
    nought, end = (next(w for w in words if w.text == text) for text in ("0", "80"))
    # The figures of the ruler stand 0.6 mm left of their marks.
    assert end.left - nought.left == pytest.approx(80, abs=0.1)
    box = (nought.left - 1, nought.top - 11, 110, 11)
    # The outermost marks are 100 mm apart, 0.4 mm thick.
    assert marks_apart(pdf, tmp_path, box) == pytest.approx(100.4, abs=0.1)


def marks_apart(pdf: Path, folder: Path, box: tuple[float, float, float, float]) -> float:
    import numpy as np
    from PIL import Image

    stroke_mm(pdf, folder, box)  # draws the page
    with Image.open(folder / f"{pdf.stem}-1-600.pgm") as opened:
        ink = 255 - np.asarray(opened.convert("L"), dtype=float)
    scale = 600 / 25.4
    left, top, wide, high = (round(length * scale) for length in box)
    columns = np.flatnonzero(ink[top : top + high, left : left + wide].max(0) > 128)
    return float(columns[-1] - columns[0] + 1) / scale


def test_sizes_of_paper_are_written_out(project: Path) -> None:
    """A name such as A6 is not known to every browser, which then takes another size in silence."""
    styles = [path.read_text("utf-8") for path in (project / "themes").rglob("*.css")]
    sizes = [
        size for style in styles for size in re.findall(r"@page[^{]*\{[^}]*?size: *([^;}]+)", style)
    ]
    assert len(sizes) >= 12
    for size in sizes:
        assert re.fullmatch(r"[\d.]+(mm|in) [\d.]+(mm|in) *", size), size


@pytest.mark.usefixtures("poppler")
def test_the_checks_bite(browser: Browser, tmp_path: Path) -> None:
    html = (
        "<!doctype html><style>@page { size: 100mm 100mm; margin: 10mm } p { position: absolute;"
        " margin: 0; font: 12pt sans-serif }</style><p style='top: 10mm; left: 5mm'>written"
        "<p style='top: 11mm; left: 9mm'>over<p style='top: 40mm; left: 60mm'>out"
        "<p style='top: 60mm; left: 5mm'>well<p style='top: 65mm; left: 5mm'>apart"
    )
    (tmp_path / "bad.html").write_text(html, "utf-8")
    page = browser.new_page()
    page.goto((tmp_path / "bad.html").as_uri())
    page.pdf(path=tmp_path / "bad.pdf", prefer_css_page_size=True)
    page.close()
    (words,) = placed_words(tmp_path / "bad.pdf")
    assert overlapping_words(words) == ["'written' over 'over'"]
    assert [text.split()[0] for text in words_beyond(words, (9, 9, 50, 91))] == ["'out'"]
