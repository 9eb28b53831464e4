"""The checks of pages find the faults that they are for, planted in a page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from checked_pages import (
    WIDTHS,
    accessibility_faults,
    overflow_faults,
    refuse_faults,
    wait_until,
    watched,
)
from playwright.sync_api import Browser, Page
from printed import PAGE_TOLERANCE_MM, longest_line_mm, page_sizes_mm, shrunk_pages, texts

SOUND = """<!doctype html>
<html lang="en-GB"><head><meta charset="utf-8"><title>Kelp on sea-grey</title>
<meta name="viewport" content="width=device-width">
<style>
:root {{ color-scheme: light dark; color: #222; background: #fff }}
@media screen and (prefers-color-scheme: dark) {{ :root {{ color: #eee; background: #111 }} }}
{style}
</style></head>
<body><main><h1>Kelp on sea-grey</h1><p>White over slate.</p>{body}</main></body></html>
"""


def write(folder: Path, body: str = "", style: str = "") -> Path:
    path = folder / "page.html"
    path.write_text(SOUND.format(body=body, style=style))
    return path


def test_a_sound_page_has_no_faults(
    page: Page, tmp_path: Path, axe: Callable[[Page], list[str]]
) -> None:
    page.goto(write(tmp_path).as_uri())
    assert axe(page) == []
    assert overflow_faults(page) == []


KEEPS_OUT = {
    '<p style="color: #bbb">faint in the light</p>': "light: color-contrast",
    "<p class=x>faint in the dark</p>": "dark: color-contrast",
    '<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">': "light: image-alt",
    "<input>": "light: label",
    "<h3>a level left out</h3>": "light: heading-order",
}


def test_what_keeps_somebody_out_is_found(
    page: Page, tmp_path: Path, axe: Callable[[Page], list[str]]
) -> None:
    dark = "@media (prefers-color-scheme: dark) { .x { color: #333 } }"
    page.goto(write(tmp_path, "".join(KEEPS_OUT), dark).as_uri())
    found = axe(page)
    assert {line.rpartition(": ")[0].split(": ")[1] for line in found} == {
        fault.split(": ")[1] for fault in KEEPS_OUT.values()
    }
    for body, fault in KEEPS_OUT.items():
        words = body.partition(">")[2].partition("<")[0] or body[:6]
        assert any(line.startswith(fault) and words in line for line in found), (fault, found)


@pytest.mark.parametrize("styled", [False, True])
def test_contrast_below_each_level_is_found(
    page: Page, tmp_path: Path, axe_script: str, styled: bool
) -> None:
    """Of #999 and #666 on white: 2.8 and 5.7 to 1, by the formula of WCAG 2.2."""
    page.goto(
        write(tmp_path, '<p style="color: #999">faint<p style="color: #666">middling').as_uri()
    )
    asked = {"schemes": ("light",), "styled": styled}
    found = {
        enhanced: "".join(accessibility_faults(page, axe_script, enhanced=enhanced, **asked))
        for enhanced in (False, True)
    }
    assert "faint" in found[False]
    assert "middling" not in found[False]
    assert "faint" in found[True]
    assert "middling" in found[True]


def test_faults_of_markup_are_found(
    tmp_path: Path, markup: Callable[[list[Path]], list[str]]
) -> None:
    planted = {
        '<p id="a">one<p id="a">two': "Duplicate ID",
        "<h1><div>block</div></h1>": "not allowed as child",
        '<img src="a.jpg">': "alt",
        "<glaze>": "not allowed as child",
        '<p style="colr: red">': "colr",
    }
    for number, body in enumerate(planted):
        write(tmp_path, body).rename(tmp_path / f"{number}.html")
    write(tmp_path).rename(tmp_path / "sound.html")
    found = markup(sorted(tmp_path.glob("*.html")))
    assert not [line for line in found if line.startswith("sound.html:")]
    for number, fault in enumerate(planted.values()):
        own = [line for line in found if line.startswith(f"{number}.html:")]
        assert any(fault in line for line in own), (fault, found)


@pytest.mark.parametrize(
    ("body", "style", "said"),
    [
        ("", "body { background: url(https://fonts.example/a.png) }", "https://fonts"),
        ("<script>navigator.sendBeacon('https://count.example/')</script>", "", "https://count"),
        ("<script>fetch('https://count.example/').catch(() => 0)</script>", "", "https://count"),
        ("<img alt='' src='missing.jpg'>", "", "failed: file:.*/missing"),
        ("<script>nothing.here</script>", "", "script: .*nothing is not defined"),
        ("<script>console.warn('old browser')</script>", "", "console: old browser"),
    ],
)
def test_going_beyond_the_notebook_or_failing_is_found(
    browser: Browser, tmp_path: Path, body: str, style: str, said: str
) -> None:
    context = browser.new_context(offline=True)
    asked, wrong = watched(context)
    page = context.new_page()
    page.goto(write(tmp_path, body, style).as_uri())
    wait_until(page, lambda: bool(wrong or asked[1:]))
    context.close()
    with pytest.raises(AssertionError, match=said):
        refuse_faults(asked, wrong)


def test_a_page_that_is_too_wide_is_found(browser: Browser, tmp_path: Path) -> None:
    width, height = WIDTHS["phone"]
    page = browser.new_page(viewport={"width": width, "height": height})
    page.goto(write(tmp_path, '<div style="width: 400px">wide</div>').as_uri())
    found = overflow_faults(page)
    page.close()
    assert len(found) == 1
    assert "wide</div>" in found[0]


def test_a_page_without_scripts_runs_none(page_without_scripts: Page, tmp_path: Path) -> None:
    body = "<script>document.querySelector('p').textContent = 'changed'</script>"
    page_without_scripts.goto(write(tmp_path, body).as_uri())
    assert page_without_scripts.locator("p").inner_text() == "White over slate."


# Paper ---------------------------------------------------------------------------

CARD = "@page { size: 105mm 148mm; margin: 5mm } body { margin: 0 }"
LINE = """<svg width="95mm" height="10mm" viewBox="0 0 95 10" style="display: block">
<path d="M0 5 H%g" stroke="#000" stroke-width="0.3"/></svg>"""


def test_a_card_has_its_size_and_scale(
    paper: Callable[[Path], Path], poppler: None, tmp_path: Path
) -> None:
    pdf = paper(write(tmp_path, LINE % 80, CARD))
    ((width, height),) = page_sizes_mm(pdf)
    assert width == pytest.approx(105, abs=PAGE_TOLERANCE_MM)
    assert height == pytest.approx(148, abs=PAGE_TOLERANCE_MM)
    assert shrunk_pages(pdf) == []
    assert "White over slate" in texts(pdf)[0]
    assert longest_line_mm(pdf, tmp_path) == pytest.approx(80, abs=0.1)


def test_a_card_that_is_a_little_too_wide_is_found(
    paper: Callable[[Path], Path], tmp_path: Path
) -> None:
    assert shrunk_pages(paper(write(tmp_path, '<div style="width: 96mm">x</div>', CARD))) == [1]


def test_a_card_that_is_too_high_is_found(paper: Callable[[Path], Path], tmp_path: Path) -> None:
    pdf = paper(write(tmp_path, '<div style="height: 140mm">x</div>', CARD))
    assert len(page_sizes_mm(pdf)) == 2


def test_a_template_a_hundredth_too_small_is_found(
    paper: Callable[[Path], Path], poppler: None, tmp_path: Path
) -> None:
    pdf = paper(write(tmp_path, LINE % 79.2, CARD))
    assert abs(longest_line_mm(pdf, tmp_path) - 80) > 0.1
