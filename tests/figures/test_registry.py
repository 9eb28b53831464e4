"""What each figure says of itself holds: its places in the JSON, its columns, its explanation."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from demo_book import demo_figures, demo_notebook
from paths import PROJECT

from journal.figures.as_json import design_json
from journal.figures.common.spec import CHAPTERS, FIGURE_ENTRIES
from journal.figures.derive import AllFigures
from journal.figures.registry import FIGURES, OF_DESIGN, OF_RECIPE
from journal.views.lists.methods import CHAPTERS_OF_METHODS

DEMO = demo_notebook()


def at(block: Any, steps: list[str]) -> Iterator[Any]:
    """What stands at a path of the JSON; "*" is any name."""
    if not steps:
        yield block
    elif isinstance(block, dict):
        for name, inner in block.items():
            if steps[0] in ("*", name):
                yield from at(inner, steps[1:])


@pytest.fixture
def derived() -> AllFigures:
    """All figures of the demo, the estimates too."""
    return demo_figures()


def test_every_path_leads_somewhere(derived: AllFigures) -> None:
    blocks = [design_json(DEMO.designs[name], one) for name, one in derived.designs.items()]
    for spec in (*OF_RECIPE, *OF_DESIGN):
        for path in (
            path for part in FIGURE_ENTRIES[spec.name].parts for path in part.paths.split()
        ):
            if not path.startswith("order."):
                assert any(True for block in blocks for _ in at(block, path.split("."))), path


def test_every_figure_is_listed_under_its_name() -> None:
    """A spec that the list leaves out would never be derived."""
    listed = [name for name, entry in FIGURE_ENTRIES.items() if entry.spec]
    assert sorted(listed) == sorted(spec.name for spec in FIGURES)
    written = {
        name
        for path in (PROJECT / "journal" / "figures").rglob("derive*.py")
        for name in re.findall(r'FigureSpec\(\s*name="(\w+)"', path.read_text("utf-8"))
    }
    assert written - set(listed) == {"template"}  # of a mat and a mould, which no list holds


def test_names_are_given_once() -> None:
    for names in (
        [spec.name for spec in FIGURES],
        [block for spec in FIGURES for block in spec.blocks],
        [columns.table for spec in FIGURES for columns in spec.tables],
    ):
        assert len(set(names)) == len(names)


def test_rows_are_as_wide_as_their_columns(derived: AllFigures) -> None:
    wide = 0
    for one in derived.designs.values():
        made = {**one.recipe.figures, **one.own}
        for spec in (*OF_RECIPE, *OF_DESIGN):
            value = made[spec.name].value
            for columns in spec.tables if value is not None else ():
                widths = {len(row) for row in columns.rows(value)}
                assert widths <= {len(columns.columns.split())}, columns.table
                wide += len(widths)
    assert wide > 20


def test_every_figure_is_explained_on_the_page_once() -> None:
    told = [method.anchor for _, methods in CHAPTERS_OF_METHODS for method in methods]
    assert len(set(told)) == len(told)
    assert {spec.anchor for spec in FIGURES} <= set(told)


def test_the_chapters_of_the_page() -> None:
    """The maker reads of a pour in the order in which it is done."""
    told = {name: [method.anchor for method in methods] for name, methods in CHAPTERS_OF_METHODS}
    assert list(told) == list(CHAPTERS)
    assert {entry.chapter for entry in FIGURE_ENTRIES.values()} <= set(CHAPTERS)
    assert told["When to pour"][0] == "melting"
    assert told["When to pour"][-1] == "bleed"
    assert told["Selling"][-2:] == ["order", "bars-enough"]
