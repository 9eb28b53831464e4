"""The pages of questions asked across designs: a row a design, all designs at the foot."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from functools import partial

from msgspec.structs import replace

from journal.charts.rows import ForestRow, forest_chart
from journal.comparison.across import CrossDesignComparison, CrossDesignRow
from journal.comparison.derive import CrossDesignResults
from journal.comparison.sentences import (
    across_judging_sentences,
    measure_noun,
    numbers_text,
    plain_p,
    plain_verdict,
)
from journal.errors import Position
from journal.figures.shop.cost import labour_cost, round_money
from journal.html import blocks as html
from journal.html.blocks import PageCell, Passage, Section, SideNote, Words, number_cell
from journal.html.markdown import render_prose
from journal.quantities.rounding import decimal_of_twelve_digits
from journal.views.design.variants import (
    amount_text,
    signed_difference,
    titled_confounders,
    value_title,
    verdict_block,
)
from journal.views.shared.book import Book
from journal.views.shared.on_page import PageContext
from journal.views.shared.pagination import paginate, pagination_links, pagination_places
from journal.views.shared.places import Address, Sheet, link, span
from journal.views.shared.prose_links import resolve_link
from journal.views.shared.words import capitalised, count_text, list_text

# What is compared, in words; anything else stands as it was written.
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

# How the chart of a measure is read; the first of a page says it.
_LEGEND = (
    " Each dot is a design, and the rule through it is how far off it may be."
    " Within the shade it is too small to matter."
)


def compared_sheets(book: Book) -> tuple[Sheet, ...]:
    """The pages of each question across designs, and the list of everything compared."""
    here = book.places.fixed("compared")
    summaries = book.compared.summaries
    listed_designs = [name for name, results in summaries.items() if results.pairs]
    sheets = list(_paginated_sheets(book, here, listed_designs, _comparison_list_page))
    for name, place in book.places.compared.items():
        results = book.compared.across[name].results
        named = {row.design for entry in results for row in entry.rows}
        # The answer and the latest designs stand on the first page.
        sheets += _paginated_sheets(book, place, named, partial(_question_page, name=name))
    return tuple(sheets)


def _paginated_sheets(
    book: Book, first: Address, design_ids: Iterable[str], make: Callable[..., html.Page]
) -> Iterator[Sheet]:
    """Yield the pages for a list of designs, the latest design first; ``make`` lays out each."""
    summaries = book.notebook.summaries
    newest = sorted(design_ids, key=lambda name: (summaries[name].date, name), reverse=True)
    pages = paginate(newest)
    places = pagination_places(first, len(pages))
    for place, names in zip(places, pages, strict=True):
        yield book.sheet(place, "compared.html", partial(make, book, place, places, names))


def _comparison_list_page(
    book: Book, here: Address, all_pages: Sequence[Address], design_ids: Sequence[str]
) -> html.Page:
    """A page of the list of comparisons: questions across designs, then design by design.

    Takes:  all_pages   the addresses of all pages of the list; questions stand on the first
            design_ids  the designs on this page
    """
    across = tuple(
        html.ListEntry(
            link(here, place), says=_short_answer(book, here, book.compared.across[name])
        )
        for name, place in (book.places.compared.items() if here == all_pages[0] else ())
    )
    within = tuple(_design_entry(book, here, name) for name in design_ids)
    lists = (("across", "Across designs", across), ("designs", "Design by design", within))
    parts = tuple(
        html.simple_section(anchor, head, html.EntryList(entries))
        for anchor, head, entries in lists
        if entries
    )
    standfirst = "No design has poured two variants yet."
    if parts:
        standfirst = "Which way is better, and how sure that is."
    about = "Variants compared, design by design and across designs."
    return book.page(
        here, parts, about, standfirst=(standfirst,), line=pagination_links(here, all_pages)
    )


def _design_entry(book: Book, here: Address, name: str) -> html.ListEntry:
    """A list entry for a design: its verdict or, without a question, the pairs compared."""
    place, results = book.places.designs[name], book.compared.summaries[name]
    if results.deciding:
        text = plain_verdict(results.deciding[0], amount_text)
    else:
        pairs = list_text([" or ".join(between) for between in results.pairs])
        text = f"{capitalised(pairs)}: poured before you asked anything of them, so a hint only."
    return html.ListEntry(link(here, place, fragment="variants"), (text,))


def _short_answer(book: Book, here: Address, answer: CrossDesignResults) -> Words:
    """The verdict of the first measure, or the reason why there is none."""
    if answer.empty_because:
        return (capitalised(answer.empty_because) + ".",)
    first = _titled(PageContext(book, here), answer.thing, answer.results[0])
    return (plain_verdict(first, amount_text),)


def _titled(
    context: PageContext, thing: str, entry: CrossDesignComparison
) -> CrossDesignComparison:
    """The same comparison of ``thing``, with what is on the shelf by its name there."""
    first, second = (value_title(context, thing.rpartition(".")[2], one) for one in entry.between)
    names = dict(zip(entry.between, (first, second), strict=True))
    favours = entry.verdict.favours
    return replace(
        entry,
        between=(first, second),
        verdict=replace(entry.verdict, favours=None if favours is None else names[favours]),
        confounders=titled_confounders(context, entry.confounders),
        unpaired_confounders=titled_confounders(context, entry.unpaired_confounders),
    )


def _question_page(
    book: Book, here: Address, all_pages: Sequence[Address], design_ids: Sequence[str], name: str
) -> html.Page:
    """A page of one question across designs: measure by measure, a row a design.

    Takes:  all_pages   the addresses of all pages of the question
            design_ids  the designs with a row on this page; the answers are of all designs
            name        the id of the question
    """
    answer = book.compared.across[name]
    comparison = book.notebook.comparisons[name]
    context = PageContext(book, here)
    layer, _, key = answer.thing.removeprefix("layers.").removeprefix("layer.").rpartition(".")
    thing = THINGS.get(answer.thing, f"the {key} of the {layer}" if layer else key)
    before: Words = (
        f"Compared: {thing}, over {count_text(len(answer.designs), 'design')}",
        "".join(
            f"; only with the {key} {value_title(context, key, value)}"
            for key, value in answer.question.record.where
        ),
        ".",
    )
    parts = [
        _measure_part(
            context,
            order,
            _titled(context, answer.thing, entry),
            [row for row in entry.rows if row.design in design_ids],
        )
        for order, entry in enumerate(answer.results)
    ]
    if answer.empty_because:
        why = html.Paragraph((capitalised(answer.empty_because) + ".",))
        parts = [html.simple_section("nothing", "Nothing to compare", why)]
    if comparison.body.strip() and here == all_pages[0]:
        resolve = partial(resolve_link, book, here, "comparisons")
        at = Position(comparison.path, comparison.body_line)
        rendered = render_prose(comparison.body, resolve, lambda _: None, at, "note")
        parts.append(html.simple_section("notes", "Notes", html.Prose(rendered)))
    return book.page(
        here,
        parts,
        f"A question asked across designs: {here.title}.",
        before=before,
        standfirst=_short_answer(book, here, answer),
        line=pagination_links(here, all_pages),
        on_page=tuple(html.Link(part.head, f"#{part.anchor}") for part in parts),
    )


def _measure_part(
    context: PageContext, order: int, entry: CrossDesignComparison, shown: Sequence[CrossDesignRow]
) -> Section:
    """The section of one measure: verdict and chart; folded, the rows ``shown`` and notes.

    ``order`` is the number of the measure on the page, for anchors.
    """
    book, here = context.book, context.here
    # The verdict of the first stands at the head of the page.
    blocks: list[html.Block] = [verdict_block(plain_verdict(entry, amount_text))] if order else []
    cost = _tidying_cost_text(book, entry)
    if cost:
        blocks.append(html.Paragraph((cost,)))
    figure = _forest_figure(book, order, entry, shown)
    if figure is not None:
        blocks.append(figure)
    numbers = numbers_text(entry, amount_text)
    says: list[Words] = [(f"{numbers}.",)] if numbers else []
    says += [
        (capitalised(text),)
        for text in across_judging_sentences(entry, amount_text)
        if " is not counted: " not in text
    ]
    uncounted = [book.places.designs[row.design].title for row in shown if row.difference is None]
    if uncounted:
        says.append(
            (f"Not counted, since only one of the two was poured: {list_text(uncounted)}.",)
        )
    noun = capitalised(measure_noun(entry.by).removeprefix("the "))
    head = noun + (", which decides" if entry.deciding else "")
    note = SideNote("", tuple(says), "Computed", how=context.how("comparison"))
    paired = count_text(sum(row.difference is not None for row in entry.rows), "design")
    fold = f"How sure is that? {paired} with both"
    answer = (Passage(tuple(blocks)),) if blocks else ()
    table = Passage((_rows_table(book, here, entry, shown),), (note,), fold)
    return Section(f"m{order}-{entry.by}", head, (*answer, table))


def _tidying_cost_text(book: Book, entry: CrossDesignComparison) -> str:
    """A sentence on what the difference in tidying costs a bar; "" where it does not apply."""
    rate = book.settings.labour
    if entry.by != "tidy" or rate is None or not entry.difference:
        return ""
    cost = labour_cost(Fraction(decimal_of_twelve_digits(abs(entry.difference))), rate)
    money = book.units.money(round_money(cost, book.settings.currency))
    more, less = entry.between if entry.difference < 0 else entry.between[::-1]
    return f"At the studio's rate {less} saves {money} of tidying a bar over {more}."


def _forest_figure(
    book: Book, order: int, entry: CrossDesignComparison, shown: Sequence[CrossDesignRow]
) -> html.ChartFigure | None:
    """A chart of the designs' differences, with all designs last; None for fewer than two rows."""
    scale, unit = (100.0, "%") if entry.measure.kind == "yes-no" else (1.0, entry.unit)
    rows = []
    all_rows: tuple[CrossDesignRow | CrossDesignComparison, ...] = (*shown, entry)
    for row in all_rows:
        if row.difference is None:
            continue
        title = "all designs"
        if isinstance(row, CrossDesignRow):
            title = book.places.designs[row.design].title
        low, high = (None if end is None else scale * end for end in (row.low, row.high))
        rows.append(ForestRow(title, scale * row.difference, low, high, foot=row is entry))
    if len(rows) < 2 or entry.difference is None:
        return None
    first, second = entry.between
    chart = forest_chart(
        f"forest-{order}",
        f"{capitalised(measure_noun(entry.by))}: {second} less {first}, design by design",
        f"{count_text(len(rows) - 1, 'design')}, each with its difference and 95 % interval where"
        " there is one; the last row is all designs together.",
        rows,
        unit,
        scale * entry.measure.matters,
    )
    caption = f"Right of the line, {second} had more; left of it, {first}." + (
        "" if order else _LEGEND
    )
    return html.ChartFigure(chart, (caption,))


