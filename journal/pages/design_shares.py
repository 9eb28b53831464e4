"""What a design shares with others: the mat, the mould, the oil, as a line of text."""

from __future__ import annotations

from typing import Final

from journal.pages.on_design import OnDesign, joined
from journal.pages.parts import Span, Words

# How what is shared is called.
_NOUNS: Final = {"mats": "mat", "moulds": "mould", "fragrances": "oil"}


def shares_line(on: OnDesign) -> Words:
    """``Shares the mat with Kelp on clay; the mould with …, and others.``"""
    words: list[Span | str] = []
    for kind, name, others, more in on.book.shares.get(on.design.id, ()):
        noun = _NOUNS[kind]
        words.append(f"; the {noun} with " if words else f"Shares the {noun} with ")
        named: list[Words] = [(on.other(other),) for other in others]
        if more:
            named.append((on.thing(kind, name, "others"),))
        words += joined(named)
    return (*words, ".") if words else ()
