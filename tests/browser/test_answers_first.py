"""A phone has the answers within a few screens: what only some readers want is folded."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

PHONE = {"width": 390, "height": 844}
#: The screens that a page may have while its folds are closed.
MOST = {"designs": 9.0, "orders": 5.0}


def test_a_page_is_a_few_screens_of_a_phone(page: Page, notebook: Path) -> None:
    page.set_viewport_size(PHONE)
    # Their places are kept by their width and height.
    page.route("**/*.jpg", lambda route: route.fulfill(body=b""))
    found = {}
    for kind, most in MOST.items():
        for one in sorted((notebook / kind).glob("*.html")):
            if one.name == "index.html":
                continue
            page.goto(one.as_uri())
            tall = page.evaluate("document.documentElement.scrollHeight") / PHONE["height"]
            assert tall <= most, (one.name, tall)
            found[one.name] = tall
    assert len(found) >= 13
