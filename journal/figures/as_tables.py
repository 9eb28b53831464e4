"""The figures as tables for a spreadsheet; the names of columns contain the units."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from msgspec import Struct

from journal.figures.as_json import missing_of
from journal.figures.common.as_json_numbers import number
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.result import Figure
from journal.figures.common.spec import FigureSpec, TableRow, TableSpec
from journal.figures.common.tables import Cell, table_text
from journal.figures.derive import AllFigures, DesignFigures
from journal.figures.pieces.derive_pieces import PieceFigures
from journal.figures.registry import OF_DESIGN, OF_RECIPE
from journal.figures.shop.derive_template import derive_templates
from journal.figures.shop.derive_wear import MatWear, wear_of_mats
from journal.records.models.trim import Trim
from journal.records.models.write_up import AS_WRITTEN, Design
from journal.records.notebook import Notebook


class FigureTable(Struct, frozen=True):
    """A table for a spreadsheet; every row has one cell a column."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[TableRow, ...]

    def text(self, decimal: str = ".") -> str:
        """The table as CSV; ``decimal`` is the sign in its numbers, as in ``table_text``."""
        return table_text(self.columns, self.rows, decimal)

    @property
    def json(self) -> list[dict[str, Any]]:
        """The rows for JSON, each from column to cell."""
        return [dict(zip(self.columns, map(_json_cell, row), strict=True)) for row in self.rows]


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
        _table("missing", ("design", "figure", "needs"), _missing_rows(chosen)),
        _table("pieces", _PIECES, _piece_rows(notebook, pieces)),
    )


_WEAR = (
    "mat", "pours", "casts_most", "relief_a_cast", "relief_low_a_cast", "relief_high_a_cast",
    "casts_lasts", "casts_lasts_low", "casts_lasts_high", "casts_life_guessed", "currency",
    "cost_a_cast", "cost_guessed_a_cast",
)  # fmt: skip


def wear_table(notebook: Notebook, figures: AllFigures, only: Iterable[str] = ()) -> FigureTable:
    """The table ``wear``: a row for each mat that was cast on, of what its bars say of its pieces.

    Without a trend there is no slope and no life but the shelf's, which is a guess. It is told of
    all designs together: where ``only`` some are asked for it has no rows.
    """
    if tuple(only):
        return _table("wear", _WEAR, ())
    seen = ((name, one.casts) for name, one in figures.summaries.items())
    worn = wear_of_mats(notebook.settings, notebook.shelf, seen, derive_templates(notebook))
    return _table("wear", _WEAR, (_wear_row(notebook, *one) for one in worn.items()))


def _wear_row(notebook: Notebook, mat: str, wear: MatWear) -> TableRow:
    """The row of a mat in the table ``wear``."""
    trend, unknown = wear.trend, (None,) * 3
    slope = unknown if trend is None else (trend.per_cast, trend.low, trend.high)
    return (
        mat, None if trend is None else trend.pours, wear.most_casts, *slope,
        *(unknown if trend is None else trend.lasts), wear.life_guessed,
        notebook.settings.currency, wear.a_cast, wear.guessed,
    )  # fmt: skip


def _json_cell(cell: Cell) -> str | float | bool | None:
    """A cell for JSON: a number of 12 significant digits, a date as 2026-04-18."""
    if cell is None or isinstance(cell, str | bool | int):
        return cell
    return cell.isoformat() if isinstance(cell, date) else number(float(cell))


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
    "design", "title", "state", "date", "bars", "mat", "mould", "trim", "margin_mm", "piece",
    "grew_from", "bar_g", "pours", "bars_poured",
)  # fmt: skip


def _design_row(design: Design, figures: DesignFigures) -> TableRow:
    """The row of a design in the table ``designs``."""
    recipe = design.recipe
    return (
        design.id, design.title, design.state, design.date, recipe.bars, recipe.mat, recipe.mould,
        *trim_cells(recipe.trim), recipe.piece, design.grew_from, figures.recipe.masses.bar_g,
        len(design.pours), len(design.bars),
    )  # fmt: skip


def _missing_rows(designs: Iterable[tuple[Design, DesignFigures]]) -> Iterator[TableRow]:
    """Yield a row for each missing input of the designs' figures."""
    for design, figures in designs:
        for entry in missing_of(figures):
            yield (design.id, entry.figure, entry.needs)


def trim_cells(trim: Trim | None) -> tuple[str | None, float | None]:
    """A trim's kind and its margin in mm."""
    return (None, None) if trim is None else (trim.kind, trim.margin_mm)


_PIECES = (
    "piece", "name", "mat", "mould", "trim", "margin_mm", "alike", "width_mm", "height_mm",
    "casts_before", "casts_poured", "casts_had", "casts_left", "casts_had_each",
    "casts_left_each", "fits",
)  # fmt: skip


def _piece_rows(
    notebook: Notebook, pieces: Mapping[str, Figure[PieceFigures]]
) -> Iterator[TableRow]:
    """Yield a row for each piece on the shelf."""
    for name, figure in pieces.items():
        piece, record = figure.value, notebook.shelf.pieces[name]
        assert piece is not None
        casts = piece.casts
        yield (
            name, record.name, record.mat, record.mould,
            *trim_cells(record.trim), piece.alike,
            *(piece.size_mm or (None, None)), piece.before, piece.poured,
            piece.before + piece.poured, None if casts is None else casts.left,
            piece.had_each, piece.left_each, ", ".join(fit.mould for fit in piece.fits),
        )  # fmt: skip
