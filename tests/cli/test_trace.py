"""``journal trace`` on the demo: a recall from the lot of an oil to bars and orders, and back."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from journal.cli import main

#: Cedar and bergamot of this lot was poured from 22 March to 7 November 2025, and went by way of
#: the ends of batch K25C into a loaf of the next March: counted in the write-ups by hand.
LOT, BARS = "CB-0225", 34


def traced(content: Path, code: str, capsys: pytest.CaptureFixture[str]) -> Any:
    assert main(["trace", code, "--json", "--content", str(content)]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_recall_finds_every_bar_and_the_order(
    demo_content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (lot,) = traced(demo_content, LOT.lower(), capsys)["lots"]
    assert (lot["thing"], lot["opened"], lot["perhaps"]) == ("cedar-bergamot", "2025-03-22", [])
    assert sum(len(row["bars"]) for row in lot["holds"]) == BARS
    loaf = next(row for row in lot["holds"] if row["design"] == "pebble-loaf")
    assert (loaf["via"], len(loaf["bars"])) == (["slate-ends"], 10)
    assert {row["design"] for row in lot["holds"]} == {"kelp-on-sea-grey", "pebble-loaf"}
    (order,) = lot["orders"]
    assert (order["order"], order["batches"], order["sure"]) == (
        "harbour-kiosk", ["K25C", "K25D"], True,
    )  # fmt: skip
    for row in lot["holds"]:  # and back
        (batch,) = traced(demo_content, row["batch"], capsys)["batches"]
        assert batch["bars"] == row["bars"]
        (use,) = [one for one in batch["lots"] if one["lot"] == LOT]
        assert (use["bars"], use["pots"], use["via"]) == (row["bars"], row["pots"], row["via"])


def test_it_is_said_in_words(demo_content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trace", LOT, "--content", str(demo_content)]) == 0
    said = capsys.readouterr().out.replace("\u00a0", " ")
    assert said.startswith("Cedar and bergamot, lot CB-0225\n  In 34 bars of 5 pours.\n")
    assert "Pebble loaf, by way of Slate ends" in said
    assert main(["trace", "K25D", "--content", str(demo_content)]) == 0
    said = capsys.readouterr().out.replace("\u00a0", " ")
    assert said.startswith("Batch K25D: Kelp on sea-grey, poured 3 May 2025 by Tamsin\n")
    assert "Clear glycerine, lot CG-2502: in slate." in said
    # 18 months from the pour are later than the clear base's own date.
    assert "US: best before 31 August 2026, the date of Clear glycerine." in said


def test_another_code_is_a_slip(demo_content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trace", "CB-0226", "--content", str(demo_content)]) == 2
    assert "no lot and no batch" in capsys.readouterr().err


def test_what_cannot_be_read_is_never_passed_over(
    demo_content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = tmp_path / "content"
    shutil.copytree(demo_content, content)
    loaf = content / "designs/pebble-loaf/design.md"
    loaf.write_text(loaf.read_text("utf-8").replace("state: ", "state: un"), "utf-8")
    assert main(["trace", LOT, "--json", "--content", str(content)]) == 1
    out = capsys.readouterr()
    assert json.loads(out.out)["left_out"] == ["pebble-loaf"]
    assert "pebble-loaf/design.md" in out.err


def test_a_label_is_told_by_its_batch_and_version(
    demo_content: Path, notebook: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The version is that of the record; what the label has is no blank any more."""
    asked = ["label", "kelp-on-sea-grey", "--batch", "k25d", "--shape", "rectangle"]
    assert main([*asked, "--out", str(tmp_path / "out"), "--content", str(demo_content)]) == 0
    said = capsys.readouterr().err
    assert "best before" not in said
    assert "batch (" not in said
    drawn = (tmp_path / "out" / "index.html").read_text("utf-8").replace("\u00a0", " ")
    version = re.search(r"Lot K25D, best before 31 Aug 2026 · ([0-9A-F]{5})<", drawn)
    assert version is not None
    record = (notebook / "batches/kelp-on-sea-grey.html").read_text("utf-8")
    assert f"US {version[1]}, EU" in record.replace("\u00a0", " ")
