"""What failed: symptom by symptom, where it was seen, and what fixed it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from journal.charts.symptoms import symptom_drawing
from journal.html import blocks as html
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Failure, variant_words
from journal.views.lists.conditions import conditions_section
from journal.views.shared.book import Book
from journal.views.shared.places import Address, Sheet, href, span, symptom_places
from journal.views.shared.summary import by_date
from journal.views.shared.words import capitalised, count_text, no_break

# The most designs, the latest, that are named as free of the symptom since its fix.
_MOST_FREE = 4

DesignFailures = list[tuple[DesignSummary, Failure]]


def failed_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "What failed", which lists all symptoms, and a page for each symptom."""
    here, failures = book.places.fixed("failed"), failures_by_symptom(book)
    symptoms = (
        (place, partial(symptom_page, book, place, name, failures[name]))
        for name, place in symptom_places(failures).items()
    )
    pages = ((here, partial(failed_page, book, here, failures)), *symptoms)
    return tuple(book.sheet(place, "failed.html", page) for place, page in pages)


def failures_by_symptom(book: Book) -> dict[str, DesignFailures]:
    """The failures of each symptom, newest first; the symptoms in alphabetical order."""
    by_symptom: dict[str, DesignFailures] = {}
    for design in by_date(book):
        for failure in design.failed:
            by_symptom.setdefault(failure.what, []).append((design, failure))
    return dict(sorted(by_symptom.items()))


def failed_page(book: Book, here: Address, failures: dict[str, DesignFailures]) -> html.Page:
    """The page "What failed": each symptom with its meaning, its count and its outcomes."""
    meanings = book.settings.all_symptoms()
    entries = []
    for name, place in symptom_places(failures).items():
        title = html.Link(place.title, href(here, place), place.folio)
        says = (f"{capitalised(meanings[name])}.",) if meanings.get(name) else ()
        outcomes = [text for text, _ in _outcomes(failures[name])]
        count = f"Seen {count_text(len(failures[name]), 'time')}"
        end = (": ".join(filter(None, [count, ", ".join(outcomes)])),)
        entries.append(html.ListEntry(title, says, end, drawing=symptom_drawing(name)))
    standfirst: html.Words = ("Nothing has been written up as failed yet.",)
    if entries:
        standfirst = ("Open a symptom to see where it was seen, and why.",)
    parts = (
        [html.simple_section("symptoms", "Symptoms", html.EntryList(tuple(entries)))]
        if entries
        else []
    )
    about = "Every symptom that was seen, and what fixed it."
    return book.page(here, parts, standfirst=standfirst, about=about)


def symptom_page(book: Book, here: Address, symptom: str, failures: DesignFailures) -> html.Page:
    """The page of one symptom: every failure with that symptom, newest first."""
    meaning = book.settings.all_symptoms().get(symptom)
    views = tuple(failure_view(book, here, design, failure) for design, failure in failures)
    says = tuple((html.TextRun(text, tone),) for text, tone in _outcomes(failures))
    went_with = conditions_section(book, here, symptom, [failure for _, failure in failures])
    note = html.SideNote(big=f"Seen {count_text(len(failures), 'time')}", says=says, kind="Counted")
    seen = html.simple_section("seen", "Where it was seen", html.FailureList(views), note=note)
    return book.page(
        here,
        (seen, went_with) if went_with is not None else (seen,),
        standfirst=(f"{capitalised(meaning)}.",) if meaning else (),
        line=("Every symptom is on the page ", span(here, book.places.fixed("failed")), "."),
        about=f"Where {symptom} was seen, and what fixed it.",
    )


def _outcomes(failures: DesignFailures) -> Iterator[tuple[str, html.Tone]]:
    """Counts of mended failures and of untested fixes, as (text, tone); zero is left out."""
    if mended := sum(failure.mended == "yes" for _, failure in failures):
        yield f"{mended} fixed", "mended"
    if untested := sum(_has_fix_to_try(failure) for _, failure in failures):
        yield no_break(f"{untested} with a fix to try"), ""


def _has_fix_to_try(failure: Failure) -> bool:
    return bool(failure.mend) and failure.mended in (None, "untested")


def failure_view(
    book: Book, here: Address, design: DesignSummary, failure: Failure
) -> html.FailureView:
    """One failure with its place, cause and fix, and the later designs that are free of it."""
    where: list[html.TextRun | str] = [span(here, book.places.designs[design.id])]
    if failure.variant is not None:
        where.append(f", {variant_words(failure.variant)}")
    if failure.bar is not None:
        where.append(f", bar {failure.bar}")
    return html.FailureView(
        what=capitalised(failure.what),
        where=tuple(where),
        saw=(failure.saw,),
        why=failure.why or "",
        mend=failure.mend or "",
        mended=failure.mended or "",
        held=_free_since(book, here, design, failure),
        drawing=symptom_drawing(failure.what),
    )


def _free_since(book: Book, here: Address, design: DesignSummary, failure: Failure) -> html.Words:
    """A sentence that names poured descendants of the design without this symptom.

    Empty if the failure is not mended, or if there are none; at most ``_MOST_FREE`` are named.
    """
    if failure.mended != "yes":
        return ()
    free = [
        book.places.designs[name]
        for name in book.uses.descendants.get(design.id, ())
        if name in book.places.designs
        and book.notebook.summaries[name].overview.pours
        and all(other.what != failure.what for other in book.notebook.summaries[name].failed)
    ]
    if not free:
        return ()
    words: list[html.TextRun | str] = ["It did not come back in "]
    more, free = max(0, len(free) - _MOST_FREE), free[-_MOST_FREE:]
    for number, place in enumerate(free):
        if number:
            words.append(" or " if number == len(free) - 1 and not more else ", ")
        words.append(span(here, place))
    return (*words, f", and in {count_text(more, 'design')} before." if more else ".")
