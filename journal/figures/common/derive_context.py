"""The context of every derivation: one recipe of one design, with the shelf and settings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from msgspec import Struct, field

from journal.errors import Position, Problem
from journal.figures.common.memo import Memo, in_process_memo
from journal.figures.common.result import Figure
from journal.figures.common.spec import FigureSpec
from journal.records.models.settings import Settings
from journal.records.models.shelf import Shelf
from journal.records.models.write_up import Design, Recipe, Variant
from journal.records.yaml.tree import position_of

Value = TypeVar("Value")
# Widths of bleeds measured in photos, by bar: (day, mm).
BleedWidthsByBar = Mapping[str, tuple[tuple[float, float], ...]]


class RecipeContext(Struct, frozen=True):
    """One recipe to derive figures of: a variant of a design, for so many bars.

    ``figures`` are the figures derived so far, by name; ``resized`` is filled by ``for_bars``.
    """

    settings: Settings
    shelf: Shelf
    design: Design
    variant: Variant
    bars: int
    problems: list[Problem] = field(default_factory=list)
    memo: Memo = in_process_memo
    photo_widths: BleedWidthsByBar = field(default_factory=dict)
    figures: dict[str, Figure[Any]] = field(default_factory=dict)
    resized: dict[int, RecipeContext] = field(default_factory=dict)

    @property
    def recipe(self) -> Recipe:
        """The recipe itself."""
        return self.variant.recipe

    def for_bars(self, bars: int) -> RecipeContext:
        """The context of the same recipe for so many bars; made on first use and then kept.

        Problems are reported for the bars that were asked for: other numbers have no others.
        """
        if bars == self.bars:
            return self
        if bars not in self.resized:
            self.resized[bars] = RecipeContext(
                self.settings, self.shelf, self.design, self.variant, bars
            )
        return self.resized[bars]

    def figure(self, spec: FigureSpec[RecipeContext, Value]) -> Figure[Value]:
        """A figure of the recipe; it is derived on first use and then kept in ``figures``."""
        if spec.name not in self.figures:
            self.figures[spec.name] = spec.of(self)
        return self.figures[spec.name]

    def at(self, *path: str | int) -> Position:
        """Where a value of the recipe was written; ``path`` are the keys that lead to it."""
        return position_of(self.variant.written, *path)

    def on_shelf(self, kind: str, name: str, *path: str | int) -> Position | None:
        """Where a thing on the shelf, or its key at ``path``, was written; None if it was not."""
        tree = self.shelf.written.get(kind)
        if tree is None or name not in tree:
            return None
        entry = tree[name]
        if path and str(path[0]) not in entry:
            return None
        return position_of(entry, *path)

    def error(self, at: Position, what: str, hint: str) -> None:
        """Add an error that only the derivation of a figure could detect to ``problems``."""
        self._add_problem(Problem(at, what, hint))

    def warning(self, at: Position, what: str, hint: str) -> None:
        """Add a warning that only the derivation of a figure could detect to ``problems``."""
        self._add_problem(Problem(at, what, hint, warning=True))

    def _add_problem(self, problem: Problem) -> None:
        """Add a problem, unless it is there already."""
        if problem not in self.problems:
            self.problems.append(problem)


def midpoint(ends: tuple[float, float]) -> float:
    """The middle of a range; exactly the value itself where both ends are equal."""
    return ends[0] if ends[0] == ends[1] else (ends[0] + ends[1]) / 2
