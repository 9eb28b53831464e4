"""``journal figures``: JSON to standard output, or tables that a spreadsheet can open."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from statistics import median

import pytest
from demo import KELP_ON_CLAY
from demo_book import demo_notebook
from worked_notebook import lay_out

from journal.cli import main
from journal.figures.registry import FIGURES

DESIGN = "designs/leaf/design.md"
STRONG = (DESIGN, "dose: 10 mL/kg", "dose: 30 mL/kg")

TABLES = {columns.table for spec in FIGURES for columns in spec.tables} | {
    "bars", "batches", "comparisons", "conditions", "designs", "later", "left_out", "lots",
    "missing", "pieces", "plan", "pours", "readings", "variants", "wear", "worth",
}  # fmt: skip


def rows_of(folder: Path, name: str) -> list[dict[str, str]]:
    raw = (folder / f"{name}.csv").read_bytes()
    assert not raw.startswith(b"\xef\xbb\xbf")
    return list(csv.DictReader(io.StringIO(raw.decode("utf-8"), newline="")))


@pytest.fixture
def content(tmp_path: Path) -> Path:
    return lay_out(tmp_path / "content")


# JSON ----------------------------------------------------------------------------------


def test_figures_are_json_on_standard_output(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["figures", "--content", str(content)]) == 0
    said = capsys.readouterr()
    found = json.loads(said.out, parse_constant=lambda name: pytest.fail(name))
    assert found["format"] == "soap-design-journal/1"
    leaf = found["designs"]["leaf"]
    # Reckoned on paper in tests/figures/test_derive_worked.py.
    assert leaf["pots"]["pale"] == {"melt_g": 42, "layers": ["detail"]}
    assert leaf["leftovers"]["pale"]["left_g"] == 20
    assert leaf["cost"]["price"] == 8.7
    assert leaf["layers"]["body"]["fragrances"]["herb"]["within_limit"] is True


def test_only_the_designs_that_are_asked_for(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = (content / DESIGN).read_text("utf-8").replace("Leaf on brick", "Leaf again")
    (content / "designs" / "again").mkdir()
    (content / "designs" / "again" / "design.md").write_text(other, "utf-8")
    assert main(["figures", "again", "--content", str(content)]) == 0
    assert list(json.loads(capsys.readouterr().out)["designs"]) == ["again"]


def test_a_design_that_there_is_not(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["figures", "leef", "--content", str(content)]) == 2
    assert 'Did you mean "leaf"?' in capsys.readouterr().err


def test_an_error_elsewhere_does_not_stop_the_design(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (content / "designs" / "broken").mkdir()
    (content / "designs" / "broken" / "design.md").write_text("no front matter", "utf-8")
    assert main(["figures", "leaf", "--content", str(content)]) == 0
    assert main(["figures", "--content", str(content)]) == 1
    assert "designs/broken/design.md:1:1: " in capsys.readouterr().err


# Over the limit ------------------------------------------------------------------------

OVER = (
    'designs/leaf/design.md:24:16: "herb" is 2.6 % of the layer "body", over its limit of 2 %.'
    " Lower the dose: over the limit it can hurt skin."
)


def test_over_a_limit_is_told_by_everything_that_uses_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = lay_out(tmp_path / "content", STRONG)
    out = tmp_path / "notebook"
    strictly = ["build", "--strict", "--out", str(out)]
    for call in (["check"], ["figures"], strictly, ["order", "dozen"]):
        assert main([*call, "--content", str(content)]) == 1, call
        assert OVER in capsys.readouterr().err.splitlines(), call
    assert not out.exists()


# Tables --------------------------------------------------------------------------------


def test_every_table_is_written(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "tables"
    assert main(["figures", "--csv", str(out), "--content", str(content)]) == 0
    said = capsys.readouterr()
    assert re.fullmatch(
        rf"Wrote {len(TABLES)} tables with \d+ rows into {re.escape(str(out))}\.\n", said.out
    )
    assert {path.stem for path in out.iterdir()} == TABLES
    assert all(path.suffix == ".csv" for path in out.iterdir())


def test_one_row_a_thing_with_units_in_the_columns(content: Path, tmp_path: Path) -> None:
    out = tmp_path / "tables"
    assert main(["figures", "--csv", str(out), "--content", str(content)]) == 0
    pots = {row["pot"]: row for row in rows_of(out, "pots")}
    assert (pots["pale"]["melt_g"], pots["pale"]["left_g"], pots["pale"]["lost_g"]) == (
        "42", "20", "2",
    )  # fmt: skip
    (oil,) = rows_of(out, "fragrances")
    assert (oil["volume_ml"], oil["mass_g"], oil["limit_percent"]) == ("3.36", "3.024", "2")
    assert oil["within_limit"] == "yes"
    (cost,) = rows_of(out, "cost")
    assert (cost["total_a_bar"], cost["price_a_bar"], cost["currency"]) == ("4.35", "8.70", "EUR")
    (cut,) = rows_of(out, "cut")
    assert (cut["piece_width_mm"], cut["pieces"], cut["waste_percent"]) == ("64", "9", "57.76")
    (piece,) = rows_of(out, "pieces")
    assert [piece[key] for key in ("alike", "casts_had", "casts_left", "casts_left_each")] == [
        "2", "7", "93", "46",
    ]  # fmt: skip
    bars = rows_of(out, "bars")
    assert [bar["weight_g"] for bar in bars] == ["84", "85", "86", "85"]
    assert [bar["keep"] for bar in bars] == ["yes", "yes", "yes", "no"]
    names = {row["name"]: row["place"] for row in rows_of(out, "label") if row["region"] == "eu"}
    assert names["Aqua"] == "1"
    assert names["Linalool"] == "1"  # first of the allergens
    (weight,) = (row for row in rows_of(out, "net_weight") if row["region"] == "us")
    assert (weight["mean_g"], weight["declared"]) == ("85", "")


@pytest.fixture(scope="module")
def demo(demo_content: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("tables") / "demo"
    assert main(["figures", "--csv", str(out), "--content", str(demo_content)]) == 0
    return out


#: Columns of numbers that have no unit: counts, lots, places, money, ratios and shares of one.
WITHOUT_UNIT = re.compile(
    r"bars.*|(pots|failed)_(above|below)|cut|cavity|reading|lot|cut_into|pieces|pours|.*_a_(bar|cast)|batch_(total|price)|break_even_bars|place|run|readings|looks|day"
    r"|sale_day|n|not_measured|yes.*|difference|low|high|p|p_adjusted|so_far|median|mean|alike"
    r"|pot|poured|peeled|casts_.*|next_look_(at|chance)|fits|remelted_share|bubbles|tint_[lab]|a_mm_per_sqrt_day|\w+_of_\d"
)
UNITS = re.compile(
    r".*_(m?g|kg|m?l|[mck]?m|m[mc]?[23]|c|k|s|min|h|days|k?j|k?wh|k?w|percent)(_per_(bar|min|h|day))?"
    r"|.*_per_min"
)


def test_columns_of_the_demo_name_their_units(demo: Path) -> None:
    """A column of numbers; one of names, words or dates needs none."""
    numbers, wrong = 0, []
    for name in sorted(TABLES - {"left_out"}):
        rows = rows_of(demo, name)
        for column in rows[0]:
            if any(is_number(row[column]) for row in rows):
                numbers += 1
                if not WITHOUT_UNIT.fullmatch(column) and not UNITS.fullmatch(column):
                    wrong.append((name, column))
    assert not wrong
    assert numbers > 100


def is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_the_demo_has_a_row_for_every_bar_and_every_piece(demo: Path) -> None:
    notebook = demo_notebook()
    bars = [(design.id, bar.bar) for design in notebook.designs.values() for bar in design.bars]
    assert [(row["design"], row["bar"]) for row in rows_of(demo, "bars")] == bars
    assert [row["piece"] for row in rows_of(demo, "pieces")] == list(notebook.shelf.pieces)
    assert [row["design"] for row in rows_of(demo, "designs")] == list(notebook.designs)
    for name in TABLES - {"left_out"}:
        assert rows_of(demo, name), f"the demo shows nothing in {name}"


def test_tables_and_json_say_the_same(
    demo: Path, demo_content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["figures", "--content", str(demo_content)]) == 0
    found = json.loads(capsys.readouterr().out)["designs"]
    for row in rows_of(demo, "layers"):
        if row["variant"] == "as written":
            layer = found[row["design"]]["layers"][row["layer"]]
            assert float(row["melt_g"]) == layer["melt_g"]
            assert float(row["volume_ml_per_bar"]) == layer["volume_ml_per_bar"]
    missing = [(name, m["figure"], m["needs"]) for name, b in found.items() for m in b["missing"]]
    table = [(row["design"], row["figure"], row["needs"]) for row in rows_of(demo, "missing")]
    assert sorted(table) == sorted(missing)
    for row in rows_of(demo, "comparisons"):
        (entry,) = (
            one
            for one in found[row["design"]]["comparisons"]
            if [row["first"], row["second"], row["by"]] == [*one["between"], one["by"]]
        )
        assert row["verdict"] == entry["verdict"]
        assert (row["p"] == "") == (entry["p"] is None)


def test_pours_below_a_temperature_are_found(demo: Path) -> None:
    """Two pours, by hand from the demo's readings: none of their bodies is under ``poured:``."""
    below = [
        (row["design"], row["pour"], row["layer"])
        for row in rows_of(demo, "pours")
        if row["layer"] == "body" and row["poured_c"] and float(row["poured_c"]) < (125 - 32) / 1.8
    ]
    assert below == [(KELP_ON_CLAY, "A", "body"), (KELP_ON_CLAY, "B", "body")]


