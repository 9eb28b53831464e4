"""Errors of the YAML library told in a maker's words, at the place of their likely cause."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from journal.errors import ContentError, Position
from journal.quantities.number import excerpt
from journal.records.yaml.tree import content_error

Mark = tuple[int, int]


class FaultMeaning(NamedTuple):
    """An error in a maker's words.

    ``at_start``: report it where the faulty construct began, not where the library stopped.
    """

    what: str
    hint: str
    at_start: bool = False


_LINE_UP = "Line it up with its neighbours."
_IN_QUOTES = "Put the value in quotes."
# A line that is an entry of a list of lines.
_LIST_LINE = re.compile(r" *-(?: |$)")


def _listed_meaning(complaint: str) -> FaultMeaning | None:
    """The meaning of the first entry of ``faults.yaml`` that the complaint contains; or None."""
    text = Path(__file__).with_name("faults.yaml").read_text("utf-8")
    for entry in yaml.load(text, yaml.BaseLoader):
        if entry["part"] in complaint:
            return FaultMeaning(entry["what"], entry["hint"], "at_start" in entry)
    return None


def yaml_problem(
    error: yaml.YAMLError, text: str, path: str, first_line: int, parser: Callable[[str], Any]
) -> ContentError:
    """Translate an error of the YAML library about ``text`` to a problem in a maker's words.

    ``first_line`` is the line of the file that the text begins on. ``parser`` makes a parser of
    a text; with it the text is parsed again up to the error.
    """
    lines = text.split("\n")
    problem = getattr(error, "problem", None) or error
    complaint = f"{getattr(error, 'context', None) or ''} {problem}"
    mark = _line_and_column(getattr(error, "problem_mark", None))
    start = _line_and_column(getattr(error, "context_mark", None)) or mark
    mark, meaning = _likely_cause(complaint, mark or (0, 0), start or (0, 0), lines, text, parser)
    line, column = mark
    it = lines[line][column : column + 1] if line < len(lines) else ""
    what = meaning.what.replace("{it}", excerpt(it) if it else "this")
    return content_error(Position(path, line + first_line, column + 1), what, meaning.hint)


def _line_and_column(mark: Any) -> Mark | None:
    return None if mark is None else (mark.line, mark.column)


def _likely_cause(
    complaint: str, mark: Mark, start: Mark, lines: list[str], text: str,
    parser: Callable[[str], Any],
) -> tuple[Mark, FaultMeaning]:  # fmt: skip
    """Find the likeliest cause of a complaint: its line and column from 0, and its meaning.

    ``mark`` is where the library stopped, ``start`` where the faulty construct began.
    """
    line, column = mark
    written = lines[line] if line < len(lines) else ""
    opened = _start_of_long_quote(text, line, parser)
    if opened is not None:
        what = f"a quote is opened here and closed only {line - opened[0]} lines further down"
        return opened, FaultMeaning(what.replace(" 1 lines", " 1 line"), "Close the quote.")
    if written[column : column + 1] == "\t":
        return mark, FaultMeaning("a tab stands where only spaces may", "Put spaces in its place.")
    if "mapping values are not allowed" in complaint:
        return _second_colon(mark, lines)
    if "expected ',' or" in complaint and written[column : column + 1] == ":" and line == start[0]:
        return mark, FaultMeaning(
            "a second colon makes this entry unclear",
            "Put a comma between entries, and a value that holds a colon in quotes.",
        )
    if "did not find expected key" in complaint and written[:column].strip():
        return mark, FaultMeaning(
            "more text follows after a value that has ended",
            "Put the whole value in quotes; inside single quotes, write ' twice.",
        )
    if "expected node content" in complaint:
        if not written[column:].strip():
            return _last_bracket(lines, line), FaultMeaning(
                "a bracket or a brace is not closed", "Close it."
            )
        opened = _start_of_open_flow(text, parser) if _LIST_LINE.match(written) else None
        if opened is not None and not written[:column].strip():
            return opened, _left_open_before_list(lines, opened)
        return mark, FaultMeaning("{it} cannot begin a value", _IN_QUOTES)
    meaning = _listed_meaning(complaint)
    if meaning is not None:
        return (start if meaning.at_start else mark), meaning
    return mark, FaultMeaning(f"this is no YAML ({' '.join(complaint.split())})", "Mend the line.")


def _left_open_before_list(lines: list[str], opened: Mark) -> FaultMeaning:
    """Explain a bracket or brace that is open where a line begins a list."""
    line, column = opened
    name, closing = ("bracket", "]") if lines[line][column] == "[" else ("brace", "}")
    nothing_in_it = not lines[line][column + 1 :].partition(" #")[0].strip()
    return FaultMeaning(
        f'a {name} is opened here, and lines that begin with "-" follow before it is closed',
        f"Take the {name} away: such lines need none."
        if nothing_in_it
        else f'Close it with "{closing}".',
    )


def _second_colon(mark: Mark, lines: list[str]) -> tuple[Mark, FaultMeaning]:
    """Explain a colon where none may stand: a second one, bad indentation, or a blank missing."""
    line, column = mark
    before = lines[line][:column]
    if ": " in before or before.lstrip(" ").startswith("- "):
        return mark, FaultMeaning(
            "a second colon makes this line unclear", 'Put the value in quotes: key: "a: b".'
        )
    above = next((n for n in range(line - 1, -1, -1) if lines[n].strip()), None)
    depth = len(before) - len(before.lstrip(" "))
    if above is None:
        return mark, FaultMeaning("the key is too long", "Write a shorter one.")
    depth_above = len(lines[above]) - len(lines[above].lstrip(" "))
    if depth > depth_above:
        return (line, depth), FaultMeaning("the indentation does not fit the lines above", _LINE_UP)
    return (above, depth_above), FaultMeaning(
        "a colon with a blank after it is missing", 'Write "key: value".'
    )


def _last_bracket(lines: list[str], line: int) -> Mark:
    """The place of the last opening bracket or brace on or above a line."""
    for number in range(min(line, len(lines) - 1), -1, -1):
        column = max(lines[number].rfind("["), lines[number].rfind("{"))
        if column >= 0:
            return number, column
    return 0, 0


def _start_of_open_flow(text: str, parser: Callable[[str], Any]) -> Mark | None:
    """The start of the innermost bracket or brace that is open where the parser stops; or None."""
    opened: list[Mark | None] = []
    try:
        events = parser(text)
        event: Any
        while (event := events.get_event()) is not None:
            if isinstance(event, yaml.CollectionStartEvent):
                opened.append(_line_and_column(event.start_mark) if event.flow_style else None)
            elif isinstance(event, yaml.CollectionEndEvent):
                opened.pop()
    except yaml.YAMLError:
        pass
    return opened[-1] if opened else None


def _start_of_long_quote(text: str, line: int, parser: Callable[[str], Any]) -> Mark | None:
    """The start of a quoted text that ends on ``line`` and began on an earlier one; else None."""
    opened = None
    try:
        events = parser(text)
        event: Any
        while (event := events.get_event()) is not None:
            if (
                getattr(event, "style", None) in ("'", '"')
                and event.start_mark.line < event.end_mark.line == line
            ):
                opened = _line_and_column(event.start_mark)
    except yaml.YAMLError:
        pass
    return opened
