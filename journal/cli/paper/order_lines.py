"""An order's plan as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from journal.cli.terminal import wrapped
from journal.figures.day.derive_day import line_title
from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.derive_notebook import OrderPlan
from journal.figures.shop.derive_shop import COST
from journal.html.card_page import plain_text
from journal.records.models.shelf import Shelf
from journal.records.notebook import Notebook
from journal.views.order import words
from journal.views.order.day import day_step_text, planned_days, rounds_of_plan
from journal.views.order.words import OrderItem
from journal.views.shared.words import (
    NO_BREAK,
    UnitFormatter,
    clock_text,
    cost_gap_text,
    list_text,
    units_of,
)


def plan_lines(notebook: Notebook, plan: OrderPlan, *, studio: bool) -> list[str]:
    """The plan as lines for the terminal; cost and price for the ``studio`` alone."""
    figures = plan.figures
    order = figures.order.record
    lines = [f"{order.title}: {words.order_text(order, plan, studio=True)}"]
    lines += wrapped(*(words.over_limit_text(notebook.shelf, *over) for over in figures.over))
    left_out = list_text(words.without(notebook, plan))
    if left_out:
        lines += wrapped(f"Planned without {left_out}. The write-up has a mistake.")
    for head, section in _sections(notebook, plan, studio=studio):
        lines += ["", head, *section]
    return [line.replace(NO_BREAK, " ") for line in lines]


def _sections(
    notebook: Notebook, plan: OrderPlan, *, studio: bool
) -> Iterator[tuple[str, Iterable[str]]]:
    """The head of each section, and the lines under it."""
    units, shelf, figures = units_of(notebook.settings), notebook.shelf, plan.figures
    rows = [
        (line_title(line), str(line.bars), words.rounds_text(line),
         words.pieces_text(shelf, line))
        for line in figures.lines
    ]  # fmt: skip
    notes = [*words.enough_texts(figures), *words.limit_texts(plan),
             *(words.cut_text(shelf, cut) for cut in figures.cut),
             *words.wear_texts(shelf, figures)]  # fmt: skip
    yield "What to make", (*_columns(rows, right=(1,)), *wrapped(*notes))
    items = tuple(words.order_items(units, shelf, figures))
    yield "What it takes", _item_lines(figures, shelf, items)
    yield "What to buy", _shopping_lines(items)
    pots = [
        (f"{line_title(line)}, {pot.name}", str(words.weighed_text(units, pot.melt_g)), left)
        for line in figures.lines
        for pot, left in zip(line.total.pots, _left_behind(units, shelf, line), strict=True)
    ]
    yield "The pots, and what is left over", _columns(pots)
    if figures.draws:
        texts = [words.draw_text(units, shelf, figures, draw) for draw in figures.draws]
        yield "From the leftovers", wrapped(*texts)
    yield "The day, hour by hour", _day_lines(notebook, plan)
    if studio:
        yield "Cost and price", _cost_lines(units, figures)


def _left_behind(units: UnitFormatter, shelf: Shelf, line: OrderedLine) -> Iterator[str]:
    """A text for each pot of a line on what it leaves behind; "" for nothing."""
    for left in line.left:
        yield f"left over: {words.left_behind_text(units, shelf, left)}" if left.left_g > 0 else ""


def _item_lines(figures: OrderFigures, shelf: Shelf, items: Sequence[OrderItem]) -> Iterator[str]:
    """A line for each thing that the order takes: how much, from leftovers, on hand."""
    any_drawn = any(item.drawn is not None for item in items)
    rows = []
    for item in (item for kind in words.KIND_HEADS for item in items if item.kind == kind):
        row = [item.name, str(item.needed)]
        if any_drawn:
            row.append("" if item.drawn is None else f"{item.drawn} from leftovers")
        row.append("" if item.on_hand is None else f"{item.on_hand} on hand")
        rows.append(row)
    yield from _columns(rows)
    for kind, name in figures.by_eye:
        yield from wrapped(words.by_eye_text(shelf.of_kind(kind)[name].name, 1))


def _shopping_lines(items: Sequence[OrderItem]) -> Iterator[str]:
    """A line for each thing that is to be bought, or of which it is not sure."""
    lacking = [item for item in items if item.buy is not None or item.why]
    if not lacking:
        yield "  Nothing: all is on hand."
    for item in lacking:
        amount = str(item.buy) if item.buy is not None else "?"
        if item.kind == "leftovers":
            amount += " short"
        note = "; ".join(filter(None, (item.why, item.supplier)))
        yield f"  {item.name}: {amount}{f' ({note})' if note else ''}"


def _day_lines(notebook: Notebook, plan: OrderPlan) -> Iterator[str]:
    """The steps of the work by the clock, or why there is no day sheet."""
    day = plan.day
    if day.sheet is None:
        yield from wrapped(f"No plan by the hour: {day.why}.")
        return
    units, rounds = (
        units_of(notebook.settings),
        rounds_of_plan(notebook.settings, notebook.shelf, plan),
    )
    yield from wrapped(words.working_time_text(day))
    for planned in planned_days(plan, rounds):
        yield f"  Day {planned.number}"
        if planned.melts:
            yield from wrapped(
                f"Today melt: {plain_text(words.melts_words(units, planned.melts))}."
            )
        begun = words.batches_begun(plan, planned.steps)
        if begun:
            codes = [f"{one.code} ({day.rounds[n].name})" for n, one in begun.items()]
            yield from wrapped(words.batches_text(begun, codes))
            yield from wrapped(plain_text(words.lots_words(notebook.shelf, begun)))
        for step in planned.steps:
            text = day_step_text(rounds[step.number], step)
            if text:
                mark = " " if step.step.hands else "·"
                times = f"{clock_text(step.start_min):>5} to {words.end_time_text(step):<5}"
                yield f"    {times}  {mark} {text} ({day.rounds[step.number].name})"
    yield "  · runs by itself"
    yield from wrapped(*(plain_text(words.assumption_words(one)) for one in day.assumed))


def _cost_lines(units: UnitFormatter, figures: OrderFigures) -> Iterator[str]:
    """Cost and price of each line of the order, and in all."""
    rows = []
    found = figures.cost
    for line, (cost, price), least in zip(figures.lines, found.lines, found.least, strict=True):
        sheet = line.figures[COST].value
        gaps = [cost_gap_text(units, gap) for gap in sheet.gaps] if sheet is not None else []
        note = f"a bar without {'; '.join(gaps)}" if gaps else ""
        rows.append((line_title(line), cost, least, price, note))
    rows.append(("In all", found.cost, found.at_least, found.price, ""))
    yield from _columns(
        [
            (
                title,
                f"cost {'at least ' if cost is None else ''}{units.money(least)}",
                f"price {'–' if price is None else units.money(price)}",
                note,
            )
            for title, cost, least, price, note in rows
        ]
    )
    if found.wholesale is not None:
        yield f"  To shops: {units.money(found.wholesale)}."


def _columns(rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> Iterator[str]:
    """Rows as lines, each column as wide as its widest cell; columns in ``right`` align there."""
    if not rows:
        return
    wide = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    for row in rows:
        cells = [
            cell.rjust(width) if place in right else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(row, wide, strict=True))
        ]
        yield f"  {'  '.join(cells)}".rstrip()
