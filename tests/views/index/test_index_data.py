"""The data of the index: packed without loss, cut by edition, changed only where a page changed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from demo import KELP_ON_CLAY
from demo_book import demo_notebook
from hypothesis import given
from hypothesis import strategies as st

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.theme import read_theme
from journal.records.notebook import Notebook
from journal.views.index.data import (
    LETTERS,
    MAP_SIZE,
    PART_SIZE,
    encode_pages,
    front_coded,
    part_script,
)
from journal.views.index.page import (
    design_data_sheets,
    design_parts,
    index_page,
    index_sheets,
    other_data_sheets,
)
from journal.views.index.terms import sorted_by, term_rows
from journal.views.index.texts import IndexEntry, plain_prose
from journal.views.index.words import common, folded, spellings, spelt, words_of
from journal.views.notebook import open_book
from journal.views.shared.book import Book
from journal.views.shared.editions import Edition, cut_to_edition
from journal.views.shared.places import Sheet

WORDS = st.lists(st.text("abcdeé019", min_size=1, max_size=40), unique=True).map(sorted)


def unshared(packed: str) -> list[str]:
    """Packed words read back, by the rule in the module's own words."""
    words = [""]
    for capital, rest in re.findall("([A-Z])([^A-Z]*)", packed):
        words.append(words[-1][: ord(capital) - ord("A")] + rest)
    return words[1:]


def pages_in(code: str) -> set[int]:
    if len(code) < MAP_SIZE:
        return {LETTERS.index(letter) for letter in code}
    return {
        six * 6 + bit
        for six, letter in enumerate(code)
        for bit in range(6)
        if LETTERS.index(letter) >> bit & 1
    }


@given(WORDS)
def test_words_are_packed_without_loss(words: list[str]) -> None:
    assert unshared(front_coded(words)) == words


@given(st.sets(st.integers(0, PART_SIZE - 1), min_size=1))
def test_pages_are_packed_without_loss(numbers: set[int]) -> None:
    code = encode_pages(sorted(numbers))
    assert pages_in(code) == numbers
    assert len(code) <= MAP_SIZE
    assert " " not in code


def test_letters_of_pages_are_one_for_each_page() -> None:
    assert len(set(LETTERS)) == len(LETTERS) == PART_SIZE


def test_a_part_by_hand() -> None:
    found = [
        IndexEntry(
            "designs/a.html", "A reed", "1", "Design, trial", "May 2024", (("", "Red mould."),)
        ),
        IndexEntry(
            "designs/b.html", "B", "2", "Design, trial", "May 2025", (("notes", "red reeds"),)
        ),
    ]
    name, _, held = part_script("designs-1", found).decode().partition("=window")[2].partition("=")
    assert name.endswith('["designs-1"]')
    kinds, pages, words, standing = json.loads(held.rstrip(";\n"))
    assert kinds == ["Design, trial"]
    assert pages == ("designs/a.html\tA reed\t1\t0\tMay 2024\ndesigns/b.html\tB\t2\t0\tMay 2025")
    by_word = dict(zip(unshared(words), map(pages_in, standing.split(" ")), strict=True))
    assert by_word == {
        "2024": {0}, "2025": {1}, "design": {0, 1}, "trial": {0, 1}, "red": {0, 1}, "reed": {0},
        "reeds": {1}, "mould": {0}, "mold": {0},
    }  # fmt: skip


@pytest.mark.parametrize(
    ("word", "both"),
    [
        ("mould", {"mould", "mold"}),
        ("molds", {"moulds", "molds"}),
        ("unmoulding", {"unmoulding", "unmolding"}),
        ("grey", {"grey", "gray"}),
        ("colourants", {"colourants", "colorants"}),
        ("discolored", {"discolored", "discoloured"}),
        ("fibre", {"fibre", "fiber"}),
        ("glycerin", {"glycerin", "glycerine"}),
        ("glycerine", {"glycerin", "glycerine"}),
        ("labelled", {"labelled", "labeled"}),
        ("centre", {"centre", "center"}),
        ("ochre", {"ochre", "ocher"}),
        ("label", {"label"}),
        ("literal", {"literal"}),
        ("kelp", {"kelp"}),
    ],
)
def test_both_spellings(word: str, both: set[str]) -> None:
    assert set(spellings(word)) == both


@pytest.mark.parametrize("pair", spelt(), ids=lambda pair: pair[0])
def test_each_pair_works_both_ways(pair: tuple[str, str]) -> None:
    american, british = pair
    assert british in spellings(american)
    assert american in spellings(british)


def test_words_of_a_text() -> None:
    text = "The sea-grey BODY wasn't poured at 131 °F: café, naïve; ½ tsp_x"
    assert words_of(text) == {
        "sea", "grey", "body", "wasn", "poured", "131", "cafe", "naive", "tsp",
    }  # fmt: skip


