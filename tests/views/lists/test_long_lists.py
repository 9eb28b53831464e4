"""Lists that grow with every design: over pages, with nothing lost and little moved."""

from __future__ import annotations

import html
import re
from collections import Counter
from functools import partial
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from demo_book import demo_book, demo_notebook
from hypothesis import given
from hypothesis import strategies as st

from journal.views.lists import front
from journal.views.lists.weeks import monday_of
from journal.views.shared.pagination import paginate, pagination_links, pagination_places
from journal.views.shared.places import FIXED, symptom_places


@given(st.integers(0, 700), st.integers(1, 60))
def test_every_row_stands_on_one_page_and_pages_are_bounded(rows: int, size: int) -> None:
    pages = paginate(range(rows, 0, -1), size)
    assert [row for page in pages for row in page] == list(range(rows, 0, -1))
    assert len(pages[0]) < 2 * size
    assert all(len(page) == size for page in pages[1:])


@given(st.integers(0, 700), st.integers(1, 60))
def test_a_new_row_moves_no_older_page(rows: int, size: int) -> None:
    before, after = (paginate(range(n, 0, -1), size) for n in (rows, rows + 1))
    older = before[1:]
    assert after[len(after) - len(older) :] == older


def test_pages_lead_to_those_beside_them() -> None:
    places = pagination_places(FIXED["compared"], 3)
    assert [place.path for place in places] == [
        "compared/index.html", "compared/older/2.html", "compared/older/1.html",
    ]  # fmt: skip
    said = ["".join(getattr(word, "href", word) for word in pagination_links(place, places))
            for place in places]  # fmt: skip
    assert said == [
        "Older: older/2.html.",
        "Newer: ../index.html. Older: 1.html.",
        "Newer: 2.html.",
    ]
    assert pagination_links(places[0], places[:1]) == ()


def test_symptoms_that_read_alike_have_pages_of_their_own() -> None:
    places = symptom_places(["a b", "a-b", "lip", "é", "é!"])
    assert len({place.path for place in places.values()}) == len(places)
    assert places["lip"].path == "failed/lip.html"
    assert all(re.fullmatch(r"failed/[a-z0-9-]+\.html", p.path) for p in places.values())


def test_each_year_has_its_pours(notebook: Path) -> None:
    designs = demo_notebook().designs.values()
    poured = Counter(monday_of(pour.date).year for design in designs for pour in design.pours)
    latest = max(poured)
    for year, pours in poured.items():
        path = notebook / ("weeks.html" if year == latest else f"weeks/{year}.html")
        text = path.read_text("utf-8")
        table = text[text.index("<table") : text.index("</table>")]
        assert len(re.findall(r'href="[^"]*#pour-', table)) == pours, year
        assert f'id="y{year}"' in text
    assert len(list(notebook.glob("weeks/*.html"))) == len(poured) - 1


def test_each_symptom_has_its_failures(notebook: Path) -> None:
    designs = demo_notebook().designs.values()
    seen = Counter(failure.what for design in designs for failure in design.failed)
    landing = (notebook / "failed.html").read_text("utf-8")
    for symptom, place in symptom_places(sorted(seen)).items():
        assert f'href="{place.path}"' in landing
        text = html.unescape((notebook / place.path).read_text("utf-8"))
        told = [failure for design in designs for failure in design.failed
                if failure.what == symptom]  # fmt: skip
        assert re.search(rf"\b{len(told)}\stime", text)
        assert all(failure.saw in text for failure in told)


def test_the_list_of_designs_leads_to_every_keeper_from_its_first_page(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    book, size = demo_book(), 3
    monkeypatch.setattr(front, "paginate", partial(paginate, size=size))
    _, *sheets = front.front_sheets(book)
    links = {
        sheet.path: {
            at["href"].rpartition("/")[2]
            for at in BeautifulSoup(sheet.make(), "html.parser").select("main .part a[href]")
            if "#" not in str(at["href"])
        }
        for sheet in sheets
    }
    designs = book.notebook.summaries.values()
    newest = sorted(designs, key=lambda design: (design.date, design.id), reverse=True)
    assert list(links) == ["designs/index.html", "designs/older/2.html", "designs/older/1.html"]
    first, *older = links.values()
    latest = len(newest) - 2 * size
    assert [
        {f"{one.id}.html" for one in newest[at : at + size]} for at in (latest, latest + size)
    ] == (older)
    keepers = {one.id for one in newest if one.state == "keeper"}
    assert keepers - {one.id for one in newest[:latest]}
    assert first == {f"{name}.html" for name in keepers | {one.id for one in newest[:latest]}}
