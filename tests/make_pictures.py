"""Makes the pictures of the README from a notebook: python tests/make_pictures.py NOTEBOOK

Each is a part of a page as a browser shows it, in few colours, so that it stays small.
"""

from __future__ import annotations

import io
import sys
from datetime import datetime
from pathlib import Path

from checked_pages import FLAGS, browser_path
from demo import KELP_ON_GREY, MOTH
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

FOLDER = Path(__file__).resolve().parent / "pictures"
MOST_BYTES = 200_000
#: A photo in many colours is a large file; a drawing in few loses its one accent.
COLOURS, OF_A_PHOTO = 256, 96

#: Name, page, what is brought to the top of the picture, width and height of the window.
PICTURES = (
    ("front", "index.html", "", 1280, 800),
    ("design", f"designs/{MOTH}.html", "#weigh", 1280, 900),
    ("comparison", f"designs/{MOTH}.html", "#variants", 1280, 900),
    ("shelf", "shelf/colourant-ultramarine.html", "", 1280, 900),
    ("card", f"cards/{MOTH}.html", ".sheet", 640, 1000),
)


def shot(page: Page, notebook: Path, path: str, at: str) -> bytes:
    """A window of a page, with its pictures and its letters there."""
    page.goto((notebook / path).as_uri())
    page.evaluate(
        """async () => {
          const pictures = [...document.images];
          for (const picture of pictures) picture.loading = "eager";
          await Promise.all([document.fonts.ready, ...pictures.map(one => one.decode())]);
        }"""
    )
    if at:
        page.evaluate(
            "at => scrollTo({top: document.querySelector(at).getBoundingClientRect().top"
            " + scrollY - 8, behavior: 'instant'})",
            at,
        )
    return page.screenshot()


def bench(browser: Browser, notebook: Path) -> Image.Image:
    """A phone at the bench, twice: two pots on their way, and then a bar that is looked at."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.clock.install(time=datetime(2026, 12, 1, 10, 0))
    page.goto((notebook / "bench" / f"{KELP_ON_GREY}.html").as_uri())
    page.click('[data-key="begin"]')
    for minutes, key, reads in (
        (1, "next white", "176"), (1, "next slate", "152"), (6, "read slate", "146"),
    ):  # fmt: skip
        page.clock.fast_forward(f"{minutes:02}:00")
        page.click(f'[data-key="{key}"]')
        for digit in reads:
            page.click(f'dialog .digits button:text-is("{digit}")')
        page.click('dialog button:text-is("Enter")')
    page.evaluate("scrollTo(0, 0)")
    pots = page.screenshot()
    for key in ("tab bars", "bar 2", "2 variant straight", "2 lip 0.5 mm"):
        page.click(f'[data-key="{key}"]')
    page.evaluate("scrollTo(0, 0)")
    bars = page.screenshot()
    context.close()
    both = Image.new("RGB", (2 * 390 + 20, 844), "white")
    for place, shown in enumerate((pots, bars)):
        with Image.open(io.BytesIO(shown)) as picture:
            both.paste(picture, (place * 410, 0))
    return both


def save(name: str, picture: Image.Image) -> None:
    """Write a picture in few colours, and refuse one that is too large."""
    colours = OF_A_PHOTO if name == "front" else COLOURS
    few = picture.convert("RGB").quantize(colours, dither=Image.Dither.NONE)
    path = FOLDER / f"{name}.png"
    few.save(path, optimize=True)
    size = path.stat().st_size
    if size > MOST_BYTES:
        raise SystemExit(f"{name}.png has {size} bytes, more than {MOST_BYTES}")
    sys.stdout.write(f"{name}.png {size}\n")


def main(notebook: Path) -> None:
    """Make every picture."""
    FOLDER.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
        for name, path, at, width, height in PICTURES:
            page = browser.new_page(
                viewport={"width": width, "height": height}, reduced_motion="reduce"
            )
            with Image.open(io.BytesIO(shot(page, notebook, path, at))) as picture:
                save(name, picture)
            page.close()
        save("bench", bench(browser, notebook))
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
