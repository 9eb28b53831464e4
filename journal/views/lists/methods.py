"""How each figure is made, in the order of the page "How the figures are made".

The words of a method stand beside the function that it explains.
"""

from __future__ import annotations

from journal.comparison.derive import COMPARISON, COMPARISON_PARTS, KEPT
from journal.figures.common.spec import CHAPTERS, FigurePart, MethodText
from journal.figures.day.derive_order import ORDER, ORDER_PARTS
from journal.figures.heat.derive_bases import THRESHOLD
from journal.figures.heat.derive_heat import FORECAST
from journal.figures.registry import FIGURES
from journal.photos.measurement import COLOUR, EDGE

ROUNDING = MethodText(
    "rounding",
    "Rounding",
    "12 significant digits, then half up to the step",
    "Once, between a figure and what is shown; oils and net weights down. Masses go by the steps"
    " of the studio's scales. Screen and card agree for every number of bars.",
    (("Source", "Definition."),),
)

# What is explained beside the figures of the registry: its chapter and its rank there.
_BESIDE: tuple[tuple[str, int, MethodText], ...] = (
    ("When to pour", 1, FORECAST),
    ("When to pour", 2, THRESHOLD),
    ("Deciding", 0, COMPARISON),
    ("Deciding", 0, KEPT),
    ("Selling", 2, ORDER),
    ("Seeing", 0, COLOUR),
    ("Seeing", 0, EDGE),
    ("Seeing", 0, ROUNDING),
)


def _methods_of(chapter: str) -> tuple[MethodText, ...]:
    """The methods of a chapter by rank, each once: those of one rank as they are registered."""
    every = [(spec.chapter, spec.rank, method) for spec in FIGURES for method in spec.methods]
    ranked = sorted((*every, *_BESIDE), key=lambda entry: entry[1])
    return tuple(dict.fromkeys(method for where, _, method in ranked if where == chapter))


CHAPTERS_OF_METHODS: tuple[tuple[str, tuple[MethodText, ...]], ...] = tuple(
    (chapter, _methods_of(chapter)) for chapter in CHAPTERS
)

METHODS: tuple[MethodText, ...] = tuple(
    method for _, methods in CHAPTERS_OF_METHODS for method in methods
)

# What keys of the shelf and of the settings can touch.
PARTS: tuple[FigurePart, ...] = (
    *(part for spec in FIGURES for part in spec.parts),
    *COMPARISON_PARTS,
    *ORDER_PARTS,
)
