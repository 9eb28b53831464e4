"""A design in lists: its entry, the state of its question, links to its failures."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from msgspec import Struct

from journal.charts.drawing import InkDrawing
from journal.comparison.comparing import VariantComparison
from journal.comparison.sentences import next_look_words
from journal.comparison.verdict import TOLD
from journal.html.blocks import ListEntry, PagePicture, TextRun, Words
from journal.records.models.summary import DesignSummary
from journal.views.shared.bars_seen import IN_LIST
from journal.views.shared.book import Book
from journal.views.shared.moulds import fit_to_sell
from journal.views.shared.photos import SMALL, picture, ready_photo
from journal.views.shared.places import Address, href, link, span
from journal.views.shared.words import capitalised, no_break, short_date

# What a question asks of the variants, by its measure.
_ASKS: Mapping[str, str] = {
    "lip": "which has the narrower lip",
    "bleed": "which bleeds less",
    "run": "which runs less",
    "lifted": "which keeps its detail more often",
    "floated": "which floats less often",
    "bubbles": "which leaves fewer bubbles",
    "relief": "which has the crisper relief",
    "tidy": "which is quicker to tidy",
    "keep": "which gives more bars fit to sell",
    "weight": "which is heavier",
}


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


def thumbnail(
    book: Book, here: Address, design: DesignSummary
) -> tuple[PagePicture | None, InkDrawing | None]:
    """What a line of a list shows of a design: its first photo, else its bar drawn, if either."""
    photo, seen = first_photo(book, here, design), book.seen.get(design.id)
    if photo is not None or seen is None:
        return photo, None
    return None, seen.drawing(f"bar-{design.id}", "", IN_LIST)


def design_entry(book: Book, here: Address, design: DesignSummary) -> ListEntry:
    """A design in a list: title, summary, bars fit to sell, last poured; its pour window."""
    last = design.overview.last_poured
    end = "not poured yet" if last is None else no_break(f"poured {short_date(last)}")
    place = book.places.designs[design.id]
    mark, fit = fit_to_sell(*design.overview.pours)
    picture, drawing = thumbnail(book, here, design)
    return ListEntry(
        title=link(here, place),
        says=(design.summary,) if design.summary else (),
        end=(
            mark,
            f"{fit}, {end} " if fit else f"{end} ",
            TextRun("When to pour", href=href(here, place, "heat")),
        ),
        picture=picture,
        drawing=drawing,
    )


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
    until = question.until.number
    progress_text = no_break(f"{min(poured, until)} of {until} {question.until.of}")
    asks = _ASKS.get(question.by, f"which is better by {question.by}")
    answers_so_far = dict.fromkeys(_open_answer(entry) for entry in deciding)
    says: Words = (f"{capitalised(names)}: {asks}?", *(f" {text}" for text in answers_so_far))
    settled = bool(deciding) and all(
        entry.verdict.code in TOLD and not entry.verdict.so_far for entry in deciding
    )
    return QuestionProgress(design.id, question.asked, says, progress_text, settled)


def _open_answer(finding: VariantComparison) -> str:
    """What the pours say of an open question so far, in a sentence or two."""
    verdict, look = finding.verdict, finding.verdict.next_look
    if verdict.code == "cannot tell":
        reason = verdict.words.partition(": ")[2]
        return f"Can't tell yet: {'only ' if reason.startswith('one ') else ''}{reason}."
    if verdict.code == "too few":
        of = finding.progress.of if finding.progress is not None else finding.trials
        return f"Too soon to say.{f' {next_look_words(look, of)}' if look is not None else ''}"
    if verdict.favours is None:
        return "No difference so far that matters."
    return f"{'Leaning to' if verdict.code == 'leaning' else 'So far'} {verdict.favours}."


def failed_anchor(number: int) -> str:
    """The HTML anchor of the ``number``-th failure on a design's page, from 1."""
    return f"failed-{number}"


def failure_link(book: Book, here: Address, design: DesignSummary, number: int) -> TextRun:
    """A link to a failure on its design's page, showing the design's title."""
    return span(here, book.places.designs[design.id], fragment=failed_anchor(number))
