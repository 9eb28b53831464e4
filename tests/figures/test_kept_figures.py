"""Figures come back from what is kept of them as they were made, each of its own type."""

from __future__ import annotations

from typing import Any

import pytest
from paths import CONTENT

from journal.figures.common.result import Figure
from journal.figures.derive import DesignFigures, derive_figures
from journal.figures.registry import FIGURES
from journal.records.codec import CodecError, decode, encode
from journal.records.notebook import read_notebook

DEMO = derive_figures(read_notebook(CONTENT))


@pytest.mark.parametrize("name", DEMO.designs)
def test_figures_of_a_design_come_back(name: str) -> None:
    made = DEMO.designs[name]
    data = encode(made)
    back = decode(data, DesignFigures)
    assert back == made
    assert encode(back) == data


def test_every_figure_of_designs_has_a_value_somewhere() -> None:
    """Else the test above says nothing of it."""
    seen = {
        name
        for one in DEMO.designs.values()
        for made in (one.recipe.figures, one.own)
        for name, figure in made.items()
        if figure.value is not None
    }
    assert {spec.name for spec in FIGURES if spec.name != "pieces"} <= seen


def test_a_value_of_another_figure_is_none() -> None:
    made = next(iter(DEMO.designs.values()))
    wrong = {**made.recipe.figures, "fill": Figure("fill", ("text",), "computed", "fill")}
    with pytest.raises(CodecError):
        decode(encode(DesignFigures("a", _with(made, wrong), {}, made.own)), DesignFigures)


def _with(made: DesignFigures, figures: dict[str, Figure[Any]]) -> Any:
    return type(made.recipe)(made.recipe.variant, made.recipe.bars, figures)
