"""``journal order``: the plan, which order is meant, and what stops it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from msgspec.structs import replace
from worked_notebook import lay_out

from journal.cli import main
from journal.figures.day.derive_order import too_many_rounds
from journal.records.notebook import read_notebook


@pytest.fixture
def content(tmp_path: Path) -> Path:
    """Four bars, to be quick."""
    return lay_out(tmp_path / "content", ("orders/dozen.yaml", "bars: 14", "bars: 4"))


def test_the_whole_plan(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", "dozen", "--content", str(content)]) == 0
    said = capsys.readouterr().out
    lines = said.splitlines()
    assert lines[0] == (
        "A dozen and two: 4 bars for Wilma Oake, due 30 April 2026. Begin by 27 April 2026."
    )
    heads = [line for line in lines if line and not line.startswith(" ")]
    assert heads[1:] == [
        "What to make",
        "What it takes",
        "What to buy",
        "The pots, and what is left over",
        "The day, hour by hour",
        "Cost and price",
    ]
    # 21 and 11 g, since 10 g are scraped back, and 336 g of base, of which 300 are there; 1.68 mL
    # of oil a round, rounded down.
    for line in (
        "  Leaf on brick  4  2 rounds of 2  2 of Leaf, straight",
        "  Leaf, straight: 4 casts for this order, of 93 left.",
        "  Plain: 68 g (2.4 oz)",
        "  Leaf on brick, pale  32 g (1.15 oz)    left over: 10 g (0.355 oz) of Plain",
        "     8:25 to 8:40   · Rest 15 min. It is ready when it is firm to a light touch."
        " (Leaf on brick, 1 of 2)",
        "  Leaf on brick  cost €17.40  price €34.80",
    ):
        assert line in lines, line
    assert "Melt the detail: 21 g (0.75 oz) Plain." in said
    assert "Melt the detail: 11 g Plain." in said
    assert "3.2 mL" in said
    assert "Half in advance" not in said


def test_what_is_wanting_is_told_with_its_supplier(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = lay_out(
        tmp_path / "content",
        ("orders/dozen.yaml", "bars: 14", "bars: 4"),
        ("shelf/bases.yaml", "  on_hand: 300 g", "  on_hand: 300 g\n  supplier: Base & Sons"),
        ("shelf/packaging.yaml", "  on_hand: 5", "  on_hand: 1"),
    )
    assert main(["order", "dozen", "--content", str(content)]) == 0
    said = capsys.readouterr().out
    assert "  Plain: 68 g (2.4 oz) (Base & Sons)\n" in said
    assert "  Sleeve: 3\n" in said


@pytest.mark.parametrize(
    "name",
    ["dozen", "dozen.yaml", "orders/dozen.yaml", "orders/dozen", "{content}/orders/dozen.yaml"],
)
def test_an_order_by_its_id_or_its_path(
    content: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    call = ["order", name.format(content=content), "--content", str(content)]
    assert main(call) == 0
    assert capsys.readouterr().out.startswith("A dozen and two: 4 bars")


def test_an_order_by_its_path_from_here(
    content: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(content.parent)
    assert main(["order", os.path.join("content", "orders", "dozen.yaml")]) == 0


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("dosen", 'no order is called "dosen". Did you mean "dozen"?'),
        ("{content}/journal.yaml", "is no order of this notebook"),
        ("{content}", "no order is called"),
    ],
)
def test_an_order_that_there_is_not_is_wrong_use(
    content: Path, name: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["order", name.format(content=content), "--content", str(content)]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert not told.out


@pytest.mark.parametrize(
    ("options", "begin"),
    [
        ([], "8:0"),
        (["--begins", "9:30"], "9:3"),
        (["--hours", "7:15-15:00"], "7:1"),
        (["--hours", "6-14", "--begins", "8"], "8:0"),
    ],
)
def test_when_hands_are_there(
    content: Path, options: list[str], begin: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["order", "dozen", *options, "--content", str(content)]) == 0
    said = capsys.readouterr().out
    first = next(line for line in said.split("Day 1\n")[1].splitlines() if " to " in line)
    assert first.startswith(f"     {begin}")


@pytest.mark.parametrize(
    "options",
    [
        ["--hours", "8:00"],
        ["--hours", "18:00-8:00"],
        ["--hours", "8:00-25:00"],
        ["--hours", "-"],
        ["--begins", "noon"],
        ["--begins", "8:7"],
        ["--begins", "8:75"],
    ],
)
def test_no_time_of_day_is_wrong_use(
    content: Path, options: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["order", "dozen", *options, "--content", str(content)]) == 2
    assert "write 8:" in capsys.readouterr().err


# Odd orders ------------------------------------------------------------------------------

DESIGN = "designs/leaf/design.md"
READ = "    readings: {body: [[0:00, 70 C, melted], [0:10, 62 C, scented], [0:25, 54 C, poured]]}\n"
TAKES = ("orders/dozen.yaml", "bars: 14", "bars: 4, takes_leftovers: yes")
FEW = ("orders/dozen.yaml", "bars: 14", "bars: 4")


def ends(more: str) -> dict[str, str]:
    return {"shelf/leftovers.yaml": f"ends: {{name: Ends, base: plain, {more}}}\n"}


@pytest.mark.parametrize(
    ("changes", "more", "lines"),
    [
        (
            [("shelf/mats.yaml", "life: 50", "life: 3")], {},
            ["Cut 2 pieces of Leaves, straight 2 mm, out of 1 sheet: those that are there will"],
        ),
        (
            [("shelf/pieces.yaml", "trim: straight 2 mm", "trim: close")], {},
            ["Leaf on brick  4  one round of 4  pieces still to cut",
             "none on the shelf has this mat, mould and trim."],
        ),
        (
            [("shelf/pieces.yaml", "  on_hand: 2\n", ""), ("shelf/mats.yaml", "  life: 50\n", "")],
            {},
            ["Leaf on brick  4  4 rounds of 1  1 of Leaf, straight\n",
             "How many are left is not known: the mat's life is not on the shelf"],
        ),
        (
            [(DESIGN, "colourant: brick, dose: 1 %", "colourant: brick, by: eye, aim: brick red")],
            {}, ["Brick goes in by eye, so none is counted here."],
        ),
        (
            [("shelf/bases.yaml", "on_hand: 300 g", "on_hand: 3 kg")], {},
            ["What to buy\n  Nothing: all is on hand.\n"],
        ),
        (
            [(DESIGN, "base: plain\n    amount: 80 g", "base: {leftover: ends}\n    amount: 80 g")],
            ends("amount: 30 g, tinted: no"), [" short"],
        ),
        (
            [("shelf/bases.yaml", "  price: 10.00/kg\n", "")], {},
            ["  Leaf on brick  cost at least €13.82  price –",
             "a bar without Plain, for want of bases/plain:",
             "  In all         cost at least €13.82"],
        ),
        (
            [(DESIGN, "amount: 80 g", "amount: 80 g\n    overpour: 5 g")], {},
            ["of Plain, tinted with Brick, scented with Herb"],
        ),
        ([TAKES], ends("amount: 30 g, scented: {oil: herb, concentration: 8 %}"), ["its limit"]),
        (
            [("journal.yaml", "chill_places: 4\n", "")], {},
            ["The chiller holds all bars: the settings do not say how many."],
        ),
        ([(DESIGN, READ, "")], {}, ["min from melted to a pour, since none was read."]),
        ([("orders/dozen.yaml", "customer: Wilma Oake\n", "")], {}, ["due 30 April 2026. Begin"]),
    ],
)  # fmt: skip
def test_what_few_orders_have(
    tmp_path: Path, changes: list[tuple[str, str, str]], more: dict[str, str], lines: list[str],
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    few = [] if TAKES in changes else [FEW]
    content = lay_out(tmp_path / "content", *few, *changes, more=more)
    status = main(["order", "dozen", "--content", str(content)])
    told = capsys.readouterr()
    assert status == 0, told.err
    flat = " ".join(told.out.split())
    for line in lines:
        assert " ".join(line.split()) in flat, line


def test_steps_that_fit_no_day(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", "dozen", "--hours", "8:00-8:03", "--content", str(content)]) == 0
    assert "No plan by the hour: " in capsys.readouterr().out


# What stops it, and what does not --------------------------------------------------------

OWN = [
    ("designs/leaf/design.md", "amount: 80 g", "amount: 80 F"),
    ("designs/leaf/design.md", "base: plain", "base: plane"),
    ("designs/leaf/design.md", "mould: four", "mould: five"),
    ("shelf/bases.yaml", "price: 10.00/kg", "price: ten"),
    ("shelf/packaging.yaml", "price: 0.25", "price: a lot"),
    ("shelf/pieces.yaml", "casts_before: 3", "casts_before: some"),
    ("shelf/mats.yaml", "life: 50", "life: -1"),
    ("shelf/moulds.yaml", "four:", "four: x\nfour:"),
    ("journal.yaml", "labour: 24.00", "labour: dear"),
    ("orders/dozen.yaml", "due: 2026-04-30", "due: soon"),
    ("orders/dozen.yaml", "design: leaf", "design: leef"),
    ("orders/dozen.yaml", "bars: 14", "bars: 14, variant: red"),
    ("orders/dozen.yaml", "bars: 14", "bars: none"),
]


@pytest.mark.parametrize("change", OWN)
def test_an_error_in_what_it_uses_stops_it(
    tmp_path: Path, change: tuple[str, str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    content = lay_out(tmp_path / "content", change)
    assert main(["order", "dozen", "--content", str(content)]) == 1
    told = capsys.readouterr()
    assert not told.out
    assert told.err.count("\n") >= 2
    path = change[0]
    assert f"{path}:" in told.err


ELSEWHERE = {
    "designs/other/design.md": "no front matter",
    "orders/other.yaml": "title: Other\ndue: never\ndesigns: []\n",
    "comparisons/other.md": "no front matter",
}
UNUSED = [
    ("shelf/bases.yaml", "plain:\n", "other: {name: Other, price: dear}\nplain:\n"),
    ("shelf/fragrances.yaml", "herb:\n", "other: {name: Other, limit: low}\nherb:\n"),
    ("shelf/moulds.yaml", "four:\n", "other: {name: Other, cavities: many}\nfour:\n"),
    ("shelf/pieces.yaml", "leaf-a:\n", "other: {name: Other, mat: fern}\nleaf-a:\n"),
]


def test_errors_elsewhere_do_not_stop_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    few = ("orders/dozen.yaml", "bars: 14", "bars: 4")
    leftovers = {"shelf/leftovers.yaml": "ends: {name: Ends, base: plane, amount: 1 kg}\n"}
    content = lay_out(tmp_path / "content", few, *UNUSED, more={**ELSEWHERE, **leftovers})
    assert len(read_notebook(content).errors) >= 8
    assert main(["order", "dozen", "--content", str(content)]) == 0
    assert "error" not in capsys.readouterr().err


def test_leftovers_stop_it_only_where_they_are_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    takes = ("orders/dozen.yaml", "bars: 14", "bars: 4, takes_leftovers: yes")
    leftovers = {"shelf/leftovers.yaml": "ends: {name: Ends, base: plane, amount: 1 kg}\n"}
    content = lay_out(tmp_path / "content", takes, more=leftovers)
    assert main(["order", "dozen", "--content", str(content)]) == 1
    assert "shelf/leftovers.yaml:1:" in capsys.readouterr().err


def test_another_order_that_cannot_be_read_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = lay_out(tmp_path / "content", more=ELSEWHERE)
    assert main(["order", "other", "--content", str(content)]) == 1
    assert "orders/other.yaml:2:6: " in capsys.readouterr().err


def test_no_notebook_at_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", "dozen", "--content", str(tmp_path / "nowhere")]) == 1
    assert "there is no notebook here" in capsys.readouterr().err


@pytest.mark.parametrize("bars", ["201", "4000", "999999999999"])
def test_more_rounds_than_can_be_planned(
    tmp_path: Path, bars: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two bars a round, for two pieces; it is told in a moment, however many they are."""
    content = lay_out(tmp_path / "content", ("orders/dozen.yaml", "bars: 14", f"bars: {bars}"))
    told = (
        f"orders/dozen.yaml:4:32: the order takes {(int(bars) + 1) // 2} rounds, and at most 100"
        " are planned together. Plan it in parts: make several orders of it."
    )
    out = ["--out", str(tmp_path / "out")]
    for command in (["order", "dozen"], ["check"], ["build", *out]):
        assert main([*command, "--content", str(content)]) == 1
        assert told in capsys.readouterr().err
    page = " ".join((tmp_path / "out/orders/dozen.html").read_text("utf-8").split())
    assert "Plan it in parts" in page
    if len(bars) < 6:
        call = ["cards", "leaf", "--day", "--bars", bars, "--content", str(content)]
        assert main([*call, "--out", str(tmp_path / "day")]) == 2
        assert "at most 100 are planned together. Ask for fewer" in capsys.readouterr().err


def test_as_many_rounds_as_can_be_planned(tmp_path: Path) -> None:
    """A hundred of two bars; with two bars more, in whichever line, they are too many."""
    written = ("orders/dozen.yaml", "bars: 14", "bars: 200")
    notebook = read_notebook(lay_out(tmp_path / "content", written))
    order, designs = notebook.orders["dozen"], notebook.designs
    assert too_many_rounds(notebook, order, designs) == ()
    (line,) = order.record.designs
    more = line.model_copy(update={"bars": 2})
    longer = order.record.model_copy(update={"designs": (more, line)})
    assert len(too_many_rounds(notebook, replace(order, record=longer), designs)) == 1
    assert too_many_rounds(notebook, replace(order, record=longer), {}) == ()
