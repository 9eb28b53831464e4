"""From write-ups to comparisons: which bars count, what is a trial, what is said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
from msgspec.structs import replace

from journal.comparison.as_json import (
    comparison_json,
    figures_json,
    missing_intervals,
    variant_json,
)
from journal.comparison.as_tables import comparison_tables, merge_tables
from journal.comparison.contrast import Contrast
from journal.comparison.derive import (
    ComparisonResults,
    compact_answer,
    compact_results,
    compare_designs,
    compared_value,
    compared_variants,
    follow_up_day,
    lost_choices,
    lost_variants,
    possible_plan,
    value_of,
)
from journal.comparison.planned.layout import PlannedCavity, PlannedTest
from journal.comparison.planned.layout import laid_out as laid_out_test
from journal.figures.as_tables import FigureTable
from journal.figures.derive import derive_figures
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
      - {day: 0, bar: B1, bleed: 0 mm}
      - {day: 0, bar: B2, bleed: 0 mm}
      - {day: 0, bar: B3, bleed: 0 mm}
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


def laid_out(folder: Path, files: Mapping[str, str]) -> Notebook:
    for name, text in {**SHELF, **files}.items():
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    found = read_notebook(folder)
    assert not found.errors, found.errors
    return found


@pytest.fixture
def notebook(tmp_path: Path) -> Notebook:
    return laid_out(
        tmp_path,
        {
            "designs/leaf/design.md": BARS_BY_TRIM,
            "designs/pots/design.md": BASES_BY_POT,
            "comparisons/trims.md": "---\ntitle: Trims\nby: [lip]\nbetween: trim\n---\n",
        },
    )


@pytest.fixture
def compared(notebook: Notebook) -> ComparisonResults:
    return compare_designs(notebook)


def test_pours_before_the_question_are_looks(compared: ComparisonResults) -> None:
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


def test_keep_is_fishers_three_of_three_against_none(compared: ComparisonResults) -> None:
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


def test_bases_have_one_value_a_pot(compared: ComparisonResults) -> None:
    found = next(e for e in compared.designs["pots"].comparisons if e.by == "bubbles")
    assert found.trials == "pots"
    # Medians of the pots: 2 and 6.
    assert found.difference == 4
    assert found.p is None
    assert found.verdict.code == "cannot tell"


def test_results_of_a_variant(compared: ComparisonResults) -> None:
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


def test_across_designs_counts_a_design_once(compared: ComparisonResults) -> None:
    found = compared.across["trims"]
    assert found.values == ("close", "straight")
    assert found.designs == ("leaf",)
    assert [row.design for row in found.results[0].rows] == ["leaf"]
    assert found.results[0].verdict.code != "better"


def has_no_bars(contrast: Contrast) -> bool:
    behind = [contrast.trials.fit, *(stratum.bars for stratum in contrast.trials.strata)]
    return all(bars == ((), ()) for bars in behind)


def test_what_is_kept_is_the_same_but_for_the_bars(compared: ComparisonResults) -> None:
    (across,) = compared.across["trims"].results
    (kept,) = compact_answer(compared.across["trims"]).results
    assert not any(has_no_bars(row.contrast) for row in across.rows)
    assert all(has_no_bars(row.contrast) for row in kept.rows)
    contrasts = [row.contrast for row in across.rows]
    rows = tuple(replace(row, contrast=was) for row, was in zip(kept.rows, contrasts, strict=True))
    assert replace(kept, rows=rows) == across

    leaf = compared.designs["leaf"]
    of_leaf = compact_results(leaf)
    assert (of_leaf.design, of_leaf.variants) == (leaf.design, leaf.variants)
    for entry, was in zip(of_leaf.comparisons, leaf.comparisons, strict=True):
        assert has_no_bars(entry.contrast)
        assert replace(entry, contrast=was.contrast) == was
        values = [stratum.values for stratum in entry.contrast.trials.strata]
        assert values == [stratum.values for stratum in was.contrast.trials.strata]


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
    assert compared_value(notebook.designs["leaf"].recipe, thing) == value


# What is given out ---------------------------------------------------------------------

# 0 of 3 is 0 to 0.561497 and 3 of 3 is 0.438503 to 1 (tests/reference/06-proportion-ci.csv).
NONE_HIGH, ALL_LOW = pytest.approx(0.561497, abs=1e-6), pytest.approx(0.438503, abs=1e-6)
# Newcombe's for 3 of 3 less 0 of 3: 1 less the root of 0.561497 squared twice.
KEEP_LOW = pytest.approx(1 - 0.561497 * 2**0.5, abs=1e-6)


def test_results_as_json(compared: ComparisonResults) -> None:
    close, straight = map(variant_json, compared.designs["leaf"].variants)
    # Of the four bars kept-or-not was noted of three; one had a follow-up on day 30.
    keep = {"yes": 0, "n": 3, "low": 0.0, "high": NONE_HIGH}
    assert close == {
        "bars": 4,
        "pours": 2,
        "spoilt": 0,
        "kept": keep,
        "measures": {
            "lip": {
                "unit": "mm", "n": 4, "not_measured": 0,
                "median": 2.0, "mean": 3.75, "values": [9.0, 2.0, 2.0, 2.0],
            },
            "bleed": {
                "unit": "mm", "n": 1, "not_measured": 3,
                "median": 2.0, "mean": 2.0, "values": [2.0], "day": 30,
            },
            "keep": {**keep, "not_measured": 1},
        },
    }  # fmt: skip
    assert straight["kept"] == {"yes": 3, "n": 3, "low": ALL_LOW, "high": 1.0}
    plain, _ = map(variant_json, compared.designs["pots"].variants)
    assert plain["kept"] is None


def test_comparisons_as_json(compared: ComparisonResults) -> None:
    lip, bleed, keep = map(comparison_json, compared.designs["leaf"].comparisons)
    assert lip == {
        "between": ["close", "straight"],
        "by": "lip",
        "unit": "mm",
        "deciding": True,
        "trials": "bars",
        "difference": -2.0,
        "low": None,
        "high": None,
        "p": 0.1,
        "p_adjusted": 0.1,
        "verdict": "so far: leaning to straight",
        "verdict_code": "leaning",
        "so_far": True,
        "method": "permutation",
        "doubt": "",
        "next_look": {"at": 2, "chance": None},
    }
    assert (bleed["difference"], bleed["p"], bleed["deciding"]) == (-1.5, 1.0, False)
    # A look beside another one: twice its p of 0.1.
    assert (keep["difference"], keep["low"], keep["high"]) == (1.0, KEEP_LOW, 1.0)
    assert (keep["p"], keep["p_adjusted"]) == (0.1, 0.2)


def test_why_there_is_no_interval(compared: ComparisonResults) -> None:
    leaf, pots = (
        list(missing_intervals(compared.designs[name].comparisons)) for name in ("leaf", "pots")
    )
    few = "too few were poured for a 95 % interval"
    assert [(entry.figure, entry.needs) for entry in leaf] == [
        ("comparisons", f"straight against close by lip: {few}"),
        ("comparisons", f"straight against close by bleed: {few}"),
    ]
    assert [entry.needs for entry in pots] == ["milk against plain by bubbles: one pot of each"]


def test_figures_with_their_comparisons(notebook: Notebook, compared: ComparisonResults) -> None:
    found = figures_json(notebook, derive_figures(notebook), compared)
    tables = {"batches", "pours", "readings", "bars", "later", "lots", "wear"}
    assert set(found) == {"format", "designs", "conditions", *tables}
    assert set(found["designs"]) == {"leaf", "pots"}
    leaf = found["designs"]["leaf"]
    assert leaf["comparisons"] == [
        comparison_json(entry) for entry in compared.designs["leaf"].comparisons
    ]
    # What was measured stands beside what was derived of each variant.
    assert leaf["variants"]["close"]["measures"]["lip"]["n"] == 4
    milk = found["designs"]["pots"]["variants"]["milk"]
    assert milk["measures"]["bubbles"]["median"] == 6
    assert list(milk["layers"]["body"]["bases"]) == ["milk"]
    assert [entry["needs"] for entry in leaf["missing"] if entry["figure"] == "comparisons"] == [
        entry.needs for entry in missing_intervals(compared.designs["leaf"].comparisons)
    ]
    assert any(entry["figure"] != "comparisons" for entry in leaf["missing"])
    only = figures_json(notebook, derive_figures(notebook), compared, ["pots"])
    assert only["designs"] == {"pots": found["designs"]["pots"]}
    assert {bar["design"] for bar in only["bars"]} == {"pots"}


def test_tables(compared: ComparisonResults) -> None:
    variants, comparisons, plan, missing = comparison_tables(compared)
    assert not plan.rows
    assert [table.name for table in (variants, comparisons, missing)] == [
        "variants", "comparisons", "missing",
    ]  # fmt: skip
    rows = {(row[0], row[1], row[4]): row[2:4] + row[5:] for row in variants.rows}
    assert rows["leaf", "close", "lip"] == (4, 2, "mm", 4, 0, None, 2, 3.75, None, None, None)
    assert rows["leaf", "close", "bleed"] == (4, 2, "mm", 1, 3, 30, 2, 2, None, None, None)
    assert rows["leaf", "close", "keep"] == (
        4, 2, None, 3, 1, None, None, None, 0, 0, NONE_HIGH,
    )  # fmt: skip
    assert len(rows) == len(variants.rows) == 8
    assert comparisons.rows[0] == (
        "leaf", "close", "straight", "lip", "mm", True, "bars", -2, None, None, 0.1, 0.1,
        "so far: leaning to straight", "leaning", True, "permutation", None, 2, None,
    )  # fmt: skip
    assert [row[0] for row in comparisons.rows] == ["leaf"] * 3 + ["pots"]
    assert missing.rows[2] == (
        "pots", "comparisons", "milk against plain by bubbles: one pot of each",
    )  # fmt: skip
    for table in (variants, comparisons, missing):
        assert {len(row) for row in table.rows} == {len(table.columns)}
    assert [len(table.rows) for table in comparison_tables(compared, ["pots"])] == [2, 1, 0, 1]


def test_a_variant_on_which_nothing_was_measured_has_a_row(tmp_path: Path) -> None:
    unpoured = BASES_BY_POT.split("pours:")[0] + "---\n"
    found = compare_designs(laid_out(tmp_path, {"designs/pots/design.md": unpoured}))
    assert found.designs["pots"].comparisons == ()
    rows = comparison_tables(found)[0].rows
    assert [row[:4] for row in rows] == [("pots", "plain", 0, 0), ("pots", "milk", 0, 0)]
    assert all(row[4:] == (None,) * 10 for row in rows)


def test_tables_of_one_name_are_one() -> None:
    first, second = FigureTable("a", ("x",), ((1,),)), FigureTable("b", ("y",), ((2,),))
    assert merge_tables([first, second, FigureTable("a", ("x",), ((3,), (4,)))]) == (
        FigureTable("a", ("x",), ((1,), (3,), (4,))),
        second,
    )


# Variants that lost ---------------------------------------------------------------------

#: By hand: 2 2 2 2 against 0 0 0 0 has p = 2 / 70, and 2 mm is more than matters.
ONE_POUR = """---
title: Leaf
date: 2026-01-01
state: trial
trim: straight 3 mm
bars: 8
layers: [{name: body, base: plain, amount: 90 g}]
variants:
  close: {trim: close}
  straight: {trim: straight 3 mm}
