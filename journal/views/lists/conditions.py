"""Which conditions went with a failure, in words: counts, what to try, and how sure that is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final, NamedTuple

from journal.comparison.failures.conditions import ConditionOfFailure, SideCount
from journal.comparison.sentences import UNLIKELY_CHANCE, chance_words, plain_p
from journal.html import blocks as html
from journal.html.blocks import Passage, Section, SideNote, Words
from journal.records.models.write_up import Failure
from journal.views.shared.book import Book
from journal.views.shared.places import Address, href
from journal.views.shared.words import capitalised, list_text, no_break, percent


class _ConditionWords(NamedTuple):
    """How a condition is said: its name, more of it, less of it, and what to try against either.

    ``more``, ``try_less`` and ``try_more`` have the cut, or the kind, in them. ``fixes`` finds the
    fixes that are of that kind.
    """

    name: str
    more: str
    try_less: str = ""
    try_more: str = ""
    fixes: str = "(?!)"


_HEAT: Final = r"\b(cooler|colder|hotter|warmer|\d+ ?°? ?[FC])\b"
_WORDS: Final = {
    "pour": _ConditionWords(
        "how hot the body was poured", "pours hotter than {}",
        "pouring no hotter than {}, if the window allows it",
        "pouring hotter than {}, if the window allows it",
        _HEAT,
    ),
    "first layer": _ConditionWords(
        "how hot the first layer was poured", "pours with a first layer hotter than {}",
        "pouring the first layer no hotter than {}, if its window allows it",
        "pouring the first layer hotter than {}, if its window allows it", _HEAT,
    ),
    "room": _ConditionWords(
        "the room", "pours in a room warmer than {}", "a room no warmer than {}",
        "a room warmer than {}", r"\broom\b",
    ),
    "humidity": _ConditionWords(
        "humidity", "pours in air damper than {}", "a day no damper than {}", "",
        r"\b(damp|dry day|dry air|humid\w*)\b",
    ),
    "stood": _ConditionWords(
        "how long the pot stood", "pots that stood longer than {}",
        "pouring within {} of melting", "",
        r"\b(sooner|stand|stood|at once)\b",
    ),
    "season": _ConditionWords("the season", "pours in {}"),
    "base": _ConditionWords("the base", "first pours on {}"),
    "load": _ConditionWords(
        "how much scent", "first pours with more than {} of scent", "no more than {} of scent", "",
        r"\b(scent|oil|fragrance)\b",
    ),
}  # fmt: skip
_HOW_COUNTED: Final = (
    "A pot counts once, beside pots of its design; for base and scent the first pot of each design"
    " beside those of others. What goes with it need not be its cause."
)
_COUNTED: Final = {1: "once", 2: "twice"}


def conditions_section(
    book: Book, here: Address, symptom: str, failures: Sequence[Failure]
) -> Section | None:
    """The section on what went with a symptom; None where nothing could be looked at."""
    looked_at = book.compared.conditions.get(symptom, ())
    if not looked_at:
        return None
    told = [entry for entry in looked_at if entry.is_told]
    others = [entry for entry in looked_at if not entry.is_told]
    says: list[Words] = [(_told_text(book, entry, failures),) for entry in told]
    if others:
        names = list_text(list(dict.fromkeys(_WORDS[one.condition].name for one in others)))
        before = "Also looked at" if told else "Looked at"
        says.append((f"{before}: {names}. What shows there could easily be chance.",))
    note = SideNote(
        says=((_HOW_COUNTED,),), kind="Counted",
        how=href(here, book.places.fixed("how"), "conditions"),
    )  # fmt: skip
    rows = [_row(book, entry) for entry in looked_at]
    heads: list[str | html.Heading] = ["Pours", "Had it", "Others", "How sure"]
    table = html.simple_table("How many had it", heads, rows)
    count = f"{len(looked_at)} looked at" if len(looked_at) > 1 else "one looked at"
    blocks = tuple(html.Paragraph(text) for text in says)
    return Section(
        "conditions",
        "What went with it",
        (Passage(blocks, (note,)), Passage((table,), fold=f"The counts: {count}")),
    )


def _told_text(book: Book, entry: ConditionOfFailure, failures: Sequence[Failure]) -> str:
    """What went with a symptom, as counts, and what to try."""
    words, limit = _WORDS[entry.condition], _limit_text(book, entry)
    text = (
        f"{_share(entry.above)} {words.more.format(limit)} had it,"
        f" and {entry.below.failed} of the {entry.below.pots} others. It is {UNLIKELY_CHANCE}."
    )
    to_try = (words.try_less if entry.more_above else words.try_more).format(limit)
    if to_try:
        text += f" Try {to_try}"
        fixed = sum(
            one.mended == "yes"
            and re.search(words.fixes, one.mend or "", re.IGNORECASE) is not None
            for one in failures
        )
        if fixed:
            text += f"; a fix of that kind held {_COUNTED.get(fixed, f'{fixed} times')}"
        text += "."
    return text


def _limit_text(book: Book, entry: ConditionOfFailure) -> str:
    """The cut of a condition in the studio's units, or the kind that was held against others."""
    if entry.cut is None:
        if entry.condition == "base":
            base = book.bench.bases.get(entry.value)
            return entry.value if base is None else base.name
        return entry.value
    if entry.kind == "temperature":
        return book.units.temperature(entry.cut).first
    if entry.kind == "time":
        return no_break(f"{entry.cut:.0f} min")
    return percent(entry.cut)


def _share(side: SideCount) -> str:
    return f"{side.failed} of {side.pots}"


def _row(book: Book, entry: ConditionOfFailure) -> tuple[html.PageCell, ...]:
    """A row of the fold: how many had it on either side, with intervals, and p."""
    words, limit = _WORDS[entry.condition], _limit_text(book, entry)
    sure = capitalised(chance_words(entry.sure_p))
    return (
        html.PageCell((capitalised(words.more.format(limit)),), head=True),
        *(html.number_cell(no_break(_share(side)), _interval_text(side))
          for side in (entry.above, entry.below)),
        html.PageCell((sure,), plain_p(entry.sure_p)),
    )  # fmt: skip


def _interval_text(side: SideCount) -> str:
    """The 95 % interval of a share: "8–55 %"; "" of no pots."""
    interval = side.interval
    if interval is None:
        return ""
    return no_break(f"{100 * interval.low:.0f}–{100 * interval.high:.0f} %")
