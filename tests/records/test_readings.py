"""The times of a pour's readings: past midnight from one pot to another."""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import read

WRITTEN = "{body: [[0:00, 70 C, melted], [0:10, 62 C, scented], [0:25, 54 C, poured]]}"
LATE = "pale: [[23:50, 80 C], [23:58, 78 C]]"
NIGHT = "body: [[12:05 am, 70 C], [12:15 am, 62 C]]"


@pytest.mark.parametrize(
    ("pots", "body_min"),
    [
        ((LATE, NIGHT), [1445.0, 1455.0]),
        ((NIGHT, LATE), [1445.0, 1455.0]),
        (("pale: [[11:50 pm, 80 C], [12:04 am, 78 C]]", NIGHT), [1445.0, 1455.0]),
        # Of the same night, of the afternoon before, and elapsed: nothing is to be shifted.
        (("pale: [[12:01 am, 80 C], [12:03 am, 78 C]]", NIGHT), [5.0, 15.0]),
        (("pale: [[2:05 pm, 80 C], [2:10 pm, 78 C]]", NIGHT), [5.0, 15.0]),
        ((LATE, "body: [[0:05, 70 C], [0:15, 62 C]]"), [5.0, 15.0]),
        (("pale: [[1080 min, 80 C], [1090 min, 78 C]]", NIGHT), [5.0, 15.0]),
    ],
)
def test_another_pot_read_after_midnight(
    tmp_path: Path, pots: tuple[str, str], body_min: list[float]
) -> None:
    change = ("designs/leaf/design.md", WRITTEN, f"{{{', '.join(pots)}}}")
    notebook = read(tmp_path, change)
    assert not notebook.errors
    readings = notebook.designs["leaf"].pours[0].readings
    assert [one.minutes for one in readings if one.pot == "body"] == body_min
