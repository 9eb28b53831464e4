"""The figures as JSON: stable names, numbers of 12 significant digits, null for what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from journal.figures.common.result import Figure, MissingInput
from journal.figures.common.spec import FigureSpec
from journal.figures.derive import DesignFigures, RecipeFigures
from journal.figures.registry import OF_DESIGN, OF_RECIPE
from journal.records.models.write_up import Design

FORMAT = "soap-design-journal/1"


def design_json(design: Design, figures: DesignFigures) -> dict[str, Any]:
    """One design as JSON: its figures, those of variants that differ, and the missing inputs."""
    blocks = recipe_json(figures.recipe)
    return {
        "title": design.title,
        "state": design.state,
        "bars": figures.recipe.bars,
        **blocks,
        **_blocks_by_name(OF_DESIGN, figures.own),
        "variants": {
            variant.name: {
                name: block
                for name, block in recipe_json(figures.variants[variant.name]).items()
                if block != blocks[name]
            }
            for variant in design.variants
        },
        "missing": [missing_input_json(entry) for entry in missing_of(figures)],
    }


def recipe_json(figures: RecipeFigures) -> dict[str, Any]:
    """The JSON blocks of one recipe, from block name to content."""
    return _blocks_by_name(OF_RECIPE, figures.figures)


def _blocks_by_name(
    specs: Iterable[FigureSpec[Any, Any]], figures: Mapping[str, Figure[Any]]
) -> dict[str, Any]:
    """The JSON blocks of several figures, from block name to content."""
    return {name: block for spec in specs for name, block in blocks_of(spec, figures[spec.name])}


def blocks_of(spec: FigureSpec[Any, Any], figure: Figure[Any]) -> Iterator[tuple[str, Any]]:
    """Yield each JSON block of a figure: its name and content; ``spec.empty`` without a value."""
    for name, block in spec.blocks.items():
        yield name, spec.empty if figure.value is None else block(figure.value)


def missing_of(figures: DesignFigures) -> tuple[MissingInput, ...]:
    """The missing inputs of a design's and its variants' figures, each once."""
    recipes = (figures.recipe, *figures.variants.values())
    missing = [entry for recipe in recipes for entry in recipe.missing]
    for spec in OF_DESIGN:
        missing += (*figures[spec].missing, *_null_reasons(spec, figures[spec]))
    for spec in OF_RECIPE:
        missing += (entry for recipe in recipes for entry in _null_reasons(spec, recipe[spec]))
    return tuple(dict.fromkeys(missing))


def _null_reasons(spec: FigureSpec[Any, Any], figure: Figure[Any]) -> Iterator[MissingInput]:
    """Yield the reason for each null part of a value, which its missing inputs do not name."""
    if figure.value is not None:
        yield from (MissingInput(spec.name, reason) for reason in spec.null_reasons(figure.value))


def missing_input_json(entry: MissingInput) -> Mapping[str, str]:
    """A missing input as an entry of the JSON list ``missing``."""
    return {"figure": entry.figure, "needs": entry.needs}
