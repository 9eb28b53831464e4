"""Pages of the shelf and of designs show what they are about, drawn; nothing is drawn twice."""

from __future__ import annotations

import re
from pathlib import Path

import demo
import pytest
from small_notebook import lay_down_small

from journal.build_options import BuildOptions
from journal.building import build_notebook
from journal.views.lists import front


def page(notebook: Path, path: str) -> str:
    return (notebook / path).read_text("utf-8")


@pytest.mark.parametrize(
    ("path", "drawings", "said"),
    [
        # Two trims and two kinds of pieces; those of one trim and one kind.
        ("shelf/mat-kelp-frond.html", 4, "Close to the motif: 16 pieces from a sheet."),
        ("shelf/mat-deco-fan.html", 2, "Straight, 2 mm outside the motif: 9 pieces from a sheet."),
        ("shelf/mould-six-oblong.html", 1, "6 cavities, 80 × 55 mm."),
        ("shelf/mould-loaf-tin.html", 1, "1 cavity, 250 × 90 mm."),
        ("shelf/piece-kelp-a.html", 1, "3 casts of 120 each."),
    ],
)
def test_a_thing_is_drawn_to_scale(notebook: Path, path: str, drawings: int, said: str) -> None:
    part = re.search(
        r'<section class=part id="drawn".*?</section>', page(notebook, path), re.DOTALL
    )
    assert part
    assert part[0].count("<svg ") == drawings
    assert said in part[0].replace("\u00a0", " ")


def test_what_cannot_be_drawn_is_not(notebook: Path) -> None:
    for path in ("shelf/packaging-gift-box.html", "shelf/base-aloe-clear.html"):
        assert 'id="drawn"' not in page(notebook, path)
        assert "<ul class=colours" not in page(notebook, path)
    assert "#f6f1e6" in page(notebook, "shelf/base-white-shea.html")


def test_a_colourant_without_a_measured_photo_says_what_to_photograph(notebook: Path) -> None:
    assert "Photograph a bar of each dose" in page(notebook, "shelf/colourant-violet-dye.html")


def test_a_photo_comes_before_the_drawing(
    notebook: Path, demo_content: Path, tmp_path: Path
) -> None:
    with_photo = page(notebook, f"designs/{demo.MOTH}.html")
    assert '<figure class="frontispiece"><' in with_photo
    assert "frontispiece drawn" not in with_photo
    content = lay_down_small(tmp_path / "content", demo_content)
    write_up = content / "designs" / demo.KELP_ON_CLAY / "design.md"
    text = re.sub(r"\nphotos:\n(?:  .*\n)+", "\n", write_up.read_text("utf-8"))
    write_up.write_text(text, "utf-8")
    build_notebook(BuildOptions(content, tmp_path / "out"))
    without = page(tmp_path / "out", f"designs/{demo.KELP_ON_CLAY}.html")
    assert '<figure class="frontispiece drawn"><svg class=ink' in without
    assert "as the maker describes" in without


def test_the_plate_has_every_bar_at_one_scale(notebook: Path) -> None:
    plate = re.search(
        r'<section class=part id="plate".*?</section>', page(notebook, "index.html"), re.DOTALL
    )
    assert plate
    sizes = re.findall(r'viewBox="-0.6 -0.6 ([\d.]+) [\d.]+" width="?([\d.]+)em', plate[0])
    assert len(sizes) == 11
    assert {round(float(em) / float(mm), 3) for mm, em in sizes} == {0.12}
    assert "24 of 36 fit to sell" in plate[0].replace("\u00a0", " ")
    # A small mould beside each, until there are more than a hundred.
    assert plate[0].count("<svg class=cells ") == 11


def test_a_plate_of_very_many_has_words_alone(
    demo_content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JOURNAL_WORKERS", "1")
    monkeypatch.setattr(front, "MOST_MARKED", 1)
    content = lay_down_small(tmp_path / "content", demo_content)
    build_notebook(BuildOptions(content, tmp_path / "out"))
    plate = page(tmp_path / "out", "index.html").partition('id="plate"')[2].partition("</section>")
    assert "fit to sell" in plate[0].replace("\u00a0", " ")
    assert "<svg class=cells " not in plate[0]


def test_what_drawings_share_stands_once_on_their_page(notebook: Path) -> None:
    pages = [file.read_text("utf-8") for file in sorted(notebook.rglob("*.html"))]
    named = [set(re.findall(r'<use [^>]*href="?#([^" >]+)', text)) for text in pages]
    assert sum(map(bool, named)) > 5
    for text, names in zip(pages, named, strict=True):
        for name in names | set(re.findall(r"url\(#([^)]+)\)", text)):
            assert len(re.findall(rf' id="?{name}[" ]', text)) == 1


def test_the_card_has_its_bar_in_the_corner(notebook: Path) -> None:
    text = page(notebook, f"cards/{demo.KELP_ON_GREY}.html")
    heads = re.findall(r"<article.*?</h2>", text, re.DOTALL)
    assert len(heads) > 2
    assert ["<svg" in head for head in heads] == [">1 of " in head for head in heads]
