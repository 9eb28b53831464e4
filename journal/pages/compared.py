"""Questions asked across designs: a row a design, a summary at the foot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import partial

from journal.comparison.across import Across
from journal.comparison.across import Row as AcrossRow
from journal.comparison.derive import AcrossResults, ResultsSummary
from journal.comparison.sentences import across_sentences, verdict_sentence
from journal.figures.cost import as_money, labour_cost
from journal.pages.book import Book
from journal.pages.design_variant_table import signed
from journal.pages.design_variants import say_amount
from journal.pages.leading import lead_from
from journal.pages.leaves import newer_and_older, over_pages, page_places
from journal.pages.markdown import prose
from journal.pages.parts import (
    Block,
    Cell,
    Entries,
    Entry,
    Figure,
    Head,
    Link,
    Note,
    Page,
    Part,
    Passage,
    Prose,
    Rows,
    Said,
    Span,
    Table,
    Verdict,
    Words,
)
from journal.pages.places import Place, href, link, span
from journal.pages.row_charts import ForestRow, forest_chart
from journal.pages.sheet import Sheet
from journal.pages.words import counted, listed, sentence
from journal.quantities.rounding import twelve_digits
from journal.quantities.show import show_number

# What is compared, in words; anything else is said as it was written.
THINGS = {
    "trim": "the trim of the mat piece",
    "colourant": "the colourant",
    "additive": "the additive",
    "fragrance": "the fragrance",
    "base": "the base of the body",
    "mat": "the mat",
    "mould": "the mould",
    "piece": "the piece",
}

P_STEP = Decimal("0.001")


def compared_sheets(book: Book) -> tuple[Sheet, ...]:
    """A page a question across designs, and the list of everything that is compared."""
    here = book.places.fixed("compared")
    pages = over_pages([one for one in _newest_first(book) if one[1].pairs])
    places = page_places(here, len(pages))
    return (
        *(
            book.sheet(place, "compared.html", partial(compared_list, book, place, places, rows))
            for place, rows in zip(places, pages, strict=True)
        ),
        *(
            sheet
            for name, place in book.places.compared.items()
            for sheet in _across_sheets(book, place, name)
        ),
    )


def _across_sheets(book: Book, first: Place, name: str) -> Iterator[Sheet]:
    """The pages of a question across designs: its answer, and the latest designs, on the first."""
    designs = book.notebook.summaries
    results = book.compared.across[name].results
    named = {row.design for entry in results for row in entry.rows}
    newest = sorted(named, key=lambda one: (designs[one].date, one), reverse=True)
    pages = over_pages(newest)
    places = page_places(first, len(pages))
    for place, rows in zip(places, pages, strict=True):
        make = partial(across_page, book, place, name, places, frozenset(rows))
        yield book.sheet(place, "compared.html", make)


def compared_list(
    book: Book, here: Place, places: Sequence[Place], rows: Sequence[tuple[str, ResultsSummary]]
) -> Page:
    """Every question: across designs, on the first page, and of designs that asked one.

    Takes:  places  of all pages of the list, the latest first
            rows    the designs on this one
    """
    first = here == places[0]
    across = tuple(
        Entry(link(here, place), says=_short_answer(book.compared.across[name]))
        for name, place in (book.places.compared.items() if first else ())
    )
    asked = tuple(_design_entry(book, here, name, results) for name, results in rows)
    parts = []
    if across:
        parts.append(Part("across", "Across designs", (Passage((Entries(across),)),)))
    if asked:
        parts.append(Part("designs", "Design by design", (Passage((Entries(asked),)),)))
    return Page(
        book.frame(here),
        here.title,
        tuple(parts),
        lead=(
            "Variants held against each other, with how sure that is."
            if parts
            else "No design has poured two variants yet.",
        ),
        line=newer_and_older(here, places),
        folio=here.folio,
        about="Variants compared, design by design and across designs.",
    )


def _newest_first(book: Book) -> list[tuple[str, ResultsSummary]]:
    designs, results = book.notebook.summaries, book.compared.summaries
    names = sorted(results, key=lambda n: (designs[n].date, n), reverse=True)
    return [(name, results[name]) for name in names]


def _design_entry(book: Book, here: Place, name: str, results: ResultsSummary) -> Entry:
    place = book.places.designs[name]
    pairs = listed([" against ".join(between) for between in results.pairs])
    says = (
        sentence(verdict_sentence(results.deciding[0], say_amount))
        if results.deciding
        else f"{sentence(pairs)}: a look, no question was asked."
    )
    return Entry(Link(place.title, href(here, place, "variants"), place.page_number), (says,))


def _short_answer(found: AcrossResults) -> Words:
    if found.why:
        return (sentence(found.why) + ".",)
    return (across_sentences(found.results[0], say_amount)[0],)


def across_page(
    book: Book, here: Place, name: str, places: Sequence[Place], designs: frozenset[str]
) -> Page:
    """One question across designs: measure by measure, a row a design.

    Takes:  places   of all pages of the question
            designs  those that have a row on this one; the answers are of all
    """
    found = book.compared.across[name]
    comparison = book.notebook.comparisons[name]
    asked = found.asked.asked
    thing = THINGS.get(found.thing, found.thing.replace(".", " "))
    before: Words = (
        f"Compared by {thing}, over {counted(len(found.designs), 'design')}",
        "".join(f"; only {key} {value}" for key, value in asked.where),
        ".",
    )
    parts = [
        _measure_part(book, here, number, entry, [r for r in entry.rows if r.design in designs])
        for number, entry in enumerate(found.results)
    ]
    if found.why:
        why = Said((sentence(found.why) + ".",))
        parts = [Part("nothing", "Nothing to compare", (Passage((why,)),))]
    if comparison.body.strip() and here == places[0]:
        html = prose(
            comparison.body,
            lambda to: lead_from(book, here, "comparisons", to),
            lambda _: None,
            "note",
        )
        parts.append(Part("notes", "Notes", (Passage((Prose(html),)),)))
    return Page(
        book.frame(here),
        here.title,
        tuple(parts),
        before=before,
        lead=_short_answer(found),
        line=newer_and_older(here, places),
        on_page=tuple(Link(part.head, f"#{part.anchor}") for part in parts),
        folio=here.folio,
        about=f"A question asked across designs: {here.title}.",
    )


def _measure_part(
    book: Book, here: Place, number: int, entry: Across, shown: Sequence[AcrossRow]
) -> Part:
    first, *rest = across_sentences(entry, say_amount)
    mark, _, tail = first.partition(": ")
    blocks: list[Block] = [Verdict(mark, (f": {tail}",) if tail else ())]
    figure = _forest(book, number, entry, shown)
    if figure is not None:
        blocks.append(figure)
    blocks.append(_rows_table(book, here, entry, shown))
    head = sentence(entry.by) + (", which decides" if entry.deciding else "")
    how = href(here, book.places.fixed("how"), "comparison")
    says: list[Words] = [(sentence(text),) for text in rest if " is not counted: " not in text]
    alone = [book.places.designs[row.design].title for row in shown if row.difference is None]
    if alone:
        says.append((f"Not counted, for want of one of the two: {listed(alone)}.",))
    cost = _tidying_cost(book, entry)
    if cost:
        says.insert(0, (Span(cost, "strong"),))
    note = Note("", tuple(says), "Computed", how=how)
    anchor = f"m{number}-{entry.by}"
    return Part(anchor, head, (Passage(tuple(blocks), (note,)),))


def _tidying_cost(book: Book, entry: Across) -> str:
    """What the difference in tidying costs a bar at the studio's rate; "" where it is not said."""
    rate = book.settings.labour
    if entry.by != "tidy" or rate is None or not entry.difference:
        return ""
    money = as_money(labour_cost(Fraction(twelve_digits(abs(entry.difference))), rate))
    more, less = entry.between if entry.difference < 0 else entry.between[::-1]
    return (
        f"At the studio's rate {less} saves {book.units.money(money)} of tidying a bar over {more}."
    )


