"""A browser that opens files and nothing else, and the checkers of pages."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from checked_pages import (
    FLAGS,
    WIDTHS,
    accessibility_faults,
    browser_path,
    markup_faults,
    refuse_faults,
    watched,
)
from firefox import firefox_path
from playwright.sync_api import Browser, Page, expect, sync_playwright

# What is waited for comes at once, but on a busy machine; 5 s is the usual.
expect.set_options(timeout=30_000)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium."""
    path = browser_path()
    if path is None:
        pytest.skip("there is no Chromium here; set CHROMIUM to one")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page at the phone's width, offline; it may fail at nothing and ask for files only.

    Open many pages in one: a context for each costs twice the time. Other widths are set.
    """
    width, height = WIDTHS["phone"]
    context = browser.new_context(viewport={"width": width, "height": height}, offline=True)
    asked, wrong = watched(context)
    yield context.new_page()
    context.close()
    refuse_faults(asked, wrong)


@pytest.fixture
def page_without_scripts(browser: Browser) -> Iterator[Page]:
    """A page at the tablet's width with scripts off."""
    width, height = WIDTHS["tablet"]
    context = browser.new_context(
        viewport={"width": width, "height": height}, offline=True, java_script_enabled=False
    )
    asked, wrong = watched(context)
    yield context.new_page()
    context.close()
    refuse_faults(asked, wrong)


@pytest.fixture
def paper(browser: Browser, tmp_path: Path) -> Iterator[Callable[[Path], Path]]:
    """Prints an HTML file to a PDF of the size that its style asks for."""
    # A dark scheme would print dark.
    context = browser.new_context(offline=True, color_scheme="light")
    asked, wrong = watched(context)

    def print_it(html: Path) -> Path:
        page = context.new_page()
        page.goto(html.as_uri())
        pdf = tmp_path / f"{html.stem}.pdf"
        page.pdf(path=pdf, prefer_css_page_size=True, print_background=True)
        page.close()
        return pdf

    yield print_it
    context.close()
    refuse_faults(asked, wrong)


@pytest.fixture(scope="session")
def firefox() -> str:
    """The path of Firefox."""
    path = firefox_path()
    if path is None:
        pytest.skip("there is no Firefox here; set FIREFOX to one")
    return path


@pytest.fixture(scope="session")
def axe_script() -> str:
    """The text of axe-core."""
    path = os.environ.get("AXE_JS", "")
    if not Path(path).is_file():
        pytest.skip("set AXE_JS to axe.min.js (tests/tools/package.json) to check accessibility")
    return Path(path).read_text("utf-8")


@pytest.fixture(scope="session")
def axe(axe_script: str) -> Callable[[Page], list[str]]:
    """Finds what keeps somebody from using a page, in its light and its dark colours."""
    return lambda page: accessibility_faults(page, axe_script)


@pytest.fixture(scope="session")
def markup() -> Callable[[list[Path]], list[str]]:
    """Finds faults in HTML and CSS files."""
    path = os.environ.get("VNU_JAR", "")
    if not Path(path).is_file() or shutil.which("java") is None:
        pytest.skip("set VNU_JAR to vnu.jar (tests/tools/package.json) to check HTML and CSS")
    return lambda files: markup_faults(path, files)


@pytest.fixture(scope="session")
def poppler() -> None:
    """The programs that turn a PDF into a picture."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("there is no pdftoppm here, to measure what is printed")
