"""The index at the back of the book, opened from its folder: narrowed by words, read without."""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from checked_pages import WIDTHS, overflow_faults, refuse_faults, wait_until, watched
from demo import BARLEY
from playwright.sync_api import Browser, Page, expect

from journal.views.index.words import common, folded, spellings

#: What narrowing may load of a theme; the words themselves are data.
MOST_BYTES_OF_SCRIPT = 12_000


@pytest.fixture(scope="module")
def page_at_desk(browser: Browser) -> Iterator[Page]:
    """One page for many tests, offline; it may fail at nothing and ask for files only."""
    width, height = WIDTHS["desktop"]
    context = browser.new_context(viewport={"width": width, "height": height}, offline=True)
    asked, wrong = watched(context)
    yield context.new_page()
    context.close()
    # A page that is left takes with it what it was still loading.
    wrong = [line for line in wrong if not is_there(line.removeprefix("failed: "))]
    refuse_faults([url for url in asked if url != "about:blank"], wrong)


def is_there(address: str) -> bool:
    """Whether an address is that of a file."""
    return address.startswith("file:") and Path(urlsplit(address).path).is_file()


def opened(page: Page, notebook: Path, words: str = "") -> Page:
    query = f"?words={words}" if words else ""
    page.goto((notebook / "terms.html").as_uri() + query)
    return page


def still_open(page: Page, notebook: Path) -> Page:
    """The index, opened again only where it was left: to open it takes longer than to narrow."""
    there = page.url.partition("?")[0] == (notebook / "terms.html").as_uri()
    return page if there else opened(page, notebook)


def narrowed(page: Page, words: str) -> list[str]:
    """The titles of the pages that are left when these words are typed."""
    page.get_by_label("Words to look up").fill(words)
    expect(page.get_by_role("status")).to_have_text(re.compile("page|Type"))
    return page.locator("#pages .name a").all_inner_texts()


def data(path: Path) -> object:
    """The value that a script of the index sets."""
    return json.loads(path.read_text("utf-8").partition("=")[2].partition("]=")[2].rstrip(";\n"))


@functools.cache
def written(notebook: Path) -> dict[str, str]:
    """All words of every page by its address, as the narrowing quotes them."""
    found = {}
    for path in (notebook / "index").rglob("*.js"):
        if path.parent.name == "designs" or path.stem.endswith("-words"):
            for href, texts in data(path).items():  # type: ignore[attr-defined]
                found[href] = " ".join(text for _, text in texts)
    for path in (notebook / "index").glob("*-[0-9].js"):
        kinds, pages, *_ = data(path)  # type: ignore[misc]
        for line in pages.split("\n"):
            href, title, _, kind, when = line.split("\t")
            found[href] += f" {title} {kinds[int(kind)]} {when}"
    return found


def hold(text: str, words: str) -> bool:
    """Whether a text has, for each of the words, one that begins so in either spelling."""
    every = {word for word in re.findall(r"[^\W_]+", folded(text)) if len(word) > 1} - common()
    there = {other for word in every for other in spellings(word)}
    asked = [word for word in words.split() if word not in common()]
    return all(any(word.startswith(begin) for word in there) for begin in asked)


@pytest.mark.parametrize(
    "words",
    [
        "kelp", "straight clear 2025 lip", "cl", "mould", "mold", "gray", "colour", "COLOR",
        "glycerine", "keeper november", "the border", "2024 awns", "t", "newton", "burn",
    ],
)  # fmt: skip
def test_every_page_with_the_words_and_no_other(
    page_at_desk: Page, notebook: Path, words: str
) -> None:
    page = still_open(page_at_desk, notebook)
    expected = {href for href, text in written(notebook).items() if hold(text, words.lower())}
    narrowed(page, words)
    assert expected, "the demo has no such words: ask for others"
    number = int(page.get_by_role("status").inner_text().split()[0])
    assert number == len(expected)
    while page.get_by_role("button", name="More pages").is_visible():
        page.get_by_role("button", name="More pages").click()
    # All at once: to ask for each costs as much as to narrow.
    links = page.locator("#pages .name a")
    hrefs = links.evaluate_all("all => all.map(a => a.getAttribute('href'))")
    found = {href.partition("#")[0] for href in hrefs}
    assert found == {href.partition("#")[0] for href in expected}


@pytest.mark.parametrize(
    ("typed", "title"),
    [
        # a letter changed, missing, turned round, too many; at the head, inside, at the end
        ("glicerine", "Clear glycerine"),
        ("glycerin amber", "Honeycomb in amber"),
        ("hnoeycomb", "Honeycomb and bee"),
        ("jelping", ""),
        ("kelpp frond", "Kelp on clay"),
        ("bergamott", "Cedar and bergamot"),
        ("wltramarine", "Ultramarine"),
    ],
)
def test_one_slip_is_forgiven(page_at_desk: Page, notebook: Path, typed: str, title: str) -> None:
    titles = narrowed(still_open(page_at_desk, notebook), typed)
    if title:
        assert any(title.casefold() in found.casefold() for found in titles), titles
    else:
        assert not titles


def test_a_batch_and_a_lot_are_found(page_at_desk: Page, notebook: Path) -> None:
    page = still_open(page_at_desk, notebook)
    assert {"Kelp on sea-grey", "Slate ends, lot K25C"} <= {*narrowed(page, "K25C")}
    assert narrowed(page, "Q-2411") == ["Slate mica, lot Q-2411"]
    expect(page.locator("#pages .name a")).to_have_attribute(
        "href", "lots/colourant-slate-mica-q-2411.html"
    )


