"""The days of an order on a phone and on paper: nothing moves sideways, no day is parted."""

from __future__ import annotations

from pathlib import Path

import pytest
from checked_pages import overflow_faults
from playwright.sync_api import Page
from printed import shrunk_pages, texts

FAIR = "orders/lantern-fair.html"
#: The demo's fair has six days of work, two a sheet, one of unmoulding with the last of them, and
#: before these a sheet of what it takes.
SHEETS = 4


def test_no_phone_is_moved_sideways(page: Page, notebook: Path) -> None:
    """And every label of the charts is whole, in its long form or its short one."""
    page.goto((notebook / FAIR).as_uri())
    for width in (320, 390, 820):
        page.set_viewport_size({"width": width, "height": 800})
        assert overflow_faults(page) == [], width
        beyond = page.evaluate(
            "() => [...document.querySelectorAll('.chart .head, .chart .over')].filter(one =>"
            " one.getBoundingClientRect().width && one.getComputedTextLength() >"
            " one.closest('svg').getBoundingClientRect().width).map(one => one.textContent)"
        )
        assert beyond == [], width


def test_a_bar_is_as_long_as_its_minutes_on_the_screen(page: Page, notebook: Path) -> None:
    """As the browser draws them: from one full hour to the next lie sixty minutes of bars."""
    page.set_viewport_size({"width": 1280, "height": 800})
    page.goto((notebook / FAIR).as_uri())
    left, right, every = page.evaluate(
        "() => { const chart = document.querySelector('#day-1 .chart');"
        " const seen = what => [...chart.querySelectorAll(what)].map(one =>"
        " one.getBoundingClientRect()), ticks = seen('.tick rect');"
        " return [ticks[0].x, ticks[1].x,"
        " seen(':is(.alone, .hands, .pour) rect').map(one => one.width)] }"
    )
    texts = page.locator("#day-1 .chart .soft text").all_text_contents()[:4:2]
    first, second = (60 * int(text.split(":")[0]) + int(text.split(":")[1]) for text in texts)
    minute = (right - left) / (second - first)
    # The melting of a pot takes 20 min, a chill 10; whatever is drawn takes whole minutes.
    # A bar's outline adds its stroke.
    found = [one / minute for one in every]
    assert all(abs(one - round(one)) < 0.3 for one in found), found
    assert {10, 20} <= {round(one) for one in found}


@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_two_days_share_a_sheet(page: Page, notebook: Path, tmp_path: Path, paper: str) -> None:
    page.goto((notebook / FAIR).as_uri())
    page.evaluate("document.fonts.ready")
    pdf = tmp_path / f"{paper}.pdf"
    page.pdf(path=pdf, format=paper, prefer_css_page_size=paper == "Letter", print_background=True)
    sheets = texts(pdf)
    assert len(sheets) == SHEETS
    assert "What to buy" in sheets[0]
    for number, text in enumerate(sheets[1:]):
        assert [f"Day {day}" in text for day in (2 * number + 1, 2 * number + 2)] == [True, True]
        assert text.count("Today melt:") == 2
    assert "Day 7" in sheets[-1]
    # What is folded on the screen is not printed.
    assert "From when to when" not in "".join(sheets)
    # How small its type is, test_on_paper.py asks; here it is set as there.
    assert shrunk_pages(pdf) == []
