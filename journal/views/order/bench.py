"""The bench page of an order: the rounds of all its days, each a pour of one design."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from journal.figures.day.derive_order import OrderedLine
from journal.figures.day.sheet import day_and_minute
from journal.figures.derive_notebook import OrderPlan
from journal.html.bench_page import BenchPage, BenchRound, BenchTurn, PourSheet
from journal.html.blocks import PageFrame
from journal.records.models.questions import OrderFile
from journal.records.models.settings import Settings
from journal.records.models.shelf import Shelf
from journal.records.models.write_up import AS_WRITTEN
from journal.views.card.bench import bench_facts, bench_round
from journal.views.order.day import rounds_of_plan
from journal.views.paper.pour_sheet import pour_sheet
from journal.views.shared.book import Book
from journal.views.shared.over_limit import OverLimitTexts
from journal.views.shared.paper_places import has_order_bench, order_bench_place
from journal.views.shared.places import Sheet
from journal.views.shared.words import clock_text, units_of


def order_bench_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The bench page of an order; none if it is handed over, or there is no plan by the hour."""
    order = book.notebook.orders[name]
    if not has_order_bench(book, order):
        return ()
    here, plan = order_bench_place(order), book.derived.orders[name]

    def make() -> bytes:
        page = order_bench_page(
            book.frame(here), book.settings, book.bench, order, plan, book.over_limit,
            book.derived.card_reach, book.pourers,
        )  # fmt: skip
        return book.theme.set_alone("bench.html", page).encode()

    return (Sheet(here.path, make),)


def order_bench_page(
    frame: PageFrame,
    settings: Settings,
    shelf: Shelf,
    order: OrderFile,
    plan: OrderPlan,
    over_limit: OverLimitTexts,
    reach: Mapping[str, float | None],
    pourers: Iterable[str],
) -> BenchPage:
    """The bench page of an order that has a day sheet.

    Takes:  shelf       without what helpers may not know
            over_limit  what is said of designs with more oil than their certificate allows
            reach       how far a pot of a design may be from how it should cool (``coarse_reach``)
    """
    rounds: list[BenchRound] = []
    turns: list[tuple[int, BenchTurn]] = []
    lines = [line for line in plan.figures.lines for _ in line.masses]
    steps = rounds_of_plan(settings, shelf, plan, afresh=True)
    rounds_of = Counter(line.design.id for line in lines)
    poured: dict[str, int] = {}
    for line, one in zip(lines, steps, strict=True):
        design = line.design
        begins = min(timed.start_min for timed in one.steps)
        day, minute = day_and_minute(begins)
        of = bench_round(one, reach[design.id])
        if of not in rounds:  # most rounds of a line are alike
            rounds.append(of)
        number = poured[design.id] = poured.get(design.id, 0) + 1
        turn = BenchTurn(
            key=f"orders/{order.id}/{design.id}/{number}",
            of=rounds.index(of),
            name=_name_among(design.title, number, rounds_of[design.id]),
            day=day,
            begins=clock_text(minute),
            filled=_ordered_variant(line),
            counted=True,
        )
        turns.append((begins, turn))
    designs = {line.design.id: line.design for line in lines}
    sheets: list[PourSheet] = [
        pour_sheet(frame, design, settings, shelf, units_of(settings),
                   dangers=over_limit.get(name, ()))
        for name, design in designs.items()
    ]  # fmt: skip
    by_time = [turn for _, turn in sorted(turns, key=lambda one: one[0])]
    facts = bench_facts(settings, order.id, rounds, by_time, pourers, lettered=True)
    return BenchPage(tuple(sheets), f"At the bench: {order.record.title}", facts)


def _name_among(title: str, number: int, rounds: int) -> str:
    """What tells a pour from the others of an order; which variant it is its bars say."""
    return f"{title}, {number} of {rounds}" if rounds > 1 else title


def _ordered_variant(line: OrderedLine) -> Mapping[str, str]:
    """What each bar of a line has, by the key of a bar; nothing of a design without variants.

    A line that names no variant is of the recipe as written, so of the variant that is the same.
    """
    design, variant = line.design, line.variant
    if variant.name == AS_WRITTEN:
        named = (one for one in design.variants if one.name != AS_WRITTEN)
        same = next((one for one in named if one.recipe == design.recipe), None)
        if same is None:
            return {}
        variant = same
    return variant.chosen or {"variant": variant.name}
