"""The figures as tables for a spreadsheet: one row a thing, units in the names of columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct

from journal.figures.as_json import missing_of
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import Figure
from journal.figures.common.spec import FigureSpec, TableRow, TableSpec
from journal.figures.common.tables import Cell, table_text
from journal.figures.derive import AllFigures, DesignFigures
from journal.figures.pieces.derive_pieces import PieceFigures
from journal.figures.registry import OF_DESIGN, OF_RECIPE
from journal.records.models.settings import Measure
from journal.records.models.write_up import AS_WRITTEN, Bar, Design, Pour
from journal.records.notebook import Notebook

VariantValues = Mapping[str, float | bool | tuple[float, float, float]]


class FigureTable(Struct, frozen=True):
    """A table by its name: columns, and a row a thing."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[TableRow, ...]

    @property
    def text(self) -> str:
        """The table as CSV."""
        return table_text(self.columns, self.rows)


def figure_tables(
    notebook: Notebook,
    figures: AllFigures,
    pieces: Mapping[str, Figure[PieceFigures]],
    only: Iterable[str] = (),
) -> tuple[FigureTable, ...]:
    """All figures of all designs, or of the designs ``only``; every piece on the shelf.

    Takes:  notebook, figures, pieces  as read and derived
            only                       ids of designs; none: all
    Gives:  tables; those without rows have their columns all the same
    """
    ids = set(only)
    chosen = [
        (notebook.designs[name], own)
        for name, own in figures.designs.items()
        if not ids or name in ids
    ]
    measures = notebook.settings.all_measures()
    return (
        _table("designs", _DESIGNS, (_design(design, own) for design, own in chosen)),
        *(
            _table(
                columns.table,
                ("design", *["variant"] * columns.by_variant, *columns.columns.split()),
                (row for design, own in chosen for row in _rows(spec, columns, design, own)),
            )
            for spec in (*OF_RECIPE, *OF_DESIGN)
            for columns in spec.tables
        ),
        *_bars([design for design, _ in chosen], measures),
        _table("missing", ("design", "figure", "needs"), _missing(chosen)),
        _table("pieces", _PIECES, _pieces(notebook, pieces)),
    )


def _table(name: str, columns: Sequence[str], rows: Iterable[TableRow]) -> FigureTable:
    """A table of columns and rows of any kind of sequence."""
    return FigureTable(name, tuple(columns), tuple(rows))


def _rows(
    spec: FigureSpec[RecipeContext, Any],
    columns: TableSpec[Any],
    design: Design,
    figures: DesignFigures,
) -> Iterator[TableRow]:
    """The rows of a design, or those of its recipe as written and of each variant."""
    recipes = {AS_WRITTEN: figures.recipe, **(figures.variants if columns.by_variant else {})}
    for name, figures_of in recipes.items() if spec in OF_RECIPE else [("", figures)]:
        value = figures_of[spec].value
        for row in columns.rows(value) if value is not None else ():
            yield (design.id, *[name] * columns.by_variant, *row)


_DESIGNS = (
    "design", "title", "state", "date", "bars", "mat", "mould", "trim", "piece", "grew_from",
    "bar_g", "pours", "bars_poured",
)  # fmt: skip


def _design(design: Design, figures: DesignFigures) -> TableRow:
    """The row of a design in the table of designs."""
    recipe = design.recipe
    return (
        design.id, design.title, design.state, design.date, recipe.bars, recipe.mat, recipe.mould,
        str(design.written["trim"]) if "trim" in design.written else None, recipe.piece,
        design.grew_from, figures.recipe.masses.bar_g, len(design.pours), len(design.bars),
    )  # fmt: skip


def _bars(
    designs: Sequence[Design], measures: Mapping[str, Measure]
) -> tuple[FigureTable, FigureTable]:
    """The tables of all bars with their measures, and of later measures of bars."""
    first = ("design", "pour", "date", "room_c", "bar", "variant", "piece", "poured_c", "note")
    again = ("design", "pour", "date", "bar", "day")
    columns = {
        name: measure_columns(measure, {*first, *again}) for name, measure in measures.items()
    }
    flat = [column for names in columns.values() for column in names]
    pours = [(design, pour) for design in designs for pour in design.pours]
    bars = [
        (*_bar(design, pour, bar), *_measured(bar.measures, columns))
        for design, pour in pours
        for bar in pour.bars
    ]
    later_rows = [
        (design.id, pour.label, pour.date, row.bar, row.day, *_measured(row.measures, columns))
        for design, pour in pours
        for row in pour.later
    ]
    return _table("bars", (*first, *flat), bars), _table("later", (*again, *flat), later_rows)


def _bar(design: Design, pour: Pour, bar: Bar) -> TableRow:
    """The row of a bar without its measures."""
    recipe = next((v.recipe for v in design.variants if v.name == bar.variant), design.recipe)
    poured = {**pour.poured_c, **bar.poured_c}
    temperatures = "; ".join(f"{layer} {value:.4g}" for layer, value in poured.items())
    return (
        design.id, pour.label, pour.date, pour.room_c, bar.bar, bar.variant,
        bar.piece or recipe.piece, temperatures or None, bar.note or None,
    )  # fmt: skip


def measure_columns(measure: Measure, reserved: Iterable[str] = ()) -> tuple[str, ...]:
    """The columns of a measure: its name with its unit; three for a colour."""
    if measure.kind == "colour":
        return tuple(f"{measure.name}_{part}" for part in ("l", "a", "b"))
    unit = measure.unit.replace(" ", "_")
    name = f"{measure.name}_{unit}" if unit else measure.name
    return (f"measure_{name}",) if name in set(reserved) else (name,)


def _measured(measures: VariantValues, columns: Mapping[str, tuple[str, ...]]) -> TableRow:
    """The cells of all measures; empty cells for a measure that was not taken."""
    cells: list[Cell] = []
    for name, names in columns.items():
        value = measures.get(name)
        cells.extend(value if isinstance(value, tuple) else (value,) * len(names))
    return tuple(cells)


def _missing(designs: Iterable[tuple[Design, DesignFigures]]) -> Iterator[TableRow]:
    """A row for each missing input of a figure."""
    for design, figures in designs:
        for entry in missing_of(figures):
            yield (design.id, entry.figure, entry.needs)


_PIECES = (
    "piece", "name", "mat", "mould", "trim", "alike", "width_mm", "height_mm", "casts_before",
    "casts_poured", "casts_had", "casts_left", "casts_had_each", "casts_left_each", "fits",
)  # fmt: skip


def _pieces(notebook: Notebook, pieces: Mapping[str, Figure[PieceFigures]]) -> Iterator[TableRow]:
    """A row for each piece on the shelf."""
    for name, figure in pieces.items():
        piece, record = figure.value, notebook.shelf.pieces[name]
        assert piece is not None
        entry = notebook.shelf.written["pieces"][name]
        casts = piece.casts
        yield (
            name, record.name, record.mat, record.mould,
            str(entry["trim"]) if "trim" in entry else None, piece.alike,
            *(piece.size_mm or (None, None)), piece.before, piece.poured,
            piece.before + piece.poured, None if casts is None else casts.left,
            piece.had_each, piece.left_each, ", ".join(fit.mould for fit in piece.fits),
        )  # fmt: skip
