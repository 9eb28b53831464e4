"""The result of a derivation: a value, its inputs, and the inputs that were missing."""

from __future__ import annotations

from typing import Generic, Literal, TypeVar

from msgspec import Struct, field

from journal.errors import Position

FigureKind = Literal["counted", "measured", "computed", "estimate"]
Value = TypeVar("Value", covariant=True)


class FigureInput(Struct, frozen=True):
    """One input of a figure, as it was written or assumed.

    ``text`` is what is shown; ``at`` is where it was written, None for a default.
    """

    name: str
    text: str
    at: Position | None = None


class MissingInput(Struct, frozen=True):
    """A missing input of a figure: ``needs`` names the key to write."""

    figure: str
    needs: str


class Figure(Struct, Generic[Value], frozen=True):
    """A figure of one recipe.

    ``name`` is its key in the JSON, ``method`` its heading on the page that
    explains the figures, ``value`` the numbers in stored units or None. With a
    value, ``missing`` names inputs of parts of it that are None.
    """

    name: str
    value: Value | None
    kind: FigureKind
    method: str
    inputs: tuple[FigureInput, ...] = ()
    missing: tuple[MissingInput, ...] = ()


class FigureBuilder(Struct):
    """Collects the inputs and the missing inputs of a figure while it is derived."""

    figure: str
    inputs: list[FigureInput] = field(default_factory=list)
    missing: list[MissingInput] = field(default_factory=list)

    def used(self, name: str, text: str, at: Position | None = None) -> None:
        """Note an input of the figure, with its text and where it was written."""
        entry = FigureInput(name, text, at)
        if entry not in self.inputs:
            self.inputs.append(entry)

    def lacks(self, needs: str, figure: str = "") -> None:
        """Note a missing key that the figure, or the named part of it, depends on."""
        entry = MissingInput(figure or self.figure, needs)
        if entry not in self.missing:
            self.missing.append(entry)
