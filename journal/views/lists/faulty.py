"""Pages in place of what cannot be read: they say what is wrong, and where."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from functools import partial

from msgspec import Struct

from journal.errors import Problem
from journal.html.blocks import BulletList, Page, Paragraph, TextRun, simple_section
from journal.views.shared.book import Book
from journal.views.shared.editions import Edition
from journal.views.shared.places import Address, FaultyAddress, KindAndId
from journal.views.shared.sheet import Sheet


class FaultyThing(Struct, frozen=True):
    """A design, question or order with an error; its title, date and state if they are known."""

    title: str
    date: date | None
    state: str
    problems: tuple[Problem, ...]


_KINDS = {"designs": "design", "comparisons": "comparison", "orders": "order"}


class FaultyThings(Struct, frozen=True):
    """What has an error, by its kind ("design", "comparison" or "order") and id."""

    things: Mapping[KindAndId, FaultyThing]

    def of_kind(self, kind: str) -> dict[str, FaultyThing]:
        """The things of one kind by id."""
        return {name: one for (own, name), one in self.things.items() if own == kind}

    def has_page_about(self, problem: Problem) -> bool:
        """Whether a page of its own tells of a problem."""
        folder, _, rest = problem.position.path.partition("/")
        name = rest.partition("/")[0] if folder == "designs" else rest.rpartition(".")[0]
        return (_KINDS.get(folder, ""), name) in self.things

    def left_out(self, edition: Edition) -> Mapping[str, str]:
        """Titles by id of designs that an edition would not hold if they had no error."""
        if edition != "public":
            return {}
        designs = self.of_kind("design")
        return {name: one.title for name, one in designs.items() if one.state != "keeper"}

    def places(self, edition: Edition) -> Mapping[KindAndId, FaultyAddress]:
        """Where the pages of faulty things stand; the public edition has none of these."""
        if edition == "public":
            return {}
        return {named: FaultyAddress(one.title, one.date) for named, one in self.things.items()}


def faulty_sheets(book: Book, faulty: FaultyThings) -> Iterator[Sheet]:
    """A page for each thing with an error."""
    for named, here in book.places.faulty.items():
        problems = faulty.things[named].problems if book.studio else ()
        yield book.sheet(here, "page.html", partial(_page, book, here, named[0], problems))


# What is called what on such a page.
_NOUNS = {"design": "write-up", "comparison": "question", "order": "order"}


def _page(book: Book, here: Address, kind: str, problems: tuple[Problem, ...]) -> Page:
    points = tuple(
        (TextRun(str(problem.position), "strong"), f": {problem.what}. {problem.hint}")
        for problem in problems
        if not problem.warning
    )
    sentence = f"This {_NOUNS[kind]} has a mistake in it. Mend it, and the page comes back."
    lead = Paragraph((sentence,))
    blocks = (lead, BulletList(points)) if points else (lead,)
    return book.page(here, [simple_section("wrong", "What is wrong", *blocks)])
