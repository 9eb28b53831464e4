"""The first page: what was poured last, what is kept, what is still open, and the list of all."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import islice

from msgspec.structs import replace

from journal.html.blocks import (
    BulletList,
    CaptionedDrawing,
    DrawingRow,
    EntryList,
    FailureList,
    FailureView,
    ListEntry,
    Page,
    PagePicture,
    Paragraph,
    Section,
    TextRun,
    Words,
    simple_section,
)
from journal.records.models.summary import DesignSummary
from journal.views.shared.bars_seen import ON_PLATE, ColourSource
from journal.views.shared.book import Book
from journal.views.shared.moulds import fit_to_sell, pour_mark
from journal.views.shared.over_limit import over_limit_lines
from journal.views.shared.pagination import paginate, pagination_links, pagination_places
from journal.views.shared.photos import HERO, render_text
from journal.views.shared.places import Address, Sheet, link, span
from journal.views.shared.summary import (
    by_date,
    design_entry,
    failure_link,
    first_photo,
    question_progress,
    thumbnail,
)
from journal.views.shared.words import capitalised, count_text, long_date

# How many of each stand on the first page; all of them stand on pages of their own.
LATEST, KEEPERS, OPEN, TO_TRY = 4, 8, 6, 6
# A plate of more bars than this stands below them.
FIRST_PLATE = 24
# On a plate of more, words alone say how many are fit to sell: the page is to stay small.
MOST_MARKED = 100
_NOTHING = Paragraph(("Nothing is written up yet.",))


def front_sheets(book: Book) -> tuple[Sheet, ...]:
    """The first page, and the pages of the list of all designs, the latest first."""
    front = book.places.fixed("front")
    pages = paginate(by_date(book))
    places = pagination_places(book.places.fixed("designs"), len(pages))
    return (
        book.sheet(front, "front.html", partial(_front_page, book, front)),
        *(
            book.sheet(here, "page.html", partial(_designs_page, book, here, places, designs))
            for here, designs in zip(places, pages, strict=True)
        ),
    )


def _front_page(book: Book, here: Address) -> Page:
    """The first page, with counts of designs, pours and bars in its standfirst."""
    designs = list(book.notebook.summaries.values())
    poured = [pour for design in designs for pour in design.overview.pours]
    bars, pours = sum(pour.bars for pour in poured), len(poured)
    standfirst: Words = ()
    if designs:
        since = min(design.date for design in designs)
        standfirst = (
            f"{count_text(len(designs), 'design')}, {count_text(pours, 'pour')},"
            f" {count_text(bars, 'bar')} since {long_date(since)}.",
        )
    about = f"The soap design notebook of {book.settings.studio}."
    frontispiece = _frontispiece(book, here)
    page = book.page(
        here,
        (*_front_sections(book, here), *faulty_section(book, here)),
        dangers=over_limit_lines(here, book.places.designs, book.over_limit),
        standfirst=standfirst,
        frontispiece=frontispiece,
        about=about,
    )
    return replace(page, title=book.settings.studio)


def _front_sections(book: Book, here: Address) -> Iterator[Section]:
    """Latest pours, open questions, fixes to try and keepers; empty sections are left out."""
    if not book.notebook.summaries:
        yield simple_section("latest", "Latest", _NOTHING)
        return
    plate = _plate(book, here)
    # A plate of a hundred is to be leafed through, not to stand before the day's work.
    if plate is not None and len(book.seen) <= FIRST_PLATE:
        yield plate
    if latest := _latest_pours(book, here):
        yield simple_section("latest", "Latest pours", EntryList(latest))
    if questions := _open_questions(book, here):
        more = span(here, book.places.fixed("compared"), "Every question and its answer")
        blocks = EntryList(questions), Paragraph((more, "."))
        yield simple_section("open", "Still testing", *blocks)
    if to_try := _fixes_to_try(book, here):
        more = span(here, book.places.fixed("failed"), "What failed, and what fixed it")
        yield simple_section("try", "Fixes to try", FailureList(to_try), Paragraph((more, ".")))
    keepers = [design for design in by_date(book) if design.state == "keeper"]
    if keepers:
        entries = EntryList(tuple(design_entry(book, here, design) for design in keepers[:KEEPERS]))
        more = span(here, book.places.fixed("designs"), "All designs")
        yield simple_section("keepers", "Keepers", entries, Paragraph((more, ".")))
    if plate is not None and len(book.seen) > FIRST_PLATE:
        yield plate


def _plate(book: Book, here: Address) -> Section | None:
    """Every bar drawn at one scale, the latest design first; None if none can be drawn."""
    drawn = []
    for number, design in enumerate(by_date(book), start=1):
        seen = book.seen.get(design.id)
        if seen is not None:
            title = span(here, book.places.designs[design.id])
            mark, fit = fit_to_sell(*design.overview.pours)
            marks = (mark,) if len(book.seen) <= MOST_MARKED else ()
            says: Words = (title, " ", *marks, TextRun(fit or "none judged yet", "soft"))
            drawn.append(CaptionedDrawing(seen.drawing(f"plate-{number}", "", ON_PLATE), (), says))
    if not drawn:
        return None
    sources = {source for seen in book.seen.values() for _, source in seen.sources}
    row = DrawingRow(
        tuple(drawn),
        (_plate_words(sources, len(book.notebook.summaries) - len(drawn)),),
        plate=True,
    )
    return simple_section("plate", "Every bar", row)


# What a plate says of its colours, by where they are from: those of a photo come first.
_COLOURS: Mapping[ColourSource, str] = {
    "photo": "as measured in a photo",
    "described": "as the shelf describes them",
}


def _plate_words(sources: Collection[ColourSource], missing: int) -> str:
    """What is under the plate: its scale, where its colours are from, how many bars it lacks."""
    texts = ["All at one scale."]
    if known := [text for one, text in _COLOURS.items() if one in sources]:
        texts.append(f"Colours are {', else '.join(known)}.")
    if "unknown" in sources:
        texts.append("Hatched: the colour is not known.")
    if missing:
        lacks = f"{count_text(missing, 'design')} without a mould whose size is known"
        texts.append(f"Not drawn: {lacks}.")
    return " ".join(texts)


def _latest_pours(book: Book, here: Address) -> tuple[ListEntry, ...]:
    """The designs that were poured last, each with its latest pour."""
    poured = [(last, design) for design in by_date(book) if (last := design.overview.last_poured)]
    poured.sort(key=lambda entry: entry[0], reverse=True)
    entries: list[ListEntry] = []
    for _, design in poured[:LATEST]:
        pour = max(design.overview.pours, key=lambda pour: (pour.date, pour.label))
        facts = [count_text(pour.bars, "bar")]
        if pour.judged:
            facts[0] = f"{pour.kept} of {pour.judged} fit to sell"
        if pour.room_c is not None:
            facts.append(f"room {book.units.temperature(pour.room_c).first}")
        title, shown = link(here, book.places.designs[design.id]), thumbnail(book, here, design)
        mark = pour_mark(book, design, pour)
        says = (mark, f"Pour {pour.label}: {', '.join(facts)}.")
        entries.append(ListEntry(title, says, (long_date(pour.date),), *shown))
    return tuple(entries)


def _frontispiece(book: Book, here: Address) -> PagePicture | None:
    """The photo of the latest keeper with a photo, else of the latest design; None without any."""
    for design in sorted(by_date(book), key=lambda design: design.state != "keeper"):
        photo = first_photo(book, here, design, HERO)
        if photo is not None:
            render = " ".join(filter(None, (".", render_text(photo.alt))))
            words: Words = (span(here, book.places.designs[design.id]), render)
            return replace(photo, caption=words, first=True)
    return None


def _open_questions(book: Book, here: Address) -> tuple[ListEntry, ...]:
    """The questions that are not settled, the last asked first."""
    questions = (question_progress(book, design) for design in by_date(book))
    still_open = [one for one in questions if one is not None and not one.settled]
    still_open.sort(key=lambda question: (question.asked_on, question.design), reverse=True)
    return tuple(
        ListEntry(
            title=link(here, book.places.designs[question.design], fragment="variants"),
            says=question.says,
            end=(f"{question.progress_text} done; asked {long_date(question.asked_on)}",),
        )
        for question in still_open[:OPEN]
    )


def _fixes_to_try(book: Book, here: Address) -> tuple[FailureView, ...]:
    """Failures with a fix that is still untested, those of the latest designs first."""
    untested = (
        FailureView(
            what=capitalised(failure.what),
            where=("in ", failure_link(book, here, design, number)),
            saw=(failure.saw,),
            mend=failure.mend,
            mended="untested",
        )
        for design in by_date(book)
        for number, failure in enumerate(design.failed, start=1)
        if failure.mend and failure.mended in (None, "untested")
    )
    return tuple(islice(untested, TO_TRY))


def parts_by_state(
    designs: Iterable[DesignSummary],
    entry: Callable[[DesignSummary], ListEntry],
    before: Sequence[Words] = (),
) -> Iterator[Section]:
    """A section for each state that ``designs`` are in; ``entry`` makes a design's line.

    The keepers ``before`` them, which are listed on an older page, follow those of ``designs``
    line by line: a maker pours from them and is not to look for their page.
    """
    by_state: dict[str, list[ListEntry]] = {}
    for design in designs:
        by_state.setdefault(design.state, []).append(entry(design))
    for state, head in (("keeper", "Keepers"), ("trial", "Trials"), ("set aside", "Set aside")):
        if entries := by_state.get(state):
            yield simple_section(state.replace(" ", "-"), head, EntryList(tuple(entries)))
        if state == "keeper" and before:
            yield simple_section("keepers-before", "Keepers before", BulletList(tuple(before)))


def faulty_section(book: Book, here: Address) -> Iterator[Section]:
    """A section with the designs that have a mistake, each with a link to what it is; or none."""
    faulty = [(span(here, at),) for at in book.places.faulty_designs]
    if faulty:
        says = Paragraph(("Left out everywhere else until it is put right.",))
        yield simple_section("faulty", "With a mistake", BulletList(tuple(faulty)), says)


def _designs_page(
    book: Book, here: Address, all_pages: Sequence[Address], designs: Sequence[DesignSummary]
) -> Page:
    """A page of the list of designs by state, the latest first.

    The first has every keeper and the designs that cannot be read.

    Takes:  all_pages  the addresses of all pages of the list
            designs    those on this page, the latest first
    """
    first, number = here == all_pages[0], len(book.notebook.summaries)
    before = [
        (span(here, book.places.designs[design.id]),)
        for design in (by_date(book)[len(designs) :] if first else ())
        if design.state == "keeper"
    ]
    parts = [*parts_by_state(designs, partial(design_entry, book, here), before)]
    standfirst: Words = (
        (f"{count_text(number, 'design')}, the latest first in each group.",) if number else ()
    )
    if len(all_pages) > 1:
        first_date, last_date = (long_date(designs[at].date) for at in (-1, 0))
        standfirst = (f"{count_text(len(designs), 'design')} from {first_date} to {last_date}.",)
    more = pagination_links(here, all_pages)
    if not first:
        return book.page(here, parts, standfirst=standfirst, line=more, about="Earlier designs.")
    if more:
        standfirst = (
            f"{count_text(number, 'design')}: the latest {len(designs)}, and every keeper.",
        )
    parts += faulty_section(book, here)
    parts = parts or [simple_section("none", "Designs", _NOTHING)]
    weeks, compared = book.places.fixed("weeks"), book.places.fixed("compared")
    line: Words = (
        *more, *((" ",) if more else ()),
        "By the calendar: ", span(here, weeks, "pours by week"),
        ". Side by side: ", span(here, compared, "what was compared"), ".",
    )  # fmt: skip
    about = "Every design of the notebook."
    dangers = over_limit_lines(here, book.places.designs, book.over_limit)
    return book.page(here, parts, standfirst=standfirst, line=line, about=about, dangers=dangers)
