"""What failed: symptom by symptom, where it was seen, and what mended it."""

from __future__ import annotations

from functools import partial

from journal.pages.book import Book
from journal.pages.parts import (
    Failure,
    Failures,
    Link,
    Note,
    Page,
    Part,
    Passage,
    Said,
    Span,
    Words,
)
from journal.pages.places import Place, span
from journal.pages.sheet import Sheet
from journal.pages.words import counted, sentence
from journal.records.write_up import Design
from journal.records.write_up import Failure as WrittenFailure

# So many designs are named in which a mend has held, the latest of them.
_MOST_HELD = 4


def failed_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "What failed"."""
    here = book.places.fixed("failed")
    return (book.sheet(here, "failed.html", partial(failed_page, book, here)),)


def failures_by_symptom(book: Book) -> dict[str, list[tuple[Design, WrittenFailure]]]:
    """Every failure by its symptom, the symptoms in order of the alphabet, the newest first."""
    found: dict[str, list[tuple[Design, WrittenFailure]]] = {}
    for design in sorted(
        book.notebook.designs.values(), key=lambda design: (design.date, design.id), reverse=True
    ):
        for failure in design.failed:
            found.setdefault(failure.what, []).append((design, failure))
    return dict(sorted(found.items()))


def symptom_anchor(symptom: str) -> str:
    """Where a symptom stands on the page."""
    return "s-" + "".join(letter if letter.isalnum() else "-" for letter in symptom.lower())


def failed_page(book: Book, here: Place) -> Page:
    """Symptoms with all that was seen of each."""
    symptoms = book.settings.all_symptoms()
    found = failures_by_symptom(book)
    parts = []
    for symptom, failures in found.items():
        mended = sum(failure.mended == "yes" for _, failure in failures)
        untested = sum(failure.mended in (None, "untested") for _, failure in failures)
        says: list[Words] = []
        if mended:
            says.append((Span(f"{mended} mended", "mended"),))
        if untested:
            says.append((f"{untested} with a mend still to try",))
        meant = symptoms.get(symptom)
        blocks = [Said((sentence(meant) + ".",), "soft")] if meant else []
        shown = tuple(told_failure(book, here, design, failure) for design, failure in failures)
        parts.append(
            Part(
                symptom_anchor(symptom),
                sentence(symptom),
                (
                    Passage(
                        (*blocks, Failures(shown)),
                        (
                            Note(
                                big=counted(len(failures), "time"), says=tuple(says), kind="Counted"
                            ),
                        ),
                    ),
                ),
            )
        )
    lead: Words = (
        ("Nothing has been written up as failed yet.",)
        if not parts
        else ("Symptom by symptom: where it was seen, why, and what mended it.",)
    )
    on_page = tuple(Link(part.head, f"#{part.anchor}") for part in parts)
    return Page(
        book.frame(here),
        here.title,
        tuple(parts),
        lead=lead,
        on_page=on_page,
        folio=here.folio,
        about="Every symptom that was seen, and what mended it.",
    )


def told_failure(book: Book, here: Place, design: Design, failure: WrittenFailure) -> Failure:
    """One failure, with the design that it was seen in and the designs that grew from it."""
    where: list[Span | str] = [span(here, book.places.designs[design.id])]
    if failure.variant is not None:
        where.append(f", {failure.variant}")
    if failure.bar is not None:
        where.append(f", bar {failure.bar}")
    return Failure(
        what=sentence(failure.what),
        where=tuple(where),
        saw=(failure.saw,),
        why=failure.why or "",
        mend=failure.mend or "",
        mended=failure.mended or "",
        held=held_in(book, here, design, failure),
    )


def held_in(book: Book, here: Place, design: Design, failure: WrittenFailure) -> Words:
    """Where a mend has held since: keepers that grew from the design without the symptom."""
    if failure.mended != "yes":
        return ()
    held = [
        book.places.designs[name]
        for name in book.uses.led_to.get(design.id, ())
        if name in book.places.designs
        and book.notebook.designs[name].brief.pours
        and all(other.what != failure.what for other in book.notebook.designs[name].failed)
    ]
    if not held:
        return ()
    words: list[Span | str] = ["Not seen again in "]
    more, held = max(0, len(held) - _MOST_HELD), held[-_MOST_HELD:]
    for number, place in enumerate(held):
        if number:
            words.append(" or " if number == len(held) - 1 and not more else ", ")
        words.append(span(here, place))
    words.append(f", and in {counted(more, 'design')} before." if more else ".")
    return tuple(words)
