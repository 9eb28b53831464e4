"""One design reckoned through on paper, from what was written to every figure of a page.

The notebook is that of worked_notebook.py; each number here was worked out by hand, the
way stands beside it. Money is exact; the rest agrees but for the last digits of a float.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

import pytest
from worked_notebook import DESIGN, lay_out, leaf, read

from journal.errors import Problem
from journal.figures.as_json import design_json
from journal.figures.common.result import Figure
from journal.figures.day.derive_order import line_variant
from journal.figures.derive import derive_recipe
from journal.figures.heat.derive_heat import COOLING, pot_windows
from journal.figures.recipe.derive_fill import FILL
from journal.figures.recipe.derive_layers import LAYERS
from journal.figures.recipe.derive_leftovers import LEFT_OF_POURS, LEFTOVERS
from journal.figures.recipe.fragrance import HEAVIEST_OIL_G_ML
from journal.figures.shop.derive_shop import COST, CUT, LABEL, NET_WEIGHT
from journal.records.notebook import read_notebook

CLOSE = 1e-12


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> object:
    return leaf(read(tmp_path_factory.mktemp("worked")))


def test_masses(found) -> None:  # type: ignore[no-untyped-def]
    masses = found.recipe.masses
    detail, body = masses.layers
    # 4 x 5 g stay, 4 x 5 g over: 40 g and 5 % of it; 4 x 80 g and 5 %.
    assert (detail.base_g, detail.melt_g) == pytest.approx((20, 42), rel=CLOSE)
    assert (body.base_g, body.melt_g) == pytest.approx((320, 336), rel=CLOSE)
    assert [pot.melt_g for pot in masses.pots] == pytest.approx([42, 336], rel=CLOSE)
    assert [pot.name for pot in masses.pots] == ["pale", "body"]


def test_fragrance_and_colour(found) -> None:  # type: ignore[no-untyped-def]
    masses = found.recipe.masses
    body = masses.layer("body")
    oil, colour = body.fragrances[0], body.dosed[0]
    # 10 mL/kg into 336 g; 0.9 g/mL. 1 % of 336 g; 0.5 g/mL.
    assert (oil.volume_ml, oil.mass_g) == pytest.approx((3.36, 3.024), rel=CLOSE)
    assert (colour.mass_g, colour.volume_ml) == pytest.approx((3.36, 6.72), rel=CLOSE)
    assert oil.load == pytest.approx(3.024 / 336, rel=CLOSE)
    # In 336 + 3.024 + 3.36 g; a bar holds 80/336 of that and 5 g of detail.
    assert oil.layer_share == pytest.approx(3.024 / 342.384, rel=CLOSE)
    assert masses.bar_g == pytest.approx(86.52, rel=CLOSE)
    assert oil.bar_share == pytest.approx(0.72 / 86.52, rel=CLOSE)
    assert oil.within_limit is True
    assert body.limit_used == pytest.approx(3.024 / 342.384 / 0.02, rel=CLOSE)


def test_fill(found) -> None:  # type: ignore[no-untyped-def]
    fill = found.recipe[FILL].value
    # 5 mL and 80 mL of base, 0.8 mL of oil, 1.6 mL of colour.
    assert fill.poured_ml == pytest.approx(87.4, rel=CLOSE)
    # 64 x 44 x 3 mm less 2 mL of relief.
    assert fill.piece_ml == pytest.approx(6.448, rel=CLOSE)
    # 80 x 50 x 25 mm is 100 mL.
    assert fill.capacity_ml == pytest.approx((100, 100), rel=CLOSE)
    assert fill.fill == pytest.approx((0.93848, 0.93848), rel=CLOSE)
    assert fill.proud_mm == (0, 0)


def test_cut(found) -> None:  # type: ignore[no-untyped-def]
    plan = found.recipe[CUT].value
    # Motif 60 x 40 and 2 mm all round; 3 across and 3 up; of 60000 mm2 it takes 9 x 2816.
    assert plan.piece_mm == (64, 44)
    assert plan.count == 9
    assert plan.waste_share == pytest.approx(0.5776, rel=CLOSE)


def test_cost(found) -> None:  # type: ignore[no-untyped-def]
    sheet = found.recipe[COST].value
    # A batch: base (22 + 336) g at 10 a kg: 3.58; oil 3.36 mL at 0.20: 0.672; colour 3.36 g
    # at 0.10: 0.336; sleeves 1.00; mould 40/(100 x 4) a bar and mat 24/(9 x 50) a bar:
    # 0.613333; 28 min at 24.00: 11.20. In all 17.401333, a bar 4.350333.
    assert sheet.batch.total == Decimal("17.40")
    assert sheet.a_bar.total == Decimal("4.35")
    parts = dict(sheet.batch.parts)
    assert parts["base"] == Decimal("3.58")
    assert parts["packaging"] == Decimal("1.00")
    assert parts["labour"] == Decimal("11.20")
    assert sum(part for part in parts.values() if part is not None) == sheet.batch.total
    # At a margin of 50 % the price is twice the cost, 8.700667; 100 / 4.35 is 22.99 bars.
    assert sheet.price == Decimal("8.70")
    assert sheet.contribution == Decimal("4.35")
    assert sheet.break_even_bars == 23


def test_net_weight(found) -> None:  # type: ignore[no-untyped-def]
    weight = found.recipe[NET_WEIGHT].value
    # 84, 85, 86, 85 of one pour: mean 85, and nothing to declare.
    assert weight.net.mean_g == pytest.approx(85, rel=CLOSE)
    assert weight.net.lower_g is None
    assert [one.text for one in weight.declared] == ["", ""]
    assert weight.loss is None


def of_three_pours(more_settings: str = "") -> tuple[tuple[str, str, str], ...]:
    """Changes: the bars poured three times, on days of their own, and to lose 10 % by the sale."""
    pour = DESIGN[DESIGN.index("  - date: 2026-03-01\n    room") : DESIGN.index("---\nOn paper")]
    more = "".join(
        pour.replace("03-01", f"03-0{day}").replace("bar: A", f"bar: {name}")
        for day, name in ((2, "B"), (3, "C"))
    )
    settings = ("journal.yaml", "studio:", f"drying: 10 %\n{more_settings}studio:")
    return settings, ("designs/leaf/design.md", "---\nOn paper", f"{more}---\nOn paper")


def test_net_weight_of_three_pours(tmp_path: Path) -> None:
    # Four bars of 84, 85, 86, 85 g in each, less 10 %: all pours 76.5 g, which is 2.698 oz. A
    # bar's deviation is sqrt(6 / 9) x 0.9 = 0.735 g, far within the allowance.
    weight = leaf(read(tmp_path, *of_three_pours())).recipe[NET_WEIGHT].value
    assert weight is not None
    assert (weight.net.bars, weight.net.pours) == (12, 3)
    assert weight.net.lower_g == pytest.approx(76.5)
    assert [one.text for one in weight.declared] == ["Net Wt 2.6 oz (73 g)", "76 g"]


def test_label(found) -> None:  # type: ignore[no-untyped-def]
    us, eu = found.recipe[LABEL].value.drafts
    # Aqua 39 %, glycerin 34 %, stearate 25 % of the bar, oil 0.83 %; colour last. 5 % of
    # 0.83 % linalool is 0.042 %, above 0.01 %; citral is below.
    assert eu.names == ("Aqua", "Glycerin", "Sodium Stearate", "Parfum", "CI 77491")
    assert eu.allergens == ("Linalool",)
    assert us.names[3] == "Fragrance"


def test_what_is_left_behind(found) -> None:  # type: ignore[no-untyped-def]
    pale, body = found.recipe[LEFTOVERS].value
    # 42 melted, 20 stay, 5 % of 40 in the jug; what was over is left.
    assert (pale.left_g, pale.lost_g) == pytest.approx((20, 2), rel=CLOSE)
    assert (body.left_g, body.lost_g) == pytest.approx((0, 16), abs=1e-9)
    assert pale.bases == (("plain", 1.0),)
    assert pale.colours == ()
    assert body.colours == ("brick",)
    assert body.scents[0] == ("herb", pytest.approx(3.024 / 342.384, rel=CLOSE))


def test_what_a_pour_left_behind(found) -> None:  # type: ignore[no-untyped-def]
    pale, body = found[LEFT_OF_POURS].value
    # 60 g melted for the same 20 + 20 g: 18 g more. 380 g for 320 + 16: 44 g.
    assert (pale.left_g, pale.lost_g, pale.short_g) == pytest.approx((38, 2, 0), rel=CLOSE)
    assert (body.left_g, body.lost_g, body.short_g) == pytest.approx((44, 16, 0), rel=CLOSE)


def test_a_pot_that_held_too_little_is_told(tmp_path: Path) -> None:
    notebook = read(tmp_path, ("designs/leaf/design.md", "body: 380 g", "body: 330 g"))
    # 320 + 16 g were wanted, 330 g were there.
    assert leaf(notebook)[LEFT_OF_POURS].value[1].short_g == pytest.approx(6, rel=CLOSE)


@pytest.mark.parametrize(
    ("region", "step", "text"), [("eu", "5 g", "75 g"), ("us", "0.5 oz", "2.5")]
)
def test_a_label_step_of_the_studio(tmp_path: Path, region: str, step: str, text: str) -> None:
    weight = leaf(read(tmp_path, *of_three_pours(f"label_step: {step}\n"))).recipe[NET_WEIGHT].value
    assert weight is not None
    declared = {entry.system: entry.text for entry in weight.declared}
    assert text in declared[region]
    # The other region has the step of its own.
    assert declared["us" if region == "eu" else "eu"] in ("Net Wt 2.6 oz (73 g)", "76 g")


LATER = """
    later:
      - {day: 25, bar: A1, weight: 82 g}
      - {day: 25, bar: A2, weight: 83 g}
      - {day: 100, bar: A1, weight: 80 g}
      - {day: 100, bar: A2, weight: 81 g}
