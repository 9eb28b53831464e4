"""From write-ups to a question across designs: what is compared, and what differs beside it.

Three invented designs, read off by eye: what each bar is told apart by stands in its write-up.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from journal.comparison.derive import CrossDesignResults, compare_designs, compared_value
from journal.records.notebook import Notebook, read_notebook

SHELF = {
    "journal.yaml": "studio: A bench\n",
    "shelf/bases.yaml": "plain: {name: Plain}\nmilk: {name: Milk}\n",
    "shelf/leftovers.yaml": "ends: {name: Ends, base: plain, amount: 1 kg}\n",
    "shelf/fragrances.yaml": "cedar: {name: Cedar}\nfennel: {name: Fennel}\n",
    "shelf/colourants.yaml": "slate: {name: Slate}\nochre: {name: Ochre}\nblue: {name: Blue}\n",
    "shelf/moulds.yaml": "six: {name: Six}\nfour: {name: Four}\n",
    "shelf/mats.yaml": "leaf: {name: Leaf}\nmoth: {name: Moth}\n",
    "shelf/pieces.yaml": (
        "a: {name: A, mat: leaf, trim: straight 3 mm}\nb: {name: B, mat: leaf, trim: close}\n"
    ),
}

# Two trims of one pot; both scents and both colours of the body, the detail has its own.
LEAF = """---
title: Leaf
date: 2026-01-01
state: keeper
subjects: [shoreline, two-tone]
mat: leaf
mould: six
trim: straight 3 mm
piece: a
bars: 4
layers:
  - name: detail
    base: {leftover: ends}
    amount: 5 g
    spritz: after
    colours: [{colourant: ochre, by: eye}]
  - name: body
    base: {plain: 70 %, milk: 30 %}
    amount: 90 g
    pour: 50-55 C
    fragrance: [{oil: fennel, dose: 1 mL/kg}, {oil: cedar, dose: 1 mL/kg}]
    colours: [{colourant: slate, by: eye}, {colourant: blue, by: eye}]
variants:
  close: {trim: close, piece: b}
  straight: {trim: straight 3 mm}
pours:
  - date: 2026-03-12
    bars:
      - {bar: A1, variant: close, lip: 2 mm, lifted: no}
      - {bar: A2, variant: close, lip: 4 mm, lifted: no}
      - {bar: A3, variant: straight, lip: 1 mm, lifted: yes}
      - {bar: A4, variant: straight, lip: 1 mm}
---
"""

# The same two trims, neither scented nor coloured, from another mould.
PLAIN = """---
title: Plain leaf
date: 2026-01-01
state: trial
subjects: [shoreline]
mat: leaf
mould: four
bars: 2
layers:
  - {name: body, base: milk, amount: 90 g}
variants:
  straight: {trim: straight 3 mm}
  close: {trim: close}
pours:
  - date: 2026-07-01
    bars: [{bar: A1, variant: straight, lip: 1 mm}, {bar: A2, variant: close, lip: 1.5 mm}]
---
"""

# One trim alone, and another mat.
MOTH = """---
title: Moth
date: 2026-01-01
state: keeper
mat: moth
trim: close
mould: six
bars: 1
layers:
  - {name: body, base: plain, amount: 90 g}
pours:
  - date: 2026-10-31
    bars: [{bar: A1, lip: 3 mm}]
