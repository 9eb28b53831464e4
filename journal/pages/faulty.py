"""Pages in place of what cannot be read: they say what is wrong, and where."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from functools import partial

from msgspec import Struct

from journal.errors import Problem
from journal.pages.book import Book
from journal.pages.editions import Edition
from journal.pages.parts import Page, Part, Passage, Points, Said, Span
from journal.pages.places import FaultyPlace, Named, Place
from journal.pages.sheet import Sheet


class FaultyDesign(Struct, frozen=True):
    """A design with an error; its title, date and state where they could be read."""

    title: str
    date: date | None
    state: str
    problems: tuple[Problem, ...]


class Faulty(Struct, frozen=True):
    """What has an error, by id: designs, questions across designs, orders."""

    designs: Mapping[str, FaultyDesign]
    comparisons: Mapping[str, tuple[Problem, ...]]
    orders: Mapping[str, tuple[Problem, ...]]

    def tells(self, problem: Problem) -> bool:
        """Whether a page of its own tells of a problem."""
        folder, _, rest = problem.position.path.partition("/")
        if folder == "designs":
            return rest.partition("/")[0] in self.designs
        name = rest.rpartition(".")[0]
        return name in {"comparisons": self.comparisons, "orders": self.orders}.get(folder, {})

    def problems(self, kind: str, name: str) -> tuple[Problem, ...]:
        """What is wrong with a design, a comparison or an order."""
        if kind == "design":
            return self.designs[name].problems
        return (self.comparisons if kind == "comparison" else self.orders)[name]

    def left_out(self, edition: Edition) -> Mapping[str, str]:
        """Titles by id of designs that an edition would not hold if they had no error."""
        if edition != "public":
            return {}
        return {name: one.title for name, one in self.designs.items() if one.state != "keeper"}

    def places(self, edition: Edition) -> Mapping[Named, FaultyPlace]:
        """What has a page that says so; the public is told of nothing."""
        if edition == "public":
            return {}
        return {
            **{("design", n): FaultyPlace(one.title, one.date) for n, one in self.designs.items()},
            **{("comparison", name): FaultyPlace(name, None) for name in self.comparisons},
            **{("order", name): FaultyPlace(name, None) for name in self.orders},
        }


def faulty_sheets(book: Book, faulty: Faulty) -> Iterator[Sheet]:
    """A page for each thing with an error."""
    for (kind, name), here in book.places.faulty.items():
        problems = faulty.problems(kind, name) if book.studio else ()
        yield book.sheet(here, "page.html", partial(_page, book, here, kind, problems))


# What is called what on such a page.
_NOUNS = {"design": "write-up", "comparison": "question", "order": "order"}


def _page(book: Book, here: Place, kind: str, problems: tuple[Problem, ...]) -> Page:
    points = tuple(
        (Span(str(problem.position), "strong"), f": {problem.what}. {problem.mend}")
        for problem in problems
        if not problem.warning
    )
    lead = Said((f"This {_NOUNS[kind]} has a mistake in it. Mend it, and the page comes back.",))
    blocks = (lead, Points(points)) if points else (lead,)
    return Page(
        book.frame(here),
        here.title,
        (Part("wrong", "What is wrong", (Passage(blocks),)),),
        folio=here.folio,
    )