def _rows_table(
    book: Book, here: Address, entry: CrossDesignComparison, shown: Sequence[CrossDesignRow]
) -> html.PageTable:
    """The table of designs: bars measured of each variant, the difference and its interval."""
    rows = []
    paired = [row for row in shown if row.difference is not None]
    for row in paired or shown:
        design = PageCell((span(here, book.places.designs[row.design]),), head=True)
        bars = (number_cell(f"{side.measured} of {side.poured}") for side in row.sides)
        difference, beneath = "–", row.why
        if row.difference is not None:
            difference = signed_difference(row.difference, entry.measure)
        if row.low is not None and row.high is not None:
            ends = (signed_difference(end, entry.measure) for end in (row.low, row.high))
            beneath = " to ".join(ends)
        rows.append((design, *bars, number_cell(difference, beneath)))
    groups = [html.RowGroup(tuple(rows))]
    if entry.difference is not None:
        difference = signed_difference(entry.difference, entry.measure)
        p = "" if entry.p_adjusted is None else plain_p(entry.p_adjusted)
        all_designs = PageCell(("All designs",), head=True)
        foot = (all_designs, number_cell(""), number_cell(""), number_cell(difference, p, "strong"))
        groups.append(html.RowGroup((foot,)))
    names = (*entry.between, "Difference")
    heads = (html.Heading("Design", wide=True), *(html.Heading(name, True) for name in names))
    caption = f"Bars measured, and the difference in {measure_noun(entry.by)}"
    return html.PageTable(caption, heads, tuple(groups), wide=True)
