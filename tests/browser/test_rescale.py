"""Another number of bars, written over on the page: what `--bars` says, for every number."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from card_cases import LONG_SHELF, ONE_LAYER, SIX_LAYERS, TWO_LAYERS, lay_notebook
from checked_pages import WIDTHS, refuse_faults, watched
from demo import KELP_ON_GREY
from long_run import LONG
from paths import CONTENT
from playwright.sync_api import Browser, Page

from journal.html.blocks import PageFrame
from journal.html.card_page import CardLeaf, CardSize, plain_text
from journal.html.theme import Theme, read_theme
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.card import card_page, cards_of
from journal.views.card.cards import CARD_SCRIPTS, card_variants

#: Every number that the two must agree for, and a spread of it: one round and several, whole
#: and not, fractions of a spoon, pounds, kilograms.
ALL = range(1, 501)
SOME = (1, 2, 5, 6, 7, 12, 13, 24, 59, 101, 360, 500)
NUMBERS: Sequence[int] = ALL if LONG else SOME

#: Writes each number over the sentence and reads all that then stands on the cards.
READ = """numbers => {
  const input = document.querySelector(".ask input"), out = [];
  const text = one => one ? one.textContent : "";
  const apart = cell => {
    const copy = cell.cloneNode(true), small = copy.querySelector("small");
    if (small) small.remove();
    return [copy.textContent.trim(), text(small)];
  };
  for (const number of numbers) {
    input.value = number;
    input.dispatchEvent(new Event("input"));
    out.push([...document.querySelectorAll("article.card")].map(card => ({
      fit: card.className,
      id: card.querySelector("h2").id,
      title: text(card.querySelector("h2")),
      bars: text(card.querySelector("header b")),
      rounds: text(card.querySelector(".rounds")),
      weights: [...card.querySelectorAll("tr")].map(row => [...row.cells].flatMap(apart)),
      first: [...card.querySelectorAll("tr")].map(row => row.className),
      steps: [...card.querySelectorAll("li")].map(text),
      watch: [...card.querySelectorAll(".watch")].map(text),
      cautions: text(card.querySelector(".cautions")),
      lines: [...card.querySelectorAll(".line")].map(
        line => [...line.children].map(one => [text(one), one.className])),
      alone: card.parentNode.children.length === 1 && card.parentNode.className === "sheet",
    })));
  }
  return out;
}"""
SPANS = {1: "blank", 2: "blank two", 3: "blank three"}


def wanted(leaves: Sequence[CardLeaf]) -> list[dict[str, Any]]:
    return [
        {
            "fit": f"card {leaf.fit}".strip(),
            "id": leaf.anchor,
            "title": f"{leaf.title} {leaf.leaf}".strip(),
            "bars": leaf.bars,
            "rounds": plain_text(leaf.rounds),
            "weights": [
                [
                    " ".join(filter(None, (row.layer, row.what, plain_text(row.mind)))),
                    plain_text(row.each),
                    plain_text(row.first),
                    plain_text(row.second),
                ]
                for row in leaf.weights
            ],
            "first": ["first" if row.layer else "" for row in leaf.weights],
            "steps": [plain_text(step) for step in leaf.steps],
            "watch": [plain_text(words) for words in leaf.watch],
            "cautions": leaf.cautions,
            "lines": list(lines(leaf)),
            "alone": True,
        }
        for leaf in leaves
    ]


def lines(leaf: CardLeaf) -> Iterator[list[list[str]]]:
    version = [f"{leaf.dated} {leaf.version}", "version"]
    for number, row in enumerate(leaf.lines, start=1):
        beside = leaf.beside and number == len(leaf.lines)
        yield [[blank.label, SPANS[blank.span]] for blank in row] + ([version] if beside else [])
    if not leaf.beside:
        yield [version]


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
        leaves = cards_of(notebook, notebook.designs[name], variant, None, size)
        frame = PageFrame("Corran Bench", "", (), scripts=CARD_SCRIPTS)
        html = theme.set_page("card.html", card_page(frame, leaves, size))
        (root / "card.html").write_text(html, "utf-8")
        screen.goto((root / "card.html").as_uri())
        return leaves

    return open_it


def compare(
    screen: Page, notebook: Notebook, name: str, variant: str | None, size: CardSize
) -> None:
    got = screen.evaluate(READ, list(NUMBERS))
    design = notebook.designs[name]
    for number, found in zip(NUMBERS, got, strict=True):
        assert found == wanted(cards_of(notebook, design, variant, number, size)), number


DEMO = read_notebook(CONTENT)


@pytest.mark.timeout(600)
@pytest.mark.parametrize("name", sorted(DEMO.designs))
def test_the_screen_says_what_the_command_says(screen: Page, lay: Lay, name: str) -> None:
    for variant in card_variants(DEMO.designs[name]):
        lay(DEMO, name, variant, "4x6in")
        compare(screen, DEMO, name, variant, "4x6in")


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
    "leftover": ONE_LAYER.replace("base: white", "base: {leftover: ends}").replace(
        "amount: 100 g", "amount: 31.4159 g, fragrance: {oil: strong, dose: 0.4 g/bar}"
    ),
    "loaf": TWO_LAYERS.replace("mould: six", "mould: loaf").replace("bars: 6", "bars: 10"),
    "one-pot": TWO_LAYERS.replace("    pot: slate\n", "    pot: detail\n").replace(
        "{white: 70 %, clear: 30 %}", "white"
    ),
    "pieces": TWO_LAYERS.replace("bars: 6", "piece: a\nbars: 6"),
    "long": SIX_LAYERS,
    "plain": ONE_LAYER,
}


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    notebook = lay_notebook(tmp_path_factory.mktemp("odd"), more=LONG_SHELF, **ODD)
    assert not notebook.errors, notebook.errors
    return notebook


@pytest.mark.timeout(600)
@pytest.mark.parametrize("size", ["a6", "half-letter"])
@pytest.mark.parametrize("name", sorted(ODD))
def test_recipes_that_do_not_go_by_mass_alone(
    screen: Page, lay: Lay, odd: Notebook, name: str, size: CardSize
) -> None:
    leaves = lay(odd, name, None, size)
    assert leaves[0].numbers
    compare(screen, odd, name, None, size)


def test_the_odd_recipes_show_what_changes(odd: Notebook) -> None:
    """Each warning comes and goes with the number of bars, so that the comparison can fail."""

    def minds(name: str, bars: int) -> str:
        leaves = cards_of(odd, odd.designs[name], None, bars, "a6")
        return " ".join(plain_text(row.mind) for leaf in leaves for row in leaf.weights)

    assert "over its limit" not in minds("per-bar", 1)
    assert "over its limit" in minds("per-bar", 500)
    assert "other scent" in minds("blend", 500)
    assert "other scent" not in minds("blend", 1)
    assert "there" not in minds("leftover", 1)
    assert "there" in minds("leftover", 500)


def test_metric_studios_and_coarse_scales(screen: Page, lay: Lay, tmp_path: Path) -> None:
    settings = "studio: Corran Bench\nunits: metric\nscales: [5 g, 0.05 oz]\nwaste: 7 %\n"
    notebook = lay_notebook(tmp_path, settings=settings, kelp=TWO_LAYERS)
    lay(notebook, "kelp", None, "a6")
    compare(screen, notebook, "kelp", None, "a6")


def test_the_number_is_written_and_the_page_keeps_its_place(screen: Page, lay: Lay) -> None:
    lay(DEMO, KELP_ON_GREY, None, "4x6in")
    field = screen.get_by_label("For")
    box = field.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 44
    field.fill("24")
    assert field.evaluate("field => field === document.activeElement")
    assert "4 rounds of 6" in screen.locator(".rounds").inner_text()
    assert screen.get_by_role("status").inner_text() == "24\u00a0bars: 4\u00a0rounds, 2 leaves."
    for wrong in ("", "0", "-3", "2.5", "1000000"):
        field.fill(wrong)
        assert "4 rounds of 6" in screen.locator(".rounds").inner_text()
    field.blur()
    assert field.input_value() == "24"
    # Nothing is remembered: the page as it is opened again is the page as it was made.
    assert screen.evaluate("localStorage.length + sessionStorage.length") == 0
    assert screen.evaluate("document.cookie") == ""
    screen.reload()
    assert screen.get_by_label("For").input_value() == "6"
    assert "#" not in screen.url
    assert "?" not in screen.url


def test_the_printed_card_is_that_of_the_screen(
    screen: Page, lay: Lay, tmp_path: Path, axe: Callable[[Page], list[str]]
) -> None:
    from printed import shrunk_pages, texts

    lay(DEMO, KELP_ON_GREY, None, "4x6in")
    screen.get_by_label("For").fill("24")
    assert axe(screen) == []
    pdf = tmp_path / "card.pdf"
    screen.emulate_media(color_scheme="light")
    screen.pdf(path=pdf, prefer_css_page_size=True, print_background=True)
    found = texts(pdf)
    leaves = cards_of(DEMO, DEMO.designs[KELP_ON_GREY], None, 24, "4x6in")
    assert len(found) == len(leaves)
    assert shrunk_pages(pdf) == []
    for said, leaf in zip(found, leaves, strict=True):
        flat = "".join(said.split())
        for words in (leaf.bars, leaf.leaf, *map(plain_text, leaf.steps)):
            assert "".join(words.split()) in flat
        for row in leaf.weights:
            assert "".join(plain_text(row.first).split()) in flat


def test_scripts_are_small_and_keep_nothing(project: Path) -> None:
    sizes = {}
    for name in CARD_SCRIPTS:
        text = (project / "themes" / "paper" / name).read_text("utf-8")
        sizes[name] = len(text.encode())
        for word in ("Storage", "cookie", "fetch", "indexedDB", "history.", "eval("):
            assert word not in text
    assert sizes["rescale.js"] <= 12_000
    assert sum(sizes.values()) <= 24_000
