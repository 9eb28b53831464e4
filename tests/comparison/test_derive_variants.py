"""From write-ups to comparisons: what variants change, groups of them, and the question asked."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import pytest

from journal.comparison.derive import (
    compare_designs,
    compared_variants,
    design_results,
    follow_up_day,
    measures_of,
    observed_bars,
)
from journal.comparison.observed import ComparedVariant
from journal.comparison.sentences import sentences
from journal.records.notebook import Notebook, read_notebook

SETTINGS = """\
studio: A bench
measures:
  gloss: {kind: rating, of: 10, better: higher, says: how it shines}
  curl: {kind: length, better: lower, says: how far the rim rises, matters: 2 mm}
"""

SHELF = {
    "journal.yaml": SETTINGS,
    "shelf/bases.yaml": "plain: {name: Plain}\nmilk: {name: Milk}\n",
    "shelf/mats.yaml": "leaf: {name: Leaf}\n",
    "shelf/pieces.yaml": (
        "a: {name: A, mat: leaf, trim: straight 3 mm}\n"
        "b: {name: B, mat: leaf, trim: close}\n"
        "c: {name: C, mat: leaf}\n"
    ),
    "shelf/fragrances.yaml": "cedar: {name: Cedar}\nfennel: {name: Fennel}\n",
}

HEAD = """---
title: Leaf
date: 2026-01-01
state: trial
mat: leaf
trim: straight 3 mm
piece: a
bars: 6
minutes: {pour: 20, tidy: 10}
layers:
  - {name: detail, base: plain, amount: 5 g}
  - {name: body, base: plain, amount: 90 g, pour: 50-55 C}
"""

GROUPS = """variants:
  trim:
    close: {trim: close, piece: b}
    straight: {trim: straight 3 mm}
  heat:
    cool: {layers: {body: {pour: 45-48 C}}}
    hot: {}
"""

POURED = """pours:
  - date: 2026-01-12
    bars:
      - {bar: A1, trim: close, heat: cool, lip: 2 mm, lifted: no, gloss: 9, tint: [60, 1, 2]}
      - {bar: A2, trim: straight, heat: hot, lip: 0 mm, lifted: yes, curl: 1 mm, relief: 4}
      - {bar: A3, trim: straight, heat: cool, keep: yes}
---
"""


def notebook(folder: Path, design: str, more: Mapping[str, str] = {}, errors: int = 0) -> Notebook:
    for name, text in {**SHELF, "designs/leaf/design.md": design, **more}.items():
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    found = read_notebook(folder)
    assert len(found.errors) == errors, found.errors
    return found


def test_measures(tmp_path: Path) -> None:
    found = {m.name: m for m in measures_of(notebook(tmp_path, HEAD + "---\n").settings)}
    # A colour is not compared.
    assert "tint" not in found
    lip, relief, gloss, curl = (found[name] for name in ("lip", "relief", "gloss", "curl"))
    assert (lip.kind, lip.better, lip.matters, lip.unit) == ("length", "lower", 0.5, "mm")
    assert (relief.unit, relief.highest, relief.better) == ("", 5, "higher")
    assert (gloss.unit, gloss.highest, gloss.matters) == ("", 10, 1.0)
    assert (curl.unit, curl.better, curl.matters) == ("mm", "lower", 2.0)


def test_bars_with_their_choices(tmp_path: Path) -> None:
    found = notebook(tmp_path, HEAD + GROUPS + POURED)
    one, two, three = observed_bars(found.designs["leaf"], found.settings.all_measures())
    assert (one.bar, one.pour, one.poured_on, one.design) == ("A1", "A", date(2026, 1, 12), "leaf")
    assert one.levels == {"trim": "close", "heat": "cool"}
    assert one.variant == "close/cool"
    # The colour is left out; yes and no stay so.
    assert one.values == {"lip": 2.0, "lifted": False, "gloss": 9.0}
    assert two.values == {"lip": 0.0, "lifted": True, "curl": 1.0, "relief": 4.0}
    assert [bar.lifted for bar in (one, two, three)] == [False, True, None]


def test_groups_of_variants(tmp_path: Path) -> None:
    found = notebook(tmp_path, HEAD + GROUPS + POURED)
    assert compared_variants(found.shelf, found.designs["leaf"]) == (
        # The close piece goes with the close trim, and is no second change.
        ComparedVariant("close", "trim", {"trim": "close"}),
        ComparedVariant("straight", "trim", {"trim": "straight 3 mm"}),
        ComparedVariant("cool", "heat", {"layers.body.pour": "45-48 C"}),
        ComparedVariant("hot", "heat", {}),
    )


@pytest.mark.parametrize(
    ("written", "changes"),
    [
        ("trim: close, piece: b", {"trim": "close"}),
        # A piece that says nothing of its trim goes with any.
        ("trim: close, piece: c", {"trim": "close"}),
        ("piece: b", {"piece": "b"}),
        ("minutes: {tidy: 8}", {"minutes": "tidy: 8"}),
        ("layers: {body: {base: {plain: 70 %, milk: 30 %}}}",
         {"layers.body.base": "plain: 70 %, milk: 30 %"}),
        ("layers: {body: {amount: 80 g}, detail: {amount: 4 g}}",
         {"layers.body.amount": "80 g", "layers.detail.amount": "4 g"}),
        ("layers: {body: {fragrance: [{oil: cedar, dose: 1 mL/kg}, {oil: fennel, dose: 2 mL/kg}]}}",
         {"layers.body.fragrance": "oil: cedar, dose: 1 mL/kg, oil: fennel, dose: 2 mL/kg"}),
    ],
)  # fmt: skip
def test_what_a_variant_changes(tmp_path: Path, written: str, changes: dict[str, str]) -> None:
    design = f"{HEAD}variants:\n  plain: {{}}\n  other: {{{written}}}\n---\n"
    found = notebook(tmp_path, design)
    assert compared_variants(found.shelf, found.designs["leaf"]) == (
        ComparedVariant("plain", "", {}),
        ComparedVariant("other", "", changes),
    )


def test_a_design_without_variants_has_none(tmp_path: Path) -> None:
    found = notebook(tmp_path, HEAD + "---\n")
    design = found.designs["leaf"]
    assert compared_variants(found.shelf, design) == ()
    assert design_results(found.settings, found.shelf, design).comparisons == ()


# The question -------------------------------------------------------------------------

BY_TRIM = """variants:
  close: {trim: close, piece: b}
  straight: {trim: straight 3 mm}
