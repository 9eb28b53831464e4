"""What failed: symptom by symptom, where it was seen, and what mended it."""

from __future__ import annotations

from functools import partial

from journal.html.blocks import (
    EntryList,
    FailureList,
    FailureView,
    Link,
    ListEntry,
    Page,
    Passage,
    Section,
    SideNote,
    TextRun,
    Words,
)
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Failure
from journal.views.shared.book import Book
from journal.views.shared.places import Address, href, span, symptom_places
from journal.views.shared.sheet import Sheet
from journal.views.shared.summary import by_date
from journal.views.shared.words import capitalised, count_text

# So many designs are named in which a mend has held, the latest of them.
_MOST_HELD = 4


FailuresSeen = list[tuple[DesignSummary, Failure]]


def failed_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "What failed", which lists the symptoms, and a page for each of them."""
    here, found = book.places.fixed("failed"), failures_by_symptom(book)
    places = symptom_places(found)
    return (
        book.sheet(here, "failed.html", partial(failed_page, book, here, found)),
        *(
            book.sheet(place, "failed.html", partial(symptom_page, book, place, name, found[name]))
            for name, place in places.items()
        ),
    )


def failures_by_symptom(book: Book) -> dict[str, FailuresSeen]:
    """Every failure by its symptom, the symptoms in order of the alphabet, the newest first."""
    found: dict[str, FailuresSeen] = {}
    for design in by_date(book):
        for failure in design.failed:
            found.setdefault(failure.what, []).append((design, failure))
    return dict(sorted(found.items()))


def failed_page(book: Book, here: Address, found: dict[str, FailuresSeen]) -> Page:
    """Every symptom: how often it was seen, and what became of it."""
    meant = book.settings.all_symptoms()
    entries = tuple(
        ListEntry(
            Link(place.title, href(here, place), place.page_number),
            (f"{capitalised(meant[name])}.",) if meant.get(name) else (),
            (", ".join((count_text(len(found[name]), "time"), *_outcomes(found[name]))),),
        )
        for name, place in symptom_places(found).items()
    )
    lead: Words = ("Nothing has been written up as failed yet.",)
    if entries:
        lead = ("Symptom by symptom: where it was seen, why, and what mended it.",)
    parts = (Section("symptoms", "Symptoms", (Passage((EntryList(entries),)),)),) if entries else ()
    return Page(
        book.frame(here),
        here.title,
        parts,
        lead=lead,
        folio=here.folio,
        about="Every symptom that was seen, and what mended it.",
    )


def symptom_page(book: Book, here: Address, symptom: str, failures: FailuresSeen) -> Page:
    """All that was seen of one symptom, the newest first."""
    meant = book.settings.all_symptoms().get(symptom)
    shown = tuple(failure_block(book, here, design, failure) for design, failure in failures)
    says: tuple[Words, ...] = tuple(
        (TextRun(text, "mended" if text.endswith("mended") else ""),)
        for text in _outcomes(failures)
    )
    note = SideNote(big=count_text(len(failures), "time"), says=says, kind="Counted")
    every = span(here, book.places.fixed("failed"))
    return Page(
        book.frame(here),
        here.title,
        (Section("seen", "Where it was seen", (Passage((FailureList(shown),), (note,)),)),),
        lead=(f"{capitalised(meant)}.",) if meant else (),
        line=("All symptoms: ", every, "."),
        folio=here.folio,
        about=f"Where {symptom} was seen, and what mended it.",
    )


def _outcomes(failures: FailuresSeen) -> tuple[str, ...]:
    """How many failures were mended, and how many have an untested mend."""
    mended = sum(failure.mended == "yes" for _, failure in failures)
    untested = sum(failure.mended in (None, "untested") for _, failure in failures)
    said = (f"{mended} mended" if mended else "",
            f"{untested} with a mend still to try" if untested else "")  # fmt: skip
    return tuple(filter(None, said))


def failure_block(
    book: Book, here: Address, design: DesignSummary, failure: Failure
) -> FailureView:
    """One failure, with its design and the designs that it has not been seen in since."""
    where: list[TextRun | str] = [span(here, book.places.designs[design.id])]
    if failure.variant is not None:
        where.append(f", {failure.variant}")
    if failure.bar is not None:
        where.append(f", bar {failure.bar}")
    return FailureView(
        what=capitalised(failure.what),
        where=tuple(where),
        saw=(failure.saw,),
        why=failure.why or "",
        mend=failure.mend or "",
        mended=failure.mended or "",
        held=mend_held_in(book, here, design, failure),
    )


def mend_held_in(book: Book, here: Address, design: DesignSummary, failure: Failure) -> Words:
    """The keepers that grew from a design without the symptom since: there its mend has held."""
    if failure.mended != "yes":
        return ()
    held = [
        book.places.designs[name]
        for name in book.uses.led_to.get(design.id, ())
        if name in book.places.designs
        and book.notebook.summaries[name].brief.pours
        and all(other.what != failure.what for other in book.notebook.summaries[name].failed)
    ]
    if not held:
        return ()
    words: list[TextRun | str] = ["Not seen again in "]
    more, held = max(0, len(held) - _MOST_HELD), held[-_MOST_HELD:]
    for number, place in enumerate(held):
        if number:
            words.append(" or " if number == len(held) - 1 and not more else ", ")
        words.append(span(here, place))
    words.append(f", and in {count_text(more, 'design')} before." if more else ".")
    return tuple(words)
