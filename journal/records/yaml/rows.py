"""Parse tables, from a CSV file or from text in columns; each cell keeps its place."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence

from msgspec import Struct

from journal.errors import ContentError, Position, Problem
from journal.quantities.number import excerpt
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
_BARE = re.compile(r"[^,\n]*")


class _Cell(Struct, frozen=True):
    """The text of a cell as it is written, and its position."""

    text: str
    at: Position


def parse_csv(text: str, path: str) -> WrittenList:
    """Parse a CSV text (RFC 4180) with a header row to a list with one table per row.

    A row's table goes from column name to cell, without empty cells. Each key has the position
    of the column's name, each value its own. ContentError if the text is no such table.
    """
    items = WrittenList(Position(path))
    header: list[_Cell] = []
    for row in _csv_rows(text, path):
        if not any(cell.text for cell in row):
            continue
        if not header:
            header = _checked_header(row)
            continue
        if len(row) > len(header):
            hint = "Put a cell that holds a comma in quotes."
            raise content_error(row[len(header)].at, _too_many_cells(row, header), hint)
        if len(items) == MOST_ROWS:
            what = f"the table has more than {MOST_ROWS} rows"
            raise content_error(row[0].at, what, "Keep a file for each pour.")
        items.append(_row_table(header, row, ("",)))
    if not header:
        hint = "Name the columns in its first row."
        raise content_error(Position(path), "the file is empty", hint)
    return items


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
    if len(row) == 1 and re.search("[;\t]", row[0].text):
        what = f"the cells stand apart by {'semicolons' if ';' in row[0].text else 'tabs'}"
        raise content_error(row[0].at, what, "Save the file with commas between them.")
    for cell in row:
        if not cell.text:
            raise content_error(cell.at, "the first row does not name every column", "Name them.")
    duplicate = _duplicate_name(row)
    if duplicate is not None:
        raise ContentError((duplicate,))
    return row


def _csv_rows(text: str, path: str) -> Iterator[list[_Cell]]:
    """Yield the cells of each row, without the blanks around them; ContentError for bad quotes."""
    offset, line, line_start = 0, 1, 0
    row: list[_Cell] = []
    while offset < len(text):
        match = _QUOTED.match(text, offset)
        if match is not None:
            written, start = match[1].replace('""', '"'), match.start(1)
        else:
            match = _BARE.match(text, offset)
            assert match is not None
            written, start = match[0], offset
            if written.lstrip(" \t").startswith('"'):
                at = Position(path, line, text.index('"', offset) - line_start + 1)
                raise content_error(at, "a quote is opened and never closed", "Close the quote.")
        start += len(written) - len(written.lstrip())
        cell_line = line + text.count("\n", offset, start)
        cell_line_start = line_start if cell_line == line else text.rindex("\n", 0, start) + 1
        row.append(_Cell(written.strip(), Position(path, cell_line, start - cell_line_start + 1)))
        breaks = text.count("\n", offset, match.end())
        if breaks:
            line += breaks
            line_start = text.rindex("\n", offset, match.end()) + 1
        offset = match.end()
        after = text[offset : offset + 1]
        if after == ",":
            offset += 1
            if offset == len(text):
                row.append(_Cell("", Position(path, line, offset - line_start + 1)))
        elif after == "\n" or not after:
            yield row
            row = []
            offset += 1
            line += 1
            line_start = offset
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


def parse_columns(text: WrittenBlock, problems: list[Problem]) -> WrittenList:
    """Parse a text in columns to a list with one table per row, from column name to cell.

    The first line with text holds the column names; "-" is an empty cell. Cells are separated by
    two or more blanks, or by one where that is unambiguous; extra words at the end of a row
    belong to its last cell. A row with more cells than columns is skipped and added to
    ``problems``. If a column is named twice, that is added and the list is empty.
    """
    path, first_line = text.at.path, text.at.line
    items = WrittenList(text.at)
    header: list[_Cell] = []
    for offset, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        cells = [
            _Cell(match[0], Position(path, first_line + offset, match.start() + text.indent + 1))
            for match in (
                _cells_of_line(line, len(header)) if header else re.finditer(r"\S+", line)
            )
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
