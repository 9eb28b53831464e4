"""Tables as they come from paper and spreadsheets: units in the names of columns."""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import read

from journal.records.models.column_names import column_and_unit

NAMES = ("bar", "lip", "tidy", "time", "slate", "a mm", "Sea")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("lip", ("lip", "")),
        ("lip mm", ("lip", "mm")),
        ("lip_mm", ("lip", "mm")),
        ("Lip, mm", ("lip", "mm")),
        ("lip (mm)", ("lip", "mm")),
        ("Lip [cm]", ("lip", "cm")),
        ("tidy  min", ("tidy", "min")),
        ("slate °F", ("slate", "°F")),
        ("sea C", ("Sea", "C")),
        # A name of one's own that ends as a unit does.
        ("a mm", ("a mm", "")),
        # Not known: told as it is written.
        ("gloss mm", ("gloss mm", "")),
        ("lip furlong", ("lip furlong", "")),
    ],
)
def test_a_column_means_a_name_and_a_unit(written: str, meant: tuple[str, str]) -> None:
    assert column_and_unit(written, NAMES) == meant


WRITTEN = "{body: [[0:00, 70 C, melted], [0:10, 62 C, scented], [0:25, 54 C, poured]]}"
LEAF = "designs/leaf/design.md"
BARS = """\
      - {bar: A1, piece: leaf-a, keep: yes, weight: 84 g}
      - {bar: A2, piece: leaf-a, keep: yes, weight: 85 g}
      - {bar: A3, piece: leaf-a, keep: yes, weight: 86 g}
      - {bar: A4, keep: no, weight: 85 g}
"""


@pytest.mark.parametrize(
    "table",
    [
        "pot,time min,temperature C,did\nbody,0,70,melted\nbody,12,54,poured\n",
        "time min;Body C;did\n0;70;melted\n12;54,0;poured\n",
        "| time, min | body °F | did |\n|---|---|---|\n| 0 | 158 | melted |\n"
        "| 12 | 129.2 | poured |\n",
    ],
)
def test_readings_of_a_spreadsheet(tmp_path: Path, table: str) -> None:
    notebook = read(tmp_path, (LEAF, WRITTEN, "readings.csv"),
                    more={"designs/leaf/readings.csv": table})  # fmt: skip
    readings = notebook.designs["leaf"].pours[0].readings
    assert [(one.pot, one.minutes, round(one.temperature_c, 1), one.did) for one in readings] == [
        ("body", 0.0, 70.0, "melted"), ("body", 12.0, 54.0, "poured"),
    ]  # fmt: skip


def test_bars_of_a_sheet_typed_row_by_row(tmp_path: Path) -> None:
    """The columns of the printed sheet, with the units that stand under their names there."""
    rows = """\
 |
      bar   piece    poured °F   lip, mm   tidy, min   weight, g   keep
      A1    leaf-a   129.2       0         1           84          yes
      A2    -        -           1/2       1 1/2       85.5        no
"""
    notebook = read(tmp_path, (LEAF, f"\n{BARS}", rows))
    one, two = notebook.designs["leaf"].pours[0].bars
    assert one.measures == {"lip": 0.0, "tidy": 1.0, "weight": 84.0, "keep": True}
    assert {layer: round(degrees, 1) for layer, degrees in one.poured_c.items()} == {"body": 54.0}
    assert two.measures == {"lip": 0.5, "tidy": 1.5, "weight": 85.5, "keep": False}


def test_nothing_needs_no_unit(tmp_path: Path) -> None:
    notebook = read(tmp_path, (LEAF, "{bar: A4, keep: no,", "{bar: A4, lip: 0, tidy: 0.0,"))
    assert notebook.designs["leaf"].pours[0].bars[3].measures == {
        "lip": 0.0, "tidy": 0.0, "weight": 85.0
    }  # fmt: skip


def test_two_columns_that_mean_the_same_are_told(tmp_path: Path) -> None:
    rows = " |\n      bar  lip mm  Lip\n      A1   1       2 mm\n"
    notebook = read(tmp_path, (LEAF, f"\n{BARS}", rows), errors=1)
    assert str(notebook.errors[0]) == f'{LEAF}:33:20: two columns are called "lip". Rename one.'
