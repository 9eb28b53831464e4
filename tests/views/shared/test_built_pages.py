"""The demo notebook as it is built: its links, its pictures, what may never stand on a page."""

from __future__ import annotations

import re
from collections import Counter
from functools import lru_cache
from html import unescape
from itertools import pairwise
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from bs4 import BeautifulSoup, Tag
from demo import KELP_ON_CLAY, KELP_ON_GREY
from demo_book import demo_notebook

#: A design's page is read on a phone at the bench, over whatever there is of a network.
LARGEST_DESIGN_BYTES = 58_700


@lru_cache(maxsize=512)
def parsed(path: Path) -> BeautifulSoup:
    return BeautifulSoup(path.read_text("utf-8"), "html.parser")


def pages(notebook: Path) -> list[Path]:
    found = sorted(notebook.rglob("*.html"))
    assert len(found) > 60
    return found


def led_to(page: Path) -> list[str]:
    """Every address on a page: links, pictures in all their sizes, stylesheets, scripts."""
    soup = parsed(page)
    found = [str(tag["href"]) for tag in soup.find_all(href=True) if isinstance(tag, Tag)]
    found += [str(tag["src"]) for tag in soup.find_all(src=True) if isinstance(tag, Tag)]
    for tag in soup.find_all(srcset=True):
        assert isinstance(tag, Tag)
        found += [part.split()[0] for part in str(tag["srcset"]).split(",")]
    return found


def test_every_link_and_picture_resolves(notebook: Path) -> None:
    dead = []
    for page in pages(notebook):
        for address in led_to(page):
            parts = urlsplit(address)
            if parts.scheme in ("https", "http", "mailto"):
                continue
            target = (page.parent / unquote(parts.path)).resolve() if parts.path else page
            where = f"{page.relative_to(notebook)}: {address}"
            if not target.is_file() or not target.is_relative_to(notebook.resolve()):
                dead.append(where)
            elif (
                parts.fragment
                and target.suffix == ".html"
                and parsed(target).find(id=unquote(parts.fragment)) is None
            ):
                dead.append(f"{where} (no such place on that page)")
    assert not dead, "\n".join(dead)


def test_seven_ways_at_most_lead_from_every_page_and_the_rest_is_one_tap_on(notebook: Path) -> None:
    for page in pages(notebook):
        for nav in parsed(page).select("header nav ul, footer nav ul"):
            ways = [a for a in nav.select("a") if not str(a["href"]).startswith("#")]
            assert 3 < len(ways) <= 7, page
            assert not re.search(r"p\.|page", nav.get_text()), page
    reached = {
        (notebook / "x" / str(a["href"])).resolve()
        for a in parsed(notebook / "designs" / "index.html").select("a[href]")
    }
    for path in ("weeks.html", "compared/index.html", "how.html"):
        assert (notebook / path).resolve() in reached


def test_any_design_s_pour_window_is_two_taps_from_the_front(notebook: Path) -> None:
    front, found = notebook / "index.html", set[str]()
    for first in [front, *((notebook / urlsplit(one).path) for one in led_to(front))]:
        if first.suffix == ".html":
            found |= {
                (first.parent / urlsplit(one).path).resolve().stem
                for one in led_to(first) if urlsplit(one).fragment == "heat" and urlsplit(one).path
            }  # fmt: skip
    assert found == {page.stem for page in notebook.glob("designs/*.html")} - {"index"}


def test_no_page_is_out_of_reach(notebook: Path) -> None:
    reached = {notebook.resolve() / "index.html"}
    waiting = [notebook / "index.html"]
    while waiting:
        page = waiting.pop()
        for address in led_to(page):
            target = (page.parent / unquote(urlsplit(address).path)).resolve()
            if target.suffix == ".html" and target.is_file() and target not in reached:
                reached.add(target)
                waiting.append(target)
    assert not {page.resolve() for page in pages(notebook)} - reached


def test_every_id_is_its_own(notebook: Path) -> None:
    twice = []
    for page in pages(notebook):
        ids = Counter(str(tag["id"]) for tag in parsed(page).find_all(id=True))
        twice += [f"{page.name}: {name}" for name, number in ids.items() if number > 1]
    assert not twice


def test_every_picture_says_what_it_shows_and_how_large_it_is(notebook: Path) -> None:
    number = 0
    for page in pages(notebook):
        for place, picture in enumerate(parsed(page).find_all("img")):
            assert isinstance(picture, Tag)
            number += 1
            assert str(picture.get("alt", "")).strip(), f"{page.name}: {picture['src']}"
            assert int(str(picture["width"])) > 0 < int(str(picture["height"]))
            # All but the one at the head wait until they come near.
            assert picture.get("loading") == "lazy" or place == 0, page.name
    assert number > 20


def test_figures_that_are_no_numbers_never_stand_on_a_page(notebook: Path) -> None:
    odd = re.compile(r"\b(nan|None|inf|null|undefined)\b|−0(?![.\d])|Decimal\(|Fraction\(")
    wrong = []
    for page in pages(notebook):
        text = parsed(page).get_text(" ")
        wrong += [f"{page.name}: {found[0]}" for found in odd.finditer(text)]
    assert not wrong


def test_pages_of_designs_are_small(notebook: Path) -> None:
    large = {
        page.name: page.stat().st_size
        for page in (notebook / "designs").glob("*.html")
        if page.stat().st_size > LARGEST_DESIGN_BYTES
    }
    assert not large


