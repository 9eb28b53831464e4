"""Orders: the list of them, and a page each with its plan, ready to print."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from functools import partial

from journal.figures.day.derive_day import OrderDay
from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.day.sheet import TimedStep
from journal.figures.derive_notebook import OrderPlan
from journal.figures.recipe.derive_leftovers import LEFTOVERS, PotLeft
from journal.figures.shop.derive_shop import COST
from journal.html.blocks import (
    Block,
    BulletList,
    EntryList,
    Heading,
    Link,
    ListEntry,
    Page,
    PageCell,
    PageTable,
    Paragraph,
    Passage,
    RowGroup,
    Section,
    SideNote,
    TextRun,
    Words,
)
from journal.records.models.questions import OrderFile
from journal.records.models.write_up import AS_WRITTEN
from journal.views.order.words import (
    KIND_HEADS,
    OrderItem,
    clock_text,
    cut_text,
    draw_text,
    end_time_text,
    hours_text,
    left_behind_text,
    order_items,
    pieces_text,
    rounds_text,
    steps_by_day,
    wear_texts,
    working_time_text,
)
from journal.views.shared.book import Book
from journal.views.shared.on_design import joined_runs
from journal.views.shared.places import Address, href, link, span
from journal.views.shared.sheet import Sheet
from journal.views.shared.words import BothUnits, capitalised, count_text, list_text, long_date

NOTHING: Words = ("–",)


def orders_list_sheets(book: Book) -> tuple[Sheet, ...]:
    """The list of orders; none in an edition that holds no orders."""
    if book.edition == "public":
        return ()
    here = book.places.fixed("orders")
    return (book.sheet(here, "page.html", partial(orders_page, book, here)),)


def order_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The page of an order."""
    here, order = book.places.orders[name], book.notebook.orders[name]
    make = partial(order_page, book, here, order, book.derived.orders.get(name))
    return (book.sheet(here, "page.html", make),)


def orders_page(book: Book, here: Address) -> Page:
    """All orders by the day they are due."""
    entries = tuple(
        ListEntry(
            link(here, place),
            (_order_summary(book, book.notebook.orders[name]),),
            (f"due {long_date(book.notebook.orders[name].asked.due)}",),
        )
        for name, place in book.places.orders.items()
    )
    lead: Words = ("What is asked for, by the day that it is due.",)
    if not entries:
        lead = ("No order is written. One is a file in orders/, with its designs and bars.",)
    parts = (_part("orders", "Orders", EntryList(entries)),) if entries else ()
    return Page(
        book.frame(here), here.title, parts, lead=lead, folio=here.folio, about="Orders to plan."
    )


def _order_summary(book: Book, order: OrderFile) -> str:
    bars = count_text(sum(line.bars for line in order.asked.designs), "bar")
    titles = [
        book.notebook.summaries[line.design].title
        for line in order.asked.designs
        if line.design in book.notebook.summaries
    ]
    customer = f", for {order.asked.customer}" if book.studio and order.asked.customer else ""
    return f"{bars}{customer}: {list_text(list(dict.fromkeys(titles)))}"


def _faulty_designs(book: Book, here: Address, order: OrderFile) -> Words:
    """The designs of an order that cannot be worked out."""
    wanted = dict.fromkeys(line.design for line in order.asked.designs)
    lacking = [name for name in wanted if name not in book.figures.summaries]
    faulty = ((name, book.places.faulty.get(("design", name))) for name in lacking)
    named: list[Words] = [(name if at is None else span(here, at),) for name, at in faulty]
    return (*joined_runs(named), ".")


def order_page(book: Book, here: Address, order: OrderFile, plan: OrderPlan | None) -> Page:
    """The plan of one order."""
    if plan is None:
        return Page(
            book.frame(here),
            here.title,
            (),
            lead=(
                "It cannot be planned yet. There is a mistake in ",
                *_faulty_designs(book, here, order),
            ),
            folio=here.folio,
        )
    found, day = plan.figures, plan.day
    parts = tuple(_OrderParts(book, here).parts(order, plan))
    lead = [f"{count_text(found.bars, 'bar')}, due {long_date(order.asked.due)}"]
    if book.studio and order.asked.customer:
        lead.append(f"for {order.asked.customer}")
    if day.begin_by is not None:
        lead.append(f"to be begun by {long_date(day.begin_by)}")
    return Page(
        book.frame(here),
        here.title,
        parts,
        lead=(f"{', '.join(lead)}.",),
        on_page=tuple(Link(part.head, f"#{part.anchor}") for part in parts),
        folio=here.folio,
        about=f"The plan of an order of {count_text(found.bars, 'bar')}.",
        marks=tuple(
            (TextRun("Mind: ", "mind"), f"{capitalised(problem.what)}. {problem.hint}")
            for problem in found.problems
        ),
    )


