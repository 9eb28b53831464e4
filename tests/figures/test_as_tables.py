"""Every table of the figures, row by row, from a notebook that was reckoned on paper.

The numbers are those of test_derive_worked.py; what is held here is that each stands under
its name.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from worked_notebook import DESIGN as DESIGN_TEXT
from worked_notebook import read

from journal.comparison.as_tables_poured import measure_columns, poured_tables
from journal.figures.as_tables import FigureTable, figure_tables
from journal.figures.common.tables import Cell
from journal.figures.derive import derive_figures
from journal.figures.pieces.derive_pieces import derive_pieces
from journal.records.models.settings import Measure

DESIGN = "designs/leaf/design.md"
LATER = """
    later:
      - {day: 1, bar: A1, bleed: 0.5 mm}
      - {day: 4, bar: A1, bleed: 1 mm}
      - {day: 9, bar: A1, bleed: 1.5 mm, tint: [62, -3, 10.5], note: dry}
      - {day: 16, bar: A1, bleed: 2 mm}
---
On"""
CHANGES = (
    (DESIGN, "\n---\nOn", LATER),
    (DESIGN, "    bars:\n", "    poured: {detail: 78 C, body: 54 C}\n    bars:\n"),
    (DESIGN, "keep: no, weight", "poured: {body: 52.5 C}, note: the last, keep: no, weight"),
)


def near(value: float) -> object:
    # The last digits of a float.
    return pytest.approx(value, rel=1e-12)


def rows_of(table: FigureTable) -> list[dict[str, Cell]]:
    return [dict(zip(table.columns, row, strict=True)) for row in table.rows]


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict[str, Cell]]]:
    return tables(tmp_path_factory.mktemp("tables"), *CHANGES)


def tables(folder: Path, *changes: tuple[str, str, str]) -> dict[str, list[dict[str, Cell]]]:
    notebook = read(folder, *changes)
    figures = derive_figures(notebook, models=False)
    made = (*figure_tables(notebook, figures, derive_pieces(notebook)), *poured_tables(notebook))
    assert len({table.name for table in made}) == len(made)
    return {table.name: rows_of(table) for table in made}


Found = dict[str, list[dict[str, Cell]]]
OWN = {"design": "leaf", "variant": "as written"}


def test_the_design(found: Found) -> None:
    assert found["designs"] == [
        {
            "design": "leaf", "title": "Leaf on brick", "state": "keeper",
            "date": date(2026, 3, 1), "bars": 4, "mat": "leaf", "mould": "four",
            "trim": "straight", "margin_mm": 2, "piece": None, "grew_from": None,
            "bar_g": near(86.52), "pours": 1, "bars_poured": 4,
        }
    ]  # fmt: skip
    assert found["missing"][1] == {
        "design": "leaf",
        "figure": "net_weight",
        "needs": "no loss forecast: it needs three weigh-ins of bars weighed again",
    }


def test_layers_and_what_is_in_them(found: Found) -> None:
    detail, body = found["layers"]
    assert detail == {
        **OWN, "layer": "detail", "pot": "pale", "base_g_per_bar": 5, "base_g": 20,
        "melt_g": near(42), "volume_ml_per_bar": 5, "pour_low_c": 75, "pour_high_c": 80,
        "limit_used_percent": 0, "leftover": None, "leftover_g": None,
    }  # fmt: skip
    assert body == {
        **OWN, "layer": "body", "pot": "body", "base_g_per_bar": 80, "base_g": 320,
        "melt_g": near(336), "volume_ml_per_bar": near(82.4), "pour_low_c": 50,
        "pour_high_c": 55, "leftover": None, "leftover_g": None,
        "limit_used_percent": near(100 * 3.024 / 342.384 / 0.02),
    }  # fmt: skip
    assert found["bases"] == [
        {**OWN, "layer": "detail", "base": "plain", "melt_g": near(42)},
        {**OWN, "layer": "body", "base": "plain", "melt_g": near(336)},
    ]
    assert found["fragrances"] == [
        {
            **OWN, "layer": "body", "oil": "herb", "volume_ml": near(3.36), "mass_g": near(3.024),
            "load_percent": near(0.9), "layer_percent": near(302.4 / 342.384),
            "bar_percent": near(72 / 86.52), "limit_percent": near(2), "within_limit": True,
                "takes_percent": near(3), "within_takes": True, "most_g": near(339.36 / 49),
            "add_low_c": 58, "add_high_c": 62, "from_leftover": False, "density_taken": False,
        }
    ]  # fmt: skip
    assert found["colours"] == [
        {
            **OWN, "layer": "body", "colourant": "brick", "volume_ml": near(6.72),
            "mass_g": near(3.36), "by_eye": False, "aim": None,
        }
    ]  # fmt: skip


def test_pots(found: Found) -> None:
    pale, body = found["pots"]
    assert pale == {
        **OWN, "pot": "pale", "layers": "detail", "melt_g": near(42), "left_g": near(20),
        "lost_g": near(2), "left_colours": "", "left_fragrances": "",
    }  # fmt: skip
    assert body == {
        **OWN, "pot": "body", "layers": "body", "melt_g": near(336),
        "left_g": pytest.approx(0, abs=1e-9), "lost_g": near(16), "left_colours": "brick",
        "left_fragrances": "herb",
    }  # fmt: skip


def test_fill_and_cut(found: Found) -> None:
    assert found["fill"] == [
        {
            **OWN, "capacity_low_ml": near(100), "capacity_high_ml": near(100),
            "poured_ml": near(87.4), "piece_ml": near(6.448), "fill_low_percent": near(93.848),
            "fill_high_percent": near(93.848), "proud_low_mm": 0, "proud_high_mm": 0,
                "cut_into": 1,
        }
    ]  # fmt: skip
    assert found["cut"] == [
        {
            **OWN, "piece_width_mm": 64, "piece_height_mm": 44, "pieces": 9,
            "waste_percent": near(57.76),
        }
    ]  # fmt: skip


def test_money(found: Found) -> None:
    bar = {
        "base": "0.90", "fragrance": "0.17", "colour": "0.08", "additives": "0.00",
        "packaging": "0.25",
        "tools": "0.15", "labour": "2.80", "total": "4.35", "price": "8.70",
        "contribution": "4.35",
    }  # fmt: skip
    assert found["cost"] == [
        {
            **OWN,
            "bars": 4,
            "currency": "EUR",
            **{f"{part}_a_bar": Decimal(amount) for part, amount in bar.items()},
            "break_even_bars": 23,
            "batch_total": Decimal("17.40"),
            "batch_price": Decimal("34.80"),
            "at_least_a_bar": Decimal("4.35"),
            "wholesale_a_bar": None,
        }
    ]


def test_weight_and_label(found: Found) -> None:
    us, eu = found["net_weight"]
    assert us == {
        "design": "leaf", "region": "us", "bars_weighed": 4, "pours": 1, "mean_g": near(85),
        "sale_day": us["sale_day"], "mean_at_sale_g": near(85), "lower_g": None,
        "single_lower_g": None, "loss_day_30_percent": None, "declared_g": None, "declared": None,
    }  # fmt: skip
    assert eu["region"] == "eu"
    names = {
        region: [(row["kind"], row["place"], row["name"]) for row in found["label"]
                 if row["region"] == region]
        for region in ("us", "eu")
    }  # fmt: skip
    assert names["eu"] == [
        ("ingredient", 1, "Aqua"),
        ("ingredient", 2, "Glycerin"),
        ("ingredient", 3, "Sodium Stearate"),
        ("ingredient", 4, "Parfum"),
        ("ingredient", 5, "CI 77491"),
        ("allergen", 1, "Linalool"),
    ]
    assert names["us"][3] == ("ingredient", 4, "Fragrance")
    assert {row["base"] for row in found["label"]} == {None}
    assert all(row["variant"] == "as written" for row in found["label"])


def test_a_list_that_stands_apart(tmp_path: Path) -> None:
    """Of a base's ingredients whose shares are not known the order is all that is known."""
    known = (
        "    - {inci: Glycerin, share: 35 %}\n    - {inci: Aqua, share: 40 %}\n"
        "    - {inci: Sodium Stearate, share: 25 %}\n"
    )
    listed = "    - {inci: Aqua}\n    - {inci: Glycerin}\n    - {inci: Sodium Stearate}\n"
    rows = tables(tmp_path, ("shelf/bases.yaml", known, listed))["label"]
    assert [
        (row["region"], row["kind"], row["place"], row["name"]) for row in rows if row["base"]
    ] == [
        (region, "ingredient", place, name)
        for region, water in (("us", "Water"), ("eu", "Aqua"))
        for place, name in enumerate((water, "Glycerin", "Sodium Stearate"), 1)
    ]
    assert {row["base"] for row in rows if row["kind"] == "ingredient"} == {"plain"}


