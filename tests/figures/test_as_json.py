"""What the figures are called when they are given out, and in which unit.

The numbers are those reckoned on paper in test_derive_worked.py; here they stand under
their names, whole blocks at a time, so that no name is lost and none points elsewhere.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from worked_notebook import leaf, read

from journal.figures.as_json import design_json
from journal.figures.derive import derive_design
from journal.figures.registry import OF_DESIGN, OF_RECIPE

# 12 significant digits are given out.
DIGITS = 1e-11

Block = dict[str, Any]


def near(value: float) -> object:
    return pytest.approx(value, rel=DIGITS)


def block(folder: Path, *changes: tuple[str, str, str], models: bool = False) -> Block:
    notebook = read(folder, *changes)
    design = notebook.designs["leaf"]
    found, _ = derive_design(notebook, design, models=models)
    return design_json(design, found)


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Block:
    return block(tmp_path_factory.mktemp("given"))


def test_the_design(found: Block) -> None:
    blocks = [block for spec in (*OF_RECIPE, *OF_DESIGN) for block in spec.blocks]
    assert {"pots", "layers", "fill"} <= set(blocks)
    assert list(found) == ["title", "state", "bars", *blocks, "variants", "missing"]
    assert (found["title"], found["state"], found["bars"]) == ("Leaf on brick", "keeper", 4)
    assert found["variants"] == {"as written": {}}
    assert (found["bond"], found["bleed"]) == (None, [])
    assert sorted(entry["figure"] for entry in found["missing"]) == ["bleed", *["net_weight"] * 3]
    assert all(list(entry) == ["figure", "needs"] for entry in found["missing"])


def test_pots_and_layers(found: Block) -> None:
    assert found["pots"] == {
        "pale": {"melt_g": 42.0, "layers": ["detail"]},
        "body": {"melt_g": 336.0, "layers": ["body"]},
    }
    assert found["layers"]["detail"] == {
        "base_g_per_bar": 5.0,
        "base_g": 20.0,
        "melt_g": 42.0,
        "volume_ml_per_bar": 5.0,
        "bases": {"plain": {"melt_g": 42.0}},
        "fragrances": {},
        "limit_used_percent": 0.0,
        "colours": {},
        "additives": {},
        "pour_c": [75.0, 80.0],
    }
    assert found["layers"]["body"] == {
        "base_g_per_bar": 80.0,
        "base_g": 320.0,
        "melt_g": 336.0,
        "volume_ml_per_bar": 82.4,
        "bases": {"plain": {"melt_g": 336.0}},
        "fragrances": {
            "herb": {
                "volume_ml": 3.36,
                "mass_g": 3.024,
                "load_percent": 0.9,
                "layer_percent": near(302.4 / 342.384),
                "bar_percent": near(72 / 86.52),
                "limit_percent": 2.0,
                "within_limit": True,
                "takes_percent": 3.0,
                "within_takes": True,
                "most_g": near(339.36 / 49),
                "from_leftover": False,
                "add_low_c": 58.0,
                "add_high_c": 62.0,
            }
        },
        "limit_used_percent": near(302.4 / 342.384 / 0.02),
        "colours": {"brick": {"volume_ml": 6.72, "mass_g": 3.36}},
        "additives": {},
        "pour_c": [50.0, 55.0],
    }


def test_fill_and_cut(found: Block) -> None:
    assert found["fill"] == {
        "capacity_ml": [100.0, 100.0],
        "poured_ml": 87.4,
        "piece_ml": 6.448,
        "fill_percent": [93.848, 93.848],
        "proud_mm": [0.0, 0.0],
        "cut_into": 1,
    }
    assert found["cut"] == {"piece_mm": [64.0, 44.0], "pieces": 9, "waste_percent": 57.76}


def test_money(found: Block) -> None:
    # A bar's share of each part of the batch: 3.58/4, 0.672/4, 0.336/4, 0.25, 0.153333, 2.80,
    # shared out to sum to 4.35.
    assert found["cost"] == {
        "currency": "EUR",
        "base": 0.9,
        "fragrance": 0.17,
        "colour": 0.08,
        "additives": 0.0,
        "packaging": 0.25,
        "tools": 0.15,
        "labour": 2.8,
        "mat_life_by": "guess",
        "total": 4.35,
        "at_least": 4.35,
        "missing": [],
        "price": 8.7,
        "contribution": 4.35,
        "break_even_bars": 23,
        "sets": {},
    }


def test_weight_and_label(found: Block) -> None:
    weight = found["net_weight"]
    # Bars of one pour: nothing to declare.
    none = {"declared_g": None, "declared": None}
    assert weight == {
        "mean_g": 85.0,
        **none,
        "loss_percent_day_30": None,
        "regions": {"us": none, "eu": none},
    }
    names = ["Glycerin", "Sodium Stearate"]
    assert found["label"] == {
        "us": {
            "ingredients": ["Water", *names, "Fragrance", "Iron Oxides"],
            "allergens": ["Linalool"],
            "apart": {},
            "errors": [],
            "rules": "cosmetic",
        },
        "eu": {
            "ingredients": ["Aqua", *names, "Parfum", "CI 77491"],
            "allergens": ["Linalool"],
            "apart": {},
            "errors": [],
            "rules": "cosmetic",
        },
    }


def test_what_is_left(found: Block) -> None:
    assert found["leftovers"] == {
        "pale": {
            "left_g": 20.0,
            "lost_g": 2.0,
            "bases": {"plain": {"left_g": 20.0}},
            "colours": [],
            "additives": [],
            "fragrances": {},
        },
        "body": {
            "left_g": 0.0,
            "lost_g": 16.0,
            "bases": {"plain": {"left_g": 0.0}},
            "colours": ["brick"],
            "additives": [],
            "fragrances": {"herb": {"layer_percent": near(302.4 / 342.384)}},
        },
    }
    assert found["left_of_pours"] == [
        {
            "pour": "A", "pot": "pale", "melted_g": 60.0,
            "left_g": 38.0, "lost_g": 2.0, "short_g": 0.0,
        },
        {
            "pour": "A", "pot": "body", "melted_g": 380.0,
            "left_g": 44.0, "lost_g": 16.0, "short_g": 0.0,
        },
    ]  # fmt: skip


def test_cooling(found: Block) -> None:
    (run,) = found["cooling"]
    assert {key: run[key] for key in ("pour", "pot", "run", "room_c", "room_from", "readings")} == {
        "pour": "A", "pot": "body", "run": 1, "room_c": 20.0, "room_from": "pour", "readings": 3,
    }  # fmt: skip
    # The other numbers belong to one curve: room + (start - room) exp(-rate t).
    start_k, rate = run["start_c"] - 20, run["rate_per_min"]
    assert run["half_time_min"] == near(math.log(2) / rate)
    windows = {"fragrance": (62, 58), "pour": (55, 50)}
    assert run["windows"].keys() == windows.keys()
    for name, ends in windows.items():
        for which, end_c in zip(("enters", "leaves"), ends, strict=True):
            minutes = run["windows"][name][f"{which}_min"]
            assert minutes == pytest.approx(math.log(start_k / (end_c - 20)) / rate, rel=1e-9)
            low, high = run["windows"][name][f"{which}_interval_min"]
            assert low < minutes < high
    # Readings end at 25 minutes and 54 C: the window of the pour ends later, at 50 C.
    beyond = [[times["enters_beyond"], times["leaves_beyond"]] for times in run["windows"].values()]
    assert beyond == [[False, False], [False, True]]
    read_c = [(0, 70), (10, 62), (25, 54)]
    squares = sum((20 + start_k * math.exp(-rate * t) - c) ** 2 for t, c in read_c)
    assert run["rms_c"] == pytest.approx((squares / 3) ** 0.5, rel=1e-9)


LATER = """
    later:
      - {day: 1, bar: A1, bleed: 0.5 mm}
      - {day: 4, bar: A1, bleed: 1 mm}
      - {day: 9, bar: A1, bleed: 1.5 mm}
      - {day: 16, bar: A1, bleed: 2 mm}
      - {day: 25, bar: A2, weight: 82 g}
      - {day: 100, bar: A1, weight: 80 g}
      - {day: 100, bar: A2, weight: 81 g}
