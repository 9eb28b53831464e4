"""What the YAML library's complaints mean to a maker, and where the cause stands."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import yaml

from journal.errors import ContentError, Position
from journal.quantities.number import quoted
from journal.records.written import refused

Mark = tuple[int, int]


class Meaning(NamedTuple):
    """What is wrong, how to mend it, and whether the place where the thing began tells more."""

    what: str
    mend: str
    at_start: bool = False


_LINE_UP = "Line it up with its neighbours."
_IN_QUOTES = "Put the value in quotes."
_WRITE_OUT = "Write the value out."
_DIRECTIVE = Meaning(
    "a line that begins with % is a directive of YAML, and none is needed", "Take the line away."
)
_DOCUMENTS = "Keep one document in a file."
# What does a part of a complaint mean? The first that is found counts.
_MEANINGS: tuple[tuple[str, Meaning], ...] = (
    ("tab character", Meaning("a tab stands where only spaces may", "Put spaces in its place.")),
    ("unknown escape", Meaning(
        "in double quotes, {it} begins a character written by its code, and there is none such",
        "Write the backslash twice, or put the value in single quotes.")),
    ("hexdecimal number", Meaning(
        "in double quotes, a character written by its code lacks some of its digits",
        "Write the backslash twice, or put the value in single quotes.")),
    ("Unicode character escape", Meaning(
        "in double quotes, a character is written by a code that no character has",
        "Write the character itself.")),
    ("quoted scalar", Meaning("a quote is opened and never closed", "Close the quote.", True)),
    ("block sequence entries are not allowed", Meaning(
        "a list begins on the line of its key", "Begin each entry on a line of its own.")),
    ("mapping keys are not allowed", Meaning(
        "the question mark cannot begin a value here", _IN_QUOTES)),
    ("block scalar", Meaning(
        "a block of lines begins with | or > alone on the line",
        "Write the text on the lines below it, indented.", True)),
    ("while scanning an alias", Meaning("* cannot begin a value", _IN_QUOTES, True)),
    ("while scanning an anchor", Meaning("& cannot begin a value", _IN_QUOTES, True)),
    ("while scanning a tag", Meaning("! cannot begin a value", _IN_QUOTES, True)),
    ("while parsing a tag", Meaning("! cannot begin a value", _IN_QUOTES, True)),
    ("undefined tag handle", Meaning("! cannot begin a value", _IN_QUOTES)),
    ("cannot start any token", Meaning("{it} cannot begin a value", _IN_QUOTES)),
    ("expected ',' or ']'", Meaning(
        "a list in brackets is not closed", 'Close it with "]".', True)),
    ("expected ',' or '}'", Meaning(
        "a mapping in braces is not closed", 'Close it with "}".', True)),
    ("could not find expected ':'", Meaning(
        "a colon is missing after a key", 'Write "key: value".', True)),
    ("expected '-' indicator", Meaning(
        "the indentation does not fit the list above", _LINE_UP)),
    ("did not find expected key", Meaning(
        "the indentation does not fit the lines above", _LINE_UP)),
    ("expected <document start>", Meaning(
        "the indentation does not fit the lines above", _LINE_UP)),
    ("document indicator", Meaning("a second document begins here", _DOCUMENTS)),
    ("directive", _DIRECTIVE),
    ("incompatible YAML", _DIRECTIVE),
    ("nesting depth", Meaning("too many levels stand inside each other", "Flatten them.")),
)  # fmt: skip


def yaml_problem(
    error: yaml.YAMLError, text: str, path: str, first_line: int, parser: Callable[[str], Any]
) -> ContentError:
    """The problem that ``error`` reports of ``text``, in a maker's words.

    ``parser`` makes a parser of a text, to look again at what came before.
    """
    lines = text.split("\n")
    said = f"{getattr(error, 'context', None) or ''} {getattr(error, 'problem', None) or error}"
    mark = _of(getattr(error, "problem_mark", None))
    start = _of(getattr(error, "context_mark", None)) or mark
    mark, meaning = _meant(said, mark or (0, 0), start or (0, 0), lines, text, parser)
    line, column = mark
    it = lines[line][column : column + 1] if line < len(lines) else ""
    return refused(
        Position(path, line + first_line, column + 1),
        meaning.what.replace("{it}", quoted(it) if it else "this"),
        meaning.mend,
    )


def _of(mark: Any) -> Mark | None:
    return None if mark is None else (mark.line, mark.column)


def _meant(
    said: str, mark: Mark, start: Mark, lines: list[str], text: str, parser: Callable[[str], Any]
) -> tuple[Mark, Meaning]:
    line, column = mark
    written = lines[line] if line < len(lines) else ""
    opened = _opened_before(text, line, parser)
    if opened is not None:
        what = f"a quote is opened here and closed only {line - opened[0]} lines further down"
        return opened, Meaning(what.replace(" 1 lines", " 1 line"), "Close the quote.")
    if written[column : column + 1] == "\t":
        return mark, _MEANINGS[0][1]
    if "mapping values are not allowed" in said:
        return _second_colon(mark, lines)
    if "expected ',' or" in said and written[column : column + 1] == ":" and line == start[0]:
        return mark, Meaning(
            "a second colon makes this entry unclear",
            "Put a comma between entries, and a value that holds a colon in quotes.",
        )
    if "did not find expected key" in said and written[:column].strip():
        return mark, Meaning(
            "more text follows after a value that has ended",
            "Put the whole value in quotes; inside single quotes, write ' twice.",
        )
    if "expected node content" in said:
        if not written[column:].strip():
            return _last_bracket(lines, line), Meaning(
                "a bracket or a brace is not closed", "Close it."
            )
        return mark, Meaning("{it} cannot begin a value", _IN_QUOTES)
    for part, meaning in _MEANINGS:
        if part in said:
            return (start if meaning.at_start else mark), meaning
    return mark, Meaning(f"this is no YAML ({' '.join(said.split())})", "Mend the line.")


def _second_colon(mark: Mark, lines: list[str]) -> tuple[Mark, Meaning]:
    line, column = mark
    before = lines[line][:column]
    if ": " in before or before.lstrip(" ").startswith("- "):
        return mark, Meaning(
            "a second colon makes this line unclear", 'Put the value in quotes: key: "a: b".'
        )
    above = next((n for n in range(line - 1, -1, -1) if lines[n].strip()), None)
    own = len(before) - len(before.lstrip(" "))
    if above is None:
        return mark, Meaning("the key is too long", "Write a shorter one.")
    set_in = len(lines[above]) - len(lines[above].lstrip(" "))
    if own > set_in:
        return (line, own), Meaning("the indentation does not fit the lines above", _LINE_UP)
    return (above, set_in), Meaning(
        "a colon with a blank after it is missing", 'Write "key: value".'
    )


def _last_bracket(lines: list[str], line: int) -> Mark:
    for number in range(min(line, len(lines) - 1), -1, -1):
        column = max(lines[number].rfind("["), lines[number].rfind("{"))
        if column >= 0:
            return number, column
    return 0, 0


def _opened_before(text: str, line: int, parser: Callable[[str], Any]) -> Mark | None:
    """Where the quoted text began that ends on ``line`` and began on a line before it."""
    opened = None
    try:
        events = parser(text)
        event: Any
        while (event := events.get_event()) is not None:
            if (
                getattr(event, "style", None) in ("'", '"')
                and event.start_mark.line < event.end_mark.line == line
            ):
                opened = _of(event.start_mark)
    except yaml.YAMLError:
        pass
    return opened
