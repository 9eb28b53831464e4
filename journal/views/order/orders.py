"""Orders: the list of them, and a page each with its plan, ready to print."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from functools import partial

from msgspec.structs import replace

from journal.figures.day.derive_batches import BatchToCome
from journal.figures.day.derive_day import round_names
from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.day.rounds import AFTER_SETTING
from journal.figures.derive_notebook import OrderPlan
from journal.figures.recipe.derive_leftovers import PotLeft
from journal.figures.shop.derive_shop import COST
from journal.html import blocks as html
from journal.html.blocks import PageCell, Passage, Section, SideNote, TextRun, Words, number_cell
from journal.html.card_page import CardWords, plain_text
from journal.records.models.questions import OrderFile
from journal.records.models.shelf import Shelf
from journal.records.models.write_up import variant_words
from journal.views.card.amounts import joined_words
from journal.views.card.card import cautions_of
from journal.views.card.day_chart import chart_of_day, round_keys
from journal.views.card.steps import RoundSteps, page_words
from journal.views.order import words
from journal.views.order.day import PlannedDay, day_step_words, planned_days, rounds_of_plan
from journal.views.shared.book import Book
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue
from journal.views.shared.on_design import joined_runs
from journal.views.shared.on_page import PageContext
from journal.views.shared.paper_places import has_order_bench, order_bench_place
from journal.views.shared.places import TO_BUY, Address, Sheet, link, span
from journal.views.shared.words import (
    BothUnits,
    capitalised,
    clock_text,
    cost_gap_text,
    count_text,
    list_text,
    long_date,
)

NOTHING = "–"


def orders_list_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page that lists all orders, as a tuple of one sheet; empty in the public edition."""
    if book.edition == "public":
        return ()
    here = book.places.fixed("orders")
    return (book.sheet(here, "page.html", partial(orders_page, book, here)),)


