"""A stylesheet as it goes into a notebook: without what only its writers read."""

from __future__ import annotations

import re

# What is quoted stands as it is: `content: " (p.\a0"`. Comments do not nest.
_COMMENT_OR_TEXT = re.compile(r"/\*.*?\*/|(\"(?:\\.|[^\"\\])*\")", re.DOTALL)
_COMMENT_LINES = re.compile(r"^\s*/\*.*?\*/\s*$", re.DOTALL | re.MULTILINE)
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


def compact_js(js: str) -> str:
    """A script without indents and without the lines that only its writers read.

    Takes:  js  a script whose comments have lines of their own, and whose texts end on their line
    """
    lines = (line.strip() for line in _COMMENT_LINES.sub("", js).splitlines())
    return "\n".join(line for line in lines if line and not line.startswith("//")) + "\n"


def _without_blanks(code: str) -> str:
    code = _SPACES.sub(" ", _ROUND_MARKS.sub(r"\1", code))
    return _AFTER_COLON.sub(":", code).replace(";}", "}").replace("}", "}\n")