def test_the_readme_gives_the_answers_of_the_demo(demo: Path, project: Path) -> None:
    """Its questions, asked here without the programs that it asks them with."""
    readme = (project / "README.md").read_text("utf-8")
    bars = rows_of(demo, "bars")
    lips = {
        trim: [float(row["lip_mm"]) for row in bars if row["trim"] == trim and row["lip_mm"]]
        for trim in ("close", "straight")
    }
    close, straight = lips.values()
    assert (
        f"close {median(close):g} mm ({len(close)} bars), "
        f"straight {median(straight):g} mm ({len(straight)})"
    ) in readme
    for base in ("oatmeal", "aloe-clear"):
        kept = [row["keep"] for row in bars if row["base"] == base and row["keep"]]
        assert f"{base} {kept.count('yes')} of {len(kept)}" in readme
    times = [
        float(row["poured_min"])
        for row in rows_of(demo, "pours")
        if row["pot"] == "slate" and row["poured_min"]
    ]
    assert len(times) == 4
    assert f"{min(times):g} to {max(times):g} min, four times" in readme
    fresh = {(row["design"], row["bar"]): row["weight_g"] for row in bars}
    lost = [
        100 - 100 * float(row["weight_g"]) / float(fresh[row["design"], row["bar"]])
        for row in rows_of(demo, "later")
        if row["day"] == "30" and row["weight_g"] and fresh[row["design"], row["bar"]]
    ]
    assert f"{median(lost):.2f} % ({len(lost)} bars)" in readme


