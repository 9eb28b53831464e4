"""Tables as CSV text in which a spreadsheet finds no formula to run."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

from journal.errors import FigureError
from journal.figures.common.exact import SIGNIFICANT_DIGITS

Cell = str | int | float | Decimal | Fraction | bool | date | None

# A cell that starts with one of these is run as a formula: = + - @ in every
# program, their full-width forms in some; a tab or a line break before them is
# skipped on opening. Source: OWASP, CSV injection (from memory).
_RUNS = "=+-@＝＋－＠"
_STARTS_TO_RUN = re.compile(rf"^\s*[{re.escape(_RUNS)}]")
# Where the list separator is a semicolon, a cell may be split there and its
# second half run.
_RUNS_IF_SPLIT = re.compile(rf"(;\s*)(?=[{re.escape(_RUNS)}])")
_BREAKS = re.compile(r"[\t\r\n\v\f\x1c-\x1e\x85\u2028\u2029]+")
# A text that contains one of these is put between quotation marks (RFC 4180).
_QUOTED_IF = re.compile(r'[",;]|^\s|\s$')


def safe_cell(text: str) -> str:
    """A text that a spreadsheet shows as it is and never runs.

    A text that would start a formula gets an apostrophe before it, the sign by
    which spreadsheets know a text; a line break or a tab becomes a blank, so
    that one thing stays one line and one cell.

    Takes:  text  any
    Gives:  text that starts with none of = + - @
    Source: common practice (OWASP, CSV injection, from memory)
    Checked: "=1+1" gives "'=1+1"
    """
    one_line = _BREAKS.sub(" ", text)
    unsplit = _RUNS_IF_SPLIT.sub(r"\1'", one_line)
    return f"'{unsplit}" if _STARTS_TO_RUN.match(unsplit) else unsplit


def plain_number(value: int | float | Decimal | Fraction) -> str:
    """A number in plain decimals with a point, to 12 significant digits.

    Takes:  value  finite
    Gives:  text without exponent, without a final zero after the point; a
            Decimal keeps its own places (money)
    Fails:  FigureError if value is not finite
    Source: definition
    Checked: 0.1 + 0.2 gives "0.3", Decimal("1.50") gives "1.50"
    """
    if isinstance(value, int):
        return str(value)
    if not math.isfinite(value):
        raise FigureError(f"{value} cannot stand in a table")
    if isinstance(value, Decimal):
        return format(value, "f")
    text = format(Decimal(f"{float(value):.{SIGNIFICANT_DIGITS}g}"), "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def cell_text(cell: Cell, decimal: str = ".") -> str:
    """One cell of a table as text.

    Takes:  cell     text, number, date, yes/no, or None for what is not known
            decimal  the sign before the decimals of a number
    Gives:  text: numbers plain (a number below 0 keeps its sign: it is no
            formula), yes or no, a date as 2026-04-18, nothing for None
    Fails:  FigureError if a number is not finite
    Source: definition
    Checked: -1.5 gives "-1.5", "-1.5" gives "'-1.5"
    """
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, (int, float, Decimal, Fraction)):
        return plain_number(cell).replace(".", decimal)
    if isinstance(cell, date):
        return cell.isoformat()
    return safe_cell(cell)


def table_text(columns: Sequence[str], rows: Sequence[Sequence[Cell]], decimal: str = ".") -> str:
    """A table as CSV text: a line of column names, then one line for each row.

    Comma, quotation marks where they are needed, lines ended by CR LF (RFC
    4180); written out as UTF-8.

    Takes:  columns  names with their unit (mass_g, share_percent), none twice
            rows     as many cells each as there are columns
            decimal  "." or ","; with a comma in numbers a semicolon parts the cells, as
                     spreadsheets have it where a comma is the decimal sign
    Gives:  text
    Fails:  FigureError if a name is empty or there twice, a row has another
            length, or a number is not finite
    Source: RFC 4180
    Checked: columns a, b and the row 1, "x,y" give 'a,b\\r\\n1,"x,y"\\r\\n'
    """
    if not columns or len(set(columns)) != len(columns) or not all(columns):
        raise FigureError(f"a table needs column names, each once; these are {list(columns)}")
    lines: list[Sequence[Cell]] = [columns]
    for place, row in enumerate(rows, start=1):
        if len(row) != len(columns):
            raise FigureError(f"row {place} has {len(row)} cells for {len(columns)} columns")
        lines.append(row)
    between = ";" if decimal == "," else ","
    return "".join(
        between.join(_quoted_if_needed(cell, decimal) for cell in line) + "\r\n" for line in lines
    )


def _quoted_if_needed(cell: Cell, decimal: str) -> str:
    """A cell as text, between quotation marks if CSV needs them; a number is never quoted."""
    text = cell_text(cell, decimal)
    if not isinstance(cell, str) or not _QUOTED_IF.search(text):
        return text
    return '"' + text.replace('"', '""') + '"'
