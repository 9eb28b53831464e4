"""A notebook with a theme of its own in a browser: the program's scripts run, no others do."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from checked_pages import wait_until
from playwright.sync_api import Browser, Page, expect
from small_notebook import lay_down_small

from journal.cli import main
from journal.html.policy import apply_policy, policy_of
from journal.html.theme import themes_folder

#: Marks the page if it is run.
MARK = "document.documentElement.dataset.{} = 'ran'"
#: Each a way of having a script run, or something loaded, that a template may write.
TRIED = f"""
<script>{MARK.format("inline")}</script>
<script src="../content/theme/own.js"></script>
<script src="content/theme/own.js"></script>
<script src="data:text/javascript,{MARK.format("data")}"></script>
<script src="http://notebook.invalid/far.js"></script>
<script type="module">{MARK.format("module")}</script>
<script nonce="" integrity="">{MARK.format("nonce")}</script>
<img src="nothing.png" onerror="{MARK.format("error")}" alt="">
<svg onload="{MARK.format("svg")}"></svg>
<svg><script>{MARK.format("drawn")}</script></svg>
<details open ontoggle="{MARK.format("toggle")}"><summary>a</summary></details>
<iframe srcdoc="<script>parent.{MARK.format("frame")}</script>"></iframe>
<object data="data:text/html,<script>{MARK.format("object")}</script>"></object>
<img src="http://notebook.invalid/far.png" alt="">
<style>body {{ background: url("http://notebook.invalid/far.css.png") }}</style>
<base href="http://notebook.invalid/">
<a id="leads" href="javascript:{MARK.format("link")}">leads</a>
"""


def base_with(before: str = "", inside: str = "", attributes: str = "") -> str:
    """The program's own frame of a page with more in it."""
    base = (themes_folder() / "desk" / "templates" / "base.html").read_text("utf-8")
    assert "<!doctype html>" in base
    base = base.replace("<!doctype html>", f"{before}<!doctype html>")
    base = base.replace('<html lang="en-GB"', f'<html lang="en-GB"{attributes}')
    return base.replace("<header class=running>", f"{inside}<header class=running>")


def marks(page: Page) -> list[str]:
    """What has run."""
    found: list[str] = page.evaluate("Object.keys(document.documentElement.dataset)")
    return sorted(found)


Built = Callable[[str], Path]


@pytest.fixture
def built(tmp_path: Path, demo_content: Path) -> Built:
    """Builds a small notebook with this frame around its pages."""

    def build(base: str) -> Path:
        content = lay_down_small(tmp_path / "content", demo_content)
        (content / "theme").mkdir()
        (content / "theme" / "base.html").write_text(base, "utf-8")
        (content / "theme" / "own.js").write_text(MARK.format("own"), "utf-8")
        out = tmp_path / "out"
        assert main(["build", "--content", str(content), "--out", str(out)]) == 0
        return out

    return build


def test_the_programs_scripts_run_and_no_others(built: Built, browser: Browser) -> None:
    notebook = built(base_with(inside=TRIED))
    context = browser.new_context(offline=True)
    loaded: list[str] = []
    refused: dict[str, str | None] = {}
    context.on("requestfinished", lambda request: loaded.append(request.url))
    context.on("requestfailed", lambda request: refused.update({request.url: request.failure}))
    page = context.new_page()
    page.goto((notebook / "terms.html").as_uri())
    page.get_by_label("Words to look up").fill("kelp")
    expect(page.get_by_role("status")).to_have_text(re.compile("page"))
    expect(page.locator("#pages .name a")).not_to_have_count(0)
    page.locator("#leads").click()
    page.wait_for_timeout(300)
    assert marks(page) == []
    assert page.url.partition("?")[0] == (notebook / "terms.html").as_uri()
    page.goto((notebook / "cards" / "kelp-on-clay.html").as_uri())
    bars = page.locator('input[type="number"], input[inputmode]').first
    expect(bars).to_be_visible()
    before = page.locator("article").first.inner_text()
    bars.fill("24")
    bars.press("Tab")
    expect(page.locator("article").first).not_to_have_text(before)
    assert marks(page) == []
    far = re.compile("notebook.invalid|own.js")
    assert [url for url in loaded if far.search(url)] == []
    assert {why for url, why in refused.items() if far.search(url)} == {"csp"}
    context.close()


@pytest.mark.parametrize(
    ("before", "attributes"),
    [
        (f"<script>{MARK.format('first')}</script>", ""),
        (f'<body onload="{MARK.format("load")}">', ""),
        ("\u00a0", f' onmouseover="{MARK.format("over")}"'),
        ("", f' onclick="{MARK.format("click")}"'),
        ("<!-- -->", ""),
        ("\ufeff", ""),
    ],
    ids=["script first", "body first", "a blank first", "on the root", "a comment", "a mark"],
)
def test_whatever_stands_first_the_policy_stands_before_it(
    browser: Browser, tmp_path: Path, before: str, attributes: str
) -> None:
    base = (themes_folder() / "desk" / "templates" / "base.html").read_text("utf-8")
    html = f"{before}<!doctype html><html lang='en'{attributes}><head></head><body>{TRIED}"
    path = tmp_path / "page.html"
    path.write_text(apply_policy(html, policy_of(base), "", ()), "utf-8")
    context = browser.new_context(offline=True)
    page = context.new_page()
    page.goto(path.as_uri())
    page.mouse.move(5, 5)
    page.mouse.move(50, 50)
    page.locator("html").click(position={"x": 3, "y": 3})
    page.wait_for_timeout(200)
    assert marks(page) == []
    context.close()


def test_what_is_tried_runs_where_nothing_forbids_it(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text(f"<!doctype html><html><head></head><body>{TRIED}", "utf-8")
    context = browser.new_context(offline=True)
    page = context.new_page()
    page.goto(path.as_uri())
    tried = {"inline", "error", "svg", "drawn", "toggle", "module", "data"}
    wait_until(page, lambda: tried <= set(marks(page)))
    assert tried <= set(marks(page))
    context.close()
