"""The page of cautions against the published tables that it quotes."""

from __future__ import annotations

import csv
import re
from fractions import Fraction

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


@pytest.fixture(scope="module", params=["us", "metric"])
def page(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> BeautifulSoup:
    units = ("journal.yaml", "units: metric", f"units: {request.param}")
    notebook = read(tmp_path_factory.mktemp("safety"), units)
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
