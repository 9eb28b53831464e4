"""An order's plan as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from journal.cli.terminal import counted, wrapped
from journal.figures.day.derive_day import OrderDay
from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.recipe.derive_leftovers import LEFTOVERS
from journal.figures.shop.derive_shop import COST
from journal.records.models.shelf import Shelf
from journal.records.notebook import Notebook
from journal.views.order.words import (
    KIND_HEADS,
    OrderItem,
    clock_text,
    cut_text,
    draw_text,
    end_time_text,
    hours_text,
    left_behind_text,
    line_title,
    order_items,
    pieces_text,
    rounds_text,
    steps_by_day,
    wear_texts,
    working_time_text,
)
from journal.views.shared.words import NO_BREAK, UnitFormatter, list_text, long_date, units_of


def plan_lines(notebook: Notebook, found: OrderFigures, day: OrderDay) -> list[str]:
    """The plan as lines for the terminal."""
    asked = found.order.asked
    head = f"{asked.title}: {counted(found.bars, 'bar')}, due {long_date(asked.due)}"
    if asked.customer:
        head += f", for {asked.customer}"
    if day.begin_by is not None:
        head += f"; to be begun by {long_date(day.begin_by)}"
    lines = [head + "."]
    for head, under in _sections(notebook, found, day):
        lines += ["", head, *under]
    return [line.replace(NO_BREAK, " ") for line in lines]


def _sections(
    notebook: Notebook, found: OrderFigures, day: OrderDay
) -> Iterator[tuple[str, Iterable[str]]]:
    """The head of each section, and the lines under it."""
    units, shelf = units_of(notebook.settings), notebook.shelf
    rows = [
        (line_title(line), str(line.bars), rounds_text(line), pieces_text(shelf, line))
        for line in found.lines
    ]
    more = [*(cut_text(shelf, one) for one in found.cut), *wear_texts(shelf, found)]
    yield "What to make", (*_columns(rows, right=(1,)), *wrapped(*more))
    all_taken = tuple(order_items(units, shelf, found))
    yield "What it takes", _taken_lines(found, shelf, all_taken)
    yield "What to buy", _buy_lines(all_taken)
    pots = [
        (f"{line_title(line)}, {pot.name}", str(units.mass(pot.melt_g)), left)
        for line in found.lines
        for pot, left in zip(
            line.figures.masses.pots, _left_behind(units, shelf, line), strict=True
        )
    ]
    yield "The pots, and what they leave behind", _columns(pots)
    if found.draws:
        said = [draw_text(units, shelf, found, one) for one in found.draws]
        yield "From the leftovers", wrapped(*said)
    yield "By the clock", _day_lines(day)
    yield "Cost and price", _cost_lines(units, found)


def _left_behind(units: UnitFormatter, shelf: Shelf, line: OrderedLine) -> Iterator[str]:
    for left in line.figures[LEFTOVERS].value or ():
        yield f"leaves {left_behind_text(units, shelf, left)}" if left.left_g > 0 else ""


def _taken_lines(
    found: OrderFigures, shelf: Shelf, all_taken: Sequence[OrderItem]
) -> Iterator[str]:
    drawn = any(one.drawn is not None for one in all_taken)
    rows = []
    for kind in KIND_HEADS:
        for one in all_taken:
            if one.kind == kind:
                own = [one.name, str(one.needed)]
                if drawn:
                    own.append("" if one.drawn is None else f"{one.drawn} from leftovers")
                own.append("" if one.on_hand is None else f"{one.on_hand} on hand")
                rows.append(tuple(own))
    yield from _columns(rows)
    for kind, name in found.by_eye:
        said = shelf.of_kind(kind)[name].name
        yield f"  {said}: by eye, so how much is wanted is not known"


def _buy_lines(all_taken: Sequence[OrderItem]) -> Iterator[str]:
    wanting = [one for one in all_taken if one.buy is not None or one.why]
    if not wanting:
        yield "  Nothing: all is on hand."
    for one in wanting:
        said = str(one.buy) if one.buy is not None else "?"
        if one.kind == "leftovers":
            said += " too little is left of it"
        more = "; ".join(filter(None, (one.why, one.supplier)))
        yield f"  {one.name}: {said}{f' ({more})' if more else ''}"


def _day_lines(day: OrderDay) -> Iterator[str]:
    if day.sheet is None:
        yield from wrapped(f"No day sheet: {day.why}.")
        return
    yield from wrapped(f"{working_time_text(day)}; {hours_text(day.clock)}.")
    for number, steps in steps_by_day(day).items():
        yield f"  Day {number}"
        for step in steps:
            mark = " " if step.hands else "·"
            times = f"{clock_text(step.start_min):>5} to {end_time_text(step):<5}"
            yield f"    {times}  {mark} {step.step} ({step.round})"
    yield "  · runs by itself"
    yield from wrapped(*(f"Taken: {text}." for text in day.assumed))


def _cost_lines(units: UnitFormatter, found: OrderFigures) -> Iterator[str]:
    rows = []
    for line, (cost, price) in zip(found.lines, found.cost.lines, strict=True):
        sheet = line.figures[COST].value
        lacking = list_text(list(sheet.missing)) if sheet is not None else ""
        rows.append(
            (
                line_title(line),
                "cost –" if cost is None else f"cost {units.money(cost)}",
                "price –" if price is None else f"price {units.money(price)}",
                f"the cost of {lacking} is not known" if lacking else "",
            )
        )
    total = found.cost
    rows.append(
        (
            "In all",
            "cost –" if total.cost is None else f"cost {units.money(total.cost)}",
            "price –" if total.price is None else f"price {units.money(total.price)}",
            "",
        )
    )
    yield from _columns(rows)


def _columns(rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> Iterator[str]:
    """Rows as lines, each column as wide as its widest cell."""
    if not rows:
        return
    wide = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    for row in rows:
        cells = [
            cell.rjust(width) if place in right else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(row, wide, strict=True))
        ]
        yield f"  {'  '.join(cells)}".rstrip()