"""
TWO_POURS = """pours:
  - date: 2026-01-05
    bars: [{bar: A1, variant: close, lip: 2 mm}, {bar: A2, variant: straight, lip: 0 mm}]
  - date: 2026-01-12
    bars: [{bar: B1, variant: close, lip: 2 mm}, {bar: B2, variant: straight, lip: 1 mm}]
---
"""


@pytest.mark.parametrize(
    ("looks", "next_at"), [("", (6, 0.028)), (", looks: each pour", (4, 0.0083))]
)
def test_a_verdict_may_come_at_each_pour(
    tmp_path: Path, looks: str, next_at: tuple[int, float]
) -> None:
    """After the look at three pours, which cannot tell: the next one, and the p that tells."""
    asked = "question: {compare: [close, straight], by: lip, asked: 2026-01-05, until: 3 pours"
    third = """  - date: 2026-01-19
    bars: [{bar: C1, variant: close, lip: 2 mm}, {bar: C2, variant: straight, lip: 2 mm}]
---
"""
    pours = TWO_POURS.removesuffix("---\n") + third
    found = compare_designs(notebook(tmp_path, f"{HEAD}{BY_TRIM}{asked}{looks}}}\n{pours}"))
    (lip,) = found.designs["leaf"].comparisons
    assert lip.progress is not None
    following = lip.progress.next_look
    assert following is not None
    assert (following.at, following.level) == next_at


@pytest.mark.parametrize(
    ("until", "poured", "of"), [("3 pours", 2, "pours"), ("9 bars", 4, "bars")]
)
def test_a_question_of_variants(tmp_path: Path, until: str, poured: int, of: str) -> None:
    asked = (
        f"question: {{compare: [close, straight], by: lip, asked: 2026-01-05, until: {until}}}\n"
    )
    found = compare_designs(notebook(tmp_path, HEAD + BY_TRIM + asked + TWO_POURS))
    (lip,) = found.designs["leaf"].comparisons
    assert lip.deciding
    assert lip.progress is not None
    assert (lip.progress.poured, lip.progress.until, lip.progress.of) == (poured, int(until[0]), of)
    assert lip.measure.matters == 0.5


def test_a_question_decides_on_what_it_names_in_its_order(tmp_path: Path) -> None:
    pared = BY_TRIM + "  pared: {trim: straight 1 mm}\n"
    asked = "question: {compare: [straight, close], by: lip, asked: 2026-01-05, until: 1 pours}\n"
    third = TWO_POURS.replace("lip: 1 mm}]", "lip: 1 mm}, {bar: B3, variant: pared, lip: 1 mm}]")
    found = compare_designs(notebook(tmp_path, HEAD + pared + asked + third))
    told = {one.between: one.deciding for one in found.designs["leaf"].comparisons}
    assert told == {
        ("straight", "close"): True, ("straight", "pared"): False, ("close", "pared"): False,
    }  # fmt: skip


def test_what_matters_to_the_question(tmp_path: Path) -> None:
    asked = "question: {compare: [close, straight], by: lip, asked: 2026-01-05, until: 1 pours,"
    found = notebook(tmp_path, f"{HEAD}{BY_TRIM}{asked} matters: 1.5 mm}}\n{TWO_POURS}")
    (lip,) = compare_designs(found).designs["leaf"].comparisons
    assert lip.measure.matters == 1.5


@pytest.mark.parametrize(
    "question",
    [
        "{compare: [close, straight], by: lustre, asked: 2026-01-05, until: 1 pours}",
        "{compare: [close, pared], by: lip, asked: 2026-01-05, until: 1 pours}",
        "{compare: [trim], by: lip, asked: 2026-01-05, until: 1 pours}",
        "{compare: [close, straight], by: tint, asked: 2026-01-05, until: 1 pours}",
        "{compare: [close, straight], by: lip, asked: 2026-01-05, until: 1 pours, matters: 2 g}",
    ],
)
def test_a_question_that_is_wrong_leaves_looks(tmp_path: Path, question: str) -> None:
    found = notebook(tmp_path, f"{HEAD}{BY_TRIM}question: {question}\n{TWO_POURS}", errors=1)
    if "leaf" in found.designs:
        (lip,) = compare_designs(found).designs["leaf"].comparisons
        assert (lip.by, lip.deciding, lip.progress) == ("lip", False, None)


GROUPED = """pours:
  - date: 2026-01-12
    bars:
      - {bar: A1, trim: close, heat: cool, lip: 2 mm}
      - {bar: A2, trim: straight, heat: cool, lip: 0 mm}
  - date: 2026-01-13
    bars:
      - {bar: B1, trim: close, heat: hot, lip: 2 mm}
      - {bar: B2, trim: straight, heat: hot, lip: 0 mm}