---
On"""


def test_the_day_of_sale_moves_the_net_weight(tmp_path: Path) -> None:
    weighed = ("designs/leaf/design.md", "\n---\nOn", LATER)
    found = {}
    for day in (0, 25, 100):
        settings = ("journal.yaml", "margin: 50 %", f"margin: 50 %\nsale_day: {day}")
        weight = leaf(read(tmp_path / str(day), weighed, settings)).recipe[NET_WEIGHT].value
        assert weight is not None
        assert weight.net.sale_day == day
        found[day] = weight.net.mean_at_sale_g
    # A1 and A2 lost about 2 g by day 25 and 4 g by day 100: the square root of the days.
    assert found[0] == pytest.approx(85, rel=CLOSE)
    assert found[25] == pytest.approx(83, abs=0.2)
    assert found[100] == pytest.approx(81, abs=0.2)


def test_a_day_of_sale_when_nothing_would_be_left(tmp_path: Path) -> None:
    weighed = ("designs/leaf/design.md", "\n---\nOn", LATER)
    settings = ("journal.yaml", "margin: 50 %", "margin: 50 %\nsale_day: 999999")
    figure = leaf(read(tmp_path, weighed, settings)).recipe[NET_WEIGHT]
    assert figure.value is None
    assert "sale_day" in figure.missing[0].needs


def test_ranges_on_the_shelf(tmp_path: Path) -> None:
    """What is read off a range is its middle; what must not be too little its far end."""
    found = leaf(
        read(
            tmp_path,
            ("shelf/colourants.yaml", "density: 0.5 g/mL", "density: 0.4-0.6 g/mL"),
            ("shelf/mats.yaml", "density: 1.2 g/mL", "density: 1.1-1.3 g/mL\n  piece_weight: 12 g"),
            ("shelf/moulds.yaml", "  face: 80 x 50 mm\n  depth: 25 mm\n", "  holds: 100 g\n"),
        )
    )
    colour = found.recipe.masses.layer("body").dosed[0]
    # 3.36 g at 0.5 g/mL; 12 g at 1.2 g/mL.
    assert colour.volume_ml == pytest.approx(6.72, rel=CLOSE)
    fill = found.recipe[FILL]
    assert fill.value is not None
    assert fill.value.piece_ml == pytest.approx(10, rel=CLOSE)
    assert fill.value.proud_mm is None
    assert [(entry.figure, entry.needs) for entry in fill.missing] == [
        ("proud", "moulds/four: face")
    ]


def test_an_oil_without_a_density_is_taken_as_the_heaviest(tmp_path: Path) -> None:
    change = ("shelf/fragrances.yaml", "  density: 0.9 g/mL\n", "")
    recipe = leaf(read(tmp_path, change)).recipe
    oil = recipe.masses.layer("body").fragrances[0]
    assert oil.density_assumed
    assert oil.mass_g == pytest.approx(3.36 * HEAVIEST_OIL_G_ML, rel=CLOSE)
    assert "density of herb" in inputs(recipe[LAYERS])
    known = leaf(read(tmp_path / "known")).recipe
    assert "density of herb" not in inputs(known[LAYERS])
    assert not known.masses.layer("body").fragrances[0].density_assumed


# A block that is cut into bars ---------------------------------------------------------


def loaf(bars: int, amount: str = "80 g", cavities: int = 1) -> tuple[tuple[str, str, str], ...]:
    """A loaf of 1000 mL cut into ten, for so many bars of 82.4 mL and a detail of 5 mL."""
    return (
        ("designs/leaf/design.md", "mat: leaf\n", ""),
        ("designs/leaf/design.md", "bars: 4\n", f"bars: {bars}\n"),
        ("designs/leaf/design.md", "amount: 80 g", f"amount: {amount}"),
        ("shelf/moulds.yaml", "cavities: 4", f"cavities: {cavities}\n  bars_each: 10"),
        ("shelf/moulds.yaml", "80 x 50 mm\n  depth: 25 mm", "200 x 100 mm\n  depth: 50 mm"),
    )


@pytest.mark.parametrize(
    ("changes", "cut_into", "percent", "told"),
    [
        (loaf(10), 10, 87.4, None),
        # 6 x 8.74 = 52.44 %.
        (loaf(6), 6, 52.44, None),
        (loaf(3), 3, 26.22, "fills only 26 % of its cavity: it is poured for 3 of 10 bars"
                            " / Pour 10 bars at once, or use a smaller mould."),
        # Seven and six; of one cavity ten, and then three.
        (loaf(13, cavities=2), 7, 61.18, None),
        (loaf(13), 10, 87.4, "fills only 26 % of its cavity: it is poured for 3 of 10 bars"
                             " / Pour 10 bars at once, or use a smaller mould."),
        # (5 + 20 x 82.4 / 80) mL = 25.6 mL a bar: ten are 25.6 %.
        (loaf(10, "20 g"), 10, 25.6, "fills only 26 % of its cavity: it is poured for 10 of 10 bars"
                                     " / Pour more a bar, or use a smaller mould."),
        # (5 + 200 x 82.4 / 80) mL = 211 mL: four fit.
        (loaf(2, "200 g"), 2, 42.2, "fills only 42 % of its cavity: it is poured for 2 of 10 bars"
                                    " / Pour 4 bars at once, or use a smaller mould."),
    ],
)  # fmt: skip
def test_a_block_is_cut_into_the_bars_of_its_round(
    tmp_path: Path,
    changes: tuple[tuple[str, str, str], ...],
    cut_into: int,
    percent: float,
    told: str | None,
) -> None:
    notebook = read(tmp_path / "figures", *changes)
    block = design_json(notebook.designs["leaf"], leaf(notebook))["fill"]
    assert block["cut_into"] == cut_into
    assert block["fill_percent"] == pytest.approx([percent, percent], rel=1e-9)
    problems = problems_of(tmp_path / "problems", *changes)
    assert all(problem.warning for problem in problems)
    assert [f"{one.what} / {one.hint}" for one in problems] == (
        [] if told is None else [f"the block {told}"]
    )
    if problems:
        assert str(problems[0].position).startswith("designs/leaf/design.md:8:")


# When an oil goes in ------------------------------------------------------------------

ADD = ("designs/leaf/design.md", ", add: 58-62 C", "")


def supplier_says(below: str) -> tuple[str, str, str]:
    return ("shelf/fragrances.yaml", "  limit: 2 %\n", f"  limit: 2 %\n  add_below: {below}\n")


@pytest.mark.parametrize(
    ("changes", "adds", "pot"),
    [
        ((), (58, 62), (58, 62)),
        ((supplier_says("70 C"),), (58, 62), (58, 62)),
        ((supplier_says("60 C"),), (58, 60), (58, 60)),
        ((supplier_says("58 C"),), (58, 58), (58, 58)),
        # The body is poured at 50 to 55 C: the pot may take the oil down to there.
        ((supplier_says("60 C"), ADD), (None, 60), (50, 60)),
        ((supplier_says("45 C"), ADD), (None, 45), None),
        ((ADD,), (None, None), None),
    ],
)
def test_an_oil_goes_in_below_what_its_supplier_says(
    tmp_path: Path,
    changes: tuple[tuple[str, str, str], ...],
    adds: tuple[float | None, float | None],
    pot: tuple[float, float] | None,
) -> None:
    notebook = read(tmp_path, *changes)
    assert not problems_of(tmp_path / "again", *changes)
    found = leaf(notebook)
    masses = found.recipe.masses
    assert masses.layer("body").fragrances[0].add_c == pytest.approx(adds)
    windows = dict(pot_windows(notebook.shelf, notebook.designs["leaf"], "body"))
    window = windows.get("fragrance")
    assert (window and (window.low_c, window.high_c)) == (pot and pytest.approx(pot))
    cooling = found[COOLING].value
    assert cooling is not None
    assert [name for name, _, _ in cooling[0].windows] == [*(["fragrance"] if pot else []), "pour"]
    block = design_json(notebook.designs["leaf"], found)
    written = block["layers"]["body"]["fragrances"]["herb"]
    ends = {"add_low_c": adds[0], "add_high_c": adds[1]}
    assert {name: written.get(name) for name in ends} == pytest.approx(ends)


def test_a_window_wholly_above_what_the_supplier_says(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, supplier_says("57 C"))
    assert not problem.warning
    assert str(problem) == (
        'designs/leaf/design.md:24:49: "herb" goes in at 58-62 C, but its supplier says below'
        " 57 C. Let the pot cool first: give a window that ends at 57 C or lower."
    )


def test_a_flash_point_decides_no_temperature(tmp_path: Path) -> None:
    flash = ("shelf/fragrances.yaml", "  limit: 2 %\n", "  limit: 2 %\n  flash_point: 50 C\n")
    assert not problems_of(tmp_path / "problems", flash)
    assert (
        leaf(read(tmp_path / "a", flash)).recipe.masses == leaf(read(tmp_path / "b")).recipe.masses
    )


# What a base carries ------------------------------------------------------------------


def base_takes(share: str) -> tuple[str, str, str]:
    return ("shelf/bases.yaml", "takes: 3 %", f"takes: {share}")


def test_more_than_its_base_carries_is_a_warning_at_the_dose(tmp_path: Path) -> None:
    # 10 mL/kg at 0.9 g/mL is a load of 0.9 %.
    assert not problems_of(tmp_path / "enough", base_takes("0.9 %"))
    (problem,) = problems_of(tmp_path / "less", base_takes("0.8 %"))
    assert problem.warning
    assert str(problem) == (
        'designs/leaf/design.md:24:34: warning: the fragrance of the layer "body" is 0.9 % of its'
        " base, which carries 0.8 %. Lower the dose to 0.8 % of the base or less: beyond it scent"
        " sweats out, and the bar may not set."
    )
    # The dose that it says passes.
    said = ("designs/leaf/design.md", "dose: 10 mL/kg", "dose: 0.8 %")
    assert not problems_of(tmp_path / "said", base_takes("0.8 %"), said)


def test_what_a_base_carries_in_the_figures(tmp_path: Path) -> None:
    notebook = read(tmp_path, base_takes("0.8 %"))
    block = design_json(notebook.designs["leaf"], leaf(notebook))
    oil = block["layers"]["body"]["fragrances"]["herb"]
    assert (oil["takes_percent"], oil["within_takes"], oil["within_limit"]) == (0.8, False, True)
    # 336 g are melted: 0.8 % of them is less than 2 % of the layer, (336 + 3.36) / 49.
    assert oil["most_g"] == pytest.approx(2.688, rel=CLOSE)
    without = read(tmp_path / "without", ("shelf/bases.yaml", "  takes: 3 %\n", ""))
    block = design_json(without.designs["leaf"], leaf(without))
    oil = block["layers"]["body"]["fragrances"]["herb"]
    assert (oil["takes_percent"], oil["within_takes"]) == (None, None)
    assert oil["most_g"] == pytest.approx(339.36 / 49, rel=CLOSE)
    assert {"figure": "fragrance load", "needs": "bases/plain: takes"} in block["missing"]


def test_oils_of_one_layer_share_what_its_base_carries(tmp_path: Path) -> None:
    """0.9 % and 0.5 %, beside 0.3 % that a leftover brought, in two bases by halves."""
    oils = (
        ("designs/leaf/design.md", "{oil: herb, dose: 10 mL/kg, add: 58-62 C}",
         "[{oil: herb, dose: 0.9 %}, {oil: moss, dose: 0.5 %}]"),
        ("shelf/fragrances.yaml", "herb:\n", "moss: {name: Moss, limit: 3 %}\nherb:\n"),
    )  # fmt: skip
    blend = (
        ("designs/leaf/design.md", "base: plain\n    amount: 80 g",
         "base: {plain: 50 %, clear: 50 %}\n    amount: 80 g"),
        ("shelf/bases.yaml", "plain:\n", "clear: {name: Clear, takes: 1 %}\nplain:\n"),
    )  # fmt: skip
    assert not problems_of(tmp_path / "enough", *oils, *blend, base_takes("1.8 %"))
    (problem,) = problems_of(tmp_path / "less", *oils, *blend, base_takes("1.6 %"))
    assert "is 1.4 % of its base, which carries 1.3 %" in problem.what
    assert problem.hint.startswith("Lower the doses together to 1.3 % of the base or less")
    # All of it is the leftover's; nothing is dosed that could be lowered.
    ends = {
        "shelf/leftovers.yaml": "ends: {name: Ends, base: plain, amount: 900 g,"
        " scented: {oil: herb, concentration: 0.3 %}}\n"
    }
    poured = ("designs/leaf/design.md", "base: plain\n    amount: 80 g",
              "base: {leftover: ends}\n    amount: 80 g")  # fmt: skip
    (problem,) = problems_of(tmp_path / "ends", *oils, poured, base_takes("1.6 %"), more=ends)
    assert "is 1.7 % of its base, which carries 1.6 %" in problem.what
    assert "to 1.3 % of the base" in problem.hint
    bare = (
        "designs/leaf/design.md",
        "    fragrance: {oil: herb, dose: 10 mL/kg, add: 58-62 C}\n",
        "",
    )
    assert not problems_of(tmp_path / "bare", bare, poured, base_takes("0.2 %"), more=ends)


# Limits of oils ------------------------------------------------------------------------


def problems_of(
    tmp_path: Path, *changes: tuple[str, str, str], more: Mapping[str, str] = {}
) -> list[Problem]:
    notebook = read(tmp_path, *changes, more=more)
    problems: list[Problem] = []
    design = notebook.designs["leaf"]
    derive_recipe(
        notebook.settings, notebook.shelf, design, line_variant(design, None), None, problems,
        models=False,
    )  # fmt: skip
    return problems


STRONG = ("designs/leaf/design.md", "dose: 10 mL/kg", "dose: 30 mL/kg")


def test_over_its_limit_is_an_error_at_the_dose(tmp_path: Path) -> None:
    # 30 mL/kg is 9.072 g in 348.432 g: 2.6037 %.
    (problem,) = problems_of(tmp_path, STRONG)
    assert not problem.warning
    assert str(problem) == (
        'designs/leaf/design.md:24:16: "herb" is 2.6 % of the layer "body", over its limit of'
        " 2 %. Lower the dose: over the limit it can hurt skin."
    )


def test_over_its_limit_in_the_figures(tmp_path: Path) -> None:
    notebook = read(tmp_path, STRONG)
    block = design_json(notebook.designs["leaf"], leaf(notebook))
    oil = block["layers"]["body"]["fragrances"]["herb"]
    assert oil["within_limit"] is False
    assert (oil["volume_ml"], oil["mass_g"]) == (None, None)
    share = pytest.approx(100 * 9.072 / 348.432, rel=1e-11)  # JSON has 12 digits
    assert oil["layer_percent"] == share
    assert oil["limit_percent"] == 2
    assert block["layers"]["body"]["limit_used_percent"] > 100


def test_an_oil_that_is_forbidden_is_an_error(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, ("shelf/fragrances.yaml", "limit: 2 %", "limit: 0 %"))
    assert not problem.warning
    assert "over its limit of 0 %" in problem.what


BLEND = (
    "designs/leaf/design.md",
    "{oil: herb, dose: 10 mL/kg, add: 58-62 C}",
    "[{oil: herb, dose: 15 mL/kg}, {oil: moss, dose: 1 %}]",
)


def moss(limit: str) -> tuple[str, str, str]:
    return ("shelf/fragrances.yaml", "herb:\n", f"moss: {{name: Moss, {limit}}}\nherb:\n")


def test_oils_share_their_limits(tmp_path: Path) -> None:
    """Each within its own limit, both together over it."""
    (problem,) = problems_of(tmp_path, BLEND, moss("density: 1 g/mL, limit: 2 %"))
    assert not problem.warning
    assert "together use" in problem.what
    assert problem.position.line == 24
    assert not problems_of(tmp_path / "b", BLEND, moss("density: 1 g/mL, limit: 5 %"))


@pytest.mark.parametrize(
    ("limit", "refused"),
    # Both together over theirs; moss alone over its own, which is no fault of herb's; neither.
    [("2 %", {"herb", "moss"}), ("0.5 %", {"moss"}), ("5 %", set())],
)
def test_what_is_over_its_limit_has_no_amount(
    tmp_path: Path, limit: str, refused: set[str]
) -> None:
    found = leaf(read(tmp_path, BLEND, moss(f"density: 1 g/mL, limit: {limit}"))).recipe
    body = found.masses.layer("body")
    without = {one.oil for one in body.fragrances if (one.mass_g, one.volume_ml) == (None, None)}
    assert without == {one.oil for one in body.fragrances if one.refused} == refused
    assert {oil for over in found.masses.over for oil in over.oils} == refused
    # It is a part of the bar all the same.
    assert body.stays_g_per_bar > body.base_g_per_bar


def test_no_limit_is_a_warning_on_the_shelf(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, ("shelf/fragrances.yaml", "  limit: 2 %\n", ""))
    assert problem.warning
    assert (problem.position.path, problem.position.line) == ("shelf/fragrances.yaml", 2)
    assert "no limit" in problem.what
    # Nothing that could be copied instead of looked up.
    assert problem.hint.endswith("limit: … %.")
    assert not any(sign.isdigit() for sign in problem.hint)


def inputs(figure: Figure[object]) -> dict[str, str]:
    return {entry.name: entry.text for entry in figure.inputs}


def test_the_certificate_stands_beside_the_limit(tmp_path: Path) -> None:
    dated = inputs(leaf(read(tmp_path / "a")).recipe[LAYERS])
    assert dated["limit of herb"] == "2 %, certificate of 2026-01-15"
    undated = read(tmp_path / "b", ("shelf/fragrances.yaml", "  certificate: 2026-01-15\n", ""))
    assert "no date" in inputs(leaf(undated).recipe[LAYERS])["limit of herb"]


LEFTOVER = {
    "shelf/leftovers.yaml": "ends: {name: Ends, base: plain, amount: 1 kg,"
    " scented: {oil: herb, concentration: 2.5 %}}\n"
}


def test_scent_of_a_leftover_counts(tmp_path: Path) -> None:
    """A layer that is cast from a leftover of 2.5 % is over a limit of 2 %."""
    notebook = read(
        tmp_path,
        ("designs/leaf/design.md", "    base: plain\n    amount: 80 g",
         "    base: {leftover: ends}\n    amount: 80 g"),
        ("designs/leaf/design.md",
         "    fragrance: {oil: herb, dose: 10 mL/kg, add: 58-62 C}\n", ""),
        more=LEFTOVER,
    )  # fmt: skip
    problems: list[Problem] = []
    design = notebook.designs["leaf"]
    found = derive_recipe(
        notebook.settings, notebook.shelf, design, line_variant(design, None), None, problems,
        models=False,
    )  # fmt: skip
    (problem,) = problems
    assert '"herb" is' in problem.what
    assert "over its limit" in problem.what
    # In 336 g of it and 3.36 g of colour.
    share = found.masses.layer("body").fragrances[0].layer_share
    assert share == pytest.approx(0.025 * 336 / 339.36, rel=CLOSE)


# What cannot be ------------------------------------------------------------------------

ODD = [
    (("shelf/mats.yaml", "relief: 2 mm", "relief: 0 mm"), "bond"),
    (
        ("shelf/bases.yaml", "density: 1 g/mL", "density: 1 g/mL\n  softens: 70 C\n  melts: 50 C"),
        "bond",
    ),
    (("shelf/moulds.yaml", "80 x 50 mm", "80 x 2 mm"), "cut"),
    (("shelf/moulds.yaml", "depth: 25 mm", "depth: 25 mm\n  corner_radius: 60 mm"), "fill"),
]


@pytest.mark.parametrize(("change", "figure"), ODD)
def test_odd_values_are_reasons_and_no_tracebacks(
    tmp_path: Path, change: tuple[str, str, str], figure: str
) -> None:
    """Also where the record is told to be wrong: a preview and a check reckon all the same."""
    notebook = read_notebook(lay_out(tmp_path, change))
    problems: list[Problem] = []
    design = notebook.designs["leaf"]
    found = derive_recipe(
        notebook.settings, notebook.shelf, design, line_variant(design, None), None, problems
    )
    (own,) = (one for one in found.figures.values() if one.name == figure)
    assert own.value is None
    assert own.missing
    assert found.masses.bar_g == pytest.approx(86.52, rel=CLOSE)
