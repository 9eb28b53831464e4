"""The large weights of a card are those of `journal figures`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from journal.comparison.as_json import figures_json
from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.card_page import plain_text
from journal.quantities.show import show_drops, show_mass, show_mass_us, show_volume
from journal.records.models.write_up import Design
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.amounts import non_breaking, show_spoons
from journal.views.card.card import cards_of


@pytest.fixture(scope="module")
def demo(project: Path) -> tuple[Notebook, dict[str, Any]]:
    notebook = read_notebook(project / "content")
    derived = derive_figures(notebook, models=False)
    found = figures_json(notebook, derived, compare_designs(notebook), list(notebook.designs))
    designs = found["designs"]
    assert isinstance(designs, dict)
    return notebook, designs


def weights(notebook: Notebook, design: Design) -> list[tuple[str, str]]:
    """What a card says large and beneath, line by line."""
    leaves = cards_of(notebook, design, None, None, "a5")
    return [
        (plain_text(weight.first), plain_text(weight.second))
        for leaf in leaves
        for weight in leaf.weights
    ]


def from_json(notebook: Notebook, design: Design, found: dict[str, Any]) -> list[tuple[str, str]]:
    """The same lines from the figures' JSON: pot by pot, bases, then colours and oils."""
    steps = notebook.settings.scales
    written = {layer.name: layer for layer in design.recipe.layers}
    lines = []
    for pot in found["pots"].values():
        layers = [(written[name], found["layers"][name]) for name in pot["layers"]]
        first, _ = layers[0]
        if first.base.leftover is not None:
            masses = [sum(layer["melt_g"] for _, layer in layers)]
        else:
            masses = [
                sum(layer["bases"][base]["melt_g"] for _, layer in layers)
                for base, _ in first.base.shares
            ]
        lines += [(show_mass_us(mass, steps), show_mass(mass, steps)) for mass in masses]
        for layer, figures in layers:
            for one in layer.dosed:
                kind, name = one.thing
                amount = figures["colours" if kind == "colourants" else kind][name]
                if one.dose is None:
                    lines.append(("by eye", one.aim or ""))
                elif one.dose.rough:
                    ml = amount["volume_ml"]
                    lines.append((show_volume(ml), f"about {show_drops(ml)}"))
                elif one.dose.kind == "volume":
                    ml = amount["volume_ml"]
                    lines.append((show_volume(ml), show_spoons(ml)))
                else:
                    grams = show_mass(amount["mass_g"], steps)
                    lines.append((grams, show_volume(amount["volume_ml"])))
            for oil in layer.fragrance:
                amount = figures["fragrances"][oil.oil]
                known = notebook.shelf.fragrances[oil.oil].density is not None
                grams = show_mass(amount["mass_g"], steps, "down") if known else ""
                lines.append((show_volume(amount["volume_ml"], "down"), grams))
    return [(_as_on_card(one), _as_on_card(two)) for one, two in lines]


def _as_on_card(text: str) -> str:
    """A figure is not parted from its unit; words may be."""
    amount = text.removeprefix("about ")
    return text.replace(amount, non_breaking(amount)) if amount[:1].isnumeric() else text


def test_the_large_weights_are_those_of_the_figures(demo: tuple[Notebook, dict[str, Any]]) -> None:
    notebook, designs = demo
    compared = 0
    for name, design in notebook.designs.items():
        wanted = from_json(notebook, design, designs[name])
        assert weights(notebook, design) == wanted, name
        compared += len(wanted)
    assert compared > 40


def test_the_pots_sum_to_what_is_melted(demo: tuple[Notebook, dict[str, Any]]) -> None:
    _, designs = demo
    for found in designs.values():
        for pot in found["pots"].values():
            bases = sum(
                base["melt_g"]
                for name in pot["layers"]
                for base in found["layers"][name]["bases"].values()
            )
            assert bases == pytest.approx(pot["melt_g"], rel=1e-9)