@given(st.text())
def test_folding_moves_no_character(text: str) -> None:
    # But for a capital that is two small letters, which no soap is called by.
    if "\u0130" not in text:
        assert len(folded(text)) == len(text)
    assert all(word not in common() and len(word) > 1 for word in words_of(text))


@pytest.mark.parametrize(
    ("markdown", "plain"),
    [
        (f"Poured into the [clay one](../{KELP_ON_CLAY}/design.md).", "Poured into the clay one."),
        ("![A *white* fan](photos/a.jpg)", "A white fan"),
        (
            "[![the fan](a.jpg)](b.md) and [this][1]\n\n[1]: https://example.org/x",
            "the fan and this",
        ),
        ("# Head\n\n- one\n- **two**\n1. three\n> said", "Head\n\n one\n two\n three\n said"),
        ("| a | b |\n| --- | ---: |\n| 1 | 2 |", " a  b \n\n 1  2 "),
        ("`code` and snake_case and _so_", "code and snake_case and so"),
        ("```\nlet it be\n```", "\nlet it be\n"),
        ("said[^1]\n\n[^1]: below", "said1"),
    ],
)
def test_prose_without_its_signs(markdown: str, plain: str) -> None:
    assert plain_prose(markdown).split() == plain.split()


# The demo, cut and changed ---------------------------------------------------------


@pytest.fixture(scope="module")
def whole() -> Notebook:
    return demo_notebook()


def book_of(whole: Notebook, edition: Edition = "studio") -> Book:
    cut = cut_to_edition(whole, edition)
    figures = derive_figures(cut, models=False)
    return open_book(cut, figures, compare_designs(cut), read_theme(), edition)


def all_data_sheets(book: Book) -> Iterator[Sheet]:
    for part, names in design_parts(book).items():
        yield from design_data_sheets(book, part, names)
    yield from other_data_sheets(book)


def all_index_sheets(book: Book) -> list[Sheet]:
    return [*index_sheets(book), *all_data_sheets(book)]


@pytest.fixture(scope="module")
def book(whole: Notebook) -> Book:
    return book_of(whole)


def test_a_changed_design_changes_its_own_scripts_alone(book: Book) -> None:
    name, design = list(book.notebook.designs.items())[3]
    changed = replace(design, body=design.body + "\nA quagga was seen.")
    other = replace(
        book, notebook=replace(book.notebook, designs={**book.notebook.designs, name: changed})
    )
    before = {sheet.path: sheet for sheet in all_data_sheets(book)}
    after = {sheet.path: sheet for sheet in all_data_sheets(other)}
    assert before.keys() == after.keys()
    moved = {path for path in before if before[path].make() != after[path].make()}
    assert moved == {"index/designs-1.js", f"index/designs/{name}.js"}
    assert b"quagga" in after[f"index/designs/{name}.js"].make()


def test_the_same_book_gives_the_same_scripts(book: Book, whole: Notebook) -> None:
    again = book_of(whole)
    one = [(sheet.path, sheet.make()) for sheet in all_index_sheets(book)]
    assert one == [(sheet.path, sheet.make()) for sheet in all_index_sheets(again)]


@pytest.mark.parametrize("edition", ["helpers", "public"])
def test_an_edition_holds_nothing_of_what_it_leaves_out(whole: Notebook, edition: Edition) -> None:
    cut = book_of(whole, edition)
    made = b"\n".join(sheet.make() for sheet in all_index_sheets(cut)).decode()
    gone = [design for name, design in whole.designs.items() if name not in cut.notebook.designs]
    names = [design.title for design in gone] + [design.id for design in gone]
    names += [design.private for design in whole.designs.values() if design.private]
    for kind in ("bases", "fragrances", "colourants", "mats"):
        for record in whole.shelf.of_kind(kind).values():
            names += [text for text in (record.supplier, record.private) if text]
    assert len(names) > 3, "the demo leaves nothing out: the test says nothing"
    assert not [name for name in names if name in made]


def test_terms_stand_in_order_under_their_letters(book: Book) -> None:
    rows = term_rows(book)
    assert [row.name for row in rows] == sorted(
        (row.name for row in rows), key=lambda name: (sorted_by(name), name)
    )
    page = index_page(book, book.places.fixed("terms"), rows)
    assert [letter.name for letter in page.letters] == sorted(
        letter.name for letter in page.letters
    )
    names = [term.name for letter in page.letters for term in letter.terms]
    assert len(names) == len(rows)
    for wanted in ("2025", "Clear glycerine (base)", "Lip (what failed)", "Shoreline",
                   "Straight trim", "Kelp on clay", "Cooling of a pot"):  # fmt: skip
        assert wanted in names
    assert len(names) < 1000, "the words of the prose are for the narrowing alone"


def test_an_article_does_not_count() -> None:
    assert sorted_by("The pink one") == "pink one"
    assert sorted_by("A clear body") == "clear body"
    assert sorted_by("Ankle") == "ankle"
