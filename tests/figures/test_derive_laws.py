"""What holds of the figures of every design: twice the bars, other units, no silent null."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from demo import KELP_ON_GREY, MOTH, OAT_LOAF, PEBBLES
from demo_book import demo_figures, demo_notebook
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from paths import CONTENT
from worked_notebook import read

from journal.comparison.as_json import figures_json
from journal.comparison.derive import compare_designs
from journal.figures.as_json import design_json, recipe_json
from journal.figures.common.spec import FIGURE_ENTRIES
from journal.figures.derive import derive_design, derive_figures, derive_recipe
from journal.figures.registry import FIGURES
from journal.quantities.units import G_PER_LB, G_PER_OZ, ML_PER_TSP
from journal.records.models.settings import PotResidue
from journal.records.models.write_up import Design, Variant
from journal.records.notebook import Notebook, read_notebook

DEMO = demo_notebook()
VARIANTS = [
    (design.id, variant.name) for design in DEMO.designs.values() for variant in design.variants
]

# What does the unit of an amount change? The last digits of a float.
SAME = 1e-9


# Twice the bars ------------------------------------------------------------------------


def recipe_of(design: str, variant: str, bars: int, waste: PotResidue) -> dict[str, Any]:
    studio = DEMO.settings.model_copy(update={"waste": waste})
    one = DEMO.designs[design]
    found = derive_recipe(studio, DEMO.shelf, one, one.variant(variant), bars, [], models=False)
    return recipe_json(found)


def leaves(tree: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from leaves(value, (*path, key))
    elif isinstance(tree, list):
        for number, value in enumerate(tree):
            yield from leaves(value, (*path, str(number)))
    else:
        yield path, tree


# What has a mass, a volume or a heat goes by the batch, unless it is one of a bar.
OF_A_BATCH = re.compile(r".*_(g|kg|ml|l|j|kj|wh|kwh)")
OF_A_BAR = {"mean_g", "declared_g", "poured_ml", "piece_ml"}


@pytest.mark.parametrize(("design", "variant"), VARIANTS)
def test_twice_the_bars_twice_every_mass_and_no_other_share(design: str, variant: str) -> None:
    """Without a least waste: that does not shrink with a batch. Doses a pot and a bar too."""
    waste = PotResidue.model_construct(share=0.03, least=0.0)
    bars = DEMO.designs[design].recipe.bars
    once = dict(leaves(recipe_of(design, variant, bars, waste)))
    twice = dict(leaves(recipe_of(design, variant, 2 * bars, waste)))
    assert once.keys() == twice.keys()
    for path, value in once.items():
        if path[0] == "cost":  # goes by rounds, and to the cent
            continue
        wanted = value
        if isinstance(value, int | float) and not isinstance(value, bool):
            name = path[-1]
            times = 2 if OF_A_BATCH.fullmatch(name) and name not in OF_A_BAR else 1
            wanted = pytest.approx(times * value, rel=SAME, abs=1e-9)
        assert twice[path] == wanted, path


@given(bars=st.integers(1, 60), times=st.integers(2, 9))
@examples(15)
def test_any_multiple_of_the_bars(bars: int, times: int) -> None:
    waste = PotResidue.model_construct(share=0.05, least=0.0)
    one, more = (
        recipe_of(KELP_ON_GREY, "straight", number, waste) for number in (bars, bars * times)
    )
    for name, pot in one["pots"].items():
        assert more["pots"][name]["melt_g"] == pytest.approx(times * pot["melt_g"], rel=SAME)
    oil, oils = (found["layers"]["body"]["fragrances"]["cedar-bergamot"] for found in (one, more))
    assert oils["volume_ml"] == pytest.approx(times * oil["volume_ml"], rel=SAME)
    assert oils["layer_percent"] == pytest.approx(oil["layer_percent"], rel=SAME)


@given(bars=st.integers(1, 60))
@examples(15)
def test_a_least_waste_never_melts_less(bars: int) -> None:
    """And no share of oil depends on it, since doses go by the melt."""
    bare, least = (
        recipe_of(
            KELP_ON_GREY, "straight", bars, PotResidue.model_construct(share=0.03, least=grams)
        )
        for grams in (0.0, 8.0)
    )
    for name, pot in bare["pots"].items():
        assert least["pots"][name]["melt_g"] >= pot["melt_g"] - SAME
    oil, oils = (f["layers"]["body"]["fragrances"]["cedar-bergamot"] for f in (bare, least))
    assert oils["layer_percent"] == pytest.approx(oil["layer_percent"], rel=SAME)


# Other units ---------------------------------------------------------------------------


def exact(text: str, factor: Fraction | int) -> str:
    """A number times a factor, in digits enough for a float."""
    whole = Fraction(text) if "/" not in text else Fraction(*map(int, text.split("/")))
    return f"{float(whole * factor):.17g}"


def celsius(text: str) -> str:
    return f"{float((Fraction(text) - 32) * 5 / 9):.17g}"


def in_grams(text: str) -> str:
    """A write-up with its ounces in grams, its grams in kilograms, °F in °C, and so on."""
    ml_per_g = Fraction(G_PER_LB)
    rewritten: list[tuple[str, Callable[[re.Match[str]], str]]] = [
        (r"(amount|over): ([\d.]+) oz", lambda m: f"{m[1]}: {exact(m[2], G_PER_OZ)} g"),
        # What was ounces a moment ago has three digits before the point, or many behind it.
        (r"(amount|over): (\d{1,2}) g\b", lambda m: f"{m[1]}: {exact(m[2], Fraction(1, 1000))} kg"),
        (r"weight: ([\d.]+) g", lambda m: f"weight: {exact(m[1], 1 / Fraction(G_PER_OZ))} oz"),
        (r"dose: ([\d.]+) mL/lb", lambda m: f"dose: {exact(m[1], 1000 / ml_per_g)} mL/kg"),
        (r"dose: ([\d./]+) tsp/lb",
         lambda m: f"dose: {exact(m[1], ML_PER_TSP * 1000 / ml_per_g)} mL/kg"),
        (r"(pour|add): (\d+)-(\d+) F", lambda m: f"{m[1]}: {celsius(m[2])}-{celsius(m[3])} C"),
        (r"room: (\d+) F", lambda m: f"room: {celsius(m[1])} C"),
        (r"(\d+) F, (melted|scented|poured)", lambda m: f"{celsius(m[1])} C, {m[2]}"),
        (r"chill (\d+) min at (\d+) F", lambda m: f"chill {m[1]} min at {celsius(m[2])} C"),
    ]  # fmt: skip
    for pattern, new in rewritten:
        text = re.sub(pattern, new, text)
    return text


@pytest.mark.parametrize("design", [KELP_ON_GREY, OAT_LOAF, PEBBLES, MOTH])
def test_the_unit_in_which_it_is_written_changes_nothing(design: str, tmp_path: Path) -> None:
    shutil.copytree(CONTENT, tmp_path / "content")
    file = tmp_path / "content" / "designs" / design / "design.md"
    before = file.read_text("utf-8")
    after = in_grams(before)
    assert after.count(" kg") + after.count(" g\n") > before.count(" kg") + before.count(" g\n")
    assert " F" not in re.sub(r"at \d+ F|\[[^]]*\]|\d+:\d\d.*", "", after.split("pours:")[0])
    file.write_text(after, encoding="utf-8")
    other = read_notebook(tmp_path / "content")
    assert not [str(p) for p in other.errors if design in p.position.path]
    old = dict(leaves(_all(DEMO, design)))
    new = dict(leaves(_all(other, design)))
    assert old.keys() == new.keys()
    for path, value in old.items():
        if isinstance(value, float):
            assert new[path] == pytest.approx(value, rel=SAME, abs=SAME), path
        else:
            assert new[path] == value, path


def _all(notebook: Notebook, design: str) -> dict[str, Any]:
    one = notebook.designs[design]
    found, _ = derive_design(notebook, one, models=False)
    return design_json(one, found)


# Every null has its reason ---------------------------------------------------------------

#: A null that says itself why: what a leftover holds is not measured out again.
#: So does a comparison without a look to come, or of which nothing says what it may tell.
TELLS_ITSELF = re.compile(
    r"layers\..*\.fragrances\..*\.volume_ml|variants\..*\.(kept|day)$"
    r"|comparisons\.next_look(\.chance)?"
    # What nobody wrote down of a pour; why a batch has no date stands in ``missing``.
    r"|batches\.(by|lots\.lot)"
)


def rows_that_explain(place: str) -> tuple[str, ...]:
    """The beginnings of the rows of ``missing`` one of which a null here must have.

    What a figure's list of nulls says for this place, the longest path first; else its name.
    """
    steps = place.split(".")
    found: list[tuple[int, tuple[str, ...]]] = []
    for name, entry in FIGURE_ENTRIES.items():
        spec = next((one for one in FIGURES if one.name == name), None)
        if steps[0] in (name, *(spec.blocks if spec is not None else ())):
            found.append((0, (name,)))
        for reason in entry.nulls:
            for path in (path.split(".") for path in reason.paths.split()):
                if len(path) <= len(steps) and all(
                    "*" in (one, other) or one == other
                    for one, other in zip(path, steps, strict=False)
                ):
                    found.append((len(path), reason.rows))
    return max(found, default=(0, ()))[1]


def unexplained(block: dict[str, Any]) -> list[str]:
    told = [f"{row['figure']}" for row in block["missing"]]
    wrong = []
    for path, value in leaves({k: v for k, v in block.items() if k != "missing"}):
        place = ".".join(step for step in path if not step.isdigit())
        if value is not None or TELLS_ITSELF.fullmatch(place):
            continue
        starts = rows_that_explain(_bare(place))
        if not any(one.startswith(starts) for one in told if starts):
            wrong.append(place)
    return wrong


def _bare(place: str) -> str:
    return re.sub(r"^variants\.[^.]*(/[^.]*)?\.", "", place)


@pytest.fixture(scope="module")
def printed() -> dict[str, Any]:
    """What ``journal figures`` prints of the demo."""
    return figures_json(DEMO, demo_figures(), compare_designs(DEMO))


def test_every_null_of_the_demo_has_its_reason(printed: dict[str, Any]) -> None:
    for name, block in printed["designs"].items():
        assert not unexplained(block), name


def test_what_the_demo_lacks_is_true(printed: dict[str, Any]) -> None:
    """The rows that name a key of the shelf name one that is not there."""
    rows = [(name, row) for name, block in printed["designs"].items() for row in block["missing"]]
    assert rows
    for name, row in rows:
        found = re.fullmatch(r"(\w+)/([\w-]+): (\w+)", row["needs"])
        if found is not None and found[1] in DEMO.shelf.written:
            assert found[3] not in DEMO.shelf.written[found[1]][found[2]], (name, row)


def test_a_shelf_of_names_alone_has_a_reason_for_everything(tmp_path: Path) -> None:
    """Nothing is on the shelf but names: nulls and reasons, no traceback, nothing invented."""
    bare = {
        f"shelf/{kind}.yaml": f"{name}: {{name: {name}}}\n"
        for kind, name in (
            ("bases", "plain"), ("fragrances", "herb"), ("colourants", "brick"),
            ("moulds", "four"), ("mats", "leaf"), ("pieces", "leaf-a"), ("packaging", "sleeve"),
        )
    } | {"journal.yaml": "studio: Bare\n"}  # fmt: skip
    notebook = read(tmp_path, more=bare)
    block = figures_json(notebook, derive_figures(notebook), compare_designs(notebook))
    leaf = block["designs"]["leaf"]
    assert not unexplained(leaf)
    for name in ("fill", "cut", "bond"):
        assert leaf[name] is None
    assert leaf["cost"]["base"] is None
    assert leaf["cost"]["total"] is None
    assert leaf["layers"]["body"]["fragrances"]["herb"]["within_limit"] is None
    needs = {row["needs"] for row in leaf["missing"]}
    assert {
        "bases/plain: price", "fragrances/herb: limit", "mats/leaf: sheet", "moulds/four: face",
        "colourants/brick: inci", "journal.yaml: margin", "packaging/sleeve: price",
    } <= needs  # fmt: skip


# The rows of DESIGN section 9 -----------------------------------------------------------

OF_A_DESIGN = {
    "title", "state", "bars", "pots", "layers", "fill", "cooling", "bond", "bleed", "variants",
    "comparisons", "cost", "net_weight", "label", "cut", "missing", "leftovers", "dew",
}  # fmt: skip
OF_A_BLOCK: dict[str, set[str]] = {
    "fill": {"capacity_ml", "poured_ml", "piece_ml", "fill_percent", "proud_mm"},
    "bond": {"contact_c", "peak_interface_c", "softened_min", "remelted_share", "window_c",
             "window_band_c"},
    "dew": {"room_c", "humidity_percent", "dew_point_c", "piece_c", "wet_above_humidity_percent",
            "wet", "wait_min", "wrap_after_min"},
    "cost": {"currency", "base", "fragrance", "colour", "additives", "packaging", "tools", "labour",
             "total", "price"},
    "net_weight": {"mean_g", "declared_g", "declared", "loss_percent_day_30"},
    "cut": {"piece_mm", "pieces", "waste_percent"},
}  # fmt: skip
OF_A_LIST: dict[str, set[str]] = {
    "cooling": {"pour", "pot", "run", "room_c", "start_c", "rate_per_min", "half_time_min",
                "rms_c", "readings", "windows"},
    "bleed": {"bar", "start_mm", "a_mm_per_sqrt_day", "day_30_mm", "day_90_mm", "day_180_mm"},
    "comparisons": {"between", "by", "unit", "deciding", "trials", "difference", "low", "high",
                    "p", "p_adjusted", "verdict"},
}  # fmt: skip
OF_A_WINDOW = {"enters_min", "leaves_min", "enters_interval_min", "leaves_interval_min"}


def test_every_row_that_is_promised_is_there(printed: dict[str, Any]) -> None:
    assert printed["format"] == "soap-design-journal/1"
    assert set(printed["designs"]) == set(DEMO.designs)
    seen: set[str] = set()
    for name, block in printed["designs"].items():
        assert set(block) >= OF_A_DESIGN, name
        for key, inner in OF_A_BLOCK.items():
            if block[key] is not None:
                seen.add(key)
                assert inner <= set(block[key]), (name, key)
        for key, inner in OF_A_LIST.items():
            for entry in block[key]:
                seen.add(key)
                assert inner <= set(entry), (name, key)
                for window in entry.get("windows", {}).values():
                    assert set(window) >= OF_A_WINDOW
        for layer in block["layers"].values():
            assert {"base_g_per_bar", "base_g", "melt_g", "volume_ml_per_bar", "bases",
                    "fragrances", "colours", "additives", "pour_c"} <= set(layer)  # fmt: skip
        for pot in block["pots"].values():
            assert {"melt_g", "layers"} <= set(pot)
        for variant in block["variants"].values():
            assert {"bars", "pours", "kept", "measures"} <= set(variant)
        for region, label in (block["label"] or {}).items():
            assert region in ("us", "eu")
            assert {"ingredients", "allergens"} <= set(label)
    assert seen == {*OF_A_BLOCK, *OF_A_LIST}, "the demo shows every figure"


def test_numbers_have_twelve_digits_and_none_is_odd(printed: dict[str, Any]) -> None:
    for path, value in leaves(printed):
        if isinstance(value, float):
            assert value == value, path
            assert abs(value) != float("inf"), path
            assert str(value) != "-0.0", path
            assert len(Decimal(repr(value)).normalize().as_tuple().digits) <= 12, path


def test_the_variant_of_a_design_is_the_recipe_that_it_changes() -> None:
    """A variant without changes has no block of its own; each block that it has differs."""
    for name, design in DEMO.designs.items():
        block = _all(DEMO, name)
        for variant in design.variants:
            own = block["variants"][variant.name]
            if not variant.changed:
                assert not own, (name, variant.name)
            assert all(own[key] != block[key] for key in own)


def test_a_recipe_is_derived_for_the_batch_that_is_asked_for() -> None:
    design: Design = DEMO.designs[MOTH]
    variant: Variant = design.variant("straight/dye")
    found = derive_recipe(DEMO.settings, DEMO.shelf, design, variant, 9, [], models=False)
    # 2 drops a bar, of 0.05 mL by convention.
    assert found.masses.layer("body").dosed[0].volume_ml == pytest.approx(0.9, rel=1e-12)
    assert found.bars == 9
