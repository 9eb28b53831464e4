"""The pages of orders: what stands on them, and what each edition keeps back."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from every_sheet import all_sheets as lay_out_pages
from worked_notebook import lay_out

from journal.cli import main
from journal.comparison.derive import compare_designs
from journal.errors import Problem
from journal.figures.day.order import EACH, GRAMS, MILLILITRES
from journal.figures.day.sheet import TimedStep
from journal.figures.day.steps import RoundStep
from journal.figures.derive import AllFigures, derive_figures
from journal.html.theme import read_theme
from journal.records.notebook import read_notebook
from journal.views.notebook import open_book
from journal.views.order.words import amount_in_unit_text, end_time_text, rounds_text
from journal.views.shared.words import NO_BREAK, UnitFormatter, clock_text

SECRETS = (
    "Wilma Oake",
    "Half in advance",
    "17.40",
    "34.80",
    "8.70",
    "Base & Sons",
    "Base &amp; Sons",
)
FEW = ("orders/dozen.yaml", "bars: 14", "bars: 4")
SUPPLIER = ("shelf/bases.yaml", "  on_hand: 300 g", "  on_hand: 300 g\n  supplier: Base & Sons")
LEFTOVERS = {
    "shelf/leftovers.yaml": "ends: {name: Ends, base: plain, amount: 30 g, melted_times: 2}\n"
}


@pytest.fixture(scope="module")
def editions(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The worked notebook with an order that takes leftovers, in each edition."""
    root = tmp_path_factory.mktemp("orders")
    takes = ("orders/dozen.yaml", "bars: 4}", "bars: 4, takes_leftovers: yes}")
    content = lay_out(root / "content", FEW, takes, SUPPLIER, more=LEFTOVERS)
    found = {}
    for edition in ("studio", "helpers", "public"):
        found[edition] = root / edition
        call = ["build", "--content", str(content), "--out", str(root / edition)]
        assert main([*call, "--edition", edition]) == 0
    return found


def text_of(page: Path) -> str:
    found = BeautifulSoup(page.read_text("utf-8"), "html.parser").get_text(" ")
    return re.sub(r"\s+", " ", found.replace(NO_BREAK, " "))


def test_the_studio_sees_all_of_it(editions: dict[str, Path]) -> None:
    said = text_of(editions["studio"] / "orders" / "dozen.html")
    for words in (
        "A dozen and two", "4 bars for Wilma Oake, due 30 April 2026. Begin by 27 April 2026.",
        "2 of 2 2 of Leaf, straight", "4 casts for this order, of 93 left.",
        # Two rounds of 1.68 mL, each rounded down; the scrapings of the first go into the second.
        "3.2 mL", "10 g (0.355 oz) of Plain",
        "Ends: 30 g (1.05 oz) into the pot pale of Leaf on brick",
        "Melted twice already", "Leaf on brick: two pieces make it 2 rounds over 3 days;",
        "2 more pieces: 1 round.", "We allowed 20 min to melt a pot.",
        "Day 1", "Today melt: 189 g (6.7 oz) of Plain.", "Melt the detail: 21 g",
        "Batch, if today is 2026-04-27: 260427-B-", "Lots: none noted of Plain, Herb and Brick.",
        "€17.40", "€34.80", "Half in advance.", "38 g (1.35 oz) , from Base & Sons.",
    ):  # fmt: skip
        assert words in said, words


def test_helpers_have_the_plan_without_customer_and_money(editions: dict[str, Path]) -> None:
    said = text_of(editions["helpers"] / "orders" / "dozen.html")
    day = "The day, hour by hour"
    for words in ("2 of 2", "3.2 mL", "What to buy", day, "Melt the detail"):
        assert words in said, words
    for path in editions["helpers"].rglob("*"):
        if path.suffix in (".html", ".js", ".json"):
            raw = path.read_text("utf-8")
            assert not [secret for secret in SECRETS if secret in raw], path


def test_the_public_has_no_orders_at_all(editions: dict[str, Path]) -> None:
    public = editions["public"]
    assert not (public / "orders").exists()
    for path in public.rglob("*.html"):
        raw = path.read_text("utf-8")
        assert "orders/" not in raw, path
        assert "orders" not in path.relative_to(public).as_posix()
        assert "A dozen and two" not in raw, path


