"""Makes the pictures of the README from a notebook: python tests/make_pictures.py NOTEBOOK

Each is a part of a page as a browser shows it, in few colours, so that it stays small.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

from checked_pages import FLAGS, browser_path
from demo import MOTH
from PIL import Image
from playwright.sync_api import Page, sync_playwright

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


def main(notebook: Path) -> None:
    """Make every picture, and refuse one that is too large."""
    FOLDER.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
        for name, path, at, width, height in PICTURES:
            page = browser.new_page(
                viewport={"width": width, "height": height}, reduced_motion="reduce"
            )
            with Image.open(io.BytesIO(shot(page, notebook, path, at))) as picture:
                few = picture.convert("RGB").quantize(
                    OF_A_PHOTO if name == "front" else COLOURS, dither=Image.Dither.NONE
                )
            few.save(FOLDER / f"{name}.png", optimize=True)
            page.close()
            size = (FOLDER / f"{name}.png").stat().st_size
            if size > MOST_BYTES:
                raise SystemExit(f"{name}.png has {size} bytes, more than {MOST_BYTES}")
            sys.stdout.write(f"{name}.png {size}\n")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
