"""What went with a failure, in words: counts, what to try, and what else was looked at."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from journal.comparison.failures.conditions import ConditionOfFailure, SideCount
from journal.comparison.sentences import UNLIKELY_CHANCE, listed
from journal.quantities import show

#: The cut of a condition in the studio's units, or the kind that was held against others.
FormatLimit = Callable[[ConditionOfFailure], str]


class _ConditionWords(NamedTuple):
    """How a condition is said: its name, more of it, and what to try against more or less of it.

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


def condition_sentences(
    looked_at: Sequence[ConditionOfFailure], fixed: Sequence[str], as_limit: FormatLimit
) -> Iterator[str]:
    """Yield what went with one symptom, the clearest first, then what else was looked at.

    Takes:  looked_at  the conditions that the symptom was held against
            fixed      the fixes that held, as they were written
    """
    told = [entry for entry in looked_at if entry.is_told]
    others = [entry for entry in looked_at if not entry.is_told]
    for entry in told:
        yield _told_sentence(entry, fixed, as_limit)
    if others:
        names = list(dict.fromkeys(_WORDS[one.condition].name for one in others))
        if told:
            yield f"Also looked at: {listed(names)}. What shows there could easily be chance."
        else:
            yield f"Nothing stands out. Looked at: {listed(names)}."


def _told_sentence(entry: ConditionOfFailure, fixed: Sequence[str], as_limit: FormatLimit) -> str:
    """What went with a symptom, as counts, and what to try."""
    words, limit = _WORDS[entry.condition], as_limit(entry)
    text = (
        f"{share_text(entry.above)} {more_words(entry, as_limit)} had it,"
        f" and {entry.below.failed} of the {entry.below.pots} others. It is {UNLIKELY_CHANCE}."
    )
    to_try = (words.try_less if entry.more_above else words.try_more).format(limit)
    if to_try:
        text += f" Try {to_try}"
        held = sum(re.search(words.fixes, fix, re.IGNORECASE) is not None for fix in fixed)
        if held:
            text += f"; a fix of that kind held {show.show_times(held)}"
        text += "."
    return text


def more_words(entry: ConditionOfFailure, as_limit: FormatLimit) -> str:
    """The pots beyond the cut, or of the kind: "pours hotter than 137 F"."""
    return _WORDS[entry.condition].more.format(as_limit(entry))


def share_text(side: SideCount) -> str:
    """How many of a side had it: "7 of 8"."""
    return f"{side.failed} of {side.pots}"


def limit_text(entry: ConditionOfFailure, us_first: bool, bases: Mapping[str, str]) -> str:
    """The cut of a condition, or the kind that was held against others: "137 F", "winter".

    Takes:  us_first  True for degrees Fahrenheit
            bases     their names, by the word that write-ups have for them
    """
    if entry.cut is None:
        return bases.get(entry.value, entry.value) if entry.condition == "base" else entry.value
    if entry.kind == "temperature":
        in_scale = show.show_temperature_f if us_first else show.show_temperature_c
        return in_scale(entry.cut)
    if entry.kind == "time":
        return f"{entry.cut:.0f} min"
    return show.show_percent(entry.cut)
