"""Terms of the index: a few pages each by name, and of many the latest."""

from __future__ import annotations

import pytest

from journal.views.index.terms import MOST_NAMED, TermRow, _first_letter, _index_term
from journal.views.shared.places import Address

HERE = Address("terms.html", "Index")
OWN = ("shelf/mould-six.html", "", "M1")


def designs(count: int) -> tuple[tuple[str, str, str], ...]:
    return tuple((f"designs/d{number}.html", "", str(number)) for number in range(1, count + 1))


def said(row: TermRow) -> str:
    (words,) = _index_term(HERE, row).places
    return "".join(word if isinstance(word, str) else word.text for word in words)


def test_a_term_with_a_page_of_its_own_names_the_others_behind_it() -> None:
    assert said(TermRow("six", OWN, designs(2), all_there=True)) == "M1, in 1, 2"
    assert said(TermRow("six", OWN)) == "M1"
    assert said(TermRow("six", None, designs(2))) == "1, 2"


@pytest.mark.parametrize("more", [1, 30])
def test_of_many_the_latest(more: int) -> None:
    count = MOST_NAMED + more
    told = said(TermRow("six", OWN, designs(count), all_there=True))
    assert told.startswith(f"M1, {count} designs, the latest {more + 1}, ")
    assert told.endswith(f", {count}")
    # A term whose own page does not list them has them all here.
    assert said(TermRow("six", OWN, designs(count))).count(", ") == count


@pytest.mark.parametrize(
    ("name", "letter"), [("kelp", "K"), ("30 days", "0–9"), ("‘kelp’", "K"), ("—", "0–9")]
)
def test_under_which_letter(name: str, letter: str) -> None:
    assert _first_letter(name) == letter
