"""Dew in words: the answer first, what to do about it, nothing where there is nothing to say."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from msgspec.structs import replace

from journal.figures.common.result import Figure
from journal.figures.heat.derive_dew import DEW, DewFigures
from journal.html.blocks import Paragraph
from journal.views.design.dew import dew_passages, sweating_text

DRY = DewFigures(
    room_c=20.5, humidity=0.45, dew_point_c=8.3, piece_c=10.5, wet_above_humidity=0.5379, wet=False,
    wait_min=0.0, wrap_after_min=0.0, chilled_last=False, wrapped_early=(),
)  # fmt: skip
WET = replace(DRY, humidity=0.61, wet=True, wait_min=4.2)


class Recipe:
    """The figures of a recipe, of which dew alone is there."""

    def __init__(self, dew: DewFigures | None) -> None:
        self.dew = Figure("dew", dew, "estimate", "dew")

    def __getitem__(self, spec: object) -> Figure[DewFigures]:
        assert spec is DEW
        return self.dew


def page(dew: DewFigures | None) -> Any:
    """A design's page with this dew."""
    return SimpleNamespace(
        known_figures=SimpleNamespace(recipe=Recipe(dew)),
        at=lambda at_c: f"{at_c:g} °C",
        note=lambda figure, *says, **more: None,
    )


def said(dew: DewFigures | None) -> str:
    """The paragraphs of the passage."""
    passages = dew_passages(page(dew))
    paragraphs = [b for p in passages for b in p.blocks if isinstance(b, Paragraph)]
    return " ".join(str(b.words[0]) for b in paragraphs).replace("\u00a0", " ")


OUT = "Wrap a bar as soon as you like once it is out of the mould."


@pytest.mark.parametrize(
    ("dew", "text"),
    [
        (DRY, "The chilled piece stays dry up to 53 % humidity; the room is at 45 %."),
        (
            replace(DRY, humidity=None, dew_point_c=None, wet=None, wait_min=None),
            "The chilled piece stays dry up to 53 % humidity.",
        ),
        (
            WET,
            "The chilled piece gets wet: it stays dry only up to 53 % humidity, and the room is at"
            " 61 %.",
        ),
        (
            replace(WET, humidity=1.0, wait_min=None),
            "The chilled piece gets wet: it stays dry only up to 53 % humidity, and the room is at"
            " 100 %.",
        ),
        (
            replace(DRY, piece_c=22.0, wet_above_humidity=1.0),
            "The piece is no colder than the room, so it stays dry.",
        ),
    ],
)
def test_the_piece(dew: DewFigures, text: str) -> None:
    assert said(dew) == f"{text} {OUT}"


def test_only_a_piece_that_gets_wet_is_said_unfolded() -> None:
    assert sweating_text(page(WET)).replace("\u00a0", " ") == (
        "The chilled piece gets wet in this room. Let it stand for 4 min, then dab it dry."
    )
    warm = replace(WET, wet_above_humidity=1.0)
    for dew in (None, DRY, warm, replace(WET, piece_c=None)):
        assert sweating_text(page(dew)) == ""


def test_a_bar_that_has_to_wait() -> None:
    cold = replace(DRY, wrap_after_min=75.2, chilled_last=True)
    assert said(replace(cold, piece_c=None)) == (
        "Wait 1 h 15 min after the chill before you wrap a bar."
        " A bar that is warmer or colder than the room sweats in its wrap."
    )
    assert said(replace(cold, wrapped_early=("B",))).endswith("You wrapped pour B sooner.")
    both = said(replace(cold, wrapped_early=("B", "C")))
    assert both.endswith("You wrapped pour B and pour C sooner.")
    assert "wrap" not in said(replace(DRY, wrap_after_min=None))


def test_nothing_is_said_without_a_piece_or_a_wait() -> None:
    assert said(None) == said(replace(DRY, piece_c=None)) == ""
