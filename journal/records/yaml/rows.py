"""Parse tables, from a CSV file or from text in columns; each cell keeps its place."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence

from msgspec import Struct

from journal.errors import ContentError, Position, Problem
from journal.quantities.number import excerpt
from journal.quantities.units import UNIT_BY_SPELLING
from journal.records.yaml.tree import (
    WrittenBlock,
    WrittenList,
    WrittenTable,
    WrittenText,
    content_error,
)

# More rows than a lifetime of bars: a file of another program.
MOST_ROWS = 20_000

_QUOTED = re.compile(r'[ \t]*"([^"]*(?:""[^"]*)*)"[ \t]*')
_QUOTED_BESIDE_TABS = re.compile(r' *"([^"]*(?:""[^"]*)*)" *')
_BARE = {separator: re.compile(rf"[^{separator}\n]*") for separator in ",;\t|"}
# Where these part the cells, a comma may stand for the decimal point.
_BESIDE_DECIMAL_COMMAS = (";", "\t")
# 1,5 or 1,25 mm; three digits behind a comma may also be thousands, and are left to be refused.
_DECIMAL_COMMA = re.compile(r"([-−]?[0-9]+),([0-9]{1,2}|[0-9]{4,})(?![0-9.,])( ?[^0-9,]*)")
_PARTED_BY = {",": "comma", ";": "semicolon", "\t": "tab", "|": "stroke"}
_RULE = re.compile(":?-+:?")
_TAB_BETWEEN = re.compile(r"[^,\s] *\t+ *\S")
_COMMA_AND_UNIT = re.compile(r", ?([^\s,]+)")


class _Cell(Struct, frozen=True):
    """The text of a cell as it is written, and its position."""

    text: str
    at: Position


def parse_csv(text: str, path: str, problems: list[Problem] | None = None) -> WrittenList:
    """Parse a CSV text (RFC 4180) with a header row to a list with one table per row.

    Commas part the cells, or what the header has in their stead: semicolons, tabs or strokes. A
    row's table goes from column name to cell, without empty cells. Each key has the position of
    the column's name, each value its own. ContentError if the text is no such table. With
    ``problems``, a note is added there where a comma was read as the decimal point.
    """
    separator = _separator_of(next((line for line in text.split("\n") if line.strip()), ""))
    items, _ = _parted_rows(_csv_rows(text, path, separator), separator, path, ("",), problems)
    return items


def _separator_of(header: str) -> str:
    """What parts the cells of a table with this first line, where blanks do not."""
    bare = re.sub(r'"[^"]*"', "x", header)
    for separator in "|;":
        if separator in bare:
            return separator
    return "\t" if _TAB_BETWEEN.search(bare) else ","


def _parted_rows(
    rows: Iterable[list[_Cell]], separator: str, path: str, empty: Collection[str],
    problems: list[Problem] | None,
) -> tuple[WrittenList, list[_Cell]]:  # fmt: skip
    """The tables of the rows below a header, and the header; ContentError as in ``parse_csv``."""
    items = WrittenList(Position(path))
    header: list[_Cell] = []
    commas: list[_Cell] = []
    for row in rows:
        if separator == "|":
            row = _without_outer_strokes(row, len(header))
        if not any(cell.text for cell in row):
            continue
        if not header:
            header = _checked_header(row)
            continue
        if separator == "|" and all(_RULE.fullmatch(cell.text) for cell in row):
            continue
        if len(row) > len(header):
            hint = f"Put a cell that holds a {_PARTED_BY[separator]} in quotes."
            raise content_error(row[len(header)].at, _too_many_cells(row, header), hint)
        if len(items) == MOST_ROWS:
            what = f"the table has more than {MOST_ROWS} rows"
            raise content_error(row[0].at, what, "Keep a file for each pour.")
        if separator in _BESIDE_DECIMAL_COMMAS:
            with_points = [_with_decimal_point(cell) for cell in row]
            commas += (old for old, new in zip(row, with_points, strict=True) if old is not new)
            row = with_points
        items.append(_row_table(header, row, empty))
    if not header:
        hint = "Name the columns in its first row."
        raise content_error(Position(path), "the file is empty", hint)
    if commas and problems is not None:
        read = _with_decimal_point(commas[0]).text
        what = f"{excerpt(commas[0].text)} is read as {read}: a comma is the decimal point here"
        hint = "Write a point to be sure."
        problems.append(Problem(commas[0].at, what, hint, warning=True))
    return items, header


def _without_outer_strokes(row: list[_Cell], columns: int) -> list[_Cell]:
    """A row parted by strokes without the empty cells that strokes at its ends make."""
    if len(row) > 1 and not row[0].text:
        row = row[1:]
    if not row[-1].text and len(row) > max(columns, 1):
        row = row[:-1]
    return row


def _with_decimal_point(cell: _Cell) -> _Cell:
    """The cell with a point for the comma of its number; the cell itself if there is none."""
    match = _DECIMAL_COMMA.fullmatch(cell.text)
    return cell if match is None else _Cell(f"{match[1]}.{match[2]}{match[3]}", cell.at)


def _too_many_cells(row: Sequence[_Cell], header: Sequence[_Cell]) -> str:
    return f"the row has {len(row)} cells, the first row only {len(header)}"


def _row_table(
    header: Iterable[_Cell], cells: Sequence[_Cell], empty: Collection[str]
) -> WrittenTable:
    """A table from column name to cell; cells whose text is one of ``empty`` are left out."""
    table = WrittenTable(cells[0].at)
    for name, cell in zip(header, cells, strict=False):
        if cell.text not in empty:
            table.put(name.text, WrittenText(cell.text, cell.at), name.at)
    return table


def _duplicate_name(header: Sequence[_Cell]) -> Problem | None:
    """The problem that two columns have the same name; None if no two have."""
    names = [cell.text for cell in header]
    for number, cell in enumerate(header):
        if cell.text in names[:number]:
            what = f"two columns are called {excerpt(cell.text)}"
            return Problem(cell.at, what, "Rename one.")
    return None


def _checked_header(row: list[_Cell]) -> list[_Cell]:
    """Check the first row of a CSV file and give it back; ContentError if it is no header."""
    for cell in row:
        if not cell.text:
            raise content_error(cell.at, "the first row does not name every column", "Name them.")
    duplicate = _duplicate_name(row)
    if duplicate is not None:
        raise ContentError((duplicate,))
    return row


def _csv_rows(
    text: str, path: str, separator: str, first_line: int = 1, indent: int = 0
) -> Iterator[list[_Cell]]:
    """Yield the cells of each row, without the blanks around them; ContentError for bad quotes.

    ``first_line`` is the line of the file that the text begins on, ``indent`` how far it is set in.
    """
    offset, line, line_start = 0, first_line, -indent
    quoted = _QUOTED_BESIDE_TABS if separator == "\t" else _QUOTED
    bare = _BARE[separator]
    row: list[_Cell] = []
    while offset < len(text):
        match = quoted.match(text, offset)
        if match is not None:
            written, start = match[1].replace('""', '"'), match.start(1)
        else:
            match = bare.match(text, offset)
            assert match is not None
            written, start = match[0], offset
            if written.lstrip(" \t").startswith('"'):
                at = Position(path, line, text.index('"', offset) - line_start + 1)
                raise content_error(at, "a quote is opened and never closed", "Close the quote.")
        start += len(written) - len(written.lstrip())
        cell_line = line + text.count("\n", offset, start)
        cell_line_start = (
            line_start if cell_line == line else text.rindex("\n", 0, start) + 1 - indent
        )
        row.append(_Cell(written.strip(), Position(path, cell_line, start - cell_line_start + 1)))
        breaks = text.count("\n", offset, match.end())
        if breaks:
            line += breaks
            line_start = text.rindex("\n", offset, match.end()) + 1 - indent
        offset = match.end()
        after = text[offset : offset + 1]
        if after == separator:
            offset += 1
            if offset == len(text):
                row.append(_Cell("", Position(path, line, offset - line_start + 1)))
        elif after == "\n" or not after:
            yield row
            row = []
            offset += 1
            line += 1
            line_start = offset - indent
        else:
            what = "more text follows after a cell whose quote is closed"
            hint = 'Put the whole cell in quotes; inside them, write " twice.'
            raise content_error(Position(path, line, offset - line_start + 1), what, hint)
    if row:
        yield row


# A number with the unit or half of the day that follows it is one cell, as in "176 F" or
# "1 h 20 min".
_NUMERIC = (
    r"[-−+]?[\d½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞][\d.,:/½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞'’]*"
    r"(?: ?[°º˚]? ?[FCfcK](?!\S)| (?:s|min|h|a\.?m\.?|p\.?m\.?)(?!\S))?"
    r"(?: [\d½¼¾]+ (?:min|s)(?!\S))?"
)
_CELL = re.compile(rf"{_NUMERIC}(?!\S)|\S+")
_WORDS = re.compile(r"\S.*\S|\S")
_APART = re.compile(r"\S+(?: \S+)*")
# A number or a dash behind a blank begins another cell, unless it carries on what is before it.
_NEXT_CELL = re.compile(
    r"(?<! h)(?<! lb)(?<! x)(?<! to) (?:[-−+]?[\d½⅓⅔¼¾⅛⅜⅝⅞](?!\d*/\d)|[-–—](?: |$))"
)
_ABSENT = ("-", "–", "—")


# A name of a column, with the unit that stands one blank behind it, as in "lip mm", "Lip, mm".
_UNIT = "|".join(map(re.escape, sorted(UNIT_BY_SPELLING, key=len, reverse=True)))
_TIME_UNIT = "|".join(
    spelling for spelling, unit in UNIT_BY_SPELLING.items() if unit.dimension == "duration"
)
_NAME = re.compile(
    rf"time(?:,? [(\[]?(?:{_TIME_UNIT})[)\]]?)?(?!\S)|\S+(?: [(\[]?(?:{_UNIT})[)\]]?(?!\S))?"
)


def _separator_of_columns(header: str) -> str:
    """What parts the cells of a text table with this first line; empty for blanks."""
    separator = _separator_of(header)
    if separator != "," or header.lstrip().startswith('"'):
        return separator
    rest = _COMMA_AND_UNIT.sub(
        lambda match: "" if match[1] in UNIT_BY_SPELLING else match[0], header
    )
    return "," if "," in rest else ""


def parse_columns(text: WrittenBlock, problems: list[Problem]) -> WrittenList:
    """Parse a text in columns to a list with one table per row, from column name to cell.

    The first line with text holds the column names; "-" is an empty cell. Cells are separated by
    two or more blanks, or by one where that is unambiguous, or by strokes, semicolons, tabs or
    commas if the first line has these; a unit stays with the name before it. Extra words at the
    end of a row belong to its last cell. A row with more cells than columns is skipped and added to
    ``problems``. If a column is named twice, that is added and the list is empty.
    """
    path, first_line = text.at.path, text.at.line
    items = WrittenList(text.at)
    header: list[_Cell] = []
    separator = _separator_of_columns(next((li for li in text.split("\n") if li.strip()), ""))
    if separator:
        try:
            rows = _csv_rows(text.rstrip("\n"), path, separator, first_line + 1, text.indent)
            return _parted_rows(rows, separator, path, (*_ABSENT, ""), problems)[0]
        except ContentError as error:
            problems.extend(error.problems)
            return items
    for offset, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        cells = [
            _Cell(match[0], Position(path, first_line + offset, match.start() + text.indent + 1))
            for match in (_cells_of_line(line, len(header)) if header else _NAME.finditer(line))
        ]
        if not header:
            header, duplicate = cells, _duplicate_name(cells)
            if duplicate is not None:
                problems.append(duplicate)
                return items
        elif len(cells) > len(header):
            hint = 'Name the column; notes go into one called "did".'
            problems.append(Problem(cells[len(header)].at, _too_many_cells(cells, header), hint))
        else:
            items.append(_row_table(header, cells, _ABSENT))
    return items


def _cells_of_line(line: str, columns: int) -> Iterator[re.Match[str]]:
    """Find the cells of a line of a text in ``columns`` columns; at most one cell too many."""
    spaced = list(_APART.finditer(line))
    if len(spaced) <= columns and not any(_NEXT_CELL.search(cell[0]) for cell in spaced[:-1]):
        last = spaced[-1][0]
        if len(spaced) == columns or not _NEXT_CELL.search(last):
            yield from spaced
            return
    at = 0
    for number in range(columns + 1):
        cell = _CELL.search(line, at)
        if cell is None:
            return
        if number == columns - 1 and not re.fullmatch(_NUMERIC, cell[0]):
            cell = _WORDS.search(line, at)
            assert cell is not None
        yield cell
        at = cell.end()
