"""What to buy for all open orders together: one page, one sheet."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from functools import partial

from journal.figures.day.derive_buying import BuyLine
from journal.html import blocks as html
from journal.html.blocks import PageCell, Section, TextRun, Words, number_cell
from journal.views.order.words import KIND_HEADS, amount_in_unit_text
from journal.views.shared.book import Book
from journal.views.shared.on_design import joined_runs
from journal.views.shared.on_page import PageContext
from journal.views.shared.places import TO_BUY, Sheet, span
from journal.views.shared.words import count_text, long_date, short_date
from journal.views.shelf.facts import amount_left_text, left_text


def buying_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page of what to buy, as a tuple of one sheet; empty in the public edition."""
    if book.edition == "public":
        return ()
    return (book.sheet(TO_BUY, "page.html", partial(buying_page, PageContext(book, TO_BUY))),)


def buying_page(context: PageContext) -> html.Page:
    """The page of what to buy: by when first, then a row a thing; what is low beneath it."""
    lines = tuple(context.book.derived.buying.values())
    answer = "Nothing: all that is ordered can be poured of what is there."
    if lines:
        first = min(line.by for line in lines)
        answer = f"{count_text(len(lines), 'thing')} to buy, the first by {long_date(first)}."
    return context.book.page(
        context.here,
        (part for part in (_buy_part(context, lines), _low_part(context)) if part is not None),
        "What to buy for all open orders.",
        standfirst=(answer,),
    )


def _buy_part(context: PageContext, lines: tuple[BuyLine, ...]) -> Section | None:
    """The section of what to buy, by kind; its cost in the studio's edition alone."""
    if not lines:
        return None
    groups = []
    for kind, head in KIND_HEADS.items():
        of_kind = sorted((one for one in lines if one.kind == kind), key=lambda one: one.by)
        rows = tuple(tuple(_row(context, line)) for line in of_kind)
        if rows:
            groups.append(html.RowGroup(rows, (head,)))
    names = ["Needed", "On hand", "To buy", "By", *(["Cost"] if context.book.studio else [])]
    heads = (html.Heading("", wide=True), *(html.Heading(name, True) for name in names))
    table = html.PageTable("For all open orders together", heads, tuple(groups), wide=True)
    blocks: list[html.Block] = [table]
    if context.book.studio:
        known = [line.cost for line in lines if line.cost is not None]
        without = len(lines) - len(known)
        total = context.units.money(sum(known, Decimal(0)))
        also = f", and {count_text(without, 'thing')} without a price" if without else ""
        blocks.append(html.Paragraph((TextRun(f"{total} in all", "strong"), f"{also}.")))
    return html.simple_section("buy", "To buy", *blocks)


def _row(context: PageContext, line: BuyLine) -> Iterator[PageCell]:
    """The cells of one thing: its orders beneath its name, amounts, the day, the cost."""
    units, places = context.units, context.book.places.orders
    orders: list[Words] = [(span(context.here, places[name]),) for name in line.orders]
    record = context.book.notebook.shelf.of_kind(line.kind)[line.item]
    supplier = f", from {record.supplier}" if record.supplier else ""
    thing = context.thing(line.kind, line.item)
    yield PageCell((thing, f"{supplier}: for ", *joined_runs(orders)), head=True)
    yield number_cell(*amount_in_unit_text(units, line.unit, line.need))
    left = context.book.derived.left.get((line.kind, line.item))
    if line.left is None:
        yield number_cell("–")
    elif left is not None and left.used and left.unit == line.unit:
        about = amount_left_text(units, left)
        yield number_cell(f"about {about.first}", about.second)
    else:
        yield number_cell(*amount_in_unit_text(units, line.unit, line.left))
    buy = amount_in_unit_text(units, line.unit, line.buy)
    yield PageCell((TextRun(buy.first, "strong"),), buy.second, number=True)
    yield number_cell(short_date(line.by))
    if context.book.studio:
        cost = line.cost
        yield number_cell("–" if cost is None else units.money(cost))


def _low_part(context: PageContext) -> Section | None:
    """The section of what is low on the shelf, ordered or not; None if nothing is."""
    points = tuple(
        (context.thing(*thing), f": {left_text(context.units, left)}")
        for thing, left in context.book.derived.left.items()
        if left.low
    )
    if not points:
        return None
    return html.simple_section("low", "Low on the shelf", html.BulletList(points))