def test_cooling(found: Found) -> None:
    scent, pour = found["cooling"]
    shared = {
        "design": "leaf", "pour": "A", "pot": "body", "run": 1, "readings": 3, "room_c": 20,
        "room_from": "pour",
    }  # fmt: skip
    assert {**scent, **shared, "window": "fragrance"} == scent
    assert {**pour, **shared, "window": "pour"} == pour
    assert scent["start_c"] == pytest.approx(70, abs=0.5)
    assert scent["half_time_min"] == pytest.approx(0.693147 / scent["rate_per_min"], rel=1e-6)
    assert scent["rms_c"] == pytest.approx(0.4, abs=0.01)
    for row in (scent, pour):
        for end in ("enters", "leaves"):
            assert row[f"{end}_low_min"] < row[f"{end}_min"] < row[f"{end}_high_min"]
        assert row["enters_min"] < row["leaves_min"]
    # 62 C was read after 10 minutes and 54 C after 25.
    assert scent["enters_min"] == pytest.approx(10, abs=1)
    assert 20 < pour["enters_min"] < 25


def test_a_run_without_windows_has_a_row(tmp_path: Path) -> None:
    changes = ((DESIGN, "    pour: 50-55 C\n", ""), (DESIGN, ", add: 58-62 C", ""))
    (row,) = tables(tmp_path, *changes)["cooling"]
    assert (row["window"], row["enters_min"], row["leaves_high_min"]) == (None, None, None)
    assert row["start_c"] is not None


