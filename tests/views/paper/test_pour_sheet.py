"""The pour-day sheet can be typed into the write-up as it stands."""

from __future__ import annotations

from pathlib import Path

import pytest
from card_cases import TWO_LAYERS, lay_notebook
from demo import KELP_ON_GREY, WHITE_FAN
from demo_book import demo_notebook

from journal.html.bench_page import BlankTable, PourSheet
from journal.html.blocks import PageFrame
from journal.records.notebook import Notebook
from journal.views.paper.pour_sheet import MOST_BARS, pour_sheet
from journal.views.shared.words import units_of

GROUPS = TWO_LAYERS.replace(
    "  close: {trim: close}\n  straight: {trim: straight 3 mm}\n",
    "  trim: {close: {trim: close}, straight: {trim: straight 3 mm}}\n"
    "  pot: {cool: {layers: {body: {pour: 120-125 F}}},"
    " warm: {layers: {body: {pour: 130-132 F}}}}\n",
).replace("variant: close, ", "")


def sheet(notebook: Notebook, name: str) -> PourSheet:
    settings = notebook.settings
    frame = PageFrame("Corran Bench", "", ())
    return pour_sheet(frame, notebook.designs[name], settings, notebook.shelf, units_of(settings))


def filled(grid: BlankTable, cells: dict[str, str], row: int = 0) -> str:
    """A row of a table filled in by hand, as a mapping of YAML."""
    pairs = []
    for column, printed in zip(grid.columns, grid.rows[row], strict=True):
        value = cells.get(column.name, "-")
        if column.name == "bar" and printed:
            value = f"A{printed}"
        pairs.append(f"{column.name}: {value}")
    return "{" + ", ".join(pairs) + "}"


@pytest.mark.parametrize("front", [TWO_LAYERS, GROUPS])
def test_what_is_filled_in_is_read_without_a_fault(tmp_path: Path, front: str) -> None:
    notebook = lay_notebook(tmp_path, kelp=front)
    assert not notebook.errors
    page = sheet(notebook, "kelp")
    fields = {
        "pour": "A", "date": "2026-05-02", "batch": "K2", "by": "Ada", "lots": "",
        "room": "68 F", "humidity": "55 %",
        "melted: detail": "4 oz", "melted: slate": "22 oz", "poured: detail": "170 F",
        "poured: body": "128 F",
    }  # fmt: skip
    assert [field.name for field in page.fields] == list(fields)
    names = [column.name for column in page.readings.columns]
    assert names == ["time", "detail", "slate", "did"]
    cells = {
        "variant": "close", "trim": "close", "pot": "warm", "piece": "b", "poured": "128 F",
        "lip": "0.5 mm", "bleed": "0 mm", "lifted": "no", "relief": "4", "tidy": "2 min",
        "keep": "yes", "note": "a pit", "day": "30", "weight": "97 g", "what": "lip",
        "saw": "A hem.", "why": "Cut close.", "mend": "A border.", "mended": "untested",
    }  # fmt: skip
    bars = "\n".join(f"      - {filled(page.bars, cells, row)}" for row in range(3))
    failed, later = page.overleaf
    failure = filled(failed, {**cells, "bar": "A2"}).replace("pot: -, ", "")
    text = front.replace("failed:\n", f"failed:\n  - {failure}\n") + (
        "pours:\n"
        "  - pour: A\n    date: 2026-05-02\n    batch: K2\n    by: Ada\n"
        "    room: 68 F\n    humidity: 55 %\n"
        "    melted: {detail: 4 oz, slate: 22 oz}\n    poured: {detail: 170 F, body: 128 F}\n"
        f"    readings: |\n      {'  '.join(names)}\n      0:00  170 F  150 F  -\n"
        "      0:09  -  128 F  poured\n"
        f"    bars:\n{bars}\n"
        f"    later:\n      - {filled(later, {**cells, 'bar': 'A1'})}\n"
    )
    again = lay_notebook(tmp_path, kelp=text)
    assert not again.errors, "\n".join(map(str, again.errors))
    pour = again.designs["kelp"].pours[0]
    assert [bar.bar for bar in pour.bars] == ["A1", "A2", "A3"]
    assert pour.bars[0].measures["keep"] is True
    assert len(pour.readings) == 3
    assert pour.later[0].day == 30


