"""A stylesheet as it goes into a notebook: without what only its writers read."""

from __future__ import annotations

import re

# What is quoted stands as it is: `content: " (p.\a0"`. Comments do not nest.
_COMMENT_OR_TEXT = re.compile(r"/\*.*?\*/|(\"(?:\\.|[^\"\\])*\")", re.DOTALL)
_ROUND_MARKS = re.compile(r"\s*([{};,])\s*")
# A blank before a colon may part an element from what is in it: `main :focus`.
_AFTER_COLON = re.compile(r":\s+")
_SPACES = re.compile(r"\s+")


def compact_css(css: str) -> str:
    """A stylesheet without comments, indents and blanks that mean nothing, a rule a line.

    Takes:  css  CSS whose texts are in double quotes
    Gives:  CSS that a browser reads to the same rules
    """
    parts = _COMMENT_OR_TEXT.split(css)
    # Between pieces of code stand texts, and None for a comment.
    return "".join(
        (part or "") if number % 2 else _without_blanks(part) for number, part in enumerate(parts)
    )


def _without_blanks(code: str) -> str:
    code = _SPACES.sub(" ", _ROUND_MARKS.sub(r"\1", code))
    return _AFTER_COLON.sub(":", code).replace(";}", "}").replace("}", "}\n")