def order_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The page of one order, as a tuple of one sheet."""
    here, order = book.places.orders[name], book.notebook.orders[name]
    make = partial(order_page, book, here, order, book.derived.orders.get(name))
    return (book.sheet(here, "order.html", make),)


def orders_page(book: Book, here: Address) -> html.Page:
    """The list of all orders, by the day they are due."""
    entries = []
    for name, place in book.places.orders.items():
        order = book.notebook.orders[name]
        due = f"due {long_date(order.record.due)}"
        if order.record.done is not None:
            due = f"handed over {long_date(order.record.done)}"
        says = (_order_summary(book, order), *_over_in_order(book, order))
        entries.append(html.ListEntry(link(here, place), says, (due,)))
    standfirst: Words = (
        "No order is written yet. Write one as a file in orders/: which designs, and how many"
        " bars.",
    )
    parts: list[Section] = []
    if entries:
        to_buy = span(here, TO_BUY, "to buy for all of them")
        standfirst = ("What has been ordered, the first due first, and what is ", to_buy, ".")
        parts.append(html.simple_section("orders", "Orders", html.EntryList(tuple(entries))))
    return book.page(here, parts, "Orders to plan.", standfirst=standfirst)


def _order_summary(book: Book, order: OrderFile) -> str:
    """A line on an order: bars, customer (in the studio's edition alone), designs."""
    bars = count_text(sum(line.bars for line in order.record.designs), "bar")
    titles = [
        book.notebook.summaries[line.design].title
        for line in order.record.designs
        if line.design in book.notebook.summaries
    ]
    customer = f", for {order.record.customer}" if book.studio and order.record.customer else ""
    ordered = dict.fromkeys(line.design for line in order.record.designs)
    faulty = [at.title for name in ordered if (at := book.places.faulty.get(("design", name)))]
    mistake = f". A mistake in {list_text(faulty)}" if faulty else ""
    return f"{bars}{customer}: {list_text([*dict.fromkeys(titles), *faulty])}{mistake}"


def _over_in_order(book: Book, order: OrderFile) -> Words:
    """A line on the designs of an order that have more oil than a certificate allows, or none."""
    ordered = dict.fromkeys(line.design for line in order.record.designs)
    over = [name for name in ordered if name in book.over_limit]
    titles = list_text([book.notebook.summaries[name].title for name in over])
    return (TextRun(f". Over the limit: {titles}", "mind"),) if over else ()


def _on_a_phone(book: Book, here: Address, order: OrderFile) -> Words:
    """A link to the order's bench page, if there is one."""
    if not has_order_bench(book, order):
        return ()
    return (" Tap it ", span(here, order_bench_place(order), "on a phone"), " as you pour.")


def _faulty_designs(book: Book, here: Address, order: OrderFile) -> Words:
    """The designs of an order that have no figures, linked to the pages of their errors."""
    ordered = dict.fromkeys(line.design for line in order.record.designs)
    lacking = [name for name in ordered if name not in book.figures.summaries]
    faulty = ((name, book.places.faulty.get(("design", name))) for name in lacking)
    named: list[Words] = [(name if at is None else span(here, at),) for name, at in faulty]
    return (*joined_runs(named), ".")


def order_page(book: Book, here: Address, order: OrderFile, plan: OrderPlan | None) -> html.Page:
    """The page with the plan of an order; without a ``plan``, with the designs that have errors.

    A plan may be of some of its designs: the page says which it is without.
    """
    if plan is None:
        mistake = "It cannot be planned yet. There is a mistake in "
        return book.page(here, (), standfirst=(mistake, *_faulty_designs(book, here, order)))
    figures, bars = plan.figures, count_text(plan.figures.wanted, "bar")
    parts = tuple(_parts(_OrderContext(book, here, figures), order, plan))
    standfirst = words.order_text(order.record, plan, studio=book.studio)
    return book.page(
        here,
        parts,
        f"The plan of an order of {bars}.",
        standfirst=(standfirst,),
        on_page=tuple(html.Link(part.head, f"#{part.anchor}") for part in parts if not part.fold),
        marks=tuple(_marks(book, here, order, figures)),
        dangers=_dangers(book, figures),
    )


def _dangers(book: Book, figures: OrderFigures) -> tuple[Words, ...]:
    """What is said first of an order's designs that have more oil than a certificate allows."""
    return tuple((words.over_limit_text(book.notebook.shelf, *over),) for over in figures.over)


def _marks(book: Book, here: Address, order: OrderFile, figures: OrderFigures) -> Iterator[Words]:
    """What is to be minded: the designs that it is planned without, and what its figures found."""
    if len(figures.lines) < len(order.record.designs):
        without = _faulty_designs(book, here, order)
        yield (TextRun("Planned without ", "mind"), *without, " The write-up has a mistake.")
    for problem in figures.problems:
        yield (TextRun("Mind: ", "mind"), f"{capitalised(problem.what)}. {problem.hint}")


def day_page(book: Book, frame: html.PageFrame, plan: OrderPlan, say: PhraseCatalogue) -> html.Page:
    """The days of some designs alone, as those of an order, on a page that stands by itself.

    Takes:  say  the catalogue of the language of its words; the frame's are English
    """
    figures = plan.figures
    context = _OrderContext(book, book.places.fixed("orders"), figures)
    language = "" if say.language == "en" else say.text("code")
    # Notes lead to pages that are not there.
    alone = tuple(
        replace(
            part, passages=tuple(replace(one, notes=()) for one in part.passages),
            language=language,
        )
        for part in day_parts(context, plan, say=say, with_cautions=True)
    )  # fmt: skip
    standfirst = say.text("day.standfirst", bars=say.bars(figures.bars))
    return html.Page(
        frame, day_title(plan, say), alone,
        standfirst=(TextRun(standfirst, language=language),),
        dangers=tuple(
            (TextRun(words.over_limit_text(book.notebook.shelf, *over, say), language=language),)
            for over in figures.over
        ),
    )  # fmt: skip


def day_title(plan: OrderPlan, say: PhraseCatalogue) -> str:
    """The designs of a day sheet, each with its variant."""
    return say.listed(tuple(words.line_text(line, say) for line in plan.figures.lines))


class _OrderContext(PageContext, frozen=True):
    """The page of one order, with the figures of the order."""

    figures: OrderFigures

    @property
    def shelf(self) -> Shelf:
        """The shelf that the order takes from."""
        return self.book.notebook.shelf

    def line_title(self, line: OrderedLine) -> Words:
        """The design of a line, with its variant where it names one."""
        design = self.design_link(line.design.id)
        variant = variant_words(line.variant.name)
        return (design, f", {variant}") if variant else (design,)

    def line_head(self, line: OrderedLine) -> tuple[PageCell, PageCell]:
        """The first two cells of a row: the design and the number of its bars."""
        return PageCell(self.line_title(line), head=True), number_cell(str(line.bars))

    def item_link(self, item: words.OrderItem) -> TextRun:
        """A thing that the order takes, as a link to its page."""
        return self.thing(item.kind, item.item, item.name)

    def note(self, says: str, method: str, big: str = "", kind: str = "Computed") -> SideNote:
        """A side note of one sentence, with a link to the method of its figures."""
        return SideNote(big, ((says,),), kind, how=self.how(method))

    def money_cell(self, amount: Decimal | None) -> PageCell:
        """A cell with an amount of money; a dash for None."""
        return number_cell(NOTHING if amount is None else self.units.money(amount))

    def least_cell(self, amount: Decimal | None, least: Decimal) -> PageCell:
        """A cell with an amount of money; at least so much for None."""
        return number_cell(f"{'at least ' if amount is None else ''}{self.units.money(least)}")


def _both_cell(amount: BothUnits | None, *, strong: bool = False) -> PageCell:
    """A cell with an amount in both systems of units; a dash for None."""
    if amount is None:
        return number_cell(NOTHING)
    first = TextRun(amount.first, "strong") if strong else amount.first
    return PageCell((first,), amount.second, number=True)


def _parts(context: _OrderContext, order: OrderFile, plan: OrderPlan) -> Iterator[Section]:
    """Yield the sections of the page; cost and private notes in the studio's edition alone.

    What to buy, when to begin and the first day stand open, the rest is folded. The days come last:
    on paper they have sheets of their own.
    """
    yield _buy_part(context)
    yield _make_part(context, plan)
    yield _pots_part(context)
    yield _take_part(context)
    if context.figures.draws:
        texts = (
            words.draw_text(context.units, context.shelf, context.figures, one)
            for one in context.figures.draws
        )
        names = dict.fromkeys(
            context.shelf.leftovers[one.leftover].name for one in context.figures.draws
        )
        draws = html.BulletList(tuple((text,) for text in texts))
        standfirst = "The doses stay as on the cards; what a leftover brings comes on top."
        part = html.simple_section(
            "leftovers", "From the leftovers", html.Paragraph((standfirst,)), draws
        )
        yield replace(part, fold=f"Use up: {list_text(list(names))}")
    if context.book.studio:
        yield _cost_part(context)
        if order.record.private:
            private = html.Paragraph((order.record.private,))
            yield html.simple_section("private", "For the studio alone", private)
    yield from day_parts(context, plan, _on_a_phone(context.book, context.here, order))


def _make_part(context: _OrderContext, plan: OrderPlan) -> Section:
    """The section of designs with their rounds and pieces, then pieces to cut and casts."""
    lines = context.figures.lines
    rows = []
    for line in lines:
        texts = (words.rounds_text(line, headed=True), words.pieces_text(context.shelf, line))
        rows.append((*context.line_head(line), *(PageCell((capitalised(text),)) for text in texts)))
    heads = (html.Heading("Design", wide=True), html.Heading("Bars", True),
             html.Heading("Rounds"), html.Heading("Cast on"))  # fmt: skip
    group = html.RowGroup(tuple(rows))
    blocks: list[html.Block] = [
        html.PageTable("Designs, rounds and pieces", heads, (group,), strong=True)
    ]
    points = words.enough_texts(context.figures) + words.limit_texts(plan)
    points += [words.cut_text(context.shelf, one) for one in context.figures.cut]
    points += words.wear_texts(context.shelf, context.figures)
    if points:
        blocks.append(html.BulletList(tuple((text,) for text in points)))
    rounds = count_text(sum(len(line.rounds) for line in lines), "round")
    through = "through the moulds. Each makes as many bars as there are cavities and pieces."
    note = context.note(through, "order", rounds, "Counted")
    return html.simple_section("make", "What to make", *blocks, note=note)


def _take_part(context: _OrderContext) -> Section:
    """The section of materials: each needed, drawn from leftovers, on hand and to buy."""
    items = tuple(words.order_items(context.units, context.shelf, context.figures))
    has_drawn = any(item.drawn is not None for item in items)
    groups = []
    for kind, head in words.KIND_HEADS.items():
        rows = tuple(_item_row(context, item, has_drawn) for item in items if item.kind == kind)
        if rows:
            groups.append(html.RowGroup(rows, (head,)))
    figures = ("Needed", *(("From leftovers",) if has_drawn else ()), "On hand", "To buy")
    heads = (html.Heading("", wide=True), *(html.Heading(name, True) for name in figures))
    caption = "For all designs together"
    blocks: list[html.Block] = [html.PageTable(caption, heads, tuple(groups), wide=True)]
    if context.figures.by_eye:
        names = list_text(
            [context.shelf.of_kind(kind)[name].name for kind, name in context.figures.by_eye]
        )
        blocks.append(html.Paragraph((words.by_eye_text(names, len(context.figures.by_eye)),)))
    note = context.note("What the cards of all designs ask for, added up.", "layer-mass")
    bases = [f"{item.needed.first} {item.name}" for item in items
             if item.kind == "bases" and item.needed is not None]  # fmt: skip
    part = html.simple_section("take", "What it takes", *blocks, note=note)
    return replace(part, fold=f"{', '.join(bases)}; scent, colour and packaging")


def _item_row(
    context: _OrderContext, item: words.OrderItem, has_drawn: bool
) -> tuple[PageCell, ...]:
    """A row for one thing that the order takes; ``has_drawn`` adds the leftovers' column."""
    cells = [PageCell((context.item_link(item),), head=True), _both_cell(item.needed, strong=True)]
    if has_drawn:
        cells.append(_both_cell(item.drawn))
    return (*cells, _both_cell(item.on_hand), _both_cell(item.buy, strong=True))


def _buy_part(context: _OrderContext) -> Section:
    """The section of what to buy: a line a thing, with the reason and the supplier."""
    lines: list[Words] = []
    for item in words.order_items(context.units, context.shelf, context.figures):
        if item.buy is None and not item.why:
            continue
        line: list[TextRun | str] = [context.item_link(item), ": "]
        if item.kind == "leftovers":
            line.append(f"{item.buy} short")
        elif item.buy is not None:
            line.append(TextRun(str(item.buy), "strong"))
        if item.why:
            line.append(f" ({item.why})" if item.buy is not None else item.why)
        if item.supplier:
            line.append(f", from {item.supplier}")
        lines.append((*line, "."))
    block: html.Block = html.Paragraph(("Nothing: all is on hand.",))
    if lines:
        block = html.BulletList(tuple(lines))
    return html.simple_section("buy", "What to buy", block)


def _pots_part(context: _OrderContext) -> Section:
    """The section of pots: how much to melt in each, and what is left over."""
    groups = []
    for line in context.figures.lines:
        rows = []
        pots_left = {pot.pot: pot for pot in line.left}
        for pot in line.total.pots:
            left, left_text = pots_left[pot.name], NOTHING
            if left.left_g > 0:
                left_text = words.left_behind_text(context.units, context.shelf, left)
            name = PageCell((capitalised(pot.name),), head=True)
            melted = _both_cell(words.weighed_text(context.units, pot.melt_g), strong=True)
            rows.append((name, melted, PageCell((left_text,))))
        head = (*context.line_title(line), f", {count_text(line.bars, 'bar')}")
        groups.append(html.RowGroup(tuple(rows), head))
    heads = (html.Heading("Pot"), html.Heading("To melt, in all", True),
             html.Heading("Left over", wide=True))  # fmt: skip
    table = html.PageTable("To melt, and left over", heads, tuple(groups))
    keep = html.Paragraph(("Keep the scrapings: they go into the next round.",))
    note = context.note(
        "Left over: what is scraped back, and what was melted to spare.", "leftovers"
    )
    # Pots with the same left in them go into one jar.
    jars: dict[PotLeft, float] = {}
    for left in (left for line in context.figures.lines for left in line.left if left.left_g > 0):
        what = replace(left, pot="", layers=(), melt_g=0.0, left_g=0.0, lost_g=0.0)
        jars[what] = jars.get(what, 0.0) + left.left_g
    over = [
        words.left_behind_text(context.units, context.shelf, replace(what, left_g=left_g))
        for what, left_g in jars.items()
    ]
    part = html.simple_section("pots", "The pots", table, keep, note=note)
    return replace(part, fold=f"Left over: {list_text(over) or 'nothing'}")


def day_parts(
    context: _OrderContext, plan: OrderPlan, beside: Words = (),
    say: PhraseCatalogue = ENGLISH, *, with_cautions: bool = False,
) -> Iterator[Section]:  # fmt: skip
    """Yield the section on the whole plan, and one a day; or why there is no day sheet.

    ``beside`` ends the first paragraph. With cautions they stand under it, as on a card.
    """
    day, head = plan.day, say.text("day.head")
    if day.sheet is None:
        without = page_words(say.words("day.none", why=TextRun(day.why, language=_english(say))))
        yield html.simple_section("day", head, html.Paragraph(without))
        return
    rounds = rounds_of_plan(context.book.settings, context.shelf, plan, say)
    says: list[CardWords] = [(words.working_time_text(day, say),)]
    says += [joined_words([(" ",), words.assumption_words(one, say)]) for one in day.assumed]
    blocks: list[html.Block] = [html.Paragraph((*page_words(joined_words(says)), *beside))]
    if with_cautions:
        blocks.append(
            html.Cautions(((cautions_of([one.amounts.context for one in rounds], say),),))
        )
    yield html.simple_section("day", head, *blocks)
    names = round_names(
        plan.figures.lines, partial(words.line_text, say=say), say.phrase("round.of")
    )
    named = list(zip(names, rounds, strict=True))
    for planned in planned_days(plan, rounds):
        yield _one_day(context, planned, named, words.batches_begun(plan, planned.steps), say)


def _english(say: PhraseCatalogue) -> str:
    """The code of English, where the words around it are in another language; else ""."""
    return "" if say.language == "en" else ENGLISH.text("code")


def _one_day(
    context: _OrderContext, day: PlannedDay, rounds: Sequence[tuple[str, RoundSteps]],
    begun: Mapping[int, BatchToCome], say: PhraseCatalogue,
) -> Section:  # fmt: skip
    """The section of one day: what is melted, batches and lots, the chart, the steps.

    A day on which nothing runs by itself, such as one of unmoulding, has no chart.
    """
    anchor, head = f"day-{day.number}", say.text("day.number", n=day.number)
    # A day may have nothing but a rest or a chill that began on the one before.
    by_hand = [timed.end_min for timed in day.steps if timed.step.hands]
    until = max(by_hand, default=day.steps[-1].start_min)
    hours = say.text("span", begins=clock_text(day.steps[0].start_min), ends=clock_text(until))
    blocks: list[html.Block] = []
    mark, rest = say.text("day.nothing", hours=hours), CardWords()
    if day.melts:
        melts = words.melts_words(context.units, day.melts, say)
        mark, rest = say.text("day.melts"), joined_words([melts, (".",)])
    charted = not all(timed.step.hands for timed in day.steps)
    keys = round_keys(day.steps) if charted else {}
    rows, lines, last = [], list[html.TimedLine](), -1
    for timed in day.steps:
        of, one = rounds[timed.number]
        begins, ends = clock_text(timed.start_min), words.end_time_text(timed, say)
        by_itself = "" if timed.step.hands else say.text("day.by-itself")
        does = say.text(f"does.{timed.step.kind}")
        (pot,) = say.named(timed.step.pot)
        what = (f"{does} ", pot, by_itself) if timed.step.pot else (f"{does}{by_itself}",)
        rows.append((number_cell(begins), number_cell(ends), PageCell(what), PageCell((of,))))
        step, key = page_words(day_step_words(one, timed)), keys.get(timed.number, "")
        if step and last == timed.number and timed.step.kind in AFTER_SETTING:
            both = joined_words([lines[-1].says, (" ",), step])
            lines[-1] = lines[-1]._replace(says=page_words(both))
        elif step:
            # A single round is named by the chart.
            said_of = of if key or not charted else ""
            lines.append(html.TimedLine(begins, step, said_of, key, timed.step.hands))
        last = timed.number if timed.step.kind in AFTER_SETTING else -1
    if charted:
        from_, to, does, of = (say.text(f"day.column.{one}") for one in range(1, 5))
        heads = (html.Heading(from_, True), html.Heading(to, True), does, of)
        values = html.simple_table(say.text("day.every", day=head), heads, rows, quiet=True)
        chart = chart_of_day(anchor, say.text("day.chart", day=head), day.steps, rounds, say)
        key, shown = say.text("chart.key"), say.text("day.values")
        blocks.append(html.ChartFigure(chart, (key,), values, shown))
    verdict = html.VerdictLine(mark, page_words(rest))
    if begun:
        blocks.insert(0, html.BulletList((_batch_words(context, begun, keys, say),)))
    steps = html.TimedSteps(tuple(lines))
    if day.number > 1:
        part = html.simple_section(anchor, head, verdict, *blocks, steps)
        return replace(part, fold=mark + plain_text(rest))
    fold = f"{say.several(len(lines), 'steps')}, {hours}"
    return Section(anchor, head, (Passage((verdict, *blocks)), Passage((steps,), fold=fold)))


def _batch_words(
    context: _OrderContext, begun: Mapping[int, BatchToCome], keys: Mapping[int, str],
    say: PhraseCatalogue,
) -> Words:  # fmt: skip
    """The codes of the batches of a day, then the open lots, those past their date marked."""
    codes = [f"{keys.get(number, '')} {one.code}".strip() for number, one in begun.items()]
    lots = words.lots_words(context.shelf, begun, say)
    return (f"{words.batches_text(begun, codes, say)} ", *page_words(lots))


def _cost_part(context: _OrderContext) -> Section:
    """The section of cost and price by line and in all, and of what has no known cost."""
    found = context.figures.cost
    rows = [
        (*context.line_head(line), context.least_cell(own, least), context.money_cell(price))
        for line, (own, price), least in zip(
            context.figures.lines, found.lines, found.least, strict=True
        )
    ]
    in_all = PageCell((TextRun("In all", "strong"),), head=True)
    sums = (context.least_cell(found.cost, found.at_least), context.money_cell(found.price))
    rows.append((in_all, number_cell(str(context.figures.bars)), *sums))
    heads = (html.Heading("Design", wide=True), "Bars", "Cost", "Price")
    blocks: list[html.Block] = [html.simple_table("By design, and in all", heads, rows)]
    for line in context.figures.lines:
        sheet = line.figures[COST].value
        if sheet is not None and sheet.missing:
            gaps = "; ".join(cost_gap_text(context.units, gap) for gap in sheet.gaps)
            blocks.append(html.Paragraph((f"{line.design.title}, a bar: without {gaps}.",)))
    if found.wholesale is not None:
        blocks.append(html.Paragraph((f"To shops: {context.units.money(found.wholesale)}.",)))
    note = context.note(
        "For the amounts on the cards. What leftovers save is not taken off.", "cost"
    )
    fold = f"It costs {'at least ' if found.cost is None else ''}"
    fold += context.units.money(found.at_least)
    fold += "" if found.price is None else f"; sells at {context.units.money(found.price)}"
    return replace(html.simple_section("cost", "Cost and price", *blocks, note=note), fold=fold)
