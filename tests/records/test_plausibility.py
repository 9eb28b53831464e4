"""Values that can hardly be: the bounds of each warning, and what silences it.

The messages themselves are those of ``cases/invalid/hardly``. The bounds are common practice, no
source.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from worked_notebook import read

from journal.records.models.design_reader import DesignReader

WRITE_UP = "designs/leaf/design.md"
BARS = "    bars:\n"
LAST = "      - {bar: A4, keep: no, weight: 85 g}\n"


def told(root: Path, *changes: tuple[str, str], more: dict[str, str] | None = None) -> list[str]:
    """The values that are doubted, as written, in order of their places."""
    edits = [(WRITE_UP, old, new) for old, new in changes]
    problems = read(root, *edits, more=more or {}).problems
    assert all(problem.warning and "If it is right, " in problem.hint for problem in problems)
    files = {WRITE_UP: (root / WRITE_UP).read_text("utf-8"), **(more or {})}
    # At the place that is told stands what is told.
    for problem in problems:
        lines = files[problem.position.path].split("\n")
        line = lines[problem.position.line - 1][problem.position.column - 1 :]
        assert any(line.startswith(word) for word in problem.what.split('"')[1::2])
    return [problem.what for problem in problems]


def later(*rows: str) -> tuple[str, str]:
    return LAST, LAST + "    later:\n" + "".join(f"      - {{bar: A4, {row}}}\n" for row in rows)


@pytest.mark.parametrize(
    ("written", "doubts"),
    [
        (("0:00, 70 C", "0:00, 110 C"), 0),
        (("0:00, 70 C", "0:00, 111 C"), 1),
        (("0:25, 54 C", "0:25, 18 C"), 0),
        (("0:25, 54 C", "0:25, 17.5 C"), 1),
        (("room: 20 C", "room: 45 C"), 0),
        (("room: 20 C", "room: 46 C"), 1),
        # Without a room of its own, the usual room of the settings: 20 C.
        (("    room: 20 C\n    melted", "    poured: {detail: 12 C}\n    melted"), 1),
        # From a cold shelf before it is melted, and in the chill.
        (("[[0:00, 70 C, melted]", "[[0:00, 9 C], [0:05, 70 C, melted]"), 0),
        (("54 C, poured]]", "54 C, poured], [0:40, 9 C, chilled], [0:50, 6 C]]"), 0),
        (("54 C, poured]]", "54 C, chilled], [0:40, 60 C, reheated], [0:50, 6 C]]"), 1),
        ((BARS, "    poured: {detail: 750 C}\n" + BARS), 1),
        ((LAST, LAST.replace("keep", "poured: 540 C, keep")), 1),
        ((LAST, LAST.replace("keep", "lip: 2.5 mm, keep")), 0),
        ((LAST, LAST.replace("keep", "lip: 2.6 mm, keep")), 1),
        ((LAST, LAST.replace("85 g", "42.5 g")), 0),
        ((LAST, LAST.replace("85 g", "42.4 g")), 1),
        ((LAST, LAST.replace("85 g", "170 g")), 0),
        ((LAST, LAST.replace("85 g", "171 g")), 1),
        (("- date: 2026-03-01", "- date: 2026-02-28"), 1),
        (("- date: 2026-03-01", "- date: 2031-03-01"), 0),
        (("- date: 2026-03-01", "- date: 2031-03-03"), 1),
    ],
)
def test_where_doubt_begins(tmp_path: Path, written: tuple[str, str], doubts: int) -> None:
    assert len(told(tmp_path, written)) == doubts


@pytest.mark.parametrize(
    ("rows", "room", "grew"),
    [
        (["day: 7, weight: 86 g"], "", []),  # within a step of the coarser scales
        (["day: 7, weight: 86.1 g"], "", ["7"]),
        # By their days, whatever their order; a bar is held against its last look.
        (["day: 30, weight: 84 g", "day: 7, weight: 82 g"], "", ["30"]),
        (["day: 7, weight: 88 g", "day: 30, weight: 88 g"], "", ["7"]),
        (["day: 7, weight: 88 g, sure: yes", "day: 30, weight: 90 g"], "", ["30"]),
        (["day: 7, weight: 88 g"], "humidity: 60 %", []),
        (["day: 7, weight: 88 g"], "humidity: 59 %", ["7"]),
        (["day: 7, weight: 88 g"], "humidity: 60 %\n    wrapped: 26 h", ["7"]),
    ],
)
def test_a_weight_that_grows(tmp_path: Path, rows: list[str], room: str, grew: list[str]) -> None:
    damp = [("    room: 20 C\n", f"    room: 20 C\n    {room}\n")] if room else []
    found = told(tmp_path, later(*rows), *damp)
    assert [what.partition(" on day ")[2].partition(",")[0] for what in found] == grew


@pytest.mark.parametrize("sure", ["yes", "no"])
def test_sure_in_every_form(tmp_path: Path, sure: str) -> None:
    """In CSV files and in columns it is a column; of a pour it covers the pour's own keys."""
    readings = f"pot,time,temperature,sure\nbody,0:00,700 C,{sure}\nbody,0:05,60 C,\n"
    bars = f"bar,weight,sure\nB1,8.5 g,{sure}\nB2,85 g,\n"
    pours = f"""\
  - date: 2062-03-01
    room: 68 C
    sure: {sure}
    readings: readings.csv
    bars: bars.csv
    later:
      - {{bar: B1, day: 7, weight: 850 g, sure: {sure}}}
  - date: 2062-03-02
    readings: |
      time  body   pale   sure
      0:00  700 C  750 C  {sure}
      0:09  60 C   70 C   -
    poured: {{body: 60 C}}
---
"""
    more = {"designs/leaf/readings.csv": readings, "designs/leaf/bars.csv": bars}
    found = told(tmp_path, ("---\nOn paper", pours + "On paper"), more=more)
    assert len(found) == (0 if sure == "yes" else 7)


def test_rows_are_gone_through_once_however_many_are_doubted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A spreadsheet of a thousand bars in the wrong unit would take minutes else."""
    passes = []
    inner = DesignReader.rows

    def counting(self: DesignReader, tree: Any, what: str, *more: Any) -> Any:
        passes.append(what)
        return inner(self, tree, what, *more)

    monkeypatch.setattr(DesignReader, "rows", counting)
    counts = []
    for number in (1, 40):
        passes.clear()
        rows = "".join(f"      - {{bar: B{bar}, weight: 8.5 g}}\n" for bar in range(number))
        assert len(told(tmp_path / str(number), (LAST, rows))) == number
        counts.append(len(passes))
    assert counts[0] == counts[1]
