"""Pours as they lay, read back from the pages, against what is written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import pytest
from demo import HONEYCOMB, KELP_ON_GREY, MOTH, OAT_LOAF, PINE
from demo_book import demo_notebook
from msgspec.structs import replace

from journal.records.models.summary import bars_by_mould
from journal.records.models.write_up import Bar, Design, Pour
from journal.views.shared.moulds import fit_to_sell
from journal.views.shared.places import pour_anchor

_TEXT = re.compile(r"<text x=(\d+) y=(\d+)(?: class=rim)?>(\w+)")
_BAR = re.compile(r'<use x=\d+ y=\d+ class="?(\w+)[^>]*?(?: stroke-width=([\d.]+))? href')
_CELLS = re.compile(r"<svg class=cells .*?</svg>")


@pytest.fixture(scope="module")
def designs() -> dict[str, Design]:
    return dict(demo_notebook().designs)


def figure_of(notebook: Path, design: str, pour: Pour) -> str:
    """The drawing of a pour on its design's page."""
    page = (notebook / "designs" / f"{design}.html").read_text("utf-8")
    # Without a caption it is no figure.
    found = re.search(rf'<(figure|div) id="{pour_anchor(pour.label)}">(.*?)</\1>', page, re.DOTALL)
    assert found is not None
    return found[2]


def places(figure: str) -> dict[str, tuple[int, int]]:
    """Row and column of each bar, counted from where its name stands."""
    names = {name: (float(x), float(y)) for x, y, name in _TEXT.findall(figure)}
    columns = sorted({x for x, _ in names.values()})
    # A name with nothing said under it stands 9 lower, in the middle.
    rows: list[float] = []
    for y in sorted(y for _, y in names.values()):
        if not rows or y - rows[-1] > 20:
            rows.append(y)
    return {
        name: (max(n for n, row in enumerate(rows) if row <= y + 1e-6), columns.index(x))
        for name, (x, y) in names.items()
    }


@pytest.mark.parametrize(
    ("design", "in_row"), [(KELP_ON_GREY, 2), (MOTH, 2), (PINE, 3), (OAT_LOAF, 10), (HONEYCOMB, 2)]
)
def test_each_bar_is_drawn_where_it_lay(
    notebook: Path, designs: dict[str, Design], design: str, in_row: int
) -> None:
    for pour in designs[design].pours:
        free = iter(range(1, 100))
        at = {bar.bar: bar.cavity if bar.cavity is not None else next(free) for bar in pour.bars}
        assert places(figure_of(notebook, design, pour)) == {
            name: divmod(cavity - 1, in_row) for name, cavity in at.items()
        }, pour.label


def test_the_demo_has_a_pour_out_of_order(designs: dict[str, Design]) -> None:
    cavities = [bar.cavity for bar in designs[KELP_ON_GREY].pours[-1].bars]
    assert None not in cavities
    assert cavities != sorted(cavity for cavity in cavities if cavity is not None)


@pytest.mark.parametrize("design", [KELP_ON_GREY, MOTH, PINE, OAT_LOAF])
def test_a_pour_says_what_its_bars_were(
    notebook: Path, designs: dict[str, Design], design: str
) -> None:
    for pour in designs[design].pours:
        figure = figure_of(notebook, design, pour)
        keeps = [bar.measures.get("keep") for bar in pour.bars]
        judged = len(keeps) - keeps.count(None)
        if len(designs[design].pours) > 1:
            assert f"<figcaption>{keeps.count(True)} of {judged} fit" in figure
        drawn = _BAR.findall(figure)
        tones = [tone for tone, _ in drawn]
        assert [tones.count(tone) for tone in ("fit", "cavity")] == [
            keeps.count(True), len(keeps) - keeps.count(True),
        ]  # fmt: skip
        lips = [bar.measures.get("lip") for bar in pour.bars]
        # Four times the scale of an oblong mould, of 0.965 px a mm.
        expected = sorted(2 * 4 * 0.965 * lip for lip in lips if isinstance(lip, float) and lip)
        widths = sorted(float(width) for _, width in drawn if width)
        assert widths == pytest.approx(expected, abs=0.051)