def test_bleed(found: Found) -> None:
    assert found["bleed"] == [
        {
            "design": "leaf", "bar": "A1", "variant": "as written", "by": "ruler", "looks": 4,
            "start_mm": pytest.approx(0, abs=1e-9), "a_mm_per_sqrt_day": pytest.approx(0.5),
            "day": day, "width_mm": pytest.approx(day**0.5 / 2),
            "width_low_mm": pytest.approx(day**0.5 / 2),
            "width_high_mm": pytest.approx(day**0.5 / 2),
        }
        for day in (30, 90, 180)
    ]  # fmt: skip


def test_bars(found: Found) -> None:
    first, _, _, last = found["bars"]
    told = ("bar", "variant", "piece", "poured_c", "note", "keep", "weight_g")
    assert [first[name] for name in told] == [
        "A1", "as written", "leaf-a", 54, None, True, 84,
    ]  # fmt: skip
    assert [last[name] for name in told] == [
        "A4", "as written", None, 52.5, "the last", False, 85,
    ]  # fmt: skip
    assert [first[name] for name in ("design", "pour", "date", "room_c")] == [
        "leaf", "A", date(2026, 3, 1), 20,
    ]  # fmt: skip
    of_recipe = {
        "mat": "leaf", "mould": "four", "trim": "straight", "margin_mm": 2, "base": "plain",
        "colourants": "brick", "fragrances": "herb",
    }  # fmt: skip
    assert {name: first[name] for name in of_recipe} == of_recipe
    others = set(first) - {*told, *of_recipe, "design", "pour", "date", "room_c"}
    assert {first[name] for name in others} == {None}
    assert {"lip_mm", "relief_of_5", "tidy_min", "tint_l", "tint_a", "tint_b"} <= others


#: The body's temperature is told by the mark alone, but for the last bar; the piece is another.
AS_DONE = (
    (DESIGN, "keep: no, weight", "poured: 52.5 C, keep: no, weight"),
    (DESIGN, "    room: 20 C\n", "    room: 20 C\n    humidity: 55 %\n    did: {trim: close}\n"),
    (DESIGN, "scented]", "scented slowly]"),
)


def test_pours_a_row_a_pot_and_layer(tmp_path: Path) -> None:
    detail, body, cooler = tables(tmp_path, *AS_DONE)["pours"]
    shared = {
        "design": "leaf", "pour": "A", "date": date(2026, 3, 1), "mat": "leaf", "mould": "four",
        "base": "plain", "room_c": 20, "humidity_percent": near(55), "wrapped_min": None,
    }  # fmt: skip
    assert detail == {
        **shared, "pot": "pale", "layer": "detail", "bars": 4, "melted_g": 60,
        "window_low_c": 75, "window_high_c": 80, "start_c": None, "scented_c": None,
        "scented_min": None, "poured_c": None, "poured_from": None, "poured_min": None,
    }  # fmt: skip
    assert body == {
        **shared, "pot": "body", "layer": "body", "bars": 3, "melted_g": 380,
        "window_low_c": 50, "window_high_c": 55, "start_c": 70, "scented_c": 62,
        "scented_min": 10, "poured_c": 54, "poured_from": "reading", "poured_min": 25,
    }  # fmt: skip
    assert cooler == {**body, "bars": 1, "poured_c": 52.5, "poured_from": "noted"}


def test_bars_as_they_were_done(tmp_path: Path) -> None:
    bars = tables(tmp_path, *AS_DONE)["bars"]
    assert [(bar["trim"], bar["margin_mm"]) for bar in bars] == [("close", 0)] * 4
    assert [bar["poured_c"] for bar in bars] == [54, 54, 54, 52.5]


