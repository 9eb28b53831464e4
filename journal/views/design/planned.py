"""A planned test on a design's page: what it is likely to tell, and what goes where."""

from __future__ import annotations

from collections.abc import Iterator

from journal.comparison.derive import PlanResults
from journal.comparison.planned.layout import laid_out
from journal.comparison.planned.sentences import (
    chance_sentences,
    deviation_sentence,
    layout_sentence,
    pots_text,
)
from journal.comparison.sentences import plain_amount
from journal.html import blocks as html
from journal.html.blocks import Passage, TextRun, Words
from journal.views.shared import words
from journal.views.shared.on_design import DesignContext
from journal.views.shared.paper_places import command, has_pour_sheet, pour_sheet_place
from journal.views.shared.places import span


def plan_passages(context: DesignContext, plan: PlanResults) -> Iterator[Passage]:
    """Yield the chance to tell, before anything is poured; then, folded, the layout."""
    if not plan.poured:
        chances = chance_sentences(plan.chance, plan.chances, plan.measure, plain_amount)
        yield Passage((html.Paragraph((" ".join(chances),)),))
    says: list[html.Block] = [html.Paragraph((layout_sentence(plan.test),))]
    if plan.poured:
        kept = deviation_sentence(plan.deviations) or "What was poured is as planned."
        says.insert(0, html.Paragraph((kept,)))
    yield Passage(
        (*says, _layout_list(plan), html.Paragraph(_sheet_words(context, plan))),
        fold=f"The plan: {pots_text(plan.chance)}",
    )


def _sheet_words(context: DesignContext, plan: PlanResults) -> Words:
    """Where the orders and the codes are printed."""
    orders = "Order of pouring" if plan.test.by == "pots" else "Orders of pouring and peeling"
    if has_pour_sheet(context.book, context.design):
        sheet = span(context.here, pour_sheet_place(context.design), "pour-day sheet")
        return (f"{orders}, and codes to judge by: the ", sheet, ".")
    return (
        f"{orders}, and codes to judge by: ",
        command(f"sheet pour-day {context.design.id}"),
        ".",
    )


def _layout_list(plan: PlanResults) -> html.BulletList:
    """A line for each pot: of bars the variant of each cavity, of pots its day and variant."""
    lines: list[Words] = []
    for pot in laid_out(plan.test):
        head = TextRun(f"Pot {pot.number}", "strong")
        if pot.day is not None:
            lines.append((head, f", day {pot.day}: {pot.variant}."))
            continue
        cavities = (
            words.no_break(f"{one.cavity} {one.variant or 'either'}") for one in pot.cavities
        )
        lines.append((head, f", by cavity: {', '.join(cavities)}."))
    return html.BulletList(tuple(lines))
