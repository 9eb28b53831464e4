"""The specification of a figure: how it is derived, what it depends on, how it is output.

A ``FigureSpec`` stands at the foot of the module that derives its figure, beside the formula.
``figures.toml`` lists every figure once, with its explanation, which is text; ``registry`` reads
the specs by that list, and everything that shows all figures uses it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Generic, Literal, TypeVar

from msgspec import Struct, convert

from journal.errors import FigureError
from journal.figures.common.result import Figure, FigureBuilder, FigureKind, MissingInput
from journal.figures.common.tables import Cell

TableRow = tuple[Cell, ...]
# What a figure is derived from, such as one recipe of a design.
Context = TypeVar("Context", contravariant=True)
Value = TypeVar("Value")


# The chapters of the page "How we worked it out", in order.
CHAPTERS = ("Weighing", "When to pour", "Deciding", "Selling", "Seeing")


class MethodText(Struct, frozen=True):
    """The explanation of a figure on the page "How we worked it out".

    ``anchor`` is its place on the page; ``plain`` is what the figure is, in a sentence that
    anybody reads; ``facts`` are sentences by name: source, assumes, rounding, ends.
    """

    anchor: str
    name: str
    plain: str
    formula: str
    says: str
    facts: dict[str, str] = {}


class FigurePart(Struct, frozen=True):
    """A part of a figure, and the keys whose absence changes or removes it.

    ``name`` is how a maker calls it. ``paths`` are its places in the JSON, with "*" for
    names that the maker chose; of two that match, the longer counts. ``needs`` lists keys of
    the shelf, such as bases.density, and of the settings. Both are separated by blanks.
    """

    name: str
    paths: str
    needs: str

    def touched_by(self, kind: str, key: str) -> bool:
        """Whether this part depends on ``key`` of a kind of the shelf, or of "settings"."""
        return f"{kind}.{key}" in self.needs.split()


class NullReason(Struct, frozen=True):
    """The rows of ``missing`` that give the reason of a null at some paths of the JSON.

    ``rows`` are beginnings of the rows' figures. Nulls at other paths have the figure's own name.
    """

    paths: str
    rows: tuple[str, ...]


class FigureEntry(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The entry of a figure in ``figures.toml``.

    ``spec`` is the module and the name of its ``FigureSpec``, ``of`` what it is derived from;
    both are empty for what is explained and is no figure. ``chapter`` is where the page "How the
    figures are made" explains it (``CHAPTERS``), there by ``rank``, then in the order of the file.
    """

    spec: str = ""
    of: Literal["", "recipe", "design", "piece"] = ""
    chapter: str
    rank: int = 0
    methods: tuple[MethodText, ...] = ()
    parts: tuple[FigurePart, ...] = ()
    nulls: tuple[NullReason, ...] = ()


FIGURE_ENTRIES: Mapping[str, FigureEntry] = convert(
    tomllib.loads(Path(__file__).with_name("figures.toml").read_text("utf-8")),
    dict[str, FigureEntry],
)


class TableSpec(Struct, Generic[Value], frozen=True):
    """A figure as rows of a table; ``columns`` are separated by blanks and name their units.

    Each row is preceded by the design, and by its variant if ``by_variant``.
    """

    table: str
    columns: str
    rows: Callable[[Value], Iterable[TableRow]]
    by_variant: bool = True


class FigureSpec(Struct, Generic[Context, Value], frozen=True, kw_only=True):
    """A figure: its name, and how it is derived and output.

    ``name`` is its name in ``missing`` and in ``figures.toml``. ``derive`` notes its inputs and
    missing inputs, and returns None if the figure cannot be derived. ``blocks`` are its places in
    the JSON, ``empty`` their content without a value; ``null_reasons`` say why parts of a value
    are null; ``studio_only`` is in no other edition. ``explained_by`` names the figure whose
    explanation is this one's too.
    """

    name: str
    kind: FigureKind
    derive: Callable[[Context, FigureBuilder], Value | None]
    blocks: Mapping[str, Callable[[Value], Any]] = {}
    empty: Any = None
    tables: tuple[TableSpec[Value], ...] = ()
    null_reasons: Callable[[Value], Iterable[str]] = lambda _: ()
    studio_only: bool = False
    explained_by: str = ""

    @property
    def anchor(self) -> str:
        """The place of its explanation on the page "How we worked it out"."""
        return FIGURE_ENTRIES[self.explained_by or self.name].methods[0].anchor

    def of(self, context: Context) -> Figure[Value]:
        """Derive the figure; impossible inputs, such as a relief of no depth, give no value.

        The reason then stands in ``missing``.
        """
        builder = FigureBuilder(self.name)
        try:
            value = self.derive(context, builder)
        except FigureError as error:
            return self.without((MissingInput(self.name, str(error)),))
        return Figure(
            self.name, value, self.kind, self.anchor, tuple(builder.inputs), tuple(builder.missing)
        )

    def without(self, missing: tuple[MissingInput, ...] = ()) -> Figure[Value]:
        """The figure without a value, with the inputs that it lacks."""
        return Figure(self.name, None, self.kind, self.anchor, missing=missing)
