"""Every kind of page for everybody: both themes, three widths and less, day and night, keys alone.

A page is opened once, without its pictures, and looked at in one theme after the other:
to open it costs more than to look. ``test_pages.py`` has pages with their pictures.
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
from demo import MOTH, PEBBLES, WHITE_FAN
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
#: More of a kind, which axe looks at too: a design never compared, a way to fail, a year.
ALIKE = (f"designs/{WHITE_FAN}.html", "failed/lip.html", "weeks/2025.html")
#: What is set otherwise on a wide page: notes at the side, pictures in pairs, long tables.
SET_WIDE = (
    "index.html",
    f"designs/{MOTH}.html",
    "shelf/base-white-shea.html",
    "compared/close-or-straight.html",
    "cards/index.html",
    "terms.html",
)


@dataclass(frozen=True)
class Look:
    """A theme, and what is promised of it."""

    theme: str
    least_target_px: float
    least_letters_px: float
    widths: tuple[str, ...]


DESK, LARGE = (
    Look("desk", 44, 12, (*WIDTHS, "narrow")),
    # The layout of the bench is the phone's at every width.
    Look("large", 48, 15, ("phone", "desktop", "narrow")),
)
#: At 320 px, too: WCAG 2.2, success criterion 1.4.10, reflow.
NARROWEST = (320, 640)
#: So many tests share the pages, that two cores may.
PARTS = 4


@pytest.fixture(scope="module")
def pages(notebook: Path, make_once: Callable[..., Path]) -> Path:
    """The demo notebook in the larger letters, with the style of each theme beside its own."""
    usual = read_theme()
    styles = {}
    for look in (DESK, LARGE):
        own = read_theme(look.theme)
        assert sources_of(own.environment) == sources_of(usual.environment)
        assert {path for path, _ in set(usual.files) ^ set(own.files)} <= {"look.css"}
        styles[look.theme] = dict(own.files)["look.css"]

    def make(out: Path) -> None:
        shutil.copytree(notebook, out)
        (out / "look.css").write_bytes(styles[LARGE.theme])
        for theme, style in styles.items():
            (out / f"{theme}.css").write_bytes(style)

    return make_once("notebook of both themes", make)


#: Gives the page that is open the style at an address, once its letters are there.
WEAR = """async address => {
  const link = document.querySelector("link[rel=stylesheet]");
  await new Promise((worn, failed) => {
    link.onload = worn;
    link.onerror = failed;
    link.href = address;
  });
  await document.fonts.ready;
}"""


def wear(page: Page, pages: Path, theme: str) -> None:
    """Set the page that is open in a theme."""
    # Beside it is that of the paper, and of sheets such as records, for print alone.
    media = page.evaluate("[...document.styleSheets].map(one => one.media.mediaText)")
    assert media[0] == ""
    assert set(media[1:]) == {"print"}
    page.evaluate(WEAR, (pages / f"{theme}.css").as_uri())


def set_width(page: Page, name: str) -> None:
    width, height = NARROWEST if name == "narrow" else WIDTHS[name]
    page.set_viewport_size({"width": width, "height": height})
    assert page.evaluate("window.innerWidth") == width


#: Pages are laid out and not drawn: nothing here looks at a picture of one, and to draw it takes
#: longer.
UNDRAWN = ("--enable-begin-frame-control", "--run-all-compositor-stages-before-draw")


@pytest.fixture(scope="module")
def undrawn(browser: Browser) -> Iterator[Browser]:
    """A browser that lays out and draws nothing."""
    path = browser_path()
    assert path is not None
    opened = browser.browser_type.launch(executable_path=path, args=[*FLAGS, *UNDRAWN])
    yield opened
    opened.close()


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


def laid_out_faults(page: Page, look: Look) -> list[str]:
    """What is too wide, lies over another or is small, at every width."""
    faults = []
    for name in look.widths:
        set_width(page, name)
        found = [*overflow_faults(page), *overlaps(page)]
        if name == "phone" or (look is DESK and name != "narrow"):
            found += small_targets(page, look.least_target_px)
            found += small_letters(page, look.least_letters_px)
        faults += [f"{name}: {fault}" for fault in found]
    return faults


#: Every second page is looked at by day and by night: the same inks stand on all of them.
SCHEMES = {True: ("light", "dark"), False: ("light",)}


def kept_out(page: Page, look: Look, script: str, kind: str) -> list[str]:
    """What axe finds. All that a style has no part in, it looks for in one theme at one width.

    At the bench what stands alone is pressed with a wet finger, on a phone, and contrast is
    held to level AAA.
    """
    lights = SCHEMES[KINDS.index(kind) % 2 == 0]
    set_width(page, "phone")
    if look is LARGE:
        dark = ("dark", "light")[: len(lights)]
        return accessibility_faults(page, script, dark, enhanced=True, styled=True)
    found = accessibility_faults(page, script, lights)
    if kind in SET_WIDE:
        set_width(page, "desktop")
        found += accessibility_faults(page, script, ("light",), styled=True)
    return found


@pytest.mark.first
@pytest.mark.parametrize("part", range(PARTS))
def test_nothing_keeps_a_reader_out(
    undrawn: Browser, pages: Path, axe_script: str, part: int
) -> None:
    """Nor is anything too wide, small, or over another, or moves sideways on the smallest phone."""
    faults = []
    for page in opened(undrawn, *WIDTHS["phone"]):
        for kind in KINDS[part::PARTS]:
            page.goto((pages / kind).as_uri())
            page.evaluate("document.fonts.ready")
            for look in (LARGE, DESK):
                if look is DESK:
                    wear(page, pages, look.theme)
                found = [*laid_out_faults(page, look), *kept_out(page, look, axe_script, kind)]
                page.emulate_media(color_scheme="light")
                set_width(page, "narrow")
                found += sideways(page)
                faults += [f"{kind}, {look.theme}, {fault}" for fault in found]
            set_width(page, "phone")
        for kind in ALIKE[part::PARTS]:
            page.goto((pages / kind).as_uri())
            wear(page, pages, DESK.theme)
            found = [*overflow_faults(page), *accessibility_faults(page, axe_script, ("light",))]
            faults += [f"{kind}: {fault}" for fault in found]
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("part", range(PARTS))
def test_nothing_moves_sideways_on_the_smallest_phone(
    undrawn: Browser, pages: Path, part: int
) -> None:
    """On any page of the notebook, with all that is folded open, in the larger letters."""
    every = {path.relative_to(pages).as_posix() for path in pages.rglob("*.html")}
    faults = []
    for page in opened(undrawn, *NARROWEST):
        for kind in sorted(every.difference(KINDS))[part::PARTS]:
            page.goto((pages / kind).as_uri())
            page.evaluate("document.fonts.ready")
            faults += [f"{kind}: {fault}" for fault in sideways(page)]
    assert not faults, "\n".join(faults)


def test_letters_of_twice_the_size_run_into_nothing(notebook: Path, browser: Browser) -> None:
    """WCAG 2.2, success criterion 1.4.4: as a reader sets it in the browser, once for all pages."""
    path = browser_path()
    assert path is not None
    twice = browser.browser_type.launch(
        executable_path=path, args=[*FLAGS, *UNDRAWN, "--blink-settings=defaultFontSize=32"]
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


@pytest.mark.parametrize("theme", REACHED)
def test_keys_alone_reach_everything_and_the_focus_is_seen(
    browser: Browser, pages: Path, theme: str
) -> None:
    for page, kind in (
        (page, kind) for page in opened(browser, *WIDTHS["tablet"]) for kind in REACHED[theme]
    ):
        # Else the page is still on its way to what has the focus.
        page.emulate_media(reduced_motion="reduce")
        page.goto((pages / kind).as_uri())
        wear(page, pages, theme)
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
        page.wait_for_function("document.activeElement.id === 'text'")


def test_nothing_moves_for_those_who_ask_for_stillness(browser: Browser, notebook: Path) -> None:
    style = (notebook / "look.css").read_text("utf-8")
    assert not re.search(r"\b(animation|transition)\b", style)
    for page in opened(browser, *WIDTHS["phone"]):
        page.goto((notebook / "index.html").as_uri())
        for wish, wanted in (("reduce", "auto"), ("no-preference", "smooth")):
            page.emulate_media(reduced_motion=wish)  # type: ignore[arg-type]
            behaviour = "getComputedStyle(document.documentElement).scrollBehavior"
            page.wait_for_function(f"{behaviour} === '{wanted}'")


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
        if "bench" in path.relative_to(notebook).parts:
            continue  # the same in every edition that has it
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
