"""The first page: what was poured last, what is kept, what is still open, and the list of all."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from msgspec.structs import replace

from journal.html.blocks import (
    Block,
    BulletList,
    EntryList,
    FailureList,
    FailureView,
    ListEntry,
    Page,
    PagePicture,
    Paragraph,
    Passage,
    Section,
    Words,
)
from journal.views.shared.book import Book
from journal.views.shared.photos import HERO
from journal.views.shared.places import Address, link, span
from journal.views.shared.sheet import Sheet
from journal.views.shared.summary import (
    QuestionProgress,
    by_date,
    entry_of,
    failure_link,
    first_photo,
    question_of,
)
from journal.views.shared.words import capitalised, count_text, long_date

# How many of each stand on the first page; all of them stand on pages of their own.
LATEST, KEEPERS, OPEN, TO_TRY = 4, 8, 6, 6


def front_sheets(book: Book) -> tuple[Sheet, ...]:
    """The first page, and the list of all designs."""
    front, every = book.places.fixed("front"), book.places.fixed("designs")
    return (
        book.sheet(front, "front.html", partial(_front, book, front)),
        book.sheet(every, "page.html", partial(_every, book, every)),
    )


def _front(book: Book, here: Address) -> Page:
    designs = list(book.notebook.summaries.values())
    poured = [pour for design in designs for pour in design.brief.pours]
    bars, pours = sum(pour.bars for pour in poured), len(poured)
    lead: Words = ()
    if designs:
        since = min(design.date for design in designs)
        lead = (
            f"{count_text(len(designs), 'design')}, {count_text(pours, 'pour')},"
            f" {count_text(bars, 'bar')} since {long_date(since)}.",
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


def _parts(book: Book, here: Address) -> Iterator[Section]:
    if not book.notebook.summaries:
        words = Paragraph(("Nothing is written up yet.",))
        yield Section("latest", "Latest", (Passage((words,)),))
        return
    latest = _latest(book, here)
    if latest:
        yield Section("latest", "Latest pours", (Passage((EntryList(latest),)),))
    asked = [found for design in by_date(book) if (found := question_of(book, design)) is not None]
    still_open = sorted(
        (found for found in asked if not found.settled),
        key=lambda found: (found.asked, found.design),
        reverse=True,
    )
    if still_open:
        blocks = _open_questions(book, here, still_open)
        yield Section("open", "Open questions", (Passage(blocks),))
    to_try = _to_try(book, here)
    if to_try:
        more = span(here, book.places.fixed("failed"), "What failed, and what mended it")
        blocks = (FailureList(to_try[:TO_TRY]), Paragraph((more, ".")))
        yield Section("try", "Mends to try", (Passage(blocks),))
    keepers = [design for design in by_date(book) if design.state == "keeper"]
    if keepers:
        entries = tuple(entry_of(book, here, design) for design in keepers[:KEEPERS])
        every = span(here, book.places.fixed("designs"), "All designs")
        yield Section(
            "keepers", "Keepers", (Passage((EntryList(entries), Paragraph((every, ".")))),)
        )


def _latest(book: Book, here: Address) -> tuple[ListEntry, ...]:
    """The latest pours, one for each design."""
    poured = [(last, design) for design in by_date(book) if (last := design.brief.last_poured)]
    poured.sort(key=lambda entry: entry[0], reverse=True)
    entries: list[ListEntry] = []
    for _, design in poured[:LATEST]:
        pour = max(design.brief.pours, key=lambda pour: (pour.date, pour.label))
        said = [f"Pour {pour.label}: {count_text(pour.bars, 'bar')}"]
        if pour.judged:
            said.append(f"{pour.kept} kept")
        if pour.room_c is not None:
            said.append(f"room {book.units.temperature(pour.room_c).first}")
        entries.append(
            ListEntry(
                title=link(here, book.places.designs[design.id]),
                says=(f"{', '.join(said)}.",),
                end=(long_date(pour.date),),
                picture=first_photo(book, here, design),
            )
        )
    return tuple(entries)


def _frontispiece(book: Book, here: Address) -> PagePicture | None:
    """The photo of the latest keeper that has one; else of the latest design that has one."""
    for design in sorted(by_date(book), key=lambda design: design.state != "keeper"):
        shown = first_photo(book, here, design, HERO)
        if shown is not None:
            words: Words = (span(here, book.places.designs[design.id]), ".")
            return replace(shown, caption=words, first=True)
    return None


def _open_questions(book: Book, here: Address, asked: list[QuestionProgress]) -> tuple[Block, ...]:
    entries = tuple(
        ListEntry(
            title=link(here, book.places.designs[found.design], fragment="variants"),
            says=found.says,
            end=(f"{found.far}, asked {long_date(found.asked)}",),
        )
        for found in asked[:OPEN]
    )
    more = span(here, book.places.fixed("compared"), "Every question and its answer")
    return (EntryList(entries), Paragraph((more, ".")))


def _to_try(book: Book, here: Address) -> tuple[FailureView, ...]:
    """Failures with a mend that is still untested, those of the latest designs first."""
    found = []
    for design in by_date(book):
        for number, failure in enumerate(design.failed, start=1):
            if failure.mend and failure.mended in (None, "untested"):
                found.append(
                    FailureView(
                        what=capitalised(failure.what),
                        where=("in ", failure_link(book, here, design, number)),
                        saw=(failure.saw,),
                        mend=failure.mend,
                        mended="untested",
                    )
                )
    return tuple(found)


def _every(book: Book, here: Address) -> Page:
    """Every design by its state, the latest first."""
    parts: list[Section] = []
    for state, head in (("keeper", "Keepers"), ("trial", "Trials"), ("set aside", "Set aside")):
        own = [design for design in by_date(book) if design.state == state]
        if own:
            entries = tuple(entry_of(book, here, design) for design in own)
            anchor = state.replace(" ", "-")
            parts.append(Section(anchor, head, (Passage((EntryList(entries),)),)))
    faulty = [(span(here, at),) for (kind, _), at in book.places.faulty.items() if kind == "design"]
    if faulty:
        points = BulletList(tuple(faulty))
        parts.append(Section("faulty", "With a mistake", (Passage((points,)),)))
    number = len(book.notebook.summaries)
    lead: Words = (f"{count_text(number, 'design')}, the latest of each first.",) if number else ()
    if not parts:
        parts.append(
            Section("none", "Designs", (Passage((Paragraph(("Nothing is written up yet.",)),)),))
        )
    return Page(
        frame=book.frame(here),
        title=here.title,
        parts=tuple(parts),
        lead=lead,
        folio=here.folio,
        about="Every design of the notebook.",
    )