def test_orders_are_in_the_contents_and_listed(editions: dict[str, Path]) -> None:
    front = BeautifulSoup((editions["helpers"] / "index.html").read_text("utf-8"), "html.parser")
    assert front.find("a", href="orders/index.html") is not None
    page = editions["studio"] / "orders" / "index.html"
    listed = BeautifulSoup(page.read_text("utf-8"), "html.parser")
    assert listed.find("a", href="dozen.html") is not None
    said = text_of(page)
    assert "4 bars, for Wilma Oake: Leaf on brick" in said
    assert "due 30 April 2026" in said


def test_numbers_lead_to_how_they_are_made(editions: dict[str, Path]) -> None:
    page = editions["studio"] / "orders" / "dozen.html"
    soup = BeautifulSoup(page.read_text("utf-8"), "html.parser")
    how = BeautifulSoup((editions["studio"] / "how.html").read_text("utf-8"), "html.parser")
    led_to = {str(a["href"]) for a in soup.find_all("a", href=re.compile("how.html#"))}
    assert led_to
    for address in led_to:
        assert how.find(id=address.partition("#")[2]) is not None, address


def test_orders_of_the_demo_go_by_the_day_they_are_due(notebook: Path) -> None:
    raw = (notebook / "orders" / "index.html").read_text("utf-8")
    assert 0 < raw.index("lantern-fair.html") < raw.index("inn-bedrooms.html")
    said = {
        name: text_of(notebook / "orders" / f"{name}.html")
        for name in ("index", "lantern-fair", "inn-bedrooms")
    }
    assert [name for name, words in said.items() if "Day 7" in words] == [
        "lantern-fair", "inn-bedrooms"
    ]  # fmt: skip
    assert [name for name, words in said.items() if "Barley ochre goes in by eye" in words] == [
        "lantern-fair"
    ]


def test_a_notebook_without_orders_says_how_to_write_one(tmp_path: Path) -> None:
    content = lay_out(tmp_path / "content")
    (content / "orders" / "dozen.yaml").unlink()
    assert main(["build", "--content", str(content), "--out", str(tmp_path / "out")]) == 0
    said = text_of(tmp_path / "out" / "orders" / "index.html")
    assert "No order is written yet. Write one as a file in orders/" in said


def test_an_order_of_a_design_that_cannot_be_read(tmp_path: Path) -> None:
    """As a preview shows it: the page stands, and says why there is no plan."""
    bare = read_notebook(lay_out(tmp_path))
    book = open_book(bare, AllFigures({}, (), {}), compare_designs(bare), read_theme())
    (sheet,) = (sheet for sheet in lay_out_pages(book) if sheet.path == "orders/dozen.html")
    assert "It cannot be planned yet. There is a mistake in leaf." in sheet.make().decode("utf-8")


def test_what_is_over_a_limit_is_told_on_the_order(tmp_path: Path) -> None:
    strong = ("designs/leaf/design.md", "dose: 10 mL/kg", "dose: 30 mL/kg")
    found = read_notebook(lay_out(tmp_path, FEW, strong))
    book = open_book(
        found, derive_figures(found, models=False), compare_designs(found), read_theme()
    )
    (sheet,) = (sheet for sheet in lay_out_pages(book) if sheet.path == "orders/dozen.html")
    raw = sheet.make().decode("utf-8")
    assert "over its limit" in raw


@pytest.mark.parametrize(
    ("change", "more", "words"),
    [
        (
            ("shelf/mats.yaml", "life: 50", "life: 3"), {},
            "Cut 2 pieces of Leaves, straight 2 mm, out of 1 sheet: those that are there will be",
        ),
        (
            ("designs/leaf/design.md", "base: plain\n    amount: 80 g",
             "base: {leftover: ends}\n    amount: 80 g"),
            {"shelf/leftovers.yaml": "ends: {name: Ends, amount: 30 g, tinted: no}\n"},
            " short.",
        ),
        (
            ("shelf/mats.yaml", "  life: 50\n", ""), {},
            "How many are left is not known: the mat's life is not on the shelf",
        ),
        (
            ("designs/leaf/design.md", "minutes: {pour: 20, tidy: 8}", "minutes: {pour: 60 h}"),
            {},
            "No plan by the hour: ",
        ),
        (
            ("orders/dozen.yaml", "due: 2026-04-30", "due: 2026-03-01"), {},
            "Begin by 26 February 2026",
        ),
    ],
)  # fmt: skip
def test_what_few_orders_have(
    tmp_path: Path, change: tuple[str, str, str], more: dict[str, str], words: str
) -> None:
    found = read_notebook(lay_out(tmp_path, FEW, change, more=more))
    assert not found.errors
    book = open_book(
        found, derive_figures(found, models=False), compare_designs(found), read_theme()
    )
    (sheet,) = (sheet for sheet in lay_out_pages(book) if sheet.path == "orders/dozen.html")
    (tmp_path / "page.html").write_bytes(sheet.make())
    assert words in text_of(tmp_path / "page.html")


