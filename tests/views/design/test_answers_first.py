"""The page of a design: its answers before the first fold, and nothing said twice."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from bs4 import BeautifulSoup, Tag
from demo import MOTH
from demo_book import demo_book

from journal.views.design.shop import cost_part
from journal.views.shared.on_design import DesignContext

MOST_WORDS = 1200
MOST_BYTES = 58_700
ANSWERS = ("variants", "heat", "weigh")
TEXTS = ("p", "li", "summary", "caption", "figcaption", "dd", "h2", "h3")


@pytest.fixture(scope="module")
def designs(notebook: Path) -> dict[str, Tag]:
    """The main part of each design's page, without what only describes a drawing."""
    pages = {}
    for one in sorted((notebook / "designs").glob("*.html")):
        if one.name != "index.html":
            main = BeautifulSoup(one.read_text("utf-8"), "html.parser").main
            assert main is not None
            for described in main.find_all(["title", "desc"]):
                described.decompose()
            pages[one.name] = main
    assert len(pages) == 11
    return pages


def test_few_words_stand_outside_of_folds(designs: dict[str, Tag]) -> None:
    for name, main in designs.items():
        folded = sum(len(fold.get_text(" ").split()) for fold in main.select("details details"))
        inside = sum(
            len(fold.get_text(" ").split()) - len(fold.summary.get_text(" ").split())
            for fold in main.find_all("details")
            if fold.summary is not None
        )
        open_words = len(main.get_text(" ").split()) - inside + folded
        assert 100 < open_words <= MOST_WORDS, name


def test_a_page_is_small(notebook: Path) -> None:
    for one in (notebook / "designs").glob("*.html"):
        assert one.stat().st_size <= MOST_BYTES, one.name


def test_the_answers_come_first(designs: dict[str, Tag]) -> None:
    for name, main in designs.items():
        parts = [str(part["id"]) for part in main.find_all("section", recursive=False)]
        answers = [part for part in ANSWERS if part in parts]
        assert parts[: len(answers)] == answers, name
        first = main.find("details")
        assert isinstance(first, Tag)
        assert first.find_previous("section") is not None, name
        if first.find_parent(id="variants"):
            assert first.find_previous(class_="passage") is not None, name


def test_the_line_of_a_fold_says_what_is_in_it(designs: dict[str, Tag]) -> None:
    """It is no mere head: a number, or names, are in it."""
    for name, main in designs.items():
        for fold in main.select("details.fold"):
            assert fold.summary is not None
            said = fold.summary.get_text(" ").strip()
            assert re.search(r"\d", said) or len(said.split()) >= 4, (name, said)


def test_nothing_is_said_twice(designs: dict[str, Tag]) -> None:
    """Sentences of six words or more; but each pot's step has its own caution."""
    for name, main in designs.items():
        counted: Counter[str] = Counter()
        for text in main.find_all(TEXTS):
            if text.find_parent(id="order") is None and text.find(TEXTS) is None:
                words = " ".join(text.get_text(" ").split())
                counted.update(
                    one for one in re.split(r"(?<=[.!?:;])\s+", words) if len(one.split()) >= 6
                )
        assert [one for one, times in counted.items() if times > 1] == [], name


def test_what_a_choice_is_worth_is_money_and_so_for_the_studio_alone(
    designs: dict[str, Tag],
) -> None:
    page = designs["moth-and-moon.html"]
    variants, cost = page.find(id="variants"), page.find(id="cost")
    assert isinstance(variants, Tag)
    assert isinstance(cost, Tag)
    said = " ".join(variants.get_text(" ").split())
    assert "With it 17 of 18 bars are fit to sell, against 7 of 18" in said
    assert "$" not in said
    assert "Straight saves about $" in cost.get_text(" ")
    book = replace(demo_book(), edition="helpers")
    here = book.places.designs[MOTH]
    context = DesignContext(
        book, here, book.notebook.designs[MOTH], book.figures.designs[MOTH],
        book.compared.designs[MOTH],
    )  # fmt: skip
    assert cost_part(context) is None
