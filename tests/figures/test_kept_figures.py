"""Figures come back from what is kept of them as they were made, each of its own type."""

from __future__ import annotations

from typing import Any

import pytest
from demo_book import demo_figures, demo_notebook

from journal.figures.common.result import Figure
from journal.figures.derive import DesignFigures
from journal.figures.registry import FIGURES
from journal.records.codec import CodecError, decode, encode


@pytest.mark.parametrize("name", demo_notebook().designs)
def test_figures_of_a_design_come_back(name: str) -> None:
    made = demo_figures().designs[name]
    data = encode(made)
    back = decode(data, DesignFigures)
    assert back == made
    assert encode(back) == data


def test_every_figure_of_designs_has_a_value_somewhere() -> None:
    """Else the test above says nothing of it."""
    seen = {
        name
        for one in demo_figures().designs.values()
        for made in (one.recipe.figures, one.own)
        for name, figure in made.items()
        if figure.value is not None
    }
    assert {spec.name for spec in FIGURES if spec.name != "pieces"} <= seen


def test_a_value_of_another_figure_is_none() -> None:
    made = next(iter(demo_figures().designs.values()))
    wrong = {**made.recipe.figures, "fill": Figure("fill", ("text",), "computed", "fill")}
    with pytest.raises(CodecError):
        decode(encode(DesignFigures("a", _with(made, wrong), {}, made.own)), DesignFigures)


def _with(made: DesignFigures, figures: dict[str, Figure[Any]]) -> Any:
    return type(made.recipe)(made.recipe.variant, made.recipe.bars, figures)
