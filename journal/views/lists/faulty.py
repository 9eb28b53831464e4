"""Pages in place of designs, questions and orders that cannot be read; they list the errors."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from functools import partial

from msgspec import Struct

from journal.errors import Problem
from journal.html.blocks import BulletList, Page, Paragraph, TextRun, simple_section
from journal.views.shared.book import Book
from journal.views.shared.editions import Edition
from journal.views.shared.places import Address, FaultyAddress, KindAndId, Sheet


class FaultyThing(Struct, frozen=True):
    """A design, question or order with an error; its title, date and state if they are known."""

    title: str
    date: date | None
    state: str
    problems: tuple[Problem, ...]


_KIND_OF_FOLDER = {"designs": "design", "comparisons": "comparison", "orders": "order"}


class FaultyThings(Struct, frozen=True):
    """What has an error, by its kind ("design", "comparison" or "order") and id."""

    things: Mapping[KindAndId, FaultyThing]

    def of_kind(self, kind: str) -> dict[str, FaultyThing]:
        """The faulty things of one kind ("design", "comparison" or "order"), by id."""
        return {name: one for (own, name), one in self.things.items() if own == kind}

    def has_page_about(self, problem: Problem) -> bool:
        """Whether the problem lies in a file of a faulty thing, whose own page reports it."""
        folder, _, rest = problem.position.path.partition("/")
        name = rest.partition("/")[0] if folder == "designs" else rest.rpartition(".")[0]
        return (_KIND_OF_FOLDER.get(folder, ""), name) in self.things

    def left_out(self, edition: Edition) -> Mapping[str, str]:
        """Titles, by id, of the faulty designs that the edition leaves out in any case.

        The public edition shows only keepers; the others leave none out.
        """
        if edition != "public":
            return {}
        designs = self.of_kind("design")
        return {name: one.title for name, one in designs.items() if one.state != "keeper"}

    def places(self, edition: Edition) -> Mapping[KindAndId, FaultyAddress]:
        """Title and date of each faulty thing that gets a page; none in the public edition."""
        if edition == "public":
            return {}
        return {named: FaultyAddress(one.title, one.date) for named, one in self.things.items()}


def faulty_sheets(book: Book, faulty: FaultyThings) -> Iterator[Sheet]:
    """A page for each faulty thing; only in the studio's edition does it list the problems."""
    for named, here in book.places.faulty.items():
        problems = faulty.things[named].problems if book.studio else ()
        yield book.sheet(here, "page.html", partial(_faulty_page, book, here, named[0], problems))


# The word for each kind on such a page.
_NOUN_OF_KIND = {"design": "write-up", "comparison": "question", "order": "order"}


def _faulty_page(book: Book, here: Address, kind: str, problems: tuple[Problem, ...]) -> Page:
    """A page that says that the thing has a mistake, and lists the errors; no warnings."""
    points = tuple(
        (TextRun(str(problem.position), "strong"), f": {problem.what}. {problem.hint}")
        for problem in problems
        if not problem.warning
    )
    sentence = (
        f"This {_NOUN_OF_KIND[kind]} has a mistake in it. Put it right, and the page comes back."
    )
    standfirst = Paragraph((sentence,))
    blocks = (standfirst, BulletList(points)) if points else (standfirst,)
    return book.page(here, [simple_section("wrong", "What is wrong", *blocks)])