---
"""


@pytest.mark.parametrize("compare", ["trim", "[close, straight]"])
def test_a_question_of_a_group(tmp_path: Path, compare: str) -> None:
    asked = f"question: {{compare: {compare}, by: lip, asked: 2026-01-05, until: 2 pours}}\n"
    found = compare_designs(notebook(tmp_path, HEAD + GROUPS + asked + GROUPED))
    told = {one.between: (one.group, one.deciding) for one in found.designs["leaf"].comparisons}
    assert told == {("close", "straight"): ("trim", True), ("cool", "hot"): ("heat", False)}


# What grows ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("looks", "day"),
    [
        ((), None),
        (((7, "A1"), (7, "A2"), (30, "A1")), 7),
        # As many on both: the later one.
        (((7, "A1"), (30, "A1")), 30),
        # The day of the pour says nothing of growth.
        (((0, "A1"), (0, "A2"), (7, "A1")), 7),
    ],
)
def test_the_day_that_most_bars_share(
    tmp_path: Path, looks: tuple[tuple[int, str], ...], day: int | None
) -> None:
    rows = "".join(f"      - {{day: {d}, bar: {bar}, bleed: 1 mm}}\n" for d, bar in looks)
    # Looks at something else do not count.
    rows += "      - {day: 90, bar: A1, weight: 90 g}\n      - {day: 90, bar: A2, weight: 90 g}\n"
    poured = TWO_POURS.replace("  - date: 2026-01-12", f"    later:\n{rows}  - date: 2026-01-12")
    found = notebook(tmp_path, HEAD + BY_TRIM + poured)
    assert follow_up_day(found.designs["leaf"], "bleed") == day
    assert follow_up_day(found.designs["leaf"], "weight") is None


TWO = "variants:\n  close: {trim: close, piece: b}\n  straight: {}\n"


def test_a_dropped_bar_is_counted_and_not_judged(tmp_path: Path) -> None:
    """Beside it, the same write-up without that bar: nothing but the counts may change."""
    rows = [
        "{bar: A1, variant: close, lip: 1 mm, keep: yes}",
        "{bar: A2, variant: close, lip: 3 mm, keep: no%s}",
        "{bar: A3, variant: straight, lip: 2 mm, keep: yes}",
    ]
    found = []
    for spoilt in (", spoilt: dropped", ""):
        bars = "".join(f"      - {row.replace('%s', spoilt)}\n" for row in rows)
        pours = f"pours:\n  - date: 2026-01-12\n    bars:\n{bars}"
        pours += "    later:\n      - {bar: A2, day: 30, bleed: 1 mm}\n---\n"
        folder = tmp_path / str(len(found))
        book = notebook(folder, HEAD + TWO + pours)
        found.append(compare_designs(book).designs["leaf"])
    dropped, judged = found
    assert [(one.bars, one.spoilt) for one in dropped.variants] == [(2, 1), (1, 0)]
    assert [(one.bars, one.spoilt) for one in judged.variants] == [(2, 0), (1, 0)]
    assert [one.values for one in dropped.variants[0].measures] == [(1.0,), (1.0,)]
    kept = [one.variants[0].kept for one in found]
    assert [(one.yes, one.n) for one in kept if one is not None] == [(1, 1), (1, 2)]
    lip = next(one for one in dropped.comparisons if one.by == "lip")
    close = lip.sides[0]
    assert (close.poured, close.measured, close.spoilt, close.not_noted) == (2, 1, 1, 0)
    assert "1 close bar was dropped or lost, and not judged." in "\n".join(sentences(lip))
