"""Commands that end on paper: ``template``, ``label``, ``sheet``, and what all share."""

from __future__ import annotations

import json
import re
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from demo import KELP_ON_CLAY, KELP_ON_GREY, MOTH, OAT_LOAF
from differing_notebook import OVER_LIMIT, lay_out
from printed import (
    largest_type_pt,
    last_lines,
    overlapping_words,
    page_sizes_mm,
    placed_words,
    smallest_type_pt,
    texts,
    words_beyond,
)
from small_notebook import lay_down_asking, lay_down_small
from take_cases import copy_beside
from worked_notebook import lay_out as lay_out_worked

from journal.cli import main
from journal.cli.paper.on_paper import write_pdf
from journal.records.notebook import read_notebook


@pytest.fixture
def content(tmp_path: Path, demo_content: Path) -> Path:
    return Path(shutil.copytree(demo_content, tmp_path / "content"))


def run(content: Path, *arguments: str | Path) -> int:
    command, *more = map(str, arguments)
    return main([command, "--content", str(content), *more])


#: Each command, with what its first page says and the size of its sheets in mm.
COMMANDS = [
    (("template", "kelp-frond", "six-oblong"), "100 mm across", (215.9, 279.4)),
    (("label", KELP_ON_GREY), "This is a draft.", (215.9, 279.4)),
    (("sheet", "pour-day", MOTH), "readings", (279.4, 215.9)),
    (("sheet", "photo-card"), "Photo card", (215.9, 279.4)),
    (("cards", KELP_ON_GREY), "For 6 bars", (139.7, 215.9)),
    (("cards", KELP_ON_GREY, "--sheet", "letter"), "For 6 bars", (279.4, 215.9)),
]
#: Several cards on a sheet are printed without a browser in test_cards_on_paper.py.
PRINTED = [*COMMANDS[:-1], pytest.param(*COMMANDS[-1], marks=pytest.mark.long)]


