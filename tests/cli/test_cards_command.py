"""``journal cards``: a small folder to print from, of what is used and nothing else."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from demo import HONEYCOMB, KELP_ON_CLAY, KELP_ON_GREY, MOTH, OAT_LOAF

from journal.cli import main
from journal.views.shared.words import NO_BREAK


@pytest.fixture
def content(tmp_path: Path, demo_content: Path) -> Path:
    return Path(shutil.copytree(demo_content, tmp_path / "content"))


def cards(content: Path, out: Path, *more: str) -> int:
    return main(["cards", "--content", str(content), "--out", str(out), *more])


def test_a_folder_with_everything_that_a_card_needs(demo_content: Path, tmp_path: Path) -> None:
    out = tmp_path / "cards"
    assert cards(demo_content, out, KELP_ON_GREY, "--bars", "24", "--size", "a5") == 0
    html = (out / "index.html").read_text("utf-8")
    # The first round: 6 bars of 4 g and 9 g poured over, and at least 8 g to spare: 86 g. Each
    # further one has 54 g of it back: 32 g. In all 182 g, by twentieths of an ounce 6.5 oz.
    for amount in ("3.05\u00a0oz", "86\u00a0g", "1.15\u00a0oz", "6.5\u00a0oz"):
        assert amount in html
    # On the day that it is printed its own script writes that day in the corner.
    assert "changed 2025-05-03<span class=printed>, printed <span class=today></span>" in html
    assert 'class="cards card-a5"' in html
    for asked in re.findall(r'(?:href|src)="([^"#]+)"', html):
        assert (out / asked).is_file(), asked


def test_a_variant_and_several_designs(demo_content: Path, tmp_path: Path) -> None:
    out = tmp_path / "cards"
    assert cards(demo_content, out, KELP_ON_GREY, "--variant", "close") == 0
    html = (out / "index.html").read_text("utf-8")
    assert "Kelp, close" in html
    assert cards(demo_content, out, KELP_ON_GREY, MOTH, KELP_ON_GREY) == 0
    html = (out / "index.html").read_text("utf-8")
    assert "Kelp on sea-grey" in html
    assert "Moth and moon" in html


def test_nothing_private_and_no_cost_is_on_a_card(demo_content: Path, tmp_path: Path) -> None:
    cards(demo_content, tmp_path / "cards", KELP_ON_GREY, HONEYCOMB)
    html = (tmp_path / "cards" / "index.html").read_text("utf-8")
    for secret in ("$", "USD", "Pellwick", "Orrin Dale", "landlady", "redone"):
        assert secret not in html


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["kelp"], 'no design is called "kelp"'),
        ([KELP_ON_GREY, "--variant", "clos"], 'Did you mean "close"?'),
        ([KELP_ON_GREY, "--bars", "0"], "is no number of bars"),
    ],
)
def test_wrong_use_is_told_with_its_mend(
    content: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    said: str,
) -> None:
    assert cards(content, tmp_path / "cards", *arguments) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "cards").exists()


def test_an_error_elsewhere_stops_no_card(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = content / "designs" / MOTH / "design.md"
    other.write_text(other.read_text("utf-8").replace("mould: six-oblong", "mould: seven"), "utf-8")
    assert cards(content, tmp_path / "cards", KELP_ON_GREY) == 0
    assert cards(content, tmp_path / "cards", MOTH) == 1
    assert 'no mould "seven" is on the shelf' in capsys.readouterr().err


NAME = "Honey and warm oats"
OVER = f"Over the limit: {NAME} is 1.98 % of the ground; its certificate allows 1.1 %."
AMOUNT = re.compile(r"\d\s?(mL|g|oz|drops?|gotas?)\b")


@pytest.fixture
def too_strong(content: Path) -> Path:
    """9 mL/lb of an oil of 1.02 g/mL: 9.18 g in 453.59 g and itself, 1.98 %; 1.1 % is allowed."""
    path = content / "designs" / OAT_LOAF / "design.md"
    path.write_text(path.read_text("utf-8").replace("dose: 4 mL/lb", "dose: 9 mL/lb"), "utf-8")
    return content


def page_of(out: Path) -> BeautifulSoup:
    html = (out / "index.html").read_text("utf-8")
    return BeautifulSoup(html.replace(NO_BREAK, " "), "html.parser")


def of_the_oil(page: BeautifulSoup) -> list[str]:
    """Each clause that names the oil: rows, and steps without what stands behind a comma."""
    said = [tag.get_text(" ") for tag in page.select("tr, li")]
    return [part for text in said for part in re.split("[,;:]|\\. ", text) if NAME in part]


@pytest.mark.parametrize("more", [(), ("--size", "a6", "--sheet", "a4"), ("--language", "es")])
def test_a_card_over_the_limit_says_not_to_pour_it(
    too_strong: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], more: tuple[str, ...]
) -> None:
    """As the notebook's own: no amount of that oil, and the reason in the largest type."""
    out = tmp_path / "cards"
    assert cards(too_strong, out, OAT_LOAF, KELP_ON_GREY, *more) == 1
    said = capsys.readouterr()
    assert f"designs/{OAT_LOAF}/design.md:" in said.err
    assert "over its limit of 1.1 %" in said.err
    assert "Made 2 cards" in said.out
    page = page_of(out)
    (danger,) = page.select(".danger")
    assert danger.get_text() == f"Oat and milk loaf. {OVER} Do not pour or sell it."
    (stop,) = page.select(".recipe-card .intro .stop")
    assert stop.get_text() == ("No verter." if "es" in more else "Not to be poured.")
    clauses = of_the_oil(page)
    assert len(clauses) >= 2
    assert not [text for text in clauses if AMOUNT.search(text)]
    # The other card has its amounts, so that this can fail.
    others = [row.get_text(" ") for row in page("tr") if "Cedar" in row.get_text()]
    assert AMOUNT.search(others[0])


