"""What a figure is: a value, how it came about, and what it lacked."""

from __future__ import annotations

from typing import Generic, Literal, TypeVar

from msgspec import Struct, field

from journal.errors import Position

Kind = Literal["counted", "measured", "computed", "estimate"]
Value = TypeVar("Value", covariant=True)


class Input(Struct, frozen=True):
    """One thing that a figure was made from, as it was written or taken.

    ``text`` is what is shown; ``at`` is where it was written, None for a default.
    """

    name: str
    text: str
    at: Position | None = None


class Missing(Struct, frozen=True):
    """What a figure lacks: ``needs`` names the key that would give it."""

    figure: str
    needs: str


class Figure(Struct, Generic[Value], frozen=True):
    """A figure of one recipe.

    ``name`` is its key in the JSON, ``method`` its heading on the page that
    explains how the figures are made, ``value`` the numbers in stored units or
    None. ``missing`` may be filled beside a value: a part of it then is None.
    """

    name: str
    value: Value | None
    kind: Kind
    method: str
    inputs: tuple[Input, ...] = ()
    missing: tuple[Missing, ...] = ()


class Gathering(Struct):
    """Collects the inputs and the lacks of a figure while it is derived."""

    figure: str
    inputs: list[Input] = field(default_factory=list)
    missing: list[Missing] = field(default_factory=list)

    def used(self, name: str, text: str, at: Position | None = None) -> None:
        """Note something that the figure was made from."""
        entry = Input(name, text, at)
        if entry not in self.inputs:
            self.inputs.append(entry)

    def lacks(self, needs: str, figure: str = "") -> None:
        """Note a key without which the figure, or the named part of it, cannot be had."""
        entry = Missing(figure or self.figure, needs)
        if entry not in self.missing:
            self.missing.append(entry)
