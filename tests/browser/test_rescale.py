"""Another number of bars, written over on the page: what `--bars` says, for every number."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from card_cases import LONG_SHELF, ONE_LAYER, SIX_LAYERS, TWO_LAYERS, card_of, lay_notebook
from checked_pages import WIDTHS, refuse_faults, watched
from demo import KELP_ON_GREY
from demo_book import demo_notebook
from long_run import LONG
from playwright.sync_api import Browser, Page, expect
from printed import shrunk_pages, texts

from journal.html.blocks import PageFrame
from journal.html.card_page import CardLeaf, CardSize, plain_text
from journal.html.theme import Theme, read_theme
from journal.records.notebook import Notebook
from journal.views.card.card import card_page
from journal.views.card.cards import CARD_SCRIPTS
from journal.views.card.numbers import MOST_BARS

#: Writes each number over the sentence; reads all that then stands on the cards, in the order of
#: the leaves, and how much room is left on paper, in CSS px.
READ = """numbers => {
  const input = document.querySelector(".ask input"), out = [];
  const cards = () => [...document.querySelectorAll("article.recipe-card")].filter(
    card => !card.closest("[hidden]"));
  const all = what => cards().flatMap(card => [...card.querySelectorAll(what)]).filter(
    one => !one.closest("[hidden]"));
  const text = one => one ? one.textContent : "";
  const apart = cell => {
    const copy = cell.cloneNode(true), small = copy.querySelector("small");
    if (small) small.remove();
    return [copy.textContent.trim(), text(small)];
  };
  const time = step => {
    const copy = step.querySelector("i")?.cloneNode(true);
    copy?.querySelector(".spoken").remove();
    return text(copy);
  };
  for (const number of numbers) {
    input.value = number;
    input.dispatchEvent(new Event("input"));
    out.push({
      bars: [...new Set(all("header b").map(text))],
      above: [...new Set(all(".intro").map(text))],
      bold: all(".intro b, .intro .mind, li b, li .mind, .rescue b").map(text).join(""),
      weights: all("table:not(.rounds) tr").map(row => [...row.cells].flatMap(apart)),
      steps: all("li").map(step => [text(step.querySelector("span")), time(step)]),
      rescue: all(".rescue").map(text),
      watch: all(".watch").map(text),
      heads: [...new Set(all(".rounds thead th").map(text))],
      rounds: all(".rounds tbody tr").map(row => [...row.cells].filter(
        cell => !cell.hidden).map(text)),
      spare: Math.min(...cards().map(card => {
        const foot = card.querySelector("footer").getBoundingClientRect().top;
        const last = [...card.children].filter(
          one => one.localName !== "footer").map(one => one.getBoundingClientRect().bottom);
        return foot - Math.max(...last);
      })),
      beyond: Math.max(...cards().map(card => card.scrollWidth - card.clientWidth)),
    });
  }
  return out;
}"""


def wanted(leaves: Sequence[CardLeaf]) -> dict[str, Any]:
    """What stands on the leaves of a card that was made for this number of bars."""
    above, bold, rows = [], [], []
    for leaf in leaves:
        sentences = [words for words in (leaf.state, leaf.rounds, *leaf.intro) if words]
        stop = plain_text(leaf.stop)
        above += [(stop if words is leaf.state else "") + plain_text(words) for words in sentences]
        bold += [stop] if leaf.state else []
        above += [leaf.scrapings] if leaf.rows and leaf.scrapings else []
        for words in (*sentences, *(step.words for step in leaf.steps), *leaf.rescue):
            bold += [word.text for word in words if not isinstance(word, str) and word.tone]
        rows += leaf.rows
    heads = next((leaf.heads for leaf in leaves if leaf.rows), ())
    return {
        "bars": [leaves[0].bars],
        "above": list(dict.fromkeys(above)),
        "bold": "".join(bold),
        "weights": [
            [
                " ".join(filter(None, (row.layer, row.what, plain_text(row.mind)))),
                "",
                plain_text(row.first),
                plain_text(row.second),
            ]
            for leaf in leaves
            for row in leaf.weights
        ],
        "steps": [
            [plain_text(step.words), plain_text(step.at)] for leaf in leaves for step in leaf.steps
        ],
        "rescue": [plain_text(words) for leaf in leaves for words in leaf.rescue],
        "watch": [plain_text(words) for leaf in leaves for words in leaf.watch],
        "heads": [head for head, cell in zip(heads, rows[0].cells, strict=True) if cell]
        if rows
        else [],
        "rounds": [
            [f"{row.layer} {row.what}".strip(), *(cell for cell in row.cells if cell)]
            for row in rows
        ],
    }


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> tuple[Theme, Path]:
    theme, root = read_theme(), tmp_path_factory.mktemp("rescale")
    for path, raw in theme.files:
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_bytes(raw)
    return theme, root


@pytest.fixture(scope="module")
def screen(browser: Browser) -> Iterator[Page]:
    width, height = WIDTHS["tablet"]
    context = browser.new_context(viewport={"width": width, "height": height}, offline=True)
    asked, wrong = watched(context)
    yield context.new_page()
    context.close()
    refuse_faults(asked, wrong)


Lay = Callable[..., Sequence[CardLeaf]]


@pytest.fixture
def lay(folder: tuple[Theme, Path], screen: Page) -> Lay:
    """Opens the page of one card and gives a function for its leaves."""
    theme, root = folder

    def open_it(
        notebook: Notebook, name: str, variant: str | None, size: CardSize
    ) -> Sequence[CardLeaf]:
        leaves = card_of(notebook, name, variant=variant, size=size, rescaled=True)
        frame = PageFrame("Corran Bench", "", (), scripts=CARD_SCRIPTS)
        html = theme.set_page("card.html", card_page(frame, leaves, size))
        (root / "card.html").write_text(html, "utf-8")
        screen.goto((root / "card.html").as_uri())
        screen.evaluate("document.fonts.ready")
        return leaves

    return open_it


def compare(
    screen: Page, notebook: Notebook, name: str, variant: str | None, most: int = MOST_BARS
) -> None:
    """Every number of bars: the words of the command's card, and room for them on paper.

    Of a variant the usual command takes every seventh, so that rounds of six begin anywhere: its
    cards are worked out as those of the recipe are.
    """
    screen.emulate_media(media="print")
    step = 1 if LONG or variant is None else 7
    numbers = list(range(1, most + 1, step))
    made = {n: wanted(card_of(notebook, name, n, variant=variant)) for n in numbers}
    # Down again, so that a card for few bars comes after one for many as well.
    numbers += [n for n in reversed(numbers) if LONG or n % 7 == 1]
    got = screen.evaluate(READ, numbers)
    screen.emulate_media(media="null")
    for number, found in zip(numbers, got, strict=True):
        assert found.pop("spare") >= 0, number
        assert found.pop("beyond") <= 0, number
        assert found == made[number], number


DEMO = demo_notebook()


@pytest.mark.parametrize("name", sorted(DEMO.designs))
def test_the_screen_says_what_the_command_says(screen: Page, lay: Lay, name: str) -> None:
    for variant in (None, *DEMO.designs[name].overview.differ):
        lay(DEMO, name, variant, "half-letter")
        compare(screen, DEMO, name, variant)


#: Whatever goes with the bars in another way than by mass of base: doses a bar and a pot, oils
#: that pass their limit only in large or in small batches, drops, leftovers that run out, a loaf.
ODD = {
    "per-bar": TWO_LAYERS.replace("dose: 5 mL/lb", "dose: 2.74 mL/bar"),
    "per-pot": TWO_LAYERS.replace("1/4 tsp/lb", "6 mL").replace("dose: 5 mL/lb", "dose: 14.1 g"),
    "blend": TWO_LAYERS.replace(
        "{oil: fern, dose: 5 mL/lb, add: 135-145 F}",
        "[{oil: fern, dose: 1.3 g/bar}, {oil: moss, dose: 1.545 %},"
        " {oil: unknown, dose: 4 drops/bar}]",
    ).replace("colourant: slate, dose: 1/4 tsp/lb", "colourant: ink, dose: 3 drops/bar"),
    "small": TWO_LAYERS.replace("1/4 tsp/lb", "0.02 tsp/lb"),
    "leftover": TWO_LAYERS.replace("base: white", "base: {leftover: ends}"),
    "loaf": TWO_LAYERS.replace("mould: six", "mould: loaf").replace("bars: 6", "bars: 10"),
    "one-pot": TWO_LAYERS.replace("    pot: slate\n", "    pot: detail\n").replace(
        "{white: 70 %, clear: 30 %}", "white"
    ),
    "pieces": TWO_LAYERS.replace("bars: 6", "piece: a\nbars: 6"),
    "long": SIX_LAYERS,
}


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    notebook = lay_notebook(tmp_path_factory.mktemp("odd"), more=LONG_SHELF, plain=ONE_LAYER, **ODD)
    assert not notebook.errors, notebook.errors
    return notebook


@pytest.mark.parametrize("name", sorted(ODD))
def test_recipes_that_do_not_go_by_mass_alone(
    screen: Page, lay: Lay, odd: Notebook, name: str
) -> None:
    leaves = lay(odd, name, None, "a6")
    assert leaves[0].numbers
    compare(screen, odd, name, None)


def test_without_a_mould_all_bars_are_one_round(screen: Page, lay: Lay, odd: Notebook) -> None:
    lay(odd, "plain", None, "a6")
    compare(screen, odd, "plain", None, most=24)
    field = screen.get_by_label("For")
    field.fill("25")
    assert field.evaluate("field => field.validationMessage") == (
        "The page says it for up to 24 bars. For more: journal cards --bars 25"
    )
    expect(screen.locator("header b").first).to_have_text("For\u00a01\u00a0bar")


def test_the_odd_recipes_show_what_changes(odd: Notebook) -> None:
    """Each warning comes and goes with the number of bars, so that the comparison can fail."""

    def minds(name: str, bars: int) -> str:
        leaves = card_of(odd, name, bars)
        return " ".join(plain_text(row.mind) for leaf in leaves for row in leaf.weights)

    def whole(name: str, bars: int) -> str:
        return " ".join(row.cells[3] for leaf in card_of(odd, name, bars) for row in leaf.rows)

    assert "over its limit" not in minds("per-bar", 1)
    assert "over its limit" in minds("per-bar", 4)
    assert "over its limit" in minds("blend", 4)
    assert "over its limit" not in minds("blend", 1)
    assert "only" not in whole("leftover", 5)
    assert "only 4\u00a0oz there" in whole("leftover", 100)
    assert {len(card_of(odd, "pieces", n)[-1].rows) > 0 for n in (4, 5)} == {True, False}


def test_metric_studios_and_coarse_scales(screen: Page, lay: Lay, tmp_path: Path) -> None:
    settings = "studio: Corran Bench\nunits: metric\nscales: [5 g, 0.05 oz]\nwaste: 7 %\n"
    notebook = lay_notebook(tmp_path, settings=settings, kelp=TWO_LAYERS)
    lay(notebook, "kelp", None, "a6")
    compare(screen, notebook, "kelp", None)


def test_the_number_is_written_and_the_page_keeps_its_place(screen: Page, lay: Lay) -> None:
    lay(DEMO, KELP_ON_GREY, None, "4x6in")
    field = screen.get_by_label("For")
    box = field.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 44
    expect(screen.locator("table.rounds")).to_be_hidden()
    field.fill("24")
    assert field.evaluate("field => field === document.activeElement")
    expect(screen.locator(".rounds-of")).to_contain_text("4 rounds of 6")
    expect(screen.locator("table.rounds")).to_be_visible()
    expect(screen.get_by_role("status")).to_have_text("24\u00a0bars")
    for wrong in ("", "0", "-3", "2.5", "101", "1000000"):
        field.fill(wrong)
        expect(screen.locator(".rounds-of")).to_contain_text("4 rounds of 6")
    field.fill("")
    field.blur()
    expect(field).to_have_value("24")
    # Nothing is remembered: the page as it is opened again is the page as it was made.
    assert screen.evaluate("localStorage.length + sessionStorage.length") == 0
    assert screen.evaluate("document.cookie") == ""
    screen.reload()
    expect(screen.get_by_label("For")).to_have_value("6")
    assert "#" not in screen.url
    assert "?" not in screen.url


@pytest.mark.parametrize("bars", [6, 24])
def test_the_printed_card_is_that_of_the_screen(
    screen: Page, lay: Lay, tmp_path: Path, bars: int
) -> None:
    made = lay(DEMO, KELP_ON_GREY, None, "4x6in")
    screen.get_by_label("For").fill(str(bars))
    pdf = tmp_path / "card.pdf"
    screen.emulate_media(color_scheme="light")
    screen.pdf(path=pdf, prefer_css_page_size=True, print_background=True)
    found = texts(pdf)
    leaves = card_of(DEMO, KELP_ON_GREY, bars, size="4x6in")
    # The leaf of the rounds is printed where there are several, and then only.
    assert [leaf.leaf for leaf in made].count("rounds") == 1
    assert len(found) == len(made) - (bars == 6)
    assert shrunk_pages(pdf) == []
    flat = "".join("".join(found).split())
    for leaf in leaves:
        for step in leaf.steps:
            assert "".join(plain_text(step.words).split()) in flat
        for row in leaf.weights:
            assert "".join(plain_text(row.first).split()) in flat
    for said in found:
        assert "".join(leaves[0].bars.split()) in "".join(said.split())
        assert re.search(r"changed 2025-05-03, printed 20\d\d-\d\d-\d\d", " ".join(said.split()))


def test_a_card_for_several_rounds_is_for_everybody(
    screen: Page, lay: Lay, axe: Callable[[Page], list[str]]
) -> None:
    lay(DEMO, KELP_ON_GREY, None, "4x6in")
    screen.get_by_label("For").fill("24")
    assert axe(screen) == []


def test_the_time_of_a_step_is_said_after_a_word(screen: Page, lay: Lay) -> None:
    lay(DEMO, KELP_ON_GREY, None, "4x6in")
    said = screen.locator("article li").first.evaluate("step => step.textContent")
    assert re.search(r"flat\. after 0:\d\d$", said)


def test_scripts_are_small_and_keep_nothing(project: Path) -> None:
    sizes = {}
    for name in CARD_SCRIPTS:
        text = (project / "themes" / "desk" / name).read_text("utf-8")
        sizes[name] = len(text.encode())
        for word in ("Storage", "cookie", "fetch", "indexedDB", "history.", "eval("):
            assert word not in text
    assert sum(sizes.values()) <= 6_000