def _part(anchor: str, head: str, *blocks: Block, note: SideNote | None = None) -> Section:
    """A part of one passage, with the note beside it if there is one."""
    return Section(anchor, head, (Passage(blocks, () if note is None else (note,)),))


def _number(value: object) -> PageCell:
    return PageCell((str(value),), number=True)


def _step_row(step: TimedStep) -> tuple[PageCell, ...]:
    said = capitalised(step.step)
    words: Words = (
        (said,) if step.hands else (TextRun(said, "soft"), TextRun(", by itself", "soft"))
    )
    begins = PageCell((clock_text(step.start_min),), number=True, head=True)
    return begins, _number(end_time_text(step)), PageCell(words), PageCell((step.round,))


def _both(both: BothUnits | None, *, strong: bool = False) -> PageCell:
    if both is None:
        return PageCell(NOTHING, number=True)
    words: Words = (TextRun(both.first, "strong"),) if strong else (both.first,)
    return PageCell(words, both.second, number=True)


class _OrderParts:
    """The parts of an order's page, with the links of its notebook."""

    def __init__(self, book: Book, here: Address) -> None:
        self.book = book
        self.here = here
        self.shelf = book.notebook.shelf
        self.units = book.units

    def design(self, line: OrderedLine) -> Words:
        words: Words = (span(self.here, self.book.places.designs[line.design.id]),)
        return words if line.variant.name == AS_WRITTEN else (*words, f", {line.variant.name}")

    def _head(self, line: OrderedLine) -> tuple[PageCell, PageCell]:
        """The first cells of a row: the design and its bars."""
        return PageCell(self.design(line), head=True), _number(line.bars)

    def thing(self, one: OrderItem) -> TextRun:
        place = self.book.places.thing(one.kind, one.item)
        return TextRun(one.name) if place is None else span(self.here, place, one.name)

    def note(self, says: str, method: str, big: str = "", kind: str = "Computed") -> SideNote:
        how = href(self.here, self.book.places.fixed("how"), method)
        return SideNote(big, ((says,),), kind, how=how)

    def parts(self, order: OrderFile, plan: OrderPlan) -> Iterator[Section]:
        """The parts of the page, in order; cost and private words for the studio alone."""
        found = plan.figures
        yield self.make_part(found)
        yield self.take_part(found)
        yield self.buy_part(found)
        yield self.pots_part(found)
        if found.draws:
            yield self.leftovers_part(found)
        yield self.day_part(plan.day)
        if self.book.studio:
            yield self.cost_part(found)
            if order.asked.private:
                yield _part("private", "For the studio alone", Paragraph((order.asked.private,)))

    def make_part(self, found: OrderFigures) -> Section:
        rows = []
        for line in found.lines:
            rounds_and_pieces = rounds_text(line), pieces_text(self.shelf, line)
            rows.append(
                (*self._head(line), *(PageCell((capitalised(t),)) for t in rounds_and_pieces))
            )
        heads = (
            Heading("Design", wide=True),
            Heading("Bars", True),
            Heading("Rounds"),
            Heading("Cast on"),
        )
        table = PageTable(
            "Designs, rounds and pieces", heads, (RowGroup(tuple(rows)),), strong=True
        )
        points = [*(cut_text(self.shelf, one) for one in found.cut), *wear_texts(self.shelf, found)]
        more = (BulletList(tuple((text,) for text in points)),) if points else ()
        rounds = count_text(sum(len(line.rounds) for line in found.lines), "round")
        through = "through the moulds; as many bars at once as there are cavities and pieces."
        note = self.note(through, "order", rounds, "Counted")
        return _part("make", "What to make", table, *more, note=note)

    def take_part(self, found: OrderFigures) -> Section:
        groups = []
        all_taken = tuple(order_items(self.units, self.shelf, found))
        drawn = any(one.drawn is not None for one in all_taken)
        for kind, head in KIND_HEADS.items():
            rows = tuple(self._taken_row(one, drawn) for one in all_taken if one.kind == kind)
            if rows:
                groups.append(RowGroup(rows, (head,)))
        figures = ("Needed", *(("From leftovers",) if drawn else ()), "On hand", "To buy")
        heads = (Heading("", wide=True), *(Heading(name, True) for name in figures))
        blocks: list[Block] = [PageTable("Sums over all designs", heads, tuple(groups), wide=True)]
        if found.by_eye:
            names = list_text([self.shelf.of_kind(kind)[name].name for kind, name in found.by_eye])
            blocks.append(Paragraph((f"{names} by eye: how much is wanted, no dose says.",)))
        sums = "The sums of the designs' cards, each for its own number of bars."
        return _part("take", "What it takes", *blocks, note=self.note(sums, "layer-mass"))

    def _taken_row(self, one: OrderItem, drawn: bool) -> tuple[PageCell, ...]:
        cells = [PageCell((self.thing(one),), head=True), _both(one.needed, strong=True)]
        if drawn:
            cells.append(_both(one.drawn))
        return (*cells, _both(one.on_hand), _both(one.buy, strong=True))

    def buy_part(self, found: OrderFigures) -> Section:
        lines: list[Words] = []
        for one in order_items(self.units, self.shelf, found):
            if one.buy is None and not one.why:
                continue
            words: list[TextRun | str] = [self.thing(one), ": "]
            if one.kind == "leftovers":
                words.append(f"{one.buy} too little is left of it")
            elif one.buy is not None:
                words.append(TextRun(str(one.buy), "strong"))
            if one.why:
                words.append(f" ({one.why})" if one.buy is not None else one.why)
            if one.supplier:
                words.append(f", from {one.supplier}")
            lines.append((*words, "."))
        block: Block = (
            BulletList(tuple(lines)) if lines else Paragraph(("Nothing: all is on hand.",))
        )
        return _part("buy", "What to buy", block)

    def pots_part(self, found: OrderFigures) -> Section:
        groups = []
        for line in found.lines:
            left = {one.pot: one for one in line.figures[LEFTOVERS].value or ()}
            rows = tuple(
                (
                    PageCell((capitalised(pot.name),), head=True),
                    _both(self.units.mass(pot.melt_g), strong=True),
                    PageCell(self._left(left[pot.name])),
                )
                for pot in line.figures.masses.pots
            )
            groups.append(RowGroup(rows, (*self.design(line), f", {count_text(line.bars, 'bar')}")))
        heads = (
            Heading("Pot"),
            Heading("To melt, in all", True),
            Heading("Left behind", wide=True),
        )
        scraped = "What is poured over the relief and scraped back is left behind."
        table = PageTable("To melt, and left behind", heads, tuple(groups))
        note = self.note(scraped, "leftovers")
        return _part("pots", "The pots, and what they leave", table, note=note)

    def _left(self, pot: PotLeft) -> Words:
        return (left_behind_text(self.units, self.shelf, pot),) if pot.left_g > 0 else NOTHING

    def leftovers_part(self, found: OrderFigures) -> Section:
        lines = tuple((draw_text(self.units, self.shelf, found, one),) for one in found.draws)
        lead = Paragraph(("The doses stay as on the cards; what a leftover brings comes on top.",))
        return _part("leftovers", "From the leftovers", lead, BulletList(lines))

    def day_part(self, day: OrderDay) -> Section:
        if day.sheet is None:
            return _part(
                "day", "By the clock", Paragraph((TextRun(f"No day sheet: {day.why}.", "mind"),))
            )
        groups = tuple(
            RowGroup(tuple(map(_step_row, steps)), (f"Day {number}",))
            for number, steps in steps_by_day(day).items()
        )
        times = (Heading("From", True), Heading("To", True))
        heads = (*times, Heading("What", wide=True), Heading("Of", wide=True))
        lead = Paragraph((f"For {hours_text(day.clock)}. What needs no hands is marked.",))
        blocks: list[Block] = [lead, PageTable("Step by step", heads, groups)]
        if day.assumed:
            blocks.append(BulletList(tuple((f"Taken: {text}.",) for text in day.assumed)))
        note = self.note(f"{working_time_text(day)}.", "order", count_text(day.days, "day"))
        return _part("day", "By the clock", *blocks, note=note)

    def cost_part(self, found: OrderFigures) -> Section:
        rows = [
            (*self._head(line), *map(self._money, amounts))
            for line, amounts in zip(found.lines, found.cost.lines, strict=True)
        ]
        sums = map(self._money, (found.cost.cost, found.cost.price))
        rows.append(
            (PageCell((TextRun("In all", "strong"),), head=True), _number(found.bars), *sums)
        )
        heads = (
            Heading("Design", wide=True),
            *(Heading(t, True) for t in ("Bars", "Cost", "Price")),
        )
        blocks: list[Block] = [PageTable("By design, and in all", heads, (RowGroup(tuple(rows)),))]
        for line in found.lines:
            sheet = line.figures[COST].value
            if sheet is not None and sheet.missing:
                names = list_text(list(sheet.missing))
                blocks.append(
                    Paragraph((f"{line.design.title}: the cost of {names} is not known.",))
                )
        note = self.note("At the cards' amounts; leftovers are not taken off.", "cost")
        return _part("cost", "Cost and price", *blocks, note=note)

    def _money(self, amount: Decimal | None) -> PageCell:
        return PageCell(NOTHING if amount is None else (self.units.money(amount),), number=True)
