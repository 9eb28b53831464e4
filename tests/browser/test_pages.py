"""Pages of the demo with their pictures, without scripts, and as HTML.

How pages are set at each width is in ``test_everybody.py``, on paper in ``test_on_paper.py``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from checked_pages import overflow_faults
from demo import MOTH
from playwright.sync_api import Page

from journal.html.theme import read_theme

#: Fetches every picture, also those further down, and waits for them and the letters: what
#: is still on its way when the next page is opened would count as failed.
ALL_THERE = """async () => {
  const pictures = [...document.images];
  for (const picture of pictures) picture.loading = "eager";
  await Promise.all([document.fonts.ready, ...pictures.map(picture => picture.decode())]);
}"""


def see(page: Page, notebook: Path, kind: str) -> None:
    """Open a page of the notebook, with all its pictures."""
    page.goto((notebook / kind).as_uri())
    page.evaluate(ALL_THERE)


def test_pictures_are_shown_and_move_no_page_sideways(notebook: Path, page: Page) -> None:
    """``test_everybody.py`` looks at pages without them."""
    for kind in (f"designs/{MOTH}.html", "index.html"):
        see(page, notebook, kind)
        shown = page.evaluate("[...document.images].map(one => one.naturalWidth)")
        assert len(shown) >= 3
        assert all(shown)
        assert not overflow_faults(page), kind


@pytest.mark.parametrize("kind", ["index.html", f"designs/{MOTH}.html", "terms.html"])
def test_pages_read_without_scripts(notebook: Path, page_without_scripts: Page, kind: str) -> None:
    # A picture is no matter here, and one still on its way at the end would count as failed.
    page_without_scripts.route("**/*.jpg", lambda route: route.fulfill(body=b""))
    page_without_scripts.goto((notebook / kind).as_uri(), wait_until="networkidle")
    assert page_without_scripts.locator("h1").inner_text()
    assert page_without_scripts.locator("main section").count() > 2
    assert page_without_scripts.locator(".scripted:visible").count() == 0


def test_every_page_is_sound_html(
    notebook: Path, tmp_path: Path, markup: Callable[[list[Path]], list[str]]
) -> None:
    """And every stylesheet, that of the bench too; in one start of the checker."""
    pages = sorted(notebook.rglob("*.html"))
    assert {
        re.findall(r"<html[^>]* lang=\"([^\"]*)", page.read_text("utf-8"))[0] for page in pages
    } == {"en-GB"}
    bench = tmp_path / "bench.css"
    bench.write_bytes(dict(read_theme("large").files)["look.css"])
    files = [*pages, notebook / "look.css", bench]
    # The checker takes a page read from a file for one without an origin, to which its
    # policy then allows nothing, not even "*"; a browser is asked above.
    # Nor does it know these properties of SVG 2, which browsers take in a stylesheet.
    unknown = ("Content Security Policy", "“vector-effect”", "“paint-order”")
    faults = [fault for fault in markup(files) if not any(one in fault for one in unknown)]
    assert not faults, "\n".join(faults)