def test_a_card_in_another_mould(
    demo_content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On paper it is a trial in that mould; what could not be carried over is said."""
    out = tmp_path / "made"
    assert run(demo_content, "cards", KELP_ON_GREY, "--mould", "guest-nine", "--out", out) == 0
    said = capsys.readouterr().out
    assert "Carried over from Oblong, six cavities; nothing was poured of it yet." in said
    assert "No piece of Kelp fronds is cut for Guest squares" in said
    text = BeautifulSoup((out / "index.html").read_text("utf-8"), "html.parser").get_text(" ")
    assert "Guest squares, nine cavities" in text
    assert "Trial." in text


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--mould", "guest-nin"), 'no mould is called "guest-nin". Did you mean "guest-nine"?'),
        (("--mat", "fan"), 'no mat is called "fan"'),
        (("--base", "white-shea"), '"white-shea" names no two bases. Write --base OLD=NEW.'),
        (
            ("--base", "oatmeal=white-shea"),
            "has no oatmeal in it. It has white-shea and clear-glycerine",
        ),
    ],
)
def test_what_a_card_cannot_be_carried_over_to(
    demo_content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    options: tuple[str, ...], says: str,
) -> None:  # fmt: skip
    assert run(demo_content, "cards", KELP_ON_GREY, *options, "--out", tmp_path / "made") == 2
    assert says in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(("arguments", "says", "size"), COMMANDS)
def test_a_folder_with_all_that_its_page_needs(
    demo_content: Path, tmp_path: Path, arguments: tuple[str, ...], says: str,
    size: tuple[float, float],
) -> None:  # fmt: skip
    out = tmp_path / "made"
    assert run(demo_content, *arguments, "--out", out) == 0
    html = (out / "index.html").read_text("utf-8")
    assert says in html.replace("\u00a0", " ")
    for asked in re.findall(r'(?:href|src)="([^"#]+)"', html):
        assert (out / asked).is_file(), asked
    # A second time there is nothing else, and nothing is lost.
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert run(demo_content, *arguments, "--out", out) == 0
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize("arguments", [("sheet", "pour-day", "fern"), ("label", "fern")])
def test_a_sheet_of_a_design_over_its_limit_says_so(
    tmp_path: Path, arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    content = lay_out(tmp_path / "content", *OVER_LIMIT)
    assert run(content, *arguments, "--out", tmp_path / "made") == 1
    assert "over its limit of 0.5 %" in capsys.readouterr().err
    html = (tmp_path / "made/index.html").read_text("utf-8").replace("\u00a0", " ")
    (danger,) = BeautifulSoup(html, "html.parser").select(".danger")
    assert danger.get_text() == (
        "Over the limit: Thyme is 1.96 % of the rim; its certificate allows 0.5 %."
        " Do not pour or sell it."
    )


def test_a_bench_page_is_one_file_that_asks_for_no_other(tmp_path: Path) -> None:
    content, out = lay_out(tmp_path / "content", *OVER_LIMIT), tmp_path / "made"
    assert run(content, "sheet", "bench", "fern", "--out", out) == 1
    (page,) = [path for path in out.iterdir() if not path.name.startswith(".")]
    assert page.name == "fern.html"
    html = page.read_text("utf-8")
    assert "Do not pour or sell it." in BeautifulSoup(html, "html.parser").select(".danger")[0].text
    assert not re.findall(r"(?:href|src)=\"|url\(|@import", html)


def test_a_planned_pot_of_one_variant_is_poured_by_its_own_steps(
    demo_content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Milky or clear body: another base, so each pot holds one, and melts and cools otherwise."""
    content, name = copy_beside(demo_content, tmp_path, monkeypatch), "honeycomb-in-amber"
    write_up = content / f"designs/{name}/design.md"
    text = write_up.read_text("utf-8")
    assert "\n\npours:\n" in text
    planned = "\n\nplan: {pots: 8, seed: amber}\n\npours:\n"
    write_up.write_text(text.replace("\n\npours:\n", planned), "utf-8")
    assert run(content, "sheet", "bench", name, "--out", tmp_path / "made") == 0
    html = (tmp_path / f"made/{name}.html").read_text("utf-8")
    (found,) = BeautifulSoup(html, "html.parser").select("#facts")
    facts = json.loads(found.text)
    any_pour, *others = facts["turns"]
    pots = [one for one in others if not one["pour"]]  # of the rest bars are to be judged
    assert (any_pour["key"], any_pour["planned"], any_pour["counted"]) == (name, "", False)
    poured = len(read_notebook(content).designs[name].pours)
    assert [one["over"] for one in pots] == [n < poured for n in range(max(8, poured + 1))]
    for pair in (pots[at : at + 2] for at in range(0, 8, 2)):
        assert {one["name"].partition(": ")[2] for one in pair} == {"milky", "clear"}
        assert len({one["day"] for one in pair}) == 1
    for one in pots:
        (variant,) = {cavity["variant"] for cavity in one["cavities"]}
        says = " ".join(step["says"] for step in facts["rounds"][one["of"]]["steps"])
        body = says[says.index("Melt the body") :][:70]
        assert ("White shea" if variant == "milky" else "Clear glycerine") in body


def test_a_pour_day_sheet_prints_it_largest(tmp_path: Path) -> None:
    pytest.importorskip("weasyprint")
    content, pdf = lay_out(tmp_path / "content", *OVER_LIMIT), tmp_path / "made.pdf"
    assert run(content, "sheet", "pour-day", "fern", "--pdf", pdf) == 1
    assert len(page_sizes_mm(pdf)) == 2
    assert "Over the limit" in texts(pdf)[0]
    size, said = largest_type_pt(pdf)
    assert size == pytest.approx(20, abs=0.01)
    assert said in "Over the limit: Thyme is 1.96 % of the rim; Do not pour or sell it."
    for words in placed_words(pdf):
        assert not overlapping_words(words)
    # The readings have their rows, beside the bars.
    assert {"readings", "bars"} <= {word.text for word in placed_words(pdf)[0]}
    heads = [word.top for word in placed_words(pdf)[0] if word.text in ("time", "bar")]
    assert len(heads) == 2


@pytest.mark.parametrize(("arguments", "says", "size"), PRINTED)
def test_a_pdf_without_a_browser(
    demo_content: Path, tmp_path: Path, arguments: tuple[str, ...], says: str,
    size: tuple[float, float],
) -> None:  # fmt: skip
    pytest.importorskip("weasyprint")
    pdf = tmp_path / "made.pdf"
    assert run(demo_content, *arguments, "--pdf", pdf) == 0
    assert page_sizes_mm(pdf)[0] == pytest.approx(size, abs=0.01)
    said = "".join(texts(pdf)[0].split())
    assert "".join(says.split()) in said
    for words in placed_words(pdf):
        assert not overlapping_words(words)
        assert not words_beyond(words, (4.9, 4.9, size[0] - 4.9, size[1] - 4.9))
    # Of drawings within drawings the scale is not told; theirs is looked at in a browser's PDF.
    if arguments[0] not in ("template", "label"):
        assert smallest_type_pt(pdf)[0] >= 7
    assert b"notebook.invalid" not in pdf.read_bytes()
    if "photo-card" in arguments:  # the quickest: the same call gives the same bytes
        again = tmp_path / "again.pdf"
        assert run(demo_content, *arguments, "--pdf", again) == 0
        assert again.read_bytes() == pdf.read_bytes()


@pytest.mark.parametrize(
    ("order", "title", "most_sheets", "least_cells"),
    [
        ("dozen", "A dozen", 4, 50),
        # A browser prints it quickly, test_on_paper.py; without one it takes 20 seconds.
        pytest.param("lantern-fair", "Stall at the lantern fair", 8, 250, marks=pytest.mark.long),
    ],
)
def test_an_orders_sheet_is_that_of_the_notebook(
    demo_content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    order: str, title: str, most_sheets: int, least_cells: int,
) -> None:  # fmt: skip
    pytest.importorskip("weasyprint")
    pdf, pages = tmp_path / "order.pdf", []
    small = order == "dozen"
    content = lay_down_asking(tmp_path / "content", demo_content) if small else demo_content

    def watched(asked: Any, theme: Any, html: str) -> None:
        pages.append(html)
        write_pdf(asked, theme, html)

    monkeypatch.setattr("journal.cli.paper.order.write_pdf", watched)
    assert run(content, "order", order, "--begins", "9:30", "--pdf", pdf) == 0
    sizes = page_sizes_mm(pdf)
    assert sizes == [pytest.approx((215.9, 279.4), abs=0.01)] * len(sizes)
    said = " ".join(texts(pdf))
    assert title in said
    assert "9:30" in said
    assert "8:00" not in said.split("Day 1")[1].split("Day 2")[0]
    # As many sheets as a browser prints, test_order_days.py; one for what stands at the foot.
    assert len(sizes) <= most_sheets
    assert "body: melt " in said
    assert smallest_type_pt(pdf)[0] >= 7
    soup = BeautifulSoup(pages[0], "html.parser")
    heads = {
        "".join(head.get_text().split())
        for head in soup.select("h1, h2, h3, caption, thead tr, .group")
    }
    for words in placed_words(pdf):
        assert len(words) > 20
        assert not overlapping_words(words)
        body = [word for word in words if word.bottom < 262]
        assert not heads.intersection(last_lines(body, (0, 108, 216)))
    # Nothing is lost between two sheets.
    flat = "".join(said.split())
    # What is folded on the screen, and notes on how it was worked out, are not printed.
    for unprinted in soup.select("details:not(.fold), summary, .glosses, .onpage"):
        unprinted.decompose()
    cells = soup.select("main p, main td, main th, main .day span")
    first = [next(iter(cell.stripped_strings), "") for cell in cells]
    lost = [text for text in first if "".join(text.split()) not in flat]
    assert len(cells) > least_cells
    assert not lost


@pytest.mark.parametrize(
    "arguments", [arguments for arguments, _, _ in COMMANDS if "--sheet" not in arguments]
)
def test_without_the_printer_it_says_what_to_install(
    demo_content: Path, tmp_path: Path, arguments: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    monkeypatch.setitem(sys.modules, "weasyprint.text.fonts", None)
    assert run(demo_content, *arguments, "--pdf", tmp_path / "made.pdf") == 2
    said = capsys.readouterr().err
    assert "pip install 'soap-design-journal[pdf]'" in said
    assert "open the page in a browser and print it" in said
    assert not (tmp_path / "made.pdf").exists()


@pytest.mark.parametrize("arguments", [("sheet", "photo-card"), ("cards", KELP_ON_GREY)])
def test_what_is_read_is_not_written_into(
    content: Path, arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setattr("journal.cli.paper.on_paper.pdf_of", None)  # it is told before it is set
    before = sorted(content.rglob("*"))
    assert run(content, *arguments, "--pdf", content / "made.pdf") == 2
    assert run(content, *arguments, "--out", content / "made") == 2
    assert sorted(content.rglob("*")) == before
    assert "content" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("template", "kelp-frnd", "six-oblong"), 'Did you mean "kelp-frond"?'),
        (("template", "kelp-frond", "six-oblog"), 'Did you mean "six-oblong"?'),
        (("template", "kelp-frond", "six-oblong", "--trim", "straight"), "has no margin"),
        (("template", "kelp-frond", "six-oblong", "--trim", "askew"), 'is no trim'),
        (("label", "kelp"), 'no design is called "kelp"'),
        (("label", KELP_ON_CLAY, "--size", "5 x 5 mm"), "too small to write on"),
        (("label", KELP_ON_CLAY, "--size", "900 x 40 mm"), "does not go on a sheet"),
        (("label", KELP_ON_CLAY, "--shape", "round", "--size", "50 x 40 mm"), "as wide as"),
        (("label", KELP_ON_CLAY, "--size", "large"), "large"),
        (("sheet", "pour-day"), "is for one design"),
        (("sheet", "pour-day", "kelp"), 'no design is called "kelp"'),
        (("sheet", "bench"), "is for one design, or one order"),
        (("sheet", "bench", "lantern-fare"), 'Did you mean "lantern-fair"?'),
        (("sheet", "bench", "harbour-kiosk"), "is handed over"),
        (("sheet", "bench", KELP_ON_CLAY, "--pdf", "made.pdf"), "is tapped on a phone"),
        (("sheet", "photo-card", KELP_ON_CLAY), "the same for every design"),
        (("sheet", "photo-card", "--stand", "9 ft"), "9 ft"),
        (("sheet", "photo-card", "--stand", "0 mm"), "They are above 0 and at most 60 mm high"),
        (("sheet", "photo-card", "--stand", "61 mm"), "They are above 0 and at most 60 mm high"),
    ],
)  # fmt: skip
def test_wrong_use_is_told_with_its_mend(
    demo_content: Path, tmp_path: Path, arguments: tuple[str, ...], says: str,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    assert run(demo_content, *arguments, "--out", tmp_path / "made") == 2
    assert says in capsys.readouterr().err
    assert not (tmp_path / "made").exists()


def test_an_error_elsewhere_stops_no_template(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shelf = content / "shelf" / "mats.yaml"
    shelf.write_text(
        shelf.read_text("utf-8").replace("sheet: 300 x 200 mm", "sheet: wide", 1), "utf-8"
    )
    assert run(content, "template", "kelp-frond", "six-oblong", "--out", tmp_path / "made") == 0
    assert run(content, "template", "barley-ear", "six-oblong", "--out", tmp_path / "other") == 1
    assert "shelf/mats.yaml:3:10" in capsys.readouterr().err


def test_what_does_not_fit_on_a_label_is_said(
    demo_content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ("label", KELP_ON_GREY, "--shape", "round", "--size", "40 mm")
    assert run(demo_content, *asked, "--out", tmp_path / "made") == 0
    told = capsys.readouterr()
    assert "Too small: use one 92 mm across." in told.err
    assert "Too small: use one" in (tmp_path / "made" / "index.html").read_text("utf-8")
    assert "draft" in told.out


def test_a_colour_that_is_not_permitted_is_an_error_of_the_label(
    demo_content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = lay_down_small(tmp_path / "content", demo_content)
    shelf = content / "shelf" / "colourants.yaml"
    written = shelf.read_text("utf-8")
    barred = written.replace("inci: Mica, CI 77891, CI 77499", "inci: CI 73015")
    assert barred != written
    shelf.write_text(barred, "utf-8")
    assert run(content, "check") == 0
    assert run(content, "label", KELP_ON_GREY, "--out", tmp_path / "sheets") == 1
    told = " ".join(capsys.readouterr().err.split())
    assert "CI 73015 is not permitted in a cosmetic: 21 CFR 73 and 74 do not list it." in told
    said = (tmp_path / "sheets" / "index.html").read_text("utf-8")
    assert "a colour is not permitted" in " ".join(said.split())


def test_of_another_place_no_label_is_drawn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Beside one whose rules are known, that one's is; either way it is said why there is none."""
    for regions, status in (("[us, Canada]", 0), ("[Canada]", 2)):
        content = lay_out_worked(tmp_path / regions, ("journal.yaml", "[us, eu]", regions))
        assert run(content, "label", "leaf", "--out", tmp_path / "sheets") == status
        told = " ".join(capsys.readouterr().err.split())
        assert "label for Canada cannot be drawn: its rules are not known here" in told
        assert "The design's page has the ingredients." in told
    drawn = (tmp_path / "sheets" / "index.html").read_text("utf-8")
    assert "label-1-us" in drawn
    assert "Canada" not in drawn
    assert main(["trace", "260301-A-770", "--content", str(content)]) == 0
    assert "best before" not in capsys.readouterr().out


def test_a_label_of_a_design_over_its_limit_says_so_first(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = content / "designs" / OAT_LOAF / "design.md"
    path.write_text(path.read_text("utf-8").replace("dose: 4 mL/lb", "dose: 9 mL/lb"), "utf-8")
    assert run(content, "label", OAT_LOAF, "--out", tmp_path / "sheets") == 1
    assert "over its limit of 1.1 %" in capsys.readouterr().err
    page = BeautifulSoup((tmp_path / "sheets" / "index.html").read_text("utf-8"), "html.parser")
    (danger,) = page.select(".danger")
    assert danger.get_text().startswith("Over the limit: Honey and warm oats is 1.98")
    assert danger.get_text().endswith("Do not pour or sell it.")