def test_short_words_are_taken_as_they_are(page_at_desk: Page, notebook: Path) -> None:
    assert narrowed(still_open(page_at_desk, notebook), "klep") == []
    expect(page_at_desk.get_by_role("status")).to_have_text("No page with klep.")


def test_found_by_a_misspelt_material_and_two_words(
    page: Page, notebook: Path, axe: Callable[[Page], list[str]]
) -> None:
    opened(page, notebook)
    with_one = narrowed(page, "honycomb")
    with_both = narrowed(page, "honycomb keeper")
    assert "Honeycomb and bee" in with_both
    assert len(with_both) < len(with_one)
    expect(page.get_by_role("status")).to_contain_text("honycomb (or honeycomb) and keeper")
    first = page.locator("#pages li").first
    expect(first.locator("p b").first).to_have_text(re.compile("honeycomb", re.IGNORECASE))
    expect(first.locator(".end")).to_contain_text(re.compile(r"^\w+.*, p\. \w+$"))
    for width, height in WIDTHS.values():
        page.set_viewport_size({"width": width, "height": height})
        assert overflow_faults(page) == []
    assert not axe(page)


def test_by_the_keyboard_alone(page_at_desk: Page, notebook: Path) -> None:
    page = opened(page_at_desk, notebook)
    field = page.get_by_label("Words to look up")
    for _ in range(40):
        page.keyboard.press("Tab")
        if field.evaluate("field => field === document.activeElement"):
            break
    page.keyboard.type("kelp sea-grey")
    expect(page.locator("#pages li").first).to_be_visible()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(field).to_be_focused()
    page.keyboard.press("Escape")
    expect(field).to_have_value("")
    expect(page.locator("#terms")).to_be_visible()
    page.keyboard.type("kelp on clay")
    expect(page.locator("#pages li").first).to_contain_text("Kelp on clay")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    expect(page).to_have_title(re.compile("Kelp on clay"))


def test_the_link_can_be_passed_on(page_at_desk: Page, notebook: Path) -> None:
    page = opened(page_at_desk, notebook)
    titles = narrowed(page, "clear bord")
    expect(page).to_have_url(re.compile(r"terms\.html\?words=clear\+bord$"))
    address = page.url
    page.goto("about:blank")
    page.goto(address)
    expect(page.get_by_label("Words to look up")).to_have_value("clear bord")
    expect(page.locator("#pages .name a")).to_have_text(titles)
    page.locator("#pages .name a").first.click()
    page.go_back()
    expect(page.locator("#pages .name a")).to_have_text(titles)


def test_an_entry_leads_to_the_part_that_is_quoted(page_at_desk: Page, notebook: Path) -> None:
    page = opened(page_at_desk, notebook)
    narrowed(page, "raft underneath")
    link = page.locator("#pages .name a").first
    expect(link).to_have_attribute("href", f"designs/{BARLEY}.html#failed-1")
    link.click()
    expect(page.locator(":target")).to_contain_text("raft")


def test_nothing_is_loaded_before_the_first_key(page_at_desk: Page, notebook: Path) -> None:
    page, asked = page_at_desk, []
    page.on("request", lambda request: asked.append(request.url))
    opened(page, notebook)
    assert not [url for url in asked if "/index/" in url]
    narrowed(page, "k")
    shown = page.locator("#pages li").count()

    def words() -> int:
        return sum("/index/designs/" in url or "-words" in url for url in asked)

    wait_until(page, lambda: words() > 0)
    page.wait_for_timeout(200)
    assert 0 < words() <= shown


def test_a_common_word_says_so(page_at_desk: Page, notebook: Path) -> None:
    assert narrowed(still_open(page_at_desk, notebook), "the") == []
    expect(page_at_desk.get_by_role("status")).to_contain_text("nearly every page")


def test_signs_alone_leave_the_index_as_it_is(page_at_desk: Page, notebook: Path) -> None:
    page = opened(page_at_desk, notebook)
    page.get_by_label("Words to look up").fill('"<b>(*+?')
    expect(page.locator("#terms")).to_be_hidden()  # b is a word
    page.get_by_label("Words to look up").fill('"<(*+?')
    expect(page.locator("#terms")).to_be_visible()


def test_it_reads_without_scripts(page_without_scripts: Page, notebook: Path) -> None:
    page = opened(page_without_scripts, notebook)
    expect(page.get_by_label("Words to look up")).to_be_hidden()
    assert page.locator("#terms dt").count() > 30
    hrefs = page.locator("#terms a").evaluate_all("all => all.map(a => a.href)")
    assert len(hrefs) > 100
    for address in set(hrefs):
        split = urlsplit(address)
        target = Path(split.path)
        assert target.is_file(), address
        assert not split.fragment or f'id="{split.fragment}"' in target.read_text("utf-8"), address
    page.get_by_role("link", name="Kelp fronds (mat)").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Kelp fronds")


def test_the_script_is_small_and_classic(notebook: Path) -> None:
    script = (notebook / "narrow.js").read_text("utf-8")
    assert len(script.encode()) <= MOST_BYTES_OF_SCRIPT
    assert not re.search(r"\b(import|export|fetch|eval|innerHTML)\b", script)
    terms = (notebook / "terms.html").read_text("utf-8")
    assert re.findall(r"<script[^>]*>", terms) == ['<script src="narrow.js" defer>']
