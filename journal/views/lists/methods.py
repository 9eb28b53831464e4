"""The methods behind the figures, in the order of the page "How the figures are made".

The words of a method stand in ``figures/common/explanations.toml``.
"""

from __future__ import annotations

from journal.figures.common.spec import CHAPTERS, FigurePart, MethodText, methods_of, parts_of
from journal.figures.registry import FIGURES

# Methods that belong to no figure of the registry: chapter, rank in it, name.
_OTHERS = (
    ("When to pour", 1, "forecast"),
    ("When to pour", 2, "threshold"),
    ("Deciding", 0, "comparison"),
    ("Selling", 2, "order"),
    ("Seeing", 0, "colour"),
    ("Seeing", 0, "rounding"),
)


def _methods_of(chapter: str) -> tuple[MethodText, ...]:
    """The methods of a chapter by rank, each once; equal ranks keep the registry's order."""
    every = [(spec.chapter, spec.rank, method) for spec in FIGURES for method in spec.methods]
    every += [(where, rank, method) for where, rank, name in _OTHERS for method in methods_of(name)]
    ranked = sorted(every, key=lambda entry: entry[1])
    return tuple(dict.fromkeys(method for where, _, method in ranked if where == chapter))


CHAPTERS_OF_METHODS: tuple[tuple[str, tuple[MethodText, ...]], ...] = tuple(
    (chapter, _methods_of(chapter)) for chapter in CHAPTERS
)

METHODS: tuple[MethodText, ...] = tuple(
    method for _, methods in CHAPTERS_OF_METHODS for method in methods
)

# The parts of figures that keys of the shelf and of the settings can change.
PARTS: tuple[FigurePart, ...] = (
    *(part for spec in FIGURES for part in spec.parts),
    *parts_of("comparison"),
    *parts_of("order"),
)