def test_heads_go_down_one_step_at_a_time(notebook: Path) -> None:
    for page in pages(notebook):
        levels = [int(tag.name[1]) for tag in parsed(page).find_all(re.compile("^h[1-6]$"))]
        assert levels[0] == 1, page.name
        assert levels.count(1) == 1, page.name
        assert all(after - before <= 1 for before, after in pairwise(levels)), (
            f"{page.name}: {levels}"
        )


def text_of(page: Path) -> str:
    return re.sub(r"\s+", " ", parsed(page).get_text(" ").replace("\u00a0", " "))


@pytest.mark.parametrize(
    "said",
    [
        "Keeper · first written up 29 March 2025 · 4 pours, 24 bars",
        "Grew from Kelp on clay ; led to Fan on rose clay , Pebble loaf and Moth and moon .",
        # 3.3 oz of 6 bars with 3 % to spare, 70 % of it white shea: 405 g
        "14.3 oz 405 g",
        # Poured 94.2 mL and a piece of 9.1 g / 1.15 in 3.7 oz / 1.05 to 3.9 oz / 1.03: 102.1 in
        # 99.9 to 107.3 mL
        "95–102 %",
        "Your 18 bars poured at 127–128 °F held; three of six at 162 °F lost detail.",
        "Cut straight : it leaves less lip, by about 1.4 mm and at least 0.9 mm.",
        "close: 10 bars, middle 1.6 mm, 1 not measured",
        "close trim 2 of 11, straight trim",
        "close trim 5–48 %",
        "Poured before you asked: a hint only",
        "Fixed: Leave a straight 3 mm border.",
        # $3.66 at a margin of 48 %
        "$7.03",
        "No weight to declare for the United States and the European Union yet: weigh more bars",
        "This is a draft.",
        "70 × 50 mm",
    ],
)
def test_the_page_of_a_keeper_says_what_a_maker_needs(notebook: Path, said: str) -> None:
    assert said in text_of(notebook / "designs" / f"{KELP_ON_GREY}.html")


def test_a_page_of_cards_says_which_variants_have_one(notebook: Path) -> None:
    page = notebook / "cards" / f"{KELP_ON_GREY}.html"
    assert (
        "No card here for what lost: close trim. To test again:"
        f" journal cards {KELP_ON_GREY} --variant close ." in text_of(page)
    )
    assert "variant close" not in " ".join(str(leaf) for leaf in parsed(page).find_all("article"))
    # Nothing was decided between these.
    other = text_of(notebook / "cards" / f"{KELP_ON_CLAY}.html")
    assert "First comes the recipe as written, then clear." in other
    assert "Not here" not in other
    assert "variant clear" in other


def test_every_photo_of_a_design_is_on_its_page(notebook: Path) -> None:
    for design in demo_notebook().designs.values():
        page = parsed(notebook / "designs" / f"{design.id}.html")
        shown = {str(picture["alt"]) for picture in page.find_all("img")}
        assert not {photo.alt for photo in design.photos} - shown, design.id


@pytest.mark.parametrize(
    "said",
    [
        "Honeycomb in amber",
        "2 of 6 pours",
        "Milky or clear: which gives more bars fit to sell? Can't tell yet: only one pot of each.",
        "To try: Pour down the back of a spoon.",
        "Moth and moon",
    ],
)
def test_the_first_page_says_what_is_new_and_what_is_open(notebook: Path, said: str) -> None:
    assert said in text_of(notebook / "index.html")


def test_a_mend_that_worked_is_not_on_the_first_page(notebook: Path) -> None:
    # The lip of the kelp was mended by a border.
    assert "Leave a straight 3 mm border" not in text_of(notebook / "index.html")


def test_every_head_of_a_table_says_of_what(notebook: Path) -> None:
    """Without ``scope`` a reader that says a table aloud guesses what its heads belong to."""
    silent = [
        f"{path.name}: {head}"
        for path in pages(notebook)
        for head in re.findall(r"<th(?![^>]* scope=)[^>]*>", path.read_text("utf-8"))
        if not head.startswith("<the")
    ]
    assert not silent


def test_a_column_has_a_head_and_a_figure_a_caption(notebook: Path) -> None:
    """Each is read out as what it is. The corner over heads of rows may be empty (WAI, tables)."""
    for path in pages(notebook):
        text = path.read_text("utf-8")
        for row in re.findall(r"<thead><tr>(.*?)</tr>", text, re.DOTALL):
            assert "<td" not in row.removeprefix("<td></td>"), (path.name, row)
        for figure in re.findall(r"<figure[ >].*?</figure>", text, re.DOTALL):
            assert "<figcaption>" in figure, (path.name, figure[:200])


def test_cards_have_names_of_their_own(notebook: Path) -> None:
    several = 0
    for path in sorted((notebook / "cards").glob("*.html")):
        soup = parsed(path)
        names = [
            " ".join(str(soup.select_one(f"[id='{one}']").get_text()) for one in by.split())
            for by in (str(card["aria-labelledby"]) for card in soup.select("article"))
        ]
        assert len(set(names)) == len(names), path.name
        several += len(names) > 3
    assert several > 2


def test_the_fonts_have_every_sign(notebook: Path, project: Path) -> None:
    """Pages print alike on machines whose own fonts differ, in all weights of each face."""
    fonts = pytest.importorskip("fontTools.ttLib")
    had: set[str] = set()
    for number, file in enumerate(sorted((project / "themes/desk/fonts").glob("*.woff2"))):
        with fonts.TTFont(file) as font:
            own = set(map(chr, font.getBestCmap()))
        had = own if number == 0 else had & own
    lacking = Counter[str]()
    for path in pages(notebook):
        text = re.sub(r"<[^>]*>", " ", path.read_text("utf-8"))
        lacking.update({sign for sign in unescape(text) if not sign.isspace()} - had)
    assert not lacking
