"""CSV that a spreadsheet can open: nothing runs, and everything reads back."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.common.tables import Cell, cell_text, plain_number, safe_cell, table_text

RUNS = tuple("=+-@")

CELLS_ON_PAPER: list[tuple[Cell, str]] = [
    ("=1+1", "'=1+1"),
    ("+44 20", "'+44 20"),
    ("-1.5", "'-1.5"),
    ("@home", "'@home"),
    ("\t=cmd", "' =cmd"),
    ("  =cmd", "'  =cmd"),
    ("\r\n=cmd", "' =cmd"),
    ("＝1+1", "'＝1+1"),
    ("a;=cmd", "a;'=cmd"),
    ("a\t@cmd", "a @cmd"),
    ("kelp on slate", "kelp on slate"),
    ("3 - 4", "3 - 4"),
    ("two\nlines", "two lines"),
    (-1.5, "-1.5"),
    (-0.0, "0"),
    (0.1 + 0.2, "0.3"),
    (1e-7, "0.0000001"),
    (1234567.0, "1234567"),
    (100, "100"),
    (Decimal("1.50"), "1.50"),
    (Fraction(1, 3), "0.333333333333"),
    (True, "yes"),
    (False, "no"),
    (None, ""),
    (date(2026, 4, 18), "2026-04-18"),
]


@pytest.mark.parametrize(("cell", "text"), CELLS_ON_PAPER)
def test_cells_on_paper(cell: Cell, text: str) -> None:
    assert cell_text(cell) == text


def test_a_table_on_paper() -> None:
    text = table_text(
        ["design", "base_g", "price_eur"],
        [["kelp, on slate", 612.0, Decimal("5.10")], ['the "=1" one', None, Decimal("0.00")]],
    )
    assert text == (
        'design,base_g,price_eur\r\n"kelp, on slate",612,5.10\r\n"the ""=1"" one",,0.00\r\n'
    )


@given(st.text())
def test_no_text_starts_to_run(text: str) -> None:
    cell = safe_cell(text)
    assert not cell.strip().startswith(RUNS)
    assert not any(part.strip().startswith(RUNS) for part in cell.split(";"))
    assert len(cell.splitlines()) <= 1
    assert "\t" not in cell


@given(st.lists(st.lists(st.one_of(st.text(), st.floats(-1e12, 1e12)), min_size=3, max_size=3)))
def test_what_is_written_is_read_back(rows: list[list[Cell]]) -> None:
    text = table_text(["one", "two_g", "three"], rows)
    read = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert read[0] == ["one", "two_g", "three"]
    assert read[1:] == [[cell_text(cell) for cell in row] for row in rows]
    text.encode("utf-8")


@given(st.floats(-1e15, 1e15))
def test_numbers_read_back_to_twelve_digits(value: float) -> None:
    assert float(plain_number(value)) == pytest.approx(value, rel=1e-11)


def test_what_makes_no_sense_is_refused() -> None:
    for call, said in (
        (lambda: cell_text(float("nan")), "nan cannot stand in a table"),
        (lambda: cell_text(float("-inf")), "-inf cannot stand in a table"),
        (lambda: cell_text(Decimal("NaN")), "NaN cannot stand in a table"),
        (lambda: table_text([], []), "a table needs column names, each once; these are"),
        (lambda: table_text(["a", "a"], []), "a table needs column names, each once; these are"),
        (lambda: table_text(["a", ""], []), "a table needs column names, each once; these are"),
        (lambda: table_text(["a", "b"], [["only one"]]), "row 1 has 1 cells for 2 columns"),
    ):
        with pytest.raises(FigureError, match=said):
            call()
