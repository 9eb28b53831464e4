"""The section of an oil's page on browning: what vanillin lets expect, what photos show."""

from __future__ import annotations

from collections.abc import Iterable

from journal.figures.colour.spaces import shift_words
from journal.html import blocks as html
from journal.html.blocks import PageCell, Section, SideNote, number_cell
from journal.records.models.summary import DesignSummary
from journal.views.shared import words
from journal.views.shared.measured_colours import oil_swatches
from journal.views.shared.on_page import PageContext


def browning_part(
    context: PageContext, oil: str, designs: Iterable[DesignSummary]
) -> Section | None:
    """The section of browning by vanillin, a row a design; None for an oil without any named."""
    rows = []
    for design in designs:
        figures = context.book.figures.summaries.get(design.id)
        rows += [
            (
                PageCell((context.design_link(design.id),), head=True),
                number_cell(words.percent(one.bar_share)),
                PageCell((one.expect,)),
                PageCell((_seen_text(context, design.id, oil),)),
            )
            for one in (() if figures is None else figures.browning)
            if one.oil == oil
        ]
    if not rows:
        return None
    heads = (html.Heading("Design", wide=True), "Of the bar", "To expect", "Seen in photos")
    caption = "Vanillin in a bar, and how far it browns"
    note = SideNote(
        "",
        (("What to expect is common practice, no source; your own photos count for more.",),),
        "Computed",
        how=context.how("browning"),
    )
    table = html.simple_table(caption, heads, rows)
    return html.simple_section("browning", "Does it turn brown", table, note=note)


def _seen_text(context: PageContext, design: str, oil: str) -> str:
    """How the layers with the oil changed from the first photo of a bar to its last; or "–"."""
    said = [
        f"{first.name}: {shift_words(first.region.lab, last.region.lab)} by day {last.day}"
        for first, last in oil_swatches(context.book, design, oil)
    ]
    return "; ".join(said) or "–"
