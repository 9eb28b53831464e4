"""Every kind of page of the demo in the paper theme, by day and by night.

What does not depend on the theme, and how pages are set at each width, is in ``test_everybody.py``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest
from checked_pages import WIDTHS, accessibility_faults, overflow_faults
from demo import MOTH, PEBBLES, WHITE_FAN
from playwright.sync_api import Page

from journal.html.theme import read_theme

#: One page of each kind; of designs the largest, one without a mat, one never compared.
KINDS = (
    "index.html",
    "designs/index.html",
    f"designs/{MOTH}.html",
    f"designs/{PEBBLES}.html",
    f"designs/{WHITE_FAN}.html",
    "shelf/index.html",
    "shelf/base-white-shea.html",
    "shelf/fragrance-honey-oat.html",
    "shelf/colourant-ultramarine.html",
    "shelf/mould-six-oblong.html",
    "shelf/mat-kelp-frond.html",
    "shelf/piece-kelp-a.html",
    "shelf/packaging-sleeve.html",
    "shelf/leftover-slate-ends.html",
    "failed.html",
    "failed/lip.html",
    "weeks.html",
    "weeks/2025.html",
    "compared/index.html",
    "compared/close-or-straight.html",
    "cards/index.html",
    f"cards/{MOTH}.html",
    "orders/index.html",
    "orders/inn-bedrooms.html",
    "how.html",
    "safety.html",
    "terms.html",
)


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


#: What is set otherwise on a wide page: notes at the side, pictures in pairs, long tables.
SET_WIDE = (
    "index.html",
    f"designs/{MOTH}.html",
    "shelf/base-white-shea.html",
    "compared/close-or-straight.html",
    "cards/index.html",
    "terms.html",
)


@pytest.mark.parametrize(
    ("name", "kinds", "lights"),
    # Inks do not depend on the width.
    [("phone", KINDS, ("light", "dark")), ("desktop", SET_WIDE, ("light",))],
    ids=["phone", "desktop"],
)
def test_nothing_keeps_a_reader_out(
    notebook: Path, page: Page, axe_script: str, name: str, kinds: tuple[str, ...],
    lights: tuple[str, ...],
) -> None:  # fmt: skip
    """With its pictures; nor may a page be moved sideways, fail or ask for anything but files."""
    width, height = WIDTHS[name]
    page.set_viewport_size({"width": width, "height": height})
    faults = []
    for number, kind in enumerate(kinds):
        see(page, notebook, kind)
        # The same inks stand on all pages: by night every second one is looked at.
        seen = lights[: 1 + (number + 1) % 2]
        found = [*overflow_faults(page), *accessibility_faults(page, axe_script, seen)]
        faults += [f"{kind}: {fault}" for fault in found]
    assert not faults, "\n".join(faults)


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


@pytest.mark.parametrize(
    ("kind", "most"),
    [(f"designs/{MOTH}.html", 14), (f"designs/{PEBBLES}.html", 6), ("index.html", 4)],
)
def test_a_page_is_printed_on_few_leaves_of_the_studios_paper(
    notebook: Path, paper: Callable[[Path], Path], kind: str, most: int
) -> None:
    pdf = pypdf.PdfReader(paper(notebook / kind))
    width, height = (float(x) / 72 for x in pdf.pages[0].mediabox[2:])
    assert (width, height) == pytest.approx((8.5, 11.0), abs=0.02)
    assert len(pdf.pages) <= most
    assert all(sheet.extract_text().strip() for sheet in pdf.pages)
