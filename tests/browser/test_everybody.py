"""Every kind of page for everybody: both themes, three widths and less, day and night, keys alone.

``test_pages.py`` has axe look at the theme `desk`; here it looks at `large`, and
both are looked at for what axe does not look for.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from checked_pages import (
    FLAGS,
    WIDTHS,
    accessibility_faults,
    browser_path,
    overflow_faults,
    refuse_faults,
    watched,
)
from demo import MOTH, PEBBLES
from everybody import overlaps, sideways, small_letters, small_targets
from playwright.sync_api import Browser, Page

from journal.html.theme import read_theme, sources_of

#: One page of each kind; of things on the shelf one of each kind too.
KINDS = (
    "index.html",
    "designs/index.html",
    f"designs/{MOTH}.html",
    f"designs/{PEBBLES}.html",
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
    "weeks.html",
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


@dataclass(frozen=True)
class Look:
    """A theme, and what is promised of it."""

    theme: str
    least_target_px: float
    least_letters_px: float


LOOKS = (Look("desk", 44, 12), Look("large", 48, 15))


@pytest.fixture(scope="module", params=LOOKS, ids=lambda look: look.theme)
def look(request: pytest.FixtureRequest) -> Look:
    found: Look = request.param
    return found


@pytest.fixture(scope="module")
def pages(look: Look, notebook: Path, make_once: Callable[..., Path]) -> Path:
    """The demo notebook in this theme, which has its own style and all else of the usual one."""
    if look.theme == "desk":
        return notebook
    usual, own = read_theme(), read_theme(look.theme)
    assert sources_of(own.environment) == sources_of(usual.environment)
    assert {path for path, _ in set(usual.files) ^ set(own.files)} == {"look.css"}

    def make(out: Path) -> None:
        shutil.copytree(notebook, out)
        (out / "look.css").write_bytes(dict(own.files)["look.css"])

    return make_once(f"{look.theme} notebook", make)


def opened(browser: Browser, width: int, height: int, scheme: str = "light") -> Iterator[Page]:
    """A page of this size; it may fail at nothing and ask for files only. Pictures are left out."""
    context = browser.new_context(
        viewport={"width": width, "height": height},
        offline=True,
        color_scheme=scheme,  # type: ignore[arg-type]
    )
    asked, wrong = watched(context)
    # Their places are kept by their width and height; test_pages.py looks at them.
    context.route("**/*.jpg", lambda route: route.fulfill(body=b""))
    yield context.new_page()
    context.close()
    # A page that is left takes with it what it was still loading.
    refuse_faults(asked, [line for line in wrong if not re.match("failed: .*/index/", line)])


def test_nothing_is_too_wide_or_lies_over_another_or_is_small(
    browser: Browser, look: Look, pages: Path, axe_script: str
) -> None:
    """At 320 px, too: WCAG 2.2, success criterion 1.4.10, reflow.

    What stands alone is to be pressed with a wet finger, at the bench on a phone. There the layout
    is the phone's at every width, and axe holds it to contrast of level AAA.
    """
    faults = []
    for page in opened(browser, *WIDTHS["phone"]):
        for number, kind in enumerate(KINDS):
            page.goto((pages / kind).as_uri())
            page.evaluate("document.fonts.ready")
            for name, (width, height) in {**WIDTHS, "narrow": (320, 640)}.items():
                page.set_viewport_size({"width": width, "height": height})
                found = [*overflow_faults(page), *overlaps(page)]
                if name == "phone" or (look.theme == "desk" and name != "narrow"):
                    found += small_targets(page, look.least_target_px)
                    found += small_letters(page, look.least_letters_px)
                if name == "phone" and look.theme == "large":
                    # The same inks stand on all pages: by day every second one is looked at.
                    schemes = ("dark", "light")[: 1 + (number + 1) % 2]
                    found += accessibility_faults(page, axe_script, schemes, enhanced=True)
                faults += [f"{kind}, {name}: {fault}" for fault in found]
    assert not faults, "\n".join(faults)


def test_nothing_moves_sideways_on_the_smallest_phone(
    browser: Browser, look: Look, pages: Path
) -> None:
    """On any page of the notebook, with all that is folded open."""
    faults = []
    for page in opened(browser, 320, 640):
        for path in sorted(pages.rglob("*.html")):
            page.goto(path.as_uri())
            page.evaluate("document.fonts.ready")
            name = path.relative_to(pages)
            faults += [f"{name}: {fault}" for fault in [*overflow_faults(page), *sideways(page)]]
    assert not faults, "\n".join(faults)


def test_letters_of_twice_the_size_run_into_nothing(notebook: Path, browser: Browser) -> None:
    """WCAG 2.2, success criterion 1.4.4: as a reader sets it in the browser, once for all pages."""
    path = browser_path()
    assert path is not None
    twice = browser.browser_type.launch(
        executable_path=path, args=[*FLAGS, "--blink-settings=defaultFontSize=32"]
    )
    faults = []
    for page in opened(twice, *WIDTHS["desktop"]):
        page.goto((notebook / "index.html").as_uri())
        assert page.evaluate("getComputedStyle(document.documentElement).fontSize") == "32px"
        for kind in KINDS[::2]:
            page.goto((notebook / kind).as_uri())
            page.evaluate("document.fonts.ready")
            faults += [f"{kind}: {one}" for one in [*overflow_faults(page), *overlaps(page)]]
    twice.close()
    assert not faults, "\n".join(faults)


#: What has the focus: its words, whether it is in sight, and the line that is drawn round it.
FOCUSED = """() => {
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  const box = e.getBoundingClientRect(), style = getComputedStyle(e);
  return [e.textContent.trim() || e.id, box.width > 0 && box.top < innerHeight && box.bottom > 0
    && box.left < innerWidth && box.right > 0, style.outlineStyle, parseFloat(style.outlineWidth)];
}"""


#: The theme does not change what there is to reach: of the bench, fewer pages.
REACHED = {
    "desk": ("index.html", f"designs/{PEBBLES}.html", f"cards/{PEBBLES}.html", "terms.html"),
    "large": ("index.html", f"cards/{PEBBLES}.html"),
}


def test_keys_alone_reach_everything_and_the_focus_is_seen(
    browser: Browser, look: Look, pages: Path
) -> None:
    for page, kind in (
        (page, kind) for page in opened(browser, *WIDTHS["tablet"]) for kind in REACHED[look.theme]
    ):
        # Else the page is still on its way to what has the focus.
        page.emulate_media(reduced_motion="reduce")
        page.goto((pages / kind).as_uri())
        wanted = page.evaluate(
            """() => [...document.querySelectorAll(
                "a[href], button, input, summary, [tabindex='0']")]
                  .filter(e => e.checkVisibility()).length"""
        )
        seen = 0
        for step in range(min(wanted, 60)):
            page.keyboard.press("Tab")
            found = page.evaluate(FOCUSED)
            assert found is not None, (kind, step)
            words, in_sight, style, width = found
            if step == 0:
                assert words == "To the text"
            assert in_sight, (kind, words)
            assert style == "solid", (kind, words)
            assert width >= 3, (kind, words)
            seen += 1
        assert seen == min(wanted, 60) > 5


def test_the_first_key_leads_past_the_running_head(browser: Browser, notebook: Path) -> None:
    for page in opened(browser, *WIDTHS["desktop"]):
        page.goto((notebook / "index.html").as_uri())
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "text"


def test_nothing_moves_for_those_who_ask_for_stillness(browser: Browser, notebook: Path) -> None:
    style = (notebook / "look.css").read_text("utf-8")
    assert not re.search(r"\b(animation|transition)\b", style)
    for page in opened(browser, *WIDTHS["phone"]):
        page.goto((notebook / "index.html").as_uri())
        for wish, wanted in (("reduce", "auto"), ("no-preference", "smooth")):
            page.emulate_media(reduced_motion=wish)  # type: ignore[arg-type]
            behaviour = "getComputedStyle(document.documentElement).scrollBehavior"
            assert page.evaluate(behaviour) == wanted


def test_by_night_nothing_but_colours_differs(project: Path) -> None:
    """So that what is no matter of colours need be looked at by day alone."""
    night = re.compile(r"prefers-color-scheme: dark\) \{(.*?)\n\}", re.DOTALL)
    styles = [path.read_text("utf-8") for path in (project / "themes").rglob("*.css")]
    found = [block for style in styles for block in night.findall(style)]
    assert len(found) == sum(style.count("prefers-color-scheme") for style in styles) >= 2
    inks = r"\s*:root \{\s*(color-scheme: dark;\s*)?(--[a-z]+: #[0-9a-f]{6};\s*)+\}\s*"
    assert all(re.fullmatch(inks, block) for block in found), found


def test_every_page_says_which_edition_it_is(notebook: Path) -> None:
    for path in notebook.rglob("*.html"):
        assert path.read_text("utf-8").count("studio edition") >= 2, path


# The checks find what they are for ------------------------------------------------------

BITES = {
    "lies over": '<p style="height: 0; margin: 0">one line</p><p style="margin: 0">another</p>',
    "small letters": '<p style="font-size: 9px">small print</p>',
    "sideways": '<p style="width: 9em; overflow: auto"><b style="padding: 6em">x</b></p>',
    "small target": '<p class="running"><a href="#x">x</a></p>',
}


@pytest.mark.parametrize("what", sorted(BITES))
def test_the_checks_bite(browser: Browser, what: str) -> None:
    page = browser.new_page()
    page.set_content(f"<main><h1>A title</h1>{BITES[what]}</main>")
    found = {
        "lies over": overlaps(page),
        "small letters": small_letters(page, 12),
        "small target": small_targets(page, 44),
        "sideways": sideways(page),
    }
    page.close()
    assert {name for name, faults in found.items() if faults} == {what}
