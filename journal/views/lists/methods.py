"""The methods behind the figures, in the order of the page "How we worked it out".

The words of a method stand in ``figures/common/figures.toml``.
"""

from __future__ import annotations

from journal.figures.common.spec import CHAPTERS, FIGURE_ENTRIES, FigurePart, MethodText


def _methods_of(chapter: str) -> tuple[MethodText, ...]:
    """The methods of a chapter by rank; equal ranks keep the order of the list of figures."""
    entries = (entry for entry in FIGURE_ENTRIES.values() if entry.chapter == chapter)
    ranked = sorted(entries, key=lambda entry: entry.rank)
    return tuple(method for entry in ranked for method in entry.methods)


CHAPTERS_OF_METHODS: tuple[tuple[str, tuple[MethodText, ...]], ...] = tuple(
    (chapter, _methods_of(chapter)) for chapter in CHAPTERS
)

METHODS: tuple[MethodText, ...] = tuple(
    method for _, methods in CHAPTERS_OF_METHODS for method in methods
)

# The parts of figures that keys of the shelf and of the settings can change.
PARTS: tuple[FigurePart, ...] = tuple(
    part for entry in FIGURE_ENTRIES.values() for part in entry.parts
)
