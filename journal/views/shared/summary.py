"""A design in lists: its entry, the state of its question, links to its failures."""

from __future__ import annotations

from datetime import date

from msgspec import Struct

from journal.html.blocks import ListEntry, PagePicture, TextRun, Words
from journal.records.models.summary import DesignSummary
from journal.views.shared.book import Book
from journal.views.shared.photos import SMALL, picture, ready_photo
from journal.views.shared.places import Address, href, link, span
from journal.views.shared.words import capitalised, count_text, no_break, short_date


class QuestionProgress(Struct, frozen=True):
    """A design's question in words, how far it is ("2 of 6 pours"), whether it is settled."""

    design: str
    asked_on: date
    says: Words
    progress_text: str
    settled: bool


def by_date(book: Book) -> list[DesignSummary]:
    """All designs, the latest first."""
    designs = book.notebook.summaries.values()
    return sorted(designs, key=lambda design: (design.date, design.id), reverse=True)


def first_photo(
    book: Book, here: Address, design: DesignSummary, sizes: str = SMALL
) -> PagePicture | None:
    """The first photo of a design, small by default; None if there is none to show."""
    if not design.photos:
        return None
    photo = design.photos[0]
    ready = ready_photo(book.photos, design.path, photo.file)
    return None if ready is None else picture(here, ready, photo.alt, sizes=sizes)


def design_entry(book: Book, here: Address, design: DesignSummary) -> ListEntry:
    """A design as an entry of a list: title, summary, bars kept, last poured; its pour window."""
    last = design.overview.last_poured
    end = "not poured yet" if last is None else no_break(f"poured {short_date(last)}")
    kept, place = kept_text(design), book.places.designs[design.id]
    return ListEntry(
        title=link(here, place),
        says=(design.summary,) if design.summary else (),
        end=(
            f"{no_break(kept)}, {end} " if kept else f"{end} ",
            TextRun("When to pour", href=href(here, place, "heat")),
        ),
        picture=first_photo(book, here, design),
    )


def kept_text(design: DesignSummary) -> str:
    """The bars kept of those judged, ``5 of 6 bars kept``; "" if none was judged."""
    kept, judged = design.overview.kept_and_judged
    return f"{kept} of {count_text(judged, 'bar')} fit to sell" if judged else ""


def question_progress(book: Book, design: DesignSummary) -> QuestionProgress | None:
    """The question of a design, and how far it is; None for a design without a question."""
    question = design.question
    if question is None:
        return None
    names = " or ".join(design.groups.get(question.compare[0], question.compare))
    results = book.compared.summaries.get(design.id)
    deciding = results.deciding if results is not None else ()
    progress = next((e.progress for e in deciding if e.progress is not None), None)
    poured = progress.poured if progress is not None else 0
    reached = progress is not None and progress.reached
    until = question.until.number
    progress_text = no_break(f"{min(poured, until)} of {until} {question.until.of}")
    says: Words = (f"{capitalised(names)}, by {question.by}?",)
    if deciding:
        says = (*says, *(f" {capitalised(entry.verdict.words)}." for entry in deciding))
    answers = ("better", "differs", "no difference")
    settled = reached and all(entry.verdict.code in answers for entry in deciding)
    return QuestionProgress(design.id, question.asked, says, progress_text, settled)


def failed_anchor(number: int) -> str:
    """The HTML anchor of the ``number``-th failure on a design's page, from 1."""
    return f"failed-{number}"


def failure_link(book: Book, here: Address, design: DesignSummary, number: int) -> TextRun:
    """A link to a failure on its design's page, showing the design's title."""
    return span(here, book.places.designs[design.id], fragment=failed_anchor(number))
