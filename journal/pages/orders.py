"""Orders: the list of them, and a page each with its plan, ready to print."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from functools import partial

from journal.figures.day_sheet import Timed
from journal.figures.derive_day import OrderDay
from journal.figures.derive_leftovers import LEFTOVERS, PotLeft
from journal.figures.derive_notebook import OrderPlan
from journal.figures.derive_order import OrderedLine, OrderFigures
from journal.figures.derive_shop import COST
from journal.pages.book import Book
from journal.pages.on_design import joined
from journal.pages.order_words import (
    KINDS_SAID,
    Taken,
    clock_said,
    cut_said,
    draw_said,
    hours_said,
    left_said,
    pieces_said,
    rounds_said,
    steps_by_day,
    taken,
    time_said,
    until_said,
    wear_said,
)
from journal.pages.parts import (
    Block,
    Cell,
    Entries,
    Entry,
    Head,
    Link,
    Note,
    Page,
    Part,
    Passage,
    Points,
    Rows,
    Said,
    Span,
    Table,
    Words,
)
from journal.pages.places import Place, href, link, span
from journal.pages.sheet import Sheet
from journal.pages.words import Both, counted, listed, said_date, sentence
from journal.records.asked import Order
from journal.records.write_up import AS_WRITTEN

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


def orders_page(book: Book, here: Place) -> Page:
    """All orders by the day they are due."""
    entries = tuple(
        Entry(
            link(here, place),
            (_order_summary(book, book.notebook.orders[name]),),
            (f"due {said_date(book.notebook.orders[name].asked.due)}",),
        )
        for name, place in book.places.orders.items()
    )
    lead: Words = ("What is asked for, by the day that it is due.",)
    if not entries:
        lead = ("No order is written. One is a file in orders/, with its designs and bars.",)
    parts = (_part("orders", "Orders", Entries(entries)),) if entries else ()
    return Page(
        book.frame(here), here.title, parts, lead=lead, folio=here.folio, about="Orders to plan."
    )


def _order_summary(book: Book, order: Order) -> str:
    bars = counted(sum(line.bars for line in order.asked.designs), "bar")
    titles = [
        book.notebook.summaries[line.design].title
        for line in order.asked.designs
        if line.design in book.notebook.summaries
    ]
    customer = f", for {order.asked.customer}" if book.studio and order.asked.customer else ""
    return f"{bars}{customer}: {listed(list(dict.fromkeys(titles)))}"


def _faulty_designs(book: Book, here: Place, order: Order) -> Words:
    """The designs of an order that cannot be worked out."""
    wanted = dict.fromkeys(line.design for line in order.asked.designs)
    lacking = [name for name in wanted if name not in book.figures.summaries]
    faulty = ((name, book.places.faulty.get(("design", name))) for name in lacking)
    named: list[Words] = [(name if at is None else span(here, at),) for name, at in faulty]
    return (*joined(named), ".")


def order_page(book: Book, here: Place, order: Order, plan: OrderPlan | None) -> Page:
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
    lead = [f"{counted(found.bars, 'bar')}, due {said_date(order.asked.due)}"]
    if book.studio and order.asked.customer:
        lead.append(f"for {order.asked.customer}")
    if day.begin_by is not None:
        lead.append(f"to be begun by {said_date(day.begin_by)}")
    return Page(
        book.frame(here),
        here.title,
        parts,
        lead=(f"{', '.join(lead)}.",),
        on_page=tuple(Link(part.head, f"#{part.anchor}") for part in parts),
        folio=here.folio,
        about=f"The plan of an order of {counted(found.bars, 'bar')}.",
        marks=tuple(
            (Span("Mind: ", "mind"), f"{sentence(problem.what)}. {problem.mend}")
            for problem in found.problems
        ),
    )


def _part(anchor: str, head: str, *blocks: Block, note: Note | None = None) -> Part:
    """A part of one passage, with the note beside it if there is one."""
    return Part(anchor, head, (Passage(blocks, () if note is None else (note,)),))


def _number(value: object) -> Cell:
    return Cell((str(value),), number=True)


def _step_row(step: Timed) -> tuple[Cell, ...]:
    said = sentence(step.step)
    words: Words = (said,) if step.hands else (Span(said, "soft"), Span(", by itself", "soft"))
    begins = Cell((clock_said(step.start_min),), number=True, head=True)
    return begins, _number(until_said(step)), Cell(words), Cell((step.round,))


def _both(both: Both | None, *, strong: bool = False) -> Cell:
    if both is None:
        return Cell(NOTHING, number=True)
    words: Words = (Span(both.first, "strong"),) if strong else (both.first,)
    return Cell(words, both.second, number=True)


class _OrderParts:
    """The parts of an order's page, with the links of its notebook."""

    def __init__(self, book: Book, here: Place) -> None:
        self.book = book
        self.here = here
        self.shelf = book.notebook.shelf
        self.units = book.units

    def design(self, line: OrderedLine) -> Words:
        words: Words = (span(self.here, self.book.places.designs[line.design.id]),)
        return words if line.variant.name == AS_WRITTEN else (*words, f", {line.variant.name}")

    def _head(self, line: OrderedLine) -> tuple[Cell, Cell]:
        """The first cells of a row: the design and its bars."""
        return Cell(self.design(line), head=True), _number(line.bars)

    def thing(self, one: Taken) -> Span:
        place = self.book.places.thing(one.kind, one.item)
        return Span(one.name) if place is None else span(self.here, place, one.name)

    def note(self, says: str, method: str, big: str = "", kind: str = "Computed") -> Note:
        how = href(self.here, self.book.places.fixed("how"), method)
        return Note(big, ((says,),), kind, how=how)

    def parts(self, order: Order, plan: OrderPlan) -> Iterator[Part]:
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
                yield _part("private", "For the studio alone", Said((order.asked.private,)))

    def make_part(self, found: OrderFigures) -> Part:
        rows = []
        for line in found.lines:
            rounds_and_pieces = rounds_said(line), pieces_said(self.shelf, line)
            rows.append((*self._head(line), *(Cell((sentence(t),)) for t in rounds_and_pieces)))
        heads = (Head("Design", wide=True), Head("Bars", True), Head("Rounds"), Head("Cast on"))
        table = Table("Designs, rounds and pieces", heads, (Rows(tuple(rows)),), strong=True)
        points = [*(cut_said(self.shelf, one) for one in found.cut), *wear_said(self.shelf, found)]
        more = (Points(tuple((text,) for text in points)),) if points else ()
        rounds = counted(sum(len(line.rounds) for line in found.lines), "round")
        through = "through the moulds; as many bars at once as there are cavities and pieces."
        note = self.note(through, "order", rounds, "Counted")
        return _part("make", "What to make", table, *more, note=note)

    def take_part(self, found: OrderFigures) -> Part:
        groups = []
        all_taken = tuple(taken(self.units, self.shelf, found))
        drawn = any(one.drawn is not None for one in all_taken)
        for kind, head in KINDS_SAID.items():
            rows = tuple(self._taken_row(one, drawn) for one in all_taken if one.kind == kind)
            if rows:
                groups.append(Rows(rows, (head,)))
        figures = ("Needed", *(("From leftovers",) if drawn else ()), "On hand", "To buy")
        heads = (Head("", wide=True), *(Head(name, True) for name in figures))
        blocks: list[Block] = [Table("Sums over all designs", heads, tuple(groups), wide=True)]
        if found.by_eye:
            names = listed([self.shelf.of_kind(kind)[name].name for kind, name in found.by_eye])
            blocks.append(Said((f"{names} by eye: how much is wanted, no dose says.",)))
        sums = "The sums of the designs' cards, each for its own number of bars."
        return _part("take", "What it takes", *blocks, note=self.note(sums, "layer-mass"))

    def _taken_row(self, one: Taken, drawn: bool) -> tuple[Cell, ...]:
        cells = [Cell((self.thing(one),), head=True), _both(one.needed, strong=True)]
        if drawn:
            cells.append(_both(one.drawn))
        return (*cells, _both(one.on_hand), _both(one.buy, strong=True))

    def buy_part(self, found: OrderFigures) -> Part:
        lines: list[Words] = []
        for one in taken(self.units, self.shelf, found):
            if one.buy is None and not one.why:
                continue
            words: list[Span | str] = [self.thing(one), ": "]
            if one.kind == "leftovers":
                words.append(f"{one.buy} too little is left of it")
            elif one.buy is not None:
                words.append(Span(str(one.buy), "strong"))
            if one.why:
                words.append(f" ({one.why})" if one.buy is not None else one.why)
            if one.supplier:
                words.append(f", from {one.supplier}")
            lines.append((*words, "."))
        block: Block = Points(tuple(lines)) if lines else Said(("Nothing: all is on hand.",))
        return _part("buy", "What to buy", block)

    def pots_part(self, found: OrderFigures) -> Part:
        groups = []
        for line in found.lines:
            left = {one.pot: one for one in line.figures[LEFTOVERS].value or ()}
            rows = tuple(
                (
                    Cell((sentence(pot.name),), head=True),
                    _both(self.units.mass(pot.melt_g), strong=True),
                    Cell(self._left(left[pot.name])),
                )
                for pot in line.figures.masses.pots
            )
            groups.append(Rows(rows, (*self.design(line), f", {counted(line.bars, 'bar')}")))
        heads = (Head("Pot"), Head("To melt, in all", True), Head("Left behind", wide=True))
        scraped = "What is poured over the relief and scraped back is left behind."
        table = Table("To melt, and left behind", heads, tuple(groups))
        note = self.note(scraped, "leftovers")
        return _part("pots", "The pots, and what they leave", table, note=note)

    def _left(self, pot: PotLeft) -> Words:
        return (left_said(self.units, self.shelf, pot),) if pot.left_g > 0 else NOTHING

    def leftovers_part(self, found: OrderFigures) -> Part:
        lines = tuple((draw_said(self.units, self.shelf, found, one),) for one in found.draws)
        lead = Said(("The doses stay as on the cards; what a leftover brings comes on top.",))
        return _part("leftovers", "From the leftovers", lead, Points(lines))

    def day_part(self, day: OrderDay) -> Part:
        if day.sheet is None:
            return _part("day", "By the clock", Said((Span(f"No day sheet: {day.why}.", "mind"),)))
        groups = tuple(
            Rows(tuple(map(_step_row, steps)), (f"Day {number}",))
            for number, steps in steps_by_day(day).items()
        )
        times = (Head("From", True), Head("To", True))
        heads = (*times, Head("What", wide=True), Head("Of", wide=True))
        lead = Said((f"For {hours_said(day.clock)}. What needs no hands is marked.",))
        blocks: list[Block] = [lead, Table("Step by step", heads, groups)]
        if day.assumed:
            blocks.append(Points(tuple((f"Taken: {text}.",) for text in day.assumed)))
        note = self.note(f"{time_said(day)}.", "order", counted(day.days, "day"))
        return _part("day", "By the clock", *blocks, note=note)

    def cost_part(self, found: OrderFigures) -> Part:
        rows = [
            (*self._head(line), *map(self._money, amounts))
            for line, amounts in zip(found.lines, found.cost.lines, strict=True)
        ]
        sums = map(self._money, (found.cost.cost, found.cost.price))
        rows.append((Cell((Span("In all", "strong"),), head=True), _number(found.bars), *sums))
        heads = (Head("Design", wide=True), *(Head(t, True) for t in ("Bars", "Cost", "Price")))
        blocks: list[Block] = [Table("By design, and in all", heads, (Rows(tuple(rows)),))]
        for line in found.lines:
            sheet = line.figures[COST].value
            if sheet is not None and sheet.missing:
                names = listed(list(sheet.missing))
                blocks.append(Said((f"{line.design.title}: the cost of {names} is not known.",)))
        note = self.note("At the cards' amounts; leftovers are not taken off.", "cost")
        return _part("cost", "Cost and price", *blocks, note=note)

    def _money(self, amount: Decimal | None) -> Cell:
        return Cell(NOTHING if amount is None else (self.units.money(amount),), number=True)