def _forest(book: Book, number: int, entry: Across, shown: Sequence[AcrossRow]) -> Figure | None:
    scale = 100.0 if entry.measure.kind == "yes-no" else 1.0
    unit = "%" if entry.measure.kind == "yes-no" else entry.unit
    rows = [
        ForestRow(
            book.places.designs[row.design].title,
            scale * row.difference,
            None if row.low is None else scale * row.low,
            None if row.high is None else scale * row.high,
        )
        for row in shown
        if row.difference is not None
    ]
    if not rows or entry.difference is None:
        return None
    low, high = entry.low, entry.high
    rows.append(
        ForestRow(
            "all designs",
            scale * entry.difference,
            None if low is None else scale * low,
            None if high is None else scale * high,
            foot=True,
        )
    )
    first, second = entry.between
    chart = forest_chart(
        f"forest-{number}",
        f"{sentence(entry.by)}: {second} less {first}, design by design",
        f"{len(rows) - 1} designs, each with its difference and 95 % interval where there is one;"
        " the last row is all designs together.",
        rows,
        unit,
        scale * entry.measure.matters,
    )
    caption = (
        f"{sentence(second)} less {first}. A dot a design with its 95 % interval; the shaded"
        " stretch is not worth the name."
    )
    return Figure(chart, (caption,))


def _rows_table(book: Book, here: Place, entry: Across, shown: Sequence[AcrossRow]) -> Table:
    first, second = entry.between
    rows = []
    paired = [row for row in shown if row.difference is not None]
    for row in paired or shown:
        words = "–" if row.difference is None else signed(row.difference, entry.measure)
        beneath = row.why
        if row.low is not None and row.high is not None:
            low, high = signed(row.low, entry.measure), signed(row.high, entry.measure)
            beneath = f"{low} to {high}"
        rows.append(
            (
                Cell((span(here, book.places.designs[row.design]),), head=True),
                *(Cell((f"{side.measured} of {side.poured}",), number=True) for side in row.sides),
                Cell((words,), beneath, number=True),
            )
        )
    foot: tuple[Rows, ...] = ()
    if entry.difference is not None:
        words = signed(entry.difference, entry.measure)
        p = "" if entry.p_adjusted is None else f"p = {show_number(entry.p_adjusted, P_STEP)}"
        foot = (
            Rows(
                (
                    (
                        Cell(("All designs",), head=True),
                        Cell((), number=True),
                        Cell((), number=True),
                        Cell((words,), p, number=True, tone="strong"),
                    ),
                )
            ),
        )
    return Table(
        f"Bars measured, and the difference in {entry.by}",
        (
            Head("Design", wide=True),
            Head(first, True),
            Head(second, True),
            Head("Difference", True),
        ),
        (Rows(tuple(rows)), *foot),
        wide=True,
    )
