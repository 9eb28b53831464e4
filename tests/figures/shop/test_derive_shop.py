"""What costs, cut plans and labels lack: each told by the key that would give it."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from worked_notebook import leaf, read

from journal.figures.derive import RecipeFigures
from journal.figures.shop.derive_shop import COST, CUT, LABEL

DESIGN = "designs/leaf/design.md"
MOULDS, MATS, SETTINGS = "shelf/moulds.yaml", "shelf/mats.yaml", "journal.yaml"
Change = tuple[str, str, str]


def recipe(tmp_path: Path, *changes: Change) -> RecipeFigures:
    return leaf(read(tmp_path, *changes)).recipe


@pytest.mark.parametrize(
    ("change", "lacks"),
    [
        ((DESIGN, "mat: leaf\n", ""), ["a mat"]),
        ((DESIGN, "mould: four\n", ""), ["mould"]),
        ((MOULDS, "  face: 80 x 50 mm\n", ""), ["moulds/four: face"]),
        ((MATS, "  sheet: 300 x 200 mm\n", ""), ["mats/leaf: sheet"]),
        ((MATS, ", pitch: 90 x 60 mm", ""), ["mats/leaf: motif pitch and offset"]),
        ((MATS, ", offset: 50 x 40 mm", ""), ["mats/leaf: motif pitch and offset"]),
        ((DESIGN, "trim: straight 2 mm\n", ""), ["trim"]),
        (
            (DESIGN, "trim: straight 2 mm\n", "trim: straight\n"),
            ["trim: the margin, such as straight 3 mm"],
        ),
    ],
)
def test_a_cut_plan_that_lacks_something(tmp_path: Path, change: Change, lacks: list[str]) -> None:
    found = recipe(tmp_path, change)[CUT]
    assert found.value is None
    assert (found.name, found.kind, found.method, found.inputs) == (
        "cut", "computed", "cut-plan", (),
    )  # fmt: skip
    assert [(entry.figure, entry.needs) for entry in found.missing] == [
        ("cut", need) for need in lacks
    ]


@pytest.mark.parametrize(
    ("change", "part", "lacks"),
    [
        (("shelf/bases.yaml", "  price: 10.00/kg\n", ""), "base", [("base", "bases/plain: price")]),
        (
            ("shelf/bases.yaml", "price: 10.00/kg", "price: 10.00"),
            "base",
            [("base", "bases/plain: price by mass, such as 4.10/lb")],
        ),
        (
            ("shelf/fragrances.yaml", "  price: 0.20/mL\n", ""),
            "fragrance",
            [("fragrance", "fragrances/herb: price by volume or mass")],
        ),
        (
            ("shelf/colourants.yaml", "  price: 0.10/g\n", ""),
            "colour",
            [("colour", "colourants/brick: price")],
        ),
        (
            (DESIGN, "{colourant: brick, dose: 1 %}", "{colourant: brick, by: eye}"),
            "colour",
            [("colour", "colours/brick: dose (it is done by eye)")],
        ),
        (
            ("shelf/packaging.yaml", "  price: 0.25\n", ""),
            "packaging",
            [("packaging", "packaging/sleeve: price")],
        ),
        ((MOULDS, "  price: 40.00\n", ""), "tools", [("tools", "moulds/four: price")]),
        ((MOULDS, "  life: 100\n", ""), "tools", [("tools", "moulds/four: life")]),
        ((MATS, "  price: 24.00\n", ""), "tools", [("tools", "mats/leaf: price")]),
        ((MATS, "  life: 50\n", ""), "tools", [("tools", "mats/leaf: life")]),
        ((MATS, "  sheet: 300 x 200 mm\n", ""), "tools", [("tools", "a cut plan of the mat")]),
        ((SETTINGS, "labour: 24.00\n", ""), "labour", [("labour", "journal.yaml: labour")]),
        (
            (DESIGN, "minutes: {pour: 20, tidy: 8}", "minutes: {tidy: 8}"),
            "labour",
            [("labour", "minutes: pour")],
        ),
    ],
)
def test_a_cost_that_lacks_something(
    tmp_path: Path, change: Change, part: str, lacks: list[tuple[str, str]]
) -> None:
    """Only the part in question is unknown, and with it the price."""
    found = recipe(tmp_path, change)[COST]
    assert found.value is not None
    assert [(entry.figure, entry.needs) for entry in found.missing] == [
        (f"cost of {figure}", need) for figure, need in lacks
    ]
    assert found.value.missing == (part,)
    assert found.value.price is None


@pytest.mark.parametrize(
    ("change", "lacks"),
    [
        ((SETTINGS, "margin: 50 %\n", ""), [("price", "journal.yaml: margin")]),
        ((SETTINGS, "fixed_costs: 100.00\n", ""), [("break-even", "journal.yaml: fixed_costs")]),
    ],
)
def test_a_cost_without_a_price(
    tmp_path: Path, change: Change, lacks: list[tuple[str, str]]
) -> None:
    found = recipe(tmp_path, change)[COST]
    assert found.value is not None
    assert [(entry.figure, entry.needs) for entry in found.missing] == lacks
    assert found.value.break_even_bars is None


def test_a_mica_without_a_density_has_its_cost_by_the_published_range(tmp_path: Path) -> None:
    """2.5 mL/kg into 336 g of body are 0.84 mL: 0.252 to 0.4452 g, at 0.10 a gram for 4 bars."""
    whole = recipe(tmp_path / "whole")[COST].value
    mica = ("shelf/colourants.yaml", "  density: 0.5 g/mL\n", "  kind: mica\n")
    dose = (DESIGN, "brick, dose: 1 %", "brick, dose: 2.5 mL/kg")
    found = recipe(tmp_path / "mica", mica, dose)[COST].value
    assert whole is not None
    assert found is not None
    (gap,) = found.gaps
    assert (gap.part, gap.name, gap.needs) == ("colour", "Brick", "colourants/brick: density")
    assert gap.low is not None
    assert gap.high is not None
    assert (float(gap.low), float(gap.high)) == pytest.approx((0.0063, 0.01113))
    # The colour is 3.36 g at 0.10 in the batch; nothing else of the 17.398 changes.
    assert whole.known - found.known == pytest.approx(Decimal("0.336"))
    assert found.batch.total == Decimal("17.06")  # 17.0653, and not 17.07


@pytest.mark.parametrize("written", ["Mica, CI 77491", "Mica / CI 77491", "Mica ,CI 77491,"])
def test_a_colourant_of_several_names(tmp_path: Path, written: str) -> None:
    found = recipe(tmp_path, ("shelf/colourants.yaml", "inci: CI 77491", f'inci: "{written}"'))
    label = found[LABEL].value
    assert label is not None
    for draft in label.drafts:
        # Mica bears colours in Europe, and goes by mass among the ingredients.
        assert "Mica" in draft.names
        assert draft.names[-1] == ("Mica" if draft.region == "us" else "CI 77491")
        assert len(draft.names) == 6


def test_a_colourant_without_a_name(tmp_path: Path) -> None:
    found = recipe(tmp_path, ("shelf/colourants.yaml", "  inci: CI 77491\n", ""))[LABEL]
    assert [(entry.figure, entry.needs) for entry in found.missing] == [
        ("label", "colourants/brick: inci")
    ]
    assert found.value is not None
    assert [len(draft.names) for draft in found.value.drafts] == [4, 4]


def test_the_scent_of_a_leftover_is_not_paid_again(tmp_path: Path) -> None:
    """5 g of ends at 0.5 %: the oil of the body alone costs, 3.36 mL at 0.20."""
    ends = (
        "ends: {name: Ends, base: plain, amount: 400 g, tinted: no,"
        " scented: {oil: herb, concentration: 0.5 %}}\n"
    )
    change = (
        DESIGN,
        "    base: plain\n    amount: 5 g\n",
        "    base: {leftover: ends}\n    amount: 5 g\n",
    )
    found = leaf(read(tmp_path, change, more={"shelf/leftovers.yaml": ends})).recipe
    detail, body = found.masses.layers
    assert [oil.from_leftover for oil in detail.fragrances] == [True]
    assert [oil.from_leftover for oil in body.fragrances] == [False]
    # 42 g are melted for the detail.
    assert detail.fragrances[0].mass_g == pytest.approx(0.21)
    assert found[COST].value is not None
    assert dict(found[COST].value.batch.parts)["fragrance"] == Decimal("0.67")