def test_the_demo_has_a_sheet_for_what_each_design_is_measured_by() -> None:
    notebook = demo_notebook()
    for design in notebook.designs.values():
        page = sheet(notebook, design.id)
        columns = {column.name for column in page.bars.columns}
        used = {name for bar in design.bars for name in bar.measures} - {"tint"}
        assert used <= columns
        assert "keep" in columns
        if design.question is not None:
            assert design.question.by in columns
        assert 12 <= len(page.bars.rows) <= MOST_BARS


def test_windows_stand_over_their_pot(tmp_path: Path) -> None:
    page = sheet(lay_notebook(tmp_path, kelp=TWO_LAYERS), "kelp")
    hints = {column.name: column.hint.replace("\u00a0", " ") for column in page.readings.columns}
    assert hints["slate"] == "scent at 135–145 °F; pour at 122–132 °F"
    assert hints["detail"] == "pour at 165–176 °F"


def test_a_planned_test_is_printed_for_who_pours_and_for_who_judges() -> None:
    """The demo's plan: what the pots' tables say was poured; codes alone in the judging half."""
    notebook = demo_notebook()
    page = sheet(notebook, WHITE_FAN)
    assert page.plan is not None
    assert [column.name for column in page.bars.columns[:3]] == ["bar", "at", "variant"]
    assert [table.head for table in page.plan.pots] == ["Pot 1", "Pot 2", "Pot 3", "Pot 4"]
    names = [column.name for column in page.plan.pots[0].columns]
    assert names == ["poured", "at", "variant", "peeled", "code"]
    rows = page.plan.pots[0].rows
    assert [row[0] for row in rows] == ["1.", "2.", "3.", "4.", "5.", "6."]
    assert sorted(row[3] for row in rows) == ["1.", "2.", "3.", "4.", "5.", "6."]
    done = notebook.designs[WHITE_FAN].pours[1].bars
    assert {row[1]: row[2] for row in rows} == {f"{bar.cavity}": bar.variant for bar in done}
    for pot, judged in zip(page.plan.pots, page.plan.judging, strict=True):
        codes = [row[0] for row in judged.rows]
        assert codes == sorted(row[4] for row in pot.rows)
        assert not any(cell for row in judged.rows for cell in row[1:])
        assert "bubbles" in [column.name for column in judged.columns]
        assert "variant" not in [column.name for column in judged.columns]
    assert sheet(notebook, KELP_ON_GREY).plan is None


def test_pots_of_a_day_are_judged_together(tmp_path: Path) -> None:
    warm = "  pot: {cool: {layers: {body: {pour: 120-125 F}}}, warm: }\n"
    text = GROUPS.replace(GROUPS[GROUPS.index("  pot: {cool") : GROUPS.index("\n", GROUPS.index(
        "  pot: {cool")) + 1], warm)  # fmt: skip
    question = (
        "question: {compare: pot, by: lip, asked: 2026-05-01, until: 4 pours}\n"
        "plan: {pots: 4, seed: a word, bars: 2}\n"
    )
    notebook = lay_notebook(tmp_path, kelp=text.replace("failed:\n", f"{question}failed:\n"))
    assert not notebook.errors, notebook.errors
    plan = sheet(notebook, "kelp").plan
    assert plan is not None
    assert [table.head for table in plan.pots] == [
        "Pot 1, day 1", "Pot 2, day 1", "Pot 3, day 2", "Pot 4, day 2",
    ]  # fmt: skip
    assert [(table.head, len(table.rows)) for table in plan.judging] == [("Day 1", 4), ("Day 2", 4)]
    assert "2 pots a day" in plan.says[0]
    # Bars of a pot are of one variant: no order of peeling is planned, and nothing said of one.
    assert [column.name for column in plan.pots[0].columns] == ["poured", "at", "variant", "code"]
    assert {len(row) for row in plan.pots[0].rows} == {4}
    assert plan.says[1].startswith("Pour in this order, put its code on each bar")