question: {compare: [close, straight], by: lip, asked: 2026-01-10, until: 1 pours, matters: 1 mm}
pours:
  - date: 2026-01-12
    bars:
"""


def of_two(close: str, straight: str, write_up: str = ONE_POUR) -> str:
    """Eight bars, poured by turns."""
    rows = [
        f"      - {{bar: {letter}{number}, {bar}}}\n"
        for number in range(4)
        for letter, bar in (("C", close), ("S", straight))
    ]
    return write_up + "".join(rows) + "---\n"


CLOSE_LOSES = of_two("variant: close, lip: 2 mm", "variant: straight, lip: 0 mm")
IN_GROUPS = of_two(
    "trim: close, tint: deep, lip: 2 mm",
    "trim: straight, tint: deep, lip: 0 mm",
    ONE_POUR.replace(
        "  close: {trim: close}\n  straight: {trim: straight 3 mm}\n",
        "  trim: {close: {trim: close}, straight: {trim: straight 3 mm}}\n"
        # A choice of another group has the name of the one that lost.
        "  tint: {deep: {layers: {body: {pour: 50 C}}}, close: {layers: {body: {pour: 60 C}}}}\n",
    ).replace("[close, straight]", "trim"),
)


@pytest.mark.parametrize(
    ("write_up", "lost"),
    [
        (CLOSE_LOSES, {"close"}),
        (of_two("variant: close, lip: 0 mm", "variant: straight, lip: 2 mm"), {"straight"}),
        # No difference; too few pours yet; a look.
        (of_two("variant: close, lip: 2 mm", "variant: straight, lip: 2 mm"), set()),
        (CLOSE_LOSES.replace("until: 1 pours", "until: 3 pours"), set()),
        (CLOSE_LOSES.replace("by: lip", "by: keep").replace(", matters: 1 mm", ""), set()),
        (IN_GROUPS, {"close/deep", "close/close"}),
        # A third variant that was never poured: nothing is said of it.
        (CLOSE_LOSES.replace("variants:\n", "variants:\n  wide: {trim: straight 5 mm}\n"),
         {"close"}),
    ],
)  # fmt: skip
def test_variants_that_lost(tmp_path: Path, write_up: str, lost: set[str]) -> None:
    for path, text in {**SHELF, "designs/leaf/design.md": write_up}.items():
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_text(text)
    notebook = read_notebook(tmp_path)
    assert not notebook.errors, notebook.errors
    results = compare_designs(notebook).summaries["leaf"]
    variants = notebook.designs["leaf"].variants
    assert lost_variants(variants, lost_choices(results)) == lost


def with_plan(write_up: str, plan: str) -> str:
    return write_up.replace("\npours:", f"\nplan: {plan}\npours:", 1)


def test_a_planned_test_of_bars(tmp_path: Path) -> None:
    """B, poured since the question, lies as no plan drew it: close three times, then straight."""
    text = with_plan(BARS_BY_TRIM, "{pots: 2, seed: oak, bars: 6}")
    notebook = laid_out(tmp_path, {"designs/leaf/design.md": text})
    found = compare_designs(notebook)
    plan = found.designs["leaf"].plan
    assert plan is not None
    assert (plan.test.by, plan.test.bars, plan.test.blocked, plan.poured) == ("bars", 6, 6, 6)
    drawn = [one.variant for one in cavities_drawn(plan.test)]
    wrong = sum(
        had != one for had, one in zip(["close"] * 3 + ["straight"] * 3, drawn, strict=True)
    )
    assert plan.deviations == (f"pour B: {wrong} cavities had another variant",)
    # At 1 pour of 3 against 3 nothing tells yet, and so nothing is held back.
    assert found.designs["leaf"].comparisons[0].verdict.doubt == ""
    block = figures_json(notebook, derive_figures(notebook), found)["designs"]["leaf"]
    assert [pot["pot"] for pot in block["plan"]["layout"]] == [1, 2]
    assert [one["variant"] for one in block["plan"]["layout"][0]["cavities"]] == drawn
    assert block["plan"]["deviations"] == list(plan.deviations)
    assert block["plan"]["chance"] is None
    assert "chance of the plan: lip of others" in [row["needs"] for row in block["missing"]]
    rows = comparison_tables(found)[2].rows
    assert [row[4] for row in rows[:6]] == drawn
    assert len(rows) == 12


def cavities_drawn(test: PlannedTest) -> Sequence[PlannedCavity]:
    return laid_out_test(test)[0].cavities


def test_a_planned_test_of_pots(tmp_path: Path) -> None:
    """Bases are changed with the pot: two pots a day, and a question that could be planned."""
    asked = BASES_BY_POT.replace(
        "pours:\n", "question: {compare: [plain, milk], by: bubbles, asked: 2026-02-01,"
        " until: 4 pours}\npours:\n",
    )  # fmt: skip
    leaf = {"designs/leaf/design.md": BARS_BY_TRIM}
    notebook = laid_out(tmp_path, {"designs/pots/design.md": asked, **leaf})
    found = compare_designs(notebook)
    assert found.designs["pots"].plan is None
    could = possible_plan(notebook, notebook.designs["pots"], found.scatters)
    assert could is not None
    assert (could.test.by, could.test.bars, could.written, could.deviations) == (
        "pots",
        2,
        False,
        (),
    )
    assert [one.pots for one in could.chances] == [4, 6, 8, 12, 16]
    assert possible_plan(notebook, notebook.designs["leaf"], found.scatters) is None, (
        "it was poured since"
    )
    planned = with_plan(asked, "{pots: 3, seed: oak}")
    again = compare_designs(laid_out(tmp_path, {"designs/pots/design.md": planned, **leaf}))
    plan = again.designs["pots"].plan
    assert plan is not None
    assert (plan.test.pots, plan.written, plan.measure.name) == (4, True, "bubbles")
