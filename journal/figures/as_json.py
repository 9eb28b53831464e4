"""The figures as JSON: stable names, numbers of 12 significant digits, null for what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from journal.figures.derive import DesignFigures, Figures, RecipeFigures
from journal.figures.derive_layers import LayerFigures
from journal.figures.result import Missing
from journal.quantities.show import significant
from journal.records.notebook import Notebook
from journal.records.write_up import Design

FORMAT = "soap-design-journal/1"


def figures_json(
    notebook: Notebook, figures: Figures, only: Iterable[str] = ()
) -> dict[str, Any]:
    """All figures, or those of the designs ``only``, as ``journal figures`` prints them."""
    wanted = set(only)
    return {
        "format": FORMAT,
        "designs": {
            name: design_json(notebook.designs[name], found)
            for name, found in figures.designs.items()
            if not wanted or name in wanted
        },
    }


def design_json(design: Design, figures: DesignFigures) -> dict[str, Any]:
    """The figures of one design."""
    blocks = recipe_json(figures.recipe)
    missing = list(figures.recipe.missing)
    variants: dict[str, Any] = {}
    for variant in design.variants:
        own = figures.variants[variant.name]
        differing = {
            name: block for name, block in recipe_json(own).items() if block != blocks[name]
        }
        variants[variant.name] = differing
        missing.extend(entry for entry in own.missing if entry not in missing)
    return {
        "title": design.title,
        "state": design.state,
        "bars": figures.recipe.bars,
        **blocks,
        "variants": variants,
        "missing": [missing_json(entry) for entry in missing],
    }


def recipe_json(figures: RecipeFigures) -> dict[str, Any]:
    """The blocks of one recipe."""
    masses = figures.masses
    fill = figures.fill.value
    return {
        "pots": {
            pot.name: {"melt_g": number(pot.melt_g), "layers": list(pot.layers)}
            for pot in masses.pots
        },
        "layers": {layer.name: layer_json(layer) for layer in masses.layers},
        "fill": None
        if fill is None
        else {
            "capacity_ml": numbers(fill.capacity_ml),
            "poured_ml": number(fill.poured_ml),
            "piece_ml": number(fill.piece_ml),
            "fill_percent": percents(fill.fill),
            "proud_mm": None if fill.proud_mm is None else numbers(fill.proud_mm),
        },
    }


def layer_json(layer: LayerFigures) -> dict[str, Any]:
    """One layer: masses, oils and colours."""
    found: dict[str, Any] = {
        "base_g_per_bar": number(layer.base_g_per_bar),
        "base_g": number(layer.base_g),
        "melt_g": number(layer.melt_g),
        "volume_ml_per_bar": number(layer.volume_ml_per_bar),
        "bases": {base: {"melt_g": number(mass_g)} for base, mass_g in layer.bases},
        "fragrances": {
            oil.oil: {
                "volume_ml": number(oil.volume_ml),
                "mass_g": number(oil.mass_g),
                "load_percent": number(100 * oil.load),
                "layer_percent": number(100 * oil.layer_share),
                "bar_percent": number(100 * oil.bar_share),
                "limit_percent": None if oil.limit is None else number(100 * oil.limit),
                "within_limit": oil.within,
                "from_leftover": oil.from_leftover,
            }
            for oil in layer.fragrances
        },
        "limit_used_percent": None if layer.limit_used is None else number(100 * layer.limit_used),
        "colours": {
            colour.colourant: {
                "volume_ml": number(colour.volume_ml),
                "mass_g": number(colour.mass_g),
            }
            for colour in layer.colours
        },
        "pour_c": None if layer.pour_c is None else numbers(layer.pour_c),
    }
    if layer.leftover is not None:
        found["leftover"] = layer.leftover
    return found


def missing_json(entry: Missing) -> Mapping[str, str]:
    """A row of ``missing``."""
    return {"figure": entry.figure, "needs": entry.needs}


def number(x: float | None) -> float | None:
    """``x`` to 12 significant digits; None stays None."""
    return None if x is None else significant(x)


def numbers(pair: Iterable[float]) -> list[float]:
    """Each number of a range to 12 significant digits."""
    return [significant(x) for x in pair]


def percents(pair: Iterable[float]) -> list[float]:
    """A range of fractions as per cent."""
    return [significant(100 * x) for x in pair]
