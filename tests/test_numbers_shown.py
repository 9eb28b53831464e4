"""No number that is none is ever shown: not a number, infinite, or below zero and zero."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html import escape, unescape
from pathlib import Path

import pytest
from bs4 import BeautifulSoup, Tag
from conftest import CallJournal
from every_sheet import all_sheets

from journal.comparison.as_json import figures_json
from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.theme import read_theme
from journal.records.notebook import read_notebook
from journal.views.notebook import open_book
from tests.bench.corpus import write_corpus

#: Minus and true minus before a zero that nothing follows; a range "2-0" has a digit before it.
NONE = re.compile(
    r"\b(?:NaN|nan|Infinity|infinity|inf|None(?! (?:(?:was|for) |\())|undefined)\b|∞"
    r"|(?<![\w.,)-])[-−]0(?:\.0*)?(?![\d.,]*[1-9]|\w)"
)


def shown(html: str) -> Iterator[str]:
    """What is read on a page, and what its scripts reckon with."""
    soup = BeautifulSoup(html, "html.parser")
    yield from soup.stripped_strings
    for tag in soup.find_all(True):
        assert isinstance(tag, Tag)
        for name, value in tag.attrs.items():
            if name.startswith("data-") or name in ("alt", "aria-label", "title", "content"):
                yield str(value)


def none_of(html: str) -> list[str]:
    # A page is taken apart only if there is something to be found: that takes a hundred times as
    # long. Marks end words as the ends of a text do.
    if not NONE.search(unescape(html)):
        return []
    return [text for text in shown(html) if NONE.search(text)]


def numbers(found: object) -> Iterator[float]:
    if isinstance(found, dict):
        for value in found.values():
            yield from numbers(value)
    elif isinstance(found, list | tuple):
        for value in found:
            yield from numbers(value)
    elif isinstance(found, float):
        yield found


def refuse(text: str) -> float:
    raise AssertionError(f"{text} stands in the JSON")


def test_on_no_page_of_the_demo(notebook: Path) -> None:
    wrong = [
        f"{page.relative_to(notebook)}: {text}"
        for page in sorted(notebook.rglob("*.html"))
        for text in none_of(page.read_text("utf-8"))
    ]
    assert not wrong, "\n".join(wrong)


def test_in_no_figure_of_the_demo(call_journal: CallJournal, demo_content: Path) -> None:
    done = call_journal("figures", "--content", demo_content)
    found = json.loads(done.stdout, parse_constant=refuse)
    every = list(numbers(found))
    assert len(every) > 1000
    assert not [number for number in every if number == 0 and str(number) == "-0.0"]
    assert not re.search(r"[\s\[:]-0(\.0*)?[\s,\]}]", done.stdout)


@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.long)])
def test_in_no_made_up_notebook(tmp_path: Path, demo_content: Path, seed: int) -> None:
    write_corpus(tmp_path / "content", demo_content, 22, seed=seed)
    content = read_notebook(tmp_path / "content")
    assert not content.errors, content.errors
    figures, compared = derive_figures(content, models=False), compare_designs(content)
    book = open_book(content, figures, compared, read_theme(content=tmp_path / "content"))
    wrong = [
        f"{sheet.path}: {text}"
        for sheet in all_sheets(book)
        if sheet.path.endswith(".html")
        for text in none_of(sheet.make().decode())
    ]
    assert not wrong, "\n".join(wrong)
    told = json.dumps(figures_json(content, figures, compared, []), allow_nan=False)
    assert not re.search(r"[\s\[:]-0(\.0*)?[\s,\]}]", told)


@pytest.mark.parametrize(
    "text", ["NaN g", "about inf min", "-0 mm", "−0.0 mm", "from -0 to 3", "None", "∞", "(−0 °C)"]
)
def test_the_search_bites(text: str) -> None:
    for html in (f"<p>{text}</p>", f"<p>a<b>{text}</b>0</p>", f'<img alt="{text}">'):
        assert none_of(html) == [text]
    assert none_of(f"<p>{escape(text).encode('ascii', 'xmlcharrefreplace').decode()}") == [text]


@pytest.mark.parametrize(
    "text",
    [
        "-0.5 mm",
        "2-0",
        "information",
        "−0.05",
        "0 mm",
        "A-0",
        "10 in",
        "None was judged",
        "None (mat)",
    ],
)
def test_the_search_lets_numbers_pass(text: str) -> None:
    assert none_of(f"<p>{text}</p>") == []
