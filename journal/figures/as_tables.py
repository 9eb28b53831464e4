"""The figures as tables for a spreadsheet; the names of columns contain the units."""

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
    """A table for a spreadsheet; every row has one cell a column."""

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
    """All tables: the figures of all designs, or of the designs ``only``, and every piece.

    Takes:  notebook, figures, pieces  as read and derived
            only                       ids of designs; all designs if it is empty
    Gives:  tables; one without rows still has its columns
    """
    ids = set(only)
    chosen = [
        (notebook.designs[name], derived)
        for name, derived in figures.designs.items()
        if not ids or name in ids
    ]
    measures = notebook.settings.all_measures()
    return (
        _table("designs", _DESIGNS, (_design_row(*pair) for pair in chosen)),
        *(
            _table(
                columns.table,
                ("design", *["variant"] * columns.by_variant, *columns.columns.split()),
                (row for pair in chosen for row in _figure_rows(spec, columns, *pair)),
            )
            for spec in (*OF_RECIPE, *OF_DESIGN)
            for columns in spec.tables
        ),
        *_bar_tables([design for design, _ in chosen], measures),
        _table("missing", ("design", "figure", "needs"), _missing_rows(chosen)),
        _table("pieces", _PIECES, _piece_rows(notebook, pieces)),
    )


def _table(name: str, columns: Sequence[str], rows: Iterable[TableRow]) -> FigureTable:
    """A table, with its columns and rows turned into tuples."""
    return FigureTable(name, tuple(columns), tuple(rows))


def _figure_rows(
    spec: FigureSpec[RecipeContext, Any],
    columns: TableSpec[Any],
    design: Design,
    figures: DesignFigures,
) -> Iterator[TableRow]:
    """Yield the rows of one figure of a design; for a figure of recipes also its variants' rows."""
    recipes = {AS_WRITTEN: figures.recipe, **(figures.variants if columns.by_variant else {})}
    for name, figures_of in recipes.items() if spec in OF_RECIPE else [("", figures)]:
        value = figures_of[spec].value
        for row in columns.rows(value) if value is not None else ():
            yield (design.id, *[name] * columns.by_variant, *row)


_DESIGNS = (
    "design", "title", "state", "date", "bars", "mat", "mould", "trim", "piece", "grew_from",
    "bar_g", "pours", "bars_poured",
)  # fmt: skip


def _design_row(design: Design, figures: DesignFigures) -> TableRow:
    """The row of a design in the table ``designs``."""
    recipe = design.recipe
    return (
        design.id, design.title, design.state, design.date, recipe.bars, recipe.mat, recipe.mould,
        str(design.written["trim"]) if "trim" in design.written else None, recipe.piece,
        design.grew_from, figures.recipe.masses.bar_g, len(design.pours), len(design.bars),
    )  # fmt: skip


def _bar_tables(
    designs: Sequence[Design], measures: Mapping[str, Measure]
) -> tuple[FigureTable, FigureTable]:
    """The tables ``bars`` (every bar with its measures) and ``later`` (its later measures)."""
    of_bar = ("design", "pour", "date", "room_c", "bar", "variant", "piece", "poured_c", "note")
    of_later = ("design", "pour", "date", "bar", "day")
    columns = {
        name: measure_columns(measure, {*of_bar, *of_later}) for name, measure in measures.items()
    }
    column_names = [column for names in columns.values() for column in names]
    pours = [(design, pour) for design in designs for pour in design.pours]
    bars = [
        (*_bar_cells(design, pour, bar), *_measure_cells(bar.measures, columns))
        for design, pour in pours
        for bar in pour.bars
    ]
    later_rows = [
        (design.id, pour.label, pour.date, row.bar, row.day, *_measure_cells(row.measures, columns))
        for design, pour in pours
        for row in pour.later
    ]
    bar_table = _table("bars", (*of_bar, *column_names), bars)
    return bar_table, _table("later", (*of_later, *column_names), later_rows)


def _bar_cells(design: Design, pour: Pour, bar: Bar) -> TableRow:
    """The first cells of a bar's row, before its measures."""
    recipe = next((v.recipe for v in design.variants if v.name == bar.variant), design.recipe)
    poured = {**pour.poured_c, **bar.poured_c}
    temperatures = "; ".join(f"{layer} {value:.4g}" for layer, value in poured.items())
    return (
        design.id, pour.label, pour.date, pour.room_c, bar.bar, bar.variant,
        bar.piece or recipe.piece, temperatures or None, bar.note or None,
    )  # fmt: skip


def measure_columns(measure: Measure, reserved: Iterable[str] = ()) -> tuple[str, ...]:
    """The columns of a measure: its name with its unit, or three for a colour.

    A name in ``reserved`` gets the prefix ``measure_``.
    """
    if measure.kind == "colour":
        return tuple(f"{measure.name}_{part}" for part in ("l", "a", "b"))
    unit = measure.unit.replace(" ", "_")
    name = f"{measure.name}_{unit}" if unit else measure.name
    return (f"measure_{name}",) if name in set(reserved) else (name,)


def _measure_cells(measures: VariantValues, columns: Mapping[str, tuple[str, ...]]) -> TableRow:
    """The cells of all measures of a bar; a measure that was not taken has empty cells."""
    cells: list[Cell] = []
    for name, names in columns.items():
        value = measures.get(name)
        cells.extend(value if isinstance(value, tuple) else (value,) * len(names))
    return tuple(cells)


def _missing_rows(designs: Iterable[tuple[Design, DesignFigures]]) -> Iterator[TableRow]:
    """Yield a row for each missing input of the designs' figures."""
    for design, figures in designs:
        for entry in missing_of(figures):
            yield (design.id, entry.figure, entry.needs)


_PIECES = (
    "piece", "name", "mat", "mould", "trim", "alike", "width_mm", "height_mm", "casts_before",
    "casts_poured", "casts_had", "casts_left", "casts_had_each", "casts_left_each", "fits",
)  # fmt: skip


def _piece_rows(
    notebook: Notebook, pieces: Mapping[str, Figure[PieceFigures]]
) -> Iterator[TableRow]:
    """Yield a row for each piece on the shelf."""
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
