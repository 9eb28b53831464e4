"""The terms of the printed index, and the pages that mention them.

Materials, symptoms, subjects, years, titles and methods are terms. Single words of the
prose are not: only the search knows those.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from msgspec import Struct
from msgspec.structs import replace

from journal.html.blocks import IndexLetter, IndexTerm, TextRun
from journal.records.models.shelf import KINDS
from journal.records.models.summary import DesignSummary
from journal.views.index.texts import one_line, trims_of
from journal.views.index.words import folded
from journal.views.lists.failed import failures_by_symptom
from journal.views.lists.methods import METHODS
from journal.views.lists.weeks import monday_of
from journal.views.shared.book import Book
from journal.views.shared.places import POTS, Address, href, symptom_places, year_place
from journal.views.shared.summary import failed_anchor
from journal.views.shared.words import capitalised

# A term with a page of its own, which lists every design, names no more of them than these.
MOST_NAMED = 12
# An article, which does not count in the order of terms.
_ARTICLE = re.compile(r"^(the|an?) ")
FIGURES = "0–9"

PageRef = tuple[str, str, str]  # path, anchor, page number


class TermRow(Struct, frozen=True):
    """A term: its ``own`` page, None if it has none, and the ``others`` that mention it.

    ``all_there`` says that its own page lists the others too.
    """

    name: str
    own: PageRef | None = None
    others: tuple[PageRef, ...] = ()
    all_there: bool = False


class _PageRefs(dict[str, list[PageRef]]):
    """The pages that mention each term, in the order in which they were added."""

    def put(self, name: str, place: Address, anchor: str = "") -> None:
        """Add a page to a term, unless the page that was added last is the same."""
        refs = self.setdefault(name, [])
        if not refs or refs[-1][0] != place.path:
            refs.append(_page_ref(place, anchor))

    def rows(self) -> Iterator[TermRow]:
        """A row for each term, without a page of its own."""
        return (TermRow(name, None, tuple(refs)) for name, refs in self.items())


def term_rows(book: Book) -> tuple[TermRow, ...]:
    """All terms of the index, in alphabetical order."""
    families = (
        _thing_terms,
        _symptom_terms,
        _subject_and_trim_terms,
        _year_terms,
        _title_and_method_terms,
    )
    rows = (row for family in families for row in family(book))
    return tuple(sorted(rows, key=lambda row: (sorted_by(row.name), row.name, row.own or ())))


def sorted_by(name: str) -> str:
    """The sort key of a term: lower case, without accents and without a leading article."""
    return _ARTICLE.sub("", folded(name))


def _page_ref(place: Address, anchor: str = "") -> PageRef:
    return place.path, anchor, place.folio


def _designs(book: Book) -> Iterator[tuple[DesignSummary, Address]]:
    for name, place in book.places.designs.items():
        yield book.notebook.summaries[name], place


def _thing_terms(book: Book) -> Iterator[TermRow]:
    """Everything on the shelf, with the designs that use it."""
    for (kind, name), place in book.places.things.items():
        used = book.uses.by_thing.get((kind, name), ())
        others = tuple(_page_ref(book.places.designs[design]) for design in used)
        yield TermRow(
            f"{one_line(place.title)} ({KINDS[kind].noun})", _page_ref(place), others, True
        )


def _symptom_terms(book: Book) -> Iterator[TermRow]:
    """Each symptom with its own page, and the failures in designs that show it."""
    refs = _PageRefs()
    for design, place in _designs(book):
        for number, failure in enumerate(design.failed, start=1):
            refs.put(failure.what, place, failed_anchor(number))
    for symptom, place in symptom_places(failures_by_symptom(book)).items():
        yield TermRow(f"{symptom} (what failed)", _page_ref(place), tuple(refs[symptom]), True)


def _subject_and_trim_terms(book: Book) -> Iterator[TermRow]:
    """Subjects of designs and kinds of trim, with the designs that have them."""
    refs = _PageRefs()
    for design, place in _designs(book):
        for subject in design.subjects:
            refs.put(one_line(subject), place)
        for kind in trims_of(design):
            refs.put(f"{kind} trim", place)
    return refs.rows()


def _year_terms(book: Book) -> Iterator[TermRow]:
    """Each year with its part of the page "By week", and its designs."""
    refs = _PageRefs()
    on_weeks: set[int] = set()
    for design, place in _designs(book):
        on_weeks.update(monday_of(pour.date).year for pour in design.overview.pours)
        for year in sorted({design.date.year, *(pour.date.year for pour in design.overview.pours)}):
            refs.put(str(year), place)
    for row in refs.rows():
        year = int(row.name)
        if year in on_weeks:
            row = replace(row, own=_page_ref(year_place(year, max(on_weeks)), f"y{year}"))
        yield row


def _title_and_method_terms(book: Book) -> Iterator[TermRow]:
    """Titles of designs and questions, and the methods behind the figures."""
    for place in (*book.places.designs.values(), *book.places.compared.values()):
        yield TermRow(one_line(place.title), _page_ref(place))
    how = book.places.fixed("how")
    for method in METHODS:
        yield TermRow(method.name, _page_ref(how, method.anchor))
    yield TermRow(POTS.title, _page_ref(POTS))


def index_letters(here: Address, rows: Iterable[TermRow]) -> tuple[IndexLetter, ...]:
    """Sorted terms grouped by their first letter; those that begin with no letter come as "0–9"."""
    letters: dict[str, list[IndexTerm]] = {}
    for row in rows:
        letters.setdefault(_first_letter(row.name), []).append(_index_term(here, row))
    return tuple(
        IndexLetter(name, "l-figures" if name == FIGURES else f"l-{number}", tuple(terms))
        for number, (name, terms) in enumerate(letters.items(), start=1)
    )


def _first_letter(name: str) -> str:
    """The capital that a term is listed under; ``FIGURES`` for digits and for signs alone."""
    first = next((sign for sign in sorted_by(name) if sign.isalnum()), "")
    return FIGURES if first.isdigit() or not first else first.upper()


def _index_term(here: Address, row: TermRow) -> IndexTerm:
    """A term as it is printed: its own page, then others, at most ``MOST_NAMED`` of many."""
    to = "" if row.own is None else _href_of(here, row.own)
    words: list[TextRun | str] = [] if row.own is None else [TextRun(row.own[2], href=to)]
    others = row.others
    if row.all_there and len(others) > MOST_NAMED:
        words.append(f", {len(others)} designs, the latest ")
        others = others[-MOST_NAMED:]
    elif row.own is not None and others:
        words.append(", in ")
    for number, ref in enumerate(others):
        words += [", "] * bool(number) + [TextRun(ref[2], href=_href_of(here, ref))]
    return IndexTerm(capitalised(row.name), (tuple(words),), to)


def _href_of(here: Address, ref: PageRef) -> str:
    return href(here, Address(ref[0], ""), ref[1])
