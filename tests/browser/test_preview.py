"""``journal preview`` in a browser: saved, loaded anew, its place kept; what is wrong shown."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

import pytest
from checked_pages import WIDTHS, overflow_faults, wait_until
from playwright.sync_api import Browser, Page, expect

from journal.cli import main

DESIGN = "designs/fern-leaf/design.md"
#: A busy machine makes a notebook again in so long at most.
LATE_MS = 120_000


class Preview:
    """A preview that runs in a process of its own."""

    def __init__(self, content: Path, out: Path, project: Path) -> None:
        self.content, self.out = content, out
        said = content.parent / "said"
        with said.open("w") as into:
            self.process = self._begun(project, into)
        until = time.monotonic() + LATE_MS / 1000
        while not (found := re.search(r"http://127\.0\.0\.1:\d+/", said.read_text())):
            assert self.process.poll() is None, said.read_text()
            assert time.monotonic() < until, said.read_text()
            time.sleep(0.05)
        self.address = found[0]

    def _begun(self, project: Path, into: IO[str]) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "-m", "journal", "preview", "--content", self.content,
             "--out", self.out, "--port", "0"],
            cwd=project, stdout=into, stderr=subprocess.STDOUT, text=True, preexec_fn=_heeds,
        )  # fmt: skip

    def change(self, old: str, new: str, path: str = DESIGN) -> None:
        file = self.content / path
        text = file.read_text("utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), "utf-8")

    def end(self) -> int:
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(timeout=LATE_MS / 1000)


def _heeds() -> None:
    """What runs in the background may have been told to ignore interrupts."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(scope="module")
def running(
    tmp_path_factory: pytest.TempPathFactory, project: Path
) -> Iterator[Callable[[str], Preview]]:
    """Gives a test the preview that is running, or begins one: also for a test that has had it, so
    that its second try finds what the first one found."""
    begun: list[Preview] = []
    had: set[str] = set()

    def end() -> None:
        if begun and begun[-1].process.poll() is None:
            begun[-1].end()

    def give(test: str) -> Preview:
        if not begun or begun[-1].process.poll() is not None or test in had:
            end()
            had.clear()
            folder = tmp_path_factory.mktemp("preview")
            assert main(["begin", str(folder / "soap")]) == 0
            # Enough to read for a page that has to be scrolled.
            design = folder / "soap" / DESIGN
            design.write_text(design.read_text("utf-8") + "\nA line to read.\n" * 60, "utf-8")
            begun.append(Preview(folder / "soap", folder / "out", project))
        had.add(test)
        return begun[-1]

    yield give
    end()


@pytest.fixture
def preview(running: Callable[[str], Preview], request: pytest.FixtureRequest) -> Preview:
    return running(request.node.name)


@pytest.fixture(scope="module")
def online(browser: Browser) -> Iterator[Page]:
    """A page that may ask this computer, and fails at nothing."""
    width, height = WIDTHS["tablet"]
    context = browser.new_context(viewport={"width": width, "height": height})
    wrong: list[str] = []
    asked: list[str] = []
    context.on("weberror", lambda error: wrong.append(str(error.error)))
    context.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    context.on("request", lambda request: asked.append(request.url))
    yield context.new_page()
    context.close()
    # A page that is not there yet, and a preview that has ended, are meant.
    assert not [text for text in wrong if not text.startswith("Failed to load resource")], wrong
    assert not [url for url in asked if not url.startswith("http://127.0.0.1:")]


def heading_top(page: Page) -> float:
    return page.evaluate("document.getElementById('notes').getBoundingClientRect().top")


def test_a_save_loads_the_page_anew_where_it_was_read(preview: Preview, online: Page) -> None:
    online.goto(f"{preview.address}designs/fern-leaf.html")
    online.evaluate("window.scrollTo({top: 0, behavior: 'instant'})")
    online.evaluate(
        "window.scrollTo({behavior: 'instant', top: scrollY - 37"
        " + document.getElementById('notes').getBoundingClientRect().top + 60})"
    )
    before = heading_top(online)
    assert online.evaluate("scrollY") > 400
    # More above what is read, and something below it.
    preview.change("state: trial", "state: keeper")
    preview.change("amount: 4 g", "amount: 6 g")
    preview.change("A line to read.", "A quagga was read about.")
    expect(online.get_by_text("A quagga was read about.")).to_be_attached(timeout=LATE_MS)
    online.wait_for_load_state("load")
    # The place is found again a moment after the page is there.
    wait_until(online, lambda: abs(heading_top(online) - before) < 3)
    assert abs(heading_top(online) - before) < 3


def test_another_page_is_loaded_anew_when_it_changes(preview: Preview, online: Page) -> None:
    online.goto(f"{preview.address}designs/index.html")
    preview.change("title: Fern leaf", "title: Fern leaf again")
    expect(online.get_by_role("link", name="Fern leaf again").first).to_be_visible(timeout=LATE_MS)


def test_a_mistake_is_shown_with_its_place_and_goes_when_it_is_mended(
    preview: Preview, online: Page, axe: Callable[[Page], list[str]]
) -> None:
    online.goto(f"{preview.address}designs/fern-leaf.html")
    text = (preview.content / DESIGN).read_text("utf-8")
    line = text.split("\n").index(next(row for row in text.split("\n") if row.startswith("bars:")))
    preview.change("bars: 6", "bars: several")
    band = online.get_by_role("complementary", name="What is wrong")
    expect(band).to_contain_text(f"{DESIGN}:{line + 1}:7", timeout=LATE_MS)
    expect(band).to_contain_text('"several"')
    expect(online.get_by_role("heading", level=1)).to_have_text(re.compile("^Fern leaf"))
    assert not axe(online)
    assert overflow_faults(online) == []
    online.goto(preview.address)
    expect(band).to_contain_text("1 error")
    preview.change("bars: several", "bars: 6")
    expect(band).to_have_count(0, timeout=LATE_MS)


def test_a_page_that_is_not_there_comes_when_it_is_written(preview: Preview, online: Page) -> None:
    answer = online.goto(f"{preview.address}designs/new-one.html")
    assert answer is not None
    assert answer.status == 404
    expect(online.get_by_role("heading")).to_have_text("There is no such page")
    assert main(["write-up", "New one", "--content", str(preview.content)]) == 0
    expect(online.get_by_role("heading", level=1)).to_have_text("New one", timeout=LATE_MS)


def test_an_interrupted_preview_leaves_a_sound_folder(preview: Preview, tmp_path: Path) -> None:
    preview.change("A line to read.", "A last word.")
    assert preview.end() == 0
    assert main(["build", "--content", str(preview.content), "--out", str(preview.out)]) == 0
    assert main(["build", "--content", str(preview.content), "--out", str(tmp_path / "b")]) == 0

    def files(root: Path) -> dict[str, bytes]:
        return {p.relative_to(root).as_posix(): p.read_bytes() for p in root.rglob("*.html")}

    assert files(preview.out) == files(tmp_path / "b")