def test_the_day_of_a_design_over_its_limit_says_so(too_strong: Path, tmp_path: Path) -> None:
    assert cards(too_strong, tmp_path / "day", OAT_LOAF, "--day") == 1
    page = page_of(tmp_path / "day")
    (danger,) = page.select(".danger")
    assert OVER.partition(": ")[2] in danger.get_text()
    assert danger.get_text().startswith("Oat and milk loaf is over the limit: ")
    clauses = of_the_oil(page)
    assert clauses
    assert not [text for text in clauses if AMOUNT.search(text)]


def test_the_limit_is_that_of_the_recipe_asked_for(content: Path, tmp_path: Path) -> None:
    path = content / "designs" / KELP_ON_CLAY / "design.md"
    written = path.read_text("utf-8")
    strong = "{base: clear-glycerine, fragrance: {oil: sea-fennel, dose: 12 mL/lb}}"
    path.write_text(written.replace("{base: clear-glycerine}", strong), "utf-8")
    assert cards(content, tmp_path / "opaque", KELP_ON_CLAY, "--variant", "opaque") == 0
    assert not page_of(tmp_path / "opaque").select(".danger, .stop")
    assert cards(content, tmp_path / "clear", KELP_ON_CLAY, "--variant", "clear") == 1
    assert len(page_of(tmp_path / "clear").select(".danger, .stop")) == 2


def test_as_a_pdf(demo_content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # 1,790,000,000 s after 1970 began, it is 21 September 2026.
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")
    pypdf = pytest.importorskip("pypdf")
    pytest.importorskip("weasyprint")
    file = tmp_path / "cards.pdf"
    arguments = ["cards", "--content", str(demo_content), OAT_LOAF, "--pdf", str(file)]
    assert main(arguments) == 0
    sheets = pypdf.PdfReader(file).pages
    assert [round(float(x) / 72, 2) for x in sheets[0].mediabox[2:]] == [5.5, 8.5]
    for sheet in sheets:
        assert "Oat and milk loaf" in sheet.extract_text()
        assert "changed 2023-11-18, printed 2026-09-21" in sheet.extract_text()


def test_a_pdf_says_the_same_day_in_spanish(
    demo_content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")
    pypdf = pytest.importorskip("pypdf")
    pytest.importorskip("weasyprint")
    file = tmp_path / "cards.pdf"
    assert main(["cards", "--content", str(demo_content), OAT_LOAF, "--language", "es",
                 "--pdf", str(file)]) == 0  # fmt: skip
    text = pypdf.PdfReader(file).pages[0].extract_text()
    assert "cambiado 2023-11-18, impreso 2026-09-21" in text


def test_a_day_sheet_of_a_design_is_that_of_an_order(demo_content: Path, tmp_path: Path) -> None:
    out = tmp_path / "day"
    assert cards(demo_content, out, KELP_ON_GREY, "--bars", "12", "--day") == 0
    html = (out / "index.html").read_text("utf-8")
    assert re.findall(r'<section class=part id="(day[^"]*)"', html) == [
        "day", "day-1", "day-2", "day-3",
    ]  # fmt: skip
    assert "Set out 2\u00a0jugs, 6\u00a0pieces" in html
    assert "3.05 oz (86 g) White shea" in html.replace("\u00a0", " ")
    # It stands by itself: nothing leads to a page of the notebook.
    for asked in re.findall(r'(?:href|src)="([^"#]+)"', html):
        assert (out / asked).is_file(), asked


def test_a_day_sheet_has_no_size(
    demo_content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cards(demo_content, tmp_path / "day", MOTH, "--day", "--size", "a6") == 2
    assert "on the studio's paper" in capsys.readouterr().err
