"""What a design shares with others: the mat, the mould, the oil, as a line of text."""

from __future__ import annotations

from typing import Final

from journal.pages.on_design import OnDesign, joined
from journal.pages.parts import Span, Words

# What is worth a word where it is shared, and how it is called.
_KINDS: Final = (("mats", "mat"), ("moulds", "mould"), ("fragrances", "oil"))
# How many are named of those written up before a design, and after it: its neighbours, so
# that one more design changes the pages of its own neighbours alone. The thing's page has all.
_BEFORE, _AFTER = 2, 1


def shared_by(on: OnDesign) -> tuple[tuple[str, str, tuple[str, ...], bool], ...]:
    """Each mat, mould and oil that a design shares with others.

    Gives:  kind, id, the ids of the designs next to it in time, whether there are more
    """
    found = []
    for kind, _ in _KINDS:
        for thing in (thing for thing in on.design.things if thing[0] == kind):
            users = on.book.uses.by_thing.get(thing, ())
            if len(users) < 2:
                continue
            here = users.index(on.design.id)
            next_to = users[max(0, here - _BEFORE) : here] + users[here + 1 : here + 1 + _AFTER]
            found.append((*thing, next_to, len(next_to) + 1 < len(users)))
    return tuple(found)


def shares_line(on: OnDesign) -> Words:
    """``Shares the mat with Kelp on clay; the mould with …, and others.``"""
    words: list[Span | str] = []
    for kind, name, others, more in shared_by(on):
        noun = dict(_KINDS)[kind]
        words.append(f"; the {noun} with " if words else f"Shares the {noun} with ")
        named: list[Words] = [(on.other(other),) for other in others]
        if more:
            named.append((on.thing(kind, name, "others"),))
        words += joined(named)
    return (*words, ".") if words else ()