---
"""

DESIGNS = {
    "designs/leaf/design.md": LEAF,
    "designs/moth/design.md": MOTH,
    "designs/plain/design.md": PLAIN,
}


def read(folder: Path, more: Mapping[str, str]) -> Notebook:
    for name, text in {**SHELF, **DESIGNS, **more}.items():
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    found = read_notebook(folder)
    assert not found.errors, found.errors
    return found


def asked(folder: Path, between: str, where: str = "", by: str = "[lip]") -> CrossDesignResults:
    front = f"title: Asked\nby: {by}\nbetween: {between}\n"
    front += f"where: {{{where}}}\n" if where else ""
    notebook = read(folder, {"comparisons/asked.md": f"---\n{front}---\n"})
    return compare_designs(notebook).across["asked"]


def test_designs_with_both_trims_are_rows(tmp_path: Path) -> None:
    found = asked(tmp_path, "trim")
    assert (found.thing, found.empty_because) == ("trim", "")
    assert found.values == ("close", "straight")
    assert found.designs == ("leaf", "moth", "plain")
    (result,) = found.results
    assert (result.by, result.deciding, result.measure.unit) == ("lip", True, "mm")
    # A trim is cut bar by bar. 2 and 4 against 1 (of the two, one bar has lost its detail);
    # 1.5 against 1; one alone.
    assert [row.difference for row in result.rows] == [-2.0, None, -0.5]
    assert [row.contrast.trials.by for row in result.rows] == ["bars"] * 3
    assert [side.lifted for side in result.rows[0].sides] == [0, 1]
    assert (result.paired, result.below) == (2, 2)


def test_what_differs_beside_what_is_compared(tmp_path: Path) -> None:
    (result,) = asked(tmp_path, "trim").results
    bars = {row.design: row.contrast.trials.fit[0][0] for row in result.rows}
    assert bars["leaf"].conditions == {
        "base": "plain and milk",
        "mould": "six",
        "mat": "leaf",
        "colourant": "blue and ochre and slate",
        "fragrance": "cedar and fennel",
        "season": "spring",
    }
    assert bars["moth"].conditions == {
        "base": "plain", "mould": "six", "mat": "moth", "season": "autumn",
    }  # fmt: skip
    assert bars["plain"].conditions == {
        "base": "milk", "mould": "four", "mat": "leaf", "season": "summer",
    }  # fmt: skip
    assert (bars["leaf"].bar, bars["leaf"].pour) == ("A1", "A")
    assert bars["leaf"].values == {"lip": 2.0, "lifted": False}


@pytest.mark.parametrize(
    ("between", "beside"),
    [
        ("mat", {"base", "mould", "season"}),
        ("mould", {"base", "mat", "season"}),
        ("layer.body.base", {"mould", "mat", "season"}),
    ],
)
def test_what_is_compared_does_not_explain_itself(
    tmp_path: Path, between: str, beside: set[str]
) -> None:
    found = asked(tmp_path, between)
    rows = {row.design: row for row in found.results[0].rows}
    (bar,) = (bar for side in rows["moth"].contrast.trials.fit for bar in side)
    assert set(bar.conditions) == beside


@pytest.mark.parametrize("key", ["colours", "colourant"])
def test_colours_of_a_layer_do_not_explain_themselves(tmp_path: Path, key: str) -> None:
    other = LEAF.replace("blue, by: eye", "ochre, by: eye").replace("title: Leaf", "title: Other")
    front = f"title: Asked\nby: [lip]\nbetween: layer.body.{key}\n"
    notebook = read(
        tmp_path, {"designs/other/design.md": other, "comparisons/asked.md": f"---\n{front}---\n"}
    )
    found = compare_designs(notebook).across["asked"]
    assert found.values == ("blue and slate", "ochre and slate")
    for row in found.results[0].rows:
        for side in row.contrast.trials.fit:
            assert all("colourant" not in bar.conditions for bar in side)
            assert all("fragrance" in bar.conditions for bar in side)


@pytest.mark.parametrize(
    ("month", "season"),
    [
        (1, "winter"), (2, "winter"), (3, "spring"), (4, "spring"), (5, "spring"), (6, "summer"),
        (7, "summer"), (8, "summer"), (9, "autumn"), (10, "autumn"), (11, "autumn"), (12, "winter"),
    ],
)  # fmt: skip
def test_seasons(tmp_path: Path, month: int, season: str) -> None:
    """Whole months from December on, as weather offices count them."""
    plain = PLAIN.replace("date: 2026-07-01", f"date: 2026-{month:02}-28")
    plain = plain.replace("date: 2026-01-01", "date: 2025-01-01")
    front = "title: Asked\nby: [lip]\nbetween: trim\n"
    notebook = read(
        tmp_path, {"designs/plain/design.md": plain, "comparisons/asked.md": f"---\n{front}---\n"}
    )
    (result,) = compare_designs(notebook).across["asked"].results
    (row,) = (row for row in result.rows if row.design == "plain")
    assert row.contrast.trials.fit[0][0].conditions["season"] == season


@pytest.mark.parametrize(
    ("where", "designs"),
    [
        ("state: keeper", ("leaf", "moth")),
        ("state: trial", ("plain",)),
        ("state: set aside", ()),
        ("subject: shoreline", ("leaf", "plain")),
        ("subject: two-tone", ("leaf",)),
        ("mould: six", ("leaf", "moth")),
        ("mould: six, state: trial", ()),
        ("state: keeper, subject: shoreline", ("leaf",)),
        ("fragrance: cedar and fennel", ("leaf",)),
        ("trim: close", ("leaf", "moth", "plain")),
    ],
)
def test_conditions(tmp_path: Path, where: str, designs: tuple[str, ...]) -> None:
    assert asked(tmp_path, "trim", where).designs == designs


@pytest.mark.parametrize(
    ("where", "why"),
    [
        ("trim: close", "no two values of it were poured"),
        ("state: set aside", "no bar meets the conditions"),
    ],
)
def test_nothing_to_compare_says_why(tmp_path: Path, where: str, why: str) -> None:
    found = asked(tmp_path, "trim", where)
    assert (found.thing, found.empty_because, found.results) == ("trim", why, ())


def test_the_first_measure_decides(tmp_path: Path) -> None:
    found = asked(tmp_path, "trim", by="[lifted, lip, tint]")
    # A colour is not compared; "lifted" was noted of one design alone.
    assert [(one.by, one.deciding) for one in found.results] == [("lifted", True), ("lip", False)]


def test_moulds_are_of_a_whole_pot(tmp_path: Path) -> None:
    found = asked(tmp_path, "mould")
    # No design has both moulds: all are shown, though none is evidence.
    assert found.values == ("four", "six")
    (result,) = found.results
    assert result.paired == 0
    assert {row.contrast.trials.by for row in result.rows} == {"pots"}


def test_pairs_that_no_design_has_are_left_out(tmp_path: Path) -> None:
    """Of three pieces of text that a base can be, one design has two."""
    two = PLAIN.replace("straight: {trim: straight 3 mm}", "plain: {layers: {body: {base: plain}}}")
    two = two.replace("close: {trim: close}", "milk: {layers: {body: {base: milk}}}")
    two = two.replace("variant: straight", "variant: plain").replace(
        "variant: close", "variant: milk"
    )
    front = "title: Asked\nby: [lip]\nbetween: base\n"
    notebook = read(
        tmp_path, {"designs/plain/design.md": two, "comparisons/asked.md": f"---\n{front}---\n"}
    )
    found = compare_designs(notebook).across["asked"]
    assert found.values == ("milk", "plain", "plain and milk")
    assert [one.between for one in found.results] == [("milk", "plain")]


@pytest.mark.parametrize(
    ("thing", "value"),
    [
        ("trim", "straight"),
        ("mat", "leaf"),
        ("mould", "six"),
        ("piece", "a"),
        ("base", "plain and milk"),
        ("colourant", "blue and ochre and slate"),
        ("fragrance", "cedar and fennel"),
        ("layer.detail.base", "ends"),
        ("layer.body.base", "plain and milk"),
        ("layers.body.base", "plain and milk"),
        ("layer.detail.colourant", "ochre"),
        ("layer.body.colourant", "blue and slate"),
        ("layer.body.colours", "blue and slate"),
        ("layer.body.fragrance", "cedar and fennel"),
        ("layer.detail.fragrance", None),
        ("layer.detail.pour", None),
        ("layer.detail.spritz", "after"),
        ("layer.back.base", None),
        ("body.base", None),
        ("layer.body", None),
        ("layer.body.base.more", None),
        ("colour", None),
    ],
)
def test_what_a_recipe_is_told_apart_by(tmp_path: Path, thing: str, value: str | None) -> None:
    assert compared_value(read(tmp_path, {}).designs["leaf"].recipe, thing) == value
