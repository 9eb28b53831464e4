"""While the letters of the theme are on their way, others stand in, and no line moves."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
from demo import KELP_ON_GREY, MOTH
from playwright.sync_api import Browser, Route

#: "Good" by Web Vitals (https://web.dev/articles/cls): 0.1 and less.
MOST_SHIFT = 0.1
WATCH = """window.shift = 0; new PerformanceObserver(list => {
  for (const entry of list.getEntries()) window.shift += entry.value
}).observe({ type: "layout-shift", buffered: true })"""


def _late(route: Route) -> None:
    time.sleep(0.3)
    route.continue_()


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("kind", [f"designs/{MOTH}.html", f"cards/{KELP_ON_GREY}.html"])
def test_nothing_moves(browser: Browser, notebook: Path, kind: str, width: int) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900}, offline=True)
    context.route("**/*.woff2", _late)
    context.add_init_script(WATCH)
    page = context.new_page()
    page.goto((notebook / kind).as_uri())
    page.evaluate("document.fonts.ready")
    page.wait_for_function("[...document.fonts].filter(f => f.status === 'loaded').length >= 2")
    # Shifts are told after the frame that shows them.
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => setTimeout(done, 100)))")
    assert page.evaluate("window.shift") <= MOST_SHIFT
    context.close()


def test_inputs_of_cards_have_names_of_their_own(browser: Browser, notebook: Path) -> None:
    page = browser.new_page()
    page.goto((notebook / "cards" / f"{MOTH}.html").as_uri())
    for name in page.locator("article[data-numbers]").evaluate_all(
        """cards => cards.map(card => card.getAttribute("aria-labelledby").split(" ")
          .map(id => document.getElementById(id).textContent).join(" "))"""
    ):
        own = re.compile(r"\s+".join(map(re.escape, name.split())).replace("/", ".") + "$")
        assert page.get_by_role("textbox", name=own).count() == 1
    page.close()