def test_long_tables_are_the_same_in_json(
    demo: Path, demo_content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["figures", "--content", str(demo_content)]) == 0
    found = json.loads(capsys.readouterr().out)
    for name in ("pours", "readings", "bars", "later", "lots"):
        rows = rows_of(demo, name)
        assert len(rows) == len(found[name]) > 5
        for row, of_json in zip(rows, found[name], strict=True):
            assert list(row) == list(of_json)
            for column, cell in of_json.items():
                if isinstance(cell, bool | None):
                    assert row[column] == {None: "", True: "yes", False: "no"}[cell]
                elif isinstance(cell, float):
                    assert float(row[column]) == cell
                else:
                    assert row[column] == str(cell)


def test_a_comma_for_decimals(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call = ["figures", "--content", str(content), "--decimal", ","]
    out = tmp_path / "tables"
    assert main([*call, "--csv", str(out)]) == 0
    lines = (out / "fragrances.csv").read_text("utf-8").splitlines()
    assert lines[0].startswith("design;variant;layer;oil;volume_ml;mass_g;")
    assert lines[1].startswith("leaf;as written;body;herb;3,36;3,024;0,9;")
    capsys.readouterr()
    assert main(call) == 2
    assert "Add --csv DIR" in capsys.readouterr().err


def test_nothing_in_a_table_runs_in_a_spreadsheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = lay_out(
        tmp_path / "content",
        (DESIGN, "title: Leaf on brick", 'title: "=HYPERLINK(\\"x\\")"'),
        (DESIGN, "keep: no, weight: 85 g", 'keep: no, weight: 85 g, note: "@SUM(1), \\"+2\\""'),
        ("shelf/pieces.yaml", "name: Leaf, straight", 'name: "-1+1 Ö"'),
    )
    out = tmp_path / "tables"
    assert main(["figures", "--csv", str(out), "--content", str(content)]) == 0
    for path in out.iterdir():
        for row in csv.reader(io.StringIO(path.read_text("utf-8"), newline="")):
            for cell in row:
                safe = re.fullmatch(r"-?\d+(\.\d+)?", cell) or not cell.startswith(tuple("=+-@"))
                assert safe, (path.name, cell)
    assert rows_of(out, "designs")[0]["title"] == '\'=HYPERLINK("x")'
    assert rows_of(out, "bars")[3]["note"] == '\'@SUM(1), "+2"'
    assert rows_of(out, "pieces")[0]["name"] == "'-1+1 Ö"


def test_tables_are_replaced_and_nothing_else(content: Path, tmp_path: Path) -> None:
    out = tmp_path / "tables"
    out.mkdir()
    (out / "mine.csv").write_text("mine", "utf-8")
    (out / "cost.csv").write_text("old", "utf-8")
    call = ["figures", "--csv", str(out), "--content", str(content)]
    assert main(call) == 0
    assert (out / "mine.csv").read_text("utf-8") == "mine"
    assert rows_of(out, "cost")
    first = {path.name: path.read_bytes() for path in out.iterdir()}
    assert main(call) == 0
    assert {path.name: path.read_bytes() for path in out.iterdir()} == first
    assert set(first) == {"mine.csv", *(f"{name}.csv" for name in TABLES)}


def test_tables_of_one_design(
    demo_content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "tables"
    call = ["figures", KELP_ON_CLAY, "--csv", str(out), "--content", str(demo_content)]
    assert main(call) == 0
    for name in TABLES - {"lots", "pieces"}:
        assert {row["design"] for row in rows_of(out, name)} <= {KELP_ON_CLAY}, name
    assert rows_of(out, "bars")


@pytest.mark.parametrize("where", ["", "tables", "designs/leaf"])
def test_the_content_is_only_read(
    content: Path, where: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(path for path in content.rglob("*"))
    assert main(["figures", "--csv", str(content / where), "--content", str(content)]) == 2
    assert "which is only read" in capsys.readouterr().err
    assert sorted(path for path in content.rglob("*")) == before


def test_a_file_in_the_folders_place(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "tables").write_text("a file", "utf-8")
    assert main(["figures", "--csv", str(tmp_path / "tables"), "--content", str(content)]) == 2
    assert capsys.readouterr().err
    assert (tmp_path / "tables").read_text("utf-8") == "a file"
