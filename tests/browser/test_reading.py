"""What the thermometer reads, typed into the page: the answer is that of the cooling curve."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from demo import KELP_ON_GREY
from demo_book import demo_round
from playwright.sync_api import Browser, Page

PAGES = (f"designs/{KELP_ON_GREY}.html", f"cards/{KELP_ON_GREY}.html")


def ask(page: Page, typed: str) -> str:
    page.fill(".reading input", typed)
    return (page.text_content(".reading output") or "").replace("\u00a0", " ")


@pytest.mark.parametrize("path", PAGES)
def test_a_reading_is_answered_by_the_curve(page: Page, notebook: Path, path: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto((notebook / path).as_uri())
    one = demo_round(KELP_ON_GREY)
    pot, (low_c, high_c) = one.pots["slate"], one.last_pour.step.window_c or (None, None)
    assert low_c is not None
    assert high_c is not None
    window = pot.minutes_to(low_c, high_c)
    for reads in (158.0, 150.0, 141.3, 138.0, 133.0):
        waits = pot.minutes_to(high_c, (reads - 32) / 1.8)
        said = re.fullmatch(
            r"Pour in about (.+), and for (\d+) min after that\.", ask(page, f"{reads:g}")
        )
        assert said, reads
        shown = 0.5 if said[1] == "less than a minute" else float(said[1].removesuffix(" min"))
        assert shown == pytest.approx(waits, abs=0.6)
        assert int(said[2]) == pytest.approx(window, abs=0.6)
    for reads in (132.0, 128.0, 125.0):
        left = pot.minutes_to(low_c, (reads - 32) / 1.8)
        said = re.fullmatch(r"In the window now, for (\d+) min\.", ask(page, f"{reads:g}"))
        assert said, reads
        assert int(said[1]) == pytest.approx(left, abs=0.6)
    assert ask(page, "122") == "In the window now, for less than a minute."
    assert ask(page, "121.9") == "Too cold: reheat to 141 °F."
    assert ask(page, "250") == ("Hotter than was ever read here: wait until it reads 175 °F.")
    for nothing in ("", "warm", "13x", "-4"):
        assert ask(page, nothing) == ""
    # Letters of charts are 14 px on a phone.
    sizes = page.evaluate(
        "() => [...document.querySelectorAll('.chart text')].map(one =>"
        " parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(sizes) >= 14


def test_without_scripts_nothing_is_asked_for_and_paper_has_a_line(
    browser: Browser, notebook: Path
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((notebook / PAGES[0]).as_uri())
    assert page.is_hidden(".reading")
    page.emulate_media(media="print")
    assert page.is_visible(".reading input")
    assert page.is_hidden(".reading output")
    context.close()