---
On"""


@pytest.fixture(scope="module")
def followed(tmp_path_factory: pytest.TempPathFactory) -> Block:
    changes = ("designs/leaf/design.md", "\n---\nOn", LATER)
    return block(tmp_path_factory.mktemp("followed"), changes, models=True)


def test_bleed(followed: Block) -> None:
    """Half a millimetre a root of a day, to the last digit: so no interval has a width."""
    widths = {day: near(day**0.5 / 2) for day in (30, 90, 180)}
    assert followed["bleed"] == [
        {
            "bar": "A1",
            "by": "ruler",
            "start_mm": pytest.approx(0, abs=1e-9),
            "a_mm_per_sqrt_day": near(0.5),
            **{f"day_{day}_mm": width for day, width in widths.items()},
            **{f"day_{day}_interval_mm": [width, width] for day, width in widths.items()},
        }
    ]


def test_a_loss_by_the_day_of_sale(followed: Block) -> None:
    # One had lost 3 of 85 g by day 25, both 4 g by day 100: by day 30 between the root of the
    # days from the later and from the earlier look.
    loss = followed["net_weight"]["loss_percent_day_30"]
    assert 400 / 85 * 0.3**0.5 < loss < 300 / 85 * 1.2**0.5
    needs = [entry["needs"] for entry in followed["missing"] if entry["figure"] == "net_weight"]
    assert needs[0] == "weight of 10 bars of 2 pours or more"
    assert not any("loss" in need for need in needs)


def test_bond(followed: Block) -> None:
    bond = followed["bond"]
    assert list(bond) == [
        "contact_c", "peak_interface_c", "softened_min", "remelted_share", "detail_c", "window_c",
        "window_band_c",
    ]  # fmt: skip
    # The detail was chilled at 4 C in a room of 20 C; a body of 52.5 C meets it half way.
    assert 4 < bond["detail_c"] < 20
    assert bond["contact_c"] == pytest.approx((bond["detail_c"] + 52.5) / 2, abs=1)
    assert bond["contact_c"] < bond["peak_interface_c"] < 52.5
    # Below the window nothing softens.
    low_c, high_c = bond["window_c"]
    assert 52.5 < low_c < high_c
    assert (bond["softened_min"], bond["remelted_share"]) == (0, 0)
    for end_c, (least_c, most_c) in zip(bond["window_c"], bond["window_band_c"], strict=True):
        assert least_c <= end_c <= most_c


def test_a_variant_has_what_is_its_own(tmp_path: Path) -> None:
    variants = (
        "designs/leaf/design.md",
        "pours:\n",
        "variants:\n  small: {layers: {body: {amount: 40 g}}}\n  large: {}\npours:\n",
    )
    bars = (
        ("designs/leaf/design.md", f"bar: {bar}, ", f"bar: {bar}, variant: {variant}, ")
        for bar, variant in (("A1", "small"), ("A2", "large"), ("A3", "large"), ("A4", "large"))
    )
    notebook = read(tmp_path, variants, *bars)
    own = design_json(notebook.designs["leaf"], leaf(notebook))["variants"]
    assert own["large"] == {}
    assert {"pots", "layers", "fill", "cost"} <= own["small"].keys()
    assert not {"cut", "bond"} & own["small"].keys()
    assert own["small"]["pots"]["body"]["melt_g"] == 168.0


def test_nothing_known_is_null(tmp_path: Path) -> None:
    found = block(
        tmp_path,
        ("designs/leaf/design.md", "mould: four\n", ""),
        ("designs/leaf/design.md", "mat: leaf\n", ""),
        ("designs/leaf/design.md", "trim: straight 2 mm\n", ""),
        ("designs/leaf/design.md", "piece: leaf-a, ", ""),
        ("designs/leaf/design.md", "    pour: 50-55 C\n", ""),
        ("designs/leaf/design.md", ", weight: 84 g", ""),
        ("designs/leaf/design.md", ", weight: 85 g", ""),
        ("designs/leaf/design.md", ", weight: 86 g", ""),
        ("shelf/fragrances.yaml", "  limit: 2 %\n", ""),
        ("shelf/bases.yaml", "  price: 10.00/kg\n", ""),
    )
    for key in ("fill", "net_weight", "cut"):
        assert found[key] is None, key
    body = found["layers"]["body"]
    assert (body["pour_c"], body["limit_used_percent"]) == (None, None)
    oil = body["fragrances"]["herb"]
    assert (oil["limit_percent"], oil["within_limit"]) == (None, None)
    assert (found["cost"]["base"], found["cost"]["total"]) == (None, None)
    assert found["cost"]["missing"][0] == {
        "part": "base", "name": "Plain", "needs": "bases/plain: price",
    }  # fmt: skip
    assert list(found["cooling"][0]["windows"]) == ["fragrance"]
