"""The table "Weigh out" of every design of the demo: nothing that no tool of the studio gives."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

from bs4 import BeautifulSoup
from demo_book import demo_notebook

TOOL = re.compile(r"(?:(\d+) × )?(.+)")


def is_measurable(text: str, spoons: set[str]) -> bool:
    """Whether it is a weight in steps of 0.1 g or 0.05 oz, mL by a mark, drops, or real spoons."""
    if text.endswith((" tsp", " tbsp")):
        found = [TOOL.fullmatch(part) for part in text.split(" + ")]
        return all(part is not None and part[2] in spoons for part in found)
    number, _, unit = text.rpartition(" ")
    if unit == "oz":
        return Fraction(number.rpartition(" lb ")[2]) % Fraction("0.05") == 0
    if unit in ("drop", "drops"):
        return number.isdigit()
    step = {"g": "0.1", "mL": "0.01" if Fraction(number) < 1 else "0.1"}[unit]
    return Fraction(number) % Fraction(step) == 0 and Fraction(number) >= 10 * Fraction(step)


def test_all_of_it_can_be_measured(notebook: Path) -> None:
    shelf = demo_notebook().shelf
    micas = {one.name for one in shelf.colourants.values() if one.kind == "mica"}
    spoons = {"1/8 tsp", "1/4 tsp", "1/2 tsp", "1 tsp", "1 tbsp"}
    units: set[str] = set()
    for page in sorted((notebook / "designs").glob("*.html")):
        soup = BeautifulSoup(page.read_text("utf-8"), "html.parser")
        section = soup.find(id="weigh")
        for row in section.find_all("tr") if section is not None else ():
            cells = [" ".join(cell.get_text(" ").split()) for cell in row.find_all(("th", "td"))]
            if len(cells) != 3 or cells[1] in ("oz", "by eye"):
                continue
            for text in filter(None, cells[1:]):
                alone = re.sub(r" for \d+ rounds?$", "", text)
                assert is_measurable(alone, spoons), (page.name, cells)
                unit = alone.rpartition(" ")[2]
                units.add(unit)
                assert unit != "mL" or not any(cells[0].startswith(mica) for mica in micas)
            if " for " in cells[1]:
                assert "rounds at once" in cells[0]
    assert units >= {"oz", "g", "mL", "tsp", "drops"}
