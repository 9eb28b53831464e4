"""Cells of CSV files and of text tables, each with its place."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.errors import Position, Problem
from journal.records.yaml.rows import parse_columns, parse_csv
from journal.records.yaml.tree import WrittenBlock, WrittenList


def cells(items: WrittenList) -> list[list[tuple[str, str, int, int]]]:
    return [[(key, str(c), c.at.line, c.at.column) for key, c in row.items()] for row in items]


def test_cells_of_a_csv_file_have_their_place() -> None:
    rows = parse_csv('"\n  a",b\n1,"\n\n x "\n', "x")
    assert cells(rows) == [[("a", "1", 3, 1), ("b", "x", 5, 2)]]
    assert rows[0].key_at("a") == Position("x", 2, 3)


def test_cells_of_a_csv_file_are_trimmed_and_unquoted() -> None:
    rows = parse_csv('bar, lip ,note\n"A1",  1 mm ,"é, ""x"""\n\nA2,,"two\nlines"\nA3\n', "x")
    assert cells(rows) == [
        [("bar", "A1", 2, 2), ("lip", "1 mm", 2, 8), ("note", 'é, "x"', 2, 15)],
        [("bar", "A2", 4, 1), ("note", "two\nlines", 4, 6)],
        [("bar", "A3", 6, 1)],
    ]
    # The key of a cell stands where its column is named.
    assert rows[1].key_at("note") == Position("x", 1, 11)
    assert rows[1].at == Position("x", 4, 1)


_CELL = st.text(st.sampled_from('ab1 ,"\n\té'), max_size=6)


@examples(200)
@given(rows=st.lists(st.lists(_CELL, min_size=2, max_size=2), min_size=1, max_size=4))
def test_a_csv_file_is_read_as_the_library_reads_it(rows: list[list[str]]) -> None:
    """Python's csv module, which follows RFC 4180, is the measure; blanks around cells go."""
    text = io.StringIO()
    csv.writer(text, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows([["k", "v"], *rows])
    expected = [
        {key: cell.strip() for key, cell in zip("kv", row, strict=True) if cell.strip()}
        for row in csv.reader(io.StringIO(text.getvalue()))
    ][1:]
    assert [dict(row) for row in parse_csv(text.getvalue(), "x")] == [
        row for row in expected if row
    ]


HEADER = "time   white   slate   did"


@pytest.mark.parametrize(
    ("line", "row"),
    [
        ("0:00   176 F   152 F   melted", ["0:00", "176 F", "152 F", "melted"]),
        ("0:00 176 F 152 F melted", ["0:00", "176 F", "152 F", "melted"]),
        ("0:00 176F 66.5 °C both melted", ["0:00", "176F", "66.5 °C", "both melted"]),
        ("0:00   -   152 F", ["0:00", None, "152 F"]),
        ("0:00 - 152 F - and so on", ["0:00", None, "152 F", "- and so on"]),
        ("0:00   176 F", ["0:00", "176 F"]),
        ("10 min   176 F   -   melted", ["10 min", "176 F", None, "melted"]),
        ("1 h 20 min   176 F   152 F", ["1 h 20 min", "176 F", "152 F"]),
        ("1 h 20 min 176 F 152 F", ["1 h 20 min", "176 F", "152 F"]),
        ("2:05 pm   176 F   152 F   x", ["2:05 pm", "176 F", "152 F", "x"]),
        ("2:05 pm 176 F 152 F x", ["2:05 pm", "176 F", "152 F", "x"]),
        ("0:00   -5 C   −2.5 C   cold", ["0:00", "-5 C", "−2.5 C", "cold"]),
        ("0:00 -5 C −2.5 C cold", ["0:00", "-5 C", "−2.5 C", "cold"]),
        ("0:00   131,5 F   152 F", ["0:00", "131,5 F", "152 F"]),
        ("0:00 131,5 F 152 F x", ["0:00", "131,5 F", "152 F", "x"]),
        ("0:00   131 mm   152 K   x", ["0:00", "131 mm", "152 K", "x"]),
        ("0:00   2 1/2 tsp   ½ oz   x", ["0:00", "2 1/2 tsp", "½ oz", "x"]),
        ("0:00   80 x 55 mm   4 lb 5 oz   x", ["0:00", "80 x 55 mm", "4 lb 5 oz", "x"]),
        ("0:00\t176 F\t152 F\tmelted", ["0:00", "176 F", "152 F", "melted"]),
    ],
)  # fmt: skip
def test_cells_of_a_text_table(line: str, row: list[str | None]) -> None:
    problems: list[Problem] = []
    table = parse_columns(WrittenBlock(f"{HEADER}\n{line}\n", Position("x", 7, 13), 6), problems)
    assert problems == []
    expected = {
        key: cell for key, cell in zip(HEADER.split(), row, strict=False) if cell is not None
    }
    (found,) = table
    assert found == expected
    for key, cell in found.items():
        at = found[key].at
        assert (at.line, found.key_at(key).line) == (9, 8)
        assert f"      {line}"[at.column - 1 :].startswith(cell)


def test_a_row_of_too_many_cells_is_told_and_left_out() -> None:
    problems: list[Problem] = []
    block = WrittenBlock("time  slate\n0:00  152 F\n0:08  140 F  scented\n0:09  130 F\n",
                  Position("x", 1, 1), 2)  # fmt: skip
    table = parse_columns(block, problems)
    assert [row["time"] for row in table] == ["0:00", "0:09"]
    assert [str(problem) for problem in problems] == [
        "x:4:16: the row has 3 cells, the first row only 2."
        ' Name the column; notes go into one called "did".'
    ]
