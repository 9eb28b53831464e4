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


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("bar;lip mm;note\nA1;1,5;a, b\n", [{"bar": "A1", "lip mm": "1.5", "note": "a, b"}]),
        ("bar\tLip, mm\nA1\t0,25\n", [{"bar": "A1", "Lip, mm": "0.25"}]),
        ('bar\tnote\nA1\t"a\tb"\n', [{"bar": "A1", "note": "a\tb"}]),
        ("| bar | lip |\n|-----|:---:|\n| A1  | 1 mm |\n", [{"bar": "A1", "lip": "1 mm"}]),
        ("bar|lip\nA1|1 mm\n", [{"bar": "A1", "lip": "1 mm"}]),
        ("bar,\tlip\nA1,\t1 mm\n", [{"bar": "A1", "lip": "1 mm"}]),
        ('"a;b",lip\nA1,1 mm\n', [{"a;b": "A1", "lip": "1 mm"}]),
        # Three digits behind a comma may be thousands; a list of numbers is none.
        ("bar;weight;tint\nA1;1,500 g;62,3,10\n",
         [{"bar": "A1", "weight": "1,500 g", "tint": "62,3,10"}]),
        # Commas part these cells.
        ("bar,lip\nA1,\"1,5\"\n", [{"bar": "A1", "lip": "1,5"}]),
    ],
)  # fmt: skip
def test_cells_parted_by_other_marks(text: str, rows: list[dict[str, str]]) -> None:
    assert [dict(row) for row in parse_csv(text, "x")] == rows


def test_a_decimal_comma_is_said_once_in_its_place() -> None:
    notes: list[Problem] = []
    parse_csv("bar;lip\nA1;1,5 mm\nA2;2,5 mm\n", "x", notes)
    assert [(note.warning, str(note)) for note in notes] == [
        (True, 'x:2:4: warning: "1,5 mm" is read as 1.5 mm: a comma is the decimal point here.'
               " Write a point to be sure."),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("header", "line", "row"),
    [
        ("bar  lip mm  keep", "A1  1.5  yes", {"bar": "A1", "lip mm": "1.5", "keep": "yes"}),
        ("bar  Lip, mm  keep", "A1  1.5  yes", {"bar": "A1", "Lip, mm": "1.5", "keep": "yes"}),
        ("bar lip_mm keep", "A1 1.5 yes", {"bar": "A1", "lip_mm": "1.5", "keep": "yes"}),
        ("bar, lip, keep", "A1, -, yes", {"bar": "A1", "keep": "yes"}),
        ("bar;lip;keep", "A1;1,5 mm;yes", {"bar": "A1", "lip": "1.5 mm", "keep": "yes"}),
        ("| bar | lip |", "| A1 | - |", {"bar": "A1"}),
        ("bar\tlip mm", "A1\t1.5", {"bar": "A1", "lip mm": "1.5"}),
        ("time min  slate F", "12  140", {"time min": "12", "slate F": "140"}),
        # A pot of that name, not a unit of the time.
        ("time C did", "0:12 60 C melted", {"time": "0:12", "C": "60 C", "did": "melted"}),
    ],
)
def test_columns_of_a_text_table(header: str, line: str, row: dict[str, str]) -> None:
    problems: list[Problem] = []
    table = parse_columns(WrittenBlock(f"{header}\n{line}\n", Position("x", 7, 13), 6), problems)
    assert [dict(found) for found in table] == [row]
    assert not [problem for problem in problems if not problem.warning]
    for found in table:
        for key, cell in found.items():
            assert (cell.at.line, found.key_at(key).line) == (9, 8)
            start = f"      {header}"[found.key_at(key).column - 1 :]
            assert start.startswith(key.split()[0])
            assert f"      {line}"[cell.at.column - 1 :].startswith(cell[:1])
