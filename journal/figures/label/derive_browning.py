"""Derive the vanillin in a bar, oil by oil, and how far it is likely to brown."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from msgspec import Struct

from journal.figures.common.as_json_numbers import percent
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableRow, TableSpec
from journal.figures.label.browning import browning_to_expect, vanillin_in_bar
from journal.figures.recipe.derive_layers import recipe_masses
from journal.quantities.show import show_percent


class VanillinOfOil(Struct, frozen=True):
    """An oil, the share of its vanillin in the whole bar, and the browning to expect of the bar."""

    oil: str
    bar_share: float
    expect: str


def derive_browning(context: RecipeContext, builder: FigureBuilder) -> tuple[VanillinOfOil, ...]:
    """Derive the vanillin of each oil that names any; all of it together browns the bar."""
    shares: dict[str, float] = {}
    for layer in recipe_masses(context).layers:
        for oil in layer.fragrances:
            record = context.shelf.fragrances.get(oil.oil)
            if record is None or record.vanillin_share is None:
                continue
            builder.used(f"vanillin in {oil.oil}", show_percent(record.vanillin_share))
            shares[oil.oil] = vanillin_in_bar(oil.bar_share, record.vanillin_share)
    expect = browning_to_expect(min(sum(shares.values()), 1.0))
    return tuple(VanillinOfOil(oil, share, expect) for oil, share in shares.items())


def _rows(oils: tuple[VanillinOfOil, ...]) -> Iterator[TableRow]:
    """Yield a row for each oil."""
    return ((one.oil, 100 * one.bar_share, one.expect) for one in oils)


def _browning_json(oils: tuple[VanillinOfOil, ...]) -> dict[str, Any]:
    """The JSON block, by oil."""
    return {
        one.oil: {"vanillin_percent": percent(one.bar_share), "expect": one.expect} for one in oils
    }


BROWNING = FigureSpec(
    name="browning", kind="computed", derive=derive_browning,
    blocks={"browning": _browning_json},
    empty={},
    tables=(TableSpec("browning", "oil vanillin_percent expect", _rows),),
)  # fmt: skip
