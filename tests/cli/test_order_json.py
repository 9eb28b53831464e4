"""``journal order --json``: the plan for other programs, and what helpers get of it."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from worked_notebook import lay_out

from journal.cli import main


@pytest.fixture
def content(tmp_path: Path) -> Path:
    """Four bars, to be quick."""
    return lay_out(
        tmp_path / "content",
        ("orders/dozen.yaml", "bars: 14", "bars: 4"),
        ("shelf/bases.yaml", "  on_hand: 300 g", "  on_hand: 300 g\n  supplier: Base & Sons"),
    )


def plan(content: Path, capsys: pytest.CaptureFixture[str], *options: str) -> dict[str, Any]:
    assert main(["order", "dozen", "--json", *options, "--content", str(content)]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_the_plan(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = plan(content, capsys)
    assert list(found) == [
        "format", "order", "title", "due", "customer", "currency", "cost", "cost_at_least", "price",
        "wholesale", "bars", "wanted",
        "begin_by", "lines", "left_out", "over_limit", "needs", "by_eye", "rounds", "days",
        "hands_on_min", "elapsed_min", "assumed", "missing",
    ]  # fmt: skip
    assert found["format"] == "soap-design-journal/1"
    assert (found["due"], found["begin_by"]) == ("2026-04-30", "2026-04-27")
    assert (found["customer"], found["cost"], found["price"]) == ("Wilma Oake", 17.4, 34.8)
    (line,) = found["lines"]
    assert (line["variant"], line["rounds"], line["limited_by"]) == (None, 2, "pieces")
    # 21 g for the first round; 10 of them come back, so that the second takes 11.
    assert [one["pots"]["pale"]["melt_g"] for one in found["rounds"]] == [21, 11]
    assert line["pots"]["pale"]["melt_g"] == 32
    plain, *_ = found["needs"]
    assert plain == {
        "kind": "bases", "thing": "plain", "name": "Plain",
        "needed_g": 368, "from_leftovers_g": 0, "on_hand_g": 300, "buy_g": 68,
    }  # fmt: skip
    assert {"needed_ml", "buy_ml"} <= set(found["needs"][2])
    assert (found["missing"], found["left_out"], found["over_limit"]) == ([], [], [])


def test_the_steps(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = plan(content, capsys, "--begins", "9:30")
    steps = [(day["day"], step) for day in found["days"] for step in day["steps"]]
    assert steps[0][1]["start_min"] == 9 * 60 + 30
    for day, step in steps:
        assert (day - 1) * 1440 <= step["start_min"] < day * 1440
        assert step["start_min"] <= step["end_min"]
        assert 0 <= step["round"] < len(found["rounds"])
        assert list(step) == ["start_min", "end_min", "round", "kind", "hands", "pot", "text"]
    hands = [step for _, step in steps if step["hands"]]
    assert sum(one["end_min"] - one["start_min"] for one in hands) == found["hands_on_min"]
    assert all(before["end_min"] <= after["start_min"] for before, after in pairwise(hands))
    ends = max(step["end_min"] for _, step in steps)
    assert ends - steps[0][1]["start_min"] == found["elapsed_min"]
    melted = [day["melt"]["bases/plain"]["melt_g"] for day in found["days"][:2]]
    assert melted == [189, 179]
    melts = [step for _, step in steps if step["kind"] == "melt"]
    assert [one["pot"] for one in melts] == ["pale", "body"] * 2
    assert melts[0]["text"].startswith("Melt the detail: 21 g (0.75 oz) Plain.")


def test_helpers_get_no_customer_and_no_money(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    studio, helpers = plan(content, capsys), plan(content, capsys, "--edition", "helpers")
    private = {"customer", "currency", "cost", "cost_at_least", "price", "wholesale"}
    assert set(studio) - set(helpers) == private
    assert helpers == {name: value for name, value in studio.items() if name not in private}
    call = ["order", "dozen", "--edition", "helpers", "--content", str(content)]
    assert main(call) == 0
    said = capsys.readouterr().out
    assert "The day, hour by hour" in said
    for secret in ("Wilma Oake", "Cost and price", "17.40", "Base & Sons"):
        assert secret not in said


def test_no_day_sheet_is_told(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = plan(content, capsys, "--hours", "8:00-8:01")
    assert (found["days"], found["elapsed_min"]) == ([], None)
    (missing,) = found["missing"]
    assert missing["figure"] == "days"
    assert missing["needs"]
