"""The first page: what was poured last, what is kept, what is still open, and the list of all."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from msgspec.structs import replace

from journal.pages.book import Book
from journal.pages.parts import (
    Block,
    Entries,
    Entry,
    Failure,
    Failures,
    Page,
    Part,
    Passage,
    Picture,
    Points,
    Said,
    Words,
)
from journal.pages.photos import HERO
from journal.pages.places import Place, link, span
from journal.pages.sheet import Sheet
from journal.pages.summary import (
    Asked,
    by_date,
    entry_of,
    failure_href,
    first_photo,
    question_of,
)
from journal.pages.words import counted, said_date, sentence

# How many of each stand on the first page; all of them stand on pages of their own.
LATEST, KEEPERS, OPEN, TO_TRY = 4, 8, 6, 6


def front_sheets(book: Book) -> tuple[Sheet, ...]:
    """The first page, and the list of all designs."""
    front, every = book.places.fixed("front"), book.places.fixed("designs")
    return (
        book.sheet(front, "front.html", partial(_front, book, front)),
        book.sheet(every, "page.html", partial(_every, book, every)),
    )


def _front(book: Book, here: Place) -> Page:
    designs = list(book.notebook.summaries.values())
    poured = [pour for design in designs for pour in design.brief.pours]
    bars, pours = sum(pour.bars for pour in poured), len(poured)
    lead: Words = ()
    if designs:
        since = min(design.date for design in designs)
        lead = (
            f"{counted(len(designs), 'design')}, {counted(pours, 'pour')},"
            f" {counted(bars, 'bar')} since {said_date(since)}.",
        )
    return Page(
        frame=book.frame(here),
        title=book.settings.studio,
        parts=tuple(_parts(book, here)),
        lead=lead,
        hero=_frontispiece(book, here),
        folio=here.folio,
        about=f"The soap design notebook of {book.settings.studio}.",
    )


def _parts(book: Book, here: Place) -> Iterator[Part]:
    if not book.notebook.summaries:
        words = Said(("Nothing is written up yet.",))
        yield Part("latest", "Latest", (Passage((words,)),))
        return
    latest = _latest(book, here)
    if latest:
        yield Part("latest", "Latest pours", (Passage((Entries(latest),)),))
    asked = [found for design in by_date(book) if (found := question_of(book, design)) is not None]
    still_open = sorted(
        (found for found in asked if not found.settled),
        key=lambda found: (found.asked, found.design),
        reverse=True,
    )
    if still_open:
        blocks = _open_questions(book, here, still_open)
        yield Part("open", "Open questions", (Passage(blocks),))
    to_try = _to_try(book, here)
    if to_try:
        more = span(here, book.places.fixed("failed"), "What failed, and what mended it")
        blocks = (Failures(to_try[:TO_TRY]), Said((more, ".")))
        yield Part("try", "Mends to try", (Passage(blocks),))
    keepers = [design for design in by_date(book) if design.state == "keeper"]
    if keepers:
        entries = tuple(entry_of(book, here, design) for design in keepers[:KEEPERS])
        every = span(here, book.places.fixed("designs"), "All designs")
        yield Part("keepers", "Keepers", (Passage((Entries(entries), Said((every, ".")))),))


def _latest(book: Book, here: Place) -> tuple[Entry, ...]:
    """The latest pours, one for each design."""
    poured = [(last, design) for design in by_date(book) if (last := design.brief.last_poured)]
    poured.sort(key=lambda entry: entry[0], reverse=True)
    entries: list[Entry] = []
    for _, design in poured[:LATEST]:
        pour = max(design.brief.pours, key=lambda pour: (pour.date, pour.label))
        said = [f"Pour {pour.label}: {counted(pour.bars, 'bar')}"]
        if pour.judged:
            said.append(f"{pour.kept} kept")
        if pour.room_c is not None:
            said.append(f"room {book.units.temperature(pour.room_c).first}")
        entries.append(
            Entry(
                title=link(here, book.places.designs[design.id]),
                says=(f"{', '.join(said)}.",),
                end=(said_date(pour.date),),
                picture=first_photo(book, here, design),
            )
        )
    return tuple(entries)


def _frontispiece(book: Book, here: Place) -> Picture | None:
    """The photo of the latest keeper that has one; else of the latest design that has one."""
    for design in sorted(by_date(book), key=lambda design: design.state != "keeper"):
        shown = first_photo(book, here, design, HERO)
        if shown is not None:
            words: Words = (span(here, book.places.designs[design.id]), ".")
            return replace(shown, caption=words, first=True)
    return None


def _open_questions(book: Book, here: Place, asked: list[Asked]) -> tuple[Block, ...]:
    entries = tuple(
        Entry(
            title=link(here, book.places.designs[found.design], fragment="variants"),
            says=found.says,
            end=(f"{found.far}, asked {said_date(found.asked)}",),
        )
        for found in asked[:OPEN]
    )
    more = span(here, book.places.fixed("compared"), "Every question and its answer")
    return (Entries(entries), Said((more, ".")))


def _to_try(book: Book, here: Place) -> tuple[Failure, ...]:
    """Failures with a mend that is still untested, those of the latest designs first."""
    found = []
    for design in by_date(book):
        for number, failure in enumerate(design.failed, start=1):
            if failure.mend and failure.mended in (None, "untested"):
                found.append(
                    Failure(
                        what=sentence(failure.what),
                        where=("in ", failure_href(book, here, design, number)),
                        saw=(failure.saw,),
                        mend=failure.mend,
                        mended="untested",
                    )
                )
    return tuple(found)


def _every(book: Book, here: Place) -> Page:
    """Every design by its state, the latest first."""
    parts: list[Part] = []
    for state, head in (("keeper", "Keepers"), ("trial", "Trials"), ("set aside", "Set aside")):
        own = [design for design in by_date(book) if design.state == state]
        if own:
            entries = tuple(entry_of(book, here, design) for design in own)
            anchor = state.replace(" ", "-")
            parts.append(Part(anchor, head, (Passage((Entries(entries),)),)))
    faulty = [(span(here, at),) for (kind, _), at in book.places.faulty.items() if kind == "design"]
    if faulty:
        points = Points(tuple(faulty))
        parts.append(Part("faulty", "With a mistake", (Passage((points,)),)))
    number = len(book.notebook.summaries)
    lead: Words = (f"{counted(number, 'design')}, the latest of each first.",) if number else ()
    if not parts:
        parts.append(Part("none", "Designs", (Passage((Said(("Nothing is written up yet.",)),)),)))
    return Page(
        frame=book.frame(here),
        title=here.title,
        parts=tuple(parts),
        lead=lead,
        folio=here.folio,
        about="Every design of the notebook.",
    )