def test_a_pour_without_bars_has_its_rows(tmp_path: Path) -> None:
    text = DESIGN_TEXT[DESIGN_TEXT.index("    bars:\n") : DESIGN_TEXT.index("---\nOn")]
    made = tables(tmp_path, (DESIGN, text, ""))
    assert [(row["layer"], row["bars"], row["poured_c"]) for row in made["pours"]] == [
        ("detail", 0, None), ("body", 0, 54),
    ]  # fmt: skip
    assert made["bars"] == []


def test_readings(tmp_path: Path) -> None:
    # By the clock, from 14:05.
    clock = (
        ("0:00, 70", "14:05, 70"), ("0:10, 62", "14:15, 62"), ("0:25, 54", "14:30, 54"),
    )  # fmt: skip
    changes = [(DESIGN, old, new) for old, new in clock]
    found = tables(tmp_path, *changes, *AS_DONE)["readings"]
    shared = {"design": "leaf", "pour": "A", "date": date(2026, 3, 1), "pot": "body", "room_c": 20}
    assert found == [
        {
            **shared, "reading": number, "time_min": 845 + since, "since_first_min": since,
            "temperature_c": degrees, "mark": mark, "note": note,
        }
        for number, since, degrees, mark, note in (
            (1, 0, 70, "melted", None),
            (2, 10, 62, "scented", "scented slowly"),
            (3, 25, 54, "poured", None),
        )
    ]  # fmt: skip


def test_lots(tmp_path: Path) -> None:
    made = tables(tmp_path, ("shelf/bases.yaml", "  name: Plain\n", "  name: Plain\n  lot: P-7\n"))
    assert made["lots"] == [
        {
            "kind": "bases", "thing": "plain", "name": "Plain", "lot": "P-7", "opened": None,
            "best_before": None, "pours": 1, "bars": 4, "bars_perhaps": 0,
        }
    ]  # fmt: skip


def test_looks_again(found: Found) -> None:
    looks = found["later"]
    assert [(look["bar"], look["day"], look["bleed_mm"]) for look in looks] == [
        ("A1", 1, 0.5), ("A1", 4, 1.0), ("A1", 9, 1.5), ("A1", 16, 2.0),
    ]  # fmt: skip
    assert [looks[2][f"tint_{part}"] for part in "lab"] == [62, -3, 10.5]
    assert [looks[0][f"tint_{part}"] for part in "lab"] == [None] * 3
    assert [looks[0][name] for name in ("design", "pour", "date")] == [
        "leaf", "A", date(2026, 3, 1),
    ]  # fmt: skip


def test_pieces(found: Found) -> None:
    assert found["pieces"] == [
        {
            # Three casts before, four bars of the pour: the one that names no piece is cast on
            # that of its card. Two pieces share 100 casts.
            "piece": "leaf-a", "name": "Leaf, straight", "mat": "leaf", "mould": "four",
            "trim": "straight", "margin_mm": 2, "alike": 2, "width_mm": 64, "height_mm": 44,
            "casts_before": 3, "casts_poured": 4, "casts_had": 7, "casts_left": 93,
            "casts_had_each": 4, "casts_left_each": 46, "fits": "four",
        }
    ]  # fmt: skip


def test_only_the_designs_that_are_asked_for(tmp_path: Path) -> None:
    notebook = read(tmp_path)
    figures = derive_figures(notebook, models=False)
    pieces = derive_pieces(notebook)
    made = {table.name: table for table in figure_tables(notebook, figures, pieces, ["other"])}
    assert {name for name, table in made.items() if table.rows} == {"pieces"}
    assert all(table.columns for table in made.values())
    assert made["cut"].text().startswith("design,variant,piece_width_mm,")
    whole = figure_tables(notebook, figures, pieces, ["leaf"])
    assert whole == figure_tables(notebook, figures, pieces)


@pytest.mark.parametrize(
    ("measure", "columns"),
    [
        (Measure("lip", "length", "lower", "", 0.5), ("lip_mm",)),
        (Measure("bubbles", "count", "lower", "", 2.0), ("bubbles",)),
        (Measure("relief", "rating", "higher", "", 1.0), ("relief_of_5",)),
        (Measure("tint", "colour", None, "", None), ("tint_l", "tint_a", "tint_b")),
        # A studio's own name that is a column already.
        (Measure("note", "count", "lower", "", 2.0), ("measure_note",)),
        (Measure("room", "count", "lower", "", 2.0), ("room",)),
    ],
)
def test_columns_of_measures(measure: Measure, columns: tuple[str, ...]) -> None:
    assert measure_columns(measure, ("note", "room_c")) == columns
