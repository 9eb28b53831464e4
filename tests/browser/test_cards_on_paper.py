"""Cards as they come out on paper: one a page or several a sheet, whole, true to size."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from card_cases import (
    LONG_SHELF,
    ONE_LAYER,
    OVER_LIMIT,
    SIX_LAYERS,
    TWO_LAYERS,
    card_of,
    lay_notebook,
)
from msgspec import structs
from playwright.sync_api import Browser
from printed import (
    PAGE_TOLERANCE_MM,
    fonts_of,
    overlapping_words,
    page_sizes_mm,
    placed_words,
    shrunk_pages,
    words_beyond,
)

from journal.html.blocks import PageFrame
from journal.html.card_page import CardPage, CardSize
from journal.html.printing import pdf_of
from journal.html.theme import read_theme
from journal.views.card.card import card_page
from journal.views.card.layout import MEASURES
from journal.views.card.sheet import ON_SHEET, SHEETS_MM

SIZES: list[CardSize] = ["4x6in", "a6", "half-letter", "a5"]


def written(page: CardPage, folder: Path, name: str) -> Path:
    theme = read_theme()
    for path, raw in theme.files:
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(raw)
    (folder / name).write_text(theme.set_page("card.html", page), "utf-8")
    return folder / name


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[CardSize, str], CardPage]:
    """Every size alone: a usual recipe, the longest, the shortest, and one over its limit; on
    every paper the usual."""
    root = tmp_path_factory.mktemp("cards")
    notebook = lay_notebook(
        root, more=LONG_SHELF, a=TWO_LAYERS, b=SIX_LAYERS, c=ONE_LAYER, d=OVER_LIMIT
    )
    assert not notebook.errors, notebook.errors
    made = {}
    for size in SIZES:
        leaves = {
            name: card_of(notebook, name, bars, size=size)
            for name, bars in (("a", 14), ("b", 6), ("c", 1), ("d", 6))
        }
        frame = PageFrame("Corran Bench", "", ())
        every = [leaf for found in leaves.values() for leaf in found]
        made[size, ""] = card_page(frame, every, size)
        # An odd number of them, so that a sheet is not full.
        usual = [*leaves["a"], *leaves["c"], *leaves["a"]]
        for paper in ("a4", "letter"):
            made[size, paper] = card_page(frame, usual, size, paper)
    return made


def test_the_longest_recipe_is_long() -> None:
    """Six layers, thirty steps, names of sixty letters, weights of four digits."""
    assert SIX_LAYERS.count("- name:") == 6
    assert SIX_LAYERS.count("then: [rest 15 min, wipe the rim,") == 6
    assert len(LONG_SHELF["bases"].split("name: ")[1].split(",")[0]) >= 60


# How far the last thing on a leaf ends above the lines at its foot, and what sticks out
# of the card: all in CSS px.
MEASURE = """() => [...document.querySelectorAll('article.recipe-card')].map(card => {
  const foot = card.querySelector('footer');
  const last = foot.previousElementSibling.getBoundingClientRect().bottom;
  return [card.querySelector('h2').id, foot.getBoundingClientRect().top - last,
          card.scrollHeight - card.clientHeight, card.scrollWidth - card.clientWidth];
})"""


@pytest.mark.parametrize("size", SIZES)
def test_no_leaf_runs_over(
    browser: Browser, tmp_path: Path, pages: dict[tuple[CardSize, str], CardPage], size: CardSize
) -> None:
    html = written(pages[size, ""], tmp_path, "cards.html")
    page = browser.new_page()
    page.emulate_media(media="print")
    page.goto(html.as_uri())
    page.evaluate("document.fonts.ready")
    found = page.evaluate(MEASURE)
    page.close()
    assert len(found) > 5
    for name, spare, over, beyond in found:
        assert spare >= 0, name
        assert over <= 0, name
        assert beyond <= 0, name


#: What studios have: metric cards on A4, others on letter.
USUAL = [("a6", "a4"), ("a5", "a4"), ("4x6in", "letter"), ("half-letter", "letter")]


@pytest.mark.parametrize(
    ("size", "paper_name"),
    [
        *((size, "") for size in SIZES),
        *USUAL,
        *(
            pytest.param(size, paper, marks=pytest.mark.long)
            for size in SIZES
            for paper in ("a4", "letter")
            if (size, paper) not in USUAL
        ),
    ],
)
@pytest.mark.usefixtures("poppler")
def test_the_browser_prints_whole_cards_true_to_size(
    paper: Callable[[Path], Path],
    tmp_path: Path,
    pages: dict[tuple[CardSize, str], CardPage],
    size: CardSize,
    paper_name: str,
) -> None:
    page = pages[size, paper_name]
    pdf = paper(written(page, tmp_path, "cards.html"))
    _whole_and_true(pdf, page, size, PAGE_TOLERANCE_MM)
    assert shrunk_pages(pdf) == []


@pytest.mark.parametrize(
    ("size", "paper_name"),
    [
        ("half-letter", ""),
        ("a6", "a4"),
        pytest.param("a5", "", marks=pytest.mark.long),
        pytest.param("4x6in", "letter", marks=pytest.mark.long),
    ],
)
@pytest.mark.usefixtures("poppler")
def test_the_printer_without_a_browser_does_the_same(
    tmp_path: Path, pages: dict[tuple[CardSize, str], CardPage], size: CardSize, paper_name: str
) -> None:
    """The longest and the shortest recipe; of sheets a full one and one that is not."""
    pytest.importorskip("weasyprint")
    whole, theme = pages[size, paper_name], read_theme()
    usual = whole.sheets[0][0].title
    kept = whole.sheets[-2:] if paper_name else [s for s in whole.sheets if s[0].title != usual]
    page = structs.replace(whole, sheets=tuple(kept))
    assert (len(kept[0]) > len(kept[-1])) == bool(paper_name)
    assert len(kept) >= 2
    pdf = tmp_path / "cards.pdf"
    pdf.write_bytes(pdf_of(theme, [theme.set_page("card.html", page)]))
    # It writes lengths as they are; a thousandth of a point is its rounding.
    _whole_and_true(pdf, page, size, 0.001)
    assert fonts_of(pdf) <= {"Bench", "Text"}


def _whole_and_true(pdf: Path, page: CardPage, size: CardSize, tolerance_mm: float) -> None:
    sizes = page_sizes_mm(pdf)
    measures = MEASURES[size]
    wanted = SHEETS_MM[page.sheet] if page.sheet else (measures.width_mm, measures.height_mm)
    assert len(sizes) == len(page.sheets)
    for wide, high in sizes:
        assert wide == pytest.approx(wanted[0], abs=tolerance_mm)
        assert high == pytest.approx(wanted[1], abs=tolerance_mm)
    placed_on = placed_words(pdf)
    for words, sheet in zip(placed_on, page.sheets, strict=True):
        said = " ".join(word.text for word in words)
        for leaf in sheet:
            for word in _words_of(leaf.title, leaf.version, leaf.leaf):
                assert word in said
    # The margins hold nothing; a letter may lean out by a fifth of a millimetre.
    side, top, foot = measures.side_mm - 0.2, measures.top_mm, measures.foot_mm
    boxes = list(_card_places(page, size))
    for words, sheet in zip(placed_on, page.sheets, strict=True):
        assert not overlapping_words(words)
        placed = 0
        for leaf, (left, up) in zip(sheet, boxes, strict=False):
            box = (left, up, left + measures.width_mm, up + measures.height_mm)
            own = [word for word in words if left <= word.left < box[2] and up <= word.top < box[3]]
            inner = (box[0] + side, box[1] + top, box[2] - side, box[3] - foot)
            assert not words_beyond(own, inner)
            assert leaf.version in [word.text for word in own]
            placed += len(own)
        assert placed == len(words)


def _card_places(page: CardPage, size: CardSize) -> Iterable[tuple[float, float]]:
    """The left top corners of the cards of a full sheet, in mm, in the order of the leaves."""
    measures = MEASURES[size]
    if not page.sheet:
        return [(0.0, 0.0)]
    _, across, down = next(
        entry for (card, _), entry in ON_SHEET.items() if (card, entry[0]) == (size, page.sheet)
    )
    wide, high = SHEETS_MM[page.sheet]
    left = (wide - across * measures.width_mm) / 2
    up = (high - down * measures.height_mm) / 2
    return [
        (left + column * measures.width_mm, up + row * measures.height_mm)
        for row in range(down)
        for column in range(across)
    ]


def _words_of(*parts: str) -> Iterable[str]:
    return [word for part in parts for word in part.split()]


def test_every_sheet_is_tried() -> None:
    assert {size for size, _ in ON_SHEET} == set(SIZES)
