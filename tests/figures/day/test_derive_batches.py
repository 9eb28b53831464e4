"""The batches that an order will be: what its day sheet says is what the write-up will have."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from worked_notebook import DESIGN, read

from journal.figures.derive_notebook import OrderPlan, plan_order
from journal.figures.heat.pot_rates import PotRates, rate_line
from journal.records.notebook import Notebook

ORDER, WRITE_UP, BASES = "orders/dozen.yaml", "designs/leaf/design.md", "shelf/bases.yaml"
#: Opened before the order is begun, and past its date on the second day of it.
LOT = "  on_hand: 300 g\n  lot: P-7\n  opened: 2026-04-01\n  best_before: 2026-04-27"


@pytest.fixture
def notebook(tmp_path: Path) -> Notebook:
    return read(tmp_path, (BASES, "  on_hand: 300 g", LOT))


def plan(notebook: Notebook) -> OrderPlan:
    return plan_order(notebook, notebook.orders["dozen"], {}, PotRates(rate_line(())))


def test_the_codes_are_those_of_pours_that_are_written_up(
    notebook: Notebook, tmp_path: Path
) -> None:
    """Each round as a pour of its own, without a label and a code: read again it has both."""
    found = plan(notebook)
    assert found.day.begin_by is not None
    assert len(found.batches) == len(found.day.rounds) == 7
    rows = "".join(f"  - {{date: {one.day}}}\n" for one in found.batches)
    pours = DESIGN.replace("---\nOn paper", f"{rows}---\nOn paper")
    again = read(tmp_path / "again", more={WRITE_UP: pours}).designs["leaf"].pours[1:]
    assert [(one.label, one.batch) for one in again] == [
        (one.label, one.code) for one in found.batches
    ]
    assert found.batches[0].label == "B"
    days = [one.day for one in found.batches]
    assert days[0] == found.day.begin_by
    assert days == sorted(days)
    assert days[-1] <= found.day.begin_by + timedelta(days=found.day.days - 1)


def test_a_label_that_is_taken_is_passed_over(tmp_path: Path) -> None:
    named = ("  - date: 2026-03-01", "  - pour: B\n    date: 2026-03-01")
    (first, *_) = plan(read(tmp_path, (WRITE_UP, *named))).batches
    assert first.label == "C"


def test_the_lots_are_those_that_are_open_then(notebook: Notebook) -> None:
    batches = plan(notebook).batches
    said = [(one.name, one.lot) for one in batches[0].lots]
    assert said == [("plain", "P-7"), ("herb", ""), ("brick", "")]
    # It is past its date from the 28th on; of no date nobody can tell.
    for one in batches:
        past = {lot.name: lot.is_past for lot in one.lots}
        assert past == {"plain": one.day > date(2026, 4, 27), "herb": False, "brick": False}
    assert {lot.is_past for one in batches for lot in one.lots} == {True, False}


def test_what_is_handed_over_has_none_to_come(tmp_path: Path) -> None:
    done = ("due: 2026-04-30", "due: 2026-04-30\ndone: 2026-04-29")
    assert plan(read(tmp_path, (ORDER, *done))).batches == ()