def counted(mark: str) -> tuple[int, int, int]:
    """Cells that are filled, struck and open in a small mould."""
    paths = [*re.findall(r'<path d="([^"]*)"', mark), "", ""]
    cells, hollow, struck = (
        sum((int(length) + more) // 6 for length in re.findall(r"h(\d+)", path))
        for path, more in zip(paths, (1, 1, 0), strict=False)
    )
    return cells - hollow, struck, hollow - struck


def counts(bars: Sequence[Bar]) -> tuple[int, int, int]:
    keeps = [bar.measures.get("keep") for bar in bars]
    return keeps.count(True), keeps.count(False), keeps.count(None)


def test_the_list_counts_every_bar(notebook: Path, designs: dict[str, Design]) -> None:
    page = (notebook / "designs" / "index.html").read_text("utf-8")
    for design in designs.values():
        entry = page.split(f"<a href={design.id}.html")[1].split("</li>")[0]
        (mark,) = _CELLS.findall(entry)
        assert counted(mark) == counts(design.bars), design.id
        fit, lost, _ = counts(design.bars)
        assert f"{fit}\u00a0of\u00a0{fit + lost}\u00a0fit\u00a0to\u00a0sell" in entry
        assert "aria-hidden=true" in mark


def test_many_bars_are_counted_by_tens(designs: dict[str, Design]) -> None:
    (first, *_) = designs[MOTH].overview.pours
    many = replace(first, bars=137, judged=130, kept=81)
    mark, text = fit_to_sell(many)
    assert text.replace("\u00a0", " ") == "81 of 130 fit to sell, a cell for ten"
    assert mark.cells is not None
    lengths = [int(length) + 1 for length in re.findall(r"h(\d+)", mark.cells.cells)]
    assert [length // 6 for length in lengths] == [8, 5, 1]
    assert fit_to_sell(replace(first, judged=0, kept=0))[1] == ""


def test_the_weeks_have_a_mould_for_each_pour(notebook: Path, designs: dict[str, Design]) -> None:
    pours = [pour for design in designs.values() for pour in design.pours]
    pages = [notebook / "weeks.html", *sorted((notebook / "weeks").glob("*.html"))]
    texts = [page.read_text("utf-8") for page in pages]
    marks = [counted(mark) for text in texts for mark in _CELLS.findall(text)]
    assert sorted(marks) == sorted(counts(pour.bars) for pour in pours)
    # On the lines, all cells of a year; a struck one is open as well.
    for tone, place in (("mark", 0), ("stroke", 1)):
        paths = [d for text in texts for d in re.findall(rf'<path class={tone} d="([^"]*)"', text)]
        assert sum(d.count("M") for d in paths) == sum(counts(pour.bars)[place] for pour in pours)


def test_bars_without_a_place_take_the_free_ones(designs: dict[str, Design]) -> None:
    design = designs[KELP_ON_GREY]
    pour = design.pours[0]
    bars = tuple(replace(bar, cavity={"A2": 1, "A4": 8}.get(bar.bar)) for bar in pour.bars)
    ((mould, laid),) = bars_by_mould(replace(pour, bars=bars), {}, design.recipe)
    assert mould == design.recipe.mould
    assert [bar.bar if bar else "" for bar in laid] == ["A2", "A1", "A3", "A5", "A6", "", "", "A4"]


def test_what_all_bars_of_a_pour_are_is_said_once_over_them(
    notebook: Path, designs: dict[str, Design]
) -> None:
    """Pours of one tint each: the tint heads the mould and the rows, and is on no bar."""
    page = (notebook / "designs" / f"{MOTH}.html").read_text("utf-8")
    for pour in designs[MOTH].pours:
        tints = {bar.variant.split("/")[1] for bar in pour.bars}
        assert len(tints) == 1, pour.label
        (tint,) = tints
        figure = figure_of(notebook, MOTH, pour)
        head, drawn = figure.split("</p>", 1)
        assert head.count(tint) == 1
        assert tint not in drawn
        for bar in pour.bars:
            rows = re.findall(rf"<tr><th scope=row>{bar.bar}</th>.*?</tr>", page)
            assert rows
            assert not [row for row in rows if tint in row]
