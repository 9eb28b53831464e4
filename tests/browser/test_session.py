"""A helper's first hour with the notebook: find, narrow, open, compare, a card for 24 bars, print.

By the keyboard alone; then as far as it goes with scripts off.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest
from card_cases import card_of
from checked_pages import WIDTHS, refuse_faults, watched
from demo import MOTH
from demo_book import demo_notebook
from playwright.sync_api import Browser, Page, expect

from journal.html.card_page import plain_text


def go_to(page: Page, words: str, key: str = "Tab", most: int = 150) -> None:
    """Press a key until what has the focus is called this."""
    for _ in range(most):
        page.keyboard.press(key)
        said = page.evaluate(
            "(document.activeElement.textContent || document.activeElement.labels?.[0]?.textContent"
            " || '').trim()"
        )
        if re.fullmatch(words, said):
            return
    pytest.fail(f"no key leads to {words}")


def test_by_the_keyboard_alone(browser: Browser, notebook: Path, tmp_path: Path) -> None:
    width, height = WIDTHS["desktop"]
    context = browser.new_context(
        viewport={"width": width, "height": height}, offline=True, reduced_motion="reduce"
    )
    asked, wrong = watched(context)
    page = context.new_page()
    page.goto((notebook / "index.html").as_uri())

    # She has a pot of ultramarine in her hand, and cannot spell it.
    go_to(page, "Index")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text(re.compile("Index"))
    go_to(page, "Words to look up")
    page.keyboard.type("ultramrine")
    found = page.locator("#pages .name a")
    expect(found.filter(has_text="Moth and moon").first).to_be_visible()
    before = found.count()
    page.keyboard.type(" moth lip")
    expect(page.get_by_role("status")).to_have_text(re.compile("page"))
    expect(found.filter(has_text="Moth and moon").first).to_be_visible()
    assert found.count() <= before
    go_to(page, "Moth and moon")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Moth and moon")

    # Which trim was better, and how sure is that?
    go_to(page, "Which way is better")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("#variants$"))
    verdict = page.locator("#variants .verdict").first
    expect(verdict).to_be_in_viewport()
    expect(verdict).to_contain_text("Cut straight: it leaves less lip")

    # The card, for two dozen.
    page.go_back()
    expect(page).not_to_have_url(re.compile("#variants$"))
    page.keyboard.press("Home")
    go_to(page, "[Rr]ecipe card", "Shift+Tab")
    page.keyboard.press("Enter")
    card = page.locator("article.recipe-card").first
    expect(card).to_contain_text("Moth and moon")
    go_to(page, r"For\s+bars")
    page.keyboard.press("Control+A")
    page.keyboard.type("24")
    expect(card).to_contain_text("4 rounds of 6")
    written = demo_notebook()
    for weight in card_of(written, MOTH, 24)[0].weights:
        expect(card).to_contain_text(plain_text(weight.first))

    # On paper it stands as on the screen.
    pdf = tmp_path / "card.pdf"
    page.emulate_media(media="print", color_scheme="light")
    page.pdf(path=pdf, prefer_css_page_size=True, print_background=True)
    sheets = pypdf.PdfReader(pdf).pages
    first = " ".join(sheets[0].extract_text().split())
    assert "For 24 bars" in first
    assert [float(side) for side in sheets[0].mediabox[2:]] == pytest.approx([396, 612], abs=0.5)
    context.close()
    refuse_faults(asked, [line for line in wrong if not re.match("failed: .*/index/", line)])


def test_with_scripts_off_as_far_as_it_goes(
    notebook: Path, page_without_scripts: Page, paper: Callable[[Path], Path]
) -> None:
    """The index is read and not narrowed, and a card has the bars it was made for."""
    page = page_without_scripts
    page.route("**/*.jpg", lambda route: route.fulfill(body=b""))
    page.goto((notebook / "index.html").as_uri())
    page.get_by_role("link", name="Index", exact=True).first.click()
    assert not page.get_by_label("Words to look up").is_visible()
    page.locator("#terms a", has_text=re.compile("^Ultramarine")).first.click()
    expect(page.locator("h1")).to_have_text("Ultramarine")
    page.locator("main a", has_text="Moth and moon").first.click()
    expect(page.locator("h1")).to_have_text("Moth and moon")
    verdict = page.locator("#variants .verdict").first
    expect(verdict).to_contain_text("Cut straight: it leaves less lip")
    page.get_by_role("link", name="Recipe card", exact=True).first.click()
    card = page.locator("article.recipe-card").first
    expect(card).to_contain_text(re.compile(r"For\s6\sbars"))
    assert not page.locator("input").filter(visible=True).count()
    assert "For 6 bars" in " ".join(
        pypdf.PdfReader(paper(notebook / "cards" / f"{MOTH}.html")).pages[0].extract_text().split()
    )
