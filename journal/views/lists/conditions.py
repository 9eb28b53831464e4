"""Which conditions went with a failure, in words: counts, what to try, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Final

from journal.comparison.failures.conditions import ConditionOfFailure, SideCount
from journal.comparison.failures.sentences import (
    condition_sentences,
    limit_text,
    more_words,
    share_text,
)
from journal.comparison.sentences import chance_words, plain_p
from journal.html import blocks as html
from journal.html.blocks import Passage, Section, SideNote
from journal.records.models.write_up import Failure
from journal.views.shared.book import Book
from journal.views.shared.places import Address, href
from journal.views.shared.words import capitalised, no_break

_HOW_COUNTED: Final = (
    "Each pot counts once, beside the other pots of its design. For base and scent only the first"
    " pot of each design counts, beside those of the other designs. What goes with it need not be"
    " its cause."
)


def conditions_section(
    book: Book, here: Address, symptom: str, failures: Sequence[Failure]
) -> Section | None:
    """The section on what went with a symptom; None where nothing could be looked at."""
    looked_at = book.compared.conditions.get(symptom, ())
    if not looked_at:
        return None
    fixed = [one.mend or "" for one in failures if one.mended == "yes"]
    says = condition_sentences(looked_at, fixed, partial(_limit_text, book))
    note = SideNote(
        says=((_HOW_COUNTED,),), kind="Counted",
        how=href(here, book.places.fixed("how"), "conditions"),
    )  # fmt: skip
    rows = [_row(book, entry) for entry in looked_at]
    heads: list[str | html.Heading] = ["Pours", "Had it", "Others", "How sure"]
    table = html.simple_table("How many had it", heads, rows)
    count = f"{len(looked_at)} looked at" if len(looked_at) > 1 else "one looked at"
    blocks = tuple(html.Paragraph((text,)) for text in says)
    return Section(
        "conditions",
        "What went with it",
        (Passage(blocks, (note,)), Passage((table,), fold=f"The counts: {count}")),
    )


def _limit_text(book: Book, entry: ConditionOfFailure) -> str:
    """The cut of a condition in the studio's units, or the kind that was held against others."""
    bases = {name: base.name for name, base in book.bench.bases.items()}
    text = limit_text(entry, book.units.us_first, bases)
    return text if entry.cut is None else no_break(text)


def _row(book: Book, entry: ConditionOfFailure) -> tuple[html.PageCell, ...]:
    """A row of the fold: how many had it on either side, with intervals, and p."""
    more = more_words(entry, partial(_limit_text, book))
    sure = capitalised(chance_words(entry.sure_p))
    return (
        html.PageCell((capitalised(more),), head=True),
        *(html.number_cell(no_break(share_text(side)), _interval_text(side))
          for side in (entry.above, entry.below)),
        html.PageCell((sure,), plain_p(entry.sure_p)),
    )  # fmt: skip


def _interval_text(side: SideCount) -> str:
    """The 95 % interval of a share: "8–55 %"; "" of no pots."""
    interval = side.interval
    if interval is None:
        return ""
    return no_break(f"{100 * interval.low:.0f}–{100 * interval.high:.0f} %")
