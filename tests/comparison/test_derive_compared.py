"""From write-ups to comparisons: which bars count, what is a trial, what is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from journal.comparison.derive import (
    Compared,
    compare_designs,
    compared_variants,
    follow_up_day,
    thing_of,
    value_of,
)
from journal.records.notebook import Notebook, read_notebook

SHELF = {
    "journal.yaml": "studio: A bench\n",
    "shelf/bases.yaml": "plain: {name: Plain}\nmilk: {name: Milk}\n",
    "shelf/mats.yaml": "leaf: {name: Leaf}\n",
    "shelf/pieces.yaml": (
        "a: {name: A, mat: leaf, trim: straight 3 mm}\nb: {name: B, mat: leaf, trim: close}\n"
    ),
}

# Three bars of each trim in each of two pours; A lies before the question. By hand:
# since it was asked, close has 2 2 2 and straight 0 0 0, so one stratum of 3 against 3.
BARS_BY_TRIM = """---
title: Leaf
date: 2026-01-01
state: trial
mat: leaf
trim: straight 3 mm
bars: 6
layers:
  - {name: detail, base: plain, amount: 5 g}
  - {name: body, base: plain, amount: 90 g}
variants:
  close: {trim: close, piece: b}
  straight: {trim: straight 3 mm, piece: a}
question: {compare: [close, straight], by: lip, asked: 2026-01-10, until: 1 pours, matters: 1 mm}
pours:
  - date: 2026-01-05
    bars:
      - {bar: A1, variant: close, lip: 9 mm}
      - {bar: A2, variant: straight, lip: 0 mm}
  - date: 2026-01-12
    bars:
      - {bar: B1, variant: close, lip: 2 mm, keep: no}
      - {bar: B2, variant: close, lip: 2 mm, keep: no}
      - {bar: B3, variant: close, lip: 2 mm, keep: no}
      - {bar: B4, variant: straight, lip: 0 mm, keep: yes}
      - {bar: B5, variant: straight, lip: 0 mm, keep: yes}
      - {bar: B6, variant: straight, lip: 0 mm, keep: yes}
    later:
      - {day: 7, bar: B1, bleed: 1 mm}
      - {day: 30, bar: B1, bleed: 2 mm}
      - {day: 30, bar: B4, bleed: 0.5 mm}
---
"""

BASES_BY_POT = """---
title: Plain or milk
date: 2026-01-01
state: trial
bars: 2
layers:
  - {name: body, base: plain, amount: 90 g}
variants:
  plain: {layers: {body: {base: plain}}}
  milk: {layers: {body: {base: milk}}}
pours:
  - date: 2026-01-05
    bars: [{bar: A1, variant: plain, bubbles: 1}, {bar: A2, variant: plain, bubbles: 3}]
  - date: 2026-01-06
    bars: [{bar: B1, variant: milk, bubbles: 5}, {bar: B2, variant: milk, bubbles: 7}]
---
"""


@pytest.fixture
def notebook(tmp_path: Path) -> Notebook:
    files = {
        **SHELF,
        "designs/leaf/design.md": BARS_BY_TRIM,
        "designs/pots/design.md": BASES_BY_POT,
        "comparisons/trims.md": "---\ntitle: Trims\nby: [lip]\nbetween: trim\n---\n",
    }
    for name, text in files.items():
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    found = read_notebook(tmp_path)
    assert not found.errors
    return found


@pytest.fixture
def compared(notebook: Notebook) -> Compared:
    return compare_designs(notebook)


def test_pours_before_the_question_are_looks(compared: Compared) -> None:
    deciding = [entry for entry in compared.designs["leaf"].comparisons if entry.deciding]
    assert [entry.by for entry in deciding] == ["lip"]
    found = deciding[0]
    assert found.between == ("close", "straight")
    assert found.trials == "bars"
    assert found.difference == -2
    # 3 against 3 in one stratum, wholly apart: 2 of the 20 ways (exact small-sample tables).
    assert found.p == pytest.approx(0.1)
    assert found.verdict.code == "leaning"
    assert found.earlier is not None
    assert found.earlier.difference == -9


def test_keep_is_fishers_three_of_three_against_none(compared: Compared) -> None:
    keep = next(e for e in compared.designs["leaf"].comparisons if e.by == "keep")
    assert not keep.deciding
    # Fisher's exact test, two-sided, of 3/3 against 0/3: tests/reference/06-two-by-two.csv.
    assert keep.p == pytest.approx(0.1)


def test_another_piece_for_another_trim_is_one_change(notebook: Notebook) -> None:
    design = notebook.designs["leaf"]
    changes = [variant.changes for variant in compared_variants(notebook.shelf, design)]
    assert changes == [{"trim": "close"}, {"trim": "straight 3 mm"}]


def test_what_grows_is_compared_on_the_day_most_bars_share(notebook: Notebook) -> None:
    design = notebook.designs["leaf"]
    assert follow_up_day(design, "bleed") == 30
    assert follow_up_day(design, "lip") is None
    pour = design.pours[1]
    assert value_of(design, pour, pour.bars[0], "bleed") == 2
    assert value_of(design, pour, pour.bars[3], "bleed") == 0.5
    assert value_of(design, pour, pour.bars[1], "bleed") is None


def test_bases_have_one_value_a_pot(compared: Compared) -> None:
    found = next(e for e in compared.designs["pots"].comparisons if e.by == "bubbles")
    assert found.trials == "pots"
    # Medians of the pots: 2 and 6.
    assert found.difference == 4
    assert found.p is None
    assert found.verdict.code == "cannot tell"


def test_results_of_a_variant(compared: Compared) -> None:
    close, straight = compared.designs["leaf"].variants
    assert (close.bars, close.pours) == (4, 2)
    assert close.kept is not None
    assert (close.kept.yes, close.kept.n) == (0, 3)
    # Wilson's 95 % interval of 0/3: tests/reference/06-proportion-ci.csv.
    assert close.kept.interval.high == pytest.approx(0.561497, abs=1e-6)
    assert straight.kept is not None
    lip = next(entry for entry in close.measures if entry.measure.name == "lip")
    assert lip.values == (9, 2, 2, 2)
    assert lip.median == 2
    assert lip.mean == 3.75
    assert lip.not_measured == 0


def test_across_designs_counts_a_design_once(compared: Compared) -> None:
    found = compared.across["trims"]
    assert found.values == ("close", "straight")
    assert found.designs == ("leaf",)
    assert [row.design for row in found.results[0].rows] == ["leaf"]
    assert found.results[0].verdict.code != "better"


@pytest.mark.parametrize(
    ("thing", "value"),
    [
        ("trim", "straight"),
        ("mat", "leaf"),
        ("piece", None),
        ("base", "plain"),
        ("layer.detail.base", "plain"),
        ("layer.nowhere.base", None),
        ("colourant", None),
        ("fragrance", None),
    ],
)
def test_the_value_of_what_is_compared(notebook: Notebook, thing: str, value: str | None) -> None:
    assert thing_of(notebook.designs["leaf"].recipe, thing) == value
