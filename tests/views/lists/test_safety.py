"""The page of cautions against the published tables that it quotes."""

from __future__ import annotations

import csv
import re
from fractions import Fraction
from pathlib import Path

import pytest
from bs4 import BeautifulSoup, Tag
from paths import REFERENCE
from worked_notebook import read

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.theme import read_theme
from journal.views.lists.safety import safety_sheets
from journal.views.notebook import open_book


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


#: Whole degrees Fahrenheit as printed, and what the table says beside them.
BURNS = {int(row["water_degF"]): row["takes"] for row in rows("08-burn-times.csv")}
(ALCOHOL,) = rows("08-flash-points.csv")


def in_celsius(fahrenheit: int) -> int:
    """To the whole degree, half up: (F - 32) x 5/9 is never a half."""
    return round(Fraction(fahrenheit - 32) * 5 / 9)


#: Of a range the lower end counts; an oil without a flash point is not listed.
OILS = (
    "shelf/fragrances.yaml",
    "herb:\n",
    "moss: {name: Moss, limit: 2 %, flash_point: 118 F}\nfern: {name: Fern, limit: 2 %}\n"
    "herb:\n  flash_point: 71-74 C\n",
)


@pytest.fixture(scope="module", params=["us", "metric"])
def page(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> BeautifulSoup:
    units = ("journal.yaml", "units: metric", f"units: {request.param}")
    return page_of(tmp_path_factory.mktemp("safety"), units, OILS)


def page_of(root: Path, *changes: tuple[str, str, str]) -> BeautifulSoup:
    notebook = read(root, *changes)
    figures = derive_figures(notebook, models=False)
    book = open_book(notebook, figures, compare_designs(notebook), read_theme(), "studio")
    (sheet,) = safety_sheets(book)
    return BeautifulSoup(sheet.make(), "html.parser")


def degrees(text: str) -> dict[str, int]:
    return {unit: int(number) for number, unit in re.findall(r"(\d+)\s°([FC])", text)}


def test_the_burn_table_is_the_published_one(page: BeautifulSoup) -> None:
    heat = page.find(id="heat")
    assert isinstance(heat, Tag)
    shown = {}
    for row in heat.select("tbody tr"):
        at, takes = (cell.get_text(" ", strip=True) for cell in row.find_all(["th", "td"]))
        found = degrees(at)
        assert found.keys() == {"F", "C"}, at
        assert found["C"] == in_celsius(found["F"]), at
        shown[found["F"]] = takes
    assert len(shown) == 5
    assert shown == {fahrenheit: BURNS[fahrenheit] for fahrenheit in shown}


def test_the_flash_point_is_the_published_one(page: BeautifulSoup) -> None:
    alcohol = page.find(id="alcohol")
    assert isinstance(alcohol, Tag)
    fahrenheit = int(ALCOHOL["flash_point_degF"])
    assert degrees(alcohol.get_text()) == {"F": fahrenheit, "C": in_celsius(fahrenheit)}
    assert float(ALCOHOL["flash_point_degC"]) == pytest.approx((fahrenheit - 32) / 1.8, abs=0.05)


def test_oils_stand_by_their_flash_points(page: BeautifulSoup) -> None:
    rows = page.select("#oils tbody tr")
    oils = [row.th.get_text(strip=True) for row in rows if isinstance(row.th, Tag)]
    assert oils == ["Moss", "Herb"]
    # (118 - 32) / 1.8 = 47.8; 71 x 1.8 + 32 = 159.8.
    assert [degrees(row.get_text(" ")) for row in rows] == [
        {"F": 118, "C": 48},
        {"F": 160, "C": 71},
    ]
    assert page.select("#oils th a")


def test_no_table_where_no_flash_point_is_known(tmp_path: Path) -> None:
    page = page_of(tmp_path)
    assert page.find(id="oils")
    assert not page.select("#oils table")