def page_of(root: Path, *changes: tuple[str, str, str]) -> bytes:
    """The order's page."""
    found = read_notebook(lay_out(root, FEW, *changes))
    problems: tuple[Problem, ...] = found.errors
    assert not problems
    book = open_book(
        found, derive_figures(found, models=False), compare_designs(found), read_theme()
    )
    (sheet,) = (sheet for sheet in lay_out_pages(book) if sheet.path == "orders/dozen.html")
    return sheet.make()


@pytest.mark.parametrize(
    "change",
    [
        ("orders/dozen.yaml", "bars: 4", "bars: 5"),
        ("orders/dozen.yaml", "due: 2026-04-30", "due: 2026-05-30"),
        ("shelf/bases.yaml", "on_hand: 300 g", "on_hand: 301 g"),
        ("shelf/pieces.yaml", "casts_before: 3", "casts_before: 4"),
        ("designs/leaf/design.md", "  - {bar: A4", "  - {bar: A5, keep: no}\n      - {bar: A4"),
        ("designs/leaf/design.md", "then: [unmould after 10 h", "then: [unmould after 11 h"),
    ],
)
def test_a_page_tells_when_its_plan_changes(tmp_path: Path, change: tuple[str, str, str]) -> None:
    same = page_of(tmp_path / "a")
    assert page_of(tmp_path / "b") == same
    assert page_of(tmp_path / "c", change) != same


# Words ---------------------------------------------------------------------------------

US, METRIC = UnitFormatter(True, (1.0, 0.1), "USD"), UnitFormatter(False, (1.0, 0.1), "EUR")


@pytest.mark.parametrize(
    ("units", "unit", "amount", "down", "said"),
    [
        (METRIC, GRAMS, 42, False, "42 g (1.48 oz)"),
        (US, GRAMS, 42, False, "1.48 oz (42 g)"),
        (METRIC, MILLILITRES, 3.36, True, "3.3 mL"),
        (METRIC, EACH, 14, False, "14"),
    ],
)
def test_amounts(units: UnitFormatter, unit: str, amount: float, down: bool, said: str) -> None:
    found = str(amount_in_unit_text(units, unit, Fraction(str(amount)), round_down=down)).replace(
        NO_BREAK, " "
    )
    assert found.startswith(said)


class Line:
    def __init__(self, *rounds: int) -> None:
        self.rounds = rounds


@pytest.mark.parametrize(
    ("rounds", "said"),
    [
        ((6,), "one round of 6"),
        ((6, 6), "2 rounds of 6"),
        ((6, 6, 2), "2 rounds of 6, then one of 2"),
        ((6, 1), "one round of 6, then one of 1"),
    ],
)
def test_rounds(rounds: tuple[int, ...], said: str) -> None:
    assert rounds_text(Line(*rounds)) == said  # type: ignore[arg-type]


def test_times_of_day() -> None:
    assert clock_text(8 * 60 + 5) == "8:05"
    assert clock_text(24 * 60 + 61) == "1:01"
    step = RoundStep("rest")
    assert end_time_text(TimedStep(0, 0, step, 480, 495)) == "8:15"
    assert end_time_text(TimedStep(0, 0, step, 1200, 1500)) == "1:00, day 2"


def test_what_is_left_of_one_base_is_summed(notebook: Path) -> None:
    page = (notebook / "orders" / "lantern-fair.html").read_text("utf-8")
    section = BeautifulSoup(page.replace(NO_BREAK, " "), "html.parser").select_one("#pots")
    assert section is not None
    grams = re.compile(r"\((\d+) g\) of White shea")
    summary, table = section.summary, section.table
    assert summary is not None
    assert table is not None
    # Each design scrapes its own pot back; they go into one jar.
    (folded,), pots = (grams.findall(one.get_text(" ")) for one in (summary, table))
    assert len(pots) == 4
    assert int(folded) == pytest.approx(sum(map(int, pots)), abs=len(pots) / 2)
