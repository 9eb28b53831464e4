"""What every derivation is given: one recipe of one design, with the shelf and settings."""

from __future__ import annotations

from msgspec import Struct, field

from journal.errors import Position, Problem
from journal.figures.asking import Ask, plainly
from journal.records.settings import Settings
from journal.records.shelf import Shelf
from journal.records.source import place
from journal.records.write_up import Design, Recipe, Variant


class Case(Struct, frozen=True):
    """One recipe to derive figures of: a variant of a design, for so many bars."""

    settings: Settings
    shelf: Shelf
    design: Design
    variant: Variant
    bars: int
    problems: list[Problem] = field(default_factory=list)
    ask: Ask = plainly

    @property
    def recipe(self) -> Recipe:
        """The recipe itself."""
        return self.variant.recipe

    def at(self, *path: str | int) -> Position:
        """Where a value of the recipe was written."""
        return place(self.variant.written, *path)

    def on_shelf(self, kind: str, name: str, *path: str | int) -> Position | None:
        """Where a key of a thing on the shelf was written; None if it was not."""
        tree = self.shelf.written.get(kind)
        if tree is None or name not in tree:
            return None
        entry = tree[name]
        if path and str(path[0]) not in entry:
            return None
        return place(entry, *path)

    def error(self, at: Position, what: str, mend: str) -> None:
        """Note an error that only a figure could find."""
        self._note(Problem(at, what, mend))

    def warning(self, at: Position, what: str, mend: str) -> None:
        """Note a warning that only a figure could find."""
        self._note(Problem(at, what, mend, warning=True))

    def _note(self, problem: Problem) -> None:
        if problem not in self.problems:
            self.problems.append(problem)


def middle(ends: tuple[float, float]) -> float:
    """The middle of a range; the value itself where both ends are one."""
    return ends[0] if ends[0] == ends[1] else (ends[0] + ends[1]) / 2
