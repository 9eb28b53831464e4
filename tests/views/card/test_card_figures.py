"""The large weights of a card are those of `journal figures`, as the tools give them."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from card_cases import card_of

from journal.comparison.as_json import figures_json
from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.card_page import plain_text
from journal.records.models.write_up import Design
from journal.records.notebook import Notebook, read_notebook

#: NIST SP 811, appendix B.8: an ounce in g, a teaspoon in mL; a drop of 0.05 mL is ours.
G_PER_OZ = 28.349523125
ML_PER_TSP = 4.92892159375
ML_PER_DROP = 0.05


@pytest.fixture(scope="module")
def demo(project: Path) -> tuple[Notebook, dict[str, Any]]:
    notebook = read_notebook(project / "content")
    derived = derive_figures(notebook, models=False)
    found = figures_json(notebook, derived, compare_designs(notebook), list(notebook.designs))
    designs = found["designs"]
    assert isinstance(designs, dict)
    return notebook, designs


def from_json(design: Design, found: dict[str, Any]) -> list[dict[str, Any]]:
    """What goes into a round by the figures' JSON: pot by pot, bases, then what is stirred in."""
    written = {layer.name: layer for layer in design.recipe.layers}
    lines: list[dict[str, Any]] = []
    for pot in found["pots"].values():
        layers = [(written[name], found["layers"][name]) for name in pot["layers"]]
        first, _ = layers[0]
        if first.base.leftover is not None:
            lines.append({"mass_g": sum(layer["melt_g"] for _, layer in layers)})
        else:
            for base, _ in first.base.shares:
                masses = [layer["bases"][base]["melt_g"] for _, layer in layers]
                lines.append({"mass_g": sum(masses)})
        for layer, figures in layers:
            for one in layer.dosed:
                kind, name = one.thing
                amount = figures["colours" if kind == "colourants" else kind][name]
                lines.append({} if one.dose is None else amount)
            lines.extend(figures["fragrances"][oil.oil] | {"oil": 1} for oil in layer.fragrance)
    return lines


def measured(text: str) -> tuple[str, float]:
    """What is measured, in g or mL, and by what."""
    text = text.replace("\u00a0", " ")
    # Too little to measure: a part of what can be.
    text, _, parts_of = text.partition(" ÷ ")
    if parts_of:
        unit, amount = measured(text)
        return unit, amount / int(parts_of)
    pounds = re.fullmatch(r"(?:(\d+) lb )?([\d.]+) oz", text)
    if pounds:
        return "oz", (16 * int(pounds[1] or 0) + float(pounds[2])) * G_PER_OZ
    if "tsp" in text:
        spoons = [re.fullmatch(r"(?:(\d+) × )?([\d/]+) tsp", one) for one in text.split(" + ")]
        parts = [int(one[1] or 1) * Fraction(one[2]) for one in spoons if one]
        assert len(parts) == len(spoons)
        return "tsp", float(sum(parts)) * ML_PER_TSP
    number, unit = re.fullmatch(r"([\d.]+) (g|mL|drops?)", text).groups()  # type: ignore[union-attr]
    return unit, float(number) * (ML_PER_DROP if "drop" in unit else 1)


def test_the_large_weights_are_those_of_the_figures(demo: tuple[Notebook, dict[str, Any]]) -> None:
    """Rounded to what the tool tells: a twentieth of an ounce, a tenth of an amount at most."""
    notebook, designs = demo
    compared = 0
    for name, design in notebook.designs.items():
        leaves = card_of(notebook, name)
        if leaves[-1].rows:
            continue
        shown = [plain_text(weight.first) for leaf in leaves for weight in leaf.weights]
        for text, wanted in zip(shown, from_json(design, designs[name]), strict=True):
            if not wanted:
                assert text.startswith("by eye")
            if not wanted or text == "–":
                continue
            unit, amount = measured(text)
            due = wanted["mass_g" if unit in ("g", "oz") else "volume_ml"]
            # Half a step of the scale, spoons within a fifth; of an oil never more than is due.
            within = {"oz": 0.05 * G_PER_OZ / 2, "g": 0.5, "tsp": due / 5}.get(unit, 0.1)
            assert amount == pytest.approx(due, rel=0, abs=within * 1.0001), (name, text)
            assert amount <= due or not wanted.get("oil"), (name, text)
            compared += 1
    assert compared > 25


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
